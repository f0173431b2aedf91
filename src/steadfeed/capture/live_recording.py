"""A recording that grows: readings go in one by one, a Recording comes out at any time without parsing anything again.

How readings become rows is said in live_rows.py. The recording is what reading the exported log (`log`) gives, to the
last bit, so that the last live judgement is the judgement of the log.
"""

from __future__ import annotations

import bisect
import datetime
import math
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from steadfeed.capture.channel_map import Placed
from steadfeed.capture.columns import channel_column
from steadfeed.capture.live_rows import (
    WIDEST_ROW,
    ClockError,
    Conversion,
    belongs,
    conversion,
    gauge_zero,
    logged_time,
    milliseconds,
    usable_number,
)
from steadfeed.capture.source import READERS, SAME
from steadfeed.circuit.channel import CHANNEL_KINDS, BoolArray, Channel, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.recording import Recording, Remark

_CHANNELS: Final = tuple(CHANNEL_KINDS)
_NUMBER: Final = {name: i for i, name in enumerate(_CHANNELS)}
#: One reading, small, because it is held as long as the challenge is open. ms: with the error of its clock taken out.
_ENTRY: Final = np.dtype(
    [
        ("ms", np.int64),
        ("sequence", np.int64),
        ("number", np.float64),
        ("stream", np.int16),
        ("unit", np.int8),
        ("channel", np.int8),
        ("reader", np.int8),
        ("same", np.bool_),
        ("timed", np.bool_),
    ]
)
_FIRST_ROOM: Final = 1024


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest reading of a channel. value: SI; at [s since the epoch]; unit, source, header: as received."""

    value: float
    at: float
    unit: str
    source: str
    header: str
    same: bool


@dataclass(slots=True)
class _Stream:
    """One life of a source. clock: how wrong it is; shift: what its times were moved by so far [s]."""

    key: tuple[str, str]
    clock: ClockError
    shift: int = 0


class _Column:
    """Numbers of one channel in the unit of its first reading, one a row, NaN where a row has none."""

    __slots__ = ("_seen", "numbers", "step", "unit")

    def __init__(self, unit: int, room: int) -> None:
        self.unit = unit
        self.numbers: FloatArray = np.full(room, np.nan)
        self.step = math.inf  # smallest step between two different numbers
        self._seen: list[float] = []  # the different numbers, rising

    def put(self, row: int, number: float) -> None:
        self.numbers[row] = number
        at = bisect.bisect_left(self._seen, number)
        if at < len(self._seen) and self._seen[at] == number:
            return
        self._seen.insert(at, number)
        if at:
            self.step = min(self.step, number - self._seen[at - 1])
        if at + 1 < len(self._seen):
            self.step = min(self.step, self._seen[at + 1] - number)


class LiveRecording:
    """Readings of one circuit while they come. May be used from several threads.

    system: site and gauges matter here. circuit: "c2" for a circuit that is watched beside the one under test.
    utc_offset: local time minus UTC with which the log is written [s]. since: what was taken earlier [s since the epoch]
    makes no row; a gateway may bring the rest of another day. newest: channel -> its newest usable reading.
    """

    _rows: int
    _row_ms: npt.NDArray[np.int64]
    _row_first: npt.NDArray[np.int64]  # where the first entry of each row stands
    _row_same: BoolArray
    _row_reader: npt.NDArray[np.int8]
    _columns: dict[int, _Column]
    _filled: set[int]  # channels of the open row
    _group: set[int]  # channels of its last millisecond
    _group_ms: int
    _group_first: int
    _joined: bool  # whether that millisecond went into a row that had begun before it
    _new_row: bool  # whether the next entry must begin a row
    _row_began: int  # time of the open row [ms]

    def __init__(
        self, system: System, *, circuit: str | None = None, utc_offset: float = 0.0, since: float = 0.0
    ) -> None:
        self.system = system
        self.circuit = circuit
        self.utc_offset = utc_offset
        self.newest: dict[str, Newest] = {}
        self._since = milliseconds(since)
        self._atmosphere, self._zero = gauge_zero(system)
        self._lock = threading.RLock()
        self._streams: list[_Stream] = []
        self._stream_numbers: dict[tuple[str, str], int] = {}
        self._units: list[str] = []
        self._conversions: dict[tuple[int, int], Conversion] = {}
        self._entries: npt.NDArray[Any] = np.empty(_FIRST_ROOM, _ENTRY)
        self._count = 0
        self._last = (-1, ("", ""), -1)  # what the last entry is ordered by
        self._late: list[tuple[Any, ...]] = []  # entries that wait to be put between others
        self._moved: set[int] = set()  # streams whose clock turned out to be wrong
        self._changed = 0
        self._start_rows(_FIRST_ROOM)

    def __len__(self) -> int:
        """Rows so far."""
        with self._lock:
            self._settle()
            return self._rows

    # -- in -----------------------------------------------------------------------------------------------------------
    def add(self, readings: Iterable[Placed], received_at: float) -> None:
        """Take readings in. received_at [s since the epoch]. Those of other circuits or without use are passed over."""
        with self._lock:
            for placed in readings:
                name = belongs(placed.channel, self.circuit)
                if name is not None:
                    self._take(name, placed, received_at)

    def _take(self, name: str, placed: Placed, received_at: float) -> None:
        reading = placed.reading
        stream = self._stream((reading.source, reading.boot_id))
        of = self._streams[stream]
        timed = reading.time is not None
        if reading.time is not None:
            of.clock.see(reading.time, received_at)
        channel, unit = _NUMBER[name], self._unit(placed.unit)
        into = self._conversion(channel, unit)
        number = usable_number(placed, into)
        if number is not None:
            taken = milliseconds(received_at if reading.time is None else reading.time)
            shift = of.shift if timed else 0
            entry = (
                taken + 1000 * shift,
                reading.sequence,
                number,
                stream,
                unit,
                channel,
                READERS.index(reading.read_by),
                reading.quality == SAME,
                timed,
            )
            self._place(entry)
            self._note(name, placed, into.si(number), entry[0] / 1000.0)
        if of.clock.seconds != of.shift:
            self._moved.add(stream)

    def _note(self, name: str, placed: Placed, value: float, at: float) -> None:
        before = self.newest.get(name)
        if before is None or at >= before.at:
            r = placed.reading
            self.newest[name] = Newest(value, at, placed.unit, r.source, r.header, r.quality == SAME)

    def _stream(self, key: tuple[str, str]) -> int:
        number = self._stream_numbers.get(key)
        if number is None:
            number = self._stream_numbers[key] = len(self._streams)
            self._streams.append(_Stream(key, ClockError()))
        return number

    def _unit(self, word: str) -> int:
        if word not in self._units:
            self._units.append(word)
        return self._units.index(word)

    def _conversion(self, channel: int, unit: int) -> Conversion:
        found = self._conversions.get((channel, unit))
        if found is None:
            found = conversion(_CHANNELS[channel], self._units[unit], self._zero)
            self._conversions[channel, unit] = found
        return found

    # -- entries in order -----------------------------------------------------------------------------------------------
    def _place(self, entry: tuple[Any, ...]) -> None:
        """Put the next entry into its row. One that comes late waits: `_settle` puts in all of them at once."""
        mine = (entry[0], self._streams[entry[3]].key, entry[1])
        if self._late or self._moved or mine <= self._last:
            self._late.append(entry)
            return
        self._make_room(1)
        self._entries[self._count] = entry
        self._count, self._last = self._count + 1, mine
        ms, _, number, _, unit, channel, reader, same, _ = entry
        self._put(self._count - 1, ms, channel, unit, number, reader, same)

    def _make_room(self, more: int) -> None:
        room = len(self._entries)
        if self._count + more > room:
            self._entries = np.concatenate([self._entries, np.empty(max(room, more), _ENTRY)])

    def _settle(self) -> None:
        """Put late entries where they belong and move wrong clocks, then make the rows from there on again."""
        if not self._late and not self._moved:
            return
        n, more = self._count, len(self._late)
        self._make_room(more)
        if more:
            self._entries[n : n + more] = self._late
            self._late.clear()
        new = self._entries[n : n + more].copy()
        held = self._entries[: n + more]
        for stream in self._moved:
            self._move_clock(stream, held)
        begin = 0
        if not self._moved:
            begin = int(np.searchsorted(held["ms"][:n], new["ms"].min(), "left"))
        part = held[begin:]
        part = part[self._order(part)]
        twice = np.zeros(len(part), np.bool_)
        twice[1:] = (part[1:]["ms"] == part[:-1]["ms"]) & (part[1:]["stream"] == part[:-1]["stream"])
        twice[1:] &= part[1:]["sequence"] == part[:-1]["sequence"]
        part = part[~twice]
        self._count = begin + len(part)
        self._entries[begin : self._count] = part
        from_start = bool(self._moved) or self._columns_change(new, part)
        self._moved.clear()
        if not self._count:
            return
        self._last = self._rank(self._count - 1)
        self._make_rows_again(begin, int(self._entries["ms"][begin]), from_start)

    def _order(self, entries: npt.NDArray[Any]) -> npt.NDArray[np.intp]:
        """Return the order of entries: by time, then by source and number."""
        place = {key: i for i, key in enumerate(sorted(self._stream_numbers))}
        by_key = np.array([place[stream.key] for stream in self._streams])
        return np.lexsort((entries["sequence"], by_key[entries["stream"]], entries["ms"]))

    def _rank(self, at: int) -> tuple[int, tuple[str, str], int]:
        """What an entry is ordered by: its time, then its source and number."""
        entry = self._entries[at]
        return int(entry["ms"]), self._streams[entry["stream"]].key, int(entry["sequence"])

    def _columns_change(self, new: npt.NDArray[Any], part: npt.NDArray[Any]) -> bool:
        """Tell whether new entries may change the unit or the resolution of a whole column."""
        for channel, unit in {(int(e["channel"]), int(e["unit"])) for e in new}:
            column = self._columns.get(channel)
            if column is None or column.unit != unit:
                return True
        cells = part["ms"] * 64 + part["channel"]
        return len(np.unique(cells)) != len(cells)  # two readings of one channel in one millisecond: one goes

    def _move_clock(self, stream: int, entries: npt.NDArray[Any]) -> None:
        """Move the times of a stream by the error of its clock."""
        of = self._streams[stream]
        by, of.shift = of.clock.seconds - of.shift, of.clock.seconds
        entries["ms"][(entries["stream"] == stream) & entries["timed"]] += 1000 * by
        for name, newest in self.newest.items():
            if newest.source == of.key[0]:
                self.newest[name] = replace(newest, at=newest.at + by)

    def _make_rows_again(self, begin: int, ms: int, from_start: bool) -> None:
        """Make the rows from an entry on again, or all of them. ms: time of that entry."""
        row = int(np.searchsorted(self._row_ms[: self._rows], ms, "right")) - 1
        if from_start or row < 0:
            self._start_rows(len(self._row_ms))
            row = first = 0
        else:
            first = min(int(self._row_first[row]), begin)
            for held in self._columns.values():
                held.numbers[row : self._rows] = np.nan
            self._rows = row
            self._open_new_row()
        part = self._entries[first : self._count]
        names = ("ms", "channel", "unit", "number", "reader", "same")
        for i, cell in enumerate(zip(*(part[name].tolist() for name in names), strict=True), first):
            self._put(i, *cell)

    # -- rows -----------------------------------------------------------------------------------------------------------
    def _start_rows(self, room: int) -> None:
        self._rows = 0
        self._row_ms = np.empty(room, np.int64)
        self._row_first = np.empty(room, np.int64)
        self._row_same = np.empty(room, np.bool_)
        self._row_reader = np.empty(room, np.int8)
        self._columns = {}
        self._open_new_row()

    def _open_new_row(self) -> None:
        self._filled, self._group = set(), set()
        self._group_ms, self._group_first = -1, 0
        self._joined, self._new_row = False, True
        self._row_began = -1

    def _put(self, at: int, ms: int, channel: int, unit: int, number: float, reader: int, same: bool) -> None:
        """Put the next entry in order into its row (the rule is in live_rows.py). at: where the entry stands."""
        if ms < self._since:
            return
        if ms != self._group_ms:
            self._group_ms, self._group_first, self._group = ms, at, set()
            full = self._rows > 0 and (channel in self._filled or ms - self._row_began > WIDEST_ROW)
            self._joined = not (self._new_row or full)
            if not self._joined:
                self._begin_row(ms, at, reader)
        elif channel in self._group:
            return  # the same channel again in this millisecond
        elif self._joined and channel in self._filled:
            self._part_group(ms)
        self._group.add(channel)
        self._filled.add(channel)
        self._write(channel, unit, number, same)

    def _begin_row(self, ms: int, at: int, reader: int) -> None:
        row = self._rows
        if row == len(self._row_ms):
            self._widen()
        self._row_ms[row], self._row_first[row] = ms, at
        self._row_same[row], self._row_reader[row] = True, reader
        self._row_began = ms
        self._rows = row + 1
        self._filled = set()
        self._new_row = False

    def _part_group(self, ms: int) -> None:
        """A millisecond that had joined a row holds a channel of that row: all of it begins the next row."""
        before = self._rows - 1
        for channel in self._group:
            self._columns[channel].numbers[before] = np.nan
        first = int(self._row_first[before])
        self._row_same[before] = bool(self._entries["same"][first : self._group_first].all())
        self._begin_row(ms, self._group_first, int(self._entries["reader"][self._group_first]))
        self._joined = False
        written: set[int] = set()
        for entry in self._entries[self._group_first : self._count]:
            channel = int(entry["channel"])
            if int(entry["ms"]) != ms or channel not in self._group:
                break
            if channel not in written:
                written.add(channel)
                self._write(channel, int(entry["unit"]), float(entry["number"]), bool(entry["same"]))
        self._filled = set(self._group)

    def _write(self, channel: int, unit: int, number: float, same: bool) -> None:
        row = self._rows - 1
        column = self._columns.get(channel)
        if column is None:
            column = self._columns[channel] = _Column(unit, len(self._row_ms))
        elif column.unit != unit:
            into = self._conversion(channel, column.unit)
            number = into.back(self._conversion(channel, unit).si(number))
        column.put(row, number)
        if not same:
            self._row_same[row] = False
        if row < self._changed:
            self._changed = row

    def _widen(self) -> None:
        room = len(self._row_ms)
        for name in ("_row_ms", "_row_first", "_row_same", "_row_reader"):
            held = getattr(self, name)
            setattr(self, name, np.concatenate([held, np.empty(room, held.dtype)]))
        for column in self._columns.values():
            column.numbers = np.concatenate([column.numbers, np.full(room, np.nan)])

    # -- out ----------------------------------------------------------------------------------------------------------
    def recording(self, marks: Sequence[Mark] = ()) -> Recording:
        """Return the readings so far. It does not change when more come. marks: times [s since the epoch]."""
        with self._lock:
            self._settle()
            n = self._rows
            time = self._times(n)
            channels = {}
            for channel in sorted(self._columns):
                column = self._columns[channel]
                into = self._conversion(channel, column.unit)
                name, unit = _CHANNELS[channel], self._units[column.unit]
                values = column.numbers[:n] * into.factor + into.offset
                step = float(f"{column.step:.6g}") if math.isfinite(column.step) else 0.0
                channels[name] = Channel(name, values, unit, channel_column(name, unit), step * abs(into.factor))
            same = self._row_same[:n].copy()
            return Recording(
                time=time,
                channels=channels,
                atmosphere=self._atmosphere,
                utc_offset=self.utc_offset,
                same=same if same.any() else None,
                read_by=self._reader(n),
                circuit=self.circuit or self.system.circuit,
                marks=self._marks(marks),
                remarks=self._remarks(),
            )

    def _times(self, n: int) -> FloatArray:
        seconds, rest = np.divmod(self._row_ms[:n], 1000)
        times: FloatArray = (seconds + self.utc_offset) + rest / 1000.0 - self.utc_offset
        return times

    def _reader(self, n: int) -> str | None:
        """Return who read most rows, None when instruments read all."""
        counts = np.bincount(self._row_reader[:n], minlength=len(READERS))
        if counts[READERS.index("instrument")] == n:
            return None
        return READERS[int(np.argmax(counts))]

    def _marks(self, marks: Sequence[Mark]) -> tuple[Mark, ...]:
        ours = [replace(m, time=logged_time(milliseconds(m.time), self.utc_offset), clock="utc") for m in marks]
        return tuple(sorted(ours, key=lambda mark: mark.time))

    def _remarks(self) -> tuple[Remark, ...]:
        said = []
        for of in self._streams:
            if of.shift:
                way = "slow" if of.shift > 0 else "fast"
                text = f"The clock of “{of.key[0]}” is {abs(of.shift):,} s {way}; its times were moved."
                said.append(Remark("clock set", text, of.key[0]))
        return tuple(said)

    def columns(self) -> tuple[str, ...]:
        """Name the channels that hold a reading, in the order of `rows`."""
        with self._lock:
            self._settle()
            return tuple(_CHANNELS[channel] for channel in sorted(self._columns))

    def rows(self, first: int = 0) -> tuple[FloatArray, FloatArray]:
        """Return times [s], shape (m,), and SI values, shape (m, channels of `columns`), from a row on."""
        with self._lock:
            self._settle()
            n = self._rows
            values = np.empty((max(n - first, 0), len(self._columns)))
            for k, channel in enumerate(sorted(self._columns)):
                into = self._conversion(channel, self._columns[channel].unit)
                values[:, k] = self._columns[channel].numbers[first:n] * into.factor + into.offset
            return self._times(n)[first:], values

    def take_changed(self) -> int:
        """Return the first row that was added or changed since the last call; the number of rows when none was."""
        with self._lock:
            self._settle()
            changed, self._changed = self._changed, max(self._rows - 1, 0)
            return changed

    def log(self) -> bytes:
        """Return the log: CSV with the columns of log files, one line a row, to be read with the same system."""
        with self._lock:
            self._settle()
            n = self._rows
            used = sorted(self._columns)
            header = ["time", *(channel_column(_CHANNELS[c], self._units[self._columns[c].unit]) for c in used)]
            same = self._row_same[:n]
            reader = self._reader(n)
            if reader is not None:
                header.append("read_by")
            if same.any():
                header.append("same")
            zone = datetime.timezone(datetime.timedelta(seconds=self.utc_offset))
            lines = [",".join(header)]
            numbers = [self._columns[c].numbers for c in used]
            for i in range(n):
                seconds, rest = divmod(int(self._row_ms[i]), 1000)
                moment = datetime.datetime.fromtimestamp(seconds, zone).replace(microsecond=1000 * rest)
                # in a row marked "same" an empty cell would take the reading before
                missing = "---" if same[i] else ""
                cells = [moment.isoformat(timespec="milliseconds")]
                cells += [missing if math.isnan(held[i]) else repr(float(held[i])) for held in numbers]
                if reader is not None:
                    cells.append(READERS[self._row_reader[i]])
                if same.any():
                    cells.append("1" if same[i] else "")
                lines.append(",".join(cells))
            return ("\n".join(lines) + "\n").encode()
