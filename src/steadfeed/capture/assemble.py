"""Tables of cells to recordings: columns by their meaning, times in order, readings in SI."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from steadfeed import units
from steadfeed.capture.clock import LocalOffsets, Order, Stamps, local_offsets, parse_stamps, put_in_order, zone
from steadfeed.capture.columns import (
    IGNORE,
    Meaning,
    ambiguous_unit,
    channel_column,
    example_unit,
    unit_list,
)
from steadfeed.capture.table import Numbers, Table, numbers, rows_text
from steadfeed.circuit.channel import CHANNEL_KINDS, VITAL_CHANNELS, BoolArray, Channel, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.errors import FixInput

#: Channels of the unit as a whole: without a prefix they belong to every circuit of the log.
SHARED_CHANNELS: Final = frozenset(
    {
        "outdoor_air_temperature",
        "return_air_dry_bulb",
        "return_air_wet_bulb",
        "return_air_relative_humidity",
        "supply_air_dry_bulb",
        "supply_air_wet_bulb",
        "power",
        "fan_current",
    }
)
_READERS: Final = ("person", "photo", "instrument")
#: Beyond this no instrument reads, in any unit that a log may hold.
_BEYOND_INSTRUMENTS: Final = 1e9


def site_atmosphere(system: System) -> tuple[float, Remark | None]:
    """Return the pressure of the air at the site [Pa] and what has to be said about it.

    Barometer first, then the standard atmosphere at the altitude, then sea level.
    """
    if system.site.barometer is not None:
        return system.site.barometer, None
    if system.site.altitude is not None:
        return units.standard_atmosphere(system.site.altitude), None
    text = "Neither altitude nor barometer of the site is known; gauge readings count from sea level."
    return units.STANDARD_ATMOSPHERE, Remark("sea level assumed", text, "altitude")


def _gauge_zero(system: System, atmosphere: float) -> tuple[float, Remark | None]:
    """Return the pressure that gauge readings count from [Pa] and what has to be said about it."""
    reference = system.instruments.pressure_reference
    if reference == "sealed":
        return units.STANDARD_ATMOSPHERE, None
    if reference == "absolute":
        text = "Absolute sensors shown as gauge: the instrument is taken to have subtracted 14.696 psi (101,325 Pa)."
        return units.STANDARD_ATMOSPHERE, Remark("absolute sensor under a gauge header", text, "pressure_reference")
    return atmosphere, None


@dataclass(slots=True)
class _Column:
    header: str
    meaning: Meaning
    cells: Sequence[object] | FloatArray


def assemble(
    table: Table,
    meanings: Mapping[str, Meaning],
    system: System,
    name: str,
    *,
    typed_times: Mapping[str, bool] | None = None,
    quick: bool = True,
) -> tuple[Recording, ...]:
    """Make one recording a circuit from the cells of a log.

    meanings: header -> what it means. typed_times: headers of columns that hold moments as numbers of seconds since
    the Unix epoch -> whether they are local times without an offset.
    Raises FixInput with one sentence when no time, no channel or no usable row is found.
    """
    remarks = list(table.remarks)
    columns = [
        _Column(h, meanings[h], c) for h, c in zip(table.headers, table.columns, strict=True) if h or _any_cell(c)
    ]
    _check_columns(columns, name)
    channels = [c for c in columns if c.meaning.role == "channel"]
    remarks += _say_columns(columns, system, name)
    if not len(table):
        raise FixInput(f"{name} has a header but no rows of readings", code="no rows", where=name)

    time, local, elapsed, utc_offset, said = _times(columns, table, system, name, typed_times or {}, quick)
    remarks += said
    bad_time = ~np.isfinite(time)
    if bad_time.any():
        remarks.append(_drop(table, np.flatnonzero(bad_time), "no readable time", name))

    raw = [numbers(c.cells, c.meaning.unit, c.meaning.kind, table.decimal, plain=quick) for c in channels]
    remarks += _say_unread(channels, raw, table, name)
    same, said = _same(columns, table)
    remarks += said
    if same is not None:
        remarks += _carry_over(channels, raw, same, table)
    matrix = np.column_stack([r.values for r in raw])
    matrix[np.abs(matrix) > _BEYOND_INSTRUMENTS] = np.nan
    empty = np.isnan(matrix).all(axis=1) & ~bad_time
    if empty.any():
        remarks.append(_drop(table, np.flatnonzero(empty), "no reading in any channel", name))
    use = np.flatnonzero(~bad_time & ~empty)
    if not len(use):
        raise FixInput(f"{name} has no row with a time and a reading", code="no readings", where=name)

    order = put_in_order(time[use], matrix[use])
    remarks += _say_order(order, table, use, name)
    matrix = _merge(matrix[use], order)
    time = order.time[order.keep]
    if same is not None:
        same = same[use][order.keep]
    read_by, said = _read_by(columns, table)
    remarks += said
    remarks += _say_gaps(time)
    return _recordings(
        channels, matrix, time, same, read_by, system, name, remarks, elapsed=elapsed, local=local, offset=utc_offset
    )


def _any_cell(cells: Sequence[object] | FloatArray) -> bool:
    if isinstance(cells, np.ndarray):
        return bool(np.isfinite(cells).any())
    return any(c is not None and (not isinstance(c, str) or c.strip()) for c in cells)


# --- columns ----------------------------------------------------------------------------------------------------------


def _check_columns(columns: list[_Column], name: str) -> None:
    """Refuse a log whose columns cannot be told apart or lack what only a person can add."""
    times = [c for c in columns if c.meaning.role in ("time", "elapsed")]
    if not times and not any(c.meaning.role == "channel" for c in columns):
        raise FixInput(
            f"{name}: no column is understood ({_quoted([c.header for c in columns])}); name them as in "
            "“suction_pressure_psig”, or map them under [columns] in the system file",
            code="no header",
            where=name,
        )
    for column in columns:
        _check_unit(column, name)
    seen: dict[tuple[str, str | None], _Column] = {}
    for column in columns:
        m = column.meaning
        if m.role in ("unknown", "ignored"):
            continue
        key = (m.channel or m.role, m.circuit)
        if key in seen:
            raise FixInput(
                f"{name}: both “{seen[key].header}” and “{column.header}” hold {key[0].replace('_', ' ')}; "
                f'keep one of them, or write "{column.header}" = "{IGNORE}" under [columns]',
                code="column twice",
                where=column.header,
            )
        seen[key] = column
    if not times:
        raise FixInput(
            f"{name}: no time column among {_quoted([c.header for c in columns])}; name it “time” (ISO 8601) or "
            "“elapsed_s”, or map it under [columns]",
            code="no time column",
            where=name,
        )
    _check_unplaced(columns, name)


def _check_unit(column: _Column, name: str) -> None:
    m = column.meaning
    if not m.problem:
        return
    where = column.header
    if m.problem == "unit ambiguous":
        raise FixInput(f"{name}: {ambiguous_unit(column.header, m.unit_word)}", code=m.problem, where=where)
    if m.role == "elapsed":
        raise FixInput(f"{name}: “{column.header}” has no unit; write “elapsed_s”", code="unit missing", where=where)
    prefix = f"{m.circuit}_" if m.circuit else ""
    target = prefix + channel_column(m.channel, example_unit(m.kind))
    if m.problem == "unit missing":
        what = f"“{column.header}” is understood as {m.channel.replace('_', ' ')} but has no unit"
    else:
        what = (
            f"“{column.header}” is understood as {m.channel.replace('_', ' ')}, but “{m.unit_word}” is no unit of "
            f"{m.kind} ({unit_list(m.kind)})"
        )
    raise FixInput(
        f'{name}: {what}; write it as in “{target}”, or add "{column.header}" = "{target}" under [columns]',
        code=m.problem,
        where=where,
    )


def _check_unplaced(columns: list[_Column], name: str) -> None:
    """Refuse a log that lacks a vital channel while a column of that kind could not be placed."""
    held = [c.meaning for c in columns if c.meaning.role == "channel"]
    circuits: list[str | None] = [*sorted({m.circuit for m in held if m.circuit})] or [None]
    unplaced = [c for c in columns if c.meaning.role == "unknown" and c.meaning.kind]
    for circuit in circuits:
        have = {m.channel for m in held if m.circuit in (circuit, None)}
        if "discharge_pressure" in have:
            have.add("liquid_pressure")
        for vital in VITAL_CHANNELS:
            kind = CHANNEL_KINDS[vital]
            fitting = [c for c in unplaced if c.meaning.kind == kind]
            if vital in have or not fitting:
                continue
            column = next((c for c in fitting if c.meaning.nearest == vital), fitting[0])
            unit = _unit_word(column, kind)
            prefix = f"{circuit}_" if circuit else ""
            raise FixInput(
                f"{name}: “{column.header}” is a {kind} but not known which, and {vital.replace('_', ' ')} is missing; "
                f'add a line such as "{column.header}" = "{prefix}{channel_column(vital, unit)}" under [columns] in '
                f'the system file (or = "{IGNORE}")',
                code="column not identified",
                where=column.header,
            )
    if not held:
        raise FixInput(
            f"{name}: only the time is understood, no channel among {_quoted([c.header for c in columns])}; name the "
            "columns as in “suction_pressure_psig”, or map them under [columns] in the system file",
            code="no header",
            where=name,
        )


def _unit_word(column: _Column, kind: str) -> str:
    try:
        return units.canonical_unit(column.meaning.unit_word, kind)
    except FixInput:
        return example_unit(kind)


def _quoted(headers: Sequence[str]) -> str:
    shown = [f"“{h if len(h) <= 30 else h[:29] + '…'}”" for h in headers[:8]]
    return ", ".join(shown) + (" …" if len(headers) > 8 else "") if shown else "the columns"


def _say_columns(columns: list[_Column], system: System, name: str) -> list[Remark]:
    remarks = []
    understood = [c for c in columns if c.meaning.role not in ("unknown", "ignored")]
    texts = [c.header if c.header == c.meaning.name else f"“{c.header}” as {c.meaning.name}" for c in understood]
    remarks.append(Remark("columns read", f"Read {len(texts)} columns: {', '.join(texts)}.", name))
    for c in columns:
        if c.meaning.role == "ignored":
            remarks.append(Remark("column ignored", f"“{c.header}” is left out, as [columns] says.", c.header))
        elif c.meaning.role == "unknown":
            hint = f" (did you mean {c.meaning.nearest}?)" if c.meaning.nearest else ""
            remarks.append(Remark("column not read", f"“{c.header}” is not understood and left out{hint}.", c.header))
    headers = {c.header for c in columns}
    for header, _ in system.column_names:
        if header.strip() not in headers:
            near = difflib.get_close_matches(header, headers, n=1)
            hint = f"; did you mean “{near[0]}”?" if near else ""
            text = f"[columns] names “{header}”, which the log does not have{hint}"
            remarks.append(Remark("column not in log", text if hint else text + ".", header))
    return remarks


# --- times ------------------------------------------------------------------------------------------------------------


def _times(
    columns: list[_Column], table: Table, system: System, name: str, typed_times: Mapping[str, bool], quick: bool
) -> tuple[FloatArray, bool, bool, float, list[Remark]]:
    """Return time [s], whether the log's own times had no offset, whether they are elapsed, the offset, remarks."""
    column = next((c for c in columns if c.meaning.role == "time"), None)
    elapsed = next((c for c in columns if c.meaning.role == "elapsed"), None)
    if column is None:
        assert elapsed is not None
        found = numbers(elapsed.cells, elapsed.meaning.unit, "time", table.decimal, plain=quick)
        seconds = found.values * units.linear("time", elapsed.meaning.unit)[0]
        seconds[np.abs(seconds) > _BEYOND_INSTRUMENTS] = np.nan
        if not np.isfinite(seconds).any():
            shown = found.unread[0][1] if found.unread else "nothing"
            raise _no_times(name, elapsed.header, shown, "seconds since the start, such as 12.5")
        return seconds, False, True, 0.0, []
    remarks = []
    if elapsed is not None:
        text = f"Both “{column.header}” and “{elapsed.header}” are there; “{column.header}” is used."
        remarks.append(Remark("two time columns", text, elapsed.header))
    stamps = _stamps(column, columns, typed_times.get(column.header), quick)
    readable = np.isfinite(stamps.wall)
    if not readable.any():
        raise _no_times(name, column.header, _first_text(column.cells), "ISO 8601 such as 2025-06-01T14:05:00-05:00")
    offset, utc_offset, local, said = _offsets(stamps, readable, system, name)
    time = stamps.wall - offset
    return time, local, False, utc_offset, remarks + said


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
        if shown[:1].isdigit() and ":" in shown and "-" not in shown and "/" not in shown:
            hint += " (the day is missing)"
        elif "/" in shown or "." in shown:
            hint += " (day and month could be confused otherwise)"
    return FixInput(f"{name}: “{header}” holds “{shown}”; write times as {hint}", code="bad time", where=header)


