"""Published ten-coefficient maps (form of AHRI Standard 540) and the slope of volumetric efficiency that they imply."""

from __future__ import annotations

import pytest

from published_rows import kelvin, rows
from steadfeed.physics.compressor import (
    VOLUMETRIC_SLOPES,
    CompressorMap,
    flow_for_capacity,
    ten_coefficients,
)
from steadfeed.physics.properties import curves
from steadfeed.units import POUND, TON


def maps() -> dict[str, tuple[str, CompressorMap]]:
    found: dict[str, dict[str, tuple[float, ...]]] = {}
    refrigerant = {}
    for row in rows("ahri540_maps.csv"):
        found.setdefault(row["compressor"], {})[row["quantity"]] = tuple(float(row[f"C{i}"]) for i in range(1, 11))
        refrigerant[row["compressor"]] = row["refrigerant"]
    return {name: (refrigerant[name], CompressorMap(q["mass_lb_h"], q["power_W"])) for name, q in found.items()}


MAPS = maps()
POINTS = rows("ahri540_points.csv")

# d ln m / d(pressure ratio) at 45 °F evaporating, 100 to 130 °F condensing, worked out by hand from the maps' mass flows
# and printed saturation pressures; scroll-like maps are the flat ones
FLAT, STEEP = (-0.045, -0.02), (-0.18, -0.05)
SLOPES = {
    "R410A 3 ton (ACHP GUI/comps/R410A.csv)": FLAT,
    "R22 ZR24K3-PFV (HPSim HPdata.idf)": FLAT,
    "R134a (ACHP GUI/comps/R134a.csv)": (-0.012, 0.0),
    "R22 (ACHP GUI/comps/R22.csv)": STEEP,
    "R410A H82J273ABC (HPSim TestSuite HPdata_3TonAC_410.idf)": STEEP,
}


@pytest.mark.parametrize(
    "point", POINTS, ids=lambda p: f"{p['compressor'][:12]}-{p['suction_dew_degF']}-{p['discharge_dew_degF']}"
)
def test_maps_evaluate_as_elsewhere(point: dict[str, str]) -> None:
    refrigerant, compressor = MAPS[point["compressor"]]
    suction, discharge = kelvin(float(point["suction_dew_degF"])), kelvin(float(point["discharge_dew_degF"]))
    flow = compressor.mass_flow(suction, discharge)
    assert flow * 3600.0 / POUND == pytest.approx(float(point["mass_lb_h"]), rel=1e-4)
    assert compressor.power(suction, discharge) == pytest.approx(float(point["power_W"]), rel=1e-4)
    # capacity with 20 °F of superheat and liquid 15 °F below discharge dew there must need this flow here (there the
    # enthalpy of subcooled liquid is taken as that of bubble liquid of the same temperature)
    c = curves(refrigerant)
    low, subcooled = c.dew_pressure(suction), discharge - 15.0 * 5.0 / 9.0
    liquid = c.liquid_enthalpy(c.bubble_pressure(subcooled), subcooled)
    capacity = float(point["capacity_Btu_h"]) * TON / 12000.0
    needed = flow_for_capacity(c, capacity, low, suction + 20.0 * 5.0 / 9.0, liquid)
    assert needed == pytest.approx(flow, rel=0.002)


@pytest.mark.parametrize("name", sorted(SLOPES))
def test_slope_of_volumetric_efficiency(name: str) -> None:
    refrigerant, compressor = MAPS[name]
    slope = compressor.volumetric_slope(curves(refrigerant), kelvin(45.0), (kelvin(100.0), kelvin(130.0)))
    low, high = SLOPES[name]
    assert low <= slope <= high


def test_prior_of_scrolls_holds_the_flat_maps() -> None:
    """Two flat maps of unlike capacity and refrigerant lie within the prior at k = 2; the steep ones are not scrolls."""
    prior = VOLUMETRIC_SLOPES["scroll"]
    for name, limits in SLOPES.items():
        refrigerant, compressor = MAPS[name]
        slope = compressor.volumetric_slope(curves(refrigerant), kelvin(45.0), (kelvin(100.0), kelvin(130.0)))
        assert (abs(slope - prior.value) <= 2 * prior.uncertainty) == (limits is not STEEP), name


def test_prior_of_an_unknown_compressor_reaches_all_maps() -> None:
    """A mixture of kinds has long tails: at k = 3 all five maps lie within it."""
    prior = VOLUMETRIC_SLOPES["unknown"]
    for refrigerant, compressor in MAPS.values():
        slope = compressor.volumetric_slope(curves(refrigerant), kelvin(45.0), (kelvin(100.0), kelvin(130.0)))
        assert abs(slope - prior.value) <= 3 * prior.uncertainty


def test_order_of_the_ten_terms() -> None:
    """Each coefficient alone, at S = 2 and D = 3: 1, S, D, S², SD, D², S³, DS², SD², D³."""
    terms = [1.0, 2.0, 3.0, 4.0, 6.0, 9.0, 8.0, 12.0, 18.0, 27.0]
    for i, term in enumerate(terms):
        coefficients = [0.0] * 10
        coefficients[i] = 1.0
        assert ten_coefficients(coefficients, 2.0, 3.0) == term
