"""The gate before every request and every socket: known host, own origin, a session.

* Host must be one of the names under which this server was told to answer, so that a page elsewhere cannot reach it by
  pointing its own name here.
* Every write and every socket must come from our own origin. A request without an Origin is taken only from a program
  that shows a bearer token, never with a cookie.
* Everything under /api needs a session, apart from the exchange of the one-time token.
"""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final

from steadfeed.web.sessions import Guest, SessionBook

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE: Final = "__Host-steadfeed"
API: Final = "/api/v1"
#: Paths that answer without a session.
OPEN_PATHS: Final = (f"{API}/session", "/open")
#: Paths that a gateway's bearer token opens, and nothing else.
GATEWAY_PATHS: Final = (f"{API}/ingest",)
SAFE_METHODS: Final = ("GET", "HEAD")
#: Largest body of a request [bytes]: a photo from a phone.
LARGEST_BODY: Final = 25_000_000
TOO_LARGE: Final = (413, "too large", f"At most {LARGEST_BODY // 1_000_000} MB can be sent at once")

CONTENT_SECURITY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; "
    "media-src 'self' blob:; manifest-src 'self'; worker-src 'self'; connect-src 'self'; frame-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
#: The report is one file with its style and chart inside, and no script.
REPORT_SECURITY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; connect-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'"
)
_HEADERS: Final = {
    b"content-security-policy": CONTENT_SECURITY.encode(),
    b"x-content-type-options": b"nosniff",
    b"referrer-policy": b"no-referrer",
    b"cross-origin-opener-policy": b"same-origin",
    b"cross-origin-resource-policy": b"same-origin",
    b"permissions-policy": b"camera=(self), microphone=(self), geolocation=(), screen-wake-lock=(self)",
}


@dataclass(frozen=True, slots=True)
class Reach:
    """Under which names this server answers.

    hosts: values of the Host header; origins: values of the Origin header. Another way of being reached (a local
    network with TLS) is another Reach and nothing else.
    """

    hosts: frozenset[str]
    origins: frozenset[str]


def localhost(port: int) -> Reach:
    """Answer on this machine only."""
    names = (f"localhost:{port}", f"127.0.0.1:{port}", f"[::1]:{port}")
    usual = ("localhost", "127.0.0.1", "[::1]") if port == 80 else ()
    hosts = frozenset((*names, *usual))
    return Reach(hosts, frozenset(f"http://{host}" for host in hosts))


class Gate:
    """ASGI middleware; see the module. app: what lies behind it; gateway: tells whether a bearer token is known."""

    def __init__(self, app: App, *, reach: Reach, book: SessionBook, gateway: Callable[[str], bool]) -> None:
        self.app = app
        self.reach = reach
        self.book = book
        self.gateway = gateway

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = _headers(scope)
        refused = self._look(scope, headers)
        if refused is not None:
            await _refuse(scope, send, *refused)
            return
        if scope["type"] == "websocket":
            await self.app(scope, receive, send)
            return
        body = _Body(receive)
        await self.app(scope, body.receive, _with_headers(scope, send, body))

    def _look(self, scope: Scope, headers: dict[str, list[str]]) -> tuple[int, str, str] | None:
        """Return (status, code, sentence) of a refusal, or None; puts the guest into the scope."""
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self.reach.hosts:
            return 421, "foreign host", "This server does not answer under that name"
        socket, method, path = scope["type"] == "websocket", scope.get("method", ""), scope["path"]
        if not socket and method == "OPTIONS":
            return 405, "not offered", "This server answers no other site"
        origins = headers.get("origin", [])
        foreign = any(origin not in self.reach.origins for origin in origins) or len(origins) > 1
        crossing = headers.get("sec-fetch-site", ["none"])[0] == "cross-site" and not _opens_page(scope, headers)
        if foreign or crossing:
            return 403, "foreign origin", "Another site may not use this server"
        bearer = _bearer(headers)
        if bearer is not None and path in GATEWAY_PATHS:
            if not self.gateway(bearer):
                return 401, "no session", "This gateway's token is not known or has ended"
            scope.setdefault("state", {})
            scope["state"]["gateway"] = bearer
            return None
        if (socket or method not in SAFE_METHODS) and not origins:
            return 403, "foreign origin", "A write must say from which page it comes"
        length = headers.get("content-length", ["0"])[0]
        if not length.isdigit() or int(length) > LARGEST_BODY:
            return TOO_LARGE
        session = _cookie(headers)
        guest = self.book.guest(session) if session else None
        scope.setdefault("state", {})
        scope["state"]["guest"], scope["state"]["session"] = guest, session
        return self._look_at_guest(guest, socket, method, path)

    def _look_at_guest(self, guest: Guest | None, socket: bool, method: str, path: str) -> tuple[int, str, str] | None:
        if not path.startswith("/api") or path in OPEN_PATHS:
            return None
        if guest is None:
            return 401, "no session", "Open steadfeed with a new link from `steadfeed serve`"
        if not socket and method not in SAFE_METHODS and not guest.may_write:
            return 403, "read only", "This device may read and not change anything"
        return None


def _opens_page(scope: Scope, headers: dict[str, list[str]]) -> bool:
    """Whether a person followed a link to a page here: that is a read and a navigation, never a call of the API."""
    return (
        scope["type"] == "http"
        and scope.get("method") in SAFE_METHODS
        and headers.get("sec-fetch-mode", [""])[0] == "navigate"
        and not scope["path"].startswith("/api")
    )


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _bearer(headers: dict[str, list[str]]) -> str | None:
    given = headers.get("authorization", [""])[0]
    kind, _, token = given.partition(" ")
    return token.strip() if kind.lower() == "bearer" and token.strip() else None


def _cookie(headers: dict[str, list[str]]) -> str | None:
    try:
        jar: SimpleCookie = SimpleCookie("; ".join(headers.get("cookie", [])))
    except CookieError:
        return None
    return jar[COOKIE].value if COOKIE in jar else None


class _Body:
    """Counts what a request really sends: a length that is not stated, or is wrong, must not matter."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._total = 0

    @property
    def too_large(self) -> bool:
        return self._total > LARGEST_BODY

    async def receive(self) -> MutableMapping[str, Any]:
        message = await self._receive()
        self._total += len(message.get("body", b""))
        return {"type": "http.disconnect"} if self.too_large else message


def _with_headers(scope: Scope, send: Send, body: _Body) -> Send:
    """Add our headers to every answer; the answer to a body that went on too long is always the same."""
    refused = False

    async def sending(message: MutableMapping[str, Any]) -> None:
        nonlocal refused
        if refused:
            return
        if message["type"] == "http.response.start":
            if body.too_large:
                refused = True
                await _refuse(scope, send, *TOO_LARGE)
                return
            there = {name.lower() for name, _ in message["headers"]}
            message["headers"] = [
                *message["headers"],
                *((name, value) for name, value in _HEADERS.items() if name not in there),
            ]
        await send(message)

    return sending


async def _refuse(scope: Scope, send: Send, status: int, code: str, sentence: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 4401 if status == 401 else 4403, "reason": code})
        return
    body = json.dumps({"error": {"code": code, "message": sentence, "where": None}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), *_HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
