"""From a cause's weight to a finding: abstain, be silent, or say what speaks for and against."""

from __future__ import annotations

import math
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis.evidence import HEAT_PUMP_ONLY, IN_INSTRUMENTS, Evidence, amount, said
from steadfeed.analysis.diagnosis.features import FEATURES
from steadfeed.analysis.diagnosis.outcomes import TABLES, chance
from steadfeed.circuit.finding import Finding

#: What the signs of the charts are called.
_FROM_BENCH: Final = "weights from bench cases (docs/diagnosis.md)"


def prior(cause: str, evidence: Evidence) -> float:
    """Prior of a cause against one ordinary cause of the circuit."""
    if cause in IN_INSTRUMENTS:
        return limit("prior_in_instruments")
    if cause in HEAT_PUMP_ONLY and evidence.heat_pump is None:
        return 0.5
    return 1.0


def log_prior(evidence: Evidence, *causes: str) -> float:
    """Logarithm of the prior of a cause, or of two at once, against a healthy unit."""
    healthy = limit("prior_healthy")
    share = (1.0 - healthy) / (len(evidence.signatures.causes) - 1) / healthy
    total = sum(math.log(share * prior(cause, evidence)) for cause in causes)
    if len(causes) > 1:
        total += math.log(limit("prior_pair"))
        # a bad instrument beside a fault explains anything: rarer than each alone would say
        total += sum(math.log(limit("prior_instrument_beside")) for cause in causes if cause in IN_INSTRUMENTS)
    return total


def weigh(
    evidence: Evidence, cause: str, *, needs: tuple[tuple[str, ...], ...], text: str, next_step: str, source: str
) -> Finding | None:
    """Weigh one cause against a healthy unit.

    None where it abstains (this unit cannot have it, or of every group in `needs` some feature is missing) and where it
    is silent: a healthy unit explains the readings better than the cause, alone or with any other. likelihood: of the
    cause against healthy alone; `combine` replaces it by its share among all.
    """
    if not evidence.knows(cause) or not any(evidence.has(*group) for group in needs):
        return None
    odds = log_odds(evidence, cause)
    if odds <= 0.0:
        return None
    for_it, against = spoken(evidence, cause)
    for hint in evidence.hints.get(cause, ()):
        (for_it if hint.weight > 0.0 else against).append(hint.text)
    return Finding(
        code=cause,
        text=text,
        likelihood=1.0 / (1.0 + math.exp(-min(odds, 700.0))),
        evidence_for=tuple(for_it),
        evidence_against=tuple(against),
        next_step=next_step,
        source=f"{source}; {_FROM_BENCH}",
    )


def log_odds(evidence: Evidence, cause: str) -> float:
    """Logarithm of the odds of a cause, alone or with any other one, against a healthy unit."""
    logs = [log_prior(evidence, cause) + evidence.single[cause]]
    logs += [log + log_prior(evidence, *names) for names, log in evidence.pair.items() if cause in names]
    top = max(logs)
    return top + math.log(sum(math.exp(log - top) for log in logs))


def spoken(evidence: Evidence, cause: str) -> tuple[list[str], list[str]]:
    """Sentences for and against a cause, one a reading, the strongest first."""
    known = evidence.signatures
    k = known.index(cause)
    rows: list[tuple[float, str]] = []
    for name, residual in evidence.residuals.items():
        if name == "line_set_loss" and cause != "flash gas":
            continue
        j = known.features.index(name)
        mean, wide = known.mean[k, j], math.sqrt(known.covariance[k, j, j])
        middle, usual = known.mean[0, j], residual.spread
        own = residual.value + middle
        ratio = (
            -0.5 * ((own - mean) / wide) ** 2 - math.log(wide) + 0.5 * ((own - middle) / usual) ** 2 + math.log(usual)
        )
        if abs(ratio) < limit("tells_feature"):
            continue
        rows.append((ratio, _sentence(residual.feature, evidence, own - middle, mean - middle, residual.z, ratio)))
    rows.sort(key=lambda row: -abs(row[0]))
    for_it = [text for ratio, text in rows if ratio > 0.0]
    against = [text for ratio, text in rows if ratio < 0.0]
    for test, result in evidence.outcomes.items():
        if test not in TABLES:
            continue
        ratio = math.log(chance(test, result, cause) / chance(test, result, "healthy"))
        if abs(ratio) > 0.3:
            (for_it if ratio > 0.0 else against).append(f"Test “{test}”: {result}.")
    return for_it, against


def _sentence(feature: str, evidence: Evidence, own: float, asked: float, z: float, ratio: float) -> str:
    """Say one reading: what it is against what was to be expected, and against what the cause would bring."""
    name, kind = FEATURES[feature]
    said_name = name[0].upper() + name[1:]
    residual = evidence.residuals[feature]
    if ratio > 0.0:
        if abs(z) < 1.0:
            return f"{said_name} is about as expected."
        return f"{said_name} is {said(residual, evidence.units)} what is expected here."
    bring = "raise" if asked > 0.0 else "lower"
    size = amount(abs(asked), kind, evidence.units)
    if abs(z) < 1.0:
        return f"{said_name} is about as expected; this cause would {bring} it by about {size}."
    if own * asked < 0.0 or abs(asked) < 0.5 * residual.spread:
        return (
            f"{said_name} is {said(residual, evidence.units)} what is expected here, which this cause does not explain."
        )
    return f"{said_name} is {said(residual, evidence.units)} what is expected here; this cause brings about {size}."
