"""Findings in what fills the circuit: too little, too much, gas that does not condense, another refrigerant."""

from __future__ import annotations

from steadfeed.analysis.diagnosis.evidence import Evidence
from steadfeed.analysis.diagnosis.weigh import weigh
from steadfeed.circuit.finding import Finding

_CHART = "signs of Rossi and Braun, after Braun and Li, table 1-1"
_DECOUPLING = "Li and Braun, decoupling features"


def undercharge(evidence: Evidence) -> Finding | None:
    """Too little refrigerant: superheat less subcooling rises (Li and Braun); a TXV hides it until it stands wide open."""
    return weigh(
        evidence, "undercharge", needs=(("superheat", "subcooling"), ("subcooling",)),
        text="Too little refrigerant in the circuit.",
        next_step="Search for the leak first; then weigh in a little and watch subcooling come back.",
        source=f"{_CHART}; {_DECOUPLING}",
    )  # fmt: skip


def overcharge(evidence: Evidence) -> Finding | None:
    """Too much refrigerant: liquid backs up in the condenser, subcooling and condensing temperature rise together."""
    return weigh(
        evidence, "overcharge", needs=(("subcooling",),),
        text="Too much refrigerant in the circuit.",
        next_step="Recover a little into a cylinder and watch subcooling fall; rule out non-condensables by a standing test.",
        source=f"{_DECOUPLING}; common practice",
    )  # fmt: skip


def non_condensables(evidence: Evidence) -> Finding | None:
    """Air or nitrogen in the condenser: head above what the temperature asks for; settled by a standing test only."""
    return weigh(
        evidence, "non-condensables", needs=(("high_side",), ("subcooling", "push_subcooling")),
        text="Gas that does not condense (air, nitrogen) in the high side.",
        next_step="Standing test: long at rest, pressure against the temperature of both coils. No pump-down on microchannel.",
        source="Li and Braun, p. 49 and 53: best with the compressor off",
    )  # fmt: skip


def wrong_refrigerant(evidence: Evidence) -> Finding | None:
    """Another refrigerant than the one written down: superheat and subcooling shift together, the air sees nothing."""
    return weigh(
        evidence, "wrong refrigerant", needs=(("superheat", "subcooling", "high_side"), ("superheat", "subcooling", "low_side")),
        text="The refrigerant may not be the one that is written down.",
        next_step="Read nameplate and service labels; have the refrigerant identified before any is added.",
        source="saturation tables: pressure and air temperature contradict each other",
    )  # fmt: skip
