"""The score: five lines; a trip fails, validity goes before the verdict, confidence is scored by Brier."""

from __future__ import annotations

from dataclasses import replace

import pytest

from steadfeed.visit.practice_score import Answer, Facts, ScoreLine, brier, is_right, score

PARKED = Facts(
    answers=("fixed",), causes=("valve parked",), why_not="", acceptable=("fixed",), valid=True, reasons=(), pushed=20.0,
    trips=0, past_ceiling=0.0, minutes=27.0, good_minutes=28.0,
)  # fmt: skip
RIGHT = Answer("fixed", "valve parked", 0.9)
LEAVE = replace(
    PARKED, answers=("do not test", "undecided"), causes=("too little refrigerant",), why_not="Subcooling is below 10 °F.",
    acceptable=("regulating",), valid=False, reasons=("too little subcooling",), pushed=0.0,
)  # fmt: skip


def lines(answer: Answer, facts: Facts) -> dict[str, ScoreLine]:
    return {line.what: line for line in score(answer, facts)}


def test_five_lines_in_words() -> None:
    got = score(RIGHT, PARKED)
    assert [line.what for line in got] == ["safety", "validity", "cause", "confidence", "time and put-back"]
    assert all(line.good for line in got)
    assert all(line.text.endswith((".", ")")) for line in got)


def test_a_trip_fails_whatever_else() -> None:
    assert not lines(RIGHT, replace(PARKED, trips=1))["safety"].good
    assert "tripped 2 times" in lines(RIGHT, replace(PARKED, trips=2))["safety"].text
    assert not lines(RIGHT, replace(PARKED, past_ceiling=60.0))["safety"].good
    assert lines(RIGHT, replace(PARKED, past_ceiling=5.0))["safety"].good


def test_a_unit_that_must_not_be_tested_is_left() -> None:
    leave = Answer("do not test", "too little refrigerant", 0.95)
    assert all(line.good for line in score(leave, LEAVE))
    assert is_right(leave, LEAVE)
    pushed = replace(LEAVE, pushed=18.0)
    assert not lines(leave, pushed)["safety"].good
    named = Answer("regulating", "nothing wrong", 0.8)
    assert not lines(named, LEAVE)["validity"].good
    assert not lines(named, LEAVE)["cause"].good
    assert not lines(Answer("do not test", "valve parked", 0.8), PARKED)["validity"].good


def test_validity_before_verdict() -> None:
    early = replace(PARKED, valid=False, reasons=("hold too short",))
    assert lines(RIGHT, early)["validity"].good  # fixed may be called early
    for reason in ("push too small", "no push found", "load drifted", "too little subcooling", "interrupted"):
        spoilt = replace(PARKED, valid=False, reasons=("hold too short", reason))
        assert not lines(RIGHT, spoilt)["validity"].good
        assert lines(RIGHT, spoilt)["cause"].good
    starving = replace(PARKED, answers=("starving",), acceptable=("starving",), causes=("screen plugged",), valid=False, reasons=("too little subcooling",))  # fmt: skip
    assert lines(Answer("starving", "screen plugged", 0.9), starving)["validity"].good  # it shows without a push
    good = replace(PARKED, answers=("regulating",), acceptable=("regulating",), causes=("nothing wrong",))
    short = replace(good, valid=False, reasons=("hold too short",))
    assert not lines(Answer("regulating", "nothing wrong", 0.9), short)["validity"].good
    assert lines(Answer("undecided", "test cut short", 0.9), short)["validity"].good
    assert is_right(Answer("undecided", "test cut short", 0.9), short)
    assert not lines(Answer("undecided", "nothing wrong", 0.9), good)["validity"].good


def test_the_cause_line_says_what_it_was() -> None:
    assert "fixed, valve parked" in lines(Answer("regulating", "nothing wrong", 0.9), PARKED)["cause"].text
    assert "the cause is not: valve parked" in lines(Answer("fixed", "valve weak", 0.9), PARKED)["cause"].text
    assert "the verdict is not: fixed" in lines(Answer("weak", "valve parked", 0.9), PARKED)["cause"].text


@pytest.mark.parametrize(
    ("confidence", "right", "value", "good"),
    [(0.9, True, 0.01, True), (0.5, True, 0.25, True), (0.3, True, 0.49, False), (0.9, False, 0.81, False), (0.3, False, 0.09, True)],
)  # fmt: skip
def test_confidence_by_brier(confidence: float, right: bool, value: float, good: bool) -> None:
    answer = Answer("fixed" if right else "regulating", "valve parked", confidence)
    assert brier(answer, PARKED) == pytest.approx(value)
    assert lines(answer, PARKED)["confidence"].good is good


def test_time_and_put_back() -> None:
    assert not lines(RIGHT, replace(PARKED, minutes=60.0))["time and put-back"].good
    left = lines(RIGHT, replace(PARKED, not_back=("cover", "thermostat")))["time and put-back"]
    assert not left.good
    assert "cover and thermostat" in left.text


def test_a_confidence_is_a_share() -> None:
    with pytest.raises(ValueError, match="from 0 to 1"):
        Answer("fixed", "valve parked", 90.0)
