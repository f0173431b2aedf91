"""Readings from Modbus registers, over TCP or a serial line (RTU).

Modbus says nothing about what a register holds, so each is described: address, type, scale, unit. The decoder is pure:
words of registers in, a number out. A device has no clock and no numbering of its own; both are given here.
"""

from __future__ import annotations

import asyncio
import importlib.util
import math
import struct
import time
from collections.abc import AsyncGenerator, Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any, ClassVar, Final, Literal, get_args

from steadfeed.capture.reading_units import unit_of
from steadfeed.capture.source import Batch, Numbering, Reading, Refused, Retry, Source, plain_text
from steadfeed.errors import FixInput, InstallPart, TryAgain

Kind = Literal["int16", "uint16", "int32", "uint32", "float32"]
Table = Literal["holding", "input"]
Words = Literal["big", "little"]
_FORMS: Final[dict[str, tuple[str, int]]] = {
    "int16": (">h", 1),
    "uint16": (">H", 1),
    "int32": (">i", 2),
    "uint32": (">I", 2),
    "float32": (">f", 2),
}
#: A request reads at most 125 registers (Modbus Application Protocol 1.1b3, 6.3).
_MOST_WORDS: Final = 125
_MOST_REGISTERS: Final = 200
#: Exception codes after which asking again is no use: function, address or value not known to the device (ibid., 7).
_HOPELESS: Final = {1: "does not know such requests", 2: "has no such register", 3: "refuses this request"}


@dataclass(frozen=True, slots=True)
class Register:
    """What one register (or two) holds.

    header: name of the series. address: as sent, counted from 0 (30013 in a maker's table is input register 12). type:
    of the number; words: which 16 bits come first in 32. value = number · scale + offset, in `unit`. missing: number
    that stands for "no reading". device: number of the device on the line. Raises FixInput for what cannot be.
    """

    header: str
    address: int
    unit: str
    type: Kind = "int16"
    table: Table = "holding"
    words: Words = "big"
    scale: str = "1"
    offset: str = "0"
    missing: int | None = None
    device: int = 1

    def __post_init__(self) -> None:
        named = f"register “{self.header[:40]}”"
        if not self.header or not plain_text(self.header):
            raise FixInput("A register needs a header: the name of its series", code="bad register", where="header")
        for word, known, what in (
            (self.type, get_args(Kind), "type"),
            (self.table, get_args(Table), "table"),
            (self.words, get_args(Words), "words"),
        ):
            if word not in known:
                raise FixInput(f"The {what} of {named} is one of {', '.join(known)}", code="bad register", where=what)
        for number, most, what in ((self.address, 65535, "address"), (self.device, 247, "device")):
            if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number <= most:
                raise FixInput(f"The {what} of {named} is a whole number from 0 to {most}", code="bad register")
        for text, what in ((self.scale, "scale"), (self.offset, "offset")):
            try:
                finite = math.isfinite(float(text)) and (what == "offset" or float(text) != 0.0)
            except ValueError:
                finite = False
            if not finite or len(text) > 30:
                raise FixInput(f"The {what} of {named} is no number", code="bad register", where=what)
        if not unit_of(self.unit)[0]:
            raise FixInput(f"Say the unit of {named}", code="unit missing", where="unit")

    @property
    def length(self) -> int:
        """How many registers of 16 bits it takes."""
        return _FORMS[self.type][1]

    @staticmethod
    def from_value(value: object) -> Register:
        """Read a description from JSON or TOML. Raises FixInput when that is none."""
        names = {f.name for f in fields(Register)}
        if not isinstance(value, Mapping) or not {"header", "address", "unit"} <= set(value):
            raise FixInput("A register needs header, address and unit", code="bad register")
        strange = sorted(str(key) for key in set(value) - names)
        if strange:
            raise FixInput(
                f"A register has no “{strange[0][:40]}”; it has {', '.join(sorted(names))}", code="bad register"
            )
        given: dict[str, Any] = dict(value)
        for key in ("header", "unit", "type", "table", "words"):
            if key in given and not isinstance(given[key], str):
                raise FixInput(f"The {key} of a register is a text", code="bad register", where=key)
        for key in ("scale", "offset"):
            if key in given:
                given[key] = str(given[key])
        return Register(**given)


