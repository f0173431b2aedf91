"""Edits of things as entries, and the rule for two devices editing one field.

An entry names the entries that its author had seen and that it stands in place of. What counts for one field:

1. An entry that another entry stands in place of does not count: whoever had seen a value may replace it, whatever the
   two clocks say.
2. Of several that remain (two devices edited without seeing each other) the one with the later clock counts; with
   equal clocks the greater device name, then the greater identity. The others stay visible as rivals until somebody
   edits the field again, which stands in place of all of them.

So the outcome does not depend on the order in which entries arrive, and the same entry arriving twice changes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records.derived import after_change
from steadfeed.records.ids import new_id
from steadfeed.records.rows import By, check_values, jsonable
from steadfeed.records.schema import THINGS, personal_columns, table

_ENTRY = table("entry")
_VALUE = table("entry_value")


@dataclass(frozen=True, slots=True)
class Entry:
    """One edit of one field. value: as JSON gives it; erased: it was a person's and is gone."""

    id: str
    field: str
    value: Any
    made_at: float
    device: str
    supersedes: tuple[str, ...]
    kind: str = "set"
    person_id: str | None = None
    reason: str | None = None
    erased: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """What counts for one field: the winning entry (None: as it was made) and the rivals that did not see each other."""

    winner: Entry | None
    rivals: tuple[Entry, ...] = ()


def standing(entries: Iterable[Entry]) -> Standing:
    """Apply the rule to the entries of one field, in any order."""
    by_id = {e.id: e for e in entries}
    replaced = {old for e in by_id.values() for old in e.supersedes}
    heads = sorted((e for e in by_id.values() if e.id not in replaced), key=_rank)
    if not heads:
        return Standing(None)
    return Standing(heads[-1], tuple(heads[:-1]))


def _rank(entry: Entry) -> tuple[float, str, str]:
    return entry.made_at, entry.device, entry.id


def entries_of(t: sa.Connection, thing_id: str, field: str | None = None) -> list[Entry]:
    """Return the edits of a thing or fact, oldest first by the clocks of the devices. Without the making of the row."""
    query = (
        sa.select(_ENTRY, _VALUE.c.entry_id, _VALUE.c.value.label("personal"))
        .select_from(_ENTRY.outerjoin(_VALUE, _VALUE.c.entry_id == _ENTRY.c.id))
        .where(_ENTRY.c.thing_id == thing_id, _ENTRY.c.kind != "create")
    )
    if field is not None:
        query = query.where(_ENTRY.c.field == field)
    return [entry_of(row) for row in t.execute(query.order_by(_ENTRY.c.made_at, _ENTRY.c.id))]


def entry_of(row: sa.Row[Any]) -> Entry:
    """Read an entry from a row of entry joined with entry_value (entry_id, personal)."""
    personal = row.entry_id is not None
    text = row.personal if personal else row.value
    return Entry(
        id=row.id,
        field=row.field,
        value=None if text is None else json.loads(text),
        made_at=row.made_at,
        device=row.device or "",
        supersedes=tuple(json.loads(row.supersedes)),
        kind=row.kind,
        person_id=row.person_id,
        reason=row.reason,
        erased=text is None,
    )


def first_values(t: sa.Connection, thing_id: str) -> dict[str, Any]:
    """Return the values with which a thing was made; erased ones are None."""
    row = t.execute(
        sa.select(_ENTRY.c.value, _VALUE.c.value.label("personal"))
        .select_from(_ENTRY.outerjoin(_VALUE, _VALUE.c.entry_id == _ENTRY.c.id))
        .where(_ENTRY.c.thing_id == thing_id, _ENTRY.c.kind == "create")
    ).one_or_none()
    if row is None:
        return {}
    values: dict[str, Any] = json.loads(row.value or "{}")
    values.update(json.loads(row.personal or "{}"))
    return values


def edit(
    t: sa.Connection,
    name: str,
    thing_id: str,
    changes: Mapping[str, Any],
    by: By,
    *,
    kind: str = "set",
    reason: str | None = None,
    seen: Mapping[str, Sequence[str]] | None = None,
    ids: Mapping[str, str] | None = None,
) -> list[str]:
    """Set fields of a thing, each by an entry that stands in place of those which were seen. Return the entries' ids.

    seen: field -> identities that the author had seen; without it, what counts in this store now (and all rivals).
    ids: field -> identity of the entry, made by the client. A field that has that value already gets no entry.
    Raises FixInput for a field or value that the thing cannot have, NotAllowed when there is no such thing.
    """
    check_values(name, changes, partial=True)
    row = _locked_row(t, name, thing_id)
    made: list[str] = []
    for field, value in changes.items():
        entry_id = (ids or {}).get(field) or new_id()
        known = entries_of(t, thing_id, field)
        if any(e.id == entry_id and e.value == value for e in known):
            continue  # sent again
        before = standing(known)
        if seen is None or field not in seen:
            heads = [e.id for e in ((before.winner, *before.rivals) if before.winner else ())]
            if row[field] == value and not before.rivals and kind == "set":
                continue
        else:
            heads = list(seen[field])
        write_entry(t, name, thing_id, field, value, heads, by, kind=kind, reason=reason, entry_id=entry_id)
        made.append(entry_id)
        project(t, name, thing_id, field)
    return made


