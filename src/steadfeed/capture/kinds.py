"""The kinds of sources that a person can connect: what each wants to know, and a source from what was given."""

from __future__ import annotations

import importlib.util
import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from steadfeed.capture.source import Source
from steadfeed.errors import FixInput, InstallPart


@dataclass(frozen=True, slots=True)
class Field:
    """One setting. text: what it is, for people; needed: there is no default; example: how it may look."""

    name: str
    text: str
    needed: bool = False
    example: str | None = None


@dataclass(frozen=True, slots=True)
class SourceKind:
    """A kind of source. needs: modules of the part “instruments” without which it does not work."""

    kind: str
    text: str
    fields: tuple[Field, ...]
    needs: tuple[str, ...] = ()

    @property
    def missing(self) -> str | None:
        """One sentence on what must be installed first, None when all is there."""
        if all(importlib.util.find_spec(module) is not None for module in self.needs):
            return None
        return "Install the part “instruments”: steadfeed[instruments]"


_REFERENCE: Final = Field(
    "pressure_reference", "what a bare psi counts from: vented, sealed or absolute", False, "vented"
)
_REGISTERS: Final = Field(
    "registers",
    "list of registers: header, address, unit, type, table, scale",
    True,
    '[{"header": "low", "address": 10, "unit": "psig", "scale": 0.1}]',
)
_EVERY: Final = Field("every", "seconds between two readings", False, "1")

SOURCE_KINDS: Final = (
    SourceKind(
        "csv",
        "A growing CSV file",
        (
            Field("path", "path of the file", True, "C:/logger/today.csv"),
            Field("time_zone", "time zone of times without an offset", False, "America/Chicago"),
            Field("from_start", "also take what the file holds already: true or false", False, "true"),
            _REFERENCE,
        ),
    ),
    SourceKind("ingest", "A gateway that sends readings here", ()),
    SourceKind(
        "mqtt",
        "Readings over MQTT",
        (
            Field("host", "name or address of the broker", True, "192.168.1.10"),
            Field("port", "port of the broker", False, "1883"),
            Field("topic", "topic that ends in /readings", False, "steadfeed/+/readings"),
            Field("version", "3 (for 3.1.1) or 5", False, "5"),
            Field("username", "user at the broker"),
            Field("password", "password at the broker"),
            Field("tls", "true for an encrypted connection", False, "true"),
            Field("client_id", "name of this recorder at the broker"),
            _REFERENCE,
        ),
        ("aiomqtt",),
    ),
    SourceKind(
        "modbus tcp",
        "A Modbus device in the network",
        (
            Field("host", "name or address of the device", True, "192.168.1.20"),
            Field("port", "port of the device", False, "502"),
            _REGISTERS,
            _EVERY,
        ),
        ("pymodbus",),
    ),
    SourceKind(
        "modbus rtu",
        "Modbus devices on a serial line",
        (
            Field("port", "serial port", True, "/dev/ttyUSB0"),
            Field("baudrate", "bits a second", False, "19200"),
            Field("parity", "N, E or O", False, "E"),
            Field("stopbits", "1 or 2", False, "1"),
            _REGISTERS,
            _EVERY,
        ),
        ("pymodbus", "serial"),
    ),
    SourceKind(
        "bluetooth",
        "A Bluetooth sensor (Environmental Sensing)",
        (
            Field("address", "address of the sensor", True, "00:11:22:33:44:55"),
            Field("pressure_is", "what its pressures count from: absolute or gauge", False, "gauge"),
            _EVERY,
        ),
        ("bleak",),
    ),
)
_BY_NAME: Final = {kind.kind: kind for kind in SOURCE_KINDS}


def make_source(kind: str, name: str, settings: Mapping[str, Any], *, clock: Callable[[], float] = time.time) -> Source:
    """Make a source from what a person gave. Nothing is connected yet.

    kind: one of SOURCE_KINDS. settings: by the names of its fields; numbers and yes/no may be texts. clock: gives the
    time [s since the epoch]. Raises FixInput for what cannot be, InstallPart when the part “instruments” is missing.
    """
    if kind not in _BY_NAME:
        raise FixInput(f"There is no source “{kind[:40]}”; there is {', '.join(_BY_NAME)}", code="unknown source")
    fields = {field.name: field for field in _BY_NAME[kind].fields}
    strange = sorted(str(key) for key in set(settings) - set(fields))
    if strange:
        known = ", ".join(fields) or "nothing"
        raise FixInput(f"A source “{kind}” does not know “{strange[0][:40]}”; it takes {known}", where=strange[0])
    missing = _BY_NAME[kind].missing
    if missing is not None:
        raise InstallPart(f"A source of the kind “{kind}” needs the part “instruments”; install steadfeed[instruments]")
    given = {key: value for key, value in settings.items() if value is not None and value != ""}
    for field in fields.values():
        if field.needed and field.name not in given:
            raise FixInput(f"Say the {field.name}: {field.text}", code="missing field", where=field.name)
    made = _MAKERS[kind](name, _Settings(given))
    made.clock = clock
    return made


