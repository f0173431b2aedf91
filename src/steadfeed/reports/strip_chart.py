"""The strip chart: pens over time as on a paper recorder, phases as bands, marks as notes. Data first, SVG second.

The SVG needs no script, no style sheet and no colour: pens differ in dash and carry their word at the end. The same
drawing goes into HTML and PDF.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from steadfeed.circuit.channel import FloatArray
from steadfeed.reports.numbers import MINUS
from steadfeed.reports.svg import HIGH, INK, LOW, MUTED, PAPER, Drawing, text_width

PenName = Literal["head", "suction", "superheat", "subcooling"]
Points = tuple[tuple[float, float], ...]
_ToX = Callable[[float], float]

#: Columns that a long log is thinned to; each keeps its least and its greatest reading.
COLUMNS: Final = 320


@dataclass(frozen=True, slots=True)
class Axis:
    """A vertical axis. low, high, ticks in the unit shown."""

    unit: str
    low: float
    high: float
    ticks: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Pen:
    """One pen. strokes: unbroken runs of (time [s since the chart's start], value in the unit shown); a gap ends a run."""

    name: PenName
    strokes: tuple[Points, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """One phase. word at the foot; start, end [s since the chart's start]."""

    word: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Flag:
    """One mark. number: as in the list under the chart; at [s since the chart's start]."""

    number: int
    at: float


@dataclass(frozen=True, slots=True)
class StripChart:
    """Everything that the drawing shows.

    span [s]; time_ticks: (s since the chart's start, label). lower is None when neither superheat nor subcooling could
    be derived. points: readings taken by hand, shown as points. ceiling in the unit of the upper axis.
    """

    title: str
    description: str
    span: float
    time_ticks: tuple[tuple[float, str], ...]
    time_word: str
    upper: Axis
    lower: Axis | None
    pens: tuple[Pen, ...]
    bands: tuple[Band, ...]
    flags: tuple[Flag, ...]
    points: bool
    ceiling: float | None = None
    ceiling_label: str = ""


# -- data --------------------------------------------------------------------------------------------------------------
def strokes(
    time: FloatArray, values: FloatArray, span: float, longest_gap: float, columns: int = COLUMNS
) -> tuple[Points, ...]:
    """Cut a series into unbroken runs and thin each to the extremes per column.

    time [s since the chart's start], values in any unit, both shape (n,). A missing value, or more than `longest_gap`
    [s] without one, ends a run: a gap in the readings is a gap in the pen.
    """
    good = np.isfinite(values)
    t, y = time[good], values[good]
    if t.size == 0:
        return ()
    index = np.flatnonzero(good)
    breaks = np.flatnonzero((np.diff(index) > 1) | (np.diff(t) > longest_gap)) + 1
    runs = zip(np.split(t, breaks), np.split(y, breaks), strict=True)
    return tuple(_thin(run_t, run_y, span, columns) for run_t, run_y in runs)


def _thin(t: FloatArray, y: FloatArray, span: float, columns: int) -> Points:
    """Keep the first, least, greatest and last reading of every column, in order of time."""
    width = span / columns if span > 0 else 1.0
    if t.size > 2 * max(1.0, (t[-1] - t[0]) / width):
        column = np.floor(t / width).astype(np.int64)
        starts = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
        keep: set[int] = {0, t.size - 1}
        for first, last in zip(starts, [*starts[1:], t.size], strict=True):
            part = y[first:last]
            keep.add(int(first + part.argmin()))
            keep.add(int(first + part.argmax()))
        chosen = np.fromiter(sorted(keep), dtype=np.int64)
        t, y = t[chosen], y[chosen]
    return tuple((round(float(a), 1), round(float(b), 3)) for a, b in zip(t, y, strict=True))


def axis(unit: str, values: list[float], wanted: int, *, include: float | None = None) -> Axis:
    """Choose limits and round ticks for values in the unit shown; `include` is a value that must be on the axis."""
    shown = [v for v in values if math.isfinite(v)] or [0.0, 1.0]
    if include is not None:
        shown.append(include)
    low, high = min(shown), max(shown)
    if high - low < 1e-9:
        low, high = low - 1.0, high + 1.0
    step = nice_step((high - low) / wanted)
    first, last = math.floor(low / step), math.ceil(high / step)
    ticks = tuple(round(k * step, 6) for k in range(first, last + 1))
    return Axis(unit, ticks[0], ticks[-1], ticks)


def nice_step(rough: float, steps: tuple[float, ...] = (1, 2, 5, 10)) -> float:
    """Return the round step at or above a rough one."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(s * power for s in steps if s * power >= rough * 0.999)


#: Round steps of time [s].
TIME_STEPS: Final = (10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800)


def time_step(span: float, wanted: int) -> int:
    """Return a round step of time [s] that gives at most `wanted` ticks over a span [s]."""
    return next((s for s in TIME_STEPS if span / s <= wanted), 86400)


# -- drawing -----------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes of one drawing [user units]."""

    width: float
    left: float
    right: float
    upper: float
    lower: float
    font: float
    columns: int


WIDE: Final = Layout(width=720, left=44, right=88, upper=226, lower=113, font=13, columns=COLUMNS)
NARROW: Final = Layout(width=358, left=36, right=76, upper=208, lower=104, font=12, columns=150)

_TOP: Final = 32.0
_BETWEEN: Final = 34.0
_FOOT_ROW: Final = 16.0


@dataclass(frozen=True, slots=True)
class _PenLook:
    colour: str
    width: float
    dash: str
    round_ends: bool
    filled: bool
    square: bool


_LOOKS: Final[dict[PenName, _PenLook]] = {
    "head": _PenLook(HIGH, 2.4, "", True, filled=True, square=False),
    "suction": _PenLook(LOW, 2.6, "9 5", False, filled=False, square=True),
    "superheat": _PenLook(INK, 2.4, "", True, filled=True, square=False),
    "subcooling": _PenLook(INK, 2.6, "0.1 5.2", True, filled=False, square=True),
}


@dataclass(frozen=True, slots=True)
class _Panel:
    axis: Axis
    top: float
    height: float

    def y(self, value: float) -> float:
        share = (value - self.axis.low) / (self.axis.high - self.axis.low)
        return self.top + self.height * (1.0 - share)

    @property
    def bottom(self) -> float:
        return self.top + self.height


def draw(chart: StripChart, layout: Layout = WIDE, name: str = "strip") -> str:
    """Draw the chart as one SVG element. name: prefix of ids, so that two drawings can stand in one page."""
    upper = _Panel(chart.upper, _TOP, layout.upper)
    lower = None if chart.lower is None else _Panel(chart.lower, upper.bottom + _BETWEEN, layout.lower)
    foot = (lower or upper).bottom
    plot_width = layout.width - layout.left - layout.right
    scale = plot_width / chart.span if chart.span > 0 else 0.0

    def x(seconds: float) -> float:
        return layout.left + seconds * scale

    words, rows = _place_band_words(chart.bands, x, layout)
    height = foot + 8 + rows * _FOOT_ROW + 22
    drawing = Drawing(layout.width, height, chart.title, chart.description, name, layout.font)
    panels = [upper] if lower is None else [upper, lower]

    _draw_bands(drawing, chart, panels, x)
    _draw_grid(drawing, chart, panels, x, layout)
    _draw_band_words(drawing, words, foot)
    _draw_time(drawing, chart, x, foot + 8 + rows * _FOOT_ROW, layout)
    _draw_flags(drawing, chart, x, layout)
    if chart.ceiling is not None:
        _draw_ceiling(drawing, chart.ceiling, upper, layout)
    for panel, names in ((upper, ("suction", "head")), (lower, ("subcooling", "superheat"))):
        if panel is not None:
            pens = [pen for key in names for pen in chart.pens if pen.name == key]
            for pen in pens:
                _draw_pen(drawing, pen, panel, x, chart, layout)
            _draw_pen_words(drawing, pens, panel, x, layout)
    if chart.ceiling is not None:
        _draw_ceiling_word(drawing, chart, chart.ceiling, upper, x)
    return drawing.finish()


def _draw_bands(drawing: Drawing, chart: StripChart, panels: list[_Panel], x: _ToX) -> None:
    left, right = x(0.0), x(chart.span)
    for panel in panels:
        drawing.rect(left, panel.top, right - left, panel.height, PAPER, 1.0)
    for i, band in enumerate(chart.bands):
        for panel in panels:
            if i % 2 == 1:
                drawing.rect(x(band.start), panel.top, x(band.end) - x(band.start), panel.height, INK, 0.06)
            if i > 0:
                drawing.line(x(band.start), panel.top, x(band.start), panel.bottom, INK, 0.9, opacity=0.55)


def _draw_grid(drawing: Drawing, chart: StripChart, panels: list[_Panel], x: _ToX, layout: Layout) -> None:
    right = layout.width - layout.right
    for panel in panels:
        for at, _ in _ticks_with_room(chart, x, layout):
            drawing.line(x(at), panel.top, x(at), panel.bottom, INK, 0.7, opacity=0.16)
        for tick in panel.axis.ticks:
            y = panel.y(tick)
            drawing.line(layout.left, y, right, y, INK, 0.7, opacity=0.16)
            drawing.text(
                layout.left - 6, y + layout.font * 0.35, f"{tick:g}".replace("-", MINUS), anchor="end", colour=MUTED
            )
        drawing.frame(layout.left, panel.top, right - layout.left, panel.height)
        drawing.text(layout.left - 6, panel.top - layout.font * 1.15, panel.axis.unit, anchor="end", bold=True)


def _draw_time(drawing: Drawing, chart: StripChart, x: _ToX, top: float, layout: Layout) -> None:
    y = top + layout.font
    right = layout.width - layout.right
    word_at = right + 8
    for at, label in _ticks_with_room(chart, x, layout):
        half = text_width(label, layout.font) / 2
        if x(at) + half + 6 <= word_at:
            drawing.text(max(x(at), half), y, label, anchor="middle", colour=MUTED)
    drawing.text(word_at, y, chart.time_word, colour=MUTED)


def _ticks_with_room(chart: StripChart, x: _ToX, layout: Layout) -> tuple[tuple[float, str], ...]:
    """Leave out every second tick (third, …) until the labels stand clear of each other."""
    ticks = chart.time_ticks
    if len(ticks) < 2:
        return ticks
    widest = max(text_width(label, layout.font) for _, label in ticks)
    apart = x(ticks[1][0]) - x(ticks[0][0])
    every = max(1, math.ceil((widest + 11) / apart)) if apart > 0 else len(ticks)
    return ticks[::every]


def _place_band_words(
    bands: tuple[Band, ...], x: _ToX, layout: Layout
) -> tuple[list[tuple[str, float, float, int]], int]:
    """Give every phase word a place under its band, in the first row where it is free."""
    ends = [-math.inf] * len(bands)
    placed: list[tuple[str, float, float, int]] = []
    for band in bands:
        width = text_width(band.word, layout.font)
        middle = (x(band.start) + x(band.end)) / 2
        left = min(max(middle - width / 2, layout.left - 20), layout.width - width - 2)
        row = next(r for r, end in enumerate(ends) if left >= end + 7)
        if row and placed:
            _make_way(placed, middle, layout)
        ends[row] = left + width
        placed.append((band.word, left, middle, row))
    return placed, max((row for *_, row in placed), default=0) + 1


def _make_way(placed: list[tuple[str, float, float, int]], line_at: float, layout: Layout) -> None:
    """Shift the word before to the left, where there is room, so that the line down to the next row clears it."""
    word, left, middle, row = placed[-1]
    width = text_width(word, layout.font)
    wanted = line_at - 5 - width
    neighbours = [other + text_width(name, layout.font) + 7 for name, other, _, r in placed[:-1] if r == row]
    if row == 0 and wanted < left and wanted >= max(neighbours, default=layout.left - 20):
        placed[-1] = (word, wanted, middle, row)


def _draw_band_words(drawing: Drawing, words: list[tuple[str, float, float, int]], foot: float) -> None:
    """Write the phase words; a thin line leads to those in lower rows and breaks where it would cross a word."""
    for word, left, middle, row in words:
        for above in range(row):
            crossed = any(
                r == above and start - 2 < middle < start + text_width(name, drawing.font) + 2
                for name, start, _, r in words
            )
            if not crossed:
                top = foot if above == 0 else foot + 3 + above * _FOOT_ROW
                drawing.line(middle, top, middle, foot + 6 + (above + 1) * _FOOT_ROW, INK, 0.7, opacity=0.55)
        drawing.text(left, foot + 4 + row * _FOOT_ROW + drawing.font, word)


def _draw_flags(drawing: Drawing, chart: StripChart, x: _ToX, layout: Layout) -> None:
    """Draw the numbered marks over the paper; marks too near each other share a label."""
    groups: list[list[Flag]] = []
    for flag in chart.flags:
        if groups and x(flag.at) - x(groups[-1][-1].at) < 16:
            groups[-1].append(flag)
        else:
            groups.append([flag])
    for group in groups:
        for flag in group:
            drawing.triangle(x(flag.at), _TOP - 1, 4.5)
        first, last = group[0], group[-1]
        label = str(first.number) if first is last else f"{first.number}–{last.number}"
        drawing.text((x(first.at) + x(last.at)) / 2, _TOP - 11, label, anchor="middle", bold=True)


def _draw_ceiling(drawing: Drawing, ceiling: float, panel: _Panel, layout: Layout) -> None:
    y = panel.y(ceiling)
    drawing.line(layout.left, y, layout.width - layout.right, y, INK, 2.0, dash="2 4")


def _draw_ceiling_word(drawing: Drawing, chart: StripChart, ceiling: float, panel: _Panel, x: _ToX) -> None:
    """Write the ceiling's word beside its line where no pen runs, as far left as may be."""
    y, font = panel.y(ceiling), drawing.font
    width = text_width(chart.ceiling_label, font) + 4
    inked = _inked([pen for pen in chart.pens if pen.name in ("head", "suction")], panel, x)
    first, last = x(0.0) + 6, x(chart.span) - width - 4
    baselines = [b for b in (y - 5, y + font + 3) if panel.top + font <= b <= panel.bottom - 3]
    best = (math.inf, first, y - 5)
    for baseline in baselines:
        for left in np.arange(first, max(last, first + 1), 10.0):
            covered = (inked[:, 0] > left - 4) & (inked[:, 0] < left + width + 4)
            covered &= (inked[:, 1] > baseline - font) & (inked[:, 1] < baseline + 5)
            cost = float(covered.sum()) + (left - first) * 1e-4
            if cost < best[0]:
                best = (cost, float(left), baseline)
    drawing.text(best[1], best[2], chart.ceiling_label, bold=True, halo=True)


def _inked(pens: list[Pen], panel: _Panel, x: _ToX) -> FloatArray:
    """Return the places that the pens' lines cover, a few units apart, shape (n, 2)."""
    places = [np.empty((0, 2))]
    for pen in pens:
        for stroke in pen.strokes:
            across = np.array([x(t) for t, _ in stroke])
            down = np.array([panel.y(v) for _, v in stroke])
            fine = np.sort(np.concatenate([across, np.arange(across[0], across[-1], 4.0)]))
            places.append(np.column_stack([fine, np.interp(fine, across, down)]))
    return np.concatenate(places)


def _draw_pen(drawing: Drawing, pen: Pen, panel: _Panel, x: _ToX, chart: StripChart, layout: Layout) -> None:
    look = _LOOKS[pen.name]
    for stroke in pen.strokes:
        points = stroke
        if not chart.points and layout.columns < COLUMNS and len(stroke) > 2 * layout.columns:
            series = np.array(stroke)
            points = _thin(series[:, 0], series[:, 1], chart.span, layout.columns)
        placed = [(x(t), min(max(panel.y(v), panel.top - 2), panel.bottom + 2)) for t, v in points]
        if chart.points:
            drawing.path(placed, look.colour, 1.4, dash=look.dash, round_ends=look.round_ends)
            size = 3.4 if len(placed) * 9.0 < layout.width - layout.left - layout.right else 2.4
            for px, py in placed:
                drawing.point(px, py, look.colour, size, filled=look.filled, square=look.square)
        else:
            drawing.path(placed, look.colour, look.width, dash=look.dash, round_ends=look.round_ends)


def _draw_pen_words(drawing: Drawing, pens: list[Pen], panel: _Panel, x: _ToX, layout: Layout) -> None:
    """Write each pen's word at its end, moved apart where ends meet and tied to its pen by a thin line."""
    ends: list[tuple[float, float, Pen]] = []
    for pen in pens:
        if pen.strokes:
            t, value = pen.strokes[-1][-1]
            ends.append((min(max(panel.y(value), panel.top), panel.bottom), x(t), pen))
    ends.sort(key=lambda end: (end[0], end[2].name != "head"))
    least = layout.font + 3
    places = [end[0] for end in ends]
    for i in range(1, len(places)):
        places[i] = max(places[i], places[i - 1] + least)
    over = places[-1] - (panel.bottom + 2) if places else 0.0
    if over > 0:
        places = [place - over for place in places]
    edge = layout.width - layout.right
    for (y, end_x, pen), place in zip(ends, places, strict=True):
        colour = _LOOKS[pen.name].colour
        drawing.line(end_x + 3, y, edge + 9, place, colour, 0.9, opacity=0.8)
        drawing.text(edge + 12, place + layout.font * 0.35, pen.name, colour=colour, bold=True)
