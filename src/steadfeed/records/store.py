"""The store: opened once, read in snapshots, written in whole transactions by one writer at a time."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from steadfeed.errors import FixInput
from steadfeed.records import failures
from steadfeed.records.engine import make_engine, say_place, store_url
from steadfeed.records.upgrade import bring_up_to_date


class Store:
    """An open store. Use `open_store`; close it, or use it as a context manager.

    place: names the store in messages. engine: the SQLAlchemy engine, for the modules of records only.
    """

    def __init__(self, engine: Engine, place: str) -> None:
        self.engine = engine
        self.place = place
        self._writing = threading.RLock()
        self._inside = False
        self._closed = False

    @property
    def on_sqlite(self) -> bool:
        """Whether the store is one SQLite file."""
        return self.engine.dialect.name == "sqlite"

    @property
    def path(self) -> Path | None:
        """The file of an SQLite store, None for a company store."""
        return Path(str(self.engine.url.database)) if self.on_sqlite else None

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Give a connection that sees one consistent state of the store and cannot change it."""
        with failures.in_plain_words(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Give a connection for one transaction: all of it is durable when the block ends, or nothing of it is kept.

        Waits for other writers: those of this process as long as it takes, another process for a few seconds
        (then TryAgain).
        """
        with self._writing:
            if self._inside:
                raise RuntimeError("a transaction is open already; pass its connection on")
            self._inside = True
            try:
                with (
                    failures.in_plain_words(self.place),
                    self.engine.connect().execution_options(steadfeed_write=True) as connection,
                    connection.begin(),
                ):
                    yield connection
            finally:
                self._inside = False

    def close(self) -> None:
        """Let go of every connection."""
        if not self._closed:
            self._closed = True
            self.engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(
    setting: str | Path, *, create: bool = True, upgrade: bool | None = None, connect: Callable[[], Any] | None = None
) -> Store:
    """Open a store. setting: a file, or postgresql://user@host/name.

    create: make the file when there is none (else FixInput). upgrade: bring an older schema up to date; None does so
    for a file (after a copy beside it) and refuses for a company store, where other people's programs would be locked
    out. A newer schema is always refused (NotAllowed).
    """
    url = store_url(str(setting))
    place = say_place(url)
    if url.get_backend_name() == "sqlite":
        path = Path(str(url.database))
        if not path.exists():
            if not create:
                raise FixInput(
                    f"There is no store at {place}; `steadfeed unit add` begins one", code="no store", where=place
                )
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise FixInput(f"{path.parent} cannot be made: {error.strerror}", code="no store") from error
            _make_private(path, place)
        else:
            _look_at_file(path, place)
    engine = make_engine(url, connect)
    store = Store(engine, place)
    try:
        bring_up_to_date(store, upgrade)
    except BaseException:
        store.close()
        raise
    return store


def _make_private(path: Path, place: str) -> None:
    """Make an empty file that only its owner can read: it will hold names and addresses. SQLite's own files follow it."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise FixInput(f"{place} cannot be made: {error.strerror}", code="no store", where=place) from error


def _look_at_file(path: Path, place: str) -> None:
    """Notice cheaply that a file is no store or was cut short."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        raise FixInput(f"{place} cannot be read: {error.strerror}", code="no store", where=place) from error
    if size == 0:
        return
    if head[:16] != b"SQLite format 3\x00":
        raise FixInput(f"{place} is no store of steadfeed", code="no store", where=place)
    page = int.from_bytes(head[16:18], "big")
    page = 65536 if page == 1 else page
    pages = int.from_bytes(head[28:32], "big")
    counted = head[24:28] == head[92:96]  # the count in the head is only valid then (SQLite file format, 1.3.7)
    wal = path.with_name(path.name + "-wal")
    if counted and size < pages * page and not (wal.exists() and wal.stat().st_size):
        raise failures.damaged(place, f"it ends after {size} of {pages * page} bytes")
