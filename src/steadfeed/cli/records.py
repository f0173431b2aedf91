"""`steadfeed records`: search, export, import, backup, restore, check, erase, upgrade."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from steadfeed.cli.root import VERBS
from steadfeed.cli.store_options import (
    day,
    device_name,
    fields_of,
    session_here,
    show_json,
    with_store,
    with_store_to_fill,
    with_store_to_read,
)

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

_NEW = click.Path(path_type=Path)
_VERDICTS: Final = (
    "regulating", "fixed", "weak", "at its stop", "sticking", "hunting", "starving", "flooding", "undecided",
)  # fmt: skip
_STORE = click.option(
    "--store", "store", metavar="FILE|URL", help="The store; else STEADFEED_STORE, else your own data folder."
)
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group("records", short_help=VERBS["records"])
def command() -> None:
    """Look after the records: search, export, import, backup, restore, check, erase, upgrade."""


@command.command("search")
@click.argument("words", nargs=-1)
@click.option("--refrigerant", help="In the unit at the time of the visit.")
@click.option("--verdict", type=click.Choice(_VERDICTS), help="Stands on a challenge of the visit.")
@click.option("--since", metavar="DAY", help="Visits from this day on.")
@click.option("--until", metavar="DAY", help="Visits before this day.")
@click.option("--limit", type=click.IntRange(1, 10_000), default=50, show_default=True, help="At most so many.")
@with_store_to_read
def search(
    session: Session,
    as_json: bool,
    words: tuple[str, ...],
    refrigerant: str | None,
    verdict: str | None,
    since: str | None,
    until: str | None,
    limit: int,
) -> None:
    """Find visits, newest first. WORDS: customer, address, place, tag, serial or its last four, refrigerant."""
    from steadfeed.visit.units_due import start_of_day
    from steadfeed.visit.visits import search as find

    found = find(
        session,
        " ".join(words),
        refrigerant=refrigerant,
        verdict=verdict,
        since=None if since is None else start_of_day(session, since),
        until=None if until is None else start_of_day(session, until),
        limit=limit,
    )
    if as_json:
        show_json([dataclasses.asdict(one) for one in found])
        return
    for one in found:
        who = " · ".join(p for p in (one.tag, one.place, one.site or one.address, one.customer) if p)
        click.echo(
            f"{day(one.opened_at, session.utc_offset)} {one.visit_id[:8]} {', '.join(one.verdicts) or '–':<12} {who}"
        )
    if not found:
        click.echo("Nothing is found.")


@command.command("add")
@click.argument("kind")
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@with_store
def add(session: Session, as_json: bool, kind: str, fields: tuple[str, ...]) -> None:
    """Write down a person, customer, site, circuit, part, nameplate, instrument, calibration or line set. Numbers in SI.

    \b
    steadfeed records add instrument kind=gauge serial=G-7 display=digital
    steadfeed records add calibration instrument_id=… valid_from=2026-01-01 valid_until=2026-12-31
    """
    from steadfeed.visit.row_form import add_row

    made = add_row(session, kind, fields_of(fields))
    if as_json:
        show_json({"id": made})
    else:
        click.echo(f"Written down: {made}")


@command.command("edit")
@click.argument("kind")
@click.argument("identity")
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@click.option("--reason", help="Why.")
@with_store
def edit(
    session: Session, as_json: bool, kind: str, identity: str, fields: tuple[str, ...], reason: str | None
) -> None:
    """Edit a person, customer, site … by its name or the start of its identity. The earlier value stays in the history."""
    from steadfeed.visit.row_form import edit_row
    from steadfeed.visit.session import find_named

    with session.store.reading() as t:
        row_id = find_named(t, kind, identity)
    made = edit_row(session, kind, row_id, fields_of(fields), reason)
    if as_json:
        show_json({"id": row_id, "entries": made})
    else:
        click.echo(f"{len(made)} fields edited." if made else "Nothing to change.")


@command.command("export")
@click.argument("folder", type=_NEW)
@click.option(
    "--form", type=click.Choice(["csv", "parquet", "json"]), default="csv", show_default=True, help="Kind of files."
)
@click.option("--without-people", is_flag=True, help="Leave out names, addresses, telephones and signatures.")
@with_store_to_read
def export(session: Session, as_json: bool, folder: Path, form: str, without_people: bool) -> None:
    """Write everything into a new FOLDER: a file a table, the logs as received, a data dictionary, hashes."""
    from steadfeed.visit.records_care import export_records

    manifest = export_records(session, folder, form, people=not without_people)
    if as_json:
        show_json(manifest)
        return
    total = sum(about["rows"] for about in manifest["tables"].values())
    click.echo(
        f"{total:,} rows in {len(manifest['tables'])} tables are in {folder}; what each column means is in dictionary.csv."
    )


@command.command("import")
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="FOLDER|CALENDAR")
@with_store_to_fill
def import_(session: Session, as_json: bool, source: Path) -> int:
    """Take an export in, or the days to which due visits were moved in a calendar file (.ics).

    What is there already stays; what contradicts is told and left as it was.
    """
    if source.is_file():
        from steadfeed.visit.calendar_file import read_calendar

        calendar = read_calendar(session, source.read_bytes())
        if as_json:
            show_json(dataclasses.asdict(calendar))
        else:
            click.echo(
                f"{len(calendar.moved)} due visits moved, {calendar.same} as before, {len(calendar.gone)} not known here, "
                f"{calendar.others} other events left alone."
            )
        return 0
    from steadfeed.visit.records_care import import_records

    done = import_records(session, source)
    conflicts = sum(len(some) for some in done.conflicts.values())
    if as_json:
        show_json(dataclasses.asdict(done))
        return 3 if conflicts else 0
    click.echo(f"{sum(done.added.values()):,} rows are new, {sum(done.known.values()):,} were known.")
    for table, some in done.conflicts.items():
        click.echo(
            f"{len(some)} of {table} contradict what is here and were left out: {', '.join(c[:40] for c in some[:3])}"
        )
    return 3 if conflicts else 0


@command.command("backup")
@click.argument("file", type=_NEW)
@with_store_to_read
def backup(session: Session, as_json: bool, file: Path) -> None:
    """Copy the store into one FILE, also while others write, also from a company store."""
    from steadfeed.visit.records_care import back_up_records

    size = back_up_records(session, file)
    if as_json:
        show_json({"file": str(file), "size": size})
    else:
        click.echo(f"{file}: {size / 1e6:.1f} MB, synced to the disk.")


@command.command("restore")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@with_store_to_fill
def restore(session: Session, as_json: bool, file: Path) -> None:
    """Copy a backup into an empty store, a file or a company store."""
    from steadfeed.visit.records_care import restore_records

    counts = restore_records(session, file)
    if as_json:
        show_json(counts)
    else:
        click.echo(f"{sum(counts.values()):,} rows are restored.")


@command.command("check")
@click.option("--mend", is_flag=True, help="Make what serves searching again.")
@click.option(
    "--save-to", type=_NEW, metavar="FILE", help="Copy what can still be read of a damaged store into a new one."
)
@_STORE
@_JSON
def check(store: str | None, as_json: bool, mend: bool, save_to: Path | None) -> int:
    """Check a store: the file, every hash, every edit. Says what can be saved when it is damaged.

    Leaves with 0 when it is sound, 3 when something was found.
    """
    import time

    from steadfeed.visit.records_care import check_records, mend_search, save_what_can_be_saved
    from steadfeed.visit.session import which_store

    setting = which_store(store)
    if mend:
        with session_here(store, create=False) as session:
            mend_search(session)
    report, error = check_records(setting, time.time(), device_name())
    problems = (
        [dataclasses.asdict(p) for p in report.problems]
        if report
        else [{"code": "file damaged", "text": str(error), "where": ""}]
    )
    hurt = any(p["code"] in ("file damaged", "unreadable") for p in problems)
    saved = (
        save_what_can_be_saved(setting, save_to)
        if save_to is not None or (hurt and (report is None or report.engine == "sqlite"))
        else None
    )
    if as_json:
        show_json(
            {
                "sound": not problems,
                "problems": problems,
                "remarks": report.remarks if report else [],
                "counts": report.counts if report else {},
                "saved": dataclasses.asdict(saved) if saved else None,
                "saved_to": str(save_to) if save_to else None,
            }
        )
        return 3 if problems else 0
    for problem in problems[:20]:
        click.echo(f"{problem['text']}" + (f" ({problem['where']})" if problem["where"] else ""))
    if len(problems) > 20:
        click.echo(f"… and {len(problems) - 20} more.")
    for remark in report.remarks if report else []:
        click.echo(remark)
    if saved is not None:
        lost = ", ".join(saved.damaged) or "nothing"
        click.echo(
            f"{'Saved' if save_to else 'Can be saved'}: {sum(saved.rows.values()):,} rows; something is lost in: {lost}."
        )
        if save_to is None:
            click.echo("`steadfeed records check --save-to NEW.db` writes them into a new store.")
    if not problems and report:
        click.echo(f"Sound: {sum(report.counts.values()):,} rows, every hash and every edit.")
    return 3 if problems else 0


@command.command("erase")
@click.argument("kind", type=click.Choice(["person", "customer", "site"]))
@click.argument("identity")
@click.option("--reason", required=True, help="Why, such as “asked on 2026-07-25”.")
@click.option(
    "--attachment", "attachments", multiple=True, help="Attachment whose content goes too (start of its identity)."
)
@with_store
def erase(session: Session, as_json: bool, kind: str, identity: str, reason: str, attachments: tuple[str, ...]) -> None:
    """Erase what is known about a person, a customer or a site. Facts, weights and verdicts stay without the name."""
    from steadfeed.visit.records_care import erase_person
    from steadfeed.visit.session import find_named

    with session.store.reading() as t:
        row_id = find_named(t, kind, identity)
        ids = [find_named(t, "attachment", one) for one in attachments]
    gone = erase_person(session, kind, row_id, reason, ids)
    if as_json:
        show_json({"id": row_id, **gone})
    else:
        click.echo(
            f"Erased: {gone['fields']} fields, {gone['values']} earlier values, {gone['attachments']} attachments."
        )
        click.echo("Backups and exports made before still hold them.")


@command.command("upgrade")
@_STORE
@_JSON
def upgrade(store: str | None, as_json: bool) -> None:
    """Bring a company store's schema up to date, once every device has the new steadfeed."""
    with session_here(store, create=False, upgrade=True) as session:
        place = session.store.place
    if as_json:
        show_json({"store": place})
    else:
        click.echo(f"{place} is up to date.")
