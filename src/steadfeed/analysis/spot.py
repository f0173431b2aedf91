"""Spot readings: what one set of readings at one moment says, each number with its uncertainty.

Four readings suffice. Blends glide, so each saturation temperature is used where it belongs: superheat counts from dew,
subcooling from bubble, compressor limits from dew, and comparisons with air from the mid-point. Uncertainty follows the
GUM (JCGM 100:2008, 5.1): every reading is moved by its standard uncertainty, and what the result does is added in squares.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.line_set import loss_to_device
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import System
from steadfeed.circuit.verdict import Measured
from steadfeed.errors import FixInput, OutOfRange
from steadfeed.physics import moist_air
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
PSI: Final = 6894.757293168361

#: Readings that only a spot has, beside the channels of a log, with their kind.
EXTRA_KINDS: Final[dict[str, str]] = {
    "condenser_inlet_air": "temperature",
    "condenser_outlet_air": "temperature",
    "metering_inlet_temperature": "temperature",
    "supply_air_relative_humidity": "fraction",
    "airflow": "airflow",
}
#: Everything that can be typed for a spot, with its kind.
SPOT_KINDS: Final[dict[str, str]] = {
    **{name: kind for name, kind in CHANNEL_KINDS.items() if name != "valve_steps"},
    **EXTRA_KINDS,
}
FOUR: Final = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")

#: Where each reading is taken, in words; the name of a reading is its place.
PLACES: Final[dict[str, str]] = {
    "suction_pressure": "suction service port at the outdoor unit; in heating the common suction port",
    "liquid_pressure": "liquid service port at the outdoor unit",
    "discharge_pressure": "hot-gas port: the loss of the coil still lies behind it",
    "suction_line_temperature": "suction line within a foot of the suction port, clamp insulated",
    "liquid_line_temperature": "liquid line at the liquid service valve",
    "metering_inlet_temperature": "liquid line right before the metering device, after drier and valves",
    "evaporator_outlet_temperature": "suction line beside the bulb",
    "discharge_line_temperature": "hot-gas line, 6 in from the compressor",
    "outdoor_air_temperature": "outdoor air in the shade, away from the exhaust",
    "condenser_inlet_air": "air right before the coil's face, mean of three places",
    "condenser_outlet_air": "air that leaves the outdoor coil's fan",
    "return_air_dry_bulb": "return air before the filter",
    "return_air_wet_bulb": "return air before the filter",
    "return_air_relative_humidity": "return air before the filter",
    "supply_air_dry_bulb": "supply air out of the line of sight of the coil or heaters",
    "supply_air_wet_bulb": "supply air",
    "supply_air_relative_humidity": "supply air",
    "compressor_current": "one compressor lead; highest of the three of a three-phase motor",
    "fan_current": "outdoor fan lead",
    "power": "whole unit",
    "airflow": "indoor airflow, by grid, hood or fan table",
}


@dataclass(frozen=True, slots=True)
class SpotReadings:
    """One set of readings. values: name of SPOT_KINDS -> SI value, pressures absolute [Pa], temperatures [K].

    atmosphere: of the site [Pa]. uncertainty: standard uncertainty (k = 1) by name where one is known better.
    """

    values: Mapping[str, float]
    atmosphere: float = 101325.0
    uncertainty: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unknown = set(self.values) - set(SPOT_KINDS)
        if unknown:
            raise ValueError(f"no spot reading is called {', '.join(sorted(unknown))}")

    def get(self, name: str) -> float | None:
        """Value of a reading, None when it was not taken."""
        value = self.values.get(name)
        return None if value is None or not math.isfinite(value) else value

    def has(self, *names: str) -> bool:
        """Whether all of these were taken."""
        return all(self.get(name) is not None for name in names)

    @property
    def head_pressure(self) -> float | None:
        """Head pressure [Pa], absolute: of the liquid port, else of the hot-gas port."""
        liquid = self.get("liquid_pressure")
        return liquid if liquid is not None else self.get("discharge_pressure")


def standard_uncertainty(name: str, value: float, system: System) -> float:
    """Standard uncertainty (k = 1) of a reading by ordinary instruments [its SI unit]; stated accuracies come first.

    An accuracy is a limit: the standard uncertainty is its half-width over √3 (GUM 4.3.7).
    """
    inst = system.instruments
    kind = SPOT_KINDS[name]
    if kind == "pressure":
        if inst.pressure_accuracy is not None:
            return inst.pressure_accuracy / math.sqrt(3.0)
        if inst.gauges == "analog":
            key = "needle_suction" if name == "suction_pressure" else "needle_head"
            return limit(key) / math.sqrt(3.0)
        return math.hypot(limit("digital_gauge"), limit("digital_gauge_share") * value) / math.sqrt(3.0)
    if kind == "temperature":
        if name == "discharge_line_temperature":
            return limit("discharge_clamp") / math.sqrt(3.0)
        accuracy = inst.temperature_accuracy if inst.temperature_accuracy is not None else limit("thermometer")
        if name in ("outdoor_air_temperature", "condenser_outlet_air", "supply_air_dry_bulb", "condenser_inlet_air"):
            accuracy = max(accuracy, limit("moving_air"))  # one place stands for the whole stream
        return accuracy / math.sqrt(3.0)
    if kind == "fraction":
        return limit("hygrometer") / math.sqrt(3.0)
    if kind == "airflow":
        return limit("airflow_share") * value / math.sqrt(3.0)
    return limit("clamp_meter_share") * abs(value) / math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Quantity:
    """One derived number. name; kind as in units.py; measured: SI value with standard uncertainty; note: what it is."""

    name: str
    kind: str
    measured: Measured
    note: str = ""

    @property
    def value(self) -> float:
        """SI value."""
        return self.measured.value


@dataclass(frozen=True, slots=True)
class Spot:
    """What a set of readings says. quantities by name, in the order in which people read them; notes: sentences."""

    readings: SpotReadings
    quantities: Mapping[str, Quantity]
    notes: tuple[str, ...] = ()

    def get(self, name: str) -> Measured | None:
        """A quantity with its uncertainty, None when it does not follow from these readings."""
        found = self.quantities.get(name)
        return None if found is None else found.measured

    def value(self, name: str) -> float | None:
        """Value of a quantity [SI], None when it does not follow from these readings."""
        found = self.quantities.get(name)
        return None if found is None else found.measured.value


_KINDS: Final[dict[str, tuple[str, str]]] = {
    "superheat": ("temperature_difference", "suction line at the outdoor unit over dew at suction pressure"),
    "subcooling": ("temperature_difference", "bubble at head pressure over the liquid line"),
    "evaporator_superheat": ("temperature_difference", "pipe at the bulb over dew there"),
    "metering_subcooling": ("temperature_difference", "bubble before the metering device over the liquid there"),
    "evaporating_temperature": ("temperature", "dew at suction pressure"),
    "evaporating_middle": ("temperature", "between the coil's inlet and dew: for comparison with air"),
    "condensing_temperature": ("temperature", "bubble at head pressure"),
    "condensing_dew": ("temperature", "dew at head pressure: for compressor limits"),
    "condensing_middle": ("temperature", "between dew and bubble: for comparison with air"),
    "condensing_over_ambient": ("temperature_difference", "condensing middle over outdoor air"),
    "return_over_evaporating": ("temperature_difference", "return air over evaporating middle"),
    "evaporating_under_outdoor": ("temperature_difference", "heating: outdoor air over evaporating middle"),
    "condensing_over_return": ("temperature_difference", "heating: condensing middle over return air"),
    "pressure_ratio": ("", "head over suction, absolute"),
    "discharge_superheat": ("temperature_difference", "hot-gas line over dew at head pressure"),
    "liquid_line_drop": ("temperature_difference", "liquid line at the unit over the line before the metering device"),
    "suction_line_gain": ("temperature_difference", "suction line at the unit over the pipe at the bulb"),
    "recirculation": ("temperature_difference", "air at the outdoor coil's face over outdoor air"),
    "condenser_air_rise": ("temperature_difference", "air leaving over air entering the outdoor coil"),
    "temperature_split": ("temperature_difference", "return over supply dry bulb; in heating supply over return"),
    "return_wet_bulb": ("temperature", ""),
    "return_humidity": ("fraction", "relative humidity of return air"),
    "return_humidity_ratio": ("", "water in return air, mass over mass of dry air"),
    "supply_wet_bulb": ("temperature", ""),
    "supply_humidity": ("fraction", "relative humidity of supply air"),
    "airflow_per_capacity": ("airflow", "indoor airflow per ton of nominal capacity"),
    "sensible_capacity": ("capacity", "airflow × temperature split"),
    "total_capacity": ("capacity", "airflow × difference of enthalpy"),
    "efficiency": ("", "total capacity over power, W/W"),
    "current_share": ("fraction", "compressor current over the rated one"),
}


def evaluate(readings: SpotReadings, system: System, curves: Curves) -> Spot:
    """Derive everything that follows from a set of readings, each with its standard uncertainty.

    What needs a reading that was not taken is left out. Pressures outside the refrigerant's curves leave out what
    hangs on them; `slips.examine` says what may be wrong with them.
    """
    values = dict(readings.values)
    base = _derive(readings, values, system, curves)
    square = dict.fromkeys(base, 0.0)
    for name, value in values.items():
        u = readings.uncertainty.get(name)
        if u is None:
            u = standard_uncertainty(name, value, system)
        # an impossible neighbour (wet bulb over dry bulb, humidity over 100 %) is asked on the other side
        moved = _derive(readings, {**values, name: value + u}, system, curves)
        other: dict[str, float] | None = None
        for key, number in base.items():
            there = moved.get(key)
            if there is None:
                if other is None:
                    other = _derive(readings, {**values, name: value - u}, system, curves)
                there = other.get(key, number)
            square[key] += (there - number) ** 2
    charts = 0.5 * curves.uncertainty
    for key in square:
        if key in _HANG_ON_CHARTS:
            square[key] += charts**2
    quantities = {
        name: Quantity(name, kind, Measured(base[name], math.sqrt(square[name])), note)
        for name, (kind, note) in _KINDS.items()
        if name in base
    }
    return Spot(readings, quantities, tuple(_notes(readings, system, quantities)))


_HANG_ON_CHARTS: Final = frozenset(
    {
        "superheat", "subcooling", "evaporator_superheat", "metering_subcooling", "evaporating_temperature",
        "evaporating_middle", "condensing_temperature", "condensing_dew", "condensing_middle",
        "condensing_over_ambient", "return_over_evaporating", "evaporating_under_outdoor", "condensing_over_return",
        "discharge_superheat",
    }
)  # fmt: skip


def _derive(readings: SpotReadings, v: Mapping[str, float], system: System, curves: Curves) -> dict[str, float]:
    out: dict[str, float] = {}
    suction = v.get("suction_pressure")
    head = v.get("liquid_pressure", v.get("discharge_pressure"))
    _low_side(out, v, suction, curves)
    _high_side(out, v, head, system, curves)
    if suction is not None and head is not None and suction > 0.0:
        out["pressure_ratio"] = head / suction
    _against_air(out, v, system)
    _air(out, v, readings.atmosphere, system)
    rated = system.nameplate.rated_current
    if rated and "compressor_current" in v:
        out["current_share"] = v["compressor_current"] / rated
    return {name: value for name, value in out.items() if math.isfinite(value)}


def _low_side(out: dict[str, float], v: Mapping[str, float], suction: float | None, curves: Curves) -> None:
    if suction is not None:
        dew = curves.dew_temperature(suction, outside="nan")
        if math.isfinite(dew):
            bubble = curves.bubble_temperature(suction, outside="nan")
            out["evaporating_temperature"] = dew
            # the coil begins at a quality of about a quarter (practice)
            out["evaporating_middle"] = dew - 0.5 * 0.75 * (dew - bubble)
            if "suction_line_temperature" in v:
                out["superheat"] = v["suction_line_temperature"] - dew
            if "evaporator_outlet_temperature" in v:
                loss = limit("usual_suction_loss")
                at_coil = curves.dew_temperature(suction + loss, outside="nan")
                out["evaporator_superheat"] = v["evaporator_outlet_temperature"] - at_coil
    if "suction_line_temperature" in v and "evaporator_outlet_temperature" in v:
        out["suction_line_gain"] = v["suction_line_temperature"] - v["evaporator_outlet_temperature"]


def _high_side(
    out: dict[str, float], v: Mapping[str, float], head: float | None, system: System, curves: Curves
) -> None:
    if "liquid_line_temperature" in v and "metering_inlet_temperature" in v:
        out["liquid_line_drop"] = v["liquid_line_temperature"] - v["metering_inlet_temperature"]
    if head is None:
        return
    # the hot-gas port lies before the coil: take its loss off, else subcooling is overstated
    at_outlet = head if "liquid_pressure" in v else head - limit("usual_coil_loss") * head
    bubble = curves.bubble_temperature(at_outlet, outside="nan")
    dew = curves.dew_temperature(head, outside="nan")
    if not math.isfinite(bubble) or not math.isfinite(dew):
        return
    out["condensing_temperature"], out["condensing_dew"] = bubble, dew
    out["condensing_middle"] = 0.5 * (bubble + dew)
    if "liquid_line_temperature" in v:
        out["subcooling"] = bubble - v["liquid_line_temperature"]
    inlet = v.get("metering_inlet_temperature")
    if inlet is not None:
        try:
            loss, _ = loss_to_device(system, curves, at_outlet, min(inlet, bubble))
            out["metering_subcooling"] = curves.bubble_temperature(at_outlet - loss) - inlet
        except FixInput:
            pass
    if "discharge_line_temperature" in v:
        out["discharge_superheat"] = v["discharge_line_temperature"] - dew


def _against_air(out: dict[str, float], v: Mapping[str, float], system: System) -> None:
    outdoor, inside = v.get("outdoor_air_temperature"), v.get("return_air_dry_bulb")
    face = v.get("condenser_inlet_air")
    if outdoor is not None and face is not None:
        out["recirculation"] = face - outdoor
    if "condenser_outlet_air" in v and (face is not None or outdoor is not None):
        entering = face if face is not None else outdoor
        assert entering is not None
        out["condenser_air_rise"] = v["condenser_outlet_air"] - entering
    if system.mode == "heating":
        if outdoor is not None and "evaporating_middle" in out:
            out["evaporating_under_outdoor"] = outdoor - out["evaporating_middle"]
        if inside is not None and "condensing_middle" in out:
            out["condensing_over_return"] = out["condensing_middle"] - inside
        return
    if outdoor is not None and "condensing_middle" in out:
        out["condensing_over_ambient"] = out["condensing_middle"] - outdoor
    if inside is not None and "evaporating_middle" in out:
        out["return_over_evaporating"] = inside - out["evaporating_middle"]


def _air(out: dict[str, float], v: Mapping[str, float], atmosphere: float, system: System) -> None:
    inside, supply = v.get("return_air_dry_bulb"), v.get("supply_air_dry_bulb")
    sign = -1.0 if system.mode == "heating" else 1.0
    if inside is not None and supply is not None:
        out["temperature_split"] = sign * (inside - supply)
    states = {}
    for side, dry in (("return", inside), ("supply", supply)):
        water = _humidity_ratio(dry, v.get(f"{side}_air_wet_bulb"), v.get(f"{side}_air_relative_humidity"), atmosphere)
        if water is None or dry is None:
            continue
        states[side] = (dry, water)
        try:
            out[f"{side}_wet_bulb"] = moist_air.wet_bulb_from_humidity_ratio(dry, water, atmosphere)
            out[f"{side}_humidity"] = moist_air.relative_humidity_from_humidity_ratio(dry, water, atmosphere)
        except OutOfRange:
            pass
        if side == "return":
            out["return_humidity_ratio"] = water
    flow = v.get("airflow")
    if flow is None:
        return
    if system.nominal_capacity:
        out["airflow_per_capacity"] = flow / system.nominal_capacity
    if inside is None or supply is None:
        return
    dry_return, water = states.get("return", (inside, 0.0))
    try:
        mass = flow / moist_air.specific_volume(dry_return, water, atmosphere)
        # at the return's humidity on both sides: what remains is heat that can be felt
        felt = moist_air.enthalpy(dry_return, water) - moist_air.enthalpy(supply, water)
        out["sensible_capacity"] = sign * mass * felt
        if "return" in states and "supply" in states:
            total = mass * (moist_air.enthalpy(*states["return"]) - moist_air.enthalpy(*states["supply"]))
            out["total_capacity"] = sign * total
            power = v.get("power")
            if power:
                out["efficiency"] = out["total_capacity"] / power
    except OutOfRange:
        return


def _humidity_ratio(
    dry: float | None, wet: float | None, relative: float | None, atmosphere: float
) -> float | None:  # fmt: skip
    if dry is None:
        return None
    try:
        if wet is not None:
            return moist_air.humidity_ratio_from_wet_bulb(dry, wet, atmosphere)
        if relative is not None:
            return moist_air.humidity_ratio_from_relative_humidity(dry, relative, atmosphere)
    except OutOfRange:
        return None
    return None


def _notes(readings: SpotReadings, system: System, quantities: Mapping[str, Quantity]) -> list[str]:
    notes = []
    if readings.get("liquid_pressure") is None and readings.get("discharge_pressure") is not None:
        notes.append(
            "Head was read at the hot-gas port: a usual loss of the coil is taken off for subcooling, which is less sure."
        )
    if "superheat" in quantities and "evaporator_superheat" not in quantities and not system.packaged:
        notes.append("Superheat is that at the outdoor unit; at the bulb it is lower by what the suction line warms.")
    if system.mode == "heating":
        notes.append(
            "In heating the large service valve carries hot gas: suction is read at the common suction port only."
        )
    if readings.head_pressure is None and readings.get("suction_pressure") is not None:
        notes.append(
            "No head pressure: some ductless units have their valve outdoors and no liquid port; subcooling is then not "
            "to be had."
        )
    drop = quantities.get("liquid_line_drop")
    if drop is not None and drop.value > 4.5 * F:
        notes.append(
            "The liquid line turns colder on the way: its pressure falls there, and vapor with liquid reaches the device."
        )
    glide = quantities.get("condensing_dew")
    bubble = quantities.get("condensing_temperature")
    if glide and bubble and glide.value - bubble.value > 2.0 * F:
        notes.append(
            f"This blend glides {(glide.value - bubble.value) / F:.1f} °F on the high side: superheat counts from dew, "
            "subcooling from bubble."
        )
    return notes
