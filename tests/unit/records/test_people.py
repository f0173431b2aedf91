"""Erasing what is known about a person, apart from the facts."""

from __future__ import annotations

from pathlib import Path

import pytest

from company import BY, NOW, small_company
from pictures import photo_with_location
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records import attachments, entries, people, rows, search
from steadfeed.records.backup import back_up
from steadfeed.records.check import check
from steadfeed.records.store import Store


def test_the_name_goes_and_the_facts_stay(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        entries.edit(t, "person", company.person, {"licence": "TX-00417", "name": "Ines Calloway-Reyes"}, BY)
        action = rows.add(
            t, "action", {"visit_id": company.visit, "at": NOW, "text": "cleaned"}, rows.By(NOW, company.person)
        )
    gone = people.erase(store, "person", company.person, BY, "left the company")
    assert gone["fields"] == 3
    assert gone["values"] == 3  # the making and two edits
    with store.reading() as t:
        person = rows.get(t, "person", company.person)
        assert {k: v for k, v in person.items() if v is not None}.keys() == {"id", "created_at", "role"}
        assert rows.get(t, "action", action)["person_id"] == company.person
        history = entries.entries_of(t, company.person)
        assert [e.erased for e in history if e.field in ("licence", "name")] == [True, True]
        assert [e.reason for e in history if e.field == people.ERASED] == ["left the company"]
        assert entries.first_values(t, company.person) == {"role": "technician"}
    assert check(store).sound


def test_a_customer_takes_addresses_and_search_words_along(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
    with store.reading() as t:
        assert search.units_with(t, "alder") == {company.unit}
        assert search.units_with(t, "ardenf") == {company.unit}
    people.erase(store, "customer", company.customer, BY, "asked")
    with store.reading() as t:
        assert rows.get(t, "site", company.site)["address"] is None
        assert search.units_with(t, "alder") == set()
        assert search.units_with(t, "ardenf") == set()
        assert search.units_with(t, "8830") == {company.unit}


def test_an_erased_value_cannot_be_brought_back_by_undo(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        entries.edit(t, "customer", company.customer, {"name": "Second name"}, BY)
        last = entries.edit(t, "customer", company.customer, {"name": "Third name"}, BY)
    people.erase(store, "customer", company.customer, BY, "asked")
    with pytest.raises(NotAllowed, match="was erased"), store.writing() as t:
        entries.undo(t, last[0], BY)


def test_nothing_of_it_is_left_in_the_bytes_of_the_file(store: Store, tmp_path: Path) -> None:
    if store.path is None:
        back_up(store, tmp_path / "before.db")  # a server keeps its pages to itself: look at a copy of what is left
    with store.writing() as t:
        company = small_company(t)
        signature = attachments.attach(t, "visit", company.visit, "signature", photo_with_location(200, 80), BY)
        kept = attachments.content_of(t, signature)
    people.erase(store, "customer", company.customer, BY, "asked", [signature])
    path = store.path
    if path is None:
        back_up(store, tmp_path / "after.db")
        path = tmp_path / "after.db"
    whole = b"".join(p.read_bytes() for p in path.parent.glob(path.name + "*"))
    for trace in (b"Ardenfield", b"ardenfield", b"555 0100", b"12 Alder", kept[40:120]):
        assert trace not in whole
    with store.reading() as t:
        assert rows.get(t, "attachment", signature)["sha256"]
        with pytest.raises(FixInput, match="was erased"):
            attachments.content_of(t, signature)


def test_a_reason_is_needed(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
    with pytest.raises(FixInput, match="Say why"):
        people.erase(store, "customer", company.customer, BY, " ")
    with pytest.raises(FixInput, match="Erasing concerns"):
        people.erase(store, "unit", company.unit, BY, "asked")


def test_a_new_store_is_its_owners_alone(tmp_path: Path) -> None:
    from steadfeed.records.store import open_store

    with open_store(tmp_path / "new" / "records.db") as store, store.writing() as t:
        small_company(t)
        modes = {p.name: p.stat().st_mode & 0o777 for p in (tmp_path / "new").iterdir()}
    assert len(modes) == 3
    assert set(modes.values()) == {0o600}
    with pytest.raises(FixInput, match="cannot be"):
        open_store(tmp_path / "new")
