"""Makes cases for the diagnosis: units of the bench, each healthy and with faults, settled and then pushed.

    python tools/bench_cases.py --first 1 --units 900 --out out/tuning.npz
    python tools/bench_cases.py --first 100001 --units 500 --out out/reported.npz

Every unit has a number, and the number is the seed of everything about it: maker's data, place, weather, faults. Units
1…99,999 are for tuning, 100,000 and up for reporting; nothing of the second kind may be looked at while tuning. The file
holds true values; instruments are added by whoever reads it (benchmarks/diagnosis.py, tools/fit_signatures.py). Nothing
here imports `steadfeed.analysis`.
"""

from __future__ import annotations

import argparse
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from steadfeed.bench.air import relative_to_ratio
from steadfeed.bench.design import Rating, fahrenheit, split_system
from steadfeed.bench.equipment import Equipment, Surroundings
from steadfeed.bench.faults import Faults
from steadfeed.bench.heat_pump import heating
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.plant import Plant
from steadfeed.bench.state import Inputs, State
from steadfeed.errors import SteadfeedError
from steadfeed.physics.properties import curves
from steadfeed.units import FOOT, TON, standard_atmosphere

#: Step of the integration here [s]; against 0.25 s it moves a settled superheat by less than 0.1 K.
STEP: Final = 0.5
SETTLE: Final = 900.0
#: Settled before that when nothing moves by more than this within two minutes [s], [K].
SOONEST: Final = 390.0
STILL: Final = 0.04
PUSH: Final = 270.0

REFRIGERANTS: Final = {"R-410A": 0.42, "R-22": 0.16, "R-32": 0.12, "R-454B": 0.12, "R-407C": 0.09, "R-134a": 0.09}
DEVICES: Final = {"txv": 0.44, "eev": 0.23, "fixed orifice": 0.33}
COMPRESSORS: Final = {"scroll": 0.62, "reciprocating": 0.22, "rotary": 0.16}

#: Cause -> devices that can have it. The words are those of the findings.
COOLING: Final[dict[str, tuple[str, ...]]] = {
    "undercharge": ("txv", "eev", "fixed orifice"),
    "overcharge": ("txv", "eev", "fixed orifice"),
    "liquid line restriction": ("txv", "eev", "fixed orifice"),
    "metering device underfeeding": ("txv", "eev", "fixed orifice"),
    "metering device overfeeding": ("txv", "eev", "fixed orifice"),
    "bulb loose": ("txv",),
    "bulb charge lost": ("txv",),
    "equalizer plugged": ("txv",),
    "check valve leaking": ("txv", "fixed orifice"),
    "low indoor airflow": ("txv", "eev", "fixed orifice"),
    "condenser air": ("txv", "eev", "fixed orifice"),
    "recirculation": ("txv", "eev", "fixed orifice"),
    "non-condensables": ("txv", "eev", "fixed orifice"),
    "compressor valves": ("txv", "eev", "fixed orifice"),
    "compressor unloaded": ("txv", "eev", "fixed orifice"),
    "reversing valve": ("txv", "eev", "fixed orifice"),
    "suction restriction": ("txv", "eev", "fixed orifice"),
    "flash gas": ("txv", "eev", "fixed orifice"),
}
HEATING: Final[dict[str, tuple[str, ...]]] = {
    cause: devices
    for cause, devices in COOLING.items()
    if cause not in ("recirculation", "flash gas", "equalizer plugged", "compressor unloaded", "suction restriction")
} | {"outdoor coil air": ("txv", "eev", "fixed orifice")}
del HEATING["condenser air"]

#: Share of the units that heat.
HEATING_SHARE: Final = 0.16
#: Only heat pumps have these parts.
HEAT_PUMP_ONLY: Final = ("reversing valve", "check valve leaking")

