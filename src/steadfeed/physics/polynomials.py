"""Polynomials of one and two scaled variables, for one float and for arrays.

Coefficients come in falling powers (as Horner's scheme takes them); the coefficient file has them in rising powers.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Powers = tuple[float, ...]
Rows = tuple[Powers, ...]

#: Values worked on at once. Measured: below, the cost of calling numpy shows; above, the second-level cache is left.
CHUNK: Final = 32768


def falling(powers: list[float]) -> Powers:
    """Turn coefficients in rising powers into falling ones."""
    return tuple(reversed(powers))


def derivative(powers: Powers) -> Powers:
    """Return the coefficients of the first derivative."""
    degree = len(powers) - 1
    return tuple(c * (degree - i) for i, c in enumerate(powers[:-1]))


def polynomial(x: float, powers: Powers) -> float:
    """Evaluate at one float."""
    result = 0.0
    for c in powers:
        result = result * x + c
    return result


def polynomial_array(x: FloatArray, powers: Powers, out: FloatArray) -> FloatArray:
    """Evaluate at an array, into `out` (which must not be `x`)."""
    np.multiply(x, powers[0], out=out)
    out += powers[1]
    for c in powers[2:]:
        out *= x
        out += c
    return out


class Surface:
    """A polynomial in a and b, both in −1…1: one row of powers of a for each power of b."""

    __slots__ = ("rows",)

    def __init__(self, rising: list[list[float]]) -> None:
        self.rows: Rows = tuple(falling(row) for row in reversed(rising))

    def at(self, a: float, b: float) -> float:
        """Evaluate at one pair."""
        result = 0.0
        for row in self.rows:
            inner = 0.0
            for c in row:
                inner = inner * a + c
            result = result * b + inner
        return result

    def over(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Evaluate at arrays of one shape."""
        inner = np.empty_like(a)
        result = polynomial_array(a, self.rows[0], np.empty_like(a))
        for row in self.rows[1:]:
            result *= b
            result += polynomial_array(a, row, inner)
        return result

    def along(self, b: float) -> Powers:
        """Return the polynomial in a that is left at one b."""
        result = [0.0] * len(self.rows[0])
        for row in self.rows:
            result = [r * b + c for r, c in zip(result, row, strict=True)]
        return tuple(result)


class PressureScale:
    """The first variable of every fit: a(p) = constant + per_ln · ln p + per_pascal · p, −1…1 over the range."""

    __slots__ = ("constant", "per_ln", "per_pascal")

    def __init__(self, constant: float, per_ln: float, per_pascal: float) -> None:
        self.constant, self.per_ln, self.per_pascal = constant, per_ln, per_pascal

    def at(self, pressure: float) -> float:
        """Scale one pressure [Pa]."""
        return self.constant + self.per_ln * math.log(pressure) + self.per_pascal * pressure

    def over(self, pressure: FloatArray) -> FloatArray:
        """Scale an array of pressures [Pa]."""
        result: FloatArray = np.log(pressure)
        result *= self.per_ln
        result += self.constant
        result += self.per_pascal * pressure
        return result


class NearLine:
    """The second variable: b = −1 on the saturation line, 1 at the bound, scaled ln(share + width) between.

    share is the part of the way from the line to the bound; the logarithm stretches what lies close to the line.
    """

    __slots__ = ("factor", "width")

    def __init__(self, width: float) -> None:
        self.width = width
        self.factor = 2.0 / math.log((1.0 + width) / width)

    def at(self, share: float) -> float:
        """Scale one share, 0…1."""
        return self.factor * math.log(share / self.width + 1.0) - 1.0

    def over(self, share: FloatArray) -> FloatArray:
        """Scale an array of shares, 0…1."""
        result: FloatArray = np.log(share / self.width + 1.0)
        result *= self.factor
        result -= 1.0
        return result


class SaturationLine:
    """Temperature over pressure along the bubble or the dew line, and its inverse.

    The inverse starts from a coarse fit of ln p over 1/T and takes one Newton step on the line itself, so that both
    directions agree. lowest, highest: temperatures at the ends of the range [K].
    """

    __slots__ = ("factor", "guess", "highest", "lowest", "powers", "shift", "slope")

    def __init__(
        self, temperature: list[float], ln_pressure: list[float], scale: PressureScale, pressures: tuple[float, float]
    ) -> None:
        self.powers = falling(temperature)
        self.slope = derivative(self.powers)
        # from the pressures, not from a = ±1: the temperature of a pressure in range is then never out of range
        self.lowest, self.highest = (polynomial(scale.at(p), self.powers) for p in pressures)
        low, high = 1.0 / polynomial(1.0, self.powers), 1.0 / polynomial(-1.0, self.powers)
        self.factor, self.shift = 2.0 / (high - low), -(high + low) / (high - low)
        self.guess = falling(ln_pressure)

    def pressure(self, temperature: float, scale: PressureScale) -> float:
        """Pressure [Pa] at one temperature [K] in range."""
        start = math.exp(polynomial(self.factor / temperature + self.shift, self.guess))
        a = scale.at(start)
        step = (temperature - polynomial(a, self.powers)) / polynomial(a, self.slope)
        return start * math.exp(step / (scale.per_ln + scale.per_pascal * start))

    def pressures(self, temperature: FloatArray, scale: PressureScale) -> FloatArray:
        """Pressures [Pa] at temperatures [K] in range."""
        x = self.factor / temperature + self.shift
        start = np.exp(polynomial_array(x, self.guess, np.empty_like(x)))
        a = scale.over(start)
        step = temperature - polynomial_array(a, self.powers, np.empty_like(a))
        step /= polynomial_array(a, self.slope, np.empty_like(a))
        step /= scale.per_ln + scale.per_pascal * start
        result: FloatArray = start * np.exp(step)
        return result
