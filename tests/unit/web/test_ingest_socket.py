"""Gateways over a real server: numbers, digits, scopes and acknowledgements, by request and over a socket."""

from __future__ import annotations

import asyncio
import json
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from steadfeed.records.readings import readings_of
from web_server import Client, Served, serving

NAMES = (
    "suction_pressure_psig",
    "liquid_pressure_psig",
    "suction_line_temperature_degF",
    "liquid_line_temperature_degF",
)
#: A gateway sends the very same again, the time too.
AT = float(round(time.time()))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("served")) as made:
        yield made


@pytest.fixture(scope="module")
def phone(served: Served) -> Client:
    return served.client()


def token_of(phone: Client, *sources: str) -> dict[str, Any]:
    made: dict[str, Any] = phone("POST", "/gateway-tokens", {"name": "g", "hours": 1, "sources": list(sources)})
    return made


def socket_of(served: Served, token: str | None, **headers: str) -> ClientConnection:
    sent = {**({"authorization": f"Bearer {token}"} if token else {}), **headers}
    return connect(f"ws://localhost:{served.port}/api/v1/ingest", additional_headers=sent)


def message(source: str, first: int, count: int = 4, boot: str = "b1", value: str = "118.40") -> str:
    """The text of a message; values are numbers with the digits of an instrument."""
    rows = ", ".join(
        f'{{"sequence": {n}, "header": "{NAMES[n % 4]}", "value": {value}, '
        f'"unit": "{NAMES[n % 4].rsplit("_", 1)[1]}", "time": {AT + n // 4:.3f}}}'
        for n in range(first, first + count)
    )
    return f'{{"source": "{source}", "boot_id": "{boot}", "readings": [{rows}]}}'


def ask(socket: ClientConnection, text: str | bytes) -> dict[str, Any]:
    socket.send(text)
    answer: dict[str, Any] = json.loads(socket.recv(timeout=20))
    return answer


def recorded_by_a_challenge(phone: Client, served: Served, source: str, tag: str) -> str:
    """Begin a challenge that records this source. Return its identity."""
    with socket_of(served, token_of(phone)["token"]) as socket:
        answer = ask(socket, message(source, 0))
        assert answer["error"] == "not recorded"
        assert answer["kept"] == []
    unit = phone("POST", "/units", {"tag": tag, "circuits": [{"refrigerant": "R-410A"}]})["id"]
    visit = phone("POST", "/visits", {"unit_id": unit, "complaint": "warm"})["id"]
    circuit = phone("GET", f"/units/{unit}")["circuits"][0]["id"]
    known = next(s for s in phone("GET", "/sources")["sources"] if s["name"] == source)
    begun = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "sources": [known["id"]]})
    challenge: str = begun["challenge_id"]
    return challenge


def kept(served: Served, challenge: str) -> dict[int, str | None]:
    with served.station.store.reading() as t:
        return {s.reading.sequence: s.reading.value for s in readings_of(t, [challenge])}


def test_each_message_is_answered_after_its_commit_and_known_again(phone: Client, served: Served) -> None:
    challenge = recorded_by_a_challenge(phone, served, "set 1", "S-1")
    with socket_of(served, token_of(phone, "set 1")["token"]) as socket:
        first = ask(socket, message("set 1", 0))
        assert (first["written"], first["known"], first["conflicts"], first["kept"]) == (4, 0, 0, [[0, 3]])
        assert sorted(kept(served, challenge)) == [0, 1, 2, 3]
        assert set(kept(served, challenge).values()) == {"118.40"}  # the last digit is the instrument's
        again = ask(socket, message("set 1", 0, 8).encode())
        assert (again["written"], again["known"], again["conflicts"], again["kept"]) == (4, 4, 0, [[0, 7]])
        other = ask(socket, message("set 1", 4, value="120.00"))
        assert (other["written"], other["conflicts"]) == (0, 4)
        assert kept(served, challenge)[4] == "118.40"  # the first one stands
        for n in range(20):  # many on the way at once: the answers keep their order
            socket.send(message("set 1", 8 + 4 * n))
        firsts = [json.loads(socket.recv(timeout=20))["kept"][0][0] for _ in range(20)]
        assert firsts == [8 + 4 * n for n in range(20)]
    assert sorted(kept(served, challenge)) == list(range(88))


def test_a_request_says_the_same(phone: Client, served: Served) -> None:
    challenge = recorded_by_a_challenge(phone, served, "set 2", "S-2")
    bearer = {"authorization": f"Bearer {token_of(phone, 'set 2')['token']}", "content-type": "application/json"}

    def send(text: str) -> httpx.Response:
        return httpx.post(f"{served.origin}/api/v1/ingest", content=text, headers=bearer, timeout=30)

    same = message("set 2", 0)
    assert send(same).json() | {"refused": []} == {
        "written": 4, "known": 0, "conflicts": 0, "refused": [], "kept": [[0, 3]], "acknowledged": 3,
    }  # fmt: skip
    assert send(same).json()["known"] == 4
    assert kept(served, challenge)[0] == "118.40"
    stamped = same.replace('"sequence": ', '"sequence": 1')
    stamped = stamped.replace(f'"time": {AT:.3f}', '"time": "2026-07-25T12:20:00.250-05:00"')
    assert send(stamped).json()["written"] == 4
    outside = send(message("somebody else", 0))
    assert outside.status_code == 409
    assert "not for the source" in outside.json()["error"]["message"]


