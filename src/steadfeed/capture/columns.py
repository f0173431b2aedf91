"""What the header of a column means: quantity, place, unit and circuit."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Literal

from steadfeed import units
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import PressureReference
from steadfeed.errors import FixInput

Role = Literal["time", "date", "elapsed", "channel", "read_by", "same", "ignored", "unknown"]

#: Word on the right-hand side of [columns] for a column that shall not be read.
IGNORE: Final = "ignore"


@dataclass(frozen=True, slots=True)
class Meaning:
    """What one header was understood to mean.

    channel, unit: of a channel, as in CHANNEL_KINDS and units.py; unit also of `elapsed`. circuit: "c1" … or None.
    kind: kind of quantity, also of an unknown column where its header gives it away ("pressure", "temperature").
    problem: code of what is missing ("unit missing", "unit unknown", "unit ambiguous"), "" when nothing is.
    unit_word: unit as written. exact: the header is written exactly as in the contract.
    """

    role: Role
    channel: str = ""
    unit: str = ""
    circuit: str | None = None
    kind: str = ""
    problem: str = ""
    unit_word: str = ""
    exact: bool = False

    @property
    def name(self) -> str:
        """Name of the column as the contract writes it."""
        prefix = f"{self.circuit}_" if self.circuit else ""
        if self.role == "channel":
            return prefix + channel_column(self.channel, self.unit)
        if self.role == "elapsed":
            return f"elapsed_{self.unit}"
        return prefix + self.role


def channel_column(channel: str, unit: str) -> str:
    """Name a column from channel and unit: "suction_pressure", "psig" -> "suction_pressure_psig"."""
    return channel if CHANNEL_KINDS[channel] == "count" else f"{channel}_{unit}"


_CHANNELS = "|".join(sorted((c for c in CHANNEL_KINDS if c != "valve_steps"), key=len, reverse=True))
_EXACT = re.compile(rf"(?:(c\d{{1,2}})_)?(?:({_CHANNELS})_([A-Za-z_0-9]+)|(valve_steps))")

#: A longer header is a text, and no channel.
_LONGEST_HEADER: Final = 120

# Words of a header that are written short, and the whole words they stand for.
_WORDS: Final = {
    "temp": "temperature", "temps": "temperature", "press": "pressure", "pres": "pressure", "db": "dry_bulb",
    "drybulb": "dry_bulb", "wb": "wet_bulb", "wetbulb": "wet_bulb", "rh": "relative_humidity",
    "humidity": "relative_humidity", "amps": "current", "amp": "current", "amperage": "current", "evap": "evaporator",
    "compr": "compressor", "ambient": "outdoor_air", "outdoors": "outdoor", "outside": "outdoor",
}  # fmt: skip

# Other words for one quantity at one place that leave no doubt. "Head" or "high side" is not among them: it may be
# tapped at the discharge or at the liquid line, and the subcooling depends on which.
_ALSO: Final = {
    "suction_line_pressure": "suction_pressure",
    "low_side_pressure": "suction_pressure",
    "liquid_line_pressure": "liquid_pressure",
    "discharge_line_pressure": "discharge_pressure",
    "suction_temperature": "suction_line_temperature",
    "liquid_temperature": "liquid_line_temperature",
    "outdoor_temperature": "outdoor_air_temperature",
    "outdoor_air": "outdoor_air_temperature",
    "outdoor_air_dry_bulb": "outdoor_air_temperature",
    "outdoor_dry_bulb": "outdoor_air_temperature",
    "return_dry_bulb": "return_air_dry_bulb",
    "return_wet_bulb": "return_air_wet_bulb",
    "return_air_temperature": "return_air_dry_bulb",
    "return_air_dry_bulb_temperature": "return_air_dry_bulb",
    "return_air_wet_bulb_temperature": "return_air_wet_bulb",
    "supply_dry_bulb": "supply_air_dry_bulb",
    "supply_wet_bulb": "supply_air_wet_bulb",
    "supply_air_temperature": "supply_air_dry_bulb",
    "supply_air_dry_bulb_temperature": "supply_air_dry_bulb",
    "supply_air_wet_bulb_temperature": "supply_air_wet_bulb",
    "return_relative_humidity": "return_air_relative_humidity",
    "valve_position_steps": "valve_steps",
}
_NAMES: Final[dict[str, str]] = {**{c: c for c in CHANNEL_KINDS}, **_ALSO}
_TIME: Final = frozenset(
    {"time", "timestamp", "time_stamp", "datetime", "date_time", "date_and_time", "local_time", "time_local"}
)
_ELAPSED: Final = frozenset({"elapsed", "elapsed_time", "time", "seconds"})

#: Pressure units that do not say whether they are gauge or absolute -> (gauge unit, absolute unit).
BARE_PRESSURE: Final = {
    "psi": ("psig", "psia"),
    "bar": ("barg", "bara"),
    "kPa": ("kPag", "kPaa"),
    "MPa": ("MPag", "MPaa"),
}
_BARE_LOWER: Final = {k.lower(): k for k in BARE_PRESSURE}


@lru_cache(maxsize=4096)
def understand(header: str, reference: PressureReference = "unknown") -> Meaning:
    """Tell what a header means.

    header: as received. reference: what the instruments' pressures count from, settles a bare "psi". Never raises:
    a header that means nothing known has the role "unknown".
    """
    found = _EXACT.fullmatch(header)
    if found:
        circuit, channel, unit, steps = found.groups()
        if steps:
            return Meaning("channel", "valve_steps", "steps", circuit, "count", exact=True)
        kind = CHANNEL_KINDS[channel]
        if unit in units.units_of(kind):
            return Meaning("channel", channel, unit, circuit, kind, exact=True)
    if header in ("time", "read_by", "same"):
        return Meaning(header, exact=True)  # type: ignore[arg-type]
    if header == "elapsed_s":
        return Meaning("elapsed", unit="s", kind="time", exact=True)
    if len(header) > _LONGEST_HEADER:
        return Meaning("unknown")
    return _tolerant(header, reference)


def _tolerant(header: str, reference: PressureReference) -> Meaning:
    circuit, words = _words(header)
    name, unit_word = _split_unit(words)
    whole = "_".join(words)
    if name in ("read_by", "same"):
        return Meaning(name)  # type: ignore[arg-type]
    if name in _TIME and not unit_word:
        return Meaning("time")
    if name == "date" and not unit_word:
        return Meaning("date")
    if name in _ELAPSED:
        unit = _unit(unit_word, "time") if unit_word else None
        if unit or name == "seconds":
            return Meaning("elapsed", unit=unit or "s", kind="time")
        if name == "elapsed" or name == "elapsed_time":
            return Meaning("elapsed", kind="time", problem="unit missing")
    channel = _NAMES.get(name) or _NAMES.get(whole)
    if channel is None:
        return Meaning("unknown", circuit=circuit, kind=_kind_of(name, unit_word), unit_word=unit_word)
    kind = CHANNEL_KINDS[channel]
    base = Meaning("channel", channel, "", circuit, kind, unit_word=unit_word)
    if kind == "count":
        return replace(base, unit="steps")
    if not unit_word and kind == "current" and re.search(r"\bamp(s|erage)?\b", header.lower().replace("_", " ")):
        return replace(base, unit="A")
    if not unit_word:
        return replace(base, problem="unit missing")
    unit = _unit(unit_word, kind)
    if unit:
        return replace(base, unit=unit)
    bare = _BARE_LOWER.get(unit_word.lower()) if kind == "pressure" else None
    if bare:
        gauge, absolute = BARE_PRESSURE[bare]
        if reference in ("vented", "sealed"):
            return replace(base, unit=gauge)
        if reference == "absolute":
            return replace(base, unit=absolute)
        return replace(base, unit_word=bare, problem="unit ambiguous")
    return replace(base, problem="unit unknown")


#: Lower-case words that may stand for a unit in a header; `units.canonical_unit` tells which.
_UNIT_WORDS: Final = frozenset(
    {u.lower() for k in ("pressure", "temperature", "current", "power", "fraction", "time") for u in units.units_of(k)}
    | {"°f", "°c", "f", "c", "deg_f", "deg_c", "fahrenheit", "celsius", "kelvin", *_BARE_LOWER}
) - {"1"}


@lru_cache(maxsize=1024)
def _unit(word: str, kind: str) -> str | None:
    if word.lower() not in _UNIT_WORDS:
        return None
    if word == "%":
        word = "pct"
    try:
        return units.canonical_unit(word, kind)
    except FixInput:
        return None


@lru_cache(maxsize=1024)
def nearest_channel(header: str, cutoff: float = 0.8) -> str:
    """Return the channel whose name is spelled most like a header, "" when none is."""
    if len(header) > _LONGEST_HEADER:
        return ""
    name, _ = _split_unit(_words(header)[1])
    found = difflib.get_close_matches(name, _NAMES, n=1, cutoff=cutoff)
    return _NAMES[found[0]] if found else ""


_BRACKETS = re.compile(r"^(.*?)[\s_]*[(\[{<]\s*([^)\]}>]*?)\s*[)\]}>]\s*$", re.DOTALL)
_SPLIT = re.compile(r"[^a-z0-9°%]+")


def _words(header: str) -> tuple[str | None, list[str]]:
    """Cut a header into lower-case words, the unit last; take the circuit off."""
    text = header.strip().lower().replace("º", "°").replace("˚", "°").replace("℉", "°f").replace("℃", "°c")
    text = re.sub(r"([a-z])\(([ga])\)", r"\1\2", text)  # kPa(g), psi(a)
    text = re.sub(r"\bdeg(?:rees?)?[\s_.]*([fc])\b", r"deg\1", text)
    text = re.sub(r"°\s+([fc])\b", r"°\1", text)
    text = re.sub(r"\b(psi|bar|kpa|mpa)[\s_.]+(?:([ga])|(g)auge|(a)bs(?:olute)?)\b", r"\1\2\3\4", text)
    unit = ""
    found = _BRACKETS.match(text)
    if found:
        text, unit = found[1], found[2]
    words = [w for w in _SPLIT.split(text) if w]
    circuit = None
    if words and re.fullmatch(r"c\d{1,2}", words[0]):
        circuit = words.pop(0)
    elif len(words) > 1 and words[0] == "circuit" and re.fullmatch(r"\d{1,2}", words[1]):
        circuit = f"c{int(words[1])}"
        del words[:2]
    elif words and re.fullmatch(r"circuit\d{1,2}", words[0]):
        circuit = f"c{int(words.pop(0)[7:])}"
    words = [_WORDS.get(w, w) for w in words]
    unit = unit.strip()
    return circuit, [*words, unit] if unit else words


def _split_unit(words: list[str]) -> tuple[str, str]:
    """Take the unit off the end of the words of a header."""
    if len(words) > 1 and words[-1] in _UNIT_WORDS:
        return "_".join(words[:-1]), words[-1]
    whole = "_".join(words)
    if whole in _NAMES or len(words) < 2 or whole in _TIME or whole in ("read_by", "same", "date"):
        return whole, ""
    name = "_".join(words[:-1])
    # "suction_pressure_volts": the name is known, the last word is a unit that is not
    if name in _NAMES:
        return name, words[-1]
    return whole, ""


def _kind_of(name: str, unit_word: str) -> str:
    unit = unit_word.lower()
    if unit in _BARE_LOWER or _unit(unit_word, "pressure") or "pressure" in name:
        return "pressure"
    if _unit(unit_word, "temperature") or "temperature" in name:
        return "temperature"
    return ""


def parse_target(target: str) -> Meaning:
    """Read the right-hand side of an entry of [columns].

    Raises FixInput unless it is a channel name with a unit, `time`, `elapsed_s`, `read_by`, `same` or `ignore`.
    """
    if target.strip().lower() == IGNORE:
        return Meaning("ignored", exact=True)
    meaning = understand(target.strip())
    if meaning.problem == "unit missing":
        example = example_unit(meaning.kind)
        raise FixInput(
            f"“{target}” has no unit; write “{target.strip()}_{example}” or another unit", code="unit missing"
        )
    if meaning.problem == "unit ambiguous":
        raise FixInput(ambiguous_unit(target, meaning.unit_word), code="unit ambiguous")
    if meaning.problem:
        raise FixInput(
            f"“{target}”: “{meaning.unit_word}” is no unit of {meaning.kind}; use one of {unit_list(meaning.kind)}",
            code="unit unknown",
        )
    if meaning.role == "unknown":
        near = nearest_channel(target, 0.5)
        hint = (
            f"did you mean “{channel_column(near, example_unit(CHANNEL_KINDS[near]))}”?"
            if near
            else "write for example “suction_pressure_psig”"
        )
        raise FixInput(f"“{target}” is no channel name ({hint})", code="unknown channel")
    return meaning


def example_unit(kind: str) -> str:
    """Return the unit that examples use for a kind of quantity."""
    examples = {"pressure": "psig", "temperature": "degF", "fraction": "pct", "current": "A", "power": "W", "time": "s"}
    return examples.get(kind, "")


def unit_list(kind: str) -> str:
    """Return the units of a kind as text."""
    return " ".join(u for u in units.units_of(kind) if u)


def ambiguous_unit(header: str, bare: str) -> str:
    """Write the sentence about a pressure unit that is neither gauge nor absolute."""
    gauge, absolute = BARE_PRESSURE[bare]
    return (
        f"“{header}” does not say whether {bare} is gauge or absolute; write {gauge} or {absolute}, "
        f"or give pressure_reference under [instruments]"
    )


def mapping_of(column_names: tuple[tuple[str, str], ...]) -> Mapping[str, Meaning]:
    """Return the entries of [columns] as header (spaces cut off) -> meaning."""
    return {header.strip(): parse_target(target) for header, target in column_names}
