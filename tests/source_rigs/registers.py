"""Modbus devices: pymodbus's own server over TCP, and over a pair of pseudo-terminals that socat joins."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import subprocess
from typing import Any

import pytest
from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from source_rigs.base import Rig, answers, free_port
from steadfeed.capture.modbus import ModbusRtu, ModbusTcp, Register
from steadfeed.capture.source import Retry, Source
from steadfeed.errors import FixInput

REGISTERS = (
    Register("low", 10, "psig", type="int16", table="input", scale="0.1"),
    Register("high", 11, "psig", type="uint32", table="input", scale="0.01", words="little"),
    Register("suction line", 20, "degF", type="float32", table="input"),
    Register("amps", 30, "A", type="uint16", scale="0.01", missing=0xFFFF),
)


class Device:
    """Input registers 0 to 39 and holding registers 0 to 39, which a test can set; errors that a test can order."""

    def __init__(self) -> None:
        self.input = [0] * 40
        self.holding = [0] * 40
        self.error: ExcCodes | None = None
        self.talking = asyncio.Event()
        self.asked = 0

    def device(self) -> SimDevice:
        blocks = ([SimData(0, count=8, datatype=DataType.BITS, values=False)],) * 2
        words = ([SimData(0, count=40, datatype=DataType.REGISTERS)],) * 2
        return SimDevice(1, simdata=(*blocks, *words), action=self._answer)  # type: ignore[arg-type]

    async def _answer(
        self, function: int, start: int, address: int, count: int, registers: list[int], values: Any
    ) -> ExcCodes | None:
        self.asked += 1
        await self.talking.wait()
        if self.error is not None:
            return self.error
        words = self.input if function == 4 else self.holding
        registers[address - start : address - start + count] = words[address : address + count]
        return None


class ModbusRig(Rig):
    """A device over TCP. When it "says nothing", it takes the request and does not answer."""

    async def start(self) -> None:
        self.device = Device()
        self.port = free_port()
        self.server: Any = None
        await self.mend()

    def source(self) -> Source:
        return ModbusTcp(
            "device", "127.0.0.1", REGISTERS, port=self.port, every=0.05, silent_after=0.6, retry=Retry(0.05, 0.1)
        )

    async def speak(self) -> None:
        """Answer for a moment. The device has one number to tell, again and again, until it is quiet."""
        self.spoken += 1
        self.device.input[10] = 1180 + self.spoken
        self.device.talking.set()
        before = self.device.asked
        while self.device.asked < before + 8:
            await asyncio.sleep(0.01)
        self.device.talking.clear()

    async def speak_nonsense(self) -> None:
        """The unit of a register is typed by a person: it is refused before anything is read."""
        with contextlib.suppress(FixInput):
            Register("low", 10, "furlong")
            raise AssertionError("an unknown unit was taken")

    async def cut(self) -> None:
        if self.server is not None:
            await self.server.shutdown()
            self.server = None

    async def mend(self) -> None:
        self.server = ModbusTcpServer(self.device.device(), address=("127.0.0.1", self.port))
        await self.server.serve_forever(background=True)
        await answers(self.port)

    async def stop(self) -> None:
        await self.cut()


class RtuRig(ModbusRig):
    """The same device on a serial line: two pseudo-terminals that socat joins."""

    async def start(self) -> None:
        program = shutil.which("socat")
        if program is None:
            pytest.skip("socat is not installed (Debian: socat)")
        self.ends = [self.folder / "device", self.folder / "recorder"]
        self.line = subprocess.Popen([program, *(f"pty,raw,echo=0,link={end}" for end in self.ends)])
        for _ in range(500):
            if all(end.exists() for end in self.ends):
                break
            await asyncio.sleep(0.01)
        await super().start()

    def source(self) -> Source:
        # a pseudo-terminal takes no parity
        return ModbusRtu(
            "device", str(self.ends[1]), REGISTERS, parity="N", every=0.05, silent_after=0.6, retry=Retry(0.05, 0.1)
        )

    async def mend(self) -> None:
        self.server = ModbusSerialServer(self.device.device(), port=str(self.ends[0]), baudrate=19200, parity="N")
        await self.server.serve_forever(background=True)

    async def stop(self) -> None:
        await super().stop()
        self.line.kill()
        self.line.wait()
