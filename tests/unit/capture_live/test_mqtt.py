"""MQTT against a real broker that is killed: own numbers and acknowledgement after the commit lose nothing."""

from __future__ import annotations

import asyncio
import contextlib
import json
import subprocess
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import aiomqtt
import pytest

from company import small_company
from source_rigs.broker import Broker, find_mosquitto
from steadfeed.capture.channel_map import ChannelMap, MapRow
from steadfeed.capture.mqtt import MqttSource
from steadfeed.capture.recorder import Recorder
from steadfeed.capture.source import Kept, Reading, Refused, Retry
from steadfeed.errors import NotAllowed
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from steadfeed.visit.record_sink import RecordSink

PAGE = Path(__file__).parents[3] / "docs" / "how-to" / "mqtt.md"
TOPIC = "steadfeed/gauge/readings"


def gateway_of_the_page() -> Any:
    """The gateway class that docs/how-to/mqtt.md shows, run as it stands there."""
    code = PAGE.read_text(encoding="utf-8").split("```python\n")[1].split("```")[0]
    names: dict[str, Any] = {}
    exec(compile(code, str(PAGE), "exec"), names)
    return names["Gateway"]


def message(first: int, count: int = 1, source: str = "gauge", boot_id: str = "1", unit: str = "psig") -> bytes:
    rows = [{"sequence": n, "header": "low", "value": 100 + n, "unit": unit} for n in range(first, first + count)]
    return json.dumps({"source": source, "boot_id": boot_id, "readings": rows}).encode()


def source_at(broker: Broker, version: int = 5, **more: Any) -> MqttSource:
    return MqttSource("mqtt", "127.0.0.1", port=broker.port, version=version, retry=Retry(0.05, 0.2), **more)


class Listening:
    """Takes readings and acknowledges them only when the test says so."""

    def __init__(self, source: MqttSource) -> None:
        self.source = source
        self.readings: list[Reading] = []
        self.refused: list[Refused] = []
        self.task = asyncio.create_task(self._listen())

    async def _listen(self) -> None:
        async for arrival in self.source.readings():
            if isinstance(arrival, tuple):
                self.readings += arrival
            elif isinstance(arrival, Refused):
                self.refused.append(arrival)

    async def until(self, count: int) -> list[int]:
        for _ in range(1000):
            if len(self.readings) >= count:
                await asyncio.sleep(0.1)
                return [r.sequence for r in self.readings]
            if self.task.done():
                self.task.result()
            await asyncio.sleep(0.01)
        raise AssertionError(f"{len(self.readings)} of {count} arrived")

    async def close(self) -> None:
        await self.source.close()
        await self.task


@contextlib.asynccontextmanager
async def answers_of(broker: Broker, topic: str = "steadfeed/+/acknowledged") -> AsyncIterator[list[tuple[str, Any]]]:
    """What is said on the topics of acknowledgement."""
    heard: list[tuple[str, Any]] = []
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        await client.subscribe(topic, qos=1)

        async def listen() -> None:
            async for found in client.messages:
                heard.append((str(found.topic), json.loads(bytes(found.payload))))
                await asyncio.sleep(0)

        listening = asyncio.create_task(listen())
        try:
            yield heard
        finally:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)


async def connected(source: MqttSource) -> None:
    for _ in range(500):
        if source._link is not None and source.why == "":
            return
        await asyncio.sleep(0.01)
    raise AssertionError(source.why)


@pytest.mark.parametrize("version", [3, 5])
def test_a_gateway_loses_nothing_when_the_broker_is_killed_again_and_again(tmp_path: Path, version: int) -> None:
    """The gateway of the page, a broker that keeps nothing on disk, a real store: every reading, each once."""
    gateway_class = gateway_of_the_page()

    async def story() -> None:
        broker = Broker(tmp_path)
        await broker.start()
        with open_store(tmp_path / "store.db") as store, GroupWriter(store) as writer:
            with store.writing() as t:
                company = small_company(t)
            rows = (MapRow("gauge", "low", "suction_pressure"),)
            recorder = Recorder(RecordSink(store, writer), company.challenge, ChannelMap(rows))
            source = source_at(broker, version)
            recording = asyncio.create_task(recorder.run(source))
            gateway = gateway_class("127.0.0.1", broker.port, "gauge")
            gateway.again_after = 0.4
            sending = asyncio.create_task(gateway.run())
            taken = 0
            for turn in range(4):
                for _ in range(60):
                    gateway.read("low", 100 + taken % 50, "psig")
                    taken += 1
                    await asyncio.sleep(0.004)
                broker.kill()
                for _ in range(20):
                    gateway.read("low", 100 + taken % 50, "psig")
                    taken += 1
                    await asyncio.sleep(0.004)
                await asyncio.sleep(0.1 * turn)
                await broker.start()
            for _ in range(1500):
                if not gateway.held:
                    break
                await asyncio.sleep(0.01)
            assert gateway.held == {}
            sending.cancel()
            await asyncio.gather(sending, return_exceptions=True)
            await source.close()
            await recording
            recorder.close()
            with store.reading() as t:
                kept = [s.reading for s in readings_of(t, [company.challenge])]
        assert [r.sequence for r in kept] == list(range(taken))
        assert [r.value for r in kept] == [str(100 + n % 50) for n in range(taken)]
        assert recorder.saved.conflicts == 0
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 90))


