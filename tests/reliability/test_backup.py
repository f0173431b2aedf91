"""A backup taken while others write is one state of the store, and comes back whole."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
import sqlalchemy as sa

from company import small_company
from reliability.writing import NOW, reading_of
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records.backup import back_up, restore
from steadfeed.records.check import check
from steadfeed.records.readings import append, readings_of
from steadfeed.records.schema import metadata
from steadfeed.records.store import Store, open_store
from steadfeed.records.writer import GroupWriter
from stores import new_setting


def everything(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store.reading() as t:
        return {
            name: sorted((tuple(row) for row in t.execute(sa.select(table))), key=repr)
            for name, table in metadata.tables.items()
        }


def test_a_backup_while_writing_restores_consistently(store: Store, tmp_path: Path) -> None:
    with store.writing() as t:
        company = small_company(t)
    stop = threading.Event()
    acknowledged: list[int] = []

    def write() -> None:
        with GroupWriter(store) as writer:
            n = 0
            while not stop.is_set():
                writer.append(company.challenge, [reading_of("gauge", n + k) for k in range(10)], NOW).result()
                acknowledged.extend(range(n, n + 10))
                n += 10

    writing = threading.Thread(target=write)
    writing.start()
    copies: list[tuple[Path, set[int]]] = []
    try:
        while len(acknowledged) < 100:
            pass
        for turn in range(3):
            before = set(acknowledged)
            back_up(store, tmp_path / f"copy {turn}.db")
            copies.append((tmp_path / f"copy {turn}.db", before))
    finally:
        stop.set()
        writing.join()
    for path, before in copies:
        with open_store(path) as copy:
            assert check(copy).sound
            with copy.reading() as t:
                kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
        assert before <= kept.keys()
        assert sorted(kept) == list(range(len(kept)))
        assert len(kept) % 10 == 0  # never half of what was written together
        assert all(reading == reading_of("gauge", n) for n, reading in kept.items())


@pytest.mark.parametrize("into", ["sqlite", "postgresql"])
def test_a_restored_store_holds_what_was_backed_up_and_counts_on(
    store: Store, request: pytest.FixtureRequest, tmp_path: Path, into: str
) -> None:
    with store.writing() as t:
        company = small_company(t)
        append(t, company.challenge, [reading_of("gauge", n) for n in range(50)], NOW)
    back_up(store, tmp_path / "copy.db")
    bytes_before = (tmp_path / "copy.db").read_bytes()
    with open_store(new_setting(request, into, tmp_path)) as other:
        restore(tmp_path / "copy.db", other)
        assert everything(other) == everything(store)
        assert check(other).sound
        with other.writing() as t:  # local keys go on from where they were
            append(t, company.challenge, [reading_of("another gauge", n) for n in range(5)], NOW)
        assert check(other).sound
        with pytest.raises(NotAllowed, match="holds records already"):
            restore(tmp_path / "copy.db", other)
    assert (tmp_path / "copy.db").read_bytes() == bytes_before


def test_a_backup_and_an_export_are_as_private_as_the_store(store: Store, tmp_path: Path) -> None:
    from steadfeed.records.exchange.write import export

    back_up(store, tmp_path / "copy.db")
    assert (tmp_path / "copy.db").stat().st_mode & 0o777 == 0o600
    export(store, tmp_path / "out", "csv", 0.0)
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o700


def test_a_backup_never_writes_over_a_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "old.db").write_text("precious")
    with pytest.raises(FixInput, match="exists already"):
        back_up(store, tmp_path / "old.db")
    with pytest.raises(FixInput, match="no folder"):
        back_up(store, tmp_path / "nowhere" / "copy.db")
    assert (tmp_path / "old.db").read_text() == "precious"
