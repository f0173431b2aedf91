"""Readings that came one by one, put together as a log that the judge and everybody else can read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadfeed.errors import FixInput

if TYPE_CHECKING:
    import sqlalchemy as sa


def streamed_log(t: sa.Connection, challenge_id: str) -> tuple[bytes, bytes]:
    """Return (log, system file) of a challenge whose readings came one by one: rows as they were shown live.

    Raises FixInput when the challenge has no readings, or when the refrigerant of its circuit is not known.
    """
    from steadfeed.capture.live_recording import LiveRecording
    from steadfeed.capture.system_file import parse_system_bytes
    from steadfeed.circuit.phase import Mark
    from steadfeed.records import pages, readings, rows
    from steadfeed.visit.live_seal import system_with_marks
    from steadfeed.visit.record_sink import placed_reading
    from steadfeed.visit.visit_logs import system_from_records

    challenge = rows.get(t, "challenge", challenge_id)
    system = system_from_records(pages.circuit_facts(t, challenge["circuit_id"])).decode()
    head, _, tables = system.partition("\n\n[")
    whole = f'{head.rstrip()}\nmode = "{challenge["mode"] or "cooling"}"' + ("\n\n[" + tables if tables else "\n")
    live: LiveRecording | None = None
    for stored in readings.readings_of(t, [challenge_id]):
        if live is None:
            live = LiveRecording(
                parse_system_bytes(whole.encode(), "from the records"),
                utc_offset=stored.reading.utc_offset or 0.0,
            )
        live.add((placed_reading(stored),), stored.received_at)
    if live is None:
        raise FixInput("This challenge has no readings yet", code="nothing to judge")
    marks = [
        Mark(m["at"], m["event"], m["text"] or "") for m in rows.find(t, "mark", challenge_id=challenge_id, order="at")
    ]
    return live.log(), system_with_marks(whole.encode(), marks, live.utc_offset)
