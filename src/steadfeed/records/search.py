"""Finding units and visits among many: by words (customer, address, place, tag, serial, refrigerant) and by verdict."""

from __future__ import annotations

from collections.abc import Sequence
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
    found: set[str] | None = None
    for word in _wanted(text):
        query = sa.select(_WORD.c.unit_id).where(_WORD.c.word >= word, _WORD.c.word < word + _LAST_CHARACTER)
        units = set(t.execute(query).scalars())
        found = units if found is None else found & units
        if not found:
            break
    return found


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
    units = units_with(t, text)
    if refrigerant:
        with_it = units_with(t, refrigerant) or set()
        units = with_it if units is None else units & with_it
    if units is not None and not units:
        return []
    ids = _visit_ids(t, units, refrigerant, verdict, since, until, limit)
    return _described(t, ids)


def _visit_ids(
    t: sa.Connection,
    units: set[str] | None,
    refrigerant: str | None,
    verdict: str | None,
    since: float | None,
    until: float | None,
    limit: int,
) -> list[str]:
    when = [_VISIT.c.opened_at >= since] if since is not None else []
    if until is not None:
        when.append(_VISIT.c.opened_at < until)
    if refrigerant:
        when.append(_held(refrigerant))
    if units is not None and len(units) <= _FEW:
        query = sa.select(_VISIT.c.id).where(_VISIT.c.unit_id.in_(sorted(units)), *when)
        if verdict:
            query = query.where(sa.exists().where(_LATEST.c.visit_id == _VISIT.c.id, _LATEST.c.verdict == verdict))
        return list(t.execute(query.order_by(_VISIT.c.opened_at.desc(), _VISIT.c.id).limit(limit)).scalars())
    # Many units: walk from the newest visit (of that verdict) and stop as soon as enough are found.
    walked: sa.Select[Any] = sa.select(_VISIT.c.id, _VISIT.c.unit_id).where(*when)
    if verdict:
        walked = walked.join(_LATEST, _LATEST.c.visit_id == _VISIT.c.id).where(_LATEST.c.verdict == verdict)
        walked = walked.order_by(_LATEST.c.opened_at.desc())
    else:
        walked = walked.order_by(_VISIT.c.opened_at.desc())
    found: dict[str, None] = {}
    page = walked if units is not None else walked.limit(limit * 4)
    for row in t.execute(page, execution_options={"yield_per": 500}):
        if units is None or row.unit_id in units:
            found[row.id] = None
            if len(found) >= limit:
                break
    return list(found)


def _held(refrigerant: str) -> sa.ColumnElement[bool]:
    """The condition that a circuit of the visit's unit held a refrigerant when the visit was opened."""
    later = _REFRIGERANT.alias("later")
    wanted = sa.func.lower(sa.func.replace(_REFRIGERANT.c.refrigerant, "-", ""))
    then = _VISIT.c.opened_at
    return sa.exists().where(
        _CIRCUIT.c.unit_id == _VISIT.c.unit_id,
        _REFRIGERANT.c.circuit_id == _CIRCUIT.c.id,
        _REFRIGERANT.c.withdrawn == sa.false(),
        wanted == "".join(plain_words(refrigerant)),
        sa.func.coalesce(_REFRIGERANT.c.from_at, -1e12) <= then,
        ~sa.select(sa.literal(1))
        .where(
            later.c.circuit_id == _CIRCUIT.c.id,
            later.c.withdrawn == sa.false(),
            later.c.from_at > sa.func.coalesce(_REFRIGERANT.c.from_at, -1e12),
            later.c.from_at <= then,
        )
        .correlate(_VISIT, _CIRCUIT, _REFRIGERANT)
        .exists(),
    )


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
