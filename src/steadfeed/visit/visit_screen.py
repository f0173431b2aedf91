"""The visit on a screen: its page, its unit, its path."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from steadfeed.visit.path import is_path_entry, path_of
from steadfeed.visit.session import Session
from steadfeed.visit.spot_page import diagnosed, finding_form, test_form
from steadfeed.visit.visits import PUT_BACK_QUESTIONS

if TYPE_CHECKING:
    from steadfeed.visit.live_room import LiveRoom


def visit_screen(session: Session, visit_id: str, live: LiveRoom) -> dict[str, Any]:
    """Return a visit with all that was written down on it, its unit and circuits, and its path."""
    from steadfeed.records import pages, rows

    with session.store.reading() as t:
        page = pages.visit_page(t, visit_id)
        unit_page = pages.unit_page(t, page["visit"]["unit_id"])
        ids = [c["id"] for c in page["challenges"]]
        page["steps"] = rows.find(t, "step", challenge_id=ids, order="at") if ids else []
        # causes of a judged challenge stand in the records; until there is one, those of the latest spot readings
        latest = max(page["spots"], key=lambda spot: spot["taken_at"], default=None)
        of_spot = diagnosed(t, latest) if latest is not None and not page["findings"] else None
    running = set(live.running().values())
    for challenge in page["challenges"]:
        challenge["live"] = challenge["id"] in running
    for override in page["overrides"]:
        override["question"] = PUT_BACK_QUESTIONS[override["what"]]
    left = max((live.get(i).minutes_left() for i in ids if i in running), default=None)
    return {
        "visit": page["visit"],
        "unit": unit_page["unit"],
        "site": unit_page["site"],
        "circuits": unit_page["circuits"],
        "path": path_of(page, challenge_minutes_left=left),
        "challenges": page["challenges"],
        "spots": page["spots"],
        "findings": [finding_form(f) for f in page["findings"]] or (of_spot["findings"] if of_spot else []),
        "next_tests": [test_form(one) for one in page["next_tests"]] + (of_spot["next_tests"] if of_spot else []),
        "actions": [a for a in page["actions"] if not is_path_entry(a)],
        "refrigerant_moves": page["refrigerant_moves"],
        "set_aside": page["overrides"],
        "attachments": page["attachments"],
    }
