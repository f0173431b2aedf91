"""Is each sensor alive? A sensor is alive when an event that must move it (start, push, restore, stop) moved it.

Frozen digital channels repeat a value to the last digit longer than their noise allows. A needle read by eye may
honestly stand still for minutes, so needles are asked only across the stop, where both sides must drift.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.phases import Course
from steadfeed.analysis.series import noise_of
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import SensorState

F = 5.0 / 9.0


@dataclass(frozen=True, slots=True)
class Frozen:
    """Longest run of one repeated value. start, end [s]; count: readings; share: part of all readings that repeat.

    other: length of the longest run at another value [s]: a display that is coarse against its noise has those too.
    """

    start: float
    end: float
    count: int
    share: float
    other: float = 0.0

    @property
    def seconds(self) -> float:
        """Length of the run [s]."""
        return self.end - self.start

    @property
    def coarse(self) -> bool:
        """Whether this channel repeats values for long at other levels too: its last digit hides its noise."""
        return self.other >= max(limit("coarse_seconds"), limit("coarse_share") * self.seconds)


def longest_repeat(time: FloatArray, values: FloatArray) -> Frozen:
    """Find the longest run of readings that are equal to the last digit (missing readings are passed over)."""
    good = values == values
    if not good.all():
        time, values = time[good], values[good]
    n = values.shape[0]
    if n < 2:
        return Frozen(0.0, 0.0, n, 0.0)
    equal = np.abs(np.diff(values)) <= 1e-9 * np.maximum(np.abs(values[1:]), 1.0)
    edges = np.flatnonzero(np.r_[True, ~equal, True])
    lengths = np.diff(edges)
    j = int(np.argmax(lengths))
    # share of repeats outside the longest run: what this channel's noise and resolution do by themselves
    outside = int(equal.sum()) - (int(lengths[j]) - 1)
    others = n - 1 - int(lengths[j])
    share = (outside + 1.0) / (max(others, 0) + 2.0)
    seconds = time[edges[1:] - 1] - time[edges[:-1]]
    elsewhere = seconds[values[edges[:-1]] != values[edges[j]]]
    other = float(elsewhere.max()) if elsewhere.shape[0] else 0.0
    return Frozen(float(time[edges[j]]), float(time[edges[j + 1] - 1]), int(lengths[j]), share, other)


def stiff_needle(values: FloatArray, step: float) -> bool:
    """Whether a needle stayed within reading scatter over the whole log, so that nothing can be seen with it."""
    good = values[np.isfinite(values)]
    if good.shape[0] < 5:
        return False
    low, high = np.percentile(good, (8.0, 92.0))
    return bool(high - low <= max(2.2 * min(step, limit("needle_graduation")), 20e3))  # about 3 psi


def is_frozen(run: Frozen, by_hand: bool, span: float, clamp: bool) -> bool:
    """Whether a repeated value lasts longer than the channel's own noise allows.

    span: length of the recording [s]. clamp: thermometers on pipes repeat honestly and are given more time.
    """
    if by_hand:
        return False
    shortest = limit("frozen_clamp_seconds") if clamp else limit("frozen_gauge_seconds")
    if run.seconds < shortest or run.count < limit("frozen_readings"):
        return False
    # a run of k readings by chance has probability share^(k-1); coarse displays repeat often
    share = min(max(run.share, 0.05), 0.98)
    return bool((run.count - 1) * -np.log(share) > limit("frozen_surprise"))


def moved(
    time: FloatArray, values: FloatArray, moment: float, before: float, after: float, lag: float = 0.0
) -> tuple[float, float] | None:
    """Change of a channel across a moment and its standard uncertainty, or None with no readings on one side.

    Means over `before` seconds ahead of it and over the `after` seconds that begin `lag` seconds behind it.
    """
    a = slice(int(np.searchsorted(time, moment - before)), int(np.searchsorted(time, moment - 2.0)))
    b = slice(int(np.searchsorted(time, moment + lag)), int(np.searchsorted(time, moment + lag + after)))
    x, y = values[a], values[b]
    x, y = x[x == x], y[y == y]
    if x.shape[0] == 0 or y.shape[0] == 0:
        return None
    wide = 0.0
    if x.shape[0] > 2:
        wide = float(x.std()) / np.sqrt(min(x.shape[0], 4.0))
    return float(y.mean() - x.mean()), wide


def _state(alive: bool | None, why: str, *flags: str) -> SensorState:
    return SensorState(alive, why, tuple(flags))


def sensors(recording: Recording, system: System, course: Course, head_name: str) -> dict[str, SensorState]:
    """State of the four vital sensors, channel -> SensorState."""
    by_hand = system.instruments.sampling == "by hand" or recording.read_by == "person"
    time = recording.time
    span = float(time[-1] - time[0]) if time.shape[0] > 1 else 0.0
    out: dict[str, SensorState] = {}
    stop = course.standstill
    after_stop = float(time[-1]) - stop if stop is not None else 0.0
    end = course.restore or stop or (float(time[-1]) if span else 0.0)
    for name in ("suction_pressure", head_name, "suction_line_temperature", "liquid_line_temperature"):
        channel = recording.channels[name]
        values = channel.values
        clamp = name.endswith("temperature")
        run = longest_repeat(time, values)
        frozen = is_frozen(run, by_hand, span, clamp)
        # the smallest step seen in a few readings may be many digits wide
        step = min(max(channel.resolution, 1e-9), 2.0 * F if clamp else limit("needle_graduation"))
        least = max(2.5 * step, 1.2 * F if clamp else 14e3)
        if by_hand and not clamp:
            least = max(2.5 * step, 30e3)
        words = "clamp" if clamp else "gauge"
        changes: list[tuple[str, float, bool]] = []
        if stop is not None and after_stop > (45.0 if not by_hand else 15.0):
            sides = (90.0, min(after_stop, 240.0)) if not by_hand else (900.0, after_stop)
            found = moved(time, values, stop, sides[0], sides[1], 40.0 if not by_hand else 10.0)
            if found is not None:
                changes.append(("stop", found[0], abs(found[0]) > max(least, 3.0 * found[1])))
        if course.start is not None:
            found = moved(time, values, course.start, 120.0, 120.0, 60.0)
            if found is not None:
                changes.append(("start", found[0], abs(found[0]) > max(least, 3.0 * found[1])))
        if course.push is not None and end - course.push > 30.0:
            length = end - course.push
            found = moved(time, values, course.push, 150.0 if not by_hand else 700.0, 0.5 * length, 0.5 * length)
            if found is not None:
                small = max(1.2 * step, 0.3 * F if clamp else 2e3)
                changes.append(("push", found[0], abs(found[0]) > max(small, 3.0 * found[1])))
        if course.push is not None and not by_hand and not clamp:
            before = values[(time > course.push - 200.0) & (time < course.push)]
            before = before[np.isfinite(before)]
            swing = float(before.std()) if before.shape[0] > 20 else 0.0
            if swing > max(5.0 * noise_of(before), 3.0 * step):
                changes.append(("cycles", swing, True))
        if by_hand and not clamp and course.first_row < course.end_row:
            running = values[np.isfinite(values)]
            low, high = np.percentile(running, (8.0, 92.0)) if running.shape[0] > 7 else (0.0, 0.0)
            # a needle that goes further than any eye misreads
            if high - low > max(6.0 * step, 60e3):
                changes.append(("swings", float(high - low), True))
        out[name] = _judge_sensor(
            name == "suction_pressure", clamp, words, run, frozen, changes, course, end, by_hand, span
        )
    return out


def _judge_sensor(
    suction: bool,
    clamp: bool,
    words: str,
    run: Frozen,
    frozen: bool,
    changes: list[tuple[str, float, bool]],
    course: Course,
    end: float,
    by_hand: bool,
    span: float,
) -> SensorState:
    minutes = run.seconds / 60.0
    if frozen:
        decisive = course.push is None or (run.end > course.push + 15.0 and run.start < end + 30.0)
        if (not clamp and not run.coarse) or _spans_event(run, course, end, suction):
            if decisive:
                return _state(False, f"It repeats one value to the last digit for {minutes:.0f} min.", "frozen")
            return _state(
                True, f"It stood still for {minutes:.0f} min, but not in the push.", "frozen outside the push"
            )
    said = {event: did for event, _, did in changes}
    moved_at = [event for event, did in said.items() if did]
    if said.get("stop") is False and not clamp:
        return _state(False, f"The compressor stopped and the {words} did not move.", "still at the stop")
    if moved_at:
        names = {
            "stop": "the stop",
            "start": "the start",
            "push": "the push",
            "cycles": "the valve's own cycles",
            "swings": "many readings",
        }
        return _state(True, f"It moved at {' and '.join(names[e] for e in moved_at)}.")
    if said.get("push") is False and not suction and not clamp:
        return _state(False, "The head was raised and the gauge did not move.", "still at the push")
    if clamp and by_hand and run.seconds > max(0.6 * span, 500.0) and run.count > 7:
        return _state(False, "It shows one value across the push, the restore and the stop.", "frozen")
    return _state(None, "Nothing happened in this log that had to move it.")


def _spans_event(run: Frozen, course: Course, end: float, suction: bool) -> bool:
    """Whether the repeated value reaches across an event that must move the channel by more than its last digit.

    A good valve keeps the suction side nearly where it was through a push, so there the whole push or a stop is asked for.
    A coarse display may take its time before the next digit.
    """
    patience = limit("coarse_patience") if run.coarse else 60.0
    for moment in (course.standstill, course.start):
        if moment is not None and run.start < moment - 5.0 and run.end > moment + 120.0:
            return True
    if suction:
        return course.push is not None and run.start < course.push and run.end > end + 30.0
    return any(
        moment is not None and run.start < moment - 5.0 and run.end > moment + patience
        for moment in (course.push, course.restore)
    )
