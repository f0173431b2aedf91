"""Laws of the guard and of the guide: whatever the readings and the taps, these hold."""

from __future__ import annotations

import uuid
from dataclasses import replace
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.analysis import forecast, guard
from steadfeed.analysis.criteria import limit
from steadfeed.circuit.equipment import Limits, Nameplate, System
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.visit import guide
from steadfeed.visit.guide import Act, Guide
from steadfeed.visit.guide_screen import Around, screen
from steadfeed.visit.guide_steps import CHECKS, Facts, blocks
from steadfeed.visit.sentences import LANGUAGES, LONGEST, Speech, text_of

F = 5.0 / 9.0
REFRIGERANTS = ("R-410A", "R-22", "R-32", "R-134a", "R-454B", "R-407C")


# -- the ceiling ----------------------------------------------------------------------------------------------------------
@given(
    st.sampled_from(REFRIGERANTS),
    st.one_of(st.none(), st.floats(1.5e6, 4.5e6)),
    st.one_of(st.none(), st.floats(1.5e6, 4.5e6)),
    st.one_of(st.none(), st.floats(1.5e6, 4.5e6)),
    st.booleans(),
)
def test_the_ceiling_is_the_lowest_limit_and_a_further_limit_never_raises_it(
    name: str, stated: float | None, switch: float | None, design: float | None, working: bool
) -> None:
    c = curves(name)
    plate = Nameplate(high_side_design_pressure=design, high_side_is_working_limit=working)
    system = System(refrigerant=name, nameplate=plate, limits=Limits(None, None, switch))
    without = guard.ceiling(system, c)
    found = guard.ceiling(replace(system, limits=Limits(stated, None, switch)), c)
    assert found.head_pressure == min(
        one.head_pressure for one in guard.limits_on_head(replace(system, limits=Limits(stated, None, switch)), c)
    )
    assert found.head_pressure <= without.head_pressure
    # 140 °F dew (130 °F without a known switch) binds whatever else is stated
    dew = float(c.dew_temperature(found.head_pressure))
    assert dew <= limit("dew_limit" if switch is not None else "dew_limit_switch_unknown") + 1e-6
    assert guard.source_of(found)


# -- the forecast ---------------------------------------------------------------------------------------------------------
@given(st.floats(-0.6, 1.2), st.floats(0.2, 3.0), st.floats(290.0, 330.0))
def test_a_tracker_finds_a_steady_climb_and_does_not_lag_behind_it(rate: float, step: float, start: float) -> None:
    tracker = forecast.begin(0.0, start)
    for k in range(1, 60):
        tracker = forecast.follow(tracker, k * step, start + rate * k * step)
    assert tracker.level == pytest.approx(start + rate * 59 * step, abs=max(0.05, 0.15 * abs(rate) * step))
    assert tracker.rate == pytest.approx(rate, abs=0.02 + 0.12 * abs(rate))


@given(st.floats(300.0, 320.0), st.floats(0.0, 0.8), st.floats(0.0, 10.0), st.floats(0.1, 20.0))
def test_a_higher_limit_is_reached_later(level: float, rate: float, nearer: float, further: float) -> None:
    tracker = forecast.begin(0.0, level)
    for k in range(1, 30):
        tracker = forecast.follow(tracker, float(k), level + rate * k)
    near = forecast.time_to(tracker, tracker.level + nearer)
    far = forecast.time_to(tracker, tracker.level + nearer + further)
    if near is None:
        assert far is None
    elif far is not None:
        assert far >= near
    cautious = forecast.time_to(tracker, tracker.level + nearer, sure=1.0)
    assert near is None or (cautious is not None and cautious <= near + 1e-9)


@given(st.floats(5.0, 60.0), st.integers(8, 40))
def test_one_far_reading_is_no_climb_and_two_are_a_jump(jump: float, at: int) -> None:
    tracker = forecast.begin(0.0, 310.0)
    for k in range(1, at):
        tracker = forecast.follow(tracker, float(k), 310.0)
    glitch = forecast.follow(tracker, float(at), 310.0 + jump)
    assert glitch.level == tracker.level
    after = forecast.follow(glitch, at + 1.0, 310.0)
    assert after.level == pytest.approx(310.0, abs=0.05)
    both = forecast.follow(glitch, at + 1.0, 310.0 + jump)
    assert both.level == pytest.approx(310.0 + jump, abs=0.5)


