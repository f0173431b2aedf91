"""How early the guard warns of the ceiling, how often for nothing, how good its forecast is: on bench climbs and logs.

A climb counts as one that can be warned of when the last movement of the cover came LEAST_NOTICE seconds or more before the
head passed the ceiling: whoever covers a coil that is seconds from the ceiling cannot be warned ten seconds ahead. (The
guide proposes no such step.) A warning is for nothing when the head, which nobody held back, did not come within
NEAR of the ceiling in the next minute. Every figure is of simulated units; there are no field data.

`python benchmarks/guard.py FOLDER` counts the warnings for nothing on labelled logs (as for accuracy.py): automatic logs
whose push is marked, conducted by people who followed no guide.
"""

from __future__ import annotations

import csv
import datetime as dt
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from steadfeed.analysis import forecast, guard
from steadfeed.bench.performed import perform
from steadfeed.bench.population import random_settings
from steadfeed.bench.settings import F
from steadfeed.circuit.equipment import System
from steadfeed.physics.properties import Curves, curves
from steadfeed.units import STANDARD_ATMOSPHERE, to_si
from timing import Figure, best

CLIMBS = 260
SEED = 4021
LEAST_NOTICE = 14.0
NEAR = 2.0 * F


@dataclass(frozen=True)
class Climb:
    """One run without anybody who watches. Times [s], condensing temperatures [K]: as shown, and as they were."""

    curves: Curves
    time: np.ndarray
    shown: np.ndarray
    true_time: np.ndarray
    true: np.ndarray
    cover: np.ndarray
    tripped: np.ndarray
    push: float
    end: float


def climbs(count: int = CLIMBS) -> list[Climb]:
    """Careless pushes of random units, read by electronic gauges: some stay far below the ceiling, most pass it."""
    found: list[Climb] = []
    index = 0
    while len(found) < count:
        index += 1
        settings, _, _ = random_settings(SEED, index)
        if settings.unit.mode != "cooling" or settings.unit.circuits == 2:
            continue
        rng = np.random.default_rng(index)
        conduct = replace(
            settings.conduct, careless=True, way="cover", steps=int(rng.integers(1, 4)), ramp=float(rng.choice([0.0, 5.0])),
            step_every=float(rng.uniform(15.0, 45.0)), rise=float(rng.uniform(12.0, 90.0)) * F, trims=False, guess=1.0,
            hold=150.0, recovery=60.0, standstill=0.0, running=500.0, lead=120.0, happenings=(), starting_cover=0.0,
        )  # fmt: skip
        kit = replace(
            settings.kit, gauges="digital", sampling="automatic", protocol=False, faults=(), gaps=(), wrong_unit="",
            interval=float(rng.choice([1.0, 1.0, 2.0])), duplicates=0.0, disorder=0.0, clock_drift=0.0, stiction=0.0,
            pressure_noise=min(settings.kit.pressure_noise, 2800.0), suction_offset=0.0, head_offset=0.0, head_gain=0.0,
        )  # fmt: skip
        try:
            done = perform(replace(settings, conduct=conduct, kit=kit), index)
        except (ArithmeticError, ValueError, TypeError):
            continue  # it left the range of the refrigerant's curves
        if done.event("push") is not None:
            found.append(_climb(done, curves(settings.unit.refrigerant)))
    return found


def _climb(done: object, known: Curves) -> Climb:
    readings, history = done.readings, done.history  # type: ignore[attr-defined]
    k = next(k for k, c in enumerate(readings.columns) if c.channel in ("liquid_pressure", "discharge_pressure"))
    column = readings.columns[k]
    kit = done.settings.kit  # type: ignore[attr-defined]
    zero = STANDARD_ATMOSPHERE if kit.pressure_reference == "sealed" else done.atmosphere  # type: ignore[attr-defined]
    pressure = np.array([to_si(v, column.unit, "pressure", zero) for v in readings.values[:, k]])
    port = "liquid_pressure" if column.channel == "liquid_pressure" else "discharge_pressure"
    return Climb(
        known,
        readings.time,
        known.bubble_temperature(pressure, outside="nan"),
        history.time,
        known.bubble_temperature(history[port], outside="nan"),
        history["cover"],
        history["tripped"],
        float(done.event("push")),  # type: ignore[attr-defined]
        float(done.event("restore") or history.time[-1]),  # type: ignore[attr-defined]
    )


