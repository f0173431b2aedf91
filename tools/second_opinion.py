"""Saturation from a second equation-of-state library: teqp (NIST), with the equations and interactions that it ships.

Its solver shares nothing with CoolProp's, and its data are of another year, so that a difference shows either a numerical
fault or how far two published models of the same blend lie apart.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import teqp

Array = npt.NDArray[np.float64]


def _interactions() -> str:
    """Return teqp's binary interactions, with those of Lemmon and Jacobsen (2004) in the form that its solver takes.

    They are printed as additions xi [K] to the reducing temperature and zeta [m3/mol] to the reducing volume. With both betas
    at 1 the reducing function of GERG is the same with gamma_T = (T1 + T2 + xi) / (2 sqrt(T1 T2)) and
    gamma_V = 4 (v1 + v2 + zeta) / (v1^(1/3) + v2^(1/3))^3.
    """
    root = Path(teqp.get_datapath()) / "dev"
    pairs = json.loads((root / "mixtures" / "mixture_binary_pairs.json").read_text(encoding="utf-8"))
    reducing: dict[str, tuple[float, float]] = {}
    for path in (root / "fluids").glob("*.json"):
        fluid = json.loads(path.read_text(encoding="utf-8"))
        state = fluid["EOS"][0]["STATES"]["reducing"]
        reducing[fluid["INFO"]["CAS"]] = (float(state["T"]), 1.0 / float(state["rhomolar"]))
    for pair in pairs:
        if "xi" in pair and "zeta" in pair and pair["CAS1"] in reducing and pair["CAS2"] in reducing:
            (t1, v1), (t2, v2) = reducing[pair["CAS1"]], reducing[pair["CAS2"]]
            xi, zeta = float(pair.pop("xi")), float(pair.pop("zeta"))
            pair["betaT"] = pair["betaV"] = 1.0
            pair["gammaT"] = (t1 + t2 + xi) / (2.0 * np.sqrt(t1 * t2))
            pair["gammaV"] = 4.0 * (v1 + v2 + zeta) / (np.cbrt(v1) + np.cbrt(v2)) ** 3
    return json.dumps(pairs)


class SecondOpinion:
    """One refrigerant in teqp. components: names as in CoolProp; moles: their mole fractions."""

    def __init__(self, components: list[str], moles: Array) -> None:
        self.model: Any = teqp.build_multifluid_model(components, teqp.get_datapath(), _interactions())
        self.moles = moles
        self.gas_constant = float(self.model.get_R(moles))

    def _density(self, pressure: float, temperature: float, moles: Array, guess: float) -> float:
        """Molar density [mol/m3] by Newton from a guess in the same phase."""
        rho, rt = guess, self.gas_constant * temperature
        for _ in range(80):
            first, second = self.model.get_Ar01(temperature, rho, moles), self.model.get_Ar02(temperature, rho, moles)
            miss = pressure - rho * rt * (1.0 + first)
            slope = rt * (1.0 + 2.0 * first + second)
            if not np.isfinite(miss) or slope <= 0:
                raise ArithmeticError("left the phase")
            step = float(np.clip(miss / slope, -0.1 * rho, 0.1 * rho))
            rho += step
            if abs(step) < 1e-11 * rho:
                return rho
        raise ArithmeticError("no density")

    def saturation_pressure(
        self, temperature: float, quality: int, pressure: float, liquid: float, vapor: float
    ) -> float:
        """Bubble (quality 0) or dew (1) pressure [Pa] at T [K], from guesses of pressure and molar densities [mol/m3]."""
        bulk = self.moles
        other = bulk.copy()
        for _ in range(400):
            x, y = (bulk, other) if quality == 0 else (other, bulk)
            liquid = self._density(pressure, temperature, x, liquid)
            vapor = self._density(pressure, temperature, y, vapor)
            ratio = self.model.get_fugacity_coefficients(
                temperature, liquid * x
            ) / self.model.get_fugacity_coefficients(temperature, vapor * y)
            new = bulk * ratio if quality == 0 else bulk / ratio
            total = float(new.sum())
            pressure *= total if quality == 0 else 1.0 / total
            change = float(np.abs(new / total - other).max()) + abs(total - 1.0)
            other = new / total
            if change < 1e-9:
                return pressure
        raise ArithmeticError("no equilibrium")
