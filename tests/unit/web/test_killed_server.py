"""The server killed at any moment: what it acknowledged is there, the phone goes on with its session, the stream begins anew."""

from __future__ import annotations

import json
import os
import random
import re
import signal
import subprocess
import sys
import time
import uuid
from pathlib import Path
from typing import Any

import httpx
import pytest
from websockets.sync.client import connect

KILLS = 50 if os.environ.get("FULL", "") not in ("", "0") else 6
FOUR = {"suction_pressure_psig": 118.0, "liquid_pressure_psig": 365.0, "suction_line_temperature_degF": 52.0, "liquid_line_temperature_degF": 95.0}  # fmt: skip


class Process:
    """`steadfeed serve` in a process of its own."""

    def __init__(self, store: Path, port: int = 0) -> None:
        command = [
            sys.executable,
            "-m",
            "steadfeed",
            "serve",
            "--no-browser",
            "--port",
            str(port),
            "--store",
            str(store),
        ]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, bufsize=1)
        assert self.process.stdout is not None
        self.link = ""
        for line in self.process.stdout:
            found = re.search(r"(http://localhost:(\d+)/open\?token=\S+)", line)
            if found:
                self.link, self.port = found[1], int(found[2])
                break
        assert self.link, "the server said no link"
        self.origin = f"http://localhost:{self.port}"
        deadline = time.time() + 30
        while time.time() < deadline:
            try:
                if httpx.get(f"{self.origin}/", timeout=2).status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.05)
        raise TimeoutError("the server does not answer")

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def ask(server: Process, session: str, method: str, path: str, body: Any = None) -> Any:
    headers = {"origin": server.origin, "cookie": session}
    answer = httpx.request(method, f"{server.origin}/api/v1{path}", json=body, headers=headers, timeout=30)
    assert answer.status_code < 300, answer.text
    return answer.json() if answer.content else None


@pytest.mark.timeout(900)
def test_nothing_acknowledged_is_lost_and_nothing_is_there_twice(tmp_path: Path) -> None:
    store = tmp_path / "records.db"
    server = Process(store)
    opened = httpx.get(server.link, timeout=10)
    session = opened.headers["set-cookie"].split(";")[0]
    unit = ask(server, session, "POST", "/units", {"tag": "K-1", "circuits": [{"refrigerant": "R-410A"}]})["id"]
    visit = ask(server, session, "POST", "/visits", {"unit_id": unit, "complaint": "warm"})["id"]
    circuit = ask(server, session, "GET", f"/units/{unit}")["circuits"][0]["id"]
    token = ask(server, session, "POST", "/gateway-tokens", {"name": "gauges", "hours": 5})["token"]
    bearer = {"authorization": f"Bearer {token}"}
    boot, number = uuid.uuid4().hex, 0
    acknowledged: set[int] = set()
    queue: list[dict[str, Any]] = []
    random.seed(7)

    def send(first: int) -> bool:
        readings = [
            {
                "sequence": first + n,
                "header": header,
                "value": value,
                "unit": header.rsplit("_", 1)[1],
                "time": time.time(),
            }
            for n, (header, value) in enumerate(FOUR.items())
        ]
        message = {"source": "set 3", "boot_id": boot, "readings": readings}
        kept = memory.setdefault(first, message)  # a gateway sends the very same again
        try:
            answer = httpx.post(f"{server.origin}/api/v1/ingest", json=kept, headers=bearer, timeout=20)
        except httpx.TransportError:
            return False
        if answer.status_code == 200:
            acknowledged.update(range(first, first + len(FOUR)))
            return True
        return False

    memory: dict[int, dict[str, Any]] = {}
    send(0)  # not recorded yet: the source is known now
    source = next(s["id"] for s in ask(server, session, "GET", "/sources")["sources"])
    challenge = ask(
        server, session, "POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "sources": [source]}
    )["challenge_id"]
    memory.clear()
    waiting = [0]
    for kill in range(KILLS):
        until = time.time() + random.uniform(0.2, 0.8)
        while time.time() < until:
            if not send(waiting[0]):
                break
            waiting[0] += len(FOUR)
            number += 1
        if kill % 2:  # in the middle of a request too
            import threading

            threading.Thread(target=send, args=(waiting[0],), daemon=True).start()
            time.sleep(random.uniform(0.0, 0.01))
        server.kill()
        server = Process(store, server.port)
        state = ask(server, session, "GET", f"/challenges/{challenge}")  # the session outlived it
        assert state["phase"] == "look and safe"
        assert [s["id"] for s in ask(server, session, "GET", "/sources")["sources"]] == [
            source
        ]  # connected again by itself
        deadline = time.time() + 20
        while not send(waiting[0]):
            assert time.time() < deadline
            time.sleep(0.05)
        waiting[0] += len(FOUR)
        item = {
            "sequence": kill + 1,
            "id": str(uuid.uuid4()),
            "kind": "action",
            "of": visit,
            "at": time.time(),
            "body": {"text": f"work {kill}"},
        }
        queue.append(item)
        for _ in range(2):
            ask(server, session, "POST", "/queue", {"queue": str(uuid.uuid4()), "items": queue})
    address = f"ws://localhost:{server.port}/api/v1/challenges/{challenge}/stream"
    with connect(address, origin=server.origin, additional_headers={"cookie": session}) as socket:  # type: ignore[arg-type]
        frames = [json.loads(socket.recv(timeout=10)) for _ in range(3)]
    assert [f["type"] for f in frames] == ["hello", "history", "state"]
    page = ask(server, session, "GET", f"/visits/{visit}")
    assert sorted(a["text"] for a in page["actions"]) == sorted(f"work {k}" for k in range(KILLS))
    server.kill()
    from steadfeed.records.readings import readings_of
    from steadfeed.records.store import open_store

    with open_store(store) as opened_store, opened_store.reading() as t:
        numbers = [s.reading.sequence for s in readings_of(t, [challenge]) if s.reading.boot_id == boot]
    assert len(numbers) == len(set(numbers))
    assert acknowledged <= set(numbers), f"{len(acknowledged - set(numbers))} acknowledged readings are gone"
    assert number > KILLS
