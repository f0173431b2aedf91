"""Piping between the two units: liquid line, suction line, accumulator, and the shell in which refrigerant gathers."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sqrt
from typing import Final

GRAVITY: Final = 9.80665
#: Darcy friction factor of drawn copper at the Reynolds numbers of a liquid line (Churchill: 0.018–0.022).
LIQUID_FRICTION: Final = 0.020
VAPOR_FRICTION: Final = 0.017
#: Fittings, as equivalent length over straight length (common practice).
FITTINGS: Final = 1.3


@dataclass(frozen=True, slots=True)
class LineSpec:
    """Line set. length, lift [m] (positive: evaporator higher); inside diameters [m]; conductances to the air around
    per length [W/(m K)]; heat_capacity of the vapor line per length [J/(m K)]; drier: pressure loss of filter drier
    and fittings over flow² times density [1/m4].
    """

    length: float = 7.6
    lift: float = 0.0
    liquid_diameter: float = 0.0079
    suction_diameter: float = 0.0170
    suction_conductance: float = 0.25
    liquid_conductance: float = 0.30
    heat_capacity: float = 260.0
    drier: float = 1.0e10

    def liquid_resistance(self) -> float:
        """Pressure loss = resistance · flow² / density [1/m4] of line and drier."""
        area = 0.25 * pi * self.liquid_diameter**2
        darcy = LIQUID_FRICTION * FITTINGS * self.length / self.liquid_diameter
        return darcy / (2.0 * area * area) + self.drier

    def suction_resistance(self) -> float:
        """Pressure loss = resistance · flow² / density [1/m4] of the vapor line."""
        area = 0.25 * pi * self.suction_diameter**2
        return VAPOR_FRICTION * FITTINGS * self.length / self.suction_diameter / (2.0 * area * area)

    def liquid_volume(self) -> float:
        """Inside volume of the liquid line [m3]."""
        return 0.25 * pi * self.liquid_diameter**2 * self.length

    def suction_volume(self) -> float:
        """Inside volume of the vapor line [m3]."""
        return 0.25 * pi * self.suction_diameter**2 * self.length


#: Inside diameters of common refrigeration copper tube, 1/4 to 2 1/8 in outside [m].
TUBES: Final = (0.0048, 0.0063, 0.0079, 0.0111, 0.0141, 0.0173, 0.0199, 0.0260, 0.0321, 0.0382, 0.0504)
#: Velocities that line sets are sized for [m/s] (common practice; one maker's sheet: liquid 0.5–2.0, suction 5–15).
LIQUID_VELOCITY: Final = 1.8
SUCTION_VELOCITY: Final = 9.5
#: Pressure loss of filter drier and fittings at the rated flow [Pa] (about 1.5 psi, common practice).
DRIER_LOSS: Final = 1.0e4


def line_set(
    flow: float, liquid_density: float, vapor_density: float, length: float = 7.6, lift: float = 0.0
) -> LineSpec:
    """Choose tubes for a flow [kg/s] so that neither velocity is passed. Densities [kg/m3], length, lift [m]."""

    def tube(density: float, velocity: float) -> float:
        needed = sqrt(4.0 * flow / (pi * density * velocity))
        return next((d for d in TUBES if d >= needed), TUBES[-1])

    return LineSpec(
        length=length, lift=lift, liquid_diameter=tube(liquid_density, LIQUID_VELOCITY),
        suction_diameter=tube(vapor_density, SUCTION_VELOCITY), drier=DRIER_LOSS * liquid_density / (flow * flow),
    )  # fmt: skip


class VaporLine:
    """Vapor line with the heat of its copper: what leaves it lags what enters. pipe: metal temperature [K].

    outlet_enthalpy [J/kg] and outlet_temperature [K] of the gas, gained: heat from the air around [W].
    """

    __slots__ = ("capacity", "conductance", "film", "gained", "outlet_enthalpy", "outlet_temperature", "pipe", "rated")

    def __init__(self, capacity: float, conductance: float, film: float, rated: float, temperature: float) -> None:
        """capacity [J/K]; conductance to the air around [W/K]; film to the gas at the rated flow [kg/s], [W/K]."""
        self.capacity, self.conductance, self.film, self.rated = capacity, conductance, film, rated
        self.pipe = temperature
        self.gained = 0.0
        self.outlet_enthalpy = 0.0
        self.outlet_temperature = temperature

    def advance(
        self, dt: float, flow: float, enthalpy: float, temperature: float, specific_heat: float, around: float
    ) -> None:
        """Carry gas through. flow [kg/s]; enthalpy [J/kg]; temperatures [K]; specific_heat of the gas [J/(kg K)]."""
        self.gained = self.conductance * (around - self.pipe)
        heat = 0.0
        if flow > 1e-6:
            capacity_flow = flow * specific_heat
            passed = 1.0 - exp(-self.film * (flow / self.rated) ** 0.8 / capacity_flow)
            heat = capacity_flow * passed * (self.pipe - temperature)
            self.outlet_enthalpy = enthalpy + heat / flow
            self.outlet_temperature = temperature + passed * (self.pipe - temperature)
        else:
            self.outlet_enthalpy = enthalpy
            self.outlet_temperature = temperature
        self.pipe += dt * (self.gained - heat) / self.capacity
