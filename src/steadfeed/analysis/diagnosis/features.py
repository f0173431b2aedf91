"""Features of a circuit: the derived numbers that tell causes apart, before what is expected of them is taken off.

A feature is a difference in K, or a plain number where its name says so. Each is missing (absent from the mapping) when a
reading that it needs was not taken; nothing is guessed. The same features serve cooling and heating: "high side" is the
coil that gives heat off, "low side" the one that takes it up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.discharge import discharge_temperature
from steadfeed.analysis.spot import Spot
from steadfeed.analysis.targets import condensing_over_ambient_target, superheat_target
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.errors import FixInput
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0

#: Feature -> (what it is called in a sentence, kind).
FEATURES: Final[dict[str, tuple[str, str]]] = {
    "high_side": ("condensing temperature over the air", "temperature_difference"),
    "low_side": ("air over the evaporating temperature", "temperature_difference"),
    "superheat": ("superheat", "temperature_difference"),
    "subcooling": ("subcooling", "temperature_difference"),
    "discharge": ("discharge temperature", "temperature_difference"),
    "split": ("temperature split of the indoor air", "temperature_difference"),
    "current": ("compressor current", "share"),
    "recirculation": ("air at the outdoor coil’s face over outdoor air", "temperature_difference"),
    "air_rise": ("temperature change of the outdoor coil’s air", "temperature_difference"),
    "line_drop": ("temperature drop of the liquid line", "temperature_difference"),
    "suction_gain": ("temperature gain from the bulb to the suction port", "temperature_difference"),
    "bulb_superheat": ("superheat at the bulb", "temperature_difference"),
    "line_set_loss": ("subcooling that the line set takes by calculation", "temperature_difference"),
    "push_superheat": ("superheat in the push", "slope"),
    "push_evaporating": ("evaporating temperature in the push", "slope"),
    "push_subcooling": ("subcooling in the push", "slope"),
}
#: Slopes are in K per K of condensing rise; times this they are of the size of the others.
SLOPE_SCALE: Final = 10.0
#: Logarithm of the current's share, times this.
CURRENT_SCALE: Final = 10.0
#: Least condensing rise of a push that slopes are taken from [K].
LEAST_RISE: Final = 4.0

#: Features -> readings, one group of which it needs.
NEEDS: Final[dict[str, tuple[str, ...]]] = {
    "high_side": ("liquid_pressure", "outdoor_air_temperature"),
    "low_side": ("suction_pressure", "return_air_dry_bulb"),
    "superheat": ("suction_pressure", "suction_line_temperature"),
    "subcooling": ("liquid_pressure", "liquid_line_temperature"),
    "discharge": ("suction_pressure", "liquid_pressure", "suction_line_temperature", "discharge_line_temperature"),
    "split": ("return_air_dry_bulb", "supply_air_dry_bulb"),
    "current": ("compressor_current",),
    "recirculation": ("outdoor_air_temperature", "condenser_inlet_air"),
    "air_rise": ("condenser_inlet_air", "condenser_outlet_air"),
    "line_drop": ("liquid_line_temperature", "metering_inlet_temperature"),
    "suction_gain": ("suction_line_temperature", "evaporator_outlet_temperature"),
    "bulb_superheat": ("suction_pressure", "evaporator_outlet_temperature"),
}


def base_superheat(spot: Spot, system: System) -> float:
    """Superheat that the reading is compared with [K]: target, else nameplate, else the usual one."""
    readings = spot.readings
    if system.metering_device is MeteringDevice.FIXED_ORIFICE and system.mode == "cooling":
        wet = spot.value("return_wet_bulb")
        target = superheat_target(system, readings.get("outdoor_air_temperature"), wet)
        # where the table has a dash there is little superheat to be had
        return limit("least_table_superheat") if target is None or target.value is None else target.value
    stated = system.nameplate.superheat
    return stated if stated is not None else limit("usual_valve_superheat")


def base_subcooling(system: System) -> float:
    """Subcooling that the reading is compared with [K]: nameplate, else the usual one."""
    stated = system.nameplate.subcooling
    return stated if stated is not None else limit("usual_subcooling")


def observe(
    spot: Spot, pushed: Spot | None, system: System, curves: Curves, seer: float | None
) -> dict[str, float]:  # fmt: skip
    """Features of a spot and, where there is one, of the spot in the push. Absent: not to be had from these readings."""
    q, readings = spot.value, spot.readings
    heating = system.mode == "heating"
    out: dict[str, float | None] = {}
    over = q("condensing_over_return" if heating else "condensing_over_ambient")
    class_base = condensing_over_ambient_target(seer).value or 0.0
    out["high_side"] = None if over is None else over - (0.0 if heating else class_base)
    out["low_side"] = q("evaporating_under_outdoor" if heating else "return_over_evaporating")
    superheat, subcooling = q("superheat"), q("subcooling")
    base = base_superheat(spot, system)
    out["superheat"] = None if superheat is None else superheat - base
    out["subcooling"] = None if subcooling is None else subcooling - base_subcooling(system)
    out["discharge"] = _discharge(spot, curves)
    out["split"] = q("temperature_split")
    share = q("current_share")
    out["current"] = CURRENT_SCALE * math.log(share) if share is not None and share > 0.0 else None
    out["recirculation"] = q("recirculation")
    rise = q("condenser_air_rise")
    out["air_rise"] = None if rise is None else (-rise if heating else rise)
    out["line_drop"] = q("liquid_line_drop")
    out["suction_gain"] = q("suction_line_gain")
    at_bulb = q("evaporator_superheat")
    out["bulb_superheat"] = None if at_bulb is None else at_bulb - base
    out["line_set_loss"] = _line_set_loss(spot, system, curves)
    if pushed is not None:
        out.update(slopes(_states(spot), _states(pushed)))
    if readings.get("outdoor_air_temperature") is None:
        out["high_side" if not heating else "low_side"] = None
    return {name: value for name, value in out.items() if value is not None and math.isfinite(value)}


def slopes(before: Mapping[str, float], during: Mapping[str, float]) -> dict[str, float]:
    """Slopes over a push: states hold condensing_temperature, evaporating_temperature, superheat, subcooling [K]."""
    try:
        rise = during["condensing_temperature"] - before["condensing_temperature"]
        if rise < LEAST_RISE:
            return {}
        return {
            f"push_{name}": SLOPE_SCALE * (during[key] - before[key]) / rise
            for name, key in (
                ("superheat", "superheat"), ("evaporating", "evaporating_temperature"), ("subcooling", "subcooling"),
            )
        }  # fmt: skip
    except KeyError:
        return {}


def _states(spot: Spot) -> dict[str, float]:
    names = ("condensing_temperature", "evaporating_temperature", "superheat", "subcooling")
    return {name: value for name in names if (value := spot.value(name)) is not None}


def _discharge(spot: Spot, curves: Curves) -> float | None:
    readings = spot.readings
    suction, line = readings.get("suction_pressure"), readings.get("suction_line_temperature")
    head, hot = readings.head_pressure, readings.get("discharge_line_temperature")
    if suction is None or line is None or head is None or hot is None:
        return None
    try:
        return hot - discharge_temperature(curves, suction, line, head, limit("usual_efficiency"))
    except FixInput:
        return None


def _line_set_loss(spot: Spot, system: System, curves: Curves) -> float | None:
    """Fall of the bubble temperature along the line set by calculation [K], where its length and lift are known."""
    readings = spot.readings
    head, liquid = readings.head_pressure, readings.get("liquid_line_temperature")
    lines = system.line_set
    if head is None or liquid is None or system.packaged or lines.length is None or lines.lift is None:
        return None
    from steadfeed.analysis.line_set import loss_to_device

    try:
        loss, _ = loss_to_device(system, curves, head, liquid)
        return float(curves.bubble_temperature(head)) - float(curves.bubble_temperature(head - loss))
    except FixInput:
        return None
