"""The bench's rows against the curves they are made from."""

from __future__ import annotations

import pytest

from steadfeed.bench.fluid import entropy_of, fluid_of, rise_at_entropy, rise_of, superheat_of, swelling_of
from steadfeed.physics.properties import curves

REFRIGERANTS = ["R-410A", "R-22", "R-32", "R-134a", "R-407C", "R-454B", "R-290", "R-12"]


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_saturation_rows(name: str) -> None:
    c = curves(name)
    fluid = fluid_of(c)
    for celsius in (-20.0, 3.3, 7.7, 31.0, 48.8):
        p = c.dew_pressure(273.15 + celsius)
        row = fluid.saturation(p)
        assert row[0] == pytest.approx(c.bubble_temperature(p), abs=0.002)
        assert row[1] == pytest.approx(c.dew_temperature(p), abs=0.002)
        assert row[2] == pytest.approx(c.liquid_density(p, row[0] - 1e-3), rel=1e-4)
        assert row[3] == pytest.approx(c.liquid_enthalpy(p, row[0] - 1e-3), abs=15.0)
        assert row[4] == pytest.approx(c.vapor_density(p, row[1] + 2e-3), rel=2e-4)
        assert row[5] == pytest.approx(c.vapor_enthalpy(p, row[1] + 2e-3), abs=15.0)
        # slopes against differences of the curves
        step = 2e-3 * p
        assert row[8] == pytest.approx(
            (c.dew_temperature(p + step) - c.dew_temperature(p - step)) / (2 * step), rel=5e-3
        )
        assert row[9] * step == pytest.approx(
            (c.liquid_enthalpy(p + step, c.bubble_temperature(p + step)) - row[3]), rel=0.02
        )


@pytest.mark.parametrize("name", REFRIGERANTS)
@pytest.mark.parametrize("superheat", [3.0, 10.0, 25.0, 60.0])
def test_vapor_rows(name: str, superheat: float) -> None:
    c = curves(name)
    fluid = fluid_of(c)
    # suction gas: everything is asked of it
    for celsius in (-5.0, 7.2):
        dew = 273.15 + celsius
        p = c.dew_pressure(dew)
        v, row = fluid.vapor(p), fluid.saturation(p)
        rise = c.vapor_enthalpy(p, dew + superheat) - c.vapor_enthalpy(p, dew)
        assert rise_of(superheat, v) == pytest.approx(rise, rel=0.002, abs=40.0)
        assert superheat_of(rise_of(superheat, v), v) == pytest.approx(superheat, abs=0.05)
        density = row[4] / swelling_of(superheat, v)
        assert density == pytest.approx(c.vapor_density(p, dew + superheat), rel=0.004)
        assert entropy_of(superheat, v) == pytest.approx(c.vapor_entropy(p, dew + superheat), abs=0.3)
    # hot gas: superheat from enthalpy, enthalpy from entropy
    for celsius in (38.0, 49.0):
        dew = 273.15 + celsius
        p = c.dew_pressure(dew)
        v, row = fluid.vapor(p), fluid.saturation(p)
        rise = c.vapor_enthalpy(p, dew + superheat) - c.vapor_enthalpy(p, dew)
        assert superheat_of(rise, v) == pytest.approx(superheat, rel=0.002, abs=0.05)
        entropy = c.vapor_entropy(p, dew + superheat)
        assert rise_at_entropy(entropy, v, row[1]) == pytest.approx(rise, abs=50.0)


def test_superheat_goes_straight_on_beyond_the_rows() -> None:
    v = fluid_of(curves("R-410A")).vapor(2.7e6)
    inside, outside = superheat_of(v[19], v), superheat_of(v[19] + 10e3, v)
    assert outside - inside == pytest.approx(10e3 / v[21], rel=1e-3)
    assert 5.0 < outside - inside < 12.0
