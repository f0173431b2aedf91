"""`steadfeed demo`: an invented company to look around in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from steadfeed.cli.root import VERBS
from steadfeed.cli.store_options import show_json, with_store_to_fill

if TYPE_CHECKING:
    from steadfeed.visit.session import Session


@click.group("demo", short_help=VERBS["demo"])
def command() -> None:
    """An invented company with units, visits and challenges, to look around in. Nothing in it is real."""


@command.command("load")
@click.option("--seed", type=int, default=1, show_default=True, help="Another number makes another company.")
@with_store_to_fill
def load(session: Session, as_json: bool, seed: int) -> None:
    """Load the invented company into an empty store: 64 units, four years, 420 visits, 60 challenges from the bench."""
    import dataclasses

    from rich.console import Console
    from rich.progress import Progress

    from steadfeed.visit.demo_company import COMPANY, load_demo

    with Progress(console=Console(stderr=True), disable=as_json, transient=True) as progress:
        bars = {word: progress.add_task(word, total=None) for word in ("challenges", "judged")}

        def told(word: str, done: int, of: int) -> None:
            progress.update(bars[word], completed=done, total=of)

        loaded = load_demo(session, seed=seed, told=told)
    if as_json:
        show_json({"company": COMPANY, "invented": True, "store": session.store.place, **dataclasses.asdict(loaded)})
        return
    click.echo(
        f"{COMPANY} is in {session.store.place}: {loaded.units} units, {loaded.visits} visits, "
        f"{loaded.challenges} challenges from the bench, {loaded.spots} sets of spot readings."
    )
    click.echo("All of it is invented: company, people, places, serials and readings.")