def _stamps(column: _Column, columns: list[_Column], typed_local: bool | None, quick: bool) -> Stamps:
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


def _offsets(
    stamps: Stamps, readable: BoolArray, system: System, name: str
) -> tuple[FloatArray, float, bool, list[Remark]]:
    """Return the offset of every row [s], the one to write results with, whether none was written, and remarks."""
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
    return offset, utc_offset, bool(bare.any()) and not bool(written.any()), remarks


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


def _drop(table: Table, rows: np.ndarray[tuple[int], np.dtype[np.int64]], why: str, name: str) -> Remark:
    text = rows_text([int(i) for i in table.lines[rows]], table.kind_of_row)
    return Remark("rows dropped", f"{text[:1].upper()}{text[1:]} dropped: {why}.", name)


def _say_order(order: Order, table: Table, use: np.ndarray[tuple[int], np.dtype[np.int64]], name: str) -> list[Remark]:
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


def _say_gaps(time: FloatArray) -> list[Remark]:
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


def _merge(matrix: FloatArray, order: Order) -> FloatArray:
    """Put rows in order; of several rows with one time the last reading of each channel stands."""
    result = matrix[order.keep]
    if order.same_time:
        place = {int(row): i for i, row in enumerate(order.keep)}
        for kept, others in order.same_time:
            values = result[place[kept]]
            for other in reversed(others):
                values = np.where(np.isnan(values), matrix[other], values)
            result[place[kept]] = values
    return result


