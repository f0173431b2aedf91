"""Rows written and edited from words, for everything that has no verb of its own: people, sites, instruments …"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

#: What can be written down and edited in words, beside units and visits.
KINDS: Final = ("person", "customer", "site", "circuit", "part", "nameplate", "instrument", "calibration", "line_set")


def add_row(session: Session, kind: str, fields: Mapping[str, str]) -> str:
    """Write down one row of a kind from words (field -> value) and return its identity. Numbers are in SI."""
    from steadfeed.records import rows

    name = _known(kind)
    with session.store.writing() as t:
        return rows.add(t, name, typed(name, fields), session.by)


def edit_row(
    session: Session, kind: str, row_id: str, fields: Mapping[str, str], reason: str | None = None
) -> list[str]:
    """Edit fields of one row from words; an empty word empties the field. Return the identities of the entries."""
    from steadfeed.records import entries
    from steadfeed.records.schema import THINGS

    name = _known(kind)
    if name not in THINGS:
        raise FixInput(f"A {kind} is written once: withdraw it and write another", code="bad usage")
    with session.store.writing() as t:
        return entries.edit(t, name, row_id, typed(name, fields), session.by, reason=reason)


def _known(kind: str) -> str:
    name = kind.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in KINDS:
        raise FixInput(f"“{kind}” is not one of {', '.join(KINDS)}", code="unknown word")
    return name


def typed(name: str, fields: Mapping[str, str]) -> dict[str, Any]:
    """Turn words into the values that the fields of a table hold. Raises FixInput for an unknown field or a bad value."""
    from steadfeed.records.exchange.logical import columns_of
    from steadfeed.records.weight import parse_weight

    columns = {c.name: c for c in columns_of(name) if c.name not in ("id", "created_at", "made_at", "withdrawn")}
    values: dict[str, Any] = {}
    for field, word in fields.items():
        column = columns.get(field)
        if column is None:
            raise FixInput(
                f"A {name.replace('_', ' ')} has no field “{field}”; it has {', '.join(columns)}", code="unknown field"
            )
        plain = word.strip()
        if not plain:
            values[field] = None
        elif field.endswith("_hundredth_oz"):
            values[field] = parse_weight(plain)
        elif column.kind == "text":
            values[field] = plain
        else:
            values[field] = _number(column.kind, plain, field, column.unit)
    return values


def _number(kind: str, word: str, field: str, unit: str) -> float | int | bool:
    try:
        if kind == "yes or no":
            return {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}[word.lower()]
        return int(word) if kind == "integer" else float(word)
    except (ValueError, KeyError):
        wanted = "yes or no" if kind == "yes or no" else f"a number{f' in {unit}' if unit else ''}"
        raise FixInput(f"{field} is {wanted}; “{word}” is not", code="bad value", where=field) from None
