"""Tables of cells to recordings: columns by their meaning, times in order, readings in SI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from steadfeed import units
from steadfeed.capture.clock import Order, put_in_order
from steadfeed.capture.columns import Meaning
from steadfeed.capture.placing import Column, check_columns, say_columns
from steadfeed.capture.table import Numbers, Table, numbers, rows_text
from steadfeed.capture.timing import dropped, refuse_mostly_bad, say_gaps, say_order, times_of
from steadfeed.circuit.channel import BoolArray, Channel, FloatArray
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
#: From here on it matters whether a gauge is vented or sealed: 0.2 psi [Pa].
_NOTABLE_ATMOSPHERE: Final = 1400.0


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


def _gauge_zero(channels: list[Column], system: System) -> tuple[float, float, list[Remark]]:
    """Return the air pressure at the site and the pressure that gauge readings count from [Pa], and remarks."""
    atmosphere, unknown = site_atmosphere(system)
    if not any(c.meaning.kind == "pressure" and units.is_gauge(c.meaning.unit) for c in channels):
        return atmosphere, atmosphere, []
    reference = system.instruments.pressure_reference
    if reference == "absolute":
        text = "Absolute sensors shown as gauge: the instrument is taken to have subtracted 14.696 psi (101,325 Pa)."
        return (
            atmosphere,
            units.STANDARD_ATMOSPHERE,
            [Remark("absolute sensor under a gauge header", text, "pressure_reference")],
        )
    if reference == "sealed":
        return atmosphere, units.STANDARD_ATMOSPHERE, []
    remarks = [] if unknown is None else [unknown]
    if reference == "unknown" and abs(atmosphere - units.STANDARD_ATMOSPHERE) > _NOTABLE_ATMOSPHERE:
        text = "What the gauges count from is not stated; they are taken as vented to the air at the site."
        remarks.append(Remark("gauges taken as vented", text, "pressure_reference"))
    return atmosphere, atmosphere, remarks


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
        Column(h, meanings[h], c) for h, c in zip(table.headers, table.columns, strict=True) if h or _any_cell(c)
    ]
    check_columns(columns, name)
    channels = [c for c in columns if c.meaning.role == "channel"]
    remarks += say_columns(columns, system, name)
    if not len(table):
        raise FixInput(f"{name} has a header but no rows of readings", code="no rows", where=name)

    times = times_of(columns, table, system, name, typed_times or {}, quick=quick)
    time = times.time
    remarks += times.remarks
    bad_time = ~np.isfinite(time)
    if bad_time.any():
        refuse_mostly_bad(bad_time, columns, table, name)
        remarks.append(dropped(table, np.flatnonzero(bad_time), "no readable time", name))

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
        remarks.append(dropped(table, np.flatnonzero(empty), "no reading in any channel", name))
    use = np.flatnonzero(~bad_time & ~empty)
    if not len(use):
        raise FixInput(f"{name} has no row with a time and a reading", code="no readings", where=name)

    order = put_in_order(time[use], matrix[use])
    remarks += say_order(order, table, use, name)
    matrix = _merge(matrix[use], order)
    time = order.time[order.keep]
    if same is not None:
        same = same[use][order.keep]
    read_by, said = _read_by(columns, table)
    remarks += said
    remarks += say_gaps(time)
    rows = _Rows(channels, matrix, time, same, read_by, times.elapsed, times.utc_offset)
    return _recordings(rows, system, name, remarks)


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Readings of all circuits in order of time. matrix: in the units of the headers, shape (n, channels)."""

    channels: list[Column]
    matrix: FloatArray
    time: FloatArray
    same: BoolArray | None
    read_by: str | None
    elapsed: bool
    utc_offset: float


def _any_cell(cells: Sequence[object] | FloatArray) -> bool:
    if isinstance(cells, np.ndarray):
        return bool(np.isfinite(cells).any())
    return any(c is not None and (not isinstance(c, str) or c.strip()) for c in cells)


def _say_unread(channels: list[Column], raw: list[Numbers], table: Table, name: str) -> list[Remark]:
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


def _same(columns: list[Column], table: Table) -> tuple[BoolArray | None, list[Remark]]:
    column = next((c for c in columns if c.meaning.role == "same"), None)
    if column is None:
        return None, []
    yes = {"1", "1.0", "true", "yes", "y", "x", "same"}
    same = np.array([str(c).strip().lower() in yes for c in column.cells], np.bool_)
    return same, []


def _carry_over(channels: list[Column], raw: list[Numbers], same: BoolArray, table: Table) -> list[Remark]:
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


def _read_by(columns: list[Column], table: Table) -> tuple[str | None, list[Remark]]:
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


