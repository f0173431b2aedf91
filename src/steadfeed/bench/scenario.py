"""Scenarios: a unit of an invented company with a complaint, and its hidden truth, read from text.

`Briefing` is what a learner may see; `Scenario` also holds the truth. Only `briefing` leaves the bench before the answer.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib.resources import files
from typing import Any, Final

import numpy as np

from steadfeed.bench.causes import CAUSES, DO_NOT_TEST, UNDECIDED
from steadfeed.bench.faults import Faults
from steadfeed.bench.log_text import moment_of
from steadfeed.bench.settings import (
    ConductSettings,
    F,
    KitSettings,
    KnownSettings,
    ParkingSettings,
    Settings,
    UnitSettings,
    WeatherSettings,
)
from steadfeed.bench.tables import read_table
from steadfeed.circuit.verdict import STATES
from steadfeed.errors import FixInput
from steadfeed.units import standard_atmosphere, to_si

LEVELS: Final = ("first steps", "everyday", "tricky")
#: Longest title and longest sentence that a screen shows in one line.
LONGEST_TITLE: Final = 48
#: How much a seed varies a scenario, standard deviations: outdoor and indoor air [K], airflow and charge [-].
VARIED_OUTDOOR: Final = 1.2 * F
VARIED_INDOOR: Final = 0.6 * F
VARIED_SHARE: Final = 0.01
_TABLES: Final = (
    "unit", "weather", "faults", "second_faults", "conduct", "instruments", "known", "parking", "truth",
)  # fmt: skip
_TEXTS: Final = ("title", "place", "complaint", "level", "start")


@dataclass(frozen=True, slots=True)
class Briefing:
    """What a learner may see. minutes: a good time for the whole visit [min]."""

    name: str
    title: str
    place: str
    complaint: str
    level: str
    mode: str
    refrigerant: str
    nameplate: tuple[tuple[str, str], ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class Hidden:
    """The truth. answers: right verdicts, first the best; causes: right causes; text: what was wrong; lesson: what to
    take home; why_not: why the unit must not be tested, "" when it may.
    """

    answers: tuple[str, ...]
    causes: tuple[str, ...]
    text: str
    lesson: str
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A scenario with its truth. start: moment of the plant's time 0 [s since the Unix epoch]; offset from UTC [s]."""

    name: str
    title: str
    place: str
    complaint: str
    level: str
    start: float
    offset: float
    minutes: float
    settings: Settings
    hidden: Hidden

    @property
    def briefing(self) -> Briefing:
        """What may be shown before the answer."""
        return Briefing(
            self.name, self.title, self.place, self.complaint, self.level, self.settings.unit.mode,
            self.settings.known.refrigerant or self.settings.unit.refrigerant, nameplate(self.settings), self.minutes,
        )  # fmt: skip


def nameplate(settings: Settings) -> tuple[tuple[str, str], ...]:
    """Rows of the nameplate and of what the technician knows: (what, text)."""
    from steadfeed.bench.setup import atmosphere_of, switch_of
    from steadfeed.physics.properties import curves
    from steadfeed.units import FOOT, PSI, TON

    unit, known, weather = settings.unit, settings.known, settings.weather
    hidden = set(known.hidden)
    rows = [("refrigerant", known.refrigerant or unit.refrigerant)]
    if "nominal_capacity" not in hidden:
        rows.append(("capacity", f"{unit.capacity / TON:g} tons"))
    if "metering_device" not in hidden:
        rows.append(("metering device", known.metering_device or unit.metering_device))
    if "compressor_type" not in hidden:
        rows.append(("compressor", f"{unit.compressor}, {unit.compressor_control}"))
    if "fan_control" not in hidden and unit.fan_control != "on-off":
        rows.append(("condenser fan", unit.fan_control))
    if unit.circuits > 1:
        rows.append(("circuits", str(unit.circuits)))
    if known.nameplate_subcooling:
        rows.append(("subcooling", f"{known.nameplate_subcooling * 1.8:.0f} °F"))
    if known.switch_known:
        trip, _ = switch_of(unit, curves(unit.refrigerant))
        rows.append(("high-pressure switch", f"{(trip - atmosphere_of(settings)) / PSI:.0f} psig"))
    if unit.packaged:
        rows.append(("piping", "packaged, no line set"))
    elif "line_set" not in hidden:
        rows.append(("line set", f"{unit.line_length / FOOT:.0f} ft, lift {unit.lift / FOOT:.0f} ft"))
    rows.append(("altitude", f"{weather.altitude / FOOT:.0f} ft"))
    return tuple(rows)


