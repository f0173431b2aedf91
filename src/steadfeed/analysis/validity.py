"""Could the test have told? Every condition with its number, its limit and the word of the reason it guards."""

from __future__ import annotations

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.feed import State, valve_subcooling
from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import Rows, median
from steadfeed.analysis.steady import drifts
from steadfeed.analysis.windows import Windows, window
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Check
from steadfeed.physics.properties import Curves

F = 5.0 / 9.0


def check_baseline(rows: Rows, course: Course, w: Windows, cycles: float | None) -> list[Check]:
    """Steadiness before the push, by data; a steady cycle passes."""
    out: list[Check] = []
    assert course.push is not None
    known_start = course.start if course.start is not None else _start_before_log(rows, course)
    if known_start is not None:
        ran = course.push - known_start
        out.append(
            Check(
                "unsteady baseline",
                ran >= limit("least_running_seconds"),
                "running before the push",
                ran,
                limit("least_running_seconds"),
                "time",
                "least_running_seconds",
            )
        )
    out += [
        Check(
            "unsteady baseline",
            drift.quiet,
            f"{drift.feature} drift per minute",
            drift.per_minute,
            drift.bound,
            "temperature_difference",
            drift.criterion,
        )
        for drift in drifts(w.baseline, cycles)
    ]
    return out


def _start_before_log(rows: Rows, course: Course) -> float | None:
    """Start of the compressor shortly before the log began, seen from the transient at its beginning; else None."""
    if rows.sparse or course.push is None or course.start is not None:
        return None
    t = rows.time
    t0 = float(t[0])
    if course.push - t0 < 60.0:
        return None
    early = window(rows, t0, t0 + 20.0)
    later = window(rows, max(t0 + 60.0, course.push - 120.0), course.push - 3.0)
    if early.count == 0 or later.count == 0:
        return None
    jump = 0.0
    for name, scale in (("tc", 3.0 * F), ("te", 4.0 * F), ("sc", 5.0 * F)):
        lv = later.levels[name]
        jump = max(jump, abs(early.mean(name) - lv.mean) / max(scale, 4.0 * lv.scatter))
    return t0 - 30.0 if jump > 1.0 else None


def check_interruption(rows: Rows, course: Course, w: Windows, recording: Recording) -> tuple[list[Check], str]:
    """Compressor stops, fan cycling, stage changes between a minute before the push and its end."""
    assert course.push is not None
    why = ""
    begin, end = course.push - 60.0, w.end
    for a, b in course.stops:
        if b > begin and a <= end + 5.0:
            why = "the compressor stopped"
    if not why and course.standstill is not None:
        # shutting off at the end of a full hold ends the push as well as a restore does
        held = w.hold_seconds >= limit("least_hold")
        if (course.restore is not None and course.standstill < course.restore - 20.0) or (
            course.restore is None and not held
        ):
            why = "the compressor stopped in the push"
    if not why and course.dips:
        why = "the condenser fan cycled"
    if not why:
        why = _fan_cycles(rows, course, w)
    if not why:
        why = _stage_change(course, w)
    return [Check("interrupted", not why, why or "nothing else moved", criterion="dip_share")], why


def _fan_cycles(rows: Rows, course: Course, w: Windows) -> str:
    """Large swings of the condensing temperature without those of the valve: a fan that cycles."""
    assert course.push is not None
    part = rows.between(course.push - 300.0, course.push - 3.0)
    if part.stop - part.start >= 20 and not rows.sparse:
        y = rows.tc[part]
        low, high = np.percentile(y, (5, 95))
        if high - low > limit("fan_swing"):
            middle = 0.5 * (high + low)
            turns = int(np.count_nonzero(np.diff((y > middle).astype(np.int8)) != 0))
            if turns >= 3:
                return "the condenser fan cycled before the push"
    return ""


def _stage_change(course: Course, w: Windows) -> str:
    """A lasting shift of evaporating and condensing temperature in opposite directions."""
    if w.recovery.count == 0 or w.baseline.count == 0:
        return ""
    te = w.recovery.mean("te") - w.baseline.mean("te")
    tc = w.recovery.mean("tc") - w.baseline.mean("tc")
    if abs(te) > limit("stage_evaporating") and abs(tc) > limit("stage_condensing") and te * tc < 0:
        return "the compressor changed its stage"
    return ""


def check_push(course: Course, w: Windows) -> list[Check]:
    """Size of the push: mean condensing temperature of its last minute over the baseline."""
    rise = w.last_minute.mean("tc") - w.baseline.mean("tc")
    if not np.isfinite(rise):
        return [Check("push too small", False, "no readings at the end of the push", criterion="least_push")]
    passed = rise >= limit("least_push")
    return [
        Check("push too small", bool(passed), "condensing rise", rise, limit("least_push"), "temperature_difference", "least_push")
    ]  # fmt: skip


