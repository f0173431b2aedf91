"""The person at the unit: covers the coil by what the head does, holds, restores, stops; and what comes between.

`Person` is a conduct as `simulate` wants one: time and true state -> inputs. It keeps what it really did and when
(`events`), which is the truth of the log's phases.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, inf
from typing import Any, Final

from steadfeed.bench.air import AIR_SPECIFIC_HEAT
from steadfeed.bench.coil import AIR_FILM_EXPONENT
from steadfeed.bench.equipment import Equipment, Surroundings
from steadfeed.bench.plant import COVER_GAPS, MOST_RECIRCULATED, Plant, fan_flow
from steadfeed.bench.settings import ConductSettings, F, Happening, Settings
from steadfeed.bench.setup import base_inputs, switch_of
from steadfeed.bench.state import Inputs, State

#: Margin under the switch at which a careful person takes the cover off, as condensing temperature [K] (common practice).
CEILING_MARGIN: Final = 9.0 * F
#: The switch's own limit: a careful person never goes beyond this dew temperature [K] (common practice, 140 °F).
DEW_LIMIT: Final = (140.0 + 459.67) / 1.8
#: Room that a careful person leaves to that ceiling when sizing the push [K].
CEILING_SPARE: Final = 2.5 * F
#: How often a person looks at the head and corrects the cover [s].
LOOKS_EVERY: Final = 30.0
#: How much of the face a careful person opens in a second when the head comes near the ceiling.
EASING: Final = 0.015
#: Most of a face that a person covers.
MOST_COVER: Final = 0.97
#: A wind that takes the cover is noticed after this [s].
NOTICED: Final = 25.0


@dataclass(frozen=True, slots=True)
class Event:
    """What really happened. time [s since the plant was made]; what: "start", "push", "covered", "restore", "standstill",
    "trip", "put back", or a happening's kind.
    """

    time: float
    what: str


def airside(unit: Equipment, cover: float, surroundings: Surroundings) -> float:
    """Condensing temperature over outdoor air under a cover, over the same uncovered [-] (steady, same heat)."""

    def resistance(c: float) -> float:
        opened = 1.0 - (1.0 - COVER_GAPS) * c
        flow = fan_flow(unit.outdoor_fan, opened)
        ntu = unit.outdoor_coil.air / (unit.outdoor_coil.air_flow * AIR_SPECIFIC_HEAT)
        conductance = opened * (flow / opened) ** AIR_FILM_EXPONENT * ntu
        moved = flow * (1.0 - exp(-conductance / flow))
        warm = min(MOST_RECIRCULATED, surroundings.always_recirculated + surroundings.recirculation * c)
        rated = (1.0 - exp(-ntu)) / 1.0
        return rated / moved + warm / (1.0 - warm) * rated / flow

    return resistance(cover) / resistance(0.0)


def cover_for(unit: Equipment, surroundings: Surroundings, over: float, rise: float, start: float = 0.0) -> float:
    """Cover that should raise the condensing temperature by `rise` [K] from `over` outdoor air [K] at cover `start`."""
    wanted = airside(unit, start, surroundings) * (over + rise) / max(over, 1.0)
    low, high = start, MOST_COVER
    for _ in range(30):
        middle = 0.5 * (low + high)
        if airside(unit, middle, surroundings) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


class Person:
    """One person's conduct of one challenge. Call it once a second; `done` says when nothing more is to come."""

    def __init__(self, settings: Settings, plant: Plant) -> None:
        self.plan: ConductSettings = settings.conduct
        self.settings = settings
        self.plant = plant
        self.unit = plant.circuits[0].equipment
        self.heating = settings.unit.mode == "heating"
        self.base = base_inputs(settings.weather, plant.surroundings.atmosphere)
        self.events: list[Event] = []
        self.cover = self.plan.starting_cover
        self.phase = "standing"
        self.done = False
        self.ceiling = self._own_ceiling()
        self._target = self._before = 0.0
        self._level = 0.0
        self._step = 0
        self._moved_at = self._looked_at = 0.0
        self._phase_began = 0.0
        self._covered_at = inf
        self._from = self._to = self.cover
        self._lost_until = -inf
        self._tripped = False
        self._seen: set[int] = set()

    def _own_ceiling(self) -> float:
        if self.plan.careless:
            return inf
        if self.plan.ceiling:
            return self.plan.ceiling
        fluid = self.plant.circuits[0].fluid.curves
        trip, _ = switch_of(self.settings.unit, fluid)
        top = min(fluid.dew_temperature(trip) - CEILING_MARGIN, DEW_LIMIT)
        return fluid.dew_pressure(top)

    def _room(self, condensing: float) -> float:
        """How far a careful person lets the condensing temperature rise [K]."""
        if self.ceiling == inf:
            return inf
        return self.plant.circuits[0].fluid.curves.bubble_temperature(self.ceiling) - CEILING_SPARE - condensing

    @property
    def push_at(self) -> float:
        """When the push begins [s since the plant was made]."""
        return self.plan.standing + self.plan.running

    def _enter(self, phase: str, time: float, event: str | None = None) -> None:
        self.phase, self._phase_began = phase, time
        if event:
            self.events.append(Event(time, event))

    def __call__(self, time: float, state: State) -> Inputs:
        """Return what the unit gets for the next second."""
        plan, circuit = self.plan, state.circuits[0]
        condensing = circuit.condensing_temperature
        if any(c.tripped for c in state.circuits) and not self._tripped:
            self._tripped = True
            self.events.append(Event(time, "trip"))
            if self.phase in ("push", "hold"):
                self._restore(time)
            elif self.phase == "running" and not plan.reset_after_trip:
                self._stop(time)
        if self.phase == "standing" and time >= plan.standing:
            self._enter("running", time, "start")
        elif self.phase == "running" and not plan.pushes:
            if time >= self.push_at + plan.hold:
                self._stop(time)
        elif self.phase == "running" and time >= self.push_at:
            self._enter("push", time, "push")
            self._before = condensing
            self._target = min(plan.rise, max(self._room(condensing), 3.0)) * plan.guess
            self._step, self._moved_at = 0, -inf
        if self.phase == "push":
            self._push(time, condensing)
        elif self.phase == "hold":
            self._hold(time, condensing)
        if self.phase in ("push", "hold"):
            high = max(c.liquid_pressure for c in state.circuits)
            if high > self.ceiling:
                self._restore(time)
        if self.phase == "recovery":
            gone = 1.0 if plan.restoring <= 0.0 else min(1.0, (time - self._phase_began) / plan.restoring)
            self.cover = self._from + (plan.starting_cover - self._from) * gone
            if time >= self._phase_began + plan.recovery:
                self._stop(time)
        elif self.phase == "standstill" and time >= self._phase_began + plan.standstill:
            self.done = True
        return self._inputs(time, state)

    def _push(self, time: float, condensing: float) -> None:
        plan = self.plan
        if time >= self._moved_at + max(plan.step_every if self._step else 0.0, plan.ramp):
            if self._step >= plan.steps:
                self._enter("hold", time, "covered")
                self._covered_at = self._looked_at = time
                return
            self._step += 1
            share = self._step / plan.steps
            over = max(self._before - self.base.outdoor_temperature, 3.0)
            self._from, self._moved_at = self.cover, time
            self._to = self._cover_to(over, self._target * share)
        self._slide(time)

    def _cover_to(self, over: float, rise: float) -> float:
        if self.heating:  # less indoor air: the same share of the temperature difference to the room
            over = max(self._before - self.base.return_temperature, 5.0)
            return min(1.0 - over / (over + rise), 0.85)
        if self.plan.way in ("panel", "fan stopped"):
            ratio = (over + rise) / over
            return min(1.0 - float(ratio ** (-1.0 / 0.8)), 0.9)
        return cover_for(self.unit, self.plant.surroundings, over, rise, self.plan.starting_cover)

    def _slide(self, time: float) -> None:
        ramp = self.plan.ramp
        gone = 1.0 if ramp <= 0.0 else min(1.0, (time - self._moved_at) / ramp)
        self.cover = self._from + (self._to - self._from) * gone

    def _hold(self, time: float, condensing: float) -> None:
        plan = self.plan
        if self._busy(time):
            return
        if plan.trims and self._room(condensing) < 0.0 and self.cover > plan.starting_cover:
            self.cover = max(self.cover - EASING * (1.0 - plan.starting_cover), plan.starting_cover)
        elif plan.trims and time >= self._looked_at + LOOKS_EVERY:
            self._looked_at = time
            missing = min(plan.rise, self._room(self._before)) - (condensing - self._before)
            if abs(missing) > 2.5 * F and plan.way == "cover":
                slope = 0.6 * missing / max(plan.rise, 3.0)
                self.cover = min(max(self.cover + slope * max(1.0 - self.cover, 0.05), plan.starting_cover), MOST_COVER)
        if time >= self._covered_at + plan.hold:
            self._restore(time)

    def _busy(self, time: float) -> bool:
        """Whether the person is away from the unit (phone)."""
        since = time - self.push_at
        return any(
            h.what == "phone call" and h.at <= since < h.at + h.length for h in self.plan.happenings if h.length > 0.0
        )

    def _restore(self, time: float) -> None:
        self._from = self.cover
        if self.plan.puts_back or self._tripped:
            self._enter("recovery", time, "restore")
        else:
            self._stop(time)

    def _stop(self, time: float) -> None:
        if self.plan.standstill > 0.0:
            self._enter("standstill", time, "standstill")
        else:
            self.done = True

    def _inputs(self, time: float, state: State) -> Inputs:
        plan, base, weather = self.plan, self.base, self.settings.weather
        running = self.phase in ("running", "push", "hold", "recovery")
        hours = (time - self.push_at) / 3600.0
        pulled = weather.pull_down * exp(-max(time - plan.standing, 0.0) / weather.pull_down_time)
        values: dict[str, Any] = {
            "outdoor_temperature": base.outdoor_temperature + weather.outdoor_drift * hours,
            "return_temperature": weather.return_dry_bulb + pulled + weather.return_drift * hours,
            "return_ratio": base.return_ratio,
            "indoor_airflow": base.indoor_airflow,
            "auxiliary_heat": base.auxiliary_heat,
            "call": plan.demand if running else 0.0,
            "second_call": plan.second_demand if running else 0.0,
            "outdoor_fans": 1.0,
        }
        cover = self.cover
        for happening in plan.happenings:
            cover = self._happen(happening, time, values, cover)
        panel = 0.0
        if self.heating:
            values["indoor_airflow"] *= 1.0 - cover
            cover = 0.0
        elif plan.way == "panel":
            panel, cover = cover, 0.0
        elif plan.way == "fan stopped":
            values["outdoor_fans"] *= self._fans(cover)
            cover = 0.0
        return replace(base, cover=cover, panel=panel, reset=plan.reset_after_trip and self._tripped, **values)

    def _fans(self, cover: float) -> float:
        """Share of the fans left when the person stops as many as the cover asked for."""
        count = self.unit.outdoor_fan.count
        stopped = min(max(round(cover * count), 1 if cover > 0.05 else 0), count - 1 if count > 1 else 1)
        return 1.0 - stopped / count

    def _happen(self, h: Happening, time: float, values: dict[str, Any], cover: float) -> float:
        since = time - self.push_at - h.at
        if since < 0.0 or (h.length > 0.0 and since >= h.length):
            return cover
        if id(h) not in self._seen and self.phase in ("running", "push", "hold", "recovery"):
            self._seen.add(id(h))
            self.events.append(Event(time, h.what))
        come = 1.0 if h.gently <= 0.0 else min(1.0, since / h.gently)
        size = h.size * come
        if h.what == "thermostat":
            values["call"] = 0.0
        elif h.what == "stage" and values["call"] > 0.0:
            values["call"] = h.size
        elif h.what == "airflow":
            values["indoor_airflow"] *= 1.0 + size
        elif h.what == "economizer":  # that share of the return air is replaced by outdoor air
            values["return_temperature"] += size * (values["outdoor_temperature"] - values["return_temperature"])
        elif h.what == "return air":
            values["return_temperature"] += size
        elif h.what == "humidity":
            values["return_ratio"] += size
        elif h.what == "outdoor air":
            values["outdoor_temperature"] += size
        elif h.what == "fan":
            values["outdoor_fans"] = 1.0 - h.size
        elif h.what == "second circuit" and values["call"] > 0.0:
            values["second_call"] = h.size
        elif h.what == "auxiliary heat":
            values["auxiliary_heat"] += size
        elif h.what == "wind" and self.phase in ("push", "hold"):
            return cover * (1.0 - size)
        return cover
