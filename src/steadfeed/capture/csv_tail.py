"""A growing CSV file, as a data logger or another program writes it: decoded line by line while it grows.

The decoder is pure: bytes go in as they appear, readings come out. A reading is numbered by its place in the file and
the file is known by its header and first row, so that reading the file again from its start (after a crash, say) gives
the same readings under the same numbers.
"""

from __future__ import annotations

import asyncio
import csv
import hashlib
import math
import os
import time
from collections.abc import AsyncGenerator, Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, ClassVar, Final

from steadfeed.capture.clock import one_local_offset, parse_stamp, zone
from steadfeed.capture.columns import Meaning, understand
from steadfeed.capture.limits import MAX_COLUMNS
from steadfeed.capture.reading_units import unit_of
from steadfeed.capture.source import READERS, SAME, Batch, Reading, Refused, Retry, Source, plain_text
from steadfeed.capture.table import Decimal, cell_number
from steadfeed.circuit.equipment import PressureReference
from steadfeed.errors import FixInput

_SEPARATORS: Final = (",", ";", "\t")
#: A header may stand below lines about the instrument; it is looked for in so many lines.
_HEADER_LINES: Final = 60
#: Longer lines are no rows of readings [bytes].
_LONGEST_LINE: Final = 65536
#: Rows that leave the decoder together.
_ROWS_AT_ONCE: Final = 50
_TRUE: Final = frozenset({"1", "1.0", "true", "yes", "y", "x", "same"})


@dataclass(frozen=True, slots=True)
class _Column:
    """A column as understood. unit: as in units.py, "" when the header does not say; use: it makes readings."""

    header: str
    meaning: Meaning
    unit: str
    kind: str
    use: bool


@dataclass(frozen=True, slots=True)
class Header:
    """The header row of a file: what stands between its cells, and its columns."""

    separator: str
    columns: tuple[_Column, ...]
    refused: tuple[tuple[str, str], ...]

    def where(self, role: str) -> int | None:
        """Return the place of the column with a role."""
        return next((i for i, column in enumerate(self.columns) if column.meaning.role == role), None)


