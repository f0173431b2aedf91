"""Looking after the records: export, import, backup, check, restore, erase."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput, NotAllowed, SteadfeedError
from steadfeed.visit.session import Session, open_session

if TYPE_CHECKING:
    from steadfeed.records.check import Report
    from steadfeed.records.exchange.load import Imported
    from steadfeed.records.salvage import Saved

Told = Callable[[str, int], None]


def export_records(
    session: Session, folder: Path, form: str, *, people: bool = True, told: Told | None = None
) -> dict[str, Any]:
    """Write everything into a new folder (form: csv, parquet, json) and return the manifest. See records.exchange."""
    from steadfeed.records.exchange.write import export

    return export(session.store, folder, form, session.now, people=people, told=told)


def import_records(session: Session, folder: Path, told: Told | None = None) -> Imported:
    """Take an export in. What is there already stays; what contradicts is told, never written over."""
    from steadfeed.records.exchange.load import load

    return load(session.store, folder, session.now, told)


def back_up_records(session: Session, target: Path) -> int:
    """Copy the store into one SQLite file, one state of it, synced. Return its size [bytes]."""
    from steadfeed.records.backup import back_up

    return back_up(session.store, target)


def restore_records(session: Session, backup: Path) -> dict[str, int]:
    """Copy a backup into this empty store. Return the rows by table."""
    from steadfeed.records.backup import restore

    return restore(backup, session.store)


def check_records(setting: str, now: float, device: str) -> tuple[Report | None, SteadfeedError | None]:
    """Check a whole store, also one that cannot be opened any more: then the report is None and the error says why."""
    try:
        with open_session(setting, now=now, device=device, create=False) as session:
            from steadfeed.records.check import check

            return check(session.store), None
    except NotAllowed as error:
        if error.code != "store damaged":
            raise
        return None, error


def mend_search(session: Session) -> None:
    """Make all that is derived for searching again from the records."""
    from steadfeed.records import derived

    with session.store.writing() as t:
        derived.make_again(t)


def save_what_can_be_saved(setting: str, target: Path | None) -> Saved:
    """Count (target None) or copy what can still be read from a damaged SQLite store."""
    from steadfeed.records.engine import store_url
    from steadfeed.records.salvage import salvage

    url = store_url(setting)
    if url.get_backend_name() != "sqlite":
        raise FixInput("A company store is mended on its server: restore its backup there", code="bad usage")
    return salvage(Path(str(url.database)), target)


def erase_person(
    session: Session, kind: str, row_id: str, reason: str, attachments: Sequence[str] = ()
) -> dict[str, int]:
    """Erase what is known about a person, a customer or a site; facts stay. Return how much went."""
    from steadfeed.records.people import erase

    return erase(session.store, kind, row_id, session.by, reason, attachments)


def attach_file(session: Session, owner: str, owner_id: str, kind: str, content: bytes, text: str | None = None) -> str:
    """Attach a photo, voice note or signature, cleaned and small. Return the attachment's identity."""
    from steadfeed.records.attachments import attach

    with session.store.writing() as t:
        return attach(t, owner, owner_id, kind, content, session.by, text=text)
