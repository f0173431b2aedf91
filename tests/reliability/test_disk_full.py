"""No room: a clear message, nothing corrupted, and it goes on when there is room."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from company import small_company
from reliability.writing import reading_of
from steadfeed.errors import TryAgain
from steadfeed.records.backup import back_up
from steadfeed.records.check import check
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store
from stores import new_setting

HERE = Path(__file__).parent
MOUNT = ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--user", "--map-root-user", "--mount"]


def can_mount() -> bool:
    """Whether this machine lets us mount a small disk that nobody else sees."""
    if shutil.which("unshare") is None:
        return False
    tried = subprocess.run(
        [*MOUNT, "mount", "-t", "tmpfs", "-o", "size=1m", "none", "/mnt"], capture_output=True, check=False
    )
    return tried.returncode == 0


# The limit of a process works everywhere; the real small disk where the system lets us mount one.
WAYS = ["limit", *(["disk"] if can_mount() else [])]


def fill(way: str, store: str, challenge: str, folder: Path) -> tuple[dict[str, object], Path]:
    program = [sys.executable, str(HERE / "filling.py")]
    if way == "limit":
        command = [*program, store, challenge, way]
        left = Path(store)
    else:
        small, left = folder / "small", folder / "left.db"
        small.mkdir()
        script = (
            f'set -e; mount -t tmpfs -o size=4m none "{small}"; cp "{store}" "{small}/records.db"; '
            f'head -c 1500000 /dev/zero > "{small}/ballast"; '
            f'"{program[0]}" "{program[1]}" "{small}/records.db" {challenge} disk; cp "{small}/records.db" "{left}"'
        )
        command = [*MOUNT, "sh", "-c", script]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    said: dict[str, object] = json.loads(done.stdout)
    return said, left


@pytest.mark.parametrize("way", WAYS)
def test_writing_stops_with_a_clear_message_and_goes_on_when_there_is_room(
    request: pytest.FixtureRequest, tmp_path: Path, way: str
) -> None:
    setting = new_setting(request, "sqlite", tmp_path)
    with open_store(setting) as store, store.writing() as t:
        company = small_company(t)
    outcome, left = fill(way, setting, company.challenge, tmp_path)
    acknowledged = outcome["acknowledged"]
    assert isinstance(acknowledged, list)
    said = outcome["said"]
    assert isinstance(said, list)
    assert len(said) == 1
    assert said[0].startswith("store full: The disk refused to store more")
    assert "make room and go on" in said[0]
    assert isinstance(outcome["refused_at"], int)
    assert outcome["refused_at"] > 0
    assert len(acknowledged) == outcome["refused_at"] + 2000
    with open_store(left) as store:
        assert check(store).sound
        with store.reading() as t:
            kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
    assert [n for n in acknowledged if kept.get(n) != reading_of("gauge", n)] == []


def test_a_backup_without_room_leaves_nothing_behind(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    import resource
    import signal

    setting = new_setting(request, "sqlite", tmp_path)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    with open_store(setting) as store:
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, limits[1]))
            with pytest.raises(TryAgain, match="refused to store more"):
                back_up(store, tmp_path / "copy.db")
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limits)
            signal.signal(signal.SIGXFSZ, before)
        assert sorted(p.name for p in tmp_path.glob("copy*")) == []
        assert back_up(store, tmp_path / "copy.db") > 100_000
