"""Compressors: volumetric and overall isentropic efficiency over pressure ratio, or an AHRI 540 map; shell and motor.

Shapes are common practice where no source is named; docs/bench.md compares their slopes with the published maps.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import Final, Literal

from steadfeed.bench.fluid import Fluid, entropy_of, rise_at_entropy, superheat_of, swelling_of
from steadfeed.physics.compressor import CompressorMap
from steadfeed.units import PSI

Kind = Literal["scroll", "reciprocating", "rotary"]

#: Share of a change of suction density that reaches the flow (method.md §1, from memory of the practice of AHRI 540).
DENSITY_SHARE: Final = 0.75
#: Superheat at which volumetric efficiency and maps are stated [K] (20 °F).
MAP_SUPERHEAT: Final = 20.0 / 1.8


@dataclass(frozen=True, slots=True)
class CompressorSpec:
    """A compressor.

    displacement: swept volume flow at full stage [m3/s]. volumetric: efficiency at pressure ratio 1, `volumetric_slope`
    its loss per unit of pressure ratio. isentropic: best overall efficiency (electric input), at `best_ratio`, falling
    by exp(−isentropic_width·ln²). unloads_below: suction pressure under which scrolls come apart [Pa], 0 = never.
    relief: pressure difference at which the internal relief opens [Pa], 0 = none. shell: heat capacity [J/K];
    shell_loss: to the air around [W/K]; shell_gas: from hot gas to shell [W/K]. stages: share of displacement of each
    stage, rising; the last is 1. speed_range: lowest and highest speed over rated (inverter), None = fixed.
    voltage, power_factor: for the current. map540: published map that takes
    the place of both efficiencies.
    """

    kind: Kind
    displacement: float
    volumetric: float = 0.98
    volumetric_slope: float = 0.028
    isentropic: float = 0.71
    best_ratio: float = 2.2
    isentropic_width: float = 0.32
    unloads_below: float = 0.0
    relief: float = 0.0
    shell: float = 9000.0
    shell_loss: float = 3.0
    shell_gas: float = 25.0
    stages: tuple[float, ...] = (1.0,)
    speed_range: tuple[float, float] | None = None
    stage_power: float = 0.03
    voltage: float = 230.0
    power_factor: float = 0.93
    map540: CompressorMap | None = None
    rated_power: float = 3000.0


def typical(kind: Kind, displacement: float, rated_power: float, **more: object) -> CompressorSpec:
    """Return a compressor of a kind with that kind's usual curves. displacement [m3/s], rated_power [W]."""
    curves: dict[str, dict[str, object]] = {
        "scroll": {"relief": 450.0 * PSI, "unloads_below": 35.0 * PSI},
        "reciprocating": {
            "volumetric": 0.95, "volumetric_slope": 0.058, "isentropic": 0.64, "best_ratio": 3.2,
            "isentropic_width": 0.30, "relief": 500.0 * PSI,
        },
        "rotary": {"volumetric": 0.97, "volumetric_slope": 0.036, "isentropic": 0.66, "best_ratio": 3.0},
    }  # fmt: skip
    fields = {**curves[kind], **more}
    return CompressorSpec(kind=kind, displacement=displacement, rated_power=rated_power, **fields)  # type: ignore[arg-type]


