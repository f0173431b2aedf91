"""Every released schema, with data inside, comes forward to the present one and loses nothing."""

from __future__ import annotations

import sqlite3
import subprocess
from pathlib import Path

import pytest
import sqlalchemy as sa

from steadfeed.errors import NotAllowed
from steadfeed.records import upgrade
from steadfeed.records.check import check
from steadfeed.records.engine import make_engine, store_url
from steadfeed.records.schema import APPEND_ONLY
from steadfeed.records.store import open_store
from stores import ENGINES

RELEASED = Path(__file__).parents[1] / "data" / "released"


def test_every_schema_is_frozen_with_data() -> None:
    """A new migration without a frozen store of its own fails here; tests/reliability/freeze_schema.py makes one."""
    wanted = {f"{version}.{engine}.sql" for version in upgrade.VERSIONS for engine in ENGINES}
    assert {p.name for p in RELEASED.glob("*.sql")} == wanted


def old_store(request: pytest.FixtureRequest, folder: Path, version: str, engine: str) -> str:
    frozen = RELEASED / f"{version}.{engine}.sql"
    if engine == "sqlite":
        path = folder / "old.db"
        with sqlite3.connect(path) as raw:
            raw.executescript(frozen.read_text("utf-8"))
        return str(path)
    server = request.getfixturevalue("postgres")
    name = server.make_database()
    command = [
        server.programs / "psql",
        "-q",
        "-v",
        "ON_ERROR_STOP=1",
        "-h",
        server.folder,
        "-U",
        "tester",
        "-d",
        name,
        "-f",
        frozen,
    ]
    subprocess.run(list(map(str, command)), check=True, stdout=subprocess.DEVNULL)
    return str(server.url(name))


def everything(setting: str) -> dict[str, list[dict[str, object]]]:
    engine = make_engine(store_url(setting))
    with engine.connect() as t:
        names = sa.inspect(t).get_table_names()
        tables = sa.MetaData()
        tables.reflect(t)
        found = {
            n: sorted(
                (
                    {c: _comparable(v) for c, v in row.items()}
                    for row in t.execute(sa.select(tables.tables[n])).mappings()
                ),
                key=repr,
            )
            for n in names
            if n != "alembic_version"
        }
    engine.dispose()
    return found


def _comparable(value: object) -> object:
    return int(value) if isinstance(value, bool) else bytes(value) if isinstance(value, memoryview) else value


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("version", upgrade.VERSIONS)
def test_an_old_store_comes_forward_whole(
    request: pytest.FixtureRequest, tmp_path: Path, version: str, engine: str
) -> None:
    setting = old_store(request, tmp_path, version, engine)
    before = everything(setting)
    assert sum(len(rows) for rows in before.values()) > 60
    older = version != upgrade.PRESENT
    if older and engine == "postgresql":
        with pytest.raises(NotAllowed, match="records upgrade"):
            open_store(setting)
        assert everything(setting) == before
    with open_store(setting, upgrade=True if engine == "postgresql" else None) as store:
        assert check(store).sound
        with pytest.raises(NotAllowed, match="append-only"), store.writing() as t:
            t.execute(sa.text("DELETE FROM verdict"))
        with store.reading() as t:
            assert upgrade.schema_version(t) == upgrade.PRESENT
            assert set(APPEND_ONLY) <= set(sa.inspect(t).get_table_names())
    after = everything(setting)
    for name, rows in before.items():
        kept = [{c: row[c] for c in (rows[0] if rows else ())} for row in after[name]]
        assert sorted(kept, key=repr) == rows, name
    copies = list(tmp_path.glob("*.before-*"))
    assert len(copies) == (1 if older and engine == "sqlite" else 0)
    for copy in copies:  # what it was before lies beside it
        assert everything(str(copy)) == before


@pytest.mark.parametrize("engine", ENGINES)
def test_a_migration_that_fails_leaves_the_old_schema_whole(
    request: pytest.FixtureRequest, tmp_path: Path, engine: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from steadfeed.records.migrations import append_only

    if upgrade.VERSIONS[0] == upgrade.PRESENT:
        pytest.fail("there is only one schema")
    setting = old_store(request, tmp_path, upgrade.VERSIONS[0], engine)
    before = everything(setting)

    def broken(*_: object) -> None:
        raise RuntimeError("the power went in the middle of it")

    monkeypatch.setattr(append_only, "forbid_changes", broken)
    with pytest.raises(RuntimeError, match="middle of it"):
        open_store(setting, upgrade=True)
    assert everything(setting) == before
    monkeypatch.undo()
    with open_store(setting, upgrade=True) as store:
        assert check(store).sound
