"""A whole visit over the API on real sockets: units, visits, a challenge by hand, the stream, practice, the queue."""

from __future__ import annotations

import json
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from web_server import Client, Served, frame, serving

UNIT = {
    "kind": "outdoor",
    "tag": "W-05",
    "place": "Roof west",
    "serial": "QX-2241-8830",
    "site": {"name": "Mill house", "address": "12 Alder Street", "altitude": 120.0},
    "customer": {"name": "Ardenfield Mills"},
    "circuits": [{"refrigerant": "R-410A", "metering_device": "txv"}],
    "nameplate": {"subcooling": 5.6, "charge_hundredth_oz": 9600},
}
PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c4944415408d763f8cfc0000003010100c9fe92ef0000000049454e44ae426082"
)


def new_id() -> str:
    return str(uuid.uuid4())


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("store")) as server:
        yield server


@pytest.fixture
def phone(served: Served) -> Client:
    return served.client()


def unit_and_visit(phone: Client, tag: str) -> tuple[str, str, str]:
    unit = phone("POST", "/units", {**UNIT, "tag": tag, "serial": f"S-{tag}"})["id"]
    visit = phone("POST", "/visits", {"unit_id": unit, "complaint": "no cold air", "reason": "service"})["id"]
    circuit = phone("GET", f"/units/{unit}")["circuits"][0]["id"]
    return unit, visit, circuit


def answer_all(phone: Client, challenge: str) -> dict[str, Any]:
    state = phone("GET", f"/challenges/{challenge}")
    for row in state["checks"]:
        state = phone(
            "POST",
            f"/challenges/{challenge}/acts",
            {"id": new_id(), "act": "answer", "check": row["code"], "answer": "yes"},
        )
    return phone("POST", f"/challenges/{challenge}/acts", {"id": new_id(), "act": "go on"})


# -- records --------------------------------------------------------------------------------------------------------------
def test_a_unit_is_written_down_found_edited_and_pictured(phone: Client) -> None:
    unit, visit, circuit = unit_and_visit(phone, "A-1")
    page = phone("GET", "/units/A-1")  # by its tag
    assert page["unit"]["id"] == unit
    assert page["circuits"][0]["refrigerant"] == "R-410A"
    assert page["visits"][0]["id"] == visit
    assert phone("GET", "/units", text="alder")[0]["site"] == "Mill house"
    entries = phone("PATCH", f"/things/unit/{unit}", {"changes": {"place": "Roof east"}})["entry_ids"]
    assert phone("GET", "/units/A-1")["unit"]["place"] == "Roof east"
    phone("POST", f"/edits/{entries[0]}/undo")
    assert phone("GET", "/units/A-1")["unit"]["place"] == "Roof west"
    photo = new_id()
    for _ in range(2):
        sent = phone.http.put(
            f"/attachments/{photo}",
            params={"owner": "unit", "owner_id": unit},
            content=PNG,
            headers={"content-type": "image/png"},
        )
        assert sent.status_code == 201, sent.text
    assert len(phone("GET", "/units/A-1")["attachments"]) == 1
    kept = phone.http.get(f"/attachments/{photo}/content")
    assert kept.headers["content-type"] == phone("GET", "/units/A-1")["attachments"][0]["media"]
    assert len(kept.content) == phone("GET", "/units/A-1")["attachments"][0]["size"]
    rows = phone("GET", "/today")["rows"]
    assert [r["state"] for r in rows if r["unit_id"] == unit] == ["open"]
    pack = phone("GET", "/day-pack")
    assert any(u["unit"]["id"] == unit for u in pack["units"])
    assert circuit


