"""Make the coefficient file of refrigerant properties from an equation-of-state library. Not shipped.

    python tools/make_coefficients.py [NAME …]     writes src/steadfeed/physics/data/coefficients.json

Reads one TOML file a refrigerant in tools/refrigerants/. With names, only prints the errors of these, and writes nothing.
What the numbers in the file mean: docs/decisions/0001-coefficient-file.md.
"""

from __future__ import annotations

import json
import sys
import tomllib
from pathlib import Path
from typing import Any

import CoolProp
import numpy as np
from equations import GAS_CONSTANT, Array, Fluid
from fitting import chebyshev_nodes, fit_curve, fit_surface, scaled
from numpy.polynomial import polynomial

HERE = Path(__file__).parent
TARGET = HERE.parent / "src" / "steadfeed" / "physics" / "data" / "coefficients.json"

CURVE_TOLERANCE = 1e-3  # [K] bubble and dew temperature
LN_PRESSURE_TOLERANCE = 1e-5  # [-] bubble and dew pressure
RELATIVE_DENSITY_TOLERANCE = 2e-4
ENTHALPY_TOLERANCE = 50.0  # [J/kg]
ENTROPY_TOLERANCE = 0.15  # [J/(kg K)]
INVERSE_TOLERANCE = 0.02  # [K] vapor temperature from enthalpy or entropy
LIQUID_MARGIN = 5.0  # [K] liquid surfaces reach this far below the lowest bubble temperature
LEAST_SURVIVING_SHARE = 0.8


def rounded(value: Any, digits: int = 11) -> Any:
    """Round every number to so many significant digits."""
    if isinstance(value, list):
        return [rounded(v, digits) for v in value]
    if isinstance(value, dict):
        return {k: rounded(v, digits) for k, v in value.items()}
    return float(f"{value:.{digits - 1}e}") if isinstance(value, float) else value


def horner(x: Array, coefficients: list[float]) -> Array:
    """Evaluate a fitted curve."""
    return np.asarray(polynomial.polyval(x, np.array(coefficients)))


