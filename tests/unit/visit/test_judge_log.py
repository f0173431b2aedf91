"""From the paths that a person names to logs, and from judgements to papers."""

from __future__ import annotations

import datetime
import hashlib
import os
from pathlib import Path

import pytest
from tests.unit.cli.conftest import write_log

from steadfeed.errors import FixInput, InstallPart, SteadfeedError
from steadfeed.visit.judge_log import FailedLog, find_logs, judge_log, judge_logs, method_version
from steadfeed.visit.papers import document, headline, summary, write_reports

EXAMPLES = Path(__file__).parents[3] / "examples"


def test_a_file_that_is_named_is_always_a_log(tmp_path: Path) -> None:
    named = tmp_path / "whatever.bin"
    found = find_logs([named])
    assert [log.path for log in found.logs] == [named]
    assert found.single


def test_a_log_named_twice_is_judged_once(tmp_path: Path) -> None:
    log = write_log(tmp_path / "a.csv")
    found = find_logs([log, tmp_path, log])
    assert [one.path for one in found.logs] == [log]
    assert not found.single


def test_a_folder_is_searched_in_order_and_system_files_are_not_counted(tmp_path: Path) -> None:
    for name in ("b.csv", "a.csv", "deep/er/c.csv"):
        write_log(tmp_path / name)
    (tmp_path / "orphan.toml").write_text('refrigerant = "R-22"\n')
    found = find_logs([tmp_path])
    assert [one.path.relative_to(tmp_path).as_posix() for one in found.logs] == ["a.csv", "b.csv", "deep/er/c.csv"]
    assert [one.paper.as_posix() for one in found.logs] == ["a", "b", "deep/er/c"]
    assert [file.name for file in found.skipped] == ["orphan.toml"]


def test_links_to_folders_are_not_followed(tmp_path: Path) -> None:
    write_log(tmp_path / "a.csv")
    (tmp_path / "loop").symlink_to(tmp_path, target_is_directory=True)
    assert len(find_logs([tmp_path]).logs) == 1


def test_papers_keep_apart_what_differs_only_in_case_or_ending(tmp_path: Path) -> None:
    for name in ("Unit.csv", "unit.jsonl", "unit.tsv"):
        write_log(tmp_path / name)
    papers = [one.paper.as_posix() for one in find_logs([tmp_path]).logs]
    assert len({paper.lower() for paper in papers}) == 3


def test_an_empty_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(FixInput, match="holds no log"):
        find_logs([tmp_path])


def test_the_hashes_are_of_the_raw_bytes() -> None:
    (judged,) = judge_log(EXAMPLES / "mill-store.csv")
    assert judged.sha256 == hashlib.sha256((EXAMPLES / "mill-store.csv").read_bytes()).hexdigest()
    assert judged.system_sha256 == hashlib.sha256((EXAMPLES / "mill-store.toml").read_bytes()).hexdigest()
    assert judged.system_file == os.fspath(EXAMPLES / "mill-store.toml")
    assert judged.method_version == method_version()


def test_the_method_version_moves_with_a_criterion_and_with_the_refrigerants(monkeypatch: pytest.MonkeyPatch) -> None:
    from steadfeed.analysis import criteria
    from steadfeed.physics import properties

    before = method_version()
    monkeypatch.setattr(criteria, "fingerprint", lambda: "another")
    between = method_version()
    monkeypatch.setattr(properties, "coefficient_file_version", lambda: "another")
    assert len({before, between, method_version()}) == 3


def test_the_examples_are_judged_as_their_readme_says() -> None:
    verdicts = {}
    for name in ("orchard-house", "mill-store", "boat-house"):
        (judged,) = judge_log(EXAMPLES / f"{name}.csv")
        verdicts[name] = (judged.judgement.assessment.verdict, judged.judgement.assessment.valid)
    assert verdicts["orchard-house"] == ("regulating", True)
    assert verdicts["mill-store"] == ("fixed", True)
    assert verdicts["boat-house"] == ("undecided", False)
    assert "suction gauge not alive" in judged.judgement.assessment.reasons


def test_one_bad_log_does_not_stop_the_rest(tmp_path: Path) -> None:
    good, bad = write_log(tmp_path / "good.csv"), tmp_path / "bad.csv"
    outcomes = [outcome for _, outcome in judge_logs(find_logs([bad, good]).logs)]
    assert isinstance(outcomes[0], FailedLog)
    assert isinstance(outcomes[0].error, SteadfeedError)
    assert isinstance(outcomes[1], tuple)


def test_parquet_without_its_extra_says_which_part_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    import sys

    (tmp_path / "a.parquet").write_bytes(b"PAR1" + bytes(64) + b"PAR1")
    (tmp_path / "a.toml").write_text('refrigerant = "R-410A"\n')
    for module in [name for name in sys.modules if name.split(".")[0] == "pyarrow"]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InstallPart):
        judge_log(tmp_path / "a.parquet")


def test_sentence_row_and_document_say_the_same() -> None:
    (judged,) = judge_log(EXAMPLES / "orchard-house.csv")
    as_of = datetime.datetime(2026, 1, 2, 3, 4, 5, 678, tzinfo=datetime.UTC)
    row, paper = summary(judged), document(judged, as_of=as_of)
    assert paper.headline == headline(judged)
    assert row.feed_held in paper.headline
    assert row.verdict == "regulating"
    assert paper.as_of == as_of.replace(microsecond=0)
    assert headline(judged, "si") != headline(judged, "us")


def test_reports_are_the_same_bytes_for_the_same_moment(tmp_path: Path) -> None:
    (judged,) = judge_log(EXAMPLES / "orchard-house.csv")
    as_of = datetime.datetime(2026, 1, 2, 3, 4, 5, tzinfo=datetime.UTC)
    first = [path.read_bytes() for path in write_reports(judged, tmp_path / "a", as_of=as_of)]
    second = [path.read_bytes() for path in write_reports(judged, tmp_path / "b", as_of=as_of)]
    assert first == second
