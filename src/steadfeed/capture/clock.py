"""Times of readings: from text to UTC, and into order."""

from __future__ import annotations

import bisect
import datetime as dt
import difflib
import re
import zoneinfo
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.errors import FixInput

IntArray = npt.NDArray[np.int64]

_EPOCH_DAY: Final = dt.date(1970, 1, 1).toordinal()
_DAY: Final = 86400
#: Further apart than this, two times of one log cannot both come from a clock that was set [s].
_CLOCK_NOT_SET: Final = 300 * _DAY


@dataclass(frozen=True, slots=True, eq=False)
class Stamps:
    """Times as written, row by row.

    wall: the clock on the wall as if it were UTC [s since the Unix epoch], NaN where the cell is no time.
    offset: local time minus UTC as written [s], NaN where none was written. Both of shape (n,).
    """

    wall: FloatArray
    offset: FloatArray


# --- text to stamps ---------------------------------------------------------------------------------------------


def parse_stamps(cells: Sequence[str], *, quick: bool = True) -> Stamps:
    """Read ISO 8601 date-times with or without an offset.

    quick: read cells of one layout all at once; the result is the same, only sooner.
    """
    if quick:
        found = _all_at_once(cells)
        if found is not None:
            return found
    known: dict[str, tuple[float, float]] = {}
    wall = np.empty(len(cells))
    offset = np.empty(len(cells))
    for i, cell in enumerate(cells):
        stamp = known.get(cell)
        if stamp is None:
            stamp = known[cell] = parse_stamp(cell)
        wall[i], offset[i] = stamp
    return Stamps(wall, offset)


_STAMP = re.compile(
    r"(\d{4})(?:-(\d{1,2})-(\d{1,2})|/(\d{1,2})/(\d{1,2})|(\d\d)(\d\d))"
    r"(?:[Tt]|[ \t]+)"
    r"(\d{1,2})(?::(\d\d)(?::(\d\d)(?:[.,](\d{1,18}))?)?|(\d\d)(?:(\d\d)(?:[.,](\d{1,18}))?)?)"
    r"[ \t]*(?:([Zz]|UTC|GMT)|([-+])(\d\d)(?::?(\d\d)(?::(\d\d))?)?)?",
    re.ASCII,
)


def parse_stamp(cell: str) -> tuple[float, float]:
    """Read one date-time: (wall clock as if UTC, offset) [s]; NaN for what is not there. Never raises."""
    found = _STAMP.fullmatch(cell.strip().strip('"').replace("−", "-"))
    if not found:
        return (np.nan, np.nan)
    g = found.groups()
    month, day = (int(next(v for v in pair if v is not None)) for pair in ((g[1], g[3], g[5]), (g[2], g[4], g[6])))
    hour, minute, second = int(g[7]), int(g[8] or g[11] or 0), int(g[9] or g[12] or 0)
    digits = g[10] or g[13]
    try:
        days = dt.date(int(g[0]), month, day).toordinal() - _EPOCH_DAY
    except ValueError:
        return (np.nan, np.nan)
    if hour > 23 or minute > 59 or second > 59:
        return (np.nan, np.nan)
    wall = float(days * _DAY + hour * 3600 + minute * 60 + second)
    if digits:
        wall += int(digits) / 10.0 ** len(digits)
    offset = np.nan
    if g[14]:
        offset = 0.0
    elif g[15]:
        hours, minutes, seconds = int(g[16]), int(g[17] or 0), int(g[18] or 0)
        if hours > 18 or minutes > 59 or seconds > 59:
            return (np.nan, np.nan)
        offset = float(hours * 3600 + minutes * 60 + seconds) * (-1.0 if g[15] == "-" else 1.0)
    return (wall, offset)


def _all_at_once(cells: Sequence[str]) -> Stamps | None:
    """Read cells that share a few layouts ("…:29", "…:29.000", with the same kind of offset), or return None."""
    n = len(cells)
    widths = list(map(len, cells))
    kinds = set(widths)
    if not kinds or len(kinds) > 3 or max(kinds) > 40 or min(kinds) < 19:
        return None
    wall = np.empty(n)
    offset = np.empty(n)
    for width in kinds:
        rows = None if len(kinds) == 1 else np.flatnonzero(np.array(widths) == width)
        text = "".join(cells if rows is None else [cells[i] for i in rows.tolist()])
        if not text.isascii():
            return None
        found = _block(np.frombuffer(text.encode("ascii"), np.uint8).reshape(-1, width))
        if found is None:
            return None
        if rows is None:
            wall, offset = found
        else:
            wall[rows], offset[rows] = found
    return Stamps(wall, offset)


