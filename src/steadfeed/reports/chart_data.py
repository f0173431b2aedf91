"""From a judgement to the strip chart: which pens can be drawn, where they break, where the phases lie."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.analysis.derive import head_channel
from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.phase import Mark, Phases
from steadfeed.reports.clock import LogClock
from steadfeed.reports.numbers import Numbers
from steadfeed.reports.strip_chart import Axis, Band, Flag, Pen, PenName, StripChart, axis, strokes

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves

_KINDS: Final[dict[PenName, str]] = {
    "head": "pressure",
    "suction": "pressure",
    "superheat": "temperature_difference",
    "subcooling": "temperature_difference",
}
#: Below this ratio of head to suction pressure (absolute) the compressor stands or is stopping, and superheat and
#: subcooling mean nothing. For the drawing only: air conditioners run at ratios near 2 and above.
_SIDES_MEET: Final = 1.5


def by_hand(judgement: Judgement, system: System) -> bool:
    """Tell whether the readings were taken by a person, and so are points rather than a line."""
    recording = judgement.recording
    if system.instruments.sampling == "by hand" or recording.read_by in ("person", "photo"):
        return True
    if system.instruments.sampling == "automatic" or recording.read_by == "instrument":
        return False
    n = len(recording)
    return n <= 80 and (n < 3 or _ranked(np.diff(recording.time), 0.5) > 15.0)


def marks_of(judgement: Judgement, system: System) -> tuple[Mark, ...]:
    """Collect the marks of the log and of the system file, in order of time, each once."""
    seen: dict[tuple[float, str, str], Mark] = {}
    for mark in (*judgement.recording.marks, *system.marks):
        seen.setdefault((round(mark.time, 3), mark.event, mark.text), mark)
    return tuple(sorted(seen.values(), key=lambda mark: mark.time))


def strip_chart(
    judgement: Judgement, system: System, curves: Curves | None, numbers: Numbers
) -> tuple[StripChart | None, tuple[str, ...]]:
    """Return the chart, None when there is nothing to draw, and the sentences that belong under it."""
    recording, assessment = judgement.recording, judgement.assessment
    clock = LogClock.of(recording)
    series = _series(judgement, curves)
    running = _running(series, judgement.assessment.phases, recording.time)
    hand = by_hand(judgement, system)
    gap = _longest_gap(recording.time) if not hand else np.inf
    pens: list[Pen] = []
    shown: dict[PenName, FloatArray] = {}
    for name, kind in _KINDS.items():
        values = series.get(name)
        if values is None:
            continue
        factor, offset = numbers.linear(kind)
        in_unit = (values - offset) / factor
        if kind == "temperature_difference":
            in_unit = np.where(running, in_unit, np.nan)
        runs = strokes(recording.time - clock.start, in_unit, clock.span, gap)
        if runs:
            pens.append(Pen(name, runs))
            shown[name] = in_unit[np.isfinite(in_unit)]
    upper_values = [shown[name] for name in ("head", "suction") if name in shown]
    if not upper_values:
        return None, ("There is no pressure in this log that could be drawn.",)

    notes: list[str] = []
    ceiling = None if assessment.ceiling is None else numbers.display(assessment.ceiling, "pressure")
    ceiling_label = ""
    if assessment.ceiling is not None:
        ceiling_label = f"ceiling {numbers.value(assessment.ceiling, 'pressure')}"
        set_by = f", set by {assessment.ceiling_set_by}" if assessment.ceiling_set_by else ""
        notes.append(f"Ceiling {numbers.value(assessment.ceiling, 'pressure')}{set_by}.")
    upper = axis(numbers.unit("pressure"), [0.0, *_extremes(upper_values)], 5, include=ceiling)
    lower, cut = _lower_axis([shown[n] for n in ("superheat", "subcooling") if n in shown], numbers, hand)
    if cut:
        notes.append("Superheat or subcooling leaves the paper where its pen runs along the edge.")
    missing = [name for name in _KINDS if name not in shown]
    if missing:
        notes.append(f"Not in this log, so not drawn: {', '.join(missing)}.")
    if lower is not None:
        notes.append("Superheat and subcooling are drawn while the compressor runs.")
    if hand:
        notes.append("Points are readings taken by hand; the lines between them only lead the eye.")
    elif any(len(pen.strokes) > 1 for pen in pens):
        notes.append("Where a pen breaks off, readings are missing.")
    ticks, word = clock.ticks(9)
    return (
        StripChart(
            title="Strip chart of the challenge",
            description=_description(judgement, clock, numbers, missing),
            span=max(clock.span, 1.0),
            time_ticks=ticks,
            time_word=word,
            upper=upper,
            lower=lower,
            pens=tuple(pens),
            bands=bands(assessment.phases, clock),
            flags=tuple(
                Flag(number, round(mark.time - clock.start, 1))
                for number, mark in enumerate(marks_of(judgement, system), start=1)
                if clock.start <= mark.time <= clock.end
            ),
            points=hand,
            ceiling=ceiling,
            ceiling_label=ceiling_label,
        ),
        tuple(notes),
    )


def _series(judgement: Judgement, curves: Curves | None) -> dict[PenName, FloatArray]:
    """Take the derived series, or derive what the channels at hand allow when one is missing."""
    trace, recording = judgement.trace, judgement.recording
    if trace is not None:
        return {
            "head": trace.head_pressure,
            "suction": trace.suction_pressure,
            "superheat": trace.superheat,
            "subcooling": trace.subcooling,
        }
    series: dict[PenName, FloatArray] = {}
    head_name = head_channel(recording)
    head = None if head_name is None else recording.get(head_name)
    suction = recording.get("suction_pressure")
    suction_line = recording.get("suction_line_temperature")
    liquid_line = recording.get("liquid_line_temperature")
    if head is not None:
        series["head"] = head
        if curves is not None and liquid_line is not None:
            series["subcooling"] = curves.bubble_temperature(head, outside="nan") - liquid_line
    if suction is not None:
        series["suction"] = suction
        if curves is not None and suction_line is not None:
            series["superheat"] = suction_line - curves.dew_temperature(suction, outside="nan")
    return series


def _running(series: dict[PenName, FloatArray], phases: Phases, time: FloatArray) -> BoolArray:
    """Mark the readings taken while the compressor ran, as far as the drawing can tell."""
    running: BoolArray = np.ones(time.shape, dtype=np.bool_)
    if phases.standstill is not None:
        running &= time < phases.standstill
    if "head" in series and "suction" in series:
        with np.errstate(invalid="ignore"):
            running &= ~(series["head"] < _SIDES_MEET * series["suction"])
    return running


def _longest_gap(time: FloatArray) -> float:
    """Return the longest pause [s] between two readings that a pen may cross."""
    if time.size < 3:
        return np.inf
    return max(20.0, 6.0 * _ranked(np.diff(time), 0.5))


def _ranked(values: FloatArray, share: float) -> float:
    """Return the value below which a share of the others lies. (numpy's median and percentile would import numpy.ma.)"""
    rank = round(share * (values.size - 1))
    return float(np.partition(values, rank)[rank])


def _extremes(arrays: list[FloatArray]) -> list[float]:
    return [float(limit) for values in arrays for limit in (values.min(), values.max())]


def _lower_axis(arrays: list[FloatArray], numbers: Numbers, hand: bool) -> tuple[Axis | None, bool]:
    """Choose the lower axis; a short spike far outside the rest is cut at the paper's edge, and that is said."""
    if not arrays:
        return None, False
    unit = numbers.unit("temperature_difference")
    low, high = min(float(a.min()) for a in arrays), max(float(a.max()) for a in arrays)
    cut = False
    if not hand:
        usual_low = min(_ranked(a, 0.02) for a in arrays)
        usual_high = max(_ranked(a, 0.98) for a in arrays)
        usual = max(usual_high - min(usual_low, 0.0), 1e-6)
        if high > usual_high + 0.6 * usual:
            high, cut = usual_high + 0.1 * usual, True
        if low < min(usual_low, 0.0) - 0.6 * usual:
            low, cut = min(usual_low, 0.0) - 0.1 * usual, True
    return axis(unit, [0.0, low, high], 4), cut


def bands(phases: Phases, clock: LogClock) -> tuple[Band, ...]:
    """Lay the phases side by side over the length of the log; what lies before the baseline is "settle"."""
    starts = [
        ("settle", clock.start if phases.baseline_start is not None or phases.push is not None else None),
        ("baseline", phases.baseline_start),
        ("push", phases.push),
        ("hold", phases.hold),
        ("restore", phases.restore),
        ("recovery", phases.recovery),
        ("standstill", phases.standstill),
    ]
    known = [(word, min(max(at, clock.start), clock.end)) for word, at in starts if at is not None]
    placed: list[Band] = []
    for i, (word, at) in enumerate(known):
        end = known[i + 1][1] if i + 1 < len(known) else clock.end
        if end > at:
            placed.append(Band(word, round(at - clock.start, 1), round(end - clock.start, 1)))
    return tuple(placed)


def _description(judgement: Judgement, clock: LogClock, numbers: Numbers, missing: list[PenName]) -> str:
    """Say in words what the chart shows, for those who cannot see it."""
    assessment = judgement.assessment
    parts = [f"Head and suction pressure above, superheat and subcooling below. Taken {clock.when()}."]
    told = []
    for quantity, kind, word in (
        ("head_pressure", "pressure", "head"),
        ("suction_pressure", "pressure", "suction"),
        ("superheat", "temperature_difference", "superheat"),
        ("subcooling", "temperature_difference", "subcooling"),
    ):
        if quantity in assessment.baseline and quantity in assessment.push:
            before = numbers.value(assessment.baseline[quantity].value, kind)
            during = numbers.value(assessment.push[quantity].value, kind)
            told.append(f"{word} {before} before, {during} in the push")
    if told:
        text = "; ".join(told)
        parts.append(f"{text[0].upper()}{text[1:]}.")
    phases = bands(assessment.phases, clock)
    if phases:
        parts.append(f"Phases: {', '.join(f'{b.word} from {clock.moment(clock.start + b.start)}' for b in phases)}.")
    if missing:
        parts.append(f"Missing: {', '.join(missing)}.")
    return " ".join(parts)
