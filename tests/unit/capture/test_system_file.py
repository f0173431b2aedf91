"""System files: every key, every unit, every slip."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from steadfeed import units
from steadfeed.capture.system_file import default_system, key_names, parse_system, read_system
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.phase import Mark
from steadfeed.errors import FixInput, SteadfeedError

FULL = """
refrigerant = "R-454B"
metering_device = "eev"
mode = "heating"
circuit = 2
packaged = false
nominal_capacity_tons = 3.0
compressor_type = "rotary"
compressor_control = "two-stage"
fan_control = "pressure-cycled"
time_zone = "America/Denver"

[site]
altitude_ft = 5784
barometer_inHg = 24.5

[nameplate]
subcooling_degF = 13
superheat_degF = 9
high_side_design_psig = 550
high_side_is_working_limit = true
rated_current_A = 16.1
charge_oz = 102

[line_set]
length_ft = 50
lift_ft = -12
liquid_line_in = 0.375
suction_line_in = 0.875

[instruments]
gauges = "digital"
pressure_reference = "sealed"
pressure_accuracy_psi = 1
temperature_accuracy_degF = 0.9
sampling = "automatic"

[limits]
head_pressure_psig = 570
discharge_temperature_degF = 225
high_pressure_switch_psig = 610

[[marks]]
time = "2025-05-22T16:38:04+02:00"
event = "restore"

[[marks]]
time = 2025-05-22T08:30:49
event = "push"
text = "half the coil"

