"""Largest differences between the coefficient file and two equation-of-state libraries, at states that no fit used."""

from __future__ import annotations

from typing import Any

import CoolProp
import numpy as np

from equations import Fluid
from second_opinion import SecondOpinion
from steadfeed.physics.properties import Curves

#: Makeup of the pseudo-pure blends, for the library that has only their components [% by mass].
MAKEUP = {
    "R-404A": {"R125": 44.0, "R143a": 52.0, "R134a": 4.0},
    "R-407C": {"R32": 23.0, "R125": 25.0, "R134a": 52.0},
    "R-410A": {"R32": 50.0, "R125": 50.0},
    "R-507A": {"R125": 50.0, "R143a": 50.0},
}
#: Farther than this from the file, a flash of a mixture has landed on a wrong root [K].
WRONG_ROOT = 0.05


def against_coolprop(spec: dict[str, Any], curves: Curves) -> dict[str, float]:
    """Compare with CoolProp.

    Returns the largest differences: saturation [K]; vapor_density, liquid_density [relative]; vapor_enthalpy,
    liquid_enthalpy [J/kg] (differences from bubble liquid at 0 °C); and the share of flashes that survive and agree [-].
    """
    fluid = Fluid(spec["source"])
    worst = {
        "saturation": 0.0,
        "vapor_density": 0.0,
        "liquid_density": 0.0,
        "vapor_enthalpy": 0.0,
        "liquid_enthalpy": 0.0,
    }
    tried = kept = 0
    for quality, line in ((0, curves.bubble_temperature), (1, curves.dew_temperature)):
        low, high = line(curves.minimum_pressure), line(curves.maximum_pressure)
        for t in np.linspace(low + 0.13, high - 0.37, 83).tolist():
            tried += 1
            try:
                fluid.state.update(CoolProp.QT_INPUTS, quality, t)
            except ValueError:
                continue
            pressure = fluid.state.p()
            if not (np.isfinite(pressure) and curves.minimum_pressure <= pressure <= curves.maximum_pressure):
                continue
            difference = abs(line(pressure) - t)
            if fluid.kind == "mixture" and difference > WRONG_ROOT:
                continue
            kept += 1
            worst["saturation"] = max(worst["saturation"], difference)
    reference = fluid.at(curves.bubble_pressure(273.15), 273.15, "liquid", _liquid_guess(curves, fluid))[1] - 200e3
    for pressure in np.geomspace(curves.minimum_pressure * 1.013, curves.maximum_pressure * 0.987, 17).tolist():
        for phase, line, bound in (
            ("vapor", curves.dew_temperature, curves.highest_vapor_temperature),
            ("liquid", curves.bubble_temperature, curves.lowest_liquid_temperature),
        ):
            for share in (0.0005, 0.013, 0.07, 0.23, 0.61, 0.97):
                saturated = line(pressure)
                t = saturated + share * (bound - saturated)
                density = (curves.vapor_density if phase == "vapor" else curves.liquid_density)(pressure, t)
                enthalpy = (curves.vapor_enthalpy if phase == "vapor" else curves.liquid_enthalpy)(pressure, t)
                rho, h, _ = fluid.at(pressure, t, phase, density / fluid.molar_mass)
                relative = abs(density / (rho * fluid.molar_mass) - 1.0)
                worst[f"{phase}_density"] = max(worst[f"{phase}_density"], relative)
                worst[f"{phase}_enthalpy"] = max(worst[f"{phase}_enthalpy"], abs(enthalpy - (h - reference)))
    return {**worst, "surviving_share": kept / tried}


def _liquid_guess(curves: Curves, fluid: Fluid) -> float:
    return curves.liquid_density(curves.bubble_pressure(273.15), 273.15) / fluid.molar_mass


def against_second_library(spec: dict[str, Any], curves: Curves) -> float | None:
    """Largest difference of bubble and dew temperature [K] from teqp; None where teqp has not the equations."""
    source = spec["source"]
    if source["type"] == "pseudo-pure":
        parts = [{"fluid": fluid, "mass_percent": mass} for fluid, mass in MAKEUP[spec["name"]].items()]
        source = {"type": "mixture", "components": parts}
    fluid = Fluid(source)
    try:
        other = SecondOpinion(fluid.components, fluid.fractions)
    except ValueError:
        return None
    worst = 0.0
    highest = min(curves.maximum_temperature, 0.93 * curves.critical_temperature)
    for t in np.linspace(curves.minimum_temperature + 3.0, highest, 9).tolist():
        for quality, pressure_at, line in (
            (0, curves.bubble_pressure, curves.bubble_temperature),
            (1, curves.dew_pressure, curves.dew_temperature),
        ):
            guess = pressure_at(t)
            liquid = curves.liquid_density(guess, curves.bubble_temperature(guess)) / fluid.molar_mass
            vapor = curves.vapor_density(guess, curves.dew_temperature(guess)) / fluid.molar_mass
            pressure = other.saturation_pressure(t, quality, guess, liquid, vapor)
            worst = max(worst, abs(line(pressure) - t))
    return worst
