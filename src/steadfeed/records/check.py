"""Is the store sound? Every hash made again, every edit applied again, and what the database itself says."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from steadfeed.records import derived, entries, readings
from steadfeed.records.engine import driver_connection
from steadfeed.records.schema import THINGS, metadata, table

if TYPE_CHECKING:
    from steadfeed.records.store import Store


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that is not as it was written. code: stable word; text: one sentence; where: table and row."""

    code: str
    text: str
    where: str = ""


@dataclass(slots=True)
class Report:
    """What a check found. counts: rows by table; a table that could not be read to the end is in `problems`."""

    place: str
    engine: str
    problems: list[Problem] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.problems


def check(store: Store) -> Report:
    """Check a whole store. Reads everything; changes nothing; never raises for damage, which goes into the report."""
    report = Report(store.place, store.engine.dialect.name)
    checks: tuple[Callable[[sa.Connection], Iterator[Problem]], ...] = (
        _file if store.on_sqlite else _server(report),
        _counts(report),
        _files,
        _attachments,
        _verdicts,
        _batches,
        _edits,
        _derived,
    )
    for look in checks:
        try:
            with store.engine.connect() as t, t.begin():
                for problem in look(t):
                    report.problems.append(problem)
                    if len(report.problems) >= 200:
                        report.remarks.append("More than 200 problems: the rest is not listed.")
                        return report
        except (sa.exc.DBAPIError, sqlite3.Error, ValueError) as error:
            cause = error.orig if isinstance(error, sa.exc.DBAPIError) and error.orig else error
            problem = Problem("unreadable", f"The store cannot be read on: {str(cause).splitlines()[0]}")
            if problem not in report.problems:
                report.problems.append(problem)
    return report


def _file(t: sa.Connection) -> Iterator[Problem]:
    raw = driver_connection(t)
    for (said,) in raw.execute("PRAGMA integrity_check(50)"):
        if said != "ok":
            yield Problem("file damaged", f"The file is damaged: {said}")
    for name, row, parent, _ in raw.execute("PRAGMA foreign_key_check"):
        yield Problem(
            "row without its owner", f"A row of {name} refers to a row of {parent} that is gone", f"{name} {row}"
        )


def _server(report: Report) -> Callable[[sa.Connection], Iterator[Problem]]:
    def look(t: sa.Connection) -> Iterator[Problem]:
        for name in ("fsync", "full_page_writes"):
            if t.execute(sa.text(f"SHOW {name}")).scalar_one() != "on":
                yield Problem(
                    "server setting", f"The server runs with {name} = off: a power cut can lose records", name
                )
        if t.execute(sa.text("SHOW data_checksums")).scalar_one() != "on":
            report.remarks.append("The server keeps no checksums of its pages (initdb --data-checksums does).")

    return look


def _counts(report: Report) -> Callable[[sa.Connection], Iterator[Problem]]:
    def look(t: sa.Connection) -> Iterator[Problem]:
        for name, where in metadata.tables.items():
            try:
                report.counts[name] = t.execute(sa.select(sa.func.count()).select_from(where)).scalar_one()
            except sa.exc.DBAPIError as error:
                yield Problem("unreadable", f"The table {name} cannot be read to its end: {error.orig}", name)

    return look


def _files(t: sa.Connection) -> Iterator[Problem]:
    where = table("raw_file")
    for row in t.execute(sa.select(where.c.sha256, where.c.size, where.c.packed), execution_options={"yield_per": 50}):
        try:
            content: bytes | None = zlib.decompress(row.packed)
        except zlib.error:
            content = None
        if content is None or len(content) != row.size or hashlib.sha256(content).hexdigest() != row.sha256:
            yield Problem("file changed", "A kept log no longer matches its hash", f"raw_file {row.sha256[:12]}")


