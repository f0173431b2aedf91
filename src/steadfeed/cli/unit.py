"""`steadfeed unit`: write units down, show them and their history, what is due, labels."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from steadfeed.cli.root import VERBS
from steadfeed.cli.store_options import day, fields_of, hour, show_json, with_store, with_store_to_read

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

_DEVICES: Final = ("txv", "eev", "fixed orifice", "unknown")
_FACTS: Final = (("maker", "maker"), ("model", "model"), ("serial", "serial"), ("note", "note"))


@click.group("unit", short_help=VERBS["unit"])
def command() -> None:
    """Keep units: write one down, show its page and history, list what is due, print labels.

    UNIT is a tag, a serial, what a label says, or the start of an identity.
    """


def _unit(session: Session, reference: str) -> str:
    from steadfeed.visit.session import find_unit

    with session.store.reading() as t:
        return find_unit(t, reference)


@command.command("add")
@click.argument("tag")
@click.option("--customer", help="Name of the customer.")
@click.option("--site", help="Name of the place.")
@click.option("--address", help="Address.")
@click.option("--altitude", metavar="NUMBER[ UNIT]", help='Height of the site, such as "5000 ft".')
@click.option("--place", help="Where on the site, such as “Roof west”.")
@click.option("--kind", type=click.Choice(["outdoor", "packaged"]), default="outdoor", show_default=True, help="Kind.")
@click.option("--maker", help="Maker.")
@click.option("--model", help="Model.")
@click.option("--serial", help="Serial number.")
@click.option("--installed", metavar="DAY", help="Installed on, such as 2019-05-14.")
@click.option("--every", "interval", type=click.IntRange(1, 3650), metavar="DAYS", help="Days between planned visits.")
@click.option("--refrigerant", help="Refrigerant, such as R-410A.")
@click.option(
    "--metering-device", type=click.Choice(_DEVICES), default="unknown", show_default=True, help="It should have."
)
@click.option("--circuit", "circuits", multiple=True, help="Name of a circuit, once for each when there are several.")
@click.option("--subcooling", metavar="NUMBER[ UNIT]", help="Subcooling target of the nameplate.")
@click.option("--charge", metavar="WEIGHT", help="Factory charge of the nameplate, such as “9 lb 4 oz”.")
@with_store
def add(session: Session, as_json: bool, tag: str, **given: Any) -> None:
    """Write a unit down under its TAG, with site, customer and circuit."""
    from steadfeed.visit.unit_form import unit_from_words
    from steadfeed.visit.units import refrigerant_remark

    made, remark = unit_from_words(session, tag, **given), refrigerant_remark(given["refrigerant"])
    if as_json:
        show_json({"unit_id": made, "remark": remark})
    else:
        click.echo(f"{tag} is written down ({made[:8]}).")
        if remark:
            click.echo(f"  {remark}; `steadfeed unit refrigerant` corrects it.")


@command.command("set")
@click.argument("unit")
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@click.option("--reason", help="Why.")
@with_store
def set_(session: Session, as_json: bool, unit: str, fields: tuple[str, ...], reason: str | None) -> None:
    """Edit fields of a unit: tag, place, maker, model, serial, note, installed_on, service_interval_days."""
    from steadfeed.visit.unit_form import edit_unit_words

    made = edit_unit_words(session, _unit(session, unit), fields_of(fields), reason)
    if as_json:
        show_json({"entries": made})
    else:
        click.echo(f"{len(made)} fields edited." if made else "Nothing to change.")


@command.command("refrigerant")
@click.argument("unit")
@click.argument("refrigerant")
@click.option("--circuit", help="Which circuit, when there are several.")
@with_store
def refrigerant_(session: Session, as_json: bool, unit: str, refrigerant: str, circuit: str | None) -> None:
    """Write down that a circuit of UNIT holds another REFRIGERANT from now on."""
    from steadfeed.visit.units import charge_with, refrigerant_remark
    from steadfeed.visit.visits import circuit_named

    unit_id = _unit(session, unit)
    with session.store.reading() as t:
        circuit_id = circuit_named(t, unit_id, circuit)
    made = charge_with(session, circuit_id, refrigerant, session.now)
    remark = refrigerant_remark(refrigerant)
    if as_json:
        show_json({"circuit_refrigerant_id": made, "remark": remark})
    else:
        click.echo(f"From now on {refrigerant}. What it held before stays in the history.")
        if remark:
            click.echo(f"  {remark}.")


@command.command("part")
@click.argument("unit")
@click.argument("role")
@click.argument("fields", nargs=-1, metavar="FIELD=VALUE...")
@click.option("--circuit", help="In which circuit.")
@click.option("--reason", help="Why it was put in.")
@with_store
def part(
    session: Session,
    as_json: bool,
    unit: str,
    role: str,
    fields: tuple[str, ...],
    circuit: str | None,
    reason: str | None,
) -> None:
    """Put a part into UNIT: ROLE is “metering device”, “condenser” …; FIELDS are maker, model, serial, note.

    The part that was there is taken out; both keep their histories.
    """
    from steadfeed.visit.units import install_part
    from steadfeed.visit.visits import circuit_named

    unit_id = _unit(session, unit)
    circuit_id = None
    if circuit is not None:
        with session.store.reading() as t:
            circuit_id = circuit_named(t, unit_id, circuit)
    made = install_part(
        session, unit_id, role, fields_of(fields), from_at=session.now, circuit_id=circuit_id, reason=reason
    )
    if as_json:
        show_json({"installation_id": made})
    else:
        click.echo(f"{role.capitalize()}: put in ({made[:8]}).")


@command.command("list")
@click.argument("words", nargs=-1)
@with_store_to_read
def list_(session: Session, as_json: bool, words: tuple[str, ...]) -> None:
    """List units, all or those that WORDS find: customer, address, place, tag, serial (or its last four), refrigerant."""
    from steadfeed.visit.units import list_units

    found = list_units(session, " ".join(words))
    if as_json:
        show_json(found)
        return
    for row in found:
        click.echo(
            f"{row['tag'] or row['unit_id'][:8]:<12} {row['place'] or '':<20} {row['site'] or row['address'] or '':<24} "
            f"{row['customer'] or ''}"
        )
    if not found:
        click.echo("No unit is found.")


@command.command("show")
@click.argument("unit")
@with_store_to_read
def show(session: Session, as_json: bool, unit: str) -> None:
    """Show a unit's page: identity, circuits, parts, visits with verdicts, what is due."""
    from steadfeed.visit.units import unit_page

    page = unit_page(session, unit)
    if as_json:
        show_json(page)
        return
    about, site = page["unit"], page["site"]
    click.echo(" · ".join(str(p) for p in (about["tag"], about["place"], site["name"], site["address"]) if p))
    if page["customer"] and page["customer"]["name"]:
        click.echo(f"  customer: {page['customer']['name']}")
    for field, word in _FACTS:
        if about[field]:
            click.echo(f"  {word}: {about[field]}")
    for circuit in page["circuits"]:
        named = f"circuit {circuit['name']}" if circuit["name"] else "circuit"
        click.echo(
            f"  {named}: {circuit['refrigerant'] or 'refrigerant not known'}, {circuit['metering_device'] or 'device not known'}"
        )
    for one in page["installations"]:
        until = "now" if one["until_at"] is None else day(one["until_at"])
        click.echo(
            f"  {one['role']}: {one['part']['model'] or one['part']['serial'] or one['part']['kind']}, {day(one['from_at']) or 'always'} to {until}"
        )
    for due in page["due"]:
        click.echo(
            f"  due {due['due_on']}: {due['reason'] or 'planned visit'}"
            + (f", {due['condition']}" if due["condition"] else "")
        )
    _show_visits(page["visits"])