class Maker:
    """Makes the entry of one refrigerant, and its errors against the equation of state."""

    def __init__(self, spec: dict[str, Any]) -> None:
        self.spec = spec
        self.fluid = Fluid(spec["source"])
        self.trusted = spec["trusted"]
        self.errors: dict[str, float] = {}

    def make(self) -> dict[str, Any]:
        """Fit everything."""
        low = float(self.trusted["lowest_temperature_K"])
        sat = self.fluid.saturation(low)
        self.errors["surviving_share"] = sat.surviving_share
        if sat.surviving_share < LEAST_SURVIVING_SHARE:
            raise SystemExit(f"{self.spec['name']}: only {sat.surviving_share:.0%} of the flashes survive and agree")
        self.ln_low = float(np.interp(low, sat.bubble_temperature, sat.bubble_ln_pressure))
        self.ln_high = float(np.log(sat.critical_pressure * self.trusted["highest_share_of_critical_pressure"]))
        entry: dict[str, Any] = {}
        self.curve: dict[str, list[float]] = {}
        for name, temperature, ln_p in (
            ("bubble", sat.bubble_temperature, sat.bubble_ln_pressure),
            ("dew", sat.dew_temperature, sat.dew_ln_pressure),
        ):
            near = (ln_p > self.ln_low - 0.05) & (ln_p < self.ln_high + 0.01)
            t, p = temperature[near], ln_p[near]
            x = scaled(p, self.ln_low, self.ln_high)
            curve = fit_curve(x, t, CURVE_TOLERANCE, 14)
            coefficients = rounded(curve.coefficients)
            ends = horner(np.array([-1.0, 1.0]), coefficients)
            x_inverse = scaled(1.0 / t, 1.0 / ends[1], 1.0 / ends[0])
            inverse = fit_curve(x_inverse, p, LN_PRESSURE_TOLERANCE, 12)
            self.curve[name] = coefficients
            self.errors[f"{name}_temperature"] = curve.error
            self.errors[f"{name}_ln_pressure"] = inverse.error
            entry[f"{name}_temperature"] = coefficients
            entry[f"{name}_ln_pressure"] = {
                "inverse_temperature": rounded([1.0 / float(ends[1]), 1.0 / float(ends[0])], 15),
                "powers": rounded(inverse.coefficients),
            }
        fine = np.linspace(-1, 1, 2001)
        dew, bubble = horner(fine, self.curve["dew"]), horner(fine, self.curve["bubble"])
        if not (np.all(np.diff(dew) > 0) and np.all(np.diff(bubble) > 0)):
            raise SystemExit(f"{self.spec['name']}: a saturation curve does not rise")
        if np.any(dew - bubble < -2e-3):
            raise SystemExit(f"{self.spec['name']}: dew falls below bubble by {float((bubble - dew).max()):.4f} K")
        self.reference = self._reference(sat)
        hottest = min(float(self.trusted["highest_vapor_temperature_K"]), self.fluid.highest_temperature)
        coldest = max(float(bubble[0]) - LIQUID_MARGIN, self.fluid.lowest_temperature + 0.5)
        entry["vapor"] = self._vapor(hottest)
        entry["liquid"] = self._liquid(coldest)
        return {
            "name": self.spec["name"],
            "kind": self.spec["kind"],
            "safety_class": self.spec["safety_class"],
            "composition": self.spec.get("composition", ""),
            "gwp": self.spec.get("gwp"),
            "provenance": self._provenance(),
            "confidence": self.spec.get("confidence", ""),
            "uncertainty": round(float(self.spec["uncertainty_degF"]) * 5 / 9, 4),
            "critical_temperature": round(sat.critical_temperature, 3),
            "critical_pressure": round(sat.critical_pressure, 1),
            "ln_pressure": [self.ln_low, self.ln_high],
            **entry,
            **self._viscosity(sat, horner(np.array([-1.0]), self.curve["dew"])[0], bubble[-1]),
        }

    def _provenance(self) -> str:
        version = CoolProp.__version__
        if self.fluid.kind == "mixture":
            return f"CoolProp {version}, mixture model, phase envelope"
        return f"CoolProp {version}, {self.fluid.kind} equation of state"

    def _reference(self, sat: Any) -> tuple[float, float]:
        """Enthalpy and entropy of bubble liquid at 0 °C, which the file puts at 200 kJ/kg and 1 kJ/(kg K) (IIR)."""
        ln_p = float(np.interp(273.15, sat.bubble_temperature, sat.bubble_ln_pressure))
        rho = self._guess("liquid", float(np.exp(ln_p)), 273.15)
        _, h, s = self.fluid.at(float(np.exp(ln_p)), 273.15, "liquid", rho)
        return h - 200e3, s - 1000.0

    def _guess(self, phase: str, pressure: float, temperature: float) -> float:
        if phase == "vapor":
            return pressure / (GAS_CONSTANT * temperature)
        return 4.0 * self.fluid.state.rhomolar_critical() if self.fluid.kind != "mixture" else 20000.0

    def _grid(self, phase: str, bound: float, n: int, m: int) -> tuple[Array, ...]:
        """States on a grid: a (ln p, −1…1), b (−1 at saturation, 1 at the bound), p, T, rho [kg/m3], h, s."""
        edges = np.array([-1.0, 1.0])
        # the grid takes in its edges, so that no point in range is ever outside the fitted points
        a_nodes = np.sort(np.r_[edges, chebyshev_nodes(n)])
        b_nodes = np.sort(np.r_[edges, chebyshev_nodes(m)])
        saturated = horner(a_nodes, self.curve["dew" if phase == "vapor" else "bubble"])
        out = []
        for a, t_sat in zip(a_nodes, saturated, strict=True):
            pressure = float(np.exp(0.5 * (self.ln_low + self.ln_high) + 0.5 * a * (self.ln_high - self.ln_low)))
            guess = None
            # march from the far bound, where the equation of state is smooth, towards saturation
            for b in b_nodes[::-1]:
                temperature = float(t_sat + 0.5 * (b + 1.0) * (bound - t_sat))
                start = guess if guess is not None else self._guess(phase, pressure, temperature)
                rho, h, s = self.fluid.at(pressure, temperature, phase, start)
                guess = rho
                mass_density = rho * self.fluid.molar_mass
                out.append((a, b, pressure, temperature, mass_density, h - self.reference[0], s - self.reference[1]))
        return tuple(np.array(column) for column in zip(*out, strict=True))

    def _vapor(self, hottest: float) -> dict[str, Any]:
        a, b, p, t, rho, h, s = self._grid("vapor", hottest, 26, 12)
        ca, cb, cp, ct, crho, ch, cs = self._grid("vapor", hottest, 31, 15)
        specific = GAS_CONSTANT / self.fluid.molar_mass
        z, cz = p / (rho * specific * t), cp / (crho * specific * ct)
        limit = (11, 7)
        density = fit_surface(a, b, z, ca, cb, cz, RELATIVE_DENSITY_TOLERANCE * 0.5, limit)
        enthalpy = fit_surface(a, b, h, ca, cb, ch, ENTHALPY_TOLERANCE, limit)
        entropy = fit_surface(a, b, s, ca, cb, cs, ENTROPY_TOLERANCE, limit)
        self.errors["vapor_density_relative"] = float(np.abs(density.error / cz.min()))
        self.errors["vapor_enthalpy"] = enthalpy.error
        self.errors["vapor_entropy"] = entropy.error
        result = {
            "bound": hottest,
            "gas_constant": specific,
            "compressibility": rounded(density.coefficients),
            "enthalpy": rounded(enthalpy.coefficients),
            "entropy": rounded(entropy.coefficients),
        }
        # temperature from (p, h) and (p, s): the share of the way from the dew line to the bound, in h or in s
        for letter, key in (("h", "enthalpy"), ("s", "entropy")):
            surface = np.array(result[key])
            at_dew = polynomial.polyval(-1.0, surface)  # polynomial in a
            at_bound = polynomial.polyval(1.0, surface)
            shares, temperatures = [], []
            for aa, quantity, tt in ((a, h if letter == "h" else s, t), (ca, ch if letter == "h" else cs, ct)):
                low, high = polynomial.polyval(aa, at_dew), polynomial.polyval(aa, at_bound)
                shares.append((2 * quantity - low - high) / (high - low))
                temperatures.append(tt)
            inverse = fit_surface(
                a, shares[0], temperatures[0], ca, shares[1], temperatures[1], INVERSE_TOLERANCE, limit
            )
            self.errors[f"vapor_temperature_p{letter}"] = inverse.error
            result[f"temperature_p{letter}"] = {
                "at_dew": rounded([float(c) for c in at_dew]),
                "at_bound": rounded([float(c) for c in at_bound]),
                "powers": rounded(inverse.coefficients),
            }
        return result

    def _liquid(self, coldest: float) -> dict[str, Any]:
        a, b, _, _, rho, h, _ = self._grid("liquid", coldest, 26, 12)
        ca, cb, _, _, crho, ch, _ = self._grid("liquid", coldest, 31, 15)
        limit = (11, 7)
        density = fit_surface(a, b, rho, ca, cb, crho, RELATIVE_DENSITY_TOLERANCE * float(crho.min()), limit)
        enthalpy = fit_surface(a, b, h, ca, cb, ch, ENTHALPY_TOLERANCE, limit)
        self.errors["liquid_density_relative"] = density.error / float(crho.min())
        self.errors["liquid_enthalpy"] = enthalpy.error
        return {
            "bound": coldest,
            "density": rounded(density.coefficients),
            "enthalpy": rounded(enthalpy.coefficients),
        }

    def _viscosity(self, sat: Any, low: float, high: float) -> dict[str, Any]:
        from viscosity import saturated_viscosity

        return saturated_viscosity(self.fluid, sat, low, high, self.errors)


