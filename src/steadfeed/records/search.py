"""Finding units and visits among many: by words (customer, address, place, tag, serial, refrigerant) and by verdict."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from steadfeed.records.derived import plain_words
from steadfeed.records.schema import table

_WORD, _UNIT, _SITE, _CUSTOMER = table("search_word"), table("unit"), table("site"), table("customer")
_VISIT, _LATEST, _CIRCUIT = table("visit"), table("latest_verdict"), table("circuit")
_REFRIGERANT = table("circuit_refrigerant")
#: Up to this many units their visits are looked up one by one; with more, visits are walked from the newest.
_FEW: Final = 500
#: Pages of visits that are looked at one by one before all units that match are fetched.
_PATIENCE: Final = 4
_LAST_CHARACTER: Final = "\U0010ffff"


@dataclass(frozen=True, slots=True)
class Found:
    """A visit that was found. opened_at [s since the epoch]; verdicts: those that stand, one a challenge."""

    visit_id: str
    unit_id: str
    opened_at: float
    closed_at: float | None
    complaint: str | None
    tag: str | None
    place: str | None
    serial: str | None
    site: str | None
    address: str | None
    customer: str | None
    refrigerants: tuple[str, ...]
    verdicts: tuple[str, ...]


def units_with(t: sa.Connection, text: str) -> set[str] | None:
    """Return the units in whose words each word of `text` begins one; None when there is no word to look for."""
    words = _wanted(text)
    if not words:
        return None
    return set(t.execute(_having([_beginning(word) for word in words])).scalars())


#: A visit as it is walked over: id, unit_id, opened_at.
_Line = Any
#: A condition on a row of search_word, given its table or alias.
_Match = Callable[[sa.FromClause], sa.ColumnElement[bool]]


def _beginning(word: str) -> _Match:
    return lambda words: sa.and_(words.c.word >= word, words.c.word < word + _LAST_CHARACTER)


def _equal(word: str) -> _Match:
    return lambda words: words.c.word == word


def _having(matches: Sequence[_Match], among: Sequence[str] | None = None, most: int | None = None) -> sa.Executable:
    """The query for the units that have a word for each match, of all or among some, at most so many."""
    each = [sa.select(_WORD.c.unit_id).where(match(_WORD)) for match in matches]
    if among is not None:
        each = [query.where(_WORD.c.unit_id.in_(among)) for query in each]
    if len(each) == 1:
        return each[0].distinct().limit(most)
    return sa.intersect(*each).limit(most)


def _wanted(text: str) -> list[str]:
    """Split a text into words; a designation such as R-410A or a serial with dashes counts as one."""
    words: list[str] = []
    for piece in text.split():
        parts = plain_words(piece)
        if any(c.isdigit() for c in piece) and len(parts) > 1:
            words.append("".join(parts))
        else:
            words += parts
    return words


def find_visits(
    t: sa.Connection,
    text: str = "",
    *,
    refrigerant: str | None = None,
    verdict: str | None = None,
    since: float | None = None,
    until: float | None = None,
    limit: int = 50,
) -> list[Found]:
    """Return visits, newest first. text: words that must all be found; refrigerant: in the unit at the time of the visit.

    verdict: stands on one of the visit's challenges. since, until [s since the epoch].
    """
    matches = [_beginning(word) for word in _wanted(text)]
    if refrigerant:
        matches.append(_equal("".join(plain_words(refrigerant))))
    units: list[str] | None = None
    if matches:
        units = list(t.execute(_having(matches, most=_FEW + 1)).scalars())
        if not units:
            return []
    visits: Iterator[_Line]
    if units is not None and len(units) <= _FEW:
        visits = _visits_of(t, units, verdict, since, until)
    else:
        visits = _walked(t, matches, verdict, since, until)
    found: dict[str, None] = {}
    for page in _pages(visits):
        if refrigerant:
            page = _held(t, page, refrigerant)
        found.update((row.id, None) for row in page)
        if len(found) >= limit:
            break
    return _described(t, list(found)[:limit])


def _pages(visits: Iterator[_Line], size: int = 200) -> Iterator[list[_Line]]:
    while page := list(itertools.islice(visits, size)):
        yield page


def _between(since: float | None, until: float | None) -> list[sa.ColumnElement[bool]]:
    when = [_VISIT.c.opened_at >= since] if since is not None else []
    if until is not None:
        when.append(_VISIT.c.opened_at < until)
    return when


def _visits_of(
    t: sa.Connection, units: list[str], verdict: str | None, since: float | None, until: float | None
) -> Iterator[_Line]:
    """Yield the visits of a few units, newest first."""
    query = sa.select(_VISIT.c.id, _VISIT.c.unit_id, _VISIT.c.opened_at)
    query = query.where(_VISIT.c.unit_id.in_(sorted(units)), *_between(since, until))
    if verdict:
        query = query.where(sa.exists().where(_LATEST.c.visit_id == _VISIT.c.id, _LATEST.c.verdict == verdict))
    return iter(t.execute(query.order_by(_VISIT.c.opened_at.desc(), _VISIT.c.id)).all())


def _walked(
    t: sa.Connection, matches: Sequence[_Match], verdict: str | None, since: float | None, until: float | None
) -> Iterator[_Line]:
    """Yield visits from the newest (of that verdict), those whose units match. For matches that many units have.

    Page after page, the units of a page are looked at; when that does not get anywhere, all units that match are
    fetched once.
    """
    query = sa.select(_VISIT.c.id, _VISIT.c.unit_id, _VISIT.c.opened_at).where(*_between(since, until))
    if verdict:
        query = query.join(_LATEST, _LATEST.c.visit_id == _VISIT.c.id).where(_LATEST.c.verdict == verdict)
        query = query.order_by(_LATEST.c.opened_at.desc(), _VISIT.c.id)
    else:
        query = query.order_by(_VISIT.c.opened_at.desc(), _VISIT.c.id)
    rows = iter(t.execute(query, execution_options={"yield_per": 200}))
    everywhere: set[str] | None = None
    for number, page in enumerate(_pages(rows)):
        if not matches:
            yield from page
            continue
        if everywhere is None and number >= _PATIENCE:
            everywhere = set(t.execute(_having(matches)).scalars())
        here = everywhere
        if here is None:
            here = set(t.execute(_having(matches, sorted({row.unit_id for row in page}))).scalars())
        yield from (row for row in page if row.unit_id in here)


def _held(t: sa.Connection, page: Sequence[_Line], refrigerant: str) -> list[_Line]:
    """Keep the visits whose unit held a refrigerant when the visit was opened."""
    wanted = "".join(plain_words(refrigerant))
    held = refrigerants_at(t, {row.unit_id for row in page})
    return [
        row
        for row in page
        if any("".join(plain_words(name)) == wanted for name in _at(held.get(row.unit_id, []), row.opened_at))
    ]


def _described(t: sa.Connection, ids: Sequence[str]) -> list[Found]:
    if not ids:
        return []
    query = (
        sa.select(
            _VISIT.c.id, _VISIT.c.unit_id, _VISIT.c.opened_at, _VISIT.c.closed_at, _VISIT.c.complaint, _UNIT.c.tag,
            _UNIT.c.place, _UNIT.c.serial, _SITE.c.name.label("site"), _SITE.c.address, _CUSTOMER.c.name.label("customer"),
        )
        .select_from(
            _VISIT.join(_UNIT, _UNIT.c.id == _VISIT.c.unit_id)
            .join(_SITE, _SITE.c.id == _UNIT.c.site_id)
            .outerjoin(_CUSTOMER, _CUSTOMER.c.id == _SITE.c.customer_id)
        )
        .where(_VISIT.c.id.in_(list(ids)))
    )  # fmt: skip
    rows = {row.id: row for row in t.execute(query)}
    verdicts: dict[str, list[str]] = {}
    for visit_id, word in t.execute(
        sa.select(_LATEST.c.visit_id, _LATEST.c.verdict)
        .where(_LATEST.c.visit_id.in_(list(ids)))
        .order_by(_LATEST.c.challenge_id)
    ):
        verdicts.setdefault(visit_id, []).append(word)
    held = refrigerants_at(t, {row.unit_id for row in rows.values()})
    return [
        Found(
            visit_id=row.id,
            unit_id=row.unit_id,
            opened_at=row.opened_at,
            closed_at=row.closed_at,
            complaint=row.complaint,
            tag=row.tag,
            place=row.place,
            serial=row.serial,
            site=row.site,
            address=row.address,
            customer=row.customer,
            refrigerants=_at(held.get(row.unit_id, []), row.opened_at),
            verdicts=tuple(verdicts.get(row.id, ())),
        )
        for row in (rows[i] for i in ids)
    ]


def refrigerants_at(t: sa.Connection, unit_ids: set[str]) -> dict[str, list[tuple[str, float | None, str]]]:
    """Return for each unit its (circuit, from when, refrigerant), oldest first."""
    held: dict[str, list[tuple[str, float | None, str]]] = {}
    query = (
        sa.select(_CIRCUIT.c.unit_id, _CIRCUIT.c.id, _REFRIGERANT.c.from_at, _REFRIGERANT.c.refrigerant)
        .join(_REFRIGERANT, _REFRIGERANT.c.circuit_id == _CIRCUIT.c.id)
        .where(_CIRCUIT.c.unit_id.in_(sorted(unit_ids)), _REFRIGERANT.c.withdrawn == sa.false())
    )
    for unit_id, circuit_id, from_at, refrigerant in t.execute(query):
        held.setdefault(unit_id, []).append((circuit_id, from_at, refrigerant))
    for rows in held.values():
        rows.sort(key=lambda row: -1e12 if row[1] is None else row[1])
    return held


def _at(held: list[tuple[str, float | None, str]], moment: float) -> tuple[str, ...]:
    last = {circuit: name for circuit, since, name in held if since is None or since <= moment}
    return tuple(dict.fromkeys(last.values()))
