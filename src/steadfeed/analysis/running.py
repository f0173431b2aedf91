"""Does the compressor run? From two pressures and, where there is one, its current. Pure.

A start lets evaporating fall and condensing rise, a stop the other way round; a push lets both rise and a restore lets both
fall, so neither is taken for the other. What a current says goes before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.circuit.channel import FloatArray

F: Final = 5.0 / 9.0
#: Seconds over which a start or stop shows.
LOOKED_AT: Final = 15.0
#: Change of the evaporating and of the condensing temperature in that time [K] (bench starts and stops).
EVAPORATING: Final = 7.0 * F
CONDENSING: Final = 1.5 * F
#: Changes below which nothing happens [K].
QUIET: Final = 1.0 * F
#: Absolute pressure ratio from which a unit found as it is must be running, and below which it stands.
RUNS_ABOVE: Final = 1.7
STANDS_BELOW: Final = 1.2
#: Part of the ratio before a supposed stop that only a running compressor keeps.
KEEPS: Final = 0.85
#: Share of the highest current seen below which the compressor stands.
CURRENT_SHARE: Final = 0.3


@dataclass(frozen=True, slots=True)
class Running:
    """runs: None when not known; since: from when it is known [s]; most: highest current seen [A]; ratio: before the stop."""

    runs: bool | None = None
    since: float = 0.0
    most: float = 0.0
    ratio: float = np.inf


def look(
    before: Running, time: FloatArray, evaporating: FloatArray, condensing: FloatArray, ratio: FloatArray,
    current: float | None = None,
) -> Running:  # fmt: skip
    """Return what is known after the newest readings.

    time [s], evaporating, condensing [K], ratio (of absolute pressures): readings of about the last LOOKED_AT seconds,
    shape (n,), none missing. current: newest [A], None without a clamp on a lead.
    """
    if time.shape[0] == 0:
        return before
    now = float(time[-1])
    most = max(before.most, current or 0.0)
    first = int(np.searchsorted(time, now - LOOKED_AT))
    was = float(ratio[first])
    if current is not None and most > 1.0:
        runs: bool | None = current > CURRENT_SHARE * most
    else:
        low, high = float(evaporating[-1] - evaporating[first]), float(condensing[-1] - condensing[first])
        runs = _by_pressures(before, low, high, float(ratio[-1]), time.shape[0])
    if runs is before.runs:
        return Running(runs, before.since, most, before.ratio)
    return Running(runs, now, most, was if runs is False and before.runs else np.inf)


def _by_pressures(before: Running, low: float, high: float, ratio: float, count: int) -> bool | None:
    if low > EVAPORATING and high < -CONDENSING:
        return False
    if low < -EVAPORATING and high > CONDENSING:
        return True
    if ratio < STANDS_BELOW:
        return False
    if before.runs is None and ratio > RUNS_ABOVE and count > 3 and abs(low) < QUIET and abs(high) < QUIET:
        return True
    if before.runs is False and ratio > KEEPS * before.ratio:
        return True  # a swing was taken for a stop: standing sides do not keep so far apart
    return before.runs
