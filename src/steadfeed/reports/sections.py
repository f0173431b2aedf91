"""The sections of a challenge report, each from the judgement to finished texts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.circuit.channel import FloatArray
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
    CHANNEL_NAMES,
    CONDITIONS,
    PASSED,
    QUANTITY_NAMES,
    STATE_MEANINGS,
)

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.analysis.next_test import NextTest
    from steadfeed.circuit.finding import Finding

_NUMBER: Final = "end"
#: Likelihood from which a finding is shown with its evidence [-].
_WITH_EVIDENCE: Final = 0.25
#: Findings that a report shows with their evidence, and sentences for and against each, the strongest first.
_MOST_FINDINGS: Final = 3
_MOST_SENTENCES: Final = 3


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
    note = check.text[:1].upper() + check.text[1:]
    return Row(name, (PASSED[check.passed], measured, limit), note=note, strong=check.passed is False)


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


def findings(judgement: Judgement) -> Section | None:
    """Causes found in the whole circuit, the likeliest first, and the test that would tell most between them."""
    found = judgement.assessment.findings
    if not found:
        return None
    likely = [f for i, f in enumerate(found) if i == 0 or (f.likelihood or 0.0) >= _WITH_EVIDENCE][:_MOST_FINDINGS]
    items = [_finding(finding) for finding in likely]
    beyond = [f"{f.text} {odds(f.likelihood).capitalize()}." for f in found[len(likely) :] if f.likelihood is not None]
    if beyond:
        items.append(Item("Less likely", (Bullets(tuple(beyond)),)))
    first = [test for test in judgement.next_tests if test.code in judgement.must_exclude]
    if first:
        items.append(Item("Before the valve is condemned", (Bullets(tuple(_in_a_line(test) for test in first)),)))
    elif judgement.next_tests:
        items.append(_next_test(judgement.next_tests[0]))
    return Section("findings", "Findings in the circuit", tuple(items))


def _finding(finding: Finding) -> Item:
    rows = []
    if finding.likelihood is not None:
        rows.append(Entry("Likelihood", f"{likelihood_word(finding.likelihood)}, {odds(finding.likelihood)}"))
    if finding.evidence_for:
        rows.append(Entry("For", " ".join(finding.evidence_for[:_MOST_SENTENCES])))
    if finding.evidence_against:
        rows.append(Entry("Against", " ".join(finding.evidence_against[:_MOST_SENTENCES])))
    if finding.next_step:
        rows.append(Entry("Next", finding.next_step))
    if finding.source:
        rows.append(Entry("Source", finding.source))
    return Item(finding.text, (Entries(tuple(rows)),) if rows else ())


def _in_a_line(test: NextTest) -> str:
    return f"{test.text} {test.caution}".strip()


def _next_test(test: NextTest) -> Item:
    rows = [Entry("Do", test.text), Entry("Takes", f"{plain(test.minutes, 0)} min")]
    if test.expected:
        rows.append(Entry("Expect", "; ".join(f"{cause}: {result}" for cause, result in test.expected) + "."))
    if test.caution:
        rows.append(Entry("Caution", test.caution))
    name = test.text.removeprefix("Read ").rstrip(".") if test.reading else test.code
    return Item(f"What would tell most next: {name}", (Entries(tuple(rows)),))


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
            apart = numbers.value(abs(head_end - suction_end), "pressure_difference", fine=True)
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


def remarks(judgement: Judgement, log_name: str) -> Section:
    """What was put right, what else was noticed, what was understood while reading the log of this name."""
    assessment = judgement.assessment
    notes = tuple(note for note in assessment.notes if not note.code.startswith("standstill"))
    told = {note.text for note in (*assessment.repairs, *assessment.notes)}
    read = tuple(remark for remark in judgement.recording.remarks if remark.text not in told)
    items: list[Block] = [
        Item(title, (Bullets(tuple(_remark(remark, log_name) for remark in part)),))
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


def _remark(remark: Remark, log_name: str) -> str:
    """Write a remark with its place, unless that is the log itself."""
    if not remark.where or (log_name and remark.where.endswith(log_name)):
        return remark.text
    return f"{remark.text.rstrip('.')} ({remark.where})."
