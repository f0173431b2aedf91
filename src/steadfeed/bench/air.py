"""Moist air as the bench needs it: saturation, wet bulb, mixtures. SI, kelvin, kg water per kg dry air.

Formulas: saturation pressure by Hyland and Wexler (ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6),
humidity ratio from wet bulb by the same chapter's equations 33 and 35.
"""

from __future__ import annotations

from itertools import pairwise
from math import exp, log
from typing import Final

#: Specific heat of moist comfort air per kg of dry air [J/(kg K)].
AIR_SPECIFIC_HEAT: Final = 1020.0
#: Heat of vaporization of water around a coil's temperature [J/kg].
WATER_HEAT: Final = 2.478e6
#: Heat of fusion of ice [J/kg].
ICE_HEAT: Final = 3.34e5
_MASS_RATIO: Final = 0.621945


def saturation_vapor_pressure(temperature: float) -> float:
    """Pressure of water vapor over water, below 0 °C over ice [Pa], at a temperature [K]. Hyland–Wexler."""
    t = temperature
    if t < 273.15:
        return exp(
            -5.6745359e3 / t
            + 6.3925247
            - 9.6778430e-3 * t
            + 6.2215701e-7 * t * t
            + 2.0747825e-9 * t**3
            - 9.4840240e-13 * t**4
            + 4.1635019 * log(t)
        )
    return exp(
        -5.8002206e3 / t
        + 1.3914993
        - 4.8640239e-2 * t
        + 4.1764768e-5 * t * t
        - 1.4452093e-8 * t**3
        + 6.5459673 * log(t)
    )


def saturation_humidity_ratio(temperature: float, atmosphere: float) -> float:
    """Humidity ratio of saturated air [kg/kg] at a temperature [K] and a pressure [Pa]."""
    p = saturation_vapor_pressure(temperature)
    return _MASS_RATIO * p / max(atmosphere - p, 1.0)


def humidity_ratio(dry_bulb: float, wet_bulb: float, atmosphere: float) -> float:
    """Humidity ratio [kg/kg] from dry bulb and wet bulb [K]."""
    t, tw = dry_bulb - 273.15, wet_bulb - 273.15
    saturated = saturation_humidity_ratio(wet_bulb, atmosphere)
    if tw >= 0.0:
        w = ((2501.0 - 2.326 * tw) * saturated - 1.006 * (t - tw)) / (2501.0 + 1.86 * t - 4.186 * tw)
    else:
        w = ((2830.0 - 0.24 * tw) * saturated - 1.006 * (t - tw)) / (2830.0 + 1.86 * t - 2.1 * tw)
    return max(w, 1e-7)


def wet_bulb(dry_bulb: float, ratio: float, atmosphere: float) -> float:
    """Wet bulb [K] from dry bulb [K] and humidity ratio [kg/kg]; bisection to 0.001 K."""
    low, high = dry_bulb - 45.0, dry_bulb
    if humidity_ratio(dry_bulb, high, atmosphere) <= ratio:
        return high
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        if humidity_ratio(dry_bulb, middle, atmosphere) < ratio:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def relative_to_ratio(dry_bulb: float, relative: float, atmosphere: float) -> float:
    """Humidity ratio [kg/kg] from dry bulb [K] and relative humidity [-]."""
    p = relative * saturation_vapor_pressure(dry_bulb)
    return _MASS_RATIO * p / (atmosphere - p)


def air_density(temperature: float, atmosphere: float) -> float:
    """Density of air [kg/m3]."""
    return atmosphere / (287.05 * temperature)


class SaturatedAir:
    """Humidity ratio of saturated air, tabulated every half kelvin for one pressure of the atmosphere [Pa]."""

    __slots__ = ("_rows",)
    LOWEST: Final = 213.15
    HIGHEST: Final = 353.15

    def __init__(self, atmosphere: float) -> None:
        count = int((self.HIGHEST - self.LOWEST) * 2) + 1
        values = [saturation_humidity_ratio(self.LOWEST + 0.5 * k, atmosphere) for k in range(count)]
        self._rows = [(a, b - a) for a, b in pairwise(values)]

    def at(self, temperature: float) -> float:
        """Humidity ratio of saturated air [kg/kg] at a temperature [K]."""
        x = (temperature - self.LOWEST) * 2.0
        i = int(x)
        if i < 0:
            return self._rows[0][0]
        if i >= len(self._rows):
            i = len(self._rows) - 1
        a, b = self._rows[i]
        return a + (x - i) * b