def test_a_visit_is_filled_and_cannot_close_with_something_set_aside(phone: Client) -> None:
    _, visit, circuit = unit_and_visit(phone, "A-2")
    values = {
        "suction_pressure": "118 psig",
        "liquid_pressure": "365",
        "suction_line_temperature": "52 °F",
        "liquid_line_temperature": "95,5 °F",
    }
    spot = phone("POST", f"/visits/{visit}/spots", {"id": new_id(), "circuit_id": circuit, "values": values})
    assert spot["spot"]["result"]["superheat_degF"] == pytest.approx(11.6, abs=1.0)
    aside = phone("POST", f"/visits/{visit}/set-aside", {"id": new_id(), "what": "thermostat"})["id"]
    phone(
        "POST",
        f"/visits/{visit}/refrigerant-moves",
        {"id": new_id(), "circuit_id": circuit, "direction": "in", "weight": "6 oz"},
    )
    phone("POST", f"/visits/{visit}/path", {"act": "instruments", "state": "skipped"}, status=422)
    phone("POST", f"/visits/{visit}/path", {"act": "instruments", "state": "skipped", "reason": "gauges were on"})
    page = phone("GET", f"/visits/{visit}")
    path = {row["act"]: row for row in page["path"]["rows"]}
    assert path["complaint"]["state"] == "done"
    assert path["instruments"]["why"] == "gauges were on"
    assert path["spot readings"]["state"] == "done"
    assert page["set_aside"][0]["question"] == "Is the thermostat back to where it was?"
    refused = phone("POST", f"/visits/{visit}/close", status=409)
    assert "thermostat" in refused["error"]["message"]
    phone("POST", f"/visits/{visit}/set-aside/{aside}/put-back", {"text": "schedule runs"})
    phone("POST", f"/visits/{visit}/close")
    assert phone("POST", f"/visits/{visit}/actions", {"text": "x"}, status=409)["error"]["code"] == "visit closed"
    assert phone("GET", "/search", text="alder")[0]["verdicts"] == []


def test_thresholds_refrigerants_sentences_and_the_coefficient_file(phone: Client) -> None:
    criteria = phone("GET", "/criteria")
    assert len(criteria["criteria"]) > 40
    assert all(c["source"] for c in criteria["criteria"])
    assert phone("GET", "/criteria/alarm_ahead")["value"] > 0
    phone("GET", "/criteria/nothing", status=404)
    english, spanish = (phone("GET", f"/sentences/{language}") for language in ("en", "es"))
    assert english["sentences"].keys() == spanish["sentences"].keys()
    assert english["longest"] == 48
    first = phone.http.get("/refrigerants/coefficients")
    assert len(first.json()["refrigerants"]) >= 28
    again = phone.http.get("/refrigerants/coefficients", headers={"if-none-match": first.headers["etag"]})
    assert again.status_code == 304
    golden = phone("GET", "/refrigerants/golden")
    assert len(golden["rows"]) >= 28 * 6
    assert {r["name"] for r in phone("GET", "/refrigerants")["refrigerants"]} >= {"R-410A", "R-32", "R-454B"}


