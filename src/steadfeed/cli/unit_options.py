"""Options that describe the unit, shared by the verbs that need one, and the print of sections."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

if TYPE_CHECKING:
    from steadfeed.visit.typed import UnitOptions

Command = TypeVar("Command", bound=Callable[..., Any])
_FILE: Final = click.Path(path_type=Path)
_QUANTITY: Final = "NUMBER[ UNIT]"

#: Field of UnitOptions -> (option, settings).
_OPTIONS: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "system_file": ("--system", {"type": _FILE, "metavar": "FILE", "help": "System file of the unit."}),
    "refrigerant": ("--refrigerant", {"metavar": "NAME", "help": "Such as R-410A; goes before the system file."}),
    "device": (
        "--device",
        {"type": click.Choice(["txv", "eev", "fixed orifice", "unknown"]), "help": "Metering device in use."},
    ),
    "mode": ("--mode", {"type": click.Choice(["cooling", "heating"]), "help": "What the unit does; cooling if absent."}),
    "tons": ("--tons", {"metavar": _QUANTITY, "help": "Nominal capacity, such as 3 or “10.5 kW”."}),
    "altitude": ("--altitude", {"metavar": _QUANTITY, "help": "Height of the site; sea level if absent."}),
    "barometer": ("--barometer", {"metavar": _QUANTITY, "help": "Station pressure; goes before the altitude."}),
    "rated_subcooling": ("--rated-subcooling", {"metavar": _QUANTITY, "help": "Subcooling on the nameplate."}),
    "rated_superheat": ("--rated-superheat", {"metavar": _QUANTITY, "help": "Superheat that the maker states."}),
    "rated_current": ("--rated-current", {"metavar": _QUANTITY, "help": "Rated current of the compressor."}),
    "rated_charge": ("--rated-charge", {"metavar": _QUANTITY, "help": "Charge on the nameplate, such as “96 oz”."}),
    "length": ("--length", {"metavar": _QUANTITY, "help": "Length of the line set, one way."}),
    "lift": ("--lift", {"metavar": _QUANTITY, "help": "Height of the evaporator over the condenser; − if below."}),
    "liquid_line": ("--liquid-line", {"metavar": "SIZE", "help": "Outside diameter, such as “3/8 in”."}),
    "suction_line": ("--suction-line", {"metavar": "SIZE", "help": "Outside diameter, such as “7/8 in”."}),
    "gauges": ("--gauges", {"type": click.Choice(["digital", "analog"]), "help": "Kind of gauges."}),
    "packaged": ("--packaged/--split", {"default": None, "help": "Whether all of it stands in one box."}),
}  # fmt: skip

#: What `lineset` calls the tubes; `spot` uses the same words for readings, so there the tubes come from the system file.
TUBES: Final = ("liquid_line", "suction_line")


def unit_options(*leave_out: str) -> Callable[[Command], Command]:
    """Add the options of a unit to a command, without the fields named."""

    def add(command: Command) -> Command:
        for name, (option, settings) in reversed(_OPTIONS.items()):
            if name not in leave_out:
                command = click.option(option, name, **settings)(command)
        return command

    return add


def take_unit_options(values: dict[str, Any]) -> UnitOptions:
    """Take the options of a unit out of a command's values."""
    from steadfeed.visit.typed import UnitOptions

    return UnitOptions(**{name: values.pop(name) for name in _OPTIONS if name in values})


def print_sections(sections: Iterable[tuple[str, Iterable[str]]]) -> None:
    """Print titled lists of lines."""
    first = True
    for title, lines in sections:
        shown = list(lines)
        if not shown:
            continue
        if not first:
            click.echo()
        first = False
        if title:
            click.echo(click.style(title, bold=True))
        for line in shown:
            click.echo(f"  {line}" if title else line)
