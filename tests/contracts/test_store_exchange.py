"""Export and import on both engines: the round trip loses nothing.

Nothing means: the hash and bytes of every log, every streamed reading with its value as text, times, order and missing
values, every mark, thing, fact, edit, verdict and attachment with its identity.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import jsonschema
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa

from company import BY, NOW, Small, small_company
from pictures import photo_with_location
from steadfeed.errors import FixInput
from steadfeed.records import attachments, entries, people, readings, rows, schema
from steadfeed.records.check import check
from steadfeed.records.exchange.load import load
from steadfeed.records.exchange.write import export
from steadfeed.records.readings import RawReading
from steadfeed.records.store import Store, open_store
from stores import new_setting

LOG = b"\xef\xbb\xbftime,suction_pressure_psig,note\r\n2026-07-25T10:00:00Z,118.20,\r\n2026-07-25T10:00:05Z,OL,x\r\n"
LOCAL = {"stream", "feed", "reading_batch", "reading", "reading_conflict", "sent_mark"}


def fill(store: Store) -> Small:
    with store.writing() as t:
        company = small_company(t)
        readings.append(
            t,
            company.challenge,
            [
                RawReading("gauge", "b1", 5, "suction_pressure", "118.20", "psig", NOW + 5.5, -18000.0, "P low"),
                RawReading("gauge", "b1", 3, "suction_pressure", None, "psig", NOW + 3.25, -18000.0, "P low"),
                RawReading("gauge", "b1", 4, "", "", "", None, None, "=cmd"),
                RawReading("gauge", "b2", 0, "suction_pressure", "OL", "psig", NOW, 0.0, "P low", "same", "person"),
            ],
            NOW + 7,
        )
        readings.append(t, company.challenge, [RawReading("gauge", "b1", 5, "suction_pressure", "9", "psig")], NOW + 8)
        sha256 = readings.keep_file(t, LOG, NOW)
        rows.add(t, "challenge_log", {"challenge_id": company.challenge, "log_sha256": sha256, "log_name": "a.csv"}, BY)
        rows.add(
            t, "mark", {"challenge_id": company.challenge, "at": NOW + 60.5, "event": "push", "text": "cover on"}, BY
        )
        rows.add(t, "mark", {"challenge_id": company.challenge, "at": NOW + 60.5, "event": "note", "text": ""}, BY)
        move = {
            "visit_id": company.visit, "circuit_id": company.circuit, "at": NOW, "refrigerant": "R-410A",
            "direction": "in", "weight_hundredth_oz": 625, "as_typed": "6.25 oz",
        }  # fmt: skip
        mistaken = rows.add(t, "refrigerant_move", move, BY)
        entries.withdraw(t, "refrigerant_move", mistaken, BY, "wrong unit")
        entries.edit(t, "unit", company.unit, {"serial": "QX-9", "note": "=SUM(A1)"}, BY)
        entries.edit(t, "customer", company.customer, {"phone": "555 0199"}, BY)
        attachments.attach(t, "unit", company.unit, "photo", photo_with_location(), BY)
        first = verdict(company.challenge, None, "fixed")
        rows.add(t, "verdict", first, BY)
        rows.add(t, "verdict", verdict(company.challenge, first["id"], "weak"), BY)
    return company


def verdict(challenge: str, supersedes: object, word: str) -> dict[str, object]:
    import hashlib

    text = json.dumps({"verdict": word})
    return {
        "id": f"00000000-0000-4000-8000-0000000000{'02' if supersedes else '01'}", "challenge_id": challenge,
        "supersedes": supersedes, "method_version": "1+a", "valid": True, "verdict": word, "early": False,
        "reasons": "[]", "judgement": text, "judgement_sha256": hashlib.sha256(text.encode()).hexdigest(),
        "changed": "[]", "feed_held": 0.1 + 0.2,
    }  # fmt: skip


def content(store: Store) -> dict[str, object]:
    """Everything that counts, as plain values, without the keys that are local to a store."""
    with store.reading() as t:
        whole: dict[str, object] = {
            name: sorted((tuple(r) for r in t.execute(sa.select(table))), key=repr)
            for name, table in schema.metadata.tables.items()
            if name not in LOCAL and name != "raw_file"
        }
        whole["readings"] = list(readings.readings_in_order(t))
        conflict = schema.table("reading_conflict")
        whole["conflicts"] = sorted(tuple(r)[1:] for r in t.execute(sa.select(conflict)))
        hashes = list(t.execute(sa.select(schema.table("raw_file").c.sha256)).scalars())
        whole["files"] = {h: readings.file_bytes(t, h) for h in hashes}
    return whole


@pytest.mark.parametrize("form", ["csv", "parquet", "json"])
@pytest.mark.parametrize("into", ["sqlite", "postgresql"])
def test_a_round_trip_loses_nothing(
    store: Store, request: pytest.FixtureRequest, tmp_path: Path, form: str, into: str
) -> None:
    fill(store)
    manifest = export(store, tmp_path / "out", form, NOW)
    with open_store(new_setting(request, into, tmp_path)) as other:
        done = load(other, tmp_path / "out", NOW + 99)
        assert not done.conflicts
        assert done.added["reading"] == manifest["tables"]["reading"]["rows"] == 4
        assert content(other) == content(store)
        assert LOG in content(other)["files"].values()  # type: ignore[attr-defined]
        assert check(other).sound
        again = load(other, tmp_path / "out", NOW + 100)
        assert sum(again.added.values()) == 0
        assert not again.conflicts
        assert content(other) == content(store)
        export(other, tmp_path / "second", form, NOW)
    for path in sorted((tmp_path / "out").glob(f"*{'.jsonl' if form == 'json' else '.' + form}")):
        assert (tmp_path / "second" / path.name).read_bytes() == path.read_bytes(), path.name


def test_every_column_is_in_the_dictionary_with_its_meaning(store: Store, tmp_path: Path) -> None:
    fill(store)
    manifest = export(store, tmp_path / "out", "csv", NOW)
    with (tmp_path / "out" / "dictionary.csv").open(encoding="utf-8", newline="") as file:
        dictionary = {(row["table"], row["column"]): row for row in csv.DictReader(file)}
    for name, about in manifest["tables"].items():
        with (tmp_path / "out" / about["file"]).open(encoding="utf-8", newline="") as file:
            header = next(csv.reader(file))
        assert [c for t, c in dictionary if t == name] == header
    assert all(row["meaning"] for row in dictionary.values())
    assert dictionary["site", "altitude"]["unit"] == "m"
    assert dictionary["visit", "opened_at"]["unit"] == "s since 1970-01-01 UTC"
    assert dictionary["refrigerant_move", "weight_hundredth_oz"]["unit"].startswith("hundredths of an ounce")
    assert dictionary["customer", "name"]["about a person"] == "yes"
    # every table of the schema is exchanged, but for what is local to a store or derived
    left_out = set(schema.metadata.tables) - {t for t, _ in dictionary}
    assert left_out == {"stream", "feed", "reading_batch", "sent_mark", "search_word", "latest_verdict"}


def test_json_lines_follow_the_published_schema(store: Store, tmp_path: Path) -> None:
    """Checked by an independent validator of JSON Schema 2020-12 (jsonschema)."""
    fill(store)
    export(store, tmp_path / "out", "json", NOW)
    schema_text = json.loads((tmp_path / "out" / "records.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema_text)
    validator = jsonschema.Draft202012Validator(schema_text)
    lines = [line for path in (tmp_path / "out").glob("*.jsonl") for line in path.read_text("utf-8").splitlines()]
    assert len(lines) > 30
    for line in lines:
        validator.validate(json.loads(line))
    with pytest.raises(jsonschema.ValidationError):
        validator.validate({"table": "unit", "row": {"id": 5}})


def test_parquet_is_read_by_others_with_types(store: Store, tmp_path: Path) -> None:
    fill(store)
    export(store, tmp_path / "out", "parquet", NOW)
    table = pq.read_table(tmp_path / "out" / "reading.parquet")
    assert [str(table.schema.field(n).type) for n in ("sequence", "value", "device_time")] == [
        "int64",
        "string",
        "double",
    ]
    assert table.column("value").to_pylist() == [None, "", "118.20", "OL"]
    cells = pq.read_table(tmp_path / "out" / "log_cell.parquet").to_pylist()
    assert [c["value"] for c in cells if c["header"] == "suction_pressure_psig"] == ["118.20", "OL"]


def test_edits_of_two_stores_meet_and_both_come_to_the_same(
    store: Store, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    company = fill(store)
    export(store, tmp_path / "start", "json", NOW)
    with open_store(new_setting(request, "sqlite", tmp_path)) as other:
        load(other, tmp_path / "start", NOW)
        with store.writing() as t:
            entries.edit(
                t, "unit", company.unit, {"place": "Roof north", "maker": "Orlan"}, rows.By(NOW + 10, device="phone 1")
            )
        with other.writing() as t:
            entries.edit(t, "unit", company.unit, {"place": "Roof east"}, rows.By(NOW + 20, device="phone 2"))
        export(store, tmp_path / "one", "csv", NOW)
        export(other, tmp_path / "two", "csv", NOW)
        load(store, tmp_path / "two", NOW)
        load(other, tmp_path / "one", NOW)
        for one in (store, other):
            with one.reading() as t:
                unit = rows.get(t, "unit", company.unit)
                found = entries.standing(entries.entries_of(t, company.unit, "place"))
            assert (unit["place"], unit["maker"]) == ("Roof east", "Orlan")
            assert [r.value for r in found.rivals] == ["Roof north"]
            assert check(one).sound


def test_a_contradicting_fact_is_told_and_never_written_over(
    store: Store, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    company = fill(store)
    export(store, tmp_path / "out", "json", NOW)
    with open_store(new_setting(request, "sqlite", tmp_path)) as other:
        load(other, tmp_path / "out", NOW)
        path = tmp_path / "out" / "mark.jsonl"
        path.write_text(path.read_text("utf-8").replace("cover on", "cover off"), "utf-8")
        with pytest.raises(FixInput, match="was changed after the export"):
            load(other, tmp_path / "out", NOW)
        renew_hash(tmp_path / "out", "mark")
        done = load(other, tmp_path / "out", NOW)
        assert len(done.conflicts["mark"]) == 1
        with other.reading() as t:
            texts = {m["text"] for m in rows.find(t, "mark", challenge_id=company.challenge)}
        assert texts == {"cover on", ""}


def renew_hash(folder: Path, name: str) -> None:
    from steadfeed.records.exchange.write import hash_of

    path = folder / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    manifest["tables"][name]["sha256"] = hash_of(folder / manifest["tables"][name]["file"])
    path.write_text(json.dumps(manifest), "utf-8")


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        (lambda f: (f / "manifest.json").unlink(), "no export of steadfeed"),
        (lambda f: (f / "unit.csv").unlink(), "lacks unit.csv"),
        (lambda f: next((f / "files").iterdir()).unlink(), "lacks files/"),
        (lambda f: next((f / "files").iterdir()).write_bytes(b"other"), "no longer matches"),
        (lambda f: newer(f, "schema", "0099"), "newer steadfeed"),
        (lambda f: newer(f, "format_version", 99), "newer steadfeed"),
        (lambda f: column(f, "unit.csv", "colour"), "does not know"),
    ],
)
def test_a_broken_export_gets_one_sentence_and_changes_nothing(
    request: pytest.FixtureRequest, tmp_path: Path, harm: object, says: str
) -> None:
    with open_store(new_setting(request, "sqlite", tmp_path)) as store:
        fill(store)
        export(store, tmp_path / "out", "csv", NOW)
    harm(tmp_path / "out")  # type: ignore[operator]
    with open_store(new_setting(request, "sqlite", tmp_path)) as other:
        before = content(other)
        with pytest.raises(FixInput, match=says):
            load(other, tmp_path / "out", NOW)
        assert content(other) == before


def newer(folder: Path, key: str, value: object) -> None:
    path = folder / "manifest.json"
    path.write_text(json.dumps({**json.loads(path.read_text("utf-8")), key: value}), "utf-8")


def column(folder: Path, name: str, header: str) -> None:
    text = (folder / name).read_text("utf-8").splitlines()
    (folder / name).write_text("\n".join([f"{text[0]},{header}", *(f"{line},x" for line in text[1:])]) + "\n", "utf-8")
    renew_hash(folder, name.removesuffix(".csv"))


def test_what_was_erased_does_not_come_back_and_goes_elsewhere_too(
    store: Store, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    company = fill(store)
    export(store, tmp_path / "old", "csv", NOW)
    with open_store(new_setting(request, "sqlite", tmp_path)) as other:
        load(other, tmp_path / "old", NOW)
        people.erase(store, "customer", company.customer, BY, "asked on 2026-07-25")
        load(store, tmp_path / "old", NOW)  # an old export is taken in again
        export(store, tmp_path / "new", "csv", NOW)
        load(other, tmp_path / "new", NOW)
        for one in (store, other):
            with one.reading() as t:
                assert rows.get(t, "customer", company.customer)["name"] is None
                assert rows.get(t, "site", company.site)["address"] is None
                assert rows.get(t, "unit", company.unit)["serial"] == "QX-9"
            assert check(one).sound


def test_an_export_without_people_names_nobody(store: Store, tmp_path: Path) -> None:
    fill(store)
    export(store, tmp_path / "out", "json", NOW, people=False)
    whole = b"".join(p.read_bytes() for p in (tmp_path / "out").rglob("*") if p.is_file())
    for name in (b"Ardenfield", b"Ines Calloway", b"555 01", b"Alder Street"):
        assert name not in whole
    assert b"QX-9" in whole


def test_an_export_goes_into_an_empty_folder_only(store: Store, tmp_path: Path) -> None:
    (tmp_path / "precious.txt").write_text("x")
    with pytest.raises(FixInput, match="is not empty"):
        export(store, tmp_path, "csv", NOW)
