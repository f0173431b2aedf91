"""Findings of a judged challenge: the baseline as spot readings, the push and the standstill as further evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from steadfeed.analysis.diagnosis.combine import Diagnosis, diagnose
from steadfeed.analysis.diagnosis.evidence import Standstill, gather
from steadfeed.analysis.spot import SPOT_KINDS, Spot, SpotReadings, evaluate
from steadfeed.analysis.words import Units
from steadfeed.circuit.channel import BoolArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.recording import Recording
from steadfeed.physics.properties import Curves

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement

#: Code of the finding that says that nothing was found.
NOTHING: Final = "nothing found"
#: Without a push: the last so many seconds of running stand for the baseline [s].
LAST_RUNNING: Final = 200.0
#: Pressure ratio above which the compressor counts as running [-].
RUNNING_RATIO: Final = 1.25
#: Most findings that a report lists.
MOST: Final = 5


def findings_for(
    judgement: Judgement, system: System, curves: Curves, *, seer: float | None = None, heat_pump: bool | None = None,
    units: Units = "us",
) -> tuple[Finding, ...]:  # fmt: skip
    """Findings of one judged circuit, the likeliest first; a single one with the code "nothing found" where there is none.

    () when the challenge's readings contradict physics or are too few: the assessment already says so. Pure, about 5 ms.
    """
    found = diagnosis_of(judgement, system, curves, seer=seer, heat_pump=heat_pump, units=units)
    if found is None:
        return ()
    if found.nothing_found:
        likelihood = None if found.probability is None else found.probability["healthy"]
        return (Finding(NOTHING, found.summary, likelihood, source="docs/diagnosis.md"),)
    return found.findings[:MOST]


def diagnosis_of(
    judgement: Judgement, system: System, curves: Curves, *, seer: float | None = None, heat_pump: bool | None = None,
    units: Units = "us",
) -> Diagnosis | None:  # fmt: skip
    """Diagnosis of one judged circuit; None when its readings contradict physics or are too few."""
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
    return None if found.probability is None and not found.findings else found


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
