"""Times of a log: from the cells of its time column to moments, and remarks on their order."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from steadfeed import units
from steadfeed.capture.clock import IntArray, LocalOffsets, Order, Stamps, local_offsets, parse_stamps, zone
from steadfeed.capture.placing import Column
from steadfeed.capture.table import Table, numbers, rows_text
from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Remark
from steadfeed.errors import FixInput


@dataclass(frozen=True, slots=True, eq=False)
class Times:
    """Moments of all rows of a log.

    time: [s since the Unix epoch, UTC], or [s since the start] with `elapsed`; NaN = unreadable, shape (n,).
    utc_offset: local time minus UTC to write results with [s].
    """

    time: FloatArray
    elapsed: bool
    utc_offset: float
    remarks: tuple[Remark, ...]


def times_of(
    columns: Sequence[Column],
    table: Table,
    system: System,
    name: str,
    typed_times: Mapping[str, bool],
    *,
    quick: bool = True,
) -> Times:
    """Read the time column of a log.

    typed_times: headers of columns that hold moments as seconds since the Unix epoch -> whether they are local.
    Raises FixInput when not one time can be read.
    """
    column = next((c for c in columns if c.meaning.role == "time"), None)
    elapsed = next((c for c in columns if c.meaning.role == "elapsed"), None)
    if column is None:
        assert elapsed is not None, "check_columns lets no log without a time column pass"
        found = numbers(elapsed.cells, elapsed.meaning.unit, "time", table.decimal, plain=quick)
        seconds = found.values * units.linear("time", elapsed.meaning.unit)[0]
        seconds[np.abs(seconds) > _LONGEST] = np.nan
        if not np.isfinite(seconds).any():
            shown = found.unread[0][1] if found.unread else _first_text(elapsed.cells)
            raise _no_times(name, elapsed.header, shown, "seconds since the start, such as 12.5")
        return Times(seconds, True, 0.0, ())
    remarks = []
    if elapsed is not None:
        text = f"Both “{column.header}” and “{elapsed.header}” are there; “{column.header}” is used."
        remarks.append(Remark("two time columns", text, elapsed.header))
    stamps = _stamps(column, columns, typed_times.get(column.header), quick)
    if not np.isfinite(stamps.wall).any():
        counted = _unix_seconds(column, table)
        if counted is None:
            shown = _first_text(column.cells)
            raise _no_times(name, column.header, shown, "ISO 8601 such as 2025-06-01T14:05:00-05:00")
        stamps = counted
        remarks.append(Remark("Unix times", f"“{column.header}” counts seconds since 1970 in UTC.", column.header))
    offset, utc_offset, said = _offsets(stamps, system)
    return Times(stamps.wall - offset, False, utc_offset, (*remarks, *said))


#: Longest that `elapsed_s` may count [s]; more is a moment, not a span.
_LONGEST = 1e8


def _unix_seconds(column: Column, table: Table) -> Stamps | None:
    """Read times that are numbers which can only be seconds or milliseconds since 1970 (years 1998 to 2096)."""
    found = numbers(column.cells, "s", "time", table.decimal).values
    readable = found[np.isfinite(found)]
    for per_second in (1.0, 1e3):
        seconds = readable / per_second
        if len(seconds) and seconds.min() > 9e8 and seconds.max() < 4e9:
            return Stamps(found / per_second, np.zeros(len(found)))
    return None


def refuse_mostly_bad(bad: BoolArray, columns: Sequence[Column], table: Table, name: str) -> None:
    """Raise FixInput when more times of a log are unreadable than readable. bad: True where unreadable, shape (n,)."""
    count = int(bad.sum())
    if 2 * count <= len(bad):
        return
    row = int(np.flatnonzero(bad)[0])
    column = next(c for c in columns if c.meaning.role in ("time", "elapsed"))
    shown = _first_text([column.cells[row]])
    where = rows_text([int(table.lines[row])], table.kind_of_row)
    raise FixInput(
        f"{name}: {count:,} of {len(bad):,} times cannot be read, the first “{shown}” in {where}; write times as "
        "ISO 8601 such as 2025-06-01T14:05:00-05:00",
        code="bad time",
        where=column.header,
    )


def _first_text(cells: Sequence[object] | FloatArray) -> str:
    for cell in cells:
        text = "" if cell is None else str(cell).strip()
        if text:
            return text if len(text) <= 32 else text[:31] + "…"
    return "nothing"


def _no_times(name: str, header: str, shown: str, wanted: str) -> FixInput:
    hint = wanted
    try:
        float(shown)
        hint += "; if it counts seconds from the start, name it “elapsed_s”"
    except ValueError:
        if re.match(r"\d{1,2}:\d\d", shown):
            hint += " (the day is missing)"
        elif "/" in shown or "." in shown:
            hint += " (day and month could be confused otherwise)"
    return FixInput(f"{name}: “{header}” holds “{shown}”; write times as {hint}", code="bad time", where=header)


def _stamps(column: Column, columns: Sequence[Column], typed_local: bool | None, quick: bool) -> Stamps:
    cells = column.cells
    if isinstance(cells, np.ndarray):
        if typed_local is not None:
            return Stamps(cells.astype(np.float64), np.full(len(cells), np.nan if typed_local else 0.0))
        # plain numbers under "time" could count from anything
        return Stamps(np.full(len(cells), np.nan), np.full(len(cells), np.nan))
    texts = ["" if c is None else c if type(c) is str else str(c) for c in cells]
    date = next((c for c in columns if c.meaning.role == "date"), None)
    if date is not None and not isinstance(date.cells, np.ndarray):
        days = ["" if c is None else str(c).strip() for c in date.cells]
        joined = [
            f"{d}T{t.strip()}" if d and t.strip() and "T" not in t else t for d, t in zip(days, texts, strict=True)
        ]
        stamps = parse_stamps(joined, quick=quick)
        if np.isfinite(stamps.wall).any():
            return stamps
    return parse_stamps(texts, quick=quick)


def _offsets(stamps: Stamps, system: System) -> tuple[FloatArray, float, list[Remark]]:
    """Return the offset of every row [s], the one to write results with [s], and remarks."""
    readable = np.isfinite(stamps.wall)
    remarks: list[Remark] = []
    offset = stamps.offset.copy()
    written = np.isfinite(offset) & readable
    bare = readable & ~written
    where = zone(system.time_zone) if system.time_zone else None
    if bare.any() and where is not None:
        found: LocalOffsets = local_offsets(stamps.wall[bare], where)
        offset[bare] = found.offset
        if found.undecided:
            text = (
                f"{found.undecided:,} readings lie in the hour that comes twice as clocks go back; the first is taken."
            )
            remarks.append(Remark("hour comes twice", text, "time"))
        if found.missing:
            text = f"{found.missing:,} readings carry local times that do not exist, as clocks go forward there."
            remarks.append(Remark("hour does not exist", text, "time"))
    elif bare.any() and written.any():
        first = float(offset[np.flatnonzero(written)[0]])
        offset[bare] = first
        text = f"{int(bare.sum()):,} times carry no offset; that of the others, {_offset_text(first)}, is used."
        remarks.append(Remark("offset missing", text, "time"))
    elif bare.any():
        offset[bare] = 0.0
        text = "The times carry no offset and time_zone is not known; they are taken as UTC."
        remarks.append(Remark("time zone not known", text, "time_zone"))
    used = offset[readable]
    utc_offset = float(used[0])
    if np.any(used != utc_offset):
        text = f"The offset from UTC changes within the log; results carry the first, {_offset_text(utc_offset)}."
        remarks.append(Remark("offset changes", text, "time"))
    elif where is not None and utc_offset == 0.0 and not bare.any():
        # a logger in UTC at a place that is known: results are for people there
        utc_offset = _local_offset(where, float(stamps.wall[np.flatnonzero(readable)[0]]))
    return offset, utc_offset, remarks


def _local_offset(where: dt.tzinfo, moment: float) -> float:
    try:
        local = dt.datetime.fromtimestamp(moment, where)
    except (OverflowError, OSError, ValueError):
        return 0.0
    delta = local.utcoffset()
    return delta.total_seconds() if delta is not None else 0.0


def _offset_text(offset: float) -> str:
    minutes = round(abs(offset) / 60)
    return f"{'-' if offset < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def dropped(table: Table, rows: IntArray, why: str, name: str) -> Remark:
    """Say which rows of a table were left out and why. rows: indices."""
    text = rows_text([int(i) for i in table.lines[rows]], table.kind_of_row)
    return Remark("rows dropped", f"{text[:1].upper()}{text[1:]} dropped: {why}.", name)


def say_order(order: Order, table: Table, use: IntArray, name: str) -> list[Remark]:
    """Say what was done to put rows in order. use: index into the table of every row that `order` is about."""

    def rows(indices: Sequence[int]) -> str:
        return rows_text([int(table.lines[use[i]]) for i in sorted(indices)], table.kind_of_row)

    remarks = []
    for step in order.steps:
        way = "back" if step.by < 0 else "forward"
        text = (
            f"The clock was set {way} by {_duration(abs(step.by))} before {rows([step.row])}; the rows above it were "
            "moved to the later clock."
        )
        remarks.append(Remark("clock set", text, "time"))
    if order.wild:
        text = f"{rows(order.wild).capitalize()} dropped: the time lies years from the others."
        remarks.append(Remark("rows dropped", text, name))
    if order.identical:
        text = f"{rows(order.identical).capitalize()} dropped: repeats an earlier row."
        remarks.append(Remark("rows dropped", text, name))
    if order.disordered:
        remarks.append(
            Remark("rows sorted", f"{rows(order.disordered).capitalize()} out of order; sorted by time.", name)
        )
    if order.same_time:
        again = [row for _, others in order.same_time for row in others]
        text = f"{rows(again).capitalize()} merged into a later row of the same time, whose readings stand."
        remarks.append(Remark("same time", text, name))
    return remarks


def _duration(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    if seconds < 7200:
        return f"{int(seconds // 60)} min {round(seconds % 60)} s"
    if seconds < 172_800:
        return f"{seconds / 3600:.1f} h"
    return f"{seconds / 86400:,.0f} days"


def say_gaps(time: FloatArray) -> list[Remark]:
    """Say where readings are missing for more than a minute and far longer than usual."""
    if len(time) < 4:
        return []
    step = np.diff(time)
    usual = float(np.median(step))
    wide = step[(step > 60.0) & (step > 10.0 * usual)]
    if not len(wide):
        return []
    longest = _duration(float(wide.max()))
    text = (
        f"No readings for {longest}." if len(wide) == 1 else f"{len(wide)} gaps in the readings, the longest {longest}."
    )
    return [Remark("gap", text, "time")]
