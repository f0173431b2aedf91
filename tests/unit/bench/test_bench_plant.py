"""The plant as a whole: start and stop, standstill, switches, fans, stages, two circuits, heating, what the state says."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from bench_runs import conditions, degrees_f, steady, unit
from steadfeed.bench.design import Rating, Sizes, fahrenheit, split_system
from steadfeed.bench.equipment import ControlSpec, Surroundings
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.heat_pump import heating, heating_conditions
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.plant import Plant
from steadfeed.bench.run import script, simulate
from steadfeed.bench.state import CircuitState, Inputs, State
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.units import PSI

R410A = curves("R-410A")


def test_a_unit_does_what_it_was_sized_for() -> None:
    rating = Rating(superheat=10.0 / 1.8, subcooling=12.0 / 1.8, condensing=fahrenheit(113.5))
    for device in ("txv", "eev", "fixed orifice"):
        made = split_system(R410A, rating=rating, device=device)  # type: ignore[arg-type]
        circuit = steady(made).circuits[0]
        assert degrees_f(circuit.condensing_temperature) == pytest.approx(113.5, abs=1.5)
        assert degrees_f(circuit.evaporating_temperature) == pytest.approx(46.0, abs=1.0)
        assert circuit.evaporator_superheat * 1.8 == pytest.approx(10.0, abs=1.5)
        assert circuit.subcooling * 1.8 == pytest.approx(12.0, abs=1.5)
        assert circuit.opening == pytest.approx(made.device_opening, abs=0.05)
        assert circuit.evaporator_heat == pytest.approx(rating.capacity, rel=0.02)


@pytest.mark.parametrize(
    ("rating", "words"),
    [
        (Rating(condensing=fahrenheit(108.0), subcooling=8.0 / 1.8), "condenser cannot reject"),
        (Rating(evaporating=fahrenheit(58.0)), "no unit can be sized|evaporator cannot take"),
        (Rating(subcooling=19.0 / 1.8), "colder than the outdoor air"),
        (Rating(condensing=fahrenheit(300.0)), "cannot condense"),
    ],
)
def test_impossible_ratings_are_refused_in_a_sentence(rating: Rating, words: str) -> None:
    with pytest.raises(FixInput, match=words):
        split_system(R410A, rating=rating)


def test_a_line_set_that_eats_the_pressure_is_refused() -> None:
    with pytest.raises(FixInput, match="leaves no pressure"):
        split_system(R410A, lift=220.0, sizes=Sizes())


def test_before_the_start_both_sides_stand_at_one_pressure() -> None:
    state = Plant(unit(), inputs=conditions(90.0)).state()
    circuit = state.circuits[0]
    assert not circuit.running
    assert circuit.compressor_flow == 0.0
    # the coldest part sets the pressure of what is connected to it
    assert degrees_f(R410A.dew_temperature(circuit.suction_pressure)) == pytest.approx(80.0, abs=1.5)
    assert state.power == 0.0


def test_start_up() -> None:
    history = simulate(Plant(unit()), script(conditions()), 300.0)
    suction, head = history["suction_pressure"] / PSI, history["liquid_pressure"] / PSI
    assert suction[0] > suction[20] + 40.0  # pull-down
    assert head[200] > head[0] + 70.0
    assert np.abs(np.diff(history["suction_pressure"][120:])).max() < 0.03 * suction[-1] * PSI
    assert history["opening"][60:].min() > 0.3


def test_compressor_and_metering_flow_agree_in_steady_running() -> None:
    circuit = steady(unit()).circuits[0]
    assert circuit.valve_flow == pytest.approx(circuit.compressor_flow, rel=0.01)
    assert circuit.evaporator_heat + circuit.compressor_power == pytest.approx(circuit.condenser_heat, rel=0.05)


def test_charge_is_where_it_should_be() -> None:
    circuit = steady(unit()).circuits[0]
    parts = (
        circuit.charge_condenser + circuit.charge_evaporator + circuit.charge_liquid_line + circuit.charge_accumulator
    )
    assert parts == pytest.approx(circuit.charge_total)
    assert circuit.charge_total == pytest.approx(unit().charge - unit().dissolved, rel=1e-6)
    assert circuit.charge_condenser > circuit.charge_evaporator
    # a 3-ton R-410A split holds 2–3 lb per ton (common practice)
    assert 1.8 < unit().charge / 0.4536 / 3.0 < 3.2


def stopped(device: str, seconds: float = 600.0, **txv: float) -> tuple[np.ndarray, np.ndarray]:
    """Suction and head [psi] after the compressor stops."""
    made = split_system(R410A, device=device, txv=txv or None)  # type: ignore[arg-type]
    history = simulate(Plant(made), script(conditions(), (600.0, {"call": 0.0})), 600.0 + seconds)
    return history["suction_pressure"][600:] / PSI, history["liquid_pressure"][600:] / PSI


def test_standstill_equalizes_through_an_open_device_and_not_through_a_shut_one() -> None:
    suction, head = stopped("fixed orifice")
    assert head[-1] - suction[-1] < 5.0
    suction, head = stopped("txv", bleed=0.15)
    assert head[-1] - suction[-1] < 5.0
    suction, head = stopped("txv", leak=0.0)
    assert head[-1] - suction[-1] > 60.0
    suction, head = stopped("eev")
    assert head[-1] - suction[-1] > 60.0


def test_non_condensables_show_in_a_standing_test() -> None:
    still = conditions(90.0, 90.0, 70.0)
    pressures = []
    for gas in (0.0, 0.6):
        plant = Plant(unit("fixed orifice"), Faults(non_condensables=gas), inputs=still)
        history = simulate(plant, script(still, (400.0, {"call": 0.0, "indoor_fan": True})), 3400.0, sample=5.0)
        pressures.append(history["liquid_pressure"][-1] / PSI)
    saturated = R410A.bubble_pressure(fahrenheit(90.0)) / PSI
    assert pressures[0] == pytest.approx(saturated, rel=0.02)
    assert pressures[1] > pressures[0] + 7.0


def test_refrigerant_migrates_to_the_colder_coil() -> None:
    night = script(conditions(), (400.0, {"call": 0.0}), (500.0, {"outdoor_temperature": fahrenheit(55.0)}))
    history = simulate(Plant(unit("fixed orifice")), night, 7600.0, sample=20.0)
    assert history["charge_evaporator"][40] > history["charge_condenser"][40]  # drained through the orifice first
    assert history["charge_condenser"][-1] > 3.0 * history["charge_evaporator"][-1]


def test_the_high_pressure_switch_trips_and_waits_for_a_reset() -> None:
    controls = replace(unit().controls, restart_delay=60.0)
    plant = Plant(replace(unit(), controls=controls))
    changes = (
        (400.0, {"cover": 1.0}),
        (700.0, {"cover": 0.0}),
        (1000.0, {"reset": True}),
        (1010.0, {"reset": False}),
    )
    history = simulate(plant, script(conditions(), *changes), 1300.0)
    trip = int(np.argmax(history["tripped"] > 0.0))
    assert 400 < trip < 480
    assert history["discharge_pressure"].max() < controls.high_switch * 1.03
    assert not history["running"][trip + 5 : 999].any()
    assert history["running"][1100]
    assert plant.controls[0].trips == 1


def test_an_automatic_switch_lets_the_unit_start_again() -> None:
    controls = ControlSpec(manual_reset=False, restart_delay=30.0)
    history = simulate(
        Plant(replace(unit(), controls=controls)),
        script(conditions(), (300.0, {"cover": 1.0}), (420.0, {"cover": 0.0})),
        900.0,
    )
    assert history["tripped"][300:500].any()
    assert history["running"][-1]


def test_low_pressure_switch() -> None:
    controls = ControlSpec(low_switch=70.0 * PSI, low_reset=110.0 * PSI, restart_delay=0.0)
    plant = Plant(replace(unit(), controls=controls), Faults(metering=MeteringFaults(parked=0.05)))
    history = simulate(plant, script(conditions()), 240.0)
    assert history["running"][60]
    assert not history["running"][95:110].all()


def test_restart_waits() -> None:
    history = simulate(Plant(unit()), script(conditions(), (300.0, {"call": 0.0}), (320.0, {"call": 1.0})), 700.0)
    back = 320 + int(np.argmax(history["running"][320:] > 0.0))
    assert back == pytest.approx(300 + unit().controls.restart_delay, abs=3)


def test_pulling_the_disconnect_stops_everything() -> None:
    state = State
    plant = Plant(unit())
    for power in (True, False):
        state = plant.advance(30.0, replace(conditions(), power=power))  # type: ignore[assignment]
    assert state.power == 0.0
    assert state.airflow == 0.0


def fan_unit(kind: str) -> Plant:
    controls = ControlSpec(
        fan_control=kind,  # type: ignore[arg-type]
        fan_on=R410A.bubble_pressure(fahrenheit(105.0)),
        fan_off=R410A.bubble_pressure(fahrenheit(85.0)),
    )
    return Plant(replace(unit(), controls=controls), inputs=conditions(60.0, 72.0, 60.0))


def test_head_pressure_control_in_mild_weather() -> None:
    mild = script(conditions(60.0, 72.0, 60.0))
    cycled = simulate(fan_unit("pressure-cycled"), mild, 1200.0)
    assert set(np.unique(cycled["fans_running"][300:])) == {0.0, 1.0}
    assert np.ptp(cycled["condensing_temperature"][600:]) * 1.8 > 15.0
    variable = simulate(fan_unit("variable"), mild, 1200.0)
    assert np.ptp(variable["condensing_temperature"][900:]) * 1.8 < 1.0
    assert 0.1 < variable["fans_running"][-1] < 1.0
    free = simulate(fan_unit("on-off"), mild, 1200.0)
    assert free["condensing_temperature"][-1] < variable["condensing_temperature"][-1] - 5.0


def test_a_cycled_fan_fights_the_push() -> None:
    """Covered, a pressure-cycled fan runs more: part of the push is taken back."""
    mild = conditions(60.0, 72.0, 60.0)
    history = simulate(fan_unit("pressure-cycled"), script(mild, (900.0, {"cover": 0.5})), 1500.0)
    assert history["fans_running"][1200:].mean() > history["fans_running"][600:900].mean() + 0.05


def test_cover_recirculation_and_warm_exhaust() -> None:
    plant = Plant(unit(), surroundings=Surroundings(recirculation=0.3))
    history = simulate(plant, script(conditions(), (600.0, {"cover": 0.5})), 900.0)
    assert history["coil_inlet_temperature"][599] == pytest.approx(history["outdoor_air_temperature"][599])
    assert history["coil_inlet_temperature"][-1] > history["outdoor_air_temperature"][-1] + 1.0
    assert history["coil_outlet_temperature"][-1] > history["coil_outlet_temperature"][599] + 3.0


def test_cover_acts_more_and_more() -> None:
    rise = []
    for cover in (0.25, 0.5, 0.75):
        history = simulate(Plant(unit()), script(conditions(75.0), (600.0, {"cover": cover})), 800.0)
        rise.append((history["condensing_temperature"][-1] - history["condensing_temperature"][599]) * 1.8)
    assert 2.0 < rise[0] < 8.0
    assert 9.0 < rise[1] < 20.0
    assert rise[2] > 2.2 * rise[1]


def test_low_indoor_air_freezes_the_coil_in_the_end() -> None:
    cold = conditions(70.0, 68.0, 60.0)
    plant = Plant(unit(), Faults(indoor_airflow=0.65), inputs=cold)
    history = simulate(plant, script(cold), 3600.0, sample=10.0)
    assert history["frost"][-1] > 0.1
    assert history["suction_pressure"][-1] < history["suction_pressure"][60]


def test_lift_and_length_cost_subcooling_at_the_valve() -> None:
    short = steady(split_system(R410A)).circuits[0]
    long = steady(split_system(R410A, length=30.0, lift=9.0)).circuits[0]
    lost_short, lost_long = (c.subcooling - c.valve_subcooling for c in (short, long))
    # 30 ft of lift alone cost 2.5 °F on R-410A (static head, data/liquid_riser.csv)
    assert (lost_long - lost_short) * 1.8 > 2.4
    assert long.liquid_pressure - long.valve_inlet_pressure > 9.0 * 9.81 * 950.0


def test_undercharge_gives_flash_gas_at_the_valve() -> None:
    circuit = steady(unit(), Faults(charge=0.75)).circuits[0]
    assert circuit.valve_quality > 0.01
    assert circuit.subcooling * 1.8 < 0.5
    assert steady(unit()).circuits[0].valve_quality == 0.0


def test_an_accumulator_pins_superheat() -> None:
    """While liquid from a flooded start stands in it, gas leaves it near saturation although the coil superheats."""
    made = split_system(R410A, accumulator=0.004)
    history = simulate(Plant(made, inputs=conditions(105.0)), script(conditions(105.0)), 600.0)
    held = history["charge_accumulator"]
    wet = (held > 0.15) & (history.time > 30.0)
    assert wet.any()
    assert history["superheat"][wet].max() * 1.8 < 3.0
    assert held[-1] < held.max()


def test_a_receiver_keeps_subcooling_over_charge() -> None:
    made = split_system(R410A, receiver=2.0e-3, rating=Rating(subcooling=6.0 / 1.8))
    less, right = (steady(made, Faults(charge=c)).circuits[0] for c in (0.9, 1.0))
    assert right.subcooling * 1.8 == pytest.approx(6.0, abs=1.5)
    assert abs(less.subcooling - right.subcooling) * 1.8 < 1.0


def test_stage_change() -> None:
    made = split_system(R410A, compressor_fields={"stages": (0.67, 1.0)})
    history = simulate(Plant(made), script(replace(conditions(), call=0.5), (700.0, {"call": 1.0})), 1000.0)
    assert history["speed"][650] == pytest.approx(0.67)
    assert history["speed"][-1] == 1.0
    assert history["evaporating_temperature"][650] > history["evaporating_temperature"][-1] + 1.5
    assert history["compressor_power"][650] < 0.75 * history["compressor_power"][-1]


def test_two_circuits_share_the_air() -> None:
    shared = replace(unit(), interlaced=0.4)
    plant = Plant((shared, shared), (HEALTHY, Faults(charge=0.85)))
    history = simulate(plant, script(conditions(), (500.0, {"second_call": 1.0}), (1000.0, {"cover": 0.5})), 1300.0)
    first, second = history.circuits
    assert not second["running"][480]
    # alone on an interlaced face a circuit condenses lower
    assert first["condensing_temperature"][490] < first["condensing_temperature"][990] - 0.3
    # a cover meets both
    for circuit in (first, second):
        assert circuit["condensing_temperature"][-1] > circuit["condensing_temperature"][990] + 4.0
    assert second["subcooling"][990] < first["subcooling"][990]
    assert history["power"][990] > 1.5 * history["power"][490]


def test_a_plant_takes_one_or_two_circuits() -> None:
    with pytest.raises(ValueError, match="one or two circuits"):
        Plant((unit(), unit(), unit()))
    with pytest.raises(ValueError, match="one or two circuits"):
        Plant((unit(), unit()), (HEALTHY,))


# -- heating -----------------------------------------------------------------------------------------------------------
HEAT_PUMP = heating(split_system(R410A, accumulator=0.003))


def test_heating_push_by_indoor_air() -> None:
    inputs = heating_conditions()
    history = simulate(Plant(HEAT_PUMP, inputs=inputs), script(inputs, (900.0, {"indoor_airflow": 0.6})), 1200.0)
    before, after = 890, 1190
    assert (history["condensing_temperature"][after] - history["condensing_temperature"][before]) * 1.8 > 8.0
    assert abs(history["evaporator_superheat"][after] - history["evaporator_superheat"][before]) * 1.8 < 3.0
    assert history["supply_air_dry_bulb"][after] > history["supply_air_dry_bulb"][before] + 5.0
    # the liquid line's port at the outdoor unit stands before the metering device
    np.testing.assert_allclose(history["liquid_pressure"], history["valve_inlet_pressure"])


def test_frost_grows_and_a_defrost_takes_it_off() -> None:
    made = replace(HEAT_PUMP, controls=replace(HEAT_PUMP.controls, defrost_interval=1200.0))
    inputs = replace(heating_conditions(fahrenheit(33.0)), outdoor_ratio=0.0036)
    history = simulate(Plant(made, inputs=inputs), script(inputs), 2400.0)
    defrosting = history["defrosting"] > 0.0
    begins = int(np.argmax(defrosting))
    lasts = int(defrosting[begins:].argmin())
    assert history["frost"][begins - 1] > 0.3
    assert 20 < lasts < 600
    assert history["frost"][begins + lasts + 5] < 0.05
    assert history["supply_air_dry_bulb"][begins + lasts - 5] < inputs.return_temperature
    assert history["supply_air_dry_bulb"][-1] > inputs.return_temperature + 5.0


def test_auxiliary_heat_warms_the_supply_air_and_nothing_else() -> None:
    inputs = heating_conditions()
    plain = simulate(Plant(HEAT_PUMP, inputs=inputs), script(inputs), 600.0)
    helped = simulate(Plant(HEAT_PUMP, inputs=inputs), script(replace(inputs, auxiliary_heat=5000.0)), 600.0)
    assert helped["supply_air_dry_bulb"][-1] - plain["supply_air_dry_bulb"][-1] == pytest.approx(
        5000.0 / (helped["airflow"][-1] * 1020.0), rel=0.02
    )
    assert helped["power"][-1] - plain["power"][-1] == pytest.approx(5000.0)
    assert helped["condensing_temperature"][-1] == plain["condensing_temperature"][-1]


# -- history and script ------------------------------------------------------------------------------------------------
def test_a_history_holds_every_true_quantity() -> None:
    history = simulate(Plant(unit()), script(conditions()), 30.0)
    names = {f.name for f in fields(CircuitState)} | {f.name for f in fields(State)} - {"time", "circuits"}
    assert set(history.circuits[0]) == names
    for name in names:
        assert history[name].shape == (30,)
        assert np.isfinite(history[name]).all(), name
    assert len(history) == 30
    assert history.time[0] == 1.0


def test_a_conduct_sees_the_state() -> None:
    """A person who covers until the head has risen enough."""
    base = conditions()

    def conduct(time: float, state: State) -> Inputs:
        high = state.circuits[0].liquid_pressure > 430.0 * PSI
        return base if time < 300.0 else replace(base, cover=0.0 if high else 0.7)

    history = simulate(Plant(unit()), conduct, 500.0)
    assert 425.0 < history["liquid_pressure"][400:].max() / PSI < 440.0


def test_scripts_and_runs_refuse_nonsense() -> None:
    with pytest.raises(ValueError, match="rising time"):
        script(Inputs(), (10.0, {"cover": 0.5}), (5.0, {"cover": 0.0}))
    with pytest.raises(ValueError, match="sample interval"):
        simulate(Plant(unit()), script(Inputs()), 10.0, sample=0.0)


@pytest.mark.parametrize(
    "refrigerant", ["R-22", "R-32", "R-134a", "R-407C", "R-454B", "R-290", "R-404A", "R-1234yf", "R-421A"]
)
def test_any_refrigerant(refrigerant: str) -> None:
    c = curves(refrigerant)
    circuit = steady(split_system(c)).circuits[0]
    assert circuit.evaporator_heat == pytest.approx(3 * 3516.85, rel=0.02)
    assert circuit.evaporating_temperature == pytest.approx(c.dew_temperature(circuit.suction_pressure), abs=0.01)
    assert circuit.condensing_temperature == pytest.approx(c.bubble_temperature(circuit.liquid_pressure), abs=0.01)


def test_carbon_dioxide_cannot_condense_in_summer() -> None:
    with pytest.raises(FixInput, match="cannot condense"):
        split_system(curves("R-744"))
