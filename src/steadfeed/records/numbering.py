"""Which numbers of a source are kept, so that a recorder knows what comes a second time."""

from __future__ import annotations

from collections.abc import Iterator

import sqlalchemy as sa

from steadfeed.records.schema import table

_STREAM, _FEED, _READING = table("stream"), table("feed"), table("reading")


def kept_numbers(t: sa.Connection, source: str, boot_id: str) -> Iterator[tuple[str, int]]:
    """Yield (challenge, number) of every kept reading of one life of a source, in order of the numbers."""
    query = (
        sa.select(_FEED.c.challenge_id, _READING.c.sequence)
        .select_from(
            _STREAM.join(_READING, _READING.c.stream_key == _STREAM.c.key).join(
                _FEED, _FEED.c.key == _READING.c.feed_key
            )
        )
        .where(_STREAM.c.source == source, _STREAM.c.boot_id == boot_id)
        .order_by(_READING.c.sequence)
    )
    for row in t.execute(query):
        yield row.challenge_id, int(row.sequence)
