"""`steadfeed refrigerants`: which refrigerants are known, over which range and how well."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from steadfeed.cli.root import VERBS

if TYPE_CHECKING:
    from steadfeed.visit.saturation import KnownRefrigerant


@click.command("refrigerants", short_help=VERBS["refrigerants"])
@click.option("--json", "as_json", is_flag=True, help="Print one JSON array, always in US units.")
def command(as_json: bool) -> None:
    """List the refrigerants, the range in which they are known, and how well.

    Refrigerants that are not offered follow, each with the reason.
    """
    from steadfeed.visit.saturation import known_refrigerants, refused_refrigerants

    known, refused = known_refrigerants(), refused_refrigerants()
    if as_json:
        _print_json(known, refused)
    else:
        _print_table(known, refused)


def _print_json(known: Sequence[KnownRefrigerant], refused: dict[str, str]) -> None:
    import json

    from steadfeed.units import from_si

    rows = [
        {
            "name": one.refrigerant.name,
            "offered": True,
            "kind": one.refrigerant.kind,
            "safety_class": one.refrigerant.safety_class or None,
            "composition": one.refrigerant.composition or None,
            "gwp": one.refrigerant.gwp,
            "uncertainty_degF": round(from_si(one.uncertainty, "degF", "temperature_difference"), 3),
            "lowest_temperature_degF": round(from_si(one.minimum_temperature, "degF", "temperature"), 1),
            "highest_temperature_degF": round(from_si(one.maximum_temperature, "degF", "temperature"), 1),
            "lowest_pressure_psia": round(from_si(one.minimum_pressure, "psia", "pressure"), 2),
            "highest_pressure_psia": round(from_si(one.maximum_pressure, "psia", "pressure"), 1),
            "confidence": one.confidence,
            "provenance": one.provenance,
        }
        for one in known
    ]
    rows += [{"name": name, "offered": False, "reason": reason} for name, reason in refused.items()]
    click.echo(json.dumps(rows, allow_nan=False, indent=1))


def _print_table(known: Sequence[KnownRefrigerant], refused: dict[str, str]) -> None:
    from steadfeed.units import from_si

    click.echo("refrigerant   class  kind        ±°F   known from … to, °F")
    for one in known:
        low, high = (from_si(t, "degF", "temperature") for t in (one.minimum_temperature, one.maximum_temperature))
        spread = from_si(one.uncertainty, "degF", "temperature_difference")
        click.echo(
            f"{one.refrigerant.name:<13} {one.refrigerant.safety_class or '–':<6} {one.refrigerant.kind:<11} "
            f"{spread:<5.1f} {low:.0f} … {high:.0f}"
        )
    if refused:
        click.echo("\nNot offered:")
        for name, reason in refused.items():
            click.echo(f"  {name}: {reason}")