def _attachments(t: sa.Connection) -> Iterator[Problem]:
    kept, content = table("attachment"), table("attachment_content")
    query = sa.select(kept.c.id, kept.c.sha256, content.c.content).join(content, content.c.attachment_id == kept.c.id)
    for row in t.execute(query, execution_options={"yield_per": 20}):
        if hashlib.sha256(row.content).hexdigest() != row.sha256:
            yield Problem("attachment changed", "An attachment no longer matches its hash", f"attachment {row.id}")


def _verdicts(t: sa.Connection) -> Iterator[Problem]:
    where = table("verdict")
    query = sa.select(where.c.id, where.c.supersedes, where.c.judgement, where.c.judgement_sha256, where.c.verdict)
    known: set[str] = set()
    chain: list[tuple[str, str]] = []
    for row in t.execute(query, execution_options={"yield_per": 200}):
        known.add(row.id)
        if row.supersedes:
            chain.append((row.id, row.supersedes))
        if hashlib.sha256(row.judgement.encode()).hexdigest() != row.judgement_sha256:
            yield Problem("verdict changed", "A judgement no longer matches its hash", f"verdict {row.id}")
        elif json.loads(row.judgement).get("verdict") != row.verdict:
            yield Problem("verdict changed", "A verdict differs from its own judgement", f"verdict {row.id}")
    for new, old in chain:
        if old not in known:
            yield Problem("verdict missing", "The verdict that another stands in place of is gone", f"verdict {new}")


def _batches(t: sa.Connection) -> Iterator[Problem]:
    """Make the hash of each batch of readings again."""
    batch = table("reading_batch")
    wanted = {row.key: (row.readings, row.sha256) for row in t.execute(sa.select(batch))}
    for key, lines in readings.lines_by_batch(t):
        count, sha256 = wanted.pop(key, (0, ""))
        if len(lines) != count:
            yield Problem(
                "readings missing", f"{count} readings were written together, {len(lines)} are there", f"batch {key}"
            )
        elif readings.batch_hash(sorted(lines)) != sha256:
            yield Problem("readings changed", f"One of {count} readings is not as it was received", f"batch {key}")
    for key, (count, _) in wanted.items():
        if count:
            yield Problem("readings missing", f"{count} readings were written together, none is there", f"batch {key}")


def _edits(t: sa.Connection) -> Iterator[Problem]:
    """Apply every edit again and compare with the rows as they stand."""
    entry, value = table("entry"), table("entry_value")
    made: dict[str, dict[str, Any]] = {}
    edits: dict[tuple[str, str, str], list[entries.Entry]] = {}
    query = sa.select(entry, value.c.entry_id, value.c.value.label("personal")).select_from(
        entry.outerjoin(value, value.c.entry_id == entry.c.id)
    )
    for row in t.execute(query, execution_options={"yield_per": 1000}):
        if row.kind == "create":
            first = json.loads(row.value or "{}")
            first.update(json.loads(row.personal or "{}"))
            made[row.thing_id] = first
        else:
            edits.setdefault((row.thing, row.thing_id, row.field), []).append(entries.entry_of(row))
    for name in THINGS:
        where = table(name)
        for thing in t.execute(sa.select(where), execution_options={"yield_per": 500}).mappings():
            place = f"{name} {thing['id']}"
            if thing["id"] not in made:
                yield Problem("making missing", f"No entry says how this {name} was made", place)
                continue
            for column in where.columns:
                if column.name in ("id", "created_at"):
                    continue
                winner = entries.standing(edits.get((name, thing["id"], column.name), ())).winner
                stands = made[thing["id"]].get(column.name) if winner is None else winner.value
                if thing[column.name] != stands:
                    yield Problem("edited unseen", f"{column.name} of this {name} is not what its entries say", place)


def _derived(t: sa.Connection) -> Iterator[Problem]:
    """Compare what is kept twice for searching with what it is made from."""
    for name in ("search_word", "latest_verdict"):
        where = table(name)
        before = {tuple(row) for row in t.execute(sa.select(where))}
        if derived.would_be(t, name) != before:
            yield Problem(
                "search out of date",
                f"{name} differs from the records; `steadfeed records check --mend` makes it again",
                name,
            )
