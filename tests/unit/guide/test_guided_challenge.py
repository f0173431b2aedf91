"""A person follows the guide over the bench: whole challenges, and what the guard does when things go wrong."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from guided_bench import START, ByHand, Clock, GuidedBench, usual
from steadfeed.bench.faults import Faults
from steadfeed.bench.settings import ParkingSettings, Settings
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records import pages, rows
from steadfeed.visit import guide as guides
from steadfeed.visit.judge_log import judge_log
from steadfeed.visit.sentences import Speech
from steadfeed.visit.station import Station
from steadfeed.web.models.live import ChallengeState, FrameSchema

ORDER = ["look and safe", "instruments", "standing", "start", "settle", "baseline", "plan", "push", "hold", "restore", "recovery", "standstill", "result"]  # fmt: skip


def parked() -> Settings:
    settings = usual()
    return replace(settings, parking=ParkingSettings(after=300.0))


@pytest.fixture(scope="module")
def healthy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[GuidedBench]:
    bench = GuidedBench(tmp_path_factory.mktemp("healthy"), usual())
    states: dict[str, dict] = {}  # type: ignore[type-arg]

    def each(b: GuidedBench) -> None:
        if b.live.guide.phase not in states:
            states[b.live.guide.phase] = b.state()

    bench.run(until="put back", each=each)
    bench.states = states  # type: ignore[attr-defined]
    yield bench
    bench.close()


def test_a_healthy_valve_goes_through_every_phase_to_its_verdict(healthy: GuidedBench) -> None:
    assert [phase for _, phase in healthy.seen.phases] == ORDER
    assert [code for _, code in healthy.seen.alarms if code] == []
    assert healthy.seen.passed is None
    assert healthy.live.judgement is not None
    assert healthy.live.judgement.assessment.verdict == "regulating"
    assert healthy.live.guide.enough == "verdict regulating"
    push, restored = healthy.seen.at("push"), healthy.seen.at("restore")
    assert push is not None
    assert restored is not None
    assert restored - push < 400.0


def test_every_state_is_what_the_api_promises(healthy: GuidedBench) -> None:
    for phase, state in healthy.states.items():  # type: ignore[attr-defined]
        made = ChallengeState.model_validate(state)
        assert made.phase == phase
        assert made.sentence.text
        assert made.circuits[0].ceiling is not None
        assert made.circuits[0].ceiling.source
    plan = healthy.states["plan"]["plan"]  # type: ignore[attr-defined]
    assert plan["baseline_head"] < plan["least_head"] <= plan["go_to_high"] <= plan["stop_at"]
    frame = {"type": "state", "sequence": 1, "state": healthy.state()}
    FrameSchema.model_validate({"frame": frame, "alive": {"type": "alive", "watching": True}})


def test_the_last_live_judgement_is_that_of_the_exported_log(healthy: GuidedBench, tmp_path: Path) -> None:
    log, system = healthy.live.texts(-18000.0)
    (tmp_path / "a.csv").write_bytes(log)
    (tmp_path / "a.toml").write_bytes(system)
    (judged,) = judge_log(tmp_path / "a.csv")
    healthy.live._judge(healthy.clock.now)
    assert healthy.live.judgement is not None
    live = healthy.live.judgement.assessment
    # causes in the whole circuit are looked for when they are asked for; notes also tell how a log was read
    assert replace(live, notes=()) == replace(judged.judgement.assessment, notes=(), findings=())
    assert live.verdict == "regulating"
    shown = healthy.live.judgement_form("us")["judgement"]
    assert [f["code"] for f in shown["findings"]] == [f.code for f in judged.judgement.assessment.findings]


def test_the_challenge_is_sealed_with_its_log_and_judged(healthy: GuidedBench) -> None:
    with healthy.station.store.reading() as t:
        verdict = pages.verdicts_standing(t, [healthy.live.challenge_id])[healthy.live.challenge_id]
        logs = rows.find(t, "challenge_log", challenge_id=healthy.live.challenge_id)
        steps = rows.find(t, "step", challenge_id=healthy.live.challenge_id, order="at")
        marks = rows.find(t, "mark", challenge_id=healthy.live.challenge_id, order="at")
    assert verdict["verdict"] == "regulating"
    assert verdict["valid"]
    assert logs
    assert [m["event"] for m in marks] == ["start", "push", "hold", "restore", "standstill"]
    assert any(s["why"].startswith("answer: weather yes") for s in steps)
    assert any(s["why"] == "data: baseline is there" for s in steps)


def test_the_journal_alone_makes_the_same_guide(healthy: GuidedBench) -> None:
    live = healthy.live
    assert guides.replay(live._fresh, live.journal) == live.guide


def test_a_parked_valve_is_called_early_and_the_push_ends(tmp_path: Path) -> None:
    bench = GuidedBench(tmp_path, parked())
    seen = bench.run(until="put back")
    push, restored = seen.at("push"), seen.at("restore")
    assert push is not None
    assert restored is not None
    assert restored - push <= 260.0
    assert bench.live.judgement is not None
    assert bench.live.judgement.assessment.verdict == "fixed"
    assert seen.passed is None
    bench.close()


def test_seven_rows_by_hand_suffice(tmp_path: Path) -> None:
    bench = ByHand(tmp_path, usual())
    bench.run_by_hand(until="put back")
    assert bench.live.judgement is not None
    assessment = bench.live.judgement.assessment
    assert assessment.verdict == "regulating"
    assert [row.number for row in bench.live.hand_rows if row.number is not None] == [1, 2, 3, 4, 5, 6, 7]
    log, system = bench.live.texts(-18000.0)
    (tmp_path / "a.csv").write_bytes(log)
    (tmp_path / "a.toml").write_bytes(system)
    (judged,) = judge_log(tmp_path / "a.csv")
    assert judged.judgement.assessment.verdict == "regulating"
    bench.close()


# -- until the push begins ------------------------------------------------------------------------------------------------
def to(bench: GuidedBench, phase: str, seconds: int = 1500) -> GuidedBench:
    bench.run(seconds, until=phase)
    assert bench.live.guide.phase == phase
    return bench


@pytest.fixture
def pushing(tmp_path: Path) -> Iterator[GuidedBench]:
    """A healthy unit whose first quarter was just covered, without the bench's two hundred seconds of settling twice."""
    bench = GuidedBench(tmp_path, usual())
    to(bench, "push")
    for _ in range(60):
        bench.second()
        bench.person()
        if bench.live.guide.moves:
            break
    assert bench.live.guide.cover == 0.25
    bench.wants = None
    yield bench
    bench.close()