def warned(time: np.ndarray, shown: np.ndarray, top: guard.Top, push: float, end: float) -> float | None:
    """When the guard warns first in the push, None when it never does."""
    g = guard.Guard()
    for moment, value in zip(time.tolist(), shown.tolist(), strict=True):
        if value != value:
            continue
        g = guard.take_head(g, moment, value)
        g = guard.look(g, top, guard.Sight(moment, pushing=push <= moment < end, running=True))
        if g.alarm is not None:
            return moment
        if moment >= end:
            return None
    return None


def leads(found: list[Climb]) -> tuple[list[float], list[float], int, int]:
    """Return (notice of climbs up to 1.2 °F/s, of faster ones, runs that never came near, warnings for nothing in them)."""
    slow: list[float] = []
    fast: list[float] = []
    quiet = nothing = 0
    for one in found:
        top = guard.top_of(System(refrigerant=one.curves.name), one.curves)
        pushed = (one.true_time >= one.push) & (one.true_time <= one.end)
        at = warned(one.time, one.shown, top, one.push, one.end)
        over = np.flatnonzero(pushed & (one.true >= top.head))
        if not len(over):
            quiet += 1
            later = pushed & (one.true_time >= (at or np.inf)) & (one.true_time <= (at or 0.0) + 60.0)
            nothing += at is not None and not bool((one.true[later] > top.head - NEAR).any())
            continue
        passed = float(one.true_time[over[0]])
        moved = np.flatnonzero((np.diff(one.cover, prepend=0.0) > 0.005) & (one.true_time <= passed))
        if passed - float(one.true_time[moved[-1]] if len(moved) else one.push) < LEAST_NOTICE:
            continue
        before = (one.true_time > passed - 25.0) & (one.true_time <= passed)
        rate = float(np.max(np.gradient(one.true[before]))) / F
        (slow if rate <= 1.2 else fast).append(passed - at if at is not None and at <= passed else 0.0)
    return slow, fast, quiet, nothing


def ramps(rate: float, noise: float = 0.05 * F, count: int = 40) -> list[float]:
    """Notice of heads that climb past the ceiling at one rate [K/s] from a standing start 25 s or more below it."""
    top = guard.Top(head=327.6, discharge=400.0)
    found = []
    for seed in range(count):
        rng = np.random.default_rng(seed)
        begins = 60.0 + rng.uniform(0.0, 1.0)
        start = top.head - rate * rng.uniform(25.0, 40.0)
        time = np.arange(0.0, 200.0)
        true = start + rate * np.clip(time - begins, 0.0, None)
        passed = begins + (top.head - start) / rate
        at = warned(time, true + rng.normal(0.0, noise, time.shape[0]), top, 0.0, 200.0)
        found.append(passed - at if at is not None else 0.0)
    return found


def coverage(found: list[Climb], after: float) -> tuple[float, float]:
    """Return (share of forecasts whose interval held what came, half its width [K]) while the cover did not move."""
    held = total = 0
    width = 0.0
    for one in found[:120]:
        bias = float(
            np.nanmedian(
                one.shown[one.time < one.push] - np.interp(one.time[one.time < one.push], one.true_time, one.true)
            )
        )
        tracker = None
        for moment, value in zip(one.time.tolist(), one.shown.tolist(), strict=True):
            if value != value:
                continue
            tracker = forecast.begin(moment, value) if tracker is None else forecast.follow(tracker, moment, value)
            there = int(np.searchsorted(one.true_time, moment + after))
            if moment < one.push - 30.0 or there >= len(one.true_time) or one.tripped[there]:
                continue
            if abs(one.cover[there] - np.interp(moment, one.true_time, one.cover)) > 0.01:
                continue
            said = forecast.ahead(tracker, after)
            held += said.low <= one.true[there] + bias <= said.high
            width += 0.5 * (said.high - said.low)
            total += 1
    return held / total, width / total


