"""A virtual Bluetooth peripheral with a real GATT layer (bumble): its values cross a link layer, L2CAP and ATT."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from bumble.core import UUID
from bumble.device import Device
from bumble.gatt import (
    GATT_CHARACTERISTIC_USER_DESCRIPTION_DESCRIPTOR,
    GATT_ENVIRONMENTAL_SENSING_SERVICE,
    Attribute,
    Characteristic,
    Descriptor,
    Service,
)
from bumble.testing.test_utils import TwoDevices

from source_rigs.radio import Sensed

_FLAGS = {
    "read": Characteristic.Properties.READ,
    "notify": Characteristic.Properties.NOTIFY,
}


class VirtualPeripheral:
    """A sensor on a simulated radio. Its own side serves; the other side is what BlueZ would see, found over ATT.

    served: what the peripheral holds. characteristics: what was discovered on the other side.
    """

    def __init__(self, served: list[Sensed]) -> None:
        self.served = served
        self.characteristics: list[Sensed] = []
        self._made = [self._characteristic(sensed) for sensed in served]
        self._devices: TwoDevices | None = None
        self._found: list[Any] = []

    @staticmethod
    def _characteristic(sensed: Sensed) -> Characteristic[bytes]:
        properties = Characteristic.Properties(0)
        for flag in sensed.flags:
            properties |= _FLAGS[flag]
        descriptors = []
        if sensed.description:
            descriptors.append(
                Descriptor(
                    GATT_CHARACTERISTIC_USER_DESCRIPTION_DESCRIPTOR,
                    Attribute.Permissions.READABLE,
                    sensed.description.encode(),
                )
            )
        return Characteristic(
            UUID.from_16_bits(sensed.number), properties, Attribute.Permissions.READABLE, sensed.data, descriptors
        )

    @property
    def _own(self) -> Device:
        assert self._devices is not None
        return self._devices[1]

    async def connect(self) -> None:
        self._devices = TwoDevices()
        self._own.add_service(Service(GATT_ENVIRONMENTAL_SENSING_SERVICE, self._made))
        await self._devices.setup_connection()
        connection = self._devices.connections[0]
        client = connection.gatt_client
        (service,) = await client.discover_service(GATT_ENVIRONMENTAL_SENSING_SERVICE)
        self._found = await service.discover_characteristics()
        self.characteristics = [await self._sensed(found) for found in self._found]

    @staticmethod
    async def _sensed(found: Any) -> Sensed:
        description = ""
        for descriptor in await found.discover_descriptors():
            if descriptor.type == GATT_CHARACTERISTIC_USER_DESCRIPTION_DESCRIPTOR:
                description = bytes(await descriptor.read_value()).decode()
        flags = tuple(flag for flag, bit in _FLAGS.items() if found.properties & bit)
        number = int.from_bytes(bytes(found.uuid.to_bytes())[:2], "little")
        return Sensed(number, b"", description, flags)

    async def disconnect(self) -> None:
        if self._devices is not None and 0 in self._devices.connections:
            await self._devices.connections[0].disconnect()
        self._devices = None

    async def read(self, k: int) -> bytes:
        return bytes(await self._found[k].read_value())

    async def subscribe(self, k: int, heard: Callable[[bytes], None]) -> None:
        await self._found[k].subscribe(lambda data: heard(bytes(data)))

    async def measure(self, k: int, data: bytes) -> None:
        """Give a characteristic a new value and notify who subscribed."""
        self._made[k].value = data
        await self._own.notify_subscribers(self._made[k], data)
        await asyncio.sleep(0)
