"""The strip chart of a running challenge in characters: pens, ceiling, forecast as hatch, phases as words at the foot."""

from __future__ import annotations

from itertools import pairwise
from math import isnan, nan
from typing import Any, Final

from rich.text import Text
from textual.widgets import Static

from steadfeed.cli.terminal_chart import Cell, Pen, band, nice_range
from steadfeed.units import from_si
from steadfeed.visit.sentences import Speech, said, text_of

#: The newest reading stands at this share of the width; the forecast has the rest.
NEWEST: Final = 0.84
#: Least time that the chart shows [s].
LEAST: Final = 240.0
LOW, HIGH, INK, QUIET, FAINT = "#8fbcff", "#ffa8a0", "#edeae0 bold", "#b9bec8", "#7d838e"


class LiveChart(Static):
    """Pressures in the upper two thirds, superheat and subcooling below."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self._history: dict[str, Any] = {"columns": ["time"], "rows": []}
        self._state: dict[str, Any] | None = None
        self._speech = Speech()

    def show(self, history: dict[str, Any], state: dict[str, Any], speech: Speech) -> None:
        """Take over what is drawn."""
        self._history, self._state, self._speech = history, state, speech
        self.refresh()

    def render(self) -> Text:
        """Draw it."""
        if self._state is None or not self._history["rows"]:
            return Text("\n  No readings yet.", QUIET)
        width, height = max(self.size.width - 16, 20), max(self.size.height - 1, 6)
        return draw(self._history, self._state, self._speech, width, height)


def draw(history: dict[str, Any], state: dict[str, Any], speech: Speech, width: int, height: int) -> Text:
    """Return the chart as text of width × height characters and a foot, with words at the right."""
    places = {name: k for k, name in enumerate(history["columns"])}
    rows = history["rows"]
    times = [row[0] for row in rows]
    until = state["at"]
    since = max(times[0], until - 3600.0) if times else until
    span = max((until - since) / NEWEST, LEAST)
    columns = width * 2
    upper = max(3, height * 2 // 3)
    head_name = "liquid_pressure" if "liquid_pressure" in places else "discharge_pressure"

    def series(name: str, kind: str) -> list[float]:
        out = [nan] * columns
        k = places.get(name)
        if k is None:
            return out
        unit = _unit(kind, speech)
        for row in rows:
            value = row[k]
            if value is None or row[0] < since:
                continue
            x = int((row[0] - since) / span * columns)
            if 0 <= x < columns:
                out[x] = from_si(value, unit, kind, speech.atmosphere if kind == "pressure" else None)
        return _joined(out, times, since, span, columns)

    circuit = state["circuits"][0]
    suction, head = series("suction_pressure", "pressure"), series(head_name, "pressure")
    superheat, subcooling = (
        series("superheat", "temperature_difference"),
        series("subcooling", "temperature_difference"),
    )
    ceiling = None
    if circuit["ceiling"] is not None:
        ceiling = from_si(circuit["ceiling"]["head_pressure"], _unit("pressure", speech), "pressure", speech.atmosphere)
    low, high = nice_range([*suction, *head], 60.0 if speech.units == "us" else 4.0)
    if ceiling is not None and state["phase"] in ("plan", "push", "hold", "restore", "recovery"):
        high = max(high, ceiling * 1.03)
    top = band([Pen("", suction, LOW, 2), Pen("", head, HIGH)], width, upper, low, high, ceiling)
    _hatch(top, circuit, speech, until, since, span, (low, high))
    low2, high2 = nice_range([*superheat, *subcooling, 0.0], 20.0 if speech.units == "us" else 10.0)
    bottom = band(
        [Pen("", subcooling, QUIET, 3), Pen("", superheat, INK)],
        width,
        height - upper,
        max(low2, -20.0),
        min(high2, 60.0),
    )
    words = _words(
        top, bottom, (suction, head, superheat, subcooling), (low, high), (max(low2, -20.0), min(high2, 60.0)), speech
    )
    if ceiling is not None and low <= ceiling <= high:
        words.setdefault(_line(ceiling, (low, high), upper), (f"{ceiling:.0f} ║", "bold"))
    unit, degree = ("psig", "°F") if speech.units == "us" else ("bar", "°C")
    for y, number in (
        (0, f"{high:.0f} {unit}"),
        (upper - 1, f"{low:.0f}"),
        (upper + len(bottom) - 1, f"{max(low2, -20.0):.0f} {degree}"),
    ):
        words.setdefault(y, (number, FAINT))
    text = Text(no_wrap=True)
    for y, line in enumerate([*top, *bottom]):
        for cell in line:
            text.append(cell.char, cell.style)
        word, style = words.get(y, ("", ""))
        text.append(f" {word[:14]}\n", style)
    text.append(_foot(state, since, span, width), QUIET)
    return text


def _unit(kind: str, speech: Speech) -> str:
    us = {"pressure": "psig", "temperature_difference": "degF"}
    si = {"pressure": "barg", "temperature_difference": "degC"}
    return (us if speech.units == "us" else si)[kind]


def _joined(values: list[float], times: list[float], since: float, span: float, columns: int) -> list[float]:
    """Fill the dots between two readings that follow on each other; a real silence stays a gap."""
    steps = sorted(b - a for a, b in pairwise(times))
    usual = steps[len(steps) // 2] if steps else 1.0
    reach = max(2, round(max(5.0 * usual, 4.0) / span * columns))
    last: int | None = None
    out = list(values)
    for x, value in enumerate(values):
        if isnan(value):
            continue
        if last is not None and 1 < x - last <= reach:
            for k in range(last + 1, x):
                share = (k - last) / (x - last)
                out[k] = values[last] + share * (value - values[last])
        last = x
    return out


def _line(value: float, span: tuple[float, float], count: int) -> int:
    share = min(max((value - span[0]) / (span[1] - span[0]), 0.0), 1.0)
    return min(count - 1, max(0, round((1.0 - share) * (count - 1))))


def _hatch(
    cells: list[list[Cell]],
    circuit: dict[str, Any],
    speech: Speech,
    until: float,
    since: float,
    span: float,
    scale: tuple[float, float],
) -> None:
    """Draw where the head may be in the next seconds, as a widening hatch."""
    width, height = len(cells[0]), len(cells)
    unit = _unit("pressure", speech)
    for point in circuit["forecast"]:
        x = int((until + point["after"] - since) / span * width)
        if not 0 <= x < width:
            continue
        ends = [from_si(point[k], unit, "pressure", speech.atmosphere) for k in ("high", "low")]
        first, last = (_line(v, scale, height) for v in ends)
        for y in range(first, last + 1):
            if cells[y][x].char == " ":
                cells[y][x] = Cell("░", HIGH)


def _words(
    top: list[list[Cell]],
    bottom: list[list[Cell]],
    pens: tuple[list[float], list[float], list[float], list[float]],
    scale: tuple[float, float],
    scale2: tuple[float, float],
    speech: Speech,
) -> dict[int, tuple[str, str]]:
    upper, lower = len(top), len(bottom)
    words: dict[int, tuple[str, str]] = {}
    suction, head, superheat, subcooling = pens
    for values, code, style, span, begin, count in (
        (head, "number.head", HIGH, scale, 0, upper),
        (suction, "number.suction", LOW, scale, 0, upper),
        (superheat, "number.superheat", INK, scale2, upper, lower),
        (subcooling, "number.subcooling", QUIET, scale2, upper, lower),
    ):
        last = next((v for v in reversed(values) if not isnan(v)), nan)
        if isnan(last):
            continue
        y = begin + _line(last, span, count)
        limit = begin + count - 1
        while y in words and y < limit:
            y += 1
        while y in words and y > begin:
            y -= 1
        words[y] = (text_of(said(code), speech), style)
    return words


def _foot(state: dict[str, Any], since: float, span: float, width: int) -> str:
    """Return the phases as words where they began."""
    foot = [" "] * width
    free = 0
    last = ""
    for step in state["journal"]:
        if step["phase"] == last:
            continue
        last = step["phase"]
        place = max(round((step["at"] - since) / span * (width - 1)), 0)
        word = f"┊{last}"
        if place >= free and place + len(word) <= width:
            foot[place : place + len(word)] = word
            free = place + len(word) + 1
    return "".join(foot)
