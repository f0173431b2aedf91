"""Instruments, findings, next tests, signatures, deliveries, and rows written from words."""

from __future__ import annotations

import hashlib

import pytest

from company import NOW, Small, small_company
from pictures import photo_with_location
from steadfeed.errors import FixInput
from steadfeed.records import attachments, people, rows
from steadfeed.records.check import check
from steadfeed.records.store import Store
from steadfeed.visit import facts, row_form, visits
from steadfeed.visit.session import Session

DAY = 86_400.0


@pytest.fixture
def company(store: Store) -> Small:
    with store.writing() as t:
        return small_company(t)


@pytest.fixture
def work(store: Store, company: Small) -> Session:
    return Session(store, NOW, "phone 1", company.person, -18_000.0)  # 2026-07-25, local noon


def test_an_instrument_out_of_calibration_is_said(work: Session, company: Small) -> None:
    gauge = row_form.add_row(work, "instrument", {"kind": "gauge", "serial": "G-7", "pressure_accuracy": "3447.4"})
    assert facts.use_instrument(work, company.visit, gauge) == "The gauge G-7 has no calibration in the records"
    facts.calibrate(work, gauge, valid_from="2025-07-01", valid_until="2026-07-25", certificate="C-1")
    assert facts.use_instrument(work, company.visit, gauge, "suction_pressure") is None
    late = work.at(NOW + DAY)
    assert facts.use_instrument(late, company.visit, gauge) == "The gauge G-7 is out of calibration since 2026-07-25"
    facts.calibrate(late, gauge, valid_from="2026-07-26", valid_until="2027-07-25")
    assert facts.use_instrument(late, company.visit, gauge) is None
    with pytest.raises(FixInput, match="cannot end before"):
        facts.calibrate(work, gauge, valid_from="2026-07-26", valid_until="2026-01-01")
    assert len(visits.visit_page(work, company.visit)["instrument_uses"]) == 4


def test_a_finding_its_test_and_what_it_showed(work: Session, company: Small) -> None:
    finding = facts.note_finding(work, company.visit, "bulb loose", "The bulb hangs loose.", likelihood=0.7)
    test = facts.propose_test(
        work, company.visit, "bulb in hand", "Warm the bulb in your hand.", finding_id=finding, minutes=3,
        expected={"bulb loose": "superheat falls", "charge lost": "nothing"},
    )  # fmt: skip
    facts.answer_test(work, test, "superheat falls", "from 24 to 9 °F")
    page = visits.visit_page(work, company.visit)
    assert page["findings"][0]["likelihood"] == 0.7
    assert [o["outcome"] for o in page["next_tests"][0]["outcomes"]] == ["superheat falls"]
    with pytest.raises(FixInput, match="between 0 and 1"):
        facts.note_finding(work, company.visit, "x", "y", likelihood=70.0)


def test_a_signature_is_bound_to_what_was_shown_and_its_drawing_can_go(work: Session, company: Small) -> None:
    paper = b"%PDF the report that was shown"
    facts.sign(work, company.visit, "customer", photo_with_location(300, 100), paper)
    facts.deliver(work, company.visit, "report", hashlib.sha256(paper).hexdigest(), "sent")
    page = visits.visit_page(work, company.visit)
    signed = page["signatures"][0]
    assert signed["signed_sha256"] == page["deliveries"][0]["sha256"] == hashlib.sha256(paper).hexdigest()
    people.erase(work.store, "customer", company.customer, work.by, "asked", [signed["attachment_id"]])
    with work.store.reading() as t:
        assert rows.find(t, "signature")[0]["signed_sha256"] == hashlib.sha256(paper).hexdigest()
        with pytest.raises(FixInput, match="erased"):
            attachments.content_of(t, signed["attachment_id"])
    assert check(work.store).sound
    with pytest.raises(FixInput, match="SHA-256"):
        facts.deliver(work, company.visit, "report", "abc", "sent")


def test_rows_from_words(work: Session, company: Small) -> None:
    person = row_form.add_row(
        work,
        "person",
        {"name": "Bram Osterhoudt", "certification_type": "Universal", "certification_number": "7", "licence": "TX-1"},
    )
    assert row_form.edit_row(work, "person", person, {"licence": "TX-2", "role": "lead"})
    plate = row_form.add_row(
        work,
        "nameplate",
        {"unit_id": company.unit, "charge_hundredth_oz": "9 lb 4 oz", "high_side_is_working_limit": "yes"},
    )
    with work.store.reading() as t:
        assert rows.get(t, "person", person)["licence"] == "TX-2"
        kept = rows.get(t, "nameplate", plate)
    assert (kept["charge_hundredth_oz"], kept["high_side_is_working_limit"]) == (14_800, True)
    for kind, fields, says in (
        ("person", {"age": "40"}, "no field “age”"),
        ("site", {"altitude": "high"}, "altitude is a number in m"),
        ("nameplate", {"high_side_is_working_limit": "maybe"}, "yes or no"),
        ("verdict", {"verdict": "fixed"}, "is not one of"),
        ("person", {"role": "king"}, "one of technician"),
    ):
        with pytest.raises(FixInput, match=says):
            row_form.add_row(work, kind, fields)
    with pytest.raises(FixInput, match="written once"):
        row_form.edit_row(work, "calibration", person, {"certificate": "x"})
