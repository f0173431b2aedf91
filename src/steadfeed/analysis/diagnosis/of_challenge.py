"""Findings of a judged challenge: the baseline as spot readings, the push and the standstill as further evidence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.analysis.diagnosis.combine import Diagnosis, diagnose
from steadfeed.analysis.diagnosis.evidence import Evidence, Standstill, gather
from steadfeed.analysis.diagnosis.signatures import HEALTHY
from steadfeed.analysis.spot import SPOT_KINDS, Spot, SpotReadings, evaluate
from steadfeed.analysis.words import Units
from steadfeed.circuit.channel import BoolArray
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import UNDECIDED, Assessment
from steadfeed.physics.properties import Curves

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement

#: Code of the finding that says that nothing was found.
NOTHING: Final = "nothing found"
#: The same beside a verdict that is not good news or was not reached.
NOTHING_ELSE: Final = "nothing else found"
#: Code where something is off, but no cause stands out.
OPEN: Final = "no cause stands out"
#: Without a push: the last so many seconds of running stand for the baseline [s].
LAST_RUNNING: Final = 200.0
#: Pressure ratio above which the compressor counts as running [-].
RUNNING_RATIO: Final = 1.25
#: Most findings that a report lists.
MOST: Final = 5
#: Most next tests that a report lists.
TESTS_SHOWN: Final = 3
_DEVICE: Final = (
    "metering device underfeeding", "metering device overfeeding", "bulb loose", "bulb charge lost", "equalizer plugged",
    "check valve leaking",
)  # fmt: skip
#: Verdict -> findings that contradict it.
_AGAINST: Final[dict[str, tuple[str, ...]]] = {
    "regulating": _DEVICE,
    "starving": ("metering device overfeeding", "check valve leaking", "overcharge"),
    "flooding": (
        "metering device underfeeding", "bulb charge lost", "undercharge", "liquid line restriction", "flash gas",
    ),
}  # fmt: skip
#: Metering device -> verdicts with which it does what it should.
_IN_ORDER: Final[dict[MeteringDevice, tuple[str, ...]]] = {
    MeteringDevice.TXV: ("regulating",),
    MeteringDevice.EEV: ("regulating",),
    MeteringDevice.FIXED_ORIFICE: ("fixed",),
    MeteringDevice.UNKNOWN: ("regulating",),
}


def with_findings(judgement: Judgement, system: System, curves: Curves, *, units: Units = "us") -> Judgement:
    """Return the judgement of one circuit with its findings and the next tests. The verdict stays what it is.

    None are added when the challenge's readings contradict physics or are too few. Pure.
    """
    said = diagnosis_with_evidence(judgement, system, curves, units=units)
    if said is None:
        return judgement
    found, evidence = said
    assessment = replace(judgement.assessment, findings=beside_verdict(found, judgement.assessment, system))
    if found.nothing_found:
        return replace(judgement, assessment=assessment)
    from steadfeed.analysis.next_test import must_exclude, next_tests, tests_named

    first = must_exclude(evidence, found)
    tests = tests_named(first, evidence, found) if first else next_tests(evidence, found, TESTS_SHOWN)
    return replace(judgement, assessment=assessment, next_tests=tests, must_exclude=first)


def findings_for(
    judgement: Judgement, system: System, curves: Curves, *, seer: float | None = None, heat_pump: bool | None = None,
    units: Units = "us",
) -> tuple[Finding, ...]:  # fmt: skip
    """Findings of one judged circuit, the likeliest first; a single one that says so where nothing was found.

    () when the challenge's readings contradict physics or are too few: the assessment already says so. Pure, about 5 ms.
    """
    found = diagnosis_of(judgement, system, curves, seer=seer, heat_pump=heat_pump, units=units)
    return () if found is None else beside_verdict(found, judgement.assessment, system)


def beside_verdict(found: Diagnosis, assessment: Assessment, system: System) -> tuple[Finding, ...]:
    """Findings as they stand beside the challenge's verdict: one that contradicts it says so, and so does "nothing"."""
    if not found.findings or found.nothing_found:
        code, text = _nothing(found, assessment, system)
        in_order = None if found.probability is None or code == OPEN else found.probability[HEALTHY]
        return (Finding(code, text, in_order, source="docs/diagnosis.md"),)
    against = _AGAINST.get(assessment.verdict, ())
    return tuple(
        replace(
            finding,
            evidence_against=(
                f"It contradicts the challenge’s verdict, which is {assessment.verdict}.", *finding.evidence_against,
            ),
        )
        if finding.code in against
        else finding
        for finding in found.findings[:MOST]
    )  # fmt: skip


