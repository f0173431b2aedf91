"""Progress of learners and what an instructor needs: results kept in the person's data folder, class lists, CSV.

Each answered practice is one line of results.jsonl and a log that can be replayed.
"""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from steadfeed.errors import FixInput, InstallPart, TryAgain
from steadfeed.visit.practice import data_folder
from steadfeed.visit.practice_visit import Outcome

#: Columns of the export.
COLUMNS: Final = (
    "when", "learner", "class", "scenario", "seed", "verdict", "cause", "confidence", "right", "brier", "safety",
    "validity", "cause_line", "confidence_line", "time_and_put_back", "minutes", "trips", "log",
)  # fmt: skip
_NAME: Final = re.compile(r"[^\w.-]+")


@dataclass(frozen=True, slots=True)
class ClassList:
    """What an instructor prepared. seed: of the first learner; each gets the next. told: whether titles are shown."""

    title: str
    scenarios: tuple[str, ...]
    learners: tuple[str, ...] = ()
    seed: int = 1
    told: bool = False


def practice_folder(option: Path | None = None) -> Path:
    """Folder of results and logs: the option, else one in the person's data folder."""
    if option is not None:
        return option
    folder = data_folder()
    if folder is None:
        raise InstallPart("Keeping progress needs the part “terminal”; install steadfeed[terminal], or name a folder")
    return folder / "practice"


def keep(
    outcome: Outcome, folder: Path, *, when: str, learner: str, seed: int, minutes: float, class_title: str = ""
) -> Path:
    """Keep an outcome and its log. when: local time as ISO 8601. Returns the log's path."""
    lines = {line.what: line.good for line in outcome.lines}
    stem = _NAME.sub("-", f"{when}-{learner}-{seed}".replace(":", ""))
    logs = folder / "logs"
    row = {
        "when": when,
        "learner": learner,
        "class": class_title,
        "scenario": outcome.truth["scenario"],
        "seed": seed,
        "verdict": outcome.answer.verdict,
        "cause": outcome.answer.cause,
        "confidence": outcome.answer.confidence,
        "right": outcome.right,
        "brier": round(outcome.brier, 4),
        "safety": lines["safety"],
        "validity": lines["validity"],
        "cause_line": lines["cause"],
        "confidence_line": lines["confidence"],
        "time_and_put_back": lines["time and put-back"],
        "minutes": round(minutes, 1),
        "trips": outcome.facts.trips,
        "log": f"logs/{stem}.csv",
    }
    try:
        logs.mkdir(parents=True, exist_ok=True)
        (logs / f"{stem}.csv").write_text(outcome.log, encoding="utf-8")
        (logs / f"{stem}.toml").write_text(outcome.system, encoding="utf-8")
        with (folder / "results.jsonl").open("a", encoding="utf-8") as file:
            file.write(json.dumps(row, ensure_ascii=False) + "\n")
    except OSError as error:
        raise TryAgain(f"The result cannot be kept in {folder} ({error.strerror or error})") from error
    return logs / f"{stem}.csv"


def results(folder: Path, learner: str | None = None) -> Iterator[dict[str, Any]]:
    """Kept results, oldest first; of one learner when named. A broken line is passed over."""
    path = folder / "results.jsonl"
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError) as error:
        raise FixInput(f"The results in {path} cannot be read", where=str(path)) from error
    for line in text.splitlines():
        try:
            row = json.loads(line)
        except ValueError:
            continue
        if isinstance(row, dict) and (learner is None or row.get("learner") == learner):
            yield row


def as_csv(rows: Sequence[dict[str, Any]]) -> str:
    """Results as CSV, one row a practice."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def read_class(path: Path) -> ClassList:
    """Read an instructor's class list (TOML: title, scenarios, learners, seed, told)."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise FixInput(f"The class list {path} cannot be read", where=str(path)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FixInput(f"The class list {path} is no valid TOML: {error}", where=str(path)) from error
    unknown = set(data) - {"title", "scenarios", "learners", "seed", "told"}
    if unknown:
        raise FixInput(f"The class list {path} has no use for {sorted(unknown)[0]}", where=str(path))
    title, names, learners = data.get("title"), data.get("scenarios"), data.get("learners", [])
    seed, told = data.get("seed", 1), data.get("told", False)
    if not isinstance(title, str) or not title.strip():
        raise FixInput(f'The class list {path} lacks title = "…"', where=str(path))
    if not _texts(names) or not names:
        raise FixInput(f"The class list {path} lacks scenarios = [ names ]", where=str(path))
    if not _texts(learners):
        raise FixInput(f"The learners of {path} must be a list of names", where=str(path))
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise FixInput(f"The seed of {path} must be a whole number from 0", where=str(path))
    if not isinstance(told, bool):
        raise FixInput(f"told in {path} must be true or false", where=str(path))
    return ClassList(title, tuple(names), tuple(learners), seed, told)


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(v, str) for v in value)


def hidden_choice(seed: int, names: Sequence[str]) -> str:
    """Scenario that a seed hides, of some names: the same seed and names always give the same one."""
    if not names:
        raise FixInput("There is no scenario to choose from", where="scenarios")
    mixed = (seed * 2654435761 + 0x9E3779B9) & 0xFFFFFFFF
    mixed ^= mixed >> 15
    mixed = (mixed * 2246822519) & 0xFFFFFFFF
    mixed ^= mixed >> 13
    return sorted(names)[mixed % len(names)]


def hidden_seed() -> int:
    """A seed that nobody knows."""
    import secrets

    return secrets.randbelow(2**31)


def seed_of(one: ClassList, learner: str, turn: int) -> int:
    """Seed of a learner's practice. turn: how many of this class the learner has done."""
    place = one.learners.index(learner) if learner in one.learners else len(one.learners)
    return one.seed + 1000 * place + turn