def wait(bench: GuidedBench, seconds: int, read: bool = True) -> None:
    for _ in range(seconds):
        bench.second(read)


def test_far_too_much_cover_alarms_before_the_ceiling_and_restoring_ends_it(pushing: GuidedBench) -> None:
    wait(pushing, 45)
    began = pushing.clock.now
    pushing.played.cover_to(0.75)
    pushing.act("cover is on", cover=0.75)
    for _ in range(200):
        pushing.second()
        if pushing.live.alarm_code(pushing.clock.now)[0]:
            break
    state = pushing.state()
    assert state["alarm"]["code"] == "restore airflow"
    assert state["alarm"]["urgent"]
    assert state["sentence"]["text"] == "RESTORE AIRFLOW NOW"
    assert state["button"]["act"] == "airflow is restored"
    assert pushing.seen.passed is None
    alarmed = pushing.clock.now
    pushing.act("cover is on", cover=0.9)  # no more cover now
    assert pushing.seen.refused
    assert pushing.live.guide.cover == 0.75
    wait(pushing, 9)
    assert pushing.seen.passed is None or pushing.seen.passed - alarmed >= 8.0
    pushing.played.cover_to(0.0)
    pushing.act("airflow is restored")
    wait(pushing, 30)
    assert pushing.state()["alarm"] is None
    assert pushing.live.guide.phase == "recovery"
    assert alarmed > began


def test_a_head_that_climbs_with_the_air_restored_stops_the_compressor(pushing: GuidedBench) -> None:
    pushing.played.cover_to(0.8)
    pushing.act("airflow is restored")  # said, but the cover is still on, and more of it
    codes = []
    for _ in range(40):
        pushing.second()
        codes.append(pushing.live.alarm_code(pushing.clock.now)[0])
    assert "stop compressor" in codes
    assert codes.index("stop compressor") <= 25
    state = pushing.state()
    assert state["button"]["act"] == "compressor is stopped"
    pushing.played.stop()
    pushing.act("compressor is stopped")
    wait(pushing, 30)
    assert pushing.live.guide.phase == "standstill"
    assert pushing.state()["alarm"] is None


