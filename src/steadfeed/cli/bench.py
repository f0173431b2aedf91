"""`steadfeed bench`: the practice bench: scenarios, runs, many random challenges, practice in the terminal."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import click

from steadfeed.cli.root import VERBS, say
from steadfeed.errors import FixInput, InstallPart

if TYPE_CHECKING:
    from steadfeed.visit.practice_progress import ClassList

_FOLDER = click.Path(path_type=Path, file_okay=False)
_SCENARIOS = click.option(
    "--scenarios", type=_FOLDER, metavar="DIR", help="Folder with scenarios of your own (NAME.toml) beside the catalog."
)


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


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print a list of objects, each with its name.")
@_SCENARIOS
def list_scenarios(as_json: bool, scenarios: Path | None) -> int:
    """List the scenarios. What is wrong with their units is not told."""
    from steadfeed.visit.practice import briefing_form, briefings, own_scenarios

    found = briefings(own_scenarios(scenarios))
    if as_json:
        import json

        click.echo(json.dumps([briefing_form(b) for b in found], ensure_ascii=False, indent=1))
        return 0
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in ("Name", "Place", "Complaint", "Level"):
        table.add_column(title, overflow="fold")
    for b in found:
        table.add_row(b.name, b.place, b.complaint, b.level)
    Console(highlight=False).print(table)
    return 0


@command.command("run")
@click.argument("name")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=0,
    show_default=True,
    help="Another seed, another day; 0 is as written.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    required=True,
    metavar="F.csv",
    help="The log to write; F.toml goes beside it.",
)
@click.option("--truth", is_flag=True, help="Also write what was true, into F.truth.json.")
@_SCENARIOS
def run(name: str, seed: int, out: Path, truth: bool, scenarios: Path | None) -> int:
    """Run the scenario NAME and write its log.

    The same name and seed give the same bytes. Judge the log with: steadfeed judge F.csv
    """
    from steadfeed.visit.practice import own_scenarios, run_scenario

    written = run_scenario(name, seed, out, truth=truth, folder=own_scenarios(scenarios))
    click.echo(f"Written: {', '.join(click.format_filename(path) for path in written)}")
    return 0


@command.command("play")
@click.argument("name", required=False)
@click.option("--seed", type=click.IntRange(min=0), help="Which day it is; with --hidden, which unit.")
@click.option("--hidden", is_flag=True, help="Let the seed choose the scenario and do not say which.")
@click.option("--learner", default="me", show_default=True, help="Whose progress it is.")
@click.option(
    "--class",
    "class_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="An instructor’s class list.",
)
@click.option("--keep", type=_FOLDER, metavar="DIR", help="Folder for results and logs; else the person’s data folder.")
@_SCENARIOS
def play(
    name: str | None, seed: int | None, hidden: bool, learner: str, class_file: Path | None, keep: Path | None,
    scenarios: Path | None,
) -> int:  # fmt: skip
    """Practise on a simulated unit in the terminal.

    Put instruments in place, let it run, cover the coil in steps, restore, stop, then name verdict, cause and
    confidence. Only then the truth is told and scored.
    """
    from steadfeed.visit import practice_progress as progress
    from steadfeed.visit.practice import all_scenarios, find_scenario, own_scenarios
    from steadfeed.visit.practice_visit import Outcome, Practice

    ui = _terminal("play")
    own = own_scenarios(scenarios)
    folder = progress.practice_folder(keep)
    one = progress.read_class(class_file) if class_file is not None else None
    told = not hidden
    names = one.scenarios if one is not None else tuple(s.name for s in all_scenarios(own))
    if one is not None and name is None:
        seed, told = _class_seed(one, learner, seed, folder), one.told
        name = progress.hidden_choice(seed, names)
    elif hidden:
        if name is not None:
            raise click.UsageError("Give either NAME or --hidden, not both")
        seed = progress.hidden_seed() if seed is None else seed
        name = progress.hidden_choice(seed, names)
    seed = seed or 0

    def begin(chosen: str) -> Practice:
        return Practice(find_scenario(chosen, own), seed or 0, told=told)

    def kept(outcome: Outcome, played: Practice) -> str:
        path = progress.keep(
            outcome, folder, when=ui.now_text(), learner=learner, seed=played.seed, minutes=played.minutes,
            class_title=one.title if one is not None else "",
        )  # fmt: skip
        return str(ui.saved_words(path))

    choices = [(s.name, f"{s.place}\n   {s.complaint}\n") for s in all_scenarios(own) if s.name in names]
    ui.PracticeApp(begin(name) if name else None, choices=choices, begin=begin, keep=kept).run()
    return 0


@command.command("replay")
@click.argument("log", type=click.Path(path_type=Path, dir_okay=False))
def replay(log: Path) -> int:
    """Replay a kept log with the verdict hidden.

    The readings come as they came; press v for the judgement on the readings so far.
    """
    ui = _terminal("play_replay")
    from steadfeed.visit.practice_replay import replay_of

    ui.ReplayApp(replay_of(log)[0]).run()
    return 0


@command.command("results")
@click.option("--learner", help="Of one learner only.")
@click.option("--csv", "as_csv", is_flag=True, help="Print them as CSV.")
@click.option("--keep", type=_FOLDER, metavar="DIR", help="Folder of the results; else the person’s data folder.")
def results(learner: str | None, as_csv: bool, keep: Path | None) -> int:
    """Show what was practised, and how well."""
    from steadfeed.visit import practice_progress as progress

    rows = list(progress.results(progress.practice_folder(keep), learner))
    if as_csv:
        click.echo(progress.as_csv(rows), nl=False)
        return 0
    if not rows:
        click.echo("Nothing was practised yet: steadfeed bench play")
        return 0
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for title in ("Day", "Learner", "Scenario", "Verdict", "Right", "Safe", "Valid", "Brier", "Min"):
        table.add_column(title, overflow="fold")
    for row in rows:
        table.add_row(
            str(row.get("when", ""))[:10], str(row.get("learner", "")), str(row.get("scenario", "")),
            str(row.get("verdict", "")), _yes(row.get("right")), _yes(row.get("safety")), _yes(row.get("validity")),
            f"{row.get('brier', 0.0):.2f}", f"{row.get('minutes', 0.0):.0f}",
        )  # fmt: skip
    Console(highlight=False).print(table)
    return 0


def _yes(value: object) -> str:
    return "yes" if value else "no"


def _class_seed(one: ClassList, learner: str, seed: int | None, folder: Path) -> int:
    from steadfeed.visit import practice_progress as progress

    if one.learners and learner not in one.learners:
        raise FixInput(
            f"{learner} is not on the list of {one.title}; there are {', '.join(one.learners)}", where="learner"
        )
    if seed is not None:
        return seed
    turn = sum(1 for row in progress.results(folder, learner) if row.get("class") == one.title)
    return progress.seed_of(one, learner, turn)


def _terminal(module: str) -> ModuleType:
    """The screens, or the sentence that says what is missing."""
    try:
        return importlib.import_module(f"steadfeed.cli.{module}")
    except ModuleNotFoundError as error:
        if error.name and error.name.startswith("steadfeed"):
            raise
        raise InstallPart(
            "The practice in the terminal needs the part “terminal”; install steadfeed[terminal]"
        ) from error
