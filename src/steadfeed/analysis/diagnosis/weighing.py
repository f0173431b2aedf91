"""Log-likelihoods of the causes, single and in pairs, from residuals: normal densities over the features that were read.

A cause's signature is a mean and a covariance of residuals (`signatures`). Features that were not read are left out
(marginalised), which is exact for normal densities. A pair shifts the readings by the sum of what each shifts, spread by
what each spreads beyond a healthy unit; superheat cannot fall below zero, nor subcooling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.analysis.diagnosis.signatures import Conditions, Signatures
from steadfeed.circuit.channel import FloatArray

#: Lowest superheat and subcooling that instruments show on a flooded coil or a liquid line with vapor [K].
LOWEST: Final = -1.0
#: Added to every variance: the file is rounded to four digits [K²].
ROUNDING: Final = 0.01
#: Two causes shift the readings by this share of the sum of both, and spread them by this share of both variances
#: (least error on double faults of the tuning range).
TOGETHER: Final = 0.8
TOGETHER_SPREAD: Final = 0.4
#: Causes of which a circuit has one at most, so that no pair holds two of the same group.
EXCLUSIVE: Final = (
    frozenset({"undercharge", "overcharge"}),
    frozenset(
        {"metering device underfeeding", "metering device overfeeding", "bulb loose", "bulb charge lost",
         "equalizer plugged", "check valve leaking"}
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """What was read against what a healthy unit shows. read: mask over features; expected, residual, variance: shape
    (features,), NaN where not read; variance: added because conditions were only stand-ins."""

    read: FloatArray
    observed: FloatArray
    expected: FloatArray
    residual: FloatArray
    variance: FloatArray


def residuals(
    signatures: Signatures, conditions: Conditions, observed: dict[str, float], refrigerant: str | None
) -> Residuals:
    """Residuals of the observed features; a feature that healthy units never showed here is left out."""
    expected = signatures.expectation @ conditions.values
    known_refrigerant = refrigerant in signatures.refrigerants
    if known_refrigerant:
        expected = expected + signatures.refrigerants[refrigerant or ""]
    values = np.array([observed.get(name, np.nan) for name in signatures.features])
    known = signatures.expectation.any(axis=1) | (np.abs(signatures.mean).max(axis=0) > 0.0)
    values = np.where(known, values, np.nan)
    variance = (signatures.expectation**2) @ conditions.variance + (0.0 if known_refrigerant else signatures.others)
    return Residuals(np.isfinite(values), values, expected, values - expected, variance)


def single(signatures: Signatures, found: Residuals) -> FloatArray:
    """Log-likelihood of each cause, shape (causes,); zeros when nothing was read."""
    p = np.flatnonzero(found.read)
    if p.size == 0:
        return np.zeros(len(signatures.causes))
    covariance = signatures.covariance[:, p[:, None], p[None, :]] + np.diag(found.variance[p])
    return _log_density(found.residual[p] - signatures.mean[:, p], covariance)


def pairs(
    signatures: Signatures, found: Residuals, possible: Sequence[int], lowest: FloatArray
) -> tuple[list[tuple[int, int]], FloatArray]:
    """Pairs of causes (by index) and their log-likelihoods.

    possible: indices of causes that this unit can have. lowest: lowest residual of each feature, shape (features,), −inf
    where there is none.
    """
    names = signatures.causes
    chosen = [
        (a, b)
        for i, a in enumerate(possible)
        for b in possible[i + 1 :]
        if not any({names[a], names[b]} <= group for group in EXCLUSIVE)
    ]
    p = np.flatnonzero(found.read)
    if not chosen or p.size == 0:
        return chosen, np.zeros(len(chosen))
    first, second = (np.array(side) for side in zip(*chosen, strict=True))
    mean = signatures.mean - signatures.mean[0]
    one, other = mean[first][:, p], mean[second][:, p]
    both = np.maximum(TOGETHER * (one + other) + signatures.mean[0, p], lowest[p])
    beyond = signatures.beyond[:, p[:, None], p[None, :]]
    healthy = signatures.covariance[0][p[:, None], p[None, :]] + np.diag(found.variance[p])
    return chosen, _log_density(found.residual[p] - both, healthy + TOGETHER_SPREAD * (beyond[first] + beyond[second]))


def lowest_residuals(signatures: Signatures, bases: dict[str, float], found: Residuals) -> FloatArray:
    """Lowest residual that a feature can have: superheats and subcooling end at about zero. bases: feature -> base [K]."""
    out = np.full(len(signatures.features), -np.inf)
    for name, base in bases.items():
        if name in signatures.features:
            j = signatures.features.index(name)
            out[j] = LOWEST - base - found.expected[j]
    return out


def _log_density(difference: FloatArray, covariance: FloatArray) -> FloatArray:
    """Logarithm of the normal density up to a constant, batched: difference (k, n), covariance (k, n, n) or (n, n)."""
    lower = np.linalg.cholesky(covariance + ROUNDING * np.eye(covariance.shape[-1]))
    scaled = np.linalg.solve(lower, difference[..., None])[..., 0]
    log_det = np.log(np.diagonal(lower, axis1=-2, axis2=-1)).sum(axis=-1)
    out: FloatArray = -0.5 * (scaled**2).sum(axis=-1) - log_det
    return out
