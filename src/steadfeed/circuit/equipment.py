"""What is known of the unit under test. Every field that is None is not known."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from steadfeed.circuit.phase import Mark


class MeteringDevice(StrEnum):
    """The metering device that the unit should have."""

    TXV = "txv"
    EEV = "eev"
    FIXED_ORIFICE = "fixed orifice"
    UNKNOWN = "unknown"


Mode = Literal["cooling", "heating"]
CompressorType = Literal["scroll", "reciprocating", "rotary", "unknown"]
CompressorControl = Literal["single-speed", "two-stage", "variable-speed", "tandem", "unknown"]
FanControl = Literal["on-off", "pressure-cycled", "variable", "unknown"]
GaugeKind = Literal["digital", "analog", "unknown"]
PressureReference = Literal["vented", "sealed", "absolute", "unknown"]
Sampling = Literal["automatic", "by hand", "unknown"]


@dataclass(frozen=True, slots=True)
class Site:
    """Where the unit stands. altitude [m]; barometer, station pressure [Pa]."""

    altitude: float | None = None
    barometer: float | None = None


@dataclass(frozen=True, slots=True)
class Nameplate:
    """What the maker states. subcooling, superheat [K difference]; pressures absolute [Pa]; current [A]; charge [kg]."""

    subcooling: float | None = None
    superheat: float | None = None
    high_side_design_pressure: float | None = None
    high_side_is_working_limit: bool = False
    rated_current: float | None = None
    charge: float | None = None


@dataclass(frozen=True, slots=True)
class LineSet:
    """Piping between the two units. length [m]; lift [m], positive: evaporator higher; outside diameters [m]."""

    length: float | None = None
    lift: float | None = None
    liquid_line_diameter: float | None = None
    suction_line_diameter: float | None = None


@dataclass(frozen=True, slots=True)
class Instruments:
    """How the readings were taken. pressure_accuracy [Pa]; temperature_accuracy [K difference]."""

    gauges: GaugeKind = "unknown"
    pressure_reference: PressureReference = "unknown"
    pressure_accuracy: float | None = None
    temperature_accuracy: float | None = None
    sampling: Sampling = "unknown"


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits that the person states. Pressures absolute [Pa]; discharge_temperature [K]."""

    head_pressure: float | None = None
    discharge_temperature: float | None = None
    high_pressure_switch: float | None = None


@dataclass(frozen=True, slots=True)
class System:
    """The unit, its site and the instruments on it.

    nominal_capacity [W]. marks: events noted by the person, times [s since the Unix epoch, UTC].
    column_names: free header -> channel name with unit. time_zone: IANA name for local times.
    """

    refrigerant: str | None = None
    metering_device: MeteringDevice = MeteringDevice.UNKNOWN
    mode: Mode = "cooling"
    circuit: str | None = None
    packaged: bool | None = None
    nominal_capacity: float | None = None
    compressor_type: CompressorType = "unknown"
    compressor_control: CompressorControl = "unknown"
    fan_control: FanControl = "unknown"
    time_zone: str | None = None
    site: Site = field(default_factory=Site)
    nameplate: Nameplate = field(default_factory=Nameplate)
    line_set: LineSet = field(default_factory=LineSet)
    instruments: Instruments = field(default_factory=Instruments)
    limits: Limits = field(default_factory=Limits)
    marks: tuple[Mark, ...] = ()
    column_names: tuple[tuple[str, str], ...] = ()
