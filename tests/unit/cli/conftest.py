"""A judgement that stands still, so that the command line can be tested by itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from steadfeed.analysis import challenge
from steadfeed.analysis.derive import derive
from steadfeed.circuit.equipment import System
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import STATES, Assessment, Check, FeedHeld, Measured, SensorState
from steadfeed.physics.properties import Curves

HEADER = "time,suction_pressure_psig,liquid_pressure_psig,suction_line_temperature_degF,liquid_line_temperature_degF\n"
ROWS = "".join(f"2025-07-14T10:{minute:02d}:00-05:00,{118 + minute % 3},365,54,96\n" for minute in range(20))


def assessment(recording: Recording, **changes: object) -> Assessment:
    """An assessment of a regulating valve on this recording."""
    start = float(recording.time[0]) if len(recording) else 0.0
    readings = {
        "suction_pressure": Measured(915e3, 3.4e3),
        "head_pressure": Measured(2618e3, 7e3),
        "evaporating_temperature": Measured(277.6, 0.15),
        "condensing_temperature": Measured(316.4, 0.1),
        "superheat": Measured(7.8, 0.3),
        "subcooling": Measured(7.2, 0.25),
        "valve_subcooling": Measured(6.1, 0.4),
        "suction_line_temperature": Measured(285.4, 0.3),
    }
    pushed = readings | {"head_pressure": Measured(3280e3, 7e3), "condensing_temperature": Measured(326.4, 0.1)}
    fields: dict[str, object] = {
        "valid": True,
        "reasons": (),
        "verdict": "regulating",
        "early": False,
        "probability": {state: 0.93 if state == "regulating" else 0.01 for state in STATES},
        "feed_held": FeedHeld(0.81, 0.69, 0.93),
        "phases": Phases(baseline_start=start, push=start + 300.0, hold=start + 360.5),
        "baseline": readings,
        "push": pushed,
        "sensors": {"suction_pressure": SensorState(True, "It rose at the start.")},
        "checks": (
            Check("push too small", True, "The push is large enough.", 10.0, 8.3, "temperature_difference"),
            Check("hold too short", True, "The hold is long enough.", 240.0, 120.0, "time"),
        ),
        "notes": (Remark("rows dropped", "Two rows were dropped.", "rows 4, 9"),),
        "would_change": ("A recovery would narrow the interval.",),
        "apparent_opening": Measured(0.9, 0.04),
        "ceiling": 3.4e6,
        "ceiling_set_by": "condensing temperature",
        "circuit": recording.circuit,
    }
    return Assessment(**{**fields, **changes})  # type: ignore[arg-type]


Judge = Callable[[Recording, System, Curves], challenge.Judgement]


@pytest.fixture
def judged_as(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Make every recording get this assessment."""

    def arrange(**changes: object) -> None:
        def judge(recording: Recording, system: System, curves: Curves) -> challenge.Judgement:
            return challenge.Judgement(assessment(recording, **changes), recording, derive(recording, curves))

        monkeypatch.setattr(challenge, "judge", judge, raising=False)

    return arrange


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """A small log with its system file."""
    return write_log(tmp_path / "unit5.csv")


def write_log(path: Path, *, text: str = HEADER + ROWS, system: str | None = 'refrigerant = "R-410A"\n') -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    if system is not None:
        path.with_suffix(".toml").write_text(system, encoding="utf-8")
    return path
