"""Steady state: drifts are caught, noise and limit cycles are let through, and a published detector agrees."""

from __future__ import annotations

import numpy as np
import pytest

from samples import challenge, named
from steadfeed.analysis.derive import derive
from steadfeed.analysis.series import Rows, rows_of
from steadfeed.analysis.steady import cycles_of, drifts, steady_since
from steadfeed.analysis.windows import window
from steadfeed.circuit.channel import Channel, FloatArray
from steadfeed.circuit.recording import Recording
from steadfeed.physics.properties import curves

R410A = curves("R-410A")


def rows(te_drift: float = 0.0, tc_drift: float = 0.0, cycle: float = 0.0, noise: float = 0.1) -> Rows:
    """Ten minutes at 1 s: drifts in kelvin a minute, a 90 s cycle of the superheat in kelvin, noise in kelvin."""
    t = np.arange(0.0, 600.0)
    g = np.random.default_rng(11)
    te = 278.0 + te_drift * t / 60.0 + g.normal(0, noise, 600)
    tc = 315.0 + tc_drift * t / 60.0 + g.normal(0, noise, 600)
    ts = 285.0 + te_drift * t / 60.0 + cycle * np.sin(2 * np.pi * t / 90.0)
    tl = 309.0 + tc_drift * t / 60.0 + 0 * t
    values: dict[str, tuple[FloatArray, str]] = {
        "suction_pressure": (R410A.dew_pressure(te), "psig"),
        "liquid_pressure": (R410A.bubble_pressure(tc), "psig"),
        "suction_line_temperature": (ts, "degF"),
        "liquid_line_temperature": (tl, "degF"),
    }
    recording = Recording(t, {k: Channel(k, v, u) for k, (v, u) in values.items()})
    return rows_of(recording, derive(recording, R410A))


def is_steady(r: Rows) -> bool:
    w = window(r, 400.0, 599.0)
    return all(d.quiet for d in drifts(w, cycles_of(r, w)))


def test_a_quiet_circuit_is_steady_since_the_first_window() -> None:
    since = steady_since(rows(), 599.0)
    assert since is not None
    assert since < 60.0


@pytest.mark.parametrize(("te", "tc"), [(0.6, 0.0), (0.0, 0.8), (-0.6, -0.8)])
def test_a_drift_is_not_steady(te: float, tc: float) -> None:
    r = rows(te_drift=te, tc_drift=tc)
    assert not is_steady(r)
    assert steady_since(r, 599.0) is None


@pytest.mark.parametrize("cycle", [0.5, 1.5, 3.0])
def test_a_limit_cycle_with_a_steady_mean_is_let_through(cycle: float) -> None:
    assert is_steady(rows(cycle=cycle))


def exponentially_weighted_variance(values: FloatArray, forgetting: float) -> FloatArray:
    """Breuker 1997, as described by Braun and Li: mean and variance with a forgetting factor."""
    mean, variance = float(values[0]), 0.0
    out = np.empty_like(values)
    for i, value in enumerate(values):
        mean = forgetting * mean + (1 - forgetting) * float(value)
        variance = forgetting * variance + (1 - forgetting) * (float(value) - mean) ** 2
        out[i] = variance
    return out


@pytest.mark.parametrize("name", named("regulating")[:4] + named("fixed")[:4])
def test_a_published_detector_agrees_on_the_samples(name: str) -> None:
    """Exponentially weighted variance, forgetting factor 0.7 as at its field site (tests/published/data/steady_state.csv)."""
    recording, system = challenge(name)
    assert system.refrigerant is not None
    r = rows_of(recording, derive(recording, curves(system.refrigerant)))
    variance = exponentially_weighted_variance(r.tc, 0.7)
    from steadfeed.analysis.challenge import judge

    phases = judge(recording, system, curves(system.refrigerant)).assessment.phases
    assert phases.push is not None
    before = r.between(phases.push - 120.0, phases.push - 10.0)
    climbing = r.between(phases.push + 20.0, phases.push + 90.0)
    quiet, loud = float(np.max(variance[before])), float(np.max(variance[climbing]))
    assert loud > 4.0 * quiet
    assert steady_since(r, phases.push - 5.0, 120.0) is not None
    assert steady_since(r, phases.push + 90.0, 90.0) is None
