"""Readings from any gateway: one JSON message over HTTP, WebSocket or MQTT, decoded and answered by pure functions.

    {"source": "gauge set 3", "boot_id": "9f31", "readings": [
        {"sequence": 17, "header": "suction", "value": 118.2, "unit": "psig", "time": "2026-07-25T17:20:00.25Z"}]}

docs/how-to/http-ingest.md is the description for people who build gateways. The web layer mounts it; MQTT carries the
same message.
"""

from __future__ import annotations

import asyncio
import json
import math
import threading
import time
from collections.abc import AsyncGenerator, Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, ClassVar, Final, TypeGuard

from steadfeed.capture.clock import parse_stamp
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.reading_units import unit_of
from steadfeed.capture.source import Kept, Reading, Refused, Retry, Source
from steadfeed.circuit.equipment import PressureReference
from steadfeed.errors import FixInput, SteadfeedError, TryAgain

#: Longest message [bytes] and most readings in one.
LONGEST_MESSAGE: Final = 2**20
MOST_READINGS: Final = 2000
_KEYS: Final = frozenset({"sequence", "header", "value", "unit", "time", "quality", "read_by"})


@dataclass(frozen=True, slots=True)
class Message:
    """A message as understood. readings: usable ones; refused: (sequence, why) of the others, each with one sentence."""

    source: str
    boot_id: str
    readings: tuple[Reading, ...]
    refused: tuple[tuple[int, Refused], ...] = ()


class _Number(str):
    """A number with the digits that stood in the message: 118.20 is finer than 118.2."""

    __slots__ = ()


def decode_message(payload: bytes | str, reference: PressureReference = "unknown") -> Message:
    """Read one message. reference: what a bare "psi" of this gateway counts from.

    A reading with an unknown unit or a bad value is refused by itself; the rest of the message stands. Raises FixInput
    when the message as a whole cannot be read.
    """
    if len(payload) > LONGEST_MESSAGE:
        raise FixInput(f"A message holds at most {LONGEST_MESSAGE // 1024} KB; send fewer readings", code="too big")
    try:
        text = payload.decode("utf-8") if isinstance(payload, bytes) else payload
        found = json.loads(text, parse_float=_Number, parse_int=_Number, parse_constant=lambda _: None)
    except (ValueError, RecursionError):
        raise FixInput("The message is no JSON in UTF-8", code="bad message") from None
    return message_of(found, reference)


def message_of(found: object, reference: PressureReference = "unknown") -> Message:
    """Read one message that was parsed from JSON already. See `decode_message`."""
    if not isinstance(found, Mapping):
        raise FixInput("A message is a JSON object with source, boot_id and readings", code="bad message")
    source, boot_id = (_name(found, key) for key in ("source", "boot_id"))
    rows = found.get("readings")
    if not isinstance(rows, Sequence) or isinstance(rows, str):
        raise FixInput("A message needs a list of readings", code="bad message", where="readings")
    if len(rows) > MOST_READINGS:
        raise FixInput(f"A message holds at most {MOST_READINGS} readings, not {len(rows)}", code="too big")
    readings: list[Reading] = []
    refused: list[tuple[int, Refused]] = []
    for row in rows:
        number = _sequence(row)
        try:
            readings.append(_reading(source, boot_id, number, row, reference))
        except FixInput as error:
            header = row.get("header")
            refused.append((number, Refused(source, header[:200] if isinstance(header, str) else "", error.message)))
    return Message(source, boot_id, tuple(readings), tuple(refused))


def _name(found: Mapping[Any, Any], key: str) -> str:
    value = found.get(key)
    if not _is_text(value) or not value.strip():
        raise FixInput(f"A message needs its {key} as a text", code="bad message", where=key)
    return str(value.strip())


def _is_text(value: object) -> TypeGuard[str]:
    return isinstance(value, str) and not isinstance(value, _Number)


def _sequence(row: object) -> int:
    """Read the number of a reading: without it a reading cannot even be refused."""
    value = row.get("sequence") if isinstance(row, Mapping) else None
    if isinstance(value, int) and not isinstance(value, bool):
        number = value
    elif isinstance(value, _Number) and value.isdigit() and len(value) < 20:
        number = int(value)
    else:
        number = -1
    if not 0 <= number < 2**63:
        raise FixInput("Each reading needs its sequence, a whole number from 0", code="bad message", where="sequence")
    return number


