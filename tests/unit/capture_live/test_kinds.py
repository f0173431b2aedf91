"""Sources from settings: each kind is made from its example, and every mistake is one sentence."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfeed.capture.kinds import SOURCE_KINDS, make_source
from steadfeed.errors import FixInput, InstallPart

DOCS = Path(__file__).parents[3] / "docs" / "how-to"
REGISTERS = [{"header": "low", "address": 10, "unit": "psig", "scale": 0.1}]
PAGES = {
    "csv": "connect-instruments.md",
    "ingest": "http-ingest.md",
    "mqtt": "mqtt.md",
    "modbus tcp": "modbus.md",
    "modbus rtu": "modbus.md",
    "bluetooth": "bluetooth.md",
}


def settings_of(kind: str, every_field: bool) -> dict[str, Any]:
    fields = next(k for k in SOURCE_KINDS if k.kind == kind).fields
    given: dict[str, Any] = {f.name: f.example or "x" for f in fields if f.needed or every_field}
    if "registers" in given:
        given["registers"] = REGISTERS
    return given


@pytest.mark.parametrize("kind", [k.kind for k in SOURCE_KINDS])
@pytest.mark.parametrize("every_field", [False, True])
def test_every_kind_is_made_from_its_examples(kind: str, every_field: bool) -> None:
    source = make_source(kind, "mine", settings_of(kind, every_field), clock=lambda: 7.0)
    assert source.clock() == 7.0
    assert source.kind == kind
    assert source.name == "mine"
    assert next(k for k in SOURCE_KINDS if k.kind == kind).missing is None


@pytest.mark.parametrize("kind", [k.kind for k in SOURCE_KINDS])
def test_every_needed_field_is_asked_for(kind: str) -> None:
    for field in next(k for k in SOURCE_KINDS if k.kind == kind).fields:
        if field.needed:
            given = settings_of(kind, False)
            del given[field.name]
            with pytest.raises(FixInput, match=field.name):
                make_source(kind, "mine", given)


@pytest.mark.parametrize(
    ("kind", "change", "word"),
    [
        ("radar", {}, "there is csv"),
        ("csv", {"colour": "red"}, "does not know “colour”"),
        ("csv", {"path": 7}, "path is a text"),
        ("csv", {"from_start": "maybe"}, "true or false"),
        ("csv", {"time_zone": "Mars"}, "time zone"),
        ("csv", {"pressure_reference": "loud"}, "one of vented"),
        ("mqtt", {"port": "many"}, "port is a number"),
        ("mqtt", {"port": 1.5}, "whole number"),
        ("mqtt", {"port": 0}, "between 1 and 65535"),
        ("mqtt", {"version": 4}, "3 .*or 5"),
        ("mqtt", {"topic": "x/y"}, "/readings"),
        ("mqtt", {"topic": "#/readings"}, "/readings"),
        ("modbus tcp", {"registers": []}, "1 to 200"),
        ("modbus tcp", {"registers": "low"}, "list"),
        ("modbus tcp", {"registers": REGISTERS * 2}, "Two registers"),
        ("modbus tcp", {"registers": [{**REGISTERS[0], "unit": "furlong"}]}, "furlong"),
        ("modbus tcp", {"port": 99999}, "between 1 and 65535"),
        ("modbus tcp", {"every": 0}, "not every"),
        ("modbus tcp", {"every": float("nan")}, "not every"),
        ("modbus rtu", {"parity": "X"}, "N, E or O"),
        ("modbus rtu", {"baudrate": 1}, "baud"),
        ("bluetooth", {"address": "here"}, "no address"),
        ("bluetooth", {"pressure_is": "high"}, "one of absolute"),
        ("bluetooth", {"every": -1}, "not every"),
    ],
)
def test_mistakes_are_one_sentence(kind: str, change: dict[str, Any], word: str) -> None:
    given = settings_of(kind, False) if kind in PAGES else {}
    with pytest.raises(FixInput, match=word) as caught:
        make_source(kind, "mine", {**given, **change})
    assert "\n" not in caught.value.message


@settings(max_examples=150)
@given(
    st.sampled_from(sorted(PAGES)),
    st.dictionaries(
        st.sampled_from(sorted({f.name for k in SOURCE_KINDS for f in k.fields} | {"x"})),
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats()
        | st.text(max_size=8)
        | st.lists(st.integers(), max_size=2),
        max_size=5,
    ),
)
def test_noise_in_settings_is_refused_in_words(kind: str, noise: dict[str, Any]) -> None:
    try:
        make_source(kind, "mine", {**settings_of(kind, False), **noise})
    except FixInput as error:
        assert error.message


@pytest.mark.parametrize(("kind", "module"), [("mqtt", "aiomqtt"), ("modbus tcp", "pymodbus"), ("bluetooth", "bleak")])
def test_a_missing_part_is_named(kind: str, module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(InstallPart, match=r"steadfeed\[instruments\]"):
        make_source(kind, "mine", settings_of(kind, False))


def test_every_kind_has_its_page() -> None:
    assert set(PAGES) == {k.kind for k in SOURCE_KINDS}
    overview = (DOCS / "connect-instruments.md").read_text(encoding="utf-8")
    for kind, page in PAGES.items():
        assert (DOCS / page).exists()
        assert page in overview or page == "connect-instruments.md"
        words = re.findall(r"\w+", next(k for k in SOURCE_KINDS if k.kind == kind).text.lower())
        assert any(word in overview.lower() for word in words)


def test_the_page_on_modbus_describes_registers_that_can_be_read() -> None:
    import tomllib

    from steadfeed.capture.modbus import Register

    block = (DOCS / "modbus.md").read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    registers = [Register.from_value(row) for row in tomllib.loads(block)["registers"]]
    assert [r.header for r in registers] == ["low", "amps"]
    assert registers[1].device == 2


def test_the_page_for_gateways_shows_a_message_that_is_taken() -> None:
    from steadfeed.capture.http_ingest import decode_message
    from steadfeed.capture.reading_units import KNOWN_UNITS

    page = (DOCS / "http-ingest.md").read_text(encoding="utf-8")
    found = decode_message(page.split("```json\n")[1].split("```")[0])
    assert len(found.readings) == 3
    assert found.refused == ()
    for unit in KNOWN_UNITS:
        assert f"`{unit}" in page or f" {unit} " in page or f" {unit}`" in page, unit
