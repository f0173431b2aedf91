"""The root of the command line: the table of verbs, loaded when called, and what happens to every error."""

from __future__ import annotations

import difflib
import importlib
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any, Final

import click

from steadfeed.errors import SteadfeedError, own_error

#: Verb -> its line in the help. The verb lives in the module of the same name, as `command`.
VERBS: Final[dict[str, str]] = {
    "judge": "Judge recorded challenges: a log, or a folder of logs.",
    "spot": "One set of readings to targets, causes and the next test.",
    "plan": "Plan a challenge: may it start, how far, when to stop.",
    "lineset": "What a line set takes and asks for, step by step.",
    "saturation": "Bubble and dew of a refrigerant at a pressure or temperature.",
    "refrigerants": "List the refrigerants, their range and uncertainty.",
    "bench": "Practice bench: simulated units with hidden faults.",
    "visit": "Keep a visit: logs, readings, verdicts, actions, put back, close.",
    "unit": "Keep units: their page, history, what is due, labels.",
    "records": "Search, export, import, back up, check, erase.",
    "demo": "Load an invented company to look around in.",
    "serve": "The API and the phone's app, for a browser on this machine.",
    "live": "Guide a challenge in this terminal, with real instruments or the bench.",
}

#: Set to 1, an unexpected error also shows where in the code it happened.
TRACE_VARIABLE: Final = "STEADFEED_TRACE"


class _ReaderGone(Exception):
    """Whoever read our output stopped reading. Not an OSError, so that Click leaves it to us."""


class Verbs(click.Group):
    """A group that imports a verb only when it is called, so that the help is there at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the verbs in the order of the table."""
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the verb."""
        if cmd_name not in VERBS:
            return None
        command = importlib.import_module(f"steadfeed.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the verb, or say which one is near."""
        if args and args[0] not in VERBS and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], VERBS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(VERBS)}"
            raise click.UsageError(f"There is no command “{args[0]}”; {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table of verbs without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(VERBS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the verb and see that its output got through."""
        try:
            result = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError as error:
            raise _ReaderGone from error
        return result


def _print_version(ctx: click.Context, option: click.Parameter, wanted: bool) -> None:
    if not wanted or ctx.resilient_parsing:
        return
    from steadfeed import __version__
    from steadfeed.visit.judge_log import method_version

    click.echo(f"steadfeed {__version__}, method {method_version()}")
    ctx.exit()


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_print_version,
    help="Show the version of the program and of its method.",
)
def root() -> None:
    """Judge whether a refrigerant metering device really works.

    steadfeed reads the log of a challenge: head pressure was raised on purpose, and the log shows whether the device
    held the refrigerant feed. It advises; it is not a safety device.
    """


def run(arguments: Sequence[str]) -> int:
    """Run the command line with these arguments and return the exit code. Every error becomes one sentence."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")  # a terminal without “°” still gets its line
    try:
        result = root.main(args=list(arguments), prog_name="steadfeed", standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as error:
        error.show()
        return 2
    except click.ClickException as error:
        return _say(_usage_sentence(error), 2)
    except (click.Abort, KeyboardInterrupt):
        return _say("Stopped.", 130)
    except _ReaderGone:
        # Python flushes standard output once more at exit; give it somewhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141
    except SteadfeedError as error:
        trace()
        return _say(error.message, 2)
    except Exception as error:
        trace()
        return _say(own_error(error).message, 1)
    return result if isinstance(result, int) else 0


def _usage_sentence(error: click.ClickException) -> str:
    context = getattr(error, "ctx", None)
    sentence = error.format_message().strip().rstrip(".")
    return f"{sentence} (see {context.command_path} --help)" if context is not None else sentence


def say(sentence: str) -> None:
    """Print a sentence on standard error, with its full stop."""
    click.echo(sentence if sentence.endswith((".", "?", "!")) else sentence + ".", err=True)


def _say(sentence: str, code: int) -> int:
    say(sentence)
    return code


def trace(error: BaseException | None = None) -> None:
    """Show where an error happened, when the person asked for it. error: the one being handled if None."""
    if os.environ.get(TRACE_VARIABLE) == "1":
        traceback.print_exception(error or sys.exception())
