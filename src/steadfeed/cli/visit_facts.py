"""`steadfeed visit finding | next-test | tested | instrument | sign | deliver`: what a visit found, proved and handed out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from steadfeed.cli.store_options import fields_of, show_json, with_store

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

_READABLE = click.Path(exists=True, dir_okay=False, path_type=Path)
_ROLES: Final = ("customer", "technician", "reviewer")
_WAYS: Final = ("printed", "sent", "shown", "file")


def visit_named(session: Session, reference: str, *, closed_too: bool = False) -> str:
    """Return the identity of the visit that was meant."""
    from steadfeed.visit.session import find_visit

    with session.store.reading() as t:
        return find_visit(t, reference, closed_too=closed_too)


def done(as_json: bool, sentence: str, **facts: Any) -> None:
    """Say that it is done, as a sentence or as JSON."""
    if as_json:
        show_json(facts)
    else:
        click.echo(sentence)


@click.command("finding")
@click.argument("visit")
@click.argument("code")
@click.argument("text")
@click.option("--circuit", help="In which circuit, when the unit has several.")
@click.option(
    "--likelihood", type=click.FloatRange(0, 100), metavar="PERCENT", help="How likely you hold it, 0 to 100."
)
@with_store
def finding(
    session: Session, as_json: bool, visit: str, code: str, text: str, circuit: str | None, likelihood: float | None
) -> None:
    """Write down a cause that you found: CODE in a word or two, TEXT in a sentence."""
    from steadfeed.visit.facts import note_finding
    from steadfeed.visit.visits import circuit_of

    visit_id, circuit_id = visit_named(session, visit), None
    if circuit is not None:
        with session.store.reading() as t:
            circuit_id = circuit_of(t, visit_id, circuit)
    share = None if likelihood is None else likelihood / 100
    made = note_finding(session, visit_id, code, text, circuit_id=circuit_id, likelihood=share)
    done(as_json, f"Finding {made[:8]} is kept.", finding_id=made)


@click.command("next-test")
@click.argument("visit")
@click.argument("code")
@click.argument("text")
@click.option("--finding", help="Which finding it settles: its code or the start of its identity.")
@click.option("--minutes", type=float, help="How long it takes.")
@click.option("--expect", multiple=True, metavar="CAUSE=WHAT", help="What a cause would show; may be repeated.")
@with_store
def next_test(
    session: Session,
    as_json: bool,
    visit: str,
    code: str,
    text: str,
    finding: str | None,
    minutes: float | None,
    expect: tuple[str, ...],
) -> None:
    """Write down a test that would settle it: CODE in a word or two, TEXT how it is done."""
    from steadfeed.visit.facts import fact_of, propose_test

    visit_id = visit_named(session, visit)
    settles = None if finding is None else fact_of(session, visit_id, "finding", finding)
    made = propose_test(
        session, visit_id, code, text, finding_id=settles, minutes=minutes, expected=fields_of(expect) or None
    )
    done(as_json, f"Test {made[:8]} is kept.", next_test_id=made)


@click.command("tested")
@click.argument("visit")
@click.argument("test")
@click.argument("outcome")
@click.option("--text", help="In words.")
@with_store
def tested(session: Session, as_json: bool, visit: str, test: str, outcome: str, text: str | None) -> None:
    """Write down what a test showed. TEST is its code or the start of its identity."""
    from steadfeed.visit.facts import answer_test, fact_of

    test_id = fact_of(session, visit_named(session, visit), "next_test", test)
    made = answer_test(session, test_id, outcome, text)
    done(as_json, "Kept.", test_outcome_id=made, next_test_id=test_id)


@click.command("instrument")
@click.argument("visit")
@click.argument("instrument")
@click.option("--place", help="Where it was put, such as suction_pressure.")
@with_store
def instrument(session: Session, as_json: bool, visit: str, instrument: str, place: str | None) -> None:
    """Write down that an INSTRUMENT (serial or start of its identity) was used. Says when it is out of calibration."""
    from steadfeed.visit.facts import instrument_named, use_instrument

    visit_id, instrument_id = visit_named(session, visit), instrument_named(session, instrument)
    sentence = use_instrument(session, visit_id, instrument_id, place)
    done(as_json, sentence or "Kept; its calibration is valid.", instrument_id=instrument_id, remark=sentence)


@click.command("sign")
@click.argument("visit")
@click.argument("drawing", type=_READABLE)
@click.argument("paper", type=_READABLE)
@click.option("--role", type=click.Choice(_ROLES), default="customer", show_default=True, help="Who signs.")
@with_store
def sign(session: Session, as_json: bool, visit: str, drawing: Path, paper: Path, role: str) -> None:
    """Keep a signature: DRAWING is its picture, PAPER the file that was shown. It is bound to the paper's hash."""
    from steadfeed.visit.facts import sign as keep

    made = keep(session, visit_named(session, visit), role, drawing.read_bytes(), paper.read_bytes())
    done(as_json, f"Signature of the {role} under {paper.name} is kept.", signature_id=made)


@click.command("deliver")
@click.argument("visit")
@click.argument("paper", type=_READABLE)
@click.option("--way", type=click.Choice(_WAYS), required=True, help="How it was given.")
@click.option("--name", help="What the paper is called; else its file's name.")
@with_store
def deliver(session: Session, as_json: bool, visit: str, paper: Path, way: str, name: str | None) -> None:
    """Write down that PAPER was given. Its hash is kept, so that the same paper can be recognised."""
    import hashlib

    from steadfeed.visit.facts import deliver as keep

    sha256 = hashlib.sha256(paper.read_bytes()).hexdigest()
    made = keep(session, visit_named(session, visit), name or paper.name, sha256, way)
    done(as_json, f"{name or paper.name}: {way}, hash {sha256[:12]}…", delivery_id=made, sha256=sha256)


COMMANDS: Final = (finding, next_test, tested, instrument, sign, deliver)