def check_hold(course: Course, w: Windows, system: System, rows: Rows) -> list[Check]:
    """Time above 80 % of the rise."""
    least = limit("least_hold")
    held = w.hold_seconds + min(0.5 * rows.step, 15.0)  # the ends of the hold lie between readings
    out = [Check("hold too short", held >= least, "time above 80 % of the rise", held, least, "time", "least_hold")]
    if system.metering_device is MeteringDevice.EEV and least <= held < limit("least_hold_eev"):
        drift = abs(w.hold.levels["sh"].slope) * 60.0
        still = drift <= limit("settled_superheat") or w.hold.count < 4
        out.append(
            Check(
                "hold too short",
                bool(still),
                "an EEV that has not settled",
                held,
                limit("least_hold_eev"),
                "time",
                "least_hold_eev",
            )
        )
    return out


def check_subcooling(rows: Rows, course: Course, w: Windows, system: System, curves: Curves) -> list[Check]:
    """Subcooling at the unit before the push and at the valve through it."""
    assert course.push is not None
    sc = w.baseline.mean("sc")
    out = [
        Check(
            "too little subcooling",
            bool(sc >= limit("least_subcooling")) if np.isfinite(sc) else None,
            "subcooling at the unit before the push",
            sc,
            limit("least_subcooling"),
            "temperature_difference",
            "least_subcooling",
        )
    ]
    begin = course.push + 0.4 * (w.end - course.push)
    part = rows.between(begin, w.end - 1.0)
    if part.stop <= part.start:
        return out
    usual = State(*(median(series[part]) for series in (rows.ps, rows.pl, rows.ts, rows.tl)))
    left, left_u = valve_subcooling(usual, curves, system)
    if np.isfinite(left):
        out.append(
            Check(
                "too little subcooling",
                bool(left + 1.0 * left_u >= limit("least_valve_subcooling")),
                "subcooling left at the valve through the push",
                left,
                limit("least_valve_subcooling"),
                "temperature_difference",
                "least_valve_subcooling",
            )
        )
    return out


def check_load(
    rows: Rows, recording: Recording, course: Course, w: Windows, cycles: float, shift_by_valve: bool
) -> list[Check]:
    """Load: return air across the push, and baseline–push–recovery (A–B–A) of the evaporating temperature."""
    assert course.push is not None
    out: list[Check] = []
    for name, key in (("return_air_dry_bulb", "load_return_air"), ("return_air_wet_bulb", "load_wet_bulb")):
        values = recording.get(name)
        if values is None:
            continue
        t = recording.time
        a = values[(t > course.push - 200.0) & (t < course.push)]
        b = values[(t > w.end - 100.0) & (t < w.end)]
        a, b = a[np.isfinite(a)], b[np.isfinite(b)]
        if a.shape[0] and b.shape[0]:
            drift = abs(float(b.mean() - a.mean()))
            out.append(
                Check(
                    "load drifted",
                    drift <= limit(key),
                    f"{name.replace('_', ' ')} across the push",
                    drift,
                    limit(key),
                    "temperature_difference",
                    key,
                )
            )
    if w.recovery.count and w.baseline.count and not shift_by_valve:
        enough = w.recovery.count >= (3 if not rows.sparse else 1) and (w.recovery.span >= 25.0 or rows.sparse)
        if enough:
            # an incomplete recovery of the head leaves its own part: a tenth of it on a valve, a fifth on a fixed opening
            back = w.recovery.mean("tc") - w.baseline.mean("tc")
            raw = w.recovery.mean("te") - w.baseline.mean("te")
            rise = w.hold.mean("tc") - w.baseline.mean("tc")
            share = (w.hold.mean("te") - w.baseline.mean("te")) / rise if rise > 5.0 * F else 0.15
            shift = raw - min(max(share, 0.05), 0.45) * back
            before, after = w.baseline.levels["te"], w.recovery.levels["te"]
            scatter = float(np.hypot(before.standard_error, after.standard_error))
            needle = 0.9 * F if rows.sparse and after.count < 3 else 0.0
            u = float(np.hypot(scatter, needle)) + 0.25 * cycles
            bound = limit("load_aba") if not rows.sparse else limit("load_aba_by_hand")
            drift = abs(shift)
            out.append(
                Check(
                    "load drifted",
                    bool(drift - 1.5 * u <= bound),
                    "evaporating temperature, recovery against baseline",
                    drift,
                    bound,
                    "temperature_difference",
                    "load_aba",
                )
            )
            return out
    fell = w.baseline.mean("te") - w.hold.mean("te")
    held = abs(w.hold.mean("sh") - w.baseline.mean("sh")) < limit("settled_superheat")
    still = max(cycles, w.hold.levels["sh"].scatter) < 0.5 * F
    if w.hold.count >= 3 and held and still and fell > limit("load_aba"):
        # neither an opening nor a valve lets it fall under a rising head while the superheat stays: less air comes
        out.append(
            Check(
                "load drifted",
                False,
                "fall of the evaporating temperature in the push, superheat held",
                fell,
                limit("load_aba"),
                "temperature_difference",
                "load_aba",
            )
        )
    return out