def read_scenario(text: str, name: str) -> Scenario:
    """Read a scenario. name: its file's stem. Raises FixInput naming the scenario, the table and the key."""
    where = f"scenario {name}"
    try:
        data: Mapping[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FixInput(f"The {where} is no valid TOML: {error}", where=name) from error
    for key in data:
        if key not in (*_TABLES, *_TEXTS, "minutes"):
            near = difflib.get_close_matches(key, (*_TABLES, *_TEXTS, "minutes"), n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise FixInput(f"The {where} has no use for the key {key}{hint}", where=name, code="unknown key")
    for key in _TEXTS:
        if not isinstance(data.get(key), str):
            raise FixInput(f'The {where} lacks {key} = "…"', where=name)
    if len(data["title"]) > LONGEST_TITLE:
        raise FixInput(f"The title of {where} is longer than {LONGEST_TITLE} characters", where=name)
    if data["level"] not in LEVELS:
        raise FixInput(f"The level of {where} must be one of {', '.join(LEVELS)}", where=name)
    try:
        start, offset = moment_of(data["start"])
    except (ValueError, IndexError) as error:
        raise FixInput(f'The start of {where} must be a moment like "2026-07-14T13:05:00-05:00"', where=name) from error
    minutes = data.get("minutes", 30)
    if isinstance(minutes, bool) or not isinstance(minutes, int | float) or not minutes > 0:
        raise FixInput(f"The minutes of {where} must be a number above 0", where=name)
    return Scenario(
        name=name, title=data["title"], place=data["place"], complaint=data["complaint"], level=data["level"],
        start=start, offset=offset, minutes=float(minutes), settings=_settings(data, where), hidden=_hidden(data, where),
    )  # fmt: skip


def _settings(data: Mapping[str, Any], where: str) -> Settings:
    raw = data.get("weather", {})
    height = 0.0
    for unit in ("ft", "m"):
        if isinstance(raw, Mapping) and isinstance(raw.get(f"altitude_{unit}"), int | float):
            height = to_si(float(raw[f"altitude_{unit}"]), unit, "length")
    air = standard_atmosphere(height)

    def table(cls: type[Any], key: str) -> Any:
        return read_table(cls, data.get(key, {}), f"{where}, [{key}]", air)

    return Settings(
        unit=table(UnitSettings, "unit"), weather=table(WeatherSettings, "weather"),
        faults=_faults(data.get("faults", {}), f"{where}, [faults]", air),
        second_faults=_faults(data.get("second_faults", {}), f"{where}, [second_faults]", air),
        conduct=table(ConductSettings, "conduct"), kit=table(KitSettings, "instruments"),
        known=table(KnownSettings, "known"), parking=table(ParkingSettings, "parking"),
    )  # fmt: skip


def _faults(data: object, where: str, air: float) -> Faults:
    if not isinstance(data, Mapping):
        raise FixInput(f"{where} must be a table", where=where)
    plain = {k: v for k, v in data.items() if k != "metering"}
    metering = data.get("metering", {})
    if isinstance(metering, Mapping) and "friction_degF" in metering:
        metering = {k: v for k, v in metering.items() if k != "friction_degF"} | {
            "friction": metering["friction_degF"] * F
        }
    if isinstance(metering, Mapping) and "equalizer_lag_s" in metering:
        metering = {k: v for k, v in metering.items() if k != "equalizer_lag_s"} | {
            "equalizer_lag": metering["equalizer_lag_s"]
        }
    return read_table(Faults, {**plain, "metering": metering}, where, air)


def _hidden(data: Mapping[str, Any], where: str) -> Hidden:
    truth = data.get("truth")
    if not isinstance(truth, Mapping):
        raise FixInput(f"The {where} lacks its table [truth]", where=where)
    unknown = set(truth) - {"answers", "causes", "text", "lesson", "why_not"}
    if unknown:
        raise FixInput(f"The {where}, [truth] has no use for {sorted(unknown)[0]}", where=where, code="unknown key")
    answers, causes = truth.get("answers"), truth.get("causes")
    allowed = (*STATES, UNDECIDED, DO_NOT_TEST)
    for key, value, words in (("answers", answers, allowed), ("causes", causes, tuple(CAUSES))):
        if not isinstance(value, list) or not value:
            raise FixInput(f"The {where}, [truth] lacks {key} = [ … ]", where=where)
        for one in value:
            if one not in words:
                near = difflib.get_close_matches(str(one), words, n=1)
                tip = f"; did you mean “{near[0]}”?" if near else ""
                raise FixInput(f"The {where}, [truth] {key}: “{one}” is none of {', '.join(words)}{tip}", where=where)
    for key in ("text", "lesson"):
        if not isinstance(truth.get(key), str) or not truth[key].strip():
            raise FixInput(f'The {where}, [truth] lacks {key} = "…"', where=where)
    assert isinstance(answers, list)
    assert isinstance(causes, list)
    why_not = truth.get("why_not", "")
    if (answers[0] == DO_NOT_TEST) != bool(why_not):
        raise FixInput(f"The {where}, [truth]: “{DO_NOT_TEST}” and why_not go together", where=where)
    return Hidden(tuple(answers), tuple(causes), truth["text"].strip(), truth["lesson"].strip(), why_not)


def varied(settings: Settings, seed: int) -> Settings:
    """The same scenario on another day: seed 0 as written, others with a little other weather and charge."""
    if seed == 0:
        return settings
    rng = np.random.default_rng(np.random.SeedSequence([seed, 5]))
    moves = np.clip(rng.standard_normal(4), -1.8, 1.8)
    weather = replace(
        settings.weather,
        outdoor=settings.weather.outdoor + VARIED_OUTDOOR * float(moves[0]),
        return_dry_bulb=settings.weather.return_dry_bulb + VARIED_INDOOR * float(moves[1]),
        return_wet_bulb=settings.weather.return_wet_bulb + VARIED_INDOOR * float(moves[1]),
        indoor_airflow=settings.weather.indoor_airflow * (1.0 + VARIED_SHARE * float(moves[2])),
    )
    faults = replace(settings.faults, charge=settings.faults.charge * (1.0 + VARIED_SHARE * float(moves[3])))
    return replace(settings, weather=weather, faults=faults)


@lru_cache(maxsize=1)
def catalog_texts() -> Mapping[str, str]:
    """Scenarios of the package: name -> text."""
    folder = files("steadfeed.bench") / "scenarios"
    return {
        entry.name.removesuffix(".toml"): entry.read_text(encoding="utf-8")
        for entry in sorted(folder.iterdir(), key=lambda e: e.name)
        if entry.name.endswith(".toml")
    }


@lru_cache(maxsize=128)
def _from_catalog(name: str) -> Scenario:
    return read_scenario(catalog_texts()[name], name)


def catalog() -> tuple[Scenario, ...]:
    """Every scenario of the package, by level and name."""
    all_of_them = [_from_catalog(name) for name in catalog_texts()]
    return tuple(sorted(all_of_them, key=lambda s: (LEVELS.index(s.level), s.name)))


def scenario(name: str) -> Scenario:
    """One scenario of the package. Raises FixInput naming the nearest."""
    if name not in catalog_texts():
        near = difflib.get_close_matches(name.lower(), catalog_texts(), n=1)
        hint = f"did you mean {near[0]}?" if near else "see steadfeed bench list"
        raise FixInput(f"There is no scenario “{name}”; {hint}", code="unknown scenario", where=name)
    return _from_catalog(name)
