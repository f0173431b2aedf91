"""What the store keeps twice so that a search is fast. All of it can be made again from the rest."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any, Final

import sqlalchemy as sa

from steadfeed.records.schema import table

_WORD, _LATEST = table("search_word"), table("latest_verdict")
_UNIT, _SITE, _CUSTOMER = table("unit"), table("site"), table("customer")
_CIRCUIT, _REFRIGERANT = table("circuit"), table("circuit_refrigerant")
_VISIT, _CHALLENGE, _VERDICT = table("visit"), table("challenge"), table("verdict")
_PIECE: Final = re.compile(r"[^\W_]+", re.UNICODE)
_LONGEST_WORD: Final = 60


def plain_words(text: str) -> list[str]:
    """Return the words of a text in lower case without accents, in order."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    return _PIECE.findall("".join(c for c in folded if not unicodedata.combining(c)))


def code_words(text: str) -> set[str]:
    """Return the words by which a serial, tag or designation is found: its pieces, itself in one, its last four."""
    pieces = plain_words(text)
    whole = "".join(pieces)
    return {*pieces, whole, whole[-4:]} - {""}


def after_change(t: sa.Connection, name: str, ids: Sequence[str]) -> None:
    """Bring up to date what is derived from the given rows of one table."""
    if name == "unit":
        index_units(t, ids)
    elif name in ("site", "customer"):
        column = _SITE.c.id if name == "site" else _SITE.c.customer_id
        for some in _chunks(ids):
            query = sa.select(_UNIT.c.id).join(_SITE, _SITE.c.id == _UNIT.c.site_id).where(column.in_(some))
            index_units(t, list(t.execute(query).scalars()))
    elif name in ("circuit", "circuit_refrigerant"):
        for some in _chunks(ids):
            query = sa.select(_CIRCUIT.c.unit_id).distinct()
            if name == "circuit":
                query = query.where(_CIRCUIT.c.id.in_(some))
            else:
                query = query.join(_REFRIGERANT, _REFRIGERANT.c.circuit_id == _CIRCUIT.c.id)
                query = query.where(_REFRIGERANT.c.id.in_(some))
            index_units(t, list(t.execute(query).scalars()))
    elif name == "verdict":
        for some in _chunks(ids):
            note_verdicts(
                t, list(t.execute(sa.select(_VERDICT.c.challenge_id).where(_VERDICT.c.id.in_(some))).scalars())
            )
    elif name == "challenge":
        note_verdicts(t, ids)
    elif name == "visit":
        for some in _chunks(ids):
            note_verdicts(
                t, list(t.execute(sa.select(_CHALLENGE.c.id).where(_CHALLENGE.c.visit_id.in_(some))).scalars())
            )


def index_units(t: sa.Connection, unit_ids: Iterable[str]) -> None:
    """Write the words by which units are found."""
    for some in _chunks(list(dict.fromkeys(unit_ids))):
        t.execute(_WORD.delete().where(_WORD.c.unit_id.in_(some)))
        rows = [{"word": word, "unit_id": unit_id} for word, unit_id in _words_of(t, some)]
        if rows:
            t.execute(_WORD.insert(), rows)


