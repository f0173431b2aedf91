"""Copies of a store that are consistent although others write."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from steadfeed.errors import FixInput, NotAllowed

if TYPE_CHECKING:
    from steadfeed.records.store import Store


def copy_file(store: Store, target: Path) -> int:
    """Copy an SQLite store into one file, in one snapshot, synced to the disk. Return its size [bytes].

    Others may go on writing. Raises FixInput when `target` exists.
    """
    if target.exists():
        raise FixInput(f"{target} exists already; choose another name", code="file exists", where=str(target))
    if not target.parent.is_dir():
        raise FixInput(f"There is no folder {target.parent}", code="no folder", where=str(target))
    unfinished = target.with_name(target.name + ".unfinished")
    unfinished.unlink(missing_ok=True)
    try:
        with store.engine.connect() as connection:
            raw = connection.connection.driver_connection
            if raw is None:
                raise NotAllowed("The store is closed", code="store closed")
            raw.execute("VACUUM INTO ?", (str(unfinished),))
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        unfinished.rename(target)
        _sync_folder(target.parent)
    finally:
        unfinished.unlink(missing_ok=True)
    return target.stat().st_size


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
