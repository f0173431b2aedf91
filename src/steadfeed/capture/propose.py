"""What a series seems to be, from its name and from physics. A proposal only: the person confirms it.

Names depend on the mode. In cooling the large service valve is on suction; in heating it carries hot gas, and suction is
had at the common suction port alone. Physics has a say where names do not, and against names that it contradicts.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from steadfeed import units
from steadfeed.capture.channel_map import ChannelMap, MapRow, OwnSet
from steadfeed.capture.columns import understand
from steadfeed.capture.reading_units import kind_of_unit
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import Mode
from steadfeed.physics.properties import Curves

#: A unit runs when its head stands so much above suction [ratio of absolute pressures].
_RUNNING: Final = 1.3
#: Two gauges that read further apart than this do not read one pressure [ratio].
_APART: Final = 1.1


@dataclass(frozen=True, slots=True)
class Series:
    """One series that a source sends. unit: as sent, "" for none; value: the newest, as a number in that unit."""

    source: str
    header: str
    unit: str
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a series seems to be. row: not confirmed unless remembered; why: one sentence; doubt: what to look at, or ""."""

    row: MapRow
    why: str
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Proposals:
    """All series, in the order given. missing: vital channels that nothing seems to feed."""

    all: tuple[Proposal, ...]
    missing: tuple[str, ...]

    @property
    def map(self) -> ChannelMap:
        """The map that the proposals make."""
        return ChannelMap(tuple(proposal.row for proposal in self.all))


# Words of a name -> channel; the first line whose words are all in the name counts. In cooling / in heating.
_PRESSURES: Final[tuple[tuple[frozenset[str], str, str], ...]] = (
    (frozenset({"common", "suction"}), "suction_pressure", "suction_pressure"),
    (frozenset({"discharge"}), "discharge_pressure", "discharge_pressure"),
    (frozenset({"hot", "gas"}), "discharge_pressure", "discharge_pressure"),
    (frozenset({"vapor"}), "suction_pressure", "discharge_pressure"),
    (frozenset({"large"}), "suction_pressure", "discharge_pressure"),
    (frozenset({"liquid"}), "liquid_pressure", "liquid_pressure"),
    (frozenset({"small"}), "liquid_pressure", "liquid_pressure"),
    (frozenset({"suction"}), "suction_pressure", "suction_pressure"),
    (frozenset({"low"}), "suction_pressure", "suction_pressure"),
    (frozenset({"blue"}), "suction_pressure", "suction_pressure"),
    (frozenset({"head"}), "liquid_pressure", "liquid_pressure"),
    (frozenset({"high"}), "liquid_pressure", "liquid_pressure"),
    (frozenset({"red"}), "liquid_pressure", "liquid_pressure"),
)
_TEMPERATURES: Final[tuple[tuple[frozenset[str], str, str], ...]] = (
    (frozenset({"return", "wet"}), "return_air_wet_bulb", "return_air_wet_bulb"),
    (frozenset({"return"}), "return_air_dry_bulb", "return_air_dry_bulb"),
    (frozenset({"supply", "wet"}), "supply_air_wet_bulb", "supply_air_wet_bulb"),
    (frozenset({"supply"}), "supply_air_dry_bulb", "supply_air_dry_bulb"),
    (frozenset({"outdoor"}), "outdoor_air_temperature", "outdoor_air_temperature"),
    (frozenset({"outside"}), "outdoor_air_temperature", "outdoor_air_temperature"),
    (frozenset({"ambient"}), "outdoor_air_temperature", "outdoor_air_temperature"),
    (frozenset({"discharge"}), "discharge_line_temperature", "discharge_line_temperature"),
    (frozenset({"hot", "gas"}), "discharge_line_temperature", "discharge_line_temperature"),
    (frozenset({"evaporator"}), "evaporator_outlet_temperature", "evaporator_outlet_temperature"),
    (frozenset({"bulb", "pipe"}), "evaporator_outlet_temperature", "evaporator_outlet_temperature"),
    (frozenset({"common", "suction"}), "suction_line_temperature", "suction_line_temperature"),
    (frozenset({"vapor"}), "suction_line_temperature", "discharge_line_temperature"),
    (frozenset({"large"}), "suction_line_temperature", "discharge_line_temperature"),
    (frozenset({"liquid"}), "liquid_line_temperature", "liquid_line_temperature"),
    (frozenset({"small"}), "liquid_line_temperature", "liquid_line_temperature"),
    (frozenset({"suction"}), "suction_line_temperature", "suction_line_temperature"),
    (frozenset({"low"}), "suction_line_temperature", "suction_line_temperature"),
)
_OTHERS: Final[dict[str, tuple[tuple[frozenset[str], str, str], ...]]] = {
    "current": (
        (frozenset({"fan"}), "fan_current", "fan_current"),
        (frozenset({"compressor"}), "compressor_current", "compressor_current"),
    ),
    "power": ((frozenset({"power"}), "power", "power"),),
    "fraction": ((frozenset({"return"}), "return_air_relative_humidity", "return_air_relative_humidity"),),
    "count": ((frozenset({"valve"}), "valve_steps", "valve_steps"),),
}
_WORD: Final = re.compile(r"[a-z]+")
_SPELLINGS: Final = {"vapour": "vapor", "big": "large", "lowside": "low", "highside": "high", "hotgas": "hot"}