# -- a challenge by hand --------------------------------------------------------------------------------------------------
def test_a_challenge_by_hand_takes_rows_once_and_asks_about_swapped_gauges(phone: Client) -> None:
    _, visit, circuit = unit_and_visit(phone, "A-3")
    begun = phone("POST", f"/visits/{visit}/challenges", {"id": new_id(), "circuit_id": circuit, "way": "by hand"})
    challenge = begun["challenge_id"]
    assert begun["phase"] == "look and safe"
    state = answer_all(phone, challenge)
    assert state["phase"] == "instruments"
    row = {
        "id": new_id(),
        "at": time.time(),
        "values": {
            "suction_pressure": "380",
            "liquid_pressure": "118",
            "suction_line_temperature": "52",
            "liquid_line_temperature": "95",
        },
    }
    kept = phone("POST", f"/challenges/{challenge}/rows", row)
    assert not kept["known"]
    assert kept["questions"][0]["code"] == "swapped"
    assert phone("POST", f"/challenges/{challenge}/rows", row)["known"]
    readings = phone("GET", f"/challenges/{challenge}/readings")
    assert len(readings["rows"]) == 1
    same = {
        "id": new_id(),
        "at": time.time(),
        "values": {"suction_pressure": "117"},
        "same": ["liquid_pressure"],
        "not_read": ["liquid_line_temperature"],
    }
    phone("POST", f"/challenges/{challenge}/rows", same)
    log = phone("GET", f"/challenges/{challenge}/log.csv").decode()
    assert log.splitlines()[0].startswith("time,suction_pressure_psig,liquid_pressure_psig")
    assert b'sampling = "by hand"' in phone("GET", f"/challenges/{challenge}/system.toml")
    bad = {"id": new_id(), "at": time.time(), "values": {"suction_pressure": "118 furlongs"}}
    assert phone("POST", f"/challenges/{challenge}/rows", bad, status=422)["error"]["message"]
    mark = new_id()
    phone("POST", f"/challenges/{challenge}/marks", {"id": mark, "text": "door opened"})
    assert [m["text"] for m in phone("GET", f"/challenges/{challenge}")["marks"]] == ["door opened"]
    undone = phone("POST", f"/challenges/{challenge}/undo", {"id": mark})
    assert undone["marks"] == []
    again = phone(
        "POST", f"/visits/{visit}/challenges", {"id": new_id(), "circuit_id": circuit, "way": "by hand"}, status=409
    )
    assert again["error"]["code"] == "challenge open"
    assert [r["state"] for r in phone("GET", "/today")["rows"] if r["visit_id"] == visit] == ["running"]


def test_sentences_come_in_the_persons_language_and_units(phone: Client) -> None:
    _, visit, circuit = unit_and_visit(phone, "A-4")
    begun = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "way": "by hand"}, language="es")
    assert begun["sentence"]["text"] == "Mira alrededor y marca la lista."
    english = phone("GET", f"/challenges/{begun['challenge_id']}")
    assert english["sentence"]["code"] == begun["sentence"]["code"]
    assert english["sentence"]["text"] == "Look around and tick the list."


# -- the stream -----------------------------------------------------------------------------------------------------------
def test_a_stream_is_resumed_without_loss_and_begins_anew_after_another_life(phone: Client, served: Served) -> None:
    _, visit, circuit = unit_and_visit(phone, "A-5")
    challenge = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "way": "by hand"})["challenge_id"]

    def row(value: int) -> None:
        phone(
            "POST",
            f"/challenges/{challenge}/rows",
            {"id": new_id(), "at": time.time(), "values": {"suction_pressure": str(value), "liquid_pressure": "350"}},
        )
        time.sleep(0.01)

    row(100)
    with phone.stream(challenge) as socket:
        hello = frame(socket, "hello")
        assert not hello["resumed"]
        history = frame(socket, "history")
        assert len(history["rows"]) == 1
        first = frame(socket, "state")
        assert first["state"]["challenge_id"] == challenge
        row(101)
        got = frame(socket, "readings")
        assert got["columns"][0] == "time"
        last = max(got["sequence"], frame(socket, "state")["sequence"])
    for value in (102, 103, 104):
        row(value)
    with phone.stream(challenge, stream=hello["stream"], after=last) as socket:
        assert frame(socket, "hello")["resumed"]
        missed = frame(socket)
        assert missed["type"] == "readings"
        column = missed["columns"].index("suction_pressure")
        psig = [
            round((r[column] - 101325.0 * (1 - 0.0065 * 120 / 288.15) ** 5.25588) / 6894.757) for r in missed["rows"]
        ]
        assert psig[-3:] == [102, 103, 104]
    with phone.stream(challenge, stream="another-life", after=3) as socket:
        assert not frame(socket, "hello")["resumed"]
        assert len(frame(socket, "history")["rows"]) == 5
    frames = phone("GET", f"/challenges/{challenge}/frames")["frames"]
    assert [f["type"] for f in frames] == ["hello", "history", "state"]


