"""Compressor, coil, lines and metering devices, each alone."""

from __future__ import annotations

from dataclasses import replace
from math import exp

import pytest

from steadfeed.bench.coil import Coil
from steadfeed.bench.compressor import Compressor, CompressorSpec, typical
from steadfeed.bench.design import fahrenheit, split_system
from steadfeed.bench.fluid import fluid_of
from steadfeed.bench.lines import LineSpec, VaporLine, line_set
from steadfeed.bench.metering import (
    Eev,
    EevSpec,
    MeteringFaults,
    Orifice,
    OrificeSpec,
    Txv,
    TxvSpec,
    feed,
    throat_pressure,
)
from steadfeed.bench.plant import fan_flow
from steadfeed.physics import pipe
from steadfeed.physics.properties import curves
from steadfeed.units import PSI

R410A = curves("R-410A")
FLUID = fluid_of(R410A)


def run(
    machine: Compressor, suction_psia: float = 145.0, discharge_psia: float = 400.0, superheat: float = 8.0
) -> None:
    low, high = suction_psia * PSI, discharge_psia * PSI
    if superheat >= 0.0:
        enthalpy = R410A.vapor_enthalpy(low, R410A.dew_temperature(low) + superheat)
    else:  # so many K "below dew" stand for per cent of liquid
        row = FLUID.saturation(low)
        enthalpy = row[5] + superheat / 100.0 * (row[5] - row[3])
    machine.run(1.0, FLUID, FLUID.saturation(low), FLUID.vapor(low), low, enthalpy, high, FLUID.saturation(high), 308.0)


def warm(spec: CompressorSpec, leak: float = 0.0) -> Compressor:
    machine = Compressor(spec, 340.0, leak)
    machine.command(1.0, 1.0)
    return machine


SCROLL = typical("scroll", 1.9e-3, 2650.0)


def test_flow_falls_with_pressure_ratio_and_power_rises() -> None:
    usual, high = warm(SCROLL), warm(SCROLL)
    run(usual)
    run(high, discharge_psia=520.0)
    assert high.flow < usual.flow
    assert high.power > usual.power
    assert high.current == pytest.approx(high.power / (230.0 * 0.93))


def test_three_quarters_of_a_density_change_reach_the_flow() -> None:
    dry, hot = warm(SCROLL), warm(SCROLL)
    run(dry, superheat=5.0)
    run(hot, superheat=25.0)
    p = 145.0 * PSI
    dew = R410A.dew_temperature(p)
    density = R410A.vapor_density(p, dew + 25.0) / R410A.vapor_density(p, dew + 5.0) - 1.0
    assert (hot.flow / dry.flow - 1.0) / density == pytest.approx(0.75, abs=0.05)


def test_leaking_valves_cost_flow_and_not_power() -> None:
    tight, leaking = warm(SCROLL), warm(SCROLL, leak=0.3)
    run(tight)
    run(leaking)
    assert leaking.flow < 0.85 * tight.flow
    assert leaking.power == pytest.approx(tight.power)


def test_internal_relief_and_unloading() -> None:
    machine = warm(SCROLL)
    run(machine, discharge_psia=145.0 + 465.0)
    assert machine.relieving
    relieved = machine.flow
    strong = warm(replace(SCROLL, relief=0.0))
    run(strong, discharge_psia=145.0 + 465.0)
    assert relieved < 0.75 * strong.flow
    run(machine, suction_psia=30.0)
    kept = warm(replace(SCROLL, unloads_below=0.0))
    run(kept, suction_psia=30.0)
    assert machine.unloaded
    assert machine.flow < 0.8 * kept.flow


def test_wet_suction_needs_no_more_than_a_little_extra_power() -> None:
    dry, wet = warm(SCROLL), warm(SCROLL)
    run(dry, superheat=0.0)
    run(wet, superheat=-8.0)
    assert wet.flow > dry.flow
    assert wet.power < 1.2 * dry.power
    assert wet.discharge_enthalpy < dry.discharge_enthalpy


