"""Feed held: limits, uncertainty against Monte Carlo, Fieller's interval."""

from __future__ import annotations

import numpy as np
import pytest

from steadfeed.analysis.feed import State, feed_held, fieller, log_drive, log_flow
from steadfeed.analysis.windows import InstrumentErrors
from synthetic import R410A, F, system

PSI = 6894.757
ERRORS = InstrumentErrors(3e3, 0.3 * PSI, 1.5 * PSI, 0.3, 0.3 * F, 0.1, False)
QUIET = InstrumentErrors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False)


def state(te: float, tc: float, superheat: float, subcooling: float) -> State:
    """Readings for an evaporating (dew) and a condensing (bubble) temperature [°F] and differences [°F]."""
    dew, bubble = (te + 459.67) * F, (tc + 459.67) * F
    return State(
        float(R410A.dew_pressure(dew)),
        float(R410A.bubble_pressure(bubble)),
        dew + superheat * F,
        bubble - subcooling * F,
    )


BEFORE = state(45.0, 105.0, 12.0, 12.0)


def test_a_fixed_opening_holds_nothing() -> None:
    """Take the flow through a fixed opening from the drive: the readings that go with it must give F = 0."""
    slope = -0.028
    from steadfeed.analysis.feed import line_loss

    loss, _ = line_loss(system(), BEFORE, R410A)
    target = log_flow(BEFORE, slope, R410A) - log_drive(BEFORE, loss, R410A)
    low, high = 45.0, 60.0
    for _ in range(60):  # find the evaporating temperature at which flow follows the drive, superheat kept
        middle = 0.5 * (low + high)
        during = state(middle, 125.0, 12.0, 12.0)
        if log_flow(during, slope, R410A) - log_drive(during, loss, R410A) < target:
            low = middle
        else:
            high = middle
    feed = feed_held(BEFORE, state(low, 125.0, 12.0, 12.0), R410A, system(), QUIET, (0.0,) * 4)
    assert feed.held is not None
    assert feed.held.value == pytest.approx(0.0, abs=1e-6)
    assert feed.opening is not None
    assert feed.opening.value == pytest.approx(1.0, abs=1e-6)


def test_a_constant_feed_holds_everything() -> None:
    slope = -0.028
    target = log_flow(BEFORE, slope, R410A)
    low, high = 40.0, 60.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if log_flow(state(middle, 125.0, 12.0, 12.0), slope, R410A) < target:
            low = middle
        else:
            high = middle
    feed = feed_held(BEFORE, state(low, 125.0, 12.0, 12.0), R410A, system(), QUIET, (0.0,) * 4)
    assert feed.held is not None
    assert feed.held.value == pytest.approx(1.0, abs=1e-6)
    assert feed.opening is not None
    assert feed.opening.value < 0.95


def test_no_number_from_a_push_that_resolves_nothing() -> None:
    feed = feed_held(BEFORE, state(45.1, 106.0, 12.0, 12.0), R410A, system(), ERRORS, (0.0,) * 4)
    assert feed.held is None


def test_the_interval_agrees_with_monte_carlo() -> None:
    """JCGM 101:2008: propagate the distributions themselves and compare the 95 % interval."""
    during = state(47.2, 125.0, 11.5, 13.0)
    noise = (500.0, 1500.0, 0.05, 0.05)
    feed = feed_held(BEFORE, during, R410A, system(), ERRORS, noise)
    assert feed.held is not None
    from steadfeed.analysis.criteria import limit
    from steadfeed.analysis.feed import efficiency_slope, line_loss

    g = np.random.default_rng(3)
    slope, slope_u = efficiency_slope(system())
    loss, loss_u = line_loss(system(), BEFORE, R410A)
    load = limit("load_uncertainty")
    values = []
    for _ in range(4000):
        z = g.normal(size=7)
        te = float(R410A.dew_temperature(during.ps)) + load * z[4]
        k, dp = slope + slope_u * z[5], loss + loss_u * z[6]
        shaken = State(
            float(R410A.dew_pressure(te)) + np.hypot(ERRORS.suction_change, noise[0]) * z[0],
            during.pl + np.hypot(ERRORS.head_change, noise[1]) * z[1],
            during.ts + load * z[4] + np.hypot(ERRORS.temperature_change, noise[2]) * z[2],
            during.tl + np.hypot(ERRORS.temperature_change, noise[3]) * z[3],
        )
        y = log_flow(shaken, k, R410A) - log_flow(BEFORE, k, R410A)
        x = log_drive(shaken, dp, R410A) - log_drive(BEFORE, dp, R410A)
        values.append(1.0 - y / x)
    low, high = np.percentile(values, (2.5, 97.5))
    width = high - low
    assert feed.held.low == pytest.approx(low, abs=0.08 * width)
    assert feed.held.high == pytest.approx(high, abs=0.08 * width)


def test_fieller_without_covariance_is_near_the_delta_method() -> None:
    found = fieller(0.5, 1.0, 1e-4, 1e-4, 0.0, 1.96)
    assert found is not None
    half = 1.96 * np.sqrt(1e-4 + 0.25e-4)
    assert found[0] == pytest.approx(0.5 - half, rel=0.02)
    assert found[1] == pytest.approx(0.5 + half, rel=0.02)


def test_fieller_is_unbounded_when_the_denominator_may_be_zero() -> None:
    assert fieller(0.5, 1.0, 1e-4, 1.0, 0.0, 1.96) is None


def test_fieller_covers_as_often_as_it_says() -> None:
    g = np.random.default_rng(4)
    hits = 0
    covariance = np.array([[4e-4, 1e-4], [1e-4, 9e-4]])
    draws = g.multivariate_normal([0.03, 0.12], covariance, 4000)
    for y, x in draws:
        found = fieller(float(y), float(x), 4e-4, 9e-4, 1e-4, 1.96)
        hits += found is not None and found[0] <= 0.25 <= found[1]
        hits += found is None  # unbounded: the whole line covers
    assert hits / 4000 == pytest.approx(0.95, abs=0.012)
