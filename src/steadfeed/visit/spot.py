"""Spot readings as a use case: from what a person typed to numbers, targets, causes and the next test.

Nothing that was typed is lost: impossible readings come back as slips with a likely correction, beside what was typed.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from steadfeed import units
from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput
from steadfeed.visit.typed import USUAL_UNITS, need_refrigerant, number_and_unit

if TYPE_CHECKING:
    from steadfeed.analysis.charge_level import ChargeLevel
    from steadfeed.analysis.diagnosis.combine import Diagnosis
    from steadfeed.analysis.next_test import NextTest
    from steadfeed.analysis.slips import Slip
    from steadfeed.analysis.spot import Spot
    from steadfeed.analysis.targets import Target
    from steadfeed.analysis.words import Units

#: Reading -> (option, kind, what is asked at the prompt), in the order in which people walk round a unit.
READINGS: Final[dict[str, tuple[str, str, str]]] = {
    "suction_pressure": ("--suction", "pressure", "Suction pressure"),
    "liquid_pressure": ("--head", "pressure", "Head pressure, liquid port"),
    "suction_line_temperature": ("--suction-line", "temperature", "Suction line temperature"),
    "liquid_line_temperature": ("--liquid-line", "temperature", "Liquid line temperature"),
    "outdoor_air_temperature": ("--outdoor", "temperature", "Outdoor air"),
    "return_air_dry_bulb": ("--return-air", "temperature", "Return air, dry bulb"),
    "return_air_wet_bulb": ("--return-wet-bulb", "temperature", "Return air, wet bulb"),
    "return_air_relative_humidity": ("--return-humidity", "fraction", "Return air, relative humidity"),
    "supply_air_dry_bulb": ("--supply-air", "temperature", "Supply air, dry bulb"),
    "supply_air_wet_bulb": ("--supply-wet-bulb", "temperature", "Supply air, wet bulb"),
    "supply_air_relative_humidity": ("--supply-humidity", "fraction", "Supply air, relative humidity"),
    "discharge_line_temperature": ("--discharge-line", "temperature", "Hot-gas line temperature"),
    "compressor_current": ("--current", "current", "Compressor current"),
    "metering_inlet_temperature": ("--before-device", "temperature", "Liquid line before the metering device"),
    "evaporator_outlet_temperature": ("--at-bulb", "temperature", "Suction line beside the bulb"),
    "condenser_inlet_air": ("--coil-air-in", "temperature", "Air at the outdoor coil's face"),
    "condenser_outlet_air": ("--coil-air-out", "temperature", "Air leaving the outdoor coil"),
    "discharge_pressure": ("--hot-gas-pressure", "pressure", "Head pressure, hot-gas port"),
    "fan_current": ("--fan-current", "current", "Outdoor fan current"),
    "power": ("--power", "power", "Power of the whole unit"),
    "airflow": ("--airflow", "airflow", "Indoor airflow"),
}
FOUR: Final = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")

Typed = dict[str, tuple[float, str]]


@dataclass(frozen=True, slots=True)
class SpotResult:
    """What a set of readings says. typed: as read; slips: impossible readings (then the rest is empty). targets by
    quantity. moved: causes whose likelihood the entered outcomes moved: (cause, before, after)."""

    system: System
    atmosphere: float
    typed: Mapping[str, tuple[float, str]]
    slips: tuple[Slip, ...] = ()
    spot: Spot | None = None
    targets: Mapping[str, Target] | None = None
    diagnosis: Diagnosis | None = None
    charge: ChargeLevel | None = None
    fifth: NextTest | None = None
    tests: tuple[NextTest, ...] = ()
    exclude: tuple[str, ...] = ()
    moved: tuple[tuple[str, float, float], ...] = ()
    come_back: str = ""


def read_typed(name: str, text: str) -> tuple[float, str]:
    """Read one typed reading: "118 psig", or a bare number in the usual unit. Raises FixInput naming the option."""
    option, kind, _ = READINGS[name]
    if kind == "fraction":
        return number_and_unit(text, kind, "pct", option)
    return number_and_unit(text, kind, USUAL_UNITS[kind], option)


def reading_key(name: str, unit: str) -> str:
    """Return the key of a reading in a file: name and unit ("suction_pressure_psig")."""
    return f"{name}_{'pct' if unit == '%' else unit}"


def take_spot(
    system: System,
    typed: Mapping[str, tuple[float, str]],
    atmosphere: float,
    *,
    seer: float | None = None,
    heat_pump: bool | None = None,
    accumulator: bool = False,
    outcomes: Mapping[str, str] | None = None,
    units_shown: Units = "us",
) -> SpotResult:
    """Work out a set of readings. atmosphere: of the site [Pa]; outcomes: test -> result, already done.

    Impossible readings are returned as slips, nothing else is worked out then. Raises FixInput when the refrigerant is not
    stated, OutOfRange when a reading lies outside everything that is known.
    """
    from steadfeed.analysis import next_test, slips
    from steadfeed.analysis.charge_level import charge_level
    from steadfeed.analysis.diagnosis.combine import OUTSIDE, diagnose
    from steadfeed.analysis.diagnosis.evidence import gather
    from steadfeed.analysis.spot import SPOT_KINDS, SpotReadings, evaluate
    from steadfeed.physics.properties import curves

    known = curves(need_refrigerant(system))
    found = slips.examine(typed, system, known, atmosphere)
    if found:
        return SpotResult(system, atmosphere, typed, found)
    values = {name: units.to_si(number, unit, SPOT_KINDS[name], atmosphere) for name, (number, unit) in typed.items()}
    spot = evaluate(SpotReadings(values, atmosphere), system, known)
    evidence = gather(
        system, known, spot, seer=seer, heat_pump=heat_pump, outcomes=_checked(outcomes or {}), units=units_shown
    )
    said = diagnose(evidence)
    moved: tuple[tuple[str, float, float], ...] = ()
    if outcomes:
        before = diagnose(gather(system, known, spot, seer=seer, heat_pump=heat_pump, units=units_shown))
        moved = tuple(next_test.likelihood_change(before, said))
    other = ""
    if said.findings and not said.nothing_found and said.findings[0].code not in ("undercharge", "overcharge"):
        first = said.findings[0]
        other = first.code if first.code not in OUTSIDE and (first.likelihood or 0.0) > 0.5 else ""
    return SpotResult(
        system=system, atmosphere=atmosphere, typed=typed, spot=spot, targets=_targets(spot, system, known, seer),
        diagnosis=said, charge=charge_level(spot, system, known, accumulator=accumulator, other_cause=other),
        fifth=next_test.fifth_reading(evidence), tests=next_test.next_tests(evidence, said),
        exclude=next_test.must_exclude(evidence, said), moved=moved,
        come_back=next_test.come_back(spot, system, units_shown),
    )  # fmt: skip


def places() -> list[tuple[str, str, str]]:
    """Option, name and place of every reading."""
    from steadfeed.analysis.spot import PLACES

    return [(option, words, PLACES[name]) for name, (option, _, words) in READINGS.items()]


def corrected(typed: Mapping[str, tuple[float, str]], slips: tuple[Slip, ...]) -> Typed:
    """Readings with every proposed correction taken."""
    out = dict(typed)
    for slip in slips:
        out.update(slip.correction)
    return out


def _targets(spot: Spot, system: System, known, seer: float | None) -> dict[str, Target]:  # type: ignore[no-untyped-def]
    from steadfeed.analysis import targets
    from steadfeed.analysis.line_set import allowance

    out: dict[str, Target] = {}
    readings = spot.readings
    wet = spot.value("return_wet_bulb")
    superheat = targets.superheat_target(system, readings.get("outdoor_air_temperature"), wet)
    if superheat is not None:
        out["superheat"] = superheat
    try:
        more = allowance(system, known)
    except FixInput:
        more = 0.0
    out["subcooling"] = targets.subcooling_target(system, more)
    if system.mode == "cooling":
        dry = readings.get("return_air_dry_bulb")
        if dry is not None and wet is not None:
            split = targets.temperature_split_target(dry, wet)
            if split is not None:
                out["temperature_split"] = split
        out["condensing_over_ambient"] = targets.condensing_over_ambient_target(seer)
        out["return_over_evaporating"] = targets.return_over_evaporating_target()
    if system.nominal_capacity:
        flow = targets.airflow_target(system.nominal_capacity)
        per = system.nominal_capacity
        out["airflow_per_capacity"] = replace(
            flow, value=(flow.value or 0.0) / per, low=flow.low / per, high=flow.high / per
        )
    return out


def _checked(outcomes: Mapping[str, str]) -> dict[str, str]:
    """Outcomes of tests by their words. Raises FixInput naming the nearest."""
    import difflib

    from steadfeed.analysis.diagnosis.outcomes import TABLES

    out = {}
    for test, result in outcomes.items():
        if test == "fan cycles":
            out[test] = result
            continue
        if test not in TABLES:
            near = difflib.get_close_matches(test, TABLES, n=1, cutoff=0.4)
            hint = f"did you mean “{near[0]}”?" if near else f"there are {', '.join(TABLES)}"
            raise FixInput(f"No test is called “{test}”; {hint}", code="unknown test", where="--outcome")
        known = TABLES[test]
        exact = {name.lower(): name for name in known}
        word = result.strip().lower()
        if word not in exact:
            near = difflib.get_close_matches(word, exact, n=1, cutoff=0.5)
            if not near:
                raise FixInput(
                    f"“{result}” is no result of {test}; there are {'; '.join(known)}", code="unknown result",
                    where="--outcome",
                )  # fmt: skip
            word = near[0]
        out[test] = exact[word]
    return out


# -- files ----------------------------------------------------------------------------------------------------------------
_SECTION: Final = re.compile(r"^\s*\[readings\]\s*(#.*)?$")


def read_file(path: str | os.PathLike[str]) -> tuple[System, Typed]:
    """Read a file of spot readings: a system file with a table [readings] in it, keys as the columns of a log.

    Raises FixInput for what is no such file, an unknown key or a value that is no number.
    """
    import tomllib

    from steadfeed.capture.system_file import parse_system

    where = os.fspath(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise FixInput(f"{where} cannot be read ({str(reason).lower()})", code="not readable", where=where) from None
    try:
        table = tomllib.loads(text).get("readings", {})
    except tomllib.TOMLDecodeError:
        table = {}
    system = parse_system(_without_readings(text), where)  # says what is wrong with the TOML, too
    if not isinstance(table, dict) or not table:
        raise FixInput(
            f"{where} holds no table [readings]: write for example suction_pressure_psig = 118 under it",
            code="no readings", where=where,
        )  # fmt: skip
    return system, {name: pair for key, value in table.items() for name, pair in [_reading_of(key, value, where)]}


def _reading_of(key: str, value: object, where: str) -> tuple[str, tuple[float, str]]:
    import difflib

    for name, (_, kind, _) in READINGS.items():
        if key.startswith(name + "_"):
            try:
                unit = units.canonical_unit(key[len(name) + 1 :], kind)
            except FixInput as error:
                raise FixInput(f"{where}: “{key}”: {error.message}", code=error.code, where=where) from None
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise FixInput(f"{where}: “{key}” must be a number", code="wrong type", where=where)
            return name, (float(value), unit)
    full = [f"{name}_{'pct' if kind == 'fraction' else USUAL_UNITS[kind]}" for name, (_, kind, _) in READINGS.items()]
    near = difflib.get_close_matches(key, full, n=1, cutoff=0.4)
    hint = f"did you mean {near[0]}?" if near else f"such as {full[0]}"
    raise FixInput(f"{where}: “{key}” is no reading of [readings]; {hint}", code="unknown key", where=where)


def _without_readings(text: str) -> str:
    """The text with the table [readings] blanked, so that line numbers stay."""
    out, inside = [], False
    for line in text.split("\n"):
        if _SECTION.match(line):
            inside = True
        elif inside and line.lstrip().startswith("["):
            inside = False
        out.append("" if inside else line)
    return "\n".join(out)


def file_text(system: System, typed: Mapping[str, tuple[float, str]]) -> str:
    """Text of a file that holds what was typed, readable by `read_file`: refrigerant, device, mode and readings."""
    lines = []
    if system.refrigerant is not None:
        lines.append(f'refrigerant = "{system.refrigerant}"')
    if system.metering_device.value != "unknown":
        lines.append(f'metering_device = "{system.metering_device.value}"')
    lines += [f'mode = "{system.mode}"', "", "[readings]"]
    lines += [f"{reading_key(name, unit)} = {number:g}" for name, (number, unit) in typed.items()]
    return "\n".join(lines) + "\n"


def command_line(system: System, typed: Mapping[str, tuple[float, str]]) -> str:
    """The same as a command, to be run again."""
    parts = ["steadfeed spot"]
    if system.refrigerant is not None:
        parts.append(f"--refrigerant {system.refrigerant}")
    if system.metering_device.value != "unknown":
        word = system.metering_device.value
        parts.append(f'--device "{word}"' if " " in word else f"--device {word}")
    for name, (number, unit) in typed.items():
        parts.append(f'{READINGS[name][0]} "{number:g} {unit}"')
    return " ".join(parts)
