"""The line set and the compressor relations: signs, limits, arrays."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.errors import FixInput, OutOfRange
from steadfeed.physics import pipe
from steadfeed.physics.compressor import VOLUMETRIC_SLOPES, ln_flow_ratio, pressure_ratio, ten_coefficients
from steadfeed.physics.properties import curves

C = curves("R-410A")
HEAD = C.bubble_pressure(320.0)


def test_without_line_the_subcooling_at_the_valve_is_that_at_the_gauge() -> None:
    assert pipe.subcooling_at_valve(C, HEAD, 312.0) == pytest.approx(8.0, abs=1e-3)


@given(st.floats(0.0, 3e5), st.floats(0.0, 30.0), st.floats(0.0, 5.0))
def test_loss_lift_and_warming_each_take_subcooling(loss: float, lift: float, warming: float) -> None:
    left = pipe.subcooling_at_valve(C, HEAD, 312.0, loss, lift, warming)
    assert left <= 8.0 + 1e-3
    assert pipe.subcooling_at_valve(C, HEAD, 312.0, loss + 1e4, lift, warming) < left
    assert pipe.subcooling_at_valve(C, HEAD, 312.0, loss, lift + 1.0, warming) < left
    assert pipe.subcooling_at_valve(C, HEAD, 312.0, loss, lift, warming + 0.5) == pytest.approx(left - 0.5, abs=1e-9)


def test_a_valve_below_the_unit_gains_subcooling() -> None:
    assert pipe.subcooling_at_valve(C, HEAD, 312.0, lift=-5.0) > 8.0


def test_liquid_warmer_than_bubble_gives_less_than_none() -> None:
    assert pipe.subcooling_at_valve(C, HEAD, 323.0, lift=3.0) < -3.0


def test_subcooling_over_arrays_is_that_of_floats_and_missing_stays_missing() -> None:
    head = np.array([HEAD, 1.1 * HEAD, math.nan, 1e9])
    liquid = np.array([312.0, 325.0, 312.0, 312.0])
    left = pipe.subcooling_at_valve(C, head, liquid, 2e4, 3.0, outside="nan")
    assert np.isnan(left).tolist() == [False, False, True, True]
    assert left[1] == pytest.approx(pipe.subcooling_at_valve(C, 1.1 * HEAD, 325.0, 2e4, 3.0), abs=1e-9)
    with pytest.raises(OutOfRange):
        pipe.subcooling_at_valve(C, head, liquid, 2e4, 3.0)


def test_loss_follows_the_flow() -> None:
    diameter = pipe.inside_diameter(0.375 * 0.0254)
    loss = pipe.liquid_line_loss(C, HEAD, 312.0, 0.06, diameter, 15.0)
    assert pipe.liquid_line_loss(C, HEAD, 312.0, -0.06, diameter, 15.0) == -loss
    assert pipe.liquid_line_loss(C, HEAD, 312.0, 0.0, diameter, 15.0) == 0.0
    # turbulent in a nearly smooth tube: between the 1.75th power of smooth ones and the 2nd of rough ones
    assert 2.0**1.75 < pipe.liquid_line_loss(C, HEAD, 312.0, 0.12, diameter, 15.0) / loss < 2.0**2
    wide = pipe.inside_diameter(0.5 * 0.0254)
    assert pipe.liquid_line_loss(C, HEAD, 312.0, 0.06, wide, 15.0) < loss / 4.0


def test_suction_line_loss_is_of_the_order_of_practice() -> None:
    """3 tons of R-410A through 50 ft of 7/8 in: some tenths of a psi to 3 psi (common practice: designed for 3 to 5 psi)."""
    suction = C.dew_pressure(280.0)
    loss = pipe.suction_line_loss(C, suction, 286.0, 0.063, pipe.inside_diameter(0.875 * 0.0254), 15.24)
    assert 0.3 < loss / 6894.757 < 3.0


@pytest.mark.parametrize("outside_in", [0.1, 2.5])
def test_tubes_that_are_not_in_the_table_are_refused(outside_in: float) -> None:
    with pytest.raises(OutOfRange, match=r"0\.25 to 1\.625 in"):
        pipe.inside_diameter(outside_in * 0.0254)


def test_tubes_between_the_sizes_are_between_them() -> None:
    assert pipe.inside_diameter(0.010) == pytest.approx(0.010 - 2 * 0.032 * 0.0254, abs=1e-5)


def test_friction_factor_over_an_array() -> None:
    reynolds = np.array([500.0, 1e4, 1e6])
    assert pipe.friction_factor(reynolds, 1e-4) == pytest.approx(
        [pipe.friction_factor(float(r), 1e-4) for r in reynolds]
    )


def test_flow_follows_density_and_pressure_ratio() -> None:
    assert ln_flow_ratio(33.0, 33.0, 3.0, 3.0, -0.03) == 0.0
    assert ln_flow_ratio(33.0, 30.0, 3.0, 3.0, -0.03) == pytest.approx(math.log(1.1))
    assert ln_flow_ratio(33.0, 33.0, 4.0, 3.0, -0.03) == pytest.approx(-0.03)
    array = ln_flow_ratio(np.array([33.0]), np.array([30.0]), np.array([4.0]), np.array([3.0]), -0.03)
    assert array[0] == pytest.approx(math.log(1.1) - 0.03)
    assert pressure_ratio(1e6, 3e6) == 3.0


def test_every_kind_of_compressor_has_a_slope_with_its_source() -> None:
    assert set(VOLUMETRIC_SLOPES) == {"scroll", "reciprocating", "rotary", "unknown"}
    for slope in VOLUMETRIC_SLOPES.values():
        assert slope.value < 0 < slope.uncertainty
        assert slope.source
    assert VOLUMETRIC_SLOPES["unknown"].uncertainty > VOLUMETRIC_SLOPES["scroll"].uncertainty


def test_a_map_has_ten_coefficients() -> None:
    with pytest.raises(FixInput, match="these are 9"):
        ten_coefficients([0.0] * 9, 45.0, 110.0)