def _words_of(t: sa.Connection, some: list[str]) -> set[tuple[str, str]]:
    """Return (word, unit) for units."""
    words: dict[str, set[str]] = {unit_id: set() for unit_id in some}
    query = (
        sa.select(
            _UNIT.c.id, _UNIT.c.tag, _UNIT.c.serial, _UNIT.c.model, _UNIT.c.maker, _UNIT.c.place,
            _SITE.c.name.label("site"), _SITE.c.address, _CUSTOMER.c.name.label("customer"),
        )
        .select_from(
            _UNIT.join(_SITE, _SITE.c.id == _UNIT.c.site_id).outerjoin(
                _CUSTOMER, _CUSTOMER.c.id == _SITE.c.customer_id
            )
        )
        .where(_UNIT.c.id.in_(some))
    )  # fmt: skip
    for row in t.execute(query):
        for plain in (row.place, row.site, row.address, row.customer, row.maker):
            words[row.id].update(plain_words(plain or ""))
        for code in (row.tag, row.serial, row.model):
            words[row.id].update(code_words(code or ""))
    held = (
        sa.select(_CIRCUIT.c.unit_id, _REFRIGERANT.c.refrigerant)
        .join(_REFRIGERANT, _REFRIGERANT.c.circuit_id == _CIRCUIT.c.id)
        .where(_CIRCUIT.c.unit_id.in_(some), _REFRIGERANT.c.withdrawn == sa.false())
    )
    for unit_id, refrigerant in t.execute(held):
        words[unit_id].add("".join(plain_words(refrigerant)))
    return {(w[:_LONGEST_WORD], u) for u, found in words.items() for w in found}


def note_verdicts(t: sa.Connection, challenge_ids: Iterable[str]) -> None:
    """Note for challenges which of their verdicts stands: the one that no other stands in place of."""
    for some in _chunks(list(dict.fromkeys(challenge_ids))):
        t.execute(_LATEST.delete().where(_LATEST.c.challenge_id.in_(some)))
        standing = _standing_of(t, some)
        if standing:
            t.execute(_LATEST.insert(), standing)


def _standing_of(t: sa.Connection, some: list[str]) -> list[dict[str, Any]]:
    """Return the row of latest_verdict for each challenge that has a verdict."""
    newer = _VERDICT.alias("newer")
    query = (
        sa.select(
            _VERDICT.c.challenge_id, _VERDICT.c.id, _VERDICT.c.verdict, _VERDICT.c.made_at,
            _CHALLENGE.c.visit_id, _VISIT.c.opened_at,
        )
        .select_from(
            _VERDICT.join(_CHALLENGE, _CHALLENGE.c.id == _VERDICT.c.challenge_id)
            .join(_VISIT, _VISIT.c.id == _CHALLENGE.c.visit_id)
            .outerjoin(newer, sa.and_(newer.c.supersedes == _VERDICT.c.id, newer.c.withdrawn == sa.false(),
                                      newer.c.challenge_id == _VERDICT.c.challenge_id))
        )
        .where(_VERDICT.c.challenge_id.in_(some), _VERDICT.c.withdrawn == sa.false(), newer.c.id.is_(None))
        .order_by(_VERDICT.c.made_at, _VERDICT.c.id)
    )  # fmt: skip
    last: dict[str, dict[str, Any]] = {
        row.challenge_id: {
            "challenge_id": row.challenge_id,
            "verdict_id": row.id,
            "verdict": row.verdict,
            "visit_id": row.visit_id,
            "opened_at": row.opened_at,
        }
        for row in t.execute(query)
    }
    return list(last.values())


def make_again(t: sa.Connection) -> None:
    """Make all that is derived again from the rest of the store."""
    t.execute(_WORD.delete())
    t.execute(_LATEST.delete())
    index_units(t, list(t.execute(sa.select(_UNIT.c.id)).scalars()))
    note_verdicts(t, list(t.execute(sa.select(_VERDICT.c.challenge_id).distinct()).scalars()))


def would_be(t: sa.Connection, name: str) -> set[tuple[Any, ...]]:
    """Return the rows that a derived table should have."""
    made: set[tuple[Any, ...]] = set()
    if name == "search_word":
        for some in _chunks(list(t.execute(sa.select(_UNIT.c.id)).scalars())):
            made |= _words_of(t, some)
    else:
        for some in _chunks(list(t.execute(sa.select(_VERDICT.c.challenge_id).distinct()).scalars())):
            made |= {tuple(row[c.name] for c in _LATEST.columns) for row in _standing_of(t, some)}
    return made


def _chunks(ids: Sequence[str], size: int = 500) -> Iterable[list[str]]:
    for at in range(0, len(ids), size):
        yield list(ids[at : at + size])
