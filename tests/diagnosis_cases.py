"""Cases for tests of the diagnosis: exact readings of bench units with a fault, and readings shifted by published signs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from bench_runs import conditions
from steadfeed.analysis.diagnosis.evidence import Evidence, gather
from steadfeed.analysis.spot import Spot, SpotReadings, evaluate
from steadfeed.bench.design import Rating, split_system
from steadfeed.bench.equipment import Equipment, Surroundings
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.heat_pump import heating, heating_conditions
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.plant import Plant
from steadfeed.bench.state import CircuitState, Inputs, State
from steadfeed.circuit.equipment import Instruments, LineSet, MeteringDevice, Mode, Nameplate, System
from steadfeed.physics.properties import curves

F = 5.0 / 9.0
REFRIGERANT = "R-410A"
CIRCUIT = {
    "suction_pressure": "suction_pressure",
    "liquid_pressure": "liquid_pressure",
    "suction_line_temperature": "suction_line_temperature",
    "liquid_line_temperature": "liquid_line_temperature",
    "metering_inlet_temperature": "valve_inlet_temperature",
    "evaporator_outlet_temperature": "evaporator_outlet_temperature",
    "discharge_line_temperature": "discharge_line_temperature",
    "compressor_current": "compressor_current",
}
AIR = {
    "outdoor_air_temperature": "outdoor_air_temperature",
    "condenser_inlet_air": "coil_inlet_temperature",
    "condenser_outlet_air": "coil_outlet_temperature",
    "return_air_dry_bulb": "return_air_dry_bulb",
    "return_air_wet_bulb": "return_air_wet_bulb",
    "supply_air_dry_bulb": "supply_air_dry_bulb",
}


@cache
def equipment(device: str, mode: Mode = "cooling") -> Equipment:
    """A 3-ton unit of the bench; 115 °F condensing at 95 °F outdoors, 10 °F superheat and subcooling."""
    rating = Rating(superheat=10.0 * F, subcooling=10.0 * F)
    made = split_system(curves(REFRIGERANT), rating=rating, device=device)  # type: ignore[arg-type]
    made = replace(made, controls=replace(made.controls, high_switch=0.0, defrost_interval=0.0))
    return heating(made) if mode == "heating" else made


@cache
def system(
    device: str, mode: Mode = "cooling", *, lift: float = 0.0, length: float = 7.6, liquid_line: float = 0.375
) -> System:
    """What the person knows of it."""
    running = equipment(device).compressor.rated_power / (230.0 * 0.93)
    return System(
        refrigerant=REFRIGERANT, metering_device=MeteringDevice(device), mode=mode, nominal_capacity=3.0 * 3516.85,
        compressor_type="scroll",
        nameplate=Nameplate(subcooling=10.0 * F, superheat=None, rated_current=1.35 * running),
        line_set=LineSet(length=length, lift=lift, liquid_line_diameter=liquid_line * 0.0254),
        instruments=Instruments(gauges="digital"),
    )  # fmt: skip


@dataclass(frozen=True)
class Broken:
    """A fault of the bench: of the circuit, of the equipment, of the place."""

    faults: Faults = HEALTHY
    suction_tube: float = 1.0
    lift: float = 0.0
    length: float = 0.0
    liquid_inside: float = 0.0
    recirculated: float = 0.0
    stage: float = 1.0


#: Cause -> (metering device, mode, fault on the bench).
ON_THE_BENCH: dict[str, tuple[str, Mode, Broken]] = {
    "undercharge": ("txv", "cooling", Broken(Faults(charge=0.70))),
    "overcharge": ("txv", "cooling", Broken(Faults(charge=1.30))),
    "non-condensables": ("txv", "cooling", Broken(Faults(non_condensables=0.8))),
    "liquid line restriction": ("txv", "cooling", Broken(Faults(liquid_restriction=0.9))),
    "flash gas": ("fixed orifice", "cooling", Broken(lift=12.0, length=30.0, liquid_inside=0.0048)),
    "metering device underfeeding": ("txv", "cooling", Broken(Faults(metering=MeteringFaults(undersized=0.45)))),
    "metering device overfeeding": ("txv", "cooling", Broken(Faults(metering=MeteringFaults(parked=0.95)))),
    "bulb loose": ("txv", "cooling", Broken(Faults(metering=MeteringFaults(bulb_contact=0.4)))),
    "bulb charge lost": ("txv", "cooling", Broken(Faults(metering=MeteringFaults(bulb_empty=0.35)))),
    "equalizer plugged": ("txv", "cooling", Broken(Faults(metering=MeteringFaults(equalizer_plugged=True)))),
    "check valve leaking": ("fixed orifice", "cooling", Broken(Faults(metering=MeteringFaults(bypass=0.5)))),
    "low indoor airflow": ("txv", "cooling", Broken(Faults(indoor_airflow=0.45))),
    "condenser air": ("txv", "cooling", Broken(Faults(condenser_fouling=0.5))),
    "outdoor coil air": ("txv", "heating", Broken(Faults(condenser_fouling=0.6))),
    "recirculation": ("txv", "cooling", Broken(recirculated=0.4)),
    "compressor valves": ("txv", "cooling", Broken(Faults(compressor_leak=0.45))),
    "compressor unloaded": ("txv", "cooling", Broken(stage=0.6)),
    "reversing valve": ("txv", "cooling", Broken(Faults(reversing_leak=0.2))),
    "suction restriction": ("txv", "cooling", Broken(suction_tube=0.45)),
}


@cache
def settled(device: str, mode: Mode = "cooling", broken: Broken = Broken(), outdoor: float = 95.0) -> State:
    """State after 20 minutes, exact."""
    unit = equipment(device, mode)
    lines = replace(
        unit.lines,
        suction_diameter=unit.lines.suction_diameter * broken.suction_tube,
        lift=unit.lines.lift + broken.lift,
        length=max(unit.lines.length, broken.length),
        liquid_diameter=broken.liquid_inside or unit.lines.liquid_diameter,
    )
    unit = replace(unit, lines=lines)
    inputs: Inputs = conditions(outdoor) if mode == "cooling" else heating_conditions()
    if broken.stage < 1.0:
        unit = replace(unit, compressor=replace(unit.compressor, stages=(broken.stage, 1.0)))
        inputs = replace(inputs, call=0.99 * broken.stage)
    place = Surroundings(always_recirculated=broken.recirculated)
    plant = Plant(unit, broken.faults, place, inputs, step=0.5)
    for _ in range(120):
        state = plant.advance(10.0, inputs)
    return state


def readings_of(state: State) -> dict[str, float]:
    """Exact spot readings of a state."""
    circuit: CircuitState = state.circuits[0]
    values = {name: float(getattr(circuit, true)) for name, true in CIRCUIT.items()}
    return values | {name: float(getattr(state, true)) for name, true in AIR.items()}


def spot_of(values: dict[str, float], unit: System) -> Spot:
    return evaluate(SpotReadings(values), unit, curves(unit.refrigerant or ""))


def evidence_of(
    values: dict[str, float], unit: System, *, heat_pump: bool | None = True, outcomes: dict[str, str] | None = None
) -> Evidence:
    return gather(
        unit, curves(unit.refrigerant or ""), spot_of(values, unit), seer=14.0, heat_pump=heat_pump, outcomes=outcomes
    )


def broken(cause: str) -> tuple[dict[str, float], System]:
    """Readings and unit of a cause on the bench."""
    device, mode, fault = ON_THE_BENCH[cause]
    known = system(
        device, mode, lift=fault.lift, length=max(fault.length, 7.6), liquid_line=0.25 if fault.liquid_inside else 0.375
    )
    return readings_of(settled(device, mode, fault)), known


#: What a "+" stands for, beyond what units in order differ by: size of a clear deviation [K; share for the current].
STEPS = {
    "Tevap": 5.0, "Tsh": 7.0, "Tcond": 5.5, "Tsc": 4.5, "Thg": 8.0, "dTca": 2.5, "dTea": 2.5, "split": 2.5,
    "current": 0.25, "line_drop": 6.0, "bulb_sh": 7.0, "face": 5.0,
}  # fmt: skip
#: Readings beyond gauges, clamps and room air -> columns of the charts, one of which must say something of it.
READ_BY = {
    "compressor_current": ("current",), "metering_inlet_temperature": ("line_drop",),
    "evaporator_outlet_temperature": ("bulb_sh",), "condenser_inlet_air": ("face", "dTca"),
    "condenser_outlet_air": ("dTca",), "discharge_line_temperature": ("Thg",),
}  # fmt: skip


def shifted(signs: dict[str, str], device: str, mode: Mode = "cooling") -> dict[str, float]:
    """Readings of a unit in order, moved by the signs of a chart: each sign moves its own quantity, not its neighbours."""
    base = readings_of(settled(device, mode))
    unit = system(device, mode)
    c = curves(unit.refrigerant or "")
    before = spot_of(base, unit)

    def step(name: str) -> float:
        return {"+": 1.0, "-": -1.0}.get(signs.get(name, ""), 0.0) * STEPS[name]

    evaporating = (before.value("evaporating_temperature") or 0.0) + step("Tevap")
    condensing = (before.value("condensing_temperature") or 0.0) + step("Tcond")
    superheat = max((before.value("superheat") or 0.0) + step("Tsh"), 0.0)
    subcooling = max((before.value("subcooling") or 0.0) + step("Tsc"), 0.0)
    at_bulb = base["evaporator_outlet_temperature"] - (before.value("evaporating_temperature") or 0.0)
    bulb_step = step("bulb_sh") if "bulb_sh" in signs else step("Tsh")
    drop = base["liquid_line_temperature"] - base["metering_inlet_temperature"]
    moved = dict(base)
    moved["suction_pressure"] = c.dew_pressure(evaporating)
    moved["liquid_pressure"] = c.bubble_pressure(condensing)
    moved["suction_line_temperature"] = evaporating + superheat
    moved["evaporator_outlet_temperature"] = evaporating + max(at_bulb + bulb_step, 0.0)
    moved["liquid_line_temperature"] = condensing - subcooling
    moved["metering_inlet_temperature"] = moved["liquid_line_temperature"] - drop - step("line_drop")
    moved["discharge_line_temperature"] += step("Thg")
    moved["compressor_current"] *= 1.0 + step("current")
    split = step("dTea") if "dTea" in signs else step("split")
    moved["supply_air_dry_bulb"] += -split if mode == "cooling" else split
    moved["condenser_inlet_air"] += step("face")
    moved["condenser_outlet_air"] += step("face") + (step("dTca") if mode == "cooling" else -step("dTca"))
    for (
        reading,
        columns,
    ) in READ_BY.items():  # what a chart does not say of a quantity is no sign that it stays as it was
        if not any(signs.get(column) for column in columns):
            del moved[reading]
    return moved
