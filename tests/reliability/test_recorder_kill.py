"""SIGKILL of a recording process: nothing that a source was told is safe may be lost, and the challenge goes on."""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import aiomqtt
import numpy as np
import pytest

from company import small_company
from reliability.recording import MAP, NOW, SERIES, reading_of
from source_rigs.broker import Broker
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.recorder import Recorder, say_away
from steadfeed.circuit.equipment import System
from steadfeed.records.check import check
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from steadfeed.visit.record_sink import RecordSink
from stores import new_setting

PROGRAM = Path(__file__).with_name("recording.py")
SYSTEM = System(refrigerant="R-410A")


def record_and_kill(setting: str, challenge: str, first: int, after: int, pause: float) -> set[int]:
    """Record until `after` numbers were acknowledged and a little longer, then kill. Return all that were acknowledged."""
    command = [sys.executable, str(PROGRAM), setting, challenge, str(first)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen(command, stdout=subprocess.PIPE, env=environment, start_new_session=True)
    assert process.stdout is not None
    said = b""
    while said.count(b"\n") < after:
        some = os.read(process.stdout.fileno(), 65536)
        assert some, "the recording process ended by itself"
        said += some
    time.sleep(pause)
    os.kill(process.pid, signal.SIGKILL)
    while some := os.read(process.stdout.fileno(), 65536):
        said += some
    assert process.wait() == -signal.SIGKILL
    process.stdout.close()
    return {int(line) for line in said[: said.rfind(b"\n") + 1].split()}


def kill_often(setting: str, times: int, seed: int, resumes: bool = True) -> tuple[int, int]:
    """Kill `times` recording processes on one challenge, look after each. Return (acknowledged, lost).

    resumes: look also at how the next life goes on; not for a recorder that lies, which may have kept nothing at all.
    """
    chance = random.Random(seed)
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    acknowledged: set[int] = set()
    lost: set[int] = set()
    first = 0
    for _ in range(times):
        acknowledged |= record_and_kill(
            setting, company.challenge, first, chance.randint(1, 120), chance.uniform(0.0, 0.05)
        )
        with open_store(setting) as store:
            with store.reading() as t:
                kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
            report = check(store)
        assert report.sound, report.problems
        for number in acknowledged:
            raw, sent = kept.get(number), reading_of(number)
            if raw is None or (raw.value, raw.unit, raw.header, raw.device_time) != (
                sent.value,
                sent.unit,
                sent.header,
                sent.time,
            ):
                lost.add(number)
        # the gateway sends again what it did not hear to be safe, and some that it did
        first = max((max(acknowledged, default=0) // len(SERIES) - 5) * len(SERIES), 0)
    assert len(acknowledged) >= times
    if resumes:
        look_at_resumption(setting, company.challenge)
    return len(acknowledged), len(lost)


def look_at_resumption(setting: str, challenge: str) -> None:
    """The next life knows all that is kept: rows, newest reading, and for how long nobody recorded."""
    with open_store(setting) as store, GroupWriter(store) as writer:
        live = LiveRecording(SYSTEM)
        recorder = Recorder(RecordSink(store, writer), challenge, MAP, recordings=[live])
        resumed = recorder.resume()
        assert resumed is not None
        with store.reading() as t:
            kept = list(readings_of(t, [challenge]))
        assert resumed.readings == len(kept) == len({s.reading.sequence for s in kept})
        assert resumed.last_at == max(s.received_at for s in kept)
        assert resumed.away(resumed.last_at + 130.4) == pytest.approx(130.4)
        rows = sorted({s.reading.device_time for s in kept})
        np.testing.assert_allclose(live.recording().time, rows, atol=1e-6)
        # numbers that are there already come a second time: nothing changes
        receipt = recorder.take([reading_of(n) for n in range(6)]).result(10)
        assert (receipt.written, receipt.known, receipt.conflicts) == (0, 6, 0)
        assert len(live) == len(rows)
        recorder.close()


def test_a_gateway_that_sends_once_loses_nothing_when_the_recorder_is_killed(
    request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """The broker lives and hears "arrived" only after the commit: it sends again what a killed recorder had in hand."""
    setting = new_setting(request, "sqlite", tmp_path)
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)

    def kept() -> dict[int, str | None]:
        with open_store(setting) as store, store.reading() as t:
            return {s.reading.sequence: s.reading.value for s in readings_of(t, [company.challenge])}

    def record(port: int) -> subprocess.Popen[bytes]:
        command = [sys.executable, str(PROGRAM), setting, company.challenge, "0", str(port)]
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        return subprocess.Popen(command, env=environment, start_new_session=True)

    async def story() -> tuple[int, int]:
        broker = Broker(tmp_path)
        await broker.start()
        process = record(broker.port)
        chance = random.Random(64)
        number = 0
        async with aiomqtt.Client("127.0.0.1", broker.port) as client:

            async def send(rows: int) -> None:
                nonlocal number
                for _ in range(rows):
                    readings = [message_row(n) for n in range(number, number + len(SERIES))]
                    message = {"source": "gateway", "boot_id": "life 1", "readings": readings}
                    await client.publish("steadfeed/gateway/readings", json.dumps(message), qos=1)
                    number += len(SERIES)

            while not kept():  # the recorder is there: from now on the broker holds its messages
                await send(1)
                await asyncio.sleep(0.1)
            begin = min(kept())
            for _ in range(5):
                await send(60)
                await asyncio.sleep(chance.uniform(0.0, 0.03))
                process.kill()
                process.wait()
                await send(5)
                process = record(broker.port)
                await asyncio.sleep(chance.uniform(0.5, 1.5))
            for _ in range(300):
                if len(kept()) >= number - begin:
                    break
                await asyncio.sleep(0.1)
        process.kill()
        process.wait()
        broker.kill()
        return begin, number

    begin, end = asyncio.run(asyncio.wait_for(story(), 120))
    found = kept()
    assert len(found) > 5 * 65 * len(SERIES)
    assert sorted(found) == list(range(begin, end))
    assert all(value == reading_of(n).value for n, value in found.items())


def message_row(number: int) -> dict[str, object]:
    reading = reading_of(number)
    return {
        "sequence": number,
        "header": reading.header,
        "value": reading.value,
        "unit": reading.unit,
        "time": reading.time,
    }


def test_ten_kills_lose_nothing_that_was_called_safe(setting: str) -> None:
    acknowledged, lost = kill_often(setting, 10, seed=61)
    assert acknowledged > 200
    assert lost == 0


@pytest.mark.full
@pytest.mark.timeout(1200)
def test_fifty_kills_lose_nothing_that_was_called_safe(setting: str) -> None:
    acknowledged, lost = kill_often(setting, 50, seed=62)
    assert acknowledged > 1000
    assert lost == 0


def test_a_recorder_that_says_safe_too_early_is_found_out(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ACKNOWLEDGE_EARLY", "1")
    # one kill may fall between a commit and the next lie; eight hardly do
    _, lost = kill_often(new_setting(request, "sqlite", tmp_path), 8, seed=63, resumes=False)
    assert lost > 0


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.2, "Away 0 s"),
        (59.4, "Away 59 s"),
        (130.0, "Away 2 min 10 s"),
        (3600.0, "Away 1 h 0 min"),
        (-5.0, "Away 0 s"),
    ],
)
def test_away_in_words(seconds: float, text: str) -> None:
    assert say_away(seconds) == text


def test_the_first_challenge_has_nothing_to_resume(setting: str) -> None:
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    with open_store(setting) as store, GroupWriter(store) as writer:
        recorder = Recorder(RecordSink(store, writer), company.challenge, MAP)
        assert recorder.resume() is None
        assert recorder.saved.last_at is None
        assert reading_of(0).time == NOW
