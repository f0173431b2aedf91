"""The ceiling: the head pressure that must not be passed in this test, and the limit that sets it."""

from __future__ import annotations

from dataclasses import dataclass

from steadfeed.analysis.criteria import limit
from steadfeed.circuit.equipment import System
from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True)
class Ceiling:
    """head_pressure: absolute [Pa]; set_by: the limit that binds, in words; criterion: key of its source or ""."""

    head_pressure: float
    set_by: str
    criterion: str = ""


def ceiling(system: System, curves: Curves) -> Ceiling:
    """Lowest of the limits that are known: stated limit, high-pressure switch less a margin, maker's working limit, dew.

    The margin below the switch is a difference of condensing temperature, not of pressure: 50 psi are 7.7 °F on R-410A
    and 17 °F on R-134a. A nameplate design pressure counts only where the maker gives it as a working limit. Without a
    known switch the dew limit is lowered. Margins are not stacked.
    """
    found: list[Ceiling] = []
    limits, plate = system.limits, system.nameplate
    if limits.head_pressure is not None:
        found.append(Ceiling(limits.head_pressure, "the limit that was stated"))
    if limits.high_pressure_switch is not None:
        dew = float(curves.dew_temperature(limits.high_pressure_switch, outside="nan"))
        if dew == dew:
            below = float(curves.dew_pressure(dew - limit("switch_margin")))
            found.append(Ceiling(below, "the high-pressure switch less a margin", "switch_margin"))
    if plate.high_side_design_pressure is not None and plate.high_side_is_working_limit:
        found.append(Ceiling(plate.high_side_design_pressure, "the maker's working limit"))
    key = "dew_limit" if limits.high_pressure_switch is not None else "dew_limit_switch_unknown"
    hottest = min(limit(key), curves.maximum_temperature - 1.0)
    text = "the condensing dew temperature" + ("" if limits.high_pressure_switch is not None else ", switch not known")
    found.append(Ceiling(float(curves.dew_pressure(hottest)), text, key))
    return min(found, key=lambda c: c.head_pressure)
