"""One instrument on one place: what it shows of the truth.

A `Sensor` is stepped once a second with the true state, so that it works on a run that is being played and on one that
is over alike. It draws from a generator of its own: what one instrument does never changes another's noise.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, floor, isnan, nan
from typing import Final

import numpy as np

from steadfeed.bench.settings import InstrumentFault, KitSettings
from steadfeed.bench.state import State

#: Where each channel usually sits: field of a circuit's state, or of the plant's.
PLACES: Final[dict[str, str]] = {
    "suction_pressure": "suction_pressure",
    "liquid_pressure": "liquid_pressure",
    "discharge_pressure": "discharge_pressure",
    "suction_line_temperature": "suction_line_temperature",
    "liquid_line_temperature": "liquid_line_temperature",
    "evaporator_outlet_temperature": "evaporator_outlet_temperature",
    "discharge_line_temperature": "discharge_line_temperature",
    "outdoor_air_temperature": "outdoor_air_temperature",
    "return_air_dry_bulb": "return_air_dry_bulb",
    "return_air_wet_bulb": "return_air_wet_bulb",
    "supply_air_dry_bulb": "supply_air_dry_bulb",
    "supply_air_wet_bulb": "supply_air_wet_bulb",
    "compressor_current": "compressor_current",
    "fan_current": "fan_current",
    "power": "power",
    "valve_steps": "valve_steps",
}  # fmt: skip
PRESSURES: Final = ("suction_pressure", "liquid_pressure", "discharge_pressure")
CLAMPS: Final = (
    "suction_line_temperature", "liquid_line_temperature", "evaporator_outlet_temperature", "discharge_line_temperature",
)  # fmt: skip
AIR: Final = (
    "outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb", "supply_air_wet_bulb",
)  # fmt: skip
OF_THE_PLANT: Final = frozenset((*AIR, "fan_current", "power"))
#: A clamp that fell off follows the air with this lag [s].
LOOSE_LAG: Final = 25.0
#: Manifold valves that leak join the gauges in this time [s].
JOINING: Final = 20.0
#: Sun comes and goes with clouds in about this time [s].
CLOUDS: Final = 150.0
#: Slow wander of an electronic gauge or clamp: share of its noise, and its time [s].
WANDER: Final = 0.6
WANDER_TIME: Final = 60.0


def true_value(state: State, circuit: int, place: str) -> float:
    """Value of a place (field of State or CircuitState) [SI]."""
    if place in OF_THE_PLANT or place in ("coil_inlet_temperature", "coil_outlet_temperature"):
        return float(getattr(state, place))
    return float(getattr(state.circuits[circuit], place))


@dataclass(slots=True)
class Sensor:
    """An instrument for one channel. push_at: when the push begins [s], to which the times of its faults count.

    noise, offset, resolution, stiction in SI (resolution is applied later, in the unit that is shown); lag [s];
    air_share: share of the air around in what it feels. `read` returns the SI value that it shows before rounding.
    """

    channel: str
    circuit: int
    push_at: float
    rng: np.random.Generator
    noise: float = 0.0
    offset: float = 0.0
    gain: float = 0.0
    zero: float = 0.0
    lag: float = 0.0
    stiction: float = 0.0
    air_share: float = 0.0
    faults: tuple[InstrumentFault, ...] = ()
    shown: float = nan
    _inner: float = nan
    _needle: float = nan
    _wander: float = 0.0
    _cloud: float = 0.0
    _trapped: float = nan
    _held: float = nan
    _joined: float = field(default=0.0)

    def read(self, time: float, state: State, dt: float = 1.0) -> float:
        """Move on by dt [s] and return what it shows now [SI]; NaN = nothing."""
        place = PLACES[self.channel]
        noise = self.noise
        blind = frozen = loose = shut = False
        warm = sun = 0.0
        air_share, extra, gain = self.air_share, self.offset, self.gain
        for f in self.faults:
            since = time - self.push_at - f.at
            if since < 0.0 or (f.length > 0.0 and since >= f.length):
                continue
            if f.what == "frozen":
                frozen = True
            elif f.what == "offset":
                extra += f.size
            elif f.what == "gain":
                gain += f.size
            elif f.what == "off the pipe":
                loose = True
            elif f.what == "in the sun":
                sun += f.size
            elif f.what == "warm exhaust":
                warm += f.size
            elif f.what == "poor contact":
                air_share = max(air_share, f.size)
            elif f.what == "hose valve shut":
                shut = True
            elif f.what == "wrong port" and f.place:
                place = f.place
            elif f.what == "dropouts":
                blind = float(self.rng.random()) < f.size
            elif f.what == "noisy":
                noise *= f.size
        true = true_value(state, self.circuit, place)
        if self.channel in CLAMPS:
            around = state.outdoor_air_temperature
            if loose:
                true = around
            exhaust = state.coil_outlet_temperature - around
            true += air_share * (around - true) + warm * exhaust * min(state.cover * 2.0, 1.0)
            if sun:
                self._cloud += (float(self.rng.standard_normal()) - self._cloud) * min(1.0, dt / CLOUDS) * 3.0
                true += sun * (1.0 + 0.25 * max(-2.0, min(2.0, self._cloud)))
        if shut:
            if isnan(self._trapped):
                self._trapped = self._inner if not isnan(self._inner) else true
            true = self._trapped
        else:
            self._trapped = nan
        lag = max(self.lag, LOOSE_LAG) if loose else self.lag
        if isnan(self._inner):
            self._inner = true
        self._inner += (true - self._inner) * (1.0 - exp(-dt / lag) if lag > 0.0 else 1.0)
        value = self.zero + (self._inner - self.zero) * (1.0 + gain) + extra
        if self.stiction > 0.0:
            if isnan(self._needle):
                self._needle = value
            away = value - self._needle
            if abs(away) > self.stiction:
                self._needle = value - self.stiction * (0.3 if away > 0.0 else -0.3)
            value = self._needle
        if noise > 0.0:
            step = min(1.0, dt / WANDER_TIME)
            self._wander += (
                -self._wander * step + float(self.rng.standard_normal()) * noise * WANDER * (2.0 * step) ** 0.5
            )
            value += self._wander + float(self.rng.standard_normal()) * noise
        if frozen:
            if isnan(self._held):
                self._held = self.shown if not isnan(self.shown) else value
            value = self._held
        else:
            self._held = nan
        self.shown = value
        return nan if blind else value


def rounded(value: float, step: float) -> float:
    """Value on the grid of a display or of what the eye can part."""
    return value if step <= 0.0 or isnan(value) else floor(value / step + 0.5) * step


def joined(suction: float, head: float, share: float) -> tuple[float, float]:
    """What two gauges show when the manifold's valves leak by `share` [-]: both toward their mean."""
    middle = 0.5 * (suction + head)
    return suction + share * (middle - suction), head + share * (middle - head)


