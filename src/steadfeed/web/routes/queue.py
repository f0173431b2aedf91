"""The queue of a device that was without signal, drained in order, each thing once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, ValidationError

from steadfeed.errors import FixInput, NotAllowed, SteadfeedError, TryAgain
from steadfeed.visit import device_work, path, units, visits
from steadfeed.visit.sentences import Speech
from steadfeed.visit.session import Session
from steadfeed.visit.station import Station
from steadfeed.web.gate import API
from steadfeed.web.models import live as lm
from steadfeed.web.models import queue as m
from steadfeed.web.models import records_sent as sent
from steadfeed.web.models.common import Problem
from steadfeed.web.routes.challenges import act_from, row_from
from steadfeed.web.routes.records import unit_from
from steadfeed.web.routes.visits import spot_from
from steadfeed.web.work import At, Who, when

router = APIRouter(prefix=API, tags=["queue"])


@router.post("/queue", operation_id="drainQueue")
def drain(body: m.QueueIn, station: At, who: Who) -> m.QueueOut:
    """Take what a device gathered without signal, in order. Safe to send again: what is there already stays as it is.

    An item that can never be taken is refused with the reason and does not hold up the rest. When the store is busy the
    drain stops before that item; the device sends the rest again.
    """
    items = sorted(body.items, key=lambda item: item.sequence)
    receipts: list[m.QueueReceipt] = []
    acknowledged = items[0].sequence - 1
    for item in items:
        work = when(station.session(who.device, who.person), item.at, station)
        try:
            state = _take(item, work, station, who.device)
            receipts.append(m.QueueReceipt(sequence=item.sequence, id=item.id, state=state))
        except TryAgain:
            break
        except SteadfeedError as error:
            problem = Problem(code=error.code, message=error.message, where=error.where)
            receipts.append(m.QueueReceipt(sequence=item.sequence, id=item.id, state="refused", error=problem))
        acknowledged = item.sequence
    return m.QueueOut(queue=body.queue, receipts=receipts, acknowledged=acknowledged)


#: Kind -> table in which its identity is found when it is there already.
_TABLES: Final = {
    "unit": "unit",
    "visit": "visit",
    "spot": "spot",
    "action": "action",
    "refrigerant move": "refrigerant_move",
    "set aside": "override",
    "put back": "put_back",
    "challenge": "challenge",
    "act": "step",
    "mark": "mark",
}


def _take(item: m.QueueItem, work: Session, station: Station, device: str) -> Any:
    table = _TABLES.get(item.kind)
    if table is not None and device_work.is_there(work, table, item.id):
        return "known"
    return _TAKERS[item.kind](item, work, station, device) or "done"


def _body(item: m.QueueItem, model: type[BaseModel]) -> Any:
    fields = dict(item.body)
    if "id" in model.model_fields:
        fields["id"] = item.id
    if "at" in model.model_fields:
        fields["at"] = item.at
    try:
        return model(**fields)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise FixInput(f"{where}: {first['msg']}", code="bad request", where=where) from None


def _of(item: m.QueueItem) -> str:
    if item.of is None:
        raise FixInput(f"A {item.kind} needs what it belongs to", code="missing field", where="of")
    return item.of


def _unit(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    unit_from(_body(item, sent.UnitIn), work)


def _edit(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    fields = dict(item.body)
    thing = str(fields.pop("thing", ""))
    body = _body(item.model_copy(update={"body": fields}), sent.Edit)
    units.edit_thing(work, thing, _of(item), body.changes, seen=body.seen, reason=body.reason)


def _visit(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.VisitIn)
    device_work.open_visit(
        work, body.id, body.unit_id, complaint=body.complaint, reason=body.reason, another=body.another
    )


def _note(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.VisitNote)
    visits.note(work, _of(item), **{k: getattr(body, k) for k in body.model_fields_set})


def _path(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.PathStep)
    path.set_path(work, _of(item), body.act, body.state, body.reason, entry_id=item.id)


def _spot(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    spot_from(_of(item), _body(item, sent.SpotIn), work)


def _action(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.ActionIn)
    device_work.act(work, body.id, _of(item), body.text, circuit_id=body.circuit_id, minutes=body.minutes)


def _move(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.RefrigerantMoveIn)
    device_work.move_refrigerant(
        work,
        body.id,
        _of(item),
        body.circuit_id,
        body.direction,
        body.weight,
        refrigerant=body.refrigerant,
        cylinder=body.cylinder,
    )


def _set_aside(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.SetAsideIn)
    device_work.set_aside(work, body.id, _of(item), body.what, body.text)


def _put_back(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, sent.PutBackIn)
    device_work.put_back(work, _of(item), left_because=body.left_because, text=body.text, answer_id=item.id)


def _challenge(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, lm.ChallengeIn)
    station.live.begin(
        work,
        _of(item),
        body.circuit_id,
        challenge_id=body.id,
        watched=tuple(body.watched),
        way=body.way,
        mode=body.mode,
        purpose=body.purpose,
        sources=tuple(body.sources),
        found_running=body.found_running,
    )


def _act(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    act_from(station.live.get(_of(item)), _body(item, lm.Act), work)


def _mark(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item, lm.MarkIn)
    station.live.get(_of(item)).mark(work, body.id, body.event, body.text)


def _row(item: m.QueueItem, work: Session, station: Station, device: str) -> str:
    known, _ = row_from(station.live.get(_of(item)), _body(item, lm.RowIn), work, Speech())
    return "known" if known else "done"


def _undo(item: m.QueueItem, work: Session, station: Station, device: str) -> None:
    body = _body(item.model_copy(update={"id": item.body.get("id", item.id)}), lm.Undo)
    try:
        station.live.get(_of(item)).undo(work, body.id)
    except NotAllowed as error:
        if error.code != "undone":
            raise


def _close(item: m.QueueItem, work: Session, station: Station, device: str) -> str:
    try:
        visits.close_visit(work, _of(item))
    except NotAllowed as error:
        if error.code == "visit closed":
            return "known"
        raise
    return "done"


_TAKERS: Final[dict[str, Callable[[m.QueueItem, Session, Station, str], Any]]] = {
    "unit": _unit,
    "edit": _edit,
    "visit": _visit,
    "visit note": _note,
    "path step": _path,
    "spot": _spot,
    "action": _action,
    "refrigerant move": _move,
    "set aside": _set_aside,
    "put back": _put_back,
    "challenge": _challenge,
    "act": _act,
    "mark": _mark,
    "row": _row,
    "undo": _undo,
    "close visit": _close,
}
