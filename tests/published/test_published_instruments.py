"""Decoders of instruments against the standards that they follow."""

from __future__ import annotations

import pytest

from published_rows import rows
from steadfeed.capture.environmental_sensing import decode as decode_characteristic
from steadfeed.capture.modbus import Register
from steadfeed.capture.modbus import decode as decode_register


@pytest.mark.parametrize("row", rows("gatt_characteristics.csv"), ids=lambda row: f"{row['name']} {row['place']}")
def test_characteristics_are_read_as_the_supplement_says(row: dict[str, str]) -> None:
    value, unit = decode_characteristic(int(row["number"], 16), bytes.fromhex(row["data"]))
    assert (value or "") == row["value"]
    assert unit == row["unit"]


@pytest.mark.parametrize(
    ("words", "value"),
    # Modbus Application Protocol 1.1b3, 6.3: holding registers 108 to 110 hold 02 2B, 00 00, 00 64 (555, 0, 100);
    # 6.4: input register 9 holds 00 0A (10)
    [((0x022B,), "555"), ((0x0000,), "0"), ((0x0064,), "100"), ((0x000A,), "10")],
)
def test_registers_of_the_examples_in_the_standard(words: tuple[int, ...], value: str) -> None:
    assert decode_register(words, Register("x", 0, "A", type="uint16")) == value


def test_a_float_of_ieee_754() -> None:
    """IEEE 754 single precision: 0x42F6E979 is 123.456, the usual example (from memory)."""
    register = Register("x", 0, "degF", type="float32")
    assert decode_register((0x42F6, 0xE979), register) == "123.456"
    swapped = Register("x", 0, "degF", type="float32", words="little")
    assert decode_register((0xE979, 0x42F6), swapped) == "123.456"
