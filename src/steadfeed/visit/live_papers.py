"""The result of a challenge: judgement, report, log and system file, from what is kept; while it runs, so far."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from steadfeed.visit.judge_log import JudgedLog
    from steadfeed.visit.live_room import LiveRoom


def judgement_screen(
    session: Session, live: LiveRoom, challenge_id: str, units: Literal["us", "si"] = "us"
) -> dict[str, Any]:
    """Return headline and judgement: the standing verdict's, or that of the readings so far while it runs."""
    running = live.running_challenge(challenge_id)
    if running is not None and not running.finished:
        return running.judgement_form(units)
    with session.store.reading() as t:
        from steadfeed.records import pages, rows

        rows.get(t, "challenge", challenge_id)
        found = pages.verdicts_standing(t, [challenge_id]).get(challenge_id)
        verdict = rows.get(t, "verdict", found["id"]) if found else None
    if verdict is None:
        raise FixInput("This challenge was not judged yet", code="nothing to judge")
    judged = _judged(session, challenge_id)
    return {
        **_words(judged, units),
        "verdict_id": verdict["id"],
        "sealed": True,
        "fingerprint": verdict["judgement_sha256"],
        "judgement": json.loads(verdict["judgement"]),
    }


def _words(judged: JudgedLog, units: Literal["us", "si"]) -> dict[str, Any]:
    from steadfeed.visit.papers import headline

    return {"headline": headline(judged, units), "good_news": good_news(judged)}


def good_news(judged: JudgedLog) -> str | None:
    """Say whether the verdict is what the device that should be there is meant to do; None when that cannot be said."""
    verdict = judged.judgement.assessment.verdict
    device = judged.system.metering_device.value
    if verdict == "undecided" or device == "unknown":
        return None
    meant = "fixed" if device == "fixed orifice" else "regulating"
    name = {"txv": "TXV", "eev": "EEV"}.get(device, device)
    if verdict == meant:
        return f"Good news: this unit should have a {name}."
    return f"Not what a {name} is meant to do."


def judge_again(session: Session, live: LiveRoom, challenge_id: str) -> dict[str, Any]:
    """Judge the kept readings and add the verdict. Waits until all that was received is written."""
    from steadfeed.records import rows
    from steadfeed.visit.judge_visit import judge_challenge

    running = live.running_challenge(challenge_id)
    if running is not None:
        running.flush()
    made = judge_challenge(session, challenge_id)
    with session.store.reading() as t:
        row = rows.get(t, "verdict", made["id"])
    return {**row, "reasons": json.loads(row["reasons"]), "changed": json.loads(row["changed"])}


def _judged(session: Session, challenge_id: str) -> JudgedLog:
    from steadfeed.visit.judge_visit import _judge_kept

    with session.store.reading() as t:
        return _judge_kept(t, challenge_id)[0]


def report_html(session: Session, challenge_id: str, units: Literal["us", "si"] = "us") -> str:
    """Return the report of a challenge as one HTML file."""
    from steadfeed.reports.html import render_html
    from steadfeed.visit.papers import document

    return render_html(document(_judged(session, challenge_id), units=units, as_of=_as_of(session)))


def report_pdf(
    session: Session, challenge_id: str, units: Literal["us", "si"] = "us", page: Literal["letter", "a4"] = "letter"
) -> tuple[bytes, str]:
    """Return the report of a challenge as PDF, and a name for the file."""
    from steadfeed.reports.pdf import render_pdf
    from steadfeed.visit.papers import document

    made = render_pdf(document(_judged(session, challenge_id), units=units, as_of=_as_of(session)), page=page)
    return made, f"challenge-{challenge_id[:8]}.pdf"


def _as_of(session: Session) -> datetime.datetime:
    zone = datetime.timezone(datetime.timedelta(seconds=session.utc_offset))
    return datetime.datetime.fromtimestamp(session.now, zone)


def log_file(session: Session, live: LiveRoom, challenge_id: str) -> tuple[bytes, str]:
    """Return the log of a challenge, and a name for the file."""
    log, name, _ = _kept(session, live, challenge_id)
    return log, name


def system_file(session: Session, live: LiveRoom, challenge_id: str) -> bytes:
    """Return the system file that belongs to the log of a challenge."""
    return _kept(session, live, challenge_id)[2]


def _kept(session: Session, live: LiveRoom, challenge_id: str) -> tuple[bytes, str, bytes]:
    running = live.running_challenge(challenge_id)
    if running is not None and not running.guide.finished:
        log, system = running.texts(session.utc_offset)
        return log, f"challenge-{challenge_id[:8]}.csv", system
    from steadfeed.records import readings, rows
    from steadfeed.visit.streamed_log import streamed_log

    with session.store.reading() as t:
        links = rows.find(t, "challenge_log", challenge_id=challenge_id, order="made_at")
        if links:
            link = links[-1]
            system = readings.file_bytes(t, link["system_sha256"]) if link["system_sha256"] else b""
            name = Path(link["log_name"] or "log.csv").name
            return readings.file_bytes(t, link["log_sha256"]), _plain_name(name), system
        log, system = streamed_log(t, challenge_id)
    return log, f"challenge-{challenge_id[:8]}.csv", system


def _plain_name(name: str) -> str:
    return "".join(c for c in name if c.isascii() and (c.isalnum() or c in "-_. ")) or "log.csv"
