"""Ranges, shapes and refusals of refrigerant properties."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from steadfeed.errors import FixInput, OutOfRange
from steadfeed.physics.polynomials import CHUNK, Surface
from steadfeed.physics.properties import curves

R410A = curves("R-410A")


def test_out_of_range_states_the_limits() -> None:
    with pytest.raises(OutOfRange) as caught:
        R410A.bubble_temperature(9e6)
    assert re.fullmatch(
        r"1,290\.6 psig at sea level \(90\.0 bar absolute\) is outside what is known of R-410A: "
        r"−5\.4 psig at sea level \(0\.6 bar absolute\) to 646\.4 psig at sea level \(45\.6 bar absolute\)",
        caught.value.message,
    )
    with pytest.raises(
        OutOfRange, match=r"300\.0 °F \(148\.9 °C\) is outside what is known of R-410A: −75\.9 °F \(−59\.9 °C\)"
    ):
        R410A.dew_pressure((300.0 + 459.67) / 1.8)
    assert isinstance(caught.value, (FixInput, ValueError))


def test_states_of_the_wrong_phase_are_refused() -> None:
    dew, bubble = R410A.dew_temperature(1e6), R410A.bubble_temperature(1e6)
    with pytest.raises(OutOfRange, match=r"R-410A vapor at 130\.3 psig at sea level"):
        R410A.vapor_density(1e6, dew - 1.0)
    with pytest.raises(OutOfRange, match=r"R-410A liquid at 130\.3 psig at sea level"):
        R410A.liquid_density(1e6, bubble + 1.0)
    with pytest.raises(OutOfRange, match="J/kg of enthalpy"):
        R410A.vapor_temperature_ph(1e6, 2e5)
    with pytest.raises(OutOfRange, match="of entropy"):
        R410A.vapor_temperature_ps(1e6, 1e5)


def test_a_rounding_beyond_the_line_is_on_the_line() -> None:
    dew = R410A.dew_temperature(1e6)
    assert R410A.vapor_density(1e6, dew - 1e-3) == pytest.approx(R410A.vapor_density(1e6, dew), rel=1e-4)
    assert R410A.vapor_density(np.array([1e6]), np.array([dew - 1e-3]))[0] == pytest.approx(
        R410A.vapor_density(1e6, dew), rel=1e-4
    )


def test_nan_stays_nan_and_raises_nothing() -> None:
    for function in (R410A.bubble_temperature, R410A.dew_temperature, R410A.bubble_pressure, R410A.vapor_viscosity):
        assert math.isnan(function(math.nan))
        assert np.isnan(function(np.array([math.nan, math.nan]))).all()
    for state in (R410A.vapor_density, R410A.liquid_enthalpy, R410A.vapor_temperature_ph):
        assert math.isnan(state(math.nan, 300.0))
        assert math.isnan(state(1e6, math.nan))
        assert np.isnan(state(np.array([math.nan, 1e6]), np.array([300.0, math.nan]))).all()


def test_one_bad_value_among_many() -> None:
    pressure = np.array([1e6, math.nan, 1e9, 2e6])
    quiet = R410A.bubble_temperature(pressure, outside="nan")
    assert np.isnan(quiet).tolist() == [False, True, True, False]
    assert quiet[3] == R410A.bubble_temperature(2e6)
    with pytest.raises(OutOfRange, match=r"10,000\.0 bar"):
        R410A.bubble_temperature(pressure)
    with pytest.raises(OutOfRange, match=r"10,000\.0 bar"):
        R410A.vapor_density(pressure, np.full(4, 330.0))
    with pytest.raises(OutOfRange, match=r"10,000\.0 bar"):
        R410A.vapor_temperature_ph(pressure, np.full(4, 450e3))
    with pytest.raises(OutOfRange, match="not at"):
        R410A.vapor_density(np.array([1e6, 1e6]), np.array([330.0, 250.0]))
    with pytest.raises(OutOfRange, match="not at"):
        R410A.vapor_temperature_ps(np.array([1e6, 1e6]), np.array([1900.0, 250.0]))


def test_what_was_given_is_not_changed() -> None:
    pressure = np.array([1e6, math.nan, 1e9])
    before = pressure.copy()
    R410A.bubble_temperature(pressure, outside="nan")
    R410A.vapor_density(pressure, pressure, outside="nan")
    assert np.array_equal(pressure, before, equal_nan=True)


@pytest.mark.parametrize("shape", [(), (0,), (1,), (3, 4), (2, 0, 5), (CHUNK + 7,)])
def test_shape_is_kept(shape: tuple[int, ...]) -> None:
    pressure = np.full(shape, 1e6)
    temperature = np.full(shape, 330.0)
    assert R410A.bubble_temperature(pressure).shape == shape
    assert R410A.dew_pressure(np.full(shape, 300.0)).shape == shape
    assert R410A.vapor_density(pressure, temperature).shape == shape
    assert R410A.vapor_temperature_ph(pressure, np.full(shape, 450e3)).shape == shape
    assert R410A.liquid_viscosity(np.full(shape, 300.0)).shape == shape


def test_long_arrays_are_the_same_as_short_ones() -> None:
    pressure = np.geomspace(R410A.minimum_pressure, R410A.maximum_pressure, 2 * CHUNK + 11)
    pressure = np.clip(pressure, R410A.minimum_pressure, R410A.maximum_pressure)
    whole = R410A.dew_temperature(pressure)
    for i in (0, CHUNK - 1, CHUNK, 2 * CHUNK, pressure.size - 1):
        assert whole[i] == pytest.approx(R410A.dew_temperature(float(pressure[i])), abs=1e-9)


def test_arrays_of_every_other_value_and_of_integers() -> None:
    pressure = np.linspace(5e5, 3e6, 101)
    assert np.array_equal(R410A.bubble_temperature(pressure[::2]), R410A.bubble_temperature(pressure)[::2])
    assert R410A.bubble_temperature(np.array([1_000_000]))[0] == R410A.bubble_temperature(1_000_000)
    assert R410A.bubble_temperature(np.float64(1e6)) == R410A.bubble_temperature(1e6)


def test_two_arrays_are_broadcast() -> None:
    pressure = np.array([[8e5], [1e6]])
    temperature = np.array([320.0, 330.0, 340.0])
    density = R410A.vapor_density(pressure, temperature)
    assert density.shape == (2, 3)
    assert density[1, 2] == pytest.approx(R410A.vapor_density(1e6, 340.0), rel=1e-12)


def test_a_float_gives_a_float() -> None:
    for value in (
        R410A.bubble_temperature(1e6),
        R410A.dew_pressure(300.0),
        R410A.vapor_density(1e6, 330.0),
        R410A.vapor_temperature_ph(1e6, 450e3),
        R410A.liquid_viscosity(300.0),
    ):
        assert type(value) is float


def test_reference_of_enthalpy_and_entropy() -> None:
    """Bubble liquid at 0 °C has 200 kJ/kg; latent heat and its entropy fit together there (h/T)."""
    c = curves("R-134a")
    p = c.bubble_pressure(273.15)
    assert c.liquid_enthalpy(p, c.bubble_temperature(p)) == pytest.approx(200e3, abs=50.0)
    vapor_entropy = c.vapor_entropy(p, c.dew_temperature(p))
    latent = c.vapor_enthalpy(p, c.dew_temperature(p)) - 200e3
    assert vapor_entropy == pytest.approx(1000.0 + latent / 273.15, abs=1.0)


def test_a_surface_along_one_b_is_the_polynomial_that_is_left() -> None:
    surface = Surface([[1.0, 2.0], [3.0, -4.0], [0.5, 0.25]])  # (1 + 2a) + (3 − 4a) b + (0.5 + 0.25a) b²
    assert surface.at(2.0, 3.0) == 5.0 + (-5.0) * 3.0 + 1.0 * 9.0
    assert surface.along(-1.0) == (2.0 + 4.0 + 0.25, 1.0 - 3.0 + 0.5)
    assert surface.over(np.array([2.0]), np.array([3.0]))[0] == surface.at(2.0, 3.0)


@pytest.mark.parametrize(
    ("name", "reaches_degF"),
    [("R-410A", 154.0), ("R-22", 190.0), ("R-32", 160.0), ("R-454B", 160.0), ("R-404A", 150.0), ("R-744", 86.0)],
)
def test_condensing_range_reaches_beyond_every_ceiling(name: str, reaches_degF: float) -> None:  # noqa: N803
    assert curves(name).maximum_temperature * 1.8 - 459.67 >= reaches_degF