def _nothing(found: Diagnosis, assessment: Assessment, system: System) -> tuple[str, str]:
    """Code and sentence where no finding is left, so that neither says more than the verdict allows."""
    verdict = assessment.verdict
    if not found.nothing_found:
        return OPEN, found.summary
    if verdict == UNDECIDED:
        return NOTHING_ELSE, (
            "Nothing else found: a unit in order explains the readings best. "
            "What the metering device does was not decided."
        )
    if verdict in _IN_ORDER[system.metering_device]:
        return NOTHING, found.summary
    return NOTHING_ELSE, (
        f"Beside the verdict, {verdict}, nothing was found: apart from the metering device a unit in order explains the "
        "readings best."
    )


def diagnosis_of(
    judgement: Judgement, system: System, curves: Curves, *, seer: float | None = None, heat_pump: bool | None = None,
    units: Units = "us",
) -> Diagnosis | None:  # fmt: skip
    """Diagnosis of one judged circuit; None when its readings contradict physics or are too few."""
    said = diagnosis_with_evidence(judgement, system, curves, seer=seer, heat_pump=heat_pump, units=units)
    return None if said is None else said[0]


def diagnosis_with_evidence(
    judgement: Judgement, system: System, curves: Curves, *, seer: float | None = None, heat_pump: bool | None = None,
    units: Units = "us",
) -> tuple[Diagnosis, Evidence] | None:  # fmt: skip
    """Diagnosis of one judged circuit and what it was made from; None when its readings contradict physics or are too few."""
    assessment = judgement.assessment
    if judgement.trace is None or "wrong refrigerant or unit" in assessment.reasons:
        return None
    spot = baseline_spot(judgement, system, curves)
    if spot is None:
        return None
    evidence = gather(
        system, curves, spot, assessment=assessment, standstill=standstill_of(judgement), seer=seer,
        heat_pump=heat_pump, units=units,
    )  # fmt: skip
    found = diagnose(evidence)
    return None if found.probability is None and not found.findings else (found, evidence)


def baseline_spot(judgement: Judgement, system: System, curves: Curves) -> Spot | None:
    """Mean of every channel in the baseline as one set of readings; without a push in the last minutes of running."""
    recording, phases = judgement.recording, judgement.assessment.phases
    time = recording.time
    if phases.baseline_start is not None and phases.push is not None:
        inside = (time >= phases.baseline_start) & (time < phases.push)
    else:
        running = _running(recording)
        if not running.any():
            return None
        last = float(time[np.flatnonzero(running)[-1]])
        inside = running & (time >= last - LAST_RUNNING)
    dead = {name for name, state in judgement.assessment.sensors.items() if state.alive is False}
    values = {}
    for name, channel in recording.channels.items():
        if name not in SPOT_KINDS or name in dead:
            continue
        part = channel.values[inside]
        part = part[np.isfinite(part)]
        if part.size:
            values[name] = float(part.mean())
    if not values:
        return None
    return evaluate(SpotReadings(values, recording.atmosphere), system, curves)


def standstill_of(judgement: Judgement) -> Standstill | None:
    """The end of the standstill, None without one."""
    start = judgement.assessment.phases.standstill
    recording, trace = judgement.recording, judgement.trace
    if start is None or trace is None:
        return None
    after = np.flatnonzero((recording.time >= start) & np.isfinite(trace.suction_pressure + trace.head_pressure))
    if after.size < 2:
        return None
    last = after[-3:]
    air = [
        float(values[last][np.isfinite(values[last])].mean())
        for name in ("outdoor_air_temperature", "return_air_dry_bulb")
        if (values := recording.get(name)) is not None and np.isfinite(values[last]).any()
    ]
    both = len(air) == 2
    return Standstill(
        suction=float(np.median(trace.suction_pressure[last])),
        head=float(np.median(trace.head_pressure[last])),
        seconds=float(recording.time[last[-1]] - start),
        coldest=min(air) if both else None,
        warmest=max(air) if both else None,
    )


def _running(recording: Recording) -> BoolArray:
    suction = recording.get("suction_pressure")
    head = recording.get("liquid_pressure")
    if head is None:
        head = recording.get("discharge_pressure")
    if suction is None or head is None:
        return np.zeros(len(recording), dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        out: BoolArray = head > RUNNING_RATIO * suction
    return out
