"""The judgement of a challenge: one pure function on the readings so far."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from steadfeed.analysis import clamps, repair
from steadfeed.analysis.change import what_would_change
from steadfeed.analysis.criteria import limit
from steadfeed.analysis.decision import decide
from steadfeed.analysis.derive import Trace, derive, head_channel
from steadfeed.analysis.evidence import Summary, log_likelihoods, posterior, prior
from steadfeed.analysis.feed import Feed, feed_held, standard_errors, state_of
from steadfeed.analysis.guard import ceiling
from steadfeed.analysis.liveness import is_frozen, longest_repeat, sensors, stiff_needle
from steadfeed.analysis.phases import Course, find_course
from steadfeed.analysis.readings import window_readings
from steadfeed.analysis.series import Rows, rows_of
from steadfeed.analysis.standstill import standstill_notes
from steadfeed.analysis.summary import summarize
from steadfeed.analysis.validity import (
    check_baseline,
    check_hold,
    check_interruption,
    check_load,
    check_push,
    check_subcooling,
)
from steadfeed.analysis.windows import InstrumentErrors, Windows, find_windows, instrument_errors
from steadfeed.circuit.equipment import System
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import REASONS, UNDECIDED, Assessment, Check, SensorState
from steadfeed.errors import OutOfRange
from steadfeed.physics.properties import Curves

if TYPE_CHECKING:
    from steadfeed.analysis.next_test import NextTest

F = 5.0 / 9.0


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """An assessment with what it was made from: the recording after stated repairs, and its derived series.

    trace is None when a vital channel is missing. next_tests: what would tell most of the whole circuit, where findings
    were added (diagnosis.of_challenge); must_exclude: codes of those that come before a valve is condemned.
    """

    assessment: Assessment
    recording: Recording
    trace: Trace | None
    next_tests: tuple[NextTest, ...] = ()
    must_exclude: tuple[str, ...] = ()


def judge(recording: Recording, system: System, curves: Curves) -> Judgement:
    """Judge one circuit of a recording.

    Pure: no clock, no files, no look beyond the last reading: the live judgement is this function on the readings so
    far. Not knowing is a result (`undecided` with reasons), never an exception.
    """
    missing = _missing_channels(recording)
    if missing:
        words = ", ".join(name.replace("_", " ") for name in missing)
        note = Remark("channel missing", f"Without {words} the challenge cannot be judged.")
        return Judgement(_bare(recording, system, ("channel missing",), notes=(note,)), recording, None)
    recording, repairs, against = repair.examine(recording, system, curves)
    trace = derive(recording, curves)
    rows = rows_of(recording, trace)
    if against:
        notes = _contradiction_notes(recording, system, against)
        bare = _bare(recording, system, ("wrong refrigerant or unit",), notes=notes, repairs=repairs)
        if len(rows) >= 5:
            course = find_course(rows, _marks(recording))
            bare = replace(bare, phases=_phases(rows, course, None))
        return Judgement(bare, recording, trace)
    if len(rows) < 5:
        note = Remark(
            "too few readings", f"{len(rows)} complete rows of four readings; a challenge needs at least seven."
        )
        bare = _bare(recording, system, ("too few readings",), notes=(note,), repairs=repairs)
        marks = _marks(recording)
        bare = replace(bare, phases=Phases(**{k: marks.get(k) for k in ("push", "restore", "standstill")}))
        return Judgement(bare, recording, trace)
    return Judgement(_judge_rows(recording, rows, system, curves, repairs), recording, trace)


def _missing_channels(recording: Recording) -> list[str]:
    missing = []
    head = head_channel(recording)
    for name in ("suction_pressure", head or "liquid_pressure", "suction_line_temperature", "liquid_line_temperature"):
        values = recording.get(name)
        if values is None or not np.isfinite(values).any():
            missing.append(name)
    return missing


def _contradiction_notes(recording: Recording, system: System, against: tuple[str, ...]) -> tuple[Remark, ...]:
    notes = [Remark("physics contradicts", f"Under {system.refrigerant or 'this refrigerant'}, {'; '.join(against)}.")]
    fits = repair.refrigerants_that_fit(recording, system)
    if fits:
        names = ", ".join(fits)
        notes.append(
            Remark("other refrigerants fit", f"The readings would fit {names}: read the nameplate and the bottle.")
        )
    return tuple(notes)


def _marks(recording: Recording) -> dict[str, float]:
    """First mark of each event."""
    marks: dict[str, float] = {}
    for mark in recording.marks:
        marks.setdefault(mark.event, mark.time)
    return marks


def _bare(
    recording: Recording,
    system: System,
    reasons: tuple[str, ...],
    notes: tuple[Remark, ...] = (),
    repairs: tuple[Remark, ...] = (),
) -> Assessment:
    return Assessment(
        valid=False,
        reasons=reasons,
        verdict=UNDECIDED,
        early=False,
        probability=None,
        feed_held=None,
        phases=Phases(),
        notes=notes,
        repairs=repairs,
        would_change=what_would_change(UNDECIDED, reasons),
        circuit=recording.circuit,
        mode=system.mode,
    )


def _phases(rows: Rows, course: Course, w: Windows | None) -> Phases:
    recovery = None
    if w is not None and course.restore is not None and w.recovery.count:
        recovery = float(rows.time[w.recovery.rows.start])
    baseline = None
    if w is not None and w.baseline.count:
        baseline = float(rows.time[w.baseline.rows.start])
    return Phases(
        baseline_start=baseline,
        push=course.push,
        hold=w.hold_start if w is not None else None,
        restore=course.restore,
        recovery=recovery,
        standstill=course.standstill,
    )


def _judge_rows(
    recording: Recording, rows: Rows, system: System, curves: Curves, repairs: tuple[Remark, ...]
) -> Assessment:
    head = head_channel(recording) or "liquid_pressure"
    errors = instrument_errors(system, recording)
    head_dead, suction_dead = _dead_gauges(recording, errors, head)
    course = find_course(rows, _marks(recording), not head_dead, not suction_dead)
    states = sensors(recording, system, course, head)
    alive = _alive_checks(states, head, errors)
    if course.push is None:
        reasons = _ordered(["no push found", *[c.name for c in alive if c.passed is False]])
        return replace(
            _bare(recording, system, reasons, repairs=repairs), phases=_phases(rows, course, None), sensors=states
        )
    w = find_windows(rows, course)
    summary, cycles = summarize(rows, course, w, errors, system, recording)
    checks = list(alive)
    checks += _count_checks(rows, w)
    loose = clamps.examine_clamps(rows, recording, course, w, system.mode == "cooling")
    for name, why in loose.off.items():
        states[name] = replace(states[name], alive=False, flags=(*states[name].flags, "off the pipe"), why=why)
        checks.append(Check("temperature clamp off the pipe", False, why))
    checks += check_baseline(rows, course, w, cycles)
    interruption, why_interrupted = check_interruption(rows, course, w, recording)
    checks += interruption
    checks += check_push(course, w)
    checks += check_hold(course, w, system, rows)
    subcooling = check_subcooling(rows, course, w, system, curves)
    checks += subcooling
    log_like = log_likelihoods(summary) if summary is not None else None
    chance = posterior(log_like, prior(system.metering_device)) if log_like is not None else None
    own_shift = chance is not None and (chance["sticking"] + chance["hunting"] > 0.25)
    checks += check_load(rows, recording, course, w, cycles or 0.0, own_shift)
    reasons = _ordered([c.name for c in checks if c.passed is False])
    if any(state.alive is False for state in states.values()):
        summary = chance = None  # a number from a dead sensor says nothing
    feed = _feed(w, curves, system, errors) if chance is not None else None
    verdict, early = decide(chance, reasons, feed, summary)
    notes = _notes(loose, why_interrupted, summary, feed)
    notes += standstill_notes(rows, course, errors)
    top = ceiling(system, curves)
    if float(rows.pl[rows.between(course.push, w.end)].max(initial=0.0)) > top.head_pressure:
        notes.append(Remark("ceiling passed", "The head went above the ceiling of this test; cover less next time."))
    return Assessment(
        valid=not reasons,
        reasons=reasons,
        verdict=verdict,
        early=early,
        probability=chance,
        feed_held=feed.held if feed is not None else None,
        phases=_phases(rows, course, w),
        baseline=window_readings(w.baseline, recording, errors, curves, system),
        push=window_readings(w.hold, recording, errors, curves, system),
        recovery=window_readings(w.recovery, recording, errors, curves, system),
        sensors=states,
        checks=tuple(checks),
        notes=tuple(notes),
        repairs=repairs,
        would_change=what_would_change(verdict, reasons),
        ceiling=top.head_pressure,
        ceiling_set_by=top.set_by,
        apparent_opening=feed.opening if feed is not None else None,
        circuit=recording.circuit,
        mode=system.mode,
    )


def _ordered(reasons: list[str]) -> tuple[str, ...]:
    found = set(reasons)
    return tuple(word for word in REASONS if word in found)


def _dead_gauges(recording: Recording, errors: InstrumentErrors, head: str) -> tuple[bool, bool]:
    """Whether the head and the suction gauge repeat themselves so long that phases cannot be read from them."""
    out = []
    span = float(recording.time[-1] - recording.time[0])
    for name in (head, "suction_pressure"):
        channel = recording.channels[name]
        run = longest_repeat(recording.time, channel.values)
        dead = is_frozen(run, errors.by_hand, span, clamp=False) and not (run.coarse and run.seconds < 0.5 * span)
        if errors.by_hand:
            dead = stiff_needle(channel.values, channel.resolution)
        out.append(dead)
    return out[0], out[1]


def _alive_checks(states: dict[str, SensorState], head: str, errors: InstrumentErrors) -> list[Check]:
    out = []
    for name, reason in (("suction_pressure", "suction gauge not alive"), (head, "head gauge not alive")):
        state = states[name]
        # a gauge that nothing proved alive counts as not alive: a stuck gauge makes a parked valve look perfect
        out.append(Check(reason, state.alive is True, state.why))
    for name in ("suction_line_temperature", "liquid_line_temperature"):
        state = states[name]
        out.append(Check("temperature clamp not alive", state.alive, f"{name.replace('_', ' ')}: {state.why}"))
    return out


def _count_checks(rows: Rows, w: Windows) -> list[Check]:
    """By-hand tests: two rows of baseline and two in the hold at least."""
    if not rows.sparse:
        return []
    inside = w.rows_in_hold
    enough = w.baseline.count >= 2 and inside >= 2
    if enough:
        return [Check("too few readings", True, f"{w.baseline.count} rows before the push, {inside} in the hold")]
    lacking = "a second row before the push" if w.baseline.count < 2 else "a second row in the hold"
    return [Check("too few readings", False, f"{lacking}, at least three minutes apart, would mend it")]


def _feed(w: Windows, curves: Curves, system: System, errors: InstrumentErrors) -> Feed | None:
    if w.baseline.count == 0 or w.hold.count == 0:
        return None
    try:
        return feed_held(
            state_of(w.baseline), state_of(w.hold), curves, system, errors, standard_errors(w.baseline, w.hold)
        )
    except OutOfRange:
        return None


def _notes(loose: clamps.ClampState, why: str, summary: Summary | None, feed: Feed | None) -> list[Remark]:
    notes = []
    if summary is not None and (summary.discharge_change or 0.0) < -limit("discharge_cooled"):
        notes.append(
            Remark(
                "discharge line cooled",
                "The discharge line cooled although the head rose: the suction gas became wetter, whatever the suction clamp"
                " shows.",
            )
        )
    if summary is not None and summary.censored and feed is not None and feed.held is not None:
        notes.append(
            Remark(
                "superheat gone",
                "Superheat ran out in the push: liquid reaches the suction line and is not counted in the flow, so the feed held"
                " is an upper bound.",
            )
        )
    if loose.warmed:
        notes.append(
            Remark(
                "suction clamp warmed",
                "Superheat rose in the push: the covered condenser's exhaust warms the suction clamp; insulate it.",
            )
        )
    if why:
        notes.append(Remark("interrupted by", why[0].upper() + why[1:] + "."))
    if summary is not None and summary.superheat_before < limit("weak_start"):
        notes.append(Remark("weak test", "Superheat began low: it has little room to fall, so the test says less."))
    return notes
