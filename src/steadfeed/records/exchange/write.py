"""Export: one folder with a file a table, the kept files, a data dictionary and a manifest with hashes."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput
from steadfeed.records import readings
from steadfeed.records.exchange.forms import FORMS
from steadfeed.records.exchange.logical import (
    Logical,
    Row,
    dictionary_rows,
    json_schema,
    logical_tables,
    without_people,
)
from steadfeed.records.schema import table
from steadfeed.records.upgrade import PRESENT

if TYPE_CHECKING:
    from steadfeed.records.store import Store

#: Version of the layout of an export. A reader refuses a higher one.
FORMAT_VERSION: Final = 1


def export(
    store: Store,
    folder: Path,
    form: str,
    now: float,
    *,
    people: bool = True,
    told: Callable[[str, int], None] | None = None,
) -> dict[str, Any]:
    """Write everything in a store into a new folder, one state of it, and return the manifest.

    form: csv, parquet or json. people: False leaves out all data about persons and the signatures. now [s since the
    epoch]. told: called with each table's name and count. Raises FixInput when the folder holds something.
    """
    if form not in FORMS:
        raise FixInput(f"An export is one of {', '.join(FORMS)}; “{form}” is not known", code="unknown word")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FixInput(f"{folder} is not empty; choose a new folder", code="file exists", where=str(folder))
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)  # names and addresses are in it
        (folder / "files").mkdir(exist_ok=True)
    except OSError as error:
        raise FixInput(f"{folder} cannot be made: {error.strerror}", code="no folder", where=str(folder)) from error
    writer, tables = FORMS[form], logical_tables()
    manifest: dict[str, Any] = {
        "what": "steadfeed records",
        "format_version": FORMAT_VERSION,
        "schema": PRESENT,
        "form": form,
        "people": people,
        "made_at": now,
        "tables": {},
    }
    with store.reading() as t:
        signatures = set() if people else _signature_ids(t)
        for one in tables:
            path = folder / (one.name + writer.ending)
            count = writer.write(path, one, _rows(t, one, people, signatures))
            manifest["tables"][one.name] = {"file": path.name, "rows": count, "sha256": hash_of(path)}
            if told:
                told(one.name, count)
        _write_files(t, folder / "files", signatures)
    _write_dictionary(folder / "dictionary.csv", tables)
    (folder / "records.schema.json").write_text(
        json.dumps(json_schema(tables), indent=1, ensure_ascii=False) + "\n", "utf-8"
    )
    (folder / "manifest.json").write_text(json.dumps(manifest, indent=1, ensure_ascii=False) + "\n", "utf-8")
    return manifest


def _rows(t: sa.Connection, one: Logical, people: bool, signatures: set[str]) -> Iterator[Row]:
    for row in one.rows(t):
        if people:
            yield row
            continue
        if one.name == "attachment_content" and row["attachment_id"] in signatures:
            continue
        plain = without_people(one.name, row)
        if plain is not None:
            yield plain


def _signature_ids(t: sa.Connection) -> set[str]:
    where = table("attachment")
    return set(t.execute(sa.select(where.c.id).where(where.c.kind == "signature")).scalars())


def _write_files(t: sa.Connection, folder: Path, signatures: set[str]) -> None:
    for sha256 in list(t.execute(sa.select(table("raw_file").c.sha256)).scalars()):
        (folder / sha256).write_bytes(readings.file_bytes(t, sha256))
    kept, content = table("attachment"), table("attachment_content")
    query = sa.select(kept.c.id, kept.c.sha256, content.c.content).join(content, content.c.attachment_id == kept.c.id)
    for row in t.execute(query.execution_options(yield_per=20)):
        if row.id not in signatures:
            (folder / row.sha256).write_bytes(row.content)


def _write_dictionary(path: Path, tables: tuple[Logical, ...]) -> None:
    found = dictionary_rows(tables)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(found[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(found)


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
