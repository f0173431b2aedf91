"""The invented company: complete, sound, and said to be invented everywhere."""

from __future__ import annotations

import pytest

from company import NOW
from steadfeed.errors import NotAllowed
from steadfeed.records import rows
from steadfeed.records.check import check
from steadfeed.records.store import Store
from steadfeed.visit import demo_company
from steadfeed.visit.practice import OrderedChallenge
from steadfeed.visit.session import Session

EVERY_PERSON = {name for name, _ in demo_company._PEOPLE}


def load(store: Store, **other: object) -> demo_company.Loaded:
    session = Session(store, NOW, "desk", None, -18_000.0)
    given: dict[str, object] = {"units": 12, "visits": 50, "challenges": 3, "processes": 1} | other
    return demo_company.load_demo(session, **given)  # type: ignore[arg-type]


def test_a_small_one_is_whole_and_sound(store: Store) -> None:
    loaded = load(store)
    assert (loaded.units, loaded.visits, loaded.challenges) == (12, 50, 3)
    with store.reading() as t:
        assert len(rows.find(t, "unit")) == 12
        visits = rows.find(t, "visit")
        verdicts = rows.find(t, "verdict")
        logs = rows.find(t, "challenge_log")
        customers = rows.find(t, "customer")
        people = rows.find(t, "person")
    assert len(visits) == 50
    assert len(verdicts) == len(logs) == 3
    assert min(v["opened_at"] for v in visits) > NOW - 4.01 * 365.25 * 86_400
    assert max(v["opened_at"] for v in visits) < NOW
    assert len([v for v in visits if v["closed_at"] is None]) == 3
    assert all(c["note"] == demo_company.INVENTED for c in customers)
    assert {p["name"] for p in people} == EVERY_PERSON
    assert check(store).sound


def test_the_same_seed_orders_the_same_challenges(store: Store, tmp_path: object) -> None:
    ordered: list[OrderedChallenge] = []

    def run(order: OrderedChallenge) -> tuple[bytes, bytes]:
        from steadfeed.visit.practice import ordered_challenge

        ordered.append(order)
        return ordered_challenge(order)

    load(store, challenges=2, run_challenge=run)
    with store.reading() as t:
        first = rows.find(t, "challenge_log", order="log_name")
    again = [run(order) for order in ordered[:2]]
    import hashlib

    assert {hashlib.sha256(log).hexdigest() for log, _ in again} == {link["log_sha256"] for link in first}


def test_it_never_mixes_with_records_that_are_there(store: Store) -> None:
    load(store, units=4, visits=4, challenges=0)
    with pytest.raises(NotAllowed, match="holds records"):
        load(store)


def test_the_usual_one_is_as_large_as_promised() -> None:
    """At least 60 units over 4 years, 400 visits and about 60 challenges; how long it takes is in benchmarks/store.py."""
    import inspect

    usual = {n: p.default for n, p in inspect.signature(demo_company.load_demo).parameters.items()}
    assert usual["units"] >= 60
    assert usual["visits"] >= 400
    assert 55 <= usual["challenges"] <= 65
    assert demo_company.YEARS == 4