def _reading(source: str, boot_id: str, number: int, row: Mapping[str, Any], reference: PressureReference) -> Reading:
    strange = set(row) - _KEYS
    if strange:
        raise FixInput(f"A reading has no “{sorted(map(str, strange))[0][:40]}”", code="bad reading")
    header = row.get("header")
    if not _is_text(header) or not header.strip():
        raise FixInput("A reading needs a header: the name of its series", code="bad reading")
    for key in ("unit", "quality", "read_by"):
        if row.get(key) is not None and not _is_text(row[key]):
            raise FixInput(f"The {key} of “{header[:40]}” is no text", code="bad reading")
    moment, offset = moment_of(row.get("time"), header)
    return Reading(
        source=source,
        boot_id=boot_id,
        sequence=number,
        header=header.strip(),
        value=value_text(row.get("value"), header),
        unit=unit_of(row.get("unit") or "", reference)[0],
        time=moment,
        utc_offset=offset,
        quality=row.get("quality") or None,
        read_by=row.get("read_by") or "instrument",
    )


def value_text(value: object, header: str) -> str | None:
    """Return a value as the text of a number, None for a missing one. Raises FixInput for anything else."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise FixInput(f"The value of “{header[:40]}” is no number", code="bad number")
    text = str(value).strip()
    if text.lower() in ("", "nan", "ol", "---", "null", "none"):
        return None
    try:
        number = float(text) if "_" not in text else math.nan
    except (ValueError, OverflowError):
        number = math.nan
    if not math.isfinite(number) or not text.isascii() or len(text) > 40:
        raise FixInput(f"The value of “{header[:40]}” is no number", code="bad number")
    return text


def moment_of(value: object, header: str) -> tuple[float | None, float | None]:
    """Return (time [s since the epoch], offset from UTC [s]) of a number of seconds or an ISO 8601 text with offset."""
    if value is None:
        return None, None
    if isinstance(value, _Number | int | float) and not isinstance(value, bool):
        seconds = float(value) if len(str(value)) < 40 else math.nan
        if math.isfinite(seconds):
            return seconds, None
    elif isinstance(value, str):
        wall, offset = parse_stamp(value[:60])
        if math.isfinite(wall) and math.isfinite(offset):
            return wall - offset, offset
    raise FixInput(
        f"The time of “{header[:40]}” must be seconds since 1970 or ISO 8601 with an offset", code="bad time"
    )


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a message, once its readings are on the disk.

    written: new; known: were there already; conflicts: their number was used before for another value; refused: one
    sentence each. kept: the numbers that the gateway may forget now, refused ones among them.
    """

    written: int
    known: int
    conflicts: int
    refused: tuple[str, ...]
    kept: tuple[Kept, ...]

    @property
    def acknowledged(self) -> int | None:
        """Highest of the numbers kept, None when the message held none."""
        return max((kept.last for kept in self.kept), default=None)


def encode_answer(message: Message, answer: Answer) -> bytes:
    """Write the answer as the JSON that goes back over a WebSocket or the topic of acknowledgements."""
    return json.dumps(
        {
            "source": message.source,
            "boot_id": message.boot_id,
            "kept": [[kept.first, kept.last] for kept in answer.kept],
            "written": answer.written,
            "known": answer.known,
            "conflicts": answer.conflicts,
            "refused": list(answer.refused),
        },
        ensure_ascii=False,
    ).encode()


def encode_problem(error: SteadfeedError) -> bytes:
    """Write the answer to a message that could not be taken as a whole: nothing of it was kept."""
    return json.dumps({"error": error.code, "message": error.message, "kept": []}, ensure_ascii=False).encode()


def kept_of(message: Message) -> tuple[Kept, ...]:
    """Return the numbers of a message as ranges."""
    numbers = Ranges()
    for reading in message.readings:
        numbers.add(reading.sequence)
    for number, _ in message.refused:
        numbers.add(number)
    return tuple(Kept(message.source, message.boot_id, first, last) for first, last in numbers)


@dataclass(frozen=True, slots=True)
class Tally:
    """What became of readings that are safe now: new ones, ones that were there, numbers used before for another value."""

    written: int = 0
    known: int = 0
    conflicts: int = 0


