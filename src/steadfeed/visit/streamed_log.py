"""Readings that came one by one, put together as a log that the judge and everybody else can read."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from steadfeed.errors import FixInput

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.records.readings import Stored


def streamed_log(t: sa.Connection, challenge_id: str) -> tuple[bytes, bytes]:
    """Return (log, system file) of a challenge whose readings came one by one: every value as received, no row merged.

    One row a moment of the source's clock (of receipt where it has none), in order of time. Raises FixInput when the
    challenge has no readings.
    """
    from steadfeed.records import pages, readings, rows
    from steadfeed.visit.visit_logs import system_from_records

    challenge = rows.get(t, "challenge", challenge_id)
    stored = list(readings.readings_of(t, [challenge_id]))
    if not stored:
        raise FixInput("This challenge has no readings yet", code="nothing to judge")
    facts = pages.circuit_facts(t, challenge["circuit_id"])
    system = system_from_records(facts).decode()
    head, _, tables = system.partition("\n\n[")
    lines = [head.rstrip("\n"), f'mode = "{challenge["mode"] or "cooling"}"']
    marks = [
        f'[[marks]]\ntime = "{_iso(m["at"], m["utc_offset"] or 0.0)}"\nevent = "{m["event"]}"'
        for m in rows.find(t, "mark", challenge_id=challenge_id, order="at")
    ]
    whole = "\n".join(lines) + ("\n\n[" + tables if tables else "\n")
    return write_log(stored), (whole + "\n" + "\n".join(marks) + "\n").encode()


def write_log(stored: list[Stored]) -> bytes:
    """Write readings as CSV with the headers of contracts: quantity and unit. A value that is missing is an empty cell."""
    columns: dict[str, int] = {}
    cells: dict[tuple[float, float], dict[str, str]] = {}
    for one in stored:
        r = one.reading
        header = f"{r.channel}_{r.unit.replace('%', 'pct')}" if r.channel and r.unit else r.channel or r.header
        columns.setdefault(header, len(columns))
        moment = (one.received_at if r.device_time is None else r.device_time, r.utc_offset or 0.0)
        row = cells.setdefault(moment, {})
        if header not in row or not row[header]:
            row[header] = r.value or ""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time", *columns])
    for moment in sorted(cells):
        writer.writerow([_iso(*moment), *(cells[moment].get(header, "") for header in columns)])
    return out.getvalue().encode()


def _iso(moment: float, utc_offset: float) -> str:
    import datetime

    zone = datetime.timezone(datetime.timedelta(seconds=utc_offset))
    return datetime.datetime.fromtimestamp(moment, zone).isoformat(timespec="milliseconds")
