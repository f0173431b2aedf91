"""Polynomial fits on scaled variables: the smallest degree that keeps a stated error, checked on points not fitted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.polynomial import chebyshev, polynomial

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Fit:
    """Coefficients in rising powers (one row a power of the second variable), and the largest error at check points."""

    coefficients: list[float] | list[list[float]]
    error: float


def scaled(value: Array, low: float, high: float) -> Array:
    """Map low…high to −1…1."""
    return (2.0 * value - low - high) / (high - low)


def near_line(share: Array, width: float) -> Array:
    """Map the share 0…1 of the way from saturation to −1…1, stretched near the line: scaled ln(share + width)."""
    factor = 2.0 / math.log((1.0 + width) / width)
    return -1.0 + factor * np.log(share / width + 1.0)


def share_at(b: Array, width: float) -> Array:
    """Return the share that `near_line` maps to b."""
    factor = 2.0 / math.log((1.0 + width) / width)
    return np.clip(width * np.expm1((b + 1.0) / factor), 0.0, 1.0)


def chebyshev_nodes(n: int) -> Array:
    """Return n nodes in −1…1, rising."""
    return np.asarray(-np.cos(np.pi * (np.arange(n) + 0.5) / n))


def fit_curve(x: Array, y: Array, tolerance: float, highest: int) -> Fit:
    """Fit y(x), x in −1…1, by every second point; the error is the largest at all points."""
    best: Fit | None = None
    for degree in range(4, highest + 1):
        series = chebyshev.chebfit(x[::2], y[::2], degree)
        power = chebyshev.cheb2poly(series)
        error = float(np.abs(polynomial.polyval(x, power) - y).max())
        if best is None or error < best.error:
            best = Fit([float(c) for c in power], error)
        if error <= tolerance:
            break
    assert best is not None
    return best


def fit_surface(
    a: Array,
    b: Array,
    y: Array,
    check_a: Array,
    check_b: Array,
    check_y: Array,
    tolerance: float | Array,
    highest: tuple[int, int],
) -> Fit:
    """Fit y(a, b) on −1…1 by −1…1 with the fewest coefficients that keep the tolerance at the check points.

    The error of the result is a share of the tolerance.
    """
    ranked = sorted(((na + 1) * (nb + 1), na, nb) for na in range(3, highest[0] + 1) for nb in range(2, highest[1] + 1))
    best: Fit | None = None
    for _, na, nb in ranked:
        design = chebyshev.chebvander2d(a, b, [na, nb])
        series = np.linalg.lstsq(design, y, rcond=None)[0].reshape(na + 1, nb + 1)
        along_a = np.array([_padded(chebyshev.cheb2poly(series[:, j]), na + 1) for j in range(nb + 1)])  # (nb+1, na+1)
        power = np.array([_padded(chebyshev.cheb2poly(along_a[:, i]), nb + 1) for i in range(na + 1)]).T
        error = float((np.abs(polynomial.polyval2d(check_b, check_a, power) - check_y) / tolerance).max())
        if best is None or error < best.error:
            best = Fit([[float(c) for c in row] for row in power], error)
        if error <= 1.0:
            break
    assert best is not None
    return best


def _padded(values: Array, n: int) -> Array:
    return np.r_[values, np.zeros(n - len(values))]
