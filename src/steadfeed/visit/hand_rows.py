"""The rows of the hand pad again, after a crash: from the kept readings and the journal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from steadfeed.visit.guide import Event
from steadfeed.visit.guide_steps import HAND_ROWS, HandRow

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge


def rows_again(live: LiveChallenge, events: Sequence[Event]) -> list[HandRow]:
    """Return the rows with the numbers that they had: each the first free one of the phase in which it was read."""
    watch = live.tested
    if not watch.by_hand_rows:
        return []
    recording = watch.recording.recording()
    out: list[HandRow] = []
    for i, moment in enumerate(recording.time.tolist()):
        whole = all(
            name in recording.channels and bool(np.isfinite(recording.channels[name].values[i])) for name in watch.vital
        )
        head = recording.channels.get(watch.head_name)
        condensing = None
        if head is not None and np.isfinite(head.values[i]):
            condensing = float(watch.curves.bubble_temperature(float(head.values[i]), outside="nan"))
        out.append(HandRow(moment, _number(moment, events, out) if whole else None, whole, condensing))
    return out


def _number(moment: float, events: Sequence[Event], before: Sequence[HandRow]) -> int | None:
    phase = "look and safe"
    for event in events:
        if event.at > moment:
            break
        phase = event.phase
    span = HAND_ROWS.get(phase)
    if span is None:
        return None
    taken = {row.number for row in before}
    return next((n for n in range(span[0], span[1] + 1) if n not in taken), None)