class _Settings:
    """Settings read by type, each with one sentence when it is of another."""

    def __init__(self, given: Mapping[str, Any]) -> None:
        self._given = given

    def text(self, name: str, default: str | None = None) -> str | None:
        value = self._given.get(name, default)
        if value is not None and not isinstance(value, str):
            raise FixInput(f"The {name} is a text", code="bad setting", where=name)
        return value

    def needed(self, name: str) -> str:
        return self.text(name) or ""

    def number(self, name: str, default: float) -> float:
        value = self._given.get(name, default)
        try:
            return float("nan") if isinstance(value, bool) else float(value)
        except (TypeError, ValueError, OverflowError):
            raise FixInput(f"The {name} is a number", code="bad setting", where=name) from None

    def whole(self, name: str, default: int) -> int:
        number = self.number(name, default)
        if not number.is_integer() or abs(number) > 2**31:
            raise FixInput(f"The {name} is a whole number", code="bad setting", where=name)
        return int(number)

    def yes(self, name: str, default: bool) -> bool:
        value = self._given.get(name, default)
        if isinstance(value, bool):
            return value
        words = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}
        if str(value).strip().lower() not in words:
            raise FixInput(f"The {name} is true or false", code="bad setting", where=name)
        return words[str(value).strip().lower()]

    def one_of(self, name: str, words: Sequence[str], default: str) -> Any:
        value = self.text(name, default)
        if value not in words:
            raise FixInput(f"The {name} is one of {', '.join(words)}", code="bad setting", where=name)
        return value

    def registers(self) -> list[Any]:
        from steadfeed.capture.modbus import Register

        rows = self._given.get("registers")
        if isinstance(rows, str):  # typed into a form
            try:
                rows = json.loads(rows)
            except (ValueError, RecursionError):
                rows = None
        if not isinstance(rows, Sequence) or isinstance(rows, str):
            raise FixInput("The registers are a list", code="bad setting", where="registers")
        return [Register.from_value(row) for row in rows]


_REFERENCES: Final = ("vented", "sealed", "absolute", "unknown")


def _csv(name: str, s: _Settings) -> Source:
    from steadfeed.capture.csv_tail import CsvTail

    return CsvTail(
        name,
        s.needed("path"),
        time_zone=s.text("time_zone"),
        from_start=s.yes("from_start", True),
        reference=s.one_of("pressure_reference", _REFERENCES, "unknown"),
    )


def _ingest(name: str, s: _Settings) -> Source:
    from steadfeed.capture.http_ingest import PushSource

    return PushSource(name)


def _mqtt(name: str, s: _Settings) -> Source:
    import ssl

    from steadfeed.capture.mqtt import MqttSource

    tls = ssl.create_default_context() if s.yes("tls", False) else None
    return MqttSource(
        name,
        s.needed("host"),
        port=s.whole("port", 8883 if tls else 1883),
        topic=s.text("topic") or "steadfeed/+/readings",
        version=s.whole("version", 5),
        client_id=s.text("client_id"),
        username=s.text("username"),
        password=s.text("password"),
        tls=tls,
        reference=s.one_of("pressure_reference", _REFERENCES, "unknown"),
    )


def _modbus_tcp(name: str, s: _Settings) -> Source:
    from steadfeed.capture.modbus import ModbusTcp

    return ModbusTcp(name, s.needed("host"), s.registers(), port=s.whole("port", 502), every=s.number("every", 1.0))


def _modbus_rtu(name: str, s: _Settings) -> Source:
    from steadfeed.capture.modbus import ModbusRtu

    return ModbusRtu(
        name,
        s.needed("port"),
        s.registers(),
        baudrate=s.whole("baudrate", 19200),
        parity=s.text("parity") or "E",
        stopbits=s.whole("stopbits", 1),
        every=s.number("every", 1.0),
    )


def _bluetooth(name: str, s: _Settings) -> Source:
    from steadfeed.capture.bluetooth import BluetoothSource

    return BluetoothSource(
        name,
        s.needed("address"),
        pressure_is=s.one_of("pressure_is", ("absolute", "gauge"), "absolute"),
        every=s.number("every", 1.0),
    )


_MAKERS: Final[dict[str, Callable[[str, _Settings], Source]]] = {
    "csv": _csv,
    "ingest": _ingest,
    "mqtt": _mqtt,
    "modbus tcp": _modbus_tcp,
    "modbus rtu": _modbus_rtu,
    "bluetooth": _bluetooth,
}
