"""Verdict and validity on challenges of which every number is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from steadfeed.analysis.challenge import judge
from steadfeed.circuit.equipment import MeteringDevice
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import UNDECIDED, Assessment
from synthetic import R410A, Drawn, F, draw, system

FIXED = Drawn(superheat=30.0 * F, superheat_slope=-0.8, evaporating_slope=0.2)


def assess(recording: Recording, device: MeteringDevice = MeteringDevice.TXV, *marks: Mark) -> Assessment:
    return judge(replace(recording, marks=marks), system(device, *marks), R410A).assessment


def test_a_valve_that_holds_superheat_regulates() -> None:
    a = assess(draw())
    assert a.valid, a.reasons
    assert a.verdict == "regulating"
    assert a.feed_held is not None
    assert 0.6 < a.feed_held.value < 1.1
    assert a.probability is not None
    assert a.probability["regulating"] > 0.9


def test_superheat_that_follows_the_head_is_fixed() -> None:
    a = assess(draw(FIXED))
    assert a.valid, a.reasons
    assert a.verdict == "fixed"
    assert a.feed_held is not None
    assert a.feed_held.high < 0.5


def test_phases_are_found_to_a_few_seconds() -> None:
    d = Drawn()
    a = assess(draw(d))
    for found, true in (
        (a.phases.push, d.push),
        (a.phases.restore, d.restore),
        (a.phases.standstill, d.stop),
    ):
        assert found is not None
        assert found - d.start_time == pytest.approx(true, abs=12.0)


@pytest.mark.parametrize(
    ("drawn", "reason"),
    [
        (Drawn(rise=8.0 * F), "push too small"),
        (Drawn(restore=480.0), "hold too short"),
        (Drawn(push=150.0, restore=560.0), None),
    ],
)
def test_reasons(drawn: Drawn, reason: str | None) -> None:
    a = assess(draw(drawn))
    if reason is None:
        assert a.valid, a.reasons
    else:
        assert reason in a.reasons
        assert a.verdict == UNDECIDED


def test_no_push_is_said() -> None:
    a = assess(draw(Drawn(rise=0.0)))
    assert "no push found" in a.reasons
    assert a.probability is None
    assert a.feed_held is None


def test_a_short_hold_allows_an_early_fixed_but_no_early_regulating() -> None:
    short = {"push": 420.0, "restore": 545.0, "rise": 22.0 * F}
    fixed = assess(draw(replace(FIXED, **short)))
    good = assess(draw(replace(Drawn(), **short)))
    assert fixed.reasons == ("hold too short",)
    assert (fixed.verdict, fixed.early) == ("fixed", True)
    assert good.reasons == ("hold too short",)
    assert (good.verdict, good.early) == (UNDECIDED, False)


@pytest.mark.parametrize("missing", ["suction_pressure", "liquid_pressure", "liquid_line_temperature"])
def test_a_missing_channel_is_named(missing: str) -> None:
    recording = draw()
    channels = {k: v for k, v in recording.channels.items() if k != missing}
    a = assess(replace(recording, channels=channels))
    assert a.reasons == ("channel missing",)
    assert missing.replace("_", " ") in a.notes[0].text


def test_a_discharge_port_stands_in_for_the_liquid_port() -> None:
    recording = draw()
    channels = dict(recording.channels)
    channels["discharge_pressure"] = replace(channels.pop("liquid_pressure"), name="discharge_pressure")
    assert assess(replace(recording, channels=channels)).verdict == "regulating"


def test_two_rows_are_too_few() -> None:
    recording = draw()
    few = {k: replace(v, values=v.values[:3]) for k, v in recording.channels.items()}
    a = assess(replace(recording, time=recording.time[:3], channels=few))
    assert a.reasons == ("too few readings",)


def test_a_compressor_stop_in_the_push_interrupts() -> None:
    a = assess(draw(Drawn(stop=520.0)))
    assert "interrupted" in a.reasons
    assert a.verdict == UNDECIDED


def test_shutting_off_after_a_full_hold_ends_the_push_as_a_restore_does() -> None:
    a = assess(draw(Drawn(stop=760.0)))
    assert a.valid, a.reasons
    assert a.phases.restore is None
    assert a.verdict == "regulating"


def test_a_mark_helps_where_rows_are_few() -> None:
    d = Drawn()
    recording = draw(d)
    at = [230, 400, 560, 800, 1000, 1300]
    rows = np.array([int(x / d.step) for x in at])
    few = {k: replace(v, values=v.values[rows]) for k, v in recording.channels.items()}
    sparse = replace(recording, time=recording.time[rows], channels=few, read_by="person")
    marks = (Mark(d.start_time + d.push, "push"), Mark(d.start_time + d.restore, "restore"))
    a = assess(sparse, MeteringDevice.TXV, *marks)
    assert a.phases.push == d.start_time + d.push
    assert a.phases.restore == d.start_time + d.restore
    assert a.valid, a.reasons
    assert a.verdict == "regulating"


def test_a_piston_is_never_weak_or_sticking() -> None:
    a = assess(draw(FIXED), MeteringDevice.FIXED_ORIFICE)
    assert a.verdict == "fixed"
    assert a.probability is not None
    assert a.probability["weak"] == 0.0
    assert a.probability["sticking"] == 0.0


def test_what_would_change_is_always_said() -> None:
    for recording in (draw(), draw(FIXED), draw(Drawn(rise=0.0)), draw(Drawn(restore=480.0))):
        assert assess(recording).would_change


@pytest.mark.parametrize(
    "drawn",
    [
        Drawn(superheat=24.0 * F, superheat_slope=-1.2, floor=11.0 * F, rise=24.0 * F, evaporating_slope=0.17),
        Drawn(superheat=20.0 * F, superheat_slope=-0.8, floor=12.0 * F, rise=22.0 * F, evaporating_slope=0.15),
    ],
)
def test_superheat_that_falls_to_its_setting_and_stays_is_no_fixed_opening(drawn: Drawn) -> None:
    a = assess(draw(drawn))
    assert a.valid, a.reasons
    assert a.verdict == "at its stop"
