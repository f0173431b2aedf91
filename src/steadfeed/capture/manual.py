"""Readings that a person types from needle gauges: one row at a time, each known by the identity that the device gave it."""

from __future__ import annotations

import difflib
import math
import re
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from typing import ClassVar, Final

from steadfeed.capture.http_ingest import PushSource, Tally
from steadfeed.capture.reading_units import unit_of
from steadfeed.capture.source import SAME, Reading
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.errors import FixInput

#: Units that a bare number has.
USUAL_UNITS: Final[dict[str, str]] = {
    "pressure": "psig",
    "temperature": "degF",
    "fraction": "pct",
    "current": "A",
    "power": "W",
    "count": "steps",
}
_ORDER: Final = {channel: i for i, channel in enumerate(CHANNEL_KINDS)}
_TYPED: Final = re.compile(r"([-+−]?[\d.,'\s]*\d[.,]?)\s*([^\d\s].*)?")
_THOUSANDS: Final = re.compile(r"[1-9]\d{0,2}([,.' ])\d{3}(\1\d{3})*(?!\d)")

#: A reading as it stood before: (value, unit).
Before = Mapping[str, tuple[str, str]]


def split_typed(channel: str, text: str) -> tuple[str, str]:
    """Split "118 psig" or "40,5 °F" into a number as text and a unit of the channel's kind.

    A bare number takes the usual unit of the trade, a bare "psi" is gauge: it was read from a needle. Raises FixInput
    for what is no number with a unit of that kind.
    """
    kind = CHANNEL_KINDS[channel]
    words = channel.replace("_", " ")
    found = _TYPED.fullmatch(text.strip()) if len(text) <= 60 and text.isprintable() else None
    number = plain_number(found[1]) if found else None
    if found is None or number is None:
        raise FixInput(
            f"“{text.strip()[:30]}” is no reading of the {words}; write it as in “118 {USUAL_UNITS[kind]}”",
            code="bad number",
            where=channel,
        )
    if not (found[2] or "").strip():
        return number, USUAL_UNITS[kind]
    unit, of = unit_of(found[2], "vented")
    if of != kind:
        raise FixInput(f"{unit} is no unit of {kind}; the {words} needs one", code="unknown unit", where=channel)
    return number, unit


def plain_number(typed: str) -> str | None:
    """Return typed digits as a plain number with its digits kept: "1,204" is 1204, "40,5" is 40.5. None for no number."""
    text = typed.strip().replace("−", "-").replace("\u00a0", " ")
    sign = "-" if text[:1] == "-" else ""
    text = text.lstrip("+-").strip()
    if _THOUSANDS.match(text) and not text.startswith("0"):
        mark = _THOUSANDS.match(text)
        assert mark is not None
        # "1.204" is a number near one; only a comma, a blank or an apostrophe parts thousands there
        if mark[1] != "." or text.count(".") > 1:
            text = text.replace(mark[1], "")
    text = text.replace(",", ".")
    if not re.fullmatch(r"\d+\.?\d*|\.\d+", text):
        return None
    number = float(text)
    return sign + text if math.isfinite(number) else None


def decode_row(
    source: str,
    row_id: str,
    at: float,
    values: Mapping[str, str],
    *,
    same: Sequence[str] = (),
    not_read: Sequence[str] = (),
    before: Before | None = None,
    utc_offset: float | None = None,
    read_by: str = "person",
) -> tuple[Reading, ...]:
    """Read one row as typed.

    row_id: identity that the device gave it; at: when it was read [s since the epoch]. values: channel -> as typed, an
    empty text is "not read". same: channels read again and found unchanged; before: what they were. not_read: channels
    that could not be had. Raises FixInput when a value cannot be read, a channel is unknown or nothing is left.
    """
    cells: dict[str, tuple[str | None, str, str | None]] = {}
    for channel, text in values.items():
        _known(channel)
        if text.strip():
            number, unit = split_typed(channel, text)
            cells[channel] = (number, unit, None)
        else:
            cells[channel] = (None, USUAL_UNITS[CHANNEL_KINDS[channel]], "not read")
    for channel in same:
        _known(channel)
        if channel not in (before or {}):
            raise FixInput(
                f"The {channel.replace('_', ' ')} was not read before: type it", code="nothing before", where=channel
            )
        number, unit = (before or {})[channel]
        cells[channel] = (number, unit, SAME)
    for channel in not_read:
        _known(channel)
        cells[channel] = (None, USUAL_UNITS[CHANNEL_KINDS[channel]], "not read")
    if not any(value is not None for value, _, _ in cells.values()):
        raise FixInput("A row needs at least one reading", code="missing field", where="values")
    return tuple(
        Reading(source, row_id, _ORDER[channel], channel, value, unit, at, utc_offset, quality, read_by)
        for channel, (value, unit, quality) in sorted(cells.items(), key=lambda cell: _ORDER[cell[0]])
    )


def _known(channel: str) -> None:
    if channel not in CHANNEL_KINDS:
        near = difflib.get_close_matches(channel, CHANNEL_KINDS, n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise FixInput(f"No channel is called “{channel[:60]}”{hint}", code="unknown channel", where=channel[:60])


class ManualSource(PushSource):
    """A person with needle gauges. Silence is no alarm here: a row comes every few minutes at most."""

    kind: ClassVar[str] = "manual"

    def __init__(
        self, name: str = "by hand", *, silent_after: float = 900.0, clock: Callable[[], float] = time.time
    ) -> None:
        super().__init__(name, silent_after=silent_after, clock=clock)
        self._last_values: dict[str, tuple[str, str]] = {}

    def enter(
        self,
        row_id: str,
        at: float,
        values: Mapping[str, str],
        *,
        same: Sequence[str] = (),
        not_read: Sequence[str] = (),
        utc_offset: float | None = None,
        read_by: str = "person",
    ) -> tuple[tuple[Reading, ...], Future[Tally]]:
        """Take a row; return its readings and a future that is done once they are safe. See `decode_row`."""
        row = decode_row(
            self.name,
            row_id,
            at,
            values,
            same=same,
            not_read=not_read,
            before=self._last_values,
            utc_offset=utc_offset,
            read_by=read_by,
        )
        self.remember(row)
        return row, self.deliver(row)

    def remember(self, readings: Sequence[Reading]) -> None:
        """Take readings as those that "same" refers to; after a crash, those that were kept."""
        for reading in readings:
            if reading.value is not None:
                self._last_values[reading.header] = (reading.value, reading.unit)