TRUE: Final = (
    "suction_pressure", "liquid_pressure", "discharge_pressure", "suction_line_temperature", "liquid_line_temperature",
    "evaporator_outlet_temperature", "discharge_line_temperature", "valve_inlet_temperature", "compressor_current",
)  # fmt: skip
SHARED: Final = (
    "outdoor_air_temperature", "coil_inlet_temperature", "coil_outlet_temperature", "return_air_dry_bulb",
    "return_air_wet_bulb", "supply_air_dry_bulb", "supply_air_wet_bulb", "fan_current", "power", "airflow",
)  # fmt: skip
#: What the plant raises when a case leaves what it can compute (TypeError: a negative base to a broken power).
LEFT_THE_BENCH: Final = (SteadfeedError, ValueError, OverflowError, ZeroDivisionError, TypeError)
PUSHED: Final = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


Row = dict[str, object]


@dataclass(frozen=True)
class Unit:
    """One unit in its place and weather, healthy but for the tolerances that every unit has."""

    number: int
    mode: str
    device: str
    rating: Rating
    equipment: Equipment
    place: Surroundings
    inputs: Inputs
    soiled: float
    charge: float
    heat_pump: bool
    subcooling: float


def pick(rng: np.random.Generator, shares: dict[str, float]) -> str:
    """Draw a name by its share."""
    names = list(shares)
    return str(rng.choice(names, p=np.array(list(shares.values())) / sum(shares.values())))


def mode_of(number: int) -> str:
    """What the unit of a number does: the first draw of `unit`."""
    return "heating" if np.random.default_rng(number).random() < HEATING_SHARE else "cooling"


def unit(number: int) -> Unit:
    """Draw a unit by its number. Raises FixInput for a rating that no unit can have."""
    rng = np.random.default_rng(number)
    mode = "heating" if rng.random() < HEATING_SHARE else "cooling"
    refrigerant, device, pump = pick(rng, REFRIGERANTS), pick(rng, DEVICES), pick(rng, COMPRESSORS)
    tons = float(rng.uniform(1.5, 6.0))
    rating = Rating(
        capacity=tons * TON,
        evaporating=fahrenheit(float(rng.uniform(42.0, 47.5))),
        condensing=fahrenheit(95.0 + float(rng.uniform(15.0, 31.0))),
        superheat=float(rng.uniform(6.0, 13.0)) / 1.8,
        subcooling=float(rng.uniform(7.0, 13.5)) / 1.8,
        indoor_flow=float(rng.uniform(360.0, 440.0)) * FOOT**3 / 60.0 / TON,
        outdoor_flow=float(rng.uniform(880.0, 1150.0)) * FOOT**3 / 60.0 / TON,
    )
    packaged = rng.random() < 0.15
    length = float(rng.uniform(1.0, 2.5) if packaged else rng.uniform(4.0, 18.0))
    lift = 0.0 if packaged or rng.random() < 0.5 else float(rng.uniform(-5.0, 7.0))
    if not packaged and rng.random() < 0.12:  # a long line set, sized for it
        length, lift = float(rng.uniform(18.0, 40.0)), float(rng.uniform(-8.0, 12.0))
    altitude = 0.0 if rng.random() < 0.7 else float(rng.uniform(300.0, 1700.0))
    atmosphere = standard_atmosphere(altitude)
    equipment = split_system(
        curves(refrigerant), rating=rating, device=device, compressor=pump, length=length, lift=lift,
        packaged=packaged, atmosphere=atmosphere,
        txv={"port": float(rng.choice([0.0, 0.0, 0.004, 0.008])), "bleed": float(rng.choice([0.0, 0.0, 0.1]))},
        accumulator=0.003 if mode == "heating" and rng.random() < 0.3 else 0.0,
    )  # fmt: skip
    equipment = replace(equipment, controls=replace(equipment.controls, high_switch=0.0, defrost_interval=0.0))
    subcooling = rating.subcooling
    if mode == "heating":
        subcooling = float(rng.uniform(7.0, 13.0)) / 1.8
        equipment = heating(equipment, subcooling)
        equipment = replace(equipment, controls=replace(equipment.controls, high_switch=0.0, defrost_interval=0.0))
        outdoor, inside = fahrenheit(float(rng.uniform(34.0, 60.0))), fahrenheit(float(rng.uniform(66.0, 74.0)))
        wet_outdoor, wet_inside = float(rng.uniform(0.5, 0.8)), float(rng.uniform(0.3, 0.5))
    else:
        outdoor, inside = fahrenheit(float(rng.uniform(72.0, 110.0))), fahrenheit(float(rng.uniform(71.0, 83.0)))
        wet_outdoor, wet_inside = float(rng.uniform(0.2, 0.6)), float(rng.uniform(0.36, 0.64))
    inputs = Inputs(
        outdoor_temperature=outdoor,
        outdoor_ratio=relative_to_ratio(outdoor, wet_outdoor, atmosphere),
        return_temperature=inside,
        return_ratio=relative_to_ratio(inside, wet_inside, atmosphere),
        indoor_airflow=float(rng.uniform(0.92, 1.08)),
    )
    place = Surroundings(
        atmosphere=atmosphere,
        recirculation=float(rng.uniform(0.1, 0.35)),
        cover_reaches_bottom=float(rng.uniform(0.2, 0.9)),
    )
    return Unit(
        number, mode, device, rating, equipment, place, inputs, float(rng.uniform(0.0, 0.08)),
        float(rng.uniform(0.975, 1.025)), mode == "heating" or rng.random() < 0.5, subcooling,
    )  # fmt: skip


