"""Live sources: readings one by one, each under its source's own number.

A source is two things: a pure decoder (bytes to readings, in its own module) and an asynchronous `readings()` that
keeps a link up. What every source owes is here, so that each of them only has to speak its own protocol:

- the link is made again, with growing pauses, until the source is closed;
- silence is marked once, when it begins, and once more when it ends;
- every reading carries (source, boot id, sequence), by which it is known when it comes twice;
- a unit that nobody knows is refused in one sentence, never guessed;
- closing leaves no task and no socket behind.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
import secrets
import time
from abc import ABC, abstractmethod
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from steadfeed.capture.reading_units import KNOWN_UNITS, unknown_unit
from steadfeed.errors import FixInput, SteadfeedError, TryAgain

#: Who took a reading.
READERS: Final = ("person", "photo", "instrument")
#: Words of a source by which a reading is kept but not used.
BAD_QUALITY: Final = frozenset({"bad", "fault", "error", "invalid", "failed"})
#: A value read again and found unchanged.
SAME: Final = "same"

_LONGEST_TEXT: Final = 200
_BIGGEST: Final = 2**63 - 1
_LATEST: Final = 32_503_680_000.0  # the year 3000
_LARGEST_OFFSET: Final = 18 * 3600.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading exactly as its source gave it.

    source: name of the source; boot_id: one life of it, during which its numbering counts up; sequence: its number in
    that life. header: what the source calls the series. value: a number as text, with the digits that were sent; None
    when the source had none. unit: one of KNOWN_UNITS; "" when the source does not say. time: by the clock of the source
    [s since the Unix epoch, UTC], None when it has none. utc_offset: local time minus UTC there [s]. quality: what the
    source says about the value; "same": read again, unchanged. read_by: one of READERS.
    Raises FixInput for what cannot be kept.
    """

    source: str
    boot_id: str
    sequence: int
    header: str
    value: str | None
    unit: str = ""
    time: float | None = None
    utc_offset: float | None = None
    quality: str | None = None
    read_by: str = "instrument"

    def __post_init__(self) -> None:
        if not self.source or not self.boot_id or not self.header:
            raise FixInput("A reading needs its source, the source's boot id and a header", code="bad reading")
        if not 0 <= self.sequence <= _BIGGEST:
            raise FixInput(f"A reading's sequence counts from 0; {self.sequence} is none", code="bad reading")
        for text in (self.source, self.boot_id, self.header, self.value, self.unit, self.quality):
            if text is not None and not plain_text(text):
                raise FixInput("A text of a reading is too long (200 characters) or broken", code="bad reading")
        if self.time is not None and not 0.0 <= self.time <= _LATEST:
            raise FixInput(f"A reading's time of {self.time:g} s since 1970 cannot be", code="bad time")
        if self.utc_offset is not None and not abs(self.utc_offset) <= _LARGEST_OFFSET:
            raise FixInput(f"An offset of {self.utc_offset:g} s from UTC cannot be", code="bad time")
        if self.unit and self.unit not in KNOWN_UNITS:
            raise unknown_unit(self.unit)
        if self.read_by not in READERS:
            raise FixInput(f"A reading is read by {', '.join(READERS)}, not by “{self.read_by}”", code="bad reading")


def plain_text(text: str) -> bool:
    """Tell whether a text is short and whole enough to be kept."""
    return len(text) <= _LONGEST_TEXT and "\0" not in text and not any("\ud800" <= c <= "\udfff" for c in text)


@dataclass(frozen=True, slots=True)
class Silent:
    """A source fell silent. since: when it last spoke [s since the epoch]; why: one sentence, as far as is known."""

    source: str
    since: float
    why: str


@dataclass(frozen=True, slots=True)
class Speaking:
    """A source that was silent speaks again. at [s since the epoch]; away: how long it was silent [s]."""

    source: str
    at: float
    away: float


@dataclass(frozen=True, slots=True)
class Refused:
    """A source sends something that cannot be used. header: the series, "" for all; text: one sentence. Said once."""

    source: str
    header: str
    text: str


@dataclass(frozen=True, slots=True)
class Kept:
    """Readings of one life of a source that are safe: all numbers from first to last. source: as in its readings."""

    source: str
    boot_id: str
    first: int
    last: int


#: What comes out of a source: readings that arrived together, or what has to be said about it.
Batch = tuple[Reading, ...]
Arrival = Batch | Silent | Speaking | Refused
State = Literal["connecting", "connected", "silent", "failed", "stopped"]


@dataclass(frozen=True, slots=True)
class Retry:
    """Pauses between attempts to connect [s]: the first, and the longest; each is twice the one before."""

    first: float = 0.25
    longest: float = 15.0

    def __post_init__(self) -> None:
        if not 0.0 < self.first <= self.longest:
            raise ValueError(f"pauses must be above 0 s and not shrink, got {self.first} s to {self.longest} s")


class Ended(Exception):
    """A session raises it when its source has nothing more to say and must not be asked again."""


class Numbering:
    """Numbers for a source that brings none of its own: a boot id for this life, and a count.

    boot_id: a new random one by default.
    """

    def __init__(self, boot_id: str | None = None) -> None:
        self.boot_id = boot_id if boot_id is not None else new_boot_id()
        self._next = 0

    def take(self, count: int = 1) -> int:
        """Return the first of the next `count` numbers."""
        first = self._next
        self._next += count
        return first


