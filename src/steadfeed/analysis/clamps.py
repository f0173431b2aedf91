"""Clamps that fell off the pipe, or that the covered condenser's exhaust warms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import Rows, median
from steadfeed.analysis.windows import Windows
from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.circuit.recording import Recording

F = 5.0 / 9.0


@dataclass(frozen=True, slots=True)
class ClampState:
    """off: channels whose clamp left the pipe, channel -> sentence. warmed: suction clamp warmed by exhaust air."""

    off: dict[str, str]
    warmed: bool


def examine_clamps(rows: Rows, recording: Recording, course: Course, w: Windows, cooling: bool = True) -> ClampState:
    """Look for pipe temperatures that move as no pipe can, between the first running row and the end of the push.

    cooling: the outdoor coil condenses; only then is a pipe that lies at the outdoor air's temperature a sign.
    """
    off: dict[str, str] = {}
    assert course.push is not None
    begin = int(np.searchsorted(rows.time, (w.baseline.rows.start and rows.time[course.first_row]) or rows.time[0]))
    part = slice(begin, max(rows.between(course.push, w.end - 1.0).stop, begin))
    n = part.stop - part.start
    rise = w.last_minute.mean("tc") - w.baseline.mean("tc")
    if n < 4:
        return ClampState(off, False)
    outdoor = _air_at(recording, rows.time)
    step_seconds = 100.0
    if not rows.sparse or n >= 8:
        jump_s = _jump(rows, part, rows.ts, rows.te, outdoor, step_seconds)
        if jump_s:
            off["suction_line_temperature"] = jump_s
        jump_l = _jump(rows, part, rows.tl, rows.tc, outdoor, step_seconds)
        if jump_l:
            off["liquid_line_temperature"] = jump_l
    if not rows.sparse:
        inside = rows.between(course.push - 200.0, w.end - 1.0)
        deep = rows.sc > w.baseline.mean("sc") + 14.0 * F
        if _leaves(rows, inside, rows.tl, rows.tc, -1.0, deep):
            off.setdefault("liquid_line_temperature", "The liquid line fell quickly while the head stayed up.")
        high = rows.sh > w.baseline.mean("sh") + 8.0 * F
        if _leaves(rows, inside, rows.ts, rows.te, +1.0, high):
            off.setdefault(
                "suction_line_temperature", "The suction line rose quickly while the suction pressure stayed."
            )
    if cooling and outdoor is not None and rise > limit("hanging_rise"):
        # a starved evaporator ends near the air's temperature by itself, but far below freezing
        starved = w.baseline.mean("te") < limit("freezing_suction")
        hot = w.baseline.mean("sh") > limit("valve_superheat_high")
        if hot and not starved and _hangs(rows, w, rows.ts, outdoor):
            off.setdefault("suction_line_temperature", "It lay at the temperature of the outdoor air all the time.")
        if not hot and _hangs(rows, w, rows.tl, outdoor):
            off.setdefault(
                "liquid_line_temperature", "It lay at the temperature of the outdoor air, whatever the head did."
            )
    sh_change = w.hold.mean("sh") - w.baseline.mean("sh")
    te_change = w.hold.mean("te") - w.baseline.mean("te")
    if sh_change > 8.0 * F and te_change > -1.0 * F and sh_change > 0.35 * max(rise, 1.0):
        off.setdefault(
            "suction_line_temperature", "Superheat rose in the push while the evaporating temperature did not fall."
        )
    warmed = not off and 1.2 * F < sh_change <= 8.0 * F and te_change > -0.5 * F
    return ClampState(off, warmed)


def _hangs(rows: Rows, w: Windows, pipe: FloatArray, air: FloatArray) -> bool:
    """A pipe at the air's temperature before the push and in the hold, moved by neither more than the air moved."""
    parts = [w.baseline.rows, w.hold.rows]
    apart = [pipe[part] - air[part] for part in parts]
    if min(len(part) for part in apart) < 2:
        return False
    near = all(float(np.mean(np.abs(part) < limit("clamp_at_air"))) > 0.95 for part in apart)
    return near and abs(float(np.mean(apart[1]) - np.mean(apart[0]))) < limit("hanging_move")


def _leaves(
    rows: Rows, part: slice, pipe: FloatArray, saturation: FloatArray, sign: float, also: BoolArray | None = None
) -> bool:
    """A pipe that moves by more than 8 °F within 90 s, in the direction of `sign`, while its saturation stays."""
    t = rows.time[part]
    if t.shape[0] < 12:
        return False
    earlier = np.searchsorted(t, t - 90.0)
    moved = sign * (pipe[part] - pipe[part][earlier])
    steady = np.abs(saturation[part] - saturation[part][earlier]) < 3.0 * F
    found = (moved > 8.0 * F) & steady
    if also is not None:
        found &= also[part]
    return int(found.sum()) >= 3


def _air_at(recording: Recording, time: FloatArray) -> FloatArray | None:
    values = recording.get("outdoor_air_temperature")
    if values is None:
        return None
    good = np.isfinite(values)
    if good.sum() < 2:
        return None
    return np.interp(time, recording.time[good], values[good])


def _jump(
    rows: Rows, part: slice, pipe: FloatArray, saturation: FloatArray, air: FloatArray | None, seconds: float
) -> str:
    """A pipe temperature that leaves for that of the air within `seconds` and stays there, with no reason inside."""
    if air is None:
        return ""
    t = rows.time[part]
    apart = np.abs(pipe[part] - air[part])
    tail = max(3, int(0.25 * t.shape[0])) if not rows.sparse else 3
    if t.shape[0] <= tail + 3:
        return ""
    near = apart < limit("clamp_at_air")
    # the last stretch lies at the air's temperature …
    if not np.all(near[-tail:]):
        return ""
    first = t.shape[0] - 1
    while first > 0 and near[first - 1]:
        first -= 1
    if first < 3:
        return ""
    earlier = median(apart[max(first - 400, 0) : max(first - 2, 1)])
    return "It went to the temperature of the outdoor air and stayed there." if earlier > 5.0 * F else ""