def test_a_head_gauge_that_falls_silent_in_a_push_alarms(pushing: GuidedBench) -> None:
    wait(pushing, 10)
    whole = pushing.readings

    def without_head() -> tuple:  # type: ignore[type-arg]
        return tuple(r for r in whole() if not r.header.startswith("liquid_pressure"))

    pushing.readings = without_head  # type: ignore[method-assign]
    codes = []
    for _ in range(12):
        pushing.second()
        codes.append(pushing.live.alarm_code(pushing.clock.now)[0])
    assert codes.index("head silent") <= 7
    state = pushing.state()
    assert "restore" in state["sentence"]["text"]
    assert "head gauge" in state["sentence"]["text"]
    head = next(c for c in state["circuits"][0]["channels"] if c["channel"] == "liquid_pressure")
    assert head["state"] == "silent"
    assert state["cover"]["cover"] is None  # no step without a fresh head reading
    pushing.readings = whole  # type: ignore[method-assign]
    wait(pushing, 3)
    assert pushing.state()["alarm"] is None


def test_a_compressor_that_stops_in_a_push_is_noticed(pushing: GuidedBench) -> None:
    pushing.played.stop()
    codes = []
    for _ in range(25):
        pushing.second()
        codes.append(pushing.live.alarm_code(pushing.clock.now)[0])
    assert "switch opened" in codes


def test_breaking_off_says_restore_first_whatever_else(pushing: GuidedBench) -> None:
    pushing.act("abort", reason="thunder")
    state = pushing.state()
    assert state["phase"] == "restore"
    assert state["aborted"]
    assert state["sentence"]["code"] == "restore.now"
    assert state["button"]["act"] == "airflow is restored"
    assert "cover" in state["not_restored"]
    pushing.act("close")
    assert "Restore the airflow first" in pushing.seen.refused[-1]
    pushing.played.cover_to(0.0)
    pushing.act("airflow is restored")
    wait(pushing, 40)
    assert pushing.live.guide.phase == "recovery"


# -- dead man -------------------------------------------------------------------------------------------------------------
def test_a_device_that_sleeps_makes_the_other_alarm_and_asks_when_it_comes_back(pushing: GuidedBench) -> None:
    live = pushing.live

    def second(coil: bool, watcher: bool) -> None:
        pushing.played.advance(1)
        pushing.clock.now += 1.0
        live.recorder.take(pushing.readings(), pushing.clock.now)
        if coil:
            live.device_seen("tester", "phone", "Ines", role=None, watching=True, recording=True)
        if watcher:
            live.device_seen("second", "tablet", None, role="watcher", watching=True, recording=False)
        live.tick()

    for _ in range(5):
        second(True, True)
    assert live.state(Speech())["alarm"] is None
    for _ in range(9):
        second(False, True)  # the phone that records sleeps
    state = live.state(Speech())
    assert state["alarm"]["code"] == "not watched"
    assert state["watched"]  # the tablet watches
    assert [d["watching"] for d in state["devices"] if d["device"] == "tester"] == [False]
    for _ in range(14):
        second(False, False)  # nobody at all
    assert not live.state(Speech())["watched"]
    second(True, False)
    state = live.state(Speech())
    assert state["away"] is not None
    assert 12.0 <= state["away"] <= 16.0
    assert state["sentence"]["code"] == "away.question"
    with pytest.raises(NotAllowed, match="restored"):
        live.act(pushing.station.session("tester"), str(uuid.uuid4()), "cover is on", cover=0.3)
    live.act(pushing.station.session("tester"), str(uuid.uuid4()), "back", restored=False)
    assert live.guide.pushing
    assert live.guide.away_for is None


def test_a_page_in_the_background_does_not_watch(pushing: GuidedBench) -> None:
    pushing.live.device_seen("tester", "phone", "Ines", role=None, watching=False, recording=True)
    pushing.live.tick()
    assert pushing.state()["alarm"]["code"] == "not watched"
    pushing.live.device_seen("tester", "phone", "Ines", role=None, watching=True, recording=True)
    pushing.live.tick()
    assert pushing.state()["alarm"] is None


