"""Evidence: what was read, set against what a healthy unit shows under these conditions, and what else is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis.features import (
    CURRENT_SCALE,
    FEATURES,
    SLOPE_SCALE,
    base_subcooling,
    base_superheat,
    observe,
    slopes,
)
from steadfeed.analysis.diagnosis.hints import Hint, hints
from steadfeed.analysis.diagnosis.outcomes import outcome_log, pair_outcome_log
from steadfeed.analysis.diagnosis.signatures import HEALTHY, Signatures, conditions, signatures
from steadfeed.analysis.diagnosis.weighing import Residuals, lowest_residuals, pairs, residuals, single
from steadfeed.analysis.spot import Spot
from steadfeed.analysis.words import Units, degrees
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.verdict import Assessment
from steadfeed.physics.properties import Curves

#: Causes that only heat pumps can have.
HEAT_PUMP_ONLY: Final = ("reversing valve", "check valve leaking")
#: Causes that lie in instruments or in what is written down, not in the circuit.
IN_INSTRUMENTS: Final = (
    "suction gauge",
    "head gauge",
    "suction clamp",
    "liquid clamp",
    "outdoor thermometer",
    "wrong refrigerant",
)


@dataclass(frozen=True, slots=True)
class Residual:
    """One feature against its expectation [SI of its kind]. spread: standard deviation among healthy units so read."""

    feature: str
    observed: float
    expected: float
    spread: float

    @property
    def value(self) -> float:
        """Observed less expected."""
        return self.observed - self.expected

    @property
    def z(self) -> float:
        """Residual over the spread of healthy units."""
        return self.value / self.spread if self.spread > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Standstill:
    """The unit standing. suction, head: absolute [Pa]; coldest: temperature of the colder coil's air, warmest [K], None
    when not read; seconds: since the compressor stopped."""

    suction: float
    head: float
    seconds: float
    coldest: float | None = None
    warmest: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that findings look at.

    residuals: by feature. single: log-likelihood of each cause over that of a healthy unit, {} when nothing was read;
    pair: the same of two causes at once. assessment: of a challenge, None without one. outcomes: test -> result.
    heat_pump: None = not known. slips: names of readings that were mixed up. units: of the sentences.
    """

    system: System
    curves: Curves
    spot: Spot | None
    residuals: Mapping[str, Residual]
    signatures: Signatures
    single: Mapping[str, float]
    pair: Mapping[tuple[str, str], float]
    assessment: Assessment | None = None
    standstill: Standstill | None = None
    outcomes: Mapping[str, str] = field(default_factory=dict)
    heat_pump: bool | None = None
    slips: tuple[str, ...] = ()
    hints: Mapping[str, tuple[Hint, ...]] = field(default_factory=dict)
    units: Units = "us"

    @property
    def device(self) -> MeteringDevice:
        """The metering device that the unit should have."""
        return self.system.metering_device

    def has(self, *features: str) -> bool:
        """Whether all of these features could be worked out."""
        return all(name in self.residuals for name in features)

    def value(self, feature: str) -> float:
        """Residual of a feature; raises KeyError when it was not read."""
        return self.residuals[feature].value

    def knows(self, cause: str) -> bool:
        """Whether this mode and metering device can have a cause, so far as is known."""
        return cause in self.single and possible(cause, self.system, self.heat_pump)


def possible(cause: str, system: System, heat_pump: bool | None) -> bool:
    """Whether a unit can have a cause, so far as is known of its parts."""
    if cause in HEAT_PUMP_ONLY and heat_pump is False:
        return False
    return not (cause == "flash gas" and system.packaged)


