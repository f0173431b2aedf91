"""Refrigerant properties in the form that the bench steps through: rows over ln p, read by linear interpolation.

`Curves` answers any question in about a microsecond; the bench asks for two dozen values at the same pressure in every
step, so they are laid out once per refrigerant in rows and read together. Rows are 0.01 apart in ln p: the
interpolation then adds less than 0.001 K to a saturation temperature.
"""

from __future__ import annotations

from functools import lru_cache
from math import log
from typing import Final

import numpy as np
import numpy.typing as npt

from steadfeed.physics.properties import Curves

FloatArray = npt.NDArray[np.float64]

ROW_SPACING: Final = 0.01
#: Superheat over which vapor is described around each pressure [K].
VAPOR_SPAN: Final = 100.0
#: Subcooling over which the mean specific heat of liquid is taken [K].
LIQUID_SPAN: Final = 8.0

Row = list[tuple[float, float]]


class Fluid:
    """One refrigerant, laid out in rows over pressure.

    saturation(p) gives, in this order: bubble temperature [K], dew temperature [K], bubble liquid density [kg/m3] and
    enthalpy [J/kg], dew vapor density and enthalpy, specific heat of liquid near the bubble line [J/(kg K)], and the
    slopes over pressure [1/Pa] of bubble temperature, dew temperature, liquid enthalpy, vapor enthalpy, vapor density.
    vapor(p) gives coefficients, see `vapor_enthalpy_rise` and its neighbours.
    """

    __slots__ = ("_first", "_last", "_low", "_saturation", "_scale", "_vapor", "curves", "highest", "lowest")

    def __init__(self, curves: Curves) -> None:
        self.curves = curves
        low, high = log(curves.minimum_pressure), log(curves.maximum_pressure)
        n = int((high - low) / ROW_SPACING) + 2
        ln_p = np.linspace(low, high, n)
        p = np.clip(np.exp(ln_p), curves.minimum_pressure, curves.maximum_pressure)
        self.lowest, self.highest = curves.minimum_pressure, curves.maximum_pressure
        self._low, self._scale = low, (n - 1) / (high - low)
        self._first, self._last = 0, n - 2
        self._saturation = _rows(self._saturation_columns(p))
        self._vapor = _rows(self._vapor_columns(p))

    def _saturation_columns(self, p: FloatArray) -> list[FloatArray]:
        c = self.curves
        bubble, dew = c.bubble_temperature(p), c.dew_temperature(p)
        h_liquid, h_vapor = c.liquid_enthalpy(p, bubble), c.vapor_enthalpy(p, dew)
        rho_vapor = c.vapor_density(p, dew)
        span = np.minimum(LIQUID_SPAN, np.maximum(bubble - c.lowest_liquid_temperature, 0.5))
        specific_heat = (h_liquid - c.liquid_enthalpy(p, bubble - span)) / span
        slopes = [np.gradient(column, p) for column in (bubble, dew, h_liquid, h_vapor, rho_vapor)]
        return [bubble, dew, c.liquid_density(p, bubble), h_liquid, rho_vapor, h_vapor, specific_heat, *slopes]

    def _vapor_columns(self, p: FloatArray) -> list[FloatArray]:
        c = self.curves
        dew = c.dew_temperature(p)
        span = np.minimum(VAPOR_SPAN, 0.98 * (c.highest_vapor_temperature - dew))
        share = np.linspace(0.0, 1.0, 31)[1:]
        warmer = span[:, None] * share[None, :]
        temperature = dew[:, None] + warmer
        pressure = np.broadcast_to(p[:, None], temperature.shape)
        rise = c.vapor_enthalpy(pressure, temperature) - c.vapor_enthalpy(p, dew)[:, None]
        entropy = c.vapor_entropy(p, dew)
        more_entropy = c.vapor_entropy(pressure, temperature) - entropy[:, None]
        swelling = c.vapor_density(p, dew)[:, None] / c.vapor_density(pressure, temperature) - 1.0
        end = rise[:, -1]
        inverse = _fit_through_zero(rise, warmer, 4)
        return [
            *_fit_through_zero(warmer, rise, 4),
            *inverse,
            *_fit_through_zero(warmer, swelling, 3),
            entropy,
            *_fit_through_zero(warmer, more_entropy, 4),
            *_fit_through_zero(more_entropy, rise, 3),
            end,
            end * (inverse[0] + end * (inverse[1] + end * (inverse[2] + end * inverse[3]))),
            (end - rise[:, -4]) / (warmer[:, -1] - warmer[:, -4]),
        ]

    def saturation(self, pressure: float) -> list[float]:
        """Return the saturation row at a pressure [Pa]; see the class."""
        x = (log(pressure) - self._low) * self._scale
        i = int(x)
        if i < 0:
            i = 0
        elif i > self._last:
            i = self._last
        f = x - i
        return [a + f * b for a, b in self._saturation[i]]

    def vapor(self, pressure: float) -> list[float]:
        """Return the vapor row at a pressure [Pa]: what `rise_of` and its neighbours read.

        0–3: enthalpy over dew from superheat (0 is the specific heat of dew vapor [J/(kg K)]). 4–7: superheat from
        enthalpy over dew. 8–10: specific volume over that at dew, less one. 11: entropy of dew vapor. 12–15: entropy
        over dew from superheat. 16–18: enthalpy over dew from entropy over dew. 19–21: end of 4–7 as enthalpy over dew
        and superheat, and the specific heat there.
        """
        x = (log(pressure) - self._low) * self._scale
        i = int(x)
        if i < 0:
            i = 0
        elif i > self._last:
            i = self._last
        f = x - i
        return [a + f * b for a, b in self._vapor[i]]


