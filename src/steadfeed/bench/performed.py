"""A whole run: plant, person and instruments from settings and a seed, to history, readings and the texts of a log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isnan
from typing import Final

import numpy as np

from steadfeed import units
from steadfeed.bench.conduct import Event, Person
from steadfeed.bench.instruments import Kit, Readings, take_rows
from steadfeed.bench.log_text import csv_text, iso, toml_text
from steadfeed.bench.metering import Eev
from steadfeed.bench.plant import STEP, Plant
from steadfeed.bench.run import History, history_of
from steadfeed.bench.settings import Settings
from steadfeed.bench.setup import atmosphere_of, plant_of, switch_of
from steadfeed.bench.state import State

#: A run ends after this time whatever the person does [s].
LONGEST: Final = 7200.0
#: A log is at least so long [s], even when a switch ends the test before it began.
SHORTEST: Final = 60.0
#: How often the step is halved at most.
FINER: Final = 3
#: Instruments are on the pipes this long before the log begins [s].
WARMING_UP: Final = 60.0
#: A moment at which runs are told to begin unless a scenario says otherwise: 2026-06-15 13:00 at UTC−5 [s].
USUAL_START: Final = 1781546400.0
USUAL_OFFSET: Final = -18000.0
#: Columns of the log at standstill in a protocol by hand, seconds before the start.
_STANDING_ROW: Final = 20.0


@dataclass(frozen=True, slots=True, eq=False)
class Performed:
    """One run with its truth. begins [s since the plant was made]: the log's first moment; marks: (time, event) as the
    person set them, on the log's clock.
    """

    settings: Settings
    seed: int
    history: History
    events: tuple[Event, ...]
    readings: Readings
    marks: tuple[tuple[float, str], ...]
    begins: float
    atmosphere: float
    column_order: tuple[int, ...] | None = None

    def event(self, what: str) -> float | None:
        """Time of the first event of a kind [s since the plant was made]."""
        return next((e.time for e in self.events if e.what == what), None)


def perform(settings: Settings, seed: int, step: float = STEP) -> Performed:
    """Run the settings. The same settings and seed give the same bytes.

    step: of the integration [s]; a run that leaves the range of the refrigerant's curves is taken again with finer steps.
    """
    for _ in range(FINER):
        try:
            return _perform(settings, seed, step)
        except (ArithmeticError, TypeError, ValueError) as error:
            failure = error
            step *= 0.5
    raise failure


def _perform(settings: Settings, seed: int, step: float) -> Performed:
    plant = plant_of(settings, step)
    person = Person(settings, plant)
    kit = Kit(settings.kit, settings.unit.circuits, plant.surroundings.atmosphere, person.push_at, seed)
    begins = max(0.0, person.push_at - settings.conduct.lead)
    state = plant.state()
    states: list[State] = []
    shown: list[list[float]] = []
    reads = False
    parks = settings.conduct.standing + settings.parking.after if settings.parking.after > 0.0 else LONGEST
    while not person.done and plant.time < LONGEST:
        if plant.time >= parks:
            park(plant, settings)
            parks = LONGEST
        state = plant.advance(1.0, person(plant.time, state))
        states.append(state)
        reads = reads or plant.time >= begins - WARMING_UP or any(c.tripped for c in state.circuits)
        if reads:
            shown.append(kit.read(plant.time, state))
    history = history_of(states)
    rng = np.random.default_rng(np.random.SeedSequence([seed, 11]))
    ends = float(history.time[-1])
    begins = max(min(begins, ends - SHORTEST), ends - len(shown) + 1.0)
    time = history.time[history.time >= begins]
    shown = shown[-time.shape[0] :]
    rows = moments_by_hand(settings, person.events, begins, float(time[-1]), rng)
    readings = take_rows(settings.kit, kit.columns, time, np.array(shown), person.push_at, rows, rng)
    marks = tuple(
        (e.time + float(rng.normal(0.0, settings.kit.mark_error)), e.what)
        for e in person.events
        if settings.kit.marks and e.what in ("start", "push", "restore", "standstill") and e.time >= begins
    )
    order = tuple(int(k) for k in rng.permutation(len(kit.columns))) if settings.kit.shuffled_columns else None
    return Performed(
        settings, seed, history, tuple(person.events), readings, marks, begins, plant.surroundings.atmosphere, order
    )


def park(plant: Plant, settings: Settings) -> None:
    """Let the valve park where it stands (see ParkingSettings)."""
    device = plant.circuits[settings.parking.circuit - 1].device
    opening = min(device.opening * settings.parking.factor, 1.0)
    if isinstance(device, Eev):
        device.steps = float(round(opening * device.spec.steps))
    device.faults = replace(device.faults, parked=opening)


def moments_by_hand(
    settings: Settings, events: list[Event], begins: float, ends: float, rng: np.random.Generator
) -> list[float]:
    """Moments at which a person writes a row [s]; empty when an instrument logs by itself."""
    kit, plan = settings.kit, settings.conduct
    if kit.sampling != "by hand":
        return []
    first: dict[str, float] = {}
    for e in events:
        first.setdefault(e.what, e.time)
    push = first.get("push", ends)
    restore = first.get("restore", first.get("standstill", ends))
    stop = first.get("standstill", ends)
    busy = [(push + h.at, push + h.at + h.length) for h in plan.happenings if h.what == "phone call"]
    rows: list[float] = []
    if kit.protocol or kit.rows <= 12:
        level = first.get("covered", push)
        if begins < plan.standing:
            rows.append(max(begins, plan.standing - _STANDING_ROW))
        if kit.protocol:
            rows += [push - 210.0, push - 20.0, level + 125.0, max(level + 245.0, restore - 15.0), restore + 200.0]
        else:
            left = max(kit.rows - len(rows) - 2, 3)
            before = max(2, round(left * 0.4)) if rng.random() < 0.85 else 1
            held = max(left - before, 1)
            rows += [push - 20.0 - (k * 190.0 if before == 2 else k * 300.0 / before) for k in range(before)]
            rows += [level + (restore - level) * (k + 0.7) / (held + 0.1) * 0.95 for k in range(held)]
            rows.append(min(restore + float(rng.uniform(120.0, 260.0)), stop - 5.0))
        if stop < ends:
            rows.append(min(stop + 150.0, ends - 20.0))
    else:
        spacing = (ends - begins) / kit.rows
        moment = begins + float(rng.uniform(0.0, spacing))
        while moment < ends - 15.0:
            rows.append(moment)
            moment += spacing * float(rng.uniform(0.5, 1.5))
    jitter = [float(np.round(r + rng.uniform(-6.0, 6.0))) for r in rows]
    kept = sorted({r for r in jitter if begins <= r <= ends and not any(a <= r < b for a, b in busy)})
    return kept


def log_text(done: Performed, start: float = USUAL_START, offset: float = USUAL_OFFSET) -> str:
    """CSV of a run. start: moment of the plant's time 0 [s since the Unix epoch]; offset of local time from UTC [s]."""
    return csv_text(done.readings, start, offset, done.settings.kit.milliseconds, done.column_order)