def test_qos_1_alone_loses_what_a_killed_broker_had_taken_over(tmp_path: Path) -> None:
    """Why the acknowledgement of our own is there: the broker says "arrived", dies, and the reading is gone."""

    async def story() -> None:
        broker = Broker(tmp_path)
        await broker.start()
        listening = Listening(source_at(broker))
        await connected(listening.source)
        await listening.close()  # the recorder is away; the broker holds its messages
        await broker.publish(TOPIC, message(0))  # returns after the broker's "arrived"
        broker.kill()
        await broker.start()
        again = Listening(source_at(broker))
        await connected(again.source)
        await broker.publish(TOPIC, message(1))
        assert await again.until(1) == [1]
        await again.close()
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 60))


@pytest.mark.parametrize("version", [3, 5])
def test_a_recorder_that_dies_before_the_commit_gets_the_message_again(tmp_path: Path, version: int) -> None:
    async def story() -> None:
        broker = Broker(tmp_path)
        await broker.start()
        first = Listening(source_at(broker, version))
        await connected(first.source)
        for n in range(5):
            await broker.publish(TOPIC, message(10 * n, 10))
        await first.until(50)
        await first.source.acknowledge([Kept("gauge", "1", 0, 14)])  # one message whole, one in part
        await first.close()
        second = Listening(source_at(broker, version))
        assert await second.until(40) == list(range(10, 50))
        await second.source.acknowledge([Kept("gauge", "1", 10, 49)])
        await second.close()
        third = Listening(source_at(broker, version))
        await connected(third.source)
        await broker.publish(TOPIC, message(99))
        assert await third.until(1) == [99]
        await third.close()
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_each_gateway_hears_of_its_own_numbers_only(tmp_path: Path) -> None:
    """Two gateways in their first life both call it "1"."""

    async def story() -> None:
        broker = Broker(tmp_path)
        await broker.start()
        listening = Listening(source_at(broker))
        await connected(listening.source)
        async with answers_of(broker) as heard:
            await broker.publish("steadfeed/a/readings", message(0, 3, "gauge a"))
            await broker.publish("steadfeed/b/readings", message(0, 3, "gauge b"))
            await listening.until(6)
            await listening.source.acknowledge([Kept("gauge a", "1", 0, 0), Kept("gauge a", "1", 2, 2)])
            await asyncio.sleep(0.3)
        assert heard == [("steadfeed/a/acknowledged", {"source": "gauge a", "boot_id": "1", "kept": [[0, 0], [2, 2]]})]
        await listening.close()
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_what_cannot_be_used_is_answered_so_that_it_is_not_sent_for_ever(tmp_path: Path) -> None:
    async def story() -> None:
        broker = Broker(tmp_path)
        await broker.start()
        listening = Listening(source_at(broker))
        await connected(listening.source)
        async with answers_of(broker) as heard:
            for payload in (b"\xff\xfe", b"{}", message(5, unit="furlong")):
                await broker.publish(TOPIC, payload)
            mixed = json.loads(message(6, 2))
            mixed["readings"][0]["unit"] = "psi"
            await broker.publish(TOPIC, json.dumps(mixed).encode())
            assert await listening.until(1) == [7]
            await asyncio.sleep(0.3)
        said = [answer for _, answer in heard]
        assert [answer.get("error") for answer in said] == ["bad message", "bad message", None, None]
        assert [answer["kept"] for answer in said] == [[], [], [[5, 5]], [[6, 6]]]
        assert "furlong" in said[2]["refused"][0]
        assert "psig or psia" in said[3]["refused"][0]
        assert len(listening.refused) == 4
        await listening.close()
        await asyncio.sleep(0.1)
        later = Listening(source_at(broker))
        await connected(later.source)
        assert await later.until(1) == [7]  # not safe yet: it comes again, and nothing of the refused ones
        await later.close()
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 60))


@pytest.mark.parametrize("version", [3, 5])
def test_a_wrong_password_is_for_a_person_to_mend(tmp_path: Path, version: int) -> None:
    passwords = tmp_path / "passwords"
    program = str(Path(find_mosquitto()).with_name("mosquitto_passwd"))
    import shutil

    program = shutil.which("mosquitto_passwd") or program
    subprocess.run([program, "-b", "-c", str(passwords), "recorder", "right"], check=True, capture_output=True)
    passwords.chmod(0o600)

    async def story() -> None:
        broker = Broker(tmp_path, passwords=str(passwords))
        await broker.start()
        wrong = source_at(broker, version, username="recorder", password="wrong")
        arrivals = wrong.readings()
        with pytest.raises(NotAllowed, match="refuses this user or password"):
            await arrivals.__anext__()
        assert wrong.state == "failed"
        right = Listening(source_at(broker, version, username="recorder", password="right"))
        await connected(right.source)
        await right.close()
        broker.kill()

    asyncio.run(asyncio.wait_for(story(), 60))
