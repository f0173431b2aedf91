"""`steadfeed visit`: open a visit, fill it, judge, put back, close, hand over."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from steadfeed.cli.root import VERBS
from steadfeed.cli.store_options import day, fields_of, hour, show_json, with_store, with_store_to_read
from steadfeed.cli.visit_facts import COMMANDS
from steadfeed.cli.visit_facts import done as _done
from steadfeed.cli.visit_facts import visit_named as _visit

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

_REASONS: Final = ("maintenance", "service", "callback", "commissioning", "return visit")
_WHAT: Final = ("thermostat", "auxiliary heat", "fan control", "cover", "economizer", "other")
_PURPOSES: Final = ("as found", "as left", "check")
_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.group("visit", short_help=VERBS["visit"])
def command() -> None:
    """Keep a visit: open it, add logs and readings, judge, write down what was done, put back, close.

    VISIT is the start of a visit's identity, or a unit (tag, serial) with one open visit. To show and reopen, a unit
    without an open visit means its last one.
    """


def _circuit(session: Session, visit_id: str, name: str | None) -> str:
    from steadfeed.visit.visits import circuit_of

    with session.store.reading() as t:
        return circuit_of(t, visit_id, name)


for _one in COMMANDS:
    command.add_command(_one)


@command.command("open")
@click.argument("unit")
@click.option("--complaint", help="The complaint in the customer's words.")
@click.option("--reason", type=click.Choice(_REASONS), help="Why the visit is made.")
@click.option("--another", is_flag=True, help="Also when the unit has an open visit.")
@with_store
def open_(session: Session, as_json: bool, unit: str, complaint: str | None, reason: str | None, another: bool) -> None:
    """Open a visit to UNIT (tag, serial or start of its identity)."""
    from steadfeed.visit.session import find_unit
    from steadfeed.visit.visits import open_visit

    with session.store.reading() as t:
        unit_id = find_unit(t, unit)
    made = open_visit(session, unit_id, complaint=complaint, reason=reason, another=another)
    _done(as_json, f"Visit {made[:8]} is open.", visit_id=made, unit_id=unit_id)


@command.command("add")
@click.argument("visit")
@click.argument("logs", nargs=-1, required=True, type=_READABLE, metavar="LOG...")
@click.option("--system", type=_READABLE, help="System file; else the .toml beside the log, else the records.")
@click.option("--circuit", help="Which circuit, when the unit has several and the log does not tell.")
@click.option("--purpose", type=click.Choice(_PURPOSES), help="When in the work it was taken.")
@with_store
def add(
    session: Session,
    as_json: bool,
    visit: str,
    logs: tuple[Path, ...],
    system: Path | None,
    circuit: str | None,
    purpose: str | None,
) -> None:
    """Add logs of challenges to VISIT, byte for byte as they are. The same log twice is kept once."""
    from steadfeed.visit.visit_logs import add_log, read_log_files

    visit_id = _visit(session, visit)
    added = []
    for log in logs:
        content, system_name, system_content = read_log_files(log, system)
        done = add_log(
            session,
            visit_id,
            content,
            log.name,
            system=system_content,
            system_name=system_name,
            circuit=circuit,
            purpose=purpose,
        )
        added.append(
            {
                "log": log.name,
                "sha256": done.sha256,
                "challenges": done.challenges,
                "known": done.known,
                "remarks": done.remarks,
            }
        )
        if not as_json:
            click.echo(
                f"{log.name}: {'known already' if done.known else 'kept'}, challenge {', '.join(c[:8] for c in done.challenges)}"
            )
            for remark in done.remarks:
                click.echo(f"  {remark}")
    if as_json:
        show_json({"visit_id": visit_id, "added": added})


@command.command("judge")
@click.argument("visit")
@with_store
def judge(session: Session, as_json: bool, visit: str) -> None:
    """Judge every challenge of VISIT by today's method. Earlier verdicts stay; what changed is said."""
    from steadfeed.visit.judge_visit import judge_visit

    verdicts = judge_visit(session, _visit(session, visit))
    if as_json:
        show_json(verdicts)
        return
    for verdict in verdicts:
        held = verdict["feed_held"]
        about = (
            ""
            if held is None
            else f", feed held {held:.0%} ({verdict['feed_held_low']:.0%} to {verdict['feed_held_high']:.0%})"
        )
        reasons = "" if verdict["valid"] else f"; not valid: {', '.join(verdict['reasons'])}"
        click.echo(f"Challenge {verdict['challenge_id'][:8]}: {verdict['verdict']}{about}{reasons}")
        for sentence in verdict["changed"]:
            click.echo(f"  {sentence}")


