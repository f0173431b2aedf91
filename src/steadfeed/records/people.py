"""Data about people, erasable while the facts stay.

Facts name a person by identity only. The personal columns of a row, the values of their edits (`entry_value`) and the
content of signatures and, on request, of photos can be erased; hashes, dates, weights and verdicts remain, and with
them the identity, which then leads to no name any more.
"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa

from steadfeed.errors import FixInput
from steadfeed.records import derived
from steadfeed.records.engine import driver_connection
from steadfeed.records.entries import write_entry
from steadfeed.records.rows import By, get
from steadfeed.records.schema import personal_columns, table
from steadfeed.records.store import Store

#: The field of the entry that says that a row's personal data were erased.
ERASED = "erased"
#: Rows that can hold data about a person.
KINDS = ("person", "customer", "site")


def erase(store: Store, kind: str, row_id: str, by: By, reason: str, attachments: Sequence[str] = ()) -> dict[str, int]:
    """Erase what is known about a person, a customer (with the addresses of its sites) or a site. Return what went.

    attachments: identities of attachments whose content goes too; their hashes stay. An entry says who erased, when
    and why. In an SQLite file the bytes themselves are overwritten. Backups and exports made before are untouched.
    """
    if kind not in KINDS:
        raise FixInput(f"Erasing concerns {', '.join(KINDS)}; “{kind}” is none", code="bad usage")
    if not reason.strip():
        raise FixInput("Say why it is erased: a request, a date", code="missing field")
    with store.writing() as t:
        if store.on_sqlite:
            t.exec_driver_sql("PRAGMA secure_delete=ON")
        get(t, kind, row_id)
        rows = [(kind, row_id)]
        if kind == "customer":
            site = table("site")
            rows += [("site", i) for i in t.execute(sa.select(site.c.id).where(site.c.customer_id == row_id)).scalars()]
        gone = {"fields": 0, "values": 0, "attachments": 0}
        for name, one in rows:
            fields, values = forget(t, name, one)
            gone["fields"] += fields
            gone["values"] += values
            write_entry(t, name, one, ERASED, True, [], by, reason=reason)
        content = table("attachment_content")
        for attachment in attachments:
            gone["attachments"] += t.execute(content.delete().where(content.c.attachment_id == attachment)).rowcount
    if store.on_sqlite:
        with store.engine.connect() as connection:
            # what was in the log goes into the file and the log is emptied: nothing is left to be read back
            driver_connection(connection).execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    return gone


def forget(t: sa.Connection, name: str, row_id: str) -> tuple[int, int]:
    """Empty the personal fields of a row and the values of their edits. Return how many of each held something."""
    gone = _blank(t, name, row_id), _forget_values(t, row_id)
    derived.after_change(t, name, [row_id])
    return gone


def _blank(t: sa.Connection, name: str, row_id: str) -> int:
    where, fields = table(name), sorted(personal_columns(name))
    before = t.execute(sa.select(*(where.c[f] for f in fields)).where(where.c.id == row_id)).one()
    t.execute(where.update().where(where.c.id == row_id).values(dict.fromkeys(fields)))
    return sum(1 for value in before if value is not None)


def _forget_values(t: sa.Connection, row_id: str) -> int:
    """Empty the values of the personal edits of a row; that there were edits, and when, stays."""
    value, entry = table("entry_value"), table("entry")
    mine = sa.select(entry.c.id).where(entry.c.thing_id == row_id)
    made = t.execute(value.update().where(value.c.entry_id.in_(mine), value.c.value.is_not(None)).values(value=None))
    return made.rowcount
