"""The end of a challenge: its log and system file are kept byte for byte, and judged as any log is."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from collections.abc import Sequence

    from steadfeed.circuit.phase import Mark
    from steadfeed.visit.live_challenge import LiveChallenge


def seal(session: Session, live: LiveChallenge) -> dict[str, Any]:
    """Keep log and system file of a challenge and judge them. Return the verdict's row."""
    from steadfeed.records import readings, rows
    from steadfeed.visit.judge_visit import judge_challenge

    log, system = live.texts(session.utc_offset)
    with session.store.writing() as t:
        kept = readings.keep_file(t, log, session.now)
        kept_system = readings.keep_file(t, system, session.now)
        before = rows.find(t, "challenge_log", challenge_id=live.challenge_id, order="made_at")
        if not before or (before[-1]["log_sha256"], before[-1]["system_sha256"]) != (kept, kept_system):
            link = {
                "challenge_id": live.challenge_id,
                "log_sha256": kept,
                "log_name": f"challenge-{live.challenge_id[:8]}.csv",
                "system_sha256": kept_system,
                "system_name": f"challenge-{live.challenge_id[:8]}.toml",
                "circuit_label": live.tested.recording.recording().circuit,
            }
            rows.add(t, "challenge_log", link, session.by)
    return judge_challenge(session, live.challenge_id)


def system_with_marks(system: bytes, marks: Sequence[Mark], utc_offset: float) -> bytes:
    """Return a system file with the marks of a challenge after it."""
    zone = datetime.timezone(datetime.timedelta(seconds=utc_offset))
    lines = []
    for mark in marks:
        moment = datetime.datetime.fromtimestamp(mark.time, zone).isoformat(timespec="milliseconds")
        lines.append(f'\n[[marks]]\ntime = "{moment}"\nevent = "{mark.event}"')
        if mark.text:
            lines.append(f"text = {_quoted(mark.text)}")
    return system + ("\n".join(lines) + "\n").encode() if lines else system


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in plain) + '"'
