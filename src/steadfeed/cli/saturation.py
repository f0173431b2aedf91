"""`steadfeed saturation`: bubble and dew of a refrigerant at a pressure or a temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from steadfeed.cli.root import VERBS

if TYPE_CHECKING:
    from steadfeed.visit.saturation import Saturation

# units -> (pressure, its unit as printed, temperature, its unit as printed, digits of a pressure)
_SHOWN: Final = {
    "us": (("psig", "psig", 1), ("psia", "psia", 1), ("degF", "°F", 1)),
    "si": (("barg", "barg", 2), ("bara", "bara", 2), ("degC", "°C", 1)),
}


@click.command("saturation", short_help=VERBS["saturation"])
@click.argument("refrigerant")
@click.option("--pressure", metavar="NUMBER[ UNIT]", help='Such as "118 psig" or "9.2 bara"; a bare number is psig.')
@click.option("--temperature", metavar="NUMBER[ UNIT]", help='Such as "40 degF" or "5 degC"; a bare number is °F.')
@click.option("--altitude", metavar="NUMBER[ UNIT]", help='Height of the site, such as "5000 ft"; sea level if absent.')
@click.option(
    "--barometer", metavar="NUMBER[ UNIT]", help='Station pressure, such as "24.9 inHg"; goes before altitude.'
)
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units of the print.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, always in US units.")
def command(
    refrigerant: str,
    pressure: str | None,
    temperature: str | None,
    altitude: str | None,
    barometer: str | None,
    units: str,
    as_json: bool,
) -> None:
    """Give bubble and dew of REFRIGERANT at a pressure or a temperature.

    Superheat counts from dew, subcooling from bubble; on blends they differ by the glide.

    \b
    steadfeed saturation R-410A --pressure "118 psig"
    steadfeed saturation R-454B --temperature "40 degF" --altitude "5000 ft"
    """
    from steadfeed.units import parse_quantity, to_si
    from steadfeed.visit.saturation import atmosphere_at, saturation

    if (pressure is None) == (temperature is None):
        raise click.UsageError("Give either --pressure or --temperature", click.get_current_context())

    def read(text: str | None, kind: str, unit: str, atmosphere: float | None = None) -> float | None:
        return None if text is None else to_si(*parse_quantity(text, kind, unit), kind, atmosphere)

    air = atmosphere_at(read(altitude, "length", "ft"), read(barometer, "atmosphere", "inHg"))
    found = saturation(
        refrigerant,
        pressure=read(pressure, "pressure", "psig", air),
        temperature=read(temperature, "temperature", "degF"),
        atmosphere=air,
    )
    if as_json:
        click.echo(_json(found))
    else:
        _print(found, units)


def _json(found: Saturation) -> str:
    from steadfeed.units import from_si
    from steadfeed.visit.json_form import json_line

    def shown(value: float, unit: str, kind: str) -> float:
        return float(f"{from_si(value, unit, kind, found.atmosphere):.7g}")

    return json_line(
        {
            "refrigerant": found.refrigerant,
            "bubble_temperature_degF": shown(found.bubble_temperature, "degF", "temperature"),
            "dew_temperature_degF": shown(found.dew_temperature, "degF", "temperature"),
            "bubble_pressure_psia": shown(found.bubble_pressure, "psia", "pressure"),
            "dew_pressure_psia": shown(found.dew_pressure, "psia", "pressure"),
            "bubble_pressure_psig": shown(found.bubble_pressure, "psig", "pressure"),
            "dew_pressure_psig": shown(found.dew_pressure, "psig", "pressure"),
            "atmosphere_psia": shown(found.atmosphere, "psia", "pressure"),
            "uncertainty_degF": shown(found.uncertainty, "degF", "temperature_difference"),
        }
    )


def _print(found: Saturation, units: str) -> None:
    from steadfeed.units import from_si

    gauge, absolute, degree = _SHOWN[units]

    def pressure(value: float, how: tuple[str, str, int]) -> str:
        unit, word, digits = how
        return f"{from_si(value, unit, 'pressure', found.atmosphere):,.{digits}f} {word}"

    def temperature(value: float) -> str:
        return f"{from_si(value, degree[0], 'temperature'):.{degree[2]}f} {degree[1]}"

    spread = from_si(found.uncertainty, degree[0] if units == "us" else "K", "temperature_difference")
    click.echo(found.refrigerant)
    for name, t, p, use in (
        ("bubble", found.bubble_temperature, found.bubble_pressure, "subcooling counts from it"),
        ("dew", found.dew_temperature, found.dew_pressure, "superheat counts from it"),
    ):
        click.echo(f"  {name:<7}{temperature(t):>10}  at {pressure(p, gauge)} ({pressure(p, absolute)}); {use}")
    click.echo(
        f"  Temperatures are known to ±{spread:.1f} {degree[1] if units == 'us' else 'K'} (95 %). "
        f"Gauge pressures against {pressure(found.atmosphere, absolute)} of air."
    )
