"""Phases of a challenge and the marks that people set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

MARK_EVENTS: Final = ("start", "push", "hold", "restore", "standstill", "note", "override", "override back")


@dataclass(frozen=True, slots=True)
class Mark:
    """Something a person noted. time [s since the Unix epoch, UTC]; event: one of MARK_EVENTS.

    circuit: circuit it belongs to, None for all. clock: what `time` counts by in a system file: "utc"; "local", the
    clock on the wall as if it were UTC, when no time zone is known; "elapsed" [s since the start of the log]. The marks
    of a Recording always count as its readings do ("utc").
    """

    time: float
    event: str
    text: str = ""
    circuit: str | None = None
    clock: Literal["utc", "local", "elapsed"] = "utc"

    def __post_init__(self) -> None:
        if self.event not in MARK_EVENTS:
            raise ValueError(f"a mark's event must be one of {', '.join(MARK_EVENTS)}, got {self.event!r}")


@dataclass(frozen=True, slots=True)
class Phases:
    """Start times of the phases [s since the Unix epoch, UTC]; None where the log does not show one.

    push: when the airflow was first restricted; hold: when the head reached about its level; restore: when the
    airflow went back; recovery: when the head is back at about the baseline; standstill: compressor off.
    """

    baseline_start: float | None = None
    push: float | None = None
    hold: float | None = None
    restore: float | None = None
    recovery: float | None = None
    standstill: float | None = None
