"""Metering devices: thermostatic valve, electronic valve, fixed orifice, each with what can go wrong in it.

Areas are effective flow areas (discharge coefficient included) [m2]. A device answers two questions: how wide is it
open, and at what pressure does its throat choke. The flow itself (`feed`) also knows line, drier and distributor.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Final

from steadfeed.physics.properties import Curves

#: How strongly vapor at the inlet lowers the density that the orifice sees: exponent on the homogeneous density. 1 is
#: homogeneous flow, 0 liquid alone; measured two-phase inlets lie between (own choice).
FLASH_EXPONENT: Final = 0.8
#: Pressure difference under which flow turns from square root to linear [Pa].
LAMINAR: Final = 6000.0
#: Throat pressure of a short tube or capillary over bubble pressure of its inlet liquid, at no subcooling, and its fall
#: per kelvin of subcooling (shape of Aaron and Domanski 1990 and Payne and O'Neal 2004, from memory).
THROAT_SHARE: Final = 0.62
THROAT_SLOPE: Final = 0.0073


def feed(
    area: float, resistance: float, upstream: float, downstream: float, liquid: float, vapor: float, quality: float,
) -> float:  # fmt: skip
    """Mass flow [kg/s] through a device in series with piping; negative when the low side is above.

    area [m2]; resistance of the piping in series [1/m4], loss = resistance · flow² / density; pressures [Pa];
    densities at the inlet [kg/m3]; quality: dryness there [-].
    """
    if area < 1e-12:
        return 0.0
    drop = upstream - downstream
    density = liquid
    if drop < 0.0:
        density = vapor
    elif quality > 0.0:
        density = liquid * (1.0 + quality * (liquid / vapor - 1.0)) ** -FLASH_EXPONENT
    total = 0.5 / (area * area) + resistance
    size = abs(drop)
    return sqrt(density / total) * drop / sqrt(size + LAMINAR * LAMINAR / (size + LAMINAR))


def throat_pressure(bubble_pressure: float, subcooling: float) -> float:
    """Pressure below which a short tube or capillary passes no more [Pa]; subcooling [K difference]."""
    return bubble_pressure * (THROAT_SHARE - THROAT_SLOPE * min(max(subcooling, 0.0), 25.0))


@dataclass(frozen=True, slots=True)
class TxvSpec:
    """Thermostatic expansion valve.

    area: at full stroke [m2]. preload: bulb pressure less equalizer pressure at which it begins to open [Pa]; rate:
    more of it for the full stroke [Pa]. bulb_lag: time constant of the strapped bulb [s]; contact: share of the bulb's
    heat that comes from the pipe, the rest from the air around [-]. bleed: area open at rest, share of `area`. port:
    push of the driving pressure on an unbalanced pin, share of the pressure difference from its value at `port_at`
    [Pa] that acts on the diaphragm [-]; 0 = balanced port. mop: highest bulb pressure [Pa], 0 = none. leak: share of
    `area` that passes when shut; 0 = hard shut-off. stem_lag: [s]. friction: half-width of the stem's dead band [Pa].
    """

    area: float
    preload: float
    rate: float
    bulb_lag: float = 16.0
    contact: float = 0.97
    bleed: float = 0.0
    port: float = 0.0
    port_at: float = 1.5e6
    mop: float = 0.0
    leak: float = 0.01
    stem_lag: float = 1.5
    friction: float = 2000.0


@dataclass(frozen=True, slots=True)
class EevSpec:
    """Electronic expansion valve with a PI controller on superheat that moves in whole steps.

    area: at full stroke [m2]; steps: of the full stroke; step_rate [steps/s]; target: superheat [K]; gain: steps per K
    and second (integral), proportional: steps per K; period: of the controller [s]; sensor_lag: of the pipe sensor [s];
    least: share of the stroke below which it does not go while running; closes_off: whether it shuts at standstill;
    start: share of the stroke at a start.
    """

    area: float
    steps: int = 480
    step_rate: float = 30.0
    target: float = 5.0
    gain: float = 0.10
    proportional: float = 3.0
    period: float = 5.0
    sensor_lag: float = 10.0
    least: float = 0.10
    closes_off: bool = True
    start: float = 0.6


@dataclass(frozen=True, slots=True)
class OrificeSpec:
    """Piston or capillary: a fixed effective area [m2] whose throat chokes."""

    area: float


DeviceSpec = TxvSpec | EevSpec | OrificeSpec


@dataclass(frozen=True, slots=True)
class MeteringFaults:
    """What can be wrong with a metering device. Everything at its default is a healthy device.

    parked: share of the stroke at which the stem stands for good [-]; None = free. strength: share of the stem travel
    left for the same bulb pressure (weak element) [-]. friction: more dead band, as half-width of superheat [K].
    bulb_contact: as in TxvSpec, None = as built. bulb_slow: factor on the bulb's lag. bulb_empty: share of the bulb's
    charge lost; 1 shuts the valve. equalizer_plugged: the diaphragm keeps the pressure that it had; equalizer_lag: a
    half-plugged equalizer line lets it follow with this time constant [s]. undersized: factor
    on the area. gain: factor on how far the stem moves per bulb pressure (> 1 makes it hunt). bypass: leaking check
    valve or eroded seat, more area as share of the full one. screen: more resistance in front, as a multiple of the
    device's own at its rated opening.
    """

    parked: float | None = None
    strength: float = 1.0
    friction: float = 0.0
    bulb_contact: float | None = None
    bulb_slow: float = 1.0
    bulb_empty: float = 0.0
    equalizer_plugged: bool = False
    equalizer_lag: float = 0.0
    undersized: float = 1.0
    gain: float = 1.0
    bypass: float = 0.0
    screen: float = 0.0


class Txv:
    """State of a thermostatic valve: bulb temperature [K], stroke [-], trapped equalizer pressure [Pa]."""

    def __init__(
        self,
        spec: TxvSpec,
        curves: Curves,
        faults: MeteringFaults,
        temperature: float,
        rated: float,
        evaporating: float,
    ) -> None:
        """rated: stroke at the rating point [-]; evaporating: dew temperature there [K]."""
        self.spec, self.curves, self.faults = spec, curves, faults
        self.chokes = False
        self.bulb = temperature
        self.opening = 0.0 if faults.parked is None else faults.parked
        self.rated = rated
        self.steps = 0.0
        self.lowest = curves.minimum_temperature + 0.1
        self.highest = curves.maximum_temperature - 0.1
        p = curves.dew_pressure(evaporating)
        self._slope = curves.dew_pressure(evaporating + 1.0) - p
        self.trapped = p
        self.area_now = 0.0

    def advance(
        self, dt: float, running: bool, outlet_temperature: float, equalizer: float, around: float, drive: float,
        superheat: float,
    ) -> None:  # fmt: skip
        """Move the stem. outlet_temperature of the pipe at the bulb, around: air there [K]; equalizer, drive [Pa]."""
        spec, faults = self.spec, self.faults
        contact = spec.contact if faults.bulb_contact is None else faults.bulb_contact
        feels = contact * outlet_temperature + (1.0 - contact) * around
        self.bulb += (feels - self.bulb) * min(1.0, dt / (spec.bulb_lag * faults.bulb_slow))
        if faults.parked is not None:
            self.opening = faults.parked
        else:
            bulb_pressure = self.curves.dew_pressure(min(max(self.bulb, self.lowest), self.highest))
            if spec.mop:
                bulb_pressure = min(bulb_pressure, spec.mop)
            bulb_pressure *= 1.0 - faults.bulb_empty
            if faults.equalizer_plugged:
                equalizer = self.trapped
            elif faults.equalizer_lag:
                self.trapped += (equalizer - self.trapped) * min(1.0, dt / faults.equalizer_lag)
                equalizer = self.trapped
            force = bulb_pressure - equalizer - spec.preload + spec.port * (drive - spec.port_at)
            wanted = force / spec.rate * faults.gain
            if faults.strength < 1.0:
                wanted = self.rated + faults.strength * (wanted - self.rated)
            band = (spec.friction + faults.friction * self._slope) / spec.rate * faults.gain
            if wanted > self.opening + band:
                wanted -= band
            elif wanted < self.opening - band:
                wanted += band
            else:
                wanted = self.opening
            wanted = min(max(wanted, 0.0), 1.0)
            self.opening += (wanted - self.opening) * min(1.0, dt / spec.stem_lag)
        share = max(self.opening, spec.leak) + spec.bleed
        self.area_now = spec.area * (share * faults.undersized + faults.bypass)


class Eev:
    """State of an electronic valve: position [steps], integral [steps], sensed superheat [K]."""

    def __init__(self, spec: EevSpec, faults: MeteringFaults, temperature: float, rated: float) -> None:
        self.spec, self.faults = spec, faults
        self.chokes = False
        self.bulb = temperature
        self.rated = rated
        self.steps = 0.0 if faults.parked is None else round(faults.parked * spec.steps)
        self.opening = self.steps / spec.steps
        self._wanted = self.steps
        self._clock = 0.0
        self._last = 0.0
        self.sensed = 0.0
        self.started = False
        self.area_now = 0.0

    def advance(
        self, dt: float, running: bool, outlet_temperature: float, equalizer: float, around: float, drive: float,
        superheat: float,
    ) -> None:  # fmt: skip
        """Step the motor. superheat: true superheat at the outlet [K]; the controller sees it through its sensor."""
        spec, faults = self.spec, self.faults
        self.sensed += (superheat - self.sensed) * min(1.0, dt / spec.sensor_lag)
        if faults.parked is None:
            if not running:
                self.started = False
                if spec.closes_off:
                    self._wanted = 0.0
            else:
                if not self.started:
                    self.started = True
                    self._wanted = spec.start * spec.steps * 0.999
                    self._clock, self._last = -30.0, 0.0
                    self.sensed = superheat
                self._clock += dt
                if self._clock >= spec.period:
                    self._clock -= spec.period
                    error = self.sensed - spec.target * 1.0
                    error = max(-6.0, min(6.0, error))
                    move = spec.gain * error * spec.period + spec.proportional * (error - self._last)
                    self._last = error
                    self._wanted += move * faults.gain
                self._wanted = min(max(self._wanted, spec.least * spec.steps), float(spec.steps))
            travel = spec.step_rate * dt
            self.steps += max(-travel, min(travel, round(self._wanted) - self.steps))
        self.opening = self.steps / spec.steps
        self.area_now = spec.area * (self.opening * faults.undersized + faults.bypass)


class Orifice:
    """A piston or capillary. opening is 1: it has none to change."""

    def __init__(self, spec: OrificeSpec, faults: MeteringFaults, temperature: float) -> None:
        self.spec, self.faults = spec, faults
        self.chokes = True
        self.bulb = temperature
        self.opening = self.rated = 1.0
        self.steps = 0.0
        self.area_now = spec.area * (faults.undersized + faults.bypass)

    def advance(
        self, dt: float, running: bool, outlet_temperature: float, equalizer: float, around: float, drive: float,
        superheat: float,
    ) -> None:  # fmt: skip
        """Nothing moves."""
        self.bulb = outlet_temperature


Device = Txv | Eev | Orifice
