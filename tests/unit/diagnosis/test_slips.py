"""Impossible readings: the sentence names the likely slip, the correction would mend it, and possible readings pass."""

from __future__ import annotations

import pytest

from steadfeed.analysis.slips import Typed, examine
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.units import STANDARD_ATMOSPHERE

TXV = System(refrigerant="R-410A", metering_device=MeteringDevice.TXV)
HEAT_PUMP = System(refrigerant="R-410A", metering_device=MeteringDevice.TXV, mode="heating")
GOOD: dict[str, tuple[float, str]] = {
    "suction_pressure": (118, "psig"),
    "liquid_pressure": (365, "psig"),
    "suction_line_temperature": (52, "degF"),
    "liquid_line_temperature": (99, "degF"),
    "outdoor_air_temperature": (95, "degF"),
    "return_air_dry_bulb": (78, "degF"),
    "return_air_wet_bulb": (65, "degF"),
    "supply_air_dry_bulb": (58, "degF"),
}


def slips(typed: Typed, system: System = TXV):  # type: ignore[no-untyped-def]
    return examine(typed, system, curves(system.refrigerant or ""), STANDARD_ATMOSPHERE)


def test_possible_readings_have_no_slip() -> None:
    assert slips(GOOD) == ()


@pytest.mark.parametrize(
    ("changed", "meant", "said"),
    [
        ({"suction_pressure": (365, "psig"), "liquid_pressure": (118, "psig")}, {"suction_pressure": (118, "psig")}, "swapped"),
        ({"suction_pressure": (812, "psig")}, {"suction_pressure": (812, "kPag")}, "kPa"),
        ({"suction_pressure": (8.1, "psig"), "liquid_pressure": (25.2, "psig")}, {"liquid_pressure": (25.2, "barg")}, "bar"),
        ({"suction_pressure": (0.81, "psig"), "liquid_pressure": (2.52, "psig")}, {"liquid_pressure": (2.52, "MPag")}, "MPa"),
        ({"suction_line_temperature": (11, "degF")}, {"suction_line_temperature": (11, "degC")}, "°C"),
        ({"liquid_line_temperature": (37, "degF")}, {"liquid_line_temperature": (37, "degC")}, "°C"),
        ({"outdoor_air_temperature": (35, "degF")}, {"outdoor_air_temperature": (35, "degC")}, "°C"),
        ({"return_air_wet_bulb": (82, "degF")}, {"return_air_wet_bulb": (78, "degF")}, "swapped"),
        ({"suction_line_temperature": (99, "degF"), "liquid_line_temperature": (52, "degF")},
         {"liquid_line_temperature": (99, "degF")}, "swapped"),
        ({"return_air_relative_humidity": (0.5, "pct")}, {"return_air_relative_humidity": (50.0, "pct")}, "share"),
        ({"return_air_dry_bulb": (58, "degF"), "supply_air_dry_bulb": (78, "degF"), "return_air_wet_bulb": (54, "degF")},
         {"return_air_dry_bulb": (78, "degF")}, "swapped"),
    ],
)  # fmt: skip
def test_the_likely_slip_is_named(changed: Typed, meant: Typed, said: str) -> None:
    typed = {**GOOD, **changed}
    (slip,) = slips(typed)
    assert said in slip.text
    assert slip.text.endswith("?")
    assert slip.correction.items() >= meant.items()
    # what was typed is still there, and the proposal leaves nothing impossible
    assert slips({**typed, **slip.correction}) == ()


def test_superheat_of_minus_twenty_is_said_with_its_reading() -> None:
    (slip,) = slips({**GOOD, "suction_line_temperature": (20, "degF")})
    assert "−20 °F" in slip.text
    assert "20 °F" in slip.text


def test_a_whole_instrument_in_celsius() -> None:
    typed = {
        name: ((value - 32.0) / 1.8, unit) if unit == "degF" else (value, unit) for name, (value, unit) in GOOD.items()
    }
    (slip,) = slips(typed)
    assert set(slip.correction) == {name for name, (_, unit) in GOOD.items() if unit == "degF"}
    assert {unit for _, unit in slip.correction.values()} == {"degC"}


def test_humidity_above_saturation_has_no_likely_slip_but_a_sentence() -> None:
    (slip,) = slips({**GOOD, "return_air_relative_humidity": (120, "pct")})
    assert slip.correction == {}
    assert "above saturation" in slip.text
    assert "120 %" in slip.text


def test_several_slips_at_once() -> None:
    found = slips({**GOOD, "suction_line_temperature": (11, "degF"), "return_air_relative_humidity": (130, "pct")})
    assert len(found) == 2
    assert {name for slip in found for name in slip.names} >= {
        "suction_line_temperature",
        "return_air_relative_humidity",
    }


def test_an_extreme_fault_is_not_taken_for_a_slip() -> None:
    starved = {**GOOD, "suction_pressure": (62, "psig"), "suction_line_temperature": (75, "degF")}
    flooded = {**GOOD, "suction_line_temperature": (39, "degF")}
    dirty = {**GOOD, "liquid_pressure": (560, "psig"), "liquid_line_temperature": (130, "degF")}
    empty = {**GOOD, "liquid_pressure": (300, "psig"), "liquid_line_temperature": (96, "degF")}
    for typed in (starved, flooded, dirty, empty):
        assert slips(typed) == (), typed


def test_heating_has_its_own_limits() -> None:
    heating = {
        "suction_pressure": (95, "psig"), "liquid_pressure": (330, "psig"), "suction_line_temperature": (36, "degF"),
        "liquid_line_temperature": (90, "degF"), "outdoor_air_temperature": (47, "degF"), "return_air_dry_bulb": (70, "degF"),
        "supply_air_dry_bulb": (96, "degF"),
    }  # fmt: skip
    assert slips(heating, HEAT_PUMP) == ()
    assert slips({**heating, "supply_air_dry_bulb": (60, "degF")}, HEAT_PUMP)
    # the large service valve carries hot gas in heating
    assert slips({**heating, "suction_pressure": (335, "psig")}, HEAT_PUMP)


def test_a_unit_of_another_kind_is_refused() -> None:
    with pytest.raises(FixInput, match="no unit of pressure"):
        slips({**GOOD, "suction_pressure": (118, "degF")})