def gather(
    system: System, curves: Curves, spot: Spot | None, *, pushed: Spot | None = None,
    assessment: Assessment | None = None, standstill: Standstill | None = None,
    outcomes: Mapping[str, str] | None = None, seer: float | None = None, heat_pump: bool | None = None,
    slips: tuple[str, ...] = (), units: Units = "us",
) -> Evidence:  # fmt: skip
    """Set readings against expectations and weigh every cause.

    spot: readings before the push, or the only ones; pushed: the same in the push; assessment: of a challenge, whose push
    is taken where `pushed` is None. outcomes: test of next_test.TESTS -> result. A heating unit is a heat pump.
    """
    done = dict(outcomes or {})
    if system.mode == "heating":
        heat_pump = True
    known = signatures(system.mode, system.metering_device)
    observed = {} if spot is None else observe(spot, pushed, system, curves, seer)
    if pushed is None and assessment is not None and not parked(assessment, system):
        observed.update(_push_of(assessment))
    if spot is None:
        from steadfeed.analysis.spot import SpotReadings, evaluate

        spot_for_conditions = evaluate(SpotReadings({}), system, curves)
    else:
        spot_for_conditions = spot
    found = residuals(known, conditions(spot_for_conditions, system.mode), observed, system.refrigerant)
    if seer is None and system.mode == "cooling":
        found.variance[known.features.index("high_side")] += limit("class_unknown_spread") ** 2
    log = single(known, found) / limit("likelihood_temper")
    scores = {cause: float(log[k] - log[0]) for k, cause in enumerate(known.causes)}
    told = hints(system, spot, assessment, observed.get("line_set_loss"), heat_pump, units)
    weight = {cause: sum(hint.weight for hint in told.get(cause, ())) for cause in known.causes}
    for cause in scores:
        scores[cause] += weight[cause] + outcome_log(cause, done) - outcome_log(HEALTHY, done)
        scores[cause] += _standing_log(cause, standstill, curves) - _standing_log(HEALTHY, standstill, curves)
    open_to = [k for k, cause in enumerate(known.causes) if k > 0 and possible(cause, system, heat_pump)]
    bases = {
        "superheat": base_superheat(spot_for_conditions, system),
        "bulb_superheat": base_superheat(spot_for_conditions, system),
        "subcooling": base_subcooling(system),
    }
    chosen, both = pairs(known, found, open_to, lowest_residuals(known, bases, found))
    pair = {}
    for (a, b), value in zip(chosen, both / limit("likelihood_temper") - log[0], strict=True):
        names = (known.causes[a], known.causes[b])
        extra = pair_outcome_log(*names, done) - outcome_log(HEALTHY, done)
        standing = max(_standing_log(n, standstill, curves) for n in names) - _standing_log(HEALTHY, standstill, curves)
        pair[names] = float(value) + extra + standing + weight[names[0]] + weight[names[1]]
    return Evidence(
        system=system, curves=curves, spot=spot, residuals=_named(known, found), signatures=known,
        single=scores if found.read.any() or done or standstill else {}, pair=pair, assessment=assessment,
        standstill=standstill, outcomes=done, heat_pump=heat_pump, slips=slips, hints=told, units=units,
    )  # fmt: skip


def parked(assessment: Assessment, system: System) -> bool:
    """Whether a challenge found a valve that no longer moves; its push then says nothing more of other causes."""
    valve = system.metering_device in (MeteringDevice.TXV, MeteringDevice.EEV)
    return valve and assessment.probability is not None and assessment.verdict in ("fixed", "sticking")


def _push_of(assessment: Assessment) -> dict[str, float]:
    names = ("condensing_temperature", "evaporating_temperature", "superheat", "subcooling")
    before, during = (
        {name: side[name].value for name in names if name in side} for side in (assessment.baseline, assessment.push)
    )
    if any(state.alive is False for state in assessment.sensors.values()):
        return {}
    return slopes(before, during)


def _named(known: Signatures, found: Residuals) -> dict[str, Residual]:
    spread = np.sqrt(np.diagonal(known.covariance[0]) + found.variance)
    return {
        name: Residual(name, float(found.observed[j]), float(found.expected[j] + known.mean[0, j]), float(spread[j]))
        for j, name in enumerate(known.features)
        if found.read[j]
    }


def _standing_log(cause: str, standing: Standstill | None, curves: Curves) -> float:
    """What a standstill says of gauges and of gas that does not condense, as logarithm of its likelihood.

    Both sides equal: gauges that agree, which a wrong one seldom does. Apart they say nothing. Long at rest with both coils
    at one temperature: pressure against that of the refrigerant at it.
    """
    if standing is None or standing.seconds < 60.0:
        return 0.0
    difference = standing.head - standing.suction
    level = 0.5 * (standing.head + standing.suction)
    near = limit("digital_gauge") + limit("digital_gauge_share") * level
    if standing.seconds < limit("sides_meet_seconds") or abs(difference) > 3.0 * near:
        return 0.0  # a valve that shuts tight holds the sides apart, and so does one that has not had its time
    wide = 0.14 * level if cause in ("suction gauge", "head gauge") else 1.4 * near
    total = -0.5 * (difference / wide) ** 2 - math.log(wide / near)
    if standing.coldest is None or standing.warmest is None or standing.seconds < limit("standing_seconds"):
        return total
    at = float(curves.dew_temperature(level, outside="nan"))
    if standing.warmest - standing.coldest > limit("standing_spread") or not math.isfinite(at):
        return total
    over = at - 0.5 * (standing.coldest + standing.warmest)
    middle, wide = (2.5, 1.8) if cause == "non-condensables" else (0.0, 12.0 if cause == "wrong refrigerant" else 0.9)
    return total - 0.5 * ((over - middle) / wide) ** 2 - math.log(wide)


def said(residual: Residual, units: Units) -> str:
    """Say a residual as a number with its direction: "24 °F above", "0.4 °F per °F below"."""
    kind = FEATURES[residual.feature][1]
    direction = "above" if residual.value > 0.0 else "below"
    return f"{amount(abs(residual.value), kind, units)} {direction}"


def amount(value: float, kind: str, units: Units) -> str:
    """Write the size of a residual of a kind."""
    if kind == "slope":
        return f"{value / SLOPE_SCALE:.2f} degrees per degree"
    if kind == "share":
        return f"{100.0 * math.expm1(value / CURRENT_SCALE):.0f} %"
    return degrees(value, units)