_LAYOUT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.(\d{1,9}))?(Z|[-+]\d\d:?\d\d)?", re.ASCII)
_DAYS_IN_MONTH: Final = np.array([0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def _block(raw: npt.NDArray[np.uint8]) -> tuple[FloatArray, FloatArray] | None:
    """Read rows of characters that all have the layout of the first, or return None."""
    first = raw[0].tobytes().decode("ascii")
    layout = _LAYOUT.fullmatch(first)
    if not layout:
        return None
    fraction, zone = layout.groups()
    signs = len(first) - len(zone) if zone and zone != "Z" else None
    for i, c in enumerate(first):
        column = raw[:, i]
        if c.isdigit():
            if column.min() < 48 or column.max() > 57:
                return None
        elif i == signs:
            if not ((column == 43) | (column == 45)).all():
                return None
        elif not (column == ord(c)).all():
            return None
    digit = raw.astype(np.int64) - 48

    def number(start: int, count: int) -> IntArray:
        value = digit[:, start]
        for i in range(start + 1, start + count):
            value = value * 10 + digit[:, i]
        return value

    year, month, day = number(0, 4), number(5, 2), number(8, 2)
    hour, minute, second = number(11, 2), number(14, 2), number(17, 2)
    if year.min() < 1 or month.min() < 1 or month.max() > 12 or day.min() < 1:
        return None
    if hour.max() > 23 or minute.max() > 59 or second.max() > 59 or (day > _DAYS_IN_MONTH[month]).any():
        return None
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    if ((month == 2) & (day == 29) & ~leap).any():
        return None
    wall = (_days(year, month, day) * _DAY + hour * 3600 + minute * 60 + second).astype(np.float64)
    if fraction:
        wall += number(20, len(fraction)) / 10.0 ** len(fraction)
    if signs is None:
        return wall, np.full(len(raw), 0.0 if zone else np.nan)
    hours, minutes = number(signs + 1, 2), number(len(first) - 2, 2)
    if hours.max() > 18 or minutes.max() > 59:
        return None
    offset = (hours * 3600 + minutes * 60).astype(np.float64)
    return wall, np.where(raw[:, signs] == 45, -offset, offset)


def _days(year: IntArray, month: IntArray, day: IntArray) -> IntArray:
    """Days since 1970-01-01 in the Gregorian calendar, counting years from March so that leap days come last."""
    y = year - (month <= 2)
    m = (month + 9) % 12
    return 365 * y + y // 4 - y // 100 + y // 400 + (153 * m + 2) // 5 + day - 1 - 719468


# --- local time to UTC --------------------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def zone(name: str) -> zoneinfo.ZoneInfo:
    """Return a time zone by its IANA name. Raises FixInput naming the nearest one."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        known = zoneinfo.available_timezones()
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        hint = f"did you mean “{near[0]}”?" if near else "write for example “America/Chicago”"
        raise FixInput(f"no time zone is called “{name}” ({hint})", code="unknown time zone") from None


def _offset_at(where: zoneinfo.ZoneInfo, wall: float, fold: int) -> float:
    try:
        local = dt.datetime(1970, 1, 1) + dt.timedelta(seconds=wall)
        found = where.utcoffset(local.replace(fold=fold))
    except OverflowError:
        return 0.0
    return found.total_seconds() if found is not None else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class LocalOffsets:
    """Offset of local times [s], shape (n,); how many rows lie in the hour that comes twice and could not be told
    apart, and how many in the hour that does not exist."""

    offset: FloatArray
    undecided: int = 0
    missing: int = 0


def local_offsets(wall: FloatArray, where: zoneinfo.ZoneInfo) -> LocalOffsets:
    """Return local time minus UTC for local times in row order [s].

    Where clocks go back an hour comes twice: the first pass is taken until the times step back, the second after it;
    without such a step, the pass that joins the readings outside that hour; else the first.
    """
    n = len(wall)
    # Clocks change at whole quarters of an hour everywhere, so one look per quarter is enough.
    quarter = np.floor(wall / 900.0)
    blocks, which = np.unique(quarter, return_inverse=True)
    first = np.array([_offset_at(where, b * 900.0, 0) for b in blocks])
    second = np.array([_offset_at(where, b * 900.0, 1) for b in blocks])
    offset = first[which]
    twice = (first > second)[which]
    missing = int(np.count_nonzero((first < second)[which]))
    undecided = 0
    later = second[which]
    i = 0
    while i < n:
        if not twice[i]:
            i += 1
            continue
        end = i
        while end < n and twice[end]:
            end += 1
        back = [k for k in range(i + 1, end) if wall[k] < wall[k - 1] - 600.0]
        if back:
            offset[back[0] : end] = later[back[0] : end]
        elif end < n and 0.0 <= wall[end] - wall[end - 1] < 1800.0:
            offset[i:end] = later[i:end]
        elif not (i > 0 and 0.0 <= wall[i] - wall[i - 1] < 1800.0):
            undecided += end - i
        i = end
    return LocalOffsets(offset, undecided, missing)


# --- into order -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ClockStep:
    """The clock of the log was set while it ran. row: index of the first row after it; by: how far it was set [s]."""

    row: int
    by: float


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """How rows come into the order of time.

    time: corrected times in row order [s], shape (n,). keep: rows to be used, in order of time, shape (m,).
    steps: clock steps that were undone. wild: rows whose time lies years from the others, left out. disordered: rows
    that stood later in the file than a row with a later time. identical: rows left out because a row with the same time
    and the same cells came before. same_time: (row kept, rows of the same time with other cells).
    """

    time: FloatArray
    keep: IntArray
    steps: tuple[ClockStep, ...] = ()
    wild: tuple[int, ...] = ()
    disordered: tuple[int, ...] = ()
    identical: tuple[int, ...] = ()
    same_time: tuple[tuple[int, tuple[int, ...]], ...] = ()


def put_in_order(time: FloatArray, cells: FloatArray) -> Order:
    """Find clock steps, disorder and rows of the same time.

    time: finite, row order [s], shape (n,). cells: readings row by row, shape (n, k), NaN = missing. Of several rows
    with one time all are named in `same_time`; the caller merges them.
    """
    n = len(time)
    if n < 2 or (bool(np.all(np.diff(time) > 0)) and time[-1] - time[0] < _CLOCK_NOT_SET):
        return Order(time, np.arange(n))
    time = time.copy()
    use = np.ones(n, np.bool_)
    steps, wild = _clock_not_set(time, use)
    identical = _identical(time, cells, use)
    steps += _steps_back(time, use)
    rows = np.flatnonzero(use)
    t = time[rows]
    disordered = _out_of_order(rows, t)
    order = rows[np.argsort(t, kind="stable")]
    t = time[order]
    same: list[tuple[int, tuple[int, ...]]] = []
    again = np.flatnonzero(np.diff(t) <= 0)
    if len(again):
        starts = np.flatnonzero(np.r_[True, np.diff(t) > 0])
        ends = np.r_[starts[1:], len(t)]
        for s, e in zip(starts.tolist(), ends.tolist(), strict=True):
            if e - s > 1:
                same.append((int(order[e - 1]), tuple(int(r) for r in order[s : e - 1])))
        order = order[ends - 1]
    return Order(
        time,
        order,
        tuple(sorted(steps, key=lambda s: s.row)),
        tuple(wild),
        disordered,
        tuple(identical),
        tuple(same),
    )


def _out_of_order(rows: IntArray, t: FloatArray) -> tuple[int, ...]:
    """Return the fewest rows without which the others are in order (all but a longest run that does not fall)."""
    if not bool(np.any(np.diff(t) < 0)):
        return ()
    ends: list[float] = []  # smallest last time of an ordered run of each length
    last: list[int] = []  # its last row
    before = [-1] * len(t)
    for i, moment in enumerate(t.tolist()):
        k = bisect.bisect_right(ends, moment)
        before[i] = last[k - 1] if k else -1
        ends[k : k + 1] = [moment]
        last[k : k + 1] = [i]
    kept: set[int] = set()
    i = last[-1]
    while i >= 0:
        kept.add(i)
        i = before[i]
    return tuple(int(rows[i]) for i in range(len(t)) if i not in kept)


def _clock_not_set(time: FloatArray, use: BoolArray) -> tuple[list[ClockStep], list[int]]:
    """Handle times that lie years apart: a first part from before the clock was set is moved, other rows left out."""
    if time.max() - time.min() < _CLOCK_NOT_SET:
        return [], []
    middle = float(np.median(time))
    far = np.abs(time - middle) > _CLOCK_NOT_SET
    good = np.flatnonzero(~far)
    if not len(good):  # the median lies between two groups: the later one is from a clock that was set
        far = np.abs(time - time.max()) > _CLOCK_NOT_SET
        good = np.flatnonzero(~far)
    if not far.any():
        return [], []
    start = int(good[0])
    steps: list[ClockStep] = []
    if start > 0 and _rises(time[:start]) and time[start - 1] < time[start]:
        gap = _usual_gap(time)
        by = float(time[start] - time[start - 1] - gap)
        time[:start] += by
        steps.append(ClockStep(start, by))
        far[:start] = False
    wild = np.flatnonzero(far).tolist()
    use[far] = False
    return steps, wild


def _rises(time: FloatArray) -> bool:
    return bool(np.all(np.diff(time) >= 0)) and float(time[-1] - time[0]) < 7 * _DAY


def _usual_gap(time: FloatArray) -> float:
    gaps = np.diff(time)
    gaps = gaps[(gaps > 0) & (gaps < 3600.0)]
    return float(np.median(gaps)) if len(gaps) else 1.0


def _identical(time: FloatArray, cells: FloatArray, use: BoolArray) -> list[int]:
    """Take out rows that repeat an earlier row in time and all cells."""
    seen: set[bytes] = set()
    order = np.argsort(time, kind="stable")
    t = time[order]
    again = np.zeros(len(time), np.bool_)
    pairs = np.flatnonzero(np.diff(t) == 0)
    again[order[pairs]] = again[order[pairs + 1]] = True
    left_out = []
    for row in np.flatnonzero(again & use).tolist():
        key = time[row].tobytes() + cells[row].tobytes()
        if key in seen:
            use[row] = False
            left_out.append(row)
        seen.add(key)
    return left_out


def _steps_back(time: FloatArray, use: BoolArray) -> list[ClockStep]:
    """Find where the clock was set back and move the rows before it, in place.

    Rows out of order fill holes that they left elsewhere; after a clock step two runs of rows claim the same minutes.
    So a step back is one where at least three rows on either side of it, each side in order, lie in the overlap, and
    together far more rows than fit. A step by whole half hours (a time zone, summer time) needs no overlap, nor does
    one so far back that a whole block would precede another without meeting it (blocks that meet were swapped).
    The clock after the step is taken to be right.
    """
    steps: list[ClockStep] = []
    rows = np.flatnonzero(use)
    t = time[rows]
    gap = _usual_gap(t)
    for i in np.flatnonzero(np.diff(t) < -2.0 * gap).tolist():
        i += 1
        before, after = _run_before(t, i), _run_after(t, i)
        by = float(t[i] - t[i - 1]) - gap
        if not (
            _claims_twice(before, after, gap)
            or _whole_half_hours(before, after, by, gap)
            or _far_back(before, after, gap)
        ):
            continue
        steps.append(ClockStep(int(rows[i]), by))
        t[:i] += by
        time[: int(rows[i])] += by
    return steps


def _run_before(t: FloatArray, i: int) -> FloatArray:
    start = i - 1
    while start > 0 and t[start - 1] <= t[start]:
        start -= 1
    return t[start:i]


def _run_after(t: FloatArray, i: int) -> FloatArray:
    end = i + 1
    while end < len(t) and t[end] >= t[end - 1]:
        end += 1
    return t[i:end]


def _claims_twice(before: FloatArray, after: FloatArray, gap: float) -> bool:
    low, high = max(before[0], after[0]), min(before[-1], after[-1])
    if high <= low:
        return False
    earlier = int(np.count_nonzero((before >= low) & (before <= high)))
    later = int(np.count_nonzero((after >= low) & (after <= high)))
    return earlier >= 3 and later >= 3 and earlier + later > 1.6 * ((high - low) / gap + 1.0)


def _whole_half_hours(before: FloatArray, after: FloatArray, by: float, gap: float) -> bool:
    halves = round(-by / 1800.0)
    return halves >= 1 and abs(-by - 1800.0 * halves) <= 2.0 * gap + 1.0 and _runs_on(before, after, gap, 3)


def _far_back(before: FloatArray, after: FloatArray, gap: float) -> bool:
    return float(before[0] - after[-1]) > 5.0 * gap + 30.0 and _runs_on(before, after, gap, 10)


def _runs_on(before: FloatArray, after: FloatArray, gap: float, rows: int) -> bool:
    """Tell whether both sides of a step run on evenly up to it, which rows that strayed do not."""
    if len(before) < rows or len(after) < rows:
        return False
    near = float(np.r_[np.diff(before[-3:]), np.diff(after[:3])].max())
    return near <= min(6.0 * gap + 60.0, 600.0)


def one_local_offset(wall: float, name: str) -> float:
    """Return local time minus UTC [s] of one local time; where an hour comes twice, of its first pass."""
    return _offset_at(zone(name), wall, 0)
