"""What a judgement says: validity, verdict, probabilities, numbers with uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Remark

#: The eight states of a metering device that readings can speak for.
STATES: Final = ("regulating", "fixed", "weak", "at its stop", "sticking", "hunting", "starving", "flooding")
UNDECIDED: Final = "undecided"
#: States that may be called although the hold was too short.
EARLY_STATES: Final = ("fixed", "starving", "flooding")

REASONS: Final = (
    "no push found",
    "push too small",
    "too little subcooling",
    "hold too short",
    "interrupted",
    "load drifted",
    "unsteady baseline",
    "suction gauge not alive",
    "head gauge not alive",
    "temperature clamp not alive",
    "temperature clamp off the pipe",
    "wrong refrigerant or unit",
    "channel missing",
    "too few readings",
)

#: Quantities of `baseline`, `push` and `recovery` with their kind (see units.py); the JSON key adds the unit.
READING_KINDS: Final[dict[str, str]] = {
    "suction_pressure": "pressure",
    "head_pressure": "pressure",
    "evaporating_temperature": "temperature",
    "condensing_temperature": "temperature",
    "superheat": "temperature_difference",
    "subcooling": "temperature_difference",
    "valve_subcooling": "temperature_difference",
    "suction_line_temperature": "temperature",
    "liquid_line_temperature": "temperature",
    "discharge_line_temperature": "temperature",
    "outdoor_air_temperature": "temperature",
    "return_air_dry_bulb": "temperature",
    "return_air_wet_bulb": "temperature",
    "supply_air_dry_bulb": "temperature",
    "compressor_current": "current",
    "power": "power",
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A number with its standard uncertainty (GUM, k = 1), both in SI units of its kind."""

    value: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class FeedHeld:
    """Share of the push that the metering device cancelled [-], not clipped, with its coverage interval."""

    value: float
    low: float
    high: float
    level: float = 0.95


@dataclass(frozen=True, slots=True)
class SensorState:
    """alive: True | False | None (nothing happened that had to move it). why: one sentence. flags: words such as "frozen"."""

    alive: bool | None
    why: str
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Check:
    """One row of the validity table. name: word of REASONS it guards against; value and limit as SI numbers of `kind`.

    passed: None when it could not be checked. criterion: key into analysis.criteria (source of the limit).
    """

    name: str
    passed: bool | None
    text: str
    value: float | None = None
    limit: float | None = None
    kind: str = ""
    criterion: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """The judgement on one circuit of one recording.

    baseline, push, recovery: quantity of READING_KINDS -> Measured (SI, absolute). apparent_opening: in the hold,
    baseline = 1 [-]. would_change: sentences, what would change this verdict. ceiling: absolute head pressure that
    must not be passed [Pa] and the limit that sets it.
    """

    valid: bool
    reasons: tuple[str, ...]
    verdict: str
    early: bool
    probability: Mapping[str, float] | None
    feed_held: FeedHeld | None
    phases: Phases
    baseline: Mapping[str, Measured] = field(default_factory=dict)
    push: Mapping[str, Measured] = field(default_factory=dict)
    recovery: Mapping[str, Measured] = field(default_factory=dict)
    sensors: Mapping[str, SensorState] = field(default_factory=dict)
    checks: tuple[Check, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[Remark, ...] = ()
    repairs: tuple[Remark, ...] = ()
    would_change: tuple[str, ...] = ()
    apparent_opening: Measured | None = None
    ceiling: float | None = None
    ceiling_set_by: str = ""
    circuit: str | None = None
    mode: str = "cooling"

    def __post_init__(self) -> None:
        unknown = set(self.reasons) - set(REASONS)
        if unknown:
            raise ValueError(f"no reason is called {', '.join(sorted(unknown))}")
        if self.verdict != UNDECIDED and self.verdict not in STATES:
            raise ValueError(f"no verdict is called {self.verdict!r}")
        if self.valid == bool(self.reasons):
            raise ValueError("a test is valid exactly when no reason stands against it")
