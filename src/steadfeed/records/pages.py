"""What one screen or one command shows, read in a handful of queries whatever the number of visits."""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa

from steadfeed.records import rows
from steadfeed.records.schema import table

_LATEST, _VERDICT = table("latest_verdict"), table("verdict")


def standing_verdict(t: sa.Connection, challenge_id: str) -> str | None:
    """Return the word of the verdict that stands on a challenge, None when it was not judged."""
    found = t.execute(sa.select(_LATEST.c.verdict).where(_LATEST.c.challenge_id == challenge_id)).scalar_one_or_none()
    return None if found is None else str(found)


def verdicts_standing(t: sa.Connection, challenge_ids: list[str]) -> dict[str, dict[str, Any]]:
    """Return the standing verdict of each challenge, without the whole judgement."""
    if not challenge_ids:
        return {}
    columns = (
        _VERDICT.c.id, _VERDICT.c.challenge_id, _VERDICT.c.verdict, _VERDICT.c.valid, _VERDICT.c.early, _VERDICT.c.reasons,
        _VERDICT.c.feed_held, _VERDICT.c.feed_held_low, _VERDICT.c.feed_held_high, _VERDICT.c.method_version,
        _VERDICT.c.made_at, _VERDICT.c.supersedes, _VERDICT.c.changed,
    )  # fmt: skip
    query = (
        sa.select(*columns)
        .join(_LATEST, _LATEST.c.verdict_id == _VERDICT.c.id)
        .where(_LATEST.c.challenge_id.in_(challenge_ids))
    )
    found = {}
    for row in t.execute(query).mappings():
        values = dict(row)
        values["reasons"], values["changed"] = json.loads(row["reasons"]), json.loads(row["changed"])
        found[row["challenge_id"]] = values
    return found


def unit_page(t: sa.Connection, unit_id: str) -> dict[str, Any]:
    """Return a unit with its site, customer, circuits, parts, nameplates, due visits and its visits, newest first."""
    unit = rows.get(t, "unit", unit_id)
    site = rows.get(t, "site", unit["site_id"])
    customer = rows.get(t, "customer", site["customer_id"]) if site["customer_id"] else None
    circuits = rows.find(t, "circuit", unit_id=unit_id, order="name created_at")
    ids = [c["id"] for c in circuits]
    refrigerants = rows.find(t, "circuit_refrigerant", circuit_id=ids) if ids else []
    line_sets = rows.find(t, "line_set", circuit_id=ids) if ids else []
    for circuit in circuits:
        circuit["refrigerants"] = _dated(refrigerants, circuit["id"], "refrigerant")
        circuit["refrigerant"] = circuit["refrigerants"][-1]["refrigerant"] if circuit["refrigerants"] else None
        circuit["line_sets"] = _dated(
            line_sets, circuit["id"], "length", "lift", "liquid_line_diameter", "suction_line_diameter"
        )
    installations = rows.find(t, "installation", unit_id=unit_id)
    parts = (
        {p["id"]: p for p in rows.find(t, "part", id=[i["part_id"] for i in installations])} if installations else {}
    )
    for one in installations:
        one["part"] = parts[one["part_id"]]
    installations.sort(key=lambda i: (i["role"], i["from_at"] if i["from_at"] is not None else float("-inf")))
    due = [d for d in rows.find(t, "due_visit", unit_id=unit_id, order="due_on") if d["done_visit_id"] is None]
    return {
        "unit": unit,
        "site": site,
        "customer": customer,
        "circuits": circuits,
        "nameplates": rows.find(t, "nameplate", unit_id=unit_id),
        "installations": installations,
        "due": due,
        "attachments": rows.find(t, "attachment", owner_id=unit_id, order="made_at"),
        "visits": _visits(t, unit_id, ids),
    }


def _dated(found: list[dict[str, Any]], circuit_id: str, *fields: str) -> list[dict[str, Any]]:
    mine = [{"from_at": r["from_at"], **{f: r[f] for f in fields}} for r in found if r["circuit_id"] == circuit_id]
    return sorted(mine, key=lambda r: float("-inf") if r["from_at"] is None else r["from_at"])


