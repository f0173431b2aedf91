"""The measured R-12 rig rebuilt on the bench: TXV and capillary under a slower condenser fan.

Source: data/expansion_device_head_pressure_test_R12.csv (teaching rig UCLA MAE 157W, Fall 2024). The bench unit is sized
from the row with both fans high: evaporating and condensing temperature, superheat at T3, subcooling, flow. The rig's
subcooling hardly moves over a fivefold range of flow, so it has a receiver; film coefficients are not known. The
condenser fan is then slowed until condensing has risen as much as in the rig. Superheat starts at 25–31 °F: nothing is
cut off at zero. Nothing else is fitted.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from published_rows import rows
from steadfeed.bench.air import humidity_ratio
from steadfeed.bench.design import Device, Rating, split_system
from steadfeed.bench.plant import Plant
from steadfeed.bench.state import CircuitState, Inputs
from steadfeed.physics.properties import curves
from steadfeed.units import POUND, STANDARD_ATMOSPHERE

R12 = curves("R-12")
ROWS = rows("expansion_device_head_pressure_test_R12.csv")
ROOM, ROOM_WET_BULB = 273.15 + 23.8, 273.15 + 14.0
#: Air over the evaporator cools by about 10 K in the rig (T8 − T7), over the condenser it warms by about 13 K (T10 − T8).
AIR_DROP, AIR_RISE = 10.2, 13.0
DEVICES: dict[str, Device] = {"TXV": "txv", "capillary tube": "fixed orifice"}


def pair(device: str) -> tuple[dict[str, float], dict[str, float]]:
    """The rig's means with the condenser fan high and low, evaporator fan high."""

    def means(fan: str) -> dict[str, float]:
        chosen = [r for r in ROWS if (r["device"], r["evap_fan"], r["cond_fan"]) == (device, "high", fan)]
        names = ("Te_sat_C", "Tc_sat_C", "SH_T3_F", "SC_F", "mdot_lb_min")
        return {name: sum(float(r[name]) for r in chosen) / len(chosen) for name in names}

    return means("high"), means("low")


def settled(device: str) -> tuple[CircuitState, CircuitState]:
    """The bench's state at the two condensing temperatures of the rig."""
    high, low = pair(device)
    flow = high["mdot_lb_min"] * POUND / 60.0
    evaporating, condensing = high["Te_sat_C"] + 273.15, high["Tc_sat_C"] + 273.15
    superheat, subcooling = high["SH_T3_F"] / 1.8, high["SC_F"] / 1.8
    vapor = R12.vapor_enthalpy(R12.dew_pressure(evaporating), evaporating + superheat)
    liquid = R12.liquid_enthalpy(R12.bubble_pressure(condensing), condensing - subcooling)
    capacity = flow * (vapor - liquid)
    air = 1.0 / (1020.0 * 1.19)
    rating = Rating(
        capacity=capacity, outdoor=ROOM, return_dry_bulb=ROOM, return_wet_bulb=ROOM_WET_BULB,
        evaporating=evaporating, condensing=condensing, superheat=superheat, subcooling=subcooling,
        indoor_flow=air / AIR_DROP, outdoor_flow=1.3 * air / AIR_RISE,
    )  # fmt: skip
    unit = split_system(
        R12, rating=rating, device=DEVICES[device], compressor="reciprocating", length=2.0, receiver=1.0e-3
    )
    inputs = Inputs(
        outdoor_temperature=ROOM, return_temperature=ROOM,
        return_ratio=humidity_ratio(ROOM, ROOM_WET_BULB, STANDARD_ATMOSPHERE),
    )  # fmt: skip
    plant = Plant(unit, inputs=inputs, step=0.5)
    for _ in range(150):
        state = plant.advance(10.0, inputs)
    before = state.circuits[0]
    wanted = before.condensing_temperature + low["Tc_sat_C"] - high["Tc_sat_C"]
    fan = 1.0
    for _ in range(400):  # slow the fan until condensing stands where it stood in the rig
        fan += 0.004 * (state.circuits[0].condensing_temperature - wanted)
        fan = min(max(fan, 0.1), 1.0)
        state = plant.advance(5.0, replace(inputs, outdoor_fans=fan))
    after = state.circuits[0]
    assert after.condensing_temperature == pytest.approx(wanted, abs=0.3)
    return before, after


def slopes(device: str) -> tuple[float, float, float]:
    """Superheat and evaporating temperature per condensing temperature, and flow ratio, of the bench."""
    before, after = settled(device)
    rise = after.condensing_temperature - before.condensing_temperature
    return (
        (after.evaporator_superheat - before.evaporator_superheat) / rise,
        (after.evaporating_temperature - before.evaporating_temperature) / rise,
        after.valve_flow / before.valve_flow,
    )


def rig(device: str) -> tuple[float, float, float]:
    high, low = pair(device)
    rise = low["Tc_sat_C"] - high["Tc_sat_C"]
    superheat = (low["SH_T3_F"] - high["SH_T3_F"]) / 1.8 / rise
    return superheat, (low["Te_sat_C"] - high["Te_sat_C"]) / rise, low["mdot_lb_min"] / high["mdot_lb_min"]


def test_capillary() -> None:
    before, after = settled("capillary tube")
    assert before.evaporator_superheat * 1.8 > 25.0
    assert after.evaporator_superheat * 1.8 > 2.0  # not cut off
    superheat, evaporating, flow = slopes("capillary tube")
    measured = rig("capillary tube")
    assert 1 / 1.5 < superheat / measured[0] < 1.5
    assert 1 / 1.5 < evaporating / measured[1] < 1.5
    assert flow == pytest.approx(measured[2], abs=0.05)


def test_txv() -> None:
    superheat, evaporating, flow = slopes("TXV")
    measured = rig("TXV")
    assert 1 / 1.5 < evaporating / measured[1] < 1.5
    # the rig's TXV lets the superheat fall by 0.01 °F per °F, which its thermometers cannot tell from zero: a difference, no ratio
    assert superheat == pytest.approx(measured[0], abs=0.1)
    assert flow == pytest.approx(measured[2], abs=0.03)
