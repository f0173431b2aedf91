"""Laws that refrigerant properties must obey, whatever the coefficients: Hypothesis over every refrigerant."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from steadfeed.errors import OutOfRange
from steadfeed.physics.properties import Curves, curves, refrigerant_names

names = st.sampled_from(refrigerant_names())
shares = st.floats(0.0, 1.0)
SIDES = ("bubble", "dew")


def pressure_at(c: Curves, share: float) -> float:
    """A pressure in range, spread evenly in ln p."""
    p = c.minimum_pressure * (c.maximum_pressure / c.minimum_pressure) ** share
    return min(max(p, c.minimum_pressure), c.maximum_pressure)


def vapor_at(c: Curves, pressure: float, share: float) -> float:
    dew = c.dew_temperature(pressure)
    return min(dew + share * (c.highest_vapor_temperature - dew), c.highest_vapor_temperature)


def liquid_at(c: Curves, pressure: float, share: float) -> float:
    bubble = c.bubble_temperature(pressure)
    return max(bubble - share * (bubble - c.lowest_liquid_temperature), c.lowest_liquid_temperature)


@given(names, shares, st.sampled_from(SIDES))
def test_pressure_there_and_back(name: str, share: float, side: str) -> None:
    c = curves(name)
    there, back = (c.bubble_temperature, c.bubble_pressure) if side == "bubble" else (c.dew_temperature, c.dew_pressure)
    pressure = pressure_at(c, share)
    assert back(there(pressure)) == pytest.approx(pressure, rel=2e-5)  # worth less than 0.001 K


@given(names, shares, st.sampled_from(SIDES))
def test_temperature_there_and_back(name: str, share: float, side: str) -> None:
    c = curves(name)
    there, back = (c.bubble_pressure, c.bubble_temperature) if side == "bubble" else (c.dew_pressure, c.dew_temperature)
    temperature = c.minimum_temperature + share * (c.maximum_temperature - c.minimum_temperature)
    assert back(there(temperature)) == pytest.approx(temperature, abs=1e-3)


@given(names, shares, shares, st.sampled_from(SIDES))
def test_saturation_rises(name: str, first: float, second: float, side: str) -> None:
    c = curves(name)
    line = c.bubble_temperature if side == "bubble" else c.dew_temperature
    low, high = sorted((pressure_at(c, first), pressure_at(c, second)))
    assume(high / low > 1.0 + 1e-9)
    assert line(low) < line(high)


@given(names, shares)
def test_dew_is_never_below_bubble(name: str, share: float) -> None:
    """Dew and bubble are two fits of 0.001 K each; of a pure fluid or an azeotrope they coincide."""
    c = curves(name)
    pressure = pressure_at(c, share)
    assert c.dew_temperature(pressure) >= c.bubble_temperature(pressure) - 2e-3
    temperature = c.minimum_temperature + share * (c.maximum_temperature - c.minimum_temperature)
    assert c.dew_pressure(temperature) <= c.bubble_pressure(temperature) * (1.0 + 1e-4)


@given(names, shares, shares)
def test_every_function_is_finite_in_range(name: str, share: float, way: float) -> None:
    c = curves(name)
    p = pressure_at(c, share)
    vapor, liquid = vapor_at(c, p, way), liquid_at(c, p, way)
    saturated = c.minimum_temperature + share * (c.maximum_temperature - c.minimum_temperature)
    values = [
        c.vapor_density(p, vapor),
        c.vapor_enthalpy(p, vapor),
        c.vapor_entropy(p, vapor),
        c.liquid_density(p, liquid),
        c.liquid_enthalpy(p, liquid),
        c.liquid_viscosity(saturated),
        c.vapor_viscosity(saturated),
    ]
    assert all(math.isfinite(v) for v in values)
    assert 0 < c.vapor_density(p, vapor) < c.liquid_density(p, liquid)
    assert c.vapor_enthalpy(p, vapor) > c.liquid_enthalpy(p, liquid)
    assert 0 < c.vapor_viscosity(saturated) < c.liquid_viscosity(saturated)


@given(names, shares, shares)
def test_vapor_temperature_there_and_back(name: str, share: float, way: float) -> None:
    c = curves(name)
    p = pressure_at(c, share)
    t = vapor_at(c, p, way)
    tolerance = 0.1 if name == "R-744" else 0.06
    assert c.vapor_temperature_ph(p, c.vapor_enthalpy(p, t)) == pytest.approx(t, abs=tolerance)
    assert c.vapor_temperature_ps(p, c.vapor_entropy(p, t)) == pytest.approx(t, abs=tolerance)


@given(names, shares, st.floats(0.002, 0.9), st.floats(0.01, 0.1))
def test_warmer_vapor_is_thinner_and_holds_more(name: str, share: float, way: float, more: float) -> None:
    c = curves(name)
    p = pressure_at(c, share)
    cold, warm = vapor_at(c, p, way), vapor_at(c, p, way + more)
    assert c.vapor_density(p, warm) < c.vapor_density(p, cold)
    assert c.vapor_enthalpy(p, warm) > c.vapor_enthalpy(p, cold)
    assert c.vapor_entropy(p, warm) > c.vapor_entropy(p, cold)


@given(names, shares, st.floats(0.002, 0.9), st.floats(0.01, 0.1))
def test_colder_liquid_is_denser_and_holds_less(name: str, share: float, way: float, more: float) -> None:
    c = curves(name)
    p = pressure_at(c, share)
    warm, cold = liquid_at(c, p, way), liquid_at(c, p, way + more)
    assume(warm - cold > 0.05)
    assert c.liquid_density(p, cold) > c.liquid_density(p, warm)
    assert c.liquid_enthalpy(p, cold) < c.liquid_enthalpy(p, warm)


@given(names, st.floats(0.02, 0.9), st.floats(0.02, 0.95))
def test_enthalpy_and_entropy_of_vapor_belong_together(name: str, share: float, way: float) -> None:
    """At constant pressure dh = T ds (first and second law): over 20 K, to 1 % (two fits, each with its own error)."""
    c = curves(name)
    p = pressure_at(c, share)
    t = vapor_at(c, p, way)
    low, high = t - 10.0, t + 10.0
    assume(low > c.dew_temperature(p) and high < c.highest_vapor_temperature)
    heat = c.vapor_enthalpy(p, high) - c.vapor_enthalpy(p, low)
    entropy = c.vapor_entropy(p, high) - c.vapor_entropy(p, low)
    assert heat == pytest.approx(t * entropy, rel=0.05 if name == "R-744" else 0.01)


PURE = [name for name in refrigerant_names() if curves(name).refrigerant.kind == "pure"]


@given(st.sampled_from(PURE), st.floats(0.03, 0.97))
def test_clapeyrons_equation(name: str, share: float) -> None:
    """dp/dT · T · (v_vapor − v_liquid) = h_vapor − h_liquid on the saturation line of a pure fluid: to 0.5 %."""
    c = curves(name)
    t = c.minimum_temperature + share * (c.maximum_temperature - c.minimum_temperature)
    assume(c.minimum_temperature + 0.1 < t < c.maximum_temperature - 0.1)
    p = c.bubble_pressure(t)
    slope = (c.bubble_pressure(t + 0.05) - c.bubble_pressure(t - 0.05)) / 0.1
    bubble, dew = c.bubble_temperature(p), c.dew_temperature(p)
    swelling = 1.0 / c.vapor_density(p, dew) - 1.0 / c.liquid_density(p, bubble)
    latent = c.vapor_enthalpy(p, dew) - c.liquid_enthalpy(p, bubble)
    assert slope * t * swelling == pytest.approx(latent, rel=0.02 if name == "R-744" else 0.005)


@given(names, st.lists(st.tuples(st.floats(-0.3, 1.3), shares), min_size=1, max_size=12))
def test_arrays_say_what_floats_say(name: str, points: list[tuple[float, float]]) -> None:
    c = curves(name)
    p = np.array([c.minimum_pressure * (c.maximum_pressure / c.minimum_pressure) ** share for share, _ in points])
    t = np.array([200.0 + 260.0 * way for _, way in points])
    for function in (c.bubble_temperature, c.dew_temperature):
        assert np.allclose(
            function(p, outside="nan"), [function(float(v), outside="nan") for v in p], rtol=1e-12, equal_nan=True
        )
    for inverse in (c.bubble_pressure, c.dew_pressure, c.liquid_viscosity, c.vapor_viscosity):
        assert np.allclose(
            inverse(t, outside="nan"), [inverse(float(v), outside="nan") for v in t], rtol=1e-10, equal_nan=True
        )
    for state in (c.vapor_density, c.vapor_enthalpy, c.vapor_entropy, c.liquid_density, c.liquid_enthalpy):
        one_by_one = [state(float(a), float(b), outside="nan") for a, b in zip(p, t, strict=True)]
        assert np.allclose(state(p, t, outside="nan"), one_by_one, rtol=1e-10, equal_nan=True)


@given(names, st.floats(allow_nan=True, allow_infinity=True))
def test_any_number_is_answered_refused_or_missing(name: str, number: float) -> None:
    """Whatever the number: a value in range, NaN for NaN, else OutOfRange; never another error, never an extrapolation."""
    c = curves(name)
    for function in (c.bubble_temperature, c.dew_temperature, c.bubble_pressure, c.dew_pressure, c.liquid_viscosity):
        quiet = function(number, outside="nan")
        try:
            loud = function(number)
        except OutOfRange:
            assert math.isnan(quiet)
        else:
            assert loud == quiet or (math.isnan(loud) and math.isnan(number))
        assert function(np.array([number]), outside="nan") == pytest.approx(quiet, rel=1e-9, nan_ok=True)
