"""Freeze a released schema with data inside, so that every later steadfeed is tested to bring it forward.

usage: python tests/reliability/freeze_schema.py VERSION     (once, when the version is released; never again)

Writes tests/data/released/VERSION.sqlite.sql and VERSION.postgresql.sql. Needs a PostgreSQL server's programs.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import sqlalchemy as sa

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1] / "src")]
RELEASED = HERE.parent / "data" / "released"


def fill(t: sa.Connection) -> None:
    """A small company, readings, a log, a verdict chain, edits, a withdrawal: something in every corner."""
    import hashlib
    import json

    from company import BY, NOW, small_company
    from steadfeed.records import entries, readings, rows
    from steadfeed.records.readings import RawReading

    company = small_company(t)
    sent = [
        RawReading("gauge", "b1", n, "suction_pressure", f"{118 + n / 10:.1f}", "psig", NOW + n, 0.0) for n in range(20)
    ]
    readings.append(t, company.challenge, sent, NOW + 30)
    readings.append(t, company.challenge, [RawReading("gauge", "b1", 3, "suction_pressure", "7", "psig")], NOW + 31)
    log = readings.keep_file(t, b"time,suction_pressure_psig\n2026-07-25T17:20:00Z,118.2\n", NOW)
    rows.add(t, "challenge_log", {"challenge_id": company.challenge, "log_sha256": log, "log_name": "a.csv"}, BY)
    rows.add(t, "mark", {"challenge_id": company.challenge, "at": NOW + 9, "event": "push", "text": "cover on"}, BY)
    before = None
    for word in ("fixed", "weak"):
        text = json.dumps({"verdict": word})
        before = rows.add(
            t,
            "verdict",
            {
                "challenge_id": company.challenge, "supersedes": before, "method_version": "0.1.0+1", "valid": True,
                "verdict": word, "early": False, "reasons": "[]", "judgement": text, "changed": "[]",
                "judgement_sha256": hashlib.sha256(text.encode()).hexdigest(), "feed_held": 0.12,
            },
            rows.By(NOW + (0 if before is None else 5)),
        )  # fmt: skip
    action = rows.add(t, "action", {"visit_id": company.visit, "at": NOW, "text": "cleaned the coil"}, BY)
    entries.withdraw(t, "action", action, BY, "wrong unit")
    entries.edit(t, "unit", company.unit, {"place": "Roof east"}, BY)
    entries.edit(t, "customer", company.customer, {"phone": "555 0199"}, BY)
    rows.add(t, "override", {"visit_id": company.visit, "what": "thermostat", "at": NOW}, BY)
    rows.add(t, "due_visit", {"unit_id": company.unit, "due_on": "2027-05-31", "reason": "spring"}, BY)


def build(setting: str, version: str) -> None:
    """Make a store with the schema of `version` and fill it."""
    from steadfeed.records import upgrade
    from steadfeed.records.engine import make_engine, store_url
    from steadfeed.records.store import Store

    with Store(make_engine(store_url(setting)), setting) as store:
        with store.writing() as t:
            upgrade._migrate(t, version)
        with store.writing() as t:
            fill(t)


def main() -> None:
    import sqlite3

    from stores import Server

    version = sys.argv[1]
    RELEASED.mkdir(parents=True, exist_ok=True)
    targets = [RELEASED / f"{version}.{engine}.sql" for engine in ("sqlite", "postgresql")]
    for target in targets:
        if target.exists():
            sys.exit(f"{target.name} is frozen already; a released schema never changes")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.db"
        build(str(path), version)
        with sqlite3.connect(path) as raw:
            targets[0].write_text("\n".join(raw.iterdump()) + "\n", "utf-8")
    server = Server()
    try:
        name = server.make_database()
        build(server.url(name), version)
        dump = [
            server.programs / "pg_dump",
            "--inserts",
            "--no-owner",
            "--no-comments",
            "-h",
            server.folder,
            "-U",
            "tester",
            name,
        ]
        text = subprocess.run(list(map(str, dump)), check=True, capture_output=True, text=True).stdout
        targets[1].write_text("\n".join(x for x in text.splitlines() if x and not x.startswith("--")) + "\n", "utf-8")
    finally:
        server.remove()


if __name__ == "__main__":
    main()
