"""A run that a person plays: the plant goes on second by second, the person acts, instruments show what they show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import nan
from typing import Any, Final

import numpy as np

from steadfeed.bench.conduct import CEILING_MARGIN, DEW_LIMIT, Event, Person
from steadfeed.bench.instruments import Column, Kit, Readings
from steadfeed.bench.metering import Eev
from steadfeed.bench.performed import Performed
from steadfeed.bench.run import history_of
from steadfeed.bench.sensors import PRESSURES
from steadfeed.bench.settings import Happening, InstrumentFault, Settings
from steadfeed.bench.setup import base_inputs, plant_of, switch_of
from steadfeed.bench.state import Inputs, State

#: A cover of the whole face goes on or off in this time [s].
COVER_TIME: Final = 8.0
#: A change of the cover by more than this counts as a push or a restore.
NOTICEABLE: Final = 0.04
#: Longest play [s].
LONGEST: Final = 4.0 * 3600.0
#: Channels that can be measured on any unit beside the four vital ones.
MORE_CHANNELS: Final = (
    "evaporator_outlet_temperature", "discharge_line_temperature", "outdoor_air_temperature", "return_air_dry_bulb",
    "return_air_wet_bulb", "supply_air_dry_bulb", "compressor_current",
)  # fmt: skip


class Played:
    """A played run. It begins standing, with no instrument in place. Everything the person does is one of the methods.

    time [s since the plant was made]; events: what really happened.
    """

    def __init__(self, settings: Settings, seed: int) -> None:
        channels = tuple(dict.fromkeys((*settings.kit.channels, *MORE_CHANNELS)))
        if settings.unit.metering_device == "eev":
            channels = (*channels, "valve_steps")
        self.settings = replace(settings, kit=replace(settings.kit, channels=channels))
        self.seed = seed
        self.plant = plant_of(settings)
        self.planned_push = settings.conduct.standing + settings.conduct.running
        atmosphere = self.plant.surroundings.atmosphere
        self.kit = Kit(self.settings.kit, settings.unit.circuits, atmosphere, self.planned_push, seed)
        self.columns = self.kit.columns
        self.state: State = self.plant.state()
        self.placed: dict[str, float] = {}
        self.events: list[Event] = []
        self.states: list[State] = []
        self.shown: list[list[float]] = []
        self.marks: list[tuple[float, str]] = []
        self.rows_by_hand: list[float] = []
        self.log_from = 0.0
        self.base = base_inputs(settings.weather, atmosphere)
        self.cover = self.wanted_cover = 0.0
        self.call = 0.0
        self.happenings: list[Happening] = [h for h in settings.conduct.happenings if h.what != "phone call"]
        self.set_aside: set[str] = set()
        self.trips = 0
        self.highest_head = 0.0
        self.past_ceiling = 0.0
        self._reset = False
        self._pushed_at: float | None = None
        self._first_push: float | None = None
        self._mended: dict[InstrumentFault, float] = {}
        self._parked = settings.parking.after <= 0.0
        self._tripped = False
        self._started_at: float | None = None
        self._last: list[float] = [nan] * len(self.columns)

    @property
    def time(self) -> float:
        """Time since the plant was made [s]."""
        return self.plant.time

    @property
    def running(self) -> bool:
        """Whether the first circuit's compressor runs."""
        return self.state.circuits[0].running

    @property
    def tripped(self) -> bool:
        """Whether a high-pressure switch has opened and was not reset."""
        return any(c.tripped for c in self.state.circuits)

    def ceiling(self) -> float:
        """Head pressure that must not be passed [Pa]: a margin under the switch, never above 140 °F dew."""
        fluid = self.plant.circuits[0].fluid.curves
        trip, _ = switch_of(self.settings.unit, fluid)
        return fluid.dew_pressure(min(fluid.dew_temperature(trip) - CEILING_MARGIN, DEW_LIMIT))

    # -- what the person does -----------------------------------------------------------------------------------------
    def place(self, channel: str) -> None:
        """Put an instrument in its place. channel: of the log."""
        if channel not in {c.channel for c in self.columns}:
            raise ValueError(f"no instrument reads {channel}")
        self.placed.setdefault(channel, self.time)

    def cover_to(self, share: float) -> None:
        """Cover that share of the condensing coil's face (in heating: of the return air)."""
        if not 0.0 <= share <= 1.0:
            raise ValueError(f"a cover is a share from 0 to 1, got {share}")
        if share > self.wanted_cover + NOTICEABLE and self._pushed_at is None and self.running:
            self._note("push")
            self._pushed_at = self.time
            if self._first_push is None:
                self._first_push = self.time
                self._count_faults_from(self.time)
        elif share < self.wanted_cover - NOTICEABLE and share <= NOTICEABLE and self._pushed_at is not None:
            self._note("restore")
        self.wanted_cover = share

    def start(self) -> None:
        """Let the thermostat call."""
        self.call = self.settings.conduct.demand
        self._started_at = self._started_at or self.time
        self._note("start")

    def stop(self) -> None:
        """Take the call away."""
        if self.call > 0.0:
            self._note("standstill")
        self.call = 0.0

    def reset_switch(self) -> None:
        """Press the reset of the high-pressure switch."""
        self._reset = True

    def write_row(self) -> None:
        """Read all instruments once and write the row down (logs by hand)."""
        self.rows_by_hand.append(self.time)

    def new_log(self) -> None:
        """Begin the log anew: what was before does not count."""
        self.log_from = self.time
        self.events = [Event(self._started_at, "start")] if self._started_at is not None and self.running else []
        self.marks, self.rows_by_hand = [], []
        self._pushed_at = None if self.wanted_cover <= NOTICEABLE else self._pushed_at

    def drop_faults(self, channel: str, *kinds: str) -> bool:
        """Mend an instrument. Return whether there was something to mend."""
        found = False
        for column, sensor in zip(self.columns, self.kit.sensors, strict=True):
            if column.channel == channel:
                kept = tuple(f for f in sensor.faults if f.what not in kinds)
                found |= len(kept) != len(sensor.faults)
                sensor.faults = kept
        for f in self.settings.kit.faults:
            if f.channel.endswith(channel) and f.what in kinds:
                self._mended.setdefault(f, self.time)
        return found

    def forget_happenings(self, *kinds: str) -> bool:
        """Set something aside, so that it comes no more between. Return whether it would have."""
        kept = [h for h in self.happenings if h.what not in kinds]
        found = len(kept) != len(self.happenings)
        self.happenings = kept
        return found

    def fix_fans(self) -> None:
        """Let the condenser fans run steadily whatever the head does."""
        for circuit in self.plant.circuits:
            controls = replace(circuit.equipment.controls, fan_control="on-off")
            circuit.equipment = replace(circuit.equipment, controls=controls)

    # -- time ---------------------------------------------------------------------------------------------------------
    def advance(self, seconds: int) -> None:
        """Let time go by [s]."""
        for _ in range(seconds):
            if self.time >= LONGEST:
                return
            self._second()

    def follow(self, person: Person) -> None:
        """Let one second go by in which a conduct of the bench acts instead of a person."""
        for event in person.events[len(self.events) :]:
            if event.what == "start":
                self._started_at = event.time
            self.events.append(event)
        self._second(person(self.time, self.state))

    @property
    def last(self) -> list[float]:
        """What every instrument showed last, in the order of the columns."""
        return self._last

    def _second(self, inputs: Inputs | None = None) -> None:
        self._park()
        step = 1.0 / COVER_TIME
        self.cover += max(-step, min(step, self.wanted_cover - self.cover))
        self.state = self.plant.advance(1.0, inputs or self._inputs())
        self._reset = False
        self.states.append(self.state)
        self._last = self.kit.read(self.time, self.state)
        self.shown.append(self._last)
        head = max(c.liquid_pressure for c in self.state.circuits)
        self.highest_head = max(self.highest_head, head)
        if self.running and head > self.ceiling():
            self.past_ceiling += 1.0
        if self.tripped and not self._tripped:
            self.trips += 1
            self._note("trip")
        self._tripped = self.tripped

    def _park(self) -> None:
        parking = self.settings.parking
        if self._parked or self._started_at is None or self.time < self._started_at + parking.after:
            return
        device = self.plant.circuits[parking.circuit - 1].device
        opening = min(device.opening * parking.factor, 1.0)
        if isinstance(device, Eev):
            device.steps = float(round(opening * device.spec.steps))
        device.faults = replace(device.faults, parked=opening)
        self._parked = True

    def _inputs(self) -> Inputs:
        weather, base = self.settings.weather, self.base
        hours = (self.time - self.planned_push) / 3600.0
        since = max(self.time - (self._started_at or self.time), 0.0)
        pulled = weather.pull_down * float(np.exp(-since / weather.pull_down_time))
        second = self.settings.conduct.second_demand if self.call > 0.0 else 0.0
        values: dict[str, Any] = {
            "outdoor_temperature": base.outdoor_temperature + weather.outdoor_drift * hours,
            "return_temperature": weather.return_dry_bulb + pulled + weather.return_drift * hours,
            "indoor_airflow": base.indoor_airflow,
            "auxiliary_heat": 0.0 if "auxiliary heat" in self.set_aside else base.auxiliary_heat,
            "call": self.call,
            "second_call": second,
            "reset": self._reset,
            "cover": self.cover,
        }
        for h in self.happenings:
            self._happen(h, values)
        if self.settings.unit.mode == "heating":
            values["indoor_airflow"] *= 1.0 - 0.9 * values["cover"]
            values["cover"] = 0.0
        return replace(base, **values)

    def _happen(self, h: Happening, values: dict[str, Any]) -> None:
        since = self.time - (self.planned_push if h.at < 0.0 else self._pushed_at or 1e12) - h.at
        if since < 0.0 or (h.length > 0.0 and since >= h.length):
            return
        size = h.size * (1.0 if h.gently <= 0.0 else min(1.0, since / h.gently))
        if h.what == "thermostat":
            values["call"] = 0.0
        elif h.what == "stage" and values["call"] > 0.0:
            values["call"] = h.size
        elif h.what == "airflow":
            values["indoor_airflow"] *= 1.0 + size
        elif h.what == "economizer":
            values["return_temperature"] += size * (values["outdoor_temperature"] - values["return_temperature"])
        elif h.what == "return air":
            values["return_temperature"] += size
        elif h.what == "humidity":
            values["return_ratio"] = self.base.return_ratio + size
        elif h.what == "outdoor air":
            values["outdoor_temperature"] += size
        elif h.what == "fan":
            values["outdoor_fans"] = 1.0 - h.size
        elif h.what == "wind":
            values["cover"] *= 1.0 - size
            if since < 1.0:
                self.wanted_cover *= 1.0 - size
        elif h.what == "auxiliary heat":
            values["auxiliary_heat"] += size
        elif h.what == "second circuit" and values["call"] > 0.0:
            values["second_call"] = h.size

    def _note(self, what: str) -> None:
        self.events.append(Event(self.time, what))
        if what in ("start", "push", "restore", "standstill"):
            self.marks.append((self.time, what))

    def _count_faults_from(self, moment: float) -> None:
        for sensor in self.kit.sensors:
            if all(f.at > -1e5 and f.at >= 0.0 for f in sensor.faults):
                sensor.push_at = moment

    # -- what comes of it ---------------------------------------------------------------------------------------------
    def reading(self, channel: str, circuit: int = 0) -> float:
        """What the instrument of a channel shows now, in the unit of its column; NaN when it is not in place."""
        for k, column in enumerate(self.columns):
            if column.channel == channel and (column.circuit or 0) == circuit:
                return self._last[k] if channel in self.placed else nan
        return nan

    def column(self, channel: str) -> Column:
        """Column of a channel (of the first circuit)."""
        return next(c for c in self.columns if c.channel == channel)

    def log_columns(self) -> tuple[int, ...]:
        """Indices of the columns whose instruments are in place."""
        return tuple(k for k, c in enumerate(self.columns) if c.channel in self.placed)

    def performed(self) -> Performed:
        """The run so far, as the bench's other runs: history, readings, events."""
        if not self.states:
            raise ValueError("nothing was played yet")
        history = history_of(self.states)
        which = self.log_columns()
        moments = self._moments(history.time)
        index = np.searchsorted(history.time, moments).clip(0, history.time.shape[0] - 1)
        values = np.array(self.shown)[index][:, which] if which else np.zeros((len(moments), 0))
        for j, k in enumerate(which):
            values[np.asarray(moments) < self.placed[self.columns[k].channel], j] = nan
        readings = Readings(tuple(self.columns[k] for k in which), np.asarray(moments), values)
        conduct = replace(self.settings.conduct, way="cover")
        settings = replace(self.settings, conduct=conduct, kit=replace(self.settings.kit, faults=self._faults_of_log()))
        return Performed(
            settings, self.seed, history, tuple(self.events), readings, tuple(self.marks), self.log_from,
            self.plant.surroundings.atmosphere,
        )  # fmt: skip

    def _faults_of_log(self) -> tuple[InstrumentFault, ...]:
        """Instrument faults as they were, their times counted from the push of this log."""
        push = next((e.time for e in self.events if e.what == "push"), self.planned_push)
        out = []
        for f in self.settings.kit.faults:
            late = f.at >= 0.0
            if late and self._first_push is None:
                continue
            begins = (self._first_push if late and self._first_push is not None else self.planned_push) + f.at
            ends = begins + f.length if f.length > 0.0 else float("inf")
            ends = min(ends, self._mended.get(f, float("inf")))
            if ends > begins:
                length = 0.0 if ends == float("inf") else ends - begins
                out.append(replace(f, at=begins - push, length=length))
        return tuple(out)

    def _moments(self, time: np.ndarray) -> np.ndarray:
        if self.settings.kit.sampling == "by hand":
            return np.array([m for m in dict.fromkeys(self.rows_by_hand) if m >= self.log_from], np.float64)
        first = min(self.placed.values(), default=self.time)
        keep = time[(time >= self.log_from) & (time >= first)]
        return keep[:: max(1, round(self.settings.kit.interval))]

    def gauges_in_place(self) -> bool:
        """Whether both gauges are connected."""
        return sum(1 for c in self.placed if c in PRESSURES) >= 2

    def channels(self) -> Iterable[str]:
        """Channels that can be measured, each once."""
        return dict.fromkeys(c.channel for c in self.columns)
