"""What can be saved from a damaged SQLite file: every row that can still be read, into a new store."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from steadfeed.errors import FixInput
from steadfeed.records import derived
from steadfeed.records.engine import driver_connection
from steadfeed.records.schema import DERIVED, metadata
from steadfeed.records.store import open_store

_CHUNK: Final = 500


@dataclass(slots=True)
class Saved:
    """What was read from a damaged file. rows: read by table; damaged: tables of which something is lost.

    expected: rows that the table should have, where that can still be told. orphans: rows saved without their owner.
    """

    rows: dict[str, int] = field(default_factory=dict)
    expected: dict[str, int] = field(default_factory=dict)
    damaged: list[str] = field(default_factory=list)
    orphans: int = 0


def salvage(damaged: Path, target: Path | None) -> Saved:
    """Read every readable row of a damaged store and write it into a new one (None: only count).

    The damaged file is only read. Raises FixInput when not even its list of tables can be read.
    """
    if not damaged.is_file():
        raise FixInput(f"There is no store at {damaged}", code="no store", where=str(damaged))
    if target is not None and target.exists():
        raise FixInput(f"{target} exists already; choose another name", code="file exists", where=str(target))
    saved = Saved()
    with (
        tempfile.TemporaryDirectory(prefix="steadfeed-") as folder,
        closing(sqlite3.connect(_copy(damaged, Path(folder)), isolation_level=None)) as old,
    ):
        old.row_factory = sqlite3.Row
        old.execute("PRAGMA writable_schema=ON")  # lets SQLite step over a table whose own description is lost
        try:
            there = {row[0] for row in old.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        except sqlite3.Error as error:
            raise FixInput(
                f"Nothing can be read from {damaged} ({error}); go back to the last backup",
                code="store lost",
                where=str(damaged),
            ) from error
        if target is None:
            for name in _tables(there):
                for _ in _read(old, name, saved):
                    pass
            return saved
        with open_store(target) as new:
            _write(old, new.engine, _tables(there), saved)
    return saved


def _copy(damaged: Path, folder: Path) -> Path:
    """Copy a damaged store with its log, filled up with zeros to the length that it says it has.

    SQLite refuses every page of a file that was cut short, although those that are there can be read.
    """
    copy = folder / "damaged.db"
    shutil.copyfile(damaged, copy)
    log = damaged.with_name(damaged.name + "-wal")
    if log.exists():
        shutil.copyfile(log, copy.with_name(copy.name + "-wal"))
    with copy.open("r+b") as file:
        head = file.read(100)
        page = int.from_bytes(head[16:18], "big")
        wanted = int.from_bytes(head[28:32], "big") * (65536 if page == 1 else page)
        if head[:16] == b"SQLite format 3\x00" and file.seek(0, 2) < wanted <= 2**40:
            file.truncate(wanted)
    return copy


def _tables(there: set[str]) -> list[str]:
    return [t.name for t in metadata.sorted_tables if t.name in there and t.name not in DERIVED]


def _write(old: sqlite3.Connection, engine: sa.Engine, names: list[str], saved: Saved) -> None:
    with engine.connect().execution_options(steadfeed_write=True) as connection:
        raw = driver_connection(connection)
        raw.execute("PRAGMA foreign_keys=OFF")  # a row whose owner is lost is still kept
        raw.execute("BEGIN IMMEDIATE")
        for name in names:
            columns = [c.name for c in metadata.tables[name].columns]
            have = [row["name"] for row in old.execute(f"PRAGMA table_info({name})")]
            use = [c for c in columns if c in have]
            sql = f"INSERT OR IGNORE INTO {name} ({', '.join(use)}) VALUES ({', '.join('?' * len(use))})"
            for rows in _read(old, name, saved):
                raw.executemany(sql, [tuple(row[c] for c in use) for row in rows])
        raw.execute("COMMIT")
        saved.orphans = len(raw.execute("PRAGMA foreign_key_check").fetchall())
    with engine.connect().execution_options(steadfeed_write=True) as connection, connection.begin():
        connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        derived.make_again(connection)


def _read(old: sqlite3.Connection, name: str, saved: Saved) -> Iterator[list[sqlite3.Row]]:
    """Yield the readable rows of a table in chunks, stepping over what cannot be read."""
    parts: list[tuple[str, str, tuple[int, ...]]] = [("rowid", "", ())]
    if name == "reading":
        parts = [("sequence", "stream_key = ? AND ", (key,)) for key in _stream_keys(old)]
    saved.rows[name] = 0
    for column, where, given in parts:
        for rows in _walk(old, name, column, where, given, saved):
            saved.rows[name] += len(rows)
            yield rows
    try:
        saved.expected[name] = old.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
    except sqlite3.Error:
        _note(saved, name)
    if saved.expected.get(name, 0) > saved.rows[name]:
        _note(saved, name)


def _walk(
    old: sqlite3.Connection, name: str, column: str, where: str, given: tuple[int, ...], saved: Saved
) -> Iterator[list[sqlite3.Row]]:
    """Walk along an integer key; where rows cannot be read, find the next key from which they can."""
    sql = f"SELECT {column} AS walk_key, * FROM {name} WHERE {where}{column} > ? ORDER BY {column} LIMIT ?"
    lowest = _end(old, name, column, where, given, "ASC")
    highest = _end(old, name, column, where, given, "DESC")
    at = -1 if lowest is None else lowest - 1
    last = 2**40 if highest is None else highest
    chunk = _CHUNK
    while True:
        rows = _try(old, sql, (*given, at, chunk))
        if rows is None:
            _note(saved, name)
            if chunk > 1:
                chunk = 1  # come close to the damage row by row
                continue
            further = _next_readable(old, sql, given, at, last)
            if further is None:
                return
            at = further
            continue
        if not rows:
            return
        yield rows
        at, chunk = rows[-1]["walk_key"], min(_CHUNK, chunk * 2)


def _next_readable(old: sqlite3.Connection, sql: str, given: tuple[int, ...], at: int, last: int) -> int | None:
    """Return the least key after which a row can be read, knowing that none can after `at`."""
    bad, step = at, 1
    while _try(old, sql, (*given, at + step, 1)) is None:
        bad = at + step
        step *= 2
        if bad > last:
            return None
    good = at + step
    while good - bad > 1:
        middle = (good + bad) // 2
        if _try(old, sql, (*given, middle, 1)) is None:
            bad = middle
        else:
            good = middle
    return good


def _try(old: sqlite3.Connection, sql: str, given: tuple[int, ...]) -> list[sqlite3.Row] | None:
    try:
        return old.execute(sql, given).fetchall()
    except sqlite3.Error:
        return None


def _end(old: sqlite3.Connection, name: str, column: str, where: str, given: tuple[int, ...], order: str) -> int | None:
    """Return the first or last key of a table, None when that cannot be told."""
    rows = _try(old, f"SELECT {column} FROM {name} WHERE {where}1 ORDER BY {column} {order} LIMIT 1", given)
    if rows is None:
        return None
    return int(rows[0][0]) if rows else 0


def _stream_keys(old: sqlite3.Connection) -> list[int]:
    try:
        return [row[0] for row in old.execute("SELECT key FROM stream")]
    except sqlite3.Error:
        return list(range(1, 1000))


def _note(saved: Saved, name: str) -> None:
    if name not in saved.damaged:
        saved.damaged.append(name)
