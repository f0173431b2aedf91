"""Target temperature split: every cell of a table that is FROM MEMORY (its file says so), and the code's tolerance."""

from __future__ import annotations

import pytest

from published_rows import kelvin, rows
from steadfeed.analysis.targets import temperature_split_target
from steadfeed.units import from_si

CELLS = [
    (float(row["return_db_F"]), float(name.removeprefix("wb")), cell)
    for row in rows("target_temperature_split_MEMORY.csv")
    for name, cell in row.items()
    if name != "return_db_F"
]


def split(dry: float, wet: float) -> float | None:
    found = temperature_split_target(kelvin(dry), kelvin(wet))
    if found is None or found.value is None:
        return None
    return from_si(found.value, "degF", "temperature_difference")


def test_every_cell() -> None:
    assert len(CELLS) == 11 * 27
    for dry, wet, cell in CELLS:
        if cell:
            assert split(dry, wet) == pytest.approx(float(cell), abs=1e-6), (dry, wet)
        else:
            assert split(dry, wet) is None


def test_the_source_says_that_it_is_from_memory() -> None:
    found = temperature_split_target(kelvin(75.0), kelvin(62.0))
    assert found is not None
    assert "from memory" in found.source
    assert from_si(found.high - found.low, "degF", "temperature_difference") == pytest.approx(6.0)


@pytest.mark.parametrize(("dry", "wet"), [(69.0, 60.0), (81.0, 65.0), (75.0, 49.0), (75.0, 77.0)])
def test_nothing_beyond_the_table(dry: float, wet: float) -> None:
    assert split(dry, wet) is None
