"""`steadfeed plan`: may the challenge be run, how far, how fast, and when to stop."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, Final, Literal

import click

from steadfeed.cli.root import VERBS, say
from steadfeed.cli.spot import OPTIONS
from steadfeed.cli.unit_options import TUBES, print_sections, take_unit_options, unit_options

#: The readings that a plan can use.
_READINGS: Final = (
    "suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature",
    "outdoor_air_temperature", "return_air_dry_bulb", "discharge_line_temperature", "compressor_current",
    "discharge_pressure",
)  # fmt: skip
_FACTS: Final = (
    "iced", "bypassed", "tripped", "gas-alarm", "ventilated", "bad-weather", "restores", "fixed-speed", "economizer",
    "auxiliary-heat", "strips-off",
)  # fmt: skip
_FILE: Final = click.Path(path_type=Path)


def _reading_options(command: Any) -> Any:
    for name in reversed(_READINGS):
        option, text = OPTIONS[name]
        command = click.option(option, name, metavar="NUMBER[ UNIT]", help=text)(command)
    return command


@click.command("plan", short_help=VERBS["plan"])
@click.argument("file", required=False, type=_FILE, metavar="[FILE]")
@unit_options(*TUBES, "length", "lift", "rated_charge", "rated_superheat")
@_reading_options
@click.option("--yes", multiple=True, type=click.Choice(_FACTS), help="Answer a question with yes; may be repeated.")
@click.option("--no", multiple=True, type=click.Choice(_FACTS), help="Answer a question with no; may be repeated.")
@click.option(
    "--other-circuit", type=click.Choice(["none", "standing", "watched", "not watched"]),
    help="A second circuit on the same coil or fan.",
)  # fmt: skip
@click.option("--other", type=(_FILE, str), multiple=True, metavar="FILE HEAD", help="Its system file and its head.")
@click.option("--outdoor-fans", type=int, metavar="NUMBER", help="How many fans the outdoor coil has.")
@click.option("--running", metavar="NUMBER[ UNIT]", help="How long it has run as it runs now; minutes.")
@click.option("--since-defrost", metavar="NUMBER[ UNIT]", help="Heating: since the last defrost ended; minutes.")
@click.option(
    "--last-step", metavar="“FROM TO RISE OVER”",
    help="Last step of the cover: percent, percent, °F of rise in all, °F over outdoor air before it.",
)  # fmt: skip
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units of the print.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, always in US units.")
def command(
    file: Path | None,
    yes: tuple[str, ...],
    no: tuple[str, ...],
    other_circuit: str | None,
    other: tuple[tuple[Path, str], ...],
    outdoor_fans: int | None,
    running: str | None,
    since_defrost: str | None,
    last_step: str | None,
    units: Literal["us", "si"],
    as_json: bool,
    **values: Any,
) -> int:
    """Plan a challenge: refusals with reason and source, the push and its ceiling, needle marks, cover steps, stages.

    FILE holds spot readings, as `steadfeed spot --keep` writes it. Questions that are open are listed with the option
    that answers them.

    \b
    steadfeed plan --system unit5.toml --suction 118 --head 365 --suction-line 52 --liquid-line 99 --outdoor 95
    steadfeed plan unit5-spot.toml --no iced --no bypassed --no tripped --last-step "0 25 5 20"
    """
    from steadfeed.visit.plan import answers, cover_step, make_plan, plan_form, plan_sections
    from steadfeed.visit.plan import other_circuit as read_other
    from steadfeed.visit.spot import read_file, read_typed
    from steadfeed.visit.typed import described_unit, quantity

    given = {name: values.pop(name) for name in _READINGS}
    beneath, typed = (None, {}) if file is None else read_file(file)
    typed |= {name: read_typed(name, text) for name, text in given.items() if text is not None}
    system, atmosphere = described_unit(take_unit_options(values), beneath)
    minutes = [
        quantity(text, "time", name) for text, name in ((running, "--running"), (since_defrost, "--since-defrost"))
    ]
    circumstances = answers(
        yes, no, other_circuit=other_circuit, outdoor_fans=outdoor_fans,
        minutes_running=None if minutes[0] is None else minutes[0] / 60.0,
        minutes_since_defrost=None if minutes[1] is None else minutes[1] / 60.0,
    )  # fmt: skip
    others = tuple(read_other(str(path), None if head in ("", "-") else head) for path, head in other)
    step = None if last_step is None else cover_step(last_step)
    made, slips = make_plan(system, typed, atmosphere, circumstances, step, others, units_shown=units)
    if as_json:
        from steadfeed.visit.json_form import json_line

        click.echo(json_line(plan_form(made, slips, atmosphere)))
        return 2 if made is None else 0
    if made is None:
        for slip in slips:
            say(slip.text)
        say("As typed: steadfeed plan " + " ".join(sys.argv[2:]))
        return 2
    print_sections(plan_sections(made, atmosphere, units))
    return 0