@dataclass(frozen=True)
class Wrong:
    """What is wrong: fields of the bench's faults, and what else has to change for it."""

    faults: Faults
    equipment: Equipment
    place: Surroundings
    inputs: Inputs
    size: float


def faulty(one: Unit, causes: tuple[str, ...], rng: np.random.Generator) -> Wrong:
    """Give a unit one or more causes, each at a size drawn anew. size: of the first, in its own measure."""
    faults = Faults(charge=one.charge, condenser_fouling=one.soiled)
    device, equipment, place, inputs = MeteringFaults(), one.equipment, one.place, one.inputs
    sizes = []

    def draw(low: float, high: float) -> float:
        value = float(rng.uniform(low, high))
        sizes.append(value)
        return value

    for cause in causes:
        match cause:
            case "undercharge":
                faults = replace(faults, charge=faults.charge * draw(0.58, 0.92))
            case "overcharge":
                faults = replace(faults, charge=faults.charge * draw(1.08, 1.55))
            case "liquid line restriction":
                faults = replace(faults, liquid_restriction=draw(0.15, 1.6))
            case "metering device underfeeding":
                how = rng.random()
                if one.device == "fixed orifice" or how < 0.5:
                    device = replace(device, undersized=draw(0.35, 0.85))
                else:
                    device = replace(device, parked=draw(0.5, 0.95) * working(one) * 0.9)
            case "metering device overfeeding":
                if one.device == "fixed orifice":
                    device = replace(device, undersized=draw(1.15, 2.0))
                else:
                    device = replace(device, parked=min(1.0, draw(1.15, 2.6) * working(one)))
            case "bulb loose":
                device = replace(device, bulb_contact=draw(0.1, 0.85))
            case "bulb charge lost":
                device = replace(device, bulb_empty=draw(0.1, 0.7))
            case "equalizer plugged":
                device = replace(device, equalizer_plugged=True)
                sizes.append(1.0)
            case "check valve leaking":
                device = replace(device, bypass=draw(0.15, 1.1))
            case "low indoor airflow":
                faults = replace(faults, indoor_airflow=draw(0.15, 0.72))
            case "condenser air" | "outdoor coil air":
                share = draw(0.15, 0.75)
                if rng.random() < 0.6:
                    faults = replace(faults, condenser_fouling=share)
                else:
                    faults = replace(faults, condenser_film=share)
            case "recirculation":
                place = replace(place, always_recirculated=draw(0.12, 0.6))
            case "non-condensables":
                faults = replace(faults, non_condensables=draw(0.15, 1.6))
            case "compressor valves":
                faults = replace(faults, compressor_leak=draw(0.08, 0.7))
            case "compressor unloaded":
                share = draw(0.45, 0.75)
                equipment = replace(equipment, compressor=replace(equipment.compressor, stages=(share, 1.0)))
                inputs = replace(inputs, call=share * 0.99)
            case "reversing valve":
                faults = replace(faults, reversing_leak=draw(0.05, 0.4))
            case "suction restriction":
                lines = equipment.lines
                equipment = replace(
                    equipment, lines=replace(lines, suction_diameter=lines.suction_diameter * draw(0.32, 0.68))
                )
            case "flash gas":
                lines = equipment.lines
                if rng.random() < 0.5:
                    lines = replace(lines, lift=draw(12.0, 40.0))
                else:
                    lines = replace(lines, liquid_diameter=max(lines.liquid_diameter * draw(0.36, 0.6), 0.0047))
                equipment = replace(equipment, lines=lines)
            case _:
                raise ValueError(f"no cause is called {cause!r}")
    return Wrong(replace(faults, metering=device), equipment, place, inputs, sizes[0] if sizes else 0.0)


