"""Serving the local network: TLS for the app, one plain page, pairing, and limits on trying.

The real server, bound to a second loopback address as to that of a network card; the client is Python's own TLS.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import ssl
import stat
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from browser.real import RealServer
from steadfeed.web.pairing import REQUESTS_PER_SECOND, TRIES_PER_MINUTE, Limits
from steadfeed.web.sessions import TOKEN_BYTES, TOKEN_SECONDS

HERE = "127.0.0.2"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[RealServer]:
    made = RealServer(tmp_path, "--host", HERE)
    yield made
    made.stop()


def ask(server: RealServer, method: str, path: str, body: Any = None, **headers: str) -> tuple[int, Any, str | None]:
    """A request over TLS, trusting the authority of this installation only."""
    context = ssl.create_default_context(cafile=str(server.folder / "tls/authority.crt"))
    link = http.client.HTTPSConnection(HERE, server.port + 1, context=context, timeout=15)
    own = {"Origin": f"https://{HERE}:{server.port + 1}"} if method != "GET" else {}
    content = None if body is None else json.dumps(body)
    link.request(method, path, content, {"content-type": "application/json", **own, **headers})
    answer = link.getresponse()
    text = answer.read()
    cookie = answer.getheader("set-cookie")
    link.close()
    found = json.loads(text) if answer.getheader("content-type", "").startswith("application/json") and text else text
    return answer.status, found, cookie


def plain(port: int, path: str, host: str | None = None, address: str = HERE) -> tuple[int, bytes]:
    link = http.client.HTTPConnection(address, port, timeout=15)
    link.request("GET", path, headers={} if host is None else {"Host": host})
    answer = link.getresponse()
    body = answer.read()
    link.close()
    return answer.status, body


def token_of(said: str) -> str:
    return said.split("token=")[1].split()[0]


def test_the_network_speaks_tls_and_plain_http_shows_one_page(server: RealServer) -> None:
    assert f"On the local network: https://{HERE}:" in server.said
    assert ask(server, "GET", "/")[0] == 200
    assert ask(server, "GET", "/api/v1/about")[0] == 401
    with pytest.raises((http.client.HTTPException, OSError)):
        plain(server.port + 1, "/")
    status, page = plain(server.port + 2, "/")
    assert status == 200
    fingerprint = server.said.split("compares this fingerprint:")[1].split()[0].replace(":", "").encode()
    assert fingerprint in page.replace(b"<br>", b"").replace(b" ", b"")
    assert plain(server.port + 2, "/api/v1/about")[0] == 403
    assert stat.S_IMODE((server.folder / "tls/authority.key").stat().st_mode) == 0o600


def test_pairing_over_the_network(server: RealServer) -> None:
    status, me, cookie = ask(server, "POST", "/api/v1/session", {"token": token_of(server.said), "device": "laptop"})
    assert status == 200
    assert me["role"] == "lead"
    assert cookie is not None
    for part in ("__Host-", "Secure", "HttpOnly", "SameSite=Strict", "Path=/"):
        assert part in cookie
    held = {"Cookie": cookie.split(";")[0]}
    status, invitation, _ = ask(server, "POST", "/api/v1/devices/invitations", {"role": "read-only"}, **held)
    assert status == 201
    assert invitation["link"].startswith(f"https://{HERE}:{server.port + 1}/#/pair/")
    assert invitation["certificate_page"] == f"http://{HERE}:{server.port + 2}/"
    assert invitation["qr"].startswith("<svg")
    token = invitation["link"].split("/pair/")[1]
    status, reader, cookie = ask(server, "POST", "/api/v1/session", {"token": token, "device": "tablet"})
    assert (status, reader["role"]) == (200, "read-only")
    assert ask(server, "POST", "/api/v1/session", {"token": token, "device": "again"})[0] == 401
    assert cookie is not None
    reading = {"Cookie": cookie.split(";")[0]}
    assert ask(server, "GET", "/api/v1/settings", **reading)[0] == 200
    assert ask(server, "POST", "/api/v1/devices/invitations", {"role": "lead"}, **reading)[0] == 403
    status, listed, _ = ask(server, "GET", "/api/v1/devices", **held)
    assert {d["name"]: d["role"] for d in listed["devices"]} == {"laptop": "lead", "tablet": "read-only"}
    assert ask(server, "DELETE", f"/api/v1/devices/{reader['device']}", **held)[0] == 204
    assert ask(server, "GET", "/api/v1/settings", **reading)[0] == 401


def test_foreign_hosts_and_origins_are_refused(server: RealServer) -> None:
    assert ask(server, "GET", "/", Host="evil.example")[0] == 421
    assert ask(server, "POST", "/api/v1/session", {"token": "x" * 43}, Origin="https://evil.example")[0] == 403
    assert (
        ask(server, "POST", "/api/v1/session", {"token": "x" * 43}, Origin=f"http://{HERE}:{server.port + 1}")[0] == 403
    )
    assert plain(server.port, "/", host=f"127.0.0.1:{server.port}", address="127.0.0.1")[0] == 200


def test_tokens_are_long_and_short_lived() -> None:
    assert TOKEN_BYTES * 8 >= 128
    assert TOKEN_SECONDS == 600.0


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def statuses(limits: Limits, count: int, client: str, path: str, method: str) -> list[int]:
    async def run() -> list[int]:
        found: list[int] = []

        async def receive() -> dict[str, Any]:
            return {"type": "http.request"}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                found.append(message["status"])

        for _ in range(count):
            await limits({"type": "http", "path": path, "method": method, "client": (client, 1)}, receive, send)
        return found

    # in a thread of its own: a browser of other tests may have a loop running in this one
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, run()).result()


async def _fine(scope: Any, receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})


def test_tries_are_limited_for_each_address() -> None:
    clock = Clock()
    limits = Limits(_fine, clock)
    found = statuses(limits, TRIES_PER_MINUTE + 3, "192.168.1.5", "/api/v1/session", "POST")
    assert found == [200] * TRIES_PER_MINUTE + [429] * 3
    assert statuses(limits, 1, "192.168.1.6", "/api/v1/session", "POST") == [200]
    assert statuses(limits, 50, "127.0.0.1", "/api/v1/session", "POST") == [200] * 50
    clock.now += 61.0
    assert statuses(limits, 1, "192.168.1.5", "/api/v1/session", "POST") == [200]


def test_many_addresses_together_are_limited_too() -> None:
    limits = Limits(_fine, Clock())
    found = [statuses(limits, 1, f"192.168.1.{n}", "/open", "GET")[0] for n in range(2, 102)]
    assert found.count(200) == 60


def test_requests_are_limited_over_time() -> None:
    clock = Clock()
    limits = Limits(_fine, clock)
    found = statuses(limits, 600, "192.168.1.5", "/api/v1/today", "GET")
    assert found.count(200) == 10 * REQUESTS_PER_SECOND
    clock.now += 1.0
    assert statuses(limits, 60, "192.168.1.5", "/api/v1/today", "GET").count(200) == REQUESTS_PER_SECOND
