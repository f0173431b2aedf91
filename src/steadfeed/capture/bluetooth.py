"""Readings from a Bluetooth sensor that speaks the open Environmental Sensing Service.

The sensor is asked to notify; what it does not notify for a while is read, since a steady value may send nothing. A
sensor has no numbering of its own, so it gets one here, new with every start.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import AsyncGenerator, Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Final, get_args

from steadfeed.capture.environmental_sensing import (
    FORMS,
    SERVICE,
    USER_DESCRIPTION,
    PressureIs,
    decode,
    header_of,
    number_of,
)
from steadfeed.capture.source import Batch, Numbering, Reading, Refused, Retry, Source
from steadfeed.errors import FixInput, InstallPart, TryAgain

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic

_ADDRESS: Final = re.compile(r"(?:[0-9A-F]{2}:){5}[0-9A-F]{2}|[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}")


@dataclass(frozen=True, slots=True)
class FoundSensor:
    """A sensor in reach. address: to connect with; name: as it calls itself."""

    address: str
    name: str


async def find_sensors(seconds: float = 5.0) -> tuple[FoundSensor, ...]:
    """Listen for sensors that announce the Environmental Sensing Service. Raises TryAgain without a radio."""
    _library()
    from bleak import BleakScanner
    from bleak.exc import BleakError

    try:
        found = await BleakScanner.discover(timeout=seconds, service_uuids=[SERVICE])
    except (BleakError, OSError, EOFError) as error:
        raise TryAgain(
            f"Bluetooth is not available ({str(error).rstrip('.')}); switch it on", code="no radio"
        ) from error
    return tuple(FoundSensor(device.address, device.name or device.address) for device in found)


@dataclass(slots=True)
class _Series:
    """One characteristic that is used. heard_at: when it last spoke, by the loop's clock."""

    number: int
    header: str
    characteristic: BleakGATTCharacteristic
    heard_at: float = 0.0


class BluetoothSource(Source):
    """A sensor with the Environmental Sensing Service.

    address: of the sensor, as `find_sensors` gives it. pressure_is: what its pressures count from. every: a series that
    did not notify for so long is read [s].
    """

    kind: ClassVar[str] = "bluetooth"

    def __init__(
        self,
        name: str,
        address: str,
        *,
        pressure_is: PressureIs = "absolute",
        every: float = 1.0,
        silent_after: float = 5.0,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        super().__init__(name, silent_after=silent_after, retry=retry, clock=clock)
        if not _ADDRESS.fullmatch(address.strip().upper()):
            raise FixInput(
                f"“{address[:40]}” is no address of a Bluetooth sensor; write it as in 00:11:22:33:44:55",
                code="bad source",
                where="address",
            )
        if pressure_is not in get_args(PressureIs):
            raise FixInput("A pressure counts from absolute or gauge zero", code="bad source", where="pressure_is")
        if not 0.1 <= every <= 600.0:
            raise FixInput(f"A sensor is read every 0.1 to 600 s, not every {every} s", where="every")
        _library()
        from bleak.exc import BleakError

        self.world_errors = (*Source.world_errors, BleakError)
        self.address = address.strip().upper()
        self.pressure_is = pressure_is
        self.every = every
        self._numbers = Numbering()

    async def session(self) -> AsyncGenerator[Batch | Refused, None]:
        """Connect, subscribe, and yield values until the sensor is gone."""
        from bleak import BleakClient, BleakScanner

        device = await BleakScanner.find_device_by_address(self.address, timeout=5.0)
        if device is None:
            raise TryAgain(f"“{self.name}” is not in reach, off, or connected elsewhere", code="not in reach")
        inbox: asyncio.Queue[tuple[_Series, bytes] | None] = asyncio.Queue()
        client = BleakClient(device, disconnected_callback=lambda _: inbox.put_nowait(None), timeout=10.0)
        async with client:
            series, refused = await self._series(client)
            for said in refused:
                yield said
            if not series:
                raise FixInput(
                    f"“{self.name}” measures nothing that belongs to a refrigerant circuit", code="nothing to read"
                )
            for one in series:
                if "notify" in one.characteristic.properties:
                    await client.start_notify(one.characteristic, partial(_heard, inbox, one))
            async for item in self._values(client, series, inbox):
                yield item

    async def _series(self, client: BleakClient) -> tuple[list[_Series], list[Refused]]:
        """Return the characteristics that can be used, and a sentence on each other one of the service."""
        series: list[_Series] = []
        refused: list[Refused] = []
        named: dict[str, int] = {}
        # by handle: the library keeps no order, and equal names are numbered by it
        for service in sorted(client.services, key=lambda one: one.handle):
            for characteristic in sorted(service.characteristics, key=lambda one: one.handle):
                number = number_of(characteristic.uuid)
                if number not in FORMS or number is None:
                    if service.uuid == SERVICE:
                        what = characteristic.description or characteristic.uuid
                        text = f"{what} is no quantity of a refrigerant circuit"
                        refused.append(Refused(self.name, str(what)[:200], text))
                    continue
                description = await self._description(client, characteristic)
                plain = header_of(number, description, 0)
                again = named.get(plain, 0)
                named[plain] = again + 1
                series.append(_Series(number, header_of(number, description, again), characteristic))
        return series, refused

    async def _description(self, client: BleakClient, characteristic: BleakGATTCharacteristic) -> str:
        for descriptor in characteristic.descriptors:
            if descriptor.uuid == USER_DESCRIPTION:
                return bytes(await client.read_gatt_descriptor(descriptor.handle)).decode("utf-8", "replace")
        return ""

    async def _values(
        self, client: BleakClient, series: list[_Series], inbox: asyncio.Queue[tuple[_Series, bytes] | None]
    ) -> AsyncGenerator[Batch | Refused, None]:
        loop = asyncio.get_running_loop()
        readable = [one for one in series if "read" in one.characteristic.properties]
        while True:
            due = min((one.heard_at + self.every for one in readable), default=loop.time() + self.every)
            try:
                async with asyncio.timeout(max(due - loop.time(), 0.0)):
                    item = await inbox.get()
            except TimeoutError:
                for one in readable:
                    if loop.time() >= one.heard_at + self.every:
                        data = bytes(await client.read_gatt_char(one.characteristic))
                        one.heard_at = loop.time()
                        yield self._decoded(one, data)
                continue
            if item is None:
                raise ConnectionError(f"“{self.name}” ended the connection or went out of reach")
            item[0].heard_at = loop.time()
            yield self._decoded(*item)

    def _decoded(self, one: _Series, data: bytes) -> Batch | Refused:
        try:
            value, unit = decode(one.number, data, self.pressure_is)
        except ValueError as error:
            return Refused(self.name, one.header, f"“{one.header}” cannot be read: {error}")
        return (Reading(self.name, self._numbers.boot_id, self._numbers.take(), one.header, value, unit),)


def _heard(inbox: asyncio.Queue[tuple[_Series, bytes] | None], one: _Series, _: Any, data: bytearray) -> None:
    inbox.put_nowait((one, bytes(data)))


def _library() -> None:
    try:
        import bleak  # noqa: F401
    except ModuleNotFoundError as error:
        raise InstallPart(
            "Bluetooth sensors need the part “instruments”; install steadfeed[instruments]", code="part missing"
        ) from error
