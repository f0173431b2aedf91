"""Write the table of docs/properties.md: how far the coefficient file is from two libraries and from published values.

    python tools/property_figures.py

Takes some seconds. Everything between the two marks of the page is replaced.
"""

from __future__ import annotations

import csv
from pathlib import Path

from compare import against_coolprop, against_second_library
from make_coefficients import specifications
from steadfeed.physics.properties import Curves, curves

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "properties.md"
PUBLISHED = ROOT / "tests" / "published" / "data" / "saturation.csv"
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"
PSI, SEA_LEVEL = 6894.757, 101325.0


def published_differences(c: Curves) -> list[float]:
    """Differences of saturation temperature from the published rows of one refrigerant [K], the better side of each."""
    with PUBLISHED.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    found = []
    for row in rows:
        if row["refrigerant"] != c.name:
            continue
        pressure, published = float(row["pressure_psia"]) * PSI, (float(row["temperature_degF"]) + 459.67) * 5 / 9
        sides = {"bubble": [c.bubble_temperature], "dew": [c.dew_temperature]}.get(
            row["side"], [c.bubble_temperature, c.dew_temperature]
        )
        found.append(min((side(pressure) - published for side in sides), key=abs))
    return found


def line(spec: dict[str, object]) -> str:
    """One row of the table."""
    c = curves(str(spec["name"]))
    eos = against_coolprop(spec, c)
    second = against_second_library(spec, c)
    published = published_differences(c)
    degf = 9 / 5
    cells = [
        c.name,
        c.refrigerant.kind,
        f"{(c.minimum_pressure - SEA_LEVEL) / PSI:.0f} to {(c.maximum_pressure - SEA_LEVEL) / PSI:.0f}",
        f"{c.minimum_temperature * degf - 459.67:.0f} to {c.maximum_temperature * degf - 459.67:.0f}",
        f"± {c.uncertainty * degf:.1f}",
        c.confidence,
        f"{eos['saturation'] * 1e3 * degf:.1f}",
        f"{max(eos['vapor_density'], eos['liquid_density']) * 100:.2f}",
        f"{max(eos['vapor_enthalpy'], eos['liquid_enthalpy']) / 1e3:.2f}",
        "–" if second is None else f"{second * degf:.3f}" if second < 0.05 else f"{second * degf:.1f}",
        f"{max(published, key=abs) * degf:+.2f} ({len(published)})".replace("-0.00", "+0.00").replace("-", "−"),
    ]
    return "| " + " | ".join(cells).replace(" -", " −") + " |"


def table() -> str:
    """The whole table."""
    specs = {spec["name"]: spec for spec in specifications() if "refused" not in spec}
    from steadfeed.physics.properties import refrigerant_names

    head = (
        "| refrigerant | kind | psig at sea level | °F, both sides | stated, °F | confidence | saturation, 0.001 °F | density, % "
        "| enthalpy, kJ/kg | second library, °F | published, °F (rows) |\n|" + "---|" * 11
    )
    return "\n".join([head, *(line(specs[name]) for name in refrigerant_names())])


def main() -> None:
    """Replace the table of the page."""
    page = PAGE.read_text(encoding="utf-8")
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    PAGE.write_text(f"{before}{BEGIN}\n\n{table()}\n\n{END}{after}", encoding="utf-8")
    print(f"{PAGE.name}: {len(specifications())} specifications read")


if __name__ == "__main__":
    main()
