"""Instruments: each fault shows what it says, on a state whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import numpy as np
import pytest

from steadfeed.bench.instruments import Kit, columns_of, take_rows
from steadfeed.bench.plant import Plant
from steadfeed.bench.sensors import joined, rounded
from steadfeed.bench.settings import F, Gap, InstrumentFault, KitSettings, Settings
from steadfeed.bench.setup import plant_of
from steadfeed.bench.state import State
from steadfeed.units import PSI, STANDARD_ATMOSPHERE

QUIET = KitSettings(
    pressure_noise=0.0, temperature_noise=0.0, pressure_resolution=0.0, temperature_resolution=0.0, gauge_lag=0.0,
    clamp_lag=0.0, clamp_air=0.0,
)  # fmt: skip
AIR = STANDARD_ATMOSPHERE
VITAL = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


@pytest.fixture(scope="module")
def running() -> State:
    """A healthy unit in cooling after ten minutes, a third of its face covered."""
    from dataclasses import replace as other

    plant: Plant = plant_of(Settings())
    inputs = other(plant.inputs, call=1.0, cover=0.0)
    for _ in range(60):
        plant.advance(10.0, inputs)
    for _ in range(12):
        plant.advance(10.0, other(inputs, cover=0.33))
    return plant.state()


def show(state: State, seconds: int = 1, **changes: object) -> dict[str, float]:
    kit = Kit(replace(QUIET, **changes), 1, AIR, 0.0, 1)  # type: ignore[arg-type]
    for k in range(seconds):
        values = kit.read(float(k), state)
    return {c.channel: v for c, v in zip(kit.columns, values, strict=True)}


def fault(channel: str, what: str, **more: float | str) -> dict[str, tuple[InstrumentFault, ...]]:
    return {"faults": (InstrumentFault(channel, what, **more),)}  # type: ignore[arg-type]


def test_without_faults_the_truth_is_shown(running: State) -> None:
    c, seen = running.circuits[0], show(running)
    assert seen["suction_pressure"] == pytest.approx((c.suction_pressure - AIR) / PSI, abs=1e-6)
    assert seen["liquid_pressure"] == pytest.approx((c.liquid_pressure - AIR) / PSI, abs=1e-6)
    assert seen["suction_line_temperature"] == pytest.approx(c.suction_line_temperature * 1.8 - 459.67, abs=1e-6)
    assert seen["outdoor_air_temperature"] == pytest.approx(running.outdoor_air_temperature * 1.8 - 459.67, abs=1e-6)


def test_offset_and_gain_move_the_reading(running: State) -> None:
    true = show(running)["suction_pressure"]
    assert show(running, suction_offset=2.0 * PSI)["suction_pressure"] == pytest.approx(true + 2.0)
    assert show(running, suction_gain=0.02)["suction_pressure"] == pytest.approx(true * 1.02)
    assert show(running, **fault("suction_pressure", "offset", size=-3.0 * PSI))["suction_pressure"] == pytest.approx(
        true - 3
    )


def test_the_reference_is_the_air_or_the_sea(running: State) -> None:
    high = 78_000.0

    def at(reference: str, unit: str) -> float:
        kit = Kit(replace(QUIET, pressure_reference=reference, pressure_unit=unit), 1, high, 0.0, 1)  # type: ignore[arg-type]
        return kit.read(0.0, running)[0]

    p = running.circuits[0].suction_pressure
    assert at("vented", "psig") == pytest.approx((p - high) / PSI)
    assert at("sealed", "psig") == pytest.approx((p - STANDARD_ATMOSPHERE) / PSI)
    assert at("absolute", "psia") == pytest.approx(p / PSI)


def test_a_clamp_off_the_pipe_goes_to_the_air(running: State) -> None:
    seen = show(running, 200, **fault("suction_line_temperature", "off the pipe"))
    assert seen["suction_line_temperature"] == pytest.approx(seen["outdoor_air_temperature"], abs=0.1)


def test_warm_exhaust_warms_a_clamp_only_under_a_cover(running: State) -> None:
    true = show(running)["suction_line_temperature"]
    seen = show(running, **fault("suction_line_temperature", "warm exhaust", size=0.1))["suction_line_temperature"]
    exhaust = (running.coil_outlet_temperature - running.outdoor_air_temperature) * 1.8
    assert seen - true == pytest.approx(0.1 * exhaust * 0.66, abs=0.01)
    assert seen - true > 1.0
    bare = replace_state(running, cover=0.0)
    assert show(bare, **fault("suction_line_temperature", "warm exhaust", size=0.1))[
        "suction_line_temperature"
    ] == pytest.approx(true)


def replace_state(state: State, **changes: float) -> State:
    import copy

    other = copy.copy(state)
    for name, value in changes.items():
        setattr(other, name, value)
    return other


def test_sun_and_poor_contact_warm_a_cold_clamp(running: State) -> None:
    true = show(running)
    sun = show(running, 100, **fault("liquid_line_temperature", "in the sun", size=3.0 * F))
    assert 1.0 < sun["liquid_line_temperature"] - true["liquid_line_temperature"] < 6.0
    poor = show(running, **fault("suction_line_temperature", "poor contact", size=0.2))
    expected = true["suction_line_temperature"] + 0.2 * (
        true["outdoor_air_temperature"] - true["suction_line_temperature"]
    )
    assert poor["suction_line_temperature"] == pytest.approx(expected)


def test_a_frozen_gauge_repeats_itself(running: State) -> None:
    kit = Kit(replace(QUIET, pressure_noise=0.2 * PSI, **fault("suction_pressure", "frozen", at=5.0)), 1, AIR, 0.0, 1)  # type: ignore[arg-type]
    values = [kit.read(float(k), running)[0] for k in range(30)]
    assert len(set(values[:5])) > 1
    assert len(set(values[6:])) == 1


def test_a_shut_hose_keeps_its_pressure_while_the_truth_moves(running: State) -> None:
    import copy

    kit = Kit(replace(QUIET, **fault("suction_pressure", "hose valve shut", at=1.0)), 1, AIR, 0.0, 1)  # type: ignore[arg-type]
    before = kit.read(0.0, running)[0]
    moved = copy.deepcopy(running)
    moved.circuits[0].suction_pressure += 20 * PSI
    for k in range(1, 20):
        after = kit.read(float(k), moved)[0]
    assert after == pytest.approx(before, abs=1e-6)


def test_a_wrong_port_shows_the_other_pressure(running: State) -> None:
    seen = show(running, **fault("suction_pressure", "wrong port", place="discharge_pressure"))
    assert seen["suction_pressure"] == pytest.approx((running.circuits[0].discharge_pressure - AIR) / PSI)


def test_dropouts_leave_holes(running: State) -> None:
    kit = Kit(replace(QUIET, **fault("suction_pressure", "dropouts", size=0.5)), 1, AIR, 0.0, 1)  # type: ignore[arg-type]
    values = [kit.read(float(k), running)[0] for k in range(200)]
    assert 60 < sum(isnan(v) for v in values) < 140


def test_a_needle_stands_until_it_has_to_move(running: State) -> None:
    import copy

    kit = Kit(replace(QUIET, stiction=1.5 * PSI), 1, AIR, 0.0, 1)
    first = kit.read(0.0, running)[0]
    state = copy.deepcopy(running)
    state.circuits[0].suction_pressure += 1.0 * PSI
    assert kit.read(1.0, state)[0] == pytest.approx(first, abs=1e-9)
    state.circuits[0].suction_pressure += 2.0 * PSI
    moved = kit.read(2.0, state)[0]
    assert first + 2.0 < moved < first + 3.0


def test_leaking_manifold_valves_join_the_gauges_only_at_standstill(running: State) -> None:
    kit = Kit(replace(QUIET, manifold_leak=1.0), 1, AIR, 0.0, 1)
    for k in range(60):
        on = kit.read(float(k), running)
    assert on[1] - on[0] > 100.0
    import copy

    standing = copy.deepcopy(running)
    standing.circuits[0].running = False
    for k in range(60, 260):
        off = kit.read(float(k), standing)
    assert off[0] == pytest.approx(off[1], abs=1.0)
    assert joined(100.0, 300.0, 0.5) == (150.0, 250.0)


def test_a_wrong_unit_is_only_in_the_header(running: State) -> None:
    kit = Kit(replace(QUIET, wrong_unit="temperature"), 1, AIR, 0.0, 1)
    column = next(c for c in kit.columns if c.channel == "suction_line_temperature")
    assert column.header.endswith("_degF")
    value = kit.read(0.0, running)[kit.columns.index(column)]
    assert value == pytest.approx(running.circuits[0].suction_line_temperature - 273.15)


def test_the_eye_parts_only_so_fine(running: State) -> None:
    seen = show(running, pressure_resolution=5.0 * PSI)
    assert seen["suction_pressure"] % 5.0 == pytest.approx(0.0, abs=1e-6)
    assert rounded(2.5, 1.0) == 3.0
    assert isnan(rounded(float("nan"), 1.0))


def test_noise_has_its_size_and_wanders(running: State) -> None:
    kit = Kit(replace(QUIET, pressure_noise=0.2 * PSI), 1, AIR, 0.0, 3)
    values = np.array([kit.read(float(k), running)[0] for k in range(3000)])
    true = (running.circuits[0].suction_pressure - AIR) / PSI
    assert values.mean() == pytest.approx(true, abs=0.06)
    assert 0.18 < values.std() < 0.32
    lagged = np.corrcoef(values[:-20], values[20:])[0, 1]
    assert lagged > 0.05  # not white: neighbours 20 s apart still agree a little


def test_two_circuits_get_prefixes() -> None:
    names = [c.header for c in columns_of(KitSettings(), 2)]
    assert names[0] == "c1_suction_pressure_psig"
    assert "c2_liquid_line_temperature_degF" in names
    assert names.count("outdoor_air_temperature_degF") == 1


def test_rows_are_lost_doubled_and_put_out_of_order_as_asked() -> None:
    time = np.arange(1000.0)
    shown = np.column_stack([time, time])
    columns = columns_of(KitSettings(), 1)[:2]
    rng = np.random.default_rng(1)
    kit = replace(
        KitSettings(), duplicates=0.05, disorder=0.05, dropouts=0.1, gaps=(Gap(100.0, 50.0),), clock_drift=0.01
    )
    got = take_rows(kit, columns, time, shown, 0.0, (), rng)
    kept = got.time / 1.01
    assert not np.any((kept > 100.5) & (kept < 149.5))
    assert got.time.shape[0] > 950
    assert np.any(np.diff(got.time) < 0.0)
    assert np.any(np.diff(got.time) == 0.0)
    assert 0.05 < np.isnan(got.values).mean() < 0.15
    assert got.time.max() == pytest.approx(999.0 * 1.01)


def test_a_row_by_hand_is_read_gauge_after_gauge() -> None:
    time = np.arange(1000.0)
    columns = columns_of(KitSettings(), 1)[:4]
    shown = np.repeat(time[:, None], 4, axis=1)
    got = take_rows(
        KitSettings(sampling="by hand"), columns, time, shown, 0.0, [100.0, 300.0], np.random.default_rng(2)
    )
    assert list(got.time) == [100.0, 300.0]
    assert np.all(np.diff(got.values[0]) > 1.0)
    assert got.values[0, 3] - got.values[0, 0] < 20.0
