"""`steadfeed judge`: prints, JSON, exit codes, folders, reports; the judgement itself stands still here."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.unit.cli.conftest import HEADER, ROWS, write_log

from steadfeed.analysis import challenge
from steadfeed.cli.root import run

Arrange = Callable[..., None]


def lines(capsys: pytest.CaptureFixture[str]) -> list[Any]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def one_sentence(err: str) -> str:
    assert len(err.strip().splitlines()) == 1, err
    assert "Traceback" not in err
    assert "error of its own" not in err
    return err


def test_the_sentence_comes_first(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    assert run(["judge", str(log)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.startswith("Head rose 96 psi and the feed stayed level")
    text = " ".join(out.split())
    assert "Feed held 81 % (69–93)." in text
    for part in ("The test is valid", "Before, during, after", "118.0 ± 1.0", "°F", "Two rows were dropped"):
        assert part in text
    assert "Where it comes from" not in text
    assert "SHA-256" not in text


def test_sources_on_request(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    assert run(["judge", str(log), "--sources"]) == 0
    out = capsys.readouterr().out
    assert "SHA-256 of the raw log" in out
    assert hashlib.sha256(log.read_bytes()).hexdigest() in out


def test_units_of_the_print_and_of_json(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    assert run(["judge", str(log), "--units", "si"]) == 0
    out = capsys.readouterr().out
    assert "barg" in out
    assert "°C" in out
    assert " psi" not in out
    assert run(["judge", str(log), "--units", "si", "--json"]) == 0
    (form,) = lines(capsys)
    assert form["baseline"]["suction_pressure_psig"]["value"] == pytest.approx(118.0, abs=0.1)


def test_json_is_one_line_a_log(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    assert run(["judge", str(log), "--json"]) == 0
    (form,) = lines(capsys)
    assert form["log"] == str(log)
    assert form["sha256"] == hashlib.sha256(log.read_bytes()).hexdigest()
    assert form["system_sha256"] == hashlib.sha256(log.with_suffix(".toml").read_bytes()).hexdigest()
    assert form["verdict"] == "regulating"


def test_each_circuit_has_its_line_and_its_report(
    tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_as()
    names = HEADER.strip().split(",")[1:]
    header = ",".join(["time", *(f"c1_{n}" for n in names), *(f"c2_{n}" for n in names)])
    rows = [line.split(",", 1) for line in ROWS.splitlines()]
    log = write_log(tmp_path / "two.csv", text="\n".join([header, *(f"{t},{v},{v}" for t, v in rows)]) + "\n")
    assert run(["judge", str(log), "--json", "--report", str(tmp_path / "papers")]) == 0
    assert [form["circuit"] for form in lines(capsys)] == ["c1", "c2"]
    assert sorted(p.name for p in (tmp_path / "papers").iterdir()) == [
        "two-c1.html",
        "two-c1.pdf",
        "two-c2.html",
        "two-c2.pdf",
    ]


def test_a_system_file_of_another_name(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    other = log.with_name("other.toml")
    other.write_text('refrigerant = "R-22"\n')
    assert run(["judge", str(log), "--system", str(other), "--json"]) == 0
    (form,) = lines(capsys)
    assert form["refrigerant"] == "R-22"
    assert form["system_sha256"] == hashlib.sha256(other.read_bytes()).hexdigest()


def folder_of_logs(folder: Path) -> Path:
    """Three good logs, one of them in a subfolder, one bad, and files that are no logs."""
    write_log(folder / "a.csv")
    write_log(folder / "b.csv")
    write_log(folder / "sub" / "a.csv")
    write_log(folder / "torn.csv", text="time,suction_pressure_psig\n\x00\x01\x02")
    (folder / "labels.csv").write_text("log,verdict\na,fixed\n")
    (folder / "notes.md").write_text("x")
    (folder / ".hidden").mkdir()
    write_log(folder / ".hidden" / "c.csv")
    return folder


def test_a_folder_for_scripts(tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    folder = folder_of_logs(tmp_path / "logs")
    assert run(["judge", str(folder), "--json"]) == 3
    out, err = capsys.readouterr()
    forms = [json.loads(line) for line in out.splitlines()]
    assert [Path(form["log"]).relative_to(folder).as_posix() for form in forms] == [
        "a.csv",
        "b.csv",
        "sub/a.csv",
        "torn.csv",
    ]
    assert [set(form) == {"log", "error"} for form in forms] == [False, False, False, True]
    assert set(forms[3]["error"]) == {"code", "message"}
    assert "1 of 4 logs gave an error." in err
    assert "2 files passed over that are no logs." in err


def test_a_folder_for_people(tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as(valid=False, reasons=("hold too short",), verdict="fixed", early=True)
    folder = folder_of_logs(tmp_path / "logs")
    assert run(["judge", str(folder)]) == 3
    out, err = capsys.readouterr()
    text = " ".join(out.split())
    assert text.count("fixed (early)") == 3
    assert text.count("hold too short") == 3
    assert "3 judgements, 0 of a valid test: 3 fixed." in text
    assert forms_of_torn(err)


def forms_of_torn(err: str) -> bool:
    return any("torn.csv" in line for line in err.splitlines())


def test_reports_of_a_folder_mirror_it(tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    folder = folder_of_logs(tmp_path / "logs")
    papers = tmp_path / "papers"
    assert run(["judge", str(folder), "--report", str(papers), "--json"]) == 3
    made = sorted(p.relative_to(papers).as_posix() for p in papers.rglob("*.*"))
    assert made == ["a.html", "a.pdf", "b.html", "b.pdf", "sub/a.html", "sub/a.pdf"]
    assert "3 reports, HTML and PDF, in" in capsys.readouterr().err


def test_two_logs_of_one_name_keep_their_own_reports(
    tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_as()
    logs = [str(write_log(tmp_path / day / "unit.csv")) for day in ("monday", "tuesday")]
    assert run(["judge", *logs, "--report", str(tmp_path / "papers")]) == 0
    assert sorted(p.name for p in (tmp_path / "papers").glob("*.pdf")) == ["unit-2.pdf", "unit.pdf"]
    capsys.readouterr()


def test_a_report_is_a_page_and_a_tagged_pdf(
    log: Path, tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    from pypdf import PdfReader

    judged_as()
    for page, width in (("letter", 612.0), ("a4", 595.3)):
        papers = tmp_path / page
        assert run(["judge", str(log), "--report", str(papers), "--page", page]) == 0
        assert f"Report: {papers / 'unit5.html'} and {papers / 'unit5.pdf'}." in capsys.readouterr().out
        assert "Feed held" in (papers / "unit5.html").read_text(encoding="utf-8")
        pdf = PdfReader(papers / "unit5.pdf")
        assert float(pdf.pages[0].mediabox.width) == pytest.approx(width, abs=0.5)
        assert "/MarkInfo" in pdf.trailer["/Root"]


def test_undecided_is_a_normal_answer(log: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as(valid=False, reasons=("suction gauge not alive",), verdict="undecided", probability=None, feed_held=None)
    assert run(["judge", str(log)]) == 0
    assert capsys.readouterr().out.startswith("No verdict")
    assert run(["judge", str(log), "--json"]) == 0
    (form,) = lines(capsys)
    assert (form["verdict"], form["probability"], form["feed_held"]) == ("undecided", None, None)


@pytest.mark.parametrize(
    ("system", "words"),
    [
        (None, ["refrigerant", "not stated", "unit5.toml", "beside it"]),
        ('metering_device = "txv"\n', ["refrigerant", "not stated", "unit5.toml"]),
        ('refrigerant = "R-999Z"\n', ["R-999Z", "no refrigerant"]),
        ("refrigerant = \n", ["unit5.toml", "line 1"]),
        ('refrigerrant = "R-410A"\n', ["refrigerrant", "refrigerant"]),
    ],
)
def test_a_bad_system_file_is_one_sentence(
    system: str | None, words: list[str], tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_as()
    log = write_log(tmp_path / "unit5.csv", system=system)
    assert run(["judge", str(log)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    one_sentence(err)
    assert all(word in err for word in words), err


def test_bad_paths_are_one_sentence(tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]) -> None:
    judged_as()
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty.csv").touch()
    for path, word in (("missing.csv", "does not exist"), ("empty", "holds no log"), ("empty.csv", "empty")):
        assert run(["judge", str(tmp_path / path)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert word in one_sentence(err)


def test_a_missing_file_among_several_does_not_stop_the_rest(
    log: Path, tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_as()
    assert run(["judge", str(tmp_path / "missing.csv"), str(log), "--json"]) == 3
    forms = lines(capsys)
    assert forms[0]["error"]["code"] == "no such file"
    assert forms[1]["verdict"] == "regulating"


def test_a_report_folder_that_cannot_be_made_stops_at_once(
    log: Path, tmp_path: Path, judged_as: Arrange, capsys: pytest.CaptureFixture[str]
) -> None:
    judged_as()
    (tmp_path / "file").touch()
    assert run(["judge", str(log), "--report", str(tmp_path / "file" / "papers")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "could not be written" in one_sentence(err)


def test_an_error_of_our_own_on_one_log_does_not_stop_the_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def judge(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(challenge, "judge", judge, raising=False)
    logs = [str(write_log(tmp_path / f"{name}.csv")) for name in "ab"]
    assert run(["judge", *logs, "--json"]) == 3
    out, err = capsys.readouterr()
    assert [json.loads(line)["error"]["code"] for line in out.splitlines()] == ["own error", "own error"]
    assert "ZeroDivisionError" in err
    assert "STEADFEED_TRACE=1" in err
    assert "Traceback" not in err


def test_a_report_that_fails_leaves_the_judgement(
    log: Path, tmp_path: Path, judged_as: Arrange, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from steadfeed.reports import pdf

    def render_pdf(*_: object, **__: object) -> bytes:
        raise OSError(28, "No space left on device")

    judged_as()
    monkeypatch.setattr(pdf, "render_pdf", render_pdf)
    assert run(["judge", str(log), "--json", "--report", str(tmp_path / "papers")]) == 2
    out, err = capsys.readouterr()
    assert json.loads(out)["verdict"] == "regulating"
    assert "no space left on device" in one_sentence(err)
