"""Reads a case of tools/bench_cases.py as a person with ordinary instruments would: errors of gauges, clamps and air probes.

The limits are those of `steadfeed.analysis.criteria` for ordinary instruments, drawn evenly within them; clamps are also
pulled towards the air around, and the covered coil's exhaust warms the suction clamp in the push. What is on the
nameplate, and how often, is our own choice. Nothing here knows what is wrong with the unit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from steadfeed.circuit.equipment import Instruments, LineSet, MeteringDevice, Nameplate, System
from steadfeed.units import PSI, TON

F: Final = 5.0 / 9.0
Row = dict[str, object]

#: Everything that the bench case can show to a person, in the names of spot readings.
FULL: Final = (
    "suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature",
    "metering_inlet_temperature", "evaporator_outlet_temperature", "discharge_line_temperature",
    "outdoor_air_temperature", "condenser_inlet_air", "condenser_outlet_air", "return_air_dry_bulb",
    "return_air_wet_bulb", "supply_air_dry_bulb", "compressor_current",
)  # fmt: skip
#: What most people read.
USUAL: Final = (
    "suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature",
    "outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb",
)  # fmt: skip
_TRUE_NAMES: Final = {
    "metering_inlet_temperature": "valve_inlet_temperature",
    "condenser_inlet_air": "coil_inlet_temperature",
    "condenser_outlet_air": "coil_outlet_temperature",
}


@dataclass(frozen=True)
class Read:
    """What a person has: readings (SI), the four in the push or {}, the unit's data, its efficiency class or None."""

    values: dict[str, float]
    pushed: dict[str, float]
    system: System
    seer: float | None
    heat_pump: bool
    atmosphere: float


def rows(file: np.lib.npyio.NpzFile) -> list[Row]:
    """Rows of a file of cases."""
    names = [name for name in file.files if name != "provenance"]
    columns = {name: file[name] for name in names}
    return [{name: columns[name][i] for name in names} for i in range(len(columns["causes"]))]


def read(row: Row, rng: np.random.Generator) -> Read:
    """Read one case."""
    analog = rng.random() < 0.3
    true = {name: float(row[_TRUE_NAMES.get(name, name)]) for name in FULL}  # type: ignore[arg-type]
    outdoor, inside = true["outdoor_air_temperature"], true["return_air_dry_bulb"]
    heating = row["mode"] == "heating"
    around = {
        "suction_line_temperature": outdoor, "liquid_line_temperature": outdoor, "discharge_line_temperature": outdoor,
        "metering_inlet_temperature": outdoor if heating else inside,
        "evaporator_outlet_temperature": outdoor if heating else inside,
    }  # fmt: skip
    values: dict[str, float] = {}
    gauge = {}
    for name in ("suction_pressure", "liquid_pressure"):
        if analog:
            off = rng.uniform(-1.0, 1.0) * (3.5 if name == "suction_pressure" else 7.0) * PSI
        else:
            off = rng.uniform(-1.0, 1.0) * (1.0 * PSI + 0.005 * true[name])
        gauge[name] = off
    pull = {name: float(rng.uniform(0.0, 0.04)) for name in around}
    clamp = {name: float(rng.uniform(-1.3, 1.3)) * F for name in around}
    clamp["discharge_line_temperature"] = float(rng.uniform(-5.0, 2.0)) * F

    def pressure(name: str, value: float, noise: float) -> float:
        shown = value + gauge[name] + float(rng.normal(0.0, noise)) * PSI
        if analog:
            step = (1.0 if name == "suction_pressure" else 5.0) * PSI
            zero = float(row["atmosphere"])  # type: ignore[arg-type]
            shown = round((shown - zero) / step) * step + zero
        return shown

    def pipe(name: str, value: float) -> float:
        return value + pull[name] * (around[name] - value) + clamp[name] + float(rng.normal(0.0, 0.15)) * F

    for name in FULL:
        if name in gauge:
            values[name] = pressure(name, true[name], 0.1)
        elif name in around:
            values[name] = pipe(name, true[name])
        elif name == "compressor_current":
            values[name] = true[name] * (1.0 + float(rng.uniform(-0.02, 0.02)))
        else:
            wide = 1.5 if name in ("condenser_inlet_air", "condenser_outlet_air", "supply_air_dry_bulb") else 1.3
            values[name] = true[name] + float(rng.uniform(-wide, wide)) * F
    values["return_air_wet_bulb"] = min(values["return_air_wet_bulb"], values["return_air_dry_bulb"] - 0.5)
    pushed: dict[str, float] = {}
    if np.isfinite(float(row["push_suction_pressure"])):  # type: ignore[arg-type]
        exhaust = float(rng.uniform(0.0, 2.0)) * F if not heating else 0.0
        for name in ("suction_pressure", "liquid_pressure"):
            change = (0.8 if analog else 0.25) if name == "suction_pressure" else (3.0 if analog else 1.0)
            pushed[name] = pressure(name, float(row[f"push_{name}"]), change)  # type: ignore[arg-type]
        for name in ("suction_line_temperature", "liquid_line_temperature"):
            pushed[name] = pipe(name, float(row[f"push_{name}"]))  # type: ignore[arg-type]
        pushed["suction_line_temperature"] += pull["suction_line_temperature"] * exhaust * 4.0
    return Read(
        values, pushed, _system(row, rng, analog), _class(row, rng), bool(row["heat_pump"]), float(row["atmosphere"])
    )  # type: ignore[arg-type]


