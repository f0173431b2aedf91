"""`steadfeed bench`: the practice bench: scenarios, runs, many random challenges, practice in the terminal."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from steadfeed.cli.root import VERBS, say


@click.group("bench", short_help=VERBS["bench"])
def command() -> None:
    """A simulated unit to learn on and to test with.

    A scenario hides what is wrong with a unit. Run it for a log, or play it: cover the coil, restore, name the verdict,
    and see the truth. The bench is a model, no field measurement.

    \b
    steadfeed bench list
    steadfeed bench run NAME --seed 1 --out log.csv
    steadfeed bench many 1000 --out logs
    """


@command.command("many")
@click.argument("count", type=click.IntRange(min=1))
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="DIR", help="New folder for the logs.")
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Another seed, other challenges."
)
@click.option("--jobs", type=click.IntRange(min=1), help="Processes at once; else one for each processor.")
def many(count: int, out: Path, seed: int, jobs: int | None) -> int:
    """Make COUNT random challenges with their truth.

    Units, weather, faults, conduct and instruments are drawn by the seed. DIR gets NAME.csv and NAME.toml of each and
    labels.csv with the truth.
    """
    from steadfeed.visit.practice import make_many

    problems = []
    made = 0
    work = make_many(out, count, seed, jobs)
    if sys.stderr.isatty():
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (TextColumn("making"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
            task = progress.add_task("making", total=count)
            for one in work:
                made += not one.problem
                problems += [one.problem] if one.problem else []
                progress.advance(task)
    else:
        for one in work:
            made += not one.problem
            problems += [one.problem] if one.problem else []
    for problem in problems:
        say(problem)
    click.echo(
        f"{made:,} challenges in {click.format_filename(out)}, their truth in {click.format_filename(out / 'labels.csv')}."
    )
    return 0 if not problems else 3
