"""The recorder: what arrives goes to the disk first and is acknowledged after.

Sources → `take` → the sink (the store, wired by visit) and, at the same time, the live recordings and whoever listens.
A source hears "safe" only after the commit, so a reading that was acknowledged survives a crash at any moment, and one
that was not is sent again by sources that keep their readings. Readings are known by (source, boot id, sequence): the
second arrival changes nothing.

When the disk is full or busy, readings wait in memory, in order, and are tried again; nothing is acknowledged meanwhile.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import partial
from typing import Final, Protocol

from steadfeed.capture.channel_map import ChannelMap, Placed
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.source import Batch, Kept, Reading, Refused, Retry, Silent, Source, Speaking, say_error
from steadfeed.errors import SteadfeedError, TryAgain

#: Readings that may wait for the disk before sources are no longer read (they keep, or the link holds back).
MOST_WAITING: Final = 20_000
#: Readings taken before the start of a challenge by more than this belong to another time [s].
BEFORE_START: Final = 120.0


class Receipt(Protocol):
    """What became of readings that are on the disk now."""

    @property
    def written(self) -> int:
        """Readings that were new."""

    @property
    def known(self) -> int:
        """Readings that were there already."""

    @property
    def conflicts(self) -> int:
        """Readings whose number was there with another value; the first one stands."""


class Sink(Protocol):
    """Where readings are kept for good. `records` implements it, `visit` wires it (visit/record_sink.py)."""

    def append(self, challenge: str, readings: Sequence[Placed], received_at: float) -> Future[Receipt]:
        """Write readings; the future is done once they are on the disk. TryAgain: nothing was kept, send again."""

    def numbers(self, challenge: str, source: str, boot_id: str) -> tuple[Ranges, Ranges]:
        """Return which numbers of one life of a source are kept: (on this challenge, on others)."""

    def readings(self, challenge: str) -> Iterable[tuple[Placed, float]]:
        """Yield the kept readings of a challenge, each with when it was received [s since the epoch]."""


@dataclass(frozen=True, slots=True)
class Taken:
    """New readings, as listeners get them: before they are on the disk, for the eyes."""

    readings: tuple[Placed, ...]
    received_at: float


@dataclass(frozen=True, slots=True)
class Saved:
    """What is safe. written: readings of this challenge on the disk; waiting: not yet; last_at: newest arrival [s since
    the epoch]; conflicts: numbers that a source used twice; trouble: why nothing is written now, "" when all is well."""

    written: int
    waiting: int
    last_at: float | None
    conflicts: int
    trouble: str


@dataclass(frozen=True, slots=True)
class Resumed:
    """A challenge taken up again after a crash. readings: kept ones; last_at: when the last of them arrived [s]."""

    readings: int
    last_at: float

    def away(self, now: float) -> float:
        """How long nobody recorded [s]."""
        return max(now - self.last_at, 0.0)


def say_away(seconds: float) -> str:
    """Write how long the recording device was away: "Away 2 min 10 s"."""
    whole = round(max(seconds, 0.0))
    if whole < 60:
        return f"Away {whole} s"
    if whole < 3600:
        return f"Away {whole // 60} min {whole % 60} s"
    return f"Away {whole // 3600} h {whole % 3600 // 60} min"


Event = Taken | Silent | Speaking | Refused
Listener = Callable[[Event], None]


@dataclass(slots=True)
class _Job:
    readings: tuple[Placed, ...]
    received_at: float
    done: Future[Receipt] = field(default_factory=Future)


@dataclass(frozen=True, slots=True)
class _Nothing:
    """Receipt of readings that belong to another challenge or of none at all."""

    written: int = 0
    known: int = 0
    conflicts: int = 0


class Recorder:
    """Records one challenge. `take` may be called from any thread.

    sink: where readings are kept. challenge: its identity there. channel_map: what each series is; may be replaced by
    `remap`, for readings to come. recordings: live recordings that shall grow along.
    """

    def __init__(
        self,
        sink: Sink,
        challenge: str,
        channel_map: ChannelMap,
        *,
        recordings: Sequence[LiveRecording] = (),
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        self.sink = sink
        self.challenge = challenge
        self.clock = clock
        self._map = channel_map
        self._recordings = tuple(recordings)
        self._retry = retry or Retry(0.25, 10.0)
        self._lock = threading.RLock()
        self._changed = threading.Condition(self._lock)
        self._listeners: list[Listener] = []
        self._seen: dict[tuple[str, str], Ranges] = {}
        self._elsewhere: dict[tuple[str, str], Ranges] = {}
        self._held: deque[_Job] = deque()
        self._helper: threading.Thread | None = None
        self._closing = threading.Event()
        self._written = self._waiting = self._conflicts = 0
        self._last_at: float | None = None
        self._trouble = ""

    # -- state --------------------------------------------------------------------------------------------------------
    @property
    def saved(self) -> Saved:
        """What is safe now."""
        with self._lock:
            return Saved(self._written, self._waiting, self._last_at, self._conflicts, self._trouble)

    @property
    def channel_map(self) -> ChannelMap:
        """The map in use."""
        return self._map

    def remap(self, channel_map: ChannelMap) -> None:
        """Use another map for the readings to come."""
        with self._lock:
            self._map = channel_map

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Call `listener` with every event, in the thread that takes the readings. Return what ends that."""
        with self._lock:
            self._listeners.append(listener)

        def end() -> None:
            with self._lock:
                if listener in self._listeners:
                    self._listeners.remove(listener)

        return end

    def resume(self) -> Resumed | None:
        """Take in what is kept of this challenge already; None when nothing is. Call it before the first `take`."""
        with self._lock:
            count = 0
            for placed, received_at in self.sink.readings(self.challenge):
                for recording in self._recordings:
                    recording.add((placed,), received_at)
                self._last_at = max(self._last_at or received_at, received_at)
                count += 1
            self._written = count
            if self._last_at is None:
                return None
            return Resumed(count, self._last_at)

    # -- taking readings ------------------------------------------------------------------------------------------------
    def take(self, readings: Sequence[Reading], received_at: float | None = None) -> Future[Receipt]:
        """Take readings that arrived together. The future is done once they are on the disk.

        It fails with TryAgain only when the recorder is closed first; with another error when the store refuses them
        for good. Raises TryAgain, having taken nothing, when the store cannot say what it has of a new source.
        """
        with self._lock:
            at = self.clock() if received_at is None else received_at
            placed = [self._map.place(reading) for reading in readings if not self._is_elsewhere(reading)]
            job = _Job(tuple(placed), at)
            if self._closing.is_set():
                job.done.set_exception(_is_closed())
                return job.done
            if not placed:
                job.done.set_result(_Nothing())
                return job.done
            fresh = tuple(one for one in placed if self._first_time(one.reading))
            self._waiting += len(placed)
            self._last_at = at
            wait = bool(self._held)
            if wait:
                self._held.append(job)
            if fresh:
                for recording in self._recordings:
                    recording.add(fresh, at)
                self._tell(Taken(fresh, at))
        if not wait:
            self._send(job)  # not under the lock: the sink may make us wait for its answers, which need it
        return job.done

    def _numbers(self, reading: Reading) -> None:
        """Ask the sink once what it has of this life of a source."""
        key = (reading.source, reading.boot_id)
        if key not in self._seen:
            self._seen[key], self._elsewhere[key] = self.sink.numbers(self.challenge, *key)

    def _is_elsewhere(self, reading: Reading) -> bool:
        """Tell whether a reading is kept on another challenge: then it was acknowledged late, and is not ours."""
        self._numbers(reading)
        return reading.sequence in self._elsewhere[reading.source, reading.boot_id]

    def _first_time(self, reading: Reading) -> bool:
        seen = self._seen[reading.source, reading.boot_id]
        if reading.sequence in seen:
            return False
        seen.add(reading.sequence)
        return True

    def _tell(self, event: Event) -> None:
        for listener in tuple(self._listeners):
            listener(event)

    # -- to the disk ----------------------------------------------------------------------------------------------------
    def _send(self, job: _Job) -> None:
        try:
            future = self.sink.append(self.challenge, job.readings, job.received_at)
        except TryAgain as error:
            self._hold(job, error)
            return
        future.add_done_callback(lambda done: self._answered(job, done))

    def _answered(self, job: _Job, done: Future[Receipt]) -> None:
        error = done.exception()
        if isinstance(error, TryAgain):
            self._hold(job, error)
        else:
            self._finish(job, done)

    def _finish(self, job: _Job, done: Future[Receipt]) -> None:
        error = done.exception()
        with self._lock:
            self._waiting -= len(job.readings)
            if error is None:
                receipt = done.result()
                self._written += receipt.written
                self._conflicts += receipt.conflicts
                if not self._held:
                    self._trouble = ""
            else:
                self._trouble = say_error(error) if isinstance(error, Exception) else str(error)
            self._changed.notify_all()
        if error is None:
            job.done.set_result(done.result())
        else:
            job.done.set_exception(error)

    def _hold(self, job: _Job, error: TryAgain) -> None:
        """Keep readings that the disk did not take, and see to it that they are tried again."""
        with self._lock:
            self._trouble = error.message
            self._held.append(job)
            self._changed.notify_all()
            if self._helper is None or not self._helper.is_alive():
                self._helper = threading.Thread(target=self._try_again, name="steadfeed-recorder", daemon=True)
                self._helper.start()

    def _try_again(self) -> None:
        """Try the oldest waiting readings until the disk takes them, then send all the others."""
        pause = self._retry.first
        while not self._closing.wait(pause):
            with self._lock:
                if not self._held:
                    return
                job = self._held[0]
            try:
                done = self.sink.append(self.challenge, job.readings, job.received_at)
                error = done.exception()
            except TryAgain as refused:
                error = refused
            if isinstance(error, TryAgain):
                pause = min(2.0 * pause, self._retry.longest)
                continue
            with self._lock:
                self._held.popleft()
                waiting = tuple(self._held)
                self._held.clear()
                self._helper = None
            self._finish(job, done)
            for other in waiting:
                self._send(other)
            return

    def flush(self, timeout: float = 30.0) -> bool:
        """Wait until all that was taken is on the disk [s at most]. Return whether it is."""
        with self._lock:
            return self._changed.wait_for(lambda: self._waiting == 0, timeout)

    def close(self, timeout: float = 10.0) -> None:
        """Write what waits, then take no more. What the disk did not take by then fails, and its sources send it again."""
        self.flush(timeout)
        self._closing.set()
        with self._lock:
            helper = self._helper
        if helper is not None:
            helper.join(timeout)
        with self._lock:
            left = tuple(self._held)
            self._held.clear()
            self._waiting -= sum(len(job.readings) for job in left)
        for job in left:
            job.done.set_exception(_is_closed())

    # -- sources --------------------------------------------------------------------------------------------------------
    async def run(self, source: Source) -> None:
        """Record what a source sends until it is closed, and tell it what is safe.

        Raises what its `readings` raises: FixInput, InstallPart or NotAllowed for a person to mend.
        """
        loop = asyncio.get_running_loop()
        safe: asyncio.Queue[Batch] = asyncio.Queue()
        telling = asyncio.create_task(_acknowledge(source, safe))

        def committed(batch: Batch, done: Future[Receipt]) -> None:
            if done.exception() is None and not loop.is_closed():
                loop.call_soon_threadsafe(safe.put_nowait, batch)

        try:
            async for arrival in source.readings():
                if not isinstance(arrival, tuple):
                    with self._lock:
                        self._tell(arrival)
                    continue
                while self.saved.waiting > MOST_WAITING and not self._closing.is_set():
                    await asyncio.sleep(0.05)
                done = await self._taken(arrival)
                done.add_done_callback(partial(committed, arrival))
        finally:
            telling.cancel()
            await asyncio.gather(telling, return_exceptions=True)

    async def _taken(self, batch: Batch) -> Future[Receipt]:
        """Take readings, however long the store needs to say what it has of their source."""
        pause = self._retry.first
        while True:
            try:
                return self.take(batch)
            except TryAgain as error:
                self._trouble = error.message
            await asyncio.sleep(pause)
            pause = min(2.0 * pause, self._retry.longest)


async def _acknowledge(source: Source, safe: asyncio.Queue[Batch]) -> None:
    """Tell a source which numbers are safe, many at once when many are."""
    while True:
        batches = [await safe.get()]
        while not safe.empty():
            batches.append(safe.get_nowait())
        numbers: dict[tuple[str, str], Ranges] = {}
        for batch in batches:
            for reading in batch:
                numbers.setdefault((reading.source, reading.boot_id), Ranges()).add(reading.sequence)
        kept = [Kept(*life, first, last) for life, ranges in numbers.items() for first, last in ranges]
        with contextlib.suppress(SteadfeedError, *source.world_errors):
            # a source that did not hear it sends again, and is told again
            await source.acknowledge(kept)


def _is_closed() -> TryAgain:
    return TryAgain("The recorder is closed; nothing of this was kept, send it again", code="recorder closed")