# -- the steps ------------------------------------------------------------------------------------------------------------
@given(
    st.floats(-30.0, 5.0),
    st.floats(-0.3, 0.6),
    st.floats(0.0, 0.9),
    st.floats(0.02, 1.0),
)
def test_no_allowed_step_takes_the_head_past_its_ceiling_within_its_time(
    below: float, rate: float, before: float, step: float
) -> None:
    top = guard.Top(head=327.6, discharge=380.4)
    g = guard.Guard()
    for k in range(40):
        g = guard.take_head(g, float(k), top.head + below * F + rate * F * (k - 39))
    wanted = min(1.0, before + step)
    allowed = guard.largest_step(g, top, before, wanted, 39.0)
    if allowed is None:
        return
    assert before < allowed <= wanted
    # the worst unit: without heat rejection it climbs 1.2 °F/s, of which the step takes its share of the open face
    share = (allowed - before) / max(1.0 - before, 0.05)
    head = top.head + below * F + 10.0 * max(rate, 0.0) * F * 0.85 + 10.0 * limit("climb_without_air") * share
    assert head < top.head + 0.35
    smaller = before + 0.5 * (allowed - before)
    assert guard.step_allowed(g, top, before, smaller, 39.0)


def _after_a_step(
    room: float, settles: float, told: bool, share: tuple[float, float] = (0.25, 0.40), tau: float = 9.0
) -> float | None:
    """How long after a step of the cover the guard alarms [s]. room, settles: below the ceiling, rise to come [°F]."""
    top = guard.Top(head=330.0, discharge=380.0)
    g, step = guard.Guard(), None
    for now in range(180):
        if now == 60 and told:
            step = guard.known_step(g, 60.0, *share)
            assert step is not None
        rise = settles * (1.0 - exp(-max(now - 60, 0) / tau))
        level = top.head - (room - rise) * F
        g = guard.take_head(g, float(now), level)
        g = guard.look(g, top, guard.Sight(float(now), pushing=True, running=True, step=step))
        if g.alarm is not None:
            return now - 60.0
    return None


def test_a_step_that_was_told_and_cannot_reach_the_ceiling_is_no_alarm() -> None:
    """The first seconds of a step look like the beginning of a climb past everything; its size says how far it can go."""
    assert _after_a_step(8.0, 5.6, told=False) is not None
    assert _after_a_step(8.0, 5.6, told=True) is None
    # one that does reach the ceiling alarms all the same, a large one as soon as it shows
    assert _after_a_step(8.0, 16.0, told=True) is not None
    assert _after_a_step(8.0, 40.0, told=True, share=(0.25, 0.95)) == _after_a_step(8.0, 40.0, told=False)


@given(st.floats(0.05, 3.0))
def test_a_climb_alarms_before_it_passes_and_the_alarm_stands_until_the_head_falls(rate: float) -> None:
    top = guard.Top(head=330.0, discharge=380.0)
    g, alarmed, now = guard.Guard(), None, 0.0
    while now < 300.0:
        level = 310.0 + rate * F * max(0.0, now - 20.0)
        g = guard.take_head(g, now, level)
        g = guard.look(g, top, guard.Sight(now, pushing=True, running=True))
        if g.alarm is not None and alarmed is None:
            alarmed = (now, level)
        if level >= top.head:
            break
        now += 1.0
    if level < top.head:
        return
    assert alarmed is not None
    assert alarmed[1] < top.head
    assert g.alarm is not None
    assert g.alarm.code in ("restore airflow", "stop compressor")
    for k in range(1, 30):  # the cover is off: the head falls
        g = guard.take_head(g, now + k, level - 0.5 * k)
        g = guard.look(g, top, guard.Sight(now + k, pushing=False, restored_at=now, running=True))
    assert g.alarm is None


