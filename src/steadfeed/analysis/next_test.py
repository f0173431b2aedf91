"""The next test: which one tells most per minute and risk, how it is done, what it shows under each cause.

What a test tells is the mutual information between its result and the cause, in bits, under the likelihoods of now; it is
divided by its minutes and by a factor for its risk. A reading not taken yet is a test as well: its result is what the
signature of every cause expects there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.diagnosis.combine import Diagnosis
from steadfeed.analysis.diagnosis.evidence import Evidence, amount
from steadfeed.analysis.diagnosis.features import FEATURES, NEEDS
from steadfeed.analysis.diagnosis.outcomes import TABLES, chance
from steadfeed.analysis.diagnosis.signatures import HEALTHY
from steadfeed.analysis.diagnosis.weigh import prior
from steadfeed.analysis.spot import Spot
from steadfeed.analysis.words import Units, temperature
from steadfeed.circuit.equipment import MeteringDevice, System


@dataclass(frozen=True, slots=True)
class TestKind:
    """A test that a person can do. minutes; risk: factor on its worth, 1 = none; how: steps; caution: one sentence, ""
    where there is none; devices: metering devices that have the part, () = all; heat_pump: only there."""

    minutes: float
    risk: float
    how: str
    caution: str = ""
    devices: tuple[MeteringDevice, ...] = ()
    heat_pump: bool = False


#: Every test with a table of outcomes (diagnosis.outcomes). Minutes and risks are common practice.
TESTS: Final[dict[str, TestKind]] = {
    "bulb strap": TestKind(
        2.0, 1.0, "Look at the strap, the place on the pipe (10 or 2 o’clock) and the insulation.",
        devices=(MeteringDevice.TXV,),
    ),
    "bulb in hand": TestKind(
        5.0, 0.9, "Take the bulb off its strap and warm it in the hand for a minute: suction must rise.",
        "Liquid may come back: not longer than a minute.", (MeteringDevice.TXV,),
    ),
    "bulb in ice water": TestKind(
        8.0, 0.9, "Hold the bulb in ice water for three minutes: suction must fall.",
        "Suction may reach the low-pressure switch.", (MeteringDevice.TXV,),
    ),
    "drier temperatures": TestKind(
        3.0, 1.0, "Measure the liquid line before and behind the drier and every valve, and before the metering device.",
        "The hot-gas line beside it burns.",
    ),
    "standing test": TestKind(
        40.0, 0.8, "Stop the compressor, let both fans bring the coils to the air’s temperature, read pressure and both airs.",
        "No pump-down on microchannel coils.",
    ),
    "gauges side by side": TestKind(
        4.0, 1.0, "Shut both service ports, open both manifold valves: both gauges must show one pressure.",
        "Purge the hoses into recovery, not into the air.",
    ),
    "second thermometer": TestKind(3.0, 1.0, "Put a second thermometer beside the clamp, on clean pipe, insulated."),
    "airflow": TestKind(
        12.0, 1.0, "Measure the indoor airflow by grid, hood or total static pressure and fan table.",
        "Blades turn behind the panel.",
    ),
    "look at the outdoor coil": TestKind(
        4.0, 1.0, "Look through the coil against the light, at the fan’s turn and its blades.", "Power off before reaching in."
    ),
    "air at the coil face": TestKind(2.0, 1.0, "Measure the air at the coil’s face in three places, and outdoors in the shade."),
    "charge trim": TestKind(
        25.0, 0.5, "Weigh in or recover 5 % of the charge, wait 15 minutes, read superheat and subcooling again.",
        "Certified people only; what is taken out goes into a cylinder and into the record.",
    ),
    "reversing valve temperatures": TestKind(
        4.0, 1.0, "Measure both suction pipes a hand’s breadth from the reversing valve.", "One of its pipes burns.",
        heat_pump=True,
    ),
    "pump-down": TestKind(
        10.0, 0.6, "Close the liquid valve and watch suction fall; stop the compressor and watch it stay.",
        "Never on a scroll below the maker’s limit, never on microchannel coils.",
    ),
    "amp draw": TestKind(3.0, 0.9, "Read the compressor’s current and compare it with its map at these pressures.", "Live parts."),
    "suction line pressures": TestKind(6.0, 0.9, "Read suction at the coil and at the unit with one gauge."),
    "refrigerant identified": TestKind(
        8.0, 0.9, "Read every label, then put the refrigerant identifier on the vapor port.", "A little gas is let through."
    ),
    "equalizer line": TestKind(
        4.0, 0.9, "Look along the equalizer line for kinks and oil; feel whether it is as cold as the suction line.",
        devices=(MeteringDevice.TXV,),
    ),
}  # fmt: skip

#: Readings that are easily taken: feature -> (what to read, minutes).
READINGS: Final[dict[str, tuple[str, float]]] = {
    "high_side": ("outdoor air before the coil", 1.0),
    "low_side": ("return air, dry bulb", 1.5),
    "superheat": ("suction line temperature", 1.5),
    "subcooling": ("liquid line temperature", 1.5),
    "discharge": ("hot-gas line, 6 in from the compressor", 2.0),
    "split": ("supply air, dry bulb", 1.5),
    "current": ("compressor current", 2.0),
    "recirculation": ("air at the outdoor coil’s face", 2.0),
    "air_rise": ("air that leaves the outdoor coil", 2.0),
    "line_drop": ("liquid line right before the metering device", 4.0),
    "bulb_superheat": ("suction line beside the bulb", 4.0),
    "push_superheat": ("a challenge (steadfeed plan)", 25.0),
}


@dataclass(frozen=True, slots=True)
class NextTest:
    """A proposed test or reading.

    code: key of TESTS, or a feature; reading: whether it is a reading not taken yet. bits: what it is expected to tell;
    minutes; worth: bits per minute, less for risk. expected: cause -> what it would show, for the causes in question.
    results: words that may be entered as outcome, () for a reading.
    """

    code: str
    reading: bool
    text: str
    caution: str
    bits: float
    minutes: float
    worth: float
    expected: tuple[tuple[str, str], ...]
    results: tuple[str, ...] = ()


def next_tests(evidence: Evidence, diagnosis: Diagnosis, count: int = 3) -> tuple[NextTest, ...]:
    """Propose tests, the most telling per minute and risk first; () when nothing is open."""
    chance_of = _open_causes(diagnosis)
    if len(chance_of) < 2:
        return ()
    found = [*_tests(evidence, chance_of), *_readings(evidence, chance_of)]
    told = [test for test in found if test.bits >= limit("least_bits")]
    told.sort(key=lambda test: -test.worth)
    return tuple(told[:count])


def tests_named(codes: Sequence[str], evidence: Evidence, diagnosis: Diagnosis) -> tuple[NextTest, ...]:
    """Work out tests by their codes, in this order, whatever they tell."""
    made = {test.code: test for test in _tests(evidence, _open_causes(diagnosis))} if codes else {}
    return tuple(made[code] for code in codes if code in made)


def must_exclude(evidence: Evidence, diagnosis: Diagnosis) -> tuple[str, ...]:
    """Tests to be done before a valve is condemned that were not entered yet; () when no valve is suspected."""
    suspects = (
        "metering device underfeeding",
        "metering device overfeeding",
        "metering device parked",
        "bulb charge lost",
    )
    if not any(f.code in suspects and (f.likelihood or 0.0) >= limit("suspected") for f in diagnosis.findings):
        return ()
    if evidence.device is MeteringDevice.FIXED_ORIFICE:
        wanted: tuple[str, ...] = ("drier temperatures",)
    elif evidence.device is MeteringDevice.EEV:
        wanted = ("drier temperatures", "second thermometer")
    else:
        wanted = ("bulb strap", "equalizer line", "drier temperatures", "bulb in hand")
    return tuple(test for test in wanted if test not in evidence.outcomes)


def _open_causes(diagnosis: Diagnosis) -> dict[str, float]:
    """Shares of the causes still in question, healthy among them, adding up to one."""
    chance_of = {c: p for c, p in (diagnosis.probability or {}).items() if p >= limit("least_open")}
    total = sum(chance_of.values())
    return {cause: p / total for cause, p in chance_of.items()} if total > 0.0 else {}


def _tests(evidence: Evidence, chance_of: Mapping[str, float]) -> list[NextTest]:
    out = []
    shares = np.array(list(chance_of.values()))
    for code, kind in TESTS.items():
        if code in evidence.outcomes or (kind.devices and evidence.device not in kind.devices):
            continue
        if kind.heat_pump and evidence.heat_pump is False:
            continue
        results = tuple(TABLES[code])
        table = np.array([[chance(code, result, cause) for result in results] for cause in chance_of])
        bits = mutual_information(shares, table)
        expected = tuple((cause, max(results, key=lambda r: chance(code, r, cause))) for cause in _shown(chance_of))
        out.append(
            NextTest(
                code,
                False,
                kind.how,
                kind.caution,
                bits,
                kind.minutes,
                bits / kind.minutes * kind.risk,
                expected,
                results,
            )
        )
    return out


def _readings(evidence: Evidence, chance_of: Mapping[str, float]) -> list[NextTest]:
    """Readings not taken yet, by what the signatures expect there given what was read."""
    out = []
    known = evidence.signatures
    shares = np.array(list(chance_of.values()))
    for feature, (what, minutes) in READINGS.items():
        if evidence.has(feature) or feature not in known.features or not _only_one_missing(evidence, feature):
            continue
        j = known.features.index(feature)
        k = [known.index(cause) for cause in chance_of]
        mean, spread = known.mean[k, j], np.sqrt(known.covariance[k, j, j])
        bits = normal_information(shares, mean, spread)
        expected = tuple(
            (
                cause,
                _asked(feature, float(known.mean[known.index(cause), j] - known.mean[0, j]), spread.min(), evidence),
            )
            for cause in _shown(chance_of)
        )
        out.append(NextTest(feature, True, f"Read {what}.", "", bits, minutes, bits / minutes, expected))
    return out


def _only_one_missing(evidence: Evidence, feature: str) -> bool:
    """Whether the one reading that is asked for would do: others are asked for in their turn."""
    if feature.startswith("push_"):
        return evidence.assessment is None
    readings = evidence.spot.readings.values if evidence.spot is not None else {}
    *others, asked = NEEDS[feature]  # the last is the one that READINGS names
    return asked not in readings and all(name in readings for name in others)


def _asked(feature: str, shift: float, spread: float, evidence: Evidence) -> str:
    if abs(shift) < 0.7 * spread:
        return "about as usual"
    kind = FEATURES[feature][1]
    return f"about {amount(abs(shift), kind, evidence.units)} {'above' if shift > 0.0 else 'below'} the usual"


def _shown(chance_of: Mapping[str, float]) -> list[str]:
    return [c for c in sorted(chance_of, key=lambda c: -chance_of[c]) if c != HEALTHY][:4]


def mutual_information(shares: np.ndarray, table: np.ndarray) -> float:
    """Information that a result gives on the cause [bit]. shares, shape (causes,); table: chance of each result under
    each cause, shape (causes, results)."""
    table = table / table.sum(axis=1, keepdims=True)
    result = shares @ table
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = shares[:, None] * table * np.log2(table / result)
    return max(float(np.nansum(terms)), 0.0)


def normal_information(shares: np.ndarray, mean: np.ndarray, spread: np.ndarray, points: int = 121) -> float:
    """The same for a reading that is normally distributed under each cause: mean, spread, shape (causes,)."""
    low, high = float((mean - 4.0 * spread).min()), float((mean + 4.0 * spread).max())
    x = np.linspace(low, high, points)
    density = np.exp(-0.5 * ((x - mean[:, None]) / spread[:, None]) ** 2) / spread[:, None]
    return mutual_information(shares, density + 1e-300)


def fifth_reading(evidence: Evidence) -> NextTest | None:
    """Which further reading would tell most, whatever its minutes; None when all are taken.

    Every cause counts here, those too that abstain for want of just such a reading.
    """
    if not evidence.single:
        return None
    healthy = limit("prior_healthy")
    causes = [cause for cause in evidence.single if evidence.knows(cause)]
    log = np.array([evidence.single[cause] for cause in causes])
    weight = np.array([healthy if c == HEALTHY else prior(c, evidence) * (1.0 - healthy) / len(causes) for c in causes])
    shares = weight * np.exp(log - log.max())
    shares /= shares.sum()
    open_readings = [r for r in _readings(evidence, dict(zip(causes, shares.tolist(), strict=True))) if r.code in NEEDS]
    best = max(open_readings, key=lambda r: r.bits, default=None)
    return best if best is not None and best.bits >= limit("least_bits") else None


def come_back(spot: Spot, system: System, units: Units = "us") -> str:
    """When it is too cold for readings to tell the charge: the sentence when to come back, "" otherwise (cooling)."""
    outdoor = spot.readings.get("outdoor_air_temperature")
    coldest = limit("coldest_charge_check")
    if outdoor is None or system.mode == "heating" or outdoor >= coldest:
        return ""
    return (
        f"At {temperature(outdoor, units)} outdoors readings do not tell the charge: come back above "
        f"{temperature(coldest, units)}, or raise the head by covering part of the coil (steadfeed plan)."
    )


def likelihood_change(before: Diagnosis, after: Diagnosis, least: float = 0.03) -> Sequence[tuple[str, float, float]]:
    """Causes whose likelihood an outcome moved by at least `least`: (cause, before, after), the largest move first."""
    old, new = before.probability or {}, after.probability or {}
    moved = [(c, old.get(c, 0.0), new.get(c, 0.0)) for c in {**old, **new} if c != HEALTHY]
    kept = [row for row in moved if abs(row[2] - row[1]) >= least and not math.isclose(row[1], row[2])]
    return sorted(kept, key=lambda row: -abs(row[2] - row[1]))
