"""Reduces a challenge to the few numbers that the hypotheses speak about."""

from __future__ import annotations

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.evidence import Summary
from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import Rows, median
from steadfeed.analysis.windows import InstrumentErrors, Windows, detrended_scatter
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.recording import Recording

F = 5.0 / 9.0


def summarize(
    rows: Rows, course: Course, w: Windows, errors: InstrumentErrors, system: System, recording: Recording | None = None
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
    # Clausius–Clapeyron with 20 kJ/mol: near enough for an uncertainty
    te_u = errors.suction_change * h.mean("te") ** 2 * 8.314 / (20.0e3 * max(h.mean("ps"), 1e5))
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
    not_back = upswing = dip = None
    quiet = known_b is not None and known_b < 0.5 * F
    if not rows.sparse and quiet and system.metering_device is not MeteringDevice.EEV:
        swing = _highest(rows.sh[rows.between(course.push, w.end - 2.0)]) - max(b.mean("sh"), h.mean("sh"))
        upswing = swing if np.isfinite(swing) else None
        lowest = -_highest(-rows.sh[rows.between(course.push, w.end - 2.0)])
        dip = min(b.mean("sh"), h.mean("sh")) - lowest if np.isfinite(lowest) else None
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
        cycle_noise=float(np.hypot(errors.noise_sh, te_u / max(errors.suction_change, 1.0) * errors.suction_step)),
        spread_before=1.0 / float(np.sqrt(2.0 * max(b.count - 3, 1))),
        spread_in=1.0 / float(np.sqrt(2.0 * max(late.stop - late.start - 3, 1))),
        knee=knee,
        not_back=not_back,
        upswing=upswing,
        dip=dip,
        discharge_change=None if recording is None else _discharge_change(recording, rows, course, w),
    )
    return summary, known_b


def _discharge_change(recording: Recording, rows: Rows, course: Course, w: Windows) -> float | None:
    """Rise of the discharge line from baseline to hold [K]; None when it was not read, not followed long enough or is none.

    A shell and its pipe warm over minutes, so that a short push says little; a pipe no hotter than the condensing
    temperature carries no hot gas to the clamp.
    """
    values = recording.get("discharge_line_temperature")
    if values is None or course.push is None or w.end - course.push < limit("discharge_follows"):
        return None
    parts = []
    for part in (w.baseline.rows, w.hold.rows):
        first, last = rows.time[part.start], rows.time[part.stop - 1]
        inside = values[(recording.time >= first) & (recording.time <= last)]
        inside = inside[np.isfinite(inside)]
        if not inside.shape[0]:
            return None
        parts.append(median(inside))
    before, after = parts
    if before < w.baseline.mean("tc") + limit("discharge_above") or before == after:
        return None
    return after - before


def _lowest_superheat(rows: Rows, course: Course, w: Windows, least_tc: float) -> int | None:
    """Row of the lowest superheat in the push while the head stood above `least_tc` [K]."""
    assert course.push is not None
    part = rows.between(course.push, w.end - 2.0)
    high = np.flatnonzero(rows.tc[part] > least_tc)
    if high.shape[0] < 5:
        return None
    smooth: FloatArray = np.convolve(rows.sh[part], np.full(5, 0.2), mode="same")[high]
    return int(part.start) + int(high[int(np.argmin(smooth[2:-2])) + 2])


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
    fall_first = median(y[middle]) / (0.55 * top)
    fall_second = (median(y[second]) - median(y[middle])) / max(median(x[second]) - 0.55 * top, 2.0 * F)
    stays = median(y[second]) + base_sh > 7.0 * F
    return 1.0 if stays and fall_first < -0.25 and fall_second > -0.06 else 0.0