def test_a_scope_a_wrong_token_and_an_ended_one(phone: Client, served: Served) -> None:
    scoped = token_of(phone, "roof")
    assert scoped["sources"] == ["roof"]
    assert next(t for t in phone("GET", "/gateway-tokens") if t["id"] == scoped["id"])["sources"] == ["roof"]
    with socket_of(served, scoped["token"]) as socket:
        assert ask(socket, message("cellar", 0))["error"] == "token scope"
        assert "cellar" not in [s["name"] for s in phone("GET", "/sources")["sources"]]
        assert ask(socket, message("roof", 0))["error"] == "not recorded"
        phone("DELETE", f"/gateway-tokens/{scoped['id']}")
        assert ask(socket, message("roof", 0))["error"] == "token unknown"
        with pytest.raises(ConnectionClosed):
            socket.recv(timeout=10)
    for token in ("sfg_" + "0" * 64, scoped["token"], None):
        with pytest.raises(InvalidStatus), socket_of(served, token):
            raise AssertionError("the door stood open")
    good = token_of(phone)["token"]
    for headers in ({"origin": "https://evil.example"}, {"host": "evil.example"}):
        with pytest.raises(InvalidStatus), socket_of(served, good, **headers):
            raise AssertionError("the door stood open")


def test_a_token_opens_no_other_socket(phone: Client, served: Served) -> None:
    challenge = recorded_by_a_challenge(phone, served, "set 3", "S-3")
    bearer = {"authorization": f"Bearer {token_of(phone)['token']}"}
    for path in (f"challenges/{challenge}/stream", "ingest/more", "ingestion"):
        with (
            pytest.raises(InvalidStatus),
            connect(f"ws://localhost:{served.port}/api/v1/{path}", additional_headers=bearer),
        ):
            raise AssertionError("the door stood open")


@pytest.mark.parametrize(
    ("frame", "says"),
    [
        ("", "no JSON"),
        ("[1, 2]", "JSON object"),
        ('{"source": "x"}', "boot_id"),
        (b"\xff\xfe\x00", "no JSON"),
        ("[" * 100_000, "no JSON"),
        (" " * (2**20 + 1), "at most"),
    ],
)
def test_a_frame_that_is_no_message_gets_one_sentence_and_the_socket_lives(
    phone: Client, served: Served, frame: str | bytes, says: str
) -> None:
    with socket_of(served, token_of(phone)["token"]) as socket:
        answer = ask(socket, frame)
        assert says in answer["message"]
        assert answer["kept"] == []
        assert ask(socket, message("nobody", 0))["error"] == "not recorded"


def test_a_device_that_may_only_read_hands_nothing_in(served: Served) -> None:
    reader = served.client("read-only", "tablet")
    assert reader.http.post("/ingest", content=message("x", 0)).status_code == 403
    address = f"ws://localhost:{served.port}/api/v1/ingest"
    cookie = {"cookie": reader.headers["cookie"]}
    with pytest.raises(InvalidStatus), connect(address, origin=served.origin, additional_headers=cookie):  # type: ignore[arg-type]
        raise AssertionError("the door stood open")


def test_a_source_feeds_one_challenge_that_runs(phone: Client, served: Served, tmp_path: Path) -> None:
    """A reading is kept once: the second challenge would lose after a crash what the first one has."""
    first = recorded_by_a_challenge(phone, served, "set 4", "S-4")
    known = next(s for s in phone("GET", "/sources")["sources"] if s["name"] == "set 4")
    unit = phone("POST", "/units", {"tag": "S-5", "circuits": [{"refrigerant": "R-410A"}]})["id"]
    visit = phone("POST", "/visits", {"unit_id": unit, "complaint": "warm"})["id"]
    circuit = phone("GET", f"/units/{unit}")["circuits"][0]["id"]
    wanted = {"circuit_id": circuit, "sources": [known["id"]]}
    refused = phone("POST", f"/visits/{visit}/challenges", wanted, status=409)
    assert refused["error"]["code"] == "source in use"
    assert "set 4" in refused["error"]["message"]
    act = {"id": "0198c0de-0000-7000-8000-0000000000aa", "act": "abort", "reason": "rain"}
    phone("POST", f"/challenges/{first}/acts", act)
    second = phone("POST", f"/visits/{visit}/challenges", wanted)["challenge_id"]
    with socket_of(served, token_of(phone)["token"]) as socket:
        assert ask(socket, message("set 4", 0, boot="b9"))["written"] == 4
    assert kept(served, second)[0] == "118.40"
    assert kept(served, first) == {}


def test_the_gateway_of_the_page_works(phone: Client, served: Served) -> None:
    """The page for people who build gateways holds a whole one: it is run as it stands."""
    page = (Path(__file__).parents[3] / "docs" / "how-to" / "http-ingest.md").read_text(encoding="utf-8")
    (program,) = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    made: dict[str, Any] = {}
    exec(compile(program, "page", "exec"), made)
    challenge = recorded_by_a_challenge(phone, served, "gauge set 3", "S-6")
    token = token_of(phone, "gauge set 3")["token"]

    async def story() -> None:
        sending = asyncio.create_task(
            made["send"](f"ws://localhost:{served.port}/api/v1/ingest", token, lambda: {"low": ("118.20", "psig")})
        )
        for _ in range(100):
            await asyncio.sleep(0.1)
            if len(kept(served, challenge)) >= 3:
                break
        sending.cancel()

    asyncio.run(story())
    found = kept(served, challenge)
    assert len(found) >= 3
    assert set(found.values()) == {"118.20"}
    assert sorted(found) == list(range(len(found)))
