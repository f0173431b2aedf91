"""What must hold on the bench whatever the unit, the fault and the conduct: mass, energy, repeatability, step length."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_runs import PARKED, conditions, unit
from steadfeed.bench.design import Device, fahrenheit, split_system
from steadfeed.bench.equipment import Equipment
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.heat_pump import heating, heating_conditions
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.plant import Plant
from steadfeed.bench.run import Conduct, History, script, simulate
from steadfeed.bench.state import Inputs, State
from steadfeed.physics.properties import curves

REFRIGERANTS = ("R-410A", "R-22", "R-32", "R-134a", "R-407C", "R-454B", "R-290")
DEVICES: tuple[Device, ...] = ("txv", "eev", "fixed orifice")

share = st.floats(0.0, 1.0)
faults = st.builds(
    Faults,
    charge=st.floats(0.65, 1.3),
    non_condensables=st.one_of(st.just(0.0), st.floats(0.0, 1.0)),
    condenser_fouling=st.floats(0.0, 0.4),
    indoor_airflow=st.floats(0.0, 0.5),
    liquid_restriction=st.one_of(st.just(0.0), st.floats(0.0, 1.0)),
    compressor_leak=st.one_of(st.just(0.0), st.floats(0.0, 0.4)),
    reversing_leak=st.one_of(st.just(0.0), st.floats(0.0, 0.3)),
    metering=st.builds(
        MeteringFaults,
        parked=st.one_of(st.none(), st.floats(0.2, 1.0)),
        friction=st.floats(0.0, 2.0),
        bulb_contact=st.one_of(st.none(), st.floats(0.4, 0.9)),
        equalizer_plugged=st.booleans(),
        bypass=st.floats(0.0, 0.3),
    ),
)
weather = st.builds(
    conditions, outdoor=st.floats(60.0, 110.0), dry_bulb=st.floats(70.0, 88.0), wet_bulb=st.floats(55.0, 69.0)
)


def conduct(base: Inputs, cover: float) -> Conduct:
    return script(
        base,
        (240.0, {"cover": cover}),
        (420.0, {"cover": 0.0, "indoor_airflow": 0.6}),
        (540.0, {"indoor_airflow": 1.0, "call": 0.0}),
        (760.0, {"call": 1.0}),
    )


def run_with_balance(plant: Plant, conduct: Conduct, seconds: float) -> tuple[float, float, float]:
    """Return (mass drift [kg], energy drift [J], heat taken up [J]) over a run, after its first seconds."""
    circuit = plant.circuits[0]
    simulate(plant, conduct, 4.0)

    def account() -> tuple[float, float]:
        through = circuit.heat_taken - circuit.heat_given + circuit.work - circuit.heat_lost
        return circuit.charge_total(), circuit.stored_energy() - through

    mass, energy = account()
    taken = circuit.heat_taken
    simulate(plant, lambda t, s: conduct(t + 4.0, s), seconds)
    mass_after, energy_after = account()
    return mass_after - mass, energy_after - energy, circuit.heat_taken - taken


@settings(max_examples=12)
@given(
    refrigerant=st.sampled_from(REFRIGERANTS), device=st.sampled_from(DEVICES), wrong=faults, base=weather, cover=share
)
def test_mass_and_energy_close(refrigerant: str, device: Device, wrong: Faults, base: Inputs, cover: float) -> None:
    plant = Plant(unit(device, refrigerant), wrong, inputs=base)
    mass, energy, taken = run_with_balance(plant, conduct(base, cover), 900.0)
    assert abs(mass) < 1e-9
    # 1 % of the heat that went through; a unit that hardly cools gets the compressor's work as measure
    assert abs(energy) < 0.01 * max(abs(taken), plant.circuits[0].work)


def test_mass_and_energy_close_in_heating_through_a_defrost() -> None:
    unit_ = heating(split_system(curves("R-410A"), accumulator=0.003))
    unit_ = replace(unit_, controls=replace(unit_.controls, defrost_interval=400.0))
    inputs = replace(heating_conditions(fahrenheit(30.0)), outdoor_ratio=0.0032)
    plant = Plant(unit_, inputs=inputs)
    seen = []

    def watch(t: float, state: State) -> Inputs:
        seen.append(state.circuits[0].defrosting)
        return inputs

    mass, energy, taken = run_with_balance(plant, watch, 1500.0)
    assert any(seen)
    assert abs(mass) < 1e-9
    assert abs(energy) < 0.01 * taken


def test_two_runs_are_the_same_to_the_byte() -> None:
    def once() -> bytes:
        history = simulate(Plant(unit(), PARKED), conduct(conditions(), 0.5), 900.0)
        return b"".join(history[name].tobytes() for name in sorted(history.circuits[0]))

    assert once() == once()


def test_a_sample_interval_does_not_change_what_happens() -> None:
    """Sampling every second or every ten: the same steps are taken, so the same truth is reached."""
    fine = simulate(Plant(unit()), script(conditions()), 300.0, sample=1.0)
    coarse = simulate(Plant(unit()), script(conditions()), 300.0, sample=10.0)
    for name in ("suction_pressure", "liquid_pressure", "superheat", "charge_condenser"):
        np.testing.assert_allclose(fine[name][9::10], coarse[name], rtol=1e-12)


CASES: list[tuple[str, Device, Faults]] = [
    ("txv", "txv", HEALTHY),
    ("eev", "eev", HEALTHY),
    ("fixed orifice", "fixed orifice", HEALTHY),
    ("parked", "txv", PARKED),
    ("undercharged", "txv", Faults(charge=0.75)),
]
COMPARED = ("evaporating_temperature", "condensing_temperature", "superheat", "subcooling", "evaporator_superheat")


def at_step(equipment: Equipment, wrong: Faults, step: float) -> History:
    changes = ((600.0, {"cover": 0.2}), (615.0, {"cover": 0.4}), (630.0, {"cover": 0.5}), (900.0, {"cover": 0.0}))
    return simulate(Plant(equipment, wrong, step=step), script(conditions(), *changes), 1100.0)


@pytest.mark.parametrize(("name", "device", "wrong"), CASES, ids=[c[0] for c in CASES])
def test_halving_the_step(name: str, device: Device, wrong: Faults) -> None:
    """Less than 0.3 °F at any moment of a challenge, from three minutes after the start; steady values far less."""
    usual = at_step(unit(device), wrong, 0.25)
    half = at_step(unit(device), wrong, 0.125)
    for quantity in COMPARED:
        difference = np.abs(usual[quantity] - half[quantity]) * 1.8
        assert difference[180:].max() < 0.3, quantity
        assert difference[540:600].max() < 0.1, quantity
        assert difference[850:900].max() < 0.1, quantity
