"""From a setting to an engine: SQLite by default, PostgreSQL 15 or later by a URL."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL, Engine, make_url

from steadfeed.errors import FixInput, InstallPart, TryAgain

#: How SQLite hands a commit to the disk. FULL syncs the log at every commit; NORMAL may lose the last ones when the
#: power goes (SQLite manual, PRAGMA synchronous). A test shows both.
SYNCHRONOUS = "FULL"
#: How long a writer waits for another process [s].
BUSY_WAIT: Final = 5.0
OLDEST_POSTGRES: Final = 15

_URL: Final = re.compile(r"^[a-z][a-z0-9+]*://", re.IGNORECASE)


def store_url(setting: str) -> URL:
    """Read the setting: a file path, or postgresql://user@host/name. Raises FixInput for any other kind of URL."""
    setting = setting.strip()
    if not setting:
        raise FixInput("The store's name is empty; give a file or a postgresql:// address", code="no store")
    if not _URL.match(setting):
        return URL.create("sqlite", database=str(Path(setting).expanduser()))
    try:
        url = make_url(setting)
    except sa.exc.ArgumentError as error:
        raise FixInput(
            "The store's address cannot be read; write postgresql://user@host/name", code="no store"
        ) from error
    kind = url.drivername.partition("+")[0]
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database:
        return URL.create("sqlite", database=url.database)
    raise FixInput(f"A store cannot be kept in “{kind}”; give a file or a postgresql:// address", code="no store")


def say_place(url: URL) -> str:
    """Name a store for people, without its password."""
    if url.get_backend_name() == "sqlite":
        return str(url.database)
    return url.set(drivername="postgresql").render_as_string(hide_password=True)


def make_engine(url: URL, connect: Callable[[], Any] | None = None) -> Engine:
    """Make the engine. connect: makes a driver connection instead of the driver itself (SQLite only, for tests)."""
    return _sqlite(url, connect) if url.get_backend_name() == "sqlite" else _postgres(url)


def _sqlite(url: URL, connect: Callable[[], Any] | None) -> Engine:
    options: dict[str, Any] = {"creator": connect} if connect else {}
    engine = sa.create_engine(
        url, connect_args={"check_same_thread": False, "timeout": BUSY_WAIT}, pool_size=5, max_overflow=20, **options
    )

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we begin and end transactions ourselves, also around DDL
        cursor = connection.cursor()
        mode = cursor.execute("PRAGMA journal_mode=WAL").fetchone()[0]
        if str(mode).lower() != "wal":
            raise FixInput(
                f"{url.database} lies on a disk that cannot keep a write-ahead log; choose a local disk",
                code="store place",
                where=url.database,
            )
        for pragma in (
            f"synchronous={SYNCHRONOUS}",
            "fullfsync=ON",  # only macOS knows it: without it a sync there stops at the drive's own cache
            "checkpoint_fullfsync=ON",
            "foreign_keys=ON",
            "cache_size=-32000",
            "temp_store=MEMORY",
        ):
            cursor.execute(f"PRAGMA {pragma}").fetchall()
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        write = connection.get_execution_options().get("steadfeed_write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")

    return engine


def _postgres(url: URL) -> Engine:
    try:
        import psycopg  # noqa: F401
    except ModuleNotFoundError as error:
        raise InstallPart(
            "A company store needs the part “postgres”; install steadfeed[postgres]", code="part missing"
        ) from error
    engine = sa.create_engine(
        url, pool_size=5, max_overflow=20, pool_pre_ping=True, connect_args={"connect_timeout": int(BUSY_WAIT * 2)}
    )

    @event.listens_for(engine, "connect")
    def _prepare(connection: Any, _record: Any) -> None:
        if connection.info.server_version < OLDEST_POSTGRES * 10000:
            raise FixInput(
                f"The server of {say_place(url)} is PostgreSQL {connection.info.server_version // 10000}; "
                f"{OLDEST_POSTGRES} or later is needed",
                code="store too old",
            )
        with connection.cursor() as cursor:
            # A server may have been set to acknowledge before the disk has it; this store never wants that.
            cursor.execute("SET synchronous_commit = on")
            cursor.execute(f"SET lock_timeout = '{int(BUSY_WAIT * 1000)}ms'")
            cursor.execute("SET client_encoding = 'UTF8'")
        connection.commit()

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        if not connection.get_execution_options().get("steadfeed_write", False):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    return engine


def driver_connection(connection: sa.Connection) -> Any:
    """Return the driver's own connection under a SQLAlchemy connection."""
    raw = connection.connection.driver_connection
    if raw is None:
        raise TryAgain("The store's connection is gone; try again", code="store unreachable")
    return raw