def figures() -> list[Figure]:
    found = climbs()
    slow, fast, quiet, nothing = leads(found)
    late = 100.0 * sum(lead < 10.0 for lead in slow) / len(slow)
    late_fast = 100.0 * sum(lead < 10.0 for lead in fast) / max(len(fast), 1)
    out = [
        Figure(f"{len(slow)} bench climbs to 1.2 °F/s: warned less than 10 s ahead", late, "%", 1.0),
        Figure("… notice, median", float(np.median(slow)), "s"),
        Figure(f"{len(fast)} faster bench climbs: warned less than 10 s ahead", late_fast, "%"),
        Figure(f"{quiet} bench pushes that stayed below: warned for nothing", 100.0 * nothing / max(quiet, 1), "%"),
    ]
    for rate in (0.6, 1.2, 2.0, 3.0):
        found_ramps = ramps(rate * F)
        late = 100.0 * sum(lead < 10.0 for lead in found_ramps) / len(found_ramps)
        out.append(Figure(f"ramps of {rate:g} °F/s from standing: warned less than 10 s ahead", late, "%"))
    for after in (5.0, 10.0, 20.0):
        share, half = coverage(found, after)
        out.append(Figure(f"forecast {after:.0f} s ahead: outside its 95 % interval", 100.0 * (1.0 - share), "%", 6.0))
        out.append(Figure("… half the interval's width, mean", half / F, "°F"))
    tracker = forecast.begin(0.0, 310.0)
    log_of_it = np.random.default_rng(1).uniform(1e5, 3e6, 1_000_000)
    one_log = best(lambda: np.log(log_of_it))

    def thousand() -> None:
        t = tracker
        for k in range(1, 1000):
            t = forecast.follow(t, 0.1 * k, 310.0 + 0.01 * k)

    out.append(
        Figure("a reading through the tracker, over np.log of a million numbers", best(thousand) / 1000 / one_log, "×")
    )
    return out


def on_logs(folder: Path) -> None:
    """Print how often the guard warns for nothing on labelled logs."""
    from steadfeed.capture.logs import read_log
    from steadfeed.capture.system_file import read_system

    def moment(text: str) -> float | None:
        return dt.datetime.fromisoformat(text).timestamp() if text else None

    count = warnings = 0
    nothing: list[str] = []
    with (folder / "labels.csv").open(encoding="utf-8") as file:
        labels = list(csv.DictReader(file))
    for row in labels:
        push = moment(row["push"])
        system = read_system(folder / f"{row['log']}.toml")
        if push is None or row["wrong_unit"] == "True" or system.instruments.sampling == "by hand":
            continue
        if system.instruments.gauges == "analog":
            continue
        known = curves(system.refrigerant or "")
        recording = read_log(folder / f"{row['log']}.csv", system)[0]
        pressure = recording.get("liquid_pressure")
        pressure = recording.get("discharge_pressure") if pressure is None else pressure
        if pressure is None:
            continue
        shown = known.bubble_temperature(pressure, outside="nan")
        end = moment(row["restore"]) or moment(row["standstill"]) or float(recording.time[-1])
        top = guard.top_of(system, known)
        count += 1
        at = warned(recording.time, shown, top, push - 15.0, end)
        if at is None:
            continue
        warnings += 1
        later = (recording.time >= at) & (recording.time <= at + 60.0)
        if not bool((shown[later] > top.head - NEAR).any()):
            nothing.append(f"{row['log']} ({row['reasons'] or 'valid'})")
    print(
        f"{count} logs, {warnings} warnings, {len(nothing)} for nothing ({100.0 * len(nothing) / max(count, 1):.1f} per 100 logs)"
    )
    for name in nothing:
        print(f"  {name}")


if __name__ == "__main__":
    on_logs(Path(sys.argv[1]))