@dataclass(slots=True)
class _Waiting:
    """A delivery whose numbers are not all safe yet."""

    readings: tuple[Reading, ...]
    left: set[tuple[tuple[str, str], int]]
    tally: Tally | None = None
    done: Future[Tally] = field(default_factory=Future)


class PushSource(Source):
    """A source whose readings are handed in by whoever received them: the web layer, a hand pad.

    `deliver` may be called from any thread; its future is done once all of the readings are on the disk.
    """

    kind: ClassVar[str] = "ingest"

    def __init__(
        self,
        name: str,
        *,
        silent_after: float = 30.0,
        retry: Retry | None = None,
        clock: Callable[[], float] = time.time,
    ) -> None:
        """See Source. A gateway may send every ten seconds or so."""
        super().__init__(name, silent_after=silent_after, retry=retry, clock=clock)
        self._inbox: asyncio.Queue[tuple[Reading, ...] | Refused] = asyncio.Queue()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._before: list[tuple[Reading, ...] | Refused] = []
        self._waiting: dict[tuple[str, str], list[_Waiting]] = {}
        self._over = False
        self._lock = threading.Lock()

    def deliver(self, readings: Sequence[Reading], refused: Sequence[Refused] = ()) -> Future[Tally]:
        """Hand readings in. The future is done once all are safe; it fails with TryAgain when the source is closed."""
        ours = tuple(readings)
        waiting = _Waiting(ours, {((r.source, r.boot_id), r.sequence) for r in ours})
        with self._lock:
            if self._over:
                waiting.done.set_exception(_closed(self.name))
                return waiting.done
            if not ours:
                waiting.done.set_result(Tally())
            for life in {(reading.source, reading.boot_id) for reading in ours}:
                self._waiting.setdefault(life, []).append(waiting)
            for item in (*refused, *((ours,) if ours else ())):
                if self._loop is None:
                    self._before.append(item)
                else:
                    self._loop.call_soon_threadsafe(self._inbox.put_nowait, item)
        return waiting.done

    def account(self, batch: Sequence[Reading], tally: Tally) -> None:
        """Say what became of a batch, as it came out of `readings`, before its numbers are acknowledged.

        Without that, its readings count as written.
        """
        with self._lock:
            for reading in batch[:1]:
                for waiting in self._waiting.get((reading.source, reading.boot_id), ()):
                    if waiting.readings is batch:
                        waiting.tally = tally

    def forget(self, done: Future[Tally]) -> None:
        """Wait no longer for a delivery whose sender was told to send it again."""
        with self._lock:
            for life, held in list(self._waiting.items()):
                left = [waiting for waiting in held if waiting.done is not done]
                if left:
                    self._waiting[life] = left
                else:
                    del self._waiting[life]

    async def session(self) -> AsyncGenerator[Sequence[Reading] | Refused, None]:
        """Yield what is handed in."""
        with self._lock:
            self._loop = asyncio.get_running_loop()
            for item in self._before:
                self._inbox.put_nowait(item)
            self._before.clear()
        while True:
            yield await self._inbox.get()

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        """Resolve the deliveries whose readings are all safe."""
        safe: list[_Waiting] = []
        with self._lock:
            for numbers in kept:
                life = (numbers.source, numbers.boot_id)
                held = self._waiting.pop(life, [])
                for waiting in held:
                    waiting.left = {
                        (of, n) for of, n in waiting.left if of != life or not numbers.first <= n <= numbers.last
                    }
                safe += [waiting for waiting in held if not waiting.left]
                still = [waiting for waiting in held if waiting.left]
                if still:
                    self._waiting[life] = still
        for waiting in safe:
            if not waiting.done.done():
                waiting.done.set_result(waiting.tally or Tally(written=len(waiting.readings)))

    async def close(self) -> None:
        """End the source; what is not safe by now fails, so that its sender sends it again."""
        with self._lock:
            self._over = True
        await super().close()
        with self._lock:
            left = [waiting for held in self._waiting.values() for waiting in held]
            self._waiting.clear()
        for waiting in left:
            if not waiting.done.done():
                waiting.done.set_exception(_closed(self.name))


def _closed(name: str) -> TryAgain:
    return TryAgain(f"“{name}” was closed before its readings were kept; send again", code="source closed")
