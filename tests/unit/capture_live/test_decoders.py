"""Pure decoders: what they read, what they refuse, and that nothing makes them fail in another way."""

from __future__ import annotations

import itertools
import json
import math
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from steadfeed.capture.environmental_sensing import FORMS, header_of, number_of
from steadfeed.capture.environmental_sensing import decode as decode_characteristic
from steadfeed.capture.http_ingest import (
    LONGEST_MESSAGE,
    MOST_READINGS,
    Answer,
    decode_message,
    encode_answer,
    encode_problem,
    kept_of,
    message_of,
)
from steadfeed.capture.manual import decode_row, plain_number, split_typed
from steadfeed.capture.modbus import Block, Register, blocks_of
from steadfeed.capture.modbus import decode as decode_register
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.reading_units import KNOWN_UNITS, unit_of
from steadfeed.capture.source import Kept, Reading
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.errors import FixInput, TryAgain

NOW = 1_785_000_000.0


def message(**reading: Any) -> bytes:
    one = {"sequence": 1, "header": "low", "value": 118.2, "unit": "psig", **reading}
    return json.dumps({"source": "g", "boot_id": "b", "readings": [one]}).encode()


# -- the message of gateways --------------------------------------------------------------------------------------------
def test_a_message_is_read_with_its_digits() -> None:
    payload = (
        b'{"source": "g", "boot_id": "b", "readings": [{"sequence": 7, "header": "low", "value": 118.20, "unit": "psig",'
        b' "time": "2026-07-25T12:20:00.25-05:00", "quality": "ok", "read_by": "photo"}]}'
    )
    (reading,) = decode_message(payload).readings
    assert reading == Reading("g", "b", 7, "low", "118.20", "psig", NOW + 0.25, -18000.0, "ok", "photo")
    assert decode_message(payload.decode()).readings == (reading,)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"value": None}, None),
        ({"value": "OL"}, None),
        ({"value": "---"}, None),
        ({"value": ""}, None),
        ({"value": float("nan")}, None),
        ({"value": "118.20"}, "118.20"),
        ({"value": 118}, "118"),
        ({"value": -3.5e-2}, "-0.035"),
    ],
)
def test_values(given: dict[str, Any], expected: str | None) -> None:
    assert decode_message(message(**given)).readings[0].value == expected


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ({"unit": "furlong"}, "furlong"),
        ({"unit": "psi"}, "psig or psia"),
        ({"unit": 7}, "unit"),
        ({"value": "much"}, "number"),
        ({"value": True}, "number"),
        ({"value": [1]}, "number"),
        ({"value": "1_0"}, "number"),
        ({"value": "1e999"}, "number"),
        ({"header": ""}, "header"),
        ({"header": None}, "header"),
        ({"header": "x" * 201}, "too long"),
        ({"time": "yesterday"}, "time"),
        ({"time": "2026-07-25T12:20:00"}, "offset"),
        ({"time": -5}, "time"),
        ({"time": 1e15}, "time"),
        ({"quality": 3}, "quality"),
        ({"read_by": "robot"}, "read by"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_bad_reading_is_refused_by_itself(given: dict[str, Any], word: str) -> None:
    payload = json.loads(message(**given))
    payload["readings"].append({"sequence": 2, "header": "high", "value": 352, "unit": "psig"})
    found = decode_message(json.dumps(payload))
    ((number, refused),) = found.refused
    assert number == 1
    assert word in refused.text
    assert "\n" not in refused.text
    assert [r.sequence for r in found.readings] == [2]
    assert kept_of(found) == (Kept("g", "b", 1, 2),)


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"\xff\xfe\x00",
        b"[]",
        b"null",
        b"{}",
        b'{"source": "", "boot_id": "b", "readings": []}',
        b'{"source": "g", "boot_id": 7, "readings": []}',
        b'{"source": "g", "boot_id": "b"}',
        b'{"source": "g", "boot_id": "b", "readings": "none"}',
        b'{"source": "g", "boot_id": "b", "readings": [7]}',
        b'{"source": "g", "boot_id": "b", "readings": [{"header": "low"}]}',
        b'{"source": "g", "boot_id": "b", "readings": [{"sequence": -1}]}',
        b'{"source": "g", "boot_id": "b", "readings": [{"sequence": 1.5}]}',
        b'{"source": "g", "boot_id": "b", "readings": [{"sequence": 99999999999999999999}]}',
        b"[" * 100_000,
        b'{"a":' * 100_000,
        b" " * (LONGEST_MESSAGE + 1),
    ],
)
def test_a_message_that_is_none_is_refused_in_a_sentence(payload: bytes) -> None:
    with pytest.raises(FixInput) as caught:
        decode_message(payload)
    assert 10 < len(caught.value.message) < 120


