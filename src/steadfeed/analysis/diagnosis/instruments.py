"""Findings in the instruments: before anything is wrong with the unit, the readings may be."""

from __future__ import annotations

from steadfeed.analysis.diagnosis.evidence import Evidence
from steadfeed.analysis.diagnosis.weigh import weigh
from steadfeed.circuit.finding import Finding

_LAW = "thermodynamics: the readings contradict each other"
_TRADE = "common practice"


def _unless_dead(evidence: Evidence, channels: tuple[str, ...], *needs: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Readings that the finding needs; none where a challenge showed that the gauge does not move."""
    sensors = {} if evidence.assessment is None else evidence.assessment.sensors
    dead = any(name in sensors and sensors[name].alive is False for name in channels)
    return ((),) if dead else needs


def suction_gauge(evidence: Evidence) -> Finding | None:
    """A suction gauge that is off, or a port that is hardly open: superheat and suction shift, the air sees nothing."""
    return weigh(
        evidence, "suction gauge",
        needs=_unless_dead(evidence, ("suction_pressure",), ("superheat", "low_side"), ("superheat", "discharge")),
        text="The suction gauge reads wrong, or its port is hardly open.",
        next_step="Zero it, open the port fully, and compare both gauges on one pressure.",
        source=_LAW,
    )  # fmt: skip


def head_gauge(evidence: Evidence) -> Finding | None:
    """A head gauge that is off: subcooling and condensing temperature shift together."""
    return weigh(
        evidence, "head gauge",
        needs=_unless_dead(
            evidence, ("liquid_pressure", "discharge_pressure"), ("subcooling", "high_side"), ("subcooling", "discharge")
        ),
        text="The head gauge reads wrong, or its port is hardly open.",
        next_step="Zero it, open the port fully, and compare both gauges on one pressure.",
        source=_LAW,
    )  # fmt: skip


def suction_clamp(evidence: Evidence) -> Finding | None:
    """A suction clamp that feels the air: superheat alone is off."""
    return weigh(
        evidence, "suction clamp", needs=(("superheat", "low_side"), ("superheat", "suction_gain")),
        text="The clamp on the suction line feels the air beside it.",
        next_step="Clean the pipe, strap the clamp tight, insulate it, read again.",
        source=_TRADE,
    )  # fmt: skip


def liquid_clamp(evidence: Evidence) -> Finding | None:
    """A liquid clamp that feels the air: subcooling alone is off."""
    return weigh(
        evidence, "liquid clamp", needs=(("subcooling", "high_side"), ("subcooling", "line_drop")),
        text="The clamp on the liquid line feels the air beside it.",
        next_step="Clean the pipe, strap the clamp tight, insulate it, read again.",
        source=_TRADE,
    )  # fmt: skip


def outdoor_thermometer(evidence: Evidence) -> Finding | None:
    """An outdoor thermometer in the sun or in the exhaust: everything that hangs on outdoor air is off."""
    return weigh(
        evidence, "outdoor thermometer", needs=(("high_side", "subcooling"), ("recirculation",)),
        text="The outdoor thermometer stands in the sun or in the exhaust.",
        next_step="Hold it in the shade before the coil, away from the exhaust.",
        source=_TRADE,
    )  # fmt: skip


def channels_swapped(evidence: Evidence) -> Finding | None:
    """Two readings the wrong way round, or in another unit than stated: found by what cannot be."""
    if not evidence.slips:
        return None
    return Finding(
        code="readings mixed up",
        text="Readings seem to be swapped or in another unit than stated.",
        likelihood=0.95,
        evidence_for=evidence.slips,
        next_step="Correct them and ask again; nothing else is worth reading before.",
        source=_LAW,
    )
