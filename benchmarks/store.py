"""The store: durable appends, a unit's page, searching among 100,000 visits, on SQLite and on a PostgreSQL server.

Seeded. PostgreSQL is measured where its programs are installed (a server of its own is started, with its usual settings:
every commit waits for the disk). The time of one bare write-and-sync of the same disk stands beside the appends.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from steadfeed.records import pages, rows
from steadfeed.records.ids import derived_id
from steadfeed.records.readings import RawReading
from steadfeed.records.rows import By
from steadfeed.records.search import find_visits
from steadfeed.records.store import Store, open_store
from steadfeed.records.writer import GroupWriter
from timing import Figure, best

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

NOW = 1_785_000_000.0
DAY = 86_400.0
UNITS, VISITS = 10_000, 100_000
VERDICTS = ("regulating", "fixed", "weak", "at its stop", "sticking", "hunting", "starving", "flooding", "undecided")
STREETS = ("Alder", "Bobbin", "Cinder", "Drover", "Elm", "Foundry", "Gander", "Heron", "Ivy", "Juniper")
NAMES = (
    "Ardenfield",
    "Brackwater",
    "Corrindale",
    "Dunmarsh",
    "Ellerby",
    "Fallowmere",
    "Gannetry",
    "Hollowick",
    "Inverlea",
    "Jessamy",
)
REFRIGERANTS = ("R-410A", "R-410A", "R-410A", "R-454B", "R-32", "R-22", "R-407C", "R-134a", "R-404A", "R-290")


def figures() -> Iterator[Figure]:
    """Measure and yield every figure."""
    with tempfile.TemporaryDirectory() as folder:
        yield Figure("write 4 kB and sync, bare, on this disk", best(lambda: _bare_sync(Path(folder))) * 1e3, "ms")
        for engine in ("sqlite", "postgresql"):
            with _setting(engine, Path(folder)) as setting:
                if setting is None:
                    continue
                with open_store(setting) as store:
                    yield from _measure(store, engine)
    yield from _demo()


def _bare_sync(folder: Path) -> None:
    with (folder / "bare").open("wb") as file:
        file.write(bytes(4096))
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def _setting(engine: str, folder: Path) -> Iterator[str | None]:
    if engine == "sqlite":
        yield str(folder / "records.db")
        return
    import _pytest.outcomes

    from stores import Server

    try:
        server = Server()
    except _pytest.outcomes.Skipped:
        yield None
        return
    try:
        yield server.url(server.make_database())
    finally:
        server.remove()


def _measure(store: Store, engine: str) -> Iterator[Figure]:
    with store.writing() as t:
        challenge = _one_challenge(t)
    rate, slowest = _appends(store, challenge, sources=8, seconds=4.0, at_once=6)
    yield Figure(f"{engine}: 1,000 durable readings, 8 sources of 6 channels, group commit", 1e3 / rate, "s", 1.0)
    yield Figure(f"{engine}: acknowledgement, slowest of a hundred (p99)", slowest * 1e3, "ms")
    alone, _ = _appends(store, challenge, sources=1, seconds=2.0, at_once=1)
    yield Figure(f"{engine}: the same, one reading at a time, each with its own commit", 1e3 / alone, "s")
    began = time.perf_counter()
    busiest = _fill(store)
    yield Figure(f"{engine}: (filling with {VISITS:,} visits of {UNITS:,} units)", time.perf_counter() - began, "s")
    with store.reading() as t:
        page = pages.unit_page(t, busiest)
        assert len(page["visits"]) == 40
        yield Figure(
            f"{engine}: unit page with 40 visits", best(lambda: pages.unit_page(t, busiest)) * 1e3, "ms", 100.0
        )
    worst = 0.0
    for name, words, other in _questions():
        with store.reading() as t:
            count = len(find_visits(t, words, **other))
            took = best(lambda w=words, o=other: find_visits(t, w, **o), 5)
        worst = max(worst, took)
        yield Figure(f"{engine}: search {name} ({count} shown)", took * 1e3, "ms", 50.0)
    yield Figure(f"{engine}: slowest of these searches among {VISITS:,} visits", worst * 1e3, "ms", 50.0)


def _questions() -> list[tuple[str, str, dict[str, str]]]:
    return [
        ("a customer", "Brackwater 0417", {}),
        ("an address", "417 Cinder Street", {}),
        ("the last four of a serial", "7712", {}),
        ("a serial", "LQ-0042-7712", {}),
        ("a word that is everywhere", "street", {}),
        ("two words that are often, together", "alder street", {}),
        ("two words that never meet", "brackwater 0418", {}),
        ("a rare refrigerant", "", {"refrigerant": "R-290"}),
        ("a common refrigerant", "", {"refrigerant": "R-410A"}),
        ("a common verdict", "", {"verdict": "regulating"}),
        ("a rare verdict", "", {"verdict": "flooding"}),
        ("customer and verdict", "Ellerby", {"verdict": "fixed"}),
        ("all at once", "elm street", {"verdict": "fixed", "refrigerant": "R-22"}),
        ("nothing: the newest", "", {}),
    ]


def _one_challenge(t: object) -> str:
    by = By(NOW)
    site = rows.add(t, "site", {"name": "bench"}, by)  # type: ignore[arg-type]
    unit = rows.add(t, "unit", {"site_id": site, "kind": "outdoor"}, by)  # type: ignore[arg-type]
    circuit = rows.add(t, "circuit", {"unit_id": unit}, by)  # type: ignore[arg-type]
    visit = rows.add(t, "visit", {"unit_id": unit, "opened_at": NOW}, by)  # type: ignore[arg-type]
    return rows.add(t, "challenge", {"visit_id": visit, "circuit_id": circuit, "started_at": NOW}, by)  # type: ignore[arg-type]


def _appends(store: Store, challenge: str, *, sources: int, seconds: float, at_once: int) -> tuple[float, float]:
    """Return readings a second, and the time [s] within which 99 of 100 appends were acknowledged."""
    times: list[float] = []
    counts = [0] * sources
    with GroupWriter(store) as writer:
        until = time.perf_counter() + seconds

        def work(k: int) -> None:
            n = 0
            while (began := time.perf_counter()) < until:
                some = [_reading(f"box {k} of {sources}", n + i) for i in range(at_once)]
                writer.append(challenge, some, NOW).result()
                times.append(time.perf_counter() - began)
                n += at_once
            counts[k] = n

        began = time.perf_counter()
        threads = [threading.Thread(target=work, args=(k,)) for k in range(sources)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        took = time.perf_counter() - began
    return sum(counts) / took, sorted(times)[int(len(times) * 0.99)]


def _reading(source: str, n: int) -> RawReading:
    return RawReading(source, "b1", n, f"channel {n % 6}", f"{118 + n % 90 / 10:.1f}", "psig", NOW + n / 60, 0.0)


def _fill(store: Store) -> str:
    """Fill the store with the invented company's large sister; return a unit with 40 visits."""
    chance, by = random.Random(3), By(NOW)
    for first in range(0, UNITS, 1000):
        with store.writing() as t:
            numbers = range(first, first + 1000)
            rows.add_many(
                t, "customer", [{"id": _id("customer", n), "name": f"{NAMES[n % 10]} {n:04d}"} for n in numbers], by
            )
            rows.add_many(
                t,
                "site",
                [
                    {
                        "id": _id("site", n),
                        "customer_id": _id("customer", n),
                        "address": f"{n % 900} {STREETS[n // 7 % 10]} Street",
                    }
                    for n in numbers
                ],
                by,
            )
            rows.add_many(
                t,
                "unit",
                [
                    {"id": _id("unit", n), "site_id": _id("site", n), "kind": "outdoor", "tag": f"U-{n:05d}",
                     "serial": f"LQ-{n:04d}-{(n * 7919 + 5114) % 10000:04d}"}
                    for n in numbers
                ],
                by,
            )  # fmt: skip
            rows.add_many(t, "circuit", [{"id": _id("circuit", n), "unit_id": _id("unit", n)} for n in numbers], by)
            held = [{"circuit_id": _id("circuit", n), "refrigerant": REFRIGERANTS[n // 3 % 10]} for n in numbers]
            rows.add_many(t, "circuit_refrigerant", held, by)
    order = [0] * 40 + [chance.randrange(1, UNITS) for _ in range(VISITS - 40)]
    chance.shuffle(order)
    for first in range(0, VISITS, 5000):
        with store.writing() as t:
            _some_visits(t, chance, by, order, first)
    _settle(store)
    return _id("unit", 0)


def _some_visits(t: object, chance: random.Random, by: By, order: list[int], first: int) -> None:
    numbers = range(first, first + 5000)
    visits = [
        {
            "id": _id("visit", n),
            "unit_id": _id("unit", order[n]),
            "opened_at": NOW - (VISITS - n) * 1200.0,
            "closed_at": NOW,
        }
        for n in numbers
    ]
    rows.add_many(t, "visit", visits, by)  # type: ignore[arg-type]
    judged = [n for n in numbers if n % 2 == 0 or order[n] == 0]
    challenges = [
        {
            "id": _id("challenge", n),
            "visit_id": _id("visit", n),
            "circuit_id": _id("circuit", order[n]),
            "started_at": NOW,
        }
        for n in judged
    ]
    rows.add_many(t, "challenge", challenges, by)  # type: ignore[arg-type]
    verdicts = [
        {"challenge_id": _id("challenge", n), "method_version": "1", "valid": True, "early": False, "reasons": "[]",
         "verdict": chance.choices(VERDICTS, (50, 15, 5, 3, 3, 3, 3, 0.05, 18))[0], "judgement": "{}", "changed": "[]",
         "judgement_sha256": "0" * 64}
        for n in judged
    ]  # fmt: skip
    rows.add_many(t, "verdict", verdicts, by)  # type: ignore[arg-type]


def _settle(store: Store) -> None:
    """Let the engine look at what it holds, as it does by itself in use."""
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")


def _id(kind: str, n: int) -> str:
    return derived_id("benchmark", kind, str(n))


def _demo() -> Iterator[Figure]:
    from steadfeed.visit.demo_company import load_demo
    from steadfeed.visit.session import Session

    with tempfile.TemporaryDirectory() as folder, open_store(Path(folder) / "demo.db") as store:
        began = time.perf_counter()
        load_demo(Session(store, NOW, "benchmark"))
        yield Figure(
            "demo company: 64 units, 420 visits, 60 bench challenges, judged", time.perf_counter() - began, "s", 60.0
        )
