"""Steady state by data, not by a clock: a moving window whose drifts stay below their limits, cycles allowed.

Window and thresholds follow the principle of the moving-window detectors used in heat-pump fault-detection work (NIST
SP 1087, Kim et al. 2008): every feature must be quiet for a whole window. A limit cycle of the valve (1–5 min, or faster)
is let through when its mean is steady: drifts are judged against the slope's own uncertainty, which a cycle widens.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.series import Rows
from steadfeed.analysis.windows import Window, detrended_scatter, window

F = 5.0 / 9.0

#: Feature, series, criterion of its drift per minute.
FEATURES: Final = (
    ("condensing", "tc", "steady_condensing"),
    ("evaporating", "te", "steady_evaporating"),
    ("superheat", "sh", "steady_superheat"),
)


@dataclass(frozen=True, slots=True)
class Drift:
    """Drift of one feature in a window. per_minute, allowance, bound [K difference per minute].

    allowance: what the scatter of the readings (noise, cycles) can feign; quiet: per_minute − allowance <= bound.
    """

    feature: str
    per_minute: float
    allowance: float
    bound: float
    criterion: str

    @property
    def quiet(self) -> bool:
        """Whether the drift stays inside its limit."""
        return self.per_minute - self.allowance <= self.bound


def cycles_of(rows: Rows, w: Window) -> float | None:
    """Scatter of the superheat about a parabola [K difference]: the size of a limit cycle; None with too few rows."""
    scatter = detrended_scatter(rows.time[w.rows], rows.sh[w.rows])
    return scatter if scatter == scatter else None


def drifts(w: Window, cycles: float | None) -> tuple[Drift, ...]:
    """Drift of every feature in a window; empty when the window is too short to say (60 s, four rows)."""
    if w.span < 60.0 or w.count < 4:
        return ()
    wide = max(1.0, (cycles or 0.0) / (0.4 * F))
    out = []
    for feature, name, key in FEATURES:
        lv = w.levels[name]
        # standard uncertainty of a slope is √12 · scatter / span / √N; cycles leave fewer independent readings
        u = 3.46 * lv.scatter / max(lv.span, 1.0) / np.sqrt(max(lv.independent, 2.0)) * 60.0 * np.sqrt(wide)
        out.append(Drift(feature, abs(lv.slope) * 60.0, 1.6 * float(u), limit(key), key))
    return tuple(out)


def steady_since(rows: Rows, moment: float, seconds: float = 180.0) -> float | None:
    """Earliest time from which the circuit has been steady until `moment` [s]; None when it is not steady.

    The window of `seconds` ending at `moment` must be quiet; earlier windows, in steps of a third, extend it.
    """
    since: float | None = None
    end = moment
    first = float(rows.time[0]) if len(rows) else moment
    while end - seconds >= first - 1.0:
        w = window(rows, end - seconds, end)
        found = drifts(w, cycles_of(rows, w))
        if not found or not all(d.quiet for d in found):
            break
        since = end - seconds
        end -= seconds / 3.0
    return since