def system_text(done: Performed, start: float = USUAL_START, offset: float = USUAL_OFFSET) -> str:
    """System file of a run: what the technician knows of the unit."""
    marks: list[dict[str, object]] = [{"time": iso(start + t, offset), "event": e} for t, e in sorted(done.marks)]
    return toml_text(*system_tables(done.settings, done.atmosphere), marks)


def system_tables(settings: Settings, atmosphere: float) -> tuple[dict[str, object], dict[str, dict[str, object]]]:
    """Keys at the top and tables of the system file, without the marks."""
    from steadfeed.physics.properties import curves

    unit, kit, known, weather = settings.unit, settings.kit, settings.known, settings.weather
    hidden = set(known.hidden)

    def shown(key: str, value: object) -> object:
        return None if key in hidden else value

    top: dict[str, object] = {
        "refrigerant": known.refrigerant or unit.refrigerant,
        "metering_device": shown("metering_device", known.metering_device or unit.metering_device),
        "mode": "heating" if unit.mode == "heating" else None,
        "packaged": shown("packaged", True if unit.packaged else None),
        "nominal_capacity_tons": shown("nominal_capacity", round(unit.capacity / units.TON, 2)),
        "compressor_type": shown("compressor_type", unit.compressor),
        "compressor_control": shown("compressor_control", unit.compressor_control),
        "fan_control": shown("fan_control", unit.fan_control),
    }
    trip, _ = switch_of(unit, curves(unit.refrigerant))
    tables: dict[str, dict[str, object]] = {
        "site": {"altitude_ft": shown("altitude", round(weather.altitude / units.FOOT))},
        "nameplate": {
            "subcooling_degF": round(known.nameplate_subcooling * 1.8, 1) if known.nameplate_subcooling else None
        },
        "line_set": {}
        if unit.packaged
        else {
            "length_ft": shown("line_set", round(unit.line_length / units.FOOT, 1)),
            "lift_ft": shown("line_set", round(unit.lift / units.FOOT, 1)),
        },
        "instruments": {
            "gauges": kit.gauges,
            "pressure_reference": kit.pressure_reference if kit.says_reference else None,
            "pressure_accuracy_psi": round(kit.pressure_accuracy / units.PSI, 2) if kit.pressure_accuracy else None,
            "temperature_accuracy_degF": round(kit.temperature_accuracy * 1.8, 2) if kit.temperature_accuracy else None,
            "sampling": kit.sampling,
        },
        "limits": {"high_pressure_switch_psig": round((trip - atmosphere) / units.PSI) if known.switch_known else None},
    }
    return top, tables


def shown_share(readings: Readings) -> Mapping[str, float]:
    """Share of rows with a reading, per column header."""
    return {
        c.header: 1.0 - float(np.mean([isnan(v) for v in readings.values[:, k]]))
        for k, c in enumerate(readings.columns)
    }


def new_plant(settings: Settings) -> Plant:
    """Plant of a run that is played by hand."""
    return plant_of(settings)


__all__ = ["Performed", "atmosphere_of", "log_text", "perform", "system_text"]
