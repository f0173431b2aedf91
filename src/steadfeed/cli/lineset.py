"""`steadfeed lineset`: what the line set takes, what it asks for, and how that comes about."""

from __future__ import annotations

from typing import Any, Literal

import click

from steadfeed.cli.root import VERBS
from steadfeed.cli.unit_options import print_sections, take_unit_options, unit_options

_QUANTITY = "NUMBER[ UNIT]"


@click.command("lineset", short_help=VERBS["lineset"])
@unit_options(
    "device", "mode", "altitude", "barometer", "rated_subcooling", "rated_superheat", "rated_current", "rated_charge",
    "gauges",
)  # fmt: skip
@click.option("--equivalent-length", metavar=_QUANTITY, help="Length with fittings; else 1.3 × the length.")
@click.option("--accessories", metavar=_QUANTITY, help="Loss of drier, valves and solenoid, such as “2 psi”.")
@click.option("--oz-per-ft", type=float, metavar="NUMBER", help="The unit's own charge for a foot of liquid line.")
@click.option("--factory-length", metavar=_QUANTITY, help="Length that the factory charge covers; 25 ft if absent.")
@click.option("--condensing", metavar=_QUANTITY, help="Condensing temperature, bubble; 115 °F if absent.")
@click.option("--subcooling", metavar=_QUANTITY, help="Subcooling at the unit; 10 °F if absent.")
@click.option("--evaporating", metavar=_QUANTITY, help="Evaporating temperature, dew; 45 °F if absent.")
@click.option("--superheat", metavar=_QUANTITY, help="Superheat at the unit; 10 °F if absent.")
@click.option("--line-air", metavar=_QUANTITY, help="Air round a bare liquid line, such as an attic's “130 degF”.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units of the print.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, always in US units.")
def command(units: Literal["us", "si"], as_json: bool, **values: Any) -> None:
    """Work out a line set: subcooling at the metering device, limits, suction loss, charge.

    \b
    steadfeed lineset --refrigerant R-410A --tons 3 --length "60 ft" --lift "20 ft"
    steadfeed lineset --system unit5.toml --oz-per-ft 0.6 --line-air "130 degF"
    """
    from steadfeed.visit.lineset import conditions, installed, lineset_form, lineset_sections, work_out
    from steadfeed.visit.typed import described_unit, quantity

    system, _ = described_unit(take_unit_options(values))
    at = conditions(
        condensing=quantity(values["condensing"], "temperature", "--condensing"),
        subcooling=quantity(values["subcooling"], "temperature_difference", "--subcooling"),
        evaporating=quantity(values["evaporating"], "temperature", "--evaporating"),
        superheat=quantity(values["superheat"], "temperature_difference", "--superheat"),
        line_air=quantity(values["line_air"], "temperature", "--line-air"),
    )
    hung = installed(
        equivalent_length=quantity(values["equivalent_length"], "length", "--equivalent-length"),
        accessories=quantity(values["accessories"], "pressure_difference", "--accessories"),
        oz_per_ft=values["oz_per_ft"],
        factory_length=quantity(values["factory_length"], "length", "--factory-length"),
    )
    result = work_out(system, at, hung)
    if as_json:
        from steadfeed.visit.json_form import json_line

        click.echo(json_line(lineset_form(result)))
    else:
        print_sections(lineset_sections(result, units))
