"""Make the coefficient file of refrigerant properties from an equation-of-state library. Not shipped.

    python tools/make_coefficients.py [NAME …]     writes src/steadfeed/physics/data/coefficients.json

Reads one TOML file a refrigerant in tools/refrigerants/. With names, only prints the errors of these, and writes nothing.
What the numbers in the file mean: docs/decisions/0001-coefficient-file.md.
"""

from __future__ import annotations

import json
import math
import sys
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import CoolProp
import numpy as np
from numpy.polynomial import polynomial

from equations import GAS_CONSTANT, Array, Fluid, Saturation
from fitting import chebyshev_nodes, fit_curve, fit_surface, near_line, scaled, share_at
from viscosity import saturated_viscosity

HERE = Path(__file__).parent
TARGET = HERE.parent / "src" / "steadfeed" / "physics" / "data" / "coefficients.json"

CURVE_TOLERANCE = 1e-3  # [K] bubble and dew temperature
LN_PRESSURE_TOLERANCE = 1e-3  # [-] first guess of bubble and dew pressure, which one Newton step on the curve refines
RELATIVE_DENSITY_TOLERANCE = 2e-4
ENTHALPY_TOLERANCE = 20.0  # [J/kg]
ENTROPY_TOLERANCE = 0.06  # [J/(kg K)]
INVERSE_TOLERANCE = 0.02  # [K] vapor temperature from enthalpy or entropy
LIQUID_MARGIN = 5.0  # [K] liquid surfaces reach this far below the lowest bubble temperature
LEAST_SURVIVING_SHARE = 0.9  # of the direct flashes of a mixture, agreeing with its traced phase envelope
HIGHEST_DEGREES = (12, 8)
NEAR_LINE = 0.02  # share of the way from saturation to the bound below which the second variable stretches
CRITICAL_WARP = 2.0  # weight of p/pc beside ln p in the first variable: stretches the region near the critical point


def rounded(value: Any, step: float) -> Any:
    """Round every number to decimals that are finer than `step`."""
    if isinstance(value, list):
        return [rounded(v, step) for v in value]
    decimals = max(0, -math.floor(math.log10(step)))
    return round(value, decimals)


def horner(x: float, coefficients: list[float]) -> float:
    """Evaluate a fitted curve at one place."""
    return float(polynomial.polyval(x, np.array(coefficients)))