def test_a_device_that_speaks_on_the_stream_watches_until_it_goes(phone: Client, served: Served) -> None:
    _, visit, circuit = unit_and_visit(phone, "A-6")
    challenge = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "way": "by hand"})["challenge_id"]
    tablet = served.client(name="tablet")

    def devices() -> dict[str, tuple[str, bool]]:
        found = phone("GET", f"/challenges/{challenge}")["devices"]
        return {d["name"]: (d["role"], d["watching"]) for d in found}

    with tablet.stream(challenge) as socket:
        frame(socket, "state")
        socket.send(json.dumps({"type": "alive", "watching": True, "role": "watcher"}))
        socket.send("{not json")
        socket.send(json.dumps({"type": "alive"}))  # says not whether it watches: passed over
        deadline = time.time() + 5
        while devices().get("tablet") != ("watcher", True) and time.time() < deadline:
            time.sleep(0.05)
        assert devices()["tablet"] == ("watcher", True)
        assert devices()["phone"] == ("coil", True)
    deadline = time.time() + 5
    while devices()["tablet"][1] and time.time() < deadline:
        time.sleep(0.05)
    assert devices()["tablet"] == ("watcher", False)


def test_a_stream_of_no_challenge_says_so(phone: Client) -> None:
    with phone.stream(new_id()) as socket:
        bye = frame(socket)
        assert bye["type"] == "bye"
        assert bye["message"]


# -- without signal -------------------------------------------------------------------------------------------------------
def test_a_queue_is_drained_once_whatever_is_sent_twice_and_a_bad_item_holds_nothing_up(phone: Client) -> None:
    unit, visit, challenge, circuits = new_id(), new_id(), new_id(), None
    at = time.time() - 3600.0
    queue = new_id()

    def item(
        sequence: int, kind: str, body: dict[str, Any], of: str | None = None, item_id: str | None = None
    ) -> dict[str, Any]:
        return {
            "sequence": sequence,
            "id": item_id or new_id(),
            "kind": kind,
            "of": of,
            "at": at + sequence,
            "body": body,
        }

    body = {k: v for k, v in UNIT.items() if k not in ("tag", "serial")}
    first = [
        item(1, "unit", {**body, "tag": "Q-1"}, item_id=unit),
        item(2, "visit", {"unit_id": unit, "complaint": "warm"}, item_id=visit),
    ]
    for expected in ("done", "known"):
        answer = phone("POST", "/queue", {"queue": queue, "items": first})
        assert [r["state"] for r in answer["receipts"]] == [expected, expected]
        assert answer["acknowledged"] == 2
    circuits = phone("GET", f"/units/{unit}")["circuits"][0]["id"]
    values = {
        "suction_pressure": "118",
        "liquid_pressure": "365",
        "suction_line_temperature": "52",
        "liquid_line_temperature": "95",
    }
    rest = [
        item(3, "spot", {"circuit_id": circuits, "values": values}, visit),
        item(4, "challenge", {"circuit_id": circuits, "way": "by hand"}, visit, challenge),
        item(5, "act", {"act": "answer", "check": "weather", "answer": "yes"}, challenge),
        item(6, "row", {"values": values}, challenge),
        item(7, "refrigerant move", {"circuit_id": circuits, "direction": "sideways", "weight": "6 oz"}, visit),
        item(8, "mark", {"event": "note", "text": "bird"}, challenge),
        item(9, "action", {"text": "filter changed"}, visit),
    ]
    answer = phone("POST", "/queue", {"queue": queue, "items": rest})
    assert [r["state"] for r in answer["receipts"]] == ["done", "done", "done", "done", "refused", "done", "done"], (
        answer
    )
    assert answer["receipts"][4]["error"]["message"]
    assert answer["acknowledged"] == 9
    again = phone("POST", "/queue", {"queue": queue, "items": rest})
    assert [r["state"] for r in again["receipts"]] == ["known", "known", "known", "known", "refused", "known", "known"]
    page = phone("GET", f"/visits/{visit}")
    assert (len(page["spots"]), len(page["challenges"]), len(page["actions"]), len(page["refrigerant_moves"])) == (
        1,
        1,
        1,
        0,
    )
    assert page["visit"]["opened_at"] == pytest.approx(at + 2)
    state = phone("GET", f"/challenges/{challenge}")
    assert state["checks"][2]["answer"] == "yes" or any(c["answer"] == "yes" for c in state["checks"])
    assert len(phone("GET", f"/challenges/{challenge}/readings")["rows"]) == 1
    assert [m["text"] for m in state["marks"]] == ["bird"]


