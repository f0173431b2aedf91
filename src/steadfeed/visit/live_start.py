"""Beginning a challenge from a terminal: the visit found or opened, the sources connected."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from steadfeed.errors import NotAllowed
from steadfeed.visit.session import find_unit, find_visit
from steadfeed.visit.visits import circuit_of, open_visit

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.station import Station


def begin_taken_up(station: Station) -> LiveChallenge | None:
    """Return the challenge that was interrupted, when there is exactly one."""
    interrupted = station.live.resume_all()
    return interrupted[0] if len(interrupted) == 1 else None


def begin_real(
    station: Station,
    *,
    person: str | None,
    unit: str | None,
    visit: str | None,
    circuit: str | None,
    watched: Sequence[str] = (),
    sources: Sequence[tuple[str, dict[str, Any]]],
    by_hand: bool,
    mode: str,
    found_running: bool,
) -> LiveChallenge:
    """Begin a challenge on a unit's open visit; without one a visit is opened. An interrupted one is taken up.

    unit, visit: as people give them (tag, serial, start of the identity). Raises FixInput or NotAllowed in one sentence.
    """
    work = station.session("terminal", person)
    with station.store.reading() as t:
        if visit is not None:
            visit_id = find_visit(t, visit)
        else:
            visit_id = ""
            unit_id = find_unit(t, unit or "")
    if not visit_id:
        try:
            visit_id = open_visit(work, unit_id)
        except NotAllowed as error:
            if error.code != "visit open" or error.where is None:
                raise
            visit_id = error.where
    for live in station.live.resume_all():
        if live.visit_id == visit_id:
            return live
    with station.store.reading() as t:
        circuit_id = circuit_of(t, visit_id, circuit)
        others = [circuit_of(t, visit_id, name) for name in watched]
    connected = [station.sources.add(None, kind, _name(kind, settings), settings)["id"] for kind, settings in sources]
    return station.live.begin(
        work,
        visit_id,
        circuit_id,
        watched=others,
        way="by hand" if by_hand else "instruments",
        mode=mode,
        sources=connected,
        found_running=found_running,
    )


def _name(kind: str, settings: dict[str, Any]) -> str:
    return f"{kind} {settings.get('path') or settings.get('host') or settings.get('address') or ''}".strip()[:100]
