"""The schema of the store: things that may be edited, facts that may not, and raw readings.

* A *thing* (customer, unit, visit …) has a row with its present state; every edit is an entry (see records.entries).
* A *fact* (action, verdict, signature …) is written once. The database itself refuses to change or delete one;
  a mistake is withdrawn by a superseding entry.
* *Readings* are rows as received, keyed by the source's own (boot id, sequence).

Times are seconds since the Unix epoch, UTC. Identities are UUIDs made by whoever makes the row. Every column carries
its meaning as a comment; the data dictionary of an export is made from these comments and nothing else.
"""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

from steadfeed.records.schema import facts, things
from steadfeed.records.schema import readings as _readings  # noqa: F401  (declares its tables)
from steadfeed.records.schema.columns import metadata

__all__ = ["APPEND_ONLY", "DERIVED", "ERASABLE", "FACTS", "THINGS", "metadata", "personal_columns", "table"]

#: Tables whose rows may be edited, each edit leaving an entry.
THINGS: Final = tuple(things.TABLES)
#: Tables whose rows are written once; only their `withdrawn` mark may change.
FACTS: Final = tuple(facts.TABLES)
#: Every table whose rows the database refuses to change or delete.
APPEND_ONLY: Final = (*FACTS, "entry", "raw_file", "reading", "reading_batch", "reading_conflict")
#: Tables that hold what a person may ask to have erased, apart from the facts.
ERASABLE: Final = ("entry_value", "attachment_content")
#: Tables that can be made again from the others; they are not exchanged.
DERIVED: Final = ("search_word", "latest_verdict")


def table(name: str) -> sa.Table:
    """Return one table by name. Raises KeyError when the store has no such table."""
    return metadata.tables[name]


def personal_columns(name: str) -> frozenset[str]:
    """Name the columns of a table that hold data about a person and can be erased."""
    return frozenset(c.name for c in metadata.tables[name].columns if c.info.get("personal"))
