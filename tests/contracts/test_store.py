"""What every store must do, on SQLite and on a real PostgreSQL server alike."""

from __future__ import annotations

import threading

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from company import BY, NOW, small_company
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.records import entries, readings, rows, schema, upgrade
from steadfeed.records.readings import RawReading
from steadfeed.records.store import Store, open_store
from steadfeed.records.writer import GroupWriter


def reading(n: int, value: str | None = "118.2", **other: object) -> RawReading:
    given: dict[str, object] = {
        "source": "gauge 7", "boot_id": "b1", "sequence": n, "channel": "suction_pressure", "value": value,
        "unit": "psig", "device_time": NOW + n, "utc_offset": -18000.0, "header": "P low",
    } | other  # fmt: skip
    return RawReading(**given)  # type: ignore[arg-type]


def test_schema_of_the_migrations_is_the_schema_of_the_code(store: Store) -> None:
    with store.reading() as t:
        differences = compare_metadata(MigrationContext.configure(t), schema.metadata)
    flat = [d for group in differences for d in (group if isinstance(group, list) else [group])]
    wrong = [d for d in flat if not d[0].endswith("_comment")]
    assert not wrong
    script = ScriptDirectory.from_config(upgrade.migration_config(t))
    assert tuple(r.revision for r in reversed(list(script.walk_revisions()))) == upgrade.VERSIONS


def test_a_newer_schema_is_refused_in_one_sentence(store: Store, setting: str) -> None:
    with store.writing() as t:
        t.execute(sa.text("UPDATE alembic_version SET version_num = '9041'"))
    with pytest.raises(NotAllowed, match=r"newer steadfeed .schema 9041; this one knows up to"):
        open_store(setting)


def test_another_programs_database_is_left_alone(store: Store, setting: str) -> None:
    with store.writing() as t:
        t.execute(sa.text("DROP TABLE alembic_version"))
    with pytest.raises(FixInput, match="holds other tables"):
        open_store(setting)


@pytest.mark.parametrize("name", schema.APPEND_ONLY)
def test_the_database_itself_refuses_to_change_what_was_written_down(store: Store, name: str) -> None:
    """Every append-only table, on the database's own word: no update of any column but `withdrawn`, no delete."""
    where = schema.table(name)
    with store.writing() as t:
        _fill(t, name)
        before = t.execute(sa.select(where)).all()
    assert before
    for column in where.columns:
        if column.name == "withdrawn":
            continue
        with pytest.raises(NotAllowed, match="append-only"), store.writing() as t:
            t.execute(where.update().values({column.name: column}))
    with pytest.raises(NotAllowed, match="append-only"), store.writing() as t:
        t.execute(where.delete())
    with store.reading() as t:
        assert t.execute(sa.select(where)).all() == before


def _fill(t: sa.Connection, name: str) -> None:
    """Put one row into a table, whatever it needs, without looking at what the columns mean."""
    t.exec_driver_sql("PRAGMA foreign_keys=OFF") if t.dialect.name == "sqlite" else t.exec_driver_sql(
        "SET LOCAL session_replication_role = replica"
    )
    if t.dialect.name == "sqlite":
        t.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
    company = small_company(t)
    readings.append(t, company.challenge, [reading(1)], NOW)
    readings.append(t, company.challenge, [reading(1, "999")], NOW)
    if t.execute(sa.select(sa.func.count()).select_from(schema.table(name))).scalar_one():
        return
    _fill_blindly(t, name)