def test_stages_and_speeds() -> None:
    two = Compressor(replace(SCROLL, stages=(0.67, 1.0)), 300.0)
    two.command(1.0, 0.5)
    assert two.speed == 0.67
    two.command(1.0, 0.9)
    assert two.speed == 1.0
    inverter = Compressor(replace(SCROLL, speed_range=(0.3, 1.2)), 300.0)
    inverter.command(1.0, 1.0)
    assert inverter.speed == pytest.approx(0.32)
    for _ in range(60):
        inverter.command(1.0, 1.0)
    assert inverter.speed == pytest.approx(1.0)
    inverter.command(1.0, 0.0)
    assert not inverter.running
    assert inverter.speed == 0.0


def test_coil_effectiveness() -> None:
    spec = split_system(R410A).outdoor_coil
    coil = Coil(spec, 2.5e6, 1.0, 310.0)
    conductance, bypass, flow = coil.air_side(spec.air_flow)
    assert bypass == pytest.approx(exp(-spec.air / (spec.air_flow * 1020.0)))
    assert conductance == pytest.approx(flow * 1020.0 * (1.0 - bypass))
    half, _, _ = coil.air_side(0.6 * spec.air_flow, open_face=0.5)
    assert half < 0.7 * conductance


def test_covering_half_the_face_leaves_more_than_half_the_air() -> None:
    fan = split_system(R410A).outdoor_fan
    assert fan_flow(fan, 1.0) == pytest.approx(1.0)
    assert 0.5 < fan_flow(fan, 0.5) < 0.8
    assert fan_flow(fan, 0.25) < fan_flow(fan, 0.5)


def test_frost_melts_by_the_heat_of_the_metal() -> None:
    coil = Coil(split_system(R410A).outdoor_coil, 1e6, 1.0, 280.0)
    coil.frost = 0.1
    coil.melt(10.0)
    lost = (280.0 - coil.wall) * coil.spec.wall_capacity
    assert 0.0 < coil.frost < 0.1
    assert lost == pytest.approx((0.1 - coil.frost) * 3.34e5)


@pytest.mark.parametrize("length", [7.6, 30.0])
def test_line_losses_agree_with_the_pipe_formula(length: float) -> None:
    """Constant friction factors of the bench against Churchill's, which physics carries (within 20 %)."""
    line = LineSpec(length=length, drier=0.0)
    flow, density = 0.065, 980.0
    own = line.liquid_resistance() * flow * flow / density
    exact = pipe.friction_loss(flow, line.liquid_diameter, 1.3 * length, density, 1.1e-4)
    assert own == pytest.approx(exact, rel=0.2)
    own = line.suction_resistance() * flow * flow / 35.0
    exact = pipe.friction_loss(flow, line.suction_diameter, 1.3 * length, 35.0, 1.3e-5)
    assert own == pytest.approx(exact, rel=0.2)


def test_line_sets_are_usual_ones() -> None:
    three = line_set(0.065, 980.0, 33.0)
    assert three.liquid_diameter == 0.0079  # 3/8 in
    assert three.suction_diameter in (0.0173, 0.0199)  # 3/4 or 7/8 in
    assert three.liquid_resistance() * 0.065**2 / 980.0 < 35.0 * PSI


def test_a_vapor_line_delays_and_settles() -> None:
    line = VaporLine(2000.0, 0.0, 160.0, 0.065, 300.0)
    line.advance(1.0, 0.065, 4.3e5, 285.0, 1100.0, 308.0)
    assert line.outlet_temperature > 292.0
    for _ in range(600):
        line.advance(1.0, 0.065, 4.3e5, 285.0, 1100.0, 308.0)
    assert line.outlet_temperature == pytest.approx(285.0, abs=0.01)
    assert line.outlet_enthalpy == pytest.approx(4.3e5, abs=20.0)


