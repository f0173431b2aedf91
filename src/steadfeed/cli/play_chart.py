"""The strip chart of the practice as a widget, with the look that its screens share."""

from __future__ import annotations

from math import nan
from typing import Any, Final

from rich.text import Text
from textual.widgets import Static

from steadfeed.cli.terminal_chart import Pen, band, nice_range

#: Bench seconds per second that can be chosen.
SPEEDS: Final = (1, 5, 10, 30, 60)
#: How often the screen moves on [s].
TICK: Final = 0.25
#: How much of the run the chart shows [s].
SHOWN: Final = 1500
STYLE: Final = """
Screen { background: #14161a; color: #edeae0; }
#head { height: 1; color: #b9bec8; }
#sentence { height: 2; text-style: bold; }
#chart { height: 1fr; min-height: 8; }
#numbers { height: 2; }
.number { width: 20fr; height: 2; }
#n-head { width: 18fr; }
#n-lines { width: 22fr; }
#notes { height: 6; color: #b9bec8; border-top: solid #474c54; }
.page { padding: 1 3; max-width: 100; height: auto; }
#options { height: 1fr; border: none; background: #14161a; padding: 0 3; }
Menu { align: center middle; }
#keys { height: auto; color: #b9bec8; background: #22262d; }
#menu { width: 92; max-width: 96%; height: auto; max-height: 90%; border: solid #edeae0; background: #14161a; padding: 1 2; }
#menu OptionList { height: auto; max-height: 24; border: none; background: #14161a; }
OptionList > .option-list--option-highlighted { background: #edeae0; color: #14161a; text-style: none; }
OptionList:focus > .option-list--option-highlighted { background: #edeae0; color: #14161a; text-style: bold; }
Footer { background: #22262d; }
"""


class Chart(Static):
    """The strip chart: pressures in the upper two thirds, superheat and subcooling below."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self.rows: list[tuple[float, float, float, float]] = []
        self.limit: float | None = None
        self.span = SHOWN
        self.marks: list[tuple[int, str]] = []

    def add(self, row: tuple[float, float, float, float]) -> None:
        """Add (suction psig, head psig, superheat °F, subcooling °F)."""
        self.rows.append(row)

    def render(self) -> Text:
        """Draw it."""
        width, height = max(self.size.width - 14, 10), max(self.size.height - 1, 6)
        upper = max(3, height * 2 // 3)
        rows = self.rows[-self.span :]
        shown = rows + [(nan,) * 4] * max(0, min(self.span, 600) - len(rows))
        suction, head, superheat, subcooling = ([row[k] for row in shown] for k in range(4))
        low, high = nice_range([*suction, *head], 60.0)
        if self.limit is not None:
            high = max(high, self.limit * 1.02)
        above = band(
            [Pen("suction", suction, "#8fbcff", 2), Pen("head", head, "#ffa8a0")], width, upper, low, high, self.limit
        )
        low2, high2 = nice_range([*superheat, *subcooling, 0.0], 20.0)
        low2, high2 = max(low2, -20.0), min(high2, 60.0)
        below = band(
            [Pen("subcooling", subcooling, "#b9bec8", 3), Pen("superheat", superheat, "#edeae0 bold")],
            width, height - upper, low2, high2,
        )  # fmt: skip
        words = self._words(upper, height - upper, (low, high), (low2, high2), rows)
        text = Text(no_wrap=True)
        for y, line in enumerate(above + below):
            for cell in line:
                text.append(cell.char, cell.style)
            word, style = words.get(y, ("", ""))
            text.append(" " + word + "\n", style)
        text.append(self._foot(width, len(shown)), "#b9bec8")
        return text

    def _foot(self, width: int, count: int) -> str:
        """What the person did when, as words under the chart."""
        foot = [" "] * width
        first = max(0, len(self.rows) - self.span)
        free = 0
        for index, word in self.marks:
            place = round((index - first) / max(count - 1, 1) * (width - 1))
            if free <= place <= width - len(word):
                foot[place : place + len(word)] = word
                free = place + len(word) + 1
        return "".join(foot)

    def _words(
        self, upper: int, lower: int, top: tuple[float, float], bottom: tuple[float, float], rows: list[Any]
    ) -> dict[int, tuple[str, str]]:
        words: dict[int, tuple[str, str]] = {0: (f"{top[1]:.0f} psig", "#7d838e")}
        words[upper - 1] = (f"{top[0]:.0f}", "#7d838e")
        words[upper + lower - 1] = (f"{bottom[0]:.0f} °F", "#7d838e")
        if self.limit is not None:
            words[_line(self.limit, top, upper)] = (f"ceiling {self.limit:.0f}", "bold")
        if rows:
            last = rows[-1]
            for value, word, style, span, begin, count in (
                (last[0], "suction", "#8fbcff", top, 0, upper), (last[1], "head", "#ffa8a0", top, 0, upper),
                (last[3], "subcooling", "#b9bec8", bottom, upper, lower), (last[2], "superheat", "bold", bottom, upper, lower),
            ):  # fmt: skip
                if value == value:
                    y = begin + _line(value, span, count)
                    while y in words and words[y][0] in ("suction", "head", "subcooling", "superheat"):
                        y += 1
                    words[y] = (word, style)
        return words


def _line(value: float, span: tuple[float, float], count: int) -> int:
    share = min(max((value - span[0]) / max(span[1] - span[0], 1e-9), 0.0), 1.0)
    return min(count - 1, round((1.0 - share) * (count - 1)))