# --- readings ---------------------------------------------------------------------------------------------------------


def _say_unread(channels: list[_Column], raw: list[Numbers], table: Table, name: str) -> list[Remark]:
    remarks = []
    for column, found in zip(channels, raw, strict=True):
        if not found.unread:
            continue
        index, text = found.unread[0]
        if not np.isfinite(found.values).any():
            raise FixInput(
                f"{name}: “{column.header}” holds “{text}” ({rows_text([int(table.lines[index])], table.kind_of_row)}) "
                f"and not one number of {column.meaning.unit or 'steps'}",
                code="no numbers",
                where=column.header,
            )
        rows = rows_text([int(table.lines[i]) for i, _ in found.unread], table.kind_of_row)
        what = f"“{column.header}”: {rows} unreadable, such as “{text}”; taken as missing."
        remarks.append(Remark("cells not read", what, column.header))
    return remarks


def _same(columns: list[_Column], table: Table) -> tuple[BoolArray | None, list[Remark]]:
    column = next((c for c in columns if c.meaning.role == "same"), None)
    if column is None:
        return None, []
    yes = {"1", "1.0", "true", "yes", "y", "x", "same"}
    same = np.array([str(c).strip().lower() in yes for c in column.cells], np.bool_)
    return same, []


def _carry_over(channels: list[_Column], raw: list[Numbers], same: BoolArray, table: Table) -> list[Remark]:
    """Fill empty cells of rows marked "read again, unchanged" with the reading before."""
    filled: set[int] = set()
    for found in raw:
        if found.blank is None:
            continue
        for i in np.flatnonzero(same & found.blank).tolist():
            if i > 0 and np.isfinite(found.values[i - 1]):
                found.values[i] = found.values[i - 1]
                filled.add(i)
    if not filled:
        return []
    rows = rows_text([int(table.lines[i]) for i in sorted(filled)], table.kind_of_row)
    return [Remark("unchanged", f"{rows.capitalize()} marked “same”: empty cells take the reading before.", "same")]


