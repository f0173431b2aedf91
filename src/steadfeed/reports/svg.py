"""A small SVG pen: only the elements that a chart needs, in numbers short enough for paper and wire."""

from __future__ import annotations

from html import escape
from typing import Final, Literal

INK: Final = "#16181D"
MUTED: Final = "#474C54"
LOW: Final = "#0A3E8C"
HIGH: Final = "#9E1216"
PAPER: Final = "#FFFFFF"

#: Family of all text in reports; shipped beside this module, so that PDF and HTML are set alike everywhere.
FONT_FAMILY: Final = "'Public Sans', 'Helvetica Neue', Arial, sans-serif"

Anchor = Literal["start", "middle", "end"]

# advance widths of the family in thousandths of the font size, by class of character
_NARROW: Final = frozenset("ijl.,:;|!'’ ")
_SLIM: Final = frozenset("frt()-–−[]/1°")
_BROAD: Final = frozenset("mwMW%@")


def text_width(text: str, size: float) -> float:
    """Estimate the width of a text [user units], a little on the safe side."""
    total = 0
    for char in text:
        if char in _NARROW:
            total += 300
        elif char in _SLIM:
            total += 420
        elif char in _BROAD:
            total += 880
        elif char.isupper():
            total += 690
        else:
            total += 590
    return total * size / 1000.0


def num(value: float) -> str:
    """Write a coordinate with at most one decimal."""
    text = f"{value:.1f}"
    if text.endswith(".0"):
        text = text[:-2]
    return "0" if text == "-0" else text


class Drawing:
    """Collects the elements of one SVG."""

    def __init__(self, width: float, height: float, title: str, description: str, name: str, font: float) -> None:
        self.font = font
        self._parts = [
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {num(width)} {num(height)}" role="img" '
                f'aria-labelledby="{name}-title {name}-desc" font-family="{FONT_FAMILY}" font-size="{num(font)}" fill="{INK}">'
            ),
            f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>',
        ]

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        colour: str,
        width: float,
        *,
        dash: str = "",
        opacity: float = 1.0,
    ) -> None:
        """Draw a straight line."""
        self._parts.append(
            f'<path d="M{num(x1)} {num(y1)}L{num(x2)} {num(y2)}" fill="none" {_stroke(colour, width, dash, opacity)}/>'
        )

    def path(
        self, points: list[tuple[float, float]], colour: str, width: float, *, dash: str = "", round_ends: bool = False
    ) -> None:
        """Draw an unbroken pen stroke; a single reading is a dot."""
        if not points:
            return
        if len(points) == 1:
            x, y = points[0]
            self._parts.append(f'<circle cx="{num(x)}" cy="{num(y)}" r="{num(width * 0.75)}" fill="{colour}"/>')
            return
        steps = [f"M{num(points[0][0])} {num(points[0][1])}"]
        at_x, at_y = round(points[0][0] * 10), round(points[0][1] * 10)
        for x, y in points[1:]:
            to_x, to_y = round(x * 10), round(y * 10)
            steps.append(f"l{_tenths(to_x - at_x)} {_tenths(to_y - at_y)}")
            at_x, at_y = to_x, to_y
        cap = ' stroke-linecap="round"' if round_ends else ""
        self._parts.append(
            f'<path d="{"".join(steps)}" fill="none" {_stroke(colour, width, dash, 1.0)} stroke-linejoin="round"{cap}/>'
        )

    def point(self, x: float, y: float, colour: str, size: float, *, filled: bool, square: bool) -> None:
        """Draw one reading taken by hand. size: half its width."""
        look = f'fill="{colour if filled else PAPER}" {_stroke(colour, 1.7, "", 1.0)}'
        if square:
            side = num(2 * size)
            self._parts.append(f'<rect x="{num(x - size)}" y="{num(y - size)}" width="{side}" height="{side}" {look}/>')
        else:
            self._parts.append(f'<circle cx="{num(x)}" cy="{num(y)}" r="{num(size)}" {look}/>')

    def rect(self, x: float, y: float, width: float, height: float, colour: str, opacity: float) -> None:
        """Fill a band."""
        self._parts.append(
            f'<rect x="{num(x)}" y="{num(y)}" width="{num(width)}" height="{num(height)}" fill="{colour}" fill-opacity="{opacity:g}"/>'
        )

    def frame(self, x: float, y: float, width: float, height: float) -> None:
        """Draw the frame of a panel."""
        self._parts.append(
            f'<rect x="{num(x)}" y="{num(y)}" width="{num(width)}" height="{num(height)}" fill="none" {_stroke(INK, 1.1, "", 1.0)}/>'
        )

    def triangle(self, x: float, tip: float, size: float) -> None:
        """Draw a small solid triangle pointing down to (x, tip)."""
        self._parts.append(f'<path d="M{num(x)} {num(tip)}l{num(-size)} {num(-1.6 * size)}h{num(2 * size)}z"/>')

    def polygon(self, points: list[tuple[float, float]], *, fill: str = INK) -> None:
        """Draw a closed solid shape."""
        d = "L".join(f"{num(x)} {num(y)}" for x, y in points)
        self._parts.append(f'<path d="M{d}z" fill="{fill}"/>')

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        anchor: Anchor = "start",
        colour: str = INK,
        bold: bool = False,
        size: float | None = None,
        halo: bool = False,
    ) -> None:
        """Write a word; `halo` clears the paper around it."""
        more = "" if anchor == "start" else f' text-anchor="{anchor}"'
        if colour != INK:
            more += f' fill="{colour}"'
        if bold:
            more += ' font-weight="700"'
        if size is not None:
            more += f' font-size="{num(size)}"'
        if halo:
            self._parts.append(
                f'<text x="{num(x)}" y="{num(y)}"{more} stroke="{PAPER}" stroke-width="3.5" stroke-linejoin="round" '
                f'aria-hidden="true">{escape(text)}</text>'
            )
        self._parts.append(f'<text x="{num(x)}" y="{num(y)}"{more}>{escape(text)}</text>')

    def finish(self) -> str:
        """Return the SVG element."""
        return "".join(self._parts) + "</svg>"


def _stroke(colour: str, width: float, dash: str, opacity: float) -> str:
    text = f'stroke="{colour}" stroke-width="{num(width)}"'
    if dash:
        text += f' stroke-dasharray="{dash}"'
    if opacity < 1.0:
        text += f' stroke-opacity="{opacity:g}"'
    return text


def _tenths(value: int) -> str:
    whole, rest = divmod(abs(value), 10)
    sign = "-" if value < 0 else ""
    return f"{sign}{whole}" if not rest else f"{sign}{whole or ''}.{rest}"