def test_a_message_holds_so_many_readings() -> None:
    row = {"header": "low", "value": 1, "unit": "psig"}
    rows = [{"sequence": n, **row} for n in range(MOST_READINGS)]
    found = message_of({"source": "g", "boot_id": "b", "readings": rows})
    assert len(found.readings) == MOST_READINGS
    assert kept_of(found) == (Kept("g", "b", 0, MOST_READINGS - 1),)
    with pytest.raises(FixInput, match="at most 2000"):
        message_of({"source": "g", "boot_id": "b", "readings": [*rows, {"sequence": 9999, **row}]})


def test_the_answer_names_what_may_be_forgotten() -> None:
    found = decode_message(message())
    answer = Answer(1, 0, 0, ("low: no",), (Kept("g", "b", 1, 1), Kept("g", "b", 5, 9)))
    said = json.loads(encode_answer(found, answer))
    assert said == {
        "source": "g", "boot_id": "b", "kept": [[1, 1], [5, 9]], "written": 1, "known": 0, "conflicts": 0,
        "refused": ["low: no"],
    }  # fmt: skip
    assert answer.acknowledged == 9
    assert Answer(0, 0, 0, (), ()).acknowledged is None
    assert json.loads(encode_problem(TryAgain("The disk is full", code="store full"))) == {
        "error": "store full", "message": "The disk is full", "kept": [],
    }  # fmt: skip


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=5),
    max_leaves=12,
)
ROW = st.dictionaries(
    st.sampled_from(["sequence", "header", "value", "unit", "time", "quality", "read_by", "x"]), JSON, max_size=8
)
SHAPED = st.fixed_dictionaries(
    {"source": st.text(max_size=5), "boot_id": st.text(max_size=5), "readings": st.lists(ROW | JSON, max_size=4)}
)


@settings(max_examples=400)
@given(st.one_of(st.binary(max_size=400), st.text(max_size=200), SHAPED.map(json.dumps), JSON.map(json.dumps)))
@example('{"source": "\ud800", "boot_id": "b", "readings": []}')
@example('{"source": "\\ud800", "boot_id": "b", "readings": [{"sequence": 1, "header": "\\ud800"}]}')
def test_noise_never_breaks_the_message_decoder(payload: bytes | str) -> None:
    try:
        found = decode_message(payload)
    except FixInput:
        return
    for reading in found.readings:
        assert reading.unit == "" or reading.unit in KNOWN_UNITS
        assert reading.value is None or math.isfinite(float(reading.value))
    assert all(refused.text for _, refused in found.refused)


@settings(max_examples=200)
@given(SHAPED)
def test_noise_that_was_parsed_already_never_breaks_it_either(value: object) -> None:
    try:
        message_of(value)
    except FixInput as error:
        assert error.message


