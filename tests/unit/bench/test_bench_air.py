"""Moist air of the bench against the handbook values that physics is tested with."""

from __future__ import annotations

import pytest

from steadfeed.bench.air import (
    SaturatedAir,
    humidity_ratio,
    relative_to_ratio,
    saturation_humidity_ratio,
    saturation_vapor_pressure,
    wet_bulb,
)
from steadfeed.physics import moist_air
from steadfeed.units import STANDARD_ATMOSPHERE


@pytest.mark.parametrize("celsius", [-20.0, -5.0, 0.5, 12.0, 27.0, 45.0])
def test_saturation_pressure(celsius: float) -> None:
    assert saturation_vapor_pressure(celsius + 273.15) == pytest.approx(
        moist_air.saturation_pressure(celsius + 273.15), rel=3e-4
    )


@pytest.mark.parametrize(("dry", "wet"), [(26.67, 19.44), (35.0, 24.0), (21.1, 15.6), (8.3, 6.1)])
def test_humidity_and_wet_bulb(dry: float, wet: float) -> None:
    dry, wet = dry + 273.15, wet + 273.15
    for atmosphere in (STANDARD_ATMOSPHERE, 84_000.0):
        ratio = humidity_ratio(dry, wet, atmosphere)
        assert ratio == pytest.approx(moist_air.humidity_ratio_from_wet_bulb(dry, wet, atmosphere), rel=2e-3)
        assert wet_bulb(dry, ratio, atmosphere) == pytest.approx(wet, abs=0.01)


def test_wet_bulb_of_saturated_air_is_its_dry_bulb() -> None:
    assert wet_bulb(290.0, 0.03, STANDARD_ATMOSPHERE) == 290.0


def test_relative_humidity() -> None:
    assert relative_to_ratio(300.0, 0.5, STANDARD_ATMOSPHERE) == pytest.approx(
        moist_air.humidity_ratio_from_relative_humidity(300.0, 0.5, STANDARD_ATMOSPHERE), rel=1e-3
    )


def test_saturated_air_table() -> None:
    table = SaturatedAir(90_000.0)
    for kelvin in (255.3, 273.15, 283.77, 301.1):
        assert table.at(kelvin) == pytest.approx(saturation_humidity_ratio(kelvin, 90_000.0), rel=2e-3)
    assert table.at(100.0) == table.at(213.15)
    assert table.at(900.0) > table.at(350.0)
