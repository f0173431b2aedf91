"""A fake BlueZ on a private D-Bus, with sensors behind it: plain values, or a virtual peripheral with a real GATT layer."""

from __future__ import annotations

import asyncio
import contextlib
import os
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import pytest
from dbus_fast import Message, MessageType, Variant
from dbus_fast.aio import MessageBus

from source_rigs.base import Rig
from steadfeed.capture.bluetooth import BluetoothSource
from steadfeed.capture.environmental_sensing import SERVICE, USER_DESCRIPTION
from steadfeed.capture.source import Retry, Source

ADDRESS = "C0:FF:EE:00:00:01"
_ADAPTER = "/org/bluez/hci0"
_CONFIG = """<busconfig><type>session</type><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/></policy>
</busconfig>"""


def uuid_of(number: int) -> str:
    return f"0000{number:04x}-0000-1000-8000-00805f9b34fb"


@dataclass
class Sensed:
    """A characteristic of a sensor."""

    number: int
    data: bytes
    description: str = ""
    flags: tuple[str, ...] = ("read", "notify")


class Sensor(Protocol):
    """What stands behind the fake BlueZ."""

    characteristics: list[Sensed]

    async def connect(self) -> None: ...

    async def disconnect(self) -> None: ...

    async def read(self, k: int) -> bytes: ...

    async def subscribe(self, k: int, heard: Callable[[bytes], None]) -> None: ...


@dataclass
class PlainSensor:
    """A sensor that is nothing but values."""

    characteristics: list[Sensed]
    listeners: dict[int, Callable[[bytes], None]] = field(default_factory=dict)
    silent: bool = False

    async def connect(self) -> None: ...

    async def disconnect(self) -> None:
        self.listeners.clear()

    async def read(self, k: int) -> bytes:
        if self.silent:
            await asyncio.sleep(60)
        return self.characteristics[k].data

    async def subscribe(self, k: int, heard: Callable[[bytes], None]) -> None:
        self.listeners[k] = heard

    def notify(self, k: int, data: bytes) -> None:
        self.characteristics[k].data = data
        if k in self.listeners:
            self.listeners[k](data)


class Bus:
    """A private dbus-daemon; DBUS_SYSTEM_BUS_ADDRESS names it while it lives."""

    def __init__(self, folder: Path) -> None:
        program = shutil.which("dbus-daemon")
        if program is None:
            pytest.skip("dbus-daemon is not installed (Debian: dbus-daemon)")
        self.program = program
        self.config = folder / "bus.conf"
        self.address = f"unix:path={folder / 'bus'}"
        self.config.write_text(_CONFIG.format(socket=folder / "bus"))
        self.before = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")

    async def start(self) -> None:
        command = [self.program, "--nofork", "--print-address=1", f"--config-file={self.config}"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE)
        assert self.process.stdout is not None
        await asyncio.to_thread(self.process.stdout.readline)
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self.address

    def stop(self) -> None:
        if self.before is None:
            os.environ.pop("DBUS_SYSTEM_BUS_ADDRESS", None)
        else:
            os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self.before
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()


