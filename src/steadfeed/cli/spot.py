"""`steadfeed spot`: one set of readings to superheat, targets, causes and the next test."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import click

from steadfeed.cli.root import VERBS, say
from steadfeed.cli.unit_options import TUBES, print_sections, take_unit_options, unit_options
from steadfeed.errors import FixInput

if TYPE_CHECKING:
    from steadfeed.circuit.equipment import System
    from steadfeed.visit.spot import SpotResult

#: Reading -> (option, help). The names are those of visit.spot.READINGS; a test holds the two equal.
OPTIONS: Final[dict[str, tuple[str, str]]] = {
    "suction_pressure": ("--suction", "Suction pressure."),
    "liquid_pressure": ("--head", "Head pressure at the liquid port."),
    "suction_line_temperature": ("--suction-line", "Suction line at the outdoor unit."),
    "liquid_line_temperature": ("--liquid-line", "Liquid line at the outdoor unit."),
    "outdoor_air_temperature": ("--outdoor", "Outdoor air, in the shade."),
    "return_air_dry_bulb": ("--return-air", "Return air, dry bulb."),
    "return_air_wet_bulb": ("--return-wet-bulb", "Return air, wet bulb."),
    "return_air_relative_humidity": ("--return-humidity", "Return air, relative humidity in %."),
    "supply_air_dry_bulb": ("--supply-air", "Supply air, dry bulb."),
    "supply_air_wet_bulb": ("--supply-wet-bulb", "Supply air, wet bulb."),
    "supply_air_relative_humidity": ("--supply-humidity", "Supply air, relative humidity in %."),
    "discharge_line_temperature": ("--discharge-line", "Hot-gas line, 6 in from the compressor."),
    "compressor_current": ("--current", "Compressor current."),
    "metering_inlet_temperature": ("--before-device", "Liquid line right before the metering device."),
    "evaporator_outlet_temperature": ("--at-bulb", "Suction line beside the bulb."),
    "condenser_inlet_air": ("--coil-air-in", "Air at the outdoor coil's face."),
    "condenser_outlet_air": ("--coil-air-out", "Air leaving the outdoor coil."),
    "discharge_pressure": ("--hot-gas-pressure", "Head pressure at the hot-gas port, where no other is."),
    "fan_current": ("--fan-current", "Outdoor fan current."),
    "power": ("--power", "Power of the whole unit."),
    "airflow": ("--airflow", "Indoor airflow."),
}
_FILE: Final = click.Path(path_type=Path)


def _reading_options(command: Any) -> Any:
    for name, (option, text) in reversed(OPTIONS.items()):
        command = click.option(option, name, metavar="NUMBER[ UNIT]", help=text)(command)
    return command


def _print_places(ctx: click.Context, option: click.Parameter, wanted: bool) -> None:
    if not wanted or ctx.resilient_parsing:
        return
    from steadfeed.visit.spot import places

    for name, words, place in places():
        click.echo(f"{name:<20} {words}: {place}")
    ctx.exit()


@click.command("spot", short_help=VERBS["spot"])
@click.argument("file", required=False, type=_FILE, metavar="[FILE]")
@unit_options(*TUBES)
@click.option("--seer", type=float, metavar="NUMBER", help="Efficiency class, for condensing over ambient.")
@click.option("--heat-pump/--cooling-only", default=None, help="Whether the unit can also heat.")
@click.option("--accumulator", is_flag=True, help="The suction line has an accumulator.")
@_reading_options
@click.option("--outcome", multiple=True, metavar="TEST=RESULT", help="A test that was done and what it showed.")
@click.option("--correct", is_flag=True, help="Take the proposed corrections of impossible readings.")
@click.option("--keep", type=_FILE, metavar="FILE", help="Keep what was typed in this file, whatever comes of it.")
@click.option(
    "--places", is_flag=True, is_eager=True, expose_value=False, callback=_print_places,
    help="Show where each reading is taken.",
)  # fmt: skip
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units of the print.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, always in US units.")
def command(
    file: Path | None,
    seer: float | None,
    heat_pump: bool | None,
    accumulator: bool,
    outcome: tuple[str, ...],
    correct: bool,
    keep: Path | None,
    units: Literal["us", "si"],
    as_json: bool,
    **values: Any,
) -> int:
    """Say what one set of readings tells: numbers, targets, causes, charge and the next test.

    Four readings suffice; a bare number is psig, °F, % or A. Without any the readings are asked for. FILE is a system file
    with a table [readings] in it, such as `--keep` writes.

    \b
    steadfeed spot --refrigerant R-410A --device txv --suction 118 --head 365 --suction-line 52 --liquid-line 99
    steadfeed spot unit5-spot.toml --outcome "bulb in hand=suction rises"
    """
    from steadfeed.visit.spot import corrected, read_file, read_typed, take_spot
    from steadfeed.visit.typed import described_unit

    given = {name: values.pop(name) for name in OPTIONS}
    beneath, typed = (None, {}) if file is None else read_file(file)
    options = take_unit_options(values)
    asks = at_a_terminal() and not as_json
    texts = {name: text for name, text in given.items() if text is not None}
    try:
        typed |= {name: read_typed(name, text) for name, text in texts.items()}
    except FixInput:
        _say_typed(texts)
        raise
    system, atmosphere = described_unit(options, beneath)
    if not typed:
        if not asks:
            raise FixInput(
                "No reading was given: give at least --suction, --head, --suction-line and --liquid-line, or a file",
                code="no readings",
            )
        system, typed = _ask(system)
    _keep(keep, system, typed)
    done = _outcomes(outcome)

    def work() -> SpotResult:
        return take_spot(
            system, typed, atmosphere, seer=seer, heat_pump=heat_pump, accumulator=accumulator, outcomes=done,
            units_shown=units,
        )  # fmt: skip

    result = work()
    for _ in range(8):
        if not result.slips:
            break
        if correct and any(slip.correction for slip in result.slips):
            typed = corrected(typed, result.slips)
        elif asks:
            typed = _ask_again(result)
        else:
            break
        _keep(keep, system, typed)
        result = work()
    if as_json:
        from steadfeed.visit.json_form import json_line
        from steadfeed.visit.spot_form import spot_form

        click.echo(json_line(spot_form(result)))
        return 2 if result.slips else 0
    if result.slips:
        return _say_slips(result)
    from steadfeed.visit.spot_form import spot_sections

    print_sections(spot_sections(result, units))
    return 0


def at_a_terminal() -> bool:
    """Whether a person can be asked."""
    return sys.stdin.isatty()


def _outcomes(pairs: tuple[str, ...]) -> dict[str, str]:
    out = {}
    for pair in pairs:
        test, sign, result = pair.partition("=")
        if not sign or not test.strip() or not result.strip():
            raise FixInput(
                f"“{pair}” is no outcome: write test and result, such as “bulb in hand=suction rises”",
                where="--outcome",
            )
        out[test.strip()] = result.strip()
    return out


def _keep(path: Path | None, system: System, typed: dict[str, tuple[float, str]]) -> None:
    if path is None:
        return
    from steadfeed.visit.spot import file_text

    try:
        path.write_text(file_text(system, typed), encoding="utf-8")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise FixInput(f"{path} could not be written ({reason}); choose another file", where="--keep") from None


def _say_slips(result: SpotResult) -> int:
    """Say each impossible reading, and give back what was typed with the proposed corrections, ready to be run."""
    from steadfeed.visit.spot import command_line, corrected
    from steadfeed.visit.spot_form import slip_lines

    for line in slip_lines(result):
        say(line)
    say("As typed: " + command_line(result.system, result.typed))
    if any(slip.correction for slip in result.slips):
        say(
            "As it may have been meant (or add --correct): "
            + command_line(result.system, corrected(result.typed, result.slips))
        )
    return 2


def _say_typed(texts: dict[str, str]) -> None:
    """Give back what was typed when one of the readings cannot be read."""
    say("As typed: steadfeed spot " + " ".join(f'{OPTIONS[name][0]} "{text}"' for name, text in texts.items()))


# -- prompts --------------------------------------------------------------------------------------------------------------
def _ask(system: System) -> tuple[System, dict[str, tuple[float, str]]]:
    """Ask for what is not stated: refrigerant, device, the four readings, then more until an empty answer twice."""
    from dataclasses import replace

    from steadfeed.circuit.equipment import MeteringDevice
    from steadfeed.visit.spot import FOUR, READINGS, command_line

    typed: dict[str, tuple[float, str]] = {}
    try:
        if system.refrigerant is None:
            system = replace(system, refrigerant=_ask_refrigerant())
        if system.metering_device is MeteringDevice.UNKNOWN:
            word = click.prompt(
                "Metering device", type=click.Choice([d.value for d in MeteringDevice]), default="unknown", err=True
            )
            system = replace(system, metering_device=MeteringDevice(word))
        for name in READINGS:
            answer = _ask_reading(name, needed=name in FOUR)
            if answer is not None:
                typed[name] = answer
    except click.Abort:
        click.echo(err=True)
        if len(typed) < len(FOUR):
            say("Typed so far: " + command_line(system, typed))
            raise
    return system, typed


def _ask_refrigerant() -> str:
    from steadfeed.visit.saturation import known_refrigerants

    while True:
        answer = click.prompt("Refrigerant, as in R-410A", err=True)
        try:
            return _designation(answer)
        except FixInput as error:
            say(error.message)
            if answer.strip() == "?":
                say("Known: " + ", ".join(one.refrigerant.name for one in known_refrigerants()))


def _designation(text: str) -> str:
    from steadfeed.visit.typed import UnitOptions, described_unit, need_refrigerant

    return need_refrigerant(described_unit(UnitOptions(refrigerant=text))[0])


def _ask_reading(name: str, *, needed: bool, default: str = "") -> tuple[float, str] | None:
    """Ask until the answer can be read; an empty one skips (Ctrl-D ends the questions)."""
    from steadfeed.visit.spot import READINGS, read_typed

    while True:
        text = click.prompt(READINGS[name][2], default=default, show_default=bool(default), err=True)
        if not str(text).strip():
            if needed:
                say("Left out; without it less can be told")
            return None
        try:
            return read_typed(name, str(text))
        except FixInput as error:
            say(error.message)


def _ask_again(result: SpotResult) -> dict[str, tuple[float, str]]:
    """Say what cannot be and ask for those readings again; what was typed, or the likely correction, stands ready."""
    from steadfeed.visit.spot import corrected
    from steadfeed.visit.spot_form import slip_lines

    typed = dict(result.typed)
    for line in slip_lines(result):
        say(line)
    proposed = corrected(result.typed, result.slips)
    for name in dict.fromkeys(name for slip in result.slips for name in slip.names):
        number, unit = proposed[name]
        answer = _ask_reading(name, needed=False, default=f"{number:g} {unit}")
        if answer is None:
            typed.pop(name, None)
        else:
            typed[name] = answer
    return typed