def decode(words: Sequence[int], register: Register) -> str | None:
    """Return the number in the words of a register as text, with the digits that its scale gives; None for "missing".

    words: 16-bit numbers as many as `register.length`; wrong ones raise ValueError.
    """
    if len(words) != register.length or not all(0 <= word <= 0xFFFF for word in words):
        raise ValueError(f"{register.length} words of 16 bits make a {register.type}, got {list(words)}")
    ordered = words if register.words == "big" else tuple(reversed(words))
    raw = b"".join(word.to_bytes(2, "big") for word in ordered)
    (number,) = struct.unpack(_FORMS[register.type][0], raw)
    if register.missing is not None and number == register.missing:
        return None
    if isinstance(number, float):
        if not math.isfinite(number):
            return None
        exact = Decimal(f"{number:.7g}")  # as many digits as 32 bits hold
    else:
        exact = Decimal(number)
    value = exact * Decimal(register.scale) + Decimal(register.offset)
    text = format(value, "f") if abs(value.adjusted()) < 30 else repr(float(value))
    return text if len(text) <= 40 else repr(float(value))


@dataclass(frozen=True, slots=True)
class Block:
    """Registers that one request reads."""

    device: int
    table: Table
    first: int
    count: int
    registers: tuple[Register, ...]


def blocks_of(registers: Sequence[Register]) -> tuple[Block, ...]:
    """Group registers into requests: those that touch are read together, up to 125 words."""
    blocks: list[Block] = []
    for register in sorted(registers, key=lambda r: (r.device, r.table, r.address)):
        end = register.address + register.length
        if blocks:
            last = blocks[-1]
            touching = register.address <= last.first + last.count
            if (last.device, last.table) == (register.device, register.table) and touching:
                count = max(end - last.first, last.count)
                if count <= _MOST_WORDS:
                    blocks[-1] = Block(last.device, last.table, last.first, count, (*last.registers, register))
                    continue
        blocks.append(Block(register.device, register.table, register.address, register.length, (register,)))
    return tuple(blocks)