@command.command("spot")
@click.argument("visit")
@click.argument("readings", nargs=-1, required=True, metavar="CHANNEL=VALUE...")
@click.option("--circuit", help="Which circuit, when the unit has several.")
@click.option(
    "--mode", type=click.Choice(["cooling", "heating"]), default="cooling", show_default=True, help="How it runs."
)
@click.option("--purpose", type=click.Choice(_PURPOSES), help="When in the work they were taken.")
@with_store
def spot(
    session: Session,
    as_json: bool,
    visit: str,
    readings: tuple[str, ...],
    circuit: str | None,
    mode: str,
    purpose: str | None,
) -> None:
    """Keep one set of readings, as typed: suction_pressure="118 psig" suction_line_temperature="52 degF" …"""
    from steadfeed.visit.visits import spot as keep
    from steadfeed.visit.visits import visit_page

    visit_id = _visit(session, visit)
    made = keep(
        session, visit_id, _circuit(session, visit_id, circuit), fields_of(readings), mode=mode, purpose=purpose
    )
    kept = next(s for s in visit_page(session, visit_id)["spots"] if s["id"] == made)
    if as_json:
        show_json(kept)
        return
    click.echo(f"Spot readings {made[:8]} are kept.")
    for name, value in (kept["result"] or {}).items():
        words, unit = name.removesuffix("_degF").replace("_", " "), " °F" if name.endswith("_degF") else ""
        click.echo(f"  {words}: {value}{unit}")


@command.command("action")
@click.argument("visit")
@click.argument("text")
@click.option("--circuit", help="On which circuit, when the unit has several.")
@click.option("--minutes", type=float, help="How long it took.")
@click.option("--refrigerant-in", "put_in", metavar="WEIGHT", help='Refrigerant put in, such as "6 oz" or "1.2 kg".')
@click.option("--refrigerant-out", "taken_out", metavar="WEIGHT", help="Refrigerant taken out.")
@click.option("--refrigerant", help="Which, when not the one in the records.")
@click.option("--cylinder", help="Cylinder.")
@with_store
def action(
    session: Session,
    as_json: bool,
    visit: str,
    text: str,
    circuit: str | None,
    minutes: float | None,
    put_in: str | None,
    taken_out: str | None,
    refrigerant: str | None,
    cylinder: str | None,
) -> None:
    """Write down what was done, and refrigerant that went in or out."""
    from steadfeed.visit.visits import act

    visit_id = _visit(session, visit)
    weighed = put_in is not None or taken_out is not None
    circuit_id = _circuit(session, visit_id, circuit) if circuit or weighed else None
    moves = []
    for direction, weight in (("in", put_in), ("out", taken_out)):
        if weight is not None and circuit_id is not None:
            from steadfeed.visit.visits import move_refrigerant

            moves.append(
                move_refrigerant(
                    session, visit_id, circuit_id, direction, weight, refrigerant=refrigerant, cylinder=cylinder
                )
            )
    made = act(session, visit_id, text, circuit_id=circuit_id, minutes=minutes)
    _done(as_json, "Kept.", action_id=made, refrigerant_moves=moves)


