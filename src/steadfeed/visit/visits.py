"""The visit: opened, filled, judged, closed. Each step is one transaction."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    import sqlalchemy as sa

#: What was set aside -> how to put it back, as the question before closing.
PUT_BACK_QUESTIONS: Final = {
    "thermostat": "Is the thermostat back to where it was?",
    "auxiliary heat": "Is the auxiliary heat switched on again?",
    "fan control": "Is the fan control wired as it was?",
    "cover": "Is the cover off and the airflow restored?",
    "economizer": "Is the economizer back to where it was?",
    "other": "Is it put back?",
}


def open_visit(
    session: Session,
    unit_id: str,
    *,
    complaint: str | None = None,
    reason: str | None = None,
    another: bool = False,
    visit_id: str | None = None,
) -> str:
    """Open a visit to a unit and return its identity. A due visit of the unit is noted as answered when it closes.

    another: allow a second open visit. visit_id: identity made by the client.
    """
    from steadfeed.records import rows

    values = {
        "id": visit_id,
        "unit_id": unit_id,
        "person_id": session.person_id,
        "device": session.device,
        "opened_at": session.now,
        "utc_offset": session.utc_offset,
        "complaint": complaint,
        "reason": reason,
    }
    with session.store.writing() as t:
        unit = rows.get(t, "unit", unit_id)
        still_open = [
            v for v in rows.find(t, "visit", unit_id=unit_id) if v["closed_at"] is None and v["id"] != visit_id
        ]
        if still_open and not another:
            raise NotAllowed(
                f"{unit['tag'] or 'This unit'} has an open visit ({still_open[0]['id'][:8]}); go on with it or close it",
                code="visit open",
                where=still_open[0]["id"],
            )
        return rows.add(t, "visit", values, session.by)


def note(session: Session, visit_id: str, **fields: str | None) -> list[str]:
    """Set complaint, draft (the technician's own conclusion) or not_refrigerant (why the circuit is not suspected)."""
    from steadfeed.records import entries

    with session.store.writing() as t:
        _refuse_closed(t, visit_id)
        return entries.edit(t, "visit", visit_id, fields, session.by)


def review(session: Session, visit_id: str, text: str) -> list[str]:
    """Write a reviewer's word on a visit, with who and when. A closed visit can be reviewed."""
    from steadfeed.records import entries

    if session.person_id is None:
        raise FixInput("A review needs the reviewer's name", code="missing field")
    fields = {"review": text, "reviewed_by": session.person_id, "reviewed_at": session.now}
    with session.store.writing() as t:
        return entries.edit(t, "visit", visit_id, fields, session.by)


def spot(
    session: Session,
    visit_id: str,
    circuit_id: str,
    values: Mapping[str, str],
    *,
    purpose: str | None = None,
    mode: str = "cooling",
    read_by: str = "person",
    result: Mapping[str, Any] | None = None,
    method_version: str | None = None,
) -> str:
    """Write one set of spot readings as typed (channel -> "118 psig") and return its identity.

    A value is kept as text with its unit; "could not be read" is an empty value. result: what was derived from it, by
    which method version; without it, superheat and subcooling when the readings suffice.
    """
    from steadfeed.records import rows
    from steadfeed.visit.spot_values import derive_spot, split_value

    pieces = {channel: split_value(channel, text) for channel, text in values.items()}
    if not any(number for number, _ in pieces.values()):
        raise FixInput("Give at least one reading, such as suction_pressure=“118 psig”", code="missing field")
    with session.store.writing() as t:
        _refuse_closed(t, visit_id)
        if result is None:
            result, method_version = derive_spot(t, circuit_id, pieces)
        given = {
            "visit_id": visit_id,
            "circuit_id": circuit_id,
            "taken_at": session.now,
            "utc_offset": session.utc_offset,
            "mode": mode,
            "purpose": purpose,
            "result": None if result is None else json.dumps(dict(result), ensure_ascii=False, allow_nan=False),
            "method_version": method_version,
        }
        spot_id = rows.add(t, "spot", given, session.by)
        rows.add_many(
            t,
            "spot_value",
            [
                {"spot_id": spot_id, "channel": channel, "value": number, "unit": unit, "read_by": read_by}
                for channel, (number, unit) in pieces.items()
            ],
            session.by,
        )
    return spot_id


def act(
    session: Session,
    visit_id: str,
    text: str,
    *,
    circuit_id: str | None = None,
    minutes: float | None = None,
    installation_id: str | None = None,
) -> str:
    """Write down what was done. Return the action's identity."""
    from steadfeed.records import rows

    values = {
        "visit_id": visit_id,
        "circuit_id": circuit_id,
        "at": session.now,
        "text": text,
        "minutes": minutes,
        "installation_id": installation_id,
    }
    with session.store.writing() as t:
        _refuse_closed(t, visit_id)
        return rows.add(t, "action", values, session.by)


def move_refrigerant(
    session: Session,
    visit_id: str,
    circuit_id: str,
    direction: str,
    weight: str,
    *,
    refrigerant: str | None = None,
    cylinder: str | None = None,
) -> str:
    """Write down refrigerant put into a circuit ("in") or taken out ("out"), by weight as typed ("6 oz", "2 lb 4 oz").

    refrigerant: what the records say is in the circuit, when not given.
    """
    from steadfeed.records import pages, rows
    from steadfeed.records.weight import parse_weight
    from steadfeed.visit.units import known_refrigerant

    hundredths = parse_weight(weight)
    if not hundredths:
        raise FixInput("A weight of nothing need not be written down", code="bad weight")
    with session.store.writing() as t:
        _refuse_closed(t, visit_id)
        name = known_refrigerant(refrigerant) if refrigerant else pages.refrigerant_now(t, circuit_id)
        if name is None:
            raise FixInput("Which refrigerant? The records do not say what this circuit holds", code="missing field")
        values = {
            "visit_id": visit_id,
            "circuit_id": circuit_id,
            "at": session.now,
            "refrigerant": name,
            "direction": direction,
            "weight_hundredth_oz": hundredths,
            "as_typed": weight.strip(),
            "cylinder": cylinder,
        }
        return rows.add(t, "refrigerant_move", values, session.by)


def set_aside(session: Session, visit_id: str, what: str, text: str | None = None) -> str:
    """Write down something set aside for the test (thermostat, auxiliary heat …). It must be answered before closing."""
    from steadfeed.records import rows

    values = {"visit_id": visit_id, "what": what, "at": session.now, "text": text}
    with session.store.writing() as t:
        _refuse_closed(t, visit_id)
        return rows.add(t, "override", values, session.by)


def put_back(session: Session, override_id: str, *, left_because: str | None = None, text: str | None = None) -> str:
    """Answer an override: put back (text: how that was verified), or left on purpose with the reason."""
    from steadfeed.records import rows

    if left_because is not None and not left_because.strip():
        raise FixInput("Say why it is left as it is", code="missing field")
    values = {
        "override_id": override_id,
        "at": session.now,
        "answer": "put back" if left_because is None else "left on purpose",
        "text": text if left_because is None else left_because,
    }
    with session.store.writing() as t:
        override = rows.get(t, "override", override_id)
        _refuse_closed(t, override["visit_id"])
        if rows.find(t, "put_back", override_id=override_id):
            raise NotAllowed(f"The {override['what']} was answered already", code="answered")
        return rows.add(t, "put_back", values, session.by)


def open_overrides(t: sa.Connection, visit_id: str) -> list[dict[str, Any]]:
    """Return what was set aside on a visit and not answered yet."""
    from steadfeed.records import rows

    overrides = rows.find(t, "override", visit_id=visit_id, order="at")
    answered = {p["override_id"] for p in rows.find(t, "put_back", override_id=[o["id"] for o in overrides])}
    return [o for o in overrides if o["id"] not in answered]


def pair(
    session: Session,
    visit_id: str,
    *,
    found_challenge: str | None = None,
    left_challenge: str | None = None,
    found_spot: str | None = None,
    left_spot: str | None = None,
) -> str:
    """Bind readings as found to readings as left, of challenges or of spot readings."""
    from steadfeed.records import rows

    whole = (found_challenge and left_challenge) or (found_spot and left_spot)
    if not whole:
        raise FixInput("A pair needs readings as found and as left, of the same kind", code="missing field")
    values = {
        "visit_id": visit_id,
        "found_challenge_id": found_challenge,
        "left_challenge_id": left_challenge,
        "found_spot_id": found_spot,
        "left_spot_id": left_spot,
    }
    with session.store.writing() as t:
        return rows.add(t, "pair", values, session.by)


def withdraw(session: Session, name: str, fact_id: str, reason: str) -> str:
    """Withdraw something that was written down by mistake. It stays, marked. Return the entry, which can be undone."""
    from steadfeed.records import entries, rows

    check_fact(name)
    if not reason.strip():
        raise FixInput("Say why it is withdrawn", code="missing field")
    with session.store.writing() as t:
        rows.get(t, name, fact_id)
        return entries.withdraw(t, name, fact_id, session.by, reason)


def check_fact(what: str) -> str:
    """Return the table of a kind of fact that can be withdrawn. Raises FixInput for another word."""
    from steadfeed.records.schema import FACTS

    name = what.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in FACTS:
        raise FixInput(f"“{what}” cannot be withdrawn; one of {', '.join(sorted(FACTS))} can", code="bad usage")
    return name


def close_visit(session: Session, visit_id: str) -> None:
    """Close a visit. Raises NotAllowed while something that was set aside is not answered, naming each."""
    from steadfeed.records import entries, rows

    with session.store.writing() as t:
        visit = _refuse_closed(t, visit_id)
        waiting = open_overrides(t, visit_id)
        if waiting:
            questions = " ".join(PUT_BACK_QUESTIONS[o["what"]] for o in waiting)
            named = ", ".join(o["what"] + (f" ({o['text']})" if o["text"] else "") for o in waiting)
            raise NotAllowed(
                f"Not closed: {named} {'was' if len(waiting) == 1 else 'were'} set aside and not answered. {questions}",
                code="override open",
                where=visit_id,
            )
        entries.edit(t, "visit", visit_id, {"closed_at": session.now}, session.by)
        today = _day(session.now + session.utc_offset)
        for due in rows.find(t, "due_visit", unit_id=visit["unit_id"]):
            if due["done_visit_id"] is None and due["visit_id"] != visit_id and due["due_on"] <= _later(today, 31):
                entries.edit(t, "due_visit", due["id"], {"done_visit_id": visit_id}, session.by)


def reopen_visit(session: Session, visit_id: str, reason: str) -> None:
    """Open a closed visit again, with the reason."""
    from steadfeed.records import entries

    if not reason.strip():
        raise FixInput("Say why the visit is opened again", code="missing field")
    with session.store.writing() as t:
        entries.edit(t, "visit", visit_id, {"closed_at": None}, session.by, reason=reason)


def visit_page(session: Session, visit_id: str) -> dict[str, Any]:
    """Return a visit with all that was written down on it. Times [s since the epoch]; SI, absolute."""
    from steadfeed.records import pages

    with session.store.reading() as t:
        return pages.visit_page(t, visit_id)


def search(session: Session, text: str = "", **filters: Any) -> Sequence[Any]:
    """Return visits found by words, refrigerant, verdict and time. See records.search.find_visits."""
    from steadfeed.records.search import find_visits

    with session.store.reading() as t:
        return find_visits(t, text, **filters)


def circuit_of(t: sa.Connection, visit_id: str, name: str | None) -> str:
    """Return the circuit of a visit's unit with that name; without a name, the only one."""
    from steadfeed.records import rows

    return circuit_named(t, rows.get(t, "visit", visit_id)["unit_id"], name)


def circuit_named(t: sa.Connection, unit_id: str, name: str | None) -> str:
    """Return the circuit of a unit with that name; without a name, the only one."""
    from steadfeed.records import rows

    circuits = rows.find(t, "circuit", unit_id=unit_id, order="name created_at")
    if not circuits:
        raise FixInput("This unit has no circuit in the records; add one first", code="no such circuit")
    if name is None:
        if len(circuits) > 1:
            names = ", ".join(str(c["name"]) for c in circuits)
            raise FixInput(f"Which circuit? This unit has {names}", code="which circuit")
        return str(circuits[0]["id"])
    for circuit in circuits:
        if _same_circuit(circuit["name"], name) or (circuit["id"].startswith(name.lower()) and len(name) >= 4):
            return str(circuit["id"])
    if len(circuits) == 1 and circuits[0]["name"] is None:
        return str(circuits[0]["id"])
    raise FixInput(
        f"This unit has no circuit “{name}”; it has {', '.join(str(c['name']) for c in circuits)}",
        code="no such circuit",
    )


def _same_circuit(kept: str | None, said: str) -> bool:
    """Tell whether two names mean the same circuit: logs write c1 where people write 1."""

    def plain(name: str) -> str:
        short = name.strip().lower()
        return short[1:] if short[:1] == "c" and short[1:].isdigit() else short

    return kept is not None and plain(kept) == plain(said)


def _refuse_closed(t: sa.Connection, visit_id: str) -> dict[str, Any]:
    from steadfeed.records import rows

    visit = rows.get(t, "visit", visit_id)
    if visit["closed_at"] is not None:
        raise NotAllowed("This visit is closed; open it again with a reason, or open a new one", code="visit closed")
    return visit


def _day(local: float) -> str:
    import datetime

    return datetime.datetime.fromtimestamp(local, datetime.UTC).date().isoformat()


def _later(day: str, days: int) -> str:
    import datetime

    return (datetime.date.fromisoformat(day) + datetime.timedelta(days=days)).isoformat()
