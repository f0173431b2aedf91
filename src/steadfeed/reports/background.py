"""The sections about what stands behind a judgement: cautions, the unit, the instruments, the sources."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.analysis.criteria import CRITERIA
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import System
from steadfeed.circuit.verdict import Assessment
from steadfeed.errors import FixInput
from steadfeed.reports.blocks import Block, Bullets, Column, Entries, Entry, Row, Section, Table
from steadfeed.reports.numbers import Numbers, plain, significant
from steadfeed.reports.wording import CAUTIONS, CHANNEL_NAMES, FLAMMABLE_CAUTION, MAYBE_FLAMMABLE_CAUTION
from steadfeed.units import STANDARD_ATMOSPHERE, linear

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves

_NUMBER: Final = "end"
#: A step is a difference, so a gauge or absolute unit drops its letter.
_STEP_UNITS: Final = {f"{unit}{letter}": unit for unit in ("psi", "bar", "kPa", "MPa") for letter in ("g", "a")} | {
    "degF": "°F",
    "degC": "°C",
}


def cautions(curves: Curves | None) -> Section:
    """The usual cautions; a refrigerant that burns is named."""
    if curves is None:
        flammable = MAYBE_FLAMMABLE_CAUTION
    elif curves.refrigerant.flammable:
        refrigerant = curves.refrigerant
        flammable = FLAMMABLE_CAUTION.format(name=refrigerant.name, safety_class=refrigerant.safety_class)
    else:
        flammable = MAYBE_FLAMMABLE_CAUTION
    return Section("cautions", "Cautions", (Bullets((*CAUTIONS, flammable)),))


def instruments(judgement: Judgement, system: System, numbers: Numbers) -> Section:
    """How the readings were taken."""
    stated = system.instruments
    rows = [
        Entry("Gauges", stated.gauges if stated.gauges != "unknown" else "kind not stated"),
        Entry("Gauges count from", _reference(judgement, system, numbers)),
    ]
    if stated.pressure_accuracy is not None:
        accuracy = numbers.value(stated.pressure_accuracy, "pressure_difference", fine=True)
        rows.append(Entry("Pressure accuracy", f"± {accuracy}, as stated"))
    if stated.temperature_accuracy is not None:
        accuracy = numbers.value(stated.temperature_accuracy, "temperature_difference", fine=True)
        rows.append(Entry("Temperature accuracy", f"± {accuracy}, as stated"))
    rows.append(Entry("Readings", stated.sampling if stated.sampling != "unknown" else "sampling not stated"))
    recording = judgement.recording
    channel_rows = []
    for channel in recording.channels.values():
        kind = CHANNEL_KINDS[channel.name]
        step = "–"
        if channel.resolution > 0:
            word = _STEP_UNITS.get(channel.unit, channel.unit)
            step = f"{significant(channel.resolution / _logged_factor(kind, channel.unit))} {word}".rstrip()
        count = int(np.isfinite(channel.values).sum())
        channel_rows.append(
            Row(
                CHANNEL_NAMES[channel.name],
                (channel.unit or "–", f"{count:,} of {len(recording):,}", step),
                note=f"column “{channel.header}”" if channel.header else "",
            )
        )
    blocks: list[Block] = [Entries(tuple(rows))]
    if channel_rows:
        blocks.append(
            Table(
                "Channels of the log",
                (
                    Column("Channel"),
                    Column("As logged in"),
                    Column("Readings", _NUMBER),
                    Column("Smallest step", _NUMBER),
                ),
                tuple(channel_rows),
            )
        )
    return Section("instruments", "Instruments", tuple(blocks))


def _logged_factor(kind: str, unit: str) -> float:
    """Return how much SI one step of the logged unit is; 1 for a unit that is not known here."""
    try:
        return linear(kind, unit, STANDARD_ATMOSPHERE)[0]
    except FixInput:
        return 1.0


def _reference(judgement: Judgement, system: System, numbers: Numbers) -> str:
    air = numbers.value(judgement.recording.atmosphere, "atmosphere")
    reference = system.instruments.pressure_reference
    if reference == "sealed":
        standard = numbers.value(STANDARD_ATMOSPHERE, "atmosphere")
        return f"one standard atmosphere, {standard} (sealed); the air at the site is {air}"
    if reference == "absolute":
        return f"vacuum (absolute); shown here above the air at the site, {air}"
    unsure = "" if reference == "vented" else ", taken as vented"
    return f"the air at the site, {air}{unsure}"


def unit(system: System, curves: Curves | None, numbers: Numbers) -> Section:
    """What is known of the unit, and what is not."""
    plate, line, limits, site = system.nameplate, system.line_set, system.limits, system.site
    known = system.compressor_control if system.compressor_control != "unknown" else None
    pairs: list[tuple[str, str | None]] = [
        ("Refrigerant", system.refrigerant),
        ("Metering device", _device(system)),
        ("Mode", system.mode),
        ("Packaged", None if system.packaged is None else "yes" if system.packaged else "no, split"),
        ("Nominal capacity", _value(system.nominal_capacity, "capacity", numbers)),
        ("Compressor", None if system.compressor_type == "unknown" else system.compressor_type),
        ("Compressor control", known),
        ("Fan control", None if system.fan_control == "unknown" else system.fan_control),
        ("Nameplate subcooling", _value(plate.subcooling, "temperature_difference", numbers)),
        ("Nameplate superheat", _value(plate.superheat, "temperature_difference", numbers)),
        ("Nameplate charge", _value(plate.charge, "mass", numbers)),
        ("High-side design pressure", _value(plate.high_side_design_pressure, "pressure", numbers)),
        ("Rated current", _value(plate.rated_current, "current", numbers)),
        ("Line set length", _value(line.length, "length", numbers)),
        ("Lift to the evaporator", _value(line.lift, "length", numbers)),
        ("Altitude", _whole(site.altitude, "length", numbers)),
        ("High-pressure switch", _value(limits.high_pressure_switch, "pressure", numbers)),
        ("Stated head limit", _value(limits.head_pressure, "pressure", numbers)),
        ("Stated discharge limit", _value(limits.discharge_temperature, "temperature", numbers)),
    ]
    rows = [Entry(term, text) for term, text in pairs if text is not None]
    unknown = [term[0].lower() + term[1:] for term, text in pairs if text is None]
    if unknown:
        rows.append(Entry("Not known", ", ".join(unknown)))
    if curves is not None:
        rows.append(
            Entry(
                "Properties",
                f"{curves.refrigerant.name}, saturation temperatures "
                f"± {numbers.value(curves.uncertainty, 'temperature_difference', fine=True)}; {curves.provenance}",
            )
        )
    return Section("unit", "The unit", (Entries(tuple(rows)),))


def _device(system: System) -> str | None:
    return {"txv": "TXV", "eev": "EEV", "fixed orifice": "fixed orifice"}.get(system.metering_device.value)


def _value(value: float | None, kind: str, numbers: Numbers) -> str | None:
    return None if value is None or not math.isfinite(value) else numbers.value(value, kind)


def _whole(value: float | None, kind: str, numbers: Numbers) -> str | None:
    return None if value is None else f"{plain(numbers.display(value, kind), 0)} {numbers.unit(kind)}"


def sources(assessment: Assessment, numbers: Numbers) -> Section | None:
    """Where the thresholds that were used come from."""
    used = dict.fromkeys(check.criterion for check in assessment.checks if check.criterion in CRITERIA)
    if not used:
        return None
    rows = tuple(
        Row(
            CRITERIA[key].text,
            (numbers.value(CRITERIA[key].value, CRITERIA[key].kind, fine=True), CRITERIA[key].source),
        )
        for key in used
    )
    columns = (Column("Threshold"), Column("Value", _NUMBER), Column("Where it comes from"))
    return Section("sources", "Sources of the thresholds", (Table("Thresholds used in this judgement", columns, rows),))
