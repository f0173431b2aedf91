"""Saturation against tables, charts and boiling points from outside; source and reading of each row in its table.

Limits: pure fluids 0.15 K, blends without olefins 0.55 K, blends with olefins 0.7 K. They hold the rounding of the charts
(to a psi, often) and what makers' own tables differ by among themselves.
"""

from __future__ import annotations

from collections import Counter

import pytest

from published_rows import PSI, SEA_LEVEL, kelvin, rows
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves, refrigerant_names, refused

LIMITS = {"pure": 0.15, "azeotrope": 0.55, "HCFC blend": 0.55, "HFC blend": 0.55, "HFO blend": 0.7}

#: Blends of the table that are refused, because the model behind them does not hold.
REFUSED = {"R-417A", "R-437A", "R-438A"}

SATURATION = rows("saturation.csv")


def label(row: dict[str, str]) -> str:
    return f"{row['refrigerant']}-{row['side']}-{row['temperature_degF']}F-{row['pressure_psia']}psia"


@pytest.mark.parametrize("row", [r for r in SATURATION if r["refrigerant"] not in REFUSED], ids=label)
def test_published_saturation_is_met(row: dict[str, str]) -> None:
    c = curves(row["refrigerant"])
    pressure, published = float(row["pressure_psia"]) * PSI, kelvin(float(row["temperature_degF"]))
    sides = {"bubble": [c.bubble_temperature], "dew": [c.dew_temperature]}.get(
        row["side"], [c.bubble_temperature, c.dew_temperature]
    )
    difference = min(abs(side(pressure) - published) for side in sides)
    assert difference <= LIMITS[c.refrigerant.kind], f"{row['source']} ({row['how_read']})"


def test_every_refrigerant_has_a_published_row() -> None:
    """A refrigerant comes with a published value: that is what docs/how-to/add-a-refrigerant asks for."""
    counted = Counter(row["refrigerant"] for row in SATURATION)
    assert [name for name in refrigerant_names() if not counted[name]] == []


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_blends_whose_model_does_not_hold_are_refused(name: str) -> None:
    with pytest.raises(FixInput, match=name):
        curves(name)
    assert refused()[name]


@pytest.mark.parametrize("row", rows("superheat_chart_R410A.csv"), ids=lambda r: f"{r['suction_psig']}psig")
def test_superheat_of_a_printed_chart(row: dict[str, str]) -> None:
    """A maker's chart for 15 °F of superheat, printed to whole psi (worth 0.3 to 0.5 °F): within 0.5 °F."""
    dew = curves("R-410A").dew_temperature((float(row["suction_psig"]) + SEA_LEVEL) * PSI)
    superheat = (kelvin(float(row["suction_line_degF"])) - dew) * 9.0 / 5.0
    assert superheat == pytest.approx(15.0, abs=0.5)
