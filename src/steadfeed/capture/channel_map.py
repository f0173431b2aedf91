"""The channel map: which series of which source is which quantity at which place, confirmed by the person.

It is a value: made from JSON, written as JSON, never changed. What is proposed before the person confirms stands in
propose.py. A person's own set of instruments is remembered for each mode by itself: in heating the large service valve
carries hot gas, so the same hose means something else.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, get_args

from steadfeed.capture.reading_units import kind_of_unit, unit_of
from steadfeed.capture.source import Reading, plain_text
from steadfeed.circuit.channel import CHANNEL_KINDS, VITAL_CHANNELS
from steadfeed.circuit.equipment import Mode
from steadfeed.errors import FixInput

MODES: Final[tuple[str, ...]] = get_args(Mode)
#: A map holds at most so many rows.
MOST_ROWS: Final = 200


@dataclass(frozen=True, slots=True)
class MapRow:
    """One series and what it is.

    source, header: of the series. channel: key of CHANNEL_KINDS, None: not used. unit: unit that the person states, ""
    takes the one that is sent. circuit: "c2" for a circuit that is watched beside the one under test, None for the
    latter. confirmed: a person said so. Raises FixInput for a channel or unit that cannot be.
    """

    source: str
    header: str
    channel: str | None
    unit: str = ""
    circuit: str | None = None
    confirmed: bool = True

    def __post_init__(self) -> None:
        for text in (self.source, self.header):
            if not text or not plain_text(text):
                raise FixInput("A row of the channel map needs a source and a header", code="bad channel map")
        if self.circuit is not None and not (self.circuit[:1] == "c" and self.circuit[1:].isdigit()):
            raise FixInput(f"A watched circuit is called c2, c3 …, not “{self.circuit}”", code="bad channel map")
        if self.channel is None:
            return
        if self.channel not in CHANNEL_KINDS:
            near = difflib.get_close_matches(self.channel, CHANNEL_KINDS, n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise FixInput(f"No channel is called “{self.channel}”{hint}", code="unknown channel", where=self.header)
        if self.unit:
            self.check_unit(self.unit)

    def check_unit(self, unit: str) -> None:
        """Raise FixInput unless a unit is of this channel's kind."""
        kind = CHANNEL_KINDS[self.channel or ""]
        found = unit_of(unit)[1]
        if found != kind:
            raise FixInput(
                f"“{self.header}” comes in {unit}, which is no unit of {kind}; {str(self.channel).replace('_', ' ')} needs one",
                code="unit does not fit",
                where=self.header,
            )

    @property
    def place(self) -> str:
        """Channel with its circuit, as a column of a log is called: "c2_suction_pressure"."""
        return f"{self.circuit}_{self.channel}" if self.circuit else self.channel or ""


@dataclass(frozen=True, slots=True)
class Placed:
    """A reading with what it is. channel: as MapRow.place, "" when it is not used. unit: the one that counts."""

    reading: Reading
    channel: str
    unit: str


