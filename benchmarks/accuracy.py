"""How right the judgement is on labelled logs: `python benchmarks/accuracy.py FOLDER [--half A|B]`.

FOLDER holds NAME.csv, NAME.toml and labels.csv (columns: log, state, acceptable, fault_shows, valid, reasons, borderline,
push, restore …; times with offset). Every second log in alphabetical order is half A, the others half B: thresholds are
set on A, B is only reported. Shares come with their Wilson 95 % interval. Logs by hand are also thinned to 24, 12, 8 and
7 rows. `--first-call` cuts every log each 5 s and scores the first verdict that would have been called live.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from steadfeed.analysis.challenge import judge
from steadfeed.analysis.guard import guard_limit
from steadfeed.capture.logs import read_log
from steadfeed.capture.system_file import read_system
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import UNDECIDED, Assessment
from steadfeed.errors import SteadfeedError
from steadfeed.physics.properties import curves

MODULATES = ("regulating", "hunting")
Row = dict[str, str]


def wilson(hits: int, n: int, z: float = 1.96) -> str:
    """Share with its 95 % interval."""
    if not n:
        return "—  n=0"
    p = hits / n
    d, c = 1 + z * z / n, p + z * z / (2 * n)
    h = z * (p * (1 - p) / n + z * z / (4 * n * n)) ** 0.5
    return f"{p:6.3f}  n={n}  95 % {max(0.0, (c - h) / d):.3f}–{min(1.0, (c + h) / d):.3f}"


def assess(recording: Recording, system: System) -> Assessment:
    return judge(recording, system, curves(system.refrigerant or "")).assessment


def labelled(folder: Path, half: str | None) -> Iterator[tuple[str, Recording, System, Row]]:
    rows = sorted(csv.DictReader((folder / "labels.csv").open(encoding="utf-8")), key=lambda r: r["log"])
    for i, row in enumerate(rows):
        if half and i % 2 != (half == "B"):
            continue
        stem = Path(row["log"]).stem
        try:
            system = read_system(folder / f"{stem}.toml")
            recordings = read_log(folder / f"{stem}.csv", system)
        except SteadfeedError as error:
            print(f"not judged: {stem}: {error}")
            continue
        for recording in recordings:
            if row.get("circuit") and recording.circuit not in (None, row["circuit"]):
                continue
            yield stem, recording, system, row


class Tally:
    """Counts of one population."""

    def __init__(self) -> None:
        self.counts: Counter[tuple[str, bool]] = Counter()

    def add(self, name: str, right: bool) -> None:
        self.counts[name, right] += 1

    def line(self, name: str) -> str:
        hits, misses = self.counts[name, True], self.counts[name, False]
        return f"  {name:36s} {wilson(hits, hits + misses)}"

    def take(self, a: Assessment, row: Row) -> None:
        valid, border, shows = row["valid"] == "True", bool(row["borderline"]), row["fault_shows"] == "True"
        fair, modulates = row["acceptable"].split("|"), row["state"] in MODULATES
        if not border:
            self.add("valid tests kept" if valid else "invalid tests caught", a.valid == valid)
        if a.verdict in MODULATES:
            unsafe = (not valid and not border) or (shows and not modulates and a.verdict not in fair)
            self.add("unsafe of modulating verdicts", unsafe)
        if valid and shows and not border:
            self.add("decided, of valid", a.verdict != UNDECIDED)
            if a.verdict != UNDECIDED:
                self.add("right state, of decided", a.verdict in fair)
                wrong = (a.verdict in MODULATES) != modulates and a.verdict not in fair
                self.add("good valve called bad" if modulates else "bad valve called modulating", wrong)
        for phase in ("push", "restore"):
            if row.get(phase):
                truth = dt.datetime.fromisoformat(row[phase]).timestamp()
                said = getattr(a.phases, phase)
                self.add("push and restore within 20 s", said is not None and abs(said - truth) <= 20.0)

    def show(self, title: str) -> None:
        print(title)
        for name in (
            "valid tests kept",
            "invalid tests caught",
            "decided, of valid",
            "right state, of decided",
            "bad valve called modulating",
            "good valve called bad",
            "unsafe of modulating verdicts",
            "push and restore within 20 s",
        ):
            print(self.line(name))


def thinned(recording: Recording, row: Row, count: int) -> Recording | None:
    """The recording with `count` rows left: before the push, in the hold, after the restore, at standstill."""
    if not row.get("push") or not row.get("restore"):
        return None
    push, restore = (dt.datetime.fromisoformat(row[k]).timestamp() for k in ("push", "restore"))
    t = recording.time
    stop = dt.datetime.fromisoformat(row["standstill"]).timestamp() if row.get("standstill") else float(t[-1]) + 1
    shares = {7: (2, 2, 1, 2), 8: (2, 3, 1, 2), 12: (3, 5, 2, 2), 24: (6, 9, 5, 4)}[count]
    parts = (
        (max(push - 330, float(t[0])), push - 2),
        (min(push + 110, (push + restore) / 2), restore - 1),
        (restore + 60, min(stop - 1, restore + 420)),
        (stop + 40, float(t[-1])),
    )
    keep: set[int] = set()
    for share, (a, b) in zip(shares, parts, strict=True):
        inside = np.flatnonzero((t >= a) & (t <= b))
        if inside.size:
            targets = np.linspace(a, b, share) if share > 1 else [b - 20]
            keep |= {int(inside[np.argmin(np.abs(t[inside] - x))]) for x in targets}
    rows = np.array(sorted(keep))
    channels = {k: replace(c, values=c.values[rows]) for k, c in recording.channels.items()}
    same = None if recording.same is None else recording.same[rows]
    return replace(recording, time=t[rows], channels=channels, same=same)


def first_calls(items: list[tuple[str, Recording, System, Row]]) -> None:
    """Score the first verdict that a judgement every 5 s would have called, beside the last one.

    As the live challenge does, a verdict is called when it has stood for the guard's persistence.
    """
    first, last = Tally(), Tally()
    waited: dict[str, list[float]] = defaultdict(list)
    for _, recording, system, row in items:
        if row["valid"] != "True" or row["fault_shows"] != "True" or row["borderline"]:
            continue
        if system.instruments.sampling == "by hand":
            continue
        whole = assess(recording, system)
        if whole.phases.push is None:
            continue
        fair = row["acceptable"].split("|")
        if whole.verdict != UNDECIDED:
            last.add("right", whole.verdict in fair)
        end = (whole.phases.restore or float(recording.time[-1])) + 400.0
        word, since = UNDECIDED, 0.0
        for moment in np.arange(whole.phases.push + 20.0, min(end, float(recording.time[-1])), 5.0):
            said = assess(recording.until(float(moment)), system).verdict
            if said != word:
                word, since = said, float(moment)
            if word != UNDECIDED and moment - since >= guard_limit("persistence"):
                first.add("right", word in fair)
                waited[word].append(float(moment) - whole.phases.push)
                break
    print("live, a judgement every 5 s, called when it has stood, valid automatic logs")
    print(" first call:", first.line("right").strip())
    print(" whole log: ", last.line("right").strip())
    for verdict, seconds in sorted(waited.items()):
        low, middle, high = np.percentile(seconds, (10, 50, 90))
        print(
            f"  {verdict:12s} called {middle:.0f} s after the push began (10–90 %: {low:.0f}–{high:.0f}), n={len(seconds)}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--half", choices="AB")
    parser.add_argument("--first-call", action="store_true")
    arguments = parser.parse_args()
    items = list(labelled(arguments.folder, arguments.half))
    tallies = {"all": Tally(), "automatic": Tally(), "by hand": Tally()}
    thin = {count: Tally() for count in (24, 12, 8, 7)}
    for _, recording, system, row in items:
        a = assess(recording, system)
        kind = "by hand" if system.instruments.sampling == "by hand" else "automatic"
        tallies["all"].take(a, row)
        tallies[kind].take(a, row)
        if kind == "by hand":
            for count, tally in thin.items():
                less = thinned(recording, row, count)
                if less is not None:
                    tally.take(assess(less, system), row)
    for title, tally in tallies.items():
        tally.show(title)
    for count, tally in thin.items():
        tally.show(f"by hand, thinned to {count} rows")
    if arguments.first_call:
        first_calls(items)


if __name__ == "__main__":
    main()
