"""The exchanged tables: what they are called, which columns they have, what these mean, and their rows."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import sqlalchemy as sa

from steadfeed.records import readings
from steadfeed.records.schema import DERIVED, metadata, personal_columns, table

Kind = Literal["text", "number", "integer", "yes or no"]
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """One exchanged column. meaning: a phrase; words: the only values it takes, when there are such."""

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    words: tuple[str, ...] = ()
    needed: bool = False
    personal: bool = False


@dataclass(frozen=True, slots=True)
class Logical:
    """One exchanged table. rows: yields its rows in a fixed order. only_out: written for readers, not taken back."""

    name: str
    columns: tuple[Column, ...]
    rows: Callable[[sa.Connection], Iterator[Row]]
    meaning: str = ""
    only_out: bool = False


_LOCAL: Final = (
    "stream",
    "feed",
    "reading",
    "reading_batch",
    "sent_mark",
    "reading_conflict",
    "raw_file",
    "attachment_content",
)


def columns_of(name: str) -> tuple[Column, ...]:
    """Return the columns of a table of the schema, each with its meaning."""
    return tuple(
        Column(
            name=c.name,
            kind=_kind(c.type),
            meaning=(c.comment or "").partition(" [")[0].partition("; one of:")[0],
            unit=c.info.get("unit", ""),
            words=tuple(c.info.get("words", ())),
            needed=not c.nullable,
            personal=c.name in personal_columns(name),
        )
        for c in table(name).columns
    )


def _kind(kind: Any) -> Kind:
    if isinstance(kind, sa.Boolean):
        return "yes or no"
    if isinstance(kind, sa.Integer):
        return "integer"
    return "number" if isinstance(kind, sa.Double) else "text"


def _plain(name: str) -> Callable[[sa.Connection], Iterator[Row]]:
    where = table(name)
    order = [where.c[c] for c in ("created_at", "made_at") if c in where.c]

    def rows(t: sa.Connection) -> Iterator[Row]:
        query = sa.select(where).order_by(*order, *where.primary_key.columns).execution_options(yield_per=1000)
        for row in t.execute(query).mappings():
            yield dict(row)

    return rows


def _readings(t: sa.Connection) -> Iterator[Row]:
    for one in readings.readings_in_order(t):
        r = one.reading
        yield {
            "challenge_id": one.challenge_id, "source": r.source, "boot_id": r.boot_id, "sequence": r.sequence,
            "channel": r.channel, "header": r.header, "value": r.value, "unit": r.unit, "device_time": r.device_time,
            "utc_offset": r.utc_offset, "received_at": one.received_at, "quality": r.quality, "read_by": r.read_by,
        }  # fmt: skip


def _conflicts(t: sa.Connection) -> Iterator[Row]:
    where = table("reading_conflict")
    for row in t.execute(sa.select(where).order_by(where.c.key)).mappings():
        yield {k: v for k, v in row.items() if k != "key"}


def _files(t: sa.Connection) -> Iterator[Row]:
    where = table("raw_file")
    query = sa.select(where.c.sha256, where.c.size, where.c.received_at).order_by(where.c.received_at, where.c.sha256)
    for row in t.execute(query).mappings():
        yield {**row, "file": f"files/{row['sha256']}"}


def _contents(t: sa.Connection) -> Iterator[Row]:
    kept, content = table("attachment"), table("attachment_content")
    query = sa.select(kept.c.id, kept.c.sha256).join(content, content.c.attachment_id == kept.c.id)
    for row in t.execute(query.order_by(kept.c.made_at, kept.c.id)):
        yield {"attachment_id": row.id, "file": f"files/{row.sha256}"}


def _log_cells(t: sa.Connection) -> Iterator[Row]:
    """Yield the cells of the kept logs that are tables of text, as written: for those who read without steadfeed."""
    link = table("challenge_log")
    for sha256 in t.execute(sa.select(link.c.log_sha256).distinct().order_by(link.c.log_sha256)).scalars():
        for row, column, header, value in cells_of(readings.file_bytes(t, sha256)):
            yield {"log_sha256": sha256, "row": row, "column": column, "header": header, "value": value}


def cells_of(content: bytes) -> Iterator[tuple[int, int, str, str | None]]:
    """Yield (row, column, header, text) of a delimited log; a cell that its row does not have is None.

    Rows count from 0 below the header. Nothing is read into the text: what a cell means is the judge's work. A log that
    is no delimited text (Parquet) or has one object a line yields nothing: its file is exported whole.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    if "\x00" in text or text.lstrip()[:1] == "{":
        return
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        return
    separator = max(",;\t", key=lines[0].count)
    table_rows = csv.reader(io.StringIO("\n".join(lines)), delimiter=separator)
    headers = next(table_rows)
    for number, cells in enumerate(table_rows):
        for column, header in enumerate(headers):
            yield number, column, header, cells[column] if column < len(cells) else None


