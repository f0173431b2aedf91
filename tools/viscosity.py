"""Viscosity of saturated liquid and vapor over temperature."""

from __future__ import annotations

from typing import Any

import CoolProp
import numpy as np
from CoolProp.CoolProp import AbstractState
from numpy.polynomial import chebyshev

from equations import Array, Fluid, Saturation
from fitting import fit_curve, scaled


def _component(name: str, reduced: Array, quality: int) -> Array:
    """Saturated viscosity [Pa s] of one component at reduced temperatures."""
    state = AbstractState("HEOS", name)
    if not _has_viscosity(name):
        raise LookupError(name)
    temperature = np.maximum(reduced * state.T_critical(), state.Tmin() + 0.1)
    out = np.full(temperature.shape, np.nan)
    for i, t in enumerate(temperature):
        try:
            state.update(CoolProp.QT_INPUTS, quality, float(t))
            out[i] = state.viscosity()
        except ValueError:
            continue  # a few reference-fluid solutions fail
    good = np.isfinite(out) & (out > 0)
    if good.mean() < 0.7:
        raise ValueError(f"{name}: only {good.mean():.0%} of the viscosities can be computed")
    if not good.all():
        x = scaled(temperature, float(temperature[0]), float(temperature[-1]))
        out[~good] = np.exp(chebyshev.chebval(x[~good], chebyshev.chebfit(x[good], np.log(out[good]), 6)))
    return out


def _has_viscosity(name: str) -> bool:
    state = AbstractState("HEOS", name)
    state.update(CoolProp.QT_INPUTS, 0, 0.75 * state.T_critical())
    try:
        return bool(np.isfinite(state.viscosity()))
    except ValueError:
        return False


def saturated_viscosity(
    fluid: Fluid, sat: Saturation, low: float, high: float, errors: dict[str, float]
) -> dict[str, Any]:
    """Fit ln(viscosity) of saturated liquid and vapor over T.

    Mixtures: corresponding states after Teja and Rice (Ind. Eng. Chem. Fundam. 20, 1981): ln(mu xi) of the mixture is
    the mole-fraction mean of that of the components at the same reduced temperature, xi = Vc^(2/3) / sqrt(Tc M).
    """
    temperature = np.linspace(low, high, 60)
    x = scaled(temperature, low, high)
    result: dict[str, Any] = {"temperature": [float(low), float(high)]}
    tc = sat.critical_temperature
    for phase, quality in (("liquid", 0), ("vapor", 1)):
        if fluid.kind != "mixture":
            values = _component(
                fluid.components[0], temperature / AbstractState("HEOS", fluid.components[0]).T_critical(), quality
            )
        else:
            parts, weights, xis, volumes, masses = [], [], [], [], []
            for name, share in zip(fluid.components, fluid.fractions, strict=True):
                state = AbstractState("HEOS", name)
                try:
                    mu = _component(name, temperature / tc, quality)
                except LookupError:
                    continue  # no viscosity known: the other components stand for it
                volume, mass = 1.0 / state.rhomolar_critical(), state.molar_mass()
                xi = volume ** (2 / 3) / np.sqrt(state.T_critical() * mass)
                parts.append(np.log(mu * xi))
                weights.append(share)
                volumes.append(volume)
                masses.append(mass)
                xis.append(xi)
            share = np.array(weights) / sum(weights)
            xi_mix = float(share @ volumes) ** (2 / 3) / np.sqrt(tc * fluid.molar_mass)
            values = np.exp(share @ np.array(parts)) / xi_mix
        fit = fit_curve(x, np.log(values), 1e-3, 8)
        errors[f"{phase}_viscosity_relative"] = fit.error
        result[phase] = [round(c, 6) for c in fit.coefficients]
    return result