def _show_visits(visits: list[dict[str, Any]]) -> None:
    for visit in visits:
        words = [_verdict_words(c["verdict"]) for c in visit["challenges"]]
        said = "; ".join(words) or (f"{len(visit['spots'])} spot readings" if visit["spots"] else "no readings")
        state = "" if visit["closed_at"] else " (open)"
        click.echo(f"  {day(visit['opened_at'], visit['utc_offset'] or 0.0)} {visit['id'][:8]}{state}: {said}")


def _verdict_words(verdict: dict[str, Any] | None) -> str:
    if verdict is None:
        return "not judged"
    held = "" if verdict["feed_held"] is None else f", feed held {verdict['feed_held']:.0%}"
    return f"{verdict['verdict']}{held}" + ("" if verdict["valid"] else f" ({', '.join(verdict['reasons'])})")


@command.command("history")
@click.argument("unit")
@with_store_to_read
def history(session: Session, as_json: bool, unit: str) -> None:
    """Show how a unit's challenges went over the years, and every edit of it."""
    from steadfeed.visit.units import history_of, unit_page

    unit_id = _unit(session, unit)
    page, edits = unit_page(session, unit_id), history_of(session, unit_id)
    if as_json:
        show_json({"unit_id": unit_id, "visits": page["visits"], "edits": edits})
        return
    _show_visits(page["visits"])
    for edit in edits:
        rival = " (another device wrote something else)" if edit["rival"] else ""
        click.echo(f"  {hour(edit['made_at'])} {edit['field']} = {edit['value']} [{edit['entry_id'][:8]}]{rival}")


