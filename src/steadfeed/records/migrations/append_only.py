"""Triggers that make the database itself refuse to change or delete what was written down."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa


def forbid_changes(connection: sa.Connection, columns: Mapping[str, tuple[str, ...]]) -> None:
    """Forbid updates of the given columns of each table, and deletes of its rows. Used by migrations only."""
    if connection.dialect.name == "sqlite":
        for table, names in columns.items():
            stop = f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            connection.exec_driver_sql(
                f"CREATE TRIGGER keep_{table}_u BEFORE UPDATE OF {', '.join(names)} ON {table} {stop}"
            )
            connection.exec_driver_sql(f"CREATE TRIGGER keep_{table}_d BEFORE DELETE ON {table} {stop}")
        return
    connection.exec_driver_sql(
        "CREATE OR REPLACE FUNCTION steadfeed_append_only() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '%% is append-only', TG_TABLE_NAME; END $$"
    )
    for table, names in columns.items():
        run = "EXECUTE FUNCTION steadfeed_append_only()"
        for sql in (
            f"CREATE TRIGGER keep_{table}_u BEFORE UPDATE OF {', '.join(names)} ON {table} FOR EACH ROW {run}",
            f"CREATE TRIGGER keep_{table}_d BEFORE DELETE ON {table} FOR EACH ROW {run}",
            f"CREATE TRIGGER keep_{table}_t BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {run}",
        ):
            connection.exec_driver_sql(sql)
