"""Equations of state behind one small face: what the coefficient tool needs from CoolProp, with its traps handled.

Traps met in CoolProp 8.0.0 and what is done about them:
- flashes of mixtures fail in bands of temperature, or land on a wrong root: the saturation curves of mixtures come from
  the traced phase envelope; direct flashes only confirm it, and those that disagree are counted;
- a flash may give an infinite number without raising: every number is checked;
- densities of single phases are solved here from p(rho, T), so that no flash of a mixture is needed.
"""

from __future__ import annotations

from dataclasses import dataclass

import CoolProp
import numpy as np
import numpy.typing as npt
from CoolProp.CoolProp import AbstractState
from numpy.polynomial import chebyshev

Array = npt.NDArray[np.float64]
Phase = str  # "vapor" | "liquid"

GAS_CONSTANT = 8.314462618  # [J/(mol K)] CODATA 2018


@dataclass(frozen=True)
class Saturation:
    """Saturation points: T [K] and ln p [ln Pa], rising; share of flashes that survive and agree with them [-]."""

    bubble_temperature: Array
    bubble_ln_pressure: Array
    dew_temperature: Array
    dew_ln_pressure: Array
    surviving_share: float
    critical_temperature: float
    critical_pressure: float


class Fluid:
    """One refrigerant in CoolProp: pure, pseudo-pure, or a mixture by mass."""

    def __init__(self, source: dict[str, object]) -> None:
        self.kind = str(source["type"])
        if self.kind == "mixture":
            components = source["components"]
            assert isinstance(components, list)
            self.components = [str(c["fluid"]) for c in components]
            mass = np.array([float(c["mass_percent"]) for c in components])
            if abs(mass.sum() - 100.0) > 1e-6:
                raise ValueError(f"mass shares add up to {mass.sum()} %")
            molar = np.array([AbstractState("HEOS", name).molar_mass() for name in self.components])
            moles = mass / molar
            self.fractions = moles / moles.sum()
        else:
            self.components = [str(source["fluid"])]
            self.fractions = np.array([1.0])
        self.state = AbstractState("HEOS", "&".join(self.components))
        if self.kind == "mixture":
            self.state.set_mole_fractions(list(self.fractions))
        parts = [AbstractState("HEOS", name) for name in self.components]
        self.molar_mass = float(sum(x * part.molar_mass() for x, part in zip(self.fractions, parts, strict=True)))
        self.highest_temperature = min(part.Tmax() for part in parts)
        self.lowest_temperature = float(sum(x * part.Tmin() for x, part in zip(self.fractions, parts, strict=True)))

    def saturation(self, lowest: float, highest_share: float) -> Saturation:
        """Collect the bubble and dew curve from `lowest` [K] to beyond a share of the critical pressure [-]."""
        if self.kind == "mixture":
            return self._mixture_saturation(lowest, highest_share)
        return self._pure_saturation(lowest)

    def _pure_saturation(self, lowest: float) -> Saturation:
        tc, pc = self.state.T_critical(), self.state.p_critical()
        # dense at both ends, where polynomials need it
        nodes = 0.5 - 0.5 * np.cos(np.pi * (np.arange(300) + 0.5) / 300)
        temperature = lowest - 2.0 + nodes * (0.9995 * tc - lowest + 2.0)
        temperature = temperature[temperature > self.lowest_temperature]
        curves, kept = [], 0
        for quality in (0, 1):
            _, ln_p = self._flashes(quality, temperature)
            good = np.isfinite(ln_p)
            kept += int(good.sum())
            curves.append((temperature[good], ln_p[good]))
        (tb, pb), (td, pd) = curves
        return Saturation(tb, pb, td, pd, kept / (2 * len(temperature)), tc, pc)

    def _mixture_saturation(self, lowest: float, highest_share: float) -> Saturation:
        self.state.build_phase_envelope("")
        envelope = self.state.get_phase_envelope_data()
        temperature, pressure = np.array(envelope.T), np.array(envelope.p)
        liquid, vapor = np.array(envelope.rhomolar_liq), np.array(envelope.rhomolar_vap)
        # the trace runs up the dew side, through the critical point, and down the bubble side: the density of the
        # incipient phase changes from above that of the bulk to below it
        top = int(np.argmin(np.abs(np.log(liquid / vapor))))
        top_p = int(pressure.argmax())
        dew = slice(0, min(top, top_p, int(temperature.argmax())) + 1)
        bubble = slice(max(top, top_p, int(temperature.argmax())), None)
        td, pd = temperature[dew], np.log(pressure[dew])
        tb, pb = temperature[bubble][::-1], np.log(pressure[bubble][::-1])
        td, pd = _rising(td, pd)
        tb, pb = _rising(tb, pb)
        keep_d, keep_b = td > lowest - 12, tb > lowest - 12
        td, pd, tb, pb = td[keep_d], pd[keep_d], tb[keep_b], pb[keep_b]
        tc, pc = float(temperature[top]), float(pressure.max())

        # flashes add points between those of the trace, which steps far where it meets no difficulty; a flash that
        # lands on a wrong root is off by more than the smooth curve through the trace can be
        agree = tried = 0
        out = []
        for quality, t_env, p_env in ((0, tb, pb), (1, td, pd)):
            top = float(np.interp(np.log(highest_share * pc), p_env, t_env))
            grid, ln_p = self._flashes(quality, np.arange(lowest - 3.0, top, 0.7))
            smooth = (t_env > lowest - 8) & (t_env < top + 1)
            t_all, p_all = t_env[smooth], p_env[smooth]
            for nearness in (5e-3, 5e-4, 5e-5):
                good = np.abs(ln_p - _smooth(t_all, p_all, grid)) < nearness
                t_all, p_all = np.r_[t_env[smooth], grid[good]], np.r_[p_env[smooth], ln_p[good]]
            tried += len(grid)
            agree += int(good.sum())
            t_all, p_all = np.r_[t_env, grid[good]], np.r_[p_env, ln_p[good]]
            order = np.argsort(t_all)
            out.append((t_all[order], p_all[order]))
        (tb, pb), (td, pd) = out
        return Saturation(tb, pb, td, pd, agree / tried, tc, pc)

    def _flashes(self, quality: int, temperature: Array) -> tuple[Array, Array]:
        """Return the temperatures and ln p; NaN where the flash fails or gives no finite number."""
        ln_p = np.full(temperature.shape, np.nan)
        for i, t in enumerate(temperature.tolist()):
            try:
                self.state.update(CoolProp.QT_INPUTS, quality, t)
            except ValueError:
                continue
            pressure = self.state.p()
            if np.isfinite(pressure) and pressure > 0:
                ln_p[i] = np.log(pressure)
        return temperature, ln_p

    def density(self, pressure: float, temperature: float, phase: Phase, guess: float) -> float:
        """Molar density [mol/m3] of one phase at p [Pa] and T [K], from p(rho, T) by Newton with a bounded step."""
        self.state.specify_phase(CoolProp.iphase_gas if phase == "vapor" else CoolProp.iphase_liquid)
        rho = guess
        try:
            for _ in range(60):
                self.state.update(CoolProp.DmolarT_INPUTS, rho, temperature)
                slope = self.state.first_partial_deriv(CoolProp.iP, CoolProp.iDmolar, CoolProp.iT)
                miss = pressure - self.state.p()
                if not np.isfinite(miss):
                    break
                if slope <= 0:  # between the spinodals: step away from the dense (or the thin) side
                    rho *= 0.9 if phase == "vapor" else 1.05
                    continue
                step = float(np.clip(miss / slope, -0.2 * rho, 0.2 * rho))
                rho += step
                if abs(step) < 1e-12 * rho:
                    return rho
            raise ValueError(f"no {phase} density at {pressure:.0f} Pa, {temperature:.3f} K")
        finally:
            self.state.unspecify_phase()

    def at(self, pressure: float, temperature: float, phase: Phase, guess: float) -> tuple[float, float, float]:
        """Molar density [mol/m3], enthalpy [J/kg] and entropy [J/(kg K)] of one phase."""
        rho = self.density(pressure, temperature, phase, guess)
        self.state.specify_phase(CoolProp.iphase_gas if phase == "vapor" else CoolProp.iphase_liquid)
        try:
            self.state.update(CoolProp.DmolarT_INPUTS, rho, temperature)
            return rho, float(self.state.hmass()), float(self.state.smass())
        finally:
            self.state.unspecify_phase()


def _rising(temperature: Array, ln_pressure: Array) -> tuple[Array, Array]:
    """Keep the points at which both coordinates go on rising."""
    keep_t, keep_p = [temperature[0]], [ln_pressure[0]]
    for t, p in zip(temperature[1:], ln_pressure[1:], strict=True):
        if t > keep_t[-1] and p > keep_p[-1]:
            keep_t.append(t)
            keep_p.append(p)
    return np.array(keep_t), np.array(keep_p)


def _smooth(temperature: Array, ln_pressure: Array, at: Array) -> Array:
    """Fit ln p over 1/T through all points, and evaluate it."""
    x = 1.0 / temperature
    low, high = float(x.min()), float(x.max())
    series = chebyshev.chebfit((2 * x - low - high) / (high - low), ln_pressure, 14)
    return np.asarray(chebyshev.chebval((2 / at - low - high) / (high - low), series))
