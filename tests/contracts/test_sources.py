"""One contract for every live source, each against a real counterpart (tests/source_rigs)."""

from __future__ import annotations

import asyncio
import gc
import os
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from source_rigs.base import Rig
from source_rigs.broker import Mqtt3Rig, MqttRig
from source_rigs.files import CsvRig, IngestRig, ManualRig
from source_rigs.radio import BluetoothRig
from source_rigs.registers import ModbusRig, RtuRig
from source_rigs.simulated import BenchRig
from steadfeed.capture.reading_units import KNOWN_UNITS
from steadfeed.capture.source import Arrival, Reading, Refused, Silent, Source, Speaking
from steadfeed.errors import FixInput

RIGS: dict[str, Callable[[Path], Rig]] = {
    "csv": CsvRig,
    "ingest": IngestRig,
    "manual": ManualRig,
    "mqtt 5": MqttRig,
    "mqtt 3.1.1": Mqtt3Rig,
    "modbus tcp": ModbusRig,
    "modbus rtu": RtuRig,
    "bluetooth": BluetoothRig,
    "bench": BenchRig,
}
LINKED = [name for name in RIGS if RIGS[name].has_link]  # type: ignore[attr-defined]


class Listener:
    """Reads a source in the background and keeps what arrives."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.arrived: list[Arrival] = []
        self.task = asyncio.create_task(self._listen())

    async def _listen(self) -> None:
        async for arrival in self.source.readings():
            self.arrived.append(arrival)

    @property
    def readings(self) -> list[Reading]:
        return [reading for arrival in self.arrived if isinstance(arrival, tuple) for reading in arrival]

    def events(self, kind: type) -> list[Any]:
        return [arrival for arrival in self.arrived if isinstance(arrival, kind)]

    async def until(self, condition: Callable[[], bool], seconds: float = 20.0) -> None:
        for _ in range(int(seconds / 0.02)):
            if condition():
                return
            if self.task.done():
                self.task.result()
                raise AssertionError("the source ended by itself")
            await asyncio.sleep(0.02)
        raise AssertionError(f"did not happen in {seconds} s; arrived: {self.arrived[-5:]}")

    async def spoken(self, rig: Rig) -> None:
        """Let the counterpart speak until something new arrives (a source may still be connecting)."""
        before = len(self.readings)
        for _ in range(40):
            await rig.speak()
            try:
                await self.until(lambda: len(self.readings) > before, 0.5)
            except AssertionError:
                continue
            return
        raise AssertionError("nothing arrives")

    async def close(self) -> None:
        await self.source.close()
        await asyncio.wait_for(self.task, 5)


@asynccontextmanager
async def running(name: str, folder: Path) -> AsyncIterator[tuple[Rig, Listener]]:
    rig = RIGS[name](folder)
    await rig.start()
    try:
        listener = Listener(rig.source())
        try:
            yield rig, listener
        finally:
            await listener.close()
    finally:
        await rig.stop()


def run(story: Coroutine[Any, Any, None]) -> None:
    asyncio.run(asyncio.wait_for(story, 90))


@pytest.mark.parametrize("name", RIGS)
def test_readings_carry_value_unit_and_own_numbers(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with running(name, tmp_path) as (rig, listener):
            for _ in range(3):
                await listener.spoken(rig)
            readings = listener.readings
            assert listener.source.state == "connected"
        values = [r for r in readings if r.value is not None]
        assert len({r.value for r in values}) >= 3
        for reading in values:
            float(str(reading.value))
            assert reading.unit in KNOWN_UNITS
            assert reading.header
        numbers = [(r.source, r.boot_id, r.sequence) for r in readings]
        if not rig.numbers_itself:
            assert len(set(numbers)) == len(numbers)
        for life in {(r.source, r.boot_id) for r in readings}:
            mine = [n for s, b, n in numbers if (s, b) == life]
            assert mine == sorted(mine)

    run(story())


@pytest.mark.parametrize("name", RIGS)
def test_silence_is_marked_once_and_its_end_too(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with running(name, tmp_path) as (rig, listener):
            await listener.spoken(rig)
            last = listener.source.last_at
            await listener.until(lambda: bool(listener.events(Silent)))
            assert listener.source.state == "silent"
            await asyncio.sleep(1.5)  # longer than the silence took to be noticed
            silences = listener.events(Silent)
            assert len(silences) == 1
            # one more reading may have come between the two looks
            assert last - 0.01 <= silences[0].since <= last + 1.0
            assert silences[0].why
            assert listener.events(Speaking) == []
            await listener.spoken(rig)
            (back,) = listener.events(Speaking)
            assert back.away > 0.6
            assert listener.source.state == "connected"

    run(story())


@pytest.mark.parametrize("name", LINKED)
def test_a_broken_link_is_made_again(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with running(name, tmp_path) as (rig, listener):
            await listener.spoken(rig)
            await rig.cut()
            await listener.until(lambda: bool(listener.events(Silent)))
            await rig.mend()
            await listener.spoken(rig)
            assert len(listener.events(Silent)) == 1
            assert len(listener.events(Speaking)) == 1

    run(story())


@pytest.mark.parametrize("name", RIGS)
def test_a_unit_that_nobody_knows_is_refused(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with running(name, tmp_path) as (rig, listener):
            await listener.spoken(rig)
            await rig.speak_nonsense()
            if isinstance(rig, ManualRig):
                assert "furlong" in rig.refusals[0]
            elif isinstance(rig, BenchRig):  # the bench has units of its own; no reading can be made in another
                with pytest.raises(FixInput, match="furlong"):
                    replace(listener.readings[0], unit="furlong")
            elif not isinstance(rig, ModbusRig):  # a register's unit is refused when it is described
                await listener.until(lambda: bool(listener.events(Refused)))
                refused = listener.events(Refused)
                assert len(refused) == 1
                assert refused[0].text
                await rig.speak_nonsense()
                await asyncio.sleep(0.3)
                assert len(listener.events(Refused)) == 1
            assert all(reading.unit in KNOWN_UNITS for reading in listener.readings)

    run(story())


def open_files() -> set[str]:
    """What this process holds open, without what the interpreter opens for itself."""
    gc.collect()
    held = set()
    for number in os.listdir("/proc/self/fd"):
        try:
            target = os.readlink(f"/proc/self/fd/{number}")
        except OSError:
            continue
        held.add(f"{number} {target}")
    return held


@pytest.mark.parametrize("name", RIGS)
@pytest.mark.parametrize("moment", ["speaking", "silent", "broken", "at once"])
def test_closing_leaves_nothing_behind(name: str, moment: str, tmp_path: Path) -> None:
    async def one(rig: Rig) -> None:
        listener = Listener(rig.source())
        if moment != "at once":
            await listener.spoken(rig)
        if moment == "silent":
            await listener.until(lambda: bool(listener.events(Silent)))
        if moment == "broken":
            await rig.cut()
            await asyncio.sleep(0.2)
        await asyncio.sleep(0)
        await listener.close()
        assert listener.source.state == "stopped"
        if moment == "broken":
            await rig.mend()
        await asyncio.sleep(0.3)

    async def story() -> None:
        rig = RIGS[name](tmp_path)
        await rig.start()
        try:
            await one(rig)  # libraries open what they keep for all
            files, tasks = open_files(), len(asyncio.all_tasks())
            await one(rig)
            left = open_files() - files
            assert len(asyncio.all_tasks()) <= tasks, asyncio.all_tasks()
            assert len(open_files()) <= len(files), left
        finally:
            await rig.stop()

    run(story())


@pytest.mark.parametrize("name", RIGS)
def test_a_source_is_read_once_and_may_be_closed_twice(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        async with running(name, tmp_path) as (rig, listener):
            await listener.spoken(rig)
            with pytest.raises(RuntimeError, match="read once"):
                async for _ in listener.source.readings():
                    pass
            await listener.close()
            await listener.close()

    run(story())
