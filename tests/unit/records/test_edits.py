"""Edits of things and withdrawals of facts, in a store."""

from __future__ import annotations

import pytest

from company import BY, NOW, small_company
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records import entries, rows
from steadfeed.records.check import check
from steadfeed.records.rows import By
from steadfeed.records.store import Store


def test_an_edit_is_an_entry_and_undo_another(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        first = entries.edit(t, "unit", company.unit, {"serial": "B"}, By(NOW + 1, company.person, "phone"))
        second = entries.edit(t, "unit", company.unit, {"serial": "C"}, By(NOW + 2))
        assert rows.get(t, "unit", company.unit)["serial"] == "C"
        with pytest.raises(NotAllowed, match="changed again since"):
            entries.undo(t, first[0], BY)
        back = entries.undo(t, second[0], By(NOW + 3))
        assert rows.get(t, "unit", company.unit)["serial"] == "B"
        entries.undo(t, back, By(NOW + 4))
        assert rows.get(t, "unit", company.unit)["serial"] == "C"
        again = entries.undo(t, entries.entries_of(t, company.unit, "serial")[-1].id, By(NOW + 5))
        assert rows.get(t, "unit", company.unit)["serial"] == "B"
        history = entries.entries_of(t, company.unit, "serial")
    assert [e.kind for e in history] == ["set", "set", "undo", "undo", "undo"]
    assert history[-1].id == again
    assert [e.value for e in history] == ["B", "C", "B", "C", "B"]
    assert (history[0].person_id, history[0].device) == (company.person, "phone")
    assert check(store).sound


def test_undo_of_the_first_edit_gives_what_it_was_made_with(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        made = entries.edit(t, "unit", company.unit, {"serial": "B", "maker": "Orlan"}, BY)
        for one in made:
            entries.undo(t, one, By(NOW + 1))
        unit = rows.get(t, "unit", company.unit)
    assert (unit["serial"], unit["maker"]) == ("QX-2241-8830", None)


def test_two_devices_that_did_not_see_each_other(store: Store) -> None:
    """The later clock counts; the other stays visible; the next edit settles it."""
    with store.writing() as t:
        company = small_company(t)
        nothing: dict[str, list[str]] = {"place": []}
        entries.edit(
            t, "unit", company.unit, {"place": "north"}, By(NOW + 9, device="phone 2", written_at=NOW + 5), seen=nothing
        )
        late = By(NOW + 10, device="phone 1", written_at=NOW + 3)  # arrives later, was written earlier
        entries.edit(t, "unit", company.unit, {"place": "south"}, late, seen=nothing)
        assert rows.get(t, "unit", company.unit)["place"] == "north"
        assert [r.value for r in entries.standing(entries.entries_of(t, company.unit, "place")).rivals] == ["south"]
        entries.edit(t, "unit", company.unit, {"place": "north"}, By(NOW + 11))  # confirming is an edit too
        found = entries.standing(entries.entries_of(t, company.unit, "place"))
    assert found.rivals == ()
    assert len(found.winner.supersedes if found.winner else ()) == 2


def test_an_edit_sent_twice_is_one_and_an_edit_to_the_same_value_is_none(store: Store) -> None:
    entry = "0b5f2c1e-0000-4000-8000-00000000000a"
    with store.writing() as t:
        company = small_company(t)
        for _ in range(2):
            entries.edit(t, "unit", company.unit, {"place": "north"}, BY, ids={"place": entry})
        assert entries.edit(t, "unit", company.unit, {"place": "north"}, BY) == []
        assert [e.id for e in entries.entries_of(t, company.unit, "place")] == [entry]


def test_a_withdrawn_fact_stays_and_can_be_restored(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        action = rows.add(t, "action", {"visit_id": company.visit, "at": NOW, "text": "replaced the drier"}, BY)
        entry = entries.withdraw(t, "action", action, BY, "wrong unit")
        assert rows.find(t, "action") == []
        assert [a["text"] for a in rows.find(t, "action", withdrawn=True)] == ["replaced the drier"]
        with pytest.raises(NotAllowed, match="withdrawn already"):
            entries.withdraw(t, "action", action, BY, "again")
        entries.undo(t, entry, By(NOW + 1))
        assert len(rows.find(t, "action")) == 1
    assert check(store).sound


@pytest.mark.parametrize("field", ["id", "created_at", "colour"])
def test_what_cannot_be_edited(store: Store, field: str) -> None:
    with store.writing() as t:
        company = small_company(t)
        with pytest.raises(FixInput, match="no field"):
            entries.edit(t, "unit", company.unit, {field: "x"}, BY)
        with pytest.raises(FixInput, match="There is no unit"):
            entries.edit(t, "unit", company.visit, {"tag": "x"}, BY)
        with pytest.raises(NotAllowed, match="no entry"):
            entries.undo(t, company.unit, BY)