# -- flow through a device ---------------------------------------------------------------------------------------------
def test_feed_is_a_square_root_of_the_drive() -> None:
    one = feed(1.0e-6, 0.0, 2.8e6, 1.2e6, 980.0, 120.0, 0.0)
    two = feed(1.0e-6, 0.0, 2.8e6 + 1.6e6, 1.2e6, 980.0, 120.0, 0.0)
    assert two / one == pytest.approx(2.0**0.5, rel=1e-3)
    assert one == pytest.approx(1e-6 * (2 * 980.0 * 1.6e6) ** 0.5, rel=5e-3)
    assert feed(1.0e-6, 0.0, 1.2e6, 2.8e6, 980.0, 120.0, 0.0) < 0.0
    assert feed(0.0, 0.0, 2.8e6, 1.2e6, 980.0, 120.0, 0.0) == 0.0


def test_flash_gas_and_piping_cut_the_feed() -> None:
    clean = feed(1.0e-6, 0.0, 2.8e6, 1.2e6, 980.0, 120.0, 0.0)
    assert feed(1.0e-6, 0.0, 2.8e6, 1.2e6, 980.0, 120.0, 0.05) < 0.9 * clean
    assert feed(1.0e-6, 5.0e11, 2.8e6, 1.2e6, 980.0, 120.0, 0.0) == pytest.approx(clean / 2.0**0.5, rel=1e-3)


def test_subcooling_and_choking_matter_to_an_orifice() -> None:
    """11 K of subcooling give a short tube about a quarter more flow (from memory of published correlations)."""
    up = 2.8e6
    bubble = R410A.bubble_pressure(R410A.bubble_temperature(up) - 11.0)
    without = (up - throat_pressure(up, 0.0)) ** 0.5
    with_it = (up - throat_pressure(bubble, 11.0)) ** 0.5
    assert with_it / without == pytest.approx(1.27, abs=0.07)


# -- devices -----------------------------------------------------------------------------------------------------------
UNIT = split_system(R410A)
assert isinstance(UNIT.device, TxvSpec)
TXV: TxvSpec = UNIT.device
EVAPORATING = UNIT.rated_evaporating
EQUALIZER = R410A.dew_pressure(EVAPORATING)


def settle(superheat: float, spec: TxvSpec = TXV, drive: float | None = None, **faults: object) -> Txv:
    """A TXV after ten minutes at a superheat [°F]."""
    valve = Txv(spec, R410A, MeteringFaults(**faults), EVAPORATING, UNIT.device_opening, EVAPORATING)  # type: ignore[arg-type]
    around = EVAPORATING + 20.0
    for _ in range(600):
        valve.advance(
            1.0, True, EVAPORATING + superheat / 1.8, EQUALIZER, around, drive or spec.port_at, superheat / 1.8
        )
    return valve


def test_a_txv_opens_with_superheat() -> None:
    openings = [settle(sh).opening for sh in (2.0, 6.0, 9.0, 12.0, 25.0)]
    assert openings == sorted(openings)
    assert openings[0] == pytest.approx(0.0, abs=1e-6)
    assert openings[2] == pytest.approx(UNIT.device_opening, abs=0.1)
    assert openings[-1] == pytest.approx(1.0)


def test_what_a_bleed_a_leak_and_a_tight_seat_leave_open() -> None:
    shut = settle(-5.0)
    assert shut.area_now == pytest.approx(0.01 * TXV.area)
    assert settle(-5.0, replace(TXV, leak=0.0)).area_now == 0.0
    assert settle(-5.0, replace(TXV, bleed=0.15)).area_now == pytest.approx(0.16 * TXV.area)


def test_a_bulb_lags() -> None:
    valve = settle(9.0)
    valve.advance(1.0, True, EVAPORATING + 20.0, EQUALIZER, 300.0, TXV.port_at, 20.0)
    first = valve.bulb
    slow = settle(9.0, bulb_slow=5.0)
    slow.advance(1.0, True, EVAPORATING + 20.0, EQUALIZER, 300.0, TXV.port_at, 20.0)
    assert first - settle(9.0).bulb > 3.0 * (slow.bulb - settle(9.0, bulb_slow=5.0).bulb)


