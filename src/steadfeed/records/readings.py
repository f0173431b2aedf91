"""Raw readings: written as received, known by the source's own numbering, read back in order."""

from __future__ import annotations

import hashlib
import json
import math
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from steadfeed.errors import FixInput
from steadfeed.records.rows import storable
from steadfeed.records.schema import table

_STREAM, _FEED, _READING = table("stream"), table("feed"), table("reading")
_BATCH, _CONFLICT, _FILE = table("reading_batch"), table("reading_conflict"), table("raw_file")
_CHALLENGE: Final = table("challenge")
_BIGGEST: Final = 2**63 - 1


@dataclass(frozen=True, slots=True)
class RawReading:
    """One reading exactly as its source sent it.

    source: name of the source; boot_id: one life of it, during which its numbering counts up; sequence: its number.
    channel: quantity and place it was mapped to ("" when not mapped); header, unit: as received. value: text as
    received, None when the source sent none. device_time [s since the Unix epoch, UTC] and utc_offset (local minus
    UTC) [s]: by the clock of the source. quality: what the source says about it. read_by: person, photo, instrument.
    """

    source: str
    boot_id: str
    sequence: int
    channel: str
    value: str | None
    unit: str
    device_time: float | None = None
    utc_offset: float | None = None
    header: str = ""
    quality: str | None = None
    read_by: str = ""

    def __post_init__(self) -> None:
        if not self.source or not self.boot_id:
            raise FixInput("A reading needs its source and the source's boot id", code="bad reading")
        if not 0 <= self.sequence <= _BIGGEST:
            raise FixInput(f"A reading's sequence counts from 0; {self.sequence} is none", code="bad reading")
        for text in (self.source, self.boot_id, self.channel, self.value or "", self.unit, self.header, self.read_by):
            if len(text) > 200 or not storable(text):
                raise FixInput("A text of a reading is too long (200 characters) or broken", code="bad reading")
        for moment in (self.device_time, self.utc_offset):
            if moment is not None and not math.isfinite(moment):
                raise FixInput("A reading's time must be a number or missing", code="bad reading")


