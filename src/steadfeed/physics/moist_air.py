"""Moist air: wet bulb, relative humidity, humidity ratio, enthalpy and density, after the ASHRAE handbook.

A thin wrapper round PsychroLib (ASHRAE Handbook of Fundamentals 2017, chapter 1), in SI and kelvin. PsychroLib keeps its
unit system in a global; every call here takes a lock, sets SI, and puts back what it found, so that other code in the same
process may use it in other units. PsychroLib is imported at the first call, not before.

All functions take single floats: T [K], pressure of the air [Pa], humidity ratio [kg water per kg dry air], relative humidity
[-], enthalpy [J per kg dry air]. NaN gives NaN. They raise OutOfRange for values that no moist air can have.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable
from typing import Any, Final

from steadfeed.errors import OutOfRange

ZERO_CELSIUS: Final = 273.15
#: Range of the handbook's equation for the pressure of saturated water vapor [K].
LOWEST_TEMPERATURE: Final = 173.15
HIGHEST_TEMPERATURE: Final = 473.15

_lock = threading.Lock()


def _in_si(compute: Callable[[Any], float]) -> float:
    """Run one computation with PsychroLib switched to SI, and put its switch back."""
    import psychrolib

    with _lock:
        found = psychrolib.GetUnitSystem()
        psychrolib.SetUnitSystem(psychrolib.SI)
        try:
            return float(compute(psychrolib))
        finally:
            if found is not None:
                psychrolib.SetUnitSystem(found)


def _celsius(temperature: float, what: str) -> float:
    if not LOWEST_TEMPERATURE <= temperature <= HIGHEST_TEMPERATURE:
        raise OutOfRange(
            f"{what} of {temperature * 1.8 - 459.67:.1f} °F ({temperature - ZERO_CELSIUS:.1f} °C) is outside "
            "−148 to 392 °F (−100 to 200 °C)"
        )
    return temperature - ZERO_CELSIUS


def _check_pressure(pressure: float) -> None:
    if not 2e4 <= pressure <= 2e5:
        raise OutOfRange(f"an air pressure of {pressure / 1e3:.4g} kPa is outside 20 to 200 kPa")


def _check_wet_bulb(dry_bulb: float, wet_bulb: float) -> None:
    if wet_bulb > dry_bulb:
        raise OutOfRange(
            f"a wet bulb of {wet_bulb * 1.8 - 459.67:.1f} °F cannot lie above the dry bulb of "
            f"{dry_bulb * 1.8 - 459.67:.1f} °F: check which sensor is which, and that the wick is wet"
        )


def _check_relative_humidity(relative_humidity: float) -> None:
    if not 0.0 <= relative_humidity <= 1.0:
        raise OutOfRange(f"a relative humidity of {relative_humidity * 100:.4g} % is outside 0 to 100 %")


def _check_humidity_ratio(humidity_ratio: float) -> None:
    if humidity_ratio < 0.0:
        raise OutOfRange(f"a humidity ratio of {humidity_ratio:.4g} kg/kg is below 0")


def saturation_pressure(temperature: float) -> float:
    """Pressure of saturated water vapor over liquid or ice [Pa] at T [K]."""
    if math.isnan(temperature):
        return math.nan
    t = _celsius(temperature, "a temperature")
    return _in_si(lambda air: air.GetSatVapPres(t))


def humidity_ratio_from_wet_bulb(dry_bulb: float, wet_bulb: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] from dry bulb [K], wet bulb [K] and air pressure [Pa]."""
    if math.isnan(dry_bulb) or math.isnan(wet_bulb) or math.isnan(pressure):
        return math.nan
    _check_pressure(pressure)
    _check_wet_bulb(dry_bulb, wet_bulb)
    t, wet = _celsius(dry_bulb, "a dry bulb"), _celsius(wet_bulb, "a wet bulb")
    return _in_si(lambda air: air.GetHumRatioFromTWetBulb(t, wet, pressure))