def _visits(t: sa.Connection, unit_id: str, circuit_ids: list[str]) -> list[dict[str, Any]]:
    """Return the visits of a unit, and those on which readings were taken that were moved to it since."""
    challenges = rows.find(t, "challenge", circuit_id=circuit_ids, order="started_at") if circuit_ids else []
    visits = {v["id"]: v for v in rows.find(t, "visit", unit_id=unit_id)}
    strangers = {c["visit_id"] for c in challenges} - visits.keys()
    if strangers:
        visits |= {v["id"]: v for v in rows.find(t, "visit", id=sorted(strangers))}
    if not visits:
        return []
    ids = sorted(visits)
    verdicts = verdicts_standing(t, [c["id"] for c in challenges])
    people = {p["id"]: p["name"] for p in rows.find(t, "person", id=_known(visits.values(), "person_id"))}
    spots = rows.find(t, "spot", visit_id=ids, order="taken_at")
    found = {
        name: rows.find(t, name, visit_id=ids, order="made_at") for name in ("finding", "action", "refrigerant_move")
    }
    found["finding"] = still_standing(t, found["finding"])
    overrides = rows.find(t, "override", visit_id=ids)
    answered = {p["override_id"] for p in rows.find(t, "put_back", override_id=[o["id"] for o in overrides])}
    for visit in visits.values():
        visit["technician"] = people.get(visit["person_id"])
        visit["challenges"] = [
            {**c, "verdict": verdicts.get(c["id"])} for c in challenges if c["visit_id"] == visit["id"]
        ]
        visit["spots"] = [s for s in spots if s["visit_id"] == visit["id"] and s["circuit_id"] in circuit_ids]
        visit["findings"] = _mine(found["finding"], visit["id"])
        visit["actions"] = _mine(found["action"], visit["id"])
        visit["refrigerant_moves"] = _mine(found["refrigerant_move"], visit["id"])
        visit["open_overrides"] = [o for o in _mine(overrides, visit["id"]) if o["id"] not in answered]
    return sorted(visits.values(), key=lambda v: v["opened_at"], reverse=True)


def _mine(found: list[dict[str, Any]], visit_id: str) -> list[dict[str, Any]]:
    return [row for row in found if row["visit_id"] == visit_id]


def _known(found: Any, field: str) -> list[str]:
    return sorted({row[field] for row in found if row[field]})


def visit_page(t: sa.Connection, visit_id: str) -> dict[str, Any]:
    """Return a visit with everything that was written down on it."""
    visit = rows.get(t, "visit", visit_id)
    challenges = rows.find(t, "challenge", visit_id=visit_id, order="started_at")
    ids = [c["id"] for c in challenges]
    verdicts = verdicts_standing(t, ids)
    logs = rows.find(t, "challenge_log", challenge_id=ids, order="made_at")
    marks = rows.find(t, "mark", challenge_id=ids, order="at")
    for one in challenges:
        one["verdict"] = verdicts.get(one["id"])
        one["logs"] = [log for log in logs if log["challenge_id"] == one["id"]]
        one["marks"] = [m for m in marks if m["challenge_id"] == one["id"]]
    spots = rows.find(t, "spot", visit_id=visit_id, order="taken_at")
    values = rows.find(t, "spot_value", spot_id=[s["id"] for s in spots]) if spots else []
    for spot in spots:
        spot["values"] = [v for v in values if v["spot_id"] == spot["id"]]
        spot["result"] = json.loads(spot["result"]) if spot["result"] else None
    overrides = rows.find(t, "override", visit_id=visit_id, order="at")
    answers = {
        p["override_id"]: p for p in rows.find(t, "put_back", override_id=[o["id"] for o in overrides], order="at")
    }
    for override in overrides:
        override["put_back"] = answers.get(override["id"])
    tests = rows.find(t, "next_test", visit_id=visit_id, order="made_at")
    outcomes = rows.find(t, "test_outcome", next_test_id=[n["id"] for n in tests], order="made_at") if tests else []
    for test in tests:
        test["outcomes"] = [o for o in outcomes if o["next_test_id"] == test["id"]]
    plain = ("finding", "action", "refrigerant_move", "pair", "signature", "delivery", "hand_over", "instrument_use")
    attached = rows.find(t, "attachment", owner_id=[visit_id, *ids], order="made_at")
    found = {plural(name): rows.find(t, name, visit_id=visit_id, order="made_at") for name in plain}
    found["findings"] = still_standing(t, found["findings"])
    return {
        "visit": visit,
        "challenges": challenges,
        "spots": spots,
        "overrides": overrides,
        "next_tests": tests,
        "attachments": attached,
        **found,
    }


