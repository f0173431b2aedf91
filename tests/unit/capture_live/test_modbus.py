"""Modbus against pymodbus's own server: values, errors of the device, a line that falls silent."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pymodbus.constants import ExcCodes

from source_rigs.registers import REGISTERS, ModbusRig, RtuRig
from steadfeed.capture.modbus import ModbusRtu, ModbusTcp, Register
from steadfeed.capture.source import Reading, Retry, Silent
from steadfeed.errors import FixInput

RIGS: dict[str, Callable[[Path], ModbusRig]] = {"tcp": ModbusRig, "rtu": RtuRig}


async def batches(source: Any, count: int) -> list[tuple[Reading, ...]]:
    found: list[tuple[Reading, ...]] = []
    async for arrival in source.readings():
        if isinstance(arrival, tuple):
            found.append(arrival)
            if len(found) == count:
                break
    await source.close()
    return found


@pytest.mark.parametrize("name", RIGS)
def test_all_registers_of_a_turn_come_together(name: str, tmp_path: Path) -> None:
    async def story() -> None:
        rig = RIGS[name](tmp_path)
        await rig.start()
        try:
            device = rig.device
            device.input[10] = 1182  # 118.2 psig in tenths
            device.input[11], device.input[12] = 0x8988, 0  # 352.08 psig in hundredths, low word first
            device.input[20], device.input[21] = 0x4254, 0xCCCD  # 53.2 in IEEE 754
            device.holding[30] = 0xFFFF  # "no reading"
            device.talking.set()
            turns = await batches(rig.source(), 3)
        finally:
            await rig.stop()
        for turn in turns:
            assert [(r.header, r.value, r.unit) for r in turn] == [
                ("low", "118.2", "psig"),
                ("high", "352.08", "psig"),
                ("suction line", "53.2", "degF"),
                ("amps", None, "A"),
            ]
            assert all(r.time is None for r in turn)  # the device has no clock
        assert [r.sequence for turn in turns for r in turn] == list(range(12))
        assert device.asked >= 9  # three requests a turn: registers that touch go together

    asyncio.run(asyncio.wait_for(story(), 30))


@pytest.mark.parametrize(
    ("code", "word"),
    [(ExcCodes.ILLEGAL_ADDRESS, "has no such register"), (ExcCodes.ILLEGAL_FUNCTION, "does not know")],
)
def test_a_register_that_the_device_does_not_have_is_for_a_person_to_mend(
    tmp_path: Path, code: ExcCodes, word: str
) -> None:
    async def story() -> None:
        rig = ModbusRig(tmp_path)
        await rig.start()
        try:
            rig.device.error = code
            rig.device.talking.set()
            with pytest.raises(FixInput, match=word) as caught:
                await batches(rig.source(), 1)
            assert "“" in caught.value.message
            assert "input 10 to 12" in caught.value.message or "holding 30" in caught.value.message
        finally:
            await rig.stop()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_a_busy_device_gives_readings_without_a_value(tmp_path: Path) -> None:
    async def story() -> None:
        rig = ModbusRig(tmp_path)
        await rig.start()
        try:
            rig.device.error = ExcCodes.DEVICE_BUSY
            rig.device.talking.set()
            (turn,) = await batches(rig.source(), 1)
        finally:
            await rig.stop()
        assert {(r.value, r.quality) for r in turn} == {(None, "device error 6")}

    asyncio.run(asyncio.wait_for(story(), 30))


def test_nobody_at_the_address(tmp_path: Path) -> None:
    async def story() -> None:
        rig = ModbusRig(tmp_path)
        await rig.start()
        await rig.cut()
        source = rig.source()
        async for arrival in source.readings():
            assert isinstance(arrival, Silent)
            assert arrival.why == "Nobody answers at that address"
            break
        await source.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_a_line_that_is_not_there(tmp_path: Path) -> None:
    async def story() -> None:
        source = ModbusRtu("line", str(tmp_path / "ttyX"), REGISTERS, silent_after=0.3, retry=Retry(0.05, 0.1))
        async for arrival in source.readings():
            assert isinstance(arrival, Silent)
            break
        await source.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_a_line_that_refuses_its_settings_is_for_a_person_to_mend(tmp_path: Path) -> None:
    """A pseudo-terminal takes no parity."""

    async def story() -> None:
        rig = RtuRig(tmp_path)
        await rig.start()
        try:
            source = ModbusRtu("line", str(rig.ends[1]), REGISTERS, parity="E")
            with pytest.raises(FixInput, match="cannot be set to 19200 baud, parity E"):
                await batches(source, 1)
        finally:
            await rig.stop()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_two_devices_on_one_line_are_asked_by_their_numbers() -> None:
    source = ModbusTcp("line", "127.0.0.1", [Register("a", 1, "psig"), Register("b", 1, "psig", device=2)])
    assert [r.device for r in source.registers] == [1, 2]