# -- practice -------------------------------------------------------------------------------------------------------------
def test_a_practice_runs_on_the_bench_and_tells_nothing_before_the_answer(phone: Client) -> None:
    scenarios = phone("GET", "/practice/scenarios")["scenarios"]
    assert len(scenarios) >= 40
    begun = phone("POST", "/practice", {"scenario": "tea-room", "seed": 1, "speed": 60, "hidden": True})
    text = json.dumps(begun)
    for word in ("truth", "answers", "causes", "why_not", "lesson"):
        assert word not in text
    assert begun["scenario"] == ""
    assert begun["seed"] is None
    challenge, practice = begun["challenge_id"], begun["id"]
    phone("GET", f"/practice/{practice}/score", status=409)
    phone("GET", f"/practice/{practice}/replay", status=409)
    state = answer_all(phone, challenge)
    for row in state["ready"]:
        state = phone(
            "POST",
            f"/challenges/{challenge}/acts",
            {"id": new_id(), "act": "answer", "check": row["code"], "answer": "yes"},
        )
    phone("POST", f"/challenges/{challenge}/acts", {"id": new_id(), "act": "go on"})
    phone("POST", f"/challenges/{challenge}/acts", {"id": new_id(), "act": "unit is on"})
    assert phone("GET", f"/practice/{practice}")["calls"]
    deadline = time.time() + 30
    while phone("GET", f"/challenges/{challenge}")["phase"] != "settle" and time.time() < deadline:
        time.sleep(0.1)
    assert phone("GET", f"/practice/{practice}")["running"]
    assert phone("PUT", f"/practice/{practice}", {"cover": 0.3, "speed": 10})["cover"] == 0.3
    choices = phone("GET", "/practice/choices")
    answer = {"verdict": "undecided", "cause": choices["causes"][0]["code"], "confidence": 0.5}
    score = phone("POST", f"/practice/{practice}/answer", answer)
    assert score["truth"]["text"]
    assert len(score["rows"]) == 5
    phone("POST", f"/practice/{practice}/answer", answer, status=409)
    replay = phone("GET", f"/practice/{practice}/replay", points=200)
    assert replay["columns"][0] == "time"
    assert 10 < len(replay["rows"]) <= 400
    phone("DELETE", f"/practice/{practice}")
    phone("GET", f"/practice/{practice}", status=404)
    assert all(r["title"] != "Tea room, courtyard" for r in phone("GET", "/today")["rows"])  # invented units stay apart


