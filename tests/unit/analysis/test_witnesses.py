"""Witnesses beside the four readings, and what must not pass for one: each on a drawn challenge of which all is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from steadfeed.analysis.challenge import judge
from steadfeed.circuit.channel import Channel, FloatArray
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Assessment
from synthetic import R410A, Drawn, F, draw, system

OUTDOOR = 304.0  # K


def _with(recording: Recording, **values: FloatArray) -> Recording:
    """The recording with channels added or put in another's place; temperatures [K]."""
    made = {name: Channel(name, series, "degF", resolution=0.0) for name, series in values.items()}
    return replace(recording, channels={**recording.channels, **made})


def _judged(recording: Recording) -> Assessment:
    return judge(recording, system(), R410A).assessment


def _climb(recording: Recording, d: Drawn) -> FloatArray:
    """0 before the push, 1 at its top, back to 0 after the restore."""
    t = recording.time - d.start_time
    up = np.where(t >= d.push, 1.0 - np.exp(-(t - d.push) / 55.0), 0.0)
    return np.asarray(np.where(t >= d.restore, np.exp(-(t - d.restore) / 30.0), up))


def _discharge(recording: Recording, d: Drawn, per_kelvin: float) -> FloatArray:
    wobble = np.random.default_rng(5).normal(0.0, 0.1, len(recording))
    return np.asarray(350.0 + per_kelvin * d.rise * _climb(recording, d) + wobble)


def _outdoor(recording: Recording, seed: int = 7) -> FloatArray:
    return np.asarray(OUTDOOR + np.random.default_rng(seed).normal(0.0, 0.05, len(recording)))


# -- the discharge line ---------------------------------------------------------------------------------------------------
def test_a_discharge_line_that_cools_speaks_against_a_valve_whose_clamp_looks_good() -> None:
    """A clamp that warm exhaust holds up hides a superheat that is lost; compression from wet gas does not."""
    d = Drawn(superheat_slope=-0.09, evaporating_slope=0.16)
    bare = draw(d)
    usual = _judged(_with(bare, discharge_line_temperature=_discharge(bare, d, 1.4)))
    cooled = _judged(_with(bare, discharge_line_temperature=_discharge(bare, d, -0.6)))
    assert usual.probability is not None
    assert cooled.probability is not None
    assert usual.verdict == "regulating"
    assert cooled.probability["regulating"] < usual.probability["regulating"]
    assert cooled.probability["fixed"] > usual.probability["fixed"]
    assert cooled.verdict != "regulating"
    assert "discharge line cooled" in [note.code for note in cooled.notes]
    assert "discharge line cooled" not in [note.code for note in usual.notes]


@pytest.mark.parametrize("level", [290.0, 321.0])
def test_a_clamp_no_hotter_than_condensing_is_no_discharge_line(level: float) -> None:
    bare = draw()
    series = level + np.random.default_rng(3).normal(0.0, 0.1, len(bare)) - 8.0 * _climb(bare, Drawn())
    assert _judged(_with(bare, discharge_line_temperature=series)).probability == _judged(bare).probability


# -- clamps that hang in the air from the start ---------------------------------------------------------------------------
def test_a_liquid_clamp_in_the_air_all_the_time_is_found() -> None:
    bare = draw()
    seen = _judged(_with(bare, outdoor_air_temperature=_outdoor(bare), liquid_line_temperature=_outdoor(bare, 8)))
    assert "temperature clamp off the pipe" in seen.reasons
    assert "off the pipe" in seen.sensors["liquid_line_temperature"].flags
    assert seen.verdict == "undecided"


def test_a_liquid_line_near_the_air_that_follows_the_head_is_on_its_pipe() -> None:
    d = Drawn()
    bare = draw(d)
    close = _outdoor(bare, 8) + 1.0 * F + 3.0 * F * _climb(bare, d)
    seen = _judged(_with(bare, outdoor_air_temperature=_outdoor(bare), liquid_line_temperature=close))
    assert "temperature clamp off the pipe" not in seen.reasons


def test_a_suction_clamp_in_the_air_all_the_time_is_found() -> None:
    bare = draw()
    seen = _judged(_with(bare, outdoor_air_temperature=_outdoor(bare), suction_line_temperature=_outdoor(bare, 8)))
    assert "off the pipe" in seen.sensors["suction_line_temperature"].flags
    assert seen.verdict == "undecided"


# -- displays of coarse steps ---------------------------------------------------------------------------------------------
def _shown(values: FloatArray, step: float) -> FloatArray:
    return np.asarray(np.round(values / step) * step)


def test_a_display_of_coarse_steps_is_not_a_stuck_gauge() -> None:
    """A digit of 1 psi stands for minutes before the push and again in the hold; between them it moved."""
    psi = 6894.757
    bare = draw(Drawn(superheat_slope=-0.7, evaporating_slope=0.2, noise=0.01 * F))
    channel = bare.channels["suction_pressure"]
    coarse = replace(channel, values=_shown(channel.values, psi), resolution=psi)
    seen = _judged(replace(bare, channels={**bare.channels, "suction_pressure": coarse}))
    assert seen.sensors["suction_pressure"].alive is True
    assert seen.verdict == "fixed"


def test_a_coarse_display_that_stands_through_the_stop_is_a_stuck_gauge() -> None:
    psi = 6894.757
    d = Drawn(superheat_slope=-0.7, evaporating_slope=0.2, noise=0.01 * F)
    bare = draw(d)
    channel = bare.channels["suction_pressure"]
    values = _shown(channel.values, psi)
    stuck = bare.time - d.start_time > d.push - 60.0
    values[stuck] = values[np.flatnonzero(stuck)[0]]
    coarse = replace(channel, values=values, resolution=psi)
    seen = _judged(replace(bare, channels={**bare.channels, "suction_pressure": coarse}))
    assert seen.sensors["suction_pressure"].alive is False
    assert "suction gauge not alive" in seen.reasons
    assert seen.verdict == "undecided"


# -- load and limits ------------------------------------------------------------------------------------------------------
def test_an_evaporating_temperature_that_falls_in_the_push_is_load() -> None:
    """No opening and no valve does that while the superheat stays: less air comes."""
    d = Drawn(superheat_slope=0.0, evaporating_slope=-0.12, stop=900.0, end=1200.0)
    seen = _judged(draw(d))
    assert "load drifted" in seen.reasons
    assert seen.verdict == "undecided"


def test_no_valve_is_called_regulating_from_a_starved_superheat() -> None:
    seen = _judged(draw(Drawn(superheat=52.0 * F, superheat_slope=-0.02)))
    assert seen.verdict != "regulating"


def test_feed_held_is_told_as_an_upper_bound_only_once_the_superheat_is_gone() -> None:
    gone = _judged(draw(Drawn(superheat_slope=-0.9, evaporating_slope=0.2, floor=0.5 * F)))
    stayed = _judged(draw())
    assert gone.feed_held is not None
    assert "superheat gone" in [note.code for note in gone.notes]
    assert "superheat gone" not in [note.code for note in stayed.notes]
