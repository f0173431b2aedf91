"""Findings on the air side: indoor air, outdoor air, what the fans do. The refrigerant circuit is innocent in all of them."""

from __future__ import annotations

from steadfeed.analysis.diagnosis.evidence import Evidence
from steadfeed.analysis.diagnosis.weigh import weigh
from steadfeed.circuit.finding import Finding

_CHART = "signs of Rossi and Braun, after Braun and Li, table 1-1"
_TRADE = "common practice"


def low_indoor_airflow(evidence: Evidence) -> Finding | None:
    """Too little indoor air, or little load: in cooling a cold coil and a large split, in heating a high head."""
    heating = evidence.system.mode == "heating"
    return weigh(
        evidence, "low indoor airflow",
        needs=(("high_side",),) if heating else (("low_side", "split"), ("low_side",), ("split",)),
        text="Too little indoor air (filter, blower, ducts)" + ("." if heating else ", or too little load."),
        next_step="Look at filter, blower wheel and registers, then measure the airflow.",
        source=f"{_CHART}; Title 24 RA3.2.2.7",
    )  # fmt: skip


def condenser_air(evidence: Evidence) -> Finding | None:
    """Dirty condenser or little air through it (cooling): condensing temperature and its rise in the air go up."""
    return weigh(
        evidence, "condenser air", needs=(("high_side",),),
        text="The outdoor coil is dirty or gets too little air.",
        next_step="Look through the coil from inside, at the fan’s turn and at what stands around; clean with the unit off.",
        source=f"{_CHART}; trade article on restricted condenser air",
    )  # fmt: skip


def outdoor_coil_air(evidence: Evidence) -> Finding | None:
    """The same coil while it evaporates (heating): too little outdoor air, or frost."""
    return weigh(
        evidence, "outdoor coil air", needs=(("low_side",),),
        text="The outdoor coil is dirty, frosted or gets too little air.",
        next_step="Look for frost and dirt; if frosted, see a defrost through and look again.",
        source=_TRADE,
    )  # fmt: skip


def recirculation(evidence: Evidence) -> Finding | None:
    """The outdoor coil draws its own exhaust: the air at its face is warmer than outdoors. Only shown by reading there."""
    return weigh(
        evidence, "recirculation", needs=(("recirculation",),),
        text="The outdoor coil draws in its own exhaust.",
        next_step="Make room over and beside the unit; measure again at the coil’s face.",
        source=_TRADE,
    )  # fmt: skip


def fan_control(evidence: Evidence) -> Finding | None:
    """The outdoor fan cycles or slows by head pressure and fights whatever is read: by what was seen, or by a challenge."""
    assessment = evidence.assessment
    seen = evidence.outcomes.get("fan cycles")
    noticed = ""
    if assessment is not None and "interrupted" in assessment.reasons:
        noticed = next((n.text for n in assessment.notes if n.code == "interrupted by" and "fan" in n.text), "")
    if seen != "yes" and not noticed:
        return None
    return Finding(
        code="fan control",
        text="The outdoor fan’s control moves the head while it is read.",
        likelihood=0.95 if seen == "yes" else 0.9,
        evidence_for=(noticed,) if noticed else ("The fan was seen to cycle or change its speed.",),
        next_step="Set the fan to full speed by its service mode for the test, and give it back afterwards.",
        source=_TRADE,
    )