def working(one: Unit) -> float:
    """Stroke at the rating point [-]: about where the valve stands."""
    return one.equipment.device_opening


def settle(one: Unit, wrong: Wrong) -> tuple[Plant, State] | None:
    """Run to about steady state; None when the unit leaves what is known of its refrigerant or stops."""
    plant = Plant(wrong.equipment, wrong.faults, wrong.place, wrong.inputs, step=STEP)
    seen: list[tuple[float, ...]] = []
    for k in range(int(SETTLE / 30.0)):
        state = plant.advance(30.0, wrong.inputs)
        circuit = state.circuits[0]
        seen.append((circuit.condensing_temperature, circuit.evaporating_temperature, circuit.superheat))
        if 30.0 * k >= SOONEST and np.ptp(np.array(seen[-5:]), axis=0).max() < STILL:
            break
    circuit = state.circuits[0]
    known = curves(one.equipment.refrigerant)
    if not circuit.running or circuit.condensing_temperature > known.maximum_temperature - 3.0:
        return None
    if circuit.compressor_flow < 0.1 * one.equipment.rated_flow:  # a unit that no longer pumps is no case for readings
        return None
    return plant, state


def averaged(plant: Plant, inputs: Inputs, seconds: float = 60.0) -> tuple[dict[str, float], State]:
    """Mean of every true reading over a while: valves hunt."""
    sums: dict[str, float] = {}
    count = int(seconds / 10.0)
    for _ in range(count):
        state = plant.advance(10.0, inputs)
        for name in TRUE:
            sums[name] = sums.get(name, 0.0) + getattr(state.circuits[0], name) / count
        for name in SHARED:
            sums[name] = sums.get(name, 0.0) + getattr(state, name) / count
    return sums, state


def restricted(one: Unit, inputs: Inputs, cover: float) -> Inputs:
    """Restrict the air of the coil that condenses: cover outdoors in cooling, less indoor air in heating."""
    if one.mode == "cooling":
        return replace(inputs, cover=cover)
    return replace(inputs, indoor_airflow=inputs.indoor_airflow * (1.0 - 0.9 * cover))


def pushed(one: Unit, plant: Plant, inputs: Inputs, rise: float, base: float) -> dict[str, float] | None:
    """Cover the condensing coil for a rise of the condensing temperature [K] and hold; None when it cannot be held."""
    known = curves(one.equipment.refrigerant)
    top = min(fahrenheit(140.0), known.maximum_temperature - 4.0)
    wanted = min(base + rise, top)
    if wanted - base < 0.75 * rise:
        return None
    cover = 0.25
    try:
        for k in range(int((PUSH - 60.0) / 10.0)):
            state = plant.advance(10.0, restricted(one, inputs, cover))
            error = wanted - state.circuits[0].condensing_temperature
            cover = min(max(cover + (0.03 * error if k > 3 else 0.02), 0.0), 0.98)
        sums, state = averaged(plant, restricted(one, inputs, cover))
        rose = known.bubble_temperature(sums["liquid_pressure"]) - base
    except LEFT_THE_BENCH:
        return None
    if not state.circuits[0].running or rose < 0.6 * rise:
        return None
    return {f"push_{name}": sums[name] for name in PUSHED}


