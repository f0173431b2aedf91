"""Safety classes and warming potentials in the coefficient file against a table FROM MEMORY (its file says so)."""

from __future__ import annotations

import pytest

from published_rows import rows
from steadfeed.physics.properties import curves, refrigerant_names

KNOWN = [row for row in rows("refrigerant_safety_MEMORY.csv") if row["refrigerant"] in refrigerant_names()]


def test_most_of_the_table_is_known() -> None:
    assert len(KNOWN) >= 10


@pytest.mark.parametrize("row", KNOWN, ids=lambda r: r["refrigerant"])
def test_class_and_warming_potential(row: dict[str, str]) -> None:
    found = curves(row["refrigerant"]).refrigerant
    assert found.safety_class == row["class"]
    assert found.flammable == (row["class"] != "A1")
    if row["GWP_AR4"]:
        assert found.gwp == pytest.approx(float(row["GWP_AR4"]), abs=1.0)
