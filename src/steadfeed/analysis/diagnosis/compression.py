"""Findings at the compressor and in the vapor lines."""

from __future__ import annotations

from steadfeed.analysis.diagnosis.evidence import Evidence
from steadfeed.analysis.diagnosis.weigh import weigh
from steadfeed.circuit.finding import Finding

_CHART = "signs of Rossi and Braun, after Braun and Li, table 1-1"
_TRADE = "common practice"


def compressor_valves(evidence: Evidence) -> Finding | None:
    """Leaking valves or scroll flanks: suction up, head down, discharge hot for its pressures (Li and Braun)."""
    return weigh(
        evidence, "compressor valves", needs=(("low_side", "high_side"), ("low_side", "discharge"), ("high_side", "discharge")),
        text="The compressor pumps too little: its valves or scroll flanks leak.",
        next_step="Read its current against its map; close the liquid valve for a moment and see whether suction falls.",
        source=f"{_CHART}; Li and Braun: discharge temperature",
    )  # fmt: skip


def compressor_unloaded(evidence: Evidence) -> Finding | None:
    """A stage or unloader stays open, or the speed is low: suction up, head and current down, discharge cool."""
    return weigh(
        evidence, "compressor unloaded", needs=(("low_side", "high_side"), ("low_side", "current"), ("high_side", "current")),
        text="The compressor runs unloaded, in a low stage or at low speed.",
        next_step="Prove the call for full capacity at the board or solenoid, then read again.",
        source=_TRADE,
    )  # fmt: skip


def reversing_valve(evidence: Evidence) -> Finding | None:
    """A reversing valve that leaks hot gas into suction: the suction line warms in it."""
    return weigh(
        evidence, "reversing valve", needs=(("suction_gain",), ("superheat", "low_side", "discharge")),
        text="The reversing valve leaks hot gas into suction.",
        next_step="Measure both suction pipes at the valve: more than 3 °F apart is a leak.",
        source=_TRADE,
    )  # fmt: skip


def suction_restriction(evidence: Evidence) -> Finding | None:
    """A restriction in the suction line: pressure at the compressor below that of the coil."""
    return weigh(
        evidence, "suction restriction", needs=(("low_side", "superheat"),),
        text="A restriction in the suction line (filter, valve half shut, kink, line too small).",
        next_step="Read suction at the coil and at the unit: the difference is the loss.",
        source=_TRADE,
    )  # fmt: skip