def test_a_source_is_connected_proposed_confirmed_and_recorded(phone: Client, served: Served, tmp_path: Path) -> None:
    file = tmp_path / "gauges.csv"
    header = "time,suction_pressure_psig,liquid_pressure_psig,suction_line_temperature_degF,liquid_line_temperature_degF,P3_psig\n"
    file.write_text(header)
    source = phone("POST", "/sources", {"kind": "csv", "name": "gauges.csv", "settings": {"path": str(file)}})
    _, visit, circuit = unit_and_visit(phone, "A-7")
    challenge = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "sources": [source["id"]]})[
        "challenge_id"
    ]

    def append(value: float) -> None:
        stamp = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime()) + f".{int(time.time() * 1000) % 1000:03d}Z"
        with file.open("a") as out:
            out.write(f"{stamp},{value},350.0,52.0,95.0,12.5\n")

    deadline = time.time() + 20
    while time.time() < deadline:
        append(118.0)
        time.sleep(0.25)
        if len(phone("GET", f"/challenges/{challenge}/readings")["rows"]) >= 4:
            break
    found = phone("GET", "/sources")["sources"][0]
    assert found["state"] == "connected"
    series = {c["header"]: c for c in found["channels"]}
    assert series["suction_pressure_psig"]["proposed"] == "suction_pressure"
    assert series["suction_pressure_psig"]["mapped"] == "suction_pressure"
    assert series["P3_psig"]["mapped"] is None
    known = phone("GET", f"/challenges/{challenge}/channel-map")
    assert known["missing"] == []
    rows = [
        {**r, "channel": "discharge_pressure", "confirmed": True} if r["header"] == "P3_psig" else r
        for r in known["rows"]
    ]
    confirmed = phone("PUT", f"/challenges/{challenge}/channel-map", {"rows": rows})
    assert {r["header"]: r["channel"] for r in confirmed["rows"]}["P3_psig"] == "discharge_pressure"
    remembered = phone("GET", "/channel-map")
    assert any(r["header"] == "P3_psig" and r["channel"] == "discharge_pressure" for r in remembered["rows"])
    twice = [{**r, "channel": "suction_pressure"} for r in rows]
    assert (
        phone("PUT", f"/challenges/{challenge}/channel-map", {"rows": twice}, status=422)["error"]["code"]
        == "channel twice"
    )
    state = phone("GET", f"/challenges/{challenge}")
    assert state["saved"]["written"] >= 20
    live = {c["channel"]: c["state"] for c in state["circuits"][0]["channels"]}
    assert live["suction_pressure"] == "live"
    phone("DELETE", f"/sources/{source['id']}")
    phone("DELETE", f"/sources/{source['id']}", status=404)


def test_a_gateway_is_acknowledged_after_the_commit_and_sends_again_without_doubles(
    phone: Client, served: Served
) -> None:
    import httpx

    _, visit, circuit = unit_and_visit(phone, "A-8")
    token = phone("POST", "/gateway-tokens", {"name": "gauges", "hours": 1})["token"]
    bearer = {"authorization": f"Bearer {token}"}

    def send(first: int, count: int = 5) -> httpx.Response:
        names = (
            "suction_pressure_psig",
            "liquid_pressure_psig",
            "suction_line_temperature_degF",
            "liquid_line_temperature_degF",
        )
        readings = [
            {
                "sequence": 4 * k + n,
                "header": name,
                "value": 100.0 + k,
                "unit": name.rsplit("_", 1)[1],
                "time": time.time(),
            }
            for k in range(first, first + count)
            for n, name in enumerate(names)
        ]
        return httpx.post(
            f"{served.origin}/api/v1/ingest",
            json={"source": "set 3", "boot_id": "b1", "readings": readings},
            headers=bearer,
            timeout=30,
        )

    assert send(0).status_code == 503  # nothing records it yet
    source = next(s for s in phone("GET", "/sources")["sources"] if s["name"] == "set 3")
    challenge = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "sources": [source["id"]]})[
        "challenge_id"
    ]
    answer = send(0)
    assert answer.status_code == 200, answer.text
    assert answer.json()["acknowledged"] == 19
    written = phone("GET", f"/challenges/{challenge}")["saved"]["written"]
    assert written == 20
    assert send(0).status_code == 200
    assert phone("GET", f"/challenges/{challenge}")["saved"]["written"] == 20
    bad = {
        "source": "set 3",
        "boot_id": "b1",
        "readings": [{"sequence": 99, "header": "x", "value": 1.0, "unit": "ells"}],
    }
    refused = httpx.post(f"{served.origin}/api/v1/ingest", json=bad, headers=bearer, timeout=30)
    assert refused.status_code == 200
    assert "ells" in refused.json()["refused"][0]
