"""Target superheat of fixed orifices: every cell of a printed table, the dashes, what lies between, and a rule of thumb."""

from __future__ import annotations

import pytest

from published_rows import kelvin, rows
from steadfeed.analysis.targets import fixed_orifice_superheat, superheat_rule_of_thumb
from steadfeed.units import from_si

TABLE = rows("target_superheat_fixed_orifice.csv")
CELLS = [
    (float(row["outdoor_db_F"]), float(name.removeprefix("wb")), float(cell))
    for row in TABLE
    for name, cell in row.items()
    if name != "outdoor_db_F" and cell
]
DASHES = [
    (float(row["outdoor_db_F"]), float(name.removeprefix("wb")))
    for row in TABLE
    for name, cell in row.items()
    if name != "outdoor_db_F" and not cell
]


def target(outdoor: float, wet_bulb: float) -> float | None:
    found = fixed_orifice_superheat(kelvin(outdoor), kelvin(wet_bulb))
    if found is None or found.value is None:
        return None
    return from_si(found.value, "degF", "temperature_difference")


def test_the_table_was_read_whole() -> None:
    assert len(CELLS) == 160
    assert len(CELLS) + len(DASHES) == 16 * 14


@pytest.mark.parametrize(("outdoor", "wet_bulb", "printed"), CELLS)
def test_every_printed_cell(outdoor: float, wet_bulb: float, printed: float) -> None:
    assert target(outdoor, wet_bulb) == pytest.approx(printed, abs=1e-6)


@pytest.mark.parametrize(("outdoor", "wet_bulb"), DASHES)
def test_a_dash_gives_no_target(outdoor: float, wet_bulb: float) -> None:
    assert target(outdoor, wet_bulb) is None


@pytest.mark.parametrize(("outdoor", "wet_bulb"), [(39.0, 60.0), (116.0, 76.0), (80.0, 49.0), (80.0, 77.0)])
def test_nothing_beyond_the_table(outdoor: float, wet_bulb: float) -> None:
    assert target(outdoor, wet_bulb) is None


def test_between_cells_it_is_bilinear() -> None:
    assert target(92.5, 67.0) == pytest.approx((13 + 16 + 10 + 14) / 4)
    # beside a dash nothing is made up
    assert target(82.5, 61.0) is None


def test_tolerance_is_that_of_the_code() -> None:
    found = fixed_orifice_superheat(kelvin(95.0), kelvin(68.0))
    assert found is not None
    assert found.value is not None
    assert from_si(found.high - found.value, "degF", "temperature_difference") == pytest.approx(5.0)
    assert from_si(found.value - found.low, "degF", "temperature_difference") == pytest.approx(5.0)


def test_the_rule_of_thumb_misses_the_table_by_up_to_seven_and_a_half_degrees() -> None:
    """(3·WB − 80 − DB)/2, common practice: quoted with its error, and never used as a target."""
    errors = [
        from_si(superheat_rule_of_thumb(kelvin(o), kelvin(w)), "degF", "temperature_difference") - printed
        for o, w, printed in CELLS
    ]
    assert max(abs(e) for e in errors) == pytest.approx(7.5, abs=0.01)
    assert sum(abs(e) > 2.5 for e in errors) >= 10