class TailDecoder:
    """Bytes of a growing file to readings.

    name: of the source. file: its name, for messages. local_offset: local time minus UTC [s] at a local wall-clock time
    [s as if UTC], for times without an offset. reference: what a bare "psi" counts from. header: of the file before,
    for one that was emptied and goes on without a header.
    """

    def __init__(
        self,
        name: str,
        file: str,
        *,
        local_offset: Callable[[float], float] = lambda _: 0.0,
        reference: PressureReference = "unknown",
        header: Header | None = None,
    ) -> None:
        self.name = name
        self.file = file
        self.header = header
        self.boot_id = ""
        self._local_offset = local_offset
        self._reference = reference
        self._rest = b""
        self._lines = 0
        self._row = 0
        self._header_text = ""
        self._given = header is not None  # a header of the file before, until this one shows its own
        self._before: dict[int, str | None] = {}
        self._passing = False  # in the middle of a line that is too long

    def feed(self, data: bytes) -> Iterator[Batch | Refused]:
        """Take bytes in; yield the readings of the lines that they complete."""
        lines = (self._rest + data).split(b"\n")
        self._rest = lines.pop()
        if len(self._rest) > _LONGEST_LINE:
            self._rest, self._passing = b"", True
        together: list[Reading] = []
        for i, raw in enumerate(lines):
            if self._passing and i == 0:
                self._passing = False
                continue
            for item in self._line(raw):
                if isinstance(item, Refused):
                    yield item
                else:
                    together += item
            if len(together) >= _ROWS_AT_ONCE * 8:
                yield tuple(together)
                together = []
        if together:
            yield tuple(together)

    def finish(self) -> Iterator[Batch | Refused]:
        """Take the last line although nothing ends it: the file will not grow any more. A cut-off row is left out."""
        rest, self._rest = self._rest, b""
        if rest.strip() and not self._passing:
            yield from self._line(rest)

    def _line(self, raw: bytes) -> Iterator[Batch | Refused]:
        if self._lines == 0:
            if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
                raise FixInput(f"{self.file} is written in UTF-16; let the logger write UTF-8", code="not text")
            raw = raw.removeprefix(b"\xef\xbb\xbf")
        self._lines += 1
        text = _text(raw)
        content = text.strip()
        if not content or content.startswith("#") or len(raw) > _LONGEST_LINE:
            return
        if self.header is None or self._given or not content[:1].isdigit():
            found = find_header(content, self._reference)
            if found is not None:
                if self.header is None or self._given or content != self._header_text:
                    self._begin(found, content)
                    for header, why in found.refused:
                        yield Refused(self.name, header, why)
                return
            if self.header is None:
                if self._lines > _HEADER_LINES:
                    raise FixInput(
                        f"{self.file}: no header row with a time and channels such as suction_pressure_psig was found",
                        code="no header",
                        where=self.file,
                    )
                return
        yield from self._read_row(content)

    def _begin(self, header: Header, text: str) -> None:
        if header.where("time") is None:
            raise FixInput(
                f"{self.file} counts seconds from its start; to be followed live it needs a column “time”",
                code="no time column",
                where=self.file,
            )
        self.header, self._header_text, self._given = header, text, False
        self.boot_id, self._row = "", 0
        self._before.clear()

    def _read_row(self, content: str) -> Iterator[Batch | Refused]:
        header = self.header
        assert header is not None
        cells = _cells(content, header.separator)
        if len(cells) > len(header.columns) and not any(cells[len(header.columns) :]):
            del cells[len(header.columns) :]
        if len(cells) != len(header.columns):
            return  # a cut-off row, or none
        moment, offset = self._moment(header, cells)
        if moment is None:
            text = f"{self.file}: a time such as “{cells[header.where('time') or 0][:32]}” cannot be read"
            yield Refused(self.name, "", text)
            return
        if not self.boot_id:
            first = f"{self._header_text or header.columns}\n{content}"
            self.boot_id = hashlib.sha256(first.encode("utf-8", "replace")).hexdigest()[:16]
        readings = []
        by, same = self._by(header, cells)
        for k, (column, cell) in enumerate(zip(header.columns, cells, strict=True)):
            if not column.use:
                continue
            value, quality = _value(cell, column, header.separator)
            if same:
                quality = SAME
                value = value if cell.strip() else self._before.get(k)
            self._before[k] = value
            readings.append(
                Reading(
                    self.name,
                    self.boot_id,
                    self._row * len(header.columns) + k,
                    column.header,
                    value,
                    column.unit,
                    moment,
                    offset,
                    quality,
                    by,
                )
            )
        self._row += 1
        if readings:
            yield tuple(readings)

    def _by(self, header: Header, cells: list[str]) -> tuple[str, bool]:
        by, same = header.where("read_by"), header.where("same")
        reader = cells[by].strip().lower() if by is not None else ""
        return (
            reader if reader in READERS else "instrument",
            same is not None and cells[same].strip().lower() in _TRUE,
        )

    def _moment(self, header: Header, cells: list[str]) -> tuple[float | None, float | None]:
        at, date = header.where("time"), header.where("date")
        text = cells[at or 0].strip()
        if date is not None and "T" not in text:
            text = f"{cells[date].strip()}T{text}"
        wall, offset = parse_stamp(text)
        if math.isfinite(wall):
            if not math.isfinite(offset):
                offset = self._local_offset(wall)
            moment = wall - offset
            return (moment, offset) if 0.0 <= moment < 32_503_680_000.0 else (None, None)
        try:
            number = float(text)
        except ValueError:
            return None, None
        for per_second in (1.0, 1e3):
            if 9e8 < number / per_second < 4e9:
                return number / per_second, None
        return None, None


def find_header(line: str, reference: PressureReference = "unknown") -> Header | None:
    """Read a line as a header row; None when it is none: it needs a time and another column that means something."""
    best: Header | None = None
    most = 1
    for separator in _SEPARATORS:
        cells = _cells(line, separator)
        while cells and not cells[-1]:
            cells.pop()
        if not 2 <= len(cells) <= MAX_COLUMNS:
            continue
        columns, refused = [], []
        for cell in cells:
            column, why = _column(cell, reference)
            columns.append(column)
            if why:
                refused.append((cell[:200], why))
        roles = [column.meaning.role for column in columns]
        known = sum(
            role not in ("unknown", "ignored") or column.use for role, column in zip(roles, columns, strict=True)
        )
        if known > most and ("time" in roles or "elapsed" in roles):
            most, best = known, Header(separator, tuple(columns), tuple(refused))
    return best