def _fill_blindly(t: sa.Connection, name: str) -> str:
    """Write one row of a table and of everything that it refers to."""
    values: dict[str, object] = {}
    for column in schema.table(name).columns:
        if column.nullable or column.server_default is not None:
            continue
        if column.foreign_keys:
            parent = next(iter(column.foreign_keys)).column
            found = t.execute(sa.select(parent).limit(1)).scalar_one_or_none()
            values[column.name] = found if found is not None else _fill_blindly(t, parent.table.name)
        elif column.name in ("id", "sha256"):
            values[column.name] = "00000000-0000-4000-8000-000000000001"
        elif column.info.get("words"):
            values[column.name] = column.info["words"][0]
        elif isinstance(column.type, sa.LargeBinary):
            values[column.name] = b"x"
        elif isinstance(column.type, sa.Boolean):
            values[column.name] = False
        elif isinstance(column.type, (sa.Integer, sa.Double)):
            values[column.name] = 1
        else:
            values[column.name] = "x"
    t.execute(schema.table(name).insert(), [values])
    return str(values.get("id", values.get("sha256", "")))


def test_a_reading_comes_back_exactly_as_received(store: Store) -> None:
    given = [
        reading(0, "118.20"), reading(1, "-0.0"), reading(2, "OL"), reading(3, ""), reading(4, None),
        reading(5, " 118,2 ", header="Druck ND °", quality="same", read_by="person"),
        reading(2**62, "1e3", device_time=0.1 + 0.2, utc_offset=None), reading(7, "1", device_time=None),
    ]  # fmt: skip
    with store.writing() as t:
        company = small_company(t)
        readings.append(t, company.challenge, given, NOW + 0.3)
    with store.reading() as t:
        back = list(readings.readings_of(t, [company.challenge]))
    assert [s.reading for s in back] == sorted(given, key=lambda r: r.sequence)
    assert {s.received_at for s in back} == {NOW + 0.3}
    assert {s.challenge_id for s in back} == {company.challenge}