class Compressor:
    """State of a compressor: shell temperature [K], speed over rated, liquid in the shell [kg]."""

    def __init__(self, spec: CompressorSpec, temperature: float, leak: float = 0.0) -> None:
        """leak: share of the swept flow that blows back from discharge to suction at a pressure ratio of 3 [-]."""
        self.spec = spec
        self.shell = temperature
        self.speed = 0.0
        self.leak = leak
        self.running = False
        self.flow = self.power = self.current = self.heat_lost = 0.0
        self.relieving = self.unloaded = False
        self.discharge_enthalpy = 0.0

    def command(self, dt: float, demand: float) -> None:
        """Follow a demand: 0 stops; a share picks the stage that covers it, or the speed of an inverter."""
        spec = self.spec
        if demand <= 0.0:
            self.running, self.speed = False, 0.0
            return
        if spec.speed_range is not None:
            low, high = spec.speed_range
            wanted = min(max(demand, low), high)
            if not self.running:
                self.speed = low
            self.speed += max(-0.02 * dt, min(0.02 * dt, wanted - self.speed))
        else:
            wanted = next((s for s in spec.stages if s >= demand - 1e-9), spec.stages[-1])
            self.speed = wanted
        self.running = True

    def run(
        self, dt: float, fluid: Fluid, suction: list[float], suction_vapor: list[float], suction_pressure: float,
        suction_enthalpy: float, discharge_pressure: float, discharge: list[float], ambient: float,
    ) -> None:  # fmt: skip
        """Work out flow, power and discharge state for one step, and warm or cool the shell.

        suction, suction_vapor, discharge: rows of the fluid at suction and discharge pressure. Enthalpy [J/kg],
        pressures [Pa], ambient [K].
        """
        spec = self.spec
        if not self.running:
            self.flow = self.power = self.current = 0.0
            self.relieving = self.unloaded = False
            self.heat_lost = spec.shell_loss * (self.shell - ambient)
            self.shell -= dt * self.heat_lost / spec.shell
            self.discharge_enthalpy = discharge[5]
            return
        over = suction_enthalpy - suction[5]
        h_fg = suction[5] - suction[3]
        if over >= 0.0:
            superheat = superheat_of(over, suction_vapor)
            swelling = swelling_of(superheat, suction_vapor)
            entropy = entropy_of(superheat, suction_vapor)
        else:
            dryness = max(1.0 + over / h_fg, 0.3)
            swelling = dryness
            entropy = suction_vapor[11] + over / suction[1]
        mapped = swelling_of(MAP_SUPERHEAT, suction_vapor)
        density_factor = 1.0 + DENSITY_SHARE * (mapped / swelling - 1.0)
        ratio = max(discharge_pressure / suction_pressure, 1.0)

        vapor = fluid.vapor(discharge_pressure)
        ideal = discharge[5] + rise_at_entropy(entropy, vapor, discharge[1]) - suction_enthalpy
        ideal = max(ideal, 200.0)
        if spec.map540 is not None:
            mass = max(spec.map540.mass_flow(suction[1], discharge[1]), 0.0)
            flow = mass * density_factor * self.speed
            power = max(spec.map540.power(suction[1], discharge[1]), 0.0)
            power *= self.speed + spec.stage_power * (1.0 - self.speed)
        else:
            filled = max(spec.volumetric - spec.volumetric_slope * (ratio - 1.0), 0.05)
            flow = spec.displacement * self.speed * filled * suction[4] / mapped * density_factor
            spread = log(ratio / spec.best_ratio)
            efficiency = spec.isentropic * exp(-spec.isentropic_width * spread * spread)
            power = flow * ideal / efficiency + spec.stage_power * spec.rated_power * (1.0 - 0.5 * self.speed)
        self.unloaded = suction_pressure < spec.unloads_below
        if self.unloaded:
            loss = min(1.0, (spec.unloads_below - suction_pressure) / (0.3 * spec.unloads_below))
            flow *= 1.0 - 0.75 * loss
            power *= 1.0 - 0.5 * loss
        back = self.leak * (ratio - 1.0) / 2.0
        difference = discharge_pressure - suction_pressure
        self.relieving = 0.0 < spec.relief < difference
        if self.relieving:
            back += min((difference - spec.relief) / (30.0 * PSI), 1.0)
        if back > 0.0:
            # blown-back gas fills part of the chamber: less flow for nearly the same power
            flow *= 1.0 / (1.0 + back)
        self.flow = flow
        self.power = power
        self.current = power / (spec.voltage * spec.power_factor)
        internal = suction_enthalpy + power / max(flow, 1e-5)
        hot = discharge[1] + superheat_of(max(internal - discharge[5], 0.0), vapor)
        to_shell = min(spec.shell_gas * (hot - self.shell), 0.9 * power)
        self.heat_lost = spec.shell_loss * (self.shell - ambient)
        self.shell += dt * (to_shell - self.heat_lost) / spec.shell
        self.discharge_enthalpy = internal - to_shell / max(flow, 1e-5)
