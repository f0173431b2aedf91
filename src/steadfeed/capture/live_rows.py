"""Readings that come one by one, put into rows: one moment a row, at most one reading of each channel in it.

The judgement looks at rows that hold all four vital readings. Instruments that send together make such rows by
themselves; instruments that send one after the other do not, so their readings are gathered:

- Readings of one millisecond stay together. A row takes them as long as none of their channels is in it already and it
  began no more than WIDEST_ROW ago; else the next row begins. A row carries the time of its first reading.
- Nothing is held over or interpolated: what was not read in a row is missing in it.
- Of two readings of one channel in one millisecond that with the lower (source, boot id, sequence) counts.
- A source whose clock is wrong is noticed by how late its readings arrive, and moved (see ClockError).

The rows follow from the set of readings alone, not from the order of their arrival, so that rows made live and rows
made from the store afterwards are the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from steadfeed import units
from steadfeed.capture.assemble import SHARED_CHANNELS, site_atmosphere
from steadfeed.capture.channel_map import Placed
from steadfeed.capture.source import BAD_QUALITY
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import System

#: Readings further apart than this never share a row [ms].
WIDEST_ROW: Final = 5000
#: No instrument reads beyond this, in any unit.
_BEYOND_INSTRUMENTS: Final = 1e9
#: An error of a clock below this is left alone: it is within what a message may take [s].
SMALLEST_CLOCK_ERROR: Final = 2.0
#: A source has shown how wrong its clock is once its readings kept pace with ours for so long [s].
_PACE: Final = 10.0


def milliseconds(moment: float) -> int:
    """Return a moment [s since the Unix epoch] as whole milliseconds, cut off as ISO 8601 texts are."""
    fraction, whole = math.modf(moment)
    return int(whole) * 1000 + round(fraction * 1e6) // 1000


def logged_time(ms: int, utc_offset: float) -> float:
    """Return the time [s] that a log gives back when a moment was written into it with an offset from UTC [s]."""
    seconds, rest = divmod(ms, 1000)
    return float(seconds + utc_offset) + rest / 1000.0 - utc_offset


def place_of(channel: str) -> tuple[str | None, str]:
    """Split "c2_suction_pressure" into circuit and channel; the circuit under test has none."""
    head, _, rest = channel.partition("_")
    if head[:1] == "c" and head[1:].isdigit() and rest in CHANNEL_KINDS:
        return head, rest
    return None, channel


def belongs(channel: str, circuit: str | None) -> str | None:
    """Return the channel that a placed reading is on a circuit, None when it belongs to another one."""
    if not channel:
        return None
    of, name = place_of(channel)
    if name not in CHANNEL_KINDS:
        return None
    return name if of == circuit or (of is None and name in SHARED_CHANNELS) else None


def gauge_zero(system: System) -> tuple[float, float]:
    """Return (pressure of the air at the site, pressure that gauge readings count from) [Pa], as for log files."""
    atmosphere, _ = site_atmosphere(system)
    vented = system.instruments.pressure_reference not in ("absolute", "sealed")
    return atmosphere, atmosphere if vented else units.STANDARD_ATMOSPHERE


@dataclass(frozen=True, slots=True)
class Conversion:
    """From numbers of a unit to SI: value · factor + offset."""

    factor: float
    offset: float
    kind: str

    def si(self, number: float) -> float:
        """Return a number of this unit in SI."""
        return number * self.factor + self.offset

    def back(self, value: float) -> float:
        """Return an SI value as a number of this unit."""
        return (value - self.offset) / self.factor


def conversion(channel: str, unit: str, zero: float) -> Conversion:
    """Return the conversion for a unit of a channel. zero: pressure that gauge readings count from [Pa]."""
    kind = CHANNEL_KINDS[channel]
    factor, offset = units.linear(kind, unit, zero)
    return Conversion(factor, offset, kind)


def usable_number(placed: Placed, into: Conversion) -> float | None:
    """Return a reading as a number of its unit, None when it says nothing: missing, of bad quality, or impossible.

    A compound gauge shows vacuum without a sign: inHg is always below the atmosphere.
    """
    reading = placed.reading
    if reading.value is None or (reading.quality is not None and reading.quality.lower() in BAD_QUALITY):
        return None
    try:
        number = float(reading.value)
    except ValueError:
        return None
    if not abs(number) <= _BEYOND_INSTRUMENTS:  # also NaN
        return None
    if placed.unit == "inHg":
        number = -abs(number)
    if into.kind in ("pressure", "temperature") and into.si(number) <= 0.0:
        return None
    return number


class ClockError:
    """How wrong the clock of one stream (one life of a source) is.

    Readings arrive a little after they were taken, so the smallest of (received − taken) is the error of the clock,
    provided that readings came as they were taken. A backlog that arrives in one burst shows nothing; therefore readings
    within a second of the smallest difference must span ten seconds by the source's clock.
    """

    __slots__ = ("_least", "_spans")

    def __init__(self) -> None:
        self._least = math.inf
        self._spans: dict[int, tuple[float, float]] = {}  # whole seconds late -> first and last time taken

    def see(self, taken: float, received: float) -> None:
        """Take in one reading. taken: by the source's clock; received: by ours [s since the epoch]."""
        late = received - taken
        self._least = min(self._least, late)
        second = math.floor(late)
        first, last = self._spans.get(second, (taken, taken))
        self._spans[second] = (min(first, taken), max(last, taken))
        if len(self._spans) > 600:  # far later than the least: of no account
            keep = math.floor(self._least) + 300
            self._spans = {k: v for k, v in self._spans.items() if k <= keep}

    @property
    def seconds(self) -> int:
        """What to add to the source's times [s]; 0 while its clock seems right."""
        if not math.isfinite(self._least) or abs(self._least) < SMALLEST_CLOCK_ERROR:
            return 0
        second = math.floor(self._least)
        near = [self._spans[k] for k in (second, second + 1) if k in self._spans]
        if max(last for _, last in near) - min(first for first, _ in near) < _PACE:
            return 0
        return round(self._least)
