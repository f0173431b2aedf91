"""A disk, as SQLite sees one, that keeps only what was synced when the power goes.

A virtual file system for SQLite (through apsw) whose files live in memory, twice: as the running program sees them and
as a disk would hold them. A sync makes the two equal. At a chosen operation the power goes: from then on everything
fails, and what is left is the synced image, on which, in the harsh mode, any of the unsynced sectors may have landed.
"""

from __future__ import annotations

import contextlib
import random
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw

SECTOR = 512


class PowerGone(Exception):
    """What every operation answers once the power has gone."""


@dataclass
class _File:
    seen: bytearray = field(default_factory=bytearray)
    synced: bytes | None = None  # None: not on the disk at all yet
    unsynced: list[tuple[int, bytes]] = field(default_factory=list)


class LossyDisk(apsw.VFS):  # type: ignore[misc]
    """Files in memory. operations: writes, syncs, truncations so far; cut_at: at which of them the power goes."""

    def __init__(self, name: str, cut_at: int | None = None, harsh: random.Random | None = None) -> None:
        self.files: dict[str, _File] = {}
        self.operations = 0
        self.syncs = 0
        self.cut_at = cut_at
        self.harsh = harsh
        self.gone = False
        self.vfs_name = name
        super().__init__(name, "")

    def count(self) -> None:
        if not self.gone and self.cut_at is not None and self.operations >= self.cut_at:
            self.gone = True
        if self.gone:
            raise PowerGone
        self.operations += 1

    def put(self, path: str, content: bytes) -> None:
        """Lay a file onto the disk before the start."""
        self.files[path] = _File(bytearray(content), content)

    def left(self, folder: Path) -> Path:
        """Write what the disk holds after the power went into real files; return the store's path."""
        main = None
        for path, file in self.files.items():
            if file.synced is None and not (self.harsh and file.unsynced):
                continue
            image = bytearray(file.synced or b"")
            if self.harsh:
                for offset, data in file.unsynced:
                    for at in range(0, len(data), SECTOR):
                        if self.harsh.random() < 0.5:
                            _lay(image, offset + at, data[at : at + SECTOR])
            if path.endswith("-shm"):
                continue
            target = folder / Path(path).name
            target.write_bytes(image)
            if not path.endswith(("-wal", "-journal")):
                main = target
        assert main is not None
        return main

    # what SQLite calls
    def xOpen(self, name: Any, flags: list[int]) -> _OpenFile:  # noqa: N802
        path = "temporary" if name is None else name if isinstance(name, str) else name.filename()
        flags[1] = flags[0]
        return _OpenFile(self, self.files.setdefault(path, _File()))

    def xDelete(self, path: str, sync: bool) -> None:  # noqa: N802
        self.count()
        self.files.pop(path, None)

    def xAccess(self, path: str, flags: int) -> bool:  # noqa: N802
        return path in self.files

    def xFullPathname(self, path: str) -> str:  # noqa: N802
        return path


class _OpenFile:
    def __init__(self, disk: LossyDisk, file: _File) -> None:
        self.disk, self.file = disk, file

    def xRead(self, amount: int, offset: int) -> bytes:  # noqa: N802
        if self.disk.gone:
            raise PowerGone
        return bytes(self.file.seen[offset : offset + amount])

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self.disk.count()
        _lay(self.file.seen, offset, data)
        self.file.unsynced.append((offset, bytes(data)))

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self.disk.count()
        del self.file.seen[size:]
        # a disk may cut a file short at once: the synced image loses its tail, and so does what waits
        if self.file.synced is not None:
            self.file.synced = self.file.synced[:size]
        self.file.unsynced = [(at, data[: size - at]) for at, data in self.file.unsynced if at < size]

    def xSync(self, flags: int) -> None:  # noqa: N802
        self.disk.count()
        self.disk.syncs += 1
        self.file.synced = bytes(self.file.seen)
        self.file.unsynced.clear()

    def xFileSize(self) -> int:  # noqa: N802
        return len(self.file.seen)

    def xLock(self, level: int) -> None:  # noqa: N802
        pass

    def xUnlock(self, level: int) -> None:  # noqa: N802
        pass

    def xCheckReservedLock(self) -> bool:  # noqa: N802
        return False

    def xFileControl(self, op: int, pointer: int) -> bool:  # noqa: N802
        return False

    def xSectorSize(self) -> int:  # noqa: N802
        return SECTOR

    def xDeviceCharacteristics(self) -> int:  # noqa: N802
        return 0

    def xClose(self) -> None:  # noqa: N802
        pass


