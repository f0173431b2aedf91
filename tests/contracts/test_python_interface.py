"""The public names for notebooks do what docs/reference/python.md shows, and cost nothing before they are used."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import steadfeed
from steadfeed.errors import FixInput

TYPED = {
    "suction_pressure": (118.0, "psig"),
    "liquid_pressure": (365.0, "psig"),
    "suction_line_temperature": (52.0, "degF"),
    "liquid_line_temperature": (99.0, "degF"),
}
SYSTEM = """refrigerant = "R-410A"
metering_device = "txv"
nominal_capacity_tons = 3
[line_set]
length_ft = 60
lift_ft = 20
"""


@pytest.fixture
def system(tmp_path: Path) -> steadfeed.System:
    path = tmp_path / "unit5.toml"
    path.write_text(SYSTEM, encoding="utf-8")
    return steadfeed.read_system(path)


def test_take_spot(system: steadfeed.System) -> None:
    found = steadfeed.take_spot(system, TYPED, 101325.0)
    assert isinstance(found, steadfeed.SpotResult)
    assert found.slips == ()
    assert found.spot is not None
    assert found.diagnosis is not None
    superheat = found.spot.value("superheat")
    assert superheat is not None
    dew = float(steadfeed.curves("R-410A").dew_temperature(118 * 6894.757 + 101325.0))
    assert superheat == pytest.approx((52 + 459.67) / 1.8 - dew, abs=0.01)
    assert found.diagnosis.summary


def test_impossible_readings_come_back_as_slips_with_what_was_typed(system: steadfeed.System) -> None:
    swapped = TYPED | {"suction_pressure": TYPED["liquid_pressure"], "liquid_pressure": TYPED["suction_pressure"]}
    found = steadfeed.take_spot(system, swapped, 101325.0)
    assert found.slips
    assert found.typed == swapped
    plan, slips = steadfeed.make_plan(system, swapped, 101325.0, steadfeed.Circumstances())
    assert plan is None
    assert slips


def test_make_plan(system: steadfeed.System) -> None:
    plan, slips = steadfeed.make_plan(system, TYPED, 101325.0, steadfeed.Circumstances(coil_iced=True))
    assert slips == ()
    assert plan is not None
    assert any("ice" in refusal.text.lower() for refusal in plan.refusals)
    assert not plan.may_start


def test_line_set(system: steadfeed.System) -> None:
    lines = steadfeed.line_set(system, steadfeed.curves("R-410A"))
    level = replace(system, line_set=replace(system.line_set, lift=0.0))
    assert (
        steadfeed.line_set(level, steadfeed.curves("R-410A")).metering_subcooling.value
        > lines.metering_subcooling.value
    )
    assert [step.text for step in lines.steps]
    with pytest.raises(FixInput, match="length"):
        steadfeed.line_set(steadfeed.default_system(), steadfeed.curves("R-410A"))


def test_importing_the_package_imports_no_part_of_it() -> None:
    code = "import steadfeed, sys; print([m for m in sys.modules if m.startswith('steadfeed.') or m == 'numpy'])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
