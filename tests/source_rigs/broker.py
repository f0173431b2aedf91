"""A real MQTT broker (mosquitto), which can be killed, and a gateway beside it."""

from __future__ import annotations

import asyncio
import json
import shutil
import subprocess
from pathlib import Path

import pytest

from source_rigs.base import Rig, answers, free_port
from steadfeed.capture.mqtt import MqttSource
from steadfeed.capture.source import Retry, Source


def find_mosquitto() -> str:
    found = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if found is None:
        pytest.skip("mosquitto is not installed (Debian: mosquitto)")
    return found


class Broker:
    """mosquitto on a port of its own. keeps: whether it writes its sessions to disk when it is stopped politely."""

    def __init__(self, folder: Path, *, keeps: bool = False, passwords: str = "") -> None:
        self.program = find_mosquitto()
        self.port = free_port()
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None
        lines = [
            f"listener {self.port} 127.0.0.1",
            "user root",
            f"allow_anonymous {'false' if passwords else 'true'}",
            "log_dest none",
            f"persistence {'true' if keeps else 'false'}",
            f"persistence_location {folder}/",
        ]
        if passwords:
            lines.append(f"password_file {passwords}")
        (folder / "mosquitto.conf").write_text("\n".join(lines) + "\n")

    async def start(self) -> None:
        self.process = subprocess.Popen([self.program, "-c", str(self.folder / "mosquitto.conf")])
        await answers(self.port)

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    async def publish(self, topic: str, payload: bytes) -> None:
        import aiomqtt

        async with aiomqtt.Client("127.0.0.1", self.port) as client:
            await client.publish(topic, payload, qos=1)


class MqttRig(Rig):
    """A broker, a gateway that publishes one message a reading."""

    numbers_itself = True
    version = 5

    async def start(self) -> None:
        self.broker = Broker(self.folder)
        await self.broker.start()

    def source(self) -> Source:
        return MqttSource(
            "mqtt", "127.0.0.1", port=self.broker.port, version=self.version, silent_after=0.6, retry=Retry(0.05, 0.1)
        )

    async def speak(self) -> None:
        self.spoken += 1
        await self._publish("psig")

    async def speak_nonsense(self) -> None:
        await self._publish("furlong")

    async def _publish(self, unit: str) -> None:
        reading = {"sequence": self.spoken, "header": "low", "value": 118 + self.spoken, "unit": unit}
        message = {"source": "gauge", "boot_id": "1", "readings": [reading]}
        await self.broker.publish("steadfeed/gauge/readings", json.dumps(message).encode())

    async def cut(self) -> None:
        self.broker.kill()

    async def mend(self) -> None:
        await self.broker.start()
        await asyncio.sleep(0.3)  # the gateway here sends only once: let the recorder subscribe first

    async def stop(self) -> None:
        self.broker.kill()


class Mqtt3Rig(MqttRig):
    version = 3