def sensor_for(
    channel: str, circuit: int, kit: KitSettings, push_at: float, zero: float, rng: np.random.Generator
) -> Sensor:
    """Make the sensor of a channel from the kit. zero [Pa]: where a gauge's gain error has no effect (atmosphere)."""
    faults = tuple(f for f in kit.faults if f.channel in (channel, f"c{circuit + 1}_{channel}"))
    if channel in PRESSURES:
        low = channel == "suction_pressure"
        return Sensor(
            channel, circuit, push_at, rng, noise=kit.pressure_noise,
            offset=kit.suction_offset if low else kit.head_offset, gain=kit.suction_gain if low else kit.head_gain,
            zero=zero, lag=kit.gauge_lag, stiction=kit.stiction, faults=faults,
        )  # fmt: skip
    if channel in CLAMPS:
        offset = {
            "suction_line_temperature": kit.suction_clamp_offset, "liquid_line_temperature": kit.liquid_clamp_offset,
        }.get(channel, 0.0)  # fmt: skip
        return Sensor(
            channel, circuit, push_at, rng, noise=kit.temperature_noise, offset=offset, lag=kit.clamp_lag,
            air_share=kit.clamp_air, faults=faults,
        )  # fmt: skip
    if channel in AIR:
        return Sensor(channel, circuit, push_at, rng, noise=kit.temperature_noise, lag=15.0, faults=faults)
    if channel in ("compressor_current", "fan_current"):
        return Sensor(channel, circuit, push_at, rng, noise=0.05, lag=1.0, faults=faults)
    if channel == "power":
        return Sensor(channel, circuit, push_at, rng, noise=15.0, lag=1.0, faults=faults)
    return Sensor(channel, circuit, push_at, rng, faults=faults)