def test_the_same_reading_twice_is_kept_once_and_a_different_one_is_put_aside(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        first = readings.append(t, company.challenge, [reading(1), reading(2), reading(2)], NOW)
        again = readings.append(t, company.challenge, [reading(2), reading(3)], NOW + 5)
        clash = readings.append(t, company.challenge, [reading(3, "7"), reading(4)], NOW + 6)
        same_clash = readings.append(t, company.challenge, [reading(3, "7")], NOW + 7)
        other_life = readings.append(t, company.challenge, [reading(1, "5", boot_id="b2")], NOW + 8)
    assert (first.written, first.known, first.conflicts) == (2, 1, 0)
    assert (again.written, again.known, again.conflicts) == (1, 1, 0)
    assert (clash.written, clash.known, clash.conflicts) == (1, 0, 1)
    assert (same_clash.written, same_clash.conflicts) == (0, 1)
    assert other_life.written == 1
    with store.reading() as t:
        kept = [s.reading for s in readings.readings_of(t, [company.challenge])]
        aside = t.execute(sa.select(schema.table("reading_conflict"))).all()
    assert [r.sequence for r in kept if r.boot_id == "b1"] == [1, 2, 3, 4]
    assert kept[2].value == "118.2"
    assert len(aside) == 1
    assert '"value": "7"' in aside[0].reading


def test_readings_for_a_challenge_that_is_not_there(store: Store) -> None:
    with GroupWriter(store) as writer, pytest.raises(FixInput, match="no challenge"):
        writer.append("00000000-0000-4000-8000-000000000000", [reading(1)], NOW).result(10)


def test_one_bad_append_does_not_take_the_others_with_it(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
    with GroupWriter(store) as writer, store._writing:  # the writer waits, so that these gather in one group
        futures = [writer.append(company.challenge, [reading(n)], NOW) for n in range(5)]
        bad = writer.append("00000000-0000-4000-8000-000000000000", [reading(99)], NOW)
    assert [f.result(10).written for f in futures] == [1] * 5
    with pytest.raises(FixInput):
        bad.result(10)


def test_many_threads_append_and_nothing_is_lost_or_doubled(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
    receipts: list[int] = []
    with GroupWriter(store) as writer:

        def work(k: int) -> None:
            for n in range(50):
                done = writer.append(company.challenge, [reading(n, source=f"s{k % 4}")], NOW)
                receipts.append(done.result(60).written)

        threads = [threading.Thread(target=work, args=(k,)) for k in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert sum(receipts) == 4 * 50
    with store.reading() as t:
        assert len(list(readings.readings_of(t, [company.challenge]))) == 4 * 50


def test_a_transaction_is_whole_or_not_at_all(store: Store) -> None:
    def half() -> None:
        with store.writing() as t:
            small_company(t)
            raise RuntimeError("stop here")

    with pytest.raises(RuntimeError, match="stop here"):
        half()
    with store.reading() as t:
        assert t.execute(sa.select(sa.func.count()).select_from(schema.table("visit"))).scalar_one() == 0


def test_a_reader_sees_one_state_while_others_write(store: Store) -> None:
    with store.writing() as t:
        small_company(t, "A")
    with store.reading() as seen:
        count = sa.select(sa.func.count()).select_from(schema.table("unit"))
        assert seen.execute(count).scalar_one() == 1
        with store.writing() as t:
            small_company(t, "B")
        assert seen.execute(count).scalar_one() == 1
    with store.reading() as t:
        assert t.execute(count).scalar_one() == 2


def test_a_reader_cannot_write_on_postgresql_and_sqlite_keeps_no_change(store: Store) -> None:
    with store.reading() as t:
        try:
            t.execute(schema.table("part").insert().values(id="x", created_at=1.0, kind="other"))
        except sa.exc.DBAPIError:
            pass
        else:
            t.rollback()
    with store.reading() as t:
        assert t.execute(sa.select(schema.table("part"))).all() == []


def test_a_row_sent_twice_is_written_once_and_another_under_its_identity_is_refused(store: Store) -> None:
    with store.writing() as t:
        company = small_company(t)
        given = {
            "id": "0b5f2c1e-0000-4000-8000-000000000001",
            "visit_id": company.visit,
            "at": NOW,
            "text": "cleaned the coil",
        }
        assert rows.add(t, "action", given, BY) == rows.add(t, "action", given, BY)
        assert len(rows.find(t, "action")) == 1
        with pytest.raises(NotAllowed, match="Another action"):
            rows.add(t, "action", given | {"text": "something else"}, BY)
        thing = {"id": "0b5f2c1e-0000-4000-8000-000000000002", "kind": "other", "serial": "1"}
        rows.add(t, "part", thing, BY)
        entries.edit(t, "part", thing["id"], {"serial": "2"}, BY)
        rows.add(t, "part", thing, BY)  # a device sends the making again after the edit
        assert rows.get(t, "part", thing["id"])["serial"] == "2"


@pytest.mark.parametrize(
    ("name", "values", "says"),
    [
        ("unit", {"kind": "rooftop"}, "kind of a unit is one of outdoor, indoor, packaged"),
        ("unit", {"colour": "red"}, "no field “colour”"),
        ("site", {"altitude": float("nan")}, "altitude of a site"),
        ("site", {"altitude": "high"}, "altitude of a site"),
        ("part", {}, "needs its kind"),
        ("due_visit", {"unit_id": "x", "due_on": "next May"}, "due on of a due visit"),
        ("part", {"kind": "other", "note": "a\x00b"}, "note of a part"),
        ("part", {"kind": "other", "note": "\ud800"}, "note of a part"),
    ],
)
def test_a_bad_value_gets_one_sentence(store: Store, name: str, values: dict[str, object], says: str) -> None:
    with pytest.raises(FixInput, match=says), store.writing() as t:
        rows.add(t, name, values, BY)


def test_file_bytes_are_kept_once_and_checked(store: Store) -> None:
    content = bytes(range(256)) * 40
    with store.writing() as t:
        first = readings.keep_file(t, content, NOW)
        assert readings.keep_file(t, content, NOW + 9) == first
        assert readings.file_bytes(t, first) == content
        with pytest.raises(FixInput, match="no file"):
            readings.file_bytes(t, "0" * 64)
