"""A played visit: what can be done, what it costs, and that nothing of the truth is seen before the answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from steadfeed.bench.scenario import Scenario, scenario
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit import practice_progress as progress
from steadfeed.visit.practice import acts, causes
from steadfeed.visit.practice_score import Answer
from steadfeed.visit.practice_visit import Outcome, Practice

VITAL = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


def challenge(
    name: str, seed: int = 1, *, covers: tuple[float, ...] = (0.3, 0.5, 0.58), before: tuple[str, ...] = ()
) -> Practice:
    """Play a whole challenge in good order."""
    p = Practice(scenario(name), seed)
    for channel in VITAL:
        p.place(channel)
    p.start()
    p.wait(300)
    for act in before:
        p.act(act)
    p.wait(500)
    for share in covers:
        p.cover_to(share)
        p.wait(40)
    p.wait(240)
    p.restore()
    p.wait(240)
    p.stop()
    p.wait(150)
    p.put_back()
    return p


@pytest.fixture(scope="module")
def parked() -> Outcome:
    return challenge("mill-store").answer(Answer("fixed", "valve parked", 0.9))


def test_a_parked_valve_is_found_and_scored(parked: Outcome) -> None:
    assert parked.right
    assert [line.good for line in parked.lines] == [True] * 5
    assert parked.brier == pytest.approx(0.01)
    assert parked.assessments[0].verdict == "fixed"
    assert "acts fixed" in parked.said()[0]
    assert parked.facts.valid


def test_the_log_of_a_practice_is_a_log_like_any_other(parked: Outcome, tmp_path: Path) -> None:
    from steadfeed.visit.judge_log import judge_log

    (tmp_path / "p.csv").write_text(parked.log, encoding="utf-8")
    (tmp_path / "p.toml").write_text(parked.system, encoding="utf-8")
    (judged,) = judge_log(tmp_path / "p.csv")
    assert judged.judgement.assessment.verdict == parked.assessments[0].verdict


def secrets(one: Scenario) -> list[str]:
    h = one.hidden
    return [t for t in (h.text, h.lesson, h.why_not) if t]


def open_texts(p: Practice) -> list[str]:
    """Everything that can be had from a practice before the answer."""
    texts = [
        str(p.briefing),
        str(p.spot()),
        str(p.places()),
        str(p.notes),
        str(p.set_aside),
        str(p.marks()),
        str(p.acts()),
    ]
    texts += list(p.texts())
    texts += [p.shown(channel) for channel in VITAL]
    return texts


@pytest.mark.parametrize("name", ["mill-store", "chapel", "ferry-terminal", "kennels", "boat-house", "cider-press"])
def test_nothing_of_the_truth_is_visible_before_the_answer(name: str) -> None:
    one = scenario(name)
    p = Practice(one, 3)
    for channel in VITAL:
        p.place(channel)
    p.start()
    p.wait(120)
    for act in acts():
        p.act(act)
    shown = "\n".join(open_texts(p))
    for secret in secrets(one):
        assert secret not in shown
    for sentence in (s for secret in secrets(one) for s in secret.split(". ") if len(s) > 20):
        assert sentence not in shown
    found = "\n".join((*p.texts(), *(text.split(": ", 1)[-1] for _, text in p.notes)))
    for cause in one.hidden.causes:
        assert cause in causes()
        assert cause not in found.lower()
    with pytest.raises(NotAllowed, match="after the answer"):
        _ = p.outcome
    assert not p.answered
    public = {name: getattr(p, name) for name in dir(p) if not name.startswith("_") and name not in ("outcome",)}
    for value in public.values():
        for secret in secrets(one):
            assert callable(value) or secret not in str(value)


def test_after_the_answer_nothing_more_can_be_done(parked: Outcome) -> None:
    p = Practice(scenario("tea-room"), 1)
    p.wait(2)
    outcome = p.answer(Answer("undecided", "test cut short", 0.5))
    assert p.answered
    assert outcome.truth["text"] == scenario("tea-room").hidden.text
    for what in (p.start, p.restore, lambda: p.wait(1), lambda: p.place("suction_pressure"), p.write_row):
        with pytest.raises(NotAllowed, match="begin another"):
            what()


def test_everything_costs_minutes() -> None:
    p = Practice(scenario("orchard-house"), 1)
    p.place("suction_pressure")
    assert p.minutes == pytest.approx(1.5)
    assert p.act("at the valve").startswith("Subcooling before")
    assert p.minutes == pytest.approx(5.5, abs=0.1)
    assert "is there already" in p.place("suction_pressure")
    assert p.minutes == pytest.approx(5.5, abs=0.1)


def test_an_instrument_shows_nothing_before_it_is_in_place() -> None:
    p = Practice(scenario("orchard-house"), 1)
    p.start()
    p.wait(60)
    assert p.shown("suction_pressure") == ""
    assert p.spot().superheat is None
    for channel in VITAL:
        p.place(channel)
    p.wait(400)
    assert p.shown("suction_pressure").endswith("psig")
    spot = p.spot()
    assert spot.superheat is not None
    assert 4.0 < spot.superheat < 20.0
    assert spot.subcooling is not None
    log, _ = p.texts()
    first = log.splitlines()[1].split(",")
    assert first[1] != ""
    assert first[2] == ""  # the second gauge came later


def test_a_cover_too_large_trips_the_switch_and_fails() -> None:
    p = Practice(scenario("ferry-terminal"), 0)
    for channel in VITAL:
        p.place(channel)
    p.start()
    p.wait(600)
    p.cover_to(0.75)
    p.wait(120)
    assert p.tripped
    assert any("tripped" in text for _, text in p.notes)
    p.restore()
    outcome = p.answer(Answer("do not test", "second circuit", 0.9))
    safety = outcome.lines[0]
    assert not safety.good
    assert "tripped once" in safety.text


def test_forgotten_covers_and_overrides_are_named() -> None:
    p = Practice(scenario("orchard-house"), 1)
    p.start()
    p.act("thermostat")
    p.wait(300)
    p.cover_to(0.3)
    p.wait(30)
    line = p.answer(Answer("undecided", "test cut short", 0.7)).lines[4]
    assert not line.good
    assert "cover and thermostat" in line.text


def test_a_stuck_gauge_can_be_changed_and_then_the_valve_is_seen() -> None:
    p = challenge("boat-house", before=("suction gauge",))
    outcome = p.answer(Answer("fixed", "suction gauge stuck", 0.8))
    assert any("changed" in text for _, text in p.notes)
    assert outcome.facts.valid
    assert outcome.right
    assert outcome.assessments[0].verdict == "fixed"


def test_a_fan_control_set_aside_makes_a_test_of_it() -> None:
    p = challenge("wine-cellar", before=("fan control",), covers=(0.3, 0.55, 0.65))
    assert p.set_aside == ()
    outcome = p.answer(Answer("regulating", "fan control moves", 0.8))
    assert outcome.facts.why_not == ""
    assert "interrupted" not in outcome.facts.reasons


def test_rows_by_hand_are_written_when_they_are_written() -> None:
    p = Practice(scenario("cottage-row"), 1)
    assert p.by_hand
    for channel in VITAL:
        p.place(channel)
    p.start()
    p.wait(100)
    p.write_row()
    p.wait(100)
    p.write_row()
    assert p.rows_written == 2
    assert len(p.texts()[0].splitlines()) == 3


def test_mending_finds_what_is_there_to_mend() -> None:
    toll = Practice(scenario("toll-house"), 0)
    for channel in VITAL:
        toll.place(channel)
    toll.start()
    toll.wait(400)
    high = toll.spot().suction
    assert high is not None
    assert high > 250.0
    assert "common suction port" in toll.act("hoses")
    low = toll.spot().suction
    assert low is not None
    assert low < 150.0
    assert "right ports" in toll.act("hoses")


def test_what_cannot_be_meant_gets_a_sentence() -> None:
    p = Practice(scenario("orchard-house"), 1)
    with pytest.raises(FixInput, match="no place called"):
        p.place("moon")
    with pytest.raises(FixInput, match="no act called"):
        p.act("pray")
    with pytest.raises(FixInput, match="no log yet"):
        p.texts()
    with pytest.raises(FixInput, match="A verdict is one of"):
        p.answer(Answer("broken", "valve parked", 0.5))
    with pytest.raises(FixInput, match="A cause is one of"):
        p.answer(Answer("fixed", "bad luck", 0.5))


def test_progress_is_kept_counted_and_exported(parked: Outcome, tmp_path: Path) -> None:
    path = progress.keep(
        parked, tmp_path, when="2026-07-14T10:00:00-05:00", learner="Ines", seed=4, minutes=29.0, class_title="Spring"
    )
    progress.keep(parked, tmp_path, when="2026-07-14T11:00:00-05:00", learner="Jo / ../x", seed=5, minutes=31.0)
    assert path.read_text(encoding="utf-8") == parked.log
    assert path.with_suffix(".toml").is_file()
    with (tmp_path / "results.jsonl").open("a") as file:
        file.write("{broken\n")
    rows = list(progress.results(tmp_path))
    assert [r["learner"] for r in rows] == ["Ines", "Jo / ../x"]
    assert all((tmp_path / r["log"]).resolve().is_relative_to(tmp_path.resolve()) for r in rows)
    assert len(list(progress.results(tmp_path, "Ines"))) == 1
    text = progress.as_csv(rows)
    assert text.splitlines()[0] == ",".join(progress.COLUMNS)
    assert "Ines,Spring,mill-store,4,fixed,valve parked,0.9,True,0.01" in text
    assert list(progress.results(tmp_path / "none")) == []


def test_a_class_list_hides_units_by_seed(tmp_path: Path) -> None:
    file = tmp_path / "class.toml"
    file.write_text(
        'title = "Spring"\nscenarios = ["mill-store", "chapel", "tea-room"]\nlearners = ["Ines", "Jo"]\nseed = 40\n'
    )
    one = progress.read_class(file)
    assert one.told is False
    seeds = [progress.seed_of(one, learner, turn) for learner in ("Ines", "Jo") for turn in range(30)]
    assert len(set(seeds)) == 60
    chosen = [progress.hidden_choice(seed, one.scenarios) for seed in seeds]
    assert set(chosen) == set(one.scenarios)
    assert chosen == [progress.hidden_choice(seed, tuple(reversed(one.scenarios))) for seed in seeds]
    for text, says in (
        ('scenarios = ["x"]', "lacks title"), ('title = "x"', "lacks scenarios"), ('title = "x"\nscenarios = ["a"]\nsead = 1', "no use for sead"),
        ('title = "x"\nscenarios = ["a"]\nseed = -1', "whole number"), ("title = ", "no valid TOML"),
    ):  # fmt: skip
        file.write_text(text)
        with pytest.raises(FixInput, match=says):
            progress.read_class(file)


def test_a_replay_grows_and_looks_at_nothing_later(parked: Outcome, tmp_path: Path) -> None:
    from steadfeed.visit.practice_replay import replay_of

    (tmp_path / "p.csv").write_text(parked.log, encoding="utf-8")
    (tmp_path / "p.toml").write_text(parked.system, encoding="utf-8")
    (replay,) = replay_of(tmp_path / "p.csv")
    assert len(replay) == len(parked.log.splitlines()) - 1
    early = replay.judge(300).assessment
    assert early.phases.push is None
    assert replay.judge().assessment.verdict == "fixed"
    assert "acts fixed" in replay.said()
    (tmp_path / "p.toml").write_text("", encoding="utf-8")
    with pytest.raises(FixInput, match="is not stated"):
        replay_of(tmp_path / "p.csv")


def test_the_truth_of_a_briefing_never_leaves_in_json() -> None:
    from steadfeed.visit.practice import briefing_form, briefings

    for briefing in briefings():
        text = json.dumps(briefing_form(briefing), ensure_ascii=False)
        for secret in secrets(scenario(briefing.name)):
            assert secret not in text
