"""The kinds of sources that can be connected, what each wants to know, and how each is made from that."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, InstallPart

if TYPE_CHECKING:
    from steadfeed.capture.source import Source

Clock = Callable[[], float]
# kind -> (text, fields, module of the part that it needs)
_KINDS: Final[dict[str, tuple[str, tuple[tuple[str, str, bool, str | None], ...], str | None]]] = {
    "manual": ("Needle gauges, typed on the hand pad", (), None),
    "csv": (
        "A CSV file that another program writes",
        (
            ("path", "The file", True, "log.csv"),
            ("time_zone", "Time zone of local times in it", False, "America/Chicago"),
        ),
        None,
    ),
    "ingest": ("A gateway that sends by HTTP", (("name", "As the gateway calls itself", True, "gauge set 3"),), None),
    "mqtt": (
        "Gateways at an MQTT broker",
        (
            ("host", "The broker", True, "192.0.2.10"),
            ("port", "Its port", False, "1883"),
            ("topic", "Topic of the readings", False, "steadfeed/+/readings"),
            ("version", "MQTT version, 3 or 5", False, "5"),
            ("username", "User name", False, None),
            ("password", "Password", False, None),
        ),
        "aiomqtt",
    ),
    "modbus tcp": (
        "Registers of a device on the network",
        (
            ("host", "The device", True, "192.0.2.20"),
            ("port", "Its port", False, "502"),
            ("registers", "List of registers: header, address, unit, type, scale …", True, None),
            ("every", "Seconds between readings", False, "1"),
        ),
        "pymodbus",
    ),
    "modbus rtu": (
        "Registers of devices on a serial line",
        (
            ("port", "The serial line", True, "/dev/ttyUSB0"),
            ("registers", "List of registers: header, address, unit, type, scale …", True, None),
            ("baudrate", "Baud rate", False, "19200"),
            ("parity", "N, E or O", False, "E"),
            ("every", "Seconds between readings", False, "1"),
        ),
        "pymodbus",
    ),
    "bluetooth": (
        "A sensor with the Bluetooth Environmental Sensing Service",
        (
            ("address", "Address of the sensor", True, "00:11:22:33:44:55"),
            ("pressure_is", "absolute or gauge", False, "absolute"),
        ),
        "bleak",
    ),
}
_INTEGERS: Final = ("port", "version", "baudrate", "stopbits")
_NUMBERS: Final = ("every", "silent_after")


def forms() -> list[dict[str, Any]]:
    """Return the kinds with their fields and whether their part is installed."""
    out = []
    for kind, (text, fields, module) in _KINDS.items():
        there = module is None or importlib.util.find_spec(module) is not None
        out.append(
            {
                "kind": kind,
                "text": text,
                "fields": [
                    {"name": name, "text": words, "needed": needed, "example": example}
                    for name, words, needed, example in fields
                ],
                "part": None if module is None else "instruments",
                "missing": None if there else "install steadfeed[instruments]",
            }
        )
    return out


def make(kind: str, name: str, settings: Mapping[str, Any], clock: Clock) -> Source:
    """Make a source. Raises FixInput for settings it cannot use, InstallPart when its part is not installed."""
    if kind not in _KINDS or kind == "manual":
        raise FixInput(f"A source of the kind “{kind[:40]}” cannot be connected", code="unknown word", where="kind")
    _, fields, module = _KINDS[kind]
    if module is not None and importlib.util.find_spec(module) is None:
        raise InstallPart(f"A source of the kind “{kind}” needs the part “instruments”; install steadfeed[instruments]")
    known = {field for field, _, _, _ in fields}
    strange = set(settings) - known
    if strange:
        raise FixInput(
            f"{sorted(strange)[0][:40]} is no setting of {kind}", code="unknown field", where=sorted(strange)[0]
        )
    for field, words, needed, _ in fields:
        if needed and field != "name" and not settings.get(field):
            raise FixInput(f"A source of the kind “{kind}” needs {field}: {words}", code="missing field", where=field)
    given = {k: _typed(k, v) for k, v in settings.items() if v not in (None, "")}
    try:
        made: Source = _MAKERS[kind](name, given, clock)
        return made
    except TypeError as error:
        raise FixInput(f"The settings of {kind} cannot be used: {error}", code="bad source") from None


def _typed(field: str, value: Any) -> Any:
    if field in _INTEGERS or field in _NUMBERS:
        if field == "port" and isinstance(value, str) and not value.isdigit():
            return value  # the name of a serial line
        try:
            return int(value) if field in _INTEGERS else float(value)
        except (TypeError, ValueError):
            raise FixInput(
                f"{field} must be a number, not “{str(value)[:30]}”", code="bad number", where=field
            ) from None
    if field != "registers" and not isinstance(value, str):
        raise FixInput(f"{field} must be a text", code="bad value", where=field)
    return value


def _csv(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.csv_tail import CsvTail

    return CsvTail(name, given["path"], time_zone=given.get("time_zone"), clock=clock)


def _ingest(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.http_ingest import PushSource

    return PushSource(given.get("name", name), clock=clock)


def _mqtt(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.mqtt import MqttSource

    return MqttSource(name, given.pop("host"), clock=clock, **given)


def _registers(given: dict[str, Any]) -> list[Any]:
    from steadfeed.capture.modbus import Register

    described = given.pop("registers")
    if not isinstance(described, list):
        raise FixInput("registers is a list of descriptions", code="bad register", where="registers")
    return [Register.from_value(one) for one in described]


def _modbus_tcp(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.modbus import ModbusTcp

    registers = _registers(given)
    return ModbusTcp(name, given.pop("host"), registers, clock=clock, **given)


def _modbus_rtu(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.modbus import ModbusRtu

    registers = _registers(given)
    return ModbusRtu(name, str(given.pop("port")), registers, clock=clock, **given)


def _bluetooth(name: str, given: dict[str, Any], clock: Clock) -> Source:
    from steadfeed.capture.bluetooth import BluetoothSource

    return BluetoothSource(name, given.pop("address"), clock=clock, **given)


_MAKERS: Final[dict[str, Callable[[str, dict[str, Any], Clock], Any]]] = {
    "csv": _csv,
    "ingest": _ingest,
    "mqtt": _mqtt,
    "modbus tcp": _modbus_tcp,
    "modbus rtu": _modbus_rtu,
    "bluetooth": _bluetooth,
}