# -- after a crash --------------------------------------------------------------------------------------------------------
def test_after_a_crash_the_first_question_is_whether_the_airflow_is_restored(tmp_path: Path) -> None:
    bench = to(GuidedBench(tmp_path, usual()), "hold")
    wait(bench, 5)
    bench.live.flush()
    before = bench.live
    journal, count = list(before.journal), len(before.tested.recording)
    # the process is gone: nothing is closed, the store is opened anew
    clock = Clock(bench.clock.now + 130.0)
    again = Station(str(tmp_path / "records.db"), clock=clock, utc_offset=lambda _: -18000.0)
    (live,) = again.live.resume_all()
    assert live.challenge_id == before.challenge_id
    assert live.journal[: len(journal)] == journal
    assert len(live.tested.recording) == count
    state = live.state(Speech())
    assert state["sentence"]["code"] == "away.question"
    assert state["sentence"]["text"] == "Away 2 min 10 s. Is the airflow restored?"
    assert state["button"]["act"] == "back"
    assert state["alarm"]["code"] == "away"
    work = again.session("tester")
    with pytest.raises(NotAllowed):
        live.act(work, str(uuid.uuid4()), "go on", reason="x")
    live.act(work, str(uuid.uuid4()), "back", restored=True)
    assert live.guide.phase == "restore"
    assert live.state(Speech())["sentence"]["code"] == "restore.watch"
    again.close()
    bench.close()


def test_a_short_interruption_before_the_push_asks_nothing(tmp_path: Path) -> None:
    bench = to(GuidedBench(tmp_path, usual()), "settle")
    wait(bench, 30)
    bench.live.flush()
    again = Station(str(tmp_path / "records.db"), clock=Clock(bench.clock.now + 600.0), utc_offset=lambda _: -18000.0)
    (live,) = again.live.resume_all()
    assert live.guide.phase == "settle"
    assert live.state(Speech())["away"] is None
    again.close()
    bench.close()


# -- taps -----------------------------------------------------------------------------------------------------------------
def test_a_tap_sent_twice_is_done_once_and_can_be_taken_back(tmp_path: Path) -> None:
    bench = GuidedBench(tmp_path, usual())
    work = bench.station.session("tester")
    tap = str(uuid.uuid4())
    for _ in range(3):
        bench.live.act(work, tap, "answer", check="weather", answer="no")
    assert [e.why for e in bench.live.journal if e.id == tap] == ["answer: weather no"]
    state = bench.state()
    assert state["sentence"]["code"] == "check.weather.no"
    assert [u["id"] for u in state["undoable"]] == [tap]
    bench.live.undo(work, tap)
    assert "weather" not in bench.live.guide.checks
    with bench.station.store.reading() as t:
        kept = rows.find(t, "step", withdrawn=True, id=tap)
    assert kept[0]["withdrawn"]  # it stays, marked
    with pytest.raises(NotAllowed):
        bench.live.undo(work, tap)
    bench.clock.now += guides.UNDO_SECONDS + 60.0
    later = str(uuid.uuid4())
    bench.live.act(bench.station.session("tester"), later, "answer", check="weather", answer="yes")
    bench.clock.now += guides.UNDO_SECONDS + 1.0
    with pytest.raises(NotAllowed, match="no longer"):
        bench.live.undo(work, later)
    bench.close()


def test_refusals_and_what_was_set_aside_are_kept(tmp_path: Path) -> None:
    settings = replace(usual(), faults=Faults(charge=0.85))
    bench = to(GuidedBench(tmp_path, settings), "plan")
    wait(bench, 3)
    state = bench.state()
    assert state["sentence"]["code"] == "plan.no"
    assert not state["button"]["enabled"]
    refusal = next(r for r in state["plan"]["refusals"] if r["code"] == "too little subcooling")
    assert refusal["may_override"] == "technician"
    assert refusal["source"]
    bench.act("begin the push")
    assert "Subcooling" in bench.seen.refused[-1]
    bench.act("override", refusal="too little subcooling")
    assert "needs a reason" in bench.seen.refused[-1]
    bench.act("override", refusal="too little subcooling", reason="the unit is made for 6 °F")
    wait(bench, 2)
    assert bench.state()["button"]["enabled"]
    bench.act("begin the push")
    assert bench.live.guide.phase == "push"
    whys = [e.why for e in bench.live.journal]
    assert any(w.startswith("refused: begin the push, Subcooling") for w in whys)
    assert "override: too little subcooling, the unit is made for 6 °F" in whys
    bench.close()


