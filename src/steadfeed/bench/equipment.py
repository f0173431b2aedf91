"""What a unit on the bench is made of: circuit, fans, controls, and the place where it stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from steadfeed.bench.coil import CoilSpec
from steadfeed.bench.compressor import CompressorSpec
from steadfeed.bench.lines import LineSpec
from steadfeed.bench.metering import DeviceSpec
from steadfeed.units import PSI, STANDARD_ATMOSPHERE

Mode = Literal["cooling", "heating"]


@dataclass(frozen=True, slots=True)
class FanSpec:
    """A fan (or bank of equal fans). power: at rated flow, all running [W]; count; stiffness: share of the fan's
    pressure that does not depend on the coil's face, 0…1 (0: flow follows the open face, 1: flow never changes).
    """

    power: float
    count: int = 1
    stiffness: float = 0.5
    voltage: float = 230.0


@dataclass(frozen=True, slots=True)
class ControlSpec:
    """Switches and fan control. Pressures absolute [Pa], times [s].

    high_switch, high_reset, low_switch, low_reset: trip and reset pressures, 0 = no switch. manual_reset: whether the
    high-pressure switch stays open until someone resets it. restart_delay: shortest standstill. fan_control as in the
    system file; fan_on, fan_off: of the pressure-cycled fan (also lower and upper end of a variable one: fan_off stands,
    fan_on full). defrost_interval: running time between defrosts, defrost_below: coil metal temperature that allows one
    [K], defrost_ends: metal temperature that ends it [K], defrost_longest.
    """

    high_switch: float = 610.0 * PSI + STANDARD_ATMOSPHERE
    high_reset: float = 420.0 * PSI + STANDARD_ATMOSPHERE
    low_switch: float = 0.0
    low_reset: float = 0.0
    manual_reset: bool = True
    restart_delay: float = 180.0
    fan_control: Literal["on-off", "pressure-cycled", "variable"] = "on-off"
    fan_on: float = 0.0
    fan_off: float = 0.0
    defrost_interval: float = 3600.0
    defrost_below: float = 271.5
    defrost_ends: float = 286.0
    defrost_longest: float = 600.0


@dataclass(frozen=True, slots=True)
class Equipment:
    """One refrigerant circuit with its coils, fans and controls.

    mode: "cooling" (outdoor coil condenses) or "heating" (indoor coil condenses). device: the metering device in use in
    that mode; device_opening: its stroke at the rating point [-]. charge: right charge [kg]. rated_flow [kg/s];
    rated_evaporating: dew temperature at the coil's outlet [K]; rated_difference: pressure difference over the device [Pa].
    accumulator: volume [m3], 0 = none. compensator: liquid that a heat pump parks while heating
    [kg]. dissolved: refrigerant in the oil, part of the charge [kg]. receiver: volume of a vessel after the
    condenser [m3], 0 = none; receiver_loss: its conductance to the outdoor air [W/K], which gives what subcooling there is. packaged: short
    lines inside one box. interlaced: what the fins of a second circuit on the same
    face add to the air-side conductance while that one stands [-]. defrost_device: the device that meters while a heat pump defrosts, None = one like `device`.
    """

    refrigerant: str
    capacity: float
    device: DeviceSpec
    compressor: CompressorSpec
    outdoor_coil: CoilSpec
    indoor_coil: CoilSpec
    outdoor_fan: FanSpec
    indoor_fan: FanSpec
    lines: LineSpec
    charge: float
    rated_flow: float
    rated_evaporating: float
    rated_difference: float
    distributor: float
    device_opening: float
    mode: Mode = "cooling"
    accumulator: float = 0.0
    compensator: float = 0.0
    dissolved: float = 0.0
    receiver: float = 0.0
    receiver_loss: float = 0.0
    packaged: bool = False
    interlaced: float = 0.0
    defrost_device: DeviceSpec | None = None
    controls: ControlSpec = field(default_factory=ControlSpec)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The place. atmosphere: pressure of the air [Pa]. line_air: temperature around the line set over the outdoor
    temperature [K difference]. recirculation: share of the outdoor coil's exhaust that its inlet draws in when the whole
    face is covered [-]; always_recirculated: the same with nothing covered (wall, fence) [-].
    """

    atmosphere: float = STANDARD_ATMOSPHERE
    line_air: float = -3.0
    recirculation: float = 0.25
    always_recirculated: float = 0.0
    cover_reaches_bottom: float = 0.5