@command.command("note")
@click.argument("visit")
@click.option("--complaint", help="The complaint in the customer's words.")
@click.option("--draft", help="The technician's own conclusion.")
@click.option("--not-refrigerant", help="Why the refrigerant circuit is not suspected.")
@click.option("--review", help="The reviewer's word (with --as NAME).")
@with_store
def note(
    session: Session,
    as_json: bool,
    visit: str,
    complaint: str | None,
    draft: str | None,
    not_refrigerant: str | None,
    review: str | None,
) -> None:
    """Write complaint, conclusion, the reason to leave the refrigerant circuit alone, or a review."""
    from steadfeed.visit.visits import note as keep
    from steadfeed.visit.visits import review as keep_review

    visit_id = _visit(session, visit)
    fields = {"complaint": complaint, "draft": draft, "not_refrigerant": not_refrigerant}
    given = {name: value for name, value in fields.items() if value is not None}
    made = keep(session, visit_id, **given) if given else []
    if review is not None:
        made += keep_review(session, visit_id, review)
    _done(as_json, f"{len(made)} fields are kept.", entries=made)


@command.command("override")
@click.argument("visit")
@click.argument("what", type=click.Choice(_WHAT))
@click.option("--text", help="In words, such as the setting that it had.")
@with_store
def override(session: Session, as_json: bool, visit: str, what: str, text: str | None) -> None:
    """Write down what was set aside for the test. The visit cannot close before it is answered."""
    from steadfeed.visit.visits import set_aside

    made = set_aside(session, _visit(session, visit), what, text)
    _done(as_json, f"{what.capitalize()}: set aside. It must be answered before closing.", override_id=made)


@command.command("put-back")
@click.argument("visit")
@click.argument("what", metavar="WHAT")
@click.option("--left-because", help="It stays as it is, on purpose: why.")
@click.option("--text", help="How it was verified.")
@with_store
def put_back(
    session: Session, as_json: bool, visit: str, what: str, left_because: str | None, text: str | None
) -> None:
    """Answer what was set aside: WHAT is its word (thermostat, cover …) or the start of its identity."""
    from steadfeed.errors import FixInput
    from steadfeed.visit.visits import open_overrides
    from steadfeed.visit.visits import put_back as answer

    visit_id = _visit(session, visit)
    with session.store.reading() as t:
        waiting = open_overrides(t, visit_id)
    match = [o for o in waiting if o["what"] == what or (len(what) >= 4 and o["id"].startswith(what.lower()))]
    if not match:
        there = ", ".join(o["what"] for o in waiting) or "nothing"
        raise FixInput(f"No open “{what}” on this visit; open: {there}", code="no such override")
    made = answer(session, match[0]["id"], left_because=left_because, text=text)
    _done(
        as_json,
        f"{match[0]['what'].capitalize()}: {'left on purpose' if left_because else 'put back'}.",
        put_back_id=made,
    )


@command.command("pair")
@click.argument("visit")
@click.argument("found")
@click.argument("left")
@with_store
def pair(session: Session, as_json: bool, visit: str, found: str, left: str) -> None:
    """Bind readings as found to readings as left: two challenges, or two sets of spot readings."""
    from steadfeed.errors import FixInput
    from steadfeed.visit.session import find_row
    from steadfeed.visit.visits import pair as bind

    visit_id = _visit(session, visit)
    with session.store.reading() as t:
        try:
            ids = {"found_challenge": find_row(t, "challenge", found), "left_challenge": find_row(t, "challenge", left)}
        except FixInput:
            ids = {"found_spot": find_row(t, "spot", found), "left_spot": find_row(t, "spot", left)}
    _done(as_json, "Bound.", pair_id=bind(session, visit_id, **ids))


