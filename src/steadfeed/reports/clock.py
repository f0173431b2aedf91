"""Times of a recording as people read them. Nothing here asks what time it is now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from steadfeed.circuit.recording import Recording
from steadfeed.reports.numbers import MINUS, duration
from steadfeed.reports.strip_chart import time_step


@dataclass(frozen=True, slots=True)
class LogClock:
    """Writes sample times [s since the Unix epoch, or since an unknown moment] of one recording."""

    start: float
    end: float
    utc_offset: float
    elapsed: bool

    @classmethod
    def of(cls, recording: Recording) -> LogClock:
        """Make the clock of a recording; one without a reading begins and ends at 0."""
        if len(recording) == 0:
            return cls(0.0, 0.0, recording.utc_offset, recording.elapsed)
        return cls(float(recording.time[0]), float(recording.time[-1]), recording.utc_offset, recording.elapsed)

    @property
    def span(self) -> float:
        """Length of the recording [s]."""
        return self.end - self.start

    def moment(self, time: float) -> str:
        """Write one moment: "15:24", or "5 min 10 s into the log" when the log only counts seconds."""
        if self.elapsed:
            return f"{duration(time - self.start)} into the log"
        return f"{self._local(time):%H:%M:%S}" if self.span < 600 else f"{self._local(time):%H:%M}"

    def when(self) -> str:
        """Write when the log was taken, with the date and the offset of its local time."""
        if self.elapsed:
            return f"{duration(self.span)} long; the log does not say on which day"
        first, last = self._local(self.start), self._local(self.end)
        until = f"{last:%H:%M}" if last.date() == first.date() else f"{last:%Y-%m-%d %H:%M}"
        return f"{first:%Y-%m-%d}, {first:%H:%M} to {until} ({utc_offset(self.utc_offset)})"

    def ticks(self, most: int) -> tuple[tuple[tuple[float, str], ...], str]:
        """Return round moments as (s since the start, label), and the word for the axis."""
        span = max(self.span, 1.0)
        step = time_step(span, most)
        if self.elapsed:
            count = int(span // step)
            labels = [f"{k * step / 60:g}" for k in range(count + 1)]
            return tuple((float(k * step), labels[k]) for k in range(count + 1)), "min"
        local = self.start + self.utc_offset
        first = -(-local // step) * step
        ticks = []
        k = 0
        while (at := first - local + k * step) <= span:
            moment = self._local(self.start + at + 1e-6)
            ticks.append((round(at, 1), f"{moment:%H:%M:%S}" if step < 60 else f"{moment:%H:%M}"))
            k += 1
        return tuple(ticks), "time"

    def _local(self, time: float) -> datetime:
        return datetime.fromtimestamp(time, UTC).astimezone(timezone(timedelta(seconds=self.utc_offset)))


def utc_offset(seconds: float) -> str:
    """Write an offset from UTC [s], "UTC−07:00"."""
    minutes = round(abs(seconds) / 60)
    sign = MINUS if seconds < 0 else "+"
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"
