"""Windows of a challenge and what was read in them, with uncertainty (GUM, JCGM 100:2008)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import NO_LEVEL, Level, Rows, levels
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording

F = 5.0 / 9.0
PSI = 6894.757293168361
SERIES = ("te", "tc", "ts", "tl", "sh", "sc", "ps", "pl")


@dataclass(frozen=True, slots=True)
class InstrumentErrors:
    """Standard uncertainties of the instruments (k = 1).

    *_offset: constant bias, cancels in differences. *_change: part that does not cancel over a push (gain, stiction,
    clamp contact, covered coil's exhaust). Pressures [Pa], temperatures [K]. noise_sh: reading scatter of superheat [K];
    suction_step: scatter that the last digit of the suction gauge makes [Pa].
    """

    pressure_offset: float
    suction_change: float
    head_change: float
    temperature_offset: float
    temperature_change: float
    noise_sh: float
    by_hand: bool
    suction_step: float = 0.0


def instrument_errors(system: System, recording: Recording) -> InstrumentErrors:
    """Errors to expect of these instruments: stated accuracy where given (as k = √3 limits), else by kind of gauge."""
    inst = system.instruments
    by_hand = inst.sampling == "by hand" or recording.read_by == "person"
    needle = inst.gauges == "analog" or (inst.gauges == "unknown" and by_hand)
    accuracy = inst.pressure_accuracy if inst.pressure_accuracy is not None else (2.0 if needle else 1.0) * PSI
    step = [
        recording.channels[n].resolution if n in recording.channels else 0.0
        for n in ("suction_pressure", "liquid_pressure")
    ]
    warmth = inst.temperature_accuracy if inst.temperature_accuracy is not None else 1.0 * F
    return InstrumentErrors(
        pressure_offset=accuracy / np.sqrt(3.0),
        suction_change=float(np.hypot((0.8 if needle else 0.25) * PSI, 0.2 * step[0])),
        head_change=float(np.hypot((4.0 if needle else 1.5) * PSI, 0.2 * step[1])),
        temperature_offset=warmth / np.sqrt(3.0),
        temperature_change=0.30 * F,
        noise_sh=(0.55 if needle else 0.16) * F,
        suction_step=0.0 if needle else 0.4 * step[0],
        by_hand=by_hand,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """One window: its rows and the level of every series in it (SERIES -> Level)."""

    rows: slice
    levels: dict[str, Level]

    def mean(self, name: str) -> float:
        """Mean of a series in this window (SI), NaN without rows."""
        return self.levels[name].mean

    @property
    def count(self) -> int:
        """Complete rows in the window."""
        return self.levels["tc"].count

    @property
    def span(self) -> float:
        """Time between the first and the last row [s]."""
        return self.levels["tc"].span


EMPTY = Window(slice(0, 0), dict.fromkeys(SERIES, NO_LEVEL))


def window(rows: Rows, start: float, end: float) -> Window:
    """Levels of every series between two times."""
    part = rows.between(start, end)
    if part.stop <= part.start:
        return EMPTY
    return Window(part, dict(zip(SERIES, levels(rows.time[part], rows.table[:, part]), strict=True)))


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """baseline; hold (evidence, end of the push); last_minute (size of the push); recovery; end: end of the push [s]."""

    baseline: Window
    hold: Window
    last_minute: Window
    recovery: Window
    end: float
    hold_seconds: float
    hold_start: float | None
    rows_in_hold: int


def push_end(course: Course, rows: Rows) -> float:
    """End of the push: restore, else the first compressor stop after it, else standstill, else the last row [s]."""
    if course.push is None:
        return float(rows.time[-1])
    moments = [a for a, _ in course.stops if a > course.push]
    moments += [moment for moment in (course.restore, course.standstill) if moment is not None]
    return min([m for m in moments if m > course.push], default=float(rows.time[-1]))


def find_windows(rows: Rows, course: Course) -> Windows:
    """Cut the windows of a challenge whose push is known."""
    assert course.push is not None
    t = rows.time
    push, end = course.push, push_end(course, rows)
    sparse = rows.sparse
    first = float(t[course.first_row])
    if course.start is not None:
        first = max(first, course.start + (60.0 if not sparse else 0.0))
    for _, ended in course.stops:
        if ended < push:
            first = max(first, ended + 60.0)
    begin = max(push - (200.0 if not sparse else 330.0), first)
    baseline = window(rows, begin, push - (3.0 if not sparse else 0.0))
    if sparse and baseline.count < 2:
        baseline = window(rows, max(first, push - 700.0), push)
    last = window(rows, max(push + 5.0, end - 62.0), end - 2.0)
    hold = window(rows, max(push + 20.0, end - 100.0), end - 2.0)
    if sparse or last.count < 1:
        inside = rows.between(push + 1.0, end + 1.0)
        n = inside.stop - inside.start
        if n:
            count = 1 if n < 4 else (2 if n < 8 else 3)
            start = float(t[inside.stop - count])
            last = window(rows, max(start, end - 150.0) if n > 1 else start, end + 0.5)
            if last.count == 0:
                last = window(rows, start, end + 0.5)
            hold = last
    standing = course.standstill if course.standstill is not None else float(t[-1]) + 1.0
    recovery = EMPTY
    if course.restore is not None:
        latest = min(course.restore + 360.0, standing - (12.0 if not sparse else 1.0))
        if course.second_push is not None:
            latest = min(latest, course.second_push - 40.0)
        for a, _ in course.stops:
            if a > course.restore:
                latest = min(latest, a - 5.0)
        recovery = window(rows, course.restore + (130.0 if not sparse else 100.0), latest)
        if sparse and recovery.count == 0:
            recovery = window(rows, course.restore + 45.0, min(course.restore + 700.0, standing - 1.0))
    seconds, start_hold, inside_rows = _hold(rows, course, baseline, last, end)
    return Windows(baseline, hold, last, recovery, end, seconds, start_hold, inside_rows)


def _hold(rows: Rows, course: Course, baseline: Window, last: Window, end: float) -> tuple[float, float | None, int]:
    """Seconds since 80 % of the rise was first reached, that time, and the rows high up.

    The rise is that of the last minute. Between sparse rows the crossing is interpolated, and the time to the restore
    counts: a head does not fall while the cover is on; one that does is a cycling fan, which is found elsewhere. Rows
    are counted above half of the rise.
    """
    assert course.push is not None
    part = rows.between(course.push, end)
    t, tc = rows.time[part], rows.tc[part]
    if t.shape[0] == 0 or not np.isfinite(baseline.mean("tc")):
        return 0.0, None, 0
    base = baseline.mean("tc")
    top = last.mean("tc") - base
    if not top > 0.5 * F:
        return 0.0, None, 0
    line = base + 0.8 * top
    above = tc > line
    if not above.any():
        return 0.0, None, 0
    i = int(np.flatnonzero(above)[0])
    reached = float(t[i])
    before = float(t[i - 1]) if i else float(course.push)
    value = float(tc[i - 1]) if i else base
    if reached - before > 1.5 and tc[i] > value:
        reached = before + (reached - before) * float(np.clip((line - value) / (tc[i] - value), 0.0, 1.0))
    return end - reached, reached, int((tc > base + 0.5 * top).sum())


def detrended_scatter(t: FloatArray, y: FloatArray) -> float:
    """Standard deviation about a parabola in time [unit of y]; NaN with fewer than six readings."""
    n = t.shape[0]
    if n < 6:
        return float("nan")
    x = (t - t.mean()) / max(float(t[-1] - t[0]), 1.0)
    a = np.stack([np.ones_like(x), x, x * x])
    g = a @ a.T
    v = a @ y
    try:
        c = np.linalg.solve(g, v)
    except np.linalg.LinAlgError:
        return float("nan")
    rest = float(y @ y - c @ v)
    return float(np.sqrt(max(rest, 0.0) / (n - 3)))
