"""visit, unit, records and demo from the command line: words, JSON, exit codes, never a traceback."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from steadfeed.cli.root import run
from stores import new_setting

EXAMPLES = Path(__file__).parents[3] / "examples"


class Line:
    """A command line with a store of its own, run in this process."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.store = str(folder / "records.db")
        self._patch, self._capsys = monkeypatch, capsys
        monkeypatch.chdir(folder)
        monkeypatch.setenv("STEADFEED_PERSON", "Ines Calloway")

    def __call__(self, *words: str, code: int = 0, store: str | None = None) -> str:
        self._patch.setenv("STEADFEED_STORE", store or self.store)
        self._capsys.readouterr()
        left = run(words)
        out, err = self._capsys.readouterr()
        assert left == code, (words, out, err)
        assert "error of its own" not in err
        return out if code in (0, 3) else err

    def json(self, *words: str, code: int = 0, store: str | None = None) -> Any:
        return json.loads(self(*words, "--json", code=code, store=store))


@pytest.fixture
def line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Line:
    made = Line(tmp_path, monkeypatch, capsys)
    made(
        "unit", "add", "W-05", "--customer", "Ardenfield Mills", "--site", "Mill house", "--address", "12 Alder Street",
        "--serial", "QX-2241-8830", "--refrigerant", "R-410A", "--metering-device", "txv", "--every", "180",
    )  # fmt: skip
    return made


def test_a_whole_visit(line: Line) -> None:
    made = line.json("visit", "open", "8830", "--complaint", "warm air")
    line("visit", "add", "W-05", str(EXAMPLES / "orchard-house.csv"))
    assert "known already" in line("visit", "add", "W-05", str(EXAMPLES / "orchard-house.csv"))
    verdicts = line.json("visit", "judge", "W-05")
    assert verdicts[0]["verdict"] == "regulating"
    assert "superheat" in line("visit", "spot", "W-05", "suction_pressure=118psig", "suction_line_temperature=52 °F")
    line("visit", "action", "W-05", "cleaned the coil", "--refrigerant-in", "6 oz")
    line("visit", "override", "W-05", "thermostat", "--text", "was 74")
    assert "thermostat (was 74) was set aside" in line("visit", "close", "W-05", code=2)
    assert "No open “cover”" in line("visit", "put-back", "W-05", "cover", code=2)
    line("visit", "put-back", "W-05", "thermostat")
    shown = line.json("visit", "show", "W-05")
    assert shown["refrigerant_moves"][0]["weight_hundredth_oz"] == 600
    assert shown["overrides"][0]["put_back"]["answer"] == "put back"
    line("visit", "hand-over", "W-05", "--to", "Bram", "--out", "v.handover")
    line("visit", "close", "W-05")
    assert "closed" in line("visit", "show", "W-05")
    assert "no open visit" in line("visit", "close", "W-05", code=2)
    line("visit", "reopen", "W-05", "--reason", "forgot the cap")
    line("visit", "close", "W-05")
    assert "regulating" in line("unit", "show", "W-05")
    found = line.json("records", "search", "alder", "--verdict", "regulating")
    assert [f["visit_id"] for f in found] == [made["visit_id"]]
    assert line.json("records", "search", "alder", "--verdict", "fixed") == []
    elsewhere = str(line.folder / "other.db")
    assert "from Ines Calloway to Bram" in line("visit", "take-over", "v.handover", "--as", "Bram", store=elsewhere)
    assert line.json("records", "check", store=elsewhere)["sound"] is True


