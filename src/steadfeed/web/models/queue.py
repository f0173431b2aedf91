"""What a device gathered without signal, drained without loss or doubles."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Model, Moment, Problem, Request

QueueKind = Literal[
    "unit", "edit", "visit", "visit note", "path step", "spot", "action", "refrigerant move", "set aside", "put back",
    "challenge", "act", "mark", "row", "undo", "close visit",
]  # fmt: skip


class QueueItem(Request):
    """One thing done without signal. sequence: by the device, from 1; body: as its own endpoint takes it.

    of: identity of what it belongs to (visit, challenge, set aside …) where the endpoint has one in its path.
    """

    sequence: Annotated[int, Field(ge=1, le=2**53)]
    id: Id
    kind: QueueKind
    of: Id | None = None
    at: Moment
    body: dict[str, Any] = Field(default_factory=dict)


class QueueIn(Request):
    """Items in order. queue: identity of the device's queue, made when it was first opened."""

    queue: Id
    items: list[QueueItem] = Field(min_length=1, max_length=500)


class QueueReceipt(Model):
    """What became of one item. done: now; known: was there already; refused: never will, `error` says why."""

    sequence: int
    id: str
    state: Literal["done", "known", "refused"]
    error: Problem | None = None


class QueueOut(Model):
    """Receipts, one an item, sent after the commit. acknowledged: every item up to this sequence may be forgotten."""

    queue: str
    receipts: list[QueueReceipt]
    acknowledged: int