@command.command("attach")
@click.argument("visit")
@click.argument("file", type=_READABLE)
@click.option(
    "--kind",
    type=click.Choice(["photo", "voice note", "signature"]),
    default="photo",
    show_default=True,
    help="What it is.",
)
@click.option("--text", help="Caption.")
@with_store
def attach(session: Session, as_json: bool, visit: str, file: Path, kind: str, text: str | None) -> None:
    """Attach a photo or voice note. It is made small, and where it was taken is left out."""
    from steadfeed.visit.records_care import attach_file

    made = attach_file(session, "visit", _visit(session, visit), kind, file.read_bytes(), text)
    _done(as_json, f"{kind.capitalize()} {made[:8]} is kept.", attachment_id=made)


@command.command("move")
@click.argument("readings")
@click.argument("unit")
@click.option("--circuit", help="Which circuit of the unit.")
@click.option("--reason", required=True, help="Why they belong there.")
@with_store
def move(session: Session, as_json: bool, readings: str, unit: str, circuit: str | None, reason: str) -> None:
    """Move READINGS (a challenge or spot readings) to another UNIT. A trail stays."""
    from steadfeed.errors import FixInput
    from steadfeed.visit.session import find_row, find_unit
    from steadfeed.visit.units import move_readings
    from steadfeed.visit.visits import circuit_named

    with session.store.reading() as t:
        try:
            readings_id = find_row(t, "challenge", readings)
        except FixInput:
            readings_id = find_row(t, "spot", readings)
        circuit_id = circuit_named(t, find_unit(t, unit), circuit)
    _done(as_json, "Moved.", entry_id=move_readings(session, readings_id, circuit_id, reason))


@command.command("withdraw")
@click.argument("what")
@click.argument("identity")
@click.option("--reason", required=True, help="Why.")
@with_store
def withdraw(session: Session, as_json: bool, what: str, identity: str, reason: str) -> None:
    """Withdraw something written down by mistake: WHAT is its table (action, spot, refrigerant_move …)."""
    from steadfeed.visit.session import find_row
    from steadfeed.visit.visits import check_fact
    from steadfeed.visit.visits import withdraw as take_back

    name = check_fact(what)
    with session.store.reading() as t:
        row_id = find_row(t, name, identity)
    _done(as_json, "Withdrawn; it stays in the history.", entry_id=take_back(session, name, row_id, reason))


@command.command("undo")
@click.argument("entry")
@click.option("--reason", help="Why.")
@with_store
def undo(session: Session, as_json: bool, entry: str, reason: str | None) -> None:
    """Take one edit back by an entry that stands in place of it. ENTRY is the start of its identity."""
    from steadfeed.visit.session import find_row
    from steadfeed.visit.units import undo_edit

    with session.store.reading() as t:
        entry_id = find_row(t, "entry", entry)
    _done(as_json, "Undone.", entry_id=undo_edit(session, entry_id, reason))


@command.command("close")
@click.argument("visit")
@with_store
def close(session: Session, as_json: bool, visit: str) -> None:
    """Close VISIT. What was set aside must be answered first."""
    from steadfeed.visit.visits import close_visit

    visit_id = _visit(session, visit)
    close_visit(session, visit_id)
    _done(as_json, "Closed.", visit_id=visit_id)


@command.command("reopen")
@click.argument("visit")
@click.option("--reason", required=True, help="Why.")
@with_store
def reopen(session: Session, as_json: bool, visit: str, reason: str) -> None:
    """Open a closed visit again."""
    from steadfeed.visit.visits import reopen_visit

    visit_id = _visit(session, visit, closed_too=True)
    reopen_visit(session, visit_id, reason)
    _done(as_json, "Open again.", visit_id=visit_id)


