"""Due visits as a calendar file (iCalendar, RFC 5545), out and back in."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session
from steadfeed.visit.units_due import Due, move_due

_UID_END: Final = "@due.steadfeed"
_LINE: Final = 75  # octets, RFC 5545, 3.1


def calendar_file(due: Iterable[Due], now: float) -> bytes:
    """Return due visits as a calendar of whole-day events. now [s since the epoch, UTC]: stamp of the file."""
    stamp = datetime.datetime.fromtimestamp(now, datetime.UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//steadfeed//due visits//EN", "CALSCALE:GREGORIAN"]
    for one in due:
        day = datetime.date.fromisoformat(one.due_on)
        name = " · ".join(p for p in (one.tag, one.place) if p) or "Unit"
        about = [one.reason, one.condition and f"Only {one.condition}", one.customer]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{one.due_id or 'interval-' + one.unit_id}{_UID_END}",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
            f"DTEND;VALUE=DATE:{day + datetime.timedelta(days=1):%Y%m%d}",
            f"SUMMARY:{_escaped(f'{name}: {one.reason}')}",
            f"DESCRIPTION:{_escaped(chr(10).join(a for a in about if a))}",
        ]
        where = ", ".join(p for p in (one.site, one.address) if p)
        if where:
            lines.append(f"LOCATION:{_escaped(where)}")
        lines += ["TRANSP:TRANSPARENT", "END:VEVENT"]
    lines.append("END:VCALENDAR")
    return b"".join(_folded(line) for line in lines)


def _escaped(text: str) -> str:
    """Escape a text value (RFC 5545, 3.3.11)."""
    plain = "".join(c for c in text.replace("\r\n", "\n") if c == "\n" or c >= " ")
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(line: str) -> bytes:
    """Fold a line to 75 octets, never inside a character (RFC 5545, 3.1)."""
    pieces, piece = [], b""
    for character in line:
        octets = character.encode()
        if len(piece) + len(octets) > _LINE:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return b"\r\n".join([*pieces, piece]) + b"\r\n"


@dataclass(frozen=True, slots=True)
class CalendarRead:
    """What became of a calendar file: due visits moved, unchanged, gone from the records, and events that are not ours."""

    moved: tuple[str, ...]
    same: int
    gone: tuple[str, ...]
    others: int


def read_calendar(session: Session, content: bytes) -> CalendarRead:
    """Take over the days to which due visits were moved in a calendar. Other events are counted and left alone.

    Raises FixInput when it is no calendar file, or an event of ours has no day.
    """
    from steadfeed.records import rows

    moved: list[str] = []
    gone: list[str] = []
    same = others = 0
    for event in _events(content):
        uid = event.get("UID", "")
        if not uid.endswith(_UID_END):
            others += 1
            continue
        due_id = uid.removesuffix(_UID_END)
        if due_id.startswith("interval-"):
            same += 1  # it follows from the unit's interval: there is no day of its own to move
            continue
        with session.store.reading() as t:
            known = rows.find(t, "due_visit", id=due_id)
        if not known:
            gone.append(due_id)
        elif move_due(session, due_id, _day(event.get("DTSTART", ""))):
            moved.append(due_id)
        else:
            same += 1
    return CalendarRead(tuple(moved), same, tuple(gone), others)


def _day(start: str) -> str:
    digits = start[:8]
    if len(digits) < 8 or not digits.isdigit():
        raise FixInput(f"An event of the calendar starts on “{start[:20]}”, which is no day", code="bad day")
    return f"{digits[:4]}-{digits[4:6]}-{digits[6:]}"


def _events(content: bytes) -> Sequence[dict[str, str]]:
    """Return the properties of each event: name without parameters -> value as written."""
    text = content.decode("utf-8-sig", errors="replace")
    unfolded = text.replace("\r\n", "\n").replace("\n ", "").replace("\n\t", "")
    lines = [line for line in unfolded.split("\n") if line]
    if not lines or lines[0].strip().upper() != "BEGIN:VCALENDAR":
        raise FixInput("This is no calendar file: it does not begin with BEGIN:VCALENDAR", code="no calendar")
    events: list[dict[str, str]] = []
    inside: dict[str, str] | None = None
    for line in lines:
        head, _, value = line.partition(":")
        name = head.partition(";")[0].upper()
        if (name, value.upper()) == ("BEGIN", "VEVENT"):
            inside = {}
        elif (name, value.upper()) == ("END", "VEVENT"):
            if inside is not None:
                events.append(inside)
            inside = None
        elif inside is not None:
            inside.setdefault(name, value)
    return events