def propose(
    series: Sequence[Series],
    mode: Mode,
    own: OwnSet | None = None,
    curves: Curves | None = None,
    atmosphere: float = units.STANDARD_ATMOSPHERE,
) -> Proposals:
    """Propose what each series is.

    own: what the person confirmed before, which counts before names and physics. curves: of the refrigerant; with them
    temperatures without a telling name can be placed while the unit runs. atmosphere: pressure of the air [Pa].
    """
    own = own or OwnSet()
    found = [_by_memory(one, mode, own) or _by_name(one, mode) for one in series]
    found = _one_each(found)
    values = [_si(one, proposal.row, atmosphere) for one, proposal in zip(series, found, strict=True)]
    found = _by_pressures(series, found, values)
    found = _by_temperatures(series, found, values, curves)
    found = _doubts(found, values, mode)
    return Proposals(tuple(found), ChannelMap(tuple(proposal.row for proposal in found)).missing())


def _by_memory(one: Series, mode: Mode, own: OwnSet) -> Proposal | None:
    row = own.recall(one.source, one.header, mode)
    if row is None:
        return None
    if row.channel and CHANNEL_KINDS[row.channel] != kind_of_unit(row.unit or one.unit):
        return None  # the source sends something else under that name now
    return Proposal(row, "As you confirmed it before")


def _by_name(one: Series, mode: Mode) -> Proposal:
    meaning = understand(one.header)
    kind = kind_of_unit(one.unit) or (
        CHANNEL_KINDS.get(meaning.channel, "") if meaning.role == "channel" else meaning.kind
    )
    unit = "" if one.unit else meaning.unit
    if meaning.role == "channel" and kind == CHANNEL_KINDS[meaning.channel] and (one.unit or meaning.unit):
        return Proposal(
            MapRow(one.source, one.header, meaning.channel, unit, meaning.circuit, confirmed=False), "Named so"
        )
    nothing = Proposal(MapRow(one.source, one.header, None, confirmed=False), "Its name does not tell")
    if not one.unit or not kind:
        return replace(nothing, why="It comes without a unit", doubt="Say which unit this is")
    lines = {"pressure": _PRESSURES, "temperature": _TEMPERATURES}.get(kind) or _OTHERS.get(kind, ())
    for text in (one.header, f"{one.source} {one.header}"):
        words = {_SPELLINGS.get(word, word) for word in _WORD.findall(text.lower())}
        for needed, cooling, heating in lines:
            if needed <= words:
                channel = cooling if mode == "cooling" else heating
                return Proposal(
                    MapRow(one.source, one.header, channel, confirmed=False),
                    f"“{' '.join(sorted(needed))}” in its name",
                )
    return nothing


def _one_each(found: list[Proposal]) -> list[Proposal]:
    """Of several series with one meaning the remembered one keeps it, else the first; the others are left open."""
    taken: dict[str, int] = {}
    order = sorted(range(len(found)), key=lambda i: (not found[i].row.confirmed, i))
    for i in order:
        row = found[i].row
        if row.channel is None:
            continue
        if row.place in taken:
            other = found[taken[row.place]].row
            found[i] = Proposal(
                replace(row, channel=None, confirmed=False),
                "Its name does not tell",
                f"“{other.header}” seems to be the {_words(row.channel)} too: choose",
            )
        else:
            taken[row.place] = i
    return found


def _si(one: Series, row: MapRow, atmosphere: float) -> float | None:
    unit = row.unit or one.unit
    kind = kind_of_unit(unit)
    if one.value is None or not kind or not math.isfinite(one.value):
        return None
    return units.to_si(one.value, unit, kind, atmosphere)


def _open(series: Sequence[Series], found: Sequence[Proposal], kind: str) -> list[int]:
    return [
        i
        for i, (one, proposal) in enumerate(zip(series, found, strict=True))
        if proposal.row.channel is None and not proposal.row.confirmed and kind_of_unit(one.unit) == kind
    ]


def _held(found: Iterable[Proposal], values: Sequence[float | None], *channels: str) -> float | None:
    for channel in channels:
        for proposal, value in zip(found, values, strict=True):
            if proposal.row.channel == channel and proposal.row.circuit is None and value is not None:
                return value
    return None