def test_findings_tests_instruments_signatures_and_deliveries(line: Line) -> None:
    import hashlib

    from PIL import Image

    paper, drawing = line.folder / "report.pdf", line.folder / "name.png"
    paper.write_bytes(b"%PDF the paper that was shown")
    Image.new("RGB", (200, 80), "white").save(drawing)
    line("visit", "open", "W-05")
    made = line.json("visit", "finding", "W-05", "bulb loose", "The bulb hangs loose.", "--likelihood", "70")
    assert "range" in line("visit", "finding", "W-05", "x", "y", "--likelihood", "700", code=2)
    line(
        "visit", "next-test", "W-05", "bulb in hand", "Warm the bulb in your hand.", "--finding", "bulb loose",
        "--minutes", "3", "--expect", "bulb loose=superheat falls", "--expect", "valve parked=nothing moves",
    )  # fmt: skip
    assert "there is: bulb in hand" in line("visit", "tested", "W-05", "bulb out", "fell", code=2)
    line("visit", "tested", "W-05", "bulb in hand", "superheat falls", "--text", "by 6 °F")
    line("records", "add", "instrument", "kind=gauge", "serial=G-7", "display=digital")
    assert "no calibration in the records" in line("visit", "instrument", "W-05", "G-7", "--place", "suction_pressure")
    assert "no instrument" in line("visit", "instrument", "W-05", "G-8", code=2)
    line("visit", "sign", "W-05", "name.png", "report.pdf")
    assert "no picture" in line("visit", "sign", "W-05", "report.pdf", "report.pdf", code=2)
    assert "--way" in line("visit", "deliver", "W-05", "report.pdf", code=2)
    line("visit", "deliver", "W-05", "report.pdf", "--way", "sent")
    shown, sha256 = line.json("visit", "show", "W-05"), hashlib.sha256(paper.read_bytes()).hexdigest()
    assert shown["findings"][0]["likelihood"] == 0.7
    test = shown["next_tests"][0]
    assert test["finding_id"] == made["finding_id"]
    assert json.loads(test["expected"]) == {"bulb loose": "superheat falls", "valve parked": "nothing moves"}
    assert [o["outcome"] for o in test["outcomes"]] == ["superheat falls"]
    assert shown["instrument_uses"][0]["place"] == "suction_pressure"
    assert shown["signatures"][0]["role"] == "customer"
    assert shown["signatures"][0]["signed_sha256"] == shown["deliveries"][0]["sha256"] == sha256
    told = line("visit", "show", "W-05")
    for words in (
        "finding bulb loose (70%)",
        "test bulb in hand: superheat falls",
        "signed by the customer",
        "report.pdf: sent",
    ):
        assert words in told


def test_export_import_backup_restore_check(line: Line) -> None:
    line("visit", "open", "W-05")
    for form in ("csv", "parquet", "json"):
        line("records", "export", f"out-{form}", "--form", form)
        line("records", "import", f"out-{form}", store=str(line.folder / f"{form}.db"))
        assert "W-05" in line("unit", "list", store=str(line.folder / f"{form}.db"))
        assert "sound" in line("records", "check", "--json", store=str(line.folder / f"{form}.db"))
    line("records", "backup", "copy.db")
    assert "exists already" in line("records", "backup", "copy.db", code=2)
    line("records", "restore", "copy.db", store=str(line.folder / "restored.db"))
    assert "Sound" in line("records", "check", store=str(line.folder / "restored.db"))
    assert "is not empty" in line("records", "export", "out-csv", code=2)
    assert "no export" in line("records", "import", ".", code=2)


def test_a_damaged_store_says_what_can_be_saved(line: Line) -> None:
    import sqlite3

    path = Path(line.store)
    with sqlite3.connect(path) as raw:
        page = raw.execute("SELECT min(pageno) FROM dbstat WHERE name = 'entry' AND pagetype = 'leaf'").fetchone()[0]
    with path.open("r+b") as file:
        file.seek((page - 1) * 4096)
        file.write(bytes(4096))
    said = line("records", "check", code=3)
    assert "Can be saved" in said
    report = line.json("records", "check", "--save-to", "saved.db", code=3)
    assert report["sound"] is False
    assert "entry" in report["saved"]["damaged"]
    assert report["saved"]["rows"]["unit"] == 1
    assert "W-05" in line("unit", "list", store=str(line.folder / "saved.db"))


def test_due_calendar_and_labels(line: Line) -> None:
    line("unit", "due", "--ask", "W-05", "--on", "2031-05-31", "--why", "spring")
    due = line.json("unit", "due", "--within", "3650", "--calendar", "due.ics")
    assert [d["due_on"] for d in due] == ["2031-05-31"]
    text = (line.folder / "due.ics").read_text("utf-8")
    (line.folder / "moved.ics").write_text(text.replace("20310531", "20310607"), "utf-8")
    assert "1 due visits moved" in line("records", "import", "moved.ics")
    assert "2031-06-07" in line("unit", "due", "--within", "3650")
    line("unit", "labels", "--out", "tags.pdf")
    assert (line.folder / "tags.pdf").read_bytes().startswith(b"%PDF")


