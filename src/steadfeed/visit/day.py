"""The day: what is open, what is due, and all that a device needs of it without signal."""

from __future__ import annotations

import datetime
from typing import Any

from steadfeed.visit.session import Session
from steadfeed.visit.units_due import today, units_due


def day_rows(session: Session, running: dict[str, str], within_days: int = 0) -> list[dict[str, Any]]:
    """Return the rows of the day: challenges that run, open visits, then what is due, the longest over first.

    running: visit -> challenge that runs now.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        still_open = rows.find(t, "visit", closed_at=None, order="opened_at")
        units = {u["id"]: u for u in rows.find(t, "unit", id=sorted({v["unit_id"] for v in still_open}))}
        sites = {s["id"]: s for s in rows.find(t, "site", id=sorted({u["site_id"] for u in units.values()}))}
    out = []
    for visit in reversed(still_open):
        unit = units[visit["unit_id"]]
        site = sites[unit["site_id"]]
        out.append(
            {
                "unit_id": unit["id"],
                "visit_id": visit["id"],
                "challenge_id": running.get(visit["id"]),
                "title": site["name"] or site["address"] or unit["tag"] or "Unit without a name",
                "place": _place(unit),
                "reason": visit["complaint"] or visit["reason"],
                "condition": None,
                "due_on": None,
                "opened_at": visit["opened_at"],
                "state": "running" if visit["id"] in running else "open",
            }
        )
    out.sort(key=lambda row: row["state"] != "running")
    busy = {row["unit_id"] for row in out}
    out += [
        {
            "unit_id": due.unit_id,
            "visit_id": None,
            "challenge_id": None,
            "title": due.site or due.address or due.tag or "Unit without a name",
            "place": ", ".join(part for part in (due.place, due.tag) if part) or None,
            "reason": due.reason,
            "condition": due.condition,
            "due_on": due.due_on,
            "opened_at": None,
            "state": "due",
        }
        for due in units_due(session, within_days)
        if due.unit_id not in busy
    ]
    return out


def day_pack(session: Session, running: dict[str, str], within_days: int = 0, most_units: int = 40) -> dict[str, Any]:
    """Return the day with the whole page of each of its units."""
    from steadfeed.records import pages

    found = day_rows(session, running, within_days)
    wanted = list(dict.fromkeys(row["unit_id"] for row in found))[:most_units]
    with session.store.reading() as t:
        units = [pages.unit_page(t, unit_id) for unit_id in wanted]
    return {"fetched_at": session.now, "day": today(session).isoformat(), "rows": found, "units": units}


def calendar_day(session: Session) -> str:
    """Return the local calendar day (ISO 8601)."""
    return datetime.date.fromisoformat(today(session).isoformat()).isoformat()


def _place(unit: dict[str, Any]) -> str | None:
    return ", ".join(part for part in (unit["place"], unit["tag"]) if part) or None
