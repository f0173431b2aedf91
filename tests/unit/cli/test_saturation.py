"""`steadfeed saturation` and `steadfeed refrigerants`."""

from __future__ import annotations

import json
from typing import Any

import pytest

from steadfeed.cli.root import run
from steadfeed.physics.properties import curves, refrigerant_names, refused
from steadfeed.units import from_si, standard_atmosphere, to_si
from steadfeed.visit.saturation import atmosphere_at, saturation


def printed_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    assert run([*arguments, "--json"]) == 0, capsys.readouterr().err
    return json.loads(capsys.readouterr().out)


def test_keys_of_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    found = printed_json(capsys, "saturation", "R-410A", "--pressure", "118 psig")
    assert set(found) >= {
        "bubble_temperature_degF",
        "dew_temperature_degF",
        "bubble_pressure_psia",
        "dew_pressure_psia",
        "uncertainty_degF",
    }
    assert found["refrigerant"] == "R-410A"


def test_r410a_at_118_psig_is_40_degrees(capsys: pytest.CaptureFixture[str]) -> None:
    """R-410A, 118 psig, 40 °F: the pair that every pressure chart of the trade has (common practice)."""
    found = printed_json(capsys, "saturation", "R-410A", "--pressure", "118 psig")
    assert found["dew_temperature_degF"] == pytest.approx(40.0, abs=0.9)
    assert found["bubble_temperature_degF"] == pytest.approx(40.0, abs=0.9)


def test_a_bare_number_is_psig_or_fahrenheit(capsys: pytest.CaptureFixture[str]) -> None:
    assert printed_json(capsys, "saturation", "410a", "--pressure", "118") == printed_json(
        capsys, "saturation", "R-410A", "--pressure", "118 psig"
    )
    assert printed_json(capsys, "saturation", "R-410A", "--temperature", "-20") == printed_json(
        capsys, "saturation", "R-410A", "--temperature", "-20 degF"
    )


@pytest.mark.parametrize("written", ["118 psig", "118psig", "8.1358 barg", "132.6959 psia", "813.58 kPag"])
def test_one_pressure_in_every_unit(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = printed_json(capsys, "saturation", "R-410A", "--pressure", written)
    assert found["dew_pressure_psig"] == pytest.approx(118.0, abs=0.01)


def test_pressure_and_temperature_are_inverse(capsys: pytest.CaptureFixture[str]) -> None:
    at_pressure = printed_json(capsys, "saturation", "R-454B", "--pressure", "120")
    at_bubble = printed_json(
        capsys, "saturation", "R-454B", "--temperature", f"{at_pressure['bubble_temperature_degF']} degF"
    )
    assert at_bubble["bubble_pressure_psig"] == pytest.approx(120.0, abs=0.05)
    assert at_bubble["dew_pressure_psia"] < at_bubble["bubble_pressure_psia"]
    assert at_pressure["dew_temperature_degF"] > at_pressure["bubble_temperature_degF"]


def test_altitude_and_barometer_move_the_gauge_zero(capsys: pytest.CaptureFixture[str]) -> None:
    denver = printed_json(capsys, "saturation", "R-410A", "--pressure", "118", "--altitude", "5280 ft")
    assert denver["atmosphere_psia"] == pytest.approx(12.1, abs=0.05)  # ICAO standard atmosphere at one mile
    assert denver["dew_pressure_psig"] == pytest.approx(118.0, abs=1e-4)
    assert denver["dew_pressure_psia"] == pytest.approx(118.0 + denver["atmosphere_psia"], abs=1e-4)
    both = printed_json(
        capsys, "saturation", "R-410A", "--pressure", "118", "--altitude", "5280 ft", "--barometer", "29.92"
    )
    assert both["atmosphere_psia"] == pytest.approx(14.696, abs=0.002)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["R-999Z", "--pressure", "118"], ["no refrigerant"]),
        (["R-410A", "--pressure", "118 psi g"], ["no unit of pressure", "psig"]),
        (["R-410A", "--pressure", "much"], ["no number"]),
        (["R-410A", "--pressure", "nan"], ["no number"]),
        (["R-410A", "--pressure", "-30"], ["outside"]),
        (["R-410A", "--pressure", "99999"], ["outside"]),
        (["R-410A", "--pressure", "1e999"], []),
        (["R-410A", "--temperature", "400 degF"], ["outside"]),
        (["R-410A", "--pressure", "118", "--altitude", "99999 ft"], ["altitude", "outside"]),
        (["R-410A", "--pressure", "118", "--barometer", "2992"], ["barometer"]),
        (["R-410A", "--pressure", "118", "--temperature", "40"], ["either"]),
        (["", "--pressure", "118"], ["no refrigerant"]),
    ],
)
def test_bad_input_is_one_sentence(arguments: list[str], words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["saturation", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.strip().splitlines()) == 1
    assert "Traceback" not in err
    assert "error of its own" not in err
    assert all(word in err for word in words), err


def test_print_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["saturation", "R-454B", "--temperature", "40"]) == 0
    us = capsys.readouterr().out
    assert "40.0 °F" in us
    assert "psig" in us
    assert "superheat counts from it" in us
    assert run(["saturation", "R-454B", "--temperature", "40", "--units", "si"]) == 0
    si = capsys.readouterr().out
    assert "4.4 °C" in si
    assert "barg" in si
    assert "°F" not in si


def test_saturation_gives_what_the_curves_give() -> None:
    known = curves("R-407C")
    found = saturation("r407c", pressure=6e5, atmosphere=101325.0)
    assert found.bubble_temperature == known.bubble_temperature(6e5)
    assert found.dew_temperature == known.dew_temperature(6e5)
    assert found.uncertainty == known.uncertainty


def test_the_barometer_goes_before_the_altitude() -> None:
    assert atmosphere_at(None, None) == 101325.0
    assert atmosphere_at(1000.0, None) == standard_atmosphere(1000.0)
    assert atmosphere_at(1000.0, to_si(29.0, "inHg", "atmosphere")) == to_si(29.0, "inHg", "atmosphere")


def test_refrigerants_are_listed_with_range_and_uncertainty(capsys: pytest.CaptureFixture[str]) -> None:
    listed = printed_json(capsys, "refrigerants")
    offered = {one["name"]: one for one in listed if one["offered"]}
    assert tuple(offered) == refrigerant_names()
    assert len(offered) >= 30
    for name, one in offered.items():
        known = curves(name)
        assert one["lowest_pressure_psia"] < one["highest_pressure_psia"]
        assert one["highest_temperature_degF"] == pytest.approx(
            from_si(known.maximum_temperature, "degF", "temperature"), abs=0.06
        )
        assert one["uncertainty_degF"] > 0
    assert {one["name"]: one["reason"] for one in listed if not one["offered"]} == refused()


def test_refrigerants_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["refrigerants"]) == 0
    printed = capsys.readouterr().out
    assert all(name in printed for name in refrigerant_names())
    assert all(reason in printed for reason in refused().values())
