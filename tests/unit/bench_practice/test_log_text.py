"""Logs and system files of the bench: times against the standard library, texts read back by the readers."""

from __future__ import annotations

import datetime as dt
import tomllib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.bench.instruments import Column, Readings
from steadfeed.bench.log_text import civil, csv_text, days_from_civil, iso, moment_of, toml_text, toml_value


@given(st.integers(-200_000, 200_000))
def test_dates_agree_with_the_standard_library(days: int) -> None:
    expected = dt.date(1970, 1, 1) + dt.timedelta(days=days)
    assert civil(days) == (expected.year, expected.month, expected.day)
    assert days_from_civil(*civil(days)) == days


@given(st.integers(0, 4_000_000_000), st.integers(-48, 56), st.integers(0, 999))
def test_moments_agree_with_the_standard_library(seconds: int, quarters: int, thousandths: int) -> None:
    offset = quarters * 900.0
    zone = dt.timezone(dt.timedelta(seconds=offset))
    text = iso(seconds + thousandths / 1000.0, offset, milliseconds=True)
    assert dt.datetime.fromisoformat(text) == dt.datetime.fromtimestamp(seconds, zone).replace(
        microsecond=thousandths * 1000
    )
    assert moment_of(iso(float(seconds), offset)) == (float(seconds), offset)


def test_a_log_is_written_as_the_contract_says() -> None:
    columns = (Column("suction_pressure", "psig", "psig"), Column("suction_line_temperature", "degF", "degF", 1))
    readings = Readings(columns, np.array([0.0, 2.0]), np.array([[118.04, 55.0], [float("nan"), 55.26]]))
    assert csv_text(readings, 1_785_000_000.0, -18000.0) == (
        "time,suction_pressure_psig,c2_suction_line_temperature_degF\n"
        "2026-07-25T12:20:00-05:00,118.0,55.0\n"
        "2026-07-25T12:20:02-05:00,,55.3\n"
    )


@given(st.text(st.characters(exclude_categories=("Cs", "Cc"))))
def test_texts_survive_toml(text: str) -> None:
    assert tomllib.loads(f"x = {toml_value(text)}")["x"] == text


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_numbers_survive_toml(number: float) -> None:
    assert tomllib.loads(f"x = {toml_value(number)}")["x"] == pytest.approx(number, rel=1e-5, abs=1e-5)


def test_unknown_things_are_left_out_of_a_system_file() -> None:
    text = toml_text(
        {"refrigerant": "R-22", "packaged": None}, {"site": {"altitude_ft": None}, "limits": {"x_psig": 400.0}}, []
    )
    assert text == 'refrigerant = "R-22"\n\n[limits]\nx_psig = 400.0\n'