def test_edits_history_undo_and_erasing(line: Line) -> None:
    line("unit", "set", "W-05", "place=Roof east")
    history = line.json("unit", "history", "W-05")
    line("visit", "undo", history["edits"][0]["entry_id"][:12])
    assert "Roof east" not in line("unit", "show", "W-05")
    line("unit", "refrigerant", "W-05", "R-454B")
    assert "R-454B" in line("unit", "show", "W-05")
    line("unit", "part", "W-05", "metering device", "model=TX-4")
    assert "TX-4" in line("unit", "show", "W-05")
    line("records", "erase", "customer", "Ardenfield Mills", "--reason", "asked")
    assert "Ardenfield" not in line("unit", "show", "W-05")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("unit", "show", "nobody"), "There is no unit"),
        (("visit", "judge", "W-05"), "no open visit"),
        (("visit", "open", "W-05", "--reason", "boredom"), "boredom"),
        (("unit", "set", "W-05", "colour=red"), "no field “colour”"),
        (("unit", "due", "--ask", "W-05", "--on", "May"), "is no day"),
        (("records", "import", "nowhere"), "does not exist"),
        (("records", "check", "--store", "nowhere.db"), "There is no store"),
        (("unit", "list", "--store", "mongodb://x/y"), "cannot be kept in"),
        (("unit", "list", "--store", "postgresql://nobody@127.0.0.1:1/none"), "does not answer"),
        (("records", "erase", "customer", "Nobody", "--reason", "x"), "There is no customer"),
    ],
)
def test_every_mistake_gets_one_sentence(line: Line, words: tuple[str, ...], says: str) -> None:
    assert says in line(*words, code=2)


def test_the_company_store_is_one_setting(line: Line, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    company = new_setting(request, "postgresql", tmp_path)
    line("unit", "add", "W-06", "--site", "Yard", store=company)
    assert "W-06" in line("unit", "list", store=company)
    line("records", "backup", "company.db", store=company)
    assert "W-06" in line("unit", "list", store=str(line.folder / "company.db"))


@pytest.mark.parametrize("missing", ["sqlalchemy", "platformdirs"])
@pytest.mark.parametrize("words", [["unit", "list"], ["visit", "open", "W-05"], ["records", "check"], ["demo", "load"]])
def test_without_the_part_the_command_says_which(missing: str, words: list[str], tmp_path: Path) -> None:
    """In a process of its own, in which the package cannot be imported."""
    import os
    import subprocess
    import sys

    program = f"import sys; sys.modules[{missing!r}] = None; from steadfeed.cli import main; main({words!r})"
    settings = {**os.environ, "XDG_DATA_HOME": str(tmp_path)}
    settings.pop("STEADFEED_STORE", None)
    if missing == "sqlalchemy":
        settings["STEADFEED_STORE"] = str(tmp_path / "records.db")
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, env=settings, check=False)
    assert done.returncode == 2
    assert done.stderr.strip().endswith("install steadfeed[store].")
    assert len(done.stderr.strip().splitlines()) == 1


def test_help_needs_no_part() -> None:
    import subprocess
    import sys

    for verb in ("visit", "unit", "records", "demo"):
        program = (
            f"import sys; sys.modules['sqlalchemy'] = None; from steadfeed.cli import main; main([{verb!r}, '--help'])"
        )
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
        assert "Commands:" in done.stdout


def test_reading_makes_no_store_where_there_is_none(line: Line) -> None:
    nowhere = line.folder / "mistyped" / "records.db"
    for words in (("unit", "list"), ("unit", "show", "W-05"), ("records", "search", "x"), ("records", "export", "out")):
        said = line(*words, code=2, store=str(nowhere))
        assert "There is no store at" in said
        assert "`steadfeed unit add` begins one" in said
    assert not nowhere.parent.exists()


def test_a_refrigerant_that_is_not_known_is_kept_and_told(line: Line) -> None:
    said = line("unit", "add", "W-06", "--refrigerant", "R410")
    assert "“R410” is no refrigerant known here; the nearest known are R-410A" in said
    assert "kept as typed; `steadfeed unit refrigerant` corrects it" in said
    assert "kept as typed" not in line("unit", "refrigerant", "W-06", "r410a")
    assert line.json("unit", "refrigerant", "W-06", "R-999")["remark"].endswith("kept as typed")
