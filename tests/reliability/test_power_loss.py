"""The power goes at any moment: what was acknowledged before is on the disk, because every commit is synced."""

from __future__ import annotations

import itertools
import random
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path

import pytest

from company import small_company
from reliability.lossy_disk import Connection, LossyDisk
from reliability.writing import reading_of
from steadfeed.errors import SteadfeedError
from steadfeed.records import engine
from steadfeed.records.check import check
from steadfeed.records.readings import Receipt, readings_of
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter

TIMES = 20
APPENDS = 120
NOW = 1_785_000_000.0
_NAMES = itertools.count()


@pytest.fixture(scope="module")
def ready(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, str]:
    """The bytes of a store with a small company, and its challenge."""
    path = tmp_path_factory.mktemp("ready") / "records.db"
    path.write_bytes(sqlite_template.read_bytes())
    with open_store(path) as store, store.writing() as t:
        company = small_company(t)
    return path.read_bytes(), company.challenge


@dataclass
class Outcome:
    operations: int
    syncs: int
    acknowledged: list[int]
    lost: list[int]
    problems: list[str]


def run(ready: tuple[bytes, str], folder: Path, cut_at: int | None, harsh: random.Random | None) -> Outcome:
    """Write readings to a disk whose power goes at operation `cut_at`; look at what is left."""
    content, challenge = ready
    disk = LossyDisk(f"lossy {next(_NAMES)}", cut_at, harsh)
    path = "/disk/records.db"
    disk.put(path, content)
    acknowledged: list[int] = []
    real = folder / "records.db"
    real.write_bytes(content)  # only so that the store finds a file there; every byte goes through the disk above
    try:
        with (
            open_store(real, connect=lambda: Connection(disk, path, checkpoint_pages=12)) as store,
            GroupWriter(store) as writer,
        ):
            waiting: list[tuple[int, Future[Receipt]]] = []
            for n in range(APPENDS):
                waiting.append((n, writer.append(challenge, [reading_of("gauge", n)], NOW)))
                if len(waiting) == 3 or n == APPENDS - 1:
                    for k, done in waiting:
                        done.result()
                        acknowledged.append(k)
                    waiting.clear()
            if cut_at is None:
                disk.gone = True  # the power goes before the store is closed properly
    except SteadfeedError:
        assert disk.gone
    real.unlink()
    left = disk.left(folder)
    disk.unregister()
    with open_store(left) as store:
        report = check(store)
        with store.reading() as t:
            kept = {s.reading.sequence: s.reading for s in readings_of(t, [challenge])}
    lost = [n for n in acknowledged if kept.get(n) != reading_of("gauge", n)]
    return Outcome(disk.operations, disk.syncs, acknowledged, lost, [p.text for p in report.problems])


def cut_often(ready: tuple[bytes, str], folder: Path, seed: int) -> list[Outcome]:
    chance = random.Random(seed)
    whole = folder / "whole"
    whole.mkdir()
    operations = run(ready, whole, None, None).operations
    outcomes = []
    for turn in range(TIMES):
        place = folder / str(turn)
        place.mkdir()
        harsh = random.Random(seed + turn) if turn % 2 else None
        outcomes.append(run(ready, place, chance.randrange(operations // 20, operations), harsh))
    return outcomes


def test_twenty_power_cuts_lose_nothing_acknowledged(ready: tuple[bytes, str], tmp_path: Path) -> None:
    outcomes = cut_often(ready, tmp_path, seed=61)
    assert sum(len(o.acknowledged) for o in outcomes) > 10 * TIMES
    assert [o.lost for o in outcomes] == [[]] * TIMES
    assert [o.problems for o in outcomes] == [[]] * TIMES


def test_with_synchronous_normal_the_same_cuts_lose_acknowledged_readings(
    ready: tuple[bytes, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Why the store pays for FULL: the sync at every commit is what keeps the promise."""
    monkeypatch.setattr(engine, "SYNCHRONOUS", "NORMAL")
    outcomes = cut_often(ready, tmp_path, seed=61)
    assert sum(len(o.lost) for o in outcomes) > 0


def test_the_disk_is_synced_once_a_group_and_not_once_a_reading(ready: tuple[bytes, str], tmp_path: Path) -> None:
    whole = run(ready, tmp_path, None, None)
    assert len(whole.acknowledged) == APPENDS
    assert APPENDS / 3 <= whole.syncs < APPENDS