@dataclass(frozen=True, slots=True)
class Stored:
    """A reading as the store holds it: the reading, its challenge, and when it was received [s since the epoch]."""

    challenge_id: str
    reading: RawReading
    received_at: float


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of readings: written now, known already, or refused because the number was used for another value."""

    written: int
    known: int
    conflicts: int


#: What becomes of a reading.
WRITTEN, KNOWN, CONFLICT = "written", "known", "conflict"
#: A reading on its way: challenge, reading, received at [s since the epoch].
Item = tuple[str, RawReading, float]


class KeyCache:
    """Local keys of streams and feeds, remembered between transactions; only what was committed is kept."""

    def __init__(self) -> None:
        self._streams: dict[tuple[str, str], int] = {}
        self._feeds: dict[tuple[int, str, str, str, str, str], int] = {}
        self._new_streams: dict[tuple[str, str], int] = {}
        self._new_feeds: dict[tuple[int, str, str, str, str, str], int] = {}

    def stream(self, t: sa.Connection, source: str, boot_id: str) -> int:
        """Return the key of a stream, made when it is new."""
        wanted = (source, boot_id)
        found = self._streams.get(wanted) or self._new_streams.get(wanted)
        if found is None:
            found = _key(t, _STREAM, {"source": source, "boot_id": boot_id})
            self._new_streams[wanted] = found
        return found

    def feed(self, t: sa.Connection, stream: int, challenge_id: str, r: RawReading) -> int:
        """Return the key of one channel of a stream on a challenge, made when it is new."""
        wanted = (stream, challenge_id, r.channel, r.header, r.unit, r.read_by)
        found = self._feeds.get(wanted) or self._new_feeds.get(wanted)
        if found is None:
            if t.execute(sa.select(_CHALLENGE.c.id).where(_CHALLENGE.c.id == challenge_id)).first() is None:
                raise FixInput(f"There is no challenge {challenge_id}", code="no such challenge")
            names = ("stream_key", "challenge_id", "channel", "header", "unit", "read_by")
            found = _key(t, _FEED, dict(zip(names, wanted, strict=True)))
            self._new_feeds[wanted] = found
        return found

    def committed(self, kept: bool) -> None:
        """Keep or forget the keys that were made in the transaction that just ended."""
        if kept:
            self._streams.update(self._new_streams)
            self._feeds.update(self._new_feeds)
        self._new_streams.clear()
        self._new_feeds.clear()


def _key(t: sa.Connection, where: sa.Table, values: dict[str, Any]) -> int:
    match = sa.and_(*(where.c[name] == value for name, value in values.items()))
    found = t.execute(sa.select(where.c.key).where(match)).scalar_one_or_none()
    if found is None:
        t.execute(_insert(t, where).on_conflict_do_nothing(), [values])
        found = t.execute(sa.select(where.c.key).where(match)).scalar_one()
    return int(found)


def _insert(t: sa.Connection, where: sa.Table) -> Any:
    return (sqlite if t.dialect.name == "sqlite" else postgresql).insert(where)


def append(
    t: sa.Connection,
    challenge_id: str,
    readings: Sequence[RawReading],
    received_at: float,
    cache: KeyCache | None = None,
) -> Receipt:
    """Write readings of one challenge in the open transaction. See `append_all`."""
    return receipt(append_all(t, [(challenge_id, r, received_at) for r in readings], received_at, cache))


def receipt(outcome: Sequence[str]) -> Receipt:
    """Count what became of readings."""
    return Receipt(outcome.count(WRITTEN), outcome.count(KNOWN), outcome.count(CONFLICT))


def append_all(t: sa.Connection, items: Sequence[Item], now: float, cache: KeyCache | None = None) -> list[str]:
    """Write readings (challenge, reading, received at) in the open transaction as one batch with its hash.

    A reading that is there already, by (source, boot id, sequence), is left alone. One that differs from the kept one
    is put aside as a conflict, never over it. Return what became of each: "written", "known" or "conflict".
    """
    own = cache or KeyCache()
    numbers = [(own.stream(t, r.source, r.boot_id), r.sequence) for _, r, _ in items]
    there = _already_there(t, numbers)
    fresh: dict[tuple[int, int], Item] = {}
    outcome: list[str] = []
    for number, item in zip(numbers, items, strict=True):
        kept: Stored | None = there.get(number)
        if kept is None and number in fresh:
            kept = Stored(*fresh[number])
        if kept is None:
            fresh[number] = item
            outcome.append(WRITTEN)
        elif (kept.challenge_id, kept.reading) == item[:2]:
            outcome.append(KNOWN)
        else:
            _put_aside(t, item)
            outcome.append(CONFLICT)
    if fresh:
        _write_batch(t, fresh, now, own)
    return outcome


def _write_batch(t: sa.Connection, fresh: dict[tuple[int, int], Item], now: float, cache: KeyCache) -> None:
    lines = sorted(_line(challenge, r, at) for challenge, r, at in fresh.values())
    values = {"committed_at": now, "readings": len(fresh), "sha256": batch_hash(lines)}
    batch = t.execute(_BATCH.insert().returning(_BATCH.c.key), values).scalar_one()
    t.execute(
        _READING.insert(),
        [
            {
                "stream_key": stream,
                "sequence": sequence,
                "feed_key": cache.feed(t, stream, challenge, r),
                "value": r.value,
                "device_time": r.device_time,
                "utc_offset": r.utc_offset,
                "received_at": at,
                "quality": r.quality,
                "batch_key": batch,
            }
            for (stream, sequence), (challenge, r, at) in fresh.items()
        ],
    )


def _line(challenge_id: str, r: RawReading, received_at: float) -> str:
    return "\x1f".join(
        (
            r.source, r.boot_id, str(r.sequence), challenge_id, r.channel, r.header, r.unit, repr(r.value),
            repr(r.device_time), repr(r.utc_offset), repr(float(received_at)), repr(r.quality), r.read_by,
        )
    )  # fmt: skip


def batch_hash(lines: Sequence[str]) -> str:
    """Return the hash over the sorted lines of a batch."""
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _put_aside(t: sa.Connection, item: Item) -> None:
    """Keep a second, different reading under a number that is taken, once."""
    challenge, r, at = item
    second = json.dumps({"challenge_id": challenge, **asdict(r)}, ensure_ascii=False, sort_keys=True)
    same_number = (
        _CONFLICT.c.source == r.source,
        _CONFLICT.c.boot_id == r.boot_id,
        _CONFLICT.c.sequence == r.sequence,
    )
    if t.execute(sa.select(_CONFLICT.c.key).where(*same_number, _CONFLICT.c.reading == second)).first() is None:
        values = {"source": r.source, "boot_id": r.boot_id, "sequence": r.sequence, "reading": second}
        t.execute(_CONFLICT.insert().values(**values, received_at=at))


def _already_there(t: sa.Connection, wanted: Sequence[tuple[int, int]]) -> dict[tuple[int, int], Stored]:
    """Return those of the wanted readings that the store has, keeping other writers off their streams meanwhile."""
    found: dict[tuple[int, int], Stored] = {}
    numbers: dict[int, list[int]] = {}
    for stream, sequence in wanted:
        numbers.setdefault(stream, []).append(sequence)
    for stream in sorted(numbers):
        if t.dialect.name == "postgresql":
            t.execute(sa.text("SELECT pg_advisory_xact_lock(5152, :stream)"), {"stream": stream % 2**31})
        low, high = min(numbers[stream]), max(numbers[stream])
        between = (_READING.c.stream_key == stream, _READING.c.sequence >= low, _READING.c.sequence <= high)
        if t.execute(sa.select(_READING.c.sequence).where(*between).limit(1)).first() is None:
            continue
        for at in range(0, len(numbers[stream]), 500):
            some = numbers[stream][at : at + 500]
            query = _joined().where(_READING.c.stream_key == stream, _READING.c.sequence.in_(some))
            for row in t.execute(query):
                found[stream, row.sequence] = _stored(row)
    return found


def _joined() -> sa.Select[Any]:
    return sa.select(
        _READING, _STREAM.c.source, _STREAM.c.boot_id, _FEED.c.challenge_id, _FEED.c.channel, _FEED.c.header,
        _FEED.c.unit, _FEED.c.read_by,
    ).select_from(
        _READING.join(_FEED, _FEED.c.key == _READING.c.feed_key).join(_STREAM, _STREAM.c.key == _READING.c.stream_key)
    )  # fmt: skip


def _stored(row: sa.Row[Any]) -> Stored:
    reading = RawReading(
        source=row.source,
        boot_id=row.boot_id,
        sequence=row.sequence,
        channel=row.channel,
        value=row.value,
        unit=row.unit,
        device_time=row.device_time,
        utc_offset=row.utc_offset,
        header=row.header,
        quality=row.quality,
        read_by=row.read_by,
    )
    return Stored(row.challenge_id, reading, row.received_at)


def readings_of(t: sa.Connection, challenge_ids: Iterable[str]) -> Iterator[Stored]:
    """Yield the streamed readings of challenges, each source in its own order. (Logs are files: see `file_bytes`.)"""
    query = _joined().where(_FEED.c.challenge_id.in_(list(challenge_ids)))
    for row in t.execute(query.order_by(_STREAM.c.source, _STREAM.c.boot_id, _READING.c.sequence)):
        yield _stored(row)


def readings_in_order(t: sa.Connection) -> Iterator[Stored]:
    """Yield every streamed reading of the store, each source in its own order."""
    query = _joined().order_by(_STREAM.c.source, _STREAM.c.boot_id, _READING.c.sequence)
    for row in t.execute(query.execution_options(yield_per=2_000)):
        yield _stored(row)


def lines_by_batch(t: sa.Connection) -> Iterator[tuple[int, list[str]]]:
    """Yield each batch's key with the lines by which its readings take part in its hash."""
    query = _joined().order_by(_READING.c.batch_key).execution_options(yield_per=2_000)
    key: int | None = None
    lines: list[str] = []
    for row in t.execute(query):
        if row.batch_key != key:
            if key is not None:
                yield key, lines
            key, lines = row.batch_key, []
        stored = _stored(row)
        lines.append(_line(stored.challenge_id, stored.reading, stored.received_at))
    if key is not None:
        yield key, lines


def keep_file(t: sa.Connection, content: bytes, received_at: float) -> str:
    """Keep a file byte for byte; the same bytes are kept once. Return their SHA-256."""
    sha256 = hashlib.sha256(content).hexdigest()
    t.execute(
        _insert(t, _FILE).on_conflict_do_nothing(),
        [{"sha256": sha256, "size": len(content), "packed": zlib.compress(content, 6), "received_at": received_at}],
    )
    return sha256


def file_bytes(t: sa.Connection, sha256: str) -> bytes:
    """Return the bytes of a kept file. Raises FixInput when there is none or when they no longer match their hash."""
    packed = t.execute(sa.select(_FILE.c.packed).where(_FILE.c.sha256 == sha256)).scalar_one_or_none()
    if packed is None:
        raise FixInput(f"The store has no file {sha256[:12]}…", code="no such file")
    try:
        content = zlib.decompress(packed)
    except zlib.error:
        content = None
    if content is None or hashlib.sha256(content).hexdigest() != sha256:
        raise FixInput(f"The kept file {sha256[:12]}… no longer matches its hash", code="file damaged")
    return content
