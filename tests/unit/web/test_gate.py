"""The gate on a real socket: foreign hosts and origins, tokens, sessions, roles, headers."""

from __future__ import annotations

import json
import socket
import stat
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.web.gate import COOKIE, LARGEST_BODY
from steadfeed.web.serving import free_port, only_here
from steadfeed.web.sessions import TOKEN_SECONDS, SessionBook
from web_server import Client, Served, serving


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("store")) as server:
        yield server


@pytest.fixture(scope="module")
def phone(served: Served) -> Client:
    return served.client()


def ask(served: Served, method: str, path: str, **headers: str) -> httpx.Response:
    given = {k.replace("_", "-"): v for k, v in headers.items()}
    return httpx.request(method, f"http://127.0.0.1:{served.port}{path}", headers=given, timeout=10)


# -- hosts ----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "localhost.evil.example", "127.0.0.1", "localhost:1"]
)
@pytest.mark.parametrize("path", ["/", "/api/v1/about", "/open?token=x", "/api/v1/session"])
def test_a_foreign_host_gets_nothing(served: Served, phone: Client, host: str, path: str) -> None:
    answer = ask(served, "GET", path, host=host, cookie=phone.headers["cookie"])
    assert answer.status_code == 421
    assert answer.json()["error"]["code"] == "foreign host"


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "LOCALHOST"])
def test_own_names_are_answered(served: Served, phone: Client, name: str) -> None:
    answer = ask(served, "GET", "/api/v1/about", host=f"{name}:{served.port}", cookie=phone.headers["cookie"])
    assert answer.status_code == 200


def test_two_host_headers_are_refused(served: Served) -> None:
    with socket.create_connection(("127.0.0.1", served.port)) as raw:
        raw.sendall(
            f"GET /api/v1/about HTTP/1.1\r\nHost: localhost:{served.port}\r\nHost: evil.example\r\nConnection: close\r\n\r\n".encode()
        )
        status = raw.recv(200).split(b"\r\n")[0]
    assert b" 421 " in status or b" 400 " in status


# -- origins --------------------------------------------------------------------------------------------------------------
FOREIGN = [
    "https://evil.example",
    "http://localhost:1",
    "null",
    "http://localhost.evil.example",
    "https://localhost:{port}",
]


@pytest.mark.parametrize("origin", FOREIGN)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "GET"])
def test_a_foreign_origin_may_not_ask_even_with_the_cookie(
    served: Served, phone: Client, origin: str, method: str
) -> None:
    answer = ask(
        served, method, "/api/v1/settings", host=f"localhost:{served.port}", cookie=phone.headers["cookie"],
        origin=origin.format(port=served.port),
    )  # fmt: skip
    assert answer.status_code == 403
    assert answer.json()["error"]["code"] == "foreign origin"
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_write_without_an_origin_is_refused(served: Served, phone: Client, method: str) -> None:
    answer = ask(served, method, "/api/v1/settings", host=f"localhost:{served.port}", cookie=phone.headers["cookie"])
    assert answer.status_code == 403


def test_a_browser_that_says_cross_site_is_refused_even_without_an_origin(served: Served, phone: Client) -> None:
    answer = ask(
        served, "GET", "/api/v1/units", host=f"localhost:{served.port}", cookie=phone.headers["cookie"],
        sec_fetch_site="cross-site", sec_fetch_mode="no-cors",
    )  # fmt: skip
    assert answer.status_code == 403


def test_no_other_site_may_ask_beforehand(served: Served) -> None:
    answer = ask(served, "OPTIONS", "/api/v1/settings", host=f"localhost:{served.port}", origin="https://evil.example")
    assert answer.status_code == 405


@pytest.mark.parametrize("origin", [*FOREIGN, None])
def test_a_socket_from_elsewhere_is_refused(served: Served, phone: Client, origin: str | None) -> None:
    address = f"ws://localhost:{served.port}/api/v1/challenges/0198c0de-0000-7000-8000-000000000001/stream"
    given = None if origin is None else origin.format(port=served.port)
    cookie = {"cookie": phone.headers["cookie"]}
    with (
        pytest.raises((InvalidStatus, ConnectionClosed)) as refused,
        connect(address, origin=given, additional_headers=cookie) as opened,  # type: ignore[arg-type]
    ):
        opened.recv(timeout=5)
    if isinstance(refused.value, InvalidStatus):
        assert refused.value.response.status_code == 403


def test_a_socket_needs_a_session(served: Served) -> None:
    address = f"ws://localhost:{served.port}/api/v1/challenges/0198c0de-0000-7000-8000-000000000001/stream"
    with (
        pytest.raises((InvalidStatus, ConnectionClosed)),
        connect(address, origin=served.origin) as opened,  # type: ignore[arg-type]
    ):
        opened.recv(timeout=5)


