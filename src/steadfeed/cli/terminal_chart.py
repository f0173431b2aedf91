"""A strip chart in a terminal: pens drawn in braille dots, time from left to right, a word at the end of each pen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan
from typing import Final

_DOTS: Final = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BLANK: Final = 0x2800


@dataclass(frozen=True, slots=True)
class Pen:
    """One pen. word: at its end; style: colour of the terminal; every: draws each n-th dot (1 solid, 2 dashed, 3 dotted)."""

    word: str
    values: Sequence[float]
    style: str
    every: int = 1


@dataclass(frozen=True, slots=True)
class Cell:
    """One character of a chart with its style."""

    char: str
    style: str


def band(
    pens: Sequence[Pen], width: int, height: int, low: float, high: float, limit: float | None = None
) -> list[list[Cell]]:
    """Draw pens into a band of width × height characters, between two values. limit: a line across with its number.

    Values are spread over the width; NaN is a gap. Later pens lie over earlier ones.
    """
    cells = [[Cell(" ", "") for _ in range(width)] for _ in range(height)]
    if high <= low or width < 2 or height < 1:
        return cells
    if limit is not None and low <= limit <= high:
        row = _row(limit, low, high, height * 4) // 4
        for x in range(0, width, 2):
            cells[row][x] = Cell("╌", "bold")
    for pen in pens:
        _draw(cells, pen, width, height, low, high)
    return cells


def _row(value: float, low: float, high: float, rows: int) -> int:
    share = min(max((value - low) / (high - low), 0.0), 1.0)
    return min(rows - 1, max(0, round((1.0 - share) * (rows - 1))))


def _draw(cells: list[list[Cell]], pen: Pen, width: int, height: int, low: float, high: float) -> None:
    columns, rows = width * 2, height * 4
    n = len(pen.values)
    if n == 0:
        return
    marks: dict[tuple[int, int], int] = {}
    last: int | None = None
    for x in range(columns):
        begin, end = x * n // columns, max((x + 1) * n // columns, x * n // columns + 1)
        known = [v for v in pen.values[begin:end] if not isnan(v)]
        if not known:
            last = None
            continue
        top = _row(max(known), low, high, rows)
        bottom = _row(min(known), low, high, rows)
        if last is not None:  # join with the column before
            top, bottom = min(top, max(last, top)), max(bottom, min(last, bottom))
            if last < top:
                top = last + 1
            elif last > bottom:
                bottom = last - 1
        last = _row(known[-1], low, high, rows)
        if pen.every > 1 and x % (2 * pen.every) >= pen.every:
            continue
        for y in range(top, bottom + 1):
            key = (y // 4, x // 2)
            marks[key] = marks.get(key, 0) | _DOTS[x % 2][y % 4]
    for (y, x), dots in marks.items():
        cells[y][x] = Cell(chr(_BLANK + dots), pen.style)


def nice_range(values: Sequence[float], least: float) -> tuple[float, float]:
    """A range that holds the values with some room, at least `least` wide, its ends on round numbers."""
    known = [v for v in values if not isnan(v)]
    if not known:
        return 0.0, least
    low, high = min(known), max(known)
    room = max(0.08 * (high - low), (least - (high - low)) / 2.0, 0.0)
    step = 1.0
    while (high - low + 2 * room) / step > 20.0:
        step *= 5.0 if str(step)[0] in "15" and step != 5.0 else 2.0
    return step * ((low - room) // step), step * -((-(high + room)) // step)
