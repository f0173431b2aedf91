"""Rows of things and facts: checked, written once, found again."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records.derived import after_change
from steadfeed.records.ids import check_id, new_id
from steadfeed.records.schema import FACTS, THINGS, personal_columns, table

_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_LONGEST_TEXT: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class By:
    """Who writes, on which device, when. made_at, now [s since the Unix epoch, UTC].

    made_at: by the clock of the device where the person wrote; now: by the clock of this store. They differ when a
    device was without network for hours.
    """

    now: float
    person_id: str | None = None
    device: str | None = None
    written_at: float | None = None

    @property
    def made_at(self) -> float:
        """When the person wrote it [s since the Unix epoch, UTC]."""
        return self.now if self.written_at is None else self.written_at


def jsonable(value: Any) -> Any:
    """Return a value as JSON can hold it; a number that is none becomes nothing."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def storable(text: str) -> bool:
    """Tell whether both engines can hold a text: no zero byte, no half of a surrogate pair."""
    if text.isascii():
        return "\x00" not in text
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return "\x00" not in text


def add(t: sa.Connection, name: str, values: Mapping[str, Any], by: By) -> str:
    """Write one thing or fact and return its identity (`values["id"]`, or a new one).

    Writing the same row again is no error and changes nothing. Raises FixInput for a value that it cannot have,
    NotAllowed when another row has that identity.
    """
    return add_many(t, name, [values], by)[0]


def add_many(t: sa.Connection, name: str, rows: Iterable[Mapping[str, Any]], by: By) -> list[str]:
    """Write several rows of one table. See `add`."""
    where = table(name)
    if name in THINGS:
        usual: dict[str, Any] = {"created_at": by.made_at}
    elif name in FACTS:
        usual = {"made_at": by.made_at, "person_id": by.person_id, "device": by.device, "withdrawn": False}
    else:
        raise KeyError(name)
    full: list[dict[str, Any]] = []
    for row in rows:
        values = {**usual, **row}
        values["id"] = check_id(values["id"]) if values.get("id") else new_id()
        check_values(name, values)
        full.append({str(c.name): values.get(c.name) for c in where.columns})
    known = _known(t, name, [row["id"] for row in full])
    fresh = []
    for row in full:
        before = known.get(row["id"])
        if before is None:
            fresh.append(row)
        elif not _same_row(t, name, before, row):
            raise NotAllowed(
                f"Another {name.replace('_', ' ')} has the identity {row['id']}; make a new one", code="identity taken"
            )
    if fresh:
        t.execute(where.insert(), fresh)
        if name in THINGS:
            _write_making(t, name, fresh, by)
        after_change(t, name, [row["id"] for row in fresh])
    return [row["id"] for row in full]


def _write_making(t: sa.Connection, name: str, rows: list[dict[str, Any]], by: By) -> None:
    """Write the entry of the making of each row."""
    personal = personal_columns(name)
    entries, values = [], []
    for row in rows:
        entry_id = new_id()
        given = {k: jsonable(v) for k, v in row.items() if v is not None and k not in ("id", "created_at")}
        entries.append(
            {
                "id": entry_id,
                "thing": name,
                "thing_id": row["id"],
                "kind": "create",
                "field": None,
                "value": json.dumps({k: v for k, v in given.items() if k not in personal}, ensure_ascii=False),
                "supersedes": "[]",
                "made_at": by.made_at,
                "received_at": by.now,
                "person_id": by.person_id,
                "device": by.device,
                "reason": None,
            }
        )
        hidden = {k: v for k, v in given.items() if k in personal}
        if hidden:
            values.append({"entry_id": entry_id, "value": json.dumps(hidden, ensure_ascii=False)})
    t.execute(table("entry").insert(), entries)
    if values:
        t.execute(table("entry_value").insert(), values)


def _known(t: sa.Connection, name: str, ids: list[str]) -> dict[str, Mapping[str, Any]]:
    where = table(name)
    found: dict[str, Mapping[str, Any]] = {}
    for at in range(0, len(ids), 500):
        some = ids[at : at + 500]
        for row in t.execute(sa.select(where).where(where.c.id.in_(some))).mappings():
            found[row["id"]] = dict(row)
    return found


