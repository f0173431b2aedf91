"""Quality of readings as masks beside them. The readings themselves are never changed.

Every function returns a boolean array of the shape of the readings, True where the name applies.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.circuit.channel import CHANNEL_KINDS, BoolArray, FloatArray

#: What no channel of a kind can be on any unit (SI): (lowest, highest).
_POSSIBLE: Final[dict[str, tuple[float, float]]] = {
    "pressure": (0.0, 1.5e7),
    "temperature": (200.0, 450.0),
    "fraction": (0.0, 1.05),
    "current": (-1.0, 500.0),
    "power": (-100.0, 2e5),
    "count": (-1e6, 1e6),
}


def missing(values: FloatArray) -> BoolArray:
    """Readings that are not there."""
    return np.isnan(values)


def out_of_range(name: str, values: FloatArray) -> BoolArray:
    """Readings that no unit can show. name: a channel (circuit.channel.CHANNEL_KINDS); values in SI."""
    low, high = _POSSIBLE[CHANNEL_KINDS[name]]
    with np.errstate(invalid="ignore"):
        return np.asarray((values < low) | (values > high), dtype=np.bool_)


def spikes(values: FloatArray, threshold: float = 12.0) -> BoolArray:
    """Single readings that leave both neighbours by more than `threshold` times the noise, in one direction.

    The noise is the median absolute difference of neighbours; a step or a slope is no spike.
    """
    n = values.shape[0]
    out = np.zeros(n, dtype=np.bool_)
    if n < 7:
        return out
    before, after = values[1:-1] - values[:-2], values[1:-1] - values[2:]
    size = np.abs(np.diff(values))
    size = size[np.isfinite(size)]
    if size.shape[0] == 0:
        return out
    half = size.shape[0] // 2
    noise = float(np.partition(size, half)[half])
    # displays with a coarse last digit repeat: their noise is that digit
    moving = size[size > 0.0]
    floor = float(moving.min()) if moving.shape[0] else 0.0
    bound = threshold * max(noise, floor)
    with np.errstate(invalid="ignore"):
        alone = np.minimum(np.abs(before), np.abs(after)) > bound
        out[1:-1] = alone & (before * after > 0.0)
    return out


def gaps(time: FloatArray, times_median: float = 5.0) -> BoolArray:
    """Readings before which the recording was silent for more than `times_median` usual intervals. time [s], rising."""
    out = np.zeros(time.shape[0], dtype=np.bool_)
    if time.shape[0] < 4:
        return out
    step = np.diff(time)
    half = step.shape[0] // 2
    out[1:] = step > times_median * float(np.partition(step, half)[half])
    return out


def frozen(time: FloatArray, values: FloatArray) -> BoolArray:
    """Readings in runs of one repeated value that last longer and count more than the criteria allow. time [s]."""
    n = values.shape[0]
    out = np.zeros(n, dtype=np.bool_)
    good = np.flatnonzero(np.isfinite(values))
    if good.shape[0] < 2:
        return out
    v, t = values[good], time[good]
    equal = np.abs(np.diff(v)) <= 1e-9 * np.maximum(np.abs(v[1:]), 1.0)
    edges = np.flatnonzero(np.r_[True, ~equal, True])
    for a, b in pairwise(edges):
        if b - a >= limit("frozen_readings") and t[b - 1] - t[a] >= limit("frozen_gauge_seconds"):
            out[good[a:b]] = True
    return out


def off_the_pipe(pipe: FloatArray, air: FloatArray, apart_before: float = 2.8) -> BoolArray:
    """Readings of a clamp that lie at the air's temperature after it had been well apart from it.

    pipe, air [K], same shape. apart_before [K difference]: how far it must have been at first (median of the first
    third). A pipe may pass through the air's temperature: only a run to the end of at least a tenth of the readings counts.
    """
    n = pipe.shape[0]
    out = np.zeros(n, dtype=np.bool_)
    apart = np.abs(pipe - air)
    first = apart[: max(n // 3, 1)]
    first = first[np.isfinite(first)]
    if n < 6 or first.shape[0] == 0:
        return out
    half = first.shape[0] // 2
    if float(np.partition(first, half)[half]) < apart_before:
        return out
    with np.errstate(invalid="ignore"):
        far = np.flatnonzero(~(apart < limit("clamp_at_air")) & np.isfinite(apart))
    begin = int(far[-1]) + 1 if far.shape[0] else 0
    if n - begin >= max(3, n // 10):
        out[begin:] = True
    return out