def still_standing(t: sa.Connection, findings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out the findings of judgements that a later one stands in place of; a person's own stay."""
    judged = sorted({f["verdict_id"] for f in findings if f["verdict_id"]})
    if not judged:
        return findings
    standing = set(t.execute(sa.select(_LATEST.c.verdict_id).where(_LATEST.c.verdict_id.in_(judged))).scalars())
    return [f for f in findings if f["verdict_id"] is None or f["verdict_id"] in standing]


def plural(name: str) -> str:
    """Return the word for several rows of a table: the key under which a page lists them."""
    return name.removesuffix("y") + "ies" if name.endswith("y") else name + "s"


def refrigerant_now(t: sa.Connection, circuit_id: str) -> str | None:
    """Return the refrigerant that a circuit holds by the last word of the records, None when they do not say."""
    held = _dated(rows.find(t, "circuit_refrigerant", circuit_id=circuit_id), circuit_id, "refrigerant")
    return str(held[-1]["refrigerant"]) if held else None


def circuit_facts(t: sa.Connection, circuit_id: str) -> dict[str, Any]:
    """Return what the records know of a circuit for judging it: refrigerant, device, site, nameplate, line set. SI."""
    circuit = rows.get(t, "circuit", circuit_id)
    unit = rows.get(t, "unit", circuit["unit_id"])
    site = rows.get(t, "site", unit["site_id"])
    plates = rows.find(t, "nameplate", unit_id=unit["id"])
    plates.sort(key=lambda p: (p["circuit_id"] == circuit_id, p["circuit_id"] is None, p["created_at"]))
    plate = plates[-1] if plates and plates[-1]["circuit_id"] in (None, circuit_id) else None
    fields = ("length", "lift", "liquid_line_diameter", "suction_line_diameter")
    lines = _dated(rows.find(t, "line_set", circuit_id=circuit_id), circuit_id, *fields)
    return {
        "circuit": circuit,
        "unit": unit,
        "refrigerant": refrigerant_now(t, circuit_id),
        "altitude": site["altitude"],
        "barometer": site["barometer"],
        "time_zone": site["time_zone"],
        "nameplate": plate,
        "line_set": lines[-1] if lines else None,
    }


def due_rows(t: sa.Connection, until: str) -> list[dict[str, Any]]:
    """Return the due visits that are not done, up to a day (ISO 8601), with unit, site and customer."""
    due, unit = table("due_visit"), table("unit")
    query = (
        sa.select(due.c.id.label("due_id"), due.c.due_on, due.c.reason, due.c.condition, *_whereabouts())
        .select_from(_units_somewhere().join(due, due.c.unit_id == unit.c.id))
        .where(due.c.done_visit_id.is_(None), due.c.due_on <= until, unit.c.retired_at.is_(None))
    )
    return [dict(row) for row in t.execute(query).mappings()]


def last_visits(t: sa.Connection) -> list[dict[str, Any]]:
    """Return the units in use that have an interval, each with when its last visit was opened."""
    unit, visit = table("unit"), table("visit")
    last = (
        sa.select(
            visit.c.unit_id,
            sa.func.max(visit.c.opened_at).label("opened_at"),
            sa.func.max(visit.c.utc_offset).label("utc_offset"),
        )
        .group_by(visit.c.unit_id)
        .subquery()
    )
    query = (
        sa.select(unit.c.service_interval_days, last.c.opened_at, last.c.utc_offset, *_whereabouts())
        .select_from(_units_somewhere().join(last, last.c.unit_id == unit.c.id))
        .where(unit.c.service_interval_days.is_not(None), unit.c.retired_at.is_(None))
    )
    return [dict(row) for row in t.execute(query).mappings()]


def units_listed(t: sa.Connection, unit_ids: list[str] | None = None) -> list[dict[str, Any]]:
    """Return units with site and customer, by tag; None: every unit in use."""
    unit = table("unit")
    query = sa.select(unit.c.kind, unit.c.serial, unit.c.model, *_whereabouts()).select_from(_units_somewhere())
    query = query.where(unit.c.id.in_(unit_ids)) if unit_ids is not None else query.where(unit.c.retired_at.is_(None))
    return [dict(row) for row in t.execute(query.order_by(unit.c.tag, unit.c.id)).mappings()]


def _whereabouts() -> tuple[sa.ColumnElement[Any], ...]:
    unit, site, customer = table("unit"), table("site"), table("customer")
    return (
        unit.c.id.label("unit_id"), unit.c.tag, unit.c.place, site.c.name.label("site"), site.c.address,
        customer.c.name.label("customer"),
    )  # fmt: skip


def _units_somewhere() -> sa.FromClause:
    unit, site, customer = table("unit"), table("site"), table("customer")
    return unit.join(site, site.c.id == unit.c.site_id).outerjoin(customer, customer.c.id == site.c.customer_id)