def specifications() -> list[dict[str, Any]]:
    """Read every TOML file of tools/refrigerants."""
    found = []
    for path in sorted((HERE / "refrigerants").glob("*.toml")):
        with path.open("rb") as file:
            found.append(tomllib.load(file))
    return found


def main(names: list[str]) -> None:
    """Make the file, or try a few refrigerants."""
    entries, refused = {}, {}
    for spec in specifications():
        if names and spec["name"] not in names:
            continue
        if "refused" in spec:
            refused[spec["name"]] = spec["refused"]
            continue
        maker = Maker(spec)
        entry = maker.make()
        size = len(json.dumps(entry))
        print(spec["name"], f"{size} bytes", {k: float(f"{v:.2g}") for k, v in maker.errors.items()}, flush=True)
        entries[spec["name"]] = entry
    if names:
        return
    lines = [
        f"{json.dumps(name, ensure_ascii=False)}: {json.dumps(e, ensure_ascii=False)}" for name, e in entries.items()
    ]
    text = (
        '{"format": 1,\n"refused": '
        + json.dumps(refused, ensure_ascii=False)
        + ',\n"refrigerants": {\n'
        + ",\n".join(lines)
        + "\n}}\n"
    )
    json.loads(text)
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    TARGET.write_text(text, encoding="utf-8")
    print(f"{TARGET.name}: {len(text) / 1e3:.0f} kB, {len(entries)} refrigerants, {len(refused)} refused")


if __name__ == "__main__":
    main(sys.argv[1:])