@dataclass(frozen=True)
class Grid:
    """States of one phase: scaled variables a, b [-]; p [Pa], T [K], rho [kg/m3], h [J/kg], s [J/(kg K)]."""

    a: Array
    b: Array
    pressure: Array
    temperature: Array
    density: Array
    enthalpy: Array
    entropy: Array

    def compressibility(self, gas_constant: float) -> Array:
        """Return p / (rho R T) [-]; gas_constant R [J/(kg K)]."""
        return self.pressure / (self.density * gas_constant * self.temperature)


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
        sat = self.fluid.saturation(low, self.trusted["highest_share_of_critical_pressure"])
        self.errors["surviving_share"] = sat.surviving_share
        if sat.surviving_share < LEAST_SURVIVING_SHARE:
            raise SystemExit(f"{self.spec['name']}: only {sat.surviving_share:.0%} of the flashes survive and agree")
        self._set_range(low, sat)
        curves = self._saturation(sat)
        # both viscosities hold from the lowest bubble to the highest dew temperature, rounded outwards
        coldest_boiling = math.floor(horner(-1.0, self.curve["bubble"]) * 10.0) / 10.0
        hottest_dew = math.ceil(horner(1.0, self.curve["dew"]) * 10.0) / 10.0
        self.reference = self._reference(sat)
        hottest = min(float(self.trusted["highest_vapor_temperature_K"]), self.fluid.highest_temperature)
        coldest = max(horner(-1.0, self.curve["bubble"]) - LIQUID_MARGIN, self.fluid.lowest_temperature + 0.5)
        return {
            "name": self.spec["name"],
            "kind": self.spec["kind"],
            "safety_class": self.spec["safety_class"],
            "composition": self.spec.get("composition", ""),
            "gwp": self.spec.get("gwp"),
            "provenance": self._provenance(),
            "confidence": self.spec["confidence"],
            "uncertainty": float(self.spec["uncertainty_degF"]) * 5 / 9,
            "critical_temperature": round(sat.critical_temperature, 3),
            "critical_pressure": round(sat.critical_pressure, 1),
            "pressure": self.pressure_range,
            "pressure_scale": self.scale,
            "near_line": NEAR_LINE,
            **curves,
            "vapor": self._vapor(round(hottest, 2)),
            "liquid": self._liquid(round(coldest, 2)),
            "viscosity": saturated_viscosity(self.fluid, sat, coldest_boiling, hottest_dew, self.errors),
        }

    def _set_range(self, low: float, sat: Saturation) -> None:
        """Choose the pressures that the file covers, and the scale of its first variable, a(p) in −1…1."""
        lowest = math.exp(float(np.interp(low, sat.bubble_temperature, sat.bubble_ln_pressure)))
        highest = sat.critical_pressure * self.trusted["highest_share_of_critical_pressure"]
        self.pressure_range = [round(lowest, 1), round(highest, 1)]
        warp = CRITICAL_WARP / sat.critical_pressure
        ends = [math.log(p) + warp * p for p in self.pressure_range]
        factor = 2.0 / (ends[1] - ends[0])
        self.scale = [-(ends[0] + ends[1]) / (ends[1] - ends[0]), factor, factor * warp]
        table = np.linspace(math.log(lowest) - 0.1, math.log(highest) + 0.1, 4000)
        self._table = (self._a(np.exp(table)), table)

    def _a(self, pressure: Array) -> Array:
        return self.scale[0] + self.scale[1] * np.log(pressure) + self.scale[2] * pressure

    def _pressures(self, a: Array) -> Array:
        """Pressures near the given values of a."""
        return np.clip(np.exp(np.interp(a, *self._table)), *self.pressure_range)

    def _saturation(self, sat: Saturation) -> dict[str, Any]:
        entry: dict[str, Any] = {}
        self.curve: dict[str, list[float]] = {}
        for name, temperature, ln_p in (
            ("bubble", sat.bubble_temperature, sat.bubble_ln_pressure),
            ("dew", sat.dew_temperature, sat.dew_ln_pressure),
        ):
            near = (ln_p > math.log(self.pressure_range[0]) - 0.05) & (ln_p < math.log(self.pressure_range[1]) + 0.01)
            t, p = temperature[near], ln_p[near]
            curve = fit_curve(self._a(np.exp(p)), t, CURVE_TOLERANCE, 12)
            self.curve[name] = rounded(curve.coefficients, CURVE_TOLERANCE / 1e4)
            ends = [1.0 / horner(end, self.curve[name]) for end in (1.0, -1.0)]
            inverse = fit_curve(scaled(1.0 / t, *ends), p, LN_PRESSURE_TOLERANCE, 12)
            self.errors[f"{name}_temperature"] = curve.error
            self.errors[f"{name}_ln_pressure"] = inverse.error
            entry[f"{name}_temperature"] = self.curve[name]
            entry[f"{name}_ln_pressure"] = rounded(inverse.coefficients, LN_PRESSURE_TOLERANCE / 1e4)
        fine = np.linspace(-1, 1, 2001)
        dew, bubble = (polynomial.polyval(fine, self.curve[name]) for name in ("dew", "bubble"))
        if not (np.all(np.diff(dew) > 0) and np.all(np.diff(bubble) > 0)):
            raise SystemExit(f"{self.spec['name']}: a saturation curve does not rise")
        if np.any(dew - bubble < -2 * CURVE_TOLERANCE):
            raise SystemExit(f"{self.spec['name']}: dew falls below bubble by {float((bubble - dew).max()):.4f} K")
        return entry

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

    def _grid(self, phase: str, bound: float, n: int, m: int) -> Grid:
        """States on a grid over a (pressure) and b (from the saturation line to the bound)."""
        edges = np.array([-1.0, 1.0])
        # the grid takes in its edges, so that no point in range is ever outside the fitted points
        pressures = self._pressures(np.sort(np.r_[edges, chebyshev_nodes(n)]))
        saturated = polynomial.polyval(self._a(pressures), self.curve["dew" if phase == "vapor" else "bubble"])
        shares = share_at(np.sort(np.r_[edges, chebyshev_nodes(m)]), NEAR_LINE)
        rows = []
        for pressure, t_sat in zip(pressures.tolist(), saturated.tolist(), strict=True):
            guess = None
            # march from the far bound, where the equation of state is smooth, towards saturation
            for share in shares[::-1].tolist():
                temperature = t_sat + share * (bound - t_sat)
                start = guess if guess is not None else self._guess(phase, pressure, temperature)
                guess, h, s = self.fluid.at(pressure, temperature, phase, start)
                density = guess * self.fluid.molar_mass
                rows.append((pressure, share, temperature, density, h - self.reference[0], s - self.reference[1]))
        p, share, t, rho, h, s = (np.array(column) for column in zip(*rows, strict=True))
        return Grid(self._a(p), near_line(share, NEAR_LINE), p, t, rho, h, s)

    def _vapor(self, hottest: float) -> dict[str, Any]:
        nodes, check = self._grid("vapor", hottest, 26, 12), self._grid("vapor", hottest, 31, 15)
        specific = round(GAS_CONSTANT / self.fluid.molar_mass, 6)
        result: dict[str, Any] = {"bound": hottest, "gas_constant": specific}
        z, z_check = nodes.compressibility(specific), check.compressibility(specific)
        result["compressibility"] = self._surface(
            "vapor_density_relative", nodes, z, check, z_check, RELATIVE_DENSITY_TOLERANCE * z_check, z_check
        )
        for name, tolerance in (("enthalpy", ENTHALPY_TOLERANCE), ("entropy", ENTROPY_TOLERANCE)):
            values, check_values = getattr(nodes, name), getattr(check, name)
            result[name] = self._surface(f"vapor_{name}", nodes, values, check, check_values, tolerance)
            # the way back: temperature over the share of the way from the dew line to the bound, in h (or s)
            surface = np.array(result[name])
            at_dew, at_bound = polynomial.polyval(-1.0, surface), polynomial.polyval(1.0, surface)
            grids = []
            for grid, quantity in ((nodes, values), (check, check_values)):
                low, high = polynomial.polyval(grid.a, at_dew), polynomial.polyval(grid.a, at_bound)
                share = np.maximum((quantity - low) / (high - low), 0.0)
                grids.append(replace(grid, b=near_line(share, NEAR_LINE)))
            result[f"temperature_from_{name}"] = self._surface(
                f"vapor_temperature_from_{name}",
                grids[0],
                nodes.temperature,
                grids[1],
                check.temperature,
                INVERSE_TOLERANCE,
            )
        return result

    def _liquid(self, coldest: float) -> dict[str, Any]:
        nodes, check = self._grid("liquid", coldest, 26, 12), self._grid("liquid", coldest, 31, 15)
        density = self._surface(
            "liquid_density_relative",
            nodes,
            nodes.density,
            check,
            check.density,
            RELATIVE_DENSITY_TOLERANCE * check.density,
            check.density,
        )
        enthalpy = self._surface("liquid_enthalpy", nodes, nodes.enthalpy, check, check.enthalpy, ENTHALPY_TOLERANCE)
        return {"bound": coldest, "density": density, "enthalpy": enthalpy}

    def _surface(
        self,
        name: str,
        nodes: Grid,
        values: Array,
        check: Grid,
        check_values: Array,
        tolerance: float | Array,
        relative_to: float | Array = 1.0,
    ) -> list[list[float]]:
        """Fit one surface, round it, and note its largest error at the check points after rounding."""
        fit = fit_surface(nodes.a, nodes.b, values, check.a, check.b, check_values, tolerance, HIGHEST_DEGREES)
        coefficients: list[list[float]] = rounded(fit.coefficients, float(np.min(tolerance)) / 1e3)
        again = polynomial.polyval2d(check.b, check.a, np.array(coefficients))
        self.errors[name] = float(np.max(np.abs(again - check_values) / relative_to))
        return coefficients


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
