"""Tolerances of California Title 24 RA3.2 against those that the targets use."""

from __future__ import annotations

import pytest

from published_rows import kelvin, rows
from steadfeed.analysis.criteria import CRITERIA, limit
from steadfeed.analysis.next_test import come_back
from steadfeed.analysis.spot import SpotReadings, evaluate
from steadfeed.analysis.targets import airflow_target, subcooling_target, superheat_target
from steadfeed.circuit.equipment import MeteringDevice, Nameplate, System
from steadfeed.physics.properties import curves
from steadfeed.units import PSI, TON, from_si

RULES = {row["item"]: row for row in rows("title24_rules.csv")}


def degrees(key: str) -> float:
    return from_si(limit(key), "degF", "temperature_difference")


def band(item: str) -> tuple[float, float]:
    low, high = RULES[item]["value_installer"].split("..")
    return float(low), float(high)


@pytest.mark.parametrize(
    ("item", "key"),
    [
        ("superheat: actual minus target (fixed orifice)", "superheat_tolerance"),
        ("subcooling: actual minus target (TXV)", "subcooling_tolerance"),
        ("temperature split: actual minus target", "split_tolerance"),
    ],
)
def test_tolerance(item: str, key: str) -> None:
    low, high = band(item)
    assert degrees(key) == pytest.approx(high)
    assert -degrees(key) == pytest.approx(low)
    assert "Title 24" in CRITERIA[key].source


def test_superheat_of_a_valve_without_a_stated_one() -> None:
    low, high = band("metering device (TXV) superheat if no manufacturer range")
    found = superheat_target(System(metering_device=MeteringDevice.TXV), None, None)
    assert found is not None
    assert from_si(found.low, "degF", "temperature_difference") == pytest.approx(low)
    assert from_si(found.high, "degF", "temperature_difference") == pytest.approx(high)


def test_least_target_of_the_superheat_table() -> None:
    assert degrees("least_table_superheat") == float(
        RULES["target superheat valid only if table value >="]["value_installer"]
    )


def test_limits_of_ordinary_instruments() -> None:
    assert limit("needle_suction") / PSI == pytest.approx(
        float(RULES["pressure accuracy suction (2013)"]["value_installer"])
    )
    assert limit("needle_head") / PSI == pytest.approx(
        float(RULES["pressure accuracy liquid line (2013)"]["value_installer"])
    )
    assert RULES["digital thermometer accuracy"]["value_installer"].endswith("1.3")
    assert degrees("thermometer") == pytest.approx(1.3)


def test_least_airflow_of_the_code_is_named_beside_the_target() -> None:
    found = airflow_target(3.0 * TON)
    assert RULES["alternative to split test: measured airflow >"]["value_installer"] in found.note
    assert found.value is not None
    assert from_si(found.value, "cfm", "airflow") == pytest.approx(1200.0, abs=0.5)
    assert from_si(found.low, "cfm", "airflow") > 3 * 300


def test_nameplate_goes_before_the_usual_subcooling() -> None:
    stated = subcooling_target(System(nameplate=Nameplate(subcooling=kelvin(12.0) - kelvin(0.0))))
    assert stated.value is not None
    assert from_si(stated.value, "degF", "temperature_difference") == pytest.approx(12.0)
    assert "nameplate" in stated.source
    assert "practice" in subcooling_target(System()).source


def test_no_charge_is_checked_below_the_outdoor_air_of_the_code() -> None:
    least = RULES["outdoor air minimum for standard procedure"]
    assert least["unit"] == "F"
    assert from_si(limit("coldest_charge_check"), "degF", "temperature") == pytest.approx(
        float(least["value_installer"])
    )
    cold = SpotReadings({"outdoor_air_temperature": kelvin(54.0)})
    mild = SpotReadings({"outdoor_air_temperature": kelvin(56.0)})
    system, known = System(refrigerant="R-410A"), curves("R-410A")
    assert "55" in come_back(evaluate(cold, system, known), system)
    assert come_back(evaluate(mild, system, known), system) == ""