@command.command("hand-over")
@click.argument("visit")
@click.option("--to", "to", required=True, help="Who takes it.")
@click.option("--out", type=click.Path(path_type=Path), help="File to write; else one is named after the visit.")
@click.option("--codes", is_flag=True, help="Write a page with QR codes that show in turn, instead of a file.")
@with_store
def hand_over(session: Session, as_json: bool, visit: str, to: str, out: Path | None, codes: bool) -> None:
    """Hand VISIT over to another person or device, without a network. Give your own name with --as."""
    from steadfeed.visit.hand_over import code_page, give, write_new

    visit_id = _visit(session, visit)
    content = give(session, visit_id, to, for_codes=codes)
    path = out or Path(f"visit-{visit_id[:8]}.{'html' if codes else 'handover'}")
    write_new(path, code_page(content) if codes else content)
    _done(
        as_json, f"Written: {path}. {to} takes it with `steadfeed visit take-over`.", file=str(path), visit_id=visit_id
    )


@command.command("take-over")
@click.argument("file", type=_READABLE)
@click.option("--codes", is_flag=True, help="FILE holds the texts of QR codes, one a line, in any order.")
@with_store
def take_over(session: Session, as_json: bool, file: Path, codes: bool) -> None:
    """Take a visit over from FILE. Give your own name with --as."""
    from steadfeed.visit.hand_over import from_codes, take

    content = from_codes(file.read_text("utf-8").splitlines()) if codes else file.read_bytes()
    taken = take(session, content)
    if as_json:
        show_json(
            {
                "visit_id": taken.visit_id,
                "sentences": taken.sentences,
                "readings": taken.readings,
                "conflicts": taken.conflicts,
            }
        )
        return
    for sentence in taken.sentences:
        click.echo(sentence)
    click.echo(f"{taken.readings} readings are new here.")


@command.command("show")
@click.argument("visit")
@with_store_to_read
def show(session: Session, as_json: bool, visit: str) -> None:
    """Show all that was written down on VISIT."""
    from steadfeed.visit.visits import visit_page

    page = visit_page(session, _visit(session, visit, closed_too=True))
    if as_json:
        show_json(page)
        return
    about = page["visit"]
    offset = about["utc_offset"] or 0.0
    click.echo(
        f"Visit {about['id'][:8]}, opened {hour(about['opened_at'], offset)}, "
        + (f"closed {hour(about['closed_at'], offset)}" if about["closed_at"] else "open")
    )
    for name in ("complaint", "not_refrigerant", "draft", "review"):
        if about[name]:
            click.echo(f"  {name.replace('_', ' ')}: {about[name]}")
    for one in page["challenges"]:
        word = one["verdict"]["verdict"] if one["verdict"] else "not judged"
        click.echo(f"  challenge {one['id'][:8]} {hour(one['started_at'], offset)}: {word}")
    for one in page["spots"]:
        said = ", ".join(f"{v['channel']} {v['value']} {v['unit']}" for v in one["values"])
        click.echo(f"  spot {one['id'][:8]}: {said}")
    for one in page["actions"]:
        click.echo(f"  {day(one['at'], offset)} {one['text']}")
    for one in page["refrigerant_moves"]:
        click.echo(f"  {one['refrigerant']} {one['direction']}: {one['as_typed']}")
    for one in page["findings"]:
        likely = one["likelihood"]
        sure = "" if likely is None else " (> 99%)" if likely > 0.99 else f" ({likely:.0%})"
        click.echo(f"  finding {one['code']}{sure}: {one['text']}")
    for one in page["next_tests"]:
        showed = "; ".join(o["outcome"] for o in one["outcomes"]) or "not done"
        click.echo(f"  test {one['code']}: {showed}")
    for one in page["attachments"]:
        click.echo(f"  {one['kind']} {one['id'][:8]}: {one['text'] or one['media']}")
    for one in page["signatures"]:
        click.echo(f"  signed by the {one['role']} {hour(one['at'], offset)}, paper {one['signed_sha256'][:12]}…")
    for one in page["deliveries"]:
        click.echo(f"  {one['document']}: {one['way']} {hour(one['at'], offset)}, paper {one['sha256'][:12]}…")
    for one in page["overrides"]:
        answer = one["put_back"]["answer"] if one["put_back"] else "NOT ANSWERED"
        click.echo(f"  set aside: {one['what']}: {answer}")