# -- rows by hand ---------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("channel", "typed", "expected"),
    [
        ("suction_pressure", "118", ("118", "psig")),
        ("suction_pressure", " 118 psi ", ("118", "psig")),
        ("suction_pressure", "118psig", ("118", "psig")),
        ("suction_pressure", "8.1 barg", ("8.1", "barg")),
        ("suction_pressure", "12 inHg", ("12", "inHg")),
        ("liquid_pressure", "1,204 kPag", ("1204", "kPag")),
        ("liquid_pressure", "1 204 kPag", ("1204", "kPag")),
        ("suction_line_temperature", "53,5 °F", ("53.5", "degF")),
        ("suction_line_temperature", "−4 C", ("-4", "degC")),
        ("suction_line_temperature", "-4", ("-4", "degF")),
        ("compressor_current", "11.2 A", ("11.2", "A")),
        ("return_air_relative_humidity", "55%", ("55", "pct")),
        ("valve_steps", "240", ("240", "steps")),
        ("power", "3.4 kW", ("3.4", "kW")),
    ],
)
def test_typed_readings(channel: str, typed: str, expected: tuple[str, str]) -> None:
    assert split_typed(channel, typed) == expected


@pytest.mark.parametrize(
    ("channel", "typed"),
    [
        ("suction_pressure", "118 furlong"),
        ("suction_pressure", "53 °F"),
        ("suction_line_temperature", "118 psig"),
        ("suction_pressure", "one"),
        ("suction_pressure", "1.2.3"),
        ("suction_pressure", "--5"),
        ("suction_pressure", "9" * 70),
        ("suction_pressure", "1e3"),
    ],
)
def test_what_is_no_reading_is_refused_in_a_sentence(channel: str, typed: str) -> None:
    with pytest.raises(FixInput) as caught:
        split_typed(channel, typed)
    assert "\n" not in caught.value.message


def test_a_row_by_hand() -> None:
    row = decode_row(
        "by hand",
        "row 4",
        NOW,
        {"suction_pressure": "121", "liquid_pressure": "352 psig", "outdoor_air_temperature": ""},
        same=["suction_line_temperature"],
        not_read=["liquid_line_temperature"],
        before={"suction_line_temperature": ("53", "degF")},
        utc_offset=-18000.0,
    )
    assert [(r.header, r.value, r.unit, r.quality) for r in row] == [
        ("suction_pressure", "121", "psig", None),
        ("liquid_pressure", "352", "psig", None),
        ("suction_line_temperature", "53", "degF", "same"),
        ("liquid_line_temperature", None, "degF", "not read"),
        ("outdoor_air_temperature", None, "degF", "not read"),
    ]
    assert {(r.boot_id, r.time, r.read_by, r.utc_offset) for r in row} == {("row 4", NOW, "person", -18000.0)}
    again = decode_row("by hand", "row 4", NOW, {"liquid_pressure": "352 psig", "suction_pressure": "121"})
    numbers = {r.header: r.sequence for r in row}
    assert all(numbers[r.header] == r.sequence for r in again)


@pytest.mark.parametrize(
    ("values", "same", "word"),
    [
        ({}, [], "at least one"),
        ({"suction_pressure": ""}, [], "at least one"),
        ({"suction_presure": "118"}, [], "did you mean suction_pressure"),
        ({}, ["suction_pressure"], "not read before"),
        ({}, ["nonsense"], "No channel"),
    ],
)
def test_rows_that_are_none(values: dict[str, str], same: list[str], word: str) -> None:
    with pytest.raises(FixInput, match=word):
        decode_row("by hand", "r", NOW, values, same=same)


@settings(max_examples=400)
@given(st.sampled_from(sorted(CHANNEL_KINDS)), st.text(max_size=30))
@example("power", "1,000,0")
@example("power", "1 000 000,5 W")
@example("power", "٣ W")
def test_noise_never_breaks_the_hand_decoder(channel: str, typed: str) -> None:
    try:
        number, unit = split_typed(channel, typed)
    except FixInput as error:
        assert len(error.message) < 300
        return
    assert math.isfinite(float(number))
    assert unit in KNOWN_UNITS
    assert unit_of(unit)[1] == CHANNEL_KINDS[channel]


