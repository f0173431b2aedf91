"""Where a running challenge writes its journal and marks, and what it reads from the records."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from steadfeed.circuit.phase import Mark
from steadfeed.visit.device_work import derived_id
from steadfeed.visit.guide import Event
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from steadfeed.capture.channel_map import ChannelMap


class LiveStore:
    """The records, as one challenge sees them. session: work of the station itself; keep: writes a confirmed map."""

    def __init__(
        self,
        session: Session,
        challenge_id: str,
        visit_id: str,
        keep: Callable[[str, ChannelMap, Session, str, bool], None],
    ) -> None:
        self._session = session
        self._challenge_id = challenge_id
        self._visit_id = visit_id
        self._keep = keep

    @staticmethod
    def new_id() -> str:
        """Return an identity for what the data moved."""
        from steadfeed.records.ids import new_id

        return new_id()

    @staticmethod
    def mark_id(event_id: str, word: str) -> str:
        """Return the identity of the mark that an event sets: the same event gives the same one."""
        return derived_id(event_id, word)

    def write(self, events: Sequence[Event], marks: Sequence[tuple[str, Mark]], session: Session | None = None) -> None:
        """Write lines of the journal and marks, together and for good, before anybody sees them."""
        from steadfeed.records import rows

        work = session if session is not None else self._session
        by = replace(work.by, now=self._session.now if session is None else session.now)
        with work.store.writing() as t:
            for event in events:
                step = {
                    "id": event.id,
                    "challenge_id": self._challenge_id,
                    "at": event.at,
                    "phase": event.phase,
                    "cover": event.cover,
                    "why": event.why,
                }
                rows.add(t, "step", step, replace(by, now=event.at))
            for mark_id, mark in marks:
                values = {
                    "id": mark_id,
                    "challenge_id": self._challenge_id,
                    "at": mark.time,
                    "utc_offset": work.utc_offset,
                    "event": mark.event,
                    "text": mark.text or None,
                }
                rows.add(t, "mark", values, replace(by, now=mark.time))

    def withdraw(self, table: str, row_id: str, session: Session) -> None:
        """Withdraw a line of the journal or a mark; it stays, marked."""
        from steadfeed.records import entries

        with session.store.writing() as t:
            entries.withdraw(t, table, row_id, session.by, "taken back")

    def withdrawn(self, row_id: str) -> bool:
        """Tell whether a line of the journal or a mark was taken back."""
        from steadfeed.records import rows

        with self._session.store.reading() as t:
            for table in ("step", "mark"):
                found = rows.find(t, table, withdrawn=True, id=row_id)
                if found:
                    return bool(found[0]["withdrawn"])
        return False

    def open_overrides(self) -> tuple[str, ...]:
        """Name what was set aside on the visit and not answered yet."""
        from steadfeed.visit.visits import open_overrides

        with self._session.store.reading() as t:
            return tuple(str(o["what"]) for o in open_overrides(t, self._visit_id))

    def keep_map(self, known: ChannelMap, session: Session, mode: str, *, remember: bool) -> None:
        """Keep a confirmed channel map; remember: also as the person's own set."""
        self._keep(self._challenge_id, known, session, mode, remember)


def journal_of(session: Session, challenge_id: str) -> tuple[list[Event], list[tuple[str, Mark]]]:
    """Return the journal and the marks of a challenge, in order."""
    from steadfeed.records import rows

    with session.store.reading() as t:
        steps = rows.find(t, "step", challenge_id=challenge_id, order="at made_at")
        marks = rows.find(t, "mark", challenge_id=challenge_id, order="at")
    return (
        [Event(s["at"], s["phase"], s["cover"] or 0.0, s["why"] or "", s["id"]) for s in steps],
        [(m["id"], Mark(m["at"], m["event"], m["text"] or "")) for m in marks],
    )


def hand_rows_of(stored: Sequence[Any]) -> dict[str, float]:
    """Return identity -> time of the hand-pad rows among kept readings."""
    found: dict[str, float] = {}
    for one in stored:
        if one.reading.source.startswith("hand "):
            found.setdefault(one.reading.boot_id, one.reading.time or 0.0)
    return found
