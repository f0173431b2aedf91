"""Import: an export taken into a store. What is there already stays; what contradicts is told, never written over."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput
from steadfeed.records import derived, entries, people, readings
from steadfeed.records.exchange.forms import FORMS
from steadfeed.records.exchange.logical import Row, logical_tables
from steadfeed.records.exchange.write import FORMAT_VERSION, hash_of
from steadfeed.records.readings import RawReading
from steadfeed.records.rows import check_values
from steadfeed.records.schema import FACTS, THINGS, table
from steadfeed.records.upgrade import PRESENT, VERSIONS

if TYPE_CHECKING:
    from steadfeed.records.store import Store

_CHUNK: Final = 2_000
#: With more new rows than this, all that is derived is made again, once, instead of row by row.
_MANY: Final = 5_000
#: Fields of a row that may differ between two stores although it is the same row.
_MAY_DIFFER: Final = frozenset({"withdrawn", "received_at"})


@dataclass(slots=True)
class Imported:
    """What an import did, by table: rows added, known already, and in contradiction (left as they were)."""

    added: dict[str, int] = field(default_factory=dict)
    known: dict[str, int] = field(default_factory=dict)
    conflicts: dict[str, list[str]] = field(default_factory=dict)

    def count(self, name: str, added: int, known: int, conflicts: list[str]) -> None:
        """Add to the counts of a table."""
        self.added[name] = self.added.get(name, 0) + added
        self.known[name] = self.known.get(name, 0) + known
        if conflicts:
            self.conflicts.setdefault(name, []).extend(conflicts)


def load(store: Store, folder: Path, now: float, told: Callable[[str, int], None] | None = None) -> Imported:
    """Take an export into a store in one transaction. now [s since the epoch]; told: called after each table.

    Edits of the same field in both stores are settled by the rule of records.entries. What was erased here stays
    erased. Raises FixInput when the export is incomplete, changed, or newer than this steadfeed.
    """
    manifest = read_manifest(folder)
    form, done = FORMS[manifest["form"]], Imported()
    tables = {one.name: one for one in logical_tables()}
    _check_files(folder, manifest)
    with store.writing() as t:
        if store.on_sqlite:
            t.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        merge = Merge(t, done)
        for name in (n for n in tables if n in manifest["tables"]):
            one = tables[name]
            rows = form.read(folder / manifest["tables"][name]["file"], one) if not one.only_out else iter(())
            if name == "raw_file":
                _load_files(t, rows, folder, done)
            elif name == "attachment_content":
                _load_contents(t, rows, folder, merge.fresh_attachments, done)
            elif name == "reading":
                merge.readings(rows, now)
            elif name == "reading_conflict":
                _load_conflicts(t, rows, done)
            elif not one.only_out:
                merge.rows(one.name, rows)
            if told:
                told(name, manifest["tables"][name]["rows"])
        merge.finish()
    return done


def read_manifest(folder: Path) -> dict[str, Any]:
    """Read and check the manifest of an export."""
    try:
        manifest: dict[str, Any] = json.loads((folder / "manifest.json").read_text("utf-8"))
        ours = manifest["what"] == "steadfeed records" and manifest["form"] in FORMS and bool(manifest["tables"])
    except (OSError, ValueError, KeyError, TypeError):
        ours = False
        manifest = {}
    if not ours:
        raise FixInput(
            f"{folder} is no export of steadfeed: it has no manifest.json of one", code="no export", where=str(folder)
        )
    if manifest["format_version"] > FORMAT_VERSION or manifest["schema"] not in VERSIONS:
        raise FixInput(
            f"This export was written by a newer steadfeed (schema {manifest['schema']}; this one knows {PRESENT}); update it here",
            code="export newer",
            where=str(folder),
        )
    return manifest


def _check_files(folder: Path, manifest: dict[str, Any]) -> None:
    for name, about in manifest["tables"].items():
        path = folder / Path(about["file"]).name
        if not path.is_file():
            raise FixInput(f"The export lacks {path.name}", code="export incomplete", where=str(path))
        if hash_of(path) != about["sha256"]:
            raise FixInput(
                f"{path.name} was changed after the export ({name}); take the export again",
                code="export changed",
                where=str(path),
            )


class Merge:
    """Rows from elsewhere on their way into a store, in one transaction: rows, then readings, then `finish`."""

    def __init__(self, t: sa.Connection, done: Imported) -> None:
        self._t = t
        self._done = done
        self._edited: set[tuple[str, str]] = set()
        self._gone: set[tuple[str, str]] = set()
        self._new: dict[str, list[str]] = {}
        self.fresh_attachments: set[str] = set()

    def rows(self, name: str, rows: Iterator[Row]) -> None:
        """Take rows of one table as they are; those that are there are compared and left as they were."""
        where = table(name)
        key = next(iter(where.primary_key.columns)).name
        for some in _chunks(rows):
            full: list[Row] = [{str(c.name): row.get(c.name) for c in where.columns} for row in some]
            if name in THINGS or name in FACTS:
                for row in full:
                    check_values(name, row)
            before = _before(self._t, where, key, [row[key] for row in full])
            new = [row for row in full if row[key] not in before]
            if new:
                self._t.execute(where.insert(), new)
                self._new.setdefault(name, []).extend(row[key] for row in new)
            conflicts = []
            if name in FACTS or name == "entry":
                conflicts = [r[key] for r in full if r[key] in before and _differs(before[r[key]], r)]
            self._done.count(name, len(new), len(full) - len(new) - len(conflicts), conflicts)
            if name == "entry":
                self._edited.update((row["thing"], row["thing_id"]) for row in new if row["kind"] != "create")
                self._gone.update((row["thing"], row["thing_id"]) for row in new if row["field"] == people.ERASED)
            if name == "attachment":
                self.fresh_attachments.update(row["id"] for row in new)

    def readings(self, rows: Iterator[Row], now: float) -> None:
        """Take streamed readings, each with its challenge and when it was received first."""
        cache = readings.KeyCache()
        for some in _chunks(rows):
            items = [(row["challenge_id"], _raw(row), row["received_at"]) for row in some]
            outcome = readings.append_all(self._t, items, now, cache)
            clashes = [
                f"{r.source} {r.boot_id} {r.sequence}"
                for (_, r, _), word in zip(items, outcome, strict=True)
                if word == readings.CONFLICT
            ]
            self._done.count("reading", outcome.count(readings.WRITTEN), outcome.count(readings.KNOWN), clashes)

    def finish(self) -> None:
        """Let the edits that came in count together with those that were here; then derive what is derived."""
        _apply_edits(self._t, self._edited)
        for name, thing_id in sorted(self._gone):  # erased elsewhere: erased here
            people.forget(self._t, name, thing_id)
        if sum(len(ids) for ids in self._new.values()) > _MANY:
            derived.make_again(self._t)
        else:
            for name, ids in self._new.items():
                derived.after_change(self._t, name, ids)


def _raw(row: Row) -> RawReading:
    return RawReading(**{k: v for k, v in row.items() if k not in ("challenge_id", "received_at")})


def _differs(before: Row, row: Row) -> bool:
    return any(before[k] != v for k, v in row.items() if k not in _MAY_DIFFER)


def _before(t: sa.Connection, where: sa.Table, key: str, ids: list[str]) -> dict[str, Row]:
    found = {}
    for at in range(0, len(ids), 500):
        for row in t.execute(sa.select(where).where(where.c[key].in_(ids[at : at + 500]))).mappings():
            found[row[key]] = dict(row)
    return found


def _apply_edits(t: sa.Connection, touched: set[tuple[str, str]]) -> None:
    """Let the edits that came in count, together with those that were here."""
    for name, thing_id in sorted(touched):
        if name not in THINGS and name not in FACTS:
            raise FixInput(
                f"An edit concerns “{name}”, which this steadfeed does not know; update it", code="unknown field"
            )
        for field_name in {e.field for e in entries.entries_of(t, thing_id)}:
            if field_name in table(name).c:
                entries.project(t, name, thing_id, field_name)


def _load_files(t: sa.Connection, rows: Iterator[Row], folder: Path, done: Imported) -> None:
    where = table("raw_file")
    for row in rows:
        content = _content(folder, row["file"], row["sha256"])
        known = t.execute(sa.select(where.c.sha256).where(where.c.sha256 == row["sha256"])).first()
        if known is None:
            packed = zlib.compress(content, 6)
            t.execute(
                where.insert().values(
                    sha256=row["sha256"], size=len(content), packed=packed, received_at=row["received_at"]
                )
            )
        done.count("raw_file", known is None, known is not None, [])


def _content(folder: Path, name: str, sha256: str) -> bytes:
    path = folder / "files" / Path(name).name  # whatever the export says, nothing outside its own folder is read
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FixInput(f"The export lacks files/{path.name}", code="export incomplete") from error
    if hashlib.sha256(content).hexdigest() != sha256:
        raise FixInput(f"files/{path.name} no longer matches its hash", code="export changed")
    return content


def _load_contents(t: sa.Connection, rows: Iterator[Row], folder: Path, fresh: set[str], done: Imported) -> None:
    """Load the content of attachments that came with this import; what was erased here is not brought back."""
    kept, where = table("attachment"), table("attachment_content")
    for row in rows:
        wanted = t.execute(sa.select(kept.c.sha256).where(kept.c.id == row["attachment_id"])).scalar_one_or_none()
        if wanted is None:
            raise FixInput("An attachment's content came without the attachment", code="export incomplete")
        if row["attachment_id"] in fresh:
            content = _content(folder, row["file"], wanted)
            t.execute(where.insert().values(attachment_id=row["attachment_id"], content=content))
        done.count("attachment_content", row["attachment_id"] in fresh, row["attachment_id"] not in fresh, [])


def _load_conflicts(t: sa.Connection, rows: Iterator[Row], done: Imported) -> None:
    where = table("reading_conflict")
    for row in rows:
        same = sa.and_(*(where.c[k] == row[k] for k in ("source", "boot_id", "sequence", "reading")))
        known = t.execute(sa.select(where.c.key).where(same)).first()
        if known is None:
            t.execute(where.insert(), [row])
        done.count("reading_conflict", known is None, known is not None, [])


def _chunks(rows: Iterator[Row]) -> Iterator[list[Row]]:
    some: list[Row] = []
    for row in rows:
        some.append(row)
        if len(some) >= _CHUNK:
            yield some
            some = []
    if some:
        yield some
