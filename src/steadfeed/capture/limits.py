"""How much a log may hold, and the sentences for what holds more."""

from __future__ import annotations

from typing import Final

from steadfeed.errors import FixInput

#: A day at ten readings a second. A challenge lasts less than two hours.
MAX_ROWS: Final = 1_000_000
#: About MAX_ROWS rows of seven columns [bytes].
MAX_BYTES: Final = 96 * 2**20
MAX_COLUMNS: Final = 500
#: System files are typed by people [bytes].
MAX_SYSTEM_BYTES: Final = 2**20


def too_many_rows(name: str, rows: int) -> FixInput:
    """Build the error for a log with too many rows."""
    return FixInput(
        f"{name} has {rows:,} rows; at most {MAX_ROWS:,} are read: cut the log to the challenge",
        code="too many rows",
        where=name,
    )


def too_big(name: str, size: int, limit: int = MAX_BYTES) -> FixInput:
    """Build the error for a file that is too big to be read."""
    return FixInput(
        f"{name} is {size / 2**20:,.0f} MB big; at most {limit / 2**20:,.0f} MB are read: cut it to the challenge",
        code="too big",
        where=name,
    )
