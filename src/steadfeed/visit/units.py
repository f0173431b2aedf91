"""Units and what hangs on them: written down, edited, parts replaced, their page and history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit.session import Session, find_unit

if TYPE_CHECKING:
    import sqlalchemy as sa


def add_unit(
    session: Session,
    *,
    site: Mapping[str, Any],
    unit: Mapping[str, Any],
    circuits: Sequence[Mapping[str, Any]] = ({},),
    customer: Mapping[str, Any] | None = None,
    nameplate: Mapping[str, Any] | None = None,
    line_set: Mapping[str, Any] | None = None,
    indoor: Mapping[str, Any] | None = None,
) -> str:
    """Write down a unit with its site, customer, circuits and nameplate, and return the unit's identity.

    site, customer: fields, or {"id": …} of one that is there. circuits: fields of each, with "refrigerant" and,
    optionally, "refrigerant_from". line_set: of every circuit. indoor: the indoor unit of a split system.
    """
    from steadfeed.records import rows

    by = session.by
    with session.store.writing() as t:
        if unit.get("tag") and rows.find(t, "unit", tag=unit["tag"]):
            raise FixInput(f"Another unit has the tag “{unit['tag']}”; tags are given once", code="tag taken")
        customer_id = None
        if customer:
            customer_id = customer.get("id") or _same_or_new(t, "customer", customer, by)
        site_id = site.get("id") or _same_or_new(t, "site", {**site, "customer_id": customer_id}, by)
        unit_id = rows.add(t, "unit", {"kind": "outdoor", **unit, "site_id": site_id}, by)
        indoor_id = None
        if indoor is not None:
            indoor_id = rows.add(t, "unit", {**indoor, "kind": "indoor", "site_id": site_id}, by)
        for number, given in enumerate(circuits, 1):
            fields = {k: v for k, v in given.items() if k not in ("refrigerant", "refrigerant_from")}
            usual = {"name": str(number)} if len(circuits) > 1 else {}
            circuit_id = rows.add(
                t, "circuit", {**usual, **fields, "unit_id": unit_id, "indoor_unit_id": indoor_id}, by
            )
            if given.get("refrigerant"):
                charged = {"circuit_id": circuit_id, "refrigerant": known_refrigerant(given["refrigerant"])}
                rows.add(t, "circuit_refrigerant", {**charged, "from_at": given.get("refrigerant_from")}, by)
            if line_set:
                rows.add(t, "line_set", {**line_set, "circuit_id": circuit_id}, by)
        if nameplate:
            rows.add(t, "nameplate", {**nameplate, "unit_id": unit_id}, by)
    return unit_id


def _same_or_new(t: sa.Connection, name: str, fields: Mapping[str, Any], by: Any) -> str:
    """Return the row that has exactly these given fields, or a new one: the same customer is not written down twice."""
    from steadfeed.records import rows

    given = {k: v for k, v in fields.items() if v is not None}
    key = given.get("name") or given.get("address")
    if key is None and name == "customer":
        raise FixInput("A customer needs a name", code="missing field")
    match = {k: given[k] for k in ("name", "address", "customer_id") if k in given}
    for row in rows.find(t, name, **match) if match else []:
        if all(row[k] == v for k, v in given.items()):
            return str(row["id"])
    return rows.add(t, name, given, by)


def known_refrigerant(text: str) -> str:
    """Return the designation of a refrigerant as the coefficient file writes it; an unknown one stays as typed."""
    from steadfeed.physics.properties import curves

    try:
        return str(curves(text).refrigerant.name)
    except (FixInput, ValueError):
        if not text.strip():
            raise FixInput("A refrigerant needs its designation, as in R-410A", code="missing field") from None
        return text.strip()


def refrigerant_remark(text: str | None) -> str | None:
    """Return a sentence when a designation is not among those that steadfeed can compute with, else None."""
    from steadfeed.physics.properties import curves

    if not text or not text.strip():
        return None
    try:
        curves(text)
    except (FixInput, ValueError) as error:
        return f"{error}; it is kept as typed"
    return None


def edit_thing(
    session: Session,
    name: str,
    thing_id: str,
    changes: Mapping[str, Any],
    *,
    seen: Mapping[str, Sequence[str]] | None = None,
    reason: str | None = None,
) -> list[str]:
    """Edit fields of a customer, site, unit, circuit, person … Return the identities of the entries.

    seen: field -> entries that the author had seen (from `history_of`), for an edit made without network.
    """
    from steadfeed.records import entries

    with session.store.writing() as t:
        return entries.edit(t, name, thing_id, changes, session.by, reason=reason, seen=seen)


def undo_edit(session: Session, entry_id: str, reason: str | None = None) -> str:
    """Take one edit back by an entry that stands in place of it. Return the new entry's identity."""
    from steadfeed.records import entries

    with session.store.writing() as t:
        return entries.undo(t, entry_id, session.by, reason)


def history_of(session: Session, thing_id: str) -> list[dict[str, Any]]:
    """Return every edit of a thing, oldest first: field, value, who, when, what it stands in place of, and rivals."""
    from steadfeed.records import entries

    with session.store.reading() as t:
        found = entries.entries_of(t, thing_id)
    rivals = set()
    for field in {e.field for e in found}:
        rivals |= {e.id for e in entries.standing(e for e in found if e.field == field).rivals}
    return [
        {
            "entry_id": e.id,
            "kind": e.kind,
            "field": e.field,
            "value": None if e.erased else e.value,
            "made_at": e.made_at,
            "person_id": e.person_id,
            "device": e.device or None,
            "supersedes": list(e.supersedes),
            "reason": e.reason,
            "rival": e.id in rivals,
        }
        for e in found
    ]


