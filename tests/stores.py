"""Stores for tests: SQLite files, and a real PostgreSQL server that the tests start for themselves."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from steadfeed.records.store import Store, open_store

__all__ = ["postgres", "postgres_template", "setting", "sqlite_template", "store"]

ENGINES = ("sqlite", "postgresql")
NOW = 1_785_000_000.0  # 2026-07-25T17:20:00Z


class Server:
    """A PostgreSQL server of its own, in a temporary folder, reached through a socket there."""

    def __init__(self) -> None:
        self.programs = _find_programs()
        self.folder = Path(tempfile.mkdtemp(prefix="sf-pg-", dir=_roomy_memory()))
        self.data = self.folder / "data"
        self._as: list[str] = []
        if os.geteuid() == 0:  # the server refuses to run as root
            owner = pwd.getpwnam("postgres")
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
            self._as = ["runuser", "-u", "postgres", "--"]
        self.folder.chmod(0o700)
        self._call("initdb", "-D", self.data, "-U", "tester", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8")
        self.start()

    def start(self) -> None:
        options = f"-k {self.folder} -c listen_addresses='' -c max_connections=60"
        self._call("pg_ctl", "-D", self.data, "-w", "-l", self.folder / "log", "-o", options, "start")

    def stop(self, how: str = "fast") -> None:
        self._call("pg_ctl", "-D", self.data, "-w", "-m", how, "stop")

    def url(self, database: str = "postgres") -> str:
        return f"postgresql://tester@/{database}?host={self.folder}"

    def sql(self, statement: str) -> None:
        self._call(
            "psql", "-q", "-v", "ON_ERROR_STOP=1", "-h", self.folder, "-U", "tester", "-d", "postgres", "-c", statement
        )

    def make_database(self, template: str | None = None) -> str:
        name = f"t{uuid.uuid4().hex}"
        self.sql(f"CREATE DATABASE {name}" + (f" TEMPLATE {template}" if template else ""))
        return name

    def drop_database(self, name: str) -> None:
        self.sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

    def remove(self) -> None:
        with contextlib.suppress(subprocess.CalledProcessError):
            self.stop("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)

    def _call(self, program: str, *arguments: object) -> None:
        subprocess.run(
            [*self._as, str(self.programs / program), *map(str, arguments)],
            check=True,
            cwd="/",
            stdout=subprocess.DEVNULL,
            timeout=120,
        )


def _roomy_memory() -> str | None:
    """A disk in memory, where there is a roomy one: many small databases are made and dropped.

    Killing a process or stopping the server loses nothing that the system holds, so these tests tell the same there;
    what a power cut does is tested on SQLite, with a disk of its own making.
    """
    memory = Path("/dev/shm")
    with contextlib.suppress(OSError):
        if os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > 2**30:
            return str(memory)
    return None


def _find_programs() -> Path:
    """Find PostgreSQL 15 or later. Without one the tests on it are skipped, which in CI is a failure."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))
    on_path = shutil.which("initdb")
    if on_path:
        found.insert(0, Path(on_path).resolve().parent)
    for folder in reversed(found):
        said = subprocess.run([folder / "postgres", "--version"], capture_output=True, text=True, check=False).stdout
        if said and int(said.split()[2].split(".")[0]) >= 15:
            return folder
    pytest.skip("PostgreSQL 15 or later is not installed (Debian: postgresql)")


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    server = Server()
    try:
        yield server
    finally:
        server.remove()


@pytest.fixture(scope="session")
def postgres_template(postgres: Server) -> str:
    """A database with the present schema; others are copied from it."""
    name = postgres.make_database()
    open_store(postgres.url(name)).close()
    return name


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "records.db"
    open_store(path).close()
    return path


def new_setting(request: pytest.FixtureRequest, engine: str, folder: Path) -> str:
    """Make an empty store with the present schema and return its setting."""
    if engine == "sqlite":
        path = folder / f"{uuid.uuid4().hex}.db"
        shutil.copyfile(request.getfixturevalue("sqlite_template"), path)
        return str(path)
    template = request.getfixturevalue("postgres_template")
    server: Server = request.getfixturevalue("postgres")
    name = server.make_database(template)
    request.addfinalizer(lambda: server.drop_database(name))
    return server.url(name)


@pytest.fixture(params=ENGINES)
def setting(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The setting of an empty store, on each engine in turn."""
    return new_setting(request, request.param, tmp_path)


@pytest.fixture
def store(setting: str) -> Iterator[Store]:
    with open_store(setting) as opened:
        yield opened
