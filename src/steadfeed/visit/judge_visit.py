"""Judging what is kept: each judgement is added, never written over, and says what changed."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput
from steadfeed.visit.json_form import json_line, judgement_form
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.visit.judge_log import JudgedLog


def judge_visit(session: Session, visit_id: str) -> list[dict[str, Any]]:
    """Judge every challenge of a visit that has readings. Return one verdict row a challenge, with "changed".

    Raises FixInput when there is nothing to judge.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        rows.get(t, "visit", visit_id)
        challenges = rows.find(t, "challenge", visit_id=visit_id, order="started_at")
    if not challenges:
        raise FixInput("This visit has no readings to judge; add a log first", code="nothing to judge")
    return [judge_challenge(session, challenge["id"]) for challenge in challenges]


def judge_challenge(session: Session, challenge_id: str) -> dict[str, Any]:
    """Judge one challenge again and add the verdict beside the earlier ones, saying what changed. Return its row.

    The readings and the system file are those that were kept, byte for byte.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        judged, name = _judge_kept(t, challenge_id)
    form = judgement_form(judged) | {"log": name, "challenge_id": challenge_id}
    text = json_line(form)
    with session.store.writing() as t:
        before = _standing(t, challenge_id)
        held = form["feed_held"] or {}
        values = {
            "challenge_id": challenge_id,
            "supersedes": before["id"] if before else None,
            "method_version": form["method_version"],
            "log_sha256": form["sha256"],
            "system_sha256": form["system_sha256"],
            "valid": form["valid"],
            "verdict": form["verdict"],
            "early": form["early"],
            "reasons": json.dumps(form["reasons"]),
            "feed_held": held.get("value"),
            "feed_held_low": held.get("low"),
            "feed_held_high": held.get("high"),
            "judgement": text,
            "judgement_sha256": hashlib.sha256(text.encode()).hexdigest(),
            "changed": json.dumps(
                what_changed(json.loads(before["judgement"]), form) if before else [], ensure_ascii=False
            ),
        }
        verdict_id = rows.add(t, "verdict", values, session.by)
        _add_masks(t, verdict_id, judged, session)
        _add_findings(t, verdict_id, challenge_id, form, session)
    return {
        **values,
        "id": verdict_id,
        "judgement": form,
        "changed": json.loads(values["changed"]),
        "reasons": form["reasons"],
    }


def _judge_kept(t: sa.Connection, challenge_id: str) -> tuple[JudgedLog, str]:
    """Judge the log of a challenge; readings that came one by one are put together as a log first."""
    from steadfeed.records import readings, rows
    from steadfeed.visit.judge_log import judge_log
    from steadfeed.visit.streamed_log import streamed_log

    links = rows.find(t, "challenge_log", challenge_id=challenge_id, order="made_at")
    if links:
        link = links[-1]
        log, name, label = (
            readings.file_bytes(t, link["log_sha256"]),
            link["log_name"] or "log.csv",
            link["circuit_label"],
        )
        system = readings.file_bytes(t, link["system_sha256"]) if link["system_sha256"] else None
    else:
        log, system = streamed_log(t, challenge_id)
        name, label = "readings.csv", None
    with tempfile.TemporaryDirectory(prefix="steadfeed-") as folder:
        # judge_log looks at the name's ending; nothing else of the name reaches the disk
        path = Path(folder) / ("log" + (Path(name).suffix.lower() or ".csv"))
        path.write_bytes(log)
        system_path = Path(folder) / "log.toml"
        if system is not None:
            system_path.write_bytes(system)
        judged = judge_log(path, system_path if system is not None else None)
    for one in judged:
        if one.judgement.assessment.circuit == label or len(judged) == 1:
            return one, name
    raise FixInput(f"The log {name} no longer shows circuit {label}", code="circuit gone")


def _standing(t: sa.Connection, challenge_id: str) -> dict[str, Any] | None:
    from steadfeed.records import pages, rows

    found = pages.verdicts_standing(t, [challenge_id]).get(challenge_id)
    return rows.get(t, "verdict", found["id"]) if found else None


def what_changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Say in sentences what differs between two judgements, in the form of `judge --json`."""
    said = []
    if before["verdict"] != after["verdict"]:
        said.append(f"Verdict: {before['verdict']} → {after['verdict']}")
    if before["valid"] != after["valid"]:
        said.append("Now valid" if after["valid"] else f"Now not valid: {', '.join(after['reasons'])}")
    elif set(before["reasons"]) != set(after["reasons"]):
        gone = [r for r in before["reasons"] if r not in after["reasons"]]
        new = [r for r in after["reasons"] if r not in before["reasons"]]
        if gone:
            said.append(f"No longer: {', '.join(gone)}")
        if new:
            said.append(f"New reason: {', '.join(new)}")
    if before.get("early") != after.get("early") and before["verdict"] == after["verdict"]:
        said.append("Called early now" if after.get("early") else "No longer an early call")
    said += _held_changed(before.get("feed_held"), after.get("feed_held"))
    if before.get("sha256") != after.get("sha256"):
        said.append("Other readings were judged")
    if before.get("system_sha256") != after.get("system_sha256"):
        said.append("Another system file was used")
    if before["method_version"] != after["method_version"]:
        said.append(f"Method {before['method_version']} → {after['method_version']}")
    return said or ["Nothing changed"]


def _held_changed(before: Mapping[str, float] | None, after: Mapping[str, float] | None) -> list[str]:
    def shown(held: Mapping[str, float] | None) -> str:
        return "not known" if held is None else f"{held['value']:.0%} ({held['low']:.0%} to {held['high']:.0%})"

    if shown(before) == shown(after):
        return []
    return [f"Feed held: {shown(before)} → {shown(after)}"]


def _add_masks(t: sa.Connection, verdict_id: str, judged: JudgedLog, session: Session) -> None:
    """Write which rows of which channel were missing or left out, and which a flag of the judgement means."""
    from dataclasses import asdict

    from steadfeed.analysis.quality_spans import quality_spans
    from steadfeed.records import rows

    found = quality_spans(judged.judgement.recording, judged.judgement.assessment)
    if found:
        rows.add_many(t, "quality_mask", [{**asdict(span), "verdict_id": verdict_id} for span in found], session.by)


def _add_findings(
    t: sa.Connection, verdict_id: str, challenge_id: str, form: Mapping[str, Any], session: Session
) -> None:
    from steadfeed.records import rows

    challenge = rows.get(t, "challenge", challenge_id)
    found = [
        {
            "visit_id": challenge["visit_id"],
            "circuit_id": challenge["circuit_id"],
            "verdict_id": verdict_id,
            "code": one["code"],
            "text": one["text"],
            "likelihood": one.get("likelihood"),
            "evidence_for": json.dumps(one.get("evidence_for") or [], ensure_ascii=False),
            "evidence_against": json.dumps(one.get("evidence_against") or [], ensure_ascii=False),
            "source": one.get("source") or None,
            "method_version": form["method_version"],
        }
        for one in form["findings"]
    ]
    if found:
        rows.add_many(t, "finding", found, session.by)
