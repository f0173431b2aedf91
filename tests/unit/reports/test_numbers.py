"""Numbers as people read them. Worked conversions are by the definitions in NIST SP 811 and GUM 6.2/7.2.6."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.reports.report_doubles import ROOFTOP, recording

from steadfeed.circuit.equipment import Instruments
from steadfeed.circuit.verdict import FeedHeld, Measured
from steadfeed.reports.numbers import (
    Numbers,
    duration,
    feed_held,
    gauge_zero,
    keep_together,
    likelihood_word,
    odds,
    plain,
    significant,
)

US, SI = Numbers("us"), Numbers("si")


@pytest.mark.parametrize(
    ("value", "kind", "us", "si"),
    [
        (101325.0, "pressure", "0 psig", "0.0 barg"),
        (101325.0 + 6894.757, "pressure", "1 psig", "0.1 barg"),
        (6894.757 * 96, "pressure_difference", "96 psi", "6.6 bar"),
        (310.9278, "temperature", "100 °F", "37.8 °C"),
        (255.3722, "temperature", "0 °F", "−17.8 °C"),
        (10.0, "temperature_difference", "18 °F", "10.0 K"),
        (7.62, "length", "25 ft", "7.6 m"),
        (0.25, "fraction", "25 %", "25 %"),
        (12.0, "count", "12", "12"),
        (0.014, "", "0.014", "0.014"),
        (150.0, "time", "2 min 30 s", "2 min 30 s"),
        (10.0 / 60.0, "temperature_rate", "18.00 °F/min", "10.00 K/min"),
    ],
)
def test_a_number_is_written_with_its_unit(value: float, kind: str, us: str, si: str) -> None:
    assert US.value(value, kind) == us
    assert SI.value(value, kind) == si


def test_the_pressure_shown_counts_from_where_the_gauge_counts_from() -> None:
    """At 1,600 m a vented gauge reads zero in the air of the site, a sealed one 2.6 psi below zero."""
    high = recording(atmosphere=83524.0)
    sealed = replace(ROOFTOP, instruments=Instruments(pressure_reference="sealed"))
    assert Numbers("us", gauge_zero(high, ROOFTOP)).value(83524.0, "pressure", fine=True) == "0.0 psig"
    assert Numbers("us", gauge_zero(high, sealed)).value(83524.0, "pressure", fine=True) == "−2.6 psig"


def test_uncertainty_is_shown_at_coverage_factor_two_with_the_digits_that_it_leaves() -> None:
    degree = 5.0 / 9.0
    assert US.uncertain(Measured(310.9278, 0.6 * degree), "temperature") == "100.0 ± 1.2"
    assert US.uncertain(Measured(310.9278, 8.0 * degree), "temperature") == "100 ± 16"
    assert SI.uncertain(Measured(2.5e5 + 101325.0, 0.004e5), "pressure") == "2.50 ± 0.01"
    assert US.uncertain(Measured(310.9278, 1e-6), "temperature") == "100.0 ± 0.1", "never ± 0.0"
    assert US.uncertain(Measured(310.9278, math.nan), "temperature") == "100.0 ± not known"
    assert US.uncertain(Measured(math.nan, 1.0), "temperature") == "not known"


def test_feed_held_is_not_clipped_and_a_negative_end_is_not_read_as_a_range() -> None:
    assert feed_held(FeedHeld(0.81, 0.69, 0.93)) == "81 % (69–93)"
    assert feed_held(FeedHeld(0.12, -0.08, 0.31)) == "12 % (−8 to 31)"
    assert feed_held(FeedHeld(1.15, 0.7, 1.9)) == "115 % (70–190)"
    assert feed_held(FeedHeld(-0.004, -0.3, 0.2)) == "0 % (−30 to 20)", "no minus zero"


@pytest.mark.parametrize(
    ("probability", "word", "told"),
    [
        (1.0, "nearly certain", "more than 99 in 100"),
        (0.97, "very likely", "97 in 100"),
        (0.95, "very likely", "19 in 20"),
        (0.75, "likely", "3 in 4"),
        (0.5, "more likely than not", "1 in 2"),
        (0.34, "possible", "1 in 3"),
        (0.1, "unlikely", "1 in 10"),
        (0.01, "very unlikely", "1 in 100"),
        (0.0, "very unlikely", "less than 1 in 100"),
    ],
)
def test_likelihood_in_words_and_odds(probability: float, word: str, told: str) -> None:
    assert likelihood_word(probability) == word
    assert odds(probability) == told


@given(st.floats(0.0, 1.0))
def test_odds_are_near_the_probability(probability: float) -> None:
    told = odds(probability).removeprefix("more than ").removeprefix("less than ")
    first, second = told.split(" in ")
    assert abs(int(first) / int(second) - probability) <= 0.09


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_a_plain_number_reads_back(value: float, decimals: int) -> None:
    text = plain(value, decimals)
    assert "-" not in text
    back = float(text.replace("−", "-").replace(",", ""))
    assert abs(back - value) <= 0.5001 * 10.0**-decimals
    assert text not in ("−0", "−0.0", "−0.00", "−0.000")


@given(st.floats(1e-5, 1e9))
def test_three_significant_digits(value: float) -> None:
    back = float(significant(value).replace(",", ""))
    assert back == pytest.approx(value, rel=6e-3, abs=6e-7)


def test_durations() -> None:
    told = {0: "0 s", 59.4: "59 s", 60: "1 min", 390: "6 min 30 s", 3600: "1 h", 3900: "1 h 5 min", -90: "−1 min 30 s"}
    assert {seconds: duration(seconds) for seconds in told} == told
    assert duration(7199.0) == "2 h"


def test_numbers_stay_with_their_units_and_words_stay_free() -> None:
    assert keep_together("head 411 psig, 3 in 4, 81 % ± 2 K") == (
        "head 411\u00a0psig, 3\u00a0in\u00a04, 81\u00a0% ±\u00a02\u00a0K"
    )
    assert keep_together("5 hours in 2 stages") == "5 hours in 2 stages"