def _lay(image: bytearray, offset: int, data: bytes) -> None:
    if len(image) < offset:
        image.extend(bytes(offset - len(image)))
    image[offset : offset + len(data)] = data


class Connection:
    """An apsw connection that looks like the standard library's to SQLAlchemy."""

    def __init__(self, disk: LossyDisk, path: str, checkpoint_pages: int) -> None:
        self._apsw = _told(lambda: apsw.Connection(path, vfs=disk.vfs_name))
        self.isolation_level: str | None = ""
        # One connection without shared memory, and checkpoints often enough to happen while the test looks.
        for pragma in ("locking_mode=EXCLUSIVE", f"wal_autocheckpoint={checkpoint_pages}"):
            list(self._apsw.execute(f"PRAGMA {pragma}"))

    def create_function(self, name: str, count: int, function: Callable[..., Any], **_: Any) -> None:
        self._apsw.create_scalar_function(name, function, count)

    def cursor(self) -> Cursor:
        return Cursor(self._apsw)

    def execute(self, sql: str, given: Sequence[Any] = ()) -> Cursor:
        return self.cursor().execute(sql, given)

    def commit(self) -> None:
        if self._apsw.in_transaction:
            self.execute("COMMIT")

    def rollback(self) -> None:
        if self._apsw.in_transaction:
            self.execute("ROLLBACK")

    def close(self) -> None:
        with contextlib.suppress(apsw.Error, PowerGone):  # nothing can be closed properly once the power has gone
            self._apsw.close(True)


class Cursor:
    """The part of a DB-API cursor that SQLAlchemy uses."""

    arraysize = 1
    lastrowid: int | None = None

    def __init__(self, connection: apsw.Connection) -> None:
        self._apsw = connection
        self._rows: list[tuple[Any, ...]] = []
        self.description: list[tuple[Any, ...]] | None = None
        self.rowcount = -1

    def execute(self, sql: str, given: Sequence[Any] = ()) -> Cursor:
        def run() -> None:
            cursor = self._apsw.cursor()
            cursor.exec_trace = self._describe  # an empty answer has columns too, told only before it runs
            before = self._apsw.total_changes()
            cursor.execute(sql, tuple(given))
            self._rows = list(cursor)
            self.rowcount = self._apsw.total_changes() - before

        _told(run)
        self.lastrowid = self._apsw.last_insert_rowid()
        return self

    def _describe(self, cursor: Any, _sql: str, _given: Any) -> bool:
        self.description = [(d[0], None, None, None, None, None, None) for d in cursor.get_description()] or None
        return True

    def executemany(self, sql: str, many: Iterable[Sequence[Any]]) -> Cursor:
        def run() -> None:
            before = self._apsw.total_changes()
            self._apsw.cursor().executemany(sql, [tuple(given) for given in many])
            self.rowcount = self._apsw.total_changes() - before

        _told(run)
        self._rows, self.description = [], None
        return self

    def fetchone(self) -> tuple[Any, ...] | None:
        return self._rows.pop(0) if self._rows else None

    def fetchmany(self, size: int | None = None) -> list[tuple[Any, ...]]:
        some, self._rows = self._rows[: size or 1], self._rows[size or 1 :]
        return some

    def fetchall(self) -> list[tuple[Any, ...]]:
        some, self._rows = self._rows, []
        return some

    def close(self) -> None:
        self._rows = []


def _told(call: Callable[[], Any]) -> Any:
    """Let errors of apsw look like those of the standard library."""
    try:
        return call()
    except (apsw.Error, PowerGone) as error:
        raise sqlite3.OperationalError(f"disk I/O error: {type(error).__name__} {error}") from error
