"""No room on the server of a company: a clear message, nothing acknowledged lost, and it goes on when there is room.

Two ways on a real server of its own: its processes may not make larger files (works everywhere); or data and write-ahead
log lie on a small disk, which stops the server altogether until somebody makes room and starts it again.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import subprocess
import time
from pathlib import Path

import pytest

from company import small_company
from reliability.test_disk_full import can_mount
from reliability.writing import NOW, reading_of
from steadfeed.errors import TryAgain
from steadfeed.records.check import check
from steadfeed.records.readings import readings_of
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from stores import Server

BATCH = 200
LARGEST_FILE = 1_600_000  # above the largest file of an empty database [bytes]
WAYS = ["limit", *(["disk"] if os.geteuid() == 0 and can_mount() else [])]


class SmallServer(Server):
    """A server without much room. way: "limit" or "disk", see the top of this file."""

    def __init__(self, way: str) -> None:
        self.way = way
        self.holder: subprocess.Popen[str] | None = None
        super().__init__()

    def _call(self, program: str, *arguments: object) -> None:
        if program == "initdb":
            if self.way == "disk":
                self._mount()
                arguments = (arguments[0], self.data, *arguments[2:])
            arguments = (*arguments, "--wal-segsize=1")
        if program == "pg_ctl":
            arguments = tuple(f"{a} -c max_wal_size=4MB" if "listen_addresses" in str(a) else a for a in arguments)
        subprocess.run(
            [*self._where(), *self._as, str(self.programs / program), *map(str, arguments)],
            check=True, cwd="/", stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=120,
        )  # fmt: skip

    def _mount(self) -> None:
        """Hold a small disk that only the server sees, with a ballast on it that can be thrown off."""
        small = self.folder / "small"
        small.mkdir()
        owner = pwd.getpwnam("postgres")
        script = (
            f'mount -t tmpfs -o size=64m,uid={owner.pw_uid},gid={owner.pw_gid},mode=700 none "{small}" && '
            f'head -c 24000000 /dev/zero > "{small}/ballast" && echo ready && exec sleep 600'
        )
        self.holder = subprocess.Popen(["unshare", "--mount", "sh", "-c", script], stdout=subprocess.PIPE, text=True)
        assert self.holder.stdout is not None
        assert self.holder.stdout.readline() == "ready\n"
        self.data = small / "data"

    def _where(self) -> list[str]:
        return [] if self.holder is None else ["nsenter", "-t", str(self.holder.pid), "-m", "--"]

    def take_room(self) -> None:
        """From now on there is little room. The small disk is small from the beginning."""
        if self.way == "limit":
            self._limit(f"{LARGEST_FILE}:", [self._postmaster()])

    def make_room(self) -> None:
        """Make room as its administrator would, and start the server again if it has stopped."""
        if self.way == "limit":
            first = self._postmaster()
            children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
            self._limit("unlimited:", [first, *map(int, children)])
            return
        subprocess.run([*self._where(), "rm", str(self.folder / "small" / "ballast")], check=True)
        with contextlib.suppress(subprocess.CalledProcessError):
            self.stop("immediate")
        self.start()

    def _postmaster(self) -> int:
        return int((self.data / "postmaster.pid").read_text().split()[0])

    def _limit(self, size: str, processes: list[int]) -> None:
        for one in processes:
            subprocess.run([*self._as, "prlimit", "--pid", str(one), f"--fsize={size}"], check=True, cwd="/")

    def remove(self) -> None:
        super().remove()
        if self.holder is not None:
            self.holder.kill()
            self.holder.wait()


@pytest.mark.parametrize("way", WAYS)
def test_a_server_without_room_says_so_loses_nothing_and_goes_on(way: str) -> None:
    server = SmallServer(way)
    try:
        server.sql("CREATE DATABASE records")
        setting = server.url("records")
        with open_store(setting) as store, store.writing() as t:
            company = small_company(t)
        server.take_room()
        acknowledged: list[int] = []
        said: list[TryAgain] = []
        n = 0
        with open_store(setting) as store, GroupWriter(store) as writer:
            while not said and n < 500_000:
                some = [reading_of("gauge", k) for k in range(n, n + BATCH)]
                try:
                    writer.append(company.challenge, some, NOW).result()
                except TryAgain as error:
                    said.append(error)
                else:
                    acknowledged += [r.sequence for r in some]
                    n += BATCH
            assert n > 0
            assert said
            if way == "limit":
                assert said[0].code == "store full"
                assert said[0].message.endswith("nothing written before is lost; make room and go on")
            else:  # without room for its log the server gives up; what the program can see is that it is gone
                assert said[0].code in ("store full", "store unreachable")
            assert "\n" not in said[0].message
            server.make_room()
            until = time.monotonic() + 60
            for first in range(n, n + 2000, BATCH):
                some = [reading_of("gauge", k) for k in range(first, first + BATCH)]
                while True:
                    try:
                        writer.append(company.challenge, some, NOW).result()
                        break
                    except TryAgain:
                        assert time.monotonic() < until, "it does not go on"
                        time.sleep(0.5)
                acknowledged += [r.sequence for r in some]
            assert check(store).sound
            with store.reading() as t:
                kept = {s.reading.sequence: s.reading for s in readings_of(t, [company.challenge])}
        assert len(acknowledged) == n + 2000
        assert [k for k in acknowledged if kept.get(k) != reading_of("gauge", k)] == []
    finally:
        server.remove()
