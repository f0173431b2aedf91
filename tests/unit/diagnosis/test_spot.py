"""Spot readings: definitions, uncertainty by the GUM, places, and what is left out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from steadfeed.analysis.spot import PLACES, SPOT_KINDS, Spot, SpotReadings, evaluate, standard_uncertainty
from steadfeed.circuit.equipment import Instruments, MeteringDevice, Nameplate, System
from steadfeed.physics import moist_air
from steadfeed.physics.properties import curves
from steadfeed.units import PSI, STANDARD_ATMOSPHERE, TON, to_si

F = 5.0 / 9.0
TXV = System(
    refrigerant="R-410A", metering_device=MeteringDevice.TXV, nominal_capacity=3.0 * TON, nameplate=Nameplate(rated_current=16.0)
)  # fmt: skip


def si(**typed: tuple[float, str]) -> dict[str, float]:
    return {name: to_si(v, unit, SPOT_KINDS[name], STANDARD_ATMOSPHERE) for name, (v, unit) in typed.items()}


FOUR = si(
    suction_pressure=(118, "psig"), liquid_pressure=(365, "psig"), suction_line_temperature=(52, "degF"),
    liquid_line_temperature=(99, "degF"),
)  # fmt: skip
AIR = si(
    outdoor_air_temperature=(95, "degF"), return_air_dry_bulb=(80, "degF"), return_air_wet_bulb=(67, "degF"),
    supply_air_dry_bulb=(60, "degF"), supply_air_relative_humidity=(90, "pct"), airflow=(1200, "cfm"), power=(3000, "W"),
)  # fmt: skip


def spot(values: dict[str, float], system: System = TXV, refrigerant: str = "R-410A") -> Spot:
    return evaluate(SpotReadings(values), replace(system, refrigerant=refrigerant), curves(refrigerant))


def degrees(value: float | None) -> float:
    assert value is not None
    return value / F


def test_four_readings_suffice() -> None:
    found = spot(FOUR)
    c = curves("R-410A")
    assert found.value("superheat") == pytest.approx(
        FOUR["suction_line_temperature"] - c.dew_temperature(FOUR["suction_pressure"])
    )
    assert found.value("subcooling") == pytest.approx(
        c.bubble_temperature(FOUR["liquid_pressure"]) - FOUR["liquid_line_temperature"]
    )
    assert found.value("condensing_over_ambient") is None
    assert found.value("temperature_split") is None


def test_glide_is_used_where_it_belongs() -> None:
    """R-407C glides: superheat from dew, subcooling from bubble, comparisons with air from the middle."""
    values = FOUR | si(
        suction_pressure=(68, "psig"), liquid_pressure=(245, "psig"), outdoor_air_temperature=(95, "degF")
    )
    values |= si(return_air_dry_bulb=(80, "degF"), suction_line_temperature=(55, "degF"))
    found = spot(values, refrigerant="R-407C")
    c = curves("R-407C")
    bubble, dew = (f(values["liquid_pressure"]) for f in (c.bubble_temperature, c.dew_temperature))
    assert dew - bubble > 4.0
    assert found.value("condensing_over_ambient") == pytest.approx(
        0.5 * (bubble + dew) - values["outdoor_air_temperature"]
    )
    assert found.value("subcooling") == pytest.approx(bubble - values["liquid_line_temperature"])
    low = found.value("evaporating_middle")
    assert low is not None
    assert c.bubble_temperature(values["suction_pressure"]) < low < c.dew_temperature(values["suction_pressure"])
    assert any("glides" in note for note in found.notes)


def test_air_side_of_the_rating_point() -> None:
    """80/67 °F: humidity ratio and wet bulb by the handbook's equations, capacity from both airs."""
    found = spot(FOUR | AIR)
    water = moist_air.humidity_ratio_from_wet_bulb(
        AIR["return_air_dry_bulb"], AIR["return_air_wet_bulb"], STANDARD_ATMOSPHERE
    )
    assert found.value("return_humidity_ratio") == pytest.approx(water)
    assert found.value("return_wet_bulb") == pytest.approx(AIR["return_air_wet_bulb"], abs=0.01)
    assert degrees(found.value("temperature_split")) == pytest.approx(20.0)
    sensible, total = found.value("sensible_capacity"), found.value("total_capacity")
    assert sensible is not None
    assert total is not None
    # 1.08 × cfm × °F [Btu/h] for standard air is the trade's short form: within 6 % at this humidity
    assert sensible / TON * 12000.0 == pytest.approx(1.08 * 1200 * 20, rel=0.06)
    assert sensible < total < 1.6 * sensible
    assert found.value("efficiency") == pytest.approx(total / 3000.0)
    assert found.value("airflow_per_capacity") == pytest.approx(AIR["airflow"] / (3.0 * TON))