def case(one: Unit, causes: tuple[str, ...], seed: int) -> dict[str, object] | None:
    """Settle, read, push and read again; None when the unit leaves what the bench knows."""
    try:
        return _case(one, causes, seed)
    except LEFT_THE_BENCH:
        return None


def _case(one: Unit, causes: tuple[str, ...], seed: int) -> dict[str, object] | None:
    wrong = faulty(one, causes, np.random.default_rng((one.number, seed)))
    ran = settle(one, wrong)
    if ran is None:
        return None
    plant, _ = ran
    read, state = averaged(plant, wrong.inputs)
    circuit = state.circuits[0]
    heat = abs(state.total_heat)
    row: dict[str, object] = {
        **read,
        "heat": heat,
        "efficiency": heat / state.power,
        "charge_ratio": wrong.faults.charge,
        "size": wrong.size,
        "length": wrong.equipment.lines.length,
        "lift": wrong.equipment.lines.lift,
        "liquid_inside": wrong.equipment.lines.liquid_diameter,
        "floods": float(circuit.suction_quality < 0.999),
    }
    base = curves(one.equipment.refrigerant).bubble_temperature(read["liquid_pressure"])
    rise = np.random.default_rng((one.number, 7)).uniform(15.0, 22.0) / 1.8
    row.update(pushed(one, plant, wrong.inputs, rise, base) or {})
    row["causes"] = "+".join(causes) if causes else "healthy"
    return row


def unit_columns(one: Unit) -> dict[str, object]:
    """What a person can know of the unit and its place."""
    eq = one.equipment
    spec = eq.compressor
    return {
        "unit": one.number,
        "mode": one.mode,
        "device": one.device,
        "refrigerant": eq.refrigerant,
        "compressor": spec.kind,
        "packaged": eq.packaged,
        "capacity": eq.capacity,
        "rated_subcooling": one.subcooling,
        "rated_superheat": one.rating.superheat,
        "rated_over_ambient": one.rating.condensing - fahrenheit(95.0),
        "rated_over_evaporating": one.rating.return_dry_bulb - one.rating.evaporating,
        "rated_power": spec.rated_power,
        "rated_running_current": spec.rated_power / (spec.voltage * spec.power_factor),
        "rated_airflow": one.rating.indoor_flow * eq.capacity,
        "heat_pump": one.heat_pump,
        "accumulator": eq.accumulator,
        "atmosphere": one.place.atmosphere,
        "charge": eq.charge,
    }


def loss(row: dict[str, object], healthy: dict[str, object]) -> tuple[float, float]:
    """Capacity and efficiency lost against the healthy twin [-]."""
    return (
        1.0 - float(row["heat"]) / float(healthy["heat"]),  # type: ignore[arg-type]
        1.0 - float(row["efficiency"]) / float(healthy["efficiency"]),  # type: ignore[arg-type]
    )


