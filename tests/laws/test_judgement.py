"""Laws that the judgement of a challenge must obey whatever the readings are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from samples import challenge, labels, named, with_values
from steadfeed.analysis.challenge import judge
from steadfeed.analysis.derive import derive
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import EARLY_STATES, STATES, UNDECIDED, Assessment
from steadfeed.physics.properties import curves

NAMES = sorted(labels())
VITAL = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")
calm = settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def assess(recording: Recording, system: System) -> Assessment:
    assert system.refrigerant is not None
    return judge(recording, system, curves(system.refrigerant)).assessment


def in_fahrenheit(name: str) -> bool:
    return challenge(name)[0].channels["suction_line_temperature"].unit == "degF"


def coherent(a: Assessment) -> None:
    """What every assessment must be, in the terms of the contracts."""
    assert a.verdict in (*STATES, UNDECIDED)
    assert a.valid == (not a.reasons)
    if a.probability is not None:
        assert sum(a.probability.values()) == pytest.approx(1.0)
        assert all(0.0 <= p <= 1.0 for p in a.probability.values())
    if not a.valid and a.verdict != UNDECIDED:
        assert a.early
        assert a.verdict in EARLY_STATES
        assert a.reasons == ("hold too short",)
    if a.feed_held is not None:
        assert a.feed_held.low <= a.feed_held.value <= a.feed_held.high
        assert np.isfinite([a.feed_held.low, a.feed_held.high]).all()
    for group in (a.baseline, a.push, a.recovery):
        for measured in group.values():
            assert np.isfinite([measured.value, measured.uncertainty]).all()


@pytest.mark.parametrize("name", NAMES)
def test_every_sample_gives_a_coherent_assessment(name: str) -> None:
    coherent(assess(*challenge(name)))


@calm
@given(name=st.sampled_from(NAMES), share=st.floats(0.02, 1.0), noise=st.integers(0, 2**32 - 1))
def test_nothing_after_the_cut_is_used(name: str, share: float, noise: int) -> None:
    recording, system = challenge(name)
    moment = recording.time[0] + share * (recording.time[-1] - recording.time[0])
    generator = np.random.default_rng(noise)
    later = recording.time > moment
    spoiled = recording
    for channel in recording.channels:
        values = recording.channels[channel].values.copy()
        values[later] = generator.permutation(values[later]) * generator.uniform(0.5, 1.5)
        spoiled = with_values(spoiled, channel, values)
    spoiled = replace(spoiled, marks=tuple(replace(m, time=m.time) for m in recording.marks if m.time <= moment))
    bare = replace(system, marks=())
    assert assess(recording.until(moment), bare) == assess(spoiled.until(moment), bare)
    coherent(assess(recording.until(moment), bare))


@calm
@given(name=st.sampled_from(NAMES), seconds=st.integers(-10_000_000, 10_000_000))
def test_the_clock_of_the_day_does_not_matter(name: str, seconds: int) -> None:
    recording, system = challenge(name)
    moved = replace(
        recording,
        time=recording.time + seconds,
        marks=tuple(replace(m, time=m.time + seconds) for m in recording.marks),
    )
    here, there = assess(recording, system), assess(moved, system)
    assert (here.verdict, here.reasons, here.early) == (there.verdict, there.reasons, there.early)


@calm
@given(name=st.sampled_from(NAMES), seed=st.integers(0, 2**32 - 1), share=st.floats(0.0, 0.9))
def test_holes_never_raise(name: str, seed: int, share: float) -> None:
    recording, system = challenge(name)
    generator = np.random.default_rng(seed)
    holed = recording
    for channel in VITAL:
        values = recording.channels[channel].values.copy()
        values[generator.random(values.shape[0]) < share * generator.random()] = np.nan
        holed = with_values(holed, channel, values)
    coherent(assess(holed, system))


@calm
@given(
    name=st.sampled_from(NAMES),
    channel=st.sampled_from(VITAL),
    scale=st.sampled_from([0.0, 1e-3, 0.145, 6.895, 10.0, 1e3, -1.0]),
    shift=st.sampled_from([0.0, -1e5, 255.0, 1e6, -273.15]),
)
def test_absurd_readings_never_raise(name: str, channel: str, scale: float, shift: float) -> None:
    recording, system = challenge(name)
    a = assess(with_values(recording, channel, recording.channels[channel].values * scale + shift), system)
    coherent(a)


@pytest.mark.parametrize("begin", [-400.0, -120.0, 0.0])
@pytest.mark.parametrize("name", [n for s in ("regulating", "hunting", "fixed") for n in named(s)])
def test_a_frozen_suction_gauge_never_regulates(name: str, begin: float) -> None:
    recording, system = challenge(name)
    push = assess(recording, system).phases.push
    assert push is not None
    values = recording.channels["suction_pressure"].values.copy()
    frozen = recording.time > push + begin
    known = values[~frozen & np.isfinite(values)]
    values[frozen] = known[-1] if known.size else values[np.isfinite(values)][0]
    a = assess(with_values(recording, "suction_pressure", values), system)
    assert a.verdict not in ("regulating", "hunting")
    assert "suction gauge not alive" in a.reasons


@pytest.mark.parametrize("name", named("regulating") + named("fixed"))
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("suction_pressure", "liquid_pressure"),
        ("suction_line_temperature", "liquid_line_temperature"),
    ],
)
def test_swapped_channels_are_repaired_aloud_or_refused(name: str, one: str, other: str) -> None:
    recording, system = challenge(name)
    straight = assess(recording, system)
    swapped = with_values(recording, one, recording.channels[other].values)
    swapped = with_values(swapped, other, recording.channels[one].values)
    a = assess(swapped, system)
    if a.verdict == UNDECIDED:
        assert "wrong refrigerant or unit" in a.reasons
    else:
        assert [r.code for r in a.repairs] == ["channels swapped"]
        assert a.verdict == straight.verdict


@pytest.mark.parametrize("name", [n for n in named("regulating") + named("fixed") if in_fahrenheit(n)])
def test_celsius_under_a_fahrenheit_header_is_repaired_aloud(name: str) -> None:
    recording, system = challenge(name)
    wrong = recording
    for channel in recording.channels:
        if recording.channels[channel].unit != "degF":
            continue
        celsius = recording.channels[channel].values - 273.15
        wrong = with_values(wrong, channel, (celsius + 459.67) / 1.8)
    a = assess(wrong, system)
    assert [r.code for r in a.repairs] == ["unit repaired"]
    assert a.verdict == assess(recording, system).verdict


@pytest.mark.parametrize("wrong", ["R-22", "R-134a"])
def test_a_wrong_refrigerant_is_noticed(wrong: str) -> None:
    name = next(n for n in named("regulating") if challenge(n)[1].refrigerant == "R-410A")
    recording, system = challenge(name)
    a = assess(recording, replace(system, refrigerant=wrong))
    assert a.verdict == UNDECIDED
    assert "wrong refrigerant or unit" in a.reasons
    assert any("R-410A" in note.text for note in a.notes)


def test_derived_series_agree_with_the_curves() -> None:
    recording, system = challenge(named("regulating")[0])
    assert system.refrigerant is not None
    c = curves(system.refrigerant)
    trace = derive(recording, c)
    i = len(recording) // 2
    assert trace.superheat[i] == pytest.approx(trace.suction_line[i] - c.dew_temperature(trace.suction_pressure[i]))
    assert trace.subcooling[i] == pytest.approx(c.bubble_temperature(trace.head_pressure[i]) - trace.liquid_line[i])
