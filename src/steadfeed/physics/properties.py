"""Refrigerant properties from the coefficient file: saturation both ways, superheated vapor, subcooled liquid.

Nothing here solves an equation of state: every function is a polynomial on scaled variables (see
docs/decisions/0001-coefficient-file.md), made by tools/make_coefficients.py. All functions take and give SI, absolute:
p [Pa], T [K], density [kg/m3], enthalpy h [J/kg], entropy s [J/(kg K)], viscosity [Pa s]. Enthalpy and entropy count
from bubble liquid at 0 °C, where they are 200 kJ/kg and 1 kJ/(kg K) (IIR reference).

A float gives a float, an array an array of its shape. Outside the range of the file they raise OutOfRange, or give NaN with
`outside="nan"`; they never extrapolate. NaN stays NaN.
"""

from __future__ import annotations

import difflib
import hashlib
import json
import math
import re
from collections.abc import Callable
from functools import cache
from importlib import resources
from typing import Any, Final, Literal, TypeVar

import numpy as np
import numpy.typing as npt

from steadfeed.circuit.refrigerant import Refrigerant
from steadfeed.errors import FixInput, OutOfRange

FloatArray = npt.NDArray[np.float64]
Outside = Literal["raise", "nan"]
Number = TypeVar("Number", float, FloatArray)
Powers = tuple[float, ...]
Surface = tuple[Powers, ...]

#: Values worked on at once: temporaries of this many floats stay in the cache of one core.
CHUNK: Final = 4096
#: A state this far below dew (or above bubble) still counts as on the line: rounding of a round trip [K].
ON_THE_LINE: Final = 2e-3

_PSI: Final = 6894.757293168361
_ATMOSPHERE: Final = 101325.0


def _polynomial(x: float, powers: Powers) -> float:
    """Evaluate a polynomial whose coefficients come highest power first."""
    result = 0.0
    for c in powers:
        result = result * x + c
    return result


def _polynomial_array(x: FloatArray, powers: Powers, out: FloatArray) -> FloatArray:
    np.multiply(x, powers[0], out=out)
    out += powers[1]
    for c in powers[2:]:
        out *= x
        out += c
    return out


def _surface(a: float, b: float, rows: Surface) -> float:
    result = 0.0
    for row in rows:
        inner = 0.0
        for c in row:
            inner = inner * a + c
        result = result * b + inner
    return result


def _surface_array(a: FloatArray, b: FloatArray, rows: Surface) -> FloatArray:
    inner = np.empty_like(a)
    result = _polynomial_array(a, rows[0], np.empty_like(a))
    for row in rows[1:]:
        result *= b
        result += _polynomial_array(a, row, inner)
    return result


def _on(a: Any, b: Any, rows: Surface) -> Any:
    return _surface(a, b, rows) if type(a) is float else _surface_array(a, b, rows)


def _falling(powers: list[float]) -> Powers:
    """Turn coefficients in rising powers (as the file has them) into falling ones (as Horner takes them)."""
    return tuple(reversed(powers))


def _falling_surface(rows: list[list[float]]) -> Surface:
    return tuple(_falling(row) for row in reversed(rows))


