"""All findings together: likelihoods of causes, alone and in pairs, conflicting evidence left standing."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis import air, charge, compression, feeding, instruments
from steadfeed.analysis.diagnosis.evidence import Evidence
from steadfeed.analysis.diagnosis.signatures import HEALTHY
from steadfeed.analysis.diagnosis.weigh import log_prior
from steadfeed.circuit.finding import Finding

Rule = Callable[[Evidence], Finding | None]

#: Every finding; an explicit tuple, so that one look shows them all. Code of the finding -> function.
FINDINGS: Final[Mapping[str, Rule]] = {
    "undercharge": charge.undercharge,
    "overcharge": charge.overcharge,
    "non-condensables": charge.non_condensables,
    "wrong refrigerant": charge.wrong_refrigerant,
    "liquid line restriction": feeding.liquid_line_restriction,
    "flash gas": feeding.flash_gas,
    "metering device underfeeding": feeding.underfeeding,
    "metering device overfeeding": feeding.overfeeding,
    "metering device parked": feeding.device_parked,
    "bulb loose": feeding.bulb_loose,
    "bulb charge lost": feeding.bulb_charge_lost,
    "equalizer plugged": feeding.equalizer_plugged,
    "check valve leaking": feeding.check_valve_leaking,
    "low indoor airflow": air.low_indoor_airflow,
    "condenser air": air.condenser_air,
    "outdoor coil air": air.outdoor_coil_air,
    "recirculation": air.recirculation,
    "fan control": air.fan_control,
    "compressor valves": compression.compressor_valves,
    "compressor unloaded": compression.compressor_unloaded,
    "reversing valve": compression.reversing_valve,
    "suction restriction": compression.suction_restriction,
    "suction gauge": instruments.suction_gauge,
    "head gauge": instruments.head_gauge,
    "suction clamp": instruments.suction_clamp,
    "liquid clamp": instruments.liquid_clamp,
    "outdoor thermometer": instruments.outdoor_thermometer,
    "readings mixed up": instruments.channels_swapped,
}
#: Findings that stand on a rule of their own, beside the likelihoods of the circuit's causes.
RULES: Final = ("metering device parked", "fan control", "readings mixed up")
#: Causes outside the refrigerant circuit.
OUTSIDE: Final = (
    "low indoor airflow", "condenser air", "outdoor coil air", "recirculation", "fan control", "suction gauge",
    "head gauge", "suction clamp", "liquid clamp", "outdoor thermometer", "readings mixed up",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Findings, the likeliest first, and what they add up to.

    probability: of each cause that this unit can have and of HEALTHY; those of causes may add to more than one, since two may
    hold at once. None when nothing was read that tells. untold: causes that the readings leave open although their finding
    abstains for want of a reading, the likeliest first. nothing_found: a unit without fault explains the readings best.
    circuit_suspected: whether anything in the refrigerant circuit is likely enough to look for. summary: one sentence.
    """

    findings: tuple[Finding, ...]
    probability: Mapping[str, float] | None
    nothing_found: bool
    circuit_suspected: bool
    summary: str
    untold: tuple[str, ...] = ()


def diagnose(evidence: Evidence) -> Diagnosis:
    """Combine all findings. A cause whose finding abstains keeps its share, which the others then do not get."""
    made = {code: finding for code, rule in FINDINGS.items() if (finding := rule(evidence)) is not None}
    rules = [made[code] for code in RULES if code in made]
    chance = _chances(evidence)
    if chance is None and not rules:
        return Diagnosis((), None, False, False, "Too little was read to tell a cause.")
    found = list(rules)
    if chance is not None:
        for code, finding in made.items():
            if code not in RULES and chance[code] >= limit("least_reported"):
                found.append(replace(finding, likelihood=min(chance[code], 1.0)))
    found.sort(key=lambda finding: -(finding.likelihood or 0.0))
    untold = [
        cause
        for cause, share in (chance or {}).items()
        if cause != HEALTHY and cause not in made and share >= limit("least_reported")
    ]
    untold.sort(key=lambda cause: -(chance or {})[cause])
    nothing = (
        chance is not None
        and not rules
        and all(chance[HEALTHY] >= (f.likelihood or 0.0) for f in found)
        and all(chance[HEALTHY] >= chance[cause] for cause in untold)
    )
    inside = [f for f in found if f.code not in OUTSIDE and (f.likelihood or 0.0) >= limit("suspected")]
    suspected = bool(inside) and not nothing
    return Diagnosis(tuple(found), chance, nothing, suspected, _summary(found, nothing, suspected), tuple(untold))


def _chances(evidence: Evidence) -> dict[str, float] | None:
    """Posterior of every cause that the unit can have, and of a healthy unit."""
    if not evidence.single:
        return None
    taking_part = [cause for cause in evidence.single if cause != HEALTHY and evidence.knows(cause)]
    weights: dict[tuple[str, ...], float] = {(HEALTHY,): 0.0}
    for code in taking_part:
        weights[(code,)] = log_prior(evidence, code) + evidence.single[code]
    for names, log in evidence.pair.items():
        if evidence.knows(names[0]) and evidence.knows(names[1]):
            weights[names] = log_prior(evidence, *names) + log
    top = max(weights.values())
    shares = {key: math.exp(value - top) for key, value in weights.items()}
    total = sum(shares.values())
    out = dict.fromkeys((HEALTHY, *taking_part), 0.0)
    for key, share in shares.items():
        for code in key:
            out[code] += share / total
    return out


def _summary(found: list[Finding], nothing: bool, suspected: bool) -> str:
    if nothing:
        return "Nothing found: a unit in order explains these readings best; the refrigerant circuit is not suspected."
    if not found:
        return "Something is off, but no cause stands out."
    first = found[0]
    likely = (first.likelihood or 0.0) >= limit("suspected")
    said = first.text if likely else f"No cause stands out; first to look at: {first.text[0].lower()}{first.text[1:]}"
    if not suspected:
        return f"{said} The refrigerant circuit itself is not suspected."
    return said