def humidity_ratio_from_relative_humidity(dry_bulb: float, relative_humidity: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] from dry bulb [K], relative humidity [-] and air pressure [Pa]."""
    if math.isnan(dry_bulb) or math.isnan(relative_humidity) or math.isnan(pressure):
        return math.nan
    _check_pressure(pressure)
    _check_relative_humidity(relative_humidity)
    t = _celsius(dry_bulb, "a dry bulb")
    return _in_si(lambda air: air.GetHumRatioFromRelHum(t, relative_humidity, pressure))


def relative_humidity_from_humidity_ratio(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """Relative humidity [-] from dry bulb [K], humidity ratio [kg/kg] and air pressure [Pa]."""
    if math.isnan(dry_bulb) or math.isnan(humidity_ratio) or math.isnan(pressure):
        return math.nan
    _check_pressure(pressure)
    _check_humidity_ratio(humidity_ratio)
    t = _celsius(dry_bulb, "a dry bulb")
    return _in_si(lambda air: air.GetRelHumFromHumRatio(t, humidity_ratio, pressure))


def relative_humidity_from_wet_bulb(dry_bulb: float, wet_bulb: float, pressure: float) -> float:
    """Relative humidity [-] from dry bulb [K], wet bulb [K] and air pressure [Pa]."""
    ratio = humidity_ratio_from_wet_bulb(dry_bulb, wet_bulb, pressure)
    return math.nan if math.isnan(ratio) else relative_humidity_from_humidity_ratio(dry_bulb, ratio, pressure)


def wet_bulb_from_humidity_ratio(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """Wet bulb [K] from dry bulb [K], humidity ratio [kg/kg] and air pressure [Pa]; solved to 0.001 K."""
    if math.isnan(dry_bulb) or math.isnan(humidity_ratio) or math.isnan(pressure):
        return math.nan
    _check_pressure(pressure)
    _check_humidity_ratio(humidity_ratio)
    t = _celsius(dry_bulb, "a dry bulb")
    saturated = _in_si(lambda air: air.GetSatHumRatio(t, pressure))
    if humidity_ratio > saturated * (1.0 + 1e-9):
        raise OutOfRange(
            f"a humidity ratio of {humidity_ratio:.5f} kg/kg is above saturation, {saturated:.5f} kg/kg, "
            f"at {dry_bulb * 1.8 - 459.67:.1f} °F"
        )
    return _in_si(lambda air: air.GetTWetBulbFromHumRatio(t, humidity_ratio, pressure)) + ZERO_CELSIUS


def wet_bulb_from_relative_humidity(dry_bulb: float, relative_humidity: float, pressure: float) -> float:
    """Wet bulb [K] from dry bulb [K], relative humidity [-] and air pressure [Pa]; solved to 0.001 K."""
    ratio = humidity_ratio_from_relative_humidity(dry_bulb, relative_humidity, pressure)
    return math.nan if math.isnan(ratio) else wet_bulb_from_humidity_ratio(dry_bulb, ratio, pressure)


def enthalpy(dry_bulb: float, humidity_ratio: float) -> float:
    """Enthalpy of moist air [J per kg dry air, 0 for dry air at 0 °C] from dry bulb [K] and humidity ratio [kg/kg]."""
    if math.isnan(dry_bulb) or math.isnan(humidity_ratio):
        return math.nan
    _check_humidity_ratio(humidity_ratio)
    t = _celsius(dry_bulb, "a dry bulb")
    return _in_si(lambda air: air.GetMoistAirEnthalpy(t, humidity_ratio))


def specific_volume(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """Volume of moist air [m3 per kg dry air] from dry bulb [K], humidity ratio [kg/kg] and air pressure [Pa]."""
    if math.isnan(dry_bulb) or math.isnan(humidity_ratio) or math.isnan(pressure):
        return math.nan
    _check_pressure(pressure)
    _check_humidity_ratio(humidity_ratio)
    t = _celsius(dry_bulb, "a dry bulb")
    return _in_si(lambda air: air.GetMoistAirVolume(t, humidity_ratio, pressure))


def density(dry_bulb: float, humidity_ratio: float, pressure: float) -> float:
    """Density of moist air [kg/m3, water included] from dry bulb [K], humidity ratio [kg/kg] and air pressure [Pa]."""
    return (1.0 + humidity_ratio) / specific_volume(dry_bulb, humidity_ratio, pressure)