def test_faults_of_a_txv() -> None:
    normal = settle(9.0).opening
    assert settle(9.0, parked=0.3).opening == 0.3
    assert settle(25.0, parked=0.3).opening == 0.3
    weak = settle(10.5, strength=0.3).opening - settle(9.0, strength=0.3).opening
    assert 0.0 < weak < 0.5 * (settle(10.5).opening - normal)
    assert settle(9.0, bulb_contact=0.6).opening > normal  # a loose bulb feels the warm air
    assert settle(9.0, bulb_empty=0.2).opening < normal
    assert settle(9.0, bulb_empty=1.0).opening == pytest.approx(0.0, abs=1e-6)
    assert settle(9.0, undersized=0.5).area_now == pytest.approx(0.5 * settle(9.0).area_now)
    assert settle(9.0, bypass=0.3).area_now == pytest.approx(settle(9.0).area_now + 0.3 * TXV.area)


def test_a_sticking_stem_does_not_answer_small_changes() -> None:
    valve = settle(9.0, friction=3.0 / 1.8)
    held = valve.opening

    def at(superheat: float) -> float:
        for _ in range(300):
            valve.advance(1.0, True, EVAPORATING + superheat / 1.8, EQUALIZER, 300.0, TXV.port_at, superheat / 1.8)
        return valve.opening

    assert at(5.0) == held  # on the way back it stands until the band is crossed
    assert at(2.0) < held - 0.1


def test_mop_throttles_on_pressure() -> None:
    limited = replace(TXV, mop=R410A.dew_pressure(fahrenheit(55.0)))
    valve = Txv(limited, R410A, MeteringFaults(), 300.0, 0.62, EVAPORATING)
    high = R410A.dew_pressure(fahrenheit(52.0))
    for _ in range(300):
        valve.advance(1.0, True, fahrenheit(75.0), high, 300.0, TXV.port_at, 10.0)
    assert valve.opening == pytest.approx(0.0, abs=1e-3)  # wide superheat, but pressure over the limit
    assert settle(25.0).opening == pytest.approx(1.0)


def test_an_unbalanced_port_opens_with_the_drive() -> None:
    conventional = replace(TXV, port=0.02)
    higher = settle(9.0, conventional, drive=1.4 * TXV.port_at).opening
    assert higher > settle(9.0, conventional).opening + 0.05
    assert settle(9.0, drive=1.4 * TXV.port_at).opening == pytest.approx(settle(9.0).opening)


def test_a_plugged_equalizer_keeps_its_pressure_and_a_half_plugged_one_lags() -> None:
    def drop(**faults: object) -> float:
        valve = settle(9.0, **faults)
        before = valve.opening
        for _ in range(10):
            valve.advance(1.0, True, EVAPORATING + 5.0, 0.9 * EQUALIZER, 300.0, TXV.port_at, 5.0)
        return valve.opening - before

    free, half, plugged = drop(), drop(equalizer_lag=40.0), drop(equalizer_plugged=True)
    assert free > half > plugged
    assert plugged == pytest.approx(0.0, abs=0.02)


def test_an_eev_steps_towards_its_target() -> None:
    spec = EevSpec(area=2e-6, target=5.0)
    valve = Eev(spec, MeteringFaults(), 280.0, 0.6)
    for _ in range(60):
        valve.advance(1.0, True, 285.0, EQUALIZER, 300.0, 1.5e6, 5.0)
    at_target = valve.steps
    assert at_target == round(at_target)
    for _ in range(60):
        valve.advance(1.0, True, 288.0, EQUALIZER, 300.0, 1.5e6, 8.0)
    assert valve.steps > at_target + 10
    for _ in range(60):
        valve.advance(1.0, False, 288.0, EQUALIZER, 300.0, 1.5e6, 8.0)
    assert valve.steps == 0.0
    stuck = Eev(spec, MeteringFaults(parked=0.5), 280.0, 0.6)
    for _ in range(60):
        stuck.advance(1.0, True, 300.0, EQUALIZER, 300.0, 1.5e6, 20.0)
    assert stuck.steps == 240.0


def test_an_orifice_never_moves() -> None:
    orifice = Orifice(OrificeSpec(area=1e-6), MeteringFaults(bypass=0.1), 280.0)
    orifice.advance(1.0, True, 290.0, EQUALIZER, 300.0, 1.5e6, 10.0)
    assert orifice.area_now == pytest.approx(1.1e-6)
    assert orifice.chokes
