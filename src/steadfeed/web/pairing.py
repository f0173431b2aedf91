"""Pairing other devices: invitations that work once, the devices that are in, and limits on trying.

An invitation is a link whose token stands behind the “#”: browsers do not send that part to any server, and no log has
it. It works once and for ten minutes. A device can invite for its own role or a smaller one; this machine for any.
"""

from __future__ import annotations

import io
import json
import threading
import time
from collections import deque
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, Final, Literal

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.web.gate import API
from steadfeed.web.sessions import ROLES, TOKEN_SECONDS, Guest, SessionBook

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
Role = Literal["technician", "lead", "read-only"]

#: Attempts at a token that one address has in a minute, and all addresses together.
TRIES_PER_MINUTE: Final = 10
ALL_TRIES_PER_MINUTE: Final = 60
#: Requests that one remote address has in a second, on average over ten.
REQUESTS_PER_SECOND: Final = 40
_RANK: Final = {"read-only": 0, "technician": 1, "lead": 2}
_LOOPBACK: Final = ("127.0.0.1", "::1", "localhost", "testclient")

router = APIRouter(prefix=f"{API}/devices", tags=["session"])


class Invite(BaseModel):
    """A device to let in, and what it may do."""

    model_config = ConfigDict(extra="forbid")
    role: Role = "technician"


class Invitation(BaseModel):
    """A link that lets one device in. certificate_page, fingerprint: null where the link needs no certificate."""

    link: str
    certificate_page: str | None
    fingerprint: str | None
    qr: str
    expires_at: float


class DeviceIn(BaseModel):
    """A device that is in."""

    device: str
    name: str
    role: Role
    expires_at: float
    own: bool


class DevicesIn(BaseModel):
    """All devices that are in."""

    devices: list[DeviceIn]


def _guest(request: Request) -> Guest:
    guest: Guest = request.scope["state"]["guest"]
    return guest


def from_this_machine(scope: Scope) -> bool:
    """Whether a request came over the loopback interface."""
    client = scope.get("client")
    return client is None or client[0] in _LOOPBACK


@router.get("", operation_id="getDevices")
def devices(request: Request) -> DevicesIn:
    """Return the devices that are in."""
    me = _guest(request)
    found = [
        DeviceIn(device=g.device, name=g.name, role=g.role, expires_at=g.expires_at, own=g.device == me.device)  # type: ignore[arg-type]
        for g in guests(request.app.state.book)
    ]
    return DevicesIn(devices=sorted(found, key=lambda d: (not d.own, d.name)))


@router.post("/invitations", operation_id="inviteDevice", status_code=201)
def invite(request: Request, body: Invite) -> Invitation:
    """Make a link that lets one device in: once, within ten minutes."""
    book: SessionBook = request.app.state.book
    me = _guest(request)
    if _RANK[body.role] > _RANK[me.role] and not from_this_machine(request.scope):
        raise NotAllowed(
            f"A {me.role} cannot let a {body.role} in; ask a lead, or use the machine that serves", code="role"
        )
    network = getattr(request.app.state, "network", None)
    address = network.address if network is not None else str(request.base_url)
    link = f"{address}#/pair/{book.mint(body.role)}"
    return Invitation(
        link=link,
        certificate_page=network.page_address if network is not None else None,
        fingerprint=network.kept.fingerprint if network is not None else None,
        qr=square_code(link),
        expires_at=time.time() + TOKEN_SECONDS,
    )


@router.delete("/{device}", operation_id="endDevice", status_code=204)
def end(request: Request, device: str) -> Response:
    """End a device's session."""
    me = _guest(request)
    there = {g.device: g for g in guests(request.app.state.book)}
    if device not in there:
        raise FixInput("There is no such device", code="no such device", where="device")
    if _RANK[there[device].role] > _RANK[me.role] and not from_this_machine(request.scope):
        raise NotAllowed("Only a lead, or the machine that serves, can end this device", code="role")
    end_device(request.app.state.book, device)
    return Response(status_code=204)


def guests(book: SessionBook) -> list[Guest]:
    """Return who is in."""
    with book._lock:
        now = book._clock()
        return [guest for guest in book._sessions.values() if guest.expires_at > now]


def end_device(book: SessionBook, device: str) -> None:
    """End every session of a device."""
    with book._lock:
        for key in [key for key, guest in book._sessions.items() if guest.device == device]:
            del book._sessions[key]
        book._write()


def square_code(text: str) -> str:
    """Return a link as a square code (SVG)."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m").save(out, kind="svg", xmldecl=False, border=3, scale=4)
    return out.getvalue().decode()


class Limits:
    """ASGI middleware: how often a device may try tokens, and how much a remote one may ask.

    clock: gives seconds that only go forward. This machine itself is not limited.
    """

    def __init__(self, app: Any, clock: Callable[[], float] = time.monotonic) -> None:
        self.app = app
        self._clock = clock
        self._lock = threading.Lock()
        self._tries: dict[str, deque[float]] = {}
        self._all: deque[float] = deque()
        self._asked: dict[str, tuple[float, float]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer 429."""
        if scope["type"] == "http" and not from_this_machine(scope):
            who = (scope.get("client") or ("?", 0))[0]
            tries = scope["path"] == "/open" or (scope["path"] == f"{API}/session" and scope["method"] == "POST")
            if (tries and not self._may_try(who)) or not self._may_ask(who):
                await _too_many(send)
                return
        await self.app(scope, receive, send)

    def _may_try(self, who: str) -> bool:
        now = self._clock()
        with self._lock:
            if len(self._tries) > 1000:
                self._tries = {k: v for k, v in self._tries.items() if v and v[-1] > now - 60.0}
            own = self._tries.setdefault(who, deque())
            for kept in (own, self._all):
                while kept and kept[0] <= now - 60.0:
                    kept.popleft()
            if len(own) >= TRIES_PER_MINUTE or len(self._all) >= ALL_TRIES_PER_MINUTE:
                return False
            own.append(now)
            self._all.append(now)
            return True

    def _may_ask(self, who: str) -> bool:
        now = self._clock()
        with self._lock:
            if len(self._asked) > 1000:
                self._asked = {k: v for k, v in self._asked.items() if v[1] > now - 10.0}
            most = 10.0 * REQUESTS_PER_SECOND
            left, at = self._asked.get(who, (most, now))
            left = min(most, left + (now - at) * REQUESTS_PER_SECOND)
            self._asked[who] = (max(left - 1.0, 0.0), now)
            return left >= 1.0


async def _too_many(send: Send) -> None:
    body = json.dumps(
        {"error": {"code": "too often", "message": "Too many tries; wait a minute", "where": None}}
    ).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"retry-after", b"60"),
    ]
    await send({"type": "http.response.start", "status": 429, "headers": headers})
    await send({"type": "http.response.body", "body": body})


assert set(_RANK) == set(ROLES)
