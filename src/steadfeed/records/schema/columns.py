"""Column helpers: a column is declared together with its meaning, unit and allowed words."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

#: Text compared byte by byte on both engines, so that a prefix is a range of an index.
PLAIN_TEXT: Final = sa.Text().with_variant(postgresql.TEXT(collation="C"), "postgresql")
#: A local integer key. SQLite numbers rows by itself only in a column of exactly this type.
LOCAL_KEY: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def col(
    name: str,
    kind: Any,
    meaning: str,
    *constraints: Any,
    unit: str = "",
    words: tuple[str, ...] = (),
    personal: bool = False,
    json: bool = False,
    needed: bool = False,
    **options: Any,
) -> sa.Column[Any]:
    """Declare a column. meaning: one phrase; unit: in brackets in the dictionary; words: the allowed values."""
    comment = meaning + (f" [{unit}]" if unit else "") + (f"; one of: {', '.join(words)}" if words else "")
    info = {"personal": personal, "json": json, "words": words, "unit": unit}
    return sa.Column(name, kind, *constraints, nullable=not needed, comment=comment, info=info, **options)


def key(meaning: str) -> sa.Column[Any]:
    """Declare the identity of a row: a UUID made by the client."""
    return sa.Column("id", sa.String(36), primary_key=True, comment=meaning, info={})


def ref(name: str, target: str, meaning: str, *, needed: bool = False, index: bool = False) -> sa.Column[Any]:
    """Declare a reference to the row of another table."""
    return col(name, sa.String(36), meaning, sa.ForeignKey(f"{target}.id"), needed=needed, index=index)


def moment(name: str, meaning: str, *, needed: bool = False) -> sa.Column[Any]:
    """Declare a moment, seconds since the Unix epoch, UTC."""
    return col(name, sa.Double(), meaning, unit="s since 1970-01-01 UTC", needed=needed)


def day(name: str, meaning: str, *, needed: bool = False) -> sa.Column[Any]:
    """Declare a calendar day, ISO 8601 (2026-07-31)."""
    return col(name, sa.String(10), meaning, unit="ISO 8601 date", needed=needed)


def text(name: str, meaning: str, **options: Any) -> sa.Column[Any]:
    """Declare a text."""
    return col(name, sa.Text(), meaning, **options)


def number(name: str, meaning: str, unit: str, **options: Any) -> sa.Column[Any]:
    """Declare a number in SI, pressures absolute."""
    return col(name, sa.Double(), meaning, unit=unit, **options)


def weight(name: str, meaning: str, **options: Any) -> sa.Column[Any]:
    """Declare a weight of refrigerant as an integer (see records.weight for the reason)."""
    return col(name, sa.BigInteger(), meaning, unit="hundredths of an ounce (avoirdupois)", **options)
