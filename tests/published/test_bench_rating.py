"""The bench at AHRI 210/240 conditions: capacity, efficiency and pressures of units sized for point A.

Sources: data/rating_conditions.csv (conditions), data/single_speed_curves.csv (how capacity and input change with outdoor
temperature, indoor wet bulb and airflow: fits over many units), pressures and efficiencies of single-speed units as
common practice of the trade. How far the bench is off stands in docs/bench.md.
"""

from __future__ import annotations

import pytest

from bench_runs import degrees_f, steady, unit
from published_rows import rows
from steadfeed.bench.design import fahrenheit
from steadfeed.bench.heat_pump import heating, heating_conditions
from steadfeed.bench.plant import Plant
from steadfeed.units import PSI, STANDARD_ATMOSPHERE

CURVES = {r["curve"]: [float(r[f"c{i}"]) for i in range(1, 7) if r[f"c{i}"]] for r in rows("single_speed_curves.csv")}
CONDITIONS = {r["test"].split()[0]: r for r in rows("rating_conditions.csv")}

# common practice for single-speed units at 95 °F outdoors and 80/67 °F indoors: suction and liquid pressure, psig
USUAL_PRESSURES = {
    "R-410A": ((115, 145), (340, 420)),
    "R-22": ((64, 84), (215, 275)),
    "R-32": ((115, 150), (345, 435)),
    "R-454B": ((105, 135), (315, 395)),
    "R-134a": ((34, 50), (150, 195)),
    "R-407C": ((60, 85), (225, 290)),
}


def temperatures(curve: str, wet_bulb: float, outdoor: float) -> float:
    c = CURVES[curve]
    w, o = wet_bulb, outdoor
    return c[0] + c[1] * w + c[2] * w * w + c[3] * o + c[4] * o * o + c[5] * w * o


@pytest.mark.parametrize("refrigerant", USUAL_PRESSURES)
def test_point_a(refrigerant: str) -> None:
    state = steady(unit("txv", refrigerant))
    circuit = state.circuits[0]
    assert float(CONDITIONS["A"]["outdoor_db_degF"]) == pytest.approx(degrees_f(state.outdoor_air_temperature))
    # capacity per ton is what the unit was sized for: 12,000 Btu/h
    assert circuit.evaporator_heat / (3 * 3516.85) == pytest.approx(1.0, abs=0.02)
    # gross cooling over all power: 2.8 to 3.9 for units of EER 9.5–12.5 (common practice)
    assert 2.8 < circuit.evaporator_heat / state.power < 3.9
    suction, liquid = ((p - STANDARD_ATMOSPHERE) / PSI for p in (circuit.suction_pressure, circuit.liquid_pressure))
    (low, high), (low_head, high_head) = USUAL_PRESSURES[refrigerant]
    assert low < suction < high
    assert low_head < liquid < high_head
    # return air over evaporating about 35 °F, 17–22 °F from return to supply at 400 cfm/ton (common practice)
    assert 30.0 < degrees_f(state.return_air_dry_bulb) - degrees_f(circuit.evaporating_temperature) < 38.0
    assert 16.0 < (state.return_air_dry_bulb - state.supply_air_dry_bulb) * 1.8 < 22.5


@pytest.mark.parametrize(("outdoor", "within"), [(82.0, 0.015), (75.0, 0.02), (105.0, 0.015), (115.0, 0.025)])
def test_capacity_and_input_over_outdoor_temperature(outdoor: float, within: float) -> None:
    rated, state = steady(unit(superheat_degf=9.0)), steady(unit(superheat_degf=9.0), outdoor=outdoor)
    capacity = state.circuits[0].evaporator_heat / rated.circuits[0].evaporator_heat
    published = temperatures("capacity_ft_F", 67, outdoor) / temperatures("capacity_ft_F", 67, 95)
    assert capacity == pytest.approx(published, abs=within)
    input_ratio = (state.power / rated.power) / capacity
    published = temperatures("EIR_ft_F", 67, outdoor) / temperatures("EIR_ft_F", 67, 95)
    assert input_ratio == pytest.approx(published, abs=0.06)


@pytest.mark.parametrize("wet_bulb", [62.0, 71.0])
def test_capacity_over_indoor_wet_bulb(wet_bulb: float) -> None:
    rated, state = steady(unit(superheat_degf=9.0)), steady(unit(superheat_degf=9.0), wet_bulb=wet_bulb)
    capacity = state.circuits[0].evaporator_heat / rated.circuits[0].evaporator_heat
    published = temperatures("capacity_ft_F", wet_bulb, 95) / temperatures("capacity_ft_F", 67, 95)
    assert capacity == pytest.approx(published, abs=0.035)


@pytest.mark.parametrize("flow", [0.8, 0.9, 1.1, 1.2])
def test_capacity_over_indoor_airflow(flow: float) -> None:
    rated, state = steady(unit(superheat_degf=9.0)), steady(unit(superheat_degf=9.0), airflow=flow)
    c = CURVES["capacity_fflow"]
    capacity = state.circuits[0].evaporator_heat / rated.circuits[0].evaporator_heat
    assert capacity == pytest.approx(c[0] + c[1] * flow + c[2] * flow * flow, abs=0.01)


def test_suction_follows_outdoor_temperature_with_a_txv() -> None:
    """A TXV lets the evaporating temperature rise with the head: the same slope from weather as from a push."""
    mild, hot = steady(unit(), outdoor=82.0).circuits[0], steady(unit(), outdoor=95.0).circuits[0]
    slope = (hot.evaporating_temperature - mild.evaporating_temperature) / (
        hot.condensing_temperature - mild.condensing_temperature
    )
    assert 0.07 < slope < 0.18
    assert abs(hot.superheat - mild.superheat) * 1.8 < 1.5


@pytest.mark.parametrize(
    ("test", "capacity", "cop"), [("H1", (0.90, 1.12), (3.1, 4.2)), ("H3", (0.52, 0.72), (2.0, 2.9))]
)
def test_heating(test: str, capacity: tuple[float, float], cop: tuple[float, float]) -> None:
    """Heating of a 3-ton unit over its cooling at H1 and H3 (ranges: common practice for single-speed heat pumps)."""
    heat_pump = heating(unit(superheat_degf=9.0))
    outdoor = float(CONDITIONS[test]["outdoor_db_degF"])
    inputs = heating_conditions(fahrenheit(outdoor), fahrenheit(float(CONDITIONS[test]["indoor_db_degF"])))
    plant = Plant(heat_pump, inputs=inputs, step=0.5)
    for _ in range(120):
        state = plant.advance(10.0, inputs)
    assert capacity[0] < state.total_heat / (3 * 3516.85) < capacity[1]
    assert cop[0] < state.total_heat / state.power < cop[1]
    # the outdoor coil evaporates 10–18 °F under the air (common practice)
    assert 10.0 < outdoor - degrees_f(state.circuits[0].evaporating_temperature) < 18.0
