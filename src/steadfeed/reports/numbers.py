"""Numbers as people read them: units of the place, as many digits as the uncertainty allows, words for likelihoods."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from steadfeed import units as unit_table
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import FeedHeld, Measured

Units = Literal["us", "si"]

#: Coverage factor of every ± that a report shows (about 95 %, GUM 6.2).
COVERAGE_FACTOR: Final = 2.0

MINUS: Final = "−"


@dataclass(frozen=True, slots=True)
class _Style:
    """How one kind is shown. unit: word of units.py; word: as printed; decimals: in sentences; finest: at most."""

    unit: str
    word: str
    decimals: int
    finest: int


_STYLES: Final[dict[str, dict[str, _Style]]] = {
    "us": {
        "pressure": _Style("psig", "psig", 0, 1),
        "pressure_difference": _Style("psi", "psi", 0, 1),
        "temperature": _Style("degF", "°F", 0, 1),
        "temperature_difference": _Style("degF", "°F", 0, 1),
        "length": _Style("ft", "ft", 0, 1),
        "mass": _Style("oz", "oz", 0, 1),
        "capacity": _Style("tons", "tons", 1, 2),
        "atmosphere": _Style("inHg", "inHg", 2, 2),
        "velocity": _Style("fpm", "ft/min", 0, 0),
        "airflow": _Style("cfm", "cfm", 0, 0),
    },
    "si": {
        "pressure": _Style("barg", "barg", 1, 2),
        "pressure_difference": _Style("bar", "bar", 1, 2),
        "temperature": _Style("degC", "°C", 1, 1),
        "temperature_difference": _Style("K", "K", 1, 1),
        "length": _Style("m", "m", 1, 1),
        "mass": _Style("kg", "kg", 2, 2),
        "capacity": _Style("kW", "kW", 1, 2),
        "atmosphere": _Style("hPa", "hPa", 0, 1),
        "velocity": _Style("m_s", "m/s", 1, 2),
        "airflow": _Style("m3_h", "m³/h", 0, 0),
    },
}
_BOTH: Final[dict[str, _Style]] = {
    "current": _Style("A", "A", 1, 1),
    "power": _Style("W", "W", 0, 0),
    "fraction": _Style("pct", "%", 0, 1),
}


def gauge_zero(recording: Recording, system: System) -> float:
    """Absolute pressure [Pa] at which the person's gauges read zero.

    A sealed gauge counts from one standard atmosphere wherever it stands; every other display counts from the air at
    the site, so that the numbers in a report are the numbers on the glass.
    """
    if system.instruments.pressure_reference == "sealed":
        return unit_table.STANDARD_ATMOSPHERE
    return recording.atmosphere


@dataclass(frozen=True, slots=True)
class Numbers:
    """Writes SI numbers in the units asked for. units: "us" | "si"; gauge_zero: absolute pressure of gauge zero [Pa]."""

    units: Units
    gauge_zero: float = unit_table.STANDARD_ATMOSPHERE

    def unit(self, kind: str) -> str:
        """Return the unit word of a kind as printed, "" for a plain number."""
        style = self._style(kind)
        return "" if style is None else style.word

    def display(self, value: float, kind: str) -> float:
        """Convert an SI number of `kind` to the unit that is shown."""
        factor, offset = self.linear(kind)
        return (value - offset) / factor

    def linear(self, kind: str) -> tuple[float, float]:
        """Return (factor, offset) with SI = shown · factor + offset, also for arrays."""
        style = self._style(kind)
        if style is None:
            return 1.0, 0.0
        return unit_table.linear(kind, style.unit, self.gauge_zero)

    def finest(self, kind: str) -> int:
        """Return the most decimals that a kind is shown with."""
        style = self._style(kind)
        return 3 if style is None else style.finest

    def value(self, value: float, kind: str, *, fine: bool = False) -> str:
        """Write one SI number with its unit, "411 psig"; `fine` gives it the most decimals of its kind."""
        if kind == "time":
            return duration(value)
        if kind == "temperature_rate":
            per_minute = self.display(value * 60.0, "temperature_difference")
            return f"{plain(per_minute, 2)} {self.unit('temperature_difference')}/min"
        if not math.isfinite(value):
            return "not known"
        shown = self.display(value, kind)
        style = self._style(kind)
        if style is None:
            return significant(shown)
        decimals = style.finest if fine else style.decimals
        return f"{plain(shown, decimals)} {style.word}"

    def uncertain(self, measured: Measured, kind: str, *, decimals: int | None = None) -> str:
        """Write value ± expanded uncertainty without the unit, "411.2 ± 2.4"."""
        factor, _ = self.linear(kind)
        value = self.display(measured.value, kind)
        expanded = COVERAGE_FACTOR * measured.uncertainty / factor
        if not math.isfinite(value):
            return "not known"
        if decimals is None:
            decimals = self.decimals_for(measured, kind)
        if not math.isfinite(expanded):
            return f"{plain(value, decimals)} ± not known"
        least = 10.0**-decimals
        if 0.0 < expanded < least / 2:
            expanded = least
        return f"{plain(value, decimals)} ± {plain(expanded, decimals)}"

    def decimals_for(self, measured: Measured, kind: str) -> int:
        """Choose the decimals that the expanded uncertainty leaves meaning in."""
        factor, _ = self.linear(kind)
        expanded = COVERAGE_FACTOR * measured.uncertainty / factor
        finest = self.finest(kind)
        if not math.isfinite(expanded) or expanded <= 0.0:
            return finest
        wanted = 0 if expanded >= 10.0 else 1 if expanded >= 1.0 else 2
        return min(wanted, finest)

    def _style(self, kind: str) -> _Style | None:
        return _STYLES[self.units].get(kind) or _BOTH.get(kind)


def plain(value: float, decimals: int) -> str:
    """Write a number with a true minus sign, thousands set off, and no "−0"."""
    text = f"{value:,.{decimals}f}"
    if text.lstrip("-").strip("0.,") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def significant(value: float) -> str:
    """Write a plain number with three significant digits."""
    if not math.isfinite(value):
        return "not known"
    if value == 0 or abs(value) >= 1000:
        return plain(value, 0)
    decimals = max(0, 2 - math.floor(math.log10(abs(value))))
    text = plain(value, min(decimals, 6))
    return text.rstrip("0").rstrip(".") if "." in text else text


def duration(seconds: float) -> str:
    """Write a span of time [s]: "45 s", "2 min", "2 min 30 s", "1 h 5 min"."""
    if not math.isfinite(seconds):
        return "not known"
    sign = MINUS if seconds < 0 else ""
    whole = round(abs(seconds))
    if whole < 60:
        return f"{sign}{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes >= 60:
        hours, minutes = divmod(round(whole / 60), 60)
        return f"{sign}{hours} h {minutes} min" if minutes else f"{sign}{hours} h"
    return f"{sign}{minutes} min {rest} s" if rest else f"{sign}{minutes} min"


def feed_held(held: FeedHeld) -> str:
    """Write the feed held, "81 % (69–93)"; a range with a negative end is written with "to"."""
    value, low, high = (plain(100.0 * x, 0) for x in (held.value, held.low, held.high))
    joined = f"{low} to {high}" if held.low < 0 or held.high < 0 else f"{low}–{high}"
    return f"{value} % ({joined})"


_LIKELIHOOD_WORDS: Final = (
    (0.99, "nearly certain"),
    (0.95, "very likely"),
    (0.75, "likely"),
    (0.5, "more likely than not"),
    (0.25, "possible"),
    (0.05, "unlikely"),
    (0.0, "very unlikely"),
)
_ODDS: Final = (
    (0.05, "1 in 20"),
    (0.1, "1 in 10"),
    (0.2, "1 in 5"),
    (0.25, "1 in 4"),
    (1 / 3, "1 in 3"),
    (0.5, "1 in 2"),
    (2 / 3, "2 in 3"),
    (0.75, "3 in 4"),
    (0.8, "4 in 5"),
    (0.9, "9 in 10"),
    (0.95, "19 in 20"),
)


def likelihood_word(probability: float) -> str:
    """Say a probability in words."""
    return next(word for least, word in _LIKELIHOOD_WORDS if probability >= least or least == 0.0)


def odds(probability: float) -> str:
    """Say a probability as "3 in 4", the nearest that people count in."""
    if probability >= 0.995:
        return "more than 99 in 100"
    if probability < 0.005:
        return "less than 1 in 100"
    if probability >= 0.965 or probability < 0.035:
        return f"{round(100 * probability)} in 100"
    return min(_ODDS, key=lambda pair: abs(pair[0] - probability))[1]


_UNIT_AFTER_NUMBER = re.compile(
    r"(?<=\d) (?=(?:%|°[FC]|K|psi[gad]?|bar[ga]?|inHg|hPa|kPa|min|ms|s|h|A|k?W|ft|m|oz|lb|kg|tons?)(?![A-Za-z]))"
)
_ODDS_TOLD = re.compile(r"(\d) in (\d)")


def keep_together(text: str) -> str:
    """Bind numbers to their units and ± to its number with no-break spaces, for typesetting only."""
    text = _UNIT_AFTER_NUMBER.sub("\u00a0", text).replace("± ", "±\u00a0")
    return _ODDS_TOLD.sub("\\1\u00a0in\u00a0\\2", text)
