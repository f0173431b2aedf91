"""A person at work with an open store: which store, who, on which device, at what time."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, InstallPart, NotAllowed

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.records.rows import By
    from steadfeed.records.store import Store

#: The setting that says which store is used when a command does not.
STORE_VARIABLE: Final = "STEADFEED_STORE"
#: The setting that says who works here when a command does not.
PERSON_VARIABLE: Final = "STEADFEED_PERSON"
_ID_START: Final = re.compile(r"[0-9a-f-]{4,36}")


@dataclass(frozen=True, slots=True)
class Session:
    """An open store with the person, the device and the time of this piece of work.

    now [s since the Unix epoch, UTC]; utc_offset: local time minus UTC [s].
    """

    store: Store
    now: float
    device: str
    person_id: str | None = None
    utc_offset: float = 0.0

    @property
    def by(self) -> By:
        """Who writes, on which device, when."""
        from steadfeed.records.rows import By

        return By(now=self.now, person_id=self.person_id, device=self.device)

    def at(self, moment: float) -> Session:
        """Return the same work at another moment [s since the epoch]."""
        return replace(self, now=moment)

    def close(self) -> None:
        """Close the store."""
        self.store.close()

    def __enter__(self) -> Session:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def which_store(option: str | None, settings: Mapping[str, str] = os.environ) -> str:
    """Return the store's setting: the option, else STEADFEED_STORE, else a file in the person's data folder."""
    chosen = option or settings.get(STORE_VARIABLE, "").strip()
    if chosen:
        return chosen
    try:
        import platformdirs
    except ModuleNotFoundError as error:
        raise store_part_missing() from error
    return str(Path(platformdirs.user_data_dir("steadfeed", appauthor=False)) / "records.db")


def store_part_missing() -> InstallPart:
    """Return the error for an installation without the store."""
    return InstallPart("Keeping records needs the part “store”; install steadfeed[store]", code="part missing")


def open_session(
    setting: str,
    *,
    now: float,
    device: str,
    person: str | None = None,
    utc_offset: float = 0.0,
    create: bool = True,
    upgrade: bool | None = None,
) -> Session:
    """Open a store for a piece of work. person: a name; somebody new is written down.

    Raises InstallPart without the store's parts, FixInput or NotAllowed when the store cannot be used.
    """
    try:
        from steadfeed.records.store import open_store
    except ModuleNotFoundError as error:
        if error.name and error.name.startswith("steadfeed"):
            raise
        raise store_part_missing() from error
    store = open_store(setting, create=create, upgrade=upgrade)
    session = Session(store, now, device, None, utc_offset)
    try:
        return replace(session, person_id=person_named(session, person)) if person else session
    except BaseException:
        store.close()
        raise


def person_named(session: Session, name: str) -> str:
    """Return the identity of the person with that name, written down when new.

    The same person written down on two devices has the name twice; then the earlier one counts.
    """
    from steadfeed.records import rows

    name = name.strip()
    if not name:
        raise FixInput("A name is empty", code="missing field")
    with session.store.reading() as t:
        people = rows.find(t, "person", order="created_at id")
    known = [p["id"] for p in people if (p["name"] or "").casefold() == name.casefold()]
    if known:
        return str(known[0])
    if _ID_START.fullmatch(name.lower()) and len(name) == 36:
        with session.store.reading() as t:
            return str(rows.get(t, "person", name.lower())["id"])
    with session.store.writing() as t:
        return rows.add(t, "person", {"name": name, "role": "technician"}, session.by)


def find_unit(t: sa.Connection, reference: str) -> str:
    """Return the identity of the unit that a person means: its tag, serial, label or the start of its identity.

    Raises FixInput when there is none or more than one.
    """
    from steadfeed.records import rows

    wanted = reference.strip()
    label = wanted.lower().removeprefix("steadfeed:unit:")
    if label != wanted.lower():
        return str(rows.get(t, "unit", label)["id"])
    for field in ("tag", "serial"):
        match: dict[str, Any] = {field: wanted}
        found = rows.find(t, "unit", **match)
        if len(found) == 1:
            return str(found[0]["id"])
        if found:
            raise FixInput(
                f"{len(found)} units have the {field} “{wanted}”: {_short(found)}; give the start of one identity",
                code="not one",
            )
    from steadfeed.records.search import units_with

    by_words = units_with(t, wanted) if len(wanted) >= 3 else None
    if by_words and len(by_words) == 1:  # as the last four of a serial
        return by_words.pop()
    return _by_start(t, "unit", wanted, "a tag, a serial or the start of its identity")


def find_visit(t: sa.Connection, reference: str, *, closed_too: bool = False) -> str:
    """Return the identity of the visit that a person means: the start of its identity, or a unit with one open visit.

    closed_too: a unit without an open visit means its last one.
    """
    from steadfeed.records import rows

    wanted = reference.strip()
    if _ID_START.fullmatch(wanted.lower()):
        found = _starting(t, "visit", wanted.lower())
        if len(found) == 1:
            return str(found[0]["id"])
    try:
        unit_id = find_unit(t, wanted)
    except FixInput:
        return _by_start(t, "visit", wanted, "the start of its identity, or a unit with an open visit")
    visits = rows.find(t, "visit", unit_id=unit_id, order="opened_at")
    still_open = [v for v in visits if v["closed_at"] is None]
    if closed_too and visits and not still_open:
        return str(visits[-1]["id"])
    if len(still_open) == 1:
        return str(still_open[0]["id"])
    if still_open:
        raise FixInput(f"{wanted} has {len(still_open)} open visits: {_short(still_open)}", code="not one")
    raise NotAllowed(
        f"{wanted} has no open visit; open one, or give the start of a visit's identity", code="no open visit"
    )


def find_row(t: sa.Connection, name: str, reference: str) -> str:
    """Return the identity of one row of a table by the start of it. Raises FixInput when there is none or several."""
    return _by_start(t, name, reference.strip(), "the start of its identity")


def find_named(t: sa.Connection, name: str, reference: str) -> str:
    """Return the identity of a row by its name, when it has one, or by the start of its identity."""
    from steadfeed.records import rows
    from steadfeed.records.schema import metadata, table

    if name not in metadata.tables:
        raise FixInput(f"“{name}” is no kind of record", code="unknown word")
    if "name" in table(name).c:
        match: dict[str, Any] = {"name": reference.strip()}
        found = rows.find(t, name, **match)
        if len(found) == 1:
            return str(found[0]["id"])
        if found:
            raise FixInput(
                f"{len(found)} are called “{reference}”: {_short(found)}; give the start of one identity",
                code="not one",
            )
    return _by_start(t, name, reference.strip(), "its name or the start of its identity")


def _by_start(t: sa.Connection, name: str, wanted: str, ways: str) -> str:
    word = name.replace("_", " ")
    found = _starting(t, name, wanted.lower()) if _ID_START.fullmatch(wanted.lower()) else []
    if len(found) == 1:
        return str(found[0]["id"])
    if found:
        raise FixInput(f"“{wanted}” begins {len(found)} identities of a {word}; give more of it", code="not one")
    raise FixInput(f"There is no {word} “{wanted}”; give {ways}", code=f"no such {word}")


def _starting(t: sa.Connection, name: str, start: str) -> list[dict[str, Any]]:
    from steadfeed.records import rows

    return rows.starting(t, name, start)


def _short(found: list[dict[str, Any]]) -> str:
    return ", ".join(row["id"][:8] for row in found[:5])