def _recordings(rows: _Rows, system: System, name: str, remarks: list[Remark]) -> tuple[Recording, ...]:
    atmosphere, gauge_zero, said = _gauge_zero(rows.channels, system)
    remarks = [*remarks, *said]
    named, said = _circuits(rows.channels, name)
    remarks += said
    steps = [_smallest_step(rows.matrix[:, i]) for i in range(rows.matrix.shape[1])]
    circuits: list[str | None] = [*named] if named else [system.circuit]
    made = []
    for circuit in circuits:
        held: dict[str, Channel] = {}
        about: list[Remark] = []
        for i, column in enumerate(rows.channels):
            m = column.meaning
            shared = m.circuit is None and m.channel in SHARED_CHANNELS
            if named and not shared and (m.circuit or "c1") != circuit:
                continue
            if shared and m.channel in held:
                continue  # the circuit has a column of its own
            channel, text = _channel(column, rows.matrix[:, i], steps[i], gauge_zero)
            about += text
            if channel is not None:
                held[m.channel] = channel
        if not held:
            of = f" of circuit {circuit}" if circuit else ""
            raise FixInput(f"{name} has no usable reading in any channel{of}", code="no readings", where=name)
        time, same = rows.time, rows.same
        # what belongs to all circuits does not make a row one of this circuit
        theirs = [c for k, c in held.items() if not named or k not in SHARED_CHANNELS] or list(held.values())
        own = np.isfinite(np.stack([c.values for c in theirs])).any(axis=0)
        if not own.all():  # rows that hold readings of other circuits only
            time, same = time[own], None if same is None else same[own]
            held = {k: replace(c, values=c.values[own]) for k, c in held.items()}
        marks, said = _marks(system, circuit, named, time, rows)
        made.append(
            Recording(
                time=time,
                channels=held,
                atmosphere=atmosphere,
                utc_offset=rows.utc_offset,
                elapsed=rows.elapsed,
                same=same,
                read_by=rows.read_by,
                circuit=circuit,
                marks=marks,
                remarks=(*remarks, *about, *said),
            )
        )
    return tuple(made)


def _circuits(channels: list[Column], name: str) -> tuple[list[str], list[Remark]]:
    """Return the circuits that the columns name, in order, and what has to be said about columns that name none."""
    named = sorted({c.meaning.circuit for c in channels if c.meaning.circuit}, key=lambda c: int(c[1:]))
    loose = [c for c in channels if not c.meaning.circuit and c.meaning.channel not in SHARED_CHANNELS]
    if not named or not loose:
        return named, []
    first = loose[0].header
    if "c1" in named:
        raise FixInput(
            f"{name}: “{first}” names no circuit while other columns begin with {', '.join(named)}; put its circuit in "
            "front of it",
            code="circuit missing",
            where=first,
        )
    text = f"“{first}” and other columns without a circuit are taken as c1."
    return ["c1", *named], [Remark("circuit assumed", text, first)]


def _channel(column: Column, raw: FloatArray, step: float, gauge_zero: float) -> tuple[Channel | None, list[Remark]]:
    """Convert one column to SI; None when it holds not one reading. step: smallest step in its own unit."""
    m = column.meaning
    factor, offset = units.linear(m.kind, m.unit, gauge_zero)
    said = []
    if m.unit == "inHg" and not (raw < 0).any():
        factor = -factor
        text = f"“{column.header}” carries no minus signs; its readings are taken as vacuum."
        said.append(Remark("vacuum without sign", text, column.header))
    values = raw * factor + offset
    if m.kind in _FLOORS:
        wrong = values <= 0
        if wrong.any():
            values[wrong] = np.nan
            text = f"“{column.header}”: {int(wrong.sum()):,} readings below {_FLOORS[m.kind]}; taken as missing."
            said.append(Remark("impossible readings", text, column.header))
    if not np.isfinite(values).any():
        said.append(Remark("channel empty", f"“{column.header}” holds not one reading.", column.header))
        return None, said
    return Channel(m.channel, values, m.unit, column.header, step * abs(factor)), said


_FLOORS: Final = {"pressure": "a perfect vacuum", "temperature": "absolute zero"}


def _smallest_step(raw: FloatArray) -> float:
    """Return the smallest step between two different readings of a channel, in its own unit; 0 when there is none."""
    values = np.sort(raw)
    steps = np.diff(values)
    steps = steps[steps > 0]  # NaN compares false
    return float(f"{steps.min():.6g}") if len(steps) else 0.0


def _marks(
    system: System, circuit: str | None, named: Sequence[str], time: FloatArray, rows: _Rows
) -> tuple[tuple[Mark, ...], list[Remark]]:
    """Bring the marks of the system file to the clock of the log; those of other circuits stay out.

    A mark without a circuit belongs to the circuit that the system file is about, else to all.
    """
    elapsed, offset = rows.elapsed, rows.utc_offset
    marks: list[Mark] = []
    lost = 0
    for mark in system.marks:
        of = mark.circuit or system.circuit
        if of in named and of != circuit:
            continue
        if mark.clock == "elapsed":
            moment = mark.time if elapsed else float(rows.time[0]) + mark.time
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
