"""The feed-held scale: one uncoloured line from 0 to 100 % with the mark and its interval."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from steadfeed.circuit.verdict import FeedHeld
from steadfeed.reports.numbers import feed_held
from steadfeed.reports.svg import INK, MUTED, PAPER, Drawing, text_width


@dataclass(frozen=True, slots=True)
class FeedScale:
    """What the scale shows. held: fractions, not clipped; None: no figure could be computed, `words` say so."""

    title: str
    description: str
    held: FeedHeld | None
    words: str


#: The paper reaches this far past both ends of the scale [-]; what lies farther is shown by an arrow with its number.
MARGIN: Final = 0.2
LEFT_END: Final = "acts fixed"
RIGHT_END: Final = "holds the feed"


def feed_scale(held: FeedHeld | None) -> FeedScale:
    """Put the feed held into words and onto the scale."""
    if held is None:
        words = "feed held: no figure"
        description = "No figure could be computed from these readings."
    else:
        words = f"feed held {feed_held(held)}"
        level = f"{100 * held.level:.0f} %"
        description = (
            f"Feed held {feed_held(held)}, interval at {level}. 0 % acts as a fixed opening, 100 % holds the feed."
        )
    return FeedScale("Feed held, on a scale from 0 to 100 %", description, held, words)


@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes of one drawing [user units]."""

    width: float
    font: float


WIDE: Final = Layout(width=720, font=13)
NARROW: Final = Layout(width=358, font=12)

_AXIS_Y: Final = 48.0
_HEIGHT: Final = 92.0


def draw(scale: FeedScale, layout: Layout = WIDE, name: str = "scale") -> str:
    """Draw the scale as one SVG element. name: prefix of ids."""
    drawing = Drawing(layout.width, _HEIGHT, scale.title, scale.description, name, layout.font)
    reach = layout.width / (1.0 + 2.0 * MARGIN)

    def x(share: float) -> float:
        return (share + MARGIN) * reach

    for share in range(0, 101, 10):
        drawing.line(x(share / 100), _AXIS_Y, x(share / 100), _AXIS_Y + (9 if share % 50 == 0 else 5), INK, 1.1)
    for share in (25, 75):
        drawing.line(x(share / 100), _AXIS_Y, x(share / 100), _AXIS_Y + 9, INK, 1.1)
    drawing.line(x(0.0), _AXIS_Y, x(1.0), _AXIS_Y, INK, 2.0)
    drawing.line(4, _AXIS_Y, x(0.0), _AXIS_Y, INK, 1.2, dash="2 4")
    drawing.line(x(1.0), _AXIS_Y, layout.width - 4, _AXIS_Y, INK, 1.2, dash="2 4")
    for share in (0, 25, 50, 75, 100):
        drawing.text(x(share / 100), _AXIS_Y + 12 + layout.font, f"{share} %", anchor="middle", colour=MUTED)
    ends_y = _AXIS_Y + 28 + layout.font
    drawing.text(x(0.0), ends_y, LEFT_END, anchor="middle", bold=True)
    drawing.text(x(1.0), ends_y, RIGHT_END, anchor="middle", bold=True)
    if scale.held is None:
        drawing.text(layout.width / 2, 22, scale.words, anchor="middle", bold=True, size=layout.font + 2)
    else:
        _draw_mark(drawing, scale, scale.held, x, layout)
    return drawing.finish()


def _draw_mark(drawing: Drawing, scale: FeedScale, held: FeedHeld, x: Callable[[float], float], layout: Layout) -> None:
    least, most = -MARGIN + 0.035, 1.0 + MARGIN - 0.035
    left, right = x(min(max(held.low, least), most)), x(max(min(held.high, most), least))
    at = x(min(max(held.value, least), most))
    drawing.line(left, _AXIS_Y, right, _AXIS_Y, INK, 7.0)
    for end, share in ((left, held.low), (right, held.high)):
        beyond = share < least or share > most
        if beyond:
            direction = -1.0 if share < least else 1.0
            tip = x(-MARGIN) + 3 if direction < 0 else x(1.0 + MARGIN) - 3
            drawing.polygon([(tip, _AXIS_Y), (tip - 13 * direction, _AXIS_Y - 8), (tip - 13 * direction, _AXIS_Y + 8)])
        else:
            drawing.line(end, _AXIS_Y - 8, end, _AXIS_Y + 8, INK, 2.2)
    if least <= held.value <= most:
        r = 9.0
        shape = [(at, _AXIS_Y - r), (at + r, _AXIS_Y), (at, _AXIS_Y + r), (at - r, _AXIS_Y)]
        drawing.polygon([(px + (px - at) * 0.35, py + (py - _AXIS_Y) * 0.35) for px, py in shape], fill=PAPER)
        drawing.polygon(shape)
    width = text_width(scale.words, layout.font + 2) * 1.06
    middle = min(max(at, width / 2 + 2), layout.width - width / 2 - 2)
    drawing.text(middle, 22, scale.words, anchor="middle", bold=True, size=layout.font + 2)
