"""The recorder's way to the store: readings as the sources gave them, to rows that are kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from typing import TYPE_CHECKING

from steadfeed.capture.channel_map import Placed
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.source import READERS, Reading

if TYPE_CHECKING:
    from steadfeed.capture.recorder import Receipt
    from steadfeed.records.readings import RawReading, Stored
    from steadfeed.records.store import Store
    from steadfeed.records.writer import GroupWriter


class RecordSink:
    """A sink for `capture.recorder.Recorder` that writes to a store by group commit.

    store, writer: opened and closed by the caller; one writer serves any number of recorders.
    """

    def __init__(self, store: Store, writer: GroupWriter) -> None:
        self._store = store
        self._writer = writer

    def append(self, challenge: str, readings: Sequence[Placed], received_at: float) -> Future[Receipt]:
        """Hand readings to the writer; the future is done after the commit."""
        from typing import cast

        kept = self._writer.append(challenge, [raw_reading(placed) for placed in readings], received_at)
        return cast("Future[Receipt]", kept)

    def numbers(self, challenge: str, source: str, boot_id: str) -> tuple[Ranges, Ranges]:
        """Return which numbers of one life of a source are kept: (on this challenge, on others)."""
        from steadfeed.records.numbering import kept_numbers

        here, elsewhere = Ranges(), Ranges()
        with self._store.reading() as t:
            for of, number in kept_numbers(t, source, boot_id):
                (here if of == challenge else elsewhere).add(number)
        return here, elsewhere

    def readings(self, challenge: str) -> Iterator[tuple[Placed, float]]:
        """Yield the kept readings of a challenge, each with when it was received."""
        from steadfeed.records.readings import readings_of

        with self._store.reading() as t:
            for stored in readings_of(t, [challenge]):
                yield placed_reading(stored), stored.received_at


def raw_reading(placed: Placed) -> RawReading:
    """Return a placed reading as the records keep it."""
    from steadfeed.records.readings import RawReading

    r = placed.reading
    return RawReading(
        source=r.source,
        boot_id=r.boot_id,
        sequence=r.sequence,
        channel=placed.channel,
        value=r.value,
        unit=placed.unit,
        device_time=r.time,
        utc_offset=r.utc_offset,
        header=r.header,
        quality=r.quality,
        read_by=r.read_by,
    )


def placed_reading(stored: Stored) -> Placed:
    """Return a kept reading as the recorder takes it."""
    r = stored.reading
    reading = Reading(
        source=r.source,
        boot_id=r.boot_id,
        sequence=r.sequence,
        header=r.header or r.channel or "reading",
        value=r.value,
        unit=r.unit,
        time=r.device_time,
        utc_offset=r.utc_offset,
        quality=r.quality,
        read_by=r.read_by if r.read_by in READERS else "instrument",
    )
    return Placed(reading, r.channel, r.unit)
