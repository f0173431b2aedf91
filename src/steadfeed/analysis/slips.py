"""Impossible readings: what cannot be, and which slip of the pen or of the display would explain it.

A check names the readings that cannot be true together. For every violation the likely slips are tried (another unit on
the display, two hoses or two clamps swapped, a fraction typed for a percentage), and the one that mends most with the
least change is proposed. Nothing is changed here: the person decides.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from steadfeed import units
from steadfeed.analysis.spot import SPOT_KINDS
from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
Typed = Mapping[str, tuple[float, str]]

#: What each reading is called in a sentence.
NAMES: Final[dict[str, str]] = {
    "suction_pressure": "suction pressure",
    "liquid_pressure": "head pressure",
    "discharge_pressure": "hot-gas pressure",
    "suction_line_temperature": "suction line",
    "liquid_line_temperature": "liquid line",
    "metering_inlet_temperature": "liquid line before the metering device",
    "evaporator_outlet_temperature": "pipe at the bulb",
    "discharge_line_temperature": "hot-gas line",
    "outdoor_air_temperature": "outdoor air",
    "condenser_inlet_air": "air at the outdoor coil",
    "condenser_outlet_air": "air leaving the outdoor coil",
    "return_air_dry_bulb": "return dry bulb",
    "return_air_wet_bulb": "return wet bulb",
    "return_air_relative_humidity": "return humidity",
    "supply_air_dry_bulb": "supply dry bulb",
    "supply_air_wet_bulb": "supply wet bulb",
    "supply_air_relative_humidity": "supply humidity",
    "compressor_current": "compressor current",
    "fan_current": "fan current",
    "power": "power",
    "airflow": "indoor airflow",
}

#: Temperatures that each reading can have on a running unit [°F].
_RANGES_F: Final[dict[str, tuple[float, float]]] = {
    "outdoor_air_temperature": (-40.0, 135.0),
    "condenser_inlet_air": (-40.0, 150.0),
    "condenser_outlet_air": (-40.0, 175.0),
    "return_air_dry_bulb": (40.0, 115.0),
    "return_air_wet_bulb": (30.0, 95.0),
    "supply_air_dry_bulb": (28.0, 170.0),
    "supply_air_wet_bulb": (25.0, 110.0),
    "suction_line_temperature": (-50.0, 130.0),
    "evaporator_outlet_temperature": (-50.0, 130.0),
    "liquid_line_temperature": (20.0, 170.0),
    "metering_inlet_temperature": (-20.0, 170.0),
    "discharge_line_temperature": (60.0, 350.0),
}
#: Units that one display can be switched between.
_OTHER_UNITS: Final[dict[str, tuple[str, ...]]] = {
    "pressure": ("psig", "kPag", "barg", "MPag", "psia", "kPaa", "bara"),
    "temperature": ("degF", "degC"),
}
#: Readings that are taken with two alike hoses, clamps or probes.
_PAIRS: Final = (
    ("suction_pressure", "liquid_pressure"),
    ("suction_pressure", "discharge_pressure"),
    ("suction_line_temperature", "liquid_line_temperature"),
    ("return_air_dry_bulb", "supply_air_dry_bulb"),
    ("return_air_dry_bulb", "return_air_wet_bulb"),
    ("supply_air_dry_bulb", "supply_air_wet_bulb"),
)
#: Superheat and subcooling that no running unit shows, however wrong it is [°F].
_LEAST_SUPERHEAT, _MOST_SUPERHEAT = -5.0, 95.0
_LEAST_SUBCOOLING, _MOST_SUBCOOLING = -8.0, 65.0


@dataclass(frozen=True, slots=True)
class Slip:
    """Readings that cannot be. names: readings concerned; text: one sentence that names the likely slip.

    correction: name -> (number, unit) that would mend it, {} when none is likely.
    """

    names: tuple[str, ...]
    text: str
    correction: Mapping[str, tuple[float, str]]


@dataclass(frozen=True, slots=True)
class _Violation:
    names: tuple[str, ...]
    text: str
    check: str


@dataclass(frozen=True, slots=True)
class _Change:
    """A slip that may have happened: what would have been meant, and how to say it."""

    typed: Mapping[str, tuple[float, str]]
    cost: float
    text: str


def examine(typed: Typed, system: System, curves: Curves, atmosphere: float) -> tuple[Slip, ...]:
    """Slips in readings as typed: name of SPOT_KINDS -> (number, unit). atmosphere: of the site [Pa]. Running unit.

    Empty when everything can be true together. Raises FixInput for a unit that the reading does not take.
    """
    known = dict(typed)
    slips: list[Slip] = []
    for _ in range(6):
        found = _violations(known, system, curves, atmosphere)
        if not found:
            break
        first = found[0]
        best = _best_change(known, found, system, curves, atmosphere)
        if best is None:
            slips.append(Slip(first.names, f"{first.text}; {_look(first)}.", {}))
            for name in first.names:
                known.pop(name, None)  # to see what else is wrong
            continue
        explained = [v for v in found if set(v.names) & set(best.typed)]
        words = explained[0] if explained else first
        slips.append(Slip(tuple(best.typed), f"{words.text}; {best.text}", dict(best.typed)))
        known.update(best.typed)
    return tuple(slips)


def _look(violation: _Violation) -> str:
    if violation.check == "superheat":
        return "check the refrigerant, the suction gauge’s zero and that the clamp sits on the suction line"
    if violation.check == "subcooling":
        return "check the refrigerant, the head gauge’s zero and that the clamp sits on the liquid line"
    if violation.check in ("order", "pressure"):
        return "check the hoses, the manifold’s valves and whether the compressor runs"
    return "read it again"


def _violations(typed: Typed, system: System, curves: Curves, atmosphere: float) -> list[_Violation]:
    v = {name: units.to_si(number, unit, SPOT_KINDS[name], atmosphere) for name, (number, unit) in typed.items()}
    out: list[_Violation] = []

    def shown(name: str) -> str:
        number, unit = typed[name]
        return f"{number:g} {_WORDS.get(unit, unit)}"

    def add(check: str, text: str, *names: str) -> None:
        out.append(_Violation(names, text, check))

    _single(v, typed, add, shown)
    suction = v.get("suction_pressure")
    head_name = "liquid_pressure" if "liquid_pressure" in v else "discharge_pressure"
    head = v.get(head_name)
    cooling = system.mode == "cooling"
    if suction is not None and head is not None and suction >= head:
        add(
            "order", f"Suction ({shown('suction_pressure')}) cannot reach head ({shown(head_name)}) while running",
            "suction_pressure", head_name,
        )  # fmt: skip
    evaporating = condensing = math.nan
    if suction is not None:
        evaporating = curves.dew_temperature(suction, outside="nan") if suction > 0 else math.nan
        low = -15.0 if cooling else -60.0
        if not low <= evaporating / F - 459.67 <= 75.0:
            at = "below" if suction < curves.dew_pressure(curves.minimum_temperature + 1.0) else "above"
            feels = (
                f"would evaporate at {_plain(evaporating / F - 459.67)} °F"
                if math.isfinite(evaporating)
                else f"lies {at} its range"
            )
            add("pressure", f"{curves.name} at a suction of {shown('suction_pressure')} {feels}", "suction_pressure")
    if head is not None:
        condensing = curves.bubble_temperature(head, outside="nan") if head > 0 else math.nan
        if not 40.0 <= condensing / F - 459.67 <= 165.0:
            feels = (
                f"would condense at {_plain(condensing / F - 459.67)} °F"
                if math.isfinite(condensing)
                else "lies outside its range"
            )
            add("pressure", f"{curves.name} at a head of {shown(head_name)} {feels}", head_name)
    line = v.get("suction_line_temperature")
    if line is not None and suction is not None and math.isfinite(evaporating):
        superheat = (line - evaporating) / F
        if not _LEAST_SUPERHEAT <= superheat <= _MOST_SUPERHEAT:
            add(
                "superheat", f"A superheat of {_plain(superheat)} °F cannot be (suction line {shown('suction_line_temperature')})",
                "suction_line_temperature", "suction_pressure",
            )  # fmt: skip
    liquid = v.get("liquid_line_temperature")
    if liquid is not None and head is not None and math.isfinite(condensing):
        subcooling = (condensing - liquid) / F
        if not _LEAST_SUBCOOLING <= subcooling <= _MOST_SUBCOOLING:
            add(
                "subcooling", f"A subcooling of {_plain(subcooling)} °F cannot be (liquid line {shown('liquid_line_temperature')})",
                "liquid_line_temperature", head_name,
            )  # fmt: skip
    _against_each_other(v, add, shown, evaporating, condensing, cooling, head_name)
    return out


def _single(v: Mapping[str, float], typed: Typed, add, shown) -> None:  # type: ignore[no-untyped-def]
    for name, (low, high) in _RANGES_F.items():
        if name in v and not low <= v[name] / F - 459.67 <= high:
            add("range", f"{_first(NAMES[name])} of {shown(name)} cannot be on a running unit", name)
    for name in ("return_air_relative_humidity", "supply_air_relative_humidity"):
        if name in v and not 0.0 <= v[name] <= 1.0:
            add("humidity", f"{_first(NAMES[name])} of {shown(name)} is above saturation", name)
        elif name in v and v[name] < 0.02:
            add("humidity", f"{_first(NAMES[name])} of {shown(name)} is drier than any room", name)
    for name in ("compressor_current", "fan_current", "power", "airflow"):
        if name in v and v[name] <= 0.0:
            add("range", f"{_first(NAMES[name])} of {shown(name)} cannot be on a running unit", name)
    for side in ("return", "supply"):
        dry, wet = v.get(f"{side}_air_dry_bulb"), v.get(f"{side}_air_wet_bulb")
        if dry is not None and wet is not None and wet > dry + 0.05:
            add(
                "wet bulb",
                f"The {side} wet bulb ({shown(f'{side}_air_wet_bulb')}) cannot lie above the dry bulb ({shown(f'{side}_air_dry_bulb')})",
                f"{side}_air_wet_bulb", f"{side}_air_dry_bulb",
            )  # fmt: skip


def _against_each_other(v, add, shown, evaporating, condensing, cooling, head_name) -> None:  # type: ignore[no-untyped-def]
    outdoor, inside = v.get("outdoor_air_temperature"), v.get("return_air_dry_bulb")
    supply = v.get("supply_air_dry_bulb")
    hot, cold = (outdoor, inside) if cooling else (inside, outdoor)
    hot_name, cold_name = "outdoor_air_temperature", "return_air_dry_bulb"
    if not cooling:
        hot_name, cold_name = cold_name, hot_name
    if hot is not None and math.isfinite(condensing):
        over = (condensing - hot) / F
        if not -6.0 <= over <= 68.0:
            add(
                "over ambient",
                f"Condensing {abs(over):.0f} °F {'over' if over > 0 else 'under'} the air that cools the coil cannot be "
                f"({shown(hot_name)})",
                hot_name, head_name,
            )  # fmt: skip
    liquid = v.get("liquid_line_temperature")
    if liquid is not None and hot is not None and (hot - liquid) / F > 20.0:
        add(
            "liquid", f"A liquid line ({shown('liquid_line_temperature')}) cannot be {_plain((hot - liquid) / F)} °F colder than "
            f"the air that cools the coil ({shown(hot_name)})",
            "liquid_line_temperature", hot_name,
        )  # fmt: skip
    line = v.get("suction_line_temperature")
    warmest = [t for t in (hot, cold) if t is not None]
    if line is not None and len(warmest) == 2 and (line - max(warmest)) / F > 8.0:
        add(
            "suction line", f"The suction line ({shown('suction_line_temperature')}) cannot be warmer than all the air around it",
            "suction_line_temperature",
        )  # fmt: skip
    if cold is not None and math.isfinite(evaporating) and evaporating > cold + 3.0 * F:
        add(
            "over evaporating", f"Evaporating above the air that is cooled cannot be ({shown(cold_name)})",
            cold_name, "suction_pressure",
        )  # fmt: skip
    discharge = v.get("discharge_line_temperature")
    if discharge is not None and math.isfinite(condensing) and discharge < condensing - 12.0 * F:
        add(
            "discharge",
            f"The hot-gas line ({shown('discharge_line_temperature')}) cannot be colder than the condensing temperature",
            "discharge_line_temperature", head_name,
        )  # fmt: skip
    if supply is not None and inside is not None:
        warms = (supply - inside) / F * (1.0 if cooling else -1.0)
        if warms > 4.0:
            doing = "cooling" if cooling else "heating"
            add(
                "split", f"Supply air of {shown('supply_air_dry_bulb')} with return air of {shown('return_air_dry_bulb')} is not {doing}",
                "supply_air_dry_bulb", "return_air_dry_bulb",
            )  # fmt: skip


_WORDS: Final = {"degF": "°F", "degC": "°C", "pct": "%", "m3_h": "m³/h", "L_s": "L/s", "m3_s": "m³/s"}


def _best_change(
    typed: Typed, found: list[_Violation], system: System, curves: Curves, atmosphere: float
) -> _Change | None:
    """The change after which fewest readings contradict each other; None when none helps."""
    best: tuple[float, _Change] | None = None
    for change in _changes(typed, found, atmosphere):
        try:
            left = _violations({**typed, **change.typed}, system, curves, atmosphere)
        except (FixInput, OverflowError):
            continue
        if len(left) >= len(found):
            continue
        score = len(left) + change.cost
        if best is None or score < best[0] - 1e-9:
            best = (score, change)
    return None if best is None else best[1]


def _changes(typed: Typed, found: list[_Violation], atmosphere: float) -> Iterator[_Change]:
    involved = list(dict.fromkeys(name for violation in found for name in violation.names))
    for name in involved:
        number, unit = typed[name]
        for other in _OTHER_UNITS.get(SPOT_KINDS[name], ()):
            if other != unit:
                said = _in_usual(number, other, SPOT_KINDS[name], atmosphere)
                yield _Change(
                    {name: (number, other)}, 0.30 + _odd(other),
                    f"{number:g} {_unit_words(other)} ({said}) would fit: was the {NAMES[name]} read in {_unit_words(other)}?",
                )  # fmt: skip
        if SPOT_KINDS[name] == "fraction" and 0.0 < number <= 1.0:
            yield _Change(
                {name: (number * 100.0, unit)}, 0.3, f"{number * 100:g} % would fit: was {number:g} meant as a share of one?"
            )  # fmt: skip
    for a, b in _PAIRS:
        if a in typed and b in typed and (a in involved or b in involved):
            yield _Change(
                {a: typed[b], b: typed[a]}, 0.35, f"the other way round they would fit: are {NAMES[a]} and {NAMES[b]} swapped?"
            )  # fmt: skip
    for kind in ("temperature", "pressure"):
        mine = [name for name in typed if SPOT_KINDS[name] == kind]
        if len(mine) < 2 or not set(mine) & set(involved):
            continue
        for other in _OTHER_UNITS[kind]:
            changed = {name: (typed[name][0], other) for name in mine if typed[name][1] != other}
            if len(changed) >= 2:
                yield _Change(
                    changed, 0.55 + _odd(other),
                    f"all {kind}s in {_unit_words(other)} would fit: was the instrument set to {_unit_words(other)}?",
                )  # fmt: skip


def _odd(unit: str) -> float:
    """Displays that are rarer cost more."""
    return {"psia": 0.12, "kPaa": 0.14, "bara": 0.14, "MPag": 0.06, "barg": 0.02}.get(unit, 0.0)


def _unit_words(unit: str) -> str:
    return {"degF": "°F", "degC": "°C", "kPag": "kPa", "barg": "bar", "MPag": "MPa"}.get(unit, unit)


def _in_usual(number: float, unit: str, kind: str, atmosphere: float) -> str:
    usual = {"pressure": "psig", "temperature": "degF"}[kind]
    shown = "degC" if unit == "degF" else usual if unit != usual else unit
    value = units.from_si(units.to_si(number, unit, kind, atmosphere), shown, kind, atmosphere)
    return f"{value:.0f} {_unit_words(shown)}"


def _plain(value: float) -> str:
    return f"{value:.0f}".replace("-", "−")


def _first(text: str) -> str:
    return text[0].upper() + text[1:]
