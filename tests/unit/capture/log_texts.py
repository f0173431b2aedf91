"""Small logs for the tests, and how to compare what was read from them."""

from __future__ import annotations

import numpy as np
import pytest

from steadfeed.capture.logs import parse_log
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.errors import FixInput, SteadfeedError

FOUR = (
    "suction_pressure_psig",
    "liquid_pressure_psig",
    "suction_line_temperature_degF",
    "liquid_line_temperature_degF",
)
HEADER = "time," + ",".join(FOUR)


def stamps(n: int, start: int = 0, step: int = 5) -> list[str]:
    """Return n times from 14:00:00-05:00 on."""
    seconds = [start + step * i for i in range(n)]
    return [f"2025-06-01T{14 + s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}-05:00" for s in seconds]


def rows(n: int, step: int = 5) -> list[str]:
    """Return n rows of four readings, no two rows alike."""
    return [f"{t},{118 + 0.1 * i:.1f},{410 + i},{55.5 - 0.1 * i:.1f},98.2" for i, t in enumerate(stamps(n, step=step))]


def log(*lines: str, header: str = HEADER) -> str:
    return "\n".join([header, *lines]) + "\n"


def read(text: str | bytes, system: System | None = None, name: str = "unit5.csv") -> Recording:
    """Read a log of one circuit."""
    (recording,) = parse_log(text.encode() if isinstance(text, str) else text, name, system)
    return recording


def refused(text: str | bytes, system: System | None = None, name: str = "unit5.csv") -> FixInput:
    """Return the error with which a log is refused; it must be one sentence that names the file."""
    with pytest.raises(FixInput) as caught:
        parse_log(text.encode() if isinstance(text, str) else text, name, system)
    assert "\n" not in caught.value.message
    assert name in caught.value.message
    return caught.value


def codes(recording: Recording) -> list[str]:
    return [remark.code for remark in recording.remarks]


def said(recording: Recording, code: str) -> str:
    """Return the text of the only remark of a code."""
    (text,) = [remark.text for remark in recording.remarks if remark.code == code]
    return text


def outcome(data: bytes, name: str, system: System | None, quick: bool) -> object:
    """Return what reading a log comes to, in a form that can be compared: bits of all readings, remarks, or the error."""
    try:
        recordings = parse_log(data, name, system, quick=quick)
    except SteadfeedError as error:
        return type(error).__name__, error.code, error.message
    return [
        (
            r.time.tobytes(),
            {k: (c.values.tobytes(), c.unit, c.header, c.resolution) for k, c in r.channels.items()},
            (r.atmosphere, r.utc_offset, r.elapsed, r.read_by, r.circuit, r.marks, r.remarks),
            None if r.same is None else r.same.tobytes(),
        )
        for r in recordings
    ]


def psig(value: float, atmosphere: float = 101325.0) -> float:
    """Convert by the definition of the pound-force per square inch (NIST SP 811: 4.4482216152605 N on 0.0254² m²)."""
    return value * 4.4482216152605 / 0.0254**2 + atmosphere


def same_values(left: np.ndarray, right: list[float]) -> bool:
    return bool(np.allclose(left, np.array(right, float), rtol=1e-12, atol=1e-9, equal_nan=True))