def test_nobody_may_set_bad_weather_aside(tmp_path: Path) -> None:
    bench = GuidedBench(tmp_path, usual(), answers={"weather": "no"})
    bench.run(60, until="instruments")
    assert bench.live.guide.phase == "look and safe"
    bench.act("override", refusal="weather", reason="it will pass")
    assert "Nobody may set this aside" in bench.seen.refused[-1]
    bench.act("go on", reason="it will pass")
    assert bench.live.guide.phase == "look and safe"
    bench.close()


def test_a_tap_for_a_phase_that_is_over_means_nothing_else(pushing: GuidedBench) -> None:
    work = pushing.station.session("tester")
    with pytest.raises(NotAllowed, match="past that"):
        pushing.live.act(work, str(uuid.uuid4()), "go on", seen="baseline", reason="x")
    assert pushing.live.guide.phase == "push"
    with pytest.raises(FixInput):
        pushing.live.act(work, str(uuid.uuid4()), "cover is on")


def test_a_unit_found_running_settles_without_a_start(tmp_path: Path) -> None:
    bench = GuidedBench(tmp_path, usual(), found_running=True)
    bench.run(60, until="settle")
    assert bench.live.guide.phase == "settle"
    assert "standing" not in [p for _, p in bench.seen.phases]
    state = bench.state()
    assert [r["code"] for r in state["checks"]] == ["ran long"]
    bench.close()


def test_an_offset_gauge_in_open_air_is_not_proved_and_a_right_one_is(tmp_path: Path) -> None:
    bench = GuidedBench(tmp_path, usual())
    bench.run(40, until="instruments")
    start = bench.clock.now

    def open_air(psig: float) -> None:
        for _ in range(8):
            bench.clock.now += 1.0
            made = tuple(
                replace(r, value=str(psig)) if r.header == "suction_pressure_psig" else r for r in bench.readings()
            )
            bench.live.recorder.take(made, bench.clock.now)
            bench.live.tick()

    open_air(4.0)
    assert "zero suction" not in bench.live.guide.proofs
    open_air(0.2)
    assert bench.live.guide.proofs["zero suction"] == "data"
    assert bench.clock.now > start >= START
    bench.close()


def test_two_circuits_the_watched_one_alarms_too(tmp_path: Path) -> None:
    settings = usual()
    settings = replace(
        settings, unit=replace(settings.unit, circuits=2), conduct=replace(settings.conduct, second_demand=1.0)
    )
    bench = GuidedBench(tmp_path, settings)
    bench.run(40)
    state = bench.state()
    assert [c["place"] for c in state["circuits"]] == ["tested", "watched"]
    assert "other circuit" in [r["code"] for r in state["checks"]] or bench.live.guide.past("look and safe")
    second = bench.live.watches[1]
    top = second.top.head
    from steadfeed.analysis import guard

    bench.live.guide = replace(bench.live.guide, phase="push")
    for k in range(20):
        bench.clock.now += 1.0
        second.guard = guard.take_head(second.guard, bench.clock.now, top - 8.0 + 0.4 * k)
        bench.live._look(bench.clock.now)
    code, watch, _ = bench.live.alarm_code(bench.clock.now)
    assert code == "restore airflow"
    assert watch is second
    state = bench.state()
    assert state["alarm"]["circuit_id"] == second.circuit_id
    assert state["alarm"]["sentence"]["code"] == "alarm.other circuit"
    bench.close()


def test_several_challenges_are_open_at_once_and_each_has_its_own(tmp_path: Path) -> None:
    first = GuidedBench(tmp_path, usual())
    second = GuidedBench(tmp_path, parked(), 2, station=first.station, clock=first.clock)
    first.boot, second.boot = "one", "two"
    to(first, "push")
    first.wants = None
    for _ in range(30):
        first.second()
        first.person()
    for _ in range(60):  # the other one begins while the first is in its push
        second.played.advance(1)
        second.person()
        first.second()
    assert first.live.guide.pushing
    assert second.live.guide.phase not in ("push", "hold")
    assert {live.challenge_id for live in first.station.live.all()} == {
        first.live.challenge_id,
        second.live.challenge_id,
    }
    assert first.station.live.running() == {
        first.visit_id: first.live.challenge_id,
        second.visit_id: second.live.challenge_id,
    }
    first.played.cover_to(0.9)
    first.act("cover is on", cover=0.9)
    for _ in range(60):
        first.second()
        if first.live.alarm_code(first.clock.now)[0]:
            break
    assert first.state()["alarm"]["code"] == "restore airflow"
    assert second.state()["alarm"] is None
    first.close()