def rise_of(superheat: float, vapor: list[float]) -> float:
    """Enthalpy over dew [J/kg] of vapor with a superheat [K]."""
    d = superheat
    return d * (vapor[0] + d * (vapor[1] + d * (vapor[2] + d * vapor[3])))


def superheat_of(rise: float, vapor: list[float]) -> float:
    """Superheat [K] of vapor whose enthalpy lies `rise` [J/kg] over dew; straight beyond the end of the row."""
    if rise > vapor[19]:
        return vapor[20] + (rise - vapor[19]) / vapor[21]
    return rise * (vapor[4] + rise * (vapor[5] + rise * (vapor[6] + rise * vapor[7])))


def swelling_of(superheat: float, vapor: list[float]) -> float:
    """Specific volume of vapor with a superheat [K] over that of dew vapor [-]."""
    return 1.0 + superheat * (vapor[8] + superheat * (vapor[9] + superheat * vapor[10]))


def entropy_of(superheat: float, vapor: list[float]) -> float:
    """Entropy [J/(kg K)] of vapor with a superheat [K]."""
    d = superheat
    return vapor[11] + d * (vapor[12] + d * (vapor[13] + d * (vapor[14] + d * vapor[15])))


def rise_at_entropy(entropy: float, vapor: list[float], dew: float) -> float:
    """Enthalpy over dew [J/kg] at an entropy [J/(kg K)]; below dew along the wet isobar (dew temperature [K])."""
    more = entropy - vapor[11]
    if more < 0.0:
        return more * dew
    return more * (vapor[16] + more * (vapor[17] + more * vapor[18]))


def _rows(columns: list[FloatArray]) -> list[Row]:
    table = np.column_stack(columns)
    steps = np.diff(table, axis=0)
    return [list(zip(a, b, strict=True)) for a, b in zip(table[:-1].tolist(), steps.tolist(), strict=True)]


def _fit_through_zero(x: FloatArray, y: FloatArray, terms: int) -> list[FloatArray]:
    """Fit y = a·x + b·x² + … in every row by least squares, weighted towards small x; shapes (rows, points)."""
    scale = x[:, -1:]
    u, target = x / scale, y / x
    basis = np.stack([u**k for k in range(terms)], axis=2)
    weight = np.sqrt(u)[..., None]
    normal = np.einsum("rpi,rpj->rij", basis * weight, basis * weight)
    right = np.einsum("rpi,rp->ri", basis * weight, target * weight[..., 0])
    solution = np.linalg.solve(normal, right[..., None])[..., 0]
    return [solution[:, k] / scale[:, 0] ** k for k in range(terms)]


@lru_cache(maxsize=16)
def fluid_of(curves: Curves) -> Fluid:
    """Return the rows of a refrigerant, made once."""
    return Fluid(curves)
