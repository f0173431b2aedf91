"""From cells to readings in SI: missing words, units, gauge to absolute, resolution, rows by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from steadfeed.capture.logs import read_log
from steadfeed.capture.system_file import parse_system
from steadfeed.capture.table import MISSING_WORDS, cell_number, decimal_of
from steadfeed.circuit.equipment import Instruments, Site, System
from unit.capture.log_texts import HEADER, codes, log, psig, read, refused, said, same_values

DATA = Path(__file__).parents[2] / "data" / "logs"


@pytest.mark.parametrize(
    "word", ["OL", "ol", "---", "", " ", "O.L.", "N/A", "nan", "--", "—", "inf", "-inf", "null", "LO", "#N/A", '"OL"']
)
def test_words_for_no_reading_are_missing(word: str) -> None:
    recording = read(log("2025-06-01T14:00:00Z,118,410,55,98", f"2025-06-01T14:00:05Z,{word},411,55,98"))
    assert np.isnan(recording.channels["suction_pressure"].values[1])
    assert recording.channels["liquid_pressure"].values[1] == pytest.approx(psig(411))
    assert "cells not read" not in codes(recording)


def test_every_missing_word_is_missing_in_any_case() -> None:
    for word in MISSING_WORDS:
        assert np.isnan(cell_number(word.upper(), "psig", "pressure", "."))


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("118.4", 118.4), ("+118.4", 118.4), ("-3", -3), ("−3", -3), ("1e2", 100), (" 7 ", 7), ("1,234.5", 1234.5),
        ("1 234.5", 1234.5), (".5", 0.5), ("12.", 12), ("118 psig", 118), ("118 psi", 118), ("0 inHg", 0),
        ("12 inHg", -12 * 3386.388640341 / 6894.757293168361), ("8 barg", 8e5 / 6894.757293168361),
    ],
)  # fmt: skip
def test_cells_that_are_numbers(cell: str, value: float) -> None:
    assert cell_number(cell, "psig", "pressure", ".") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "cell", ["abc", "1.2.3", "12 degF", "118 psia", "1_0", "٣", "0x10", "3 4", "1,2", "9" * 80, "12 34 psig"]
)
def test_cells_that_are_no_numbers(cell: str) -> None:
    assert cell_number(cell, "psig", "pressure", ".") is None


def test_a_temperature_with_its_own_unit_wins_over_the_header() -> None:
    assert cell_number("10 °C", "degF", "temperature", ".") == pytest.approx(50.0)
    assert cell_number("50 F", "degC", "temperature", ".") == pytest.approx(10.0)


def test_an_unreadable_cell_is_missing_and_said_with_its_line() -> None:
    recording = read(log("2025-06-01T14:00:00Z,118,410,55,98", "2025-06-01T14:00:05Z,abc,411,55,98"))
    assert np.isnan(recording.channels["suction_pressure"].values[1])
    assert "line 3" in said(recording, "cells not read")
    assert "“abc”" in said(recording, "cells not read")


def test_a_column_of_words_is_refused() -> None:
    error = refused(log("2025-06-01T14:00:00Z,low,410,55,98x", "2025-06-01T14:00:05Z,bad,411,55,98x"))
    assert error.code == "no numbers"
    assert "suction_pressure_psig" in error.message
    assert "“bad” (line 3)" in error.message


def test_a_column_without_a_reading_is_no_channel() -> None:
    recording = read(log("2025-06-01T14:00:00Z,,410,55,98", "2025-06-01T14:00:05Z,OL,411,55,98"))
    assert "suction_pressure" not in recording.channels
    assert "suction_pressure_psig" in said(recording, "channel empty")


@pytest.mark.parametrize(
    ("cells", "separator", "decimal"),
    [
        (["12,5", "13"], ";", ","), (["12.5", "13"], ";", "."), (["1,234", "2"], ";", ","), (["1,234", "12.5"], "\t", "."),
        (["1,234", "2"], ",", "."), (["12,5"], ",", ","), (["1.234,5"], ";", ","), (["1,234.5"], ";", "."),
        (["1.234", "12,5"], ";", ","), (["12,5", "12.5"], ";", "."), (["118"], ";", "."),
    ],
)  # fmt: skip
def test_decimal_point_or_comma(cells: list[str], separator: str, decimal: str) -> None:
    assert decimal_of([cells], separator) == decimal


def test_vented_gauges_count_from_the_air_at_the_site() -> None:
    text = log("2025-06-01T14:00:00Z,118", header="time,suction_pressure_psig")
    # ICAO standard atmosphere at 1,524 m (5,000 ft): 84,307 Pa (ISO 2533 tables: 843.07 hPa)
    recording = read(text, System(site=Site(altitude=1524.0)))
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118, 84_307), abs=3)
    assert recording.atmosphere == pytest.approx(84_307, abs=3)
    assert "gauges taken as vented" in codes(recording)
    recording = read(text, System(site=Site(altitude=1524.0, barometer=84_000.0)))
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118, 84_000))
    recording = read(text)
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118))
    assert "sea level" in said(recording, "sea level assumed")


def test_sealed_gauges_count_from_sea_level_wherever_they_are() -> None:
    text = log("2025-06-01T14:00:00Z,118", header="time,suction_pressure_psig")
    system = System(site=Site(altitude=1524.0), instruments=Instruments(pressure_reference="sealed"))
    recording = read(text, system)
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118))
    assert recording.atmosphere == pytest.approx(84_307, abs=3)
    assert codes(recording) == ["columns read"]


def test_an_absolute_sensor_under_a_gauge_header_is_remarked() -> None:
    system = System(site=Site(altitude=1524.0), instruments=Instruments(pressure_reference="absolute"))
    recording = read(log("2025-06-01T14:00:00Z,118", header="time,suction_pressure_psig"), system)
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118))
    assert "101,325" in said(recording, "absolute sensor under a gauge header")
    recording = read(log("2025-06-01T14:00:00Z,132.7", header="time,suction_pressure_psia"), system)
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(132.7, 0))
    assert codes(recording) == ["columns read"]


def test_vacuum_in_inches_of_mercury_lies_below_the_atmosphere() -> None:
    signed = read(log("2025-06-01T14:00:00Z,-10", header="time,suction_pressure_inHg"))
    bare = read(log("2025-06-01T14:00:00Z,10", header="time,suction_pressure_inHg"))
    expected = 101325 - 10 * 3386.388640341
    assert signed.channels["suction_pressure"].values[0] == pytest.approx(expected)
    assert bare.channels["suction_pressure"].values[0] == pytest.approx(expected)
    assert "vacuum without sign" in codes(bare)
    assert "vacuum without sign" not in codes(signed)


def test_every_column_converts_by_its_own_unit() -> None:
    header = (
        "time,suction_pressure_psig,liquid_pressure_barg,suction_line_temperature_degF,liquid_line_temperature_degC"
    )
    recording = read(log("2025-06-01T14:00:00Z,118,28.3,50,36.5", header=header))
    assert recording.channels["suction_pressure"].values[0] == pytest.approx(psig(118))
    assert recording.channels["liquid_pressure"].values[0] == pytest.approx(28.3e5 + 101325)
    assert recording.channels["suction_line_temperature"].values[0] == pytest.approx(283.15)
    assert recording.channels["liquid_line_temperature"].values[0] == pytest.approx(309.65)


def test_readings_that_cannot_be_are_missing() -> None:
    lines = [
        "2025-06-01T14:00:00Z,118,410,55,98",
        "2025-06-01T14:00:05Z,-999,411,-999,98",
        "2025-06-01T14:00:10Z,1e30,411,55,98",
    ]
    recording = read(log(*lines))
    assert np.isnan(recording.channels["suction_pressure"].values[1:]).all()
    assert np.isnan(recording.channels["suction_line_temperature"].values[1])
    texts = [r.text for r in recording.remarks if r.code == "impossible readings"]
    assert any("perfect vacuum" in t for t in texts)
    assert any("absolute zero" in t for t in texts)


def test_the_smallest_step_is_the_resolution() -> None:
    lines = [
        f"2025-06-01T14:00:0{i}Z,{p},410,{t},OL"
        for i, (p, t) in enumerate([(115, 55.0), (120, 55.4), (120, 55.2), ("", 55.2)])
    ]
    recording = read(log(*lines, "2025-06-01T14:00:09Z,130,410,55,98"))
    assert recording.channels["suction_pressure"].resolution == pytest.approx(5 * 6894.757293168361)
    assert recording.channels["suction_line_temperature"].resolution == pytest.approx(0.2 / 1.8, rel=1e-5)
    assert recording.channels["liquid_pressure"].resolution == 0
    assert recording.channels["liquid_line_temperature"].resolution == 0


def test_seven_rows_by_hand() -> None:
    (recording,) = read_log(DATA / "seven_rows.csv", parse_system('[instruments]\nsampling = "by hand"', "x.toml"))
    assert len(recording) == 7
    assert recording.read_by == "person"
    assert recording.same is not None
    assert recording.same.tolist() == [False, False, True, False, False, False, False]
    suction = recording.channels["suction_pressure"].values
    assert same_values(suction, [psig(p) for p in (182, 121, 121, 125, 126, 121, 168)])
    assert np.flatnonzero(np.isnan(recording.channels["suction_line_temperature"].values)).tolist() == [5]
    assert np.flatnonzero(np.isnan(recording.channels["liquid_line_temperature"].values)).tolist() == [6]
    assert "line 5" in said(recording, "unchanged").lower()
    assert "person, photo" in said(recording, "read_by differs")


def test_same_does_not_invent_what_was_over_range() -> None:
    header = f"{HEADER},same"
    recording = read(log("2025-06-01T14:00:00Z,118,410,55,98,", "2025-06-01T14:03:00Z,OL,,,,1", header=header))
    assert np.isnan(recording.channels["suction_pressure"].values[1])
    assert recording.channels["liquid_pressure"].values[1] == pytest.approx(psig(410))


def test_a_reader_of_another_name_is_said() -> None:
    recording = read(log("2025-06-01T14:00:00Z,118,410,55,98,robot", header=f"{HEADER},read_by"))
    assert recording.read_by is None
    assert "robot" in said(recording, "read_by not known")


def test_a_row_without_a_reading_is_dropped_with_its_line() -> None:
    recording = read(
        log("2025-06-01T14:00:00Z,118,410,55,98", "2025-06-01T14:00:05Z,OL,,---,", "2025-06-01T14:00:09Z,1,2,3,4")
    )
    assert len(recording) == 2
    assert "Line 3 dropped: no reading" in said(recording, "rows dropped")
