"""Which verdict the judgement gives to which truth: `python benchmarks/confusion.py FOLDER [--half A|B] [--list]`.

FOLDER as for accuracy.py. One row a true state of the valid tests, and one for the tests that are not valid; one column a
verdict. Tests whose fault cannot show, and tests that miss a limit by a hair, stand in rows of their own. `--list` names
every log in which the judgement and the label differ, with what the label knows of it.
"""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path

from accuracy import Row, assess, labelled
from steadfeed.circuit.verdict import STATES, UNDECIDED, Assessment

NOT_VALID = "not valid"
BORDERLINE = "borderline"
HIDDEN = "fault does not show"
KNOWN = (
    "device", "other_faults", "mode", "way", "happenings", "instrument_faults", "true_baseline_superheat_degF",
    "true_superheat_slope", "true_feed_held", "true_cycles_degF",
)  # fmt: skip


def truth(row: Row) -> str:
    """Return the row of the table that a label belongs to."""
    if row["borderline"]:
        return BORDERLINE
    if row["valid"] != "True":
        return NOT_VALID
    return row["state"] if row["fault_shows"] == "True" else HIDDEN


def differs(a: Assessment, row: Row) -> str:
    """Return how the judgement differs from the label: "" when it does not, or when the label is not scored."""
    if truth(row) in (BORDERLINE, HIDDEN):
        return ""
    if truth(row) == NOT_VALID:
        return "invalid kept" if a.valid else ""
    if not a.valid and a.verdict == UNDECIDED:
        return "valid refused"
    if a.verdict == UNDECIDED:
        return "undecided"
    return "" if a.verdict in row["acceptable"].split("|") else "another state"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--half", choices="AB")
    parser.add_argument("--list", action="store_true")
    arguments = parser.parse_args()
    table: Counter[tuple[str, str]] = Counter()
    kinds: Counter[str] = Counter()
    lines: list[str] = []
    total = 0
    for stem, recording, system, row in labelled(arguments.folder, arguments.half):
        a = assess(recording, system)
        total += 1
        table[truth(row), a.verdict if a.valid or a.verdict != UNDECIDED else NOT_VALID] += 1
        kind = differs(a, row)
        if kind:
            kinds[kind] += 1
            said = f"{a.verdict} {'valid' if a.valid else 'not valid: ' + ', '.join(a.reasons)}"
            label = f"{row['state']} ({row['acceptable']}) {row['reasons']}"
            known = " ".join(f"{key}={row[key]}" for key in KNOWN if row.get(key))
            lines.append(f"{kind:14s} {stem}  label {label} | said {said} | {known}")
    columns = (*STATES, UNDECIDED, NOT_VALID)
    rows = (*STATES, NOT_VALID, BORDERLINE, HIDDEN)
    print(f"{total} judgements\n")
    print("| truth, of valid tests | " + " | ".join(columns) + " |")
    print("|---" * (len(columns) + 1) + "|")
    for name in rows:
        counts = [table[name, column] for column in columns]
        if any(counts):
            print(f"| {name} | " + " | ".join(str(n) if n else "" for n in counts) + " |")
    print("\n" + ", ".join(f"{kind}: {n}" for kind, n in sorted(kinds.items())))
    if arguments.list:
        print("\n" + "\n".join(sorted(lines)))


if __name__ == "__main__":
    main()
