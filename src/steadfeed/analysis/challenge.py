"""The judgement of a challenge: one pure function on the readings so far."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadfeed.analysis import clamps, repair
from steadfeed.analysis.criteria import limit
from steadfeed.analysis.derive import Trace, derive, head_channel
from steadfeed.analysis.evidence import Summary, log_likelihoods, posterior, prior
from steadfeed.analysis.feed import Feed, feed_held, standard_errors, state_of
from steadfeed.analysis.liveness import is_frozen, longest_repeat, sensors, stiff_needle
from steadfeed.analysis.phases import Course, find_course
from steadfeed.analysis.series import Rows, rows_of
from steadfeed.analysis.validity import (
    check_baseline,
    check_hold,
    check_interruption,
    check_load,
    check_push,
    check_subcooling,
)
from steadfeed.analysis.windows import (
    InstrumentErrors,
    Window,
    Windows,
    detrended_scatter,
    find_windows,
    instrument_errors,
)
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import (
    EARLY_STATES,
    REASONS,
    STATES,
    UNDECIDED,
    Assessment,
    Check,
    Measured,
    SensorState,
)
from steadfeed.errors import OutOfRange
from steadfeed.physics.properties import Curves

F = 5.0 / 9.0


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """An assessment with what it was made from: the recording after stated repairs, and its derived series.

    trace is None when a vital channel is missing.
    """

    assessment: Assessment
    recording: Recording
    trace: Trace | None


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
    summary, cycles = summarize(rows, course, w, errors, system)
    checks = list(alive)
    checks += _count_checks(rows, w)
    loose = clamps.examine_clamps(rows, recording, course, w)
    for name, why in loose.off.items():
        states[name] = replace(states[name], alive=False, flags=(*states[name].flags, "off the pipe"), why=why)
        checks.append(Check("temperature clamp off the pipe", False, why))
    checks += check_baseline(rows, course, w, cycles)
    interruption, why_interrupted = check_interruption(rows, course, w, recording)
    checks += interruption
    checks += check_push(course, w)
    checks += check_hold(course, w, system, rows)
    subcooling, left, left_u = check_subcooling(rows, course, w, system, curves)
    checks += subcooling
    log_like = log_likelihoods(summary) if summary is not None else None
    chance = posterior(log_like, prior(system.metering_device)) if log_like is not None else None
    own_shift = chance is not None and (chance["sticking"] + chance["hunting"] > 0.25)
    checks += check_load(rows, recording, course, w, cycles or 0.0, own_shift)
    reasons = _ordered([c.name for c in checks if c.passed is False])
    feed = _feed(w, curves, system, errors)
    verdict, early = decide(chance, reasons, feed, summary)
    notes = list(_notes(loose, why_interrupted, summary, chance))
    return Assessment(
        valid=not reasons,
        reasons=reasons,
        verdict=verdict,
        early=early,
        probability=chance,
        feed_held=feed.held if feed is not None else None,
        phases=_phases(rows, course, w),
        baseline=_readings(w.baseline, recording, errors, curves, system),
        push=_readings(w.hold, recording, errors, curves, system),
        recovery=_readings(w.recovery, recording, errors, curves, system),
        sensors=states,
        checks=tuple(checks),
        notes=tuple(notes),
        repairs=repairs,
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
        dead = is_frozen(longest_repeat(recording.time, channel.values), errors.by_hand, span, clamp=False)
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
        out.append(Check("temperature clamp not alive", state.alive if state.alive is not False else False, state.why))
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


def summarize(
    rows: Rows, course: Course, w: Windows, errors: InstrumentErrors, system: System
) -> tuple[Summary | None, float | None]:
    """Reduce a challenge to what the hypotheses speak about; None when a window is empty. Also the cycles before."""
    b, h = w.baseline, w.hold
    rise = h.mean("tc") - b.mean("tc")
    if b.count == 0 or h.count == 0 or not np.isfinite(rise) or rise < 2.0 * F:
        return None, None
    cycles_b = detrended_scatter(rows.time[b.rows], rows.sh[b.rows])
    assert course.push is not None
    late = rows.between(max(course.push + 60.0, w.end - 240.0), w.end - 2.0)
    cycles_h = detrended_scatter(rows.time[late], rows.sh[late])
    if rows.sparse and late.stop - late.start < 7:
        cycles_h = float("nan")
    change = h.mean("sh") - b.mean("sh")
    warm = h.mean("te") - b.mean("te")
    pressure_slope = 0.0036 * F  # K per Pa·… replaced below by the curve's own slope
    te_u = errors.suction_change * (h.mean("te") ** 2) * 8.314 / (20.0e3 * max(h.mean("ps"), 1e5))
    del pressure_slope
    se_sh = float(np.hypot(b.levels["sh"].standard_error, h.levels["sh"].standard_error))
    se_te = float(np.hypot(b.levels["te"].standard_error, h.levels["te"].standard_error))
    u_sh = float(np.sqrt(te_u**2 + errors.temperature_change**2 + se_sh**2))
    u_te = float(np.sqrt(te_u**2 + se_te**2 + (0.35 * F) ** 2))
    floor = limit("floor_superheat")
    ended = h.mean("sh")
    fell = b.mean("sc") - h.mean("sc")
    if fell > limit("subcooling_fall") and not rows.sparse and system.metering_device is not MeteringDevice.EEV:
        # less subcooling cuts the flow and mimics modulation: judge where the superheat was lowest
        early = _lowest_superheat(rows, course, w, b.mean("tc") + 0.6 * rise)
        if early is not None and rows.sh[early] < ended and (cycles_b != cycles_b or cycles_b < 0.5 * F):
            ended = float(rows.sh[early])
            change, warm = ended - b.mean("sh"), float(rows.te[early]) - b.mean("te")
            rise = max(rise, float(rows.tc[early]) - b.mean("tc"))
    censored = ended < floor + 0.5 * F
    known_b = None if cycles_b != cycles_b else cycles_b
    known_h = None if cycles_h != cycles_h else cycles_h
    knee = _knee(rows, course, w)
    not_back = upswing = None
    quiet = known_b is not None and known_b < 0.5 * F
    if not rows.sparse and quiet and system.metering_device is not MeteringDevice.EEV:
        upswing = _highest(rows.sh[rows.between(course.push, w.end - 2.0)]) - b.mean("sh")
        settled = abs(w.recovery.mean("tc") - b.mean("tc")) < 2.5 * F
        if w.recovery.count >= 6 and w.recovery.span >= 60.0 and settled:
            not_back = w.recovery.mean("sh") - b.mean("sh")
    summary = Summary(
        rise=rise,
        superheat_change=change,
        u_superheat=u_sh,
        evaporating_change=warm,
        u_evaporating=u_te,
        censored=bool(censored),
        superheat_before=b.mean("sh"),
        superheat_after=ended,
        cycles_before=known_b,
        cycles_in=known_h,
        cycle_noise=errors.noise_sh,
        spread_before=1.0 / float(np.sqrt(2.0 * max(b.count - 3, 1))),
        spread_in=1.0 / float(np.sqrt(2.0 * max(late.stop - late.start - 3, 1))),
        knee=knee,
        not_back=not_back,
        upswing=upswing,
    )
    return summary, known_b


def _lowest_superheat(rows: Rows, course: Course, w: Windows, least_tc: float) -> int | None:
    """Row of the lowest superheat in the push while the head stood above `least_tc` [K]."""
    assert course.push is not None
    part = rows.between(course.push, w.end - 2.0)
    high = np.flatnonzero(rows.tc[part] > least_tc)
    if high.shape[0] < 5:
        return None
    smooth = np.convolve(rows.sh[part], np.full(5, 0.2), mode="same")[high]
    return part.start + int(high[int(np.argmin(smooth[2:-2])) + 2])


def _highest(values: FloatArray) -> float:
    """Highest mean of five neighbouring readings (NaN with fewer)."""
    if values.shape[0] < 5:
        return float(values.mean()) if values.shape[0] else float("nan")
    total = np.cumsum(np.r_[0.0, values])
    return float((total[5:] - total[:-5]).max() / 5.0)


def _knee(rows: Rows, course: Course, w: Windows) -> float:
    """0…1: superheat fell as a fixed opening lets it, then stayed level above the floor while the head went on rising."""
    assert course.push is not None
    part = rows.between(course.push, w.end - 2.0)
    n = part.stop - part.start
    if n < 8 or rows.sparse:
        return 0.0
    base_tc, base_sh = w.baseline.mean("tc"), w.baseline.mean("sh")
    x = rows.tc[part] - base_tc
    y = rows.sh[part] - base_sh
    top = float(np.percentile(x, 90))
    if top < 10.0 * F:
        return 0.0
    first, second = x < 0.5 * top, x > 0.75 * top
    if first.sum() < 3 or second.sum() < 3:
        return 0.0
    middle = (x > 0.45 * top) & (x < 0.65 * top)
    if middle.sum() < 1:
        return 0.0
    fall_first = float(np.median(y[middle])) / (0.55 * top)
    fall_second = (float(np.median(y[second])) - float(np.median(y[middle]))) / max(
        float(np.median(x[second])) - 0.55 * top, 2.0 * F
    )
    stays = float(np.median(y[second])) + base_sh > 5.0 * F
    return 1.0 if stays and fall_first < -0.25 and fall_second > -0.06 else 0.0


def _feed(w: Windows, curves: Curves, system: System, errors: InstrumentErrors) -> Feed | None:
    if w.baseline.count == 0 or w.hold.count == 0:
        return None
    try:
        return feed_held(
            state_of(w.baseline), state_of(w.hold), curves, system, errors, standard_errors(w.baseline, w.hold)
        )
    except OutOfRange:
        return None


def decide(
    chance: dict[str, float] | None, reasons: tuple[str, ...], feed: Feed | None, summary: Summary | None
) -> tuple[str, bool]:
    """Verdict and whether it is an early one.

    Any state on a valid test; `fixed`, `starving` and `flooding` with probability ≥ 0.95 when the only reason is a
    short hold. Otherwise undecided. Where two states of the same consequence share the probability, the likelier is
    called; a valve is never called regulating while the feed held excludes it.
    """
    if chance is None:
        return UNDECIDED, False
    best = max(STATES, key=lambda s: chance[s])
    if not reasons:
        modulating = chance["regulating"] + chance["hunting"]
        if best in MODULATING:
            held = feed.held if feed is not None else None
            if held is not None and held.high < limit("regulating_feed_held"):
                return UNDECIDED, False
            if modulating >= limit("group_probability") and chance[best] >= 0.5:
                return best, False
            cycling = summary is not None and (summary.cycles_before or 0.0) > 0.6 * F
            if best == "hunting" and cycling and modulating + chance["sticking"] >= 0.95 and chance[best] >= 0.6:
                return best, False  # cycles before the push: the limit cycle is what was seen
        else:
            group = _same_consequence(best)
            if sum(chance[s] for s in group) >= limit("group_probability") and chance[best] >= 0.5:
                return best, False
        return (best, False) if chance[best] >= limit("call_probability") else (UNDECIDED, False)
    if reasons == ("hold too short",) and best in EARLY_STATES:
        group = [s for s in _same_consequence(best) if s in EARLY_STATES]
        if sum(chance[s] for s in group) >= limit("early_probability") and chance[best] >= 0.5:
            return best, True
    return UNDECIDED, False


MODULATING = ("regulating", "hunting")


def _same_consequence(state: str) -> tuple[str, ...]:
    """States between which the next step hardly differs."""
    if state in ("weak", "sticking"):
        return ("weak", "sticking", "fixed")
    if state == "fixed":
        return ("fixed", "starving", "flooding", "weak")
    return (state, "fixed")


def _notes(
    loose: clamps.ClampState, why: str, summary: Summary | None, chance: dict[str, float] | None
) -> list[Remark]:
    notes = []
    if loose.warmed:
        notes.append(
            Remark(
                "suction clamp warmed",
                "Superheat rose in the push: the covered condenser's exhaust warms the suction clamp; insulate it.",
            )
        )
    if why:
        notes.append(Remark("interrupted by", why[0].upper() + why[1:] + "."))
    if summary is not None and summary.superheat_before < 8.0 * F:
        notes.append(
            Remark("weak test", "Superheat began below 8 °F: it has little room to fall, so the test says less.")
        )
    return notes


def _readings(
    w: Window, recording: Recording, errors: InstrumentErrors, curves: Curves, system: System
) -> dict[str, Measured]:
    """Numbers of a window with standard uncertainty (offset of the instrument and scatter of the mean)."""
    from steadfeed.analysis.feed import valve_subcooling

    if w.count == 0:
        return {}
    lv = w.levels
    out: dict[str, Measured] = {}
    te, tc = lv["te"].mean, lv["tc"].mean
    te_u = errors.pressure_offset * _kelvin_per_pascal(curves, lv["ps"].mean, dew=True)
    tc_u = errors.pressure_offset * _kelvin_per_pascal(curves, lv["pl"].mean, dew=False)
    te_u, tc_u = float(np.hypot(te_u, curves.uncertainty)), float(np.hypot(tc_u, curves.uncertainty))

    def add(name: str, value: float, *parts: float) -> None:
        if np.isfinite(value):
            out[name] = Measured(float(value), float(np.sqrt(sum(p * p for p in parts))))

    off = errors.temperature_offset
    add("suction_pressure", lv["ps"].mean, errors.pressure_offset, lv["ps"].standard_error)
    add("head_pressure", lv["pl"].mean, errors.pressure_offset, lv["pl"].standard_error)
    add("evaporating_temperature", te, te_u, lv["te"].standard_error)
    add("condensing_temperature", tc, tc_u, lv["tc"].standard_error)
    add("superheat", lv["sh"].mean, te_u, off, lv["sh"].standard_error)
    add("subcooling", lv["sc"].mean, tc_u, off, lv["sc"].standard_error)
    left, left_u = valve_subcooling(lv["pl"].mean, lv["tl"].mean, curves, system)
    add("valve_subcooling", left, tc_u, off, left_u, lv["sc"].standard_error)
    add("suction_line_temperature", lv["ts"].mean, off, lv["ts"].standard_error)
    add("liquid_line_temperature", lv["tl"].mean, off, lv["tl"].standard_error)
    return out


def _kelvin_per_pascal(curves: Curves, pressure: float, dew: bool) -> float:
    curve = curves.dew_temperature if dew else curves.bubble_temperature
    low, high = float(curve(0.99 * pressure, outside="nan")), float(curve(1.01 * pressure, outside="nan"))
    slope = (high - low) / (0.02 * pressure)
    return slope if np.isfinite(slope) else 0.0
