"""The judgement on simulated challenges with known truth (tests/data/README.md): a guard against getting worse.

Forty logs cannot show small shares; the figures on 1,500 are made by benchmarks/accuracy.py and stand in docs/method.md.
"""

from __future__ import annotations

import datetime as dt

import pytest

from samples import challenge, labels
from steadfeed.analysis.challenge import judge
from steadfeed.circuit.verdict import UNDECIDED, Assessment
from steadfeed.physics.properties import curves

MODULATING = ("regulating", "hunting")


@pytest.fixture(scope="module")
def judged() -> dict[str, Assessment]:
    out = {}
    for name in labels():
        recording, system = challenge(name)
        assert system.refrigerant is not None
        out[name] = judge(recording, system, curves(system.refrigerant)).assessment
    return out


def test_validity(judged: dict[str, Assessment]) -> None:
    clear = {n: r for n, r in labels().items() if not r["borderline"]}
    right = [judged[n].valid == (r["valid"] == "True") for n, r in clear.items()]
    assert len(right) >= 15
    assert sum(right) >= 0.93 * len(right)


def test_verdicts(judged: dict[str, Assessment]) -> None:
    scored = {
        n: r for n, r in labels().items() if r["valid"] == "True" and r["fault_shows"] == "True" and not r["borderline"]
    }
    decided = {n: r for n, r in scored.items() if judged[n].verdict != UNDECIDED}
    assert len(decided) >= 0.75 * len(scored)
    wrong = [n for n, r in decided.items() if judged[n].verdict not in r["acceptable"].split("|")]
    assert len(wrong) <= 0.05 * len(decided), wrong


def test_no_bad_valve_regulates(judged: dict[str, Assessment]) -> None:
    unsafe = [
        n
        for n, r in labels().items()
        if judged[n].verdict in MODULATING
        and r["fault_shows"] == "True"
        and r["state"] not in MODULATING
        and judged[n].verdict not in r["acceptable"].split("|")
    ]
    assert not unsafe


def test_phases_within_twenty_seconds(judged: dict[str, Assessment]) -> None:
    found = []
    for name, row in labels().items():
        for phase in ("push", "restore"):
            if not row[phase]:
                continue
            truth = dt.datetime.fromisoformat(row[phase]).timestamp()
            said = getattr(judged[name].phases, phase)
            found.append(said is not None and abs(said - truth) <= 20.0)
    assert len(found) > 50
    assert sum(found) >= 0.93 * len(found)
