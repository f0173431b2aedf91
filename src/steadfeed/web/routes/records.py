"""Today, the day pack, units, photos, edits, search."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Query, Response
from fastapi import Path as InPath

from steadfeed.visit import day, device_work, units, visits
from steadfeed.web.gate import API
from steadfeed.web.models import records as m
from steadfeed.web.models import records_sent as sent
from steadfeed.web.models.common import Id, Made, Moment, Reference
from steadfeed.web.work import At, Work, when

router = APIRouter(prefix=API)
UnitId = Annotated[Reference, InPath(description="identity, tag, serial, label, or the start of the identity")]


@router.get("/today", operation_id="getToday", tags=["day"])
def today(work: Work, station: At, within_days: Annotated[int, Query(ge=0, le=400)] = 0) -> m.Today:
    """Return challenges that run, open visits, then what is due."""
    rows = day.day_rows(work, station.live.running(), within_days)
    return m.Today(now=work.now, day=day.calendar_day(work), rows=[m.DayRow(**row) for row in rows])


@router.get("/day-pack", operation_id="getDayPack", tags=["day"])
def day_pack(work: Work, station: At, within_days: Annotated[int, Query(ge=0, le=400)] = 0) -> m.DayPack:
    """Return what a device needs without signal: today's rows and the pages of their units."""
    return m.DayPack.model_validate(day.day_pack(work, station.live.running(), within_days))


@router.get("/units", operation_id="findUnits", tags=["units"])
def find_units(
    work: Work, text: Annotated[str, Query(max_length=200)] = "", limit: Annotated[int, Query(ge=1, le=200)] = 50
) -> list[m.UnitFound]:
    """Find units by words of tag, serial, place, address, customer or refrigerant; without words the latest."""
    return [m.UnitFound(**row) for row in device_work.find_units(work, text, limit)]


@router.post("/units", operation_id="addUnit", tags=["units"], status_code=201)
def add_unit(body: sent.UnitIn, work: Work) -> Made:
    """Write down a unit with its place, circuits and nameplate."""
    return Made(id=unit_from(body, work))


def unit_from(body: sent.UnitIn, work: Work) -> str:
    """Write down a unit as it was sent; also from a device's queue."""
    own = ("kind", "tag", "place", "maker", "model", "serial", "installed_on", "note")
    fields = {k: v for k in own if (v := getattr(body, k)) is not None}
    return device_work.add_unit(
        work,
        body.id,
        site=body.site.model_dump(exclude_none=True),
        customer=body.customer.model_dump(exclude_none=True) if body.customer else None,
        unit=fields,
        circuits=[c.model_dump(exclude_none=True) for c in body.circuits],
        nameplate=body.nameplate.model_dump(exclude_none=True) if body.nameplate else None,
        line_set=body.line_set.model_dump(exclude_none=True) if body.line_set else None,
    )


@router.get("/units/{unit}", operation_id="getUnit", tags=["units"])
def unit_page(unit: UnitId, work: Work) -> m.UnitPage:
    """Return all that a unit's page shows."""
    return m.UnitPage.model_validate(units.unit_page(work, unit))


Editable = Literal["unit", "site", "customer", "circuit", "nameplate", "person", "instrument", "challenge", "visit"]


@router.patch("/things/{thing}/{thing_id}", operation_id="editThing", tags=["edits"])
def edit(thing: Editable, thing_id: Id, body: sent.Edit, work: Work) -> sent.EditMade:
    """Edit fields of a thing; every edit is kept and can be undone."""
    seen: dict[str, list[str]] | None = dict(body.seen) if body.seen is not None else None
    made = units.edit_thing(work, thing, thing_id, body.changes, seen=seen, reason=body.reason)
    return sent.EditMade(entry_ids=made)


@router.get("/things/{thing_id}/edits", operation_id="getEdits", tags=["edits"])
def edits(thing_id: Id, work: Work) -> list[dict[str, Any]]:
    """Return every edit of a thing, oldest first."""
    return units.history_of(work, thing_id)


@router.post("/edits/{entry_id}/undo", operation_id="undoEdit", tags=["edits"])
def undo_edit(entry_id: Id, work: Work) -> Made:
    """Take one edit back by an entry that stands in place of it."""
    return Made(id=units.undo_edit(work, entry_id))


@router.post("/circuits/{circuit_id}/refrigerant", operation_id="chargeWith", tags=["units"], status_code=201)
def charge_with(circuit_id: Id, body: sent.ChargeIn, work: Work) -> Made:
    """Write down that a circuit holds another refrigerant from a moment on."""
    return Made(id=units.charge_with(work, circuit_id, body.refrigerant, body.from_at))


@router.put(
    "/attachments/{attachment_id}",
    operation_id="attach",
    tags=["photos"],
    status_code=201,
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                kind: {"schema": {"type": "string", "format": "binary"}}
                for kind in ("image/jpeg", "image/png", "audio/mp4", "audio/webm")
            },
        }
    },
)
def attach(
    attachment_id: Id,
    work: Work,
    station: At,
    owner: Literal["unit", "visit", "challenge", "circuit", "site"],
    owner_id: Id,
    content: Annotated[bytes, Body(media_type="application/octet-stream")],
    kind: Literal["photo", "voice note"] = "photo",
    text: Annotated[str | None, Query(max_length=500)] = None,
    taken_at: Moment | None = None,
) -> sent.AttachmentMade:
    """Keep a photo or voice note: the body is the file. Location data are taken out. Sent twice, it is there once."""
    row = device_work.attach(
        when(work, taken_at, station), attachment_id, owner, owner_id, kind, content, text=text, taken_at=taken_at
    )
    return sent.AttachmentMade(id=row["id"], media=row["media"], size=row["size"], sha256=row["sha256"])


@router.get(
    "/attachments/{attachment_id}/content",
    operation_id="getAttachment",
    tags=["photos"],
    response_class=Response,
    responses={200: {"content": {"image/jpeg": {}, "image/png": {}, "audio/mp4": {}}, "description": "The file"}},
)
def attachment(attachment_id: Id, work: Work) -> Response:
    """Return the bytes of a photo or voice note."""
    content, media = device_work.attachment_content(work, attachment_id)
    headers = {"cache-control": "private, max-age=31536000, immutable", "content-disposition": "inline"}
    return Response(content, media_type=media, headers=headers)


@router.get("/search", operation_id="search", tags=["search"])
def search(
    work: Work,
    text: Annotated[str, Query(max_length=200)] = "",
    refrigerant: Annotated[str | None, Query(max_length=50)] = None,
    verdict: m.Verdict | None = None,
    since: Moment | None = None,
    until: Moment | None = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> list[m.VisitFound]:
    """Find visits by words, refrigerant at the time, verdict and time; newest first."""
    found = visits.search(work, text, refrigerant=refrigerant, verdict=verdict, since=since, until=until, limit=limit)
    return [m.VisitFound.model_validate(one) for one in found]