def _column(header: str, reference: PressureReference) -> tuple[_Column, str]:
    """Understand a header; return it with the sentence why it is not used, or ""."""
    meaning = understand(header, reference)
    nothing = _Column(header, meaning, "", "", False)
    if meaning.role not in ("channel", "unknown") or not header.strip() or not plain_text(header):
        return nothing, ""
    if meaning.role == "channel" and meaning.unit:
        return _Column(header, meaning, "pct" if meaning.unit == "%" else meaning.unit, meaning.kind, True), ""
    if not meaning.unit_word:
        return _Column(header, meaning, "", meaning.kind, bool(meaning.kind)), ""
    try:
        unit, kind = unit_of(meaning.unit_word, reference)
    except FixInput as error:
        return nothing, f"“{header[:60]}”: {error.message}"
    return _Column(header, meaning, unit, kind, True), ""


def _cells(line: str, separator: str) -> list[str]:
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True))
    except csv.Error:
        return []
    return [cell.strip() for cell in rows[0]] if rows else []


def _text(raw: bytes) -> str:
    raw = raw.rstrip(b"\r")
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _value(cell: str, column: _Column, separator: str) -> tuple[str | None, str | None]:
    """Return (value, quality) of a cell: plain numbers keep their digits."""
    text = cell.strip()
    decimal: Decimal = "," if separator != "," and "," in text and "." not in text else "."
    plain = text.replace(",", ".") if decimal == "," else text
    if plain and plain.isascii() and "_" not in plain and len(plain) <= 40:
        try:
            if math.isfinite(float(plain)):
                return plain, None
        except ValueError:
            pass
    number = cell_number(text, column.unit, column.kind, decimal) if column.kind else math.nan
    if number is None:
        return None, "not readable"
    return (repr(number), None) if math.isfinite(number) else (None, None)


class CsvTail(Source):
    """Follows a growing CSV file: rows as they are written, whole lines only.

    A file that is renamed away and begun anew (rotation), emptied, or not there yet is followed through all of that.
    path: of the file. time_zone: IANA name for local times without an offset, None for this machine's. from_start:
    also send what the file holds already. every: how often it is looked at [s].
    """

    kind: ClassVar[str] = "csv"

    def __init__(
        self,
        name: str,
        path: str | os.PathLike[str],
        *,
        time_zone: str | None = None,
        reference: PressureReference = "unknown",
        from_start: bool = True,
        every: float = 0.2,
        silent_after: float = 10.0,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        super().__init__(name, silent_after=silent_after, retry=retry or Retry(0.2, 2.0), clock=clock)
        if time_zone is not None:
            zone(time_zone)  # an unknown one is refused now, in words
        self.path = Path(path)
        self._time_zone = time_zone
        self._reference = reference
        self._skip_old = not from_start
        self._every = every

    def _local_offset(self, wall: float) -> float:
        if self._time_zone is not None:
            return one_local_offset(wall, self._time_zone)
        parts = time.gmtime(wall)
        try:
            return wall - time.mktime((*parts[:8], -1))
        except OverflowError:
            return 0.0

    def _decoder(self, header: Header | None = None) -> TailDecoder:
        return TailDecoder(
            self.name, self.path.name, local_offset=self._local_offset, reference=self._reference, header=header
        )

    async def session(self) -> AsyncGenerator[Batch | Refused, None]:
        """Follow one file until another takes its place."""
        with await asyncio.to_thread(self.path.open, "rb") as file:
            decoder = self._decoder()
            skip, self._skip_old = self._skip_old, False
            head = b""
            while True:
                data, state, head = await asyncio.to_thread(self._look, file, head)
                if state == "emptied":
                    decoder = self._decoder(decoder.header)
                    continue
                for item in decoder.feed(data):
                    if not (skip and isinstance(item, tuple)):
                        yield item
                if data:
                    continue
                skip = False
                if state == "replaced":
                    for item in decoder.finish():
                        yield item
                    return
                await asyncio.sleep(self._every)

    def _look(self, file: BinaryIO, head: bytes) -> tuple[bytes, str, bytes]:
        """Return (new bytes, what became of the file, its first bytes as they are now)."""
        there = os.fstat(file.fileno())
        at = file.tell()
        file.seek(0)
        start = file.read(256)
        file.seek(at)
        if there.st_size < at or not start.startswith(head):
            file.seek(0)
            return b"", "emptied", b""
        data = file.read(1 << 18)
        if data:
            return data, "", start
        try:
            now = os.stat(self.path)
        except FileNotFoundError:
            return b"", "replaced", start
        same = (now.st_dev, now.st_ino) == (there.st_dev, there.st_ino)
        return b"", "" if same else "replaced", start
