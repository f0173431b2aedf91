"""`steadfeed judge`: the logs of challenges to judgements, for people and for scripts."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeVar

import click

from steadfeed.cli.root import VERBS, say, trace
from steadfeed.errors import SteadfeedError, own_error

if TYPE_CHECKING:
    from rich.console import Console

    from steadfeed.visit.judge_log import FailedLog, FoundLogs, JudgedLog
    from steadfeed.visit.papers import Summary

T = TypeVar("T")

_FILE = click.Path(path_type=Path)


@click.command("judge", short_help=VERBS["judge"])
@click.argument("paths", nargs=-1, required=True, type=_FILE, metavar="PATH...")
@click.option("--system", type=_FILE, metavar="FILE", help="System file; else the .toml with the log's name beside it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line for each log and circuit.")
@click.option("--report", type=_FILE, metavar="DIR", help="Write each report as HTML and PDF into this folder.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units for people.")
@click.option(
    "--page", type=click.Choice(["letter", "a4"]), default="letter", show_default=True, help="Paper of the PDF."
)
@click.option("--sources", is_flag=True, help="Also print where each threshold comes from, and the hashes.")
def command(
    paths: tuple[Path, ...],
    system: Path | None,
    as_json: bool,
    report: Path | None,
    units: Literal["us", "si"],
    page: Literal["letter", "a4"],
    sources: bool,
) -> int:
    """Judge the challenge in a log, or all logs of a folder.

    The sentence comes first, then whether the test could tell, the numbers before, in and after the push, and what was
    noticed. A folder is searched with its subfolders and gives one table. A bad file does not stop the rest.

    \b
    steadfeed judge unit5.csv --report papers
    steadfeed judge logs/ --json
    """
    from steadfeed.visit.judge_log import FailedLog, find_logs, judge_logs
    from steadfeed.visit.papers import make_folder, summary, write_reports

    found = find_logs(paths)
    if report is not None:
        make_folder(report)
    rows: list[Summary] = []
    failures: list[FailedLog] = []
    written: list[Path] = []
    shown = not found.single and not (as_json and sys.stdout.isatty())
    for log, outcome in _with_progress(judge_logs(found.logs, system), len(found.logs), shown=shown):
        if isinstance(outcome, FailedLog):
            failures.append(outcome)
            trace(outcome.error.__cause__ or outcome.error)
            if as_json:
                _print_error(outcome)
            continue
        for one in outcome:
            if as_json:
                _print_json(one)
            elif found.single:
                _print_judgement(one, units, sources)
            else:
                rows.append(summary(one))
            if report is not None:
                try:
                    written += write_reports(one, report, name=log.paper, units=units, page=page)
                except Exception as error:  # the judgement stands, whatever became of its paper
                    trace()
                    known = error if isinstance(error, SteadfeedError) else own_error(error)
                    failures.append(FailedLog(one.log, known))
    if rows:
        _print_table(rows)
    if report is not None and written:
        _print_written(written, report, as_json=as_json)
    _print_account(found, failures)
    if not failures:
        return 0
    return 2 if len(found.logs) == 1 else 3


def _print_json(judged: JudgedLog) -> None:
    from steadfeed.visit.json_form import json_line, judgement_form

    click.echo(json_line(judgement_form(judged)))


def _print_error(failed: FailedLog) -> None:
    from steadfeed.visit.json_form import error_form, json_line

    click.echo(json_line(error_form(failed.log, failed.error)))


def _print_judgement(judged: JudgedLog, units: Literal["us", "si"], sources: bool) -> None:
    from steadfeed.visit.papers import print_judgement

    print_judgement(judged, _console(), units=units, sources=sources)


def _console(*, stderr: bool = False) -> Console:
    from rich.console import Console

    class Plain(Console):
        """A console that leaves a reader who went away to `cli.root`, like every other print."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Plain(stderr=stderr, highlight=False)


def _with_progress(work: Iterator[T], total: int, *, shown: bool) -> Iterator[T]:
    """Show on a terminal how far the work is; elsewhere just do it."""
    if not shown or not sys.stderr.isatty():
        yield from work
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("judging"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=_console(stderr=True), transient=True) as progress:
        task = progress.add_task("judging", total=total)
        for outcome in work:
            yield outcome
            progress.advance(task)


def _print_table(rows: Sequence[Summary]) -> None:
    """Print one row a judgement, then how often each verdict fell."""
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    circuits = any(row.circuit for row in rows)
    table = Table(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column("Log", overflow="fold")
    if circuits:
        table.add_column("Circuit")
    for title in ("Verdict", "Feed held", "Not valid because"):
        table.add_column(title)
    for row in rows:
        verdict = f"{row.verdict} (early)" if row.early else row.verdict
        because = ", ".join(row.reasons)
        cells = [click.format_filename(row.log), *([row.circuit] if circuits else []), verdict, row.feed_held, because]
        table.add_row(*map(Text, cells))
    console = _console()
    console.print(table)
    count = Counter(row.verdict for row in rows)
    verdicts = ", ".join(f"{number} {verdict}" for verdict, number in count.most_common())
    valid = sum(row.valid for row in rows)
    console.print(Text(f"\n{_counted(len(rows), 'judgement')}, {valid} of a valid test: {verdicts}."))


def _print_account(found: FoundLogs, failures: Sequence[FailedLog]) -> None:
    """Say on standard error what was passed over and what failed."""
    for failure in failures:
        say(failure.error.message)
    if failures and len(found.logs) > 1:
        say(f"{len(failures)} of {len(found.logs)} logs gave an error")
    if found.skipped:
        be = "is no log" if len(found.skipped) == 1 else "are no logs"
        say(f"{_counted(len(found.skipped), 'file')} passed over that {be}")


def _print_written(written: Sequence[Path], report: Path, *, as_json: bool) -> None:
    """Say where the reports are; beside JSON on standard error, since scripts read the other."""
    if len(written) == 2:
        sentence = f"Report: {' and '.join(map(click.format_filename, written))}."
    else:
        sentence = f"{_counted(len(written) // 2, 'report')}, HTML and PDF, in {click.format_filename(report)}."
    click.echo(sentence, err=as_json)


def _counted(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
