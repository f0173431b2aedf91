"""Bluetooth over bleak and D-Bus: a fake BlueZ with plain values, and one with a virtual peripheral behind it."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from source_rigs.peripheral import VirtualPeripheral
from source_rigs.radio import ADDRESS, Bus, FakeBlueZ, PlainSensor, Sensed
from steadfeed.capture.bluetooth import BluetoothSource, find_sensors
from steadfeed.capture.source import Reading, Refused, Retry, Silent
from steadfeed.errors import FixInput, TryAgain


def centi(celsius: float) -> bytes:
    return round(celsius * 100).to_bytes(2, "little", signed=True)


@contextlib.asynccontextmanager
async def bluez(folder: Path, sensor: Any) -> AsyncIterator[FakeBlueZ]:
    bus = Bus(folder)
    await bus.start()
    fake = FakeBlueZ(bus, sensor)
    await fake.start()
    try:
        yield fake
    finally:
        await fake.stop()
        bus.stop()


class Listening:
    def __init__(self, **more: Any) -> None:
        self.source = BluetoothSource("clamp", ADDRESS, silent_after=1.0, retry=Retry(0.05, 0.1), **more)
        self.readings: list[Reading] = []
        self.events: list[Any] = []
        self.task = asyncio.create_task(self._listen())

    async def _listen(self) -> None:
        async for arrival in self.source.readings():
            if isinstance(arrival, tuple):
                self.readings += arrival
            else:
                self.events.append(arrival)

    async def until(self, *wanted: tuple[str, str | None]) -> None:
        """Wait until each (header, value) has come."""
        for _ in range(1000):
            if self.task.done():
                self.task.result()
            if {(r.header, r.value) for r in self.readings} >= set(wanted):
                return
            await asyncio.sleep(0.01)
        raise AssertionError(f"{wanted}: {[(r.header, r.value) for r in self.readings[-6:]]}")

    async def close(self) -> None:
        await self.source.close()
        await self.task


SENSED = [
    Sensed(0x2A6E, centi(11.75), "suction line"),
    Sensed(0x2A6E, centi(33.4), "liquid line"),
    Sensed(0x2A6D, (9_140_000).to_bytes(4, "little")),
    Sensed(0x2A6F, (5500).to_bytes(2, "little"), "", ("read",)),
    Sensed(0x2A76, b"\x03"),
]


def test_a_virtual_peripheral_is_read_through_all_layers(tmp_path: Path) -> None:
    """Sensor → ATT → L2CAP → link layer → fake BlueZ → D-Bus → bleak → decoder → readings."""

    async def story() -> None:
        peripheral = VirtualPeripheral(SENSED)
        async with bluez(tmp_path, peripheral) as fake:
            listening = Listening(pressure_is="gauge", every=0.2)
            await listening.until(
                ("suction line", "11.75"), ("liquid line", "33.40"), ("pressure", "914.0000"), ("humidity", "55.00")
            )
            assert {(r.header, r.unit) for r in listening.readings} == {
                ("suction line", "degC"), ("liquid line", "degC"), ("pressure", "kPag"), ("humidity", "pct"),
            }  # fmt: skip
            (refused,) = [e for e in listening.events if isinstance(e, Refused)]
            assert "no quantity of a refrigerant circuit" in refused.text
            await peripheral.measure(0, centi(-4.06))
            await peripheral.measure(1, (0x8000).to_bytes(2, "little"))
            await listening.until(("suction line", "-4.06"), ("liquid line", None))
            numbers = [r.sequence for r in listening.readings]
            assert numbers == list(range(len(numbers)))
            await listening.close()
            assert fake.calls.count("StartNotify") == 3
            for _ in range(1500):  # the other side hears of it over the bus
                if not fake.connected:
                    break
                await asyncio.sleep(0.01)
            assert not fake.connected

    asyncio.run(asyncio.wait_for(story(), 60))


def test_a_peripheral_that_goes_out_of_reach_is_found_again(tmp_path: Path) -> None:
    async def story() -> None:
        peripheral = VirtualPeripheral(SENSED[:1])
        async with bluez(tmp_path, peripheral) as fake:
            listening = Listening()
            await listening.until(("suction line", "11.75"))
            await fake.leave()
            for _ in range(1500):
                if listening.events:
                    break
                await asyncio.sleep(0.01)
            assert isinstance(listening.events[0], Silent)
            assert "reach" in listening.events[0].why or "ended" in listening.events[0].why
            await fake.come_back()
            await peripheral_measured(listening, peripheral)
            await listening.close()

    async def peripheral_measured(listening: Listening, peripheral: VirtualPeripheral) -> None:
        for _ in range(1500):
            with contextlib.suppress(AssertionError):
                await peripheral.measure(0, centi(20.0))
            if any(r.value == "20.00" for r in listening.readings):
                return
            await asyncio.sleep(0.02)
        raise AssertionError("not found again")

    asyncio.run(asyncio.wait_for(story(), 60))


def test_a_steady_value_that_is_not_notified_is_read(tmp_path: Path) -> None:
    async def story() -> None:
        sensor = PlainSensor([Sensed(0x2A6E, centi(11.0), "a"), Sensed(0x2A6E, centi(12.0), "b", ("read",))])
        async with bluez(tmp_path, sensor) as fake:
            listening = Listening(every=0.1)
            await asyncio.sleep(1.5)
            per = {header: sum(r.header == header for r in listening.readings) for header in ("a", "b")}
            assert per["a"] >= 4
            assert per["b"] >= 4
            assert not [e for e in listening.events if isinstance(e, Silent)]
            reads = fake.calls.count("ReadValue")
            for k in range(10):
                sensor.notify(0, centi(11.0 + k / 10))
                await asyncio.sleep(0.05)
            # while "a" notifies only "b" has to be read
            assert fake.calls.count("ReadValue") - reads <= 8
            await listening.close()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_two_series_of_one_name_are_numbered(tmp_path: Path) -> None:
    async def story() -> None:
        sensor = PlainSensor([Sensed(0x2A6E, centi(11.0)), Sensed(0x2A6E, centi(12.0)), Sensed(0x2AEE, b"\x60\x04")])
        async with bluez(tmp_path, sensor):
            listening = Listening()
            await listening.until(("temperature", "11.00"), ("temperature 2", "12.00"), ("current", "11.20"))
            await listening.close()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_bytes_of_another_form_are_refused_once(tmp_path: Path) -> None:
    async def story() -> None:
        sensor = PlainSensor([Sensed(0x2A6E, b"\x01", "short"), Sensed(0x2A6E, centi(12.0), "fine")])
        async with bluez(tmp_path, sensor):
            listening = Listening(every=0.1)
            await listening.until(("fine", "12.00"))
            await asyncio.sleep(0.5)
            (refused,) = [e for e in listening.events if isinstance(e, Refused)]
            assert "2 bytes" in refused.text
            await listening.close()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_a_sensor_that_measures_nothing_of_use_is_for_a_person_to_mend(tmp_path: Path) -> None:
    async def story() -> None:
        async with bluez(tmp_path, PlainSensor([Sensed(0x2A76, b"\x03")])):
            source = BluetoothSource("clamp", ADDRESS)
            with pytest.raises(FixInput, match="measures nothing"):
                async for _ in source.readings():
                    pass
            assert source.state == "failed"

    asyncio.run(asyncio.wait_for(story(), 60))


def test_sensors_in_reach_are_listed(tmp_path: Path) -> None:
    async def story() -> None:
        async with bluez(tmp_path, PlainSensor(SENSED)) as fake:
            (found,) = await find_sensors(0.5)
            assert (found.address, found.name) == (ADDRESS, "Sensor")
            await fake.leave()
            assert await find_sensors(0.3) == ()

    asyncio.run(asyncio.wait_for(story(), 60))


def test_without_a_radio_there_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'nobody'}")

    async def story() -> None:
        with pytest.raises(TryAgain, match="Bluetooth is not available"):
            await find_sensors(0.2)

    asyncio.run(asyncio.wait_for(story(), 60))