# -- the guide ------------------------------------------------------------------------------------------------------------
facts = st.builds(
    Facts,
    now=st.just(0.0),
    running=st.sampled_from([None, True, False]),
    sure_since=st.just(-100.0),
    steady_since=st.sampled_from([None, -200.0]),
    condensing=st.sampled_from([None, 311.0, 318.0, 325.0]),
    superheat=st.sampled_from([None, 0.5, 6.0]),
    rate=st.sampled_from([None, 0.0, 0.2, -0.4]),
    base=st.sampled_from([None, 311.0]),
    peak=st.sampled_from([None, 324.0]),
    wanted=st.sampled_from([None, 10.0]),
    least=st.sampled_from([None, 8.0]),
    next_cover=st.sampled_from([None, 0.25, 0.5]),
    enough=st.sampled_from(["", "superheat is gone", "verdict fixed"]),
    missing=st.sampled_from([(), ("liquid_pressure",)]),
    moved=st.sampled_from(
        [(), ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")]
    ),
    alarm=st.sampled_from(["", "restore airflow", "head silent", "stop compressor"]),
    sides_moved=st.booleans(),
)
taps = st.tuples(
    st.sampled_from(guide.ACT_CODES),
    st.sampled_from([None, "because"]),
    st.sampled_from([None, *CHECKS]),
    st.sampled_from([None, "yes", "no"]),
    st.sampled_from([None, 0.25, 0.6]),
    st.sampled_from([None, True, False]),
)
moves = st.lists(st.tuples(st.integers(1, 200), facts, st.one_of(st.none(), taps)), max_size=40)


def _walk(start: Guide, found: list) -> list[tuple[Guide, Facts, tuple]]:  # type: ignore[type-arg]
    g, now, journal, seen = start, start.began, [], []
    for step, f, tap in found:
        now += step
        f = replace(f, now=now, sure_since=now - 60.0)
        before = g
        events = list(guide.advance(g, f))
        for e in events:
            g = guide.apply(g, e)
        if tap is not None:
            code, reason, check, answer, cover, restored = tap
            a = Act(str(uuid.uuid4()), code, now, None, reason, check, answer, cover, None, restored)
            try:
                outcome = guide.act(g, a, f)
            except FixInput:
                outcome = guide.Outcome(())
            for e in outcome.events:
                g = guide.apply(g, e)
                events.append(e)
        journal += events
        seen.append((before, f, tuple(events)))
        assert g == guide.replay(start, journal)  # the journal alone makes the same guide
    return seen


@given(moves)
def test_a_journal_read_again_makes_the_same_guide(found: list) -> None:  # type: ignore[type-arg]
    _walk(guide.begin(1000.0, wanted_checks=tuple(CHECKS)), found)


@given(moves, st.sampled_from(["instruments", "by hand"]))
def test_a_push_never_begins_unasked_and_can_always_be_ended(found: list, way: str) -> None:  # type: ignore[type-arg]
    start = guide.begin(1000.0, way=way, wanted_checks=("licensed", "weather"))
    for before, f, events in _walk(start, found):
        g = before
        for e in events:
            after = guide.apply(g, e)
            if after.phase == "push" and g.phase not in ("push", "hold"):
                assert g.phase == "plan"
                assert e.why == "push begins"
                assert not blocks(g, f)
            if g.pushing and not after.pushing:
                assert after.phase in ("restore", "recovery", "standstill"), (e, after)
            g = after
        if g.pushing:
            for code in ("airflow is restored", "abort"):
                outcome = guide.act(g, Act("a", code, f.now), f)
                assert outcome.refused is None
                assert outcome.events[-1].phase == "restore"


@given(moves, st.sampled_from(["instruments", "by hand"]))
def test_every_state_has_its_sentence_in_every_language(found: list, way: str) -> None:  # type: ignore[type-arg]
    start = guide.begin(1000.0, way=way, wanted_checks=tuple(CHECKS))
    around = Around(
        head=2.9e6, suction=9e5, stop_at=3.2e6, go_to=3.0e6, room=3e5, rate=9e3, cover_step=0.35, silent_for=8.0
    )
    for before, f, events in _walk(start, found):
        g = before
        for e in events:
            g = guide.apply(g, e)
        shown = screen(g, f, around)
        sentences = [shown.sentence, shown.why, *(n.note for n in shown.numbers), *(r.text for r in shown.checks)]
        sentences += [r.text for r in shown.ready] + [r.fix for r in shown.ready] + [o.label for o in shown.others]
        if shown.button is not None:
            sentences += [shown.button.label, shown.button.instead]
        for language in LANGUAGES:
            for units in ("us", "si"):
                for sentence in sentences:
                    if sentence is not None:
                        text = text_of(sentence, Speech(language, units))
                        assert 0 < len(text) <= LONGEST, text
                        assert "{" not in text
