"""From probabilities and reasons to a verdict."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.evidence import Summary
from steadfeed.analysis.feed import Feed
from steadfeed.circuit.verdict import EARLY_STATES, STATES, UNDECIDED

F = 5.0 / 9.0
MODULATING: Final = ("regulating", "hunting")


def decide(
    chance: Mapping[str, float] | None, reasons: tuple[str, ...], feed: Feed | None, summary: Summary | None
) -> tuple[str, bool]:
    """Verdict and whether it is an early one.

    Any state on a valid test; `fixed`, `starving` and `flooding` with probability ≥ 0.95 when the only reason is a
    short hold. Otherwise undecided. Where two states of the same consequence share the probability, the likelier is
    called; a valve is never called regulating while the feed held excludes it.
    """
    if chance is None:
        return UNDECIDED, False
    best = max(STATES, key=lambda s: chance[s])
    if not reasons:
        modulating = chance["regulating"] + chance["hunting"]
        if best in MODULATING:
            held = feed.held if feed is not None else None
            if held is not None and held.high < limit("regulating_feed_held"):
                return UNDECIDED, False
            if summary is not None and summary.superheat_before < limit("blind_superheat"):
                return UNDECIDED, False  # gauges may be blind there: a flooded coil looks just as steady
            if summary is not None and summary.superheat_before > limit("starved_superheat"):
                return UNDECIDED, False  # held by the air's temperature, not by a valve
            if summary is not None and (summary.discharge_change or 0.0) < -limit("discharge_cooled"):
                return UNDECIDED, False  # no gas of the same superheat leaves colder at a higher head
            if summary is not None and summary.superheat_change > 2.5 * F and summary.evaporating_change < 0.0:
                return UNDECIDED, False  # the valve closed further than the push asks for; no warmed clamp does that
            if modulating >= limit("group_probability") and chance[best] >= 0.5:
                return best, False
            cycling = summary is not None and (summary.cycles_before or 0.0) > 0.6 * F
            if best == "hunting" and cycling and modulating + chance["sticking"] >= 0.95 and chance[best] >= 0.6:
                return best, False  # cycles before the push: the limit cycle is what was seen
        else:
            group = _same_consequence(best)
            if sum(chance[s] for s in group) >= limit("group_probability") and chance[best] >= 0.5:
                return best, False
        return (best, False) if chance[best] >= limit("call_probability") else (UNDECIDED, False)
    if reasons == ("hold too short",) and best in EARLY_STATES:
        group = tuple(s for s in _same_consequence(best) if s in EARLY_STATES)
        if sum(chance[s] for s in group) >= limit("early_probability") and chance[best] >= 0.5:
            return best, True
    return UNDECIDED, False


def _same_consequence(state: str) -> tuple[str, ...]:
    """States between which the next step hardly differs."""
    if state in ("weak", "sticking"):
        return ("weak", "sticking", "fixed")
    if state == "fixed":
        return ("fixed", "starving", "flooding", "weak")
    return (state, "fixed")
