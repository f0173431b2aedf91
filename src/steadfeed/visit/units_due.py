"""Which units are due: by their own interval since the last visit, and by what a visit asked for."""

from __future__ import annotations

import datetime
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    import sqlalchemy as sa


@dataclass(frozen=True, slots=True)
class Due:
    """A unit that is due. due_on: calendar day; days: until then, negative when over; due_id: None when by interval."""

    unit_id: str
    due_on: str
    days: int
    reason: str
    condition: str | None
    due_id: str | None
    tag: str | None
    place: str | None
    site: str | None
    address: str | None
    customer: str | None


def ask_for_visit(
    session: Session,
    unit_id: str,
    due_on: str,
    reason: str,
    *,
    condition: str | None = None,
    visit_id: str | None = None,
) -> str:
    """Write down that a unit is due on a day (ISO 8601), and under which condition ("above 45 °F outdoors")."""
    from steadfeed.records import rows

    values = {
        "unit_id": unit_id,
        "due_on": check_day(due_on),
        "reason": reason,
        "condition": condition,
        "visit_id": visit_id,
    }
    with session.store.writing() as t:
        rows.get(t, "unit", unit_id)
        return rows.add(t, "due_visit", values, session.by)


def check_day(text: str) -> str:
    """Return a calendar day in ISO 8601. Raises FixInput when it is none."""
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise FixInput(f"“{text}” is no day; write it as 2027-05-31", code="bad day") from None


def start_of_day(session: Session, text: str) -> float:
    """Return when a calendar day (ISO 8601) begins in the session's local time [s since the epoch, UTC]."""
    day = datetime.date.fromisoformat(check_day(text))
    midnight = datetime.datetime(day.year, day.month, day.day, tzinfo=datetime.UTC)
    return midnight.timestamp() - session.utc_offset


def today(session: Session) -> datetime.date:
    """Return the calendar day of the session, in its local time."""
    return datetime.datetime.fromtimestamp(session.now + session.utc_offset, datetime.UTC).date()


def units_due(session: Session, within_days: int = 30) -> list[Due]:
    """Return what is due within a number of days or over, the longest over first. Units out of use are left out."""
    from steadfeed.records import pages

    start = today(session)
    until = start + datetime.timedelta(days=within_days)
    with session.store.reading() as t:
        rows = pages.due_rows(t, until.isoformat())
        rows += _by_interval(t, until)
    return sorted(
        (
            Due(
                unit_id=row["unit_id"],
                due_on=row["due_on"],
                days=(datetime.date.fromisoformat(row["due_on"]) - start).days,
                reason=row["reason"] or "planned visit",
                condition=row["condition"],
                due_id=row["due_id"],
                tag=row["tag"],
                place=row["place"],
                site=row["site"],
                address=row["address"],
                customer=row["customer"],
            )
            for row in rows
        ),
        key=lambda due: (due.due_on, due.tag or "", due.unit_id),
    )


def _by_interval(t: sa.Connection, until: datetime.date) -> list[dict[str, Any]]:
    """Return the units whose interval since the last visit ends by `until`."""
    from steadfeed.records import pages

    found = []
    for row in pages.last_visits(t):
        opened = datetime.datetime.fromtimestamp(row["opened_at"] + (row["utc_offset"] or 0.0), datetime.UTC).date()
        due = opened + datetime.timedelta(days=row["service_interval_days"])
        if due <= until:
            reason = f"every {row['service_interval_days']} days, last {opened.isoformat()}"
            found.append({**row, "due_on": due.isoformat(), "reason": reason, "condition": None, "due_id": None})
    return found


def due_form(due: Due) -> dict[str, Any]:
    """Return the JSON object of a due visit."""
    return asdict(due)


def move_due(session: Session, due_id: str, due_on: str) -> bool:
    """Put a due visit on another day. Return whether that changed anything."""
    from steadfeed.records import entries

    with session.store.writing() as t:
        return bool(entries.edit(t, "due_visit", due_id, {"due_on": check_day(due_on)}, session.by))
