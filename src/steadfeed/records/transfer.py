"""From one store into an empty one, row by row, whatever engine either has."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import NotAllowed
from steadfeed.records.schema import metadata

if TYPE_CHECKING:
    from steadfeed.records.store import Store

_CHUNK: Final = 2_000


def copy_all(source: Store, target: Store, told: Callable[[str, int], None] | None = None) -> dict[str, int]:
    """Copy every row of one consistent state of `source` into `target` in one transaction.

    target: must be empty, with the present schema. told: called with each table's name and count. Return the counts.
    Raises NotAllowed when the target holds records.
    """
    counts: dict[str, int] = {}
    with source.reading() as have, target.writing() as t:
        refuse_unless_empty(t, target.place)
        for table in metadata.sorted_tables:
            rows = have.execute(sa.select(table), execution_options={"yield_per": _CHUNK}).mappings()
            counts[table.name] = 0
            for some in rows.partitions(_CHUNK):
                t.execute(table.insert(), [dict(row) for row in some])
                counts[table.name] += len(some)
            if told:
                told(table.name, counts[table.name])
        set_local_keys(t)
    return counts


def refuse_unless_empty(t: sa.Connection, place: str) -> None:
    """Raise NotAllowed when a store holds anything already."""
    for name in ("site", "unit", "person", "entry", "stream"):
        if t.execute(sa.select(sa.literal(1)).select_from(metadata.tables[name]).limit(1)).first():
            raise NotAllowed(
                f"{place} holds records already; choose an empty store", code="store not empty", where=place
            )


def set_local_keys(t: sa.Connection) -> None:
    """Let the next local keys count on from those that were copied (PostgreSQL numbers from a counter of its own)."""
    if t.dialect.name != "postgresql":
        return
    for table in metadata.sorted_tables:
        column: Any = table.c.get("key")
        if column is None:
            continue
        highest = t.execute(sa.select(sa.func.max(column))).scalar_one()
        if highest is not None:
            t.execute(
                sa.text("SELECT setval(pg_get_serial_sequence(:name, 'key'), :n)"), {"name": table.name, "n": highest}
            )