def new_boot_id() -> str:
    """Return a boot id that no other life of a source has."""
    return secrets.token_hex(8)


class Source(ABC):
    """A live source. Use `async for arrival in source.readings()`; close it with `close()`.

    A subclass sets `kind` and implements `session`, one connection from start to end. Errors of `world_errors` that
    leave a session are the world's: the link is made again. FixInput, InstallPart and NotAllowed are a person's to mend
    and leave `readings()`, as do mistakes of the program.
    """

    #: Word for this kind of source.
    kind: ClassVar[str]
    #: Errors after which the link is made again.
    world_errors: tuple[type[Exception], ...] = (OSError, EOFError, TimeoutError, TryAgain)

    def __init__(
        self,
        name: str,
        *,
        silent_after: float = 5.0,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        """name: of the source, for people and in its readings. silent_after: without a reading for so long [s], it is
        silent. clock: gives the time [s since the epoch]."""
        if not name.strip() or not plain_text(name):
            raise FixInput("A source needs a name of at most 200 characters", code="bad source", where="name")
        if not (math.isfinite(silent_after) and silent_after > 0.0):
            raise FixInput(f"A source cannot be silent after {silent_after} s", code="bad source", where="silent_after")
        self.name = name
        self.silent_after = silent_after
        self.retry = retry or Retry()
        self.clock = clock
        self.state: State = "connecting"
        self.why = "No reading has come yet"
        self.last_at: float | None = None
        self.count = 0
        self._queue: asyncio.Queue[Batch | Refused] = asyncio.Queue(64)
        self._pump: asyncio.Task[None] | None = None
        self._closing = asyncio.Event()
        self._said: set[tuple[str, str]] = set()

    @abstractmethod
    def session(self) -> AsyncGenerator[Sequence[Reading] | Refused, None]:
        """Connect, then yield readings as they come. Return when the other side ended the link."""

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        """Tell the source that readings are safe. A source that keeps its readings until then overrides this."""
        return  # most instruments forget a reading as soon as it is sent: there is nobody to tell

    async def readings(self) -> AsyncIterator[Arrival]:
        """Yield what arrives until the source is closed. May be called once."""
        if self._pump is not None:
            raise RuntimeError("a source is read once")
        self._pump = asyncio.create_task(self._keep_connected(), name=f"source {self.name}")
        closing = asyncio.create_task(self._closing.wait())
        coming: asyncio.Task[Batch | Refused] | None = None
        spoke = began = self.clock()
        silent = False
        try:
            while True:
                if coming is None:
                    coming = asyncio.create_task(self._queue.get())
                patience = None if silent else max(spoke + self.silent_after - self.clock(), 0.0)
                await asyncio.wait((coming, closing, self._pump), timeout=patience, return_when=asyncio.FIRST_COMPLETED)
                if coming.done():
                    item, coming = coming.result(), None
                    if isinstance(item, Refused):
                        yield item
                        continue
                    now = self.clock()
                    if silent:
                        silent = False
                        yield Speaking(self.name, now, now - spoke)
                    spoke = self.last_at = now
                    self.state, self.why = "connected", ""
                    self.count += len(item)
                    yield item
                elif self._closing.is_set():
                    return
                elif self._pump.done():
                    self._pump.result()  # raises what ended it
                    return
                elif not silent and self.clock() >= spoke + self.silent_after:
                    silent = True
                    self.state = "silent"
                    yield Silent(self.name, self.last_at if self.last_at is not None else began, self.why or _QUIET)
        except SteadfeedError as error:
            self.state, self.why = "failed", error.message
            raise
        finally:
            left = [task for task in (coming, closing, self._pump) if task is not None]
            for task in left:
                task.cancel()
            await asyncio.gather(*left, return_exceptions=True)
            if self.state != "failed":
                self.state, self.why = "stopped", ""

    async def close(self) -> None:
        """End the link. `readings()` ends too; whoever iterates it should run on to its end."""
        self._closing.set()
        if self._pump is not None:
            self._pump.cancel()
            await asyncio.gather(self._pump, return_exceptions=True)

    async def _keep_connected(self) -> None:
        pause = self.retry.first
        while True:
            try:
                async with contextlib.aclosing(self.session()) as session:
                    async for item in session:
                        if isinstance(item, Refused):
                            await self._refuse(item)
                        elif item:
                            pause = self.retry.first
                            await self._queue.put(tuple(item))
                self.why = "The other side ended the connection"
            except Ended:
                await self._drained()
                return
            except self.world_errors as error:
                self.why = say_error(error)
            await asyncio.sleep(pause)
            pause = min(2.0 * pause, self.retry.longest)

    async def _drained(self) -> None:
        while not self._queue.empty():
            await asyncio.sleep(0.001)

    async def _refuse(self, refused: Refused) -> None:
        key = (refused.header, refused.text)
        if key not in self._said and len(self._said) < 500:
            self._said.add(key)
            await self._queue.put(refused)


_QUIET: Final = "No reading comes, though the connection stands"


def say_error(error: Exception) -> str:
    """Put an error of the world into one sentence without a full stop."""
    if isinstance(error, SteadfeedError):
        return error.message
    if isinstance(error, TimeoutError):
        return "No answer in time"
    if isinstance(error, ConnectionRefusedError):
        return "Nobody answers at that address"
    said = (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__
    said = said.strip().splitlines()[0][:_LONGEST_TEXT].rstrip(".")
    return said[:1].upper() + said[1:]