def charge_with(session: Session, circuit_id: str, refrigerant: str, from_at: float) -> str:
    """Write down that a circuit holds another refrigerant from a moment on [s since the epoch]."""
    from steadfeed.records import rows

    values = {"circuit_id": circuit_id, "refrigerant": known_refrigerant(refrigerant), "from_at": from_at}
    with session.store.writing() as t:
        return rows.add(t, "circuit_refrigerant", values, session.by)


def install_part(
    session: Session,
    unit_id: str,
    role: str,
    part: Mapping[str, Any],
    *,
    from_at: float | None,
    circuit_id: str | None = None,
    reason: str | None = None,
) -> str:
    """Put a part into a unit; the one that had the same role there until then is taken out. Return the installation.

    part: fields of a new part, or {"id": …} of one that is there. Both parts keep their histories: the old one's
    interval ends at `from_at` [s since the epoch].
    """
    from steadfeed.records import entries, rows

    by = session.by
    with session.store.writing() as t:
        rows.get(t, "unit", unit_id)
        part_id = part.get("id") or rows.add(t, "part", {"kind": role, **part}, by)
        elsewhere = [i for i in rows.find(t, "installation", part_id=part_id) if i["until_at"] is None]
        if elsewhere:
            raise NotAllowed("This part is in a unit already; take it out there first", code="part in place")
        for old in rows.find(t, "installation", unit_id=unit_id, role=role, circuit_id=circuit_id):
            if old["until_at"] is not None:
                continue
            if from_at is None or (old["from_at"] is not None and from_at < old["from_at"]):
                raise FixInput("A part cannot go in before the one that it replaces went in", code="bad value")
            entries.edit(t, "installation", old["id"], {"until_at": from_at, "end_reason": reason}, by)
        values = {"part_id": part_id, "unit_id": unit_id, "circuit_id": circuit_id, "role": role}
        return rows.add(t, "installation", {**values, "from_at": from_at, "reason": reason}, by)


def part_history(session: Session, part_id: str) -> dict[str, Any]:
    """Return a part with where it was, from when to when, and the challenges taken in these times."""
    from steadfeed.records import rows

    with session.store.reading() as t:
        part = rows.get(t, "part", part_id)
        places = rows.find(t, "installation", part_id=part_id)
        places.sort(key=lambda i: i["from_at"] if i["from_at"] is not None else float("-inf"))
        for place in places:
            circuits = (
                [place["circuit_id"]]
                if place["circuit_id"]
                else [c["id"] for c in rows.find(t, "circuit", unit_id=place["unit_id"])]
            )
            place["challenges"] = [
                {"challenge_id": c["id"], "started_at": c["started_at"], "verdict": _word(t, c["id"])}
                for c in rows.find(t, "challenge", circuit_id=circuits, order="started_at")
                if _within(c["started_at"], place)
            ]
    return {**part, "installations": places}


def _within(moment: float, place: Mapping[str, Any]) -> bool:
    after = place["from_at"] is None or moment >= place["from_at"]
    return after and (place["until_at"] is None or moment < place["until_at"])


def _word(t: sa.Connection, challenge_id: str) -> str | None:
    from steadfeed.records import pages

    return pages.standing_verdict(t, challenge_id)


def move_readings(session: Session, readings_id: str, circuit_id: str, reason: str) -> str:
    """Move the readings of a challenge, or spot readings, to another circuit, also of another unit, with a trail.

    The readings of a challenge stay where they are: only what they belong to is edited. Spot readings are facts: they
    are withdrawn and written again under the other circuit, and the withdrawal names the new ones. Return the entry.
    """
    from steadfeed.records import entries, rows

    if not reason.strip():
        raise FixInput("Say why the readings belong elsewhere", code="missing field")
    by = session.by
    with session.store.writing() as t:
        rows.get(t, "circuit", circuit_id)
        if rows.find(t, "challenge", id=readings_id):
            made = entries.edit(t, "challenge", readings_id, {"circuit_id": circuit_id}, by, kind="move", reason=reason)
            return made[0]
        spot = rows.get(t, "spot", readings_id)
        kept = {k: v for k, v in spot.items() if k not in ("id", "withdrawn", "circuit_id")}
        new = rows.add(t, "spot", {**kept, "circuit_id": circuit_id}, by)
        for value in rows.find(t, "spot_value", spot_id=readings_id):
            again = {k: v for k, v in value.items() if k not in ("id", "withdrawn", "spot_id")}
            rows.add(t, "spot_value", {**again, "spot_id": new}, by)
        return entries.withdraw(t, "spot", readings_id, by, f"moved, now {new}: {reason}")


def unit_page(session: Session, reference: str) -> dict[str, Any]:
    """Return all that a unit's page shows: identity, site, customer, circuits, parts, nameplates, visits, due.

    reference: tag, serial, label or start of the identity. Times [s since the epoch]; SI, absolute.
    """
    from steadfeed.records import pages

    with session.store.reading() as t:
        return pages.unit_page(t, find_unit(t, reference))


def list_units(session: Session, text: str = "") -> list[dict[str, Any]]:
    """Return units with site and customer, by tag: all that are in use, or those that the words find."""
    from steadfeed.records import pages
    from steadfeed.records.search import units_with

    with session.store.reading() as t:
        found = units_with(t, text)
        return pages.units_listed(t, None if found is None else sorted(found))
