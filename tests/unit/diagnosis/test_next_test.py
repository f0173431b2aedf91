"""The next test: information in bits, per minute and risk; outcomes move likelihoods; what must be excluded first."""

from __future__ import annotations

import math

import numpy as np
import pytest

from diagnosis_cases import broken, evidence_of, readings_of, settled, system
from steadfeed.analysis.diagnosis.combine import diagnose
from steadfeed.analysis.diagnosis.outcomes import TABLES, chance, outcome_log, pair_outcome_log, usual_result
from steadfeed.analysis.diagnosis.signatures import signatures
from steadfeed.analysis.next_test import (
    READINGS,
    TESTS,
    fifth_reading,
    likelihood_change,
    must_exclude,
    mutual_information,
    next_tests,
    normal_information,
)
from steadfeed.circuit.equipment import MeteringDevice

FOUR = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


def test_a_perfect_test_between_two_even_causes_tells_one_bit() -> None:
    assert mutual_information(np.array([0.5, 0.5]), np.eye(2)) == pytest.approx(1.0)
    assert mutual_information(np.array([0.5, 0.5]), np.full((2, 2), 0.5)) == pytest.approx(0.0, abs=1e-12)
    # a test that errs in one of ten (binary symmetric channel): 1 − H(0.1)
    noise = np.array([[0.9, 0.1], [0.1, 0.9]])
    entropy = -(0.1 * math.log2(0.1) + 0.9 * math.log2(0.9))
    assert mutual_information(np.array([0.5, 0.5]), noise) == pytest.approx(1.0 - entropy)


def test_a_reading_tells_more_the_further_its_causes_lie_apart() -> None:
    even = np.array([0.5, 0.5])
    told = [normal_information(even, np.array([0.0, gap]), np.array([1.0, 1.0])) for gap in (0.0, 1.0, 2.0, 8.0)]
    assert told == sorted(told)
    assert told[0] == pytest.approx(0.0, abs=1e-9)
    assert told[-1] == pytest.approx(1.0, abs=1e-3)


def test_tables_and_tests_belong_together() -> None:
    assert set(TESTS) == set(TABLES)
    causes = {
        c for device in MeteringDevice for mode in ("cooling", "heating") for c in signatures(mode, device).causes
    }
    for test, results in TABLES.items():
        named = {cause for row in results.values() for cause in row} - {"any"}
        assert named <= causes, test
        for cause in (*named, "healthy"):
            total = sum(chance(test, result, cause) for result in results)
            assert total == pytest.approx(1.0, abs=0.021), (test, cause)
        assert TESTS[test].minutes > 0.0
        assert 0.0 < TESTS[test].risk <= 1.0
        assert TESTS[test].how.endswith(".")


def test_an_outcome_weighs_as_its_table_says() -> None:
    done = {"bulb strap": "loose or bare"}
    assert outcome_log("bulb loose", done) - outcome_log("healthy", done) == pytest.approx(math.log(0.92 / 0.15))
    # of two causes at once, either can spoil a test, and a usual result needs both to allow it
    assert pair_outcome_log("bulb loose", "undercharge", done) == pytest.approx(math.log(0.92))
    assert usual_result("bulb strap") == "tight and insulated"
    tight = {"bulb strap": "tight and insulated"}
    assert pair_outcome_log("bulb loose", "undercharge", tight) == pytest.approx(math.log(0.08))


def test_proposals_are_ordered_by_bits_per_minute_and_risk() -> None:
    evidence = evidence_of(*broken("metering device overfeeding"))
    proposed = next_tests(evidence, diagnose(evidence), count=9)
    assert proposed
    assert [t.worth for t in proposed] == sorted((t.worth for t in proposed), reverse=True)
    for test in proposed:
        assert test.bits > 0.0
        risk = 1.0 if test.reading else TESTS[test.code].risk
        assert test.worth == pytest.approx(test.bits / test.minutes * risk)
        assert test.expected


def test_a_loose_bulb_is_settled_by_looking_at_it() -> None:
    values, unit = broken("bulb loose")
    evidence = evidence_of(values, unit)
    before = diagnose(evidence)
    first = next(t for t in next_tests(evidence, before, count=9) if not t.reading)
    assert first.code == "bulb strap"
    after = diagnose(evidence_of(values, unit, outcomes={"bulb strap": "loose or bare"}))
    assert before.probability is not None
    assert after.probability is not None
    assert after.probability["bulb loose"] > before.probability["bulb loose"]
    assert after.findings[0].code == "bulb loose"
    moved = {cause: new - old for cause, old, new in likelihood_change(before, after)}
    assert moved["bulb loose"] > 0.0
    assert "bulb strap" not in {
        t.code for t in next_tests(evidence_of(values, unit, outcomes={"bulb strap": "loose or bare"}), after)
    }


def test_before_a_valve_is_condemned() -> None:
    values, unit = broken("metering device underfeeding")
    evidence = evidence_of(values, unit)
    wanted = must_exclude(evidence, diagnose(evidence))
    assert set(wanted) == {"bulb strap", "equalizer line", "drier temperatures", "bulb in hand"}
    done = {"bulb strap": "tight and insulated", "equalizer line": "free"}
    rest = must_exclude(evidence_of(values, unit, outcomes=done), diagnose(evidence_of(values, unit, outcomes=done)))
    assert set(rest) == {"drier temperatures", "bulb in hand"}
    clean = evidence_of(readings_of(settled("txv")), system("txv"))
    assert must_exclude(clean, diagnose(clean)) == ()


def test_four_readings_ask_for_a_fifth() -> None:
    values = {name: value for name, value in readings_of(settled("txv")).items() if name in FOUR}
    evidence = evidence_of(values, system("txv"))
    fifth = fifth_reading(evidence)
    assert fifth is not None
    assert fifth.reading
    assert fifth.code in READINGS
    assert fifth.bits > 0.05


def test_only_what_the_unit_has_is_proposed() -> None:
    values, unit = broken("check valve leaking")
    evidence = evidence_of(values, unit)
    codes = {t.code for t in next_tests(evidence, diagnose(evidence), count=20)}
    assert not codes & {"bulb strap", "bulb in hand", "bulb in ice water", "equalizer line"}
    never = evidence_of(values, unit, heat_pump=False)
    assert "reversing valve temperatures" not in {t.code for t in next_tests(never, diagnose(never), count=20)}


def test_nothing_is_proposed_when_nothing_is_open() -> None:
    clean = evidence_of(readings_of(settled("txv")), system("txv"))
    assert all(t.bits >= 0.05 for t in next_tests(clean, diagnose(clean)))
