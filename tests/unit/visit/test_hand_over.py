"""A visit in progress goes to another device, with no network between them."""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import segno
import zxingcpp
from PIL import Image

from company import NOW, small_company
from pictures import photo_with_location
from steadfeed.errors import FixInput
from steadfeed.records import attachments, readings, rows
from steadfeed.records import hand_over as packing
from steadfeed.records.check import check
from steadfeed.records.readings import RawReading
from steadfeed.records.store import Store, open_store
from steadfeed.visit import hand_over, visits
from steadfeed.visit.session import Session, person_named
from stores import new_setting


def reading(n: int) -> RawReading:
    return RawReading("gauge", "b1", n, "suction_pressure", f"{118 + n % 7 / 10:.1f}", "psig", NOW + n, 0.0)


def in_progress(store: Store, count: int = 60) -> tuple[Session, str, str]:
    with store.writing() as t:
        company = small_company(t)
        readings.append(t, company.challenge, [reading(n) for n in range(count)], NOW + 1)
        step = {"challenge_id": company.challenge, "at": NOW + 90, "phase": "push", "cover": 0.5, "why": "head level"}
        rows.add(t, "step", step, rows.By(NOW))
    session = Session(store, NOW + 100, "phone 1", company.person)
    visits.set_aside(session, company.visit, "cover")
    thermostat = visits.set_aside(session, company.visit, "thermostat", "set to 60 °F")
    visits.put_back(session, thermostat, text="back at 74 °F")
    visits.set_aside(session, company.visit, "auxiliary heat", "breaker off")
    return session, company.visit, company.challenge


@pytest.fixture
def other(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Session]:
    with open_store(new_setting(request, "sqlite", tmp_path)) as store:
        session = Session(store, NOW + 200, "phone 2")
        yield replace(session, person_id=person_named(session, "Bram Osterhoudt"))


def test_all_that_matters_arrives(store: Store, other: Session) -> None:
    session, visit, challenge = in_progress(store)
    with store.writing() as t:
        photo = attachments.attach(t, "visit", visit, "photo", photo_with_location(), session.by)
    content = hand_over.give(session, visit, "Bram Osterhoudt")
    seen = hand_over.look(content)
    assert (seen.from_name, seen.to_name, seen.unit) == ("Ines Calloway", "Bram Osterhoudt", "W-05 · Roof west")
    assert seen.readings == 60
    taken = hand_over.take(other, content)
    assert taken.readings == 60
    assert taken.sentences[0] == "The condenser is covered: is somebody watching it?"
    assert "Now: push, cover 50%." in taken.sentences
    assert any("auxiliary heat" in s for s in taken.sentences)
    assert not any("thermostat" in s for s in taken.sentences)
    with other.store.reading() as t:
        assert [s.reading for s in readings.readings_of(t, [challenge])] == [reading(n) for n in range(60)]
        assert [o["what"] for o in packing.unanswered(t, visit)] == ["cover", "auxiliary heat"]
        page = rows.get(t, "visit", visit)
        assert page["person_id"] == other.person_id
        assert page["complaint"] == "warm air"
        given = rows.find(t, "hand_over", visit_id=visit)
        assert [(h["direction"], h["from_device"], h["to_device"]) for h in given] == [("taken", "phone 1", "phone 2")]
        assert attachments.content_of(t, photo)
    assert check(other.store).sound
    with store.reading() as t:
        assert [h["direction"] for h in rows.find(t, "hand_over", visit_id=visit)] == ["given"]


def test_taking_twice_changes_nothing_and_both_can_go_on(store: Store, other: Session) -> None:
    session, visit, challenge = in_progress(store)
    content = hand_over.give(session, visit, "Bram Osterhoudt")
    hand_over.take(other, content)
    again = hand_over.take(other, content)
    assert (again.readings, again.conflicts) == (0, 0)
    with other.store.writing() as t:
        readings.append(t, challenge, [reading(n) for n in range(50, 80)], NOW + 300)
        assert len(rows.find(t, "hand_over")) == 1
    with other.store.reading() as t:
        cover = packing.unanswered(t, visit)[0]["id"]
    visits.put_back(other, cover, text="head back to 340 psig")
    back = hand_over.give(other, visit, "Ines Calloway")
    taken = hand_over.take(replace(session, now=NOW + 400), back)
    assert taken.readings == 20
    with store.reading() as t:
        assert [o["what"] for o in packing.unanswered(t, visit)] == ["auxiliary heat"]
    assert check(store).sound


def test_what_a_common_store_has_already_is_left_out(store: Store, other: Session) -> None:
    session, visit, _ = in_progress(store)
    with store.writing() as t:
        packing.note_sent(t, "company", "gauge", "b1", 39)
        packing.note_sent(t, "company", "gauge", "b1", 12)  # an older note does not take back a newer one
        packing.note_sent(t, "company", "unheard of", "b1", 5)
    assert hand_over.look(hand_over.give(session, visit, "Bram", peer="company")).readings == 20
    assert hand_over.look(hand_over.give(session, visit, "Bram")).readings == 60


def test_it_goes_through_qr_codes_that_another_reader_reads(store: Store, other: Session) -> None:
    """The codes are drawn by one library and read back by another (zxing)."""
    session, visit, _ = in_progress(store, 200)
    content = hand_over.give(session, visit, "Bram Osterhoudt", for_codes=True)
    texts = []
    for text in hand_over.code_frames(content):
        out = io.BytesIO()
        segno.make(text, error="l", micro=False).save(out, kind="png", scale=3, border=4)
        texts.append(zxingcpp.read_barcodes(Image.open(out))[0].text)
    assert len(texts) > 3
    assert len(hand_over.code_pictures(content)) == len(texts)
    taken = hand_over.take(other, hand_over.from_codes(texts[::-1] + texts[:2]))
    assert taken.readings == 200


def test_both_names_are_needed(store: Store, other: Session) -> None:
    session, visit, _ = in_progress(store)
    with pytest.raises(FixInput, match="both names"):
        hand_over.give(session, visit, "  ")
    with pytest.raises(FixInput, match="both names"):
        hand_over.give(replace(session, person_id=None), visit, "Bram")
    content = hand_over.give(session, visit, "Bram")
    with pytest.raises(FixInput, match="who takes"):
        hand_over.take(replace(other, person_id=None), content)


def test_a_broken_or_newer_hand_over_is_refused(store: Store, other: Session) -> None:
    session, visit, _ = in_progress(store)
    content = hand_over.give(session, visit, "Bram")
    head = b"steadfeed hand-over\n"
    body = zlib.decompress(content[len(head) :])
    for wrong, says in (
        (b"PK\x03\x04" + content, "no hand-over"),
        (content[:-20], "broken"),
        (head + zlib.compress(b"[]"), "broken"),
        (head + zlib.compress(body.replace(b'"version":1', b'"version":9')), "newer"),
        (head + zlib.compress(body.replace(b'"tables":{', b'"tables":{"colours":[{"id":"x"}],')), "newer"),
    ):
        with pytest.raises(FixInput, match=says):
            hand_over.take(other, wrong)
    with other.store.reading() as t:
        assert rows.find(t, "visit") == []