class Curves:
    """Properties of one refrigerant; see the module's text for units and for what happens outside the range.

    refrigerant: what the bottle says. uncertainty: of a saturation temperature, half-width at about 95 % (k = 2) [K]; the
    standard uncertainty is half of it. confidence, provenance: words. The pressures hold for every function; bubble_pressure
    and dew_pressure both take minimum_temperature…maximum_temperature. highest_vapor_temperature,
    lowest_liquid_temperature: ends of the vapor and of the liquid functions [K].
    """

    refrigerant: Refrigerant
    uncertainty: float
    confidence: str
    provenance: str
    minimum_pressure: float
    maximum_pressure: float
    minimum_temperature: float
    maximum_temperature: float
    highest_vapor_temperature: float
    lowest_liquid_temperature: float
    critical_temperature: float
    critical_pressure: float

    def __init__(self, entry: dict[str, Any]) -> None:
        self.refrigerant = Refrigerant(
            name=entry["name"],
            kind=entry["kind"],
            safety_class=entry["safety_class"],
            composition=entry["composition"],
            gwp=entry["gwp"],
        )
        self.uncertainty = entry["uncertainty"]
        self.confidence = entry["confidence"]
        self.provenance = entry["provenance"]
        self.critical_temperature = entry["critical_temperature"]
        self.critical_pressure = entry["critical_pressure"]

        low, high = entry["ln_pressure"]
        self.minimum_pressure, self.maximum_pressure = math.exp(low), math.exp(high)
        self._a_factor, self._a_shift = 2.0 / (high - low), -(high + low) / (high - low)
        self._bubble = _falling(entry["bubble_temperature"])
        self._dew = _falling(entry["dew_temperature"])
        self._bubble_inverse = _Inverse(entry["bubble_ln_pressure"])
        self._dew_inverse = _Inverse(entry["dew_ln_pressure"])
        self.minimum_temperature = self._dew_inverse.lowest
        self.maximum_temperature = self._bubble_inverse.highest

        vapor, liquid = entry["vapor"], entry["liquid"]
        self.highest_vapor_temperature = vapor["bound"]
        self.lowest_liquid_temperature = liquid["bound"]
        self._gas_constant = vapor["gas_constant"]
        self._compressibility = _falling_surface(vapor["compressibility"])
        self._vapor_enthalpy = _falling_surface(vapor["enthalpy"])
        self._vapor_entropy = _falling_surface(vapor["entropy"])
        self._temperature_ph = _FromHeat(vapor["temperature_ph"])
        self._temperature_ps = _FromHeat(vapor["temperature_ps"])
        self._liquid_density = _falling_surface(liquid["density"])
        self._liquid_enthalpy = _falling_surface(liquid["enthalpy"])
        self._viscosity_range = tuple(entry["viscosity_temperature"])
        self._liquid_viscosity = _falling(entry["liquid_ln_viscosity"])
        self._vapor_viscosity = _falling(entry["vapor_ln_viscosity"])

    @property
    def name(self) -> str:
        """Designation of the refrigerant, as in "R-410A"."""
        return self.refrigerant.name

    def __repr__(self) -> str:
        return f"Curves({self.refrigerant.name})"

    # -- saturation ---------------------------------------------------------------------------------------------------
    def bubble_temperature(self, pressure: Number, outside: Outside = "raise") -> Number:
        """Temperature of boiling liquid [K] at a pressure [Pa]; subcooling counts from it."""
        result: Number = self._saturation_temperature(pressure, self._bubble, outside)
        return result

    def dew_temperature(self, pressure: Number, outside: Outside = "raise") -> Number:
        """Temperature of condensing vapor [K] at a pressure [Pa]; superheat counts from it."""
        result: Number = self._saturation_temperature(pressure, self._dew, outside)
        return result

    def _saturation_temperature(self, pressure: Any, powers: Powers, outside: Outside) -> Any:
        if isinstance(pressure, (float, int)):
            if self.minimum_pressure <= pressure <= self.maximum_pressure:
                a = math.log(pressure) * self._a_factor + self._a_shift
                result = 0.0
                for c in powers:
                    result = result * a + c
                return result
            return self._no_pressure(float(pressure), outside)
        return self._over_pressure(np.asarray(pressure, dtype=np.float64), powers, outside)

    def _over_pressure(self, pressure: FloatArray, powers: Powers, outside: Outside) -> FloatArray:
        flat = pressure.reshape(-1)
        result = np.empty(flat.shape)
        a = np.empty(min(CHUNK, flat.size))
        for start in range(0, flat.size, CHUNK):
            p = flat[start : start + CHUNK]
            out, x = result[start : start + CHUNK], a[: p.size]
            low, high = p.min(), p.max()
            bad = None
            if not (low >= self.minimum_pressure and high <= self.maximum_pressure):  # also when NaN is among them
                bad = ~((p >= self.minimum_pressure) & (p <= self.maximum_pressure))
                if outside == "raise":
                    self._raise_first(p, bad, self._no_pressure)
                p = np.where(bad, self.minimum_pressure, p)
            np.log(p, out=x)
            x *= self._a_factor
            x += self._a_shift
            _polynomial_array(x, powers, out)
            if bad is not None:
                out[bad] = np.nan
        return result.reshape(pressure.shape)

    @staticmethod
    def _raise_first(values: FloatArray, bad: npt.NDArray[np.bool_], refuse: Callable[[float, Outside], float]) -> None:
        wrong = values[bad & ~np.isnan(values)]
        if wrong.size:
            refuse(float(wrong[0]), "raise")

    def bubble_pressure(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Pressure at which liquid of a temperature [K] begins to boil [Pa]."""
        result: Number = self._saturation_pressure(temperature, self._bubble_inverse, outside)
        return result

    def dew_pressure(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Pressure at which vapor of a temperature [K] begins to condense [Pa]."""
        result: Number = self._saturation_pressure(temperature, self._dew_inverse, outside)
        return result

    def _saturation_pressure(self, temperature: Any, inverse: _Inverse, outside: Outside) -> Any:
        if isinstance(temperature, (float, int)):
            if inverse.lowest <= temperature <= inverse.highest:
                return math.exp(_polynomial(inverse.factor / temperature + inverse.shift, inverse.powers))
            return self._no_temperature(float(temperature), inverse.lowest, inverse.highest, outside)
        values = np.asarray(temperature, dtype=np.float64)
        bad = ~((values >= inverse.lowest) & (values <= inverse.highest))
        if bad.any():
            if outside == "raise":
                self._raise_first(
                    values, bad, lambda t, how: self._no_temperature(t, inverse.lowest, inverse.highest, how)
                )
            values = np.where(bad, inverse.lowest, values)
        x = np.asarray(inverse.factor / values + inverse.shift)
        result = np.asarray(np.exp(_polynomial_array(x, inverse.powers, np.empty_like(x))))
        result[bad] = np.nan
        return result

    # -- vapor --------------------------------------------------------------------------------------------------------
    def vapor_density(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Density of superheated (or dew) vapor [kg/m3] at p [Pa] and T [K]."""
        a, b, p, t = self._vapor_state(pressure, temperature, outside)
        z = _on(a, b, self._compressibility)
        density: Number = p / (z * self._gas_constant * t)
        return density

    def vapor_enthalpy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Enthalpy of superheated (or dew) vapor [J/kg] at p [Pa] and T [K]."""
        a, b, _, _ = self._vapor_state(pressure, temperature, outside)
        result: Number = _on(a, b, self._vapor_enthalpy)
        return result

    def vapor_entropy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Entropy of superheated (or dew) vapor [J/(kg K)] at p [Pa] and T [K]."""
        a, b, _, _ = self._vapor_state(pressure, temperature, outside)
        result: Number = _on(a, b, self._vapor_entropy)
        return result

    def vapor_temperature_ph(self, pressure: Number, enthalpy: Number, outside: Outside = "raise") -> Number:
        """Temperature of superheated vapor [K] at p [Pa] and h [J/kg]."""
        result: Number = self._vapor_temperature(
            pressure, enthalpy, self._temperature_ph, 1.0, "J/kg of enthalpy", outside
        )
        return result

    def vapor_temperature_ps(self, pressure: Number, entropy: Number, outside: Outside = "raise") -> Number:
        """Temperature of superheated vapor [K] at p [Pa] and s [J/(kg K)]; for isentropic compression."""
        result: Number = self._vapor_temperature(
            pressure, entropy, self._temperature_ps, 0.003, "J/(kg K) of entropy", outside
        )
        return result

    def _vapor_state(self, pressure: Any, temperature: Any, outside: Outside) -> tuple[Any, Any, Any, Any]:
        return self._state(pressure, temperature, self._dew, self.highest_vapor_temperature, outside)

    def _liquid_state(self, pressure: Any, temperature: Any, outside: Outside) -> tuple[Any, Any, Any, Any]:
        return self._state(pressure, temperature, self._bubble, self.lowest_liquid_temperature, outside)

    def _state(
        self, pressure: Any, temperature: Any, line: Powers, bound: float, outside: Outside
    ) -> tuple[Any, Any, Any, Any]:
        """Scale (p, T): a over ln p, b from the saturation line (−1) to the bound (1)."""
        if isinstance(pressure, (float, int)) and isinstance(temperature, (float, int)):
            if not self.minimum_pressure <= pressure <= self.maximum_pressure:
                nan = self._no_pressure(float(pressure), outside)
                return nan, nan, nan, nan
            a = math.log(pressure) * self._a_factor + self._a_shift
            saturated = _polynomial(a, line)
            span = bound - saturated
            share = (temperature - saturated) / span
            if not 0.0 <= share <= 1.0:
                if -ON_THE_LINE <= share * abs(span) < 0.0:
                    share = 0.0
                else:
                    nan = self._no_state(float(pressure), float(temperature), saturated, bound, outside)
                    return nan, nan, nan, nan
            return a, 2.0 * share - 1.0, float(pressure), float(temperature)
        return self._states(pressure, temperature, line, bound, outside)

    def _states(
        self, pressure: Any, temperature: Any, line: Powers, bound: float, outside: Outside
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        p, t = np.broadcast_arrays(np.asarray(pressure, np.float64), np.asarray(temperature, np.float64))
        bad = ~((p >= self.minimum_pressure) & (p <= self.maximum_pressure))
        if bad.any():
            if outside == "raise":
                self._raise_first(p, bad, self._no_pressure)
            p = np.where(bad, self.minimum_pressure, p)
        a = np.log(p) * self._a_factor + self._a_shift
        saturated = _polynomial_array(a, line, np.empty_like(a))
        span = bound - saturated
        share = (t - saturated) / span
        bad |= ~((share * np.abs(span) >= -ON_THE_LINE) & (share <= 1.0))
        if outside == "raise":
            wrong = bad & ~np.isnan(p) & ~np.isnan(t) & ~np.isnan(np.asarray(pressure))
            if wrong.any():
                i = tuple(np.argwhere(wrong)[0])
                self._no_state(float(p[i]), float(t[i]), float(saturated[i]), bound, outside)
        np.maximum(share, 0.0, out=share)
        share[bad] = np.nan
        return a, 2.0 * share - 1.0, p, t

    def _vapor_temperature(
        self, pressure: Any, heat: Any, inverse: _FromHeat, slack: float, unit: str, outside: Outside
    ) -> Any:
        if isinstance(pressure, (float, int)) and isinstance(heat, (float, int)):
            if not self.minimum_pressure <= pressure <= self.maximum_pressure:
                return self._no_pressure(float(pressure), outside)
            a = math.log(pressure) * self._a_factor + self._a_shift
            low, high = _polynomial(a, inverse.at_dew), _polynomial(a, inverse.at_bound)
            if not low - slack <= heat <= high + slack:
                return self._no_heat(float(pressure), float(heat), low, high, unit, outside)
            return _surface(a, (2.0 * heat - low - high) / (high - low), inverse.rows)
        p, q = np.broadcast_arrays(np.asarray(pressure, np.float64), np.asarray(heat, np.float64))
        bad = ~((p >= self.minimum_pressure) & (p <= self.maximum_pressure))
        if bad.any():
            if outside == "raise":
                self._raise_first(p, bad, self._no_pressure)
            p = np.where(bad, self.minimum_pressure, p)
        a = np.log(p) * self._a_factor + self._a_shift
        low_a = _polynomial_array(a, inverse.at_dew, np.empty_like(a))
        high_a = _polynomial_array(a, inverse.at_bound, np.empty_like(a))
        outside_heat = ~((q >= low_a - slack) & (q <= high_a + slack))
        if outside == "raise":
            wrong = outside_heat & ~bad & ~np.isnan(q)
            if wrong.any():
                i = tuple(np.argwhere(wrong)[0])
                self._no_heat(float(p[i]), float(q[i]), float(low_a[i]), float(high_a[i]), unit, outside)
        bad |= outside_heat
        share = (2.0 * q - low_a - high_a) / (high_a - low_a)
        share[bad] = np.nan
        return _surface_array(a, share, inverse.rows)

    # -- liquid -------------------------------------------------------------------------------------------------------
    def liquid_density(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Density of subcooled (or bubble) liquid [kg/m3] at p [Pa] and T [K]."""
        a, b, _, _ = self._liquid_state(pressure, temperature, outside)
        result: Number = _on(a, b, self._liquid_density)
        return result

    def liquid_enthalpy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Enthalpy of subcooled (or bubble) liquid [J/kg] at p [Pa] and T [K]."""
        a, b, _, _ = self._liquid_state(pressure, temperature, outside)
        result: Number = _on(a, b, self._liquid_enthalpy)
        return result

    # -- viscosity ----------------------------------------------------------------------------------------------------
    def liquid_viscosity(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Viscosity of bubble liquid [Pa s] at T [K]; for mixtures an approximation within about 15 %."""
        result: Number = self._viscosity(temperature, self._liquid_viscosity, outside)
        return result

    def vapor_viscosity(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Viscosity of dew vapor [Pa s] at T [K]; for mixtures an approximation within about 15 %."""
        result: Number = self._viscosity(temperature, self._vapor_viscosity, outside)
        return result

    def _viscosity(self, temperature: Any, powers: Powers, outside: Outside) -> Any:
        low, high = self._viscosity_range
        if isinstance(temperature, (float, int)):
            if not low <= temperature <= high:
                return self._no_temperature(float(temperature), low, high, outside)
            return math.exp(_polynomial((2.0 * temperature - low - high) / (high - low), powers))
        values = np.asarray(temperature, dtype=np.float64)
        bad = ~((values >= low) & (values <= high))
        if bad.any() and outside == "raise":
            self._raise_first(values, bad, lambda t, how: self._no_temperature(t, low, high, how))
        x = np.asarray((2.0 * values - low - high) / (high - low))
        result = np.asarray(np.exp(_polynomial_array(x, powers, np.empty_like(x))))
        result[bad] = np.nan
        return result

    # -- refusals -----------------------------------------------------------------------------------------------------
    def _no_pressure(self, pressure: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(pressure):
            return math.nan
        raise OutOfRange(
            f"{_pressure(pressure)} is outside what is known of {self.refrigerant.name}: "
            f"{_pressure(self.minimum_pressure)} to {_pressure(self.maximum_pressure)}"
        )

    def _no_temperature(self, temperature: float, low: float, high: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(temperature):
            return math.nan
        raise OutOfRange(
            f"{_temperature(temperature)} is outside what is known of {self.refrigerant.name}: "
            f"{_temperature(low)} to {_temperature(high)}"
        )

    def _no_state(self, pressure: float, temperature: float, saturated: float, bound: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(temperature) or math.isnan(pressure):
            return math.nan
        phase = "vapor" if bound > saturated else "liquid"
        raise OutOfRange(
            f"{self.refrigerant.name} {phase} at {_pressure(pressure)} is known from {_temperature(min(saturated, bound))} "
            f"to {_temperature(max(saturated, bound))}, not at {_temperature(temperature)}"
        )

    def _no_heat(self, pressure: float, heat: float, low: float, high: float, unit: str, outside: Outside) -> float:
        if outside == "nan" or math.isnan(heat):
            return math.nan
        raise OutOfRange(
            f"{self.refrigerant.name} vapor at {_pressure(pressure)} is known from {low:.6g} to {high:.6g} {unit}, "
            f"not at {heat:.6g}"
        )


class _Inverse:
    """Saturation pressure over temperature: ln p as a polynomial of scaled 1/T."""

    __slots__ = ("factor", "highest", "lowest", "powers", "shift")

    def __init__(self, entry: dict[str, Any]) -> None:
        low, high = entry["inverse_temperature"]
        self.lowest, self.highest = 1.0 / high, 1.0 / low
        self.factor, self.shift = 2.0 / (high - low), -(high + low) / (high - low)
        self.powers = _falling(entry["powers"])


class _FromHeat:
    """Vapor temperature over pressure and enthalpy (or entropy)."""

    __slots__ = ("at_bound", "at_dew", "rows")

    def __init__(self, entry: dict[str, Any]) -> None:
        self.at_dew = _falling(entry["at_dew"])
        self.at_bound = _falling(entry["at_bound"])
        self.rows = _falling_surface(entry["powers"])


def _pressure(pascal: float) -> str:
    return f"{pascal / 1e5:.4g} bara ({(pascal - _ATMOSPHERE) / _PSI:.4g} psig at sea level)"


def _temperature(kelvin: float) -> str:
    return f"{kelvin * 1.8 - 459.67:.1f} °F ({kelvin - 273.15:.1f} °C)"


@cache
def _content() -> bytes:
    return resources.files("steadfeed.physics").joinpath("data", "coefficients.json").read_bytes()


@cache
def _file() -> dict[str, Any]:
    content: dict[str, Any] = json.loads(_content())
    return content


@cache
def coefficient_file_version() -> str:
    """Return a short hash of the coefficient file's content; part of every method version."""
    return hashlib.sha256(_content()).hexdigest()[:8]


@cache
def refrigerant_names() -> tuple[str, ...]:
    """Return the designations that `curves` knows, in rising order."""
    return tuple(sorted(_file()["refrigerants"], key=_sort_key))


@cache
def refused() -> dict[str, str]:
    """Return the refrigerants that are refused, each with the reason."""
    return dict(_file()["refused"])


def _sort_key(name: str) -> tuple[int, str]:
    digits = re.search(r"\d+", name)
    return (int(digits[0]) if digits else 0, name)


def _plain(name: str) -> str:
    plain = re.sub(r"[^a-z0-9]", "", name.lower())
    return plain.removeprefix("refrigerant").removeprefix("r")


@cache
def curves(name: str) -> Curves:
    """Return the curves of a refrigerant by its designation: "R-410A", "R410A", "r410a" and "410A" are the same.

    Raises FixInput for a name that is not known (the nearest known ones are named) or is refused (with the reason).
    """
    known = {_plain(n): n for n in refrigerant_names()}
    plain = _plain(name)
    if plain in known:
        return _curves(known[plain])
    for other, reason in refused().items():
        if plain == _plain(other):
            raise FixInput(f"{other} is not offered: {reason}", code="refrigerant refused")
    near = [known[match] for match in difflib.get_close_matches(plain, known, n=3, cutoff=0.5)]
    hint = f"; the nearest known are {', '.join(near)}" if near else "; `steadfeed refrigerants` lists those known"
    raise FixInput(f"“{name}” is no refrigerant known here{hint}", code="unknown refrigerant")


@cache
def _curves(name: str) -> Curves:
    return Curves(_file()["refrigerants"][name])
