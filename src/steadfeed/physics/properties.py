"""Refrigerant properties from the coefficient file: saturation both ways, superheated vapor, subcooled liquid.

Nothing here solves an equation of state: every function is a polynomial on scaled variables (see
docs/decisions/0001-coefficient-file.md), made by tools/make_coefficients.py. All functions take and give SI, absolute:
p [Pa], T [K], density [kg/m3], enthalpy h [J/kg], entropy s [J/(kg K)], viscosity [Pa s]. Enthalpy and entropy count
from bubble liquid at 0 °C, where they are 200 kJ/kg and 1 kJ/(kg K) (reference of the International Institute of
Refrigeration).

A float gives a float, an array an array of its shape (two arrays are broadcast). Outside the range of the file they
raise OutOfRange with the limits, or give NaN with `outside="nan"`; they never extrapolate. NaN stays NaN and raises
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any, Final, Literal, TypeVar

import numpy as np
import numpy.typing as npt

from steadfeed.circuit.refrigerant import Refrigerant
from steadfeed.errors import OutOfRange
from steadfeed.physics.coefficients import coefficient_file_version, designation, entry, refrigerant_names, refused
from steadfeed.physics.polynomials import (
    CHUNK,
    FloatArray,
    NearLine,
    Powers,
    PressureScale,
    SaturationLine,
    Surface,
    falling,
    polynomial,
    polynomial_array,
)
from steadfeed.units import PSI, STANDARD_ATMOSPHERE

__all__ = ["Curves", "Outside", "coefficient_file_version", "curves", "refrigerant_names", "refused"]

BoolArray = npt.NDArray[np.bool_]
Outside = Literal["raise", "nan"]
Number = TypeVar("Number", float, FloatArray)

#: A state this far beyond the saturation line still counts as on it: the two directions agree within it [K].
ON_THE_LINE: Final = 2e-3
#: The same for states given by enthalpy or entropy, as a share of the way from the line to the bound [-].
ON_THE_LINE_SHARE: Final = 2e-4


class Curves:
    """Properties of one refrigerant; see the text of the module for units and for what happens outside the range.

    refrigerant: what the bottle says. uncertainty: of a saturation temperature, half-width at about 95 % (k = 2) [K]; the
    standard uncertainty (k = 1) is half of it. confidence, provenance: words for people. minimum_pressure,
    maximum_pressure: hold for every function of pressure [Pa]. minimum_temperature, maximum_temperature: bubble_pressure
    and dew_pressure both take what lies between [K]. highest_vapor_temperature, lowest_liquid_temperature: far ends of the
    vapor and of the liquid functions [K]. critical_temperature [K], critical_pressure [Pa] (of a blend: of its mixture
    model, good to about 1 K).
    """

    def __init__(self, data: dict[str, Any]) -> None:
        self.refrigerant = Refrigerant(
            name=data["name"],
            kind=data["kind"],
            safety_class=data["safety_class"],
            composition=data["composition"],
            gwp=data["gwp"],
        )
        self.uncertainty: float = data["uncertainty"]
        self.confidence: str = data["confidence"]
        self.provenance: str = data["provenance"]
        self.critical_temperature: float = data["critical_temperature"]
        self.critical_pressure: float = data["critical_pressure"]
        self.minimum_pressure: float = data["pressure"][0]
        self.maximum_pressure: float = data["pressure"][1]

        self._scale = PressureScale(*data["pressure_scale"])
        ends = (self.minimum_pressure, self.maximum_pressure)
        self._bubble = SaturationLine(data["bubble_temperature"], data["bubble_ln_pressure"], self._scale, ends)
        self._dew = SaturationLine(data["dew_temperature"], data["dew_ln_pressure"], self._scale, ends)
        # of an azeotrope either line may end a rounding earlier
        self.minimum_temperature = max(self._bubble.lowest, self._dew.lowest)
        self.maximum_temperature = min(self._bubble.highest, self._dew.highest)
        self._near = NearLine(data["near_line"])

        vapor, liquid = data["vapor"], data["liquid"]
        self.highest_vapor_temperature: float = vapor["bound"]
        self.lowest_liquid_temperature: float = liquid["bound"]
        self._gas_constant: float = vapor["gas_constant"]
        self._compressibility = Surface(vapor["compressibility"])
        self._vapor_enthalpy = Surface(vapor["enthalpy"])
        self._vapor_entropy = Surface(vapor["entropy"])
        self._by_enthalpy = _ByHeat(self._vapor_enthalpy, vapor["temperature_from_enthalpy"], "J/kg of enthalpy")
        self._by_entropy = _ByHeat(self._vapor_entropy, vapor["temperature_from_entropy"], "J/(kg K) of entropy")
        self._liquid_density = Surface(liquid["density"])
        self._liquid_enthalpy = Surface(liquid["enthalpy"])

        viscosity = data["viscosity"]
        self._viscosity_low, self._viscosity_high = viscosity["temperature"]
        self._liquid_viscosity = falling(viscosity["liquid"])
        self._vapor_viscosity = falling(viscosity["vapor"])

    @property
    def name(self) -> str:
        """Designation of the refrigerant, as in "R-410A"."""
        return self.refrigerant.name

    def __repr__(self) -> str:
        return f"Curves({self.name})"

    # -- saturation ---------------------------------------------------------------------------------------------------
    def bubble_temperature(self, pressure: Number, outside: Outside = "raise") -> Number:
        """Temperature at which liquid begins to boil [K] at a pressure [Pa]; subcooling counts from it."""
        result: Number = self._saturation_temperature(pressure, self._bubble.powers, outside)
        return result

    def dew_temperature(self, pressure: Number, outside: Outside = "raise") -> Number:
        """Temperature at which vapor begins to condense [K] at a pressure [Pa]; superheat counts from it."""
        result: Number = self._saturation_temperature(pressure, self._dew.powers, outside)
        return result

    def bubble_pressure(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Pressure at which liquid of a temperature [K] begins to boil [Pa]."""
        result: Number = self._saturation_pressure(temperature, self._bubble, outside)
        return result

    def dew_pressure(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Pressure at which vapor of a temperature [K] begins to condense [Pa]."""
        result: Number = self._saturation_pressure(temperature, self._dew, outside)
        return result

    def _saturation_temperature(self, pressure: Any, powers: Powers, outside: Outside) -> Any:
        if isinstance(pressure, (float, int)):
            p = float(pressure)
            if self.minimum_pressure <= p <= self.maximum_pressure:
                a = self._scale.at(p)
                result = 0.0
                for c in powers:
                    result = result * a + c
                return result
            return self._no_pressure(p, outside)
        values = np.asarray(pressure, dtype=np.float64)
        flat = values.reshape(-1)
        out = np.empty(flat.shape)
        scratch = np.empty((2, min(CHUNK, flat.size)))
        scale = self._scale
        for start in range(0, flat.size, CHUNK):
            p_array = flat[start : start + CHUNK]
            a_array, warp = scratch[:, : p_array.size]
            # a NaN among the pressures makes both comparisons false, and the slower path sorts it out
            inside = p_array.min() >= self.minimum_pressure and p_array.max() <= self.maximum_pressure
            bad: BoolArray | None = None
            if not inside:
                p_array, bad = self._pressures_in_range(p_array, outside)
            np.log(p_array, out=a_array)
            a_array *= scale.per_ln
            np.multiply(p_array, scale.per_pascal, out=warp)
            a_array += warp
            a_array += scale.constant
            polynomial_array(a_array, powers, out[start : start + CHUNK])
            if bad is not None:
                out[start : start + CHUNK][bad] = np.nan
        return out.reshape(values.shape)

    def _saturation_pressure(self, temperature: Any, line: SaturationLine, outside: Outside) -> Any:
        if isinstance(temperature, (float, int)):
            t = float(temperature)
            if line.lowest <= t <= line.highest:
                return min(max(line.pressure(t, self._scale), self.minimum_pressure), self.maximum_pressure)
            return self._no_temperature(t, line.lowest, line.highest, outside)
        values = np.asarray(temperature, dtype=np.float64)
        flat = values.reshape(-1)
        bad = ~((flat >= line.lowest) & (flat <= line.highest))
        if outside == "raise":
            _raise_first(flat, bad, lambda t: self._no_temperature(t, line.lowest, line.highest, "raise"))
        result = line.pressures(np.where(bad, line.lowest, flat), self._scale)
        np.clip(result, self.minimum_pressure, self.maximum_pressure, out=result)
        result[bad] = np.nan
        return result.reshape(values.shape)

    # -- vapor --------------------------------------------------------------------------------------------------------
    def vapor_density(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Density of superheated (or dew) vapor [kg/m3] at p [Pa] and T [K]."""
        z = self._over_vapor(self._compressibility, pressure, temperature, outside)
        result: Number = pressure / (z * self._gas_constant * temperature)
        return result

    def vapor_enthalpy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Enthalpy of superheated (or dew) vapor [J/kg] at p [Pa] and T [K]."""
        result: Number = self._over_vapor(self._vapor_enthalpy, pressure, temperature, outside)
        return result

    def vapor_entropy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Entropy of superheated (or dew) vapor [J/(kg K)] at p [Pa] and T [K]."""
        result: Number = self._over_vapor(self._vapor_entropy, pressure, temperature, outside)
        return result

    def vapor_temperature_ph(self, pressure: Number, enthalpy: Number, outside: Outside = "raise") -> Number:
        """Temperature of superheated (or dew) vapor [K] at p [Pa] and h [J/kg]."""
        result: Number = self._vapor_temperature(pressure, enthalpy, self._by_enthalpy, outside)
        return result

    def vapor_temperature_ps(self, pressure: Number, entropy: Number, outside: Outside = "raise") -> Number:
        """Temperature of superheated (or dew) vapor [K] at p [Pa] and s [J/(kg K)]; for isentropic compression."""
        result: Number = self._vapor_temperature(pressure, entropy, self._by_entropy, outside)
        return result

    # -- liquid -------------------------------------------------------------------------------------------------------
    def liquid_density(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Density of subcooled (or bubble) liquid [kg/m3] at p [Pa] and T [K]."""
        result: Number = self._over_liquid(self._liquid_density, pressure, temperature, outside)
        return result

    def liquid_enthalpy(self, pressure: Number, temperature: Number, outside: Outside = "raise") -> Number:
        """Enthalpy of subcooled (or bubble) liquid [J/kg] at p [Pa] and T [K]."""
        result: Number = self._over_liquid(self._liquid_enthalpy, pressure, temperature, outside)
        return result

    # -- viscosity ----------------------------------------------------------------------------------------------------
    def liquid_viscosity(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Viscosity of bubble liquid [Pa s] at T [K]. For mixtures an approximation: see docs/properties.md."""
        result: Number = self._viscosity(temperature, self._liquid_viscosity, outside)
        return result

    def vapor_viscosity(self, temperature: Number, outside: Outside = "raise") -> Number:
        """Viscosity of dew vapor [Pa s] at T [K]. For mixtures an approximation: see docs/properties.md."""
        result: Number = self._viscosity(temperature, self._vapor_viscosity, outside)
        return result

    def _viscosity(self, temperature: Any, powers: Powers, outside: Outside) -> Any:
        low, high = self._viscosity_low, self._viscosity_high
        if isinstance(temperature, (float, int)):
            t = float(temperature)
            if not low <= t <= high:
                return self._no_temperature(t, low, high, outside)
            return math.exp(polynomial((2.0 * t - low - high) / (high - low), powers))
        values = np.asarray(temperature, dtype=np.float64)
        flat = values.reshape(-1)
        bad = ~((flat >= low) & (flat <= high))
        if outside == "raise":
            _raise_first(flat, bad, lambda t: self._no_temperature(t, low, high, "raise"))
        x = (2.0 * np.where(bad, low, flat) - low - high) / (high - low)
        result = np.exp(polynomial_array(x, powers, np.empty_like(x)))
        result[bad] = np.nan
        return result.reshape(values.shape)

    # -- states of one phase ------------------------------------------------------------------------------------------
    def _over_vapor(self, surface: Surface, pressure: Any, temperature: Any, outside: Outside) -> Any:
        line, bound = self._dew.powers, self.highest_vapor_temperature
        if isinstance(pressure, (float, int)) and isinstance(temperature, (float, int)):
            return self._on(surface, float(pressure), float(temperature), line, bound, outside)
        return self._on_arrays(surface, pressure, temperature, line, bound, outside)

    def _over_liquid(self, surface: Surface, pressure: Any, temperature: Any, outside: Outside) -> Any:
        line, bound = self._bubble.powers, self.lowest_liquid_temperature
        if isinstance(pressure, (float, int)) and isinstance(temperature, (float, int)):
            return self._on(surface, float(pressure), float(temperature), line, bound, outside)
        return self._on_arrays(surface, pressure, temperature, line, bound, outside)

    def _on(self, surface: Surface, p: float, t: float, line: Powers, bound: float, outside: Outside) -> float:
        if not self.minimum_pressure <= p <= self.maximum_pressure:
            return self._no_pressure(p, outside)
        a = self._scale.at(p)
        saturated = polynomial(a, line)
        share = (t - saturated) / (bound - saturated)
        if not 0.0 <= share <= 1.0:
            if not abs(t - saturated) <= ON_THE_LINE:
                return self._no_state(p, t, saturated, bound, outside)
            share = 0.0
        return surface.at(a, self._near.at(share))

    def _on_arrays(
        self, surface: Surface, pressure: Any, temperature: Any, line: Powers, bound: float, outside: Outside
    ) -> FloatArray:
        p_all, t_all = np.broadcast_arrays(np.asarray(pressure, np.float64), np.asarray(temperature, np.float64))
        t = t_all.reshape(-1)
        p, bad = self._pressures_in_range(p_all.reshape(-1), outside)
        a = self._scale.over(p)
        saturated = polynomial_array(a, line, np.empty_like(a))
        share = (t - saturated) / (bound - saturated)
        beyond = ~((share >= 0.0) & (share <= 1.0)) & ~(np.abs(t - saturated) <= ON_THE_LINE)
        if outside == "raise":
            for i in np.flatnonzero(beyond & ~bad & ~np.isnan(t))[:1]:
                self._no_state(float(p[i]), float(t[i]), float(saturated[i]), bound, "raise")
        bad |= beyond
        share[bad] = 0.0
        np.clip(share, 0.0, 1.0, out=share)
        result = surface.over(a, self._near.over(share))
        result[bad] = np.nan
        return result.reshape(p_all.shape)

    def _vapor_temperature(self, pressure: Any, heat: Any, by: _ByHeat, outside: Outside) -> Any:
        if isinstance(pressure, (float, int)) and isinstance(heat, (float, int)):
            p = float(pressure)
            if not self.minimum_pressure <= p <= self.maximum_pressure:
                return self._no_pressure(p, outside)
            a = self._scale.at(p)
            low, high = polynomial(a, by.at_dew), polynomial(a, by.at_bound)
            share = (float(heat) - low) / (high - low)
            if not -ON_THE_LINE_SHARE <= share <= 1.0 + ON_THE_LINE_SHARE:
                return self._no_heat(p, float(heat), low, high, by.unit, outside)
            return by.temperature.at(a, self._near.at(min(max(share, 0.0), 1.0)))
        p_all, heat_all = np.broadcast_arrays(np.asarray(pressure, np.float64), np.asarray(heat, np.float64))
        q = heat_all.reshape(-1)
        p_array, bad = self._pressures_in_range(p_all.reshape(-1), outside)
        a_array = self._scale.over(p_array)
        low_array = polynomial_array(a_array, by.at_dew, np.empty_like(a_array))
        high_array = polynomial_array(a_array, by.at_bound, np.empty_like(a_array))
        shares = (q - low_array) / (high_array - low_array)
        beyond = ~((shares >= -ON_THE_LINE_SHARE) & (shares <= 1.0 + ON_THE_LINE_SHARE))
        if outside == "raise":
            for i in np.flatnonzero(beyond & ~bad & ~np.isnan(q))[:1]:
                self._no_heat(
                    float(p_array[i]), float(q[i]), float(low_array[i]), float(high_array[i]), by.unit, "raise"
                )
        bad |= beyond
        shares[bad] = 0.0
        np.clip(shares, 0.0, 1.0, out=shares)
        result = by.temperature.over(a_array, self._near.over(shares))
        result[bad] = np.nan
        return result.reshape(p_all.shape)

    def _pressures_in_range(self, pressure: FloatArray, outside: Outside) -> tuple[FloatArray, BoolArray]:
        """Return pressures that can be computed with, and where they stand in for ones that cannot."""
        bad = ~((pressure >= self.minimum_pressure) & (pressure <= self.maximum_pressure))
        if not bad.any():
            return pressure, bad
        if outside == "raise":
            _raise_first(pressure, bad, lambda p: self._no_pressure(p, "raise"))
        return np.where(bad, self.minimum_pressure, pressure), bad

    # -- refusals -----------------------------------------------------------------------------------------------------
    def _no_pressure(self, pressure: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(pressure):
            return math.nan
        raise OutOfRange(
            f"{_pressure(pressure)} is outside what is known of {self.name}: "
            f"{_pressure(self.minimum_pressure)} to {_pressure(self.maximum_pressure)}"
        )

    def _no_temperature(self, temperature: float, low: float, high: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(temperature):
            return math.nan
        raise OutOfRange(
            f"{_temperature(temperature)} is outside what is known of {self.name}: "
            f"{_temperature(low)} to {_temperature(high)}"
        )

    def _no_state(self, pressure: float, temperature: float, saturated: float, bound: float, outside: Outside) -> float:
        if outside == "nan" or math.isnan(temperature):
            return math.nan
        phase = "vapor" if bound > saturated else "liquid"
        raise OutOfRange(
            f"{self.name} {phase} at {_pressure(pressure)} is known from {_temperature(min(saturated, bound))} "
            f"to {_temperature(max(saturated, bound))}, not at {_temperature(temperature)}"
        )

    def _no_heat(self, pressure: float, heat: float, low: float, high: float, unit: str, outside: Outside) -> float:
        if outside == "nan" or math.isnan(heat):
            return math.nan
        raise OutOfRange(
            f"{self.name} vapor at {_pressure(pressure)} is known from {low:.6g} to {high:.6g} {unit}, not at {heat:.6g}"
        )


class _ByHeat:
    """Vapor temperature over pressure and the share of the way, in enthalpy or entropy, from the dew line to the bound."""

    __slots__ = ("at_bound", "at_dew", "temperature", "unit")

    def __init__(self, heat: Surface, temperature: list[list[float]], unit: str) -> None:
        self.at_dew, self.at_bound = heat.along(-1.0), heat.along(1.0)
        self.temperature = Surface(temperature)
        self.unit = unit


def _raise_first(values: FloatArray, bad: BoolArray, refuse: Callable[[float], float]) -> None:
    """Refuse the first value that is bad without being NaN, if there is one."""
    for i in np.flatnonzero(bad & ~np.isnan(values))[:1]:
        refuse(float(values[i]))


def _pressure(pascal: float) -> str:
    return f"{_rounded((pascal - STANDARD_ATMOSPHERE) / PSI)} psig at sea level ({_rounded(pascal / 1e5)} bar absolute)"


def _rounded(number: float) -> str:
    return f"{number:,.1f}".replace("-", "−")


def _temperature(kelvin: float) -> str:
    return f"{_rounded(kelvin * 1.8 - 459.67)} °F ({_rounded(kelvin - 273.15)} °C)"


@cache
def _curves(name: str) -> Curves:
    return Curves(entry(name))


def curves(name: str) -> Curves:
    """Return the curves of a refrigerant by its designation: "R-410A", "R410A", "r410a" and "410A" are the same.

    Raises FixInput for a name that is not known (the nearest known ones are named) or is refused (with the reason).
    """
    return _curves(designation(name))
