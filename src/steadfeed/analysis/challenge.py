"""The judgement of a challenge: one pure function on the readings so far."""

from __future__ import annotations

from dataclasses import dataclass

from steadfeed.analysis.derive import Trace
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Assessment
from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """An assessment with what it was made from: the recording after stated repairs, and its derived series.

    trace is None when a vital channel is missing.
    """

    assessment: Assessment
    recording: Recording
    trace: Trace | None


def judge(recording: Recording, system: System, curves: Curves) -> Judgement:
    """Judge one circuit of a recording. Pure: no clock, no files, no look beyond the last reading."""
    raise NotImplementedError
