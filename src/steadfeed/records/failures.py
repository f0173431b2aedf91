"""What a database says, turned into one sentence named after what the person does next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

import sqlalchemy as sa

from steadfeed.errors import FixInput, NotAllowed, SteadfeedError, TryAgain

# SQLSTATE classes of PostgreSQL (PostgreSQL manual, appendix A)
_PG_BUSY = ("40001", "40P01", "55P03", "57014")
_PG_FULL = ("53100", "53200")


@contextmanager
def in_plain_words(place: str) -> Iterator[None]:
    """Turn the errors of a database driver that leave this block into errors of steadfeed. place: names the store."""
    try:
        yield
    except (sa.exc.DBAPIError, sqlite3.Error) as error:
        raise explain(error, place) from error


def explain(error: BaseException, place: str) -> SteadfeedError:
    """Return the error of steadfeed that says what `error` of a database driver means for the person."""
    cause = error.orig if isinstance(error, sa.exc.DBAPIError) and error.orig is not None else error
    state = getattr(cause, "sqlstate", None)
    said = str(cause).strip().splitlines()[0] if str(cause).strip() else type(cause).__name__
    low = said.lower()
    if "append-only" in low:
        return NotAllowed(f"{said}: what was written down stays; withdraw it instead", code="append-only")
    if state is not None or "psycopg" in type(cause).__module__:
        return _explain_postgres(cause, state, said, place)
    if "database or disk is full" in low or "disk i/o error" in low or "unable to extend" in low:
        return TryAgain(
            f"The disk refused to store more for {place} (full, or failing): nothing written before is lost; "
            "make room and go on",
            code="store full",
            where=place,
        )
    if "locked" in low or "busy" in low:
        return TryAgain(
            f"Another program is writing to {place}; wait for it to finish or close it, then try again",
            code="store busy",
            where=place,
        )
    if "malformed" in low or "not a database" in low or "corrupt" in low:
        return damaged(place, said)
    if "readonly" in low or "read-only" in low:
        return FixInput(
            f"{place} may not be written here; ask for write permission", code="store read-only", where=place
        )
    if "unable to open" in low:
        return FixInput(f"{place} cannot be opened; check the path and its permissions", code="no store", where=place)
    return SteadfeedError(f"The store {place} answered: {said}", code="store", where=place)


def damaged(place: str, said: str) -> NotAllowed:
    """Return the error for a store file whose content is broken."""
    return NotAllowed(
        f"The store {place} is damaged ({said}); `steadfeed records check` says what can be saved",
        code="store damaged",
        where=place,
    )


def _explain_postgres(cause: BaseException, state: str | None, said: str, place: str) -> SteadfeedError:
    if state in _PG_BUSY:
        return TryAgain(f"Another writer holds these records in {place}; try again", code="store busy", where=place)
    if state in _PG_FULL:
        return TryAgain(
            f"The server of {place} has no room left: nothing written before is lost; make room and go on",
            code="store full",
            where=place,
        )
    if state is not None and state.startswith("28"):
        return FixInput(f"{place} refuses this user or password", code="store refused", where=place)
    if state == "3D000":
        return FixInput(f"The server knows no such database: {place}", code="no store", where=place)
    if state == "42501":
        return FixInput(f"This user may not do that in {place}: {said}", code="store refused", where=place)
    if state is None or state[:2] in ("08", "57"):
        return TryAgain(
            f"The server of {place} does not answer ({said}); try again", code="store unreachable", where=place
        )
    return SteadfeedError(f"The store {place} answered: {said}", code="store", where=place)
