"""Charge level: the published equation, its direction, and where it is silent."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnosis_cases import Broken, readings_of, settled, spot_of, system
from steadfeed.analysis.charge_level import ALPHA, HIGH_SIDE_SHARE, SUPERHEAT_SHARE, ChargeLevel, charge_level
from steadfeed.bench.faults import Faults
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.physics.properties import curves

F = 5.0 / 9.0


def level(values: dict[str, float], unit: System, **known: object) -> ChargeLevel:
    return charge_level(spot_of(values, unit), unit, curves("R-410A"), **known)  # type: ignore[arg-type]


def at(charge: float, device: str = "txv") -> ChargeLevel:
    return level(readings_of(settled(device, "cooling", Broken(Faults(charge=charge)))), system(device))


def test_the_equation_by_hand() -> None:
    """Rated 11 °F of subcooling and 10 °F of superheat; read 5 and 20: (1 − 0.75)·0.73/11 · (−6 − 10/2.5) = −0.166."""
    unit = replace(system("txv"), line_set=replace(system("txv").line_set, length=None))
    unit = replace(unit, nameplate=replace(unit.nameplate, subcooling=11.0 * F, superheat=10.0 * F))
    values = readings_of(settled("txv"))
    spot = spot_of(values, unit)
    evaporating, condensing = spot.value("evaporating_temperature"), spot.value("condensing_temperature")
    assert evaporating is not None
    assert condensing is not None
    values |= {"suction_line_temperature": evaporating + 20.0 * F, "liquid_line_temperature": condensing - 5.0 * F}
    found = level(values, unit).level
    assert found is not None
    assert (ALPHA, HIGH_SIDE_SHARE, SUPERHEAT_SHARE) == (0.75, 0.73, 0.4)
    assert found.value - 1.0 == pytest.approx(0.25 * 0.73 / 11.0 * (-6.0 - 0.4 * 10.0), abs=1e-9)


@pytest.mark.parametrize("device", ["txv", "eev"])
def test_it_rises_with_the_charge(device: str) -> None:
    levels = [found.level.value for c in (0.75, 0.85, 1.0, 1.1, 1.2) if (found := at(c, device)).level is not None]
    assert len(levels) == 5
    assert levels == sorted(levels)


@pytest.mark.parametrize("charge", [0.85, 0.92, 1.0, 1.08, 1.15])
def test_within_ten_percent_on_a_bench_unit(charge: float) -> None:
    found = at(charge).level
    assert found is not None
    assert found.value == pytest.approx(charge, abs=0.10)


def test_mass_to_trim_follows_the_nameplate() -> None:
    unit = replace(system("txv"), nameplate=replace(system("txv").nameplate, charge=3.0))
    found = level(readings_of(settled("txv", "cooling", Broken(Faults(charge=0.85)))), unit)
    assert found.level is not None
    assert found.to_add is not None
    assert found.to_add.value == pytest.approx(3.0 * (1.0 - found.level.value))
    assert found.to_add.value > 0.0
    assert at(0.85).to_add is None


def test_it_is_silent_where_it_does_not_hold() -> None:
    values = readings_of(settled("txv"))
    unit = system("txv")
    flooded = dict(values, suction_line_temperature=values["suction_line_temperature"] - 9.0 * F)
    cases = [
        (level(values, unit, accumulator=True), "accumulator"),
        (level(values, unit, other_cause="non-condensables"), "non-condensables"),
        (level(flooded, unit), "flooded"),
        (level(values, replace(unit, mode="heating")), "heating"),
        (level(values, replace(unit, metering_device=MeteringDevice.UNKNOWN)), "metering device"),
        (level({"suction_pressure": values["suction_pressure"]}, unit), "needs superheat and subcooling"),
    ]
    for found, word in cases:
        assert found.level is None
        assert found.to_add is None
        assert word in found.why_not
        assert word in found.text


def test_far_too_much_is_said_without_a_number() -> None:
    found = at(1.38)
    assert found.level is None
    assert found.to_add is None
    assert "More than 125 %" in found.text


def test_it_names_the_paper_and_what_is_from_memory() -> None:
    source = at(1.0).source
    assert "Li and Braun" in source
    assert "2009" in source
    assert "memory" in source
