"""The path of a visit: ten acts, what is done, what is skipped and why, what comes next."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session

#: Act -> (what it is for, minutes that it usually takes). Minutes: common practice of the trade, own estimate.
ACTS: Final[dict[str, tuple[str, float]]] = {
    "complaint": ("What the customer says, in their words", 1.0),
    "look and safe": ("Cautions, a look around, the checklist", 4.0),
    "instruments": ("Zero the gauges, ice for the clamps", 5.0),
    "spot readings": ("One set of readings, what they say", 3.0),
    "may I test": ("Needed push, ceiling, what stands against it", 1.0),
    "challenge": ("The test of the metering device", 26.0),
    "findings": ("Causes, for and against, next tests", 4.0),
    "refrigerant": ("What goes in and out, by weight", 2.0),
    "put back": ("Everything set aside is back", 2.0),
    "papers": ("Report, close the visit", 3.0),
}
TEST_MINUTES: Final = ACTS["challenge"][1]
_SAID: Final = re.compile(r"^path: (?P<act>[a-zA-Z ]+): (?P<state>done|skipped|open)(?:, (?P<why>.*))?$", re.DOTALL)


def set_path(
    session: Session, visit_id: str, act: str, state: str, reason: str | None, entry_id: str | None = None
) -> str:
    """Write down that an act is skipped (with the reason), done or open again. Return the entry's identity."""
    from steadfeed.visit import device_work

    if act not in ACTS:
        raise FixInput(f"The path has {', '.join(ACTS)}; “{act}” is not on it", code="unknown word", where="act")
    if state == "skipped" and not (reason or "").strip():
        raise FixInput("Say why it is skipped", code="missing field", where="reason")
    return device_work.act(session, entry_id, visit_id, f"path: {act}: {state}" + (f", {reason}" if reason else ""))


def is_path_entry(action: Mapping[str, Any]) -> bool:
    """Tell whether an action is an entry of the path and no work on the unit."""
    return _SAID.match(str(action["text"])) is not None


def path_of(page: Mapping[str, Any], *, challenge_minutes_left: float | None = None) -> dict[str, Any]:
    """Return the path from a visit's page (see records.pages.visit_page).

    challenge_minutes_left: of a challenge that runs now.
    """
    said: dict[str, tuple[str, str | None]] = {}
    for action in sorted(page["actions"], key=lambda a: a["at"]):
        found = _SAID.match(str(action["text"]))
        if found and found["act"] in ACTS:
            said[found["act"]] = (found["state"], found["why"])
    facts = _facts(page)
    rows: list[dict[str, Any]] = []
    for act, (text, minutes) in ACTS.items():
        state, why = ("done", None) if facts.get(act) else ("open", None)
        if act in said and not (act == "put back" and facts["still set aside"]):
            state, why = said[act] if said[act][0] != "open" else ("open", None)
        if facts["not refrigerant"] and act in ("instruments", "may I test", "challenge") and state == "open":
            state, why = "skipped", facts["not refrigerant"]
        rows.append({"act": act, "state": state, "text": text, "why": why, "minutes": minutes})
    current = next((row for row in rows if row["state"] == "open"), None)
    left = sum(row["minutes"] for row in rows if row["state"] == "open")
    if current is not None:
        current["state"] = "current"
    if challenge_minutes_left is not None:
        left += challenge_minutes_left - (TEST_MINUTES if not facts.get("challenge") else 0.0)
    return {
        "rows": rows,
        "next_act": None if current is None else current["act"],
        "minutes_left": max(0.0, left),
        "test_minutes": TEST_MINUTES,
    }


def _facts(page: Mapping[str, Any]) -> dict[str, Any]:
    visit, challenges = page["visit"], page["challenges"]
    phases = {step["phase"] for step in page.get("steps", ())}
    past_look = phases - {"complaint", "look and safe"}
    judged = any(c.get("verdict") for c in challenges)
    return {
        "complaint": bool(visit["complaint"] or visit["reason"]),
        "look and safe": bool(past_look) or judged,
        "instruments": bool(past_look - {"instruments"}) or judged,
        "spot readings": bool(page["spots"]),
        "may I test": "push" in phases or judged,
        "challenge": judged,
        "findings": bool(page["findings"]),
        "refrigerant": bool(page["refrigerant_moves"]),
        "put back": bool(page["overrides"]) and all(o["put_back"] for o in page["overrides"]),
        "papers": visit["closed_at"] is not None,
        "still set aside": any(not o["put_back"] for o in page["overrides"]),
        "not refrigerant": visit["not_refrigerant"],
    }
