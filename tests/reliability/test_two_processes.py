"""Two processes on one store: both are served, the second waits or is told, and nothing is lost or doubled."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from company import small_company
from reliability.writing import reading_of
from steadfeed.errors import TryAgain
from steadfeed.records import engine
from steadfeed.records.check import check
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store

PROGRAM = Path(__file__).with_name("writing.py")
HOLD = """
import sys, time
import sqlalchemy as sa
from steadfeed.records.store import open_store
with open_store(sys.argv[1]) as store, store.writing() as t:
    t.execute(sa.text("UPDATE unit SET place = 'held' WHERE id = :u"), {"u": sys.argv[2]})
    print("holding", flush=True)
    time.sleep(float(sys.argv[3]))
"""


def test_both_write_at_once_and_every_reading_is_there_once(setting: str) -> None:
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    running = [
        # two with a source of their own, and a third that sends again what the second sends
        subprocess.Popen(
            [sys.executable, PROGRAM, setting, company.challenge, source, "0", "300", "2"], stdout=subprocess.PIPE
        )
        for source in ("gauge 1", "gauge 2", "gauge 2")
    ]
    said = [process.communicate(timeout=120)[0].split() for process in running]
    assert [process.returncode for process in running] == [0, 0, 0]
    assert [len(lines) for lines in said] == [300, 300, 300]
    with open_store(setting) as store:
        with store.reading() as t:
            kept = [s.reading for s in readings_of(t, [company.challenge])]
        assert check(store).sound
    assert kept == [reading_of(source, n) for source in ("gauge 1", "gauge 2") for n in range(300)]


def hold(setting: str, unit: str, seconds: float) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, setting, unit, str(seconds)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "holding\n"
    return process


def rename(setting: str, unit: str) -> float:
    from company import BY
    from steadfeed.records import entries

    with open_store(setting) as store:
        began = time.monotonic()
        with store.writing() as t:
            entries.edit(t, "unit", unit, {"place": "Roof east"}, BY)
        return time.monotonic() - began


def test_the_second_waits_for_the_first(setting: str) -> None:
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    first = hold(setting, company.unit, 1.0)
    waited = rename(setting, company.unit)
    assert first.wait(20) == 0
    assert waited > 0.5


def test_the_second_is_told_when_the_first_takes_too_long(setting: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "BUSY_WAIT", 0.4)
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    first = hold(setting, company.unit, 3.0)
    with pytest.raises(TryAgain, match=r"Another (program|writer)") as told:
        rename(setting, company.unit)
    assert told.value.code == "store busy"
    assert first.wait(20) == 0
    rename(setting, company.unit)


def test_reading_goes_on_while_another_writes(setting: str) -> None:
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    first = hold(setting, company.unit, 1.5)
    began = time.monotonic()
    with open_store(setting) as store, store.reading() as t:
        assert list(readings_of(t, [company.challenge])) == []
    assert time.monotonic() - began < 1.0
    assert first.wait(20) == 0
