"""Phases of a challenge, found from the readings alone and helped by marks.

The level before the push is fitted first; then the first sustained crossing of half the rise is taken (second pushes
exist) and walked back to the departure from the level. A stopping compressor lets the evaporating temperature rise
while the condensing temperature falls; at a restore both fall, at a push both rise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadfeed.analysis.series import Rows, median, noise_of, sustained
from steadfeed.circuit.channel import BoolArray, FloatArray

F = 5.0 / 9.0  # kelvin per degree Fahrenheit of difference


@dataclass(frozen=True, slots=True)
class Course:
    """What happened when, in seconds of the recording's time; None where the rows do not show it.

    start: compressor start after standing readings, when the log shows it. push, restore, standstill as in
    circuit.phase.Phases. stops: (from, to) of compressor stops inside the run. dips: number of times the head fell by
    a good part of the rise and came back inside the push. rise [K]: highest level of the push over the level before.
    base [K]: condensing temperature before the push. by_liquid_line: the head gauge did not show the push, the
    liquid line did. second_push: start of a later push.
    """

    start: float | None = None
    push: float | None = None
    restore: float | None = None
    standstill: float | None = None
    stops: tuple[tuple[float, float], ...] = ()
    dips: int = 0
    rise: float = 0.0
    base: float = np.nan
    by_liquid_line: bool = False
    second_push: float | None = None
    first_row: int = 0
    end_row: int = 0


def off_rows(rows: Rows, suction_alive: bool = True) -> BoolArray:
    """Rows at which the compressor stands, from the current where it is measured, else from the two temperatures.

    suction_alive: False when the suction gauge repeats itself; then a head that ends far below its early level says it.
    """
    lift = rows.tc - rows.te
    n = len(rows)
    if n == 0:
        return np.zeros(0, dtype=np.bool_)
    top = np.percentile(lift, 90)
    running = lift > 0.5 * top
    reference = median(lift[running]) if running.any() else float(top)
    te_reference = median(rows.te[running]) if running.any() else median(rows.te)
    ended = _last_stop(rows)
    off = (
        (np.arange(n) >= ended)
        | (lift < 0.42 * reference)
        | ((rows.te > te_reference + 18.0 * F) & (lift < 0.75 * reference))
    )
    if not suction_alive:
        early = median(rows.tc[: max(n // 3, 1)])
        low = rows.tc < early - 6.0 * F
        high = np.flatnonzero(~low)
        off = np.zeros(n, dtype=np.bool_)
        off[(int(high[-1]) + 1 if high.size else 0) :] = True
    if rows.current is not None:
        good = np.isfinite(rows.current)
        if good.mean() > 0.7:
            strong = np.percentile(rows.current[good], 75)
            if strong > 0.5:
                off = np.where(good, rows.current < 0.2 * strong, off)
    return np.asarray(off, dtype=np.bool_)


def _last_stop(rows: Rows) -> int:
    """Row of a stop that lasts to the end of the log: evaporating rises at once, condensing falls, neither comes back.

    A valve with hard shut-off keeps the sides far apart for minutes, so their distance alone does not show it.
    Returns the number of rows when there is none.
    """
    n = len(rows)
    if n < 6:
        return n
    t, te, tc = rows.time, rows.te, rows.tc
    later = np.minimum(np.searchsorted(t, t + 60.0), n - 1)
    stays = np.minimum.accumulate(te[::-1])[::-1]
    falls = np.maximum.accumulate(tc[::-1])[::-1]
    jump = (te[later] - te > 5.0 * F) & (tc[later] - tc < -1.0 * F)
    kept = (stays[later] > te + 3.5 * F) & (falls[later] < tc + 0.5 * F) & (t[-1] - t > 45.0)
    found = np.flatnonzero(jump & kept)
    if not found.size:
        return n
    first = int(found[0])
    above = np.flatnonzero(te[first:] > te[first] + 1.5 * F)
    return first + int(above[0]) if above.size else first + 1


def _runs(mask: BoolArray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _start_between(rows: Rows, first: int, marks: dict[str, float]) -> float:
    """Start of the compressor between the last standing row and the first running one: the mark, else the middle."""
    before, after = float(rows.time[first - 1]), float(rows.time[first])
    mark = marks.get("start")
    if mark is not None and before <= mark <= after:
        return mark
    return 0.5 * (before + after)


def _stop_between(rows: Rows, off: int, marks: dict[str, float]) -> float:
    """Stop of the compressor between the last running row and the first standing one: the mark, else the middle."""
    if off == 0:
        return float(rows.time[0])
    before, after = float(rows.time[off - 1]), float(rows.time[off])
    mark = marks.get("standstill")
    return mark if mark is not None and before <= mark <= after else 0.5 * (before + after)


def _walk_back(rows: Rows, row: int) -> int:
    """Row at which the evaporating temperature began the rise that ends at `row` with the compressor off."""
    t, te, tc = rows.time, rows.te, rows.tc
    if row < 3:
        return row
    window = slice(int(np.searchsorted(t, t[row] - 320.0)), max(int(np.searchsorted(t, t[row] - 110.0)), 1))
    if window.stop - window.start < 2:
        return row
    level, fall = median(te[window]), median(tc[window])
    wide = max(1.5 * F, 2.5 * median(np.abs(te[window] - level)) * 1.4826)
    earliest = int(np.searchsorted(t, t[row] - 300.0))
    low = np.flatnonzero((te[earliest:row] < level + wide) | (tc[earliest:row] > fall + 1.5 * F))
    return earliest + int(low[-1]) + 1 if low.size else row


def _hinge(t: FloatArray, y: FloatArray, grid: FloatArray, with_slope: bool) -> float:
    """Time of the kink of y(t): a level before, a line and a bend after; least squares over a grid of kinks.

    with_slope: the level before may slope and the bend after may be of either sign (airflow restored). Otherwise
    neither line nor bend may fall: a kink that needs a falling part first is a wander of the baseline.
    """
    x = np.maximum(t[None, :] - grid[:, None], 0.0) * 1e-2
    one = np.ones_like(x)
    if with_slope:
        a = np.stack([one, x, x * x, np.broadcast_to((t - t[-1]) * 1e-2, x.shape)], axis=2)
        m = np.einsum("gik,gil->gkl", a, a)
        m[:, range(4), range(4)] += 1e-7
        v = np.einsum("gik,i->gk", a, y)
        c = np.linalg.solve(m, v[..., None])[..., 0]
        error = float(y @ y) - np.einsum("gk,gk->g", c, v)
        return float(grid[int(np.argmin(error))])
    mean = float(y.mean())
    yc = y - mean
    x1 = x - x.mean(axis=1, keepdims=True)
    square = x * x
    x2 = square - square.mean(axis=1, keepdims=True)
    s11, s12, s22 = (x1 * x1).sum(1) + 1e-9, (x1 * x2).sum(1), (x2 * x2).sum(1) + 1e-9
    v1, v2 = x1 @ yc, x2 @ yc
    total = float(yc @ yc)
    det = np.maximum(s11 * s22 - s12 * s12, 1e-12)
    c1, c2 = (s22 * v1 - s12 * v2) / det, (s11 * v2 - s12 * v1) / det
    both = total - (c1 * v1 + c2 * v2)
    line = total - np.maximum(v1, 0.0) * v1 / s11
    bend = total - np.maximum(v2, 0.0) * v2 / s22
    error = np.where((c1 >= 0.0) & (c2 >= 0.0), both, np.minimum(line, bend))
    return float(grid[int(np.argmin(error))])


def _departure(
    time: FloatArray, values: FloatArray, first: int, cross: int, level: float, rise: float, sudden: bool
) -> float:
    """Time at which the series left `level` on its way to the crossing at row `cross` (rows from `first` on).

    rise is signed. sudden: the change starts with its steepest slope (airflow restored), and the level before may
    slope; else the foot may be soft.
    """
    if abs(rise) < 1e-6:
        return float(time[cross])
    part = (values - level) / rise  # 0 before, grows towards 1
    low = np.flatnonzero(part[first : cross + 1] < (0.2 if sudden else 0.1))
    foot = first + int(low[-1]) if low.size else first
    foot = min(foot, cross)
    # how far before the foot the fit looks [s], how far before it the kink may lie [s], up to which part it fits
    before, guard, upto = (45.0, 20.0, 1.0) if sudden else (75.0, 70.0, 0.35)
    begin = max(int(np.searchsorted(time, time[foot] - before)), first)
    beyond = np.flatnonzero(part[foot : cross + 1] > upto)
    end = min(cross, foot + int(beyond[0])) if beyond.size else cross
    end = max(end, min(foot + 2, cross))
    t, y = time[begin : end + 1], part[begin : end + 1]
    if t.shape[0] < 5:
        if foot < cross and time[cross] - time[foot] < 90.0 and sudden:
            return float(time[foot] + 0.3 * (time[cross] - time[foot]))
        return float(time[foot])
    lower = max(float(time[begin]), float(time[foot]) - guard)
    upper = float(time[min(foot + 2, cross)])
    return _hinge(t, y, np.linspace(lower, upper, 48), with_slope=sudden)


def find_course(rows: Rows, marks: dict[str, float], head_alive: bool = True, suction_alive: bool = True) -> Course:
    """Find start, push, restore and standstill.

    marks: the person's marks, event -> time [s]. head_alive: False when the head gauge stood still, then the liquid
    line is followed instead.
    """
    course = _ordinary_course(rows, marks, head_alive, suction_alive)
    if rows.sparse:
        return course
    first_stop = min([a for a, _ in course.stops], default=course.standstill)
    if first_stop is None or (course.push is not None and course.push < first_stop):
        return course
    cut_short = _rise_before_stop(rows, course, rows.tc if head_alive else rows.tl, first_stop)
    if cut_short is None:
        return course
    push, base, rise = cut_short
    push = _with_mark(push, marks.get("push"), rows, float(rows.time[0]), first_stop)
    restore = marks.get("restore")
    restore = restore if restore is not None and push < restore < rows.time[-1] else None
    return replace(course, push=push, restore=restore, base=base, rise=rise, dips=0, second_push=None)


def _ordinary_course(rows: Rows, marks: dict[str, float], head_alive: bool, suction_alive: bool) -> Course:
    """Find the course of a log whose push, if any, was not cut short by a stop."""
    n = len(rows)
    if n < 3:
        return Course()
    t = rows.time
    off = off_rows(rows, suction_alive)
    if rows.sparse and "standstill" in marks and t[0] < marks["standstill"] < t[-1]:
        off = off | (t > marks["standstill"])
    long_enough = 8.0
    stops = [(a, b) for a, b in _runs(off) if t[b - 1] - t[a] >= long_enough or rows.sparse or b == n or a == 0]
    first = 0
    start: float | None = None
    standstill: float | None = None
    end = n
    inner: list[tuple[int, int]] = []
    for a, b in stops:
        if a == 0 and b < n:
            first, start = b, _start_between(rows, b, marks)
        elif b == n:
            end = _walk_back(rows, a) if suction_alive else a
            standstill = _stop_between(rows, end, marks) if rows.sparse else float(t[end])
        else:
            inner.append((_walk_back(rows, a) if suction_alive else a, b))
    if rows.sparse and n <= FEW_ROWS:
        return _few_rows(rows, marks, first, end, start, standstill, inner, head_alive)
    if end - first < 3:
        return Course(start=start, standstill=standstill, first_row=first, end_row=end)
    begin = first
    if start is not None and not rows.sparse:
        # no push is worth anything in the first minutes; a pull-down looks like one
        settled = start + min(180.0, 0.25 * float(t[end - 1] - start))
        begin = min(int(np.searchsorted(t, settled)), end - 3)
    y_all = rows.tc if head_alive else rows.tl
    y = y_all[begin:end]
    tt = t[begin:end]
    running = ~off[begin:end]
    noise = noise_of(y)
    y_run = y[running]
    if y_run.shape[0] < 3:
        return Course(start=start, standstill=standstill, first_row=first, end_row=end)
    ordered = np.sort(y_run)
    brief = min(max(2, int(8.0 / max(rows.step, 0.5))), ordered.shape[0]) if not rows.sparse else 1
    low, high = ordered[int(0.15 * (ordered.shape[0] - 1))], ordered[-brief]
    rise = float(high - low)
    spans = tuple((float(t[a]), float(t[min(b, n - 1)])) for a, b in inner)
    none = Course(start=start, standstill=standstill, stops=spans, first_row=first, end_row=end)
    if rise < max(2.0 * F, 4.0 * noise):
        return _marked(none, marks, rows, y_all, begin, end, head_alive)
    up = y > low + 0.5 * rise
    hold_rows = 1 if rows.sparse else 2
    lasting_up = 0.0 if rows.sparse else 10.0
    cross = sustained(up, tt, lasting_up, hold_rows)
    if cross <= 0:
        # the log opens above half of the rise: wait for it to fall below first (pull-down)
        below = np.flatnonzero(~up)
        if below.size == 0:
            return _marked(none, marks, rows, y_all, begin, end, head_alive)
        again = sustained(up[below[0] :], tt[below[0] :], lasting_up, hold_rows)
        if again < 0:
            return _marked(none, marks, rows, y_all, begin, end, head_alive)
        cross = int(below[0]) + again
    before = np.flatnonzero(y[: cross + 1] <= low + 0.15 * rise)
    foot = int(before[-1]) if before.size else 0
    window = slice(min(int(np.searchsorted(tt, tt[foot] - 240.0)), max(foot - 1, 0)), max(foot, 1))
    base = median(y[window])
    first_up = y[cross:][_first_run(y[cross:] > base + 0.5 * (y[cross] - base))]
    top = float(np.percentile(first_up, 90.0)) if first_up.shape[0] else float(high)
    rise = top - base
    if rise < 1.0 * F:
        return _marked(none, marks, rows, y_all, begin, end, head_alive)
    halfway = np.flatnonzero(y[foot:] > base + 0.5 * rise)
    cross = min(cross, int(halfway[0]) + foot) if halfway.size else cross
    half = tt[cross]
    cross = _earlier_peak(y, tt, cross, base, rise, lasting_up)
    push = _departure(tt, y, 0, cross, base, rise, sudden=False)
    push = _with_mark(push, marks.get("push"), rows, t[first], t[n - 1])
    # restore: the first fall below half that stays; shorter falls are a cycling fan
    down = (y < base + 0.5 * rise) & (tt > half)
    high_enough = np.flatnonzero((y > base + 0.72 * rise) & (tt >= half))
    if high_enough.size:
        down &= tt > tt[high_enough[0]]
    stay = 100.0
    restore: float | None = None
    fall = -1
    dips = 0
    for a, b in _runs(down):
        lasting = (tt[b] if b < tt.shape[0] else tt[-1]) - tt[a]
        if lasting >= stay or b == tt.shape[0] or (rows.sparse and b - a >= 2):
            fall = a
            break
        dips += 1
    if fall > 0:
        stopped = any(tt[fall] >= a - 25.0 and tt[fall] <= b + 20.0 for a, b in spans)
        plateau_from = int(np.searchsorted(tt, max(push, tt[fall] - 120.0)))
        high_rows = np.flatnonzero(y[plateau_from:fall] > base + 0.75 * rise)
        peak = plateau_from + int(high_rows[-1]) if high_rows.size else fall - 1
        peak = max(peak, plateau_from)
        plateau = median(y[min(max(plateau_from, peak - 12), peak) : peak + 1])
        restore = _departure(tt, y, plateau_from, fall, plateau, base - plateau, sudden=True)
        if stopped:
            restore = None
    said = marks.get("restore")
    said = said if said is not None and said > push else None
    restore = _with_mark(restore, said, rows, push, t[n - 1]) if restore is not None else said
    if restore is not None and restore > t[n - 1]:
        restore = None
    second: float | None = None
    if fall > 0:
        again = sustained(up[fall:], tt[fall:], lasting_up, hold_rows)
        if again > 0:
            second = float(tt[fall + again])
    return Course(
        start=start,
        push=push,
        restore=restore,
        standstill=standstill,
        stops=spans,
        dips=dips,
        rise=rise,
        base=base,
        by_liquid_line=not head_alive,
        second_push=second,
        first_row=first,
        end_row=end,
    )


#: Up to this many rows a log by hand is read row by row.
FEW_ROWS = 20


def _few_rows(
    rows: Rows,
    marks: dict[str, float],
    first: int,
    end: int,
    start: float | None,
    standstill: float | None,
    inner: list[tuple[int, int]],
    head_alive: bool,
) -> Course:
    """Phases of a log of few rows: which rows lie high, and where between two rows the person acted.

    Without marks the push is put two minutes before the first high row (as the protocol has it) and the restore right
    after the last one, never outside the gap between the rows.
    """
    t = rows.time
    y = (rows.tc if head_alive else rows.tl)[first:end]
    tt = t[first:end]
    spans = tuple((float(t[a]), float(t[min(b, len(rows) - 1)])) for a, b in inner)
    bare = Course(start=start, standstill=standstill, stops=spans, first_row=first, end_row=end)
    if y.shape[0] < 2:
        return bare
    push, restore = marks.get("push"), marks.get("restore")
    low, high = float(y.min()), float(y.max())
    if high - low < 3.0 * F:
        return _marked(bare, marks, rows, rows.tc if head_alive else rows.tl, first, end, head_alive)
    up = y > low + 0.5 * (high - low)
    if push is None or not tt[0] <= push <= tt[-1]:
        if up[0]:
            return bare
        i = int(np.flatnonzero(up)[0])
        # rows on the way up belong to the push already
        while i > 1 and y[i - 1] > low + 0.15 * (high - low) and y[i - 1] > y[max(i - 2, 0)] + 1.0 * F:
            i -= 1
        gap = float(tt[i] - tt[i - 1])
        push = float(tt[i]) - min(0.6 * gap, 120.0) if gap > 60.0 else float(tt[i]) - 0.5 * gap
    after = np.flatnonzero(up & (tt > push))
    if restore is None or restore <= push:
        restore = None
        if after.size:
            j = int(after[0])
            while j + 1 < up.shape[0] and up[j + 1]:
                j += 1
            if j + 1 < up.shape[0]:
                restore = float(tt[j]) + min(0.3 * float(tt[j + 1] - tt[j]), 20.0)
    before = y[tt < push]
    base = median(before) if before.shape[0] else low
    return Course(
        start=start,
        push=push,
        restore=restore,
        standstill=standstill,
        stops=spans,
        rise=high - base,
        base=base,
        by_liquid_line=not head_alive,
        first_row=first,
        end_row=end,
    )


def _first_run(mask: BoolArray) -> slice:
    """Rows of the first unbroken True run."""
    stop = np.flatnonzero(~mask)
    return slice(0, int(stop[0]) if stop.size else mask.shape[0])


def _rise_before_stop(rows: Rows, course: Course, y: FloatArray, stop: float) -> tuple[float, float, float] | None:
    """A push that a compressor stop cut short: (time [s], level before [K], rise [K]); None when there is none."""
    part_rows = rows.between(max(stop - 420.0, float(rows.time[course.first_row])), stop - 0.5)
    part, t = y[part_rows], rows.time[part_rows]
    n = part.shape[0]
    if n < 12:
        return None
    base = float(np.partition(part, n // 5)[n // 5])
    rise = float(part[-max(3, n // 40) :].max()) - base
    if rise < max(2.5 * F, 5.0 * noise_of(part), 6.0 * median(np.abs(part - base))):
        return None
    low = np.flatnonzero(part <= base + 0.5 * rise)
    if low.size == 0 or low[-1] < 4 or stop - t[low[-1]] > 200.0:
        return None
    cross = min(int(low[-1]) + 1, n - 1)
    return _departure(t, part, 0, cross, base, rise, sudden=False), base, rise


def _earlier_peak(y: FloatArray, tt: FloatArray, cross: int, base: float, rise: float, seconds: float) -> int:
    """Row of a smaller peak within 150 s before the crossing (a cycling fan fights the push), else the crossing."""
    if not seconds:
        return cross
    begin = int(np.searchsorted(tt, tt[cross] - 150.0))
    earlier = sustained(y[begin:cross] > base + 0.25 * rise, tt[begin:cross], seconds, 2)
    return begin + earlier if earlier > 0 else cross


def _with_mark(found: float, mark: float | None, rows: Rows, earliest: float, latest: float) -> float:
    """Combine a time found in the readings with the person's mark.

    Marks scatter by about 13 s. Between sparse rows the mark knows more; in dense readings it only counts when the
    two disagree by more than a mark's scatter, for then the readings were ambiguous (soft foot, cycling fan).
    """
    if mark is None or not earliest <= mark <= latest:
        return found
    apart = abs(mark - found)
    if apart > 900.0:
        return found
    if rows.sparse or apart > 45.0:
        return mark
    return 0.6 * found + 0.4 * mark if apart < 18.0 else 0.5 * (found + mark)


def _marked(
    none: Course, marks: dict[str, float], rows: Rows, y: FloatArray, begin: int, end: int, head_alive: bool
) -> Course:
    """Phases from marks alone, where the readings show no rise."""
    push, restore = marks.get("push"), marks.get("restore")
    if push is None or not rows.time[0] < push < rows.time[end - 1]:
        return none
    window = rows.between(push - 240.0, push)
    base = median(y[window]) if window.stop > window.start else np.nan
    return Course(
        start=none.start,
        push=push,
        restore=restore if restore is not None and restore > push else None,
        standstill=none.standstill,
        stops=none.stops,
        base=base,
        by_liquid_line=not head_alive,
        first_row=none.first_row,
        end_row=none.end_row,
    )
