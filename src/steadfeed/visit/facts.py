"""Instruments with their calibration, findings, next tests with their outcome, signatures and deliveries."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session
from steadfeed.visit.units_due import check_day

if TYPE_CHECKING:
    import sqlalchemy as sa

_SHA256: Final = re.compile(r"[0-9a-f]{64}")


def calibrate(
    session: Session,
    instrument_id: str,
    *,
    valid_from: str | None = None,
    valid_until: str | None = None,
    certificate: str | None = None,
) -> str:
    """Write down a calibration of an instrument, valid between two days (ISO 8601). Return its identity."""
    from steadfeed.records import rows

    first = None if valid_from is None else check_day(valid_from)
    last = None if valid_until is None else check_day(valid_until)
    if first is not None and last is not None and last < first:
        raise FixInput("A calibration cannot end before it begins", code="bad day")
    values = {"instrument_id": instrument_id, "valid_from": first, "valid_until": last, "certificate": certificate}
    with session.store.writing() as t:
        rows.get(t, "instrument", instrument_id)
        return rows.add(t, "calibration", values, session.by)


def calibration_on(t: sa.Connection, instrument_id: str, day: str) -> dict[str, Any] | None:
    """Return the calibration of an instrument that is valid on a day (ISO 8601), the one that ends last."""
    from steadfeed.records import rows

    valid = [
        c
        for c in rows.find(t, "calibration", instrument_id=instrument_id)
        if (c["valid_from"] or "") <= day <= (c["valid_until"] or "9999-12-31")
    ]
    return max(valid, key=lambda c: c["valid_until"] or "9999-12-31") if valid else None


def use_instrument(session: Session, visit_id: str, instrument_id: str, place: str | None = None) -> str | None:
    """Write down that an instrument was used on a visit. Return a sentence when its calibration is not valid that day."""
    from steadfeed.records import rows

    local = datetime.datetime.fromtimestamp(session.now + session.utc_offset, datetime.UTC)
    with session.store.writing() as t:
        instrument = rows.get(t, "instrument", instrument_id)
        rows.add(
            t, "instrument_use", {"visit_id": visit_id, "instrument_id": instrument_id, "place": place}, session.by
        )
        valid = calibration_on(t, instrument_id, local.date().isoformat())
        known = rows.find(t, "calibration", instrument_id=instrument_id)
    named = f"The {instrument['kind']} {instrument['serial'] or instrument['id'][:8]}"
    if valid is not None:
        return None
    if not known:
        return f"{named} has no calibration in the records"
    ends = [c["valid_until"] for c in known if c["valid_until"]]
    return f"{named} is out of calibration since {max(ends)}" if ends else f"{named} is not in calibration on this day"


def instrument_named(session: Session, reference: str) -> str:
    """Return the identity of an instrument by its serial, or by the start of its identity."""
    from steadfeed.records import rows
    from steadfeed.visit.session import find_row

    with session.store.reading() as t:
        found = rows.find(t, "instrument", serial=reference.strip())
        if len(found) == 1:
            return str(found[0]["id"])
        if found:
            raise FixInput(f"{len(found)} instruments have the serial “{reference}”; give the start of one identity")
        return find_row(t, "instrument", reference)


def fact_of(session: Session, visit_id: str, name: str, reference: str) -> str:
    """Return the identity of a fact of a visit by its code, or by the start of its identity.

    name: table with a column “code”. The newest counts when several have the code. Raises FixInput when there is none.
    """
    from steadfeed.records import rows

    wanted = reference.strip()
    with session.store.reading() as t:
        there = rows.find(t, name, visit_id=visit_id, order="made_at")
    match = [r for r in there if r["code"] == wanted]
    match = match or [r for r in there if len(wanted) >= 4 and r["id"].startswith(wanted.lower())]
    if not match:
        word = name.replace("_", " ")
        known = ", ".join(sorted({r["code"] for r in there})) or "none"
        raise FixInput(f"There is no {word} “{wanted}” on this visit; there is: {known}", code=f"no such {word}")
    return str(match[-1]["id"])


def note_finding(
    session: Session,
    visit_id: str,
    code: str,
    text: str,
    *,
    circuit_id: str | None = None,
    spot_id: str | None = None,
    likelihood: float | None = None,
    method_version: str | None = None,
) -> str:
    """Write down a cause that a person or a method found. Return its identity."""
    from steadfeed.records import rows

    if likelihood is not None and not 0.0 <= likelihood <= 1.0:
        raise FixInput(f"A likelihood lies between 0 and 1; {likelihood} does not", code="bad number")
    values = {
        "visit_id": visit_id,
        "circuit_id": circuit_id,
        "spot_id": spot_id,
        "code": code,
        "text": text,
        "likelihood": likelihood,
        "method_version": method_version,
    }
    with session.store.writing() as t:
        return rows.add(t, "finding", values, session.by)


def propose_test(
    session: Session,
    visit_id: str,
    code: str,
    text: str,
    *,
    finding_id: str | None = None,
    minutes: float | None = None,
    expected: Mapping[str, str] | None = None,
) -> str:
    """Write down a next test: how it is done and what each cause would show. Return its identity."""
    from steadfeed.records import rows

    values = {
        "visit_id": visit_id,
        "finding_id": finding_id,
        "code": code,
        "text": text,
        "minutes": minutes,
        "expected": None if expected is None else json.dumps(dict(expected), ensure_ascii=False),
    }
    with session.store.writing() as t:
        return rows.add(t, "next_test", values, session.by)


def answer_test(session: Session, next_test_id: str, outcome: str, text: str | None = None) -> str:
    """Write down what a next test showed. A second answer stands beside the first. Return its identity."""
    from steadfeed.records import rows

    values = {"next_test_id": next_test_id, "outcome": outcome, "text": text}
    with session.store.writing() as t:
        rows.get(t, "next_test", next_test_id)
        return rows.add(t, "test_outcome", values, session.by)


def sign(session: Session, visit_id: str, role: str, drawing: bytes, document: bytes) -> str:
    """Keep a drawn signature under the document that was shown, bound to its hash. Return the signature's identity.

    role: customer, technician or reviewer. The drawing can be erased later; that and what was signed stays.
    """
    import hashlib

    from steadfeed.records import rows
    from steadfeed.records.attachments import attach

    with session.store.writing() as t:
        attachment = attach(t, "visit", visit_id, "signature", drawing, session.by)
        values = {
            "visit_id": visit_id,
            "role": role,
            "attachment_id": attachment,
            "signed_sha256": hashlib.sha256(document).hexdigest(),
            "at": session.now,
        }
        return rows.add(t, "signature", values, session.by)


def deliver(session: Session, visit_id: str, document: str, sha256: str, way: str) -> str:
    """Write down that a paper was given: which, its hash, and how (printed, sent, shown, file)."""
    from steadfeed.records import rows

    if not _SHA256.fullmatch(sha256):
        raise FixInput("A delivery needs the SHA-256 of the paper", code="bad value")
    values = {"visit_id": visit_id, "document": document, "sha256": sha256, "way": way, "at": session.now}
    with session.store.writing() as t:
        return rows.add(t, "delivery", values, session.by)