@command.command("due")
@click.option(
    "--within", type=click.IntRange(0, 3650), default=30, show_default=True, metavar="DAYS", help="Days ahead."
)
@click.option(
    "--calendar", type=click.Path(path_type=Path), metavar="FILE", help="Write them into a calendar file (.ics)."
)
@click.option("--ask", metavar="UNIT", help="Write down that UNIT is due (with --on and --why).")
@click.option("--on", "due_on", metavar="DAY", help="Day for --ask, such as 2027-05-31.")
@click.option("--why", help="Reason for --ask.")
@click.option("--only", "condition", help="Condition for --ask, such as “above 45 °F outdoors”.")
@with_store
def due(
    session: Session,
    as_json: bool,
    within: int,
    calendar: Path | None,
    ask: str | None,
    due_on: str | None,
    why: str | None,
    condition: str | None,
) -> None:
    """List what is due, by interval and by what a visit asked for; write a calendar file; ask for a visit."""
    from steadfeed.visit.hand_over import write_new
    from steadfeed.visit.units_due import ask_for_visit, due_form, units_due

    if ask is not None:
        if due_on is None:
            raise click.UsageError("--ask needs the day, with --on", click.get_current_context())
        made = ask_for_visit(session, _unit(session, ask), due_on, why or "planned visit", condition=condition)
        if as_json:
            show_json({"due_id": made})
        else:
            click.echo(f"{ask} is due on {due_on}.")
        return
    found = units_due(session, within)
    if calendar is not None:
        from steadfeed.visit.calendar_file import calendar_file

        write_new(calendar, calendar_file(found, session.now))
    if as_json:
        show_json([due_form(one) for one in found])
        return
    for one in found:
        when = "today" if one.days == 0 else f"in {one.days} days" if one.days > 0 else f"{-one.days} days over"
        click.echo(
            f"{one.due_on} {when:<14} {one.tag or one.unit_id[:8]:<10} {one.reason}"
            + (f"; only {one.condition}" if one.condition else "")
        )
    if not found:
        click.echo("Nothing is due.")
    if calendar is not None:
        click.echo(f"Written: {calendar}")


@command.command("labels")
@click.argument("units", nargs=-1)
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("labels.pdf"), show_default=True, help="PDF to write."
)
@click.option("--paper", type=click.Choice(["us-letter", "a4"]), default="us-letter", show_default=True, help="Paper.")
@click.option(
    "--skip", type=click.IntRange(0, 29), default=0, show_default=True, help="Labels used up on the first sheet."
)
@with_store_to_read
def labels(session: Session, as_json: bool, units: tuple[str, ...], out: Path, paper: str, skip: int) -> None:
    """Print labels with QR tags for UNITS, or for every unit."""
    from steadfeed.visit.hand_over import write_new
    from steadfeed.visit.labels import label_sheet

    write_new(out, label_sheet(session, units, paper=paper, skip=skip))
    if as_json:
        show_json({"file": str(out)})
    else:
        click.echo(f"Written: {out}")