def cases(
    first: int, units: int, faults: int, doubles: int, mode: str | None, save: Callable[[list[Row]], None]
) -> list[Row]:
    """Rows: per unit the healthy one, some single faults, and double faults whose parts are noticeable each alone."""
    rows: list[Row] = []
    for number in range(first, first + units):
        if rows and (number - first) % 50 == 0:
            save(rows)
        try:
            if mode is not None and mode_of(number) != mode:
                continue
            one = unit(number)
        except LEFT_THE_BENCH:
            continue
        known = unit_columns(one)
        healthy = case(one, (), 0)
        if healthy is None:
            continue
        rows.append({**known, **healthy, "capacity_loss": 0.0, "efficiency_loss": 0.0})
        rng = np.random.default_rng((number, 5))
        table = COOLING if one.mode == "cooling" else HEATING
        possible = [
            cause
            for cause, devices in table.items()
            if one.device in devices
            and (one.heat_pump or cause not in HEAT_PUMP_ONLY)
            and not (cause == "flash gas" and one.equipment.packaged)
        ]
        noticed: list[str] = []
        for k, cause in enumerate(rng.permutation(possible)[:faults]):
            row = case(one, (str(cause),), 10 + k)
            if row is None:
                continue
            lost = loss(row, healthy)
            rows.append({**known, **row, "capacity_loss": lost[0], "efficiency_loss": lost[1]})
            if max(lost) >= 0.10:
                noticed.append(str(cause))
        for k in range(doubles):
            if len(noticed) < 2:
                break
            pair = tuple(str(c) for c in rng.choice(noticed, 2, replace=False))
            if PART[pair[0]] == PART[pair[1]]:
                continue
            row = case(one, pair, 100 + k)
            if row is not None:
                lost = loss(row, healthy)
                rows.append({**known, **row, "capacity_loss": lost[0], "efficiency_loss": lost[1]})
    return rows


#: Part of the unit that a cause lies in; a double fault takes two parts, since two causes in one part act alike.
PART: Final = {
    "undercharge": "charge", "overcharge": "charge", "liquid line restriction": "feed", "flash gas": "feed",
    "metering device underfeeding": "feed", "metering device overfeeding": "feed", "bulb loose": "feed",
    "bulb charge lost": "feed", "equalizer plugged": "feed", "check valve leaking": "feed",
    "low indoor airflow": "indoor air", "condenser air": "high side", "outdoor coil air": "outdoor air",
    "recirculation": "high side", "non-condensables": "high side", "compressor valves": "vapor",
    "compressor unloaded": "vapor", "reversing valve": "vapor", "suction restriction": "vapor",
}  # fmt: skip


def columns(rows: list[dict[str, object]]) -> dict[str, np.ndarray]:
    """Rows to columns; numbers as float64, missing ones NaN."""
    names = sorted({name for row in rows for name in row})
    texts = ("causes", "mode", "device", "refrigerant", "compressor")
    return {
        name: np.array([str(row[name]) for row in rows])
        if name in texts
        else np.array(
            [float(row.get(name, np.nan)) for row in rows], dtype=np.float32 if name not in ("unit",) else np.float64
        )  # type: ignore[arg-type]
        for name in names
    }


def provenance(first: int, units: int) -> str:
    """Say what made the file."""
    root = Path(__file__).parents[1]
    commit = subprocess.run(
        ["git", "log", "-1", "--format=%h", "--", "src/steadfeed/bench"], cwd=root, capture_output=True, text=True, check=False
    ).stdout.strip()  # fmt: skip
    return f"tools/bench_cases.py, units {first} to {first + units - 1}, bench at commit {commit or 'unknown'}, step {STEP} s"


def main() -> None:
    """Make the file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--first", type=int, required=True)
    parser.add_argument("--units", type=int, required=True)
    parser.add_argument("--faults", type=int, default=9, help="single faults tried on each unit")
    parser.add_argument("--doubles", type=int, default=1, help="double faults tried on each unit")
    parser.add_argument("--mode", choices=["cooling", "heating"], help="only units that cool, or only those that heat")
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    options.out.parent.mkdir(parents=True, exist_ok=True)
    made_by = provenance(options.first, options.units)

    def save(rows: list[Row]) -> None:
        np.savez_compressed(options.out, provenance=made_by, **columns(rows))  # type: ignore[arg-type]

    rows = cases(options.first, options.units, options.faults, options.doubles, options.mode, save)
    save(rows)
    print(f"{len(rows)} cases of {options.units} units in {options.out}")


if __name__ == "__main__":
    main()