[columns]
"P low" = "suction_pressure_psig"
"""


def refused(text: str) -> FixInput:
    with pytest.raises(FixInput) as caught:
        parse_system(text, "unit5.toml")
    assert caught.value.message.startswith("unit5.toml")
    assert "\n" not in caught.value.message
    return caught.value


def test_every_key() -> None:
    system = parse_system(FULL, "unit5.toml")
    psi, air = 6894.757293168361, 24.5 * 3386.388640341
    assert (system.refrigerant, system.metering_device, system.mode) == ("R-454B", MeteringDevice.EEV, "heating")
    assert (system.circuit, system.packaged, system.time_zone) == ("c2", False, "America/Denver")
    assert (system.compressor_type, system.compressor_control) == ("rotary", "two-stage")
    assert system.fan_control == "pressure-cycled"
    # 3 tons are 36,000 Btu/h; 1 Btu(IT)/h = 0.29307107 W (NIST SP 811, table B.8)
    assert system.nominal_capacity == pytest.approx(36_000 * 0.29307107, rel=1e-7)
    assert system.site.altitude == pytest.approx(5784 * 0.3048)
    assert system.site.barometer == pytest.approx(air)
    assert system.nameplate.subcooling == pytest.approx(13 / 1.8)
    assert system.nameplate.superheat == pytest.approx(5.0)
    assert system.nameplate.high_side_design_pressure == pytest.approx(550 * psi + air)
    assert system.nameplate.high_side_is_working_limit is True
    assert system.nameplate.rated_current == 16.1
    assert system.nameplate.charge == pytest.approx(102 * 0.028349523125)  # NIST SP 811: 1 oz (avdp)
    assert system.line_set.length == pytest.approx(15.24)
    assert system.line_set.lift == pytest.approx(-3.6576)
    assert system.line_set.liquid_line_diameter == pytest.approx(0.009525)
    assert system.line_set.suction_line_diameter == pytest.approx(0.022225)
    assert (system.instruments.gauges, system.instruments.pressure_reference) == ("digital", "sealed")
    assert system.instruments.sampling == "automatic"
    assert system.instruments.pressure_accuracy == pytest.approx(psi)
    assert system.instruments.temperature_accuracy == pytest.approx(0.5)
    assert system.limits.head_pressure == pytest.approx(570 * psi + air)
    assert system.limits.discharge_temperature == pytest.approx((225 + 459.67) / 1.8)
    assert system.limits.high_pressure_switch == pytest.approx(610 * psi + air)
    # 2025-05-22 is day 20,230 since 1970; Denver is six hours behind UTC in May
    day = 20_230 * 86_400
    assert system.marks == (
        Mark(day + 14 * 3600 + 30 * 60 + 49, "push", "half the coil"),
        Mark(day + 14 * 3600 + 38 * 60 + 4, "restore"),
    )
    assert system.column_names == (("P low", "suction_pressure_psig"),)


def test_every_field_of_a_system_can_be_written() -> None:
    """Nothing in the dataclasses is left without a key: no field keeps its default in the full file above."""
    system, nothing = parse_system(FULL, "unit5.toml"), default_system()

    def left(full: object, empty: object) -> list[str]:
        names = []
        for field in dataclasses.fields(full):  # type: ignore[arg-type]
            value, default = getattr(full, field.name), getattr(empty, field.name)
            if dataclasses.is_dataclass(value):
                names += left(value, default)
            elif value == default:
                names.append(field.name)
        return names

    assert left(system, nothing) == []


def test_an_empty_file_says_nothing() -> None:
    assert parse_system("", "x.toml") == default_system() == System()
    assert parse_system("[site]\n[nameplate]\n[columns]\n", "x.toml") == System()


@pytest.mark.parametrize(
    ("table", "base", "kind", "field"),
    [
        ("site", "altitude", "length", "altitude"),
        ("site", "barometer", "atmosphere", "barometer"),
        ("nameplate", "subcooling", "temperature_difference", "subcooling"),
        ("nameplate", "high_side_design", "pressure", "high_side_design_pressure"),
        ("nameplate", "rated_current", "current", "rated_current"),
        ("nameplate", "charge", "mass", "charge"),
        ("line_set", "length", "length", "length"),
        ("line_set", "liquid_line", "length", "liquid_line_diameter"),
        ("instruments", "pressure_accuracy", "pressure_difference", "pressure_accuracy"),
        ("instruments", "temperature_accuracy", "temperature_difference", "temperature_accuracy"),
        ("limits", "discharge_temperature", "temperature", "discharge_temperature"),
        ("limits", "head_pressure", "pressure", "head_pressure"),
    ],
)
def test_every_quantity_takes_every_unit_of_its_kind(table: str, base: str, kind: str, field: str) -> None:
    usual = {
        "length": 0.4, "atmosphere": 99_000.0, "temperature_difference": 7.0, "pressure": 3.5e6, "current": 16.0, "mass": 3.0,
        "pressure_difference": 7e3, "temperature": 370.0,
    }[kind]  # fmt: skip
    for unit in units.units_of(kind):
        number = units.from_si(usual, unit, kind, 101325.0)
        system = parse_system(f"[{table}]\n{base}_{unit} = {number!r}\n", "x.toml")
        assert getattr(getattr(system, table), field) == pytest.approx(usual, rel=1e-9), unit


def test_gauge_limits_count_from_the_air_at_the_site() -> None:
    text = "[limits]\nhead_pressure_psig = 500\n[site]\n"
    sea, high = parse_system(text, "x.toml"), parse_system(text + "altitude_ft = 5000\n", "x.toml")
    barometer = parse_system(text + "altitude_ft = 5000\nbarometer_hPa = 850\n", "x.toml")
    assert sea.limits.head_pressure is not None
    assert high.limits.head_pressure is not None
    assert barometer.limits.head_pressure is not None
    # ISO 2533: 843.07 hPa at 1,524 m
    assert sea.limits.head_pressure - high.limits.head_pressure == pytest.approx(101_325 - 84_307, abs=3)
    assert sea.limits.head_pressure - barometer.limits.head_pressure == pytest.approx(101_325 - 85_000)


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ('refrigernt = "R-22"', "unknown key", ["line 1", "refrigernt", "“refrigerant”"]),
        ("[line_set]\nlenght_ft = 3", "unknown key", ["line 2", "[line_set]", "length_ft"]),
        ("[limit]\nhead_pressure_psig = 3", "unknown key", ["[limits]"]),
        ("[[mark]]\ntime = 3", "unknown key", ["[[marks]]"]),
        ("[[marks]]\ntime = 3\nevent = 'push'\ntxt = 'a'", "unknown key", ["line 4", "“text”"]),
        ("[site]\nlength_ft = 3", "unknown key", ["belongs in [line_set]"]),
        ("length_ft = 3", "unknown key", ["belongs in [line_set]"]),
        ("[site]\nrefrigerant = 'R-22'", "unknown key", ["belongs in the top of the file"]),
        ("[site.more]\na = 3", "unknown key", ["more"]),
        ("[line_set]\nlength = 3", "unit missing", ["line 2", "length_ft or length_m"]),
        ("[limits]\nhead_pressure = 3", "unit missing", ["head_pressure_psig"]),
        ("[line_set]\nlength_psi = 3", "unknown unit", ["line 2", "ft m in mm cm"]),
        ("[limits]\nhead_pressure_psi = 3", "unknown unit", ["did you mean psig?"]),
        ("[line_set]\nlength_ft = 3\nlength_m = 1", "quantity twice", ["line 3", "length_m", "length_ft"]),
        ("[line_set]\nlength_ft = '3'", "wrong type", ["a number", "“3”"]),
        ("[line_set]\nlength_ft = true", "wrong type", ["not true"]),
        ("[line_set]\nlength_ft = [3]", "wrong type", ["a list"]),
        ("[line_set]\nlength_ft = nan", "bad value", ["finite"]),
        ("[line_set]\nlength_ft = -3", "bad value", ["below the limit of 0"]),
        ("[site]\naltitude_ft = 99999", "bad value", ["above the limit of 19,685"]),
        ("[site]\nbarometer_inHg = 2992", "bad value", ["unit"]),
        ("packaged = 'yes'", "wrong type", ["true or false"]),
        ("refrigerant = 410", "wrong type", ["in quotes"]),
        ("mode = 'cool'", "bad value", ["“cooling”, “heating”", "did you mean “cooling”?"]),
        ("metering_device = 'piston'", "bad value", ["“fixed orifice”"]),
        ("metering_device = 3", "wrong type", ["“txv”"]),
        ("time_zone = 'America/Chikago'", "unknown time zone", ["America/Chicago"]),
        ("time_zone = 'America'", "unknown time zone", ["time zone"]),
        ("time_zone = '../../etc/passwd'", "unknown time zone", ["time zone"]),
        ("site = 3", "wrong type", ["[site]"]),
        ("columns = 3", "wrong type", ["[columns]"]),
        ("marks = 3", "wrong type", ["[[marks]]"]),
        ("marks = [1]", "wrong type", ["[[marks]]"]),
        ("[marks]\ntime = 3", "wrong type", ["[[marks]]"]),
        ("[[marks]]\nevent = 'push'", "key missing", ["no time"]),
        ("[[marks]]\ntime = 3", "key missing", ["no event"]),
        ("[[marks]]\ntime = 3\nevent = 'pusch'", "bad value", ["“push”"]),
        ("[[marks]]\ntime = 'noon'\nevent = 'push'", "bad time", ["“noon”", "2025-06-01T14:05:00-05:00"]),
        ("[[marks]]\ntime = 14:05:00\nevent = 'push'", "bad time", ["14:05:00"]),
        ("[[marks]]\ntime = 2025-06-01\nevent = 'push'", "bad time", ["2025-06-01"]),
        ("[[marks]]\ntime = true\nevent = 'push'", "bad time", ["true"]),
        ("[[marks]]\ntime = inf\nevent = 'push'", "bad value", ["seconds"]),
        ("[[marks]]\ntime = 3\nevent = 'note'\ntext = 3", "wrong type", ["text"]),
        ("[columns]\nP = 'suction'", "unknown channel", ["[columns]", "suction_pressure_psig"]),
        ("[columns]\nP = 'suction_pressure'", "unit missing", ["suction_pressure_psig"]),
        ("[columns]\nP = 'suction_pressure_psi'", "unit ambiguous", ["psig or psia"]),
        ("[columns]\nP = 3", "wrong type", ["“P”"]),
        ("refrigerant = ", "bad TOML", ["line 1"]),
        ("a = 1\na = 2", "bad TOML", ["line 2", "overwrite"]),
        ("\n\n[site\n", "bad TOML", ["line 3"]),
        ("a = 'x", "bad TOML", ["line 1"]),
        ("a = 2025-02-30", "bad TOML", []),
        ("a = " + "[" * 9000, "bad TOML", ["nested"]),
        ("a = " + "9" * 9000, "bad TOML", []),
    ],
)  # fmt: skip
def test_slips_are_one_sentence_that_says_what_to_do(text: str, code: str, words: list[str]) -> None:
    error = refused(text)
    assert error.code == code
    for word in words:
        assert word in error.message


@pytest.mark.parametrize(
    ("written", "device"),
    [
        ("TXV", "txv"),
        ("Fixed Orifice", "fixed orifice"),
        ("fixed-orifice", "fixed orifice"),
        (" eev ", "eev"),
        ("unknown", "unknown"),
    ],
)
def test_words_in_any_case(written: str, device: str) -> None:
    assert parse_system(f'metering_device = "{written}"', "x.toml").metering_device.value == device


def test_the_keys_that_are_documented_are_the_keys_that_are_read() -> None:
    for table, keys in key_names().items():
        if table == "marks":
            continue
        for key in keys:
            value = {"circuit": "1", "refrigerant": '"R-22"', "time_zone": '"Etc/UTC"', "packaged": "true",
                     "high_side_is_working_limit": "true", "mode": '"cooling"', "altitude_ft": "9", "barometer_inHg": "29",
                     "discharge_temperature_degF": "225"}.get(key, "5" if key.split("_")[-1] in _UNITS else '"unknown"')  # fmt: skip
            head = f"[{table}]\n" if table else ""
            assert isinstance(parse_system(f"{head}{key} = {value}\n", "x.toml"), System), key


_UNITS = {"ft", "in", "inHg", "degF", "psig", "psi", "oz", "A", "tons"}


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "unit5.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.encode().replace(b"\n", b"\r\n"))
    assert read_system(path) == parse_system(FULL, "x.toml")
    path.write_bytes(b'a = 1\nrefrigerant = "R-\xb0"\n')
    with pytest.raises(FixInput, match="line 2 is not UTF-8"):
        read_system(path)
    path.write_bytes(b"#" * (2**20 + 1))
    with pytest.raises(FixInput) as caught:
        read_system(path)
    assert caught.value.code == "too big"
    with pytest.raises(FixInput, match="does not exist"):
        read_system(tmp_path / "none.toml")
    with pytest.raises(FixInput, match="folder"):
        read_system(tmp_path)


LINES = FULL.strip().splitlines()


@given(
    st.lists(
        st.tuples(st.integers(0, len(LINES) - 1), st.sampled_from(["drop", "double", "swap", "cut", "glue"])),
        max_size=4,
    ),
    st.text(max_size=12),
)
@example([], "")
def test_a_file_with_slips_is_read_or_refused_in_one_sentence(slips: list[tuple[int, str]], glue: str) -> None:
    lines = list(LINES)
    for place, what in slips:
        i = place % len(lines)
        if what == "drop" and len(lines) > 1:
            del lines[i]
        elif what == "double":
            lines.insert(i, lines[i])
        elif what == "swap":
            lines[i], lines[0] = lines[0], lines[i]
        elif what == "cut":
            lines[i] = lines[i][: len(lines[i]) // 2]
        elif what == "glue":
            lines[i] += glue
    try:
        system = parse_system("\n".join(lines), "unit5.toml")
    except SteadfeedError as error:
        assert error.message.startswith("unit5.toml")
        assert "\n" not in error.message
    else:
        assert isinstance(system, System)


VALUES = st.one_of(
    st.booleans().map(lambda b: str(b).lower()), st.integers().map(str), st.floats().map(repr), st.just("[]"), st.just("{}"),
    st.just('"txv"'), st.just('"x"'), st.just("2025-06-01"), st.just("14:05:00"), st.just("2025-06-01T14:05:00"),
)  # fmt: skip


@given(st.sampled_from(sorted({(t, k) for t, keys in key_names().items() for k in keys})), VALUES)
def test_any_value_under_any_key_is_read_or_refused_in_one_sentence(key: tuple[str, str], value: str) -> None:
    table, name = key
    head = "[[marks]]\n" if table == "marks" else f"[{table}]\n" if table else ""
    try:
        system = parse_system(f"{head}{name} = {value}\n", "unit5.toml")
    except SteadfeedError as error:
        assert error.message.startswith("unit5.toml")
    else:
        assert isinstance(system, System)
