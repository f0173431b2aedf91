"""The sections of a challenge report, each from the judgement to finished texts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.analysis.criteria import CRITERIA
from steadfeed.circuit.channel import CHANNEL_KINDS, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Remark
from steadfeed.circuit.verdict import READING_KINDS, STATES, UNDECIDED, Assessment, Check, Measured
from steadfeed.reports.blocks import Block, Bullets, Column, Entries, Entry, Item, Row, Section, Table, Text
from steadfeed.reports.chart_data import marks_of
from steadfeed.reports.clock import LogClock
from steadfeed.reports.numbers import COVERAGE_FACTOR, Numbers, likelihood_word, odds, plain
from steadfeed.reports.sentences import change, in_a_row, reason_wording
from steadfeed.reports.wording import (
    ALIVE,
    CAUTIONS,
    CHANNEL_NAMES,
    CONDITIONS,
    FLAMMABLE_CAUTION,
    MAYBE_FLAMMABLE_CAUTION,
    PASSED,
    QUANTITY_NAMES,
    STATE_MEANINGS,
)

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.physics.properties import Curves

_NUMBER: Final = "end"


def validity_summary(assessment: Assessment) -> str:
    """Say under the headline whether the test could have told, without repeating its reasons."""
    if assessment.valid:
        return _valid(assessment)
    if assessment.early:
        return (
            "The test is not valid as a whole, because the hold was too short; "
            "a verdict as plain as this one may be called early all the same."
        )
    return "The test is not valid. What was checked, and what to do about it, is said under “Could this test tell?”."


def _valid(assessment: Assessment) -> str:
    checks = assessment.checks
    held = sum(check.passed is True for check in checks)
    unknown = sum(check.passed is None for check in checks)
    if not checks:
        return "The test is valid."
    if held == len(checks):
        return f"The test is valid: all {held} conditions held."
    rest = f", {unknown} could not be checked" if unknown else ""
    return f"The test is valid: {held} of {len(checks)} conditions held{rest}."


def validity(assessment: Assessment, system: System, numbers: Numbers) -> Section:
    """Whether the test could have told: what was checked, and what to do about each reason against it."""
    if assessment.valid:
        lead = _valid(assessment)
    else:
        lead = f"Against this test: {in_a_row(list(assessment.reasons))}."
    blocks: list[Block] = [Text(lead)]
    if assessment.checks:
        blocks.append(
            Table(
                "Conditions of a valid test",
                (Column("Condition"), Column("Result"), Column("Measured", _NUMBER), Column("Limit", _NUMBER)),
                tuple(_check_row(check, numbers) for check in assessment.checks),
            )
        )
    for reason in assessment.reasons:
        wording = reason_wording(reason, system, numbers.units)
        clause = wording.clause[0].upper() + wording.clause[1:]
        blocks.append(Item(clause, (Text(wording.meaning), Text(wording.remedy, lead="What to do:"))))
    return Section("validity", "Could this test tell?", tuple(blocks))


def _check_row(check: Check, numbers: Numbers) -> Row:
    measured = "" if check.value is None else numbers.value(check.value, check.kind, fine=True)
    limit = "" if check.limit is None else numbers.value(check.limit, check.kind, fine=True)
    if limit and check.value is not None and check.passed is not None and check.value != check.limit:
        limit = f"{'at least' if (check.value > (check.limit or 0.0)) is check.passed else 'at most'} {limit}"
    name = CONDITIONS.get(check.name, check.name)
    return Row(name, (PASSED[check.passed], measured, limit), note=check.text, strong=check.passed is False)


def readings(assessment: Assessment, numbers: Numbers) -> Section:
    """The readings before, during and after the push, with uncertainty."""
    stretches = (assessment.baseline, assessment.push, assessment.recovery)
    rows = []
    for quantity, kind in READING_KINDS.items():
        present = [stretch[quantity] for stretch in stretches if quantity in stretch]
        if not present:
            continue
        decimals = min(numbers.decimals_for(measured, kind) for measured in present)
        cells = [_cell(stretch, quantity, kind, decimals, numbers) for stretch in stretches]
        moved = change(assessment.baseline, assessment.push, quantity)
        factor, _ = numbers.linear(kind)
        cells.append("–" if moved is None else signed(moved / factor, decimals))
        unit = numbers.unit(kind)
        rows.append(Row(f"{QUANTITY_NAMES[quantity]}, {unit}" if unit else QUANTITY_NAMES[quantity], tuple(cells)))
    blocks: list[Block] = []
    if rows:
        blocks.append(
            Table(
                "Readings before, during and after the push",
                (
                    Column("Quantity"),
                    Column("Before", _NUMBER),
                    Column("In the push", _NUMBER),
                    Column("After", _NUMBER),
                    Column("Change", _NUMBER),
                ),
                tuple(rows),
            )
        )
        blocks.append(
            Text(
                f"± is the expanded uncertainty with a coverage factor of {COVERAGE_FACTOR:.0f}, about 95 %. The change is "
                "“in the push” less “before”; what is constantly wrong with an instrument cancels in it."
            )
        )
    else:
        blocks.append(Text("The log shows no stretch from which readings before and in a push could be taken."))
    if assessment.apparent_opening is not None:
        opening = assessment.apparent_opening
        blocks.append(
            Text(
                f"{plain(opening.value, 2)} ± {plain(COVERAGE_FACTOR * opening.uncertainty, 2)} in the hold; "
                "the baseline is 1. A fixed opening stays at 1, a device that holds the feed closes.",
                lead="Apparent opening:",
            )
        )
    return Section("readings", "Before, during, after", tuple(blocks))


def _cell(stretch: Mapping[str, Measured], quantity: str, kind: str, decimals: int, numbers: Numbers) -> str:
    return numbers.uncertain(stretch[quantity], kind, decimals=decimals) if quantity in stretch else "–"


def signed(value: float, decimals: int) -> str:
    """Write a change with its sign."""
    text = plain(value, decimals)
    return text if text.startswith("−") or text.strip("0.") == "" else f"+{text}"


def likelihood(assessment: Assessment) -> Section:
    """How sure: the probability of every state in words, odds and numbers."""
    blocks: list[Block] = []
    if assessment.probability is None:
        blocks.append(Text("No likelihoods can be given: these readings say nothing about the metering device."))
    else:
        if not assessment.valid and not assessment.early:
            blocks.append(
                Text("The test is not valid, so these carry no verdict; they only show which way the readings lean.")
            )
        probability = assessment.probability
        order = sorted((s for s in STATES if s in probability), key=lambda state: -probability[state])
        rows = tuple(
            Row(
                state,
                (likelihood_word(probability[state]), odds(probability[state]), _percent(probability[state])),
                note=STATE_MEANINGS[state],
                strong=state == assessment.verdict,
            )
            for state in order
            if probability[state] >= 0.005 or state == assessment.verdict
        )
        blocks.append(
            Table(
                "Likelihood of each state, given the readings",
                (Column("State"), Column("In words"), Column("Odds"), Column("Probability", _NUMBER)),
                rows,
            )
        )
        rest = len(order) - len(rows)
        if rest:
            blocks.append(
                Text(
                    f"The other {rest} states are each below half a percent."
                    if rest > 1
                    else "The state left out is below half a percent."
                )
            )
    would_change = assessment.would_change
    if would_change:
        title = "What would change this" if assessment.verdict == UNDECIDED else "What would change this verdict"
        blocks.append(Item(title, (Bullets(would_change),)))
    return Section("likelihood", "How sure", tuple(blocks))


def _percent(probability: float) -> str:
    if probability > 0.995:
        return "> 99 %"
    if probability < 0.005:
        return "< 1 %"
    return f"{plain(100 * probability, 0)} %"


def findings(assessment: Assessment) -> Section | None:
    """Causes found in the whole circuit."""
    if not assessment.findings:
        return None
    items = []
    for finding in assessment.findings:
        blocks: list[Text | Bullets | Entries] = []
        rows = []
        if finding.likelihood is not None:
            rows.append(Entry("Likelihood", f"{likelihood_word(finding.likelihood)}, {odds(finding.likelihood)}"))
        rows.extend(Entry("For" if i == 0 else "", text) for i, text in enumerate(finding.evidence_for))
        rows.extend(Entry("Against" if i == 0 else "", text) for i, text in enumerate(finding.evidence_against))
        if finding.next_step:
            rows.append(Entry("Next", finding.next_step))
        if finding.source:
            rows.append(Entry("Source", finding.source))
        if rows:
            blocks.append(Entries(_merge(rows)))
        items.append(Item(finding.text, tuple(blocks)))
    return Section("findings", "Findings in the circuit", tuple(items))


def _merge(rows: list[Entry]) -> tuple[Entry, ...]:
    """Join entries without a term to the one before."""
    merged: list[Entry] = []
    for row in rows:
        if row.term or not merged:
            merged.append(row)
        else:
            merged[-1] = Entry(merged[-1].term, f"{merged[-1].text} {row.text}")
    return tuple(merged)


def sensors(assessment: Assessment) -> Section:
    """Which sensors proved that they were alive."""
    if not assessment.sensors:
        return Section("sensors", "Sensors", (Text("Whether the sensors were alive was not looked into."),))
    noticed = any(state.flags for state in assessment.sensors.values())
    rows = tuple(
        Row(
            CHANNEL_NAMES.get(name, name),
            (ALIVE[state.alive], *((", ".join(state.flags) or "–",) if noticed else ())),
            note=state.why,
            strong=state.alive is False,
        )
        for name, state in assessment.sensors.items()
    )
    columns = (Column("Channel"), Column("State"), *((Column("Noticed"),) if noticed else ()))
    return Section(
        "sensors",
        "Sensors",
        (
            Text("A sensor is alive when an event that had to move it did move it. “Not shown” means that none came."),
            Table("State of every sensor", columns, rows),
        ),
    )


def standstill(judgement: Judgement, numbers: Numbers) -> Section:
    """What the two sides did after the compressor stopped."""
    assessment, trace = judgement.assessment, judgement.trace
    blocks: list[Block] = []
    stop = assessment.phases.standstill
    if stop is None:
        blocks.append(
            Text(
                "The log shows no standstill. Whether both gauges follow when the compressor stops, "
                "the plainest proof of life, is open."
            )
        )
    elif trace is not None:
        clock = LogClock.of(judgement.recording)
        before = trace.time < stop
        head_stop, head_end = _last(trace.head_pressure[before]), _last(trace.head_pressure[~before])
        suction_stop, suction_end = _last(trace.suction_pressure[before]), _last(trace.suction_pressure[~before])
        if head_stop is None or head_end is None or suction_stop is None or suction_end is None:
            blocks.append(
                Text(f"The compressor stopped at {clock.moment(stop)}; both pressures were not read before and after.")
            )
        else:
            apart = numbers.value(head_end - suction_end, "pressure_difference", fine=True)
            blocks.append(
                Text(
                    f"The compressor stopped at {clock.moment(stop)}, with head {numbers.value(head_stop, 'pressure')} "
                    f"and suction {numbers.value(suction_stop, 'pressure')}. When the log ends, "
                    f"{numbers.value(clock.end - stop, 'time')} later, head is {numbers.value(head_end, 'pressure')} and "
                    f"suction {numbers.value(suction_end, 'pressure')}: {apart} apart."
                )
            )
        blocks.append(
            Text(
                "Pressures that meet say that the device is not shut tight, not that it modulates. Pressures that stay "
                "apart are no fault by themselves: a hard shut-off valve, a closed EEV, a solenoid or a check valve holds "
                "them."
            )
        )
    told = tuple(note.text for note in assessment.notes if note.code.startswith("standstill"))
    if told:
        blocks.append(Bullets(told))
    return Section("standstill", "Standstill", tuple(blocks))


def _last(values: FloatArray) -> float | None:
    good = values[np.isfinite(values)]
    return float(good[-1]) if good.size else None


def marks(judgement: Judgement, system: System) -> Section | None:
    """What people noted, numbered as the flags on the chart."""
    noted = marks_of(judgement, system)
    if not noted:
        return None
    clock = LogClock.of(judgement.recording)
    items = []
    for mark in noted:
        inside = clock.start <= mark.time <= clock.end
        text = f"{mark.event}: {mark.text}" if mark.text else mark.event
        items.append(f"{clock.moment(mark.time)}, {text}" + ("" if inside else " (outside the log)"))
    return Section("marks", "Marks on the chart", (Bullets(tuple(items), numbered=True),))


def remarks(judgement: Judgement) -> Section:
    """What was put right, what else was noticed, what was understood while reading."""
    assessment = judgement.assessment
    notes = tuple(note for note in assessment.notes if not note.code.startswith("standstill"))
    told = {note.text for note in (*assessment.repairs, *assessment.notes)}
    read = tuple(remark for remark in judgement.recording.remarks if remark.text not in told)
    items: list[Block] = [
        Item(title, (Bullets(tuple(_remark(remark) for remark in part)),))
        for title, part in (
            ("Put right, with the reason", assessment.repairs),
            ("Noticed", notes),
            ("While reading the log", read),
        )
        if part
    ]
    if not items:
        items.append(Text("Nothing had to be put right, and nothing else was noticed."))
    return Section("remarks", "Repairs and notes", tuple(items))


def _remark(remark: Remark) -> str:
    return f"{remark.text} ({remark.where})" if remark.where else remark.text


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
        step_kind = f"{kind}_difference" if kind in ("pressure", "temperature") else kind
        step = numbers.value(channel.resolution, step_kind, fine=True) if channel.resolution > 0 else "–"
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


def _reference(judgement: Judgement, system: System, numbers: Numbers) -> str:
    air = numbers.value(judgement.recording.atmosphere, "atmosphere")
    reference = system.instruments.pressure_reference
    if reference == "sealed":
        standard = numbers.value(101325.0, "atmosphere")
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
        ("Altitude", _value(site.altitude, "length", numbers)),
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