def _read_by(columns: list[_Column], table: Table) -> tuple[str | None, list[Remark]]:
    column = next((c for c in columns if c.meaning.role == "read_by"), None)
    if column is None:
        return None, []
    words = [str(c).strip().lower() for c in column.cells if c is not None and str(c).strip()]
    known = [w for w in words if w in _READERS]
    remarks = []
    other = sorted(set(words) - set(_READERS))
    if other:
        text = f"read_by holds “{other[0][:24]}”; it takes person, photo or instrument."
        remarks.append(Remark("read_by not known", text, column.header))
    if not known:
        return None, remarks
    most = max(_READERS, key=known.count)
    if len(set(known)) > 1:
        text = f"Read by {', '.join(r for r in _READERS if r in known)}; most rows by {most}."
        remarks.append(Remark("read_by differs", text, column.header))
    return most, remarks


def _recordings(
    channels: list[_Column],
    matrix: FloatArray,
    time: FloatArray,
    same: BoolArray | None,
    read_by: str | None,
    system: System,
    name: str,
    remarks: list[Remark],
    *,
    elapsed: bool,
    local: bool,
    offset: float,
) -> tuple[Recording, ...]:
    atmosphere, said = site_atmosphere(system)
    gauges = [c for c in channels if c.meaning.kind == "pressure" and units.is_gauge(c.meaning.unit)]
    gauge_zero, about = _gauge_zero(system, atmosphere)
    if gauges:
        if said and system.instruments.pressure_reference in ("vented", "unknown"):
            remarks.append(said)
        if about:
            remarks.append(about)
    steps_of = [_resolution(matrix[:, i]) for i in range(matrix.shape[1])]
    named = sorted({c.meaning.circuit for c in channels if c.meaning.circuit}, key=lambda c: int(c[1:]))
    loose = [c for c in channels if not c.meaning.circuit and c.meaning.channel not in SHARED_CHANNELS]
    if named and loose:
        if "c1" in named:
            raise FixInput(
                f"{name}: “{loose[0].header}” names no circuit while other columns begin with {', '.join(named)}; "
                "put the circuit in front of it",
                code="circuit missing",
                where=loose[0].header,
            )
        named.insert(0, "c1")
        text = f"“{loose[0].header}” and others without a circuit are taken as c1."
        remarks.append(Remark("circuit assumed", text, loose[0].header))
    circuits: list[str | None] = list(named) if named else [system.circuit]
    made = []
    for circuit in circuits:
        own_remarks = list(remarks)
        held: dict[str, Channel] = {}
        own = np.zeros(len(time), np.bool_)
        for i, column in enumerate(channels):
            m = column.meaning
            shared = m.circuit is None and m.channel in SHARED_CHANNELS
            if named and not shared and (m.circuit or "c1") != circuit:
                continue
            if shared and m.channel in held:
                continue  # the circuit's own column comes first
            raw = matrix[:, i]
            values, wrong = _to_si(raw, m, gauge_zero)
            if m.unit == "inHg" and not (raw < 0).any():
                text = f"“{column.header}” carries no minus signs; its readings are taken as vacuum."
                own_remarks.append(Remark("vacuum without sign", text, column.header))
            if wrong:
                text = f"“{column.header}”: {wrong:,} readings below {_floor(m.kind)}; taken as missing."
                own_remarks.append(Remark("impossible readings", text, column.header))
            if not np.isfinite(values).any():
                text = f"“{column.header}” holds not one reading."
                own_remarks.append(Remark("channel empty", text, column.header))
                continue
            factor = units.linear(m.kind, m.unit, 0.0)[0]
            held[m.channel] = Channel(m.channel, values, m.unit, column.header, steps_of[i] * abs(factor))
            own |= np.isfinite(values)
        if not held:
            raise FixInput(f"{name} has no usable reading in any channel", code="no readings", where=name)
        own_time, own_same = time, same
        if not own.all():
            own_time = time[own]
            own_same = None if same is None else same[own]
            held = {k: replace(c, values=c.values[own]) for k, c in held.items()}
        marks, said_marks = _marks(system, circuit if named else None, own_time, elapsed=elapsed, offset=offset)
        made.append(
            Recording(
                time=own_time,
                channels=held,
                atmosphere=atmosphere,
                utc_offset=offset,
                elapsed=elapsed,
                same=own_same,
                read_by=read_by,
                circuit=circuit,
                marks=marks,
                remarks=(*own_remarks, *said_marks),
            )
        )
    return tuple(made)