@dataclass(frozen=True)
class ChannelMap:
    """All rows of a challenge. Raises FixInput when two series claim to be the same quantity at the same place."""

    rows: tuple[MapRow, ...] = ()
    _by_series: dict[tuple[str, str], MapRow] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        if len(self.rows) > MOST_ROWS:
            raise FixInput(f"A channel map holds at most {MOST_ROWS} rows", code="bad channel map")
        taken: dict[str, MapRow] = {}
        for row in self.rows:
            series = (row.source, row.header)
            if series in self._by_series:
                raise FixInput(f"“{row.header}” of “{row.source}” stands twice in the channel map", code="series twice")
            self._by_series[series] = row
            if row.channel is None:
                continue
            other = taken.setdefault(row.place, row)
            if other is not row:
                raise FixInput(
                    f"Both “{other.header}” and “{row.header}” are mapped to {row.place.replace('_', ' ')}; keep one",
                    code="channel twice",
                    where=row.header,
                )

    def place(self, reading: Reading) -> Placed:
        """Return what a reading is. A series that is not mapped, or whose unit does not fit, is kept but not used."""
        row = self._by_series.get((reading.source, reading.header))
        if row is None or row.channel is None:
            return Placed(reading, "", reading.unit)
        unit = row.unit or reading.unit
        if kind_of_unit(unit) != CHANNEL_KINDS[row.channel]:
            return Placed(reading, "", reading.unit)
        return Placed(reading, row.place, unit)

    def row(self, source: str, header: str) -> MapRow | None:
        """Return the row of a series."""
        return self._by_series.get((source, header))

    def missing(self, circuit: str | None = None) -> tuple[str, ...]:
        """Name the vital channels that nothing feeds. A discharge port stands in for a liquid port."""
        fed = {row.channel for row in self.rows if row.circuit == circuit and row.channel}
        if "discharge_pressure" in fed:
            fed.add("liquid_pressure")
        return tuple(channel for channel in VITAL_CHANNELS if channel not in fed)

    def to_value(self) -> list[dict[str, Any]]:
        """Return the map as JSON keeps it."""
        return [_row_value(row) for row in self.rows]

    @staticmethod
    def from_value(value: object) -> ChannelMap:
        """Read a map from JSON. Raises FixInput when that is none."""
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise FixInput("A channel map is a list of rows", code="bad channel map")
        return ChannelMap(tuple(_row(one) for one in value))


def _row_value(row: MapRow) -> dict[str, Any]:
    names = ("source", "header", "channel", "unit", "circuit", "confirmed")
    return {name: getattr(row, name) for name in names}


def _row(value: object) -> MapRow:
    if not isinstance(value, Mapping):
        raise FixInput("A row of the channel map is an object with source, header and channel", code="bad channel map")
    texts = {key: value.get(key) for key in ("source", "header", "channel", "unit", "circuit")}
    if not all(text is None or isinstance(text, str) for text in texts.values()):
        raise FixInput("A row of the channel map holds texts", code="bad channel map")
    return MapRow(
        source=texts["source"] or "",
        header=texts["header"] or "",
        channel=texts["channel"] or None,
        unit=texts["unit"] or "",
        circuit=texts["circuit"] or None,
        confirmed=bool(value.get("confirmed", True)),
    )


@dataclass(frozen=True, slots=True)
class OwnSet:
    """A person's own instruments as they were confirmed last, each mode by itself. Circuits are not remembered."""

    rows: Mapping[str, tuple[MapRow, ...]] = field(default_factory=dict)

    def remember(self, confirmed: ChannelMap, mode: Mode) -> OwnSet:
        """Return the set with the confirmed rows of a map added; what was known of other series stays."""
        ours = {(row.source, row.header): row for row in self.rows.get(mode, ())}
        for row in confirmed.rows:
            if row.confirmed:
                ours[row.source, row.header] = replace(row, circuit=None)
        return OwnSet({**self.rows, mode: tuple(ours.values())[-MOST_ROWS:]})

    def recall(self, source: str, header: str, mode: Mode) -> MapRow | None:
        """Return how a series was mapped in this mode, None when it never was."""
        return next((r for r in self.rows.get(mode, ()) if (r.source, r.header) == (source, header)), None)

    def to_value(self) -> dict[str, Any]:
        """Return the set as JSON keeps it."""
        return {mode: [_row_value(row) for row in rows] for mode, rows in self.rows.items()}

    @staticmethod
    def from_value(value: object) -> OwnSet:
        """Read a set from JSON; what cannot be read any more is left out, since it can be confirmed again."""
        if not isinstance(value, Mapping):
            return OwnSet()
        kept: dict[str, tuple[MapRow, ...]] = {}
        for mode in MODES:
            kept[mode] = tuple(_readable(value.get(mode)))
        return OwnSet({mode: rows for mode, rows in kept.items() if rows})


def _readable(value: object) -> Iterable[MapRow]:
    if isinstance(value, Sequence) and not isinstance(value, str):
        for one in value[:MOST_ROWS]:
            try:
                yield _row(one)
            except FixInput:
                continue
