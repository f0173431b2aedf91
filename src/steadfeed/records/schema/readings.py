"""Raw readings, exactly as received.

A log file is kept byte for byte (`raw_file`). Readings that arrive one by one are rows of `reading`, identified by the
source's own boot id and sequence, so that the same reading sent twice is kept once. The small integer keys are local
to one store; they are never exchanged.
"""

from __future__ import annotations

import sqlalchemy as sa

from steadfeed.records.schema.columns import LOCAL_KEY, PLAIN_TEXT, col, metadata, moment, number, ref, text


def _local_key(meaning: str) -> sa.Column[int]:
    return sa.Column("key", LOCAL_KEY, primary_key=True, autoincrement=True, comment=meaning, info={})


raw_file = sa.Table(
    "raw_file",
    metadata,
    sa.Column("sha256", sa.String(64), primary_key=True, comment="hash of the file's bytes", info={}),
    col("size", sa.BigInteger(), "size of the file", unit="bytes", needed=True),
    col("packed", sa.LargeBinary(), "the file's bytes, packed with zlib", needed=True),
    moment("received_at", "received at", needed=True),
)
stream = sa.Table(
    "stream",
    metadata,
    _local_key("local key"),
    text("source", "name of the source, as an instrument's serial", needed=True),
    text("boot_id", "one life of the source: changes when it restarts its numbering", needed=True),
    sa.UniqueConstraint("source", "boot_id"),
)
feed = sa.Table(
    "feed",
    metadata,
    _local_key("local key"),
    col("stream_key", LOCAL_KEY, "from which stream", sa.ForeignKey("stream.key"), needed=True),
    ref("challenge_id", "challenge", "on which challenge", needed=True, index=True),
    text("channel", "quantity and place; empty: not mapped", needed=True),
    text("header", "name as received", needed=True),
    text("unit", "unit as received", needed=True),
    text("read_by", "who or what read it", needed=True),
    sa.UniqueConstraint("stream_key", "challenge_id", "channel", "header", "unit", "read_by"),
)
reading_batch = sa.Table(
    "reading_batch",
    metadata,
    _local_key("local key"),
    moment("committed_at", "handed to the disk at", needed=True),
    col("readings", sa.Integer(), "readings in it", needed=True),
    col("sha256", sa.String(64), "hash of these readings, to notice a changed byte", needed=True),
)
reading = sa.Table(
    "reading",
    metadata,
    sa.Column(
        "stream_key",
        LOCAL_KEY,
        sa.ForeignKey("stream.key"),
        primary_key=True,
        autoincrement=False,
        comment="from which stream",
        info={},
    ),
    sa.Column(
        "sequence",
        sa.BigInteger(),
        primary_key=True,
        autoincrement=False,
        comment="number that the source gave it",
        info={},
    ),
    col("feed_key", LOCAL_KEY, "which channel of which challenge", sa.ForeignKey("feed.key"), needed=True),
    text("value", "value as received; empty: the source sent none"),
    moment("device_time", "taken at, by the clock of the source"),
    number("utc_offset", "local time minus UTC at the source", "s"),
    moment("received_at", "received at", needed=True),
    text("quality", "what the source says about it, or “same” for read again, unchanged"),
    col("batch_key", LOCAL_KEY, "committed with which batch", sa.ForeignKey("reading_batch.key"), needed=True),
    sa.Index("ix_reading_feed_key", "feed_key"),
    sa.Index("ix_reading_batch_key", "batch_key"),
    sqlite_with_rowid=False,
)
reading_conflict = sa.Table(
    "reading_conflict",
    metadata,
    _local_key("local key"),
    text("source", "name of the source", needed=True),
    text("boot_id", "one life of the source", needed=True),
    col("sequence", sa.BigInteger(), "number that the source used twice", needed=True),
    text("reading", "the second reading, which differs from the kept one (JSON object)", json=True, needed=True),
    moment("received_at", "received at", needed=True),
)
sent_mark = sa.Table(
    "sent_mark",
    metadata,
    sa.Column("peer", sa.String(120), primary_key=True, comment="who has them", info={}),
    sa.Column(
        "stream_key",
        LOCAL_KEY,
        sa.ForeignKey("stream.key"),
        primary_key=True,
        autoincrement=False,
        comment="of which stream",
        info={},
    ),
    col("sequence", sa.BigInteger(), "every reading up to this number is there", needed=True),
)
search_word = sa.Table(
    "search_word",
    metadata,
    sa.Column("word", PLAIN_TEXT, primary_key=True, comment="word in lower case", info={}),
    sa.Column(
        "unit_id", sa.String(36), sa.ForeignKey("unit.id"), primary_key=True, comment="unit that it finds", info={}
    ),
    sa.Index("ix_search_word_unit_id", "unit_id"),
)