def _floor(kind: str) -> str:
    return {"pressure": "a perfect vacuum", "temperature": "absolute zero"}.get(kind, "zero")


def _to_si(raw: FloatArray, meaning: Meaning, gauge_zero: float) -> tuple[FloatArray, int]:
    """Convert to SI; return the number of readings that cannot be, which are set to missing."""
    factor, offset = units.linear(meaning.kind, meaning.unit, gauge_zero)
    if meaning.unit == "inHg" and not (raw < 0).any():
        factor = -factor  # vacuum written without its sign
    values = raw * factor + offset
    if meaning.kind in ("pressure", "temperature"):
        wrong = values <= 0
        if wrong.any():
            values[wrong] = np.nan
            return values, int(wrong.sum())
    return values, 0


def _resolution(raw: FloatArray) -> float:
    """Return the smallest step between two different readings of a channel, in its own unit; 0 when there is none."""
    values = np.sort(raw)
    steps = np.diff(values)
    steps = steps[steps > 0]  # NaN compares false
    return float(f"{steps.min():.6g}") if len(steps) else 0.0


def _marks(
    system: System, circuit: str | None, time: FloatArray, *, elapsed: bool, offset: float
) -> tuple[tuple[Mark, ...], list[Remark]]:
    """Bring the marks of the system file to the clock of the log; those of other circuits stay out."""
    marks: list[Mark] = []
    lost = 0
    for mark in system.marks:
        of = mark.circuit or (system.circuit if circuit else None)
        if circuit and of and of != circuit:
            continue
        if mark.clock == "elapsed":
            moment = mark.time if elapsed else float(time[0]) + mark.time
        elif elapsed:
            lost += 1
            continue
        else:
            moment = mark.time - offset if mark.clock == "local" else mark.time
        marks.append(replace(mark, time=moment, clock="utc"))
    marks.sort(key=lambda m: m.time)
    remarks = []
    if lost:
        text = f"{lost} marks carry a time of day but the log counts seconds; write them in seconds from its start."
        remarks.append(Remark("marks not placed", text, "marks"))
    if marks and not elapsed and (marks[-1].time < time[0] - 3600 or marks[0].time > time[-1] + 3600):
        text = "All marks lie more than an hour outside the log; look at the clocks and at time_zone."
        remarks.append(Remark("marks outside the log", text, "marks"))
    return tuple(marks), remarks
