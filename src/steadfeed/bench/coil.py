"""A finned coil: what it is made of, what it holds, and its air side. Both coils of a heat pump take both roles."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Final

from steadfeed.bench.air import AIR_SPECIFIC_HEAT, ICE_HEAT

#: Growth of the air-side film with air velocity (plain and wavy fins; common practice 0.5–0.65).
AIR_FILM_EXPONENT: Final = 0.6
#: Air that still moves through a coil whose fan stands or whose face is closed, share of the rated flow (own choice).
STILL_AIR: Final = 0.02
#: Largest pressure loss of a coil over its pressure; only met in the first seconds after a reversing valve is thrown.
MOST_LOST: Final = 0.6
#: From metal to melting ice, per heat capacity of the metal [1/s] (own choice: a defrost takes 2–5 minutes).
MELTING_RATE: Final = 0.02


@dataclass(frozen=True, slots=True)
class CoilSpec:
    """Size of a coil.

    volume: inside [m3]. wall_capacity: metal, heat capacity [J/K]. two_phase, vapor, hot_gas, liquid: conductance from
    wall to refrigerant if the whole coil held that phase at the rated flow [W/K]: boiling or condensing, superheating
    in the evaporator, desuperheating in the condenser, subcooling. refrigerant_flow, air_flow: rated [kg/s].
    air: conductance from wall to air at the rated air flow [W/K]. friction: pressure loss = friction · flow² / vapor
    density [1/m4]. spread: half-width by which parallel paths differ in feed [-].
    """

    volume: float
    wall_capacity: float
    two_phase: float
    vapor: float
    hot_gas: float
    liquid: float
    refrigerant_flow: float
    air: float
    air_flow: float
    friction: float
    spread: float = 0.06


class Coil:
    """State of a coil: pressure [Pa], refrigerant mass [kg], metal temperatures [K], frost [kg].

    wall: metal along the two-phase zone; far_wall: metal along the rest (superheating or subcooling zone).
    """

    __slots__ = ("far_wall", "frost", "mass", "pressure", "spec", "wall")

    def __init__(self, spec: CoilSpec, pressure: float, mass: float, temperature: float) -> None:
        self.spec = spec
        self.pressure = pressure
        self.mass = mass
        self.wall = temperature
        self.far_wall = temperature
        self.frost = 0.0

    def air_side(self, air_flow: float, open_face: float = 1.0, factor: float = 1.0) -> tuple[float, float, float]:
        """Return (conductance [W/K], bypass share [-], air flow [kg/s]) between air and wall, for the whole coil.

        air_flow [kg/s]; open_face: share of the face that air can reach [-]; factor on the air-side
        conductance (dirt, fins of a neighbour) [-]. Effectiveness of a coil whose metal has
        one temperature: 1 − exp(−NTU). Frost narrows the air's path before this is called.
        """
        spec = self.spec
        flow = max(air_flow, STILL_AIR * spec.air_flow)
        face = max(open_face, 0.05)
        conductance = spec.air * factor * face * (flow / (spec.air_flow * face)) ** AIR_FILM_EXPONENT
        bypass = exp(-conductance / (flow * AIR_SPECIFIC_HEAT))
        return flow * AIR_SPECIFIC_HEAT * (1.0 - bypass), bypass, flow

    def melt(self, dt: float) -> None:
        """Melt frost with the heat of metal above freezing."""
        if self.frost <= 0.0:
            return
        warm = max(self.wall - 273.15, 0.0)
        melted = min(self.frost, dt * MELTING_RATE * self.spec.wall_capacity * warm / ICE_HEAT)
        self.frost -= melted
        colder = melted * ICE_HEAT / self.spec.wall_capacity
        self.wall -= colder
        self.far_wall -= colder
