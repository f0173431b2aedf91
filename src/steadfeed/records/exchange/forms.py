"""How rows are written into files and read back: CSV, Parquet, JSON lines."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final, Protocol

from steadfeed.errors import FixInput, InstallPart
from steadfeed.records.exchange.logical import Column, Logical, Row, dumps

_NUMBER: Final = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")
_CHUNK: Final = 5_000


class Form(Protocol):
    """A way to write tables."""

    ending: str

    def write(self, path: Path, table: Logical, rows: Iterable[Row]) -> int:
        """Write rows into a file and return how many."""

    def read(self, path: Path, table: Logical) -> Iterator[Row]:
        """Yield the rows of a file."""


class Csv:
    """Comma-separated, UTF-8, a header row. Missing is an empty cell; an empty text is written \\empty.

    A text that begins with a backslash, or with what a spreadsheet would take for a formula, gets one backslash in
    front, which is taken off again when it is read.
    """

    ending = ".csv"

    def write(self, path: Path, table: Logical, rows: Iterable[Row]) -> int:
        """Write rows into a file and return how many."""
        count = 0
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\r\n")  # as RFC 4180; a lone \r in a text is then quoted too
            writer.writerow([c.name for c in table.columns])
            for row in rows:
                writer.writerow([_cell(c, row[c.name]) for c in table.columns])
                count += 1
        return count

    def read(self, path: Path, table: Logical) -> Iterator[Row]:
        """Yield the rows of a file."""
        usual = csv.field_size_limit(100_000_000)  # the limit is the whole process's: put it back
        try:
            yield from self._rows(path, table)
        finally:
            csv.field_size_limit(usual)

    def _rows(self, path: Path, table: Logical) -> Iterator[Row]:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file)
            header = next(reader, [])
            columns = _match(header, table, path)
            for number, cells in enumerate(reader, 2):
                if len(cells) != len(columns):
                    raise FixInput(
                        f"Line {number} of {path.name} has {len(cells)} cells for {len(columns)} columns",
                        code="bad row",
                    )
                yield {c.name: _value(c, cell, path, number) for c, cell in zip(columns, cells, strict=True)}


def _cell(column: Column, value: Any) -> str:
    if value is None:
        return ""
    if column.kind == "yes or no":
        return "1" if value else "0"
    if column.kind == "number":
        return repr(float(value))
    if column.kind == "integer":
        return str(int(value))
    text = str(value)
    if text == "":
        return "\\empty"
    if text[0] == "\\" or (text[0] in "=+-@\t\r" and not _NUMBER.fullmatch(text)):
        return "\\" + text
    return text


def _value(column: Column, cell: str, path: Path, line: int) -> Any:
    if cell == "":
        return None
    try:
        if column.kind == "yes or no":
            return {"1": True, "0": False, "true": True, "false": False}[cell.lower()]
        if column.kind == "number":
            return float(cell)
        if column.kind == "integer":
            return int(cell)
    except (ValueError, KeyError):
        raise FixInput(
            f"Line {line} of {path.name}: “{cell[:40]}” cannot be the {column.name} of a row", code="bad value"
        ) from None
    if cell == "\\empty":
        return ""
    return cell[1:] if cell[0] == "\\" else cell


class JsonLines:
    """One JSON object a line: {"table": …, "row": {…}}; the schema lies beside it."""

    ending = ".jsonl"

    def write(self, path: Path, table: Logical, rows: Iterable[Row]) -> int:
        """Write rows into a file and return how many."""
        count = 0
        with path.open("w", encoding="utf-8", newline="\n") as file:
            for row in rows:
                file.write(dumps({"table": table.name, "row": {c.name: row[c.name] for c in table.columns}}) + "\n")
                count += 1
        return count

    def read(self, path: Path, table: Logical) -> Iterator[Row]:
        """Yield the rows of a file."""
        with path.open(encoding="utf-8") as file:
            for number, line in enumerate(file, 1):
                try:
                    row = json.loads(line)["row"]
                    columns = _match(list(row), table, path)
                except (ValueError, KeyError, TypeError):
                    raise FixInput(f"Line {number} of {path.name} is no row", code="bad row") from None
                yield {c.name: row[c.name] for c in columns}


class Parquet:
    """Parquet, one file a table, types as they are."""

    ending = ".parquet"

    def write(self, path: Path, table: Logical, rows: Iterable[Row]) -> int:
        """Write rows into a file and return how many."""
        pa, pq = _pyarrow()
        kinds = {"text": pa.string(), "number": pa.float64(), "integer": pa.int64(), "yes or no": pa.bool_()}
        schema = pa.schema(
            [pa.field(c.name, kinds[c.kind], metadata={"meaning": c.meaning, "unit": c.unit}) for c in table.columns]
        )
        count = 0
        with pq.ParquetWriter(path, schema, compression="zstd") as writer:
            for some in _chunks(rows):
                arrays = [pa.array([row[c.name] for row in some], kinds[c.kind]) for c in table.columns]
                writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
                count += len(some)
        return count

    def read(self, path: Path, table: Logical) -> Iterator[Row]:
        """Yield the rows of a file."""
        pa, pq = _pyarrow()
        try:
            file = pq.ParquetFile(path)
        except (pa.ArrowException, OSError) as error:
            raise FixInput(f"{path.name} is no Parquet file", code="bad file") from error
        columns = _match(list(file.schema_arrow.names), table, path)
        for batch in file.iter_batches(_CHUNK):
            for row in batch.to_pylist():
                yield {c.name: row[c.name] for c in columns}


def _pyarrow() -> tuple[Any, Any]:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ModuleNotFoundError as error:
        raise InstallPart(
            "Parquet needs the part “archive”; install steadfeed[archive]", code="part missing"
        ) from error
    return pa, pq


def _chunks(rows: Iterable[Row]) -> Iterator[list[Row]]:
    some: list[Row] = []
    for row in rows:
        some.append(row)
        if len(some) >= _CHUNK:
            yield some
            some = []
    if some:
        yield some


def _match(header: list[str], table: Logical, path: Path) -> list[Column]:
    """Return the columns of a file in its order. Raises FixInput for one that this version does not know."""
    known = {c.name: c for c in table.columns}
    strange = [name for name in header if name not in known]
    if strange:
        raise FixInput(
            f"{path.name} has the column “{strange[0]}”, which this steadfeed does not know; update it",
            code="unknown field",
        )
    missing = [c.name for c in table.columns if c.needed and c.name not in header]
    if missing:
        raise FixInput(f"{path.name} lacks the column “{missing[0]}”", code="missing field")
    return [known[name] for name in header]


FORMS: Final[dict[str, Form]] = {"csv": Csv(), "parquet": Parquet(), "json": JsonLines()}
