"""Compressors of the bench against published ten-coefficient maps, and a map in place of the bench's own curves.

Source: data/ahri540_maps.csv and data/ahri540_points.csv.
"""

from __future__ import annotations

from math import log

import pytest

from published_rows import kelvin, rows
from steadfeed.bench.compressor import Compressor, CompressorSpec, typical
from steadfeed.bench.fluid import fluid_of
from steadfeed.physics.compressor import CompressorMap
from steadfeed.physics.properties import curves
from steadfeed.units import POUND

POINTS = rows("ahri540_points.csv")


def maps() -> dict[str, tuple[str, CompressorMap]]:
    found: dict[str, dict[str, tuple[float, ...]]] = {}
    refrigerant: dict[str, str] = {}
    for row in rows("ahri540_maps.csv"):
        found.setdefault(row["compressor"], {})[row["quantity"]] = tuple(float(row[f"C{i}"]) for i in range(1, 11))
        refrigerant[row["compressor"]] = row["refrigerant"]
    return {name: (refrigerant[name], CompressorMap(q["mass_lb_h"], q["power_W"])) for name, q in found.items()}


def run(
    spec: CompressorSpec, refrigerant: str, suction: float, discharge: float, superheat: float = 20.0 / 1.8
) -> Compressor:
    """A compressor at dew temperatures and superheat [K], warm."""
    c = curves(refrigerant)
    fluid = fluid_of(c)
    low, high = c.dew_pressure(suction), c.dew_pressure(discharge)
    machine = Compressor(spec, 340.0)
    machine.command(1.0, 1.0)
    enthalpy = c.vapor_enthalpy(low, suction + superheat)
    for _ in range(200):
        machine.run(
            20.0, fluid, fluid.saturation(low), fluid.vapor(low), low, enthalpy, high, fluid.saturation(high), 308.0
        )
    return machine


@pytest.mark.parametrize(
    "point", POINTS, ids=lambda p: f"{p['compressor'][:12]}-{p['suction_dew_degF']}-{p['discharge_dew_degF']}"
)
def test_a_map_gives_its_flow_and_power(point: dict[str, str]) -> None:
    refrigerant, published = maps()[point["compressor"]]
    spec = CompressorSpec(kind="scroll", displacement=1.0e-3, map540=published)
    suction, discharge = kelvin(float(point["suction_dew_degF"])), kelvin(float(point["discharge_dew_degF"]))
    machine = run(spec, refrigerant, suction, discharge)
    assert machine.flow * 3600.0 / POUND == pytest.approx(float(point["mass_lb_h"]), rel=2e-3)
    assert machine.power == pytest.approx(float(point["power_W"]), rel=2e-3)


def slope_of_bench(kind: str, refrigerant: str) -> float:
    spec = typical(kind, 2.0e-3, 2600.0)  # type: ignore[arg-type]
    flows, ratios = [], []
    c = curves(refrigerant)
    for condensing in (100.0, 130.0):
        flows.append(run(spec, refrigerant, kelvin(45.0), kelvin(condensing)).flow)
        ratios.append(c.dew_pressure(kelvin(condensing)) / c.dew_pressure(kelvin(45.0)))
    return log(flows[1] / flows[0]) / (ratios[1] - ratios[0])


def test_volumetric_slopes_lie_among_the_published_ones() -> None:
    """d ln m / dPR at 45 °F evaporating, 100 to 130 °F condensing: flat maps −0.025…−0.041, others −0.006…−0.16."""
    published = {
        name: m.volumetric_slope(curves(r), kelvin(45.0), (kelvin(100.0), kelvin(130.0)))
        for name, (r, m) in maps().items()
    }
    flat = published["R410A 3 ton (ACHP GUI/comps/R410A.csv)"], published["R22 ZR24K3-PFV (HPSim HPdata.idf)"]
    assert min(flat) - 0.01 < slope_of_bench("scroll", "R-410A") < max(flat) + 0.01
    for kind in ("reciprocating", "rotary"):
        assert min(published.values()) < slope_of_bench(kind, "R-22") < max(published.values())
    assert slope_of_bench("reciprocating", "R-22") < slope_of_bench("rotary", "R-22") < slope_of_bench("scroll", "R-22")


def test_efficiency_of_the_bench_scroll_lies_near_the_published_map() -> None:
    """Power for the same flow at 45 °F evaporating, 110 and 130 °F condensing, within 12 % of the 3-ton R-410A map."""
    refrigerant, published = maps()["R410A 3 ton (ACHP GUI/comps/R410A.csv)"]
    spec = typical("scroll", 2.0e-3, 2600.0)
    for condensing in (110.0, 130.0):
        machine = run(spec, refrigerant, kelvin(45.0), kelvin(condensing))
        per_flow = published.power(kelvin(45.0), kelvin(condensing)) / published.mass_flow(
            kelvin(45.0), kelvin(condensing)
        )
        assert machine.power / machine.flow == pytest.approx(per_flow, rel=0.12)