@given(st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: f"{x:.2f}"))
def test_plain_numbers_stay_as_they_are(text: str) -> None:
    assert plain_number(text) == text


# -- Modbus -----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("words", "options", "expected"),
    [
        ((1182,), {"scale": "0.1"}, "118.2"),
        ((0xFFFF,), {}, "-1"),
        ((0xFFFF,), {"type": "uint16"}, "65535"),
        ((0x8000,), {"missing": -32768}, None),
        ((500,), {"scale": "0.01", "offset": "-40"}, "-35.00"),
        ((0x0001, 0x86A0), {"type": "uint32"}, "100000"),
        ((0x86A0, 0x0001), {"type": "uint32", "words": "little"}, "100000"),
        ((0xFFFF, 0xFFFE), {"type": "int32"}, "-2"),
        ((0x42EC, 0x6666), {"type": "float32"}, "118.2"),
        ((0x7FC0, 0x0000), {"type": "float32"}, None),
        ((0x7F80, 0x0000), {"type": "float32"}, None),
    ],
)
def test_registers(words: tuple[int, ...], options: dict[str, Any], expected: str | None) -> None:
    assert decode_register(words, Register("low", 0, "psig", **options)) == expected


@pytest.mark.parametrize(
    "value",
    [
        {"header": "low", "address": 1, "unit": "furlong"},
        {"header": "low", "address": 1, "unit": "psi"},
        {"header": "low", "address": 1, "unit": ""},
        {"header": "", "address": 1, "unit": "psig"},
        {"header": "low", "address": -1, "unit": "psig"},
        {"header": "low", "address": 70_000, "unit": "psig"},
        {"header": "low", "address": "1", "unit": "psig"},
        {"header": "low", "address": True, "unit": "psig"},
        {"header": "low", "address": 1, "unit": "psig", "type": "int8"},
        {"header": "low", "address": 1, "unit": "psig", "scale": 0},
        {"header": "low", "address": 1, "unit": "psig", "scale": "a lot"},
        {"header": "low", "address": 1, "unit": "psig", "offset": "inf"},
        {"header": "low", "address": 1, "unit": "psig", "table": "coils"},
        {"header": "low", "address": 1, "unit": "psig", "words": 3},
        {"header": "low", "address": 1, "unit": "psig", "device": 300},
        {"header": "low", "address": 1, "unit": "psig", "colour": "red"},
        {"header": "low", "unit": "psig"},
        "low",
        None,
    ],
)
def test_a_register_that_cannot_be_is_refused_in_a_sentence(value: object) -> None:
    with pytest.raises(FixInput) as caught:
        Register.from_value(value)
    assert "\n" not in caught.value.message


def test_a_register_from_a_file() -> None:
    value = {"header": "low", "address": 10, "unit": "psig", "scale": 0.1, "table": "input"}
    assert Register.from_value(value) == Register("low", 10, "psig", scale="0.1", table="input")


def test_registers_that_touch_are_read_together() -> None:
    a, b = Register("a", 10, "psig"), Register("b", 11, "psig", type="float32")
    c, d = Register("c", 20, "psig"), Register("d", 10, "psig", table="input")
    e = Register("e", 10, "psig", device=2)
    assert blocks_of([e, c, d, b, a]) == (
        Block(1, "holding", 10, 3, (a, b)),
        Block(1, "holding", 20, 1, (c,)),
        Block(1, "input", 10, 1, (d,)),
        Block(2, "holding", 10, 1, (e,)),
    )
    many = [Register(f"r{k}", k, "psig") for k in range(200)]
    assert [block.count for block in blocks_of(many)] == [125, 75]