# -- tokens and sessions --------------------------------------------------------------------------------------------------
def test_the_opened_link_works_once_and_gives_a_strict_cookie(served: Served) -> None:
    token = served.book.mint()
    first = ask(served, "GET", f"/open?token={token}", host=f"localhost:{served.port}")
    assert first.status_code == 303
    assert first.headers["location"] == "/"
    cookie = first.headers["set-cookie"]
    assert cookie.startswith(f"{COOKIE}=")
    for part in ("Path=/", "Secure", "HttpOnly", "SameSite=Strict"):
        assert part in cookie
    assert "Domain" not in cookie  # __Host- forbids it
    session = cookie.split(";")[0]
    assert ask(served, "GET", "/api/v1/session", host=f"localhost:{served.port}", cookie=session).status_code == 200
    second = ask(served, "GET", f"/open?token={token}", host=f"localhost:{served.port}")
    assert second.status_code == 401
    assert "set-cookie" not in second.headers


def test_a_token_ends_after_ten_minutes_and_is_long(tmp_path: Path) -> None:
    now = [1000.0]
    book = SessionBook(None, lambda: now[0])
    token = book.mint()
    assert len(token) * 6 >= 128
    now[0] += TOKEN_SECONDS + 1.0
    with pytest.raises(NotAllowed):
        book.exchange(token, "phone")


@pytest.mark.parametrize("token", ["", "x", "0" * 43])
def test_a_wrong_token_is_refused(served: Served, token: str) -> None:
    answer = httpx.post(
        f"{served.origin}/api/v1/session", json={"token": token or "-"}, headers={"origin": served.origin}, timeout=10
    )
    assert answer.status_code == 401
    assert answer.json()["error"]["code"] == "token spent"


def test_sessions_outlive_the_server_and_their_texts_stand_nowhere(tmp_path: Path) -> None:
    book = SessionBook(tmp_path / "sessions.json", time.time)
    text, guest = book.exchange(book.mint(), "phone")
    again = SessionBook(tmp_path / "sessions.json", time.time)
    found = again.guest(text)
    assert found == guest
    kept = (tmp_path / "sessions.json").read_text()
    assert text not in kept
    assert stat.S_IMODE((tmp_path / "sessions.json").stat().st_mode) == 0o600
    again.end(text)
    assert SessionBook(tmp_path / "sessions.json", time.time).guest(text) is None


def test_spoilt_sessions_mean_a_new_link_and_no_error(tmp_path: Path) -> None:
    (tmp_path / "sessions.json").write_text("[1, 2")
    assert SessionBook(tmp_path / "sessions.json", time.time).guest("x") is None


@pytest.mark.parametrize("path", ["/api/v1/about", "/api/v1/units", "/api/v1/openapi.json", "/api/v1/nothing"])
def test_nothing_of_the_api_answers_without_a_session(served: Served, path: str) -> None:
    answer = ask(served, "GET", path, host=f"localhost:{served.port}")
    assert answer.status_code == 401
    assert answer.json()["error"]["code"] == "no session"


def test_a_read_only_device_reads_and_writes_nothing(served: Served) -> None:
    office = served.client("read-only", "office")
    assert office("GET", "/units") == []
    for method, path in (("PUT", "/settings"), ("POST", "/units"), ("POST", "/queue"), ("DELETE", "/sources/x")):
        assert office(method, path, {}, status=403)["error"]["code"] == "read only"


def test_a_session_that_was_ended_is_over(served: Served) -> None:
    device = served.client()
    device("DELETE", "/session")
    device("GET", "/about", status=401)


# -- gateways -------------------------------------------------------------------------------------------------------------
def test_a_gateway_token_opens_its_door_and_nothing_else(served: Served, phone: Client) -> None:
    made = phone("POST", "/gateway-tokens", {"name": "gauges", "hours": 1})
    bearer = {"authorization": f"Bearer {made['token']}", "host": f"localhost:{served.port}"}
    body = {
        "source": "set 3",
        "boot_id": "a",
        "readings": [{"sequence": 0, "header": "suction", "value": 118.2, "unit": "psig"}],
    }
    door = httpx.post(f"{served.origin}/api/v1/ingest", json=body, headers=bearer, timeout=20)
    assert door.status_code == 503  # nothing records it: it keeps its readings
    assert door.json()["error"]["code"] == "not recorded"
    assert httpx.get(f"{served.origin}/api/v1/units", headers=bearer, timeout=10).status_code == 401
    assert httpx.put(f"{served.origin}/api/v1/settings", json={}, headers=bearer, timeout=10).status_code in (401, 403)
    wrong = {**bearer, "authorization": "Bearer sfg_" + "0" * 64}
    assert httpx.post(f"{served.origin}/api/v1/ingest", json=body, headers=wrong, timeout=10).status_code == 401
    foreign = {**bearer, "origin": "https://evil.example"}
    assert httpx.post(f"{served.origin}/api/v1/ingest", json=body, headers=foreign, timeout=10).status_code == 403
    phone("DELETE", f"/gateway-tokens/{made['id']}")
    assert httpx.post(f"{served.origin}/api/v1/ingest", json=body, headers=bearer, timeout=10).status_code == 401
    assert all("token" not in t or t["token"] is None for t in phone("GET", "/gateway-tokens"))


