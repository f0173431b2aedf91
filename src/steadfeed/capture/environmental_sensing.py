"""Values of the Environmental Sensing Service of Bluetooth, and of the two electrical ones that belong to a circuit.

Pure: bytes of a characteristic in, a number with its unit out. Numbers and forms: Bluetooth SIG, Assigned Numbers and
GATT Specification Supplement; the service: Environmental Sensing Service 1.0.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

SERVICE: Final = "0000181a-0000-1000-8000-00805f9b34fb"
USER_DESCRIPTION: Final = "00002901-0000-1000-8000-00805f9b34fb"
PressureIs = Literal["absolute", "gauge"]


@dataclass(frozen=True, slots=True)
class Form:
    """How a characteristic is written. length [bytes]; signed; step: decimal exponent of one count; unknown: counts that
    stand for "value is not known" or "not valid"."""

    name: str
    length: int
    signed: bool
    step: int
    unit: str
    unknown: tuple[int, ...] = ()


#: 16-bit number of a characteristic -> its form.
FORMS: Final[dict[int, Form]] = {
    0x2A6D: Form("pressure", 4, False, -1, "Pa"),
    0x2A6E: Form("temperature", 2, True, -2, "degC", (-0x8000,)),
    0x2A6F: Form("humidity", 2, False, -2, "pct", (0xFFFF,)),
    0x2AEE: Form("current", 2, False, -2, "A", (0xFFFF,)),
    0x2B05: Form("power", 3, False, -1, "W", (0xFFFFFF, 0xFFFFFE)),
}
_BASE: Final = "-0000-1000-8000-00805f9b34fb"


def number_of(uuid: str) -> int | None:
    """Return the 16-bit number that a UUID stands for, None when it is a maker's own."""
    text = uuid.lower()
    if len(text) == 36 and text.startswith("0000") and text.endswith(_BASE):
        text = text[4:8]
    try:
        return int(text, 16) if len(text) == 4 else None
    except ValueError:
        return None


def decode(number: int, data: bytes, pressure_is: PressureIs = "absolute") -> tuple[str | None, str]:
    """Return (value, unit) of a characteristic; the value is None where the sensor says "not known".

    number: of the characteristic, a key of FORMS. pressure_is: the standard does not say what a pressure counts from;
    a gauge for refrigerant may count from the air. Raises ValueError when the bytes do not have the form.
    """
    form = FORMS[number]
    if len(data) != form.length:
        raise ValueError(f"{form.name} takes {form.length} bytes, got {len(data)}")
    count = int.from_bytes(data, "little", signed=form.signed)
    unit, step = form.unit, form.step
    if form.name == "pressure" and pressure_is == "gauge":
        unit, step = "kPag", step - 3
    if count in form.unknown:
        return None, unit
    return format(Decimal(count).scaleb(step), "f"), unit


def header_of(number: int, description: str, again: int) -> str:
    """Name a series: by the description that the device gives, else by quantity. again: how many are called so already."""
    words = " ".join(description.split())[:80]
    words = "".join(c for c in words if c.isprintable())
    name = words or FORMS[number].name
    return name if again == 0 else f"{name} {again + 1}"
