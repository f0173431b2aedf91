"""Findings of judged challenges: in JSON by the published schema, in print and on paper, and never against the verdict unsaid."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

import samples
from steadfeed.analysis.challenge import Judgement, judge
from steadfeed.analysis.diagnosis import of_challenge
from steadfeed.analysis.diagnosis.combine import FINDINGS, Diagnosis
from steadfeed.analysis.diagnosis.of_challenge import NOTHING, NOTHING_ELSE, OPEN, beside_verdict, with_findings
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.verdict import STATES, UNDECIDED, Assessment
from steadfeed.cli.root import root
from steadfeed.physics.properties import curves
from steadfeed.visit.judge_log import judge_log
from steadfeed.visit.papers import document

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.csv"))
TXV = System(refrigerant="R-410A", metering_device=MeteringDevice.TXV)
PISTON = System(refrigerant="R-410A", metering_device=MeteringDevice.FIXED_ORIFICE)


def schema() -> dict[str, Any]:
    text = resources.files("steadfeed.visit").joinpath("schemas", "judge.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def lines(*paths: Path) -> list[dict[str, Any]]:
    result = CliRunner().invoke(root, ["judge", *map(str, paths), "--json"], standalone_mode=False)
    return [json.loads(line) for line in result.stdout.splitlines()]


def verdict_of(verdict: str, *reasons: str) -> Assessment:
    return Assessment(
        valid=not reasons, reasons=reasons, verdict=verdict, early=False,
        probability={state: 1.0 / len(STATES) for state in STATES}, feed_held=None, phases=Phases(),
    )  # fmt: skip


def sampled(kind: str) -> tuple[Judgement, System]:
    """The first judged challenge of an independent simulation (tests/data/README.md) with this truth and verdict."""
    for name in samples.named(kind):
        recording, unit = samples.challenge(name)
        if unit.refrigerant is None:
            continue
        found = judge(recording, unit, curves(unit.refrigerant))
        if found.assessment.verdict == kind:
            return found, unit
    raise AssertionError(f"no sample is judged as {kind}")


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    assert schema()["$id"] == "steadfeed:judge"
    finding = json.loads(
        resources.files("steadfeed.visit").joinpath("schemas", "finding.schema.json").read_text(encoding="utf-8")
    )
    assert schema()["anyOf"][0]["properties"]["findings"]["items"]["properties"] == finding["properties"]


def test_every_line_of_judge_is_what_the_schema_says(tmp_path: Path) -> None:
    broken = tmp_path / "broken.csv"
    broken.write_text("nothing\n", encoding="utf-8")
    made = lines(*EXAMPLES, broken)
    assert len(made) == len(EXAMPLES) + 1
    for line in made:
        jsonschema.validate(line, schema())
    assert "error" in made[-1]
    assert any(line["findings"] for line in made[:-1])
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(made[0] | {"surprise": 1}, schema())


def test_findings_are_known_and_in_order() -> None:
    for line in lines(*EXAMPLES):
        codes = [finding["code"] for finding in line["findings"]]
        assert set(codes) <= {*FINDINGS, NOTHING, NOTHING_ELSE, OPEN}
        likelihoods = [finding["likelihood"] or 0.0 for finding in line["findings"]]
        assert likelihoods == sorted(likelihoods, reverse=True)


def test_a_parked_valve_comes_first_and_is_not_condemned_yet() -> None:
    found, unit = sampled("fixed")
    unit = replace(unit, metering_device=MeteringDevice.TXV)
    made = with_findings(found, unit, curves(unit.refrigerant or ""))
    assert made.assessment.findings[0].code == "metering device parked"
    assert made.must_exclude == ("bulb strap", "equalizer line", "drier temperatures", "bulb in hand")
    assert tuple(test.code for test in made.next_tests) == made.must_exclude
    assert made.assessment.verdict == found.assessment.verdict


def test_the_findings_never_change_the_verdict() -> None:
    for kind in ("regulating", "fixed", "hunting"):
        found, unit = sampled(kind)
        made = with_findings(found, unit, curves(unit.refrigerant or ""))
        assert made.assessment.findings, kind
        assert replace(made.assessment, findings=()) == replace(found.assessment, findings=()), kind


@pytest.mark.parametrize("verdict", ["regulating", "starving", "flooding"])
def test_a_finding_that_contradicts_the_verdict_says_so_first(verdict: str) -> None:
    against = of_challenge._AGAINST[verdict]
    assert set(against) <= set(FINDINGS)
    causes = (*against, "condenser air")
    found = Diagnosis(
        tuple(Finding(code, code, 0.5, (), ("Other.",)) for code in causes[:4]) + (Finding("condenser air", "x", 0.2),),
        dict.fromkeys(causes, 0.1) | {"healthy": 0.1}, False, True, "Said.",
    )  # fmt: skip
    for finding in beside_verdict(found, verdict_of(verdict), TXV):
        said = any(verdict in sentence and "contradicts" in sentence for sentence in finding.evidence_against[:1])
        assert said == (finding.code in against)


@pytest.mark.parametrize(
    ("unit", "verdict", "reasons", "code"),
    [
        (TXV, "regulating", (), NOTHING),
        (TXV, "weak", (), NOTHING_ELSE),
        (TXV, "hunting", (), NOTHING_ELSE),
        (TXV, UNDECIDED, ("push too small",), NOTHING_ELSE),
        (PISTON, "fixed", (), NOTHING),
        (PISTON, "regulating", (), NOTHING_ELSE),
    ],
)
def test_nothing_found_says_no_more_than_the_verdict_allows(
    unit: System, verdict: str, reasons: tuple[str, ...], code: str
) -> None:
    nothing = Diagnosis((), {"healthy": 0.9, "undercharge": 0.1}, True, False, "The circuit is not suspected.")
    (said,) = beside_verdict(nothing, verdict_of(verdict, *reasons), unit)
    assert said.code == code
    assert said.likelihood == 0.9
    if code == NOTHING_ELSE:
        assert "not suspected" not in said.text
        assert "not decided" in said.text if verdict == UNDECIDED else verdict in said.text


def test_where_no_cause_stands_out_none_is_made_likely() -> None:
    open_ = Diagnosis((), {"healthy": 0.2, "undercharge": 0.1}, False, False, "Something is off.")
    (said,) = beside_verdict(open_, verdict_of("regulating"), TXV)
    assert (said.code, said.likelihood) == (OPEN, None)


def test_a_gauge_that_a_challenge_showed_dead_is_found() -> None:
    (line,) = lines(next(path for path in EXAMPLES if path.stem == "boat-house"))
    assert "suction gauge not alive" in line["reasons"]
    assert line["findings"][0]["code"] == "suction gauge"
    assert line["findings"][0]["likelihood"] > 0.5


def test_too_little_read_brings_no_findings(tmp_path: Path) -> None:
    log = tmp_path / "half.csv"
    rows = [f"2025-07-14T10:{m:02d}:00-05:00,118" for m in range(20)]
    log.write_text("time,suction_pressure_psig\n" + "\n".join(rows) + "\n", encoding="utf-8")
    log.with_suffix(".toml").write_text('refrigerant = "R-410A"\n', encoding="utf-8")
    (line,) = lines(log)
    assert line["reasons"] == ["channel missing"]
    assert line["findings"] == []
    assert line["next_tests"] == []


def test_paper_and_print_show_the_findings_in_the_reader_s_units() -> None:
    (judged,) = judge_log(next(path for path in EXAMPLES if path.stem == "mill-store"))
    for units, other in (("us", " K "), ("si", "°F above")):
        made = document(judged, units=units)  # type: ignore[arg-type]
        (section,) = (part for part in made.sections if part.key == "findings")
        assert judged.judgement.assessment.findings[0].text in str(section)
        assert "Before the valve is condemned" in str(section)
        assert other not in str(section)
    printed = CliRunner().invoke(root, ["judge", judged.log], standalone_mode=False).stdout
    assert "Findings in the circuit" in printed
