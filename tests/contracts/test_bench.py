"""The contract of `steadfeed bench` that scripts rely on: list, run, truth, many; bytes that can be made again."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest


def steadfeed(*arguments: str | Path, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "steadfeed", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, cwd=folder, timeout=240)


def test_list_is_a_list_of_objects_with_a_name() -> None:
    done = steadfeed("bench", "list", "--json")
    assert done.returncode == 0
    rows = json.loads(done.stdout)
    assert len(rows) >= 40
    assert len({row["name"] for row in rows}) == len(rows)
    assert set(rows[0]) == {"name", "title", "place", "complaint", "level", "mode", "refrigerant", "minutes"}
    assert "mill-store" in steadfeed("bench", "list").stdout


def test_run_writes_log_and_system_file_and_truth_only_when_asked(tmp_path: Path) -> None:
    done = steadfeed("bench", "run", "mill-store", "--seed", "3", "--out", tmp_path / "f.csv")
    assert done.returncode == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["f.csv", "f.toml"]
    told = (tmp_path / "f.csv").read_text() + (tmp_path / "f.toml").read_text() + done.stdout
    assert "parked" not in told
    steadfeed("bench", "run", "mill-store", "--seed", "3", "--out", tmp_path / "g.csv", "--truth")
    truth = json.loads((tmp_path / "g.truth.json").read_text())
    assert truth["answers"] == ["fixed"]
    assert truth["causes"] == ["valve parked"]
    assert truth["circuits"][0]["state"] == "fixed"
    for end in (".csv", ".toml"):  # another process, the same bytes
        assert (tmp_path / f"f{end}").read_bytes() == (tmp_path / f"g{end}").read_bytes()
    judged = steadfeed("judge", tmp_path / "f.csv", "--json")
    assert judged.returncode == 0
    answer = json.loads(judged.stdout)
    assert (answer["verdict"], answer["valid"]) == ("fixed", True)


def test_another_seed_is_another_day(tmp_path: Path) -> None:
    for seed in ("1", "2"):
        steadfeed("bench", "run", "tea-room", "--seed", seed, "--out", tmp_path / f"{seed}.csv")
    assert (tmp_path / "1.csv").read_bytes() != (tmp_path / "2.csv").read_bytes()


def test_many_gives_logs_and_labels_and_judge_passes_the_labels_over(tmp_path: Path) -> None:
    folder = tmp_path / "logs"
    done = steadfeed("bench", "many", "4", "--seed", "2", "--jobs", "2", "--out", folder)
    assert done.returncode == 0, done.stderr
    with (folder / "labels.csv").open() as file:
        rows = list(csv.DictReader(file))
    logs = sorted(p.stem for p in folder.glob("bench_*.csv"))
    assert logs == [f"bench_{k:04d}" for k in range(4)]
    assert set(logs) <= {row["log"] for row in rows}
    judged = steadfeed("judge", folder, "--json")
    assert judged.returncode == 0, judged.stderr
    assert {Path(json.loads(line)["log"]).stem for line in judged.stdout.splitlines()} == set(logs)
    assert steadfeed("bench", "many", "2", "--out", folder).returncode == 2


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("run", "mil-store", "--out", "x.csv"), "did you mean mill-store?"),
        (("run", "mill-store", "--out", "x.toml"), "would be both log and system file"),
        (("run", "mill-store", "--out", "nowhere/x.csv"), "cannot be written"),
        (("run", "mill-store", "--seed", "-1", "--out", "x.csv"), "-1"),
        (("run", "mill-store"), "--out"),
        (("list", "--scenarios", "nowhere"), "nowhere"),
        (("play", "mill-store", "--hidden"), "not both"),
        (("replay", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_a_mistake_gets_one_sentence_and_code_2(arguments: tuple[str, ...], says: str, tmp_path: Path) -> None:
    done = steadfeed("bench", *arguments, folder=tmp_path)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.glob("x.*"))


def test_a_scenario_of_ones_own_runs(tmp_path: Path) -> None:
    from steadfeed.bench.scenario import catalog_texts

    own = tmp_path / "own"
    own.mkdir()
    (own / "mine.toml").write_text(catalog_texts()["tea-room"], encoding="utf-8")
    done = steadfeed("bench", "run", "mine", "--scenarios", own, "--out", tmp_path / "m.csv")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "m.toml").is_file()
    (own / "mine.toml").write_text("title = 5", encoding="utf-8")
    bad = steadfeed("bench", "run", "mine", "--scenarios", own, "--out", tmp_path / "m.csv")
    assert bad.returncode == 2
    assert "mine" in bad.stderr


def test_results_are_shown_and_exported(tmp_path: Path) -> None:
    from steadfeed.bench.scenario import scenario
    from steadfeed.visit.practice_progress import keep
    from steadfeed.visit.practice_score import Answer
    from steadfeed.visit.practice_visit import Practice

    empty = steadfeed("bench", "results", "--keep", tmp_path)
    assert empty.returncode == 0
    assert "Nothing was practised yet" in empty.stdout
    practice = Practice(scenario("chapel"), 1)
    practice.wait(5)
    outcome = practice.answer(Answer("do not test", "too little refrigerant", 0.9))
    keep(outcome, tmp_path, when="2026-07-14T10:00:00-05:00", learner="Ines", seed=1, minutes=0.1)
    shown = steadfeed("bench", "results", "--keep", tmp_path)
    assert "chapel" in shown.stdout
    rows = list(csv.DictReader(steadfeed("bench", "results", "--csv", "--keep", tmp_path).stdout.splitlines()))
    assert [(r["learner"], r["scenario"], r["right"]) for r in rows] == [("Ines", "chapel", "True")]
    assert steadfeed("bench", "results", "--csv", "--learner", "Jo", "--keep", tmp_path).stdout.count("\n") == 1


@pytest.mark.parametrize(("arguments", "code"), [(["bench", "play", "tea-room"], 2), (["bench", "list", "--json"], 0)])
def test_without_the_terminal_part_play_says_what_is_missing_and_the_rest_works(
    arguments: list[str], code: int
) -> None:
    blocked = "import sys; sys.modules['textual'] = None; sys.modules['platformdirs'] = None; "
    call = f"from steadfeed.cli import main; main({arguments!r})"
    done = subprocess.run([sys.executable, "-c", blocked + call], capture_output=True, text=True, timeout=120)
    assert done.returncode == code
    assert "Traceback" not in done.stderr
    if code:
        assert "install steadfeed[terminal]" in done.stderr


def test_many_can_be_stopped_and_leaves_a_table_of_what_is_there(tmp_path: Path) -> None:
    import os
    import signal
    import time

    folder = tmp_path / "logs"
    program = [sys.executable, "-m", "steadfeed", "bench", "many", "400", "--jobs", "2", "--out", str(folder)]
    running = subprocess.Popen(
        program, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )  # fmt: skip
    until = time.monotonic() + 60
    while not (folder / "bench_0008.toml").exists():
        assert time.monotonic() < until
        time.sleep(0.1)
    os.killpg(running.pid, signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert "Traceback" not in err
    assert len(list(folder.glob("bench_*.csv"))) < 100
    with (folder / "labels.csv").open() as file:
        for row in csv.DictReader(file):
            assert (folder / f"{row['log'].split('.')[0]}.csv").exists()