def _same_row(t: sa.Connection, name: str, before: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    """Tell whether a row that is there was written with these values (edits since then do not matter)."""
    free = {"created_at", "made_at", "withdrawn"}
    if name in THINGS:
        from steadfeed.records.entries import first_values

        first = first_values(t, row["id"])
        return all(
            first.get(k) == v for k, v in row.items() if k not in free and k != "id" and k not in personal_columns(name)
        )
    return all(before[k] == v for k, v in row.items() if k not in free)


def check_values(name: str, values: Mapping[str, Any], *, partial: bool = False) -> None:
    """Check fields and values against the schema. partial: only the given fields, as in an edit.

    Raises FixInput with the field, what it may hold, and what it got.
    """
    columns, what = table(name).c, name.replace("_", " ")
    for field, value in values.items():
        if field not in columns or (partial and field in ("id", "created_at", "made_at", "withdrawn")):
            raise FixInput(f"A {what} has no field “{field}”", code="unknown field", where=field)
        if value is None:
            continue
        column = columns[field]
        words = column.info.get("words") or ()
        if words and value not in words:
            raise FixInput(
                f"{field} of a {what} is one of {', '.join(words)}; “{value}” is not", code="unknown word", where=field
            )
        _check_kind(column, value, what)
    for column in columns:
        given = values.get(column.name)
        if column.nullable or column.server_default is not None or (partial and column.name not in values):
            continue
        if given is None or (isinstance(given, str) and not given.strip()):
            raise FixInput(
                f"A {what} needs its {column.name.replace('_', ' ')}", code="missing field", where=column.name
            )


def _check_kind(column: sa.Column[Any], value: Any, what: str) -> None:
    kind, name = column.type, column.name
    if isinstance(kind, sa.Boolean):
        good = isinstance(value, bool)
    elif isinstance(kind, sa.LargeBinary):
        good = isinstance(value, bytes)
    elif isinstance(kind, sa.Integer):
        good = isinstance(value, int) and not isinstance(value, bool)
    elif isinstance(kind, sa.Double):
        good = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    else:
        good = isinstance(value, str) and len(value) <= _LONGEST_TEXT and storable(value)
        if good and isinstance(kind, sa.String) and kind.length is not None:
            good = len(value) <= kind.length
        if good and column.info.get("unit") == "ISO 8601 date":
            good = _DAY.fullmatch(value) is not None
    if not good:
        shown = str(value)[:40]
        raise FixInput(f"{name.replace('_', ' ')} of a {what} cannot be “{shown}”", code="bad value", where=name)


def get(t: sa.Connection, name: str, row_id: str) -> dict[str, Any]:
    """Return one row as it stands. Raises FixInput when there is none."""
    found = t.execute(sa.select(table(name)).where(table(name).c.id == row_id)).mappings().first()
    if found is None:
        raise FixInput(f"There is no {name.replace('_', ' ')} {row_id}", code=f"no such {name.replace('_', ' ')}")
    return dict(found)


def find(
    t: sa.Connection, name: str, /, *, order: str = "", withdrawn: bool = False, **equal: Any
) -> list[dict[str, Any]]:
    """Return the rows whose fields equal the given values (a list or tuple: one of them), without withdrawn facts."""
    where = table(name)
    query = sa.select(where)
    for field, value in equal.items():
        query = query.where(where.c[field].in_(value) if isinstance(value, (list, tuple)) else where.c[field] == value)
    if not withdrawn and "withdrawn" in where.c:
        query = query.where(where.c.withdrawn == sa.false())
    if order:
        query = query.order_by(*(where.c[o] for o in order.split()))
    return [dict(row) for row in t.execute(query).mappings()]


def starting(t: sa.Connection, name: str, start: str) -> list[dict[str, Any]]:
    """Return up to ten rows whose identity begins with `start`."""
    where = table(name)
    query = sa.select(where).where(where.c.id >= start, where.c.id < start + "g").limit(10)
    return [dict(row) for row in t.execute(query).mappings()]
