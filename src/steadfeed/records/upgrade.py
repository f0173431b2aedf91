"""Which schema a store has, and the way to the present one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput, NotAllowed

if TYPE_CHECKING:
    from alembic.config import Config

    from steadfeed.records.store import Store

#: Every released schema, oldest first. The last one is the present one.
VERSIONS: Final = ("0001", "0002")
PRESENT: Final = VERSIONS[-1]
_MIGRATIONS: Final = Path(__file__).with_name("migrations")


def schema_version(connection: sa.Connection) -> str | None:
    """Return the schema version of a store, None when it is empty. Raises FixInput when it holds something else."""
    names = set(sa.inspect(connection).get_table_names())
    if "alembic_version" not in names:
        if names:
            raise FixInput(
                f"This database holds other tables ({', '.join(sorted(names)[:3])} …); choose another for steadfeed",
                code="no store",
            )
        return None
    found = connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar_one_or_none()
    return None if found is None else str(found)


def bring_up_to_date(store: Store, upgrade: bool | None = None) -> None:
    """Make the schema in an empty store; bring an older one up to date when `upgrade` allows; refuse a newer one."""
    with store.reading() as t:
        found = schema_version(t)
    if found == PRESENT:
        return
    if found is not None and found not in VERSIONS:
        raise NotAllowed(
            f"{store.place} was written by a newer steadfeed (schema {found}; this one knows up to {PRESENT}); "
            "update steadfeed here",
            code="store newer",
            where=store.place,
        )
    if found is not None:
        if upgrade is None and not store.on_sqlite:
            raise NotAllowed(
                f"{store.place} has schema {found}, this steadfeed needs {PRESENT}; when every device is updated, run "
                "`steadfeed records upgrade`",
                code="store older",
                where=store.place,
            )
        if upgrade is False:
            raise NotAllowed(
                f"{store.place} has schema {found}, this steadfeed needs {PRESENT}",
                code="store older",
                where=store.place,
            )
        if store.path is not None:
            _keep_copy(store, found)
    with store.writing() as t:
        if not store.on_sqlite:
            # two programs that find the same old store: the second waits here and then has nothing left to do
            t.exec_driver_sql("SELECT pg_advisory_xact_lock(5151)")
        if schema_version(t) != PRESENT:
            _migrate(t)


def migration_config(connection: sa.Connection) -> Config:
    """Return Alembic's settings for the migrations shipped in this package, on one open connection."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _migrate(connection: sa.Connection, to: str = PRESENT) -> None:
    from alembic import command

    command.upgrade(migration_config(connection), to)


def _keep_copy(store: Store, found: str) -> None:
    """Copy an SQLite store beside itself before its schema changes."""
    from steadfeed.records.backup import back_up

    assert store.path is not None
    aside = store.path.with_name(f"{store.path.name}.before-{PRESENT}-was-{found}")
    if not aside.exists():
        back_up(store, aside)
