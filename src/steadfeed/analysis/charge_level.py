"""Charge level: an estimate of how full a circuit is, from superheat and subcooling against rated values.

The virtual charge sensor of Haorong Li and James E. Braun, "Development, evaluation, and demonstration of a virtual
refrigerant charge sensor", HVAC&R Research 15 (2009) 117–136, first given in Li's thesis at Purdue (equation and its
default constants from memory):

    (m − m_rated) / m_rated = (1 − alpha) · X_hs / SC_rated · [ (SC − SC_rated) − (k_sh / k_sc) · (SH − SH_rated) ]

with alpha = 0.75, the share of the rated charge at which subcooling vanishes, X_hs = 0.73, the share of the charge on the
high side, and k_sh/k_sc = 1/2.5. Below about 1 K of subcooling the equation no longer sees what is missing; a share found on
cases of the bench is then taken off. Its authors report errors within 10 % once liquid-line length, rated subcooling and rated
charge are used. Everything SI: differences in K, masses in kg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis.features import base_superheat
from steadfeed.analysis.spot import Spot
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.verdict import Measured
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
SOURCE: Final = "Li and Braun, HVAC&R Research 15 (2009) 117–136 (equation and constants from memory)"
#: Constants that the authors give for units about which nothing more is known.
ALPHA: Final = 0.75
HIGH_SIDE_SHARE: Final = 0.73
SUPERHEAT_SHARE: Final = 1.0 / 2.5
#: Rated subcooling that the defaults belong to [K]; units of less keep this, since the slope does not follow it [K].
USUAL_RATED: Final = 11.0 * F


@dataclass(frozen=True, slots=True)
class ChargeLevel:
    """level: charge over the right charge [-], None where the method does not hold; why_not: then the reason.

    to_add: [kg], negative: take out; None where the nameplate's charge is not known. text: one sentence; notes: what is less
    sure and why.
    """

    level: Measured | None
    to_add: Measured | None
    text: str
    why_not: str = ""
    notes: tuple[str, ...] = ()
    source: str = SOURCE


def charge_level(
    spot: Spot, system: System, curves: Curves, *, accumulator: bool = False, other_cause: str = ""
) -> ChargeLevel:  # fmt: skip
    """Estimate the charge from superheat and subcooling.

    accumulator: whether the suction line has one (it pins superheat). other_cause: a finding that moves superheat and
    subcooling without any charge; the estimate is silent then.
    """
    superheat, subcooling = spot.get("superheat"), spot.get("subcooling")
    reason = _why_not(spot, system, accumulator, other_cause)
    if reason or superheat is None or subcooling is None:
        return ChargeLevel(None, None, f"No charge level: {reason}.", reason)
    notes = []
    stated = system.nameplate.subcooling
    rated_subcooling = stated if stated is not None else limit("usual_subcooling")
    rated_superheat = base_superheat(spot, system)
    spread = 0.0
    if stated is None:
        notes.append("The rated subcooling is not stated: 10 °F stand in.")
        spread = math.hypot(spread, limit("usual_subcooling_width") / math.sqrt(3.0))
    slope = (1.0 - ALPHA) * HIGH_SIDE_SHARE / max(rated_subcooling, USUAL_RATED)
    slope *= _share_outside_line(spot, system, curves)
    value = 1.0 + slope * (
        (subcooling.value - rated_subcooling) - SUPERHEAT_SHARE * (superheat.value - rated_superheat)
    )
    if subcooling.value < limit("no_subcooling"):
        value -= limit("charge_without_subcooling")
        notes.append(
            f"Hardly any subcooling is left, so superheat alone carries the estimate; {100 * limit('charge_without_subcooling'):.0f} % "
            "are taken off, as cases of the bench show. It errs by more."
        )
    if value > 1.0 + limit("charge_far"):
        reason = "liquid fills the condenser, and beyond about 125 % subcooling no longer counts it"
        return ChargeLevel(
            None, None, f"More than {100 * (1.0 + limit('charge_far')):.0f} % of the right charge: take out in steps, read again.",
            reason,
        )  # fmt: skip
    own = slope * math.hypot(math.hypot(subcooling.uncertainty, SUPERHEAT_SHARE * superheat.uncertainty), spread)
    total = math.hypot(own, limit("charge_method"))
    level = Measured(value, total)
    mass = system.nameplate.charge
    to_add = None
    if mass is not None:
        to_add = Measured((1.0 - value) * mass, total * mass)
    return ChargeLevel(
        level, to_add, f"About {100 * value:.0f} % of the right charge (± {200 * total:.0f}).", "", tuple(notes)
    )


def _why_not(spot: Spot, system: System, accumulator: bool, other_cause: str) -> str:
    superheat, subcooling = spot.value("superheat"), spot.value("subcooling")
    if superheat is None or subcooling is None:
        return "it needs superheat and subcooling"
    if system.mode == "heating":
        return "in heating the surplus liquid is parked, and superheat and subcooling do not tell the charge"
    if accumulator:
        return "an accumulator holds the surplus and pins superheat"
    if other_cause:
        return f"another cause moves superheat and subcooling ({other_cause})"
    if superheat < limit("floor_superheat"):
        return "the coil is flooded: superheat is at its floor and no longer counts liquid"
    if system.metering_device is MeteringDevice.UNKNOWN:
        return "the metering device is not known"
    return ""


def _share_outside_line(spot: Spot, system: System, curves: Curves) -> float:
    """Share of the charge that superheat and subcooling can see: not what stands in the liquid line [-]."""
    length, mass = system.line_set.length, system.nameplate.charge
    if length is None or mass is None or system.packaged:
        return 1.0
    from steadfeed.analysis.line_set import USUAL_LIQUID_LINE
    from steadfeed.physics.pipe import inside_diameter

    inside = inside_diameter(system.line_set.liquid_line_diameter or USUAL_LIQUID_LINE)
    head, liquid = spot.readings.head_pressure, spot.readings.get("liquid_line_temperature")
    if head is None or liquid is None:
        return 1.0
    density = curves.liquid_density(
        head, min(liquid, float(curves.bubble_temperature(head, outside="nan"))), outside="nan"
    )
    more = max(length - limit("nameplate_line"), 0.0)
    if not math.isfinite(density):
        return 1.0
    return 1.0 / (1.0 + density * math.pi / 4.0 * inside**2 * more / mass)
