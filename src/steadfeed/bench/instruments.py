"""The instruments of one person on one unit, and the readings that come of them: rows of a log before it is text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan, nan
from typing import Final

import numpy as np

from steadfeed import units
from steadfeed.bench.sensors import AIR, CLAMPS, JOINING, PRESSURES, Sensor, joined, rounded, sensor_for
from steadfeed.bench.settings import KitSettings
from steadfeed.bench.state import State
from steadfeed.units import PSI, STANDARD_ATMOSPHERE

#: Seconds between two readings of one row by hand (common practice: the eye goes from glass to glass).
BETWEEN_GLANCES: Final = (2.0, 6.0)
_DIGITS: Final = {
    "psig": 1, "psia": 1, "barg": 2, "kPag": 0, "degF": 1, "degC": 1, "A": 2, "W": 0, "": 0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a log. unit: of the values; header_unit: what the header says (another one when it is wrong)."""

    channel: str
    unit: str
    header_unit: str
    circuit: int | None = None

    @property
    def header(self) -> str:
        """Name of the column as the log writes it."""
        prefix = "" if self.circuit is None else f"c{self.circuit + 1}_"
        return f"{prefix}{self.channel}" + (f"_{self.header_unit}" if self.header_unit else "")


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings as they were written down. time [s since the plant was made] by the logger's clock, shape (n,);
    values in the units of the columns, shape (n, columns), NaN = missing.
    """

    columns: tuple[Column, ...]
    time: np.ndarray
    values: np.ndarray


class Kit:
    """All instruments of a challenge. `read` once a second; `value` is what one of them shows, in its unit, rounded.

    circuits: number of circuits. atmosphere [Pa]. push_at [s]: to which the times of instrument faults count. seed.
    """

    def __init__(self, settings: KitSettings, circuits: int, atmosphere: float, push_at: float, seed: int) -> None:
        self.settings = settings
        self.zero = {"vented": atmosphere, "sealed": STANDARD_ATMOSPHERE, "absolute": 0.0}[settings.pressure_reference]
        self.columns = columns_of(settings, circuits)
        self.sensors: list[Sensor] = []
        children = np.random.SeedSequence([seed, 7]).spawn(len(self.columns))
        for column, child in zip(self.columns, children, strict=True):
            rng = np.random.default_rng(child)
            self.sensors.append(sensor_for(column.channel, column.circuit or 0, settings, push_at, atmosphere, rng))
        self._joined = 0.0
        self._pairs = _gauge_pairs(self.columns)

    def read(self, time: float, state: State, dt: float = 1.0) -> list[float]:
        """What every instrument shows now, in the unit of its column, NaN = nothing."""
        shown = [sensor.read(time, state, dt) for sensor in self.sensors]
        leak = self.settings.manifold_leak
        if leak > 0.0:
            wanted = 0.0 if any(c.running for c in state.circuits) else leak
            self._joined += (wanted - self._joined) * min(1.0, dt / JOINING)
            for low, high in self._pairs:
                shown[low], shown[high] = joined(shown[low], shown[high], self._joined)
        return [self._displayed(c, v) for c, v in zip(self.columns, shown, strict=True)]

    def _displayed(self, column: Column, value: float) -> float:
        if isnan(value):
            return nan
        kit, unit = self.settings, column.unit
        if column.channel in PRESSURES:
            factor, _ = units.linear("pressure", unit, self.zero)
            step = kit.pressure_resolution / factor
            return rounded((value - (self.zero if units.is_gauge(unit) else 0.0)) / factor, step)
        if column.channel in CLAMPS or column.channel in AIR:
            shown = units.from_si(value, unit, "temperature")
            step = units.from_si(kit.temperature_resolution, unit, "temperature_difference")
            return rounded(shown, step)
        return value


def _gauge_pairs(columns: Sequence[Column]) -> list[tuple[int, int]]:
    pairs = []
    for k, column in enumerate(columns):
        if column.channel != "suction_pressure":
            continue
        for j, other in enumerate(columns):
            if other.circuit == column.circuit and other.channel in ("liquid_pressure", "discharge_pressure"):
                pairs.append((k, j))
                break
    return pairs


def columns_of(kit: KitSettings, circuits: int) -> tuple[Column, ...]:
    """Columns in their usual order: of each circuit, then of the air."""
    head = "discharge_pressure" if kit.head_at == "discharge" else "liquid_pressure"
    vital = ("suction_pressure", head, "suction_line_temperature", "liquid_line_temperature")
    own = [*vital, *(c for c in kit.channels if c not in vital and c not in AIR and c not in ("fan_current", "power"))]
    shared = [c for c in kit.channels if c in AIR or c in ("fan_current", "power")]
    out = []
    for k in range(circuits):
        out += [_column(kit, c, k if circuits > 1 else None) for c in own]
    out += [_column(kit, c, None) for c in shared]
    return tuple(out)


def _column(kit: KitSettings, channel: str, circuit: int | None) -> Column:
    if channel in PRESSURES:
        unit, header = kit.pressure_unit, kit.pressure_unit
        if kit.wrong_unit == "pressure":
            unit = "kPag"
            header = "psig"
        return Column(channel, unit, header, circuit)
    if channel in CLAMPS or channel in AIR:
        unit, header = kit.temperature_unit, kit.temperature_unit
        if kit.wrong_unit == "temperature":
            unit, header = "degC", "degF"
        return Column(channel, unit, header, circuit)
    unit = {"power": "W", "valve_steps": ""}.get(channel, "A")
    return Column(channel, unit, unit, circuit)


def digits_of(column: Column) -> int:
    """Decimals that a column is written with."""
    return _DIGITS[column.unit]


def take_rows(
    kit: KitSettings, columns: tuple[Column, ...], time: np.ndarray, shown: np.ndarray, push_at: float, rows: Sequence[float],
    rng: np.random.Generator,
) -> Readings:  # fmt: skip
    """Choose what is written down of what was shown every second.

    time, shape (n,): seconds; shown, shape (n, columns). rows: moments of the rows of a log by hand [s]; else every
    interval. Then gaps, dropouts, duplicates, disorder, clock drift.
    """
    n = time.shape[0]
    if rows:
        values = np.full((len(rows), len(columns)), nan)
        for k, moment in enumerate(rows):
            glance = moment
            for j in range(len(columns)):
                i = int(np.clip(np.searchsorted(time, glance), 0, n - 1))
                values[k, j] = shown[i, j]
                if columns[j].channel in (*PRESSURES, *CLAMPS):
                    glance += float(rng.uniform(*BETWEEN_GLANCES))
        at = np.array(rows, dtype=np.float64)
    else:
        every = max(1, round(kit.interval))
        at, values = time[::every].copy(), shown[::every].copy()
    keep = np.ones(at.shape[0], dtype=bool)
    for gap in kit.gaps:
        begins = push_at + gap.at
        keep &= ~((at >= begins) & (at < begins + gap.length))
    at, values = at[keep], values[keep]
    if kit.dropouts > 0.0:
        values = np.where(rng.random(values.shape) < kit.dropouts, nan, values)
    order = np.arange(at.shape[0])
    if kit.duplicates > 0.0:
        order = np.sort(np.concatenate([order, order[rng.random(order.shape) < kit.duplicates]]))
    if kit.disorder > 0.0 and order.shape[0] > 4:
        late = np.where(rng.random(order.shape) < kit.disorder, rng.integers(1, 4, order.shape) + 0.5, 0.0)
        order = order[np.argsort(np.arange(order.shape[0]) + late, kind="stable")]
    at = at[0] + (at - at[0]) * (1.0 + kit.clock_drift)
    return Readings(columns, at[order], values[order])


def accuracy_psi(kit: KitSettings) -> float:
    """Stated accuracy in psi, 0 = not stated."""
    return kit.pressure_accuracy / PSI
