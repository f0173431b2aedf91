"""What a device writes down, with identities that the device made: sent twice, it is there once.

Each function returns the identity and does nothing when it is there already, so that a device which did not hear the
answer can send again. What a function checks on the way is the same as without such an identity (visits.py).
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit.session import Session
from steadfeed.visit.visits import _refuse_closed

if TYPE_CHECKING:
    import sqlalchemy as sa


def there(t: sa.Connection, name: str, row_id: str | None) -> bool:
    """Tell whether a row is there already."""
    from steadfeed.records import rows

    return row_id is not None and bool(rows.find(t, name, withdrawn=True, id=row_id))


def is_there(session: Session, name: str, row_id: str | None) -> bool:
    """Tell whether a row is in the store already."""
    with session.store.reading() as t:
        return there(t, name, row_id)


def add_unit(session: Session, unit_id: str | None, **fields: Any) -> str:
    """Write down a unit. fields: as units.add_unit takes them; `unit` without its identity."""
    from steadfeed.visit import units

    if is_there(session, "unit", unit_id):
        return str(unit_id)
    unit = dict(fields.pop("unit"))
    if unit_id is not None:
        unit["id"] = unit_id
    return units.add_unit(session, unit=unit, **fields)


def open_visit(session: Session, visit_id: str | None, unit_id: str, **fields: Any) -> str:
    """Open a visit. fields: as visits.open_visit takes them."""
    from steadfeed.visit import visits

    if is_there(session, "visit", visit_id):
        return str(visit_id)
    return visits.open_visit(session, unit_id, visit_id=visit_id, **fields)


def write_fact(session: Session, name: str, fact_id: str | None, visit_id: str, values: Mapping[str, Any]) -> str:
    """Write one fact on an open visit."""
    from steadfeed.records import rows

    with session.store.writing() as t:
        if there(t, name, fact_id):
            return str(fact_id)
        _refuse_closed(t, visit_id)
        _own_circuit(t, visit_id, values.get("circuit_id"))
        return rows.add(t, name, {"id": fact_id, "visit_id": visit_id, **values}, session.by)


def _own_circuit(t: sa.Connection, visit_id: str, circuit_id: str | None) -> None:
    """Refuse a circuit of another unit."""
    from steadfeed.records import rows

    if circuit_id is None:
        return
    circuit, visit = rows.get(t, "circuit", circuit_id), rows.get(t, "visit", visit_id)
    if circuit["unit_id"] != visit["unit_id"]:
        raise FixInput("This circuit belongs to another unit than the visit", code="other unit", where="circuit_id")


def spot(
    session: Session,
    spot_id: str | None,
    visit_id: str,
    circuit_id: str,
    values: Mapping[str, str],
    *,
    purpose: str | None = None,
    mode: str = "cooling",
    read_by: str = "person",
) -> str:
    """Write one set of spot readings as typed."""
    from steadfeed.records import rows
    from steadfeed.visit.spot_values import derive_spot, split_value

    pieces = {channel: split_value(channel, text) for channel, text in values.items()}
    if not any(number for number, _ in pieces.values()):
        raise FixInput("Give at least one reading, such as suction_pressure=“118 psig”", code="missing field")
    with session.store.writing() as t:
        if there(t, "spot", spot_id):
            return str(spot_id)
        _refuse_closed(t, visit_id)
        _own_circuit(t, visit_id, circuit_id)
        result, version = derive_spot(t, circuit_id, pieces)
        given = {
            "id": spot_id,
            "visit_id": visit_id,
            "circuit_id": circuit_id,
            "taken_at": session.now,
            "utc_offset": session.utc_offset,
            "mode": mode,
            "purpose": purpose,
            "result": None if result is None else json.dumps(result, ensure_ascii=False, allow_nan=False),
            "method_version": version,
        }
        made = rows.add(t, "spot", given, session.by)
        rows.add_many(
            t,
            "spot_value",
            [
                {"spot_id": made, "channel": channel, "value": number, "unit": unit, "read_by": read_by}
                for channel, (number, unit) in pieces.items()
            ],
            session.by,
        )
    return made


def act(session: Session, action_id: str | None, visit_id: str, text: str, **fields: Any) -> str:
    """Write down what was done."""
    return write_fact(session, "action", action_id, visit_id, {"at": session.now, "text": text, **fields})


def move_refrigerant(
    session: Session,
    move_id: str | None,
    visit_id: str,
    circuit_id: str,
    direction: str,
    weight: str,
    *,
    refrigerant: str | None = None,
    cylinder: str | None = None,
) -> str:
    """Write down refrigerant in or out, by weight as typed."""
    from steadfeed.records import pages
    from steadfeed.records.weight import parse_weight
    from steadfeed.visit.units import known_refrigerant

    hundredths = parse_weight(weight)
    if not hundredths:
        raise FixInput("A weight of nothing need not be written down", code="bad weight", where="weight")
    with session.store.reading() as t:
        name = known_refrigerant(refrigerant) if refrigerant else pages.refrigerant_now(t, circuit_id)
    if name is None:
        raise FixInput("Which refrigerant? The records do not say what this circuit holds", code="missing field")
    values = {
        "circuit_id": circuit_id,
        "at": session.now,
        "refrigerant": name,
        "direction": direction,
        "weight_hundredth_oz": hundredths,
        "as_typed": weight.strip(),
        "cylinder": cylinder,
    }
    return write_fact(session, "refrigerant_move", move_id, visit_id, values)


def set_aside(session: Session, override_id: str | None, visit_id: str, what: str, text: str | None = None) -> str:
    """Write down something set aside for the test."""
    return write_fact(session, "override", override_id, visit_id, {"what": what, "at": session.now, "text": text})


def put_back(
    session: Session,
    override_id: str,
    *,
    left_because: str | None = None,
    text: str | None = None,
    answer_id: str | None = None,
) -> str:
    """Answer something that was set aside. The same answer again is no error."""
    from steadfeed.records import rows

    if left_because is not None and not left_because.strip():
        raise FixInput("Say why it is left as it is", code="missing field", where="left_because")
    with session.store.writing() as t:
        override = rows.get(t, "override", override_id)
        before = rows.find(t, "put_back", override_id=override_id)
        answer = "put back" if left_because is None else "left on purpose"
        said = text if left_because is None else left_because
        if before:
            if (before[0]["answer"], before[0]["text"]) == (answer, said):
                return str(before[0]["id"])
            raise NotAllowed(f"The {override['what']} was answered already", code="answered")
        _refuse_closed(t, override["visit_id"])
        values = {"id": answer_id, "override_id": override_id, "at": session.now, "answer": answer, "text": said}
        return rows.add(t, "put_back", values, session.by)


def attach(
    session: Session,
    attachment_id: str,
    owner: str,
    owner_id: str,
    kind: str,
    content: bytes,
    *,
    text: str | None = None,
    taken_at: float | None = None,
) -> dict[str, Any]:
    """Keep a photo or voice note, cleaned of its location data. Return its row."""
    from steadfeed.records import rows
    from steadfeed.records.attachments import attach as keep

    if owner not in ("unit", "visit", "challenge", "circuit", "site"):
        raise FixInput(f"Nothing can be attached to a {owner}; take unit, visit or challenge", code="unknown word")
    with session.store.writing() as t:
        made = keep(
            t, owner, owner_id, kind, content, session.by, text=text, taken_at=taken_at, attachment_id=attachment_id
        )
        return rows.get(t, "attachment", made)


def attachment_content(session: Session, attachment_id: str) -> tuple[bytes, str]:
    """Return the bytes and the media type of an attachment."""
    from steadfeed.records import rows
    from steadfeed.records.attachments import content_of

    with session.store.reading() as t:
        return content_of(t, attachment_id), str(rows.get(t, "attachment", attachment_id)["media"])


def derived_id(parent: str, name: str) -> str:
    """Return the identity of something that follows from another: the same parent gives the same one."""
    return str(uuid.uuid5(uuid.UUID(parent), name))


def find_units(session: Session, text: str, limit: int = 50) -> Sequence[dict[str, Any]]:
    """Return units in whose words each word of the text begins one; without a text the latest made."""
    from steadfeed.records import rows
    from steadfeed.records.search import refrigerants_at, units_with

    with session.store.reading() as t:
        wanted = units_with(t, text)
        found = rows.find(t, "unit", order="created_at") if wanted is None else rows.find(t, "unit", id=sorted(wanted))
        found = [u for u in found if u["retired_at"] is None and u["kind"] != "indoor"]
        found.sort(key=lambda u: u["created_at"], reverse=True)
        found = found[:limit]
        sites = {s["id"]: s for s in rows.find(t, "site", id=sorted({u["site_id"] for u in found}))}
        customers = {
            c["id"]: c
            for c in rows.find(t, "customer", id=sorted({s["customer_id"] for s in sites.values() if s["customer_id"]}))
        }
        held = refrigerants_at(t, {u["id"] for u in found})
    out = []
    for unit in found:
        site = sites[unit["site_id"]]
        customer = customers.get(site["customer_id"] or "")
        latest = {circuit: name for circuit, _, name in held.get(unit["id"], [])}
        out.append(
            {
                "id": unit["id"],
                "tag": unit["tag"],
                "place": unit["place"],
                "serial": unit["serial"],
                "site": site["name"],
                "address": site["address"],
                "customer": customer["name"] if customer else None,
                "refrigerants": list(dict.fromkeys(latest.values())),
            }
        )
    return out