# -- headers, bodies, pages -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("path", ["/", "/visit/1", "/api/v1/about", "/api/v1/nothing"])
def test_every_answer_carries_the_policy(served: Served, phone: Client, path: str) -> None:
    answer = ask(served, "GET", path, host=f"localhost:{served.port}", cookie=phone.headers["cookie"])
    policy = answer.headers["content-security-policy"]
    assert "connect-src 'self'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert "server" not in answer.headers or "uvicorn" not in answer.headers["server"]


def test_a_body_that_is_too_large_is_refused_whether_or_not_it_says_so(served: Served, phone: Client) -> None:
    head = (
        f"PUT /api/v1/settings HTTP/1.1\r\nHost: localhost:{served.port}\r\nOrigin: {served.origin}\r\n"
        f"Cookie: {phone.headers['cookie']}\r\nContent-Length: {LARGEST_BODY + 1}\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", served.port)) as raw:
        raw.sendall(head.encode())
        assert b" 413 " in raw.recv(200).split(b"\r\n")[0]

    def chunks() -> Iterator[bytes]:
        for _ in range(LARGEST_BODY // 1_000_000 + 2):
            yield bytes(1_000_000)

    url = f"{served.origin}/api/v1/attachments/0198c0de-0000-7000-8000-000000000001?owner=unit&owner_id=0198c0de-0000-7000-8000-000000000001"
    silent = httpx.put(url, content=chunks(), headers=phone.headers, timeout=60)
    assert silent.status_code == 413


def test_bad_json_and_unknown_fields_are_one_sentence(served: Served, phone: Client) -> None:
    for body in (
        b"{",
        b"\xff\xfe",
        b'{"units": "ells"}',
        b'{"altitude": NaN}',
        b'{"altitude": 1e999}',
        b'{"strange": 1}',
        b"[]",
    ):
        answer = phone.http.request("PUT", "/settings", content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 422, body
        error = answer.json()["error"]
        assert error["message"]
        assert "Traceback" not in answer.text


def test_without_the_built_app_the_page_says_so(served: Served) -> None:
    answer = ask(served, "GET", "/", host=f"localhost:{served.port}")
    assert answer.status_code == 200
    assert "not part of this installation" in answer.text


def test_files_of_the_app_are_served_and_nothing_beside_them(tmp_path: Path) -> None:
    from steadfeed.web.pages import page_file

    app = tmp_path / "app"
    (app / "assets").mkdir(parents=True)
    (app / "index.html").write_text("<title>app</title>")
    (app / "assets" / "a1.js").write_text("1")
    (tmp_path / "secret.txt").write_text("no")
    assert page_file(app, "assets/a1.js").headers["cache-control"].startswith("public")
    assert page_file(app, "visit/12").path == app / "index.html"  # type: ignore[attr-defined]
    for path in ("../secret.txt", "assets/../../secret.txt", "assets/none.js", "/etc/hosts.txt"):
        assert page_file(app, path).status_code == 404


def test_only_this_machine_is_served(tmp_path: Path) -> None:
    assert only_here("localhost") == "127.0.0.1"
    for host in ("0.0.0.0", "192.168.1.5", "::", "example.com"):
        with pytest.raises(FixInput, match="pairing"):
            only_here(host)
    bound = free_port("127.0.0.1", 0)
    with pytest.raises(FixInput, match="another with --port"):
        free_port("127.0.0.1", bound.getsockname()[1])
    bound.close()


def test_settings_are_kept_between_two_servers(tmp_path: Path) -> None:
    with serving(tmp_path) as first:
        client = first.client()
        wanted = client("GET", "/settings") | {"language": "es", "units": "si", "altitude": 1600.0}
        assert client("PUT", "/settings", wanted) == wanted
        session = client.session
    with serving(tmp_path) as second:
        again = Client(second, session, client.device)
        assert again("GET", "/settings") == wanted


def test_the_person_of_a_device_is_kept(served: Served) -> None:
    device = served.client()
    said = device("PUT", "/person", {"name": "Ines Calloway"})
    assert said["person"] == "Ines Calloway"
    assert said["person_id"]
    assert device("GET", "/session")["person"] == "Ines Calloway"
    assert "Ines Calloway" in device("GET", "/people")
    assert json.dumps(said)
