"""Rows behind a flag: exact for what instruments of the bench did at known moments."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from steadfeed.analysis.challenge import judge
from steadfeed.analysis.quality_spans import QualitySpan, quality_spans, runs_of
from steadfeed.bench.faults import Faults
from steadfeed.bench.performed import log_text, perform, system_text
from steadfeed.bench.settings import ConductSettings, F, InstrumentFault, KitSettings, Settings, UnitSettings
from steadfeed.capture.logs import parse_log
from steadfeed.capture.system_file import parse_system
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Assessment
from steadfeed.physics.properties import curves

GOOD = Settings(
    unit=UnitSettings(subcooling=11.0 * F),
    faults=Faults(charge=1.08),
    conduct=ConductSettings(running=760.0, hold=300.0, recovery=240.0, standstill=120.0),
)


@cache
def judged(*faults: InstrumentFault, outdoor: bool = True) -> tuple[Recording, Assessment]:
    kit = KitSettings(faults=faults)
    done = perform(replace(GOOD, kit=kit), 1, step=0.5)
    system = parse_system(system_text(done), "log.toml")
    (recording,) = parse_log(log_text(done).encode(), "log.csv", system)
    if not outdoor:
        channels = {k: c for k, c in recording.channels.items() if k != "outdoor_air_temperature"}
        recording = replace(recording, channels=channels)
    judgement = judge(recording, system, curves(system.refrigerant or ""))
    return judgement.recording, judgement.assessment


def spans(recording: Recording, assessment: Assessment, channel: str, flag: str) -> list[QualitySpan]:
    return [s for s in quality_spans(recording, assessment) if s.channel == channel and s.flag == flag]


def seconds_after_push(recording: Recording, assessment: Assessment, row: int) -> float:
    assert assessment.phases.push is not None
    return float(recording.time[row] - assessment.phases.push)


def test_a_good_log_has_no_span() -> None:
    recording, assessment = judged()
    assert assessment.valid
    assert quality_spans(recording, assessment) == ()


def test_a_frozen_gauge_is_flagged_from_the_row_at_which_it_froze() -> None:
    recording, assessment = judged(InstrumentFault("suction_pressure", "frozen", -120.0))
    (span,) = spans(recording, assessment, "suction_pressure", "frozen")
    assert seconds_after_push(recording, assessment, span.first_row) == pytest.approx(-120.0, abs=8.0)
    assert span.last_row == len(recording) - 1
    values = recording.channels["suction_pressure"].values
    assert np.unique(values[span.first_row : span.last_row + 1]).shape[0] == 1
    assert values[span.first_row - 1] != values[span.first_row]


@pytest.mark.parametrize("outdoor", [True, False])
def test_a_clamp_that_slid_off_is_flagged_from_then_on(outdoor: bool) -> None:
    recording, assessment = judged(InstrumentFault("suction_line_temperature", "off the pipe", 60.0), outdoor=outdoor)
    assert "temperature clamp off the pipe" in assessment.reasons
    (span,) = spans(recording, assessment, "suction_line_temperature", "off the pipe")
    assert 55.0 < seconds_after_push(recording, assessment, span.first_row) < 240.0
    assert span.last_row == len(recording) - 1


def test_missing_impossible_and_leaping_readings_are_found_row_by_row() -> None:
    recording, assessment = judged()
    channels = dict(recording.channels)
    suction, line = channels["suction_pressure"].values.copy(), channels["suction_line_temperature"].values.copy()
    suction[100:103] = np.nan
    suction[400] += 2e5
    line[200] = 5000.0
    channels["suction_pressure"] = replace(channels["suction_pressure"], values=suction)
    channels["suction_line_temperature"] = replace(channels["suction_line_temperature"], values=line)
    found = quality_spans(replace(recording, channels=channels), assessment)
    assert set(found) == {
        QualitySpan("suction_pressure", "missing", 100, 102),
        QualitySpan("suction_pressure", "spike", 400, 400),
        QualitySpan("suction_line_temperature", "out of range", 200, 200),
        QualitySpan("suction_line_temperature", "spike", 200, 200),
    }


def test_runs_of_a_mask() -> None:
    assert runs_of(np.array([True, True, False, True])) == [(0, 1), (3, 3)]
    assert runs_of(np.zeros(4, dtype=np.bool_)) == []
    assert runs_of(np.ones(2, dtype=np.bool_)) == [(0, 1)]