@settings(max_examples=300)
@given(
    st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=2),
    st.sampled_from(["int16", "uint16", "int32", "uint32", "float32"]),
    st.sampled_from(["big", "little"]),
    st.sampled_from(["1", "0.1", "0.01", "1e-6", "-2.5", "3.3e8"]),
)
def test_any_words_make_a_number_or_none(words: list[int], kind: Any, order: Any, scale: str) -> None:
    register = Register("x", 0, "psig", type=kind, words=order, scale=scale)
    text = decode_register(words[: register.length], register)
    assert text is None or (math.isfinite(float(text)) and len(text) <= 40)


def test_words_that_do_not_fit_are_the_callers_mistake() -> None:
    with pytest.raises(ValueError, match="2 words"):
        decode_register([1], Register("x", 0, "psig", type="float32"))
    with pytest.raises(ValueError, match="16 bits"):
        decode_register([70_000], Register("x", 0, "psig"))


# -- Environmental Sensing ----------------------------------------------------------------------------------------------------
def test_a_pressure_may_count_from_the_air() -> None:
    assert decode_characteristic(0x2A6D, (9_000_000).to_bytes(4, "little"), "gauge") == ("900.0000", "kPag")
    assert decode_characteristic(0x2A6D, (9_000_000).to_bytes(4, "little")) == ("900000.0", "Pa")


@settings(max_examples=300)
@given(st.sampled_from(sorted(FORMS)), st.binary(max_size=6))
def test_any_bytes_make_a_value_or_a_plain_error(number: int, data: bytes) -> None:
    try:
        value, unit = decode_characteristic(number, data)
    except ValueError as error:
        assert len(data) != FORMS[number].length
        assert "bytes" in str(error)
        return
    assert unit in KNOWN_UNITS
    assert value is None or math.isfinite(float(value))


@given(st.text(max_size=40))
def test_any_uuid_is_looked_at(uuid: str) -> None:
    found = number_of(uuid)
    assert found is None or 0 <= found <= 0xFFFF


def test_uuids_and_names_of_series() -> None:
    assert number_of("00002a6e-0000-1000-8000-00805F9B34FB") == 0x2A6E
    assert number_of("2A6E") == 0x2A6E
    assert number_of("12345678-0000-1000-8000-00805f9b34fb") is None
    assert header_of(0x2A6E, "", 0) == "temperature"
    assert header_of(0x2A6E, "", 1) == "temperature 2"
    assert header_of(0x2A6E, " suction\x00 line\n", 0) == "suction line"


# -- readings, units, numbers -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "change",
    [
        {"source": ""}, {"boot_id": ""}, {"header": ""}, {"sequence": -1}, {"sequence": 2**63}, {"unit": "psi"},
        {"unit": "furlong"}, {"time": math.nan}, {"time": -1.0}, {"time": 1e12}, {"utc_offset": 1e6}, {"read_by": "cat"},
        {"header": "x\0"}, {"value": "x" * 201}, {"quality": "\ud800"},
    ],
)  # fmt: skip
def test_a_reading_that_cannot_be_kept_is_not_made(change: dict[str, Any]) -> None:
    good: dict[str, Any] = {"source": "s", "boot_id": "b", "sequence": 0, "header": "h", "value": "1", "unit": "psig"}
    assert Reading(**good).value == "1"
    with pytest.raises(FixInput):
        Reading(**{**good, **change})


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 5)), max_size=30))
def test_ranges_are_sets_of_numbers(added: list[tuple[int, int]]) -> None:
    ranges, numbers = Ranges(), set()
    for first, more in added:
        ranges.add(first, first + more)
        numbers |= set(range(first, first + more + 1))
    assert {n for n in range(70) if n in ranges} == numbers
    assert len(ranges) == len(numbers)
    held = list(ranges)
    assert held == sorted(held)
    assert all(later[0] > earlier[1] + 1 for earlier, later in itertools.pairwise(held))
    assert ranges.upto() == (held[0][1] if held else None)
    assert bool(ranges) == bool(numbers)
