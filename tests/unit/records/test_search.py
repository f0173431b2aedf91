"""Finding visits by words, refrigerant and verdict."""

from __future__ import annotations

import json

import pytest

from company import BY, NOW, small_company
from steadfeed.records import entries, rows, search
from steadfeed.records.derived import code_words, plain_words
from steadfeed.records.store import Store

DAY = 86_400.0


def judged(t: object, challenge: str, word: str, supersedes: str | None = None) -> str:
    values = {
        "challenge_id": challenge, "supersedes": supersedes, "method_version": "1", "valid": True, "verdict": word,
        "early": False, "reasons": "[]", "judgement": json.dumps({"verdict": word}), "judgement_sha256": "0" * 64,
        "changed": "[]",
    }  # fmt: skip
    return rows.add(t, "verdict", values, BY)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text",
    ["ardenfield", "ARDEN", "alder street", "street alder", "qx-2241-8830", "QX22418830", "8830", "w-05", "W05", "mill",
     "roof", "r-410a", "R410A", "arden 8830 r-410a", "", "  "],
)  # fmt: skip
def test_words_that_find(store: Store, text: str) -> None:
    with store.writing() as t:
        company = small_company(t)
        found = search.find_visits(t, text)
    assert [f.visit_id for f in found] == [company.visit]
    assert (found[0].customer, found[0].address, found[0].refrigerants) == (
        "Ardenfield Mills",
        "12 Alder Street",
        ("R-410A",),
    )


@pytest.mark.parametrize("text", ["elder", "alder elm", "2242", "r-22", "ardenfieldx", "%", "_", "' OR 1=1 --"])
def test_words_that_do_not(store: Store, text: str) -> None:
    with store.writing() as t:
        small_company(t)
        found = search.find_visits(t, text)
    assert found == [] or not plain_words(text)


def test_the_verdict_that_stands_is_the_one_that_finds(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        first = judged(t, company.challenge, "fixed")
        assert [f.verdicts for f in search.find_visits(t, verdict="fixed")] == [("fixed",)]
        second = judged(t, company.challenge, "weak", first)
        assert search.find_visits(t, verdict="fixed") == []
        assert len(search.find_visits(t, "mill", verdict="weak")) == 1
        entries.withdraw(t, "verdict", second, BY, "judged with the wrong system file")
        assert len(search.find_visits(t, verdict="fixed")) == 1
        assert len(rows.find(t, "verdict", withdrawn=True)) == 2


def test_the_refrigerant_is_the_one_of_that_day(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        rows.add(
            t,
            "circuit_refrigerant",
            {"circuit_id": company.circuit, "refrigerant": "R-454B", "from_at": NOW + 10 * DAY},
            BY,
        )
        later = rows.add(t, "visit", {"unit_id": company.unit, "opened_at": NOW + 20 * DAY}, BY)
        assert [f.visit_id for f in search.find_visits(t, refrigerant="R-410A")] == [company.visit]
        assert [f.visit_id for f in search.find_visits(t, refrigerant="r454b")] == [later]
        assert search.find_visits(t, refrigerant="R-22") == []
        assert [f.refrigerants for f in search.find_visits(t)] == [("R-454B",), ("R-410A",)]


def test_newest_first_between_days_and_not_more_than_asked(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        ids = [company.visit] + [
            rows.add(t, "visit", {"unit_id": company.unit, "opened_at": NOW + n * DAY}, BY) for n in range(1, 6)
        ]
        assert [f.visit_id for f in search.find_visits(t, "mill")] == ids[::-1]
        assert [f.visit_id for f in search.find_visits(t, limit=2)] == ids[:-3:-1]
        between = search.find_visits(t, since=NOW + DAY, until=NOW + 3 * DAY)
        assert [f.visit_id for f in between] == [ids[2], ids[1]]


def test_an_edit_is_found_by_its_new_words_only(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        entries.edit(t, "customer", company.customer, {"name": "Café Über GmbH"}, BY)
        assert search.find_visits(t, "ardenfield") == []
        assert len(search.find_visits(t, "cafe uber")) == 1
        assert len(search.find_visits(t, "Über")) == 1


def test_words_of_codes() -> None:
    assert code_words("QX-2241-8830") == {"qx", "2241", "8830", "qx22418830"}
    assert plain_words("Straße 12, Süd") == ["strasse", "12", "sud"]
