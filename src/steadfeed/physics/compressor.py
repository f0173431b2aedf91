"""Compressors as far as a challenge needs them: how the flow follows suction density and pressure ratio, and published maps.

The flow of a compressor at constant speed goes with suction density and volumetric efficiency, and the efficiency falls
about exponentially with the pressure ratio: m / m0 = rho / rho0 · exp(slope · (PR − PR0)).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.circuit.equipment import CompressorType
from steadfeed.errors import FixInput
from steadfeed.physics.properties import Curves, Number
from steadfeed.units import POUND, from_si


@dataclass(frozen=True, slots=True)
class VolumetricSlope:
    """d ln(volumetric efficiency) / d(pressure ratio) [-] with its standard uncertainty (k = 1), and where it comes from."""

    value: float
    uncertainty: float
    source: str


_MAPS = "range of published ten-coefficient maps (tests/published/ahri540_maps.csv)"

#: What is known before anything is measured, by kind of compressor.
VOLUMETRIC_SLOPES: Final[dict[CompressorType, VolumetricSlope]] = {
    "scroll": VolumetricSlope(-0.028, 0.012, f"{_MAPS}, the flat ones"),
    "reciprocating": VolumetricSlope(-0.095, 0.038, f"{_MAPS}: −0.03 to −0.16, taken as evenly likely"),
    "rotary": VolumetricSlope(-0.045, 0.035, "no published map read: wide on purpose (practice)"),
    "unknown": VolumetricSlope(-0.045, 0.040, "mixture of the kinds, scroll the most frequent (practice)"),
}


def pressure_ratio(suction_pressure: Number, discharge_pressure: Number) -> Number:
    """Ratio of absolute pressures [-]."""
    result: Number = discharge_pressure / suction_pressure
    return result


def ln_flow_ratio(density: Number, density_before: Number, ratio: Number, ratio_before: Number, slope: float) -> Number:
    """Logarithm of the flow over the flow before [-]: ln(rho / rho0) + slope · (PR − PR0).

    density: of the vapor at the compressor [kg/m3]; ratio: of absolute pressures [-]; slope: see `VolumetricSlope`.
    """
    if isinstance(density, (float, int)):
        return math.log(density / density_before) + slope * (ratio - ratio_before)
    result: Number = np.log(density / density_before) + slope * (ratio - ratio_before)
    return result


def flow_for_capacity(
    curves: Curves, capacity: float, suction_pressure: float, suction_temperature: float, liquid_enthalpy: float
) -> float:
    """Mass flow [kg/s] that gives a cooling capacity [W] between liquid of an enthalpy [J/kg] and vapor at (p [Pa], T [K]).

    Vapor that is colder than its dew temperature counts as dew vapor. Raises OutOfRange outside the curves.
    """
    vapor = max(suction_temperature, curves.dew_temperature(suction_pressure))
    return capacity / (curves.vapor_enthalpy(suction_pressure, vapor) - liquid_enthalpy)


def ten_coefficients(coefficients: Sequence[float], suction_dew: Number, discharge_dew: Number) -> Number:
    """Evaluate a map of AHRI Standard 540: a cubic in suction dew S and discharge dew D, in the map's own units.

    C1 + C2·S + C3·D + C4·S² + C5·S·D + C6·D² + C7·S³ + C8·D·S² + C9·S·D² + C10·D³. Raises FixInput unless there are ten.
    """
    if len(coefficients) != 10:
        raise FixInput(f"a compressor map of AHRI 540 has ten coefficients, these are {len(coefficients)}")
    c, s, d = coefficients, suction_dew, discharge_dew
    result: Number = (
        c[0]
        + s * (c[1] + s * (c[3] + s * c[6] + d * c[7]) + d * (c[4] + d * c[8]))
        + d * (c[2] + d * (c[5] + d * c[9]))
    )
    return result


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """A published map in the units in which such maps are printed: dew temperatures [°F], mass flow [lb/h], power [W]."""

    mass_flow_lb_h: tuple[float, ...]
    power_w: tuple[float, ...]

    def mass_flow(self, suction_dew: float, discharge_dew: float) -> float:
        """Mass flow [kg/s] at dew temperatures [K]."""
        return ten_coefficients(self.mass_flow_lb_h, *_fahrenheit(suction_dew, discharge_dew)) * POUND / 3600.0

    def power(self, suction_dew: float, discharge_dew: float) -> float:
        """Power taken [W] at dew temperatures [K]."""
        return ten_coefficients(self.power_w, *_fahrenheit(suction_dew, discharge_dew))

    def volumetric_slope(self, curves: Curves, suction_dew: float, discharge_dew: tuple[float, float]) -> float:
        """Mean d ln m / d(pressure ratio) [-] between two discharge dew temperatures [K] at one suction dew temperature [K].

        A map holds the superheat constant, so the suction density cancels and this is the slope of ln(volumetric efficiency).
        """
        suction = curves.dew_pressure(suction_dew)
        ratios = [curves.dew_pressure(t) / suction for t in discharge_dew]
        flows = [self.mass_flow(suction_dew, t) for t in discharge_dew]
        return math.log(flows[1] / flows[0]) / (ratios[1] - ratios[0])


def _fahrenheit(*temperatures: float) -> tuple[float, ...]:
    return tuple(from_si(t, "degF", "temperature") for t in temperatures)
