"""`steadfeed live`: a guided challenge in the terminal, with real instruments, by hand, or on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from steadfeed.cli.root import VERBS

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.station import Station

_FILE = click.Path(path_type=Path)


@click.command("live", short_help=VERBS.get("live", ""))
@click.option("--unit", metavar="REFERENCE", help="Unit by tag, serial or start of its identity; opens a visit to it.")
@click.option("--visit", metavar="REFERENCE", help="An open visit by the start of its identity.")
@click.option("--circuit", metavar="NAME", help="Circuit under test, of several.")
@click.option(
    "--watch", metavar="NAME", multiple=True, help="Another circuit on the same coil or fans; may be given often."
)
@click.option("--bench", metavar="SCENARIO", help="Practise on the bench instead (see `steadfeed bench list`).")
@click.option("--speed", type=click.FloatRange(0.25, 60.0), default=1.0, show_default=True, help="Of the bench.")
@click.option("--seed", type=int, help="Of the bench; a hidden one if left out.")
@click.option("--csv", "csv_file", type=_FILE, metavar="FILE", help="Follow a CSV file that another program writes.")
@click.option("--mqtt", metavar="HOST", help="Gateways at this MQTT broker.")
@click.option(
    "--bluetooth", metavar="ADDRESS", multiple=True, help="A Bluetooth environmental sensor; may be given often."
)
@click.option(
    "--modbus", metavar="HOST|PORT", help="A Modbus device in the network, or a serial line; with --registers."
)
@click.option("--registers", type=_FILE, metavar="FILE", help="Registers of the Modbus device: a JSON list.")
@click.option("--by-hand", is_flag=True, help="Type the readings of needle gauges.")
@click.option("--heating", is_flag=True, help="The unit heats.")
@click.option("--running", is_flag=True, help="The unit runs already.")
@click.option("--language", type=click.Choice(["en", "es"]), default="en", show_default=True, help="Of the sentences.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Of the numbers.")
@click.option("--voice/--no-voice", default=True, show_default=True, help="Speak, where the system can.")
@click.option(
    "--store", metavar="FILE|URL", help="Store of the records; else STEADFEED_STORE, else your own data folder."
)
@click.option("--as", "person", metavar="NAME", help="Who works here.")
def command(**given: Any) -> int:
    """Guide a challenge: what to do now, the ceiling, the trace, and when it is enough.

    \b
    steadfeed live --bench chapel --speed 10
    steadfeed live --unit W-05 --csv gauges.csv
    steadfeed live --unit W-05 --by-hand
    """
    try:
        import textual  # noqa: F401
    except ModuleNotFoundError as error:
        from steadfeed.errors import InstallPart

        raise InstallPart("The terminal guide needs the part “terminal”; install steadfeed[terminal]") from error
    from steadfeed.cli.live_app import LiveApp
    from steadfeed.visit.sentences import Speech
    from steadfeed.visit.session import which_store
    from steadfeed.visit.speaking import Speaker, speech_command
    from steadfeed.visit.station import Station

    with Station(which_store(given["store"])) as station:
        live = _begin(station, given)
        speaker = Speaker(speech_command(given["language"]) if given["voice"] else None)
        app = LiveApp(station, live, Speech(given["language"], given["units"]), speaker, person=given["person"])
        try:
            app.run()
        finally:
            speaker.close()
        click.echo(app.last_words)
    return 0


def _begin(station: Station, given: dict[str, Any]) -> LiveChallenge:
    """Find or open the visit, connect the sources, begin the challenge."""
    from steadfeed.errors import FixInput
    from steadfeed.visit.live_start import begin_real, begin_taken_up

    if given["bench"]:
        work = station.session("terminal", given["person"])
        practice = station.practice.begin(work, None, given["bench"], given["seed"], given["speed"], hidden=False)
        return practice.live
    if not given["unit"] and not given["visit"]:
        taken = begin_taken_up(station)
        if taken is not None:
            return taken
        raise FixInput(
            "Which unit? Give --unit or --visit, or practise with --bench SCENARIO",
            code="missing field",
            where="--unit",
        )
    sources: list[tuple[str, dict[str, Any]]] = []
    if given["csv_file"]:
        sources.append(("csv", {"path": str(given["csv_file"])}))
    if given["mqtt"]:
        sources.append(("mqtt", {"host": given["mqtt"]}))
    if given["modbus"]:
        sources.append(_modbus(given["modbus"], given["registers"]))
    sources += [("bluetooth", {"address": address}) for address in given["bluetooth"]]
    if not sources and not given["by_hand"]:
        raise FixInput(
            "Where do the readings come from? Give --csv, --mqtt, --modbus, --bluetooth or --by-hand", where="--csv"
        )
    return begin_real(
        station,
        person=given["person"],
        unit=given["unit"],
        visit=given["visit"],
        circuit=given["circuit"],
        watched=given["watch"],
        sources=sources,
        by_hand=given["by_hand"],
        mode="heating" if given["heating"] else "cooling",
        found_running=given["running"],
    )


def _modbus(address: str, registers: Path | None) -> tuple[str, dict[str, Any]]:
    """Return kind and settings of a Modbus source. A serial line is a path or a COM port; anything else is a host."""
    from steadfeed.errors import FixInput

    if registers is None:
        raise FixInput("A Modbus device needs its registers: give --registers FILE", where="--registers")
    try:
        text = registers.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FixInput(
            f"{registers} cannot be read as text; give a JSON list of registers", where="--registers"
        ) from error
    serial = address.startswith("/") or address.upper().startswith("COM")
    return (
        ("modbus rtu", {"port": address, "registers": text})
        if serial
        else ("modbus tcp", {"host": address, "registers": text})
    )
