"""Copies of a store that are consistent although others write, always one SQLite file, and the way back."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from steadfeed.errors import FixInput
from steadfeed.records import failures
from steadfeed.records.engine import driver_connection
from steadfeed.records.transfer import copy_all

if TYPE_CHECKING:
    from steadfeed.records.store import Store


def back_up(store: Store, target: Path) -> int:
    """Copy a store into one SQLite file and sync it to the disk. Return its size [bytes].

    Others may go on writing: the copy is one state of the store. Raises FixInput when `target` exists, TryAgain when
    the disk is full; then nothing is left of it.
    """
    if target.exists():
        raise FixInput(f"{target} exists already; choose another name", code="file exists", where=str(target))
    if not target.parent.is_dir():
        raise FixInput(f"There is no folder {target.parent}", code="no folder", where=str(target))
    unfinished = target.with_name(target.name + ".unfinished")
    _remove(unfinished)
    try:
        with failures.in_plain_words(str(target)):
            if store.on_sqlite:
                os.close(os.open(unfinished, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))  # as private as the store
                copy_file(store, unfinished)
            else:
                _copy_rows(store, unfinished)
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        unfinished.rename(target)
        _sync_folder(target.parent)
    finally:
        _remove(unfinished)
    return target.stat().st_size


def restore(backup: Path, store: Store) -> dict[str, int]:
    """Copy a backup into an empty store of either engine. Return the rows by table. The backup is only read."""
    from steadfeed.records.store import open_store

    if not backup.is_file():
        raise FixInput(f"There is no file {backup}", code="no store", where=str(backup))
    with tempfile.TemporaryDirectory(prefix="steadfeed-") as folder:
        copy = Path(folder) / "backup.db"  # opening a store may touch its file; a backup is left as it is
        shutil.copyfile(backup, copy)
        with open_store(copy, create=False) as source:
            return copy_all(source, store)


def copy_file(store: Store, target: Path) -> None:
    """Write one state of an SQLite store into a new file."""
    with store.engine.connect() as connection:
        driver_connection(connection).execute("VACUUM INTO ?", (str(target),))


def _copy_rows(store: Store, target: Path) -> None:
    from steadfeed.records.store import open_store

    with open_store(target) as copy:
        copy_all(store, copy)
        with copy.engine.connect() as connection:  # one file, with nothing left beside it
            driver_connection(connection).execute("PRAGMA journal_mode=DELETE").fetchall()


def _remove(path: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """Make a rename durable, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # pragma: no cover - Windows cannot open a folder
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