def _by_pressures(series: Sequence[Series], found: list[Proposal], values: list[float | None]) -> list[Proposal]:
    """Of two pressures that stand apart the lower is suction; which port the higher is on, a person must say."""
    known = [i for i in _open(series, found, "pressure") if values[i] is not None]
    low = _held(found, values, "suction_pressure")
    high = _held(found, values, "liquid_pressure", "discharge_pressure")
    if low is None and high is None and len(known) == 2:
        first, second = sorted(known, key=lambda i: values[i] or 0.0)
        if (values[second] or 0.0) > _APART * (values[first] or 0.0):
            found = _set(found, first, "suction_pressure", "It is the lower of two pressures")
            return _set(found, second, "liquid_pressure", "It is the higher of two pressures", _WHERE_TAPPED)
        found[first] = replace(found[first], doubt="Both gauges read alike: start the unit, then they tell")
        found[second] = replace(found[second], doubt="Both gauges read alike: start the unit, then they tell")
    elif len(known) == 1 and (low is None) != (high is None):
        value = values[known[0]] or 0.0
        if low is not None and value > _APART * low:
            return _set(found, known[0], "liquid_pressure", "It reads above suction", _WHERE_TAPPED)
        if high is not None and high > _APART * value:
            return _set(found, known[0], "suction_pressure", "It reads below the head")
    return found


_WHERE_TAPPED: Final = "Is it on the liquid line or the discharge?"


def _set(found: list[Proposal], at: int, channel: str, why: str, doubt: str = "") -> list[Proposal]:
    if any(p.row.channel == channel and p.row.circuit is None for p in found):
        return found
    out = list(found)
    out[at] = Proposal(replace(found[at].row, channel=channel), why, doubt)
    return out


def _by_temperatures(
    series: Sequence[Series], found: list[Proposal], values: list[float | None], curves: Curves | None
) -> list[Proposal]:
    """Place temperatures between evaporating and condensing temperature, each where only one of them fits."""
    low = _held(found, values, "suction_pressure")
    high = _held(found, values, "liquid_pressure", "discharge_pressure")
    if curves is None or low is None or high is None or high < _RUNNING * low:
        return found
    evaporating = float(curves.dew_temperature(low, outside="nan"))
    condensing = float(curves.bubble_temperature(high, outside="nan"))
    if not (math.isfinite(evaporating) and math.isfinite(condensing)):
        return found
    # [K] wide enough for any unit that can be tested, and apart from each other on most
    windows = {
        "suction_line_temperature": (evaporating - 2.0, evaporating + 14.0),
        "liquid_line_temperature": (condensing - 14.0, condensing + 1.0),
        "discharge_line_temperature": (condensing + 8.0, condensing + 60.0),
    }
    fits: dict[str, list[int]] = {channel: [] for channel in windows}
    for i in _open(series, found, "temperature"):
        inside = [
            c for c, (start, end) in windows.items() if values[i] is not None and start <= (values[i] or 0) <= end
        ]
        if len(inside) == 1:
            fits[inside[0]].append(i)
    for channel, which in fits.items():
        if len(which) == 1:
            found = _set(found, which[0], channel, f"Only the {_words(channel)} has such a temperature now")
    return found


def _doubts(found: list[Proposal], values: list[float | None], mode: Mode) -> list[Proposal]:
    """Say where physics contradicts a name."""
    low = _held(found, values, "suction_pressure")
    high = _held(found, values, "liquid_pressure", "discharge_pressure")
    out = []
    for proposal, value in zip(found, values, strict=True):
        channel, doubt = proposal.row.channel, proposal.doubt
        if proposal.row.circuit is None and value is not None and low is not None and high is not None:
            if channel == "suction_pressure" and low > _APART * high:
                doubt = "It reads above the head: are the hoses swapped?"
                if mode == "heating":
                    doubt = "In heating the large valve carries hot gas"
            elif channel == "suction_pressure" and mode == "heating" and not doubt and not proposal.row.confirmed:
                doubt = "Is it on the common suction port?"
        out.append(replace(proposal, doubt=doubt))
    suction = _held(found, values, "suction_line_temperature")
    liquid = _held(found, values, "liquid_line_temperature")
    running = low is not None and high is not None and high > _RUNNING * low
    if running and suction is not None and liquid is not None and suction > liquid + 5.0:
        return [
            replace(p, doubt="It is warmer than the liquid line: clamps swapped?")
            if p.row.channel == "suction_line_temperature" and p.row.circuit is None
            else p
            for p in out
        ]
    return out


def _words(channel: str) -> str:
    return channel.replace("_temperature", "").replace("_", " ")
