"""The wrapper round PsychroLib: its switch, its refusals, round trips."""

from __future__ import annotations

import math

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.errors import OutOfRange
from steadfeed.physics import moist_air

P = 101325.0


@pytest.mark.parametrize("system", [psychrolib.IP, psychrolib.SI])
def test_another_users_unit_system_is_left_as_it_was(system: object) -> None:
    psychrolib.SetUnitSystem(system)
    try:
        assert moist_air.saturation_pressure(298.15) == pytest.approx(3169.2, rel=1e-3)  # 25 °C
        assert psychrolib.GetUnitSystem() == system
        with pytest.raises(OutOfRange):
            moist_air.humidity_ratio_from_wet_bulb(300.0, 301.0, P)
        assert psychrolib.GetUnitSystem() == system
    finally:
        psychrolib.SetUnitSystem(psychrolib.SI)


@given(st.floats(275.0, 320.0), st.floats(0.05, 1.0), st.floats(70e3, 104e3))
def test_wet_bulb_and_relative_humidity_there_and_back(t: float, humidity: float, pressure: float) -> None:
    wet = moist_air.wet_bulb_from_relative_humidity(t, humidity, pressure)
    assert wet <= t + 1e-3
    again = moist_air.relative_humidity_from_wet_bulb(t, min(wet, t), pressure)
    assert again == pytest.approx(humidity, abs=3e-4)


@given(st.floats(275.0, 320.0), st.floats(0.0, 0.02))
def test_moist_air_holds_more_heat_and_is_lighter(t: float, ratio: float) -> None:
    assert moist_air.enthalpy(t, ratio + 0.001) > moist_air.enthalpy(t, ratio)
    assert moist_air.density(t, ratio + 0.001, P) < moist_air.density(t, ratio, P)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: moist_air.humidity_ratio_from_wet_bulb(300.0, 301.0, P), "cannot lie above the dry bulb"),
        (lambda: moist_air.humidity_ratio_from_relative_humidity(300.0, 1.2, P), "relative humidity of 120 %"),
        (lambda: moist_air.humidity_ratio_from_relative_humidity(300.0, 0.5, 14.7), "outside 20 to 200 kPa"),
        (lambda: moist_air.wet_bulb_from_humidity_ratio(300.0, 0.2, P), "above saturation"),
        (lambda: moist_air.enthalpy(300.0, -0.1), "below 0"),
        (lambda: moist_air.saturation_pressure(70.0), "−148 to 392 °F"),
    ],
)
def test_what_no_air_can_have_is_refused(call: object, word: str) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange) as caught:
        call()
    assert word in caught.value.message


def test_missing_stays_missing() -> None:
    nan = math.nan
    for value in (
        moist_air.saturation_pressure(nan),
        moist_air.humidity_ratio_from_wet_bulb(nan, 290.0, P),
        moist_air.humidity_ratio_from_relative_humidity(300.0, nan, P),
        moist_air.relative_humidity_from_wet_bulb(300.0, nan, P),
        moist_air.relative_humidity_from_humidity_ratio(300.0, nan, P),
        moist_air.wet_bulb_from_relative_humidity(nan, 0.5, P),
        moist_air.wet_bulb_from_humidity_ratio(300.0, nan, P),
        moist_air.enthalpy(300.0, nan),
        moist_air.density(nan, 0.01, P),
    ):
        assert math.isnan(value)
