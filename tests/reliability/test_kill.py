"""SIGKILL of the writing process in mid-stream: nothing that was acknowledged may be lost."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from company import small_company
from reliability.writing import reading_of
from steadfeed.records.check import check
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store
from stores import Server, new_setting

PROGRAM = Path(__file__).with_name("writing.py")


def start(
    setting: str, challenge: str, source: str, first: int, count: int = 100_000, threads: int = 4
) -> subprocess.Popen[bytes]:
    arguments = [setting, challenge, source, str(first), str(count), str(threads)]
    return subprocess.Popen([sys.executable, PROGRAM, *arguments], stdout=subprocess.PIPE, start_new_session=True)


def write_and_kill(setting: str, challenge: str, source: str, first: int, after: int) -> list[int]:
    """Start the writer, kill it once it has acknowledged `after` readings or a little later; return the acknowledged."""
    process = start(setting, challenge, source, first)
    assert process.stdout is not None
    said = b""
    while said.count(b"\n") < after:
        some = os.read(process.stdout.fileno(), 65536)
        assert some, "the writer ended by itself"
        said += some
    os.kill(process.pid, signal.SIGKILL)
    while some := os.read(process.stdout.fileno(), 65536):
        said += some
    assert process.wait() == -signal.SIGKILL
    process.stdout.close()
    return [int(line) for line in said[: said.rfind(b"\n")].split(b"\n")]


def kill_often(setting: str, times: int, seed: int) -> tuple[int, int]:
    """Kill `times` writers on one store, look after each. Return (acknowledged, lost)."""
    chance = random.Random(seed)
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    acknowledged: list[int] = []
    lost = 0
    for turn in range(times):
        acknowledged += write_and_kill(setting, company.challenge, "gauge", turn * 100_000, chance.randint(1, 300))
        with open_store(setting) as store:
            with store.reading() as t:
                kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
            report = check(store)
        assert report.sound, report.problems
        lost += sum(1 for n in acknowledged if kept.get(n) != reading_of("gauge", n))
    assert len(acknowledged) >= times
    return len(acknowledged), lost


def test_ten_kills_lose_nothing_acknowledged(setting: str) -> None:
    acknowledged, lost = kill_often(setting, 10, seed=51)
    assert acknowledged > 100
    assert lost == 0


@pytest.mark.full
@pytest.mark.timeout(900)
def test_fifty_kills_lose_nothing_acknowledged(setting: str) -> None:
    acknowledged, lost = kill_often(setting, 50, seed=52)
    assert acknowledged > 500
    assert lost == 0


def test_a_server_that_is_stopped_at_once_loses_nothing_acknowledged(
    request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """PostgreSQL itself goes down without a checkpoint while readings arrive, and comes back."""
    server = Server()
    try:
        setting = server.url(server.make_database())
        with open_store(setting) as store, store.writing() as t:
            company = small_company(t)
        process = start(setting, company.challenge, "gauge", 0)
        assert process.stdout is not None
        said = b""
        while said.count(b"\n") < 200:
            said += os.read(process.stdout.fileno(), 65536)
        server.stop("immediate")
        while some := os.read(process.stdout.fileno(), 65536):
            said += some
        process.wait()
        process.stdout.close()
        server.start()
        acknowledged = [int(line) for line in said[: said.rfind(b"\n")].split(b"\n")]
        with open_store(setting) as store:
            with store.reading() as t:
                kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
            assert check(store).sound
        assert len(acknowledged) >= 200
        assert [n for n in acknowledged if kept.get(n) != reading_of("gauge", n)] == []
    finally:
        server.remove()


def test_a_writer_that_acknowledges_too_early_is_found_out(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ACKNOWLEDGE_EARLY", "1")
    _, lost = kill_often(new_setting(request, "sqlite", tmp_path), 3, seed=53)
    assert lost > 0