class FakeBlueZ:
    """org.bluez with one adapter and one device, as far as a GATT client needs it (BlueZ's D-Bus API documents)."""

    def __init__(self, bus: Bus, sensor: Sensor) -> None:
        self.bus_address = bus.address
        self.sensor = sensor
        self.in_reach = True
        self.connected = False
        self.calls: list[str] = []
        self.device = f"{_ADAPTER}/dev_{ADDRESS.replace(':', '_')}"
        self._work: set[asyncio.Task[None]] = set()

    async def start(self) -> None:
        self.bus = await MessageBus(bus_address=self.bus_address).connect()
        self.bus.add_message_handler(self._handle)
        await self.bus.request_name("org.bluez")

    async def stop(self) -> None:
        for task in self._work:
            task.cancel()
        await asyncio.gather(*self._work, return_exceptions=True)
        self.bus.disconnect()
        with contextlib.suppress(Exception):
            await self.bus.wait_for_disconnect()

    # -- objects ------------------------------------------------------------------------------------------------------
    def _objects(self) -> dict[str, dict[str, dict[str, Variant]]]:
        adapter = {
            "Address": Variant("s", "00:00:00:00:00:00"),
            "Powered": Variant("b", True),
            "Roles": Variant("as", ["central"]),
            "Discovering": Variant("b", False),
        }
        objects: dict[str, dict[str, dict[str, Variant]]] = {_ADAPTER: {"org.bluez.Adapter1": adapter}}
        if self.in_reach:
            objects[self.device] = {"org.bluez.Device1": self._device_properties()}
            if self.connected:
                objects |= self._gatt_objects()
        return objects

    def _device_properties(self) -> dict[str, Variant]:
        return {
            "Address": Variant("s", ADDRESS),
            "AddressType": Variant("s", "public"),
            "Name": Variant("s", "Sensor"),
            "Alias": Variant("s", "Sensor"),
            "Adapter": Variant("o", _ADAPTER),
            "Paired": Variant("b", False),
            "Connected": Variant("b", self.connected),
            "ServicesResolved": Variant("b", self.connected),
            "UUIDs": Variant("as", [SERVICE]),
            "RSSI": Variant("n", -50),
        }

    def _gatt_objects(self) -> dict[str, dict[str, dict[str, Variant]]]:
        service = f"{self.device}/service0010"
        objects: dict[str, dict[str, dict[str, Variant]]] = {
            service: {
                "org.bluez.GattService1": {
                    "UUID": Variant("s", SERVICE),
                    "Primary": Variant("b", True),
                    "Device": Variant("o", self.device),
                    "Includes": Variant("ao", []),
                }
            }
        }
        for k, sensed in enumerate(self.sensor.characteristics):
            path = self._path(k)
            objects[path] = {
                "org.bluez.GattCharacteristic1": {
                    "UUID": Variant("s", uuid_of(sensed.number)),
                    "Service": Variant("o", service),
                    "Flags": Variant("as", list(sensed.flags)),
                    "Notifying": Variant("b", False),
                    "MTU": Variant("q", 23),
                }
            }
            if sensed.description:
                objects[f"{path}/desc{0x11 + 4 * k + 2:04x}"] = {
                    "org.bluez.GattDescriptor1": {
                        "UUID": Variant("s", USER_DESCRIPTION),
                        "Characteristic": Variant("o", path),
                        "Flags": Variant("as", ["read"]),
                    }
                }
        return objects

    def _path(self, k: int) -> str:
        return f"{self.device}/service0010/char{0x11 + 4 * k:04x}"

    # -- calls --------------------------------------------------------------------------------------------------------
    def _handle(self, message: Message) -> Message | bool | None:
        if message.message_type != MessageType.METHOD_CALL or (message.interface or "").startswith(
            "org.freedesktop.DBus.Peer"
        ):
            return None
        if message.member == "GetManagedObjects":
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [self._objects()])
        if not str(message.interface).startswith("org.bluez"):
            return None
        task = asyncio.get_running_loop().create_task(self._answer(message))
        self._work.add(task)
        task.add_done_callback(self._work.discard)
        return True

    async def _answer(self, message: Message) -> None:
        self.calls.append(str(message.member))
        signature, body = "", []
        match message.member:
            case "StartDiscovery":
                self.discovering = asyncio.get_running_loop().create_task(self._advertise())
                self._work.add(self.discovering)
            case "StopDiscovery":
                self.discovering.cancel()
            case "Connect":
                if not self.in_reach:
                    await self.bus.send(Message.new_error(message, "org.bluez.Error.Failed", "le-connection-abort"))
                    return
                await self.sensor.connect()
                self.connected = True
                for path, interfaces in self._gatt_objects().items():
                    self._signal(
                        "/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", "oa{sa{sv}}", [path, interfaces]
                    )
                properties = {"Connected": Variant("b", True), "ServicesResolved": Variant("b", True)}
                self._changed(self.device, "org.bluez.Device1", properties)
            case "Disconnect":
                await self.drop()
            case "ReadValue" if "/desc" in str(message.path):
                k = self._number(str(message.path).rpartition("/")[0])
                signature, body = "ay", [self.sensor.characteristics[k].description.encode()]
            case "ReadValue":
                signature, body = "ay", [await self.sensor.read(self._number(str(message.path)))]
            case "StartNotify":
                path = str(message.path)
                await self.sensor.subscribe(self._number(path), lambda data: self._value(path, data))
        await self.bus.send(Message.new_method_return(message, signature, body))

    async def _advertise(self) -> None:
        """A sensor in reach is heard again and again, each time a little louder or not."""
        loudness = -50
        while True:
            loudness = -51 if loudness == -50 else -50
            if self.in_reach:
                self._changed(self.device, "org.bluez.Device1", {"RSSI": Variant("n", loudness)})
            await asyncio.sleep(0.05)

    def _number(self, path: str) -> int:
        return next(k for k in range(len(self.sensor.characteristics)) if self._path(k) == path)

    def _value(self, path: str, data: bytes) -> None:
        self._changed(path, "org.bluez.GattCharacteristic1", {"Value": Variant("ay", data)})

    def _changed(self, path: str, interface: str, properties: dict[str, Variant]) -> None:
        body: list[Any] = [interface, properties, []]
        self._signal(path, "org.freedesktop.DBus.Properties", "PropertiesChanged", "sa{sv}as", body)

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        self.bus.send(Message.new_signal(path, interface, member, signature, body))

    async def drop(self) -> None:
        """End the connection from this side, as a sensor does that goes out of reach."""
        if not self.connected:
            return
        await self.sensor.disconnect()
        gatt = self._gatt_objects()
        self.connected = False
        properties = {"Connected": Variant("b", False), "ServicesResolved": Variant("b", False)}
        self._changed(self.device, "org.bluez.Device1", properties)
        for path, interfaces in reversed(gatt.items()):
            body = [path, list(interfaces)]
            self._signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesRemoved", "oas", body)

    async def leave(self) -> None:
        """Go out of reach."""
        await self.drop()
        self.in_reach = False
        interface = "org.freedesktop.DBus.ObjectManager"
        self._signal("/", interface, "InterfacesRemoved", "oas", [self.device, ["org.bluez.Device1"]])

    async def come_back(self) -> None:
        self.in_reach = True
        body = [self.device, {"org.bluez.Device1": self._device_properties()}]
        self._signal("/", "org.freedesktop.DBus.ObjectManager", "InterfacesAdded", "oa{sa{sv}}", body)


class BluetoothRig(Rig):
    """A clamp with one temperature that notifies, and something of the service that is of no use here."""

    async def start(self) -> None:
        self.bus = Bus(self.folder)
        await self.bus.start()
        self.sensor = PlainSensor(
            [Sensed(0x2A6E, (2000).to_bytes(2, "little"), "suction line", ("notify",)), Sensed(0x2A76, b"\x03")]
        )
        self.bluez = FakeBlueZ(self.bus, self.sensor)
        await self.bluez.start()

    def source(self) -> Source:
        return BluetoothSource("clamp", ADDRESS, silent_after=0.6, retry=Retry(0.05, 0.1))

    async def speak(self) -> None:
        for _ in range(500):
            if self.sensor.listeners:
                break
            await asyncio.sleep(0.01)
        self.spoken += 1
        self.sensor.notify(0, (2000 + self.spoken).to_bytes(2, "little"))

    async def speak_nonsense(self) -> None:
        """The UV index (0x2A76) of the service is there from the start."""

    async def cut(self) -> None:
        await self.bluez.leave()

    async def mend(self) -> None:
        await self.bluez.come_back()

    async def stop(self) -> None:
        await self.bluez.stop()
        self.bus.stop()