def write_entry(
    t: sa.Connection,
    name: str,
    thing_id: str,
    field: str | None,
    value: Any,
    supersedes: Sequence[str],
    by: By,
    *,
    kind: str = "set",
    reason: str | None = None,
    entry_id: str | None = None,
) -> str:
    """Write one entry; the value of a personal field goes where it can be erased. Return the entry's id."""
    entry_id = entry_id or new_id()
    personal = field is not None and field in personal_columns(name)
    text = json.dumps(jsonable(value), ensure_ascii=False)
    t.execute(
        _ENTRY.insert().values(
            id=entry_id,
            thing=name,
            thing_id=thing_id,
            kind=kind,
            field=field,
            value=None if personal else text,
            supersedes=json.dumps(sorted(supersedes)),
            made_at=by.made_at,
            received_at=by.now,
            person_id=by.person_id,
            device=by.device,
            reason=reason,
        )
    )
    if personal:
        t.execute(_VALUE.insert().values(entry_id=entry_id, value=text))
    return entry_id


def undo(t: sa.Connection, entry_id: str, by: By, reason: str | None = None) -> str:
    """Take an edit back by an entry that stands in place of it and holds the value before it. Return the new entry's id.

    Raises NotAllowed when the edit is unknown, erased, or was changed again since.
    """
    row = t.execute(sa.select(_ENTRY.c.thing, _ENTRY.c.thing_id, _ENTRY.c.field).where(_ENTRY.c.id == entry_id)).first()
    if row is None:
        raise NotAllowed(f"There is no entry {entry_id}", code="no such entry")
    if row.field is None:
        raise NotAllowed("What was made can be withdrawn, but its making cannot be undone", code="cannot undo")
    known = {e.id: e for e in entries_of(t, row.thing_id, row.field)}
    if any(entry_id in e.supersedes for e in known.values()):
        raise NotAllowed(f"“{row.field}” was changed again since; undo that first", code="changed since")
    before = standing(known[i] for i in known[entry_id].supersedes if i in known).winner
    value = before.value if before else first_values(t, row.thing_id).get(row.field)
    if before is not None and before.erased and row.field in personal_columns(row.thing):
        raise NotAllowed(f"The earlier value of “{row.field}” was erased", code="erased")
    if row.thing not in THINGS:
        value = bool(value)
    _locked_row(t, row.thing, row.thing_id)
    made = write_entry(
        t, row.thing, row.thing_id, row.field, value, [entry_id], by, kind="undo", reason=reason, entry_id=new_id()
    )
    project(t, row.thing, row.thing_id, row.field)
    return made


def withdraw(t: sa.Connection, name: str, fact_id: str, by: By, reason: str, *, entry_id: str | None = None) -> str:
    """Withdraw a fact: it stays where it is, marked, with who withdrew it and why. Return the entry's id."""
    row = _locked_row(t, name, fact_id)
    if row["withdrawn"]:
        raise NotAllowed("This was withdrawn already", code="withdrawn")
    before = standing(entries_of(t, fact_id, "withdrawn"))
    heads = [e.id for e in ((before.winner, *before.rivals) if before.winner else ())]
    made = write_entry(t, name, fact_id, "withdrawn", True, heads, by, reason=reason, entry_id=entry_id)
    project(t, name, fact_id, "withdrawn")
    return made


def project(t: sa.Connection, name: str, thing_id: str, field: str) -> bool:
    """Write the value that counts into the row. Return whether the row changed."""
    columns = table(name).c
    found = standing(entries_of(t, thing_id, field)).winner
    if found is not None:
        value = found.value
    elif field == "withdrawn":
        value = False
    else:
        value = first_values(t, thing_id).get(field)
    changed = t.execute(
        table(name)
        .update()
        .where(columns.id == thing_id, columns[field].is_distinct_from(value))
        .values({field: value})
    )
    if changed.rowcount:
        after_change(t, name, [thing_id])
    return bool(changed.rowcount)


def _locked_row(t: sa.Connection, name: str, thing_id: str) -> dict[str, Any]:
    """Return a row and keep other writers off it until the transaction ends."""
    found = t.execute(sa.select(table(name)).where(table(name).c.id == thing_id).with_for_update()).mappings().first()
    if found is None:
        raise FixInput(f"There is no {name.replace('_', ' ')} {thing_id}", code=f"no such {name.replace('_', ' ')}")
    return dict(found)