def _system(row: Row, rng: np.random.Generator, analog: bool) -> System:
    device = MeteringDevice(str(row["device"]))
    valve = device is not MeteringDevice.FIXED_ORIFICE
    packaged = bool(row["packaged"])
    known_line = rng.random() < 0.75
    draws = rng.random(4)
    plate = Nameplate(
        subcooling=round(float(row["rated_subcooling"]) / F) * F if draws[0] < 0.85 else None,  # type: ignore[arg-type]
        superheat=round(float(row["rated_superheat"]) / F) * F if valve and draws[1] < 0.3 else None,  # type: ignore[arg-type]
        rated_current=float(row["rated_running_current"]) * float(rng.uniform(1.2, 1.5)) if draws[2] < 0.7 else None,  # type: ignore[arg-type]
    )
    return System(
        refrigerant=str(row["refrigerant"]),
        metering_device=device,
        mode="heating" if row["mode"] == "heating" else "cooling",
        packaged=packaged,
        nominal_capacity=round(float(row["capacity"]) / TON * 2.0) / 2.0 * TON,  # type: ignore[arg-type]
        compressor_type=str(row["compressor"]) if draws[3] < 0.7 else "unknown",  # type: ignore[arg-type]
        nameplate=plate,
        line_set=LineSet(
            length=float(row["length"]),  # type: ignore[arg-type]
            lift=float(row["lift"]),  # type: ignore[arg-type]
            liquid_line_diameter=max(float(row["liquid_inside"]) + 2.0 * 0.032 * 0.0254, 0.25 * 0.0254),  # type: ignore[arg-type]
        )
        if known_line
        else LineSet(),
        instruments=Instruments(gauges="analog" if analog else "digital"),
    )


def _class(row: Row, rng: np.random.Generator) -> float | None:
    """Efficiency class in which a unit of this condensing over ambient is sold, more or less."""
    if rng.random() > 0.6:
        return None
    over = float(row["rated_over_ambient"]) / F + float(rng.uniform(-2.5, 2.5))  # type: ignore[arg-type]
    return 9.0 if over > 27.5 else 11.0 if over > 22.5 else 14.0 if over > 17.5 else 17.0


#: Refrigerants that are taken for one another: of near pressure.
TAKEN_FOR: Final = {
    "R-410A": ("R-32", "R-454B", "R-22"), "R-32": ("R-410A", "R-454B"), "R-454B": ("R-410A", "R-32"),
    "R-22": ("R-407C", "R-410A", "R-134a"), "R-407C": ("R-22", "R-410A"), "R-134a": ("R-22", "R-407C"),
}  # fmt: skip
#: Causes that lie in instruments or in what is written on the unit.
SPOILS: Final = (
    "suction gauge",
    "head gauge",
    "suction clamp",
    "liquid clamp",
    "outdoor thermometer",
    "wrong refrigerant",
)


def spoil(one: Read, kind: str, rng: np.random.Generator) -> Read | None:
    """Spoil a reading as a bad instrument or a wrong nameplate would; None where that is not possible here."""
    values, pushed, system = dict(one.values), dict(one.pushed), one.system
    heating = system.mode == "heating"
    outdoor = values["outdoor_air_temperature"]
    match kind:
        case "suction gauge" | "head gauge":
            name = "suction_pressure" if kind == "suction gauge" else "liquid_pressure"
            share = float(rng.uniform(0.06, 0.22)) * float(rng.choice([-1.0, 1.0]))
            for readings in (values, pushed):
                if name in readings:
                    readings[name] += share * values[name] if readings is values else share * one.values[name]
            if values["suction_pressure"] >= values["liquid_pressure"]:
                return None
        case "suction clamp" | "liquid clamp":
            name = f"{kind.split()[0]}_line_temperature"
            # a clamp that hangs beside the pipe, or on a dirty or painted one, reads part of the air around it
            pull = float(rng.uniform(0.25, 0.85))
            around = outdoor + (float(rng.uniform(0.0, 8.0)) * F if not heating else 0.0)
            if abs(around - values[name]) < 6.0 * F:
                return None
            for readings in (values, pushed):
                if name in readings:
                    readings[name] += pull * (around - readings[name])
        case "outdoor thermometer":
            values["outdoor_air_temperature"] += float(rng.uniform(7.0, 22.0)) * F * float(rng.choice([1.0, 1.0, -1.0]))
        case "wrong refrigerant":
            others = TAKEN_FOR.get(system.refrigerant or "", ())
            if not others:
                return None
            system = replace(system, refrigerant=str(rng.choice(others)))
        case _:
            raise ValueError(f"nothing is spoilt by {kind!r}")
    return replace(one, values=values, pushed=pushed, system=system)
