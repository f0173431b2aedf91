"""The keys of a system file: which table holds what, in which unit, within which limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

from steadfeed.circuit.equipment import (
    CompressorControl,
    CompressorType,
    FanControl,
    GaugeKind,
    Instruments,
    Limits,
    LineSet,
    MeteringDevice,
    Mode,
    Nameplate,
    PressureReference,
    Sampling,
    Site,
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit in the key. low, high: what can be meant, in SI; None: no limit."""

    field: str
    kind: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Word:
    """One of a few words."""

    field: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plain:
    """A text, a number of a circuit, or true/false."""

    field: str
    type: Literal["text", "yes or no", "circuit", "time zone"]


Key = Quantity | Word | Plain

#: Table -> key without unit -> what it holds. "" is the top of the file.
KEYS: Final[dict[str, dict[str, Key]]] = {
    "": {
        "refrigerant": Plain("refrigerant", "text"),
        "metering_device": Word("metering_device", tuple(d.value for d in MeteringDevice)),
        "mode": Word("mode", get_args(Mode)),
        "circuit": Plain("circuit", "circuit"),
        "packaged": Plain("packaged", "yes or no"),
        "nominal_capacity": Quantity("nominal_capacity", "capacity", 100.0, 1e8),
        "compressor_type": Word("compressor_type", get_args(CompressorType)),
        "compressor_control": Word("compressor_control", get_args(CompressorControl)),
        "fan_control": Word("fan_control", get_args(FanControl)),
        "time_zone": Plain("time_zone", "time zone"),
    },
    "site": {
        "altitude": Quantity("altitude", "length", -500.0, 6000.0),
        "barometer": Quantity("barometer", "atmosphere", 45_000.0, 110_000.0),
    },
    "nameplate": {
        "subcooling": Quantity("subcooling", "temperature_difference", 0.0, 60.0),
        "superheat": Quantity("superheat", "temperature_difference", 0.0, 60.0),
        "high_side_design": Quantity("high_side_design_pressure", "pressure", 1.0, 2.5e7),
        "high_side_is_working_limit": Plain("high_side_is_working_limit", "yes or no"),
        "rated_current": Quantity("rated_current", "current", 0.0, 1e5),
        "charge": Quantity("charge", "mass", 0.0, 1e5),
    },
    "line_set": {
        "length": Quantity("length", "length", 0.0, 1000.0),
        "lift": Quantity("lift", "length", -500.0, 500.0),
        "liquid_line": Quantity("liquid_line_diameter", "length", 1e-3, 0.5),
        "suction_line": Quantity("suction_line_diameter", "length", 1e-3, 0.5),
    },
    "instruments": {
        "gauges": Word("gauges", get_args(GaugeKind)),
        "pressure_reference": Word("pressure_reference", get_args(PressureReference)),
        "pressure_accuracy": Quantity("pressure_accuracy", "pressure_difference", 0.0, 1e6),
        "temperature_accuracy": Quantity("temperature_accuracy", "temperature_difference", 0.0, 30.0),
        "sampling": Word("sampling", get_args(Sampling)),
    },
    "limits": {
        "head_pressure": Quantity("head_pressure", "pressure", 1.0, 2.5e7),
        "discharge_temperature": Quantity("discharge_temperature", "temperature", 250.0, 600.0),
        "high_pressure_switch": Quantity("high_pressure_switch", "pressure", 1.0, 2.5e7),
    },
}
TABLES: Final[dict[str, type]] = {
    "site": Site,
    "nameplate": Nameplate,
    "line_set": LineSet,
    "instruments": Instruments,
    "limits": Limits,
}
MARK_KEYS: Final = ("time", "event", "text", "circuit")
EXAMPLES: Final = {
    "length": "ft",
    "atmosphere": "inHg",
    "temperature_difference": "degF",
    "pressure": "psig",
    "pressure_difference": "psi",
    "temperature": "degF",
    "current": "A",
    "mass": "oz",
    "capacity": "tons",
}
FIELD_UNITS: Final = {"liquid_line": "in", "suction_line": "in"}