class ModbusSource(Source):
    """Asks a device for its registers again and again. Use ModbusTcp or ModbusRtu."""

    def __init__(
        self,
        name: str,
        registers: Sequence[Register],
        *,
        every: float = 1.0,
        silent_after: float | None = None,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        if not 0.05 <= every <= 3600.0:
            raise FixInput(f"Registers are read every 0.05 to 3,600 s, not every {every} s", where="every")
        super().__init__(name, silent_after=silent_after or max(5.0, 3.0 * every), retry=retry, clock=clock)
        if not 0 < len(registers) <= _MOST_REGISTERS:
            raise FixInput(f"Describe 1 to {_MOST_REGISTERS} registers", code="bad register", where="registers")
        headers = [register.header for register in registers]
        twice = next((header for header in headers if headers.count(header) > 1), None)
        if twice is not None:
            raise FixInput(f"Two registers are called “{twice}”; give each its own header", code="bad register")
        self.registers = tuple(registers)
        self.every = every
        self._order = {header: i for i, header in enumerate(headers)}
        self._units = {register.header: unit_of(register.unit)[0] for register in registers}
        self._numbers = Numbering()
        _library()
        from pymodbus.exceptions import ModbusException

        self.world_errors = (*Source.world_errors, ModbusException)

    def _client(self) -> Any:
        raise NotImplementedError

    async def _connect(self, client: Any) -> bool:
        return bool(await client.connect())

    async def session(self) -> AsyncGenerator[Batch | Refused, None]:
        """Connect, then read all registers in every turn."""
        client = self._client()
        try:
            if not await self._connect(client):
                raise ConnectionRefusedError
            blocks = blocks_of(self.registers)
            due = asyncio.get_running_loop().time()
            while True:
                values: dict[str, tuple[str | None, str | None]] = {}
                for block in blocks:
                    values |= await self._read(client, block)
                yield self._readings(values)
                now = asyncio.get_running_loop().time()
                due = max(due + self.every, now)
                await asyncio.sleep(due - now)
        finally:
            client.close()

    async def _read(self, client: Any, block: Block) -> dict[str, tuple[str | None, str | None]]:
        """Return header -> (value, quality) of the registers of a block."""
        ask = client.read_input_registers if block.table == "input" else client.read_holding_registers
        answer = await ask(block.first, count=block.count, device_id=block.device)
        if answer.isError():
            code = int(getattr(answer, "exception_code", 0))
            if code in _HOPELESS:
                raise FixInput(
                    f"“{self.name}” {_HOPELESS[code]}: {block.table} {block.first} to {block.first + block.count - 1} "
                    f"(“{block.registers[0].header}”); look at the table of its maker",
                    code="no such register",
                    where=block.registers[0].header,
                )
            return {register.header: (None, f"device error {code}") for register in block.registers}
        words = list(answer.registers)
        if len(words) != block.count:
            raise TryAgain(f"“{self.name}” answered with {len(words)} registers instead of {block.count}")
        out: dict[str, tuple[str | None, str | None]] = {}
        for register in block.registers:
            at = register.address - block.first
            out[register.header] = (decode(words[at : at + register.length], register), None)
        return out

    def _readings(self, values: Mapping[str, tuple[str | None, str | None]]) -> Batch:
        first = self._numbers.take(len(self.registers))
        return tuple(
            Reading(self.name, self._numbers.boot_id, first + k, header, value, self._units[header], quality=quality)
            for header, k in self._order.items()
            for value, quality in (values[header],)
        )


class ModbusTcp(ModbusSource):
    """A device or gateway that speaks Modbus TCP. host, port: where it listens."""

    kind: ClassVar[str] = "modbus tcp"

    def __init__(self, name: str, host: str, registers: Sequence[Register], *, port: int = 502, **more: Any) -> None:
        if not 0 < port < 65536:
            raise FixInput(f"A port lies between 1 and 65535; {port} does not", code="bad source", where="port")
        super().__init__(name, registers, **more)
        self.host, self.port = host, port

    def _client(self) -> Any:
        from pymodbus.client import AsyncModbusTcpClient

        return AsyncModbusTcpClient(self.host, port=self.port, timeout=1.0, retries=1, reconnect_delay=0)


class ModbusRtu(ModbusSource):
    """Devices on a serial line. port: of the line ("/dev/ttyUSB0", "COM3"); baudrate, parity, stopbits: as they are set."""

    kind: ClassVar[str] = "modbus rtu"

    def __init__(
        self,
        name: str,
        port: str,
        registers: Sequence[Register],
        *,
        baudrate: int = 19200,
        parity: str = "E",
        stopbits: int = 1,
        **more: Any,
    ) -> None:
        if parity not in ("N", "E", "O"):
            raise FixInput("The parity of a serial line is N, E or O", code="bad source", where="parity")
        if stopbits not in (1, 2) or not 300 <= baudrate <= 1_000_000:
            raise FixInput("A serial line has 1 or 2 stop bits and 300 to 1,000,000 baud", code="bad source")
        super().__init__(name, registers, **more)
        if importlib.util.find_spec("serial") is None:
            raise _missing()
        self.port, self.baudrate, self.parity, self.stopbits = port, baudrate, parity, stopbits

    def _client(self) -> Any:
        from pymodbus.client import AsyncModbusSerialClient

        return AsyncModbusSerialClient(
            self.port,
            baudrate=self.baudrate,
            parity=self.parity,
            stopbits=self.stopbits,
            timeout=1.0,
            retries=1,
            reconnect_delay=0,
        )

    async def _connect(self, client: Any) -> bool:
        try:
            return await super()._connect(client)
        except Exception as error:
            if type(error).__module__ != "termios":
                raise
            raise FixInput(
                f"The line {self.port} cannot be set to {self.baudrate} baud, parity {self.parity}, {self.stopbits} stop "
                "bits; look at what the device and the adapter can do",
                code="bad line",
                where="port",
            ) from error


def _library() -> None:
    try:
        import pymodbus  # noqa: F401
    except ModuleNotFoundError as error:
        raise _missing() from error


def _missing() -> InstallPart:
    return InstallPart(
        "Readings over Modbus need the part “instruments”; install steadfeed[instruments]", code="part missing"
    )