_READING: Final = (
    Column("challenge_id", "text", "on which challenge", needed=True),
    Column("source", "text", "name of the source", needed=True),
    Column("boot_id", "text", "one life of the source", needed=True),
    Column("sequence", "integer", "number that the source gave it", needed=True),
    Column("channel", "text", "quantity and place; empty: not mapped", needed=True),
    Column("header", "text", "name as received", needed=True),
    Column("value", "text", "value as received; missing: the source sent none"),
    Column("unit", "text", "unit as received", needed=True),
    Column("device_time", "number", "taken at, by the clock of the source", "s since 1970-01-01 UTC"),
    Column("utc_offset", "number", "local time minus UTC at the source", "s"),
    Column("received_at", "number", "received at", "s since 1970-01-01 UTC", needed=True),
    Column("quality", "text", "what the source says about it"),
    Column("read_by", "text", "who or what read it", needed=True),
)
_CONFLICT: Final = tuple(c for c in columns_of("reading_conflict") if c.name != "key")
_FILE: Final = (
    *(c for c in columns_of("raw_file") if c.name != "packed"),
    Column("file", "text", "where its bytes are in this export", needed=True),
)
_CONTENT: Final = (
    Column("attachment_id", "text", "of which attachment", needed=True),
    Column("file", "text", "where its bytes are in this export", needed=True),
)
_CELL: Final = (
    Column("log_sha256", "text", "hash of the log", needed=True),
    Column("row", "integer", "row below the header, from 0", needed=True),
    Column("column", "integer", "column, from 0", needed=True),
    Column("header", "text", "its header as written", needed=True),
    Column("value", "text", "the cell as written; missing: the row has no such cell"),
)


def logical_tables() -> tuple[Logical, ...]:
    """Return the exchanged tables in an order in which each comes after those that it refers to."""
    plain = [t.name for t in metadata.sorted_tables if t.name not in DERIVED and t.name not in _LOCAL]
    first = Logical("raw_file", _FILE, _files, "logs and system files as received")
    return (
        first,
        *(Logical(name, columns_of(name), _plain(name)) for name in plain),
        Logical("attachment_content", _CONTENT, _contents, "attachments whose content was not erased"),
        Logical("reading", _READING, _readings, "readings that came one by one, as received"),
        Logical("reading_conflict", _CONFLICT, _conflicts, "second, different readings under a number that was taken"),
        Logical("log_cell", _CELL, _log_cells, "cells of the kept logs, for reading elsewhere", only_out=True),
    )


def without_people(name: str, row: Row) -> Row | None:
    """Return a row without data about people; None when nothing of it may go out."""
    if name == "entry_value":
        return None
    hidden = personal_columns(name) if name in metadata.tables else frozenset()
    return {k: (None if k in hidden else v) for k, v in row.items()}


def json_schema(tables: tuple[Logical, ...]) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of one line of an export: {"table": …, "row": {…}}."""
    kinds = {"text": "string", "number": "number", "integer": "integer", "yes or no": "boolean"}

    def column(c: Column) -> dict[str, Any]:
        kind: Any = kinds[c.kind] if c.needed else [kinds[c.kind], "null"]
        said: dict[str, Any] = {"type": kind, "description": c.meaning + (f" [{c.unit}]" if c.unit else "")}
        if c.words:
            said["enum"] = [*c.words, *([] if c.needed else [None])]
        return said

    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "steadfeed records, one row a line",
        "oneOf": [
            {
                "type": "object",
                "properties": {
                    "table": {"const": one.name},
                    "row": {
                        "type": "object",
                        "properties": {c.name: column(c) for c in one.columns},
                        "required": [c.name for c in one.columns],
                        "additionalProperties": False,
                    },
                },
                "required": ["table", "row"],
                "additionalProperties": False,
            }
            for one in tables
        ],
    }


def dictionary_rows(tables: tuple[Logical, ...]) -> list[Mapping[str, str]]:
    """Return the data dictionary: one row a column, with what an empty cell means."""
    return [
        {
            "table": one.name,
            "column": c.name,
            "kind": c.kind,
            "unit": c.unit,
            "meaning": c.meaning,
            "values": " | ".join(c.words),
            "empty": "never" if c.needed else "not known, or none",
            "about a person": "yes" if c.personal else "",
            "taken back by import": "no" if one.only_out else "yes",
        }
        for one in tables
        for c in one.columns
    ]


def dumps(value: Any) -> str:
    """Return JSON on one line, numbers so that they come back equal."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