def test_uncertainty_is_that_of_many_draws() -> None:
    """Linear propagation (GUM 5.1) against 4,000 draws of every reading: within 6 %."""
    values = FOUR | AIR
    found = spot(values)
    rng = np.random.default_rng(4)
    draws: dict[str, list[float]] = {}
    for _ in range(4000):
        moved = {n: v + float(rng.normal(0.0, standard_uncertainty(n, v, TXV))) for n, v in values.items()}
        moved["supply_air_relative_humidity"] = min(moved["supply_air_relative_humidity"], 1.0)
        for name, quantity in spot(moved).quantities.items():
            draws.setdefault(name, []).append(quantity.value)
    charts = 0.5 * curves("R-410A").uncertainty
    for name in (
        "superheat",
        "subcooling",
        "condensing_over_ambient",
        "temperature_split",
        "pressure_ratio",
        "sensible_capacity",
    ):
        own = found.get(name)
        assert own is not None
        by_draws = float(np.std(draws[name]))
        if name in ("superheat", "subcooling", "condensing_over_ambient"):
            by_draws = math.hypot(by_draws, charts)
        assert own.uncertainty == pytest.approx(by_draws, rel=0.06), name


def test_stated_accuracy_goes_before_the_usual_one() -> None:
    usual = standard_uncertainty("suction_pressure", 9e5, TXV)
    stated = replace(TXV, instruments=Instruments(pressure_accuracy=3.0 * PSI, temperature_accuracy=0.3 * F))
    assert standard_uncertainty("suction_pressure", 9e5, stated) == pytest.approx(3.0 * PSI / math.sqrt(3.0))
    assert standard_uncertainty("suction_line_temperature", 285.0, stated) == pytest.approx(0.3 * F / math.sqrt(3.0))
    needles = replace(TXV, instruments=Instruments(gauges="analog"))
    assert standard_uncertainty("suction_pressure", 9e5, needles) > usual


def test_head_at_the_hot_gas_port_is_corrected_and_said() -> None:
    liquid = spot(FOUR)
    hot = dict(FOUR)
    hot["discharge_pressure"] = hot.pop("liquid_pressure")
    found = spot(hot)
    assert degrees(found.value("subcooling")) < degrees(liquid.value("subcooling")) - 0.5
    assert any("hot-gas port" in note for note in found.notes)


def test_superheat_at_the_bulb_is_another_one() -> None:
    found = spot(FOUR | si(evaporator_outlet_temperature=(48, "degF")))
    assert degrees(found.value("suction_line_gain")) == pytest.approx(4.0)
    assert degrees(found.value("evaporator_superheat")) < degrees(found.value("superheat")) - 4.0


def test_heating_compares_with_the_other_air() -> None:
    values = FOUR | si(
        outdoor_air_temperature=(47, "degF"), return_air_dry_bulb=(70, "degF"), supply_air_dry_bulb=(96, "degF")
    )
    found = spot(values, replace(TXV, mode="heating"))
    assert found.value("condensing_over_ambient") is None
    assert degrees(found.value("condensing_over_return")) > 20.0
    assert degrees(found.value("temperature_split")) == pytest.approx(26.0)
    assert any("common suction port" in note for note in found.notes)


def test_no_liquid_pressure_is_said_and_the_rest_stands() -> None:
    found = spot({n: v for n, v in FOUR.items() if n != "liquid_pressure"})
    assert found.value("superheat") is not None
    assert found.value("subcooling") is None
    assert any("ductless" in note for note in found.notes)


def test_every_reading_has_a_place_and_no_reading_is_invented() -> None:
    assert set(PLACES) == set(SPOT_KINDS)
    with pytest.raises(ValueError, match="no spot reading"):
        SpotReadings({"oil_pressure": 1.0})


def test_impossible_air_leaves_out_only_what_hangs_on_it() -> None:
    found = spot(FOUR | si(return_air_dry_bulb=(70, "degF"), return_air_wet_bulb=(75, "degF")))
    assert found.value("return_humidity_ratio") is None
    assert found.value("return_over_evaporating") is not None
