"""The seven rows of a test by hand: what to read next, and when. Pure: the caller brings the time and what happened.

standing · baseline twice, at least 3 min apart · hold twice, at 2 and at 4 min · restored · standstill
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from steadfeed.circuit.channel import VITAL_CHANNELS

#: Channels of a row.
CHANNELS: Final = VITAL_CHANNELS


@dataclass(frozen=True, slots=True)
class RowRule:
    """One row of the protocol. what: the sentence on the screen. after: event or "row N" it waits for; wait: so long after
    that [s]; source: where the time comes from."""

    number: int
    name: str
    what: str
    after: str
    wait: float
    source: str


_METHOD: Final = "protocol of seven rows (docs/method.md, validity)"
_PRACTICE: Final = "common practice"

ROWS: Final = (
    RowRule(1, "standing", "Standing: read all four gauges", "", 0.0, _METHOD),
    RowRule(2, "baseline", "Baseline: read all four gauges", "start", 600.0, _PRACTICE),
    RowRule(3, "baseline", "Baseline again: read all four gauges", "row 2", 180.0, _METHOD),
    RowRule(4, "hold", "Covered 2 min: read all four gauges", "push", 120.0, _METHOD),
    RowRule(5, "hold", "Covered 4 min: read all four gauges", "push", 240.0, _METHOD),
    RowRule(6, "restored", "Airflow restored: read all four gauges", "restore", 300.0, _PRACTICE),
    RowRule(7, "standstill", "Unit off: read all four gauges", "standstill", 180.0, _PRACTICE),
)


@dataclass(frozen=True, slots=True)
class HandRow:
    """The row that is read next. due_in [s]: until it may be read, 0 when it is due, None when it waits for an event that
    did not come yet; waits_for: that event, "" for none."""

    number: int
    of: int
    what: str
    due_in: float | None
    waits_for: str
    channels: tuple[str, ...]


def next_row(
    taken: Mapping[int, float], events: Mapping[str, float], now: float, *, found_running: bool = False
) -> HandRow | None:
    """Return the row that is read next, None when all are there.

    taken: number of a row -> when it was read; events: "start", "push", "restore", "standstill" -> when [s since the
    epoch]. found_running: the unit ran already: there is no standing row, and how long it ran is not known.
    """
    for rule in ROWS:
        if rule.number in taken or (rule.number == 1 and (found_running or "start" in events)):
            continue
        if _passed(rule, events):
            continue
        due = _due(rule, taken, events, found_running)
        return HandRow(
            rule.number,
            len(ROWS),
            rule.what,
            None if due is None else max(due - now, 0.0),
            rule.after if due is None and not rule.after.startswith("row") else "",
            CHANNELS,
        )
    return None


#: Once this happened, a row of the kind cannot be had any more.
_OVER: Final = {"baseline": "push", "hold": "restore", "restored": "standstill"}


def _passed(rule: RowRule, events: Mapping[str, float]) -> bool:
    return _OVER.get(rule.name, "") in events


def _due(rule: RowRule, taken: Mapping[int, float], events: Mapping[str, float], found_running: bool) -> float | None:
    """Return when a row may be read [s since the epoch], None when what it waits for has not happened."""
    if not rule.after:
        return 0.0
    if rule.after.startswith("row "):
        before = taken.get(int(rule.after[4:]))
        return None if before is None else before + rule.wait
    if rule.after == "start" and found_running:
        return 0.0
    happened = events.get(rule.after)
    return None if happened is None else happened + rule.wait


def missing_rows(taken: Mapping[int, float], found_running: bool = False) -> tuple[str, ...]:
    """Name the rows without which a test by hand is not complete: two of the baseline, two of the hold."""
    out = []
    for name in ("baseline", "hold"):
        have = sum(rule.number in taken for rule in ROWS if rule.name == name)
        if have < 2:
            out.append(f"{'a second' if have else 'two'} of the {name}")
    if 6 not in taken:
        out.append("one after the airflow was restored")
    if 7 not in taken and (found_running or 1 not in taken):
        out.append("one at standstill")
    return tuple(out)
