"""Visits: opened, filled, closed."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Response

from steadfeed.visit import device_work, path, spot_page, visits
from steadfeed.web.gate import API
from steadfeed.web.models import records as m
from steadfeed.web.models import records_sent as sent
from steadfeed.web.models.common import Id, Made, UnitSystem
from steadfeed.web.work import At, Work, when

router = APIRouter(prefix=f"{API}/visits", tags=["visits"])


@router.post("", operation_id="openVisit", status_code=201)
def open_visit(body: sent.VisitIn, work: Work, station: At) -> Made:
    """Open a visit to a unit."""
    made = device_work.open_visit(
        when(work, body.at, station),
        body.id,
        body.unit_id,
        complaint=body.complaint,
        reason=body.reason,
        another=body.another,
    )
    return Made(id=made)


@router.get("/{visit_id}", operation_id="getVisit")
def visit(visit_id: Id, work: Work, station: At) -> m.VisitPage:
    """Return a visit with all that was written down on it, and its path."""
    from steadfeed.visit.visit_screen import visit_screen

    return m.VisitPage.model_validate(visit_screen(work, visit_id, station.live))


@router.patch("/{visit_id}", operation_id="noteVisit")
def note(visit_id: Id, body: sent.VisitNote, work: Work) -> sent.EditMade:
    """Write complaint, own conclusion, or why the refrigerant circuit is not suspected."""
    changes: dict[str, Any] = {k: getattr(body, k) for k in body.model_fields_set}
    return sent.EditMade(entry_ids=visits.note(work, visit_id, **changes) if changes else [])


@router.post("/{visit_id}/path", operation_id="setPath", status_code=201)
def set_path(visit_id: Id, body: sent.PathStep, work: Work) -> Made:
    """Skip an act of the path with the reason, tick it off, or take it up again."""
    return Made(id=path.set_path(work, visit_id, body.act, body.state, body.reason))


@router.post("/{visit_id}/spots", operation_id="addSpot", status_code=201)
def spot(visit_id: Id, body: sent.SpotIn, work: Work, station: At, units: UnitSystem = "us") -> sent.SpotResult:
    """Write one set of spot readings as typed; the answer says what follows from it. units: of the sentences."""
    made = spot_from(visit_id, body, when(work, body.at, station))
    return sent.SpotResult.model_validate(spot_page.spot_screen(work, made, units=units))


def spot_from(visit_id: str, body: sent.SpotIn, work: Work) -> str:
    """Write spot readings as they were sent; also from a device's queue."""
    return device_work.spot(
        work,
        body.id,
        visit_id,
        body.circuit_id,
        body.values,
        purpose=body.purpose,
        mode=body.mode,
        read_by=body.read_by,
    )


@router.get("/{visit_id}/spots/{spot_id}", operation_id="getSpot")
def get_spot(visit_id: Id, spot_id: Id, work: Work, units: UnitSystem = "us") -> sent.SpotResult:
    """Return spot readings with findings and next tests by today's method. units: of the sentences."""
    return sent.SpotResult.model_validate(spot_page.spot_screen(work, spot_id, visit_id, units=units))


@router.post("/{visit_id}/actions", operation_id="addAction", status_code=201)
def action(visit_id: Id, body: sent.ActionIn, work: Work, station: At) -> Made:
    """Write down what was done."""
    made = device_work.act(
        when(work, body.at, station), body.id, visit_id, body.text, circuit_id=body.circuit_id, minutes=body.minutes
    )
    return Made(id=made)


@router.post("/{visit_id}/refrigerant-moves", operation_id="moveRefrigerant", status_code=201)
def move(visit_id: Id, body: sent.RefrigerantMoveIn, work: Work, station: At) -> Made:
    """Write down refrigerant in or out, by weight as typed."""
    made = device_work.move_refrigerant(
        when(work, body.at, station),
        body.id,
        visit_id,
        body.circuit_id,
        body.direction,
        body.weight,
        refrigerant=body.refrigerant,
        cylinder=body.cylinder,
    )
    return Made(id=made)


@router.post("/{visit_id}/set-aside", operation_id="setAside", status_code=201)
def set_aside(visit_id: Id, body: sent.SetAsideIn, work: Work, station: At) -> Made:
    """Write down something set aside for the test; it must be answered before the visit can close."""
    return Made(id=device_work.set_aside(when(work, body.at, station), body.id, visit_id, body.what, body.text))


@router.post("/{visit_id}/set-aside/{override_id}/put-back", operation_id="putBack", status_code=201)
def put_back(visit_id: Id, override_id: Id, body: sent.PutBackIn, work: Work, station: At) -> Made:
    """Say that it is put back, or left on purpose and why."""
    made = device_work.put_back(
        when(work, body.at, station), override_id, left_because=body.left_because, text=body.text
    )
    return Made(id=made)


@router.post("/{visit_id}/pairs", operation_id="pair", status_code=201)
def pair(visit_id: Id, body: sent.PairIn, work: Work) -> Made:
    """Bind readings as found to readings as left."""
    made = visits.pair(
        work,
        visit_id,
        found_challenge=body.found_challenge,
        left_challenge=body.left_challenge,
        found_spot=body.found_spot,
        left_spot=body.left_spot,
    )
    return Made(id=made)


@router.delete("/{visit_id}/facts/{fact}/{fact_id}", operation_id="withdraw")
def withdraw(visit_id: Id, fact: str, fact_id: Id, reason: str, work: Work) -> Made:
    """Withdraw something that was written down by mistake; it stays, marked."""
    return Made(id=visits.withdraw(work, fact, fact_id, reason))


@router.post("/{visit_id}/close", operation_id="closeVisit", status_code=204)
def close(visit_id: Id, work: Work) -> Response:
    """Close a visit. Refused while something that was set aside is not answered."""
    visits.close_visit(work, visit_id)
    return Response(status_code=204)


@router.post("/{visit_id}/reopen", operation_id="reopenVisit", status_code=204)
def reopen(visit_id: Id, body: sent.Reason, work: Work) -> Response:
    """Open a closed visit again, with the reason."""
    visits.reopen_visit(work, visit_id, body.reason)
    return Response(status_code=204)
