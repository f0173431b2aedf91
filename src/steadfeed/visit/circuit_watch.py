"""One circuit of a running challenge: its readings, its guard, what they say now."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from steadfeed.analysis import guard as guarding
from steadfeed.analysis import running as run
from steadfeed.analysis.derive import derive, head_channel
from steadfeed.analysis.guard import Guard, Sight, Top
from steadfeed.analysis.liveness import is_frozen, longest_repeat
from steadfeed.analysis.running import Running
from steadfeed.analysis.series import Rows, rows_of
from steadfeed.analysis.steady import steady_since
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.live_rows import gauge_zero
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.recording import Recording
from steadfeed.units import PSI

if TYPE_CHECKING:
    from steadfeed.circuit.equipment import System
    from steadfeed.circuit.phase import Mark
    from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
#: Readings of so long make “now” [s].
NOW_SECONDS: Final = 10.0
#: Readings that steadiness is judged on [s].
STEADY_SECONDS: Final = 420.0
#: A channel that moved by so much was moved by an event: pressures [Pa], temperatures [K].
MOVED: Final = {"pressure": 12.0 * PSI, "temperature": 2.5 * F}
#: A gauge open to the air, a clamp in ice water: within [Pa], [K], for so long [s].
ZERO: Final = 1.5 * PSI
ICE: Final = 1.2 * F
PROOF_SECONDS: Final = 4.0
#: Rows that change at once in more than this number are sent anew as a whole.
REWRITTEN: Final = 60

DERIVED: Final = ("evaporating", "condensing", "superheat", "subcooling")


@dataclass(frozen=True, slots=True)
class Now:
    """Means over the last seconds: condensing, evaporating, superheat, subcooling [K]; pressures [Pa]. None: not known."""

    condensing: float | None = None
    evaporating: float | None = None
    superheat: float | None = None
    subcooling: float | None = None
    head: float | None = None
    suction: float | None = None


class CircuitWatch:
    """Follows one circuit. Not safe for threads: the live challenge holds its lock around every call.

    label: "c2" for a circuit that is watched beside the one under test, None for the latter. since: readings taken
    earlier belong to another time [s since the epoch].
    """

    def __init__(
        self,
        circuit_id: str,
        name: str | None,
        system: System,
        curves: Curves,
        *,
        label: str | None,
        utc_offset: float,
        since: float = 0.0,
    ) -> None:
        self.circuit_id = circuit_id
        self.name = name
        self.label = label
        self.system = system
        self.curves = curves
        self.recording = LiveRecording(system, circuit=label, utc_offset=utc_offset, since=since)
        self._zero = gauge_zero(system)[1]
        self.guard = Guard()
        self.top: Top = guarding.top_of(system, curves)
        self.running = Running()
        self.running_told: bool | None = None
        self.steady: float | None = None
        self.frozen: tuple[str, ...] = ()
        self.peak: float | None = None
        self.now = Now()
        self.step: guarding.KnownStep | None = None
        self.proofs: dict[str, float] = {}
        self.proved: tuple[str, ...] = ()
        self.rows_reset = 0
        self._row_sequences: list[int] = []
        self._ranges: dict[str, tuple[float, float]] = {}
        # a needle read by eye is no better than a part of its graduation
        self._least = 1.0 * F if system.instruments.gauges == "analog" else 0.03

    # -- readings in ------------------------------------------------------------------------------------------------------
    @property
    def head_name(self) -> str:
        """Channel of the head pressure here."""
        columns = self.recording.columns()
        return (
            "discharge_pressure"
            if "liquid_pressure" not in columns and "discharge_pressure" in columns
            else "liquid_pressure"
        )

    @property
    def vital(self) -> tuple[str, ...]:
        """The four channels that this circuit must have; a circuit that is only watched needs its head."""
        if self.label is not None:
            return (self.head_name,)
        return ("suction_pressure", self.head_name, "suction_line_temperature", "liquid_line_temperature")

    def update(self, sequence: int) -> bool:
        """Take over what the recording got. sequence: number of this change. Return whether there was anything."""
        first = self.recording.take_changed()
        total = len(self.recording)
        if first >= total and total == len(self._row_sequences):
            return False
        if first < len(self._row_sequences) - REWRITTEN:
            self.rows_reset = sequence
            self.guard = replace(self.guard, head=None, discharge=None)
        self._row_sequences[first:] = [sequence] * (total - first)
        columns = self.recording.columns()
        time, values = self.recording.rows(max(first - 1, 0))
        self._feed(columns, time, values)
        return True

    def _feed(self, columns: tuple[str, ...], time: FloatArray, values: FloatArray) -> None:
        """Feed the trackers with rows that are new."""
        place = {name: k for k, name in enumerate(columns)}
        head = place.get(self.head_name)
        hot = place.get("discharge_line_temperature")
        for i in range(time.shape[0]):
            moment = float(time[i])
            for name, k in place.items():
                value = float(values[i, k])
                if value == value:
                    self._seen(name, moment, value)
            if head is not None and values[i, head] == values[i, head]:
                condensing = float(self.curves.bubble_temperature(float(values[i, head]), outside="nan"))
                self.guard = guarding.take_head(self.guard, moment, condensing, least=self._least)
            if hot is not None and values[i, hot] == values[i, hot]:
                self.guard = guarding.take_discharge(self.guard, moment, float(values[i, hot]))

    def _seen(self, name: str, moment: float, value: float) -> None:
        self.guard = guarding.see(self.guard, name, moment)
        low, high = self._ranges.get(name, (value, value))
        self._ranges[name] = (min(low, value), max(high, value))
        self._prove(name, moment, value)

    def _prove(self, name: str, moment: float, value: float) -> None:
        """Notice a gauge that is open to the air and a clamp that is in ice water."""
        code = _PROVES.get(name)
        if code is None:
            return
        right = abs(value - self._zero) < ZERO if code.startswith("zero") else abs(value - 273.15) < ICE
        if not right:
            self.proofs.pop(code, None)
        elif moment - self.proofs.setdefault(code, moment) >= PROOF_SECONDS and code not in self.proved:
            self.proved = (*self.proved, code)

    @property
    def moved(self) -> tuple[str, ...]:
        """Vital channels that some event has moved."""
        out = []
        for name in self.vital:
            low, high = self._ranges.get(name, (0.0, 0.0))
            kind = "pressure" if name.endswith("pressure") else "temperature"
            if high - low > MOVED[kind]:
                out.append(name)
        return tuple(out)

    # -- what they say ----------------------------------------------------------------------------------------------------
    def look(
        self, now: float, *, pushing: bool, restored_at: float | None, started: float | None, by_hand: bool
    ) -> None:
        """Look at the guard now."""
        sight = Sight(
            now=now,
            pushing=pushing,
            restored_at=restored_at,
            running=self.running.runs if not by_hand else None,
            superheat=self.now.superheat if self.label is None else None,
            started=started,
            vital=self.vital,
            by_hand=by_hand,
            step=self.step,
        )
        self.guard = guarding.look(self.guard, self.top, sight)

    def refresh(self, now: float) -> None:
        """Bring means and the compressor's state up to date; a few rows are looked at."""
        time, series = self._latest(now, run.LOOKED_AT + 2.0)
        if time.shape[0] == 0:
            self.now = Now()
            return
        current = self.recording.newest.get("compressor_current")
        good = np.isfinite(series["te"] + series["tc"])
        if good.any():
            self.running = run.look(
                self.running, time[good], series["te"][good], series["tc"][good], series["ratio"][good],
                current.value if current is not None and now - current.at < run.LOOKED_AT else None,
            )  # fmt: skip
        recent = time >= now - NOW_SECONDS
        if not recent.any() and self.by_hand_rows:
            recent = time >= time[-1]
        self.now = Now(
            condensing=_mean(series["tc"][recent]),
            evaporating=_mean(series["te"][recent]),
            superheat=_mean(series["sh"][recent]),
            subcooling=_mean(series["sc"][recent]),
            head=_mean(series["pl"][recent]),
            suction=_mean(series["ps"][recent]),
        )

    @property
    def by_hand_rows(self) -> bool:
        """Whether people read most rows."""
        return any(n.source.startswith("hand ") for n in self.recording.newest.values())

    def _latest(self, now: float, seconds: float) -> tuple[FloatArray, dict[str, FloatArray]]:
        total = len(self.recording)
        first = max(0, total - 40)
        time, values = self.recording.rows(first)
        while first > 0 and time.shape[0] and time[0] > now - seconds:
            first = max(0, first - 2 * (total - first))
            time, values = self.recording.rows(first)
        if not self.by_hand_rows:
            keep = time >= now - seconds
            time, values = time[keep], values[keep]
        place = {name: k for k, name in enumerate(self.recording.columns())}
        empty = np.full(time.shape[0], np.nan)

        def column(name: str) -> FloatArray:
            return values[:, place[name]] if name in place else empty

        ps, pl = column("suction_pressure"), column(self.head_name)
        te = self.curves.dew_temperature(ps, outside="nan")
        tc = self.curves.bubble_temperature(pl, outside="nan")
        return time, {
            "ps": ps, "pl": pl, "te": te, "tc": tc, "ratio": pl / ps,
            "sh": column("suction_line_temperature") - te, "sc": tc - column("liquid_line_temperature"),
        }  # fmt: skip

    def settle(self, now: float) -> None:
        """Judge steadiness and repeated values on the last minutes; once a second is enough."""
        rows = self.rows(now - STEADY_SECONDS)
        self.steady = None
        if rows is not None and len(rows) >= 5 and now - float(rows.time[-1]) < 30.0:
            self.steady = steady_since(rows, float(rows.time[-1]))
        recording = self.since(now - 300.0)
        found = []
        for name in self.vital:
            channel = recording.channels.get(name)
            if channel is None or len(recording) < 5:
                continue
            repeat = longest_repeat(recording.time, channel.values)
            span = float(recording.time[-1] - recording.time[0])
            current = repeat.end >= float(recording.time[-1]) - 5.0
            if current and is_frozen(repeat, self.by_hand_rows, span, name.endswith("temperature")):
                found.append(name)
        self.frozen = tuple(found)

    def rows(self, since: float, until: float | None = None) -> Rows | None:
        """Return the complete rows since a moment, None while a vital channel is missing."""
        recording = self.since(since)
        if until is not None:
            recording = recording.until(until)
        names = ("suction_pressure", "suction_line_temperature", "liquid_line_temperature")
        if (
            head_channel(recording) is None
            or any(name not in recording.channels for name in names)
            or not len(recording)
        ):
            return None
        return rows_of(recording, derive(recording, self.curves))

    def since(self, moment: float) -> Recording:
        """Return the readings since a moment [s]."""
        recording = self.recording.recording()
        first = int(np.searchsorted(recording.time, moment))
        return replace(
            recording,
            time=recording.time[first:],
            channels={k: replace(c, values=c.values[first:]) for k, c in recording.channels.items()},
            same=None if recording.same is None else recording.same[first:],
        )

    def whole(self, marks: Sequence[Mark]) -> Recording:
        """Return all readings with the marks: what the judge gets."""
        return self.recording.recording(marks)

    # -- rows out ---------------------------------------------------------------------------------------------------------
    def stream_columns(self) -> list[str]:
        """Name the columns of the rows that go to screens."""
        derived = DERIVED if self.label is None else ("condensing",)
        return ["time", *self.recording.columns(), *derived]

    def rows_after(self, after: int, until: int) -> list[list[float | None]]:
        """Return the rows that changed after one sequence and up to another, as they stand now."""
        first = bisect_right(self._row_sequences, after)
        last = bisect_right(self._row_sequences, until)
        if first >= last:
            return []
        time, values = self.recording.rows(first)
        return self._table(time[: last - first], values[: last - first])

    def count_after(self, after: int) -> int:
        """Count the rows that changed after a sequence."""
        return len(self._row_sequences) - bisect_right(self._row_sequences, after)

    def thinned(self, points: int) -> tuple[list[list[float | None]], int]:
        """Return all rows, thinned to about so many so that the extremes stay, and one of how many was kept."""
        time, values = self.recording.rows(0)
        every = max(1, -(-time.shape[0] // points))
        if every == 1:
            return self._table(time, values), 1
        table = np.column_stack([time, *self._series(values)])
        return listed(thin(table, points)), every

    def _series(self, values: FloatArray) -> list[FloatArray]:
        place = {name: k for k, name in enumerate(self.recording.columns())}
        empty = np.full(values.shape[0], np.nan)
        columns = [values[:, k] for k in range(values.shape[1])]

        def column(name: str) -> FloatArray:
            return columns[place[name]] if name in place else empty

        tc = self.curves.bubble_temperature(column(self.head_name), outside="nan")
        if self.label is not None:
            return [*columns, tc]
        te = self.curves.dew_temperature(column("suction_pressure"), outside="nan")
        sh = column("suction_line_temperature") - te
        return [*columns, te, tc, sh, tc - column("liquid_line_temperature")]

    def _table(self, time: FloatArray, values: FloatArray) -> list[list[float | None]]:
        return listed(np.column_stack([time, *self._series(values)]))


_PROVES: Final = {
    "suction_pressure": "zero suction",
    "liquid_pressure": "zero head",
    "discharge_pressure": "zero head",
    "suction_line_temperature": "ice suction line",
    "liquid_line_temperature": "ice liquid line",
}


def thin(table: FloatArray, points: int) -> FloatArray:
    """Thin rows so that each column's extremes in every stretch stay. table: first column time, shape (n, k)."""
    n = table.shape[0]
    stretches = max(1, points // 4)
    edges = np.linspace(0, n, stretches + 1).astype(np.int64)
    keep: set[int] = {0, n - 1}
    for a, b in pairwise(edges.tolist()):
        if b <= a:
            continue
        part = table[a:b, 1:]
        known = np.isfinite(part).any(axis=0)
        if not known.any():
            continue
        first = part[:, int(np.flatnonzero(known)[0])]
        keep.update((int(a), int(a + np.nanargmin(first)), int(a + np.nanargmax(first))))
        for k in np.flatnonzero(known)[1:]:
            column = part[:, k]
            spread = float(np.nanmax(column) - np.nanmin(column))
            if spread > 0.0 and len(keep) < points:
                keep.update((int(a + np.nanargmin(column)), int(a + np.nanargmax(column))))
    return table[sorted(keep)]


def listed(table: FloatArray) -> list[list[float | None]]:
    """Return rows as JSON can hold them: to the thousandth, null for what is no number."""
    return [[_short(value) for value in row] for row in table.tolist()]


def _short(value: float) -> float | None:
    if value != value or value in (float("inf"), float("-inf")):
        return None
    return round(value, 3)


def _mean(values: FloatArray) -> float | None:
    good = values[np.isfinite(values)]
    return float(good.mean()) if good.shape[0] else None


def plain(value: Any) -> float | None:
    """Return a number that JSON can hold, None for anything else."""
    return float(value) if isinstance(value, (int, float)) and np.isfinite(value) else None


__all__ = ["DERIVED", "CircuitWatch", "Now", "plain", "thin"]
