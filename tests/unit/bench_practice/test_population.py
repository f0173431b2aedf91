"""Random challenges: reproducible, varied, and their labels are what the scoring script reads."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

from steadfeed.analysis.challenge import judge
from steadfeed.bench.population import random_settings
from steadfeed.capture.logs import read_log
from steadfeed.capture.system_file import read_system
from steadfeed.circuit.verdict import REASONS, STATES
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.visit.practice import LABELS, make_many


@pytest.fixture(scope="module")
def drawn() -> list[tuple[object, float, float]]:
    return [random_settings(3, k) for k in range(130)]


def test_a_draw_is_always_the_same_and_its_neighbour_another() -> None:
    assert random_settings(3, 7) == random_settings(3, 7)
    assert random_settings(3, 7) != random_settings(3, 8)
    assert random_settings(3, 7) != random_settings(4, 7)


def test_draws_cover_what_the_shared_logs_do_not(drawn: list) -> None:  # type: ignore[type-arg]
    settings = [s for s, _, _ in drawn]
    seen = Counter()  # type: ignore[var-annotated]
    for s in settings:
        seen["heating"] += s.unit.mode == "heating"
        seen["two circuits"] += s.unit.circuits == 2
        seen["reciprocating"] += s.unit.compressor == "reciprocating"
        seen["rotary"] += s.unit.compressor == "rotary"
        seen["packaged"] += s.unit.packaged
        seen["few rows"] += s.kit.sampling == "by hand" and s.kit.rows <= 12
        seen["return air"] += any(h.what == "return air" for h in s.conduct.happenings)
        seen["gap"] += bool(s.kit.gaps)
        seen["ramp"] += s.conduct.ramp > 120.0
        seen["staircase"] += s.conduct.steps >= 4
        seen["exhaust"] += any(f.what == "warm exhaust" for f in s.kit.faults)
        seen["partly covered"] += s.conduct.starting_cover > 0.0
        seen["pull-down"] += s.weather.pull_down > 0.0
        seen["from standing"] += s.conduct.lead > s.conduct.running + 30.0
        seen["undersized or screened"] += s.faults.metering.undersized < 1.0 or s.faults.metering.screen > 0.0
        seen["wide stroke"] += s.unit.opening_span > 7.0 / 1.8
        seen["high up"] += s.weather.altitude > 1200.0
    missing = [word for word in seen if seen[word] < 2]
    assert not missing, seen


def test_labels_and_logs_are_readable(tmp_path: Path) -> None:
    folder = tmp_path / "many"
    made = list(make_many(folder, 4, 9, processes=1))
    assert all(not one.problem for one in made)
    with (folder / "labels.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == LABELS
    for row in rows:
        assert row["state"] in STATES
        assert set(filter(None, row["reasons"].split("|"))) <= set(REASONS)
        assert row["state"] in row["acceptable"].split("|")
        assert row["valid"] == str(not row["reasons"])
        if "." in row["log"]:
            continue
        system = read_system(folder / f"{row['log']}.toml")
        for recording in read_log(folder / f"{row['log']}.csv", system):
            assert judge(recording, system, curves(system.refrigerant or "")).assessment.verdict


def test_many_in_two_processes_are_the_same_as_in_one(tmp_path: Path) -> None:
    for name, workers in (("one", 1), ("two", 2)):
        list(make_many(tmp_path / name, 3, 2, processes=workers))
    for file in sorted((tmp_path / "one").iterdir()):
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes()


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("mine")
    with pytest.raises(FixInput, match="is not empty"):
        list(make_many(tmp_path, 2, 1, processes=1))
    with pytest.raises(FixInput, match="1 or more"):
        list(make_many(tmp_path / "new", 0, 1, processes=1))


def test_no_word_of_the_labels_is_taken_for_a_log(tmp_path: Path) -> None:
    """A folder with labels.csv is judged log by log; the table of truth is passed over whatever stands in it."""
    from steadfeed.bench.settings import HAPPENINGS, INSTRUMENT_FAULTS
    from steadfeed.capture.logs import looks_like_log
    from steadfeed.visit.practice import _HAPPENED, _SHORT, write_labels

    rows = []
    for what in HAPPENINGS:
        for fault in INSTRUMENT_FAULTS:
            row = dict.fromkeys(LABELS, "1.0") | {"log": f"x{len(rows)}", "push": "2026-07-14T13:05:00-05:00"}
            row["happenings"] = f"{_HAPPENED.get(what, what)}|fan"
            row["instrument_faults"] = "|".join(f"{word} {fault}" for word in _SHORT.values())
            rows.append(row)
    write_labels(tmp_path / "labels.csv", rows)
    assert not looks_like_log(tmp_path / "labels.csv")
    for row in rows[::7]:  # whichever row a reader might take for a header
        write_labels(tmp_path / "labels.csv", [row])
        assert not looks_like_log(tmp_path / "labels.csv"), row["happenings"]
