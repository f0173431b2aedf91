"""The sentences that stand alone: true to the assessment, for every verdict, device and reason."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product

import pytest
from tests.unit.reports.report_doubles import GOOD_CHECKS, ROOFTOP, early_fixed, regulating, spread

from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.verdict import EARLY_STATES, READING_KINDS, REASONS, STATES, Assessment, FeedHeld
from steadfeed.reports import wording
from steadfeed.reports.sentences import customer_sentence, good_news, headline, reason_wording

DEVICES = tuple(MeteringDevice)


def unit_with(device: MeteringDevice, mode: str = "cooling") -> System:
    return replace(ROOFTOP, metering_device=device, mode=mode)  # type: ignore[arg-type]


def assessment(verdict: str, **changes: object) -> Assessment:
    return replace(regulating().assessment, verdict=verdict, **changes)  # type: ignore[arg-type]


def bare(verdict: str = "undecided", reasons: tuple[str, ...] = ("no push found",)) -> Assessment:
    return Assessment(not reasons, reasons, verdict, False, None, None, Phases())


def complete(text: str) -> bool:
    """A finished sentence: begins large, ends with a stop, no placeholder left, no doubled mark."""
    return bool(re.fullmatch(r"[A-Z“].*[.?]", text)) and not re.search(r"[{}]|\.\.|  |nan|None", text)


def test_the_sentence_of_the_product() -> None:
    text = headline(regulating().assessment, ROOFTOP, "us")
    assert text == "Head rose 95 psi and the feed stayed level: the valve regulates. Feed held 81 % (69–93)."
    assert headline(regulating().assessment, ROOFTOP, "si").startswith("Head rose 6.6 bar and")


@pytest.mark.parametrize(("verdict", "device"), list(product((*STATES, "undecided"), DEVICES)))
def test_every_verdict_on_every_device_is_said_in_full(verdict: str, device: MeteringDevice) -> None:
    for mode in ("cooling", "heating"):
        system = unit_with(device, mode)
        for made in (assessment(verdict), assessment(verdict, baseline={}, push={}, feed_held=None, probability=None)):
            said = headline(made, system, "us")
            assert complete(said), said
            assert complete(good_news(made, system).text)
            assert complete(customer_sentence(made, system))
            assert not re.search(r"\b(pass|fail|passed|failed|score)\b", said, re.IGNORECASE)


@pytest.mark.parametrize("verdict", STATES)
def test_only_a_verdict_is_said_as_one(verdict: str) -> None:
    assert not headline(assessment(verdict), ROOFTOP, "us").startswith("No verdict")
    assert headline(bare(), ROOFTOP, "us") == "No verdict: the log shows no push."


def test_whether_it_is_good_news_depends_on_the_device_that_should_be_there() -> None:
    tones = {
        (device, verdict): good_news(assessment(verdict), unit_with(device)).tone
        for device, verdict in product(DEVICES, ("regulating", "fixed"))
    }
    assert tones[MeteringDevice.TXV, "regulating"] == "good"
    assert tones[MeteringDevice.EEV, "regulating"] == "good"
    assert tones[MeteringDevice.FIXED_ORIFICE, "fixed"] == "good", "a piston is meant to be fixed"
    assert tones[MeteringDevice.TXV, "fixed"] == "bad"
    assert tones[MeteringDevice.FIXED_ORIFICE, "regulating"] == "strange"
    assert tones[MeteringDevice.UNKNOWN, "fixed"] == "open"
    assert tones[MeteringDevice.UNKNOWN, "regulating"] == "open"


@pytest.mark.parametrize("verdict", ["weak", "sticking", "hunting", "at its stop", "regulating"])
def test_a_fixed_orifice_that_moves_is_strange(verdict: str) -> None:
    news = good_news(assessment(verdict), unit_with(MeteringDevice.FIXED_ORIFICE))
    assert news.tone == "strange"
    assert "fitted" in news.text


@pytest.mark.parametrize("device", DEVICES)
def test_undecided_says_nothing_against_the_device(device: MeteringDevice) -> None:
    for made in (bare(), assessment("undecided")):
        assert good_news(made, unit_with(device)).tone == "open"
        assert "nothing against your system" in customer_sentence(made, unit_with(device))


@pytest.mark.parametrize("verdict", EARLY_STATES)
def test_an_early_call_is_said_to_be_one(verdict: str) -> None:
    made = replace(early_fixed().assessment, verdict=verdict)
    assert "Called early" in headline(made, ROOFTOP, "us")
    assert "Feed held" not in headline(made, ROOFTOP, "us")


@pytest.mark.parametrize("reason", REASONS)
def test_every_reason_has_its_clause_its_meaning_and_its_remedy(reason: str) -> None:
    said = headline(bare(reasons=(reason,)), ROOFTOP, "us")
    assert said == f"No verdict: {wording.REASON_WORDING[reason].clause}."
    for units, mode in product(("us", "si"), ("cooling", "heating")):
        told = reason_wording(reason, unit_with(MeteringDevice.TXV, mode), units)  # type: ignore[arg-type]
        assert complete(told.meaning)
        assert complete(told.remedy)
        assert ("°F" in told.remedy) <= (units == "us")
    assert wording.CONDITIONS[reason]


def test_more_than_three_reasons_are_counted_not_listed() -> None:
    said = headline(bare(reasons=REASONS[1:7]), ROOFTOP, "us")
    assert said.endswith("and 3 more reasons stand.")
    assert headline(bare(reasons=REASONS[1:5]), ROOFTOP, "us").endswith("and 1 more reason stands.")


def test_an_undecided_valid_test_names_the_two_likeliest_states() -> None:
    made = assessment("undecided", probability=spread(regulating=0.5, weak=0.4))
    assert "(regulating 1 in 2, weak" in headline(made, ROOFTOP, "us")
    alone = assessment("undecided", probability=spread(regulating=0.9), feed_held=None)
    assert headline(alone, ROOFTOP, "us").endswith("do not single out one state.")


JARGON = re.compile(
    r"superheat|subcool|psi|\bbar\b|TXV|EEV|condens|evaporat|suction|metering device|feed held|bulb|orifice|\d",
    re.IGNORECASE,
)


@pytest.mark.parametrize(("verdict", "device"), list(product((*STATES, "undecided"), DEVICES)))
def test_the_customer_hears_no_trade_term(verdict: str, device: MeteringDevice) -> None:
    for mode in ("cooling", "heating"):
        said = customer_sentence(assessment(verdict), unit_with(device, mode))
        assert not JARGON.search(said), said
        assert ("hot day" in said) <= (mode == "cooling")


def test_the_customer_hears_another_sentence_for_each_kind_of_device() -> None:
    fixed = {device: customer_sentence(assessment("fixed"), unit_with(device)) for device in DEVICES}
    assert len(set(fixed.values())) == len(DEVICES)
    assert "nothing is wrong" in fixed[MeteringDevice.FIXED_ORIFICE]
    assert "replaced" in fixed[MeteringDevice.TXV]


def test_no_word_of_the_contracts_is_without_wording() -> None:
    assert set(wording.STATE_MEANINGS) == set(STATES)
    assert set(wording.REASON_WORDING) == set(REASONS) == set(wording.CONDITIONS)
    assert set(wording.QUANTITY_NAMES) == set(READING_KINDS)
    assert set(wording.CHANNEL_NAMES) == set(CHANNEL_KINDS)
    assert {check.name for check in GOOD_CHECKS} <= set(REASONS)


def test_the_words_never_contradict_the_number_beside_them() -> None:
    superheat = replace(regulating().assessment.push["superheat"], value=3.0)
    pushed = {**regulating().assessment.push, "superheat": superheat}
    high, low = FeedHeld(0.86, 0.65, 1.08), FeedHeld(0.2, -0.1, 0.5)
    assert "and superheat fell 7 °F with it: the valve is weak. Feed held 86" in headline(
        assessment("weak", push=pushed, feed_held=high), ROOFTOP, "us"
    )
    assert "and superheat fell 7 °F: the valve acts fixed. Feed held 86" in headline(
        assessment("fixed", push=pushed, feed_held=high), ROOFTOP, "us"
    )
    assert "the feed followed" in headline(assessment("fixed", push=pushed, feed_held=low), ROOFTOP, "us")
    assert "superheat stayed level" in headline(assessment("regulating", feed_held=low), ROOFTOP, "us")
    assert "held only in part" in headline(assessment("weak", push={}, feed_held=low), ROOFTOP, "us")
