"""What is due, the calendar file (read back by another library), and labels (read back by another reader)."""

from __future__ import annotations

import io

import icalendar
import pytest
import zxingcpp
from PIL import Image

from company import NOW, Small, small_company
from steadfeed.errors import FixInput
from steadfeed.records import rows
from steadfeed.records.store import Store
from steadfeed.visit import units, visits
from steadfeed.visit.calendar_file import calendar_file, read_calendar
from steadfeed.visit.labels import label_sheet, label_text
from steadfeed.visit.session import Session, find_unit
from steadfeed.visit.units_due import ask_for_visit, units_due

LONG = "Come back, when it is cold; “ÄÖÜ” \\ " + "and look at the accumulator again " * 4 + "\nwith two people"


@pytest.fixture
def company(store: Store) -> Small:
    with store.writing() as t:
        return small_company(t)


@pytest.fixture
def work(store: Store, company: Small) -> Session:
    return Session(store, NOW, "desk", company.person, -18_000.0)


def test_due_by_interval_and_by_request_the_longest_over_first(work: Session, company: Small) -> None:
    units.edit_thing(work, "unit", company.unit, {"service_interval_days": 20})
    asked = ask_for_visit(work, company.unit, "2026-07-20", "check the charge", condition="above 45 °F outdoors")
    found = units_due(work)
    assert [(d.due_on, d.days, d.due_id) for d in found] == [("2026-07-20", -5, asked), ("2026-08-14", 20, None)]
    assert found[0].condition == "above 45 °F outdoors"
    assert units_due(work, within_days=10) == found[:1]
    with work.store.writing() as t:
        later = rows.add(t, "visit", {"unit_id": company.unit, "opened_at": NOW + 86_400}, work.by)
    visits.close_visit(work.at(NOW + 90_000), later)
    assert [d.due_on for d in units_due(work.at(NOW + 90_000))] == ["2026-08-15"]
    units.edit_thing(work, "unit", company.unit, {"retired_at": NOW})
    assert units_due(work, within_days=3000) == []


@pytest.mark.parametrize("wrong", ["2026-02-30", "soon", "", "31.12.2026"])
def test_a_day_that_is_none(work: Session, company: Small, wrong: str) -> None:
    with pytest.raises(FixInput, match="is no day"):
        ask_for_visit(work, company.unit, wrong, "x")


def test_another_library_reads_the_calendar(work: Session, company: Small) -> None:
    """icalendar, an independent implementation of RFC 5545."""
    units.edit_thing(work, "unit", company.unit, {"service_interval_days": 20})
    asked = ask_for_visit(work, company.unit, "2026-08-10", LONG)
    written = calendar_file(units_due(work), NOW)
    calendar = icalendar.Calendar.from_ical(written)
    assert not calendar.errors
    events = {str(e["UID"]): e for e in calendar.walk("VEVENT")}
    event = events[f"{asked}@due.steadfeed"]
    assert event.decoded("DTSTART").isoformat() == "2026-08-10"
    assert event.decoded("DTEND").isoformat() == "2026-08-11"
    assert str(event["SUMMARY"]) == f"W-05 · Roof west: {LONG}"
    assert str(event["LOCATION"]) == "Mill house, 12 Alder Street"
    assert len(events) == 2
    assert all(len(line) <= 75 for line in written.split(b"\r\n"))
    assert written.endswith(b"END:VCALENDAR\r\n")


def test_a_day_moved_in_a_calendar_comes_back(work: Session, company: Small) -> None:
    """Moved and written by the other library, with an event of somebody else in it."""
    asked = ask_for_visit(work, company.unit, "2026-08-10", LONG)
    written = calendar_file(units_due(work), NOW)
    same = read_calendar(work, written)
    assert (same.moved, same.same) == ((), 1)
    calendar = icalendar.Calendar.from_ical(written)
    event = calendar.walk("VEVENT")[0]
    del event["DTSTART"]
    event.add("dtstart", icalendar.vDate.from_ical("20260903"), parameters={"VALUE": "DATE"})
    stranger = icalendar.Event()
    stranger.add("uid", "dentist")
    calendar.add_component(stranger)
    gone = icalendar.Event()
    gone.add("uid", "00000000-0000-4000-8000-000000000000@due.steadfeed")
    calendar.add_component(gone)
    done = read_calendar(work, calendar.to_ical())
    assert done.moved == (asked,)
    assert (done.others, len(done.gone)) == (1, 1)
    assert [d.due_on for d in units_due(work, 60)] == ["2026-09-03"]
    with pytest.raises(FixInput, match="no calendar file"):
        read_calendar(work, b"Dear Sir")


@pytest.mark.parametrize("paper", ["us-letter", "a4"])
def test_labels_are_read_by_another_reader_and_find_their_unit(work: Session, company: Small, paper: str) -> None:
    with work.store.writing() as t:
        for n in range(5):
            rows.add(
                t, "unit", {"site_id": company.site, "kind": "outdoor", "tag": f"K-{n}", "place": '#"] $<b>\\'}, work.by
            )
    picture = label_sheet(work, paper=paper, form="png", skip=4)
    read = {
        code.text for code in zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)).convert("L").resize((2448, 3168)))
    }
    with work.store.reading() as t:
        ids = {u["id"] for u in rows.find(t, "unit")}
        assert read == {label_text(i) for i in ids}
        assert {find_unit(t, text) for text in read} == ids


def test_a_sheet_of_many_labels_has_more_pages(work: Session, company: Small) -> None:
    import pypdf

    with work.store.writing() as t:
        for n in range(40):
            rows.add(t, "unit", {"site_id": company.site, "kind": "outdoor", "tag": f"K-{n}"}, work.by)
    pages = pypdf.PdfReader(io.BytesIO(label_sheet(work))).pages
    assert len(pages) == 2
    assert "W-05" in pages[1].extract_text()
    with pytest.raises(FixInput, match="There is no unit"):
        label_sheet(work, ["W-99"])
