"""Rows, windows and their statistics: what every later step of the judgement stands on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.analysis.derive import Trace
from steadfeed.analysis.quality import out_of_range, spikes
from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.circuit.recording import Recording

#: Rows closer together than this are averaged [s]: bulbs, clamps and air are far slower.
BLOCK_SECONDS = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows at which all four vital readings exist, shape (n,); finer samples are averaged over BLOCK_SECONDS.

    time [s]; te, tc: evaporating (dew) and condensing (bubble) temperature [K]; ts, tl: suction and liquid line [K];
    sh, sc: superheat and subcooling [K difference]; ps, pl: absolute pressures [Pa]. current [A] or None.
    sparse: readings by hand or otherwise far apart: rows count, not seconds. table: the eight series above, shape (8, n).
    """

    time: FloatArray
    te: FloatArray
    tc: FloatArray
    ts: FloatArray
    tl: FloatArray
    sh: FloatArray
    sc: FloatArray
    ps: FloatArray
    pl: FloatArray
    current: FloatArray | None
    sparse: bool
    step: float
    table: FloatArray

    def __len__(self) -> int:
        return int(self.time.shape[0])

    def between(self, start: float, end: float) -> slice:
        """Rows with start <= time <= end."""
        return slice(
            int(np.searchsorted(self.time, start, side="left")), int(np.searchsorted(self.time, end, side="right"))
        )


def rows_of(recording: Recording, trace: Trace) -> Rows:
    """Collect the complete rows of a recording.

    Rows with a vital reading missing, impossible or a lone spike are left out; blocks of BLOCK_SECONDS are averaged when sampling is finer.
    """
    t = trace.time
    stack = np.stack(
        [
            trace.evaporating,
            trace.condensing,
            trace.suction_line,
            trace.liquid_line,
            trace.suction_pressure,
            trace.head_pressure,
        ]
    )
    current = recording.get("compressor_current")
    keep = np.isfinite(stack.sum(axis=0))
    for k, name in enumerate(("suction_line_temperature", "liquid_line_temperature"), start=2):
        keep &= ~(spikes(stack[k]) | out_of_range(name, stack[k]))
    for k in (4, 5):
        keep &= ~spikes(stack[k])
    if not keep.all():
        t, stack = t[keep], stack[:, keep]
        current = None if current is None else current[keep]
    step = median(np.diff(t)) if t.shape[0] > 1 else 0.0
    if t.shape[0] > 2 and step < 0.75 * BLOCK_SECONDS:
        block = np.floor((t - t[0]) / BLOCK_SECONDS).astype(np.int64)
        first = np.flatnonzero(np.r_[True, np.diff(block) > 0])
        count = np.diff(np.r_[first, t.shape[0]])
        t = t[0] + np.add.reduceat(t - t[0], first) / count
        stack = np.add.reduceat(stack, first, axis=1) / count
        if current is not None:
            current = np.add.reduceat(current, first) / count
        step = median(np.diff(t)) if t.shape[0] > 1 else 0.0
    te, tc, ts, tl, ps, pl = stack
    table = np.stack([te, tc, ts, tl, ts - te, tc - tl, ps, pl])
    sparse = recording.read_by == "person" or step > 11.0
    te, tc, ts, tl, sh, sc, ps, pl = table
    return Rows(t, te, tc, ts, tl, sh, sc, ps, pl, current, sparse, step, table)


@dataclass(frozen=True, slots=True)
class Level:
    """Mean of a window with what it rests on.

    mean; scatter: standard deviation about a straight line; slope [1/s]; count: readings; span [s];
    independent: readings that may be counted as independent (autocorrelation, see `level`).
    """

    mean: float
    scatter: float
    slope: float
    count: int
    span: float
    independent: float

    @property
    def standard_error(self) -> float:
        """Standard uncertainty of the mean from scatter alone."""
        return float(self.scatter / np.sqrt(max(self.independent, 1.0)))


NO_LEVEL = Level(np.nan, np.nan, np.nan, 0, 0.0, 0.0)


def levels(time: FloatArray, table: FloatArray, correlation_seconds: float = 30.0) -> list[Level]:
    """Mean, scatter and slope of several series in one window. table: shape (k, n), no missing readings.

    Samples of a refrigerant circuit are correlated over `correlation_seconds` [s] (bulb, clamp, air: 20–90 s); the
    number of independent ones is span / correlation time + 1, at most the count (GUM 4.2.7 asks for it).
    """
    k, n = table.shape
    if n == 0:
        return [NO_LEVEL] * k
    mean = table.sum(axis=1) / n
    if n == 1:
        return [Level(float(m), 0.0, 0.0, 1, 0.0, 1.0) for m in mean]
    x = time - time.sum() / n
    y = table - mean[:, None]
    sxx = float(x @ x)
    slope = (y @ x) / sxx if sxx > 0.0 else np.zeros(k)
    rest = np.einsum("ij,ij->i", y, y) - slope * slope * sxx
    scatter = np.sqrt(np.maximum(rest, 0.0) / max(n - 2, 1))
    span = float(time[-1] - time[0])
    independent = min(float(n), span / correlation_seconds + 1.0)
    return [
        Level(m, s, b, n, span, independent)
        for m, s, b in zip(mean.tolist(), scatter.tolist(), slope.tolist(), strict=True)
    ]


def median(values: FloatArray) -> float:
    """Median of an array without missing readings; NaN when it is empty. (numpy's own loads its masked arrays.)"""
    n = values.shape[0]
    if n == 0:
        return float("nan")
    half = n // 2
    if n % 2:
        return float(np.partition(values, half)[half])
    parted = np.partition(values, (half - 1, half))
    return float(0.5 * (parted[half - 1] + parted[half]))


def noise_of(values: FloatArray) -> float:
    """Fast noise of a series [unit of the values]: from second differences, robust against trends and steps."""
    if values.shape[0] < 4:
        return 0.0
    second = values[2:] - 2.0 * values[1:-1] + values[:-2]
    return float(median(np.abs(second)) * 1.4826 / np.sqrt(6.0))


def sustained(mask: BoolArray, time: FloatArray, seconds: float, rows: int) -> int:
    """Index of the first row of a True run that lasts `seconds` and at least `rows` readings, or to the end; -1 if none."""
    n = mask.shape[0]
    if n == 0 or not mask.any():
        return -1
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        last = time[end] if end < n else time[n - 1]
        if end - start >= rows and last - time[start] >= seconds:
            return int(start)
    return -1
