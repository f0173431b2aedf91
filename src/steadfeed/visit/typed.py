"""What a person types: numbers with units, tube sizes as fractions, and the unit that options describe."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from steadfeed import units
from steadfeed.circuit.equipment import GaugeKind, System
from steadfeed.errors import FixInput

_FRACTION: Final = re.compile(r"^\s*(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+)\s*(.*)$")

#: Unit that a bare number takes, by kind.
USUAL_UNITS: Final[dict[str, str]] = {
    "pressure": "psig",
    "temperature": "degF",
    "temperature_difference": "degF",
    "fraction": "pct",
    "current": "A",
    "power": "W",
    "airflow": "cfm",
    "length": "ft",
    "mass": "oz",
    "capacity": "tons",
    "pressure_difference": "psi",
    "atmosphere": "inHg",
    "time": "min",
}


def number_and_unit(text: str, kind: str, usual: str | None = None, where: str | None = None) -> tuple[float, str]:
    """Read "118 psig", "3/8 in" or a bare number; `usual` is the unit that a bare one takes.

    Raises FixInput naming the option or reading in `where`.
    """
    unit = usual if usual is not None else USUAL_UNITS[kind]
    try:
        found = _FRACTION.match(text)
        if found and kind == "length":
            over = int(found[3])
            if over == 0:
                raise FixInput(f"“{text}” is no size: write for example “3/8 in”", code="bad number")
            value = int(found[1] or 0) + int(found[2]) / over
            return value, units.canonical_unit(found[4], kind) if found[4].strip() else "in"
        return units.parse_quantity(text, kind, unit)
    except FixInput as error:
        if where is None:
            raise
        raise FixInput(f"{where}: {error.message}", code=error.code, where=where) from None


def quantity(text: str | None, kind: str, where: str, usual: str | None = None, atmosphere: float | None = None) -> float | None:  # fmt: skip
    """Read an option as SI, None stays None."""
    if text is None:
        return None
    return units.to_si(*number_and_unit(text, kind, usual, where), kind, atmosphere)


@dataclass(frozen=True, slots=True)
class UnitOptions:
    """The unit as options describe it, as typed; each goes before the system file's.

    system_file: path or None. The other fields: text with unit, or a word of the system file.
    """

    system_file: str | os.PathLike[str] | None = None
    refrigerant: str | None = None
    device: str | None = None
    mode: str | None = None
    tons: str | None = None
    altitude: str | None = None
    barometer: str | None = None
    rated_subcooling: str | None = None
    rated_superheat: str | None = None
    rated_current: str | None = None
    rated_charge: str | None = None
    length: str | None = None
    lift: str | None = None
    liquid_line: str | None = None
    suction_line: str | None = None
    gauges: GaugeKind | None = None
    packaged: bool | None = None


def described_unit(options: UnitOptions, beneath: System | None = None) -> tuple[System, float]:
    """Return the unit and the pressure of the air at its site [Pa]: system file (or `beneath`), then options over it.

    Raises FixInput for an unknown word, number or unit.
    """
    from steadfeed.circuit.equipment import MeteringDevice
    from steadfeed.visit.saturation import atmosphere_at

    system = beneath
    if options.system_file is not None:
        from steadfeed.capture.system_file import read_system

        system = read_system(options.system_file)
    if system is None:
        system = System()
    site = system.site
    altitude = quantity(options.altitude, "length", "--altitude")
    barometer = quantity(options.barometer, "atmosphere", "--barometer")
    if altitude is not None:
        site = replace(site, altitude=altitude, barometer=None)
    if barometer is not None:
        site = replace(site, barometer=barometer)
    plate = _over(
        system.nameplate,
        subcooling=quantity(options.rated_subcooling, "temperature_difference", "--rated-subcooling"),
        superheat=quantity(options.rated_superheat, "temperature_difference", "--rated-superheat"),
        rated_current=quantity(options.rated_current, "current", "--rated-current"),
        charge=quantity(options.rated_charge, "mass", "--rated-charge"),
    )
    lines = _over(
        system.line_set,
        length=quantity(options.length, "length", "--length"),
        lift=quantity(options.lift, "length", "--lift"),
        liquid_line_diameter=quantity(options.liquid_line, "length", "--liquid-line", "in"),
        suction_line_diameter=quantity(options.suction_line, "length", "--suction-line", "in"),
    )
    changes: dict[str, Any] = {"site": site, "nameplate": plate, "line_set": lines}
    if options.refrigerant is not None:
        from steadfeed.physics.coefficients import designation

        changes["refrigerant"] = designation(options.refrigerant)
    if options.device is not None:
        changes["metering_device"] = MeteringDevice(options.device)
    if options.mode is not None:
        changes["mode"] = options.mode
    if options.packaged is not None:
        changes["packaged"] = options.packaged
    if options.gauges is not None:
        changes["instruments"] = replace(system.instruments, gauges=options.gauges)
    capacity = quantity(options.tons, "capacity", "--tons")
    if capacity is not None:
        changes["nominal_capacity"] = capacity
    return replace(system, **changes), atmosphere_at(site.altitude, site.barometer)


def need_refrigerant(system: System) -> str:
    """Return the refrigerant. Raises FixInput when it is not stated."""
    if system.refrigerant is None:
        raise FixInput(
            "The refrigerant is not stated: read the nameplate and give --refrigerant, or a system file with --system",
            code="refrigerant not stated",
        )
    return system.refrigerant


def _over(base: Any, **changes: Any) -> Any:
    known = {field.name for field in fields(base)}
    assert known >= set(changes)
    return replace(base, **{name: value for name, value in changes.items() if value is not None})
