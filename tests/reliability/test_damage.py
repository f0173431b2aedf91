"""A damaged store is noticed, and what can be saved is saved and counted."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from company import small_company
from reliability.writing import NOW, reading_of
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records.check import check
from steadfeed.records.readings import append, keep_file, readings_of
from steadfeed.records.salvage import salvage
from steadfeed.records.schema import table
from steadfeed.records.store import Store, open_store
from stores import new_setting

COUNT = 20_000


@pytest.fixture
def full(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A store with 20,000 readings, closed, all in one file."""
    path = Path(new_setting(request, "sqlite", tmp_path))
    with open_store(path) as store:
        with store.writing() as t:
            company = small_company(t)
            for first in range(0, COUNT, 1000):
                append(t, company.challenge, [reading_of("gauge", n) for n in range(first, first + 1000)], NOW)
        assert check(store).sound
    return path


def page_of(path: Path, name: str) -> list[int]:
    """Pages of a table, by the database's own account."""
    with sqlite3.connect(path) as raw:
        return [
            row[0] for row in raw.execute("SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf'", (name,))
        ]


def overwrite(path: Path, page: int, content: bytes) -> None:
    with path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(content)


def test_zeroed_pages_are_noticed_and_the_rest_is_saved(full: Path, tmp_path: Path) -> None:
    pages = page_of(full, "reading")
    for page in random.Random(7).sample(pages[1:-1], 3):
        overwrite(full, page, bytes(4096))
    with open_store(full) as store:
        report = check(store)
    assert not report.sound
    assert any(p.code in ("file damaged", "unreadable") for p in report.problems)
    counted = salvage(full, None)
    assert "reading" in counted.damaged
    target = tmp_path / "saved.db"
    saved = salvage(full, target)
    assert saved.rows == counted.rows
    per_page = COUNT / len(pages)
    assert COUNT - 5 * per_page < saved.rows["reading"] < COUNT
    with open_store(target) as store, store.reading() as t:
        challenge = t.execute(sa.select(table("challenge").c.id)).scalar_one()
        kept = {s.reading.sequence: s.reading for s in readings_of(t, [challenge])}
        assert len(kept) == saved.rows["reading"]
        assert all(reading == reading_of("gauge", n) for n, reading in kept.items())
        assert t.execute(sa.select(sa.func.count()).select_from(table("unit"))).scalar_one() == 1


def test_a_changed_byte_inside_a_reading_is_noticed(full: Path) -> None:
    """The database itself cannot see this one: only the hash of the batch can."""
    content = full.read_bytes()
    value = reading_of("gauge", 777).value
    assert value is not None
    at = content.find(value.encode())
    assert at > 0
    changed = content[:at] + (b"2" if value[0] == "1" else b"1") + content[at + 1 :]
    full.write_bytes(changed)
    with sqlite3.connect(full) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with open_store(full) as store:
        report = check(store)
    assert [p.code for p in report.problems] == ["readings changed"]


def test_a_file_cut_short_is_refused_and_says_what_to_do(full: Path) -> None:
    content = full.read_bytes()
    full.write_bytes(content[: len(content) // 2])
    with pytest.raises(NotAllowed, match=r"is damaged .*records check") as told:
        open_store(full)
    assert told.value.code == "store damaged"
    assert salvage(full, None).rows["unit"] == 1


def test_what_is_no_store_is_said_to_be_none(tmp_path: Path) -> None:
    path = tmp_path / "letter.db"
    path.write_bytes(b"Dear customer, " * 500)
    with pytest.raises(FixInput, match="is no store of steadfeed"):
        open_store(path)
    with pytest.raises(FixInput, match="Nothing can be read"):
        salvage(path, None)


def test_a_lost_first_page_sends_to_the_backup(full: Path) -> None:
    overwrite(full, 1, b"SQLite format 3\x00" + bytes(4080))
    with pytest.raises((NotAllowed, FixInput)):
        open_store(full)
    with pytest.raises(FixInput, match="go back to the last backup"):
        salvage(full, None)


def test_random_damage_never_ends_in_a_traceback(full: Path, tmp_path: Path) -> None:
    """Twenty random wounds: every answer is a report or one sentence, and salvage never invents a row."""
    chance = random.Random(11)
    whole = full.read_bytes()
    noticed = 0
    for turn in range(20):
        wounded = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(wounded) - 64)
            wounded[at : at + 64] = chance.randbytes(64)
        path = tmp_path / f"wounded {turn}.db"
        path.write_bytes(wounded)
        try:
            with open_store(path) as store:
                noticed += not check(store).sound
        except (NotAllowed, FixInput):
            noticed += 1
        try:
            saved = salvage(path, None)
        except FixInput:
            continue
        assert saved.rows.get("reading", 0) <= COUNT
    assert noticed >= 13  # the others fell on free space inside pages, where nothing is kept


def test_changes_behind_the_stores_back_are_noticed(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        keep_file(t, b"time,suction_pressure_psig\n", NOW)
    assert check(store).sound
    with store.writing() as t:
        t.execute(sa.text("UPDATE unit SET serial = 'another' WHERE id = :u"), {"u": company.unit})
        t.execute(sa.text("DELETE FROM search_word WHERE word = 'alder'"))
    found = {(p.code, p.where.split()[0]) for p in check(store).problems}
    assert ("edited unseen", "unit") in found
    assert ("search out of date", "search_word") in found
