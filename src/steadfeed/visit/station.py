"""The station: one process that keeps the store open and serves any number of devices."""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session, open_session, person_named

if TYPE_CHECKING:
    from steadfeed.visit.live_room import LiveRoom
    from steadfeed.visit.practice_room import PracticeRoom
    from steadfeed.visit.source_room import SourceRoom


class Station:
    """An open store with what is kept in memory beside it: live challenges, sources, practices, settings.

    setting: the store (see session.which_store). clock: gives [s since the epoch]. utc_offset: local time minus UTC [s].
    """

    def __init__(
        self,
        setting: str,
        *,
        clock: Callable[[], float] = time.time,
        utc_offset: Callable[[float], float] | None = None,
        folder: Path | None = None,
    ) -> None:
        self.clock = clock
        self.utc_offset = utc_offset or local_offset
        self._root = open_session(setting, now=clock(), device="station")
        self.store = self._root.store
        self.folder = folder if folder is not None else _folder_of(self._root)
        self._lock = threading.RLock()
        self._rooms: dict[str, Any] = {}

    @property
    def place(self) -> str:
        """Name of the store, for people."""
        return self.store.place

    def session(self, device: str, person: str | None = None, at: float | None = None) -> Session:
        """Return a piece of work on the open store. at: when it was done on the device [s since the epoch]; now if None."""
        now = self.clock()
        moment = now if at is None else at
        session = Session(self.store, moment, device, None, self.utc_offset(moment))
        if person is None:
            return session
        return Session(self.store, moment, device, person_named(session, person), session.utc_offset)

    @property
    def live(self) -> LiveRoom:
        """The challenges that run now."""
        from steadfeed.visit.live_room import LiveRoom

        room: LiveRoom = self._room("live", lambda: LiveRoom(self))
        return room

    @property
    def sources(self) -> SourceRoom:
        """The sources of readings that are connected."""
        from steadfeed.visit.source_room import SourceRoom

        room: SourceRoom = self._room("sources", lambda: SourceRoom(self))
        return room

    @property
    def practice(self) -> PracticeRoom:
        """The practices that run now."""
        from steadfeed.visit.practice_room import PracticeRoom

        room: PracticeRoom = self._room("practice", lambda: PracticeRoom(self))
        return room

    def home_of(self, challenge_id: str) -> Station:
        """Return the station whose store holds a challenge: this one, or that of the practices."""
        room: PracticeRoom | None = self._rooms.get("practice")
        return room.home if room is not None and room.has(challenge_id) else self

    def tick(self) -> None:
        """Look at every challenge, real and practised."""
        self.live.tick()
        room: PracticeRoom | None = self._rooms.get("practice")
        if room is not None:
            room.tick()

    def _room(self, name: str, make: Callable[[], Any]) -> Any:
        with self._lock:
            if name not in self._rooms:
                self._rooms[name] = make()
            return self._rooms[name]

    def close(self) -> None:
        """Stop what runs, write what waits, close the store."""
        with self._lock:
            for name in ("practice", "sources", "live"):
                room = self._rooms.pop(name, None)
                if room is not None:
                    room.close()
        self._root.close()

    def __enter__(self) -> Station:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- settings -----------------------------------------------------------------------------------------------------
    def settings(self) -> dict[str, Any]:
        """Return the settings of this installation; empty when nobody set any."""
        return self.kept("settings.json")

    def kept(self, name: str) -> dict[str, Any]:
        """Return a small JSON file beside the store; empty when there is none, or when it cannot be read any more."""
        try:
            found = json.loads((self.folder / name).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}

    def keep(self, name: str, value: Mapping[str, Any]) -> None:
        """Keep a small JSON file beside the store. Raises FixInput when it cannot be written."""
        keep_file(self.folder / name, json.dumps(dict(value), ensure_ascii=False).encode())

    def keep_settings(self, settings: Mapping[str, Any]) -> None:
        """Keep the settings of this installation. Raises FixInput when the folder cannot be written."""
        self.keep("settings.json", settings)


def keep_file(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write a small file whole or not at all. Raises FixInput when it cannot be written."""
    temporary = path.with_name(path.name + ".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    except OSError as error:
        raise FixInput(
            f"{path} cannot be written ({(error.strerror or str(error)).lower()}); make room or choose another store",
            code="not written",
            where=str(path),
        ) from error


def local_offset(moment: float) -> float:
    """Local time minus UTC on this machine [s]."""
    return float(time.localtime(moment).tm_gmtoff)


def _folder_of(session: Session) -> Path:
    """Where small files beside the store go: the store's own folder, for a company store the person's data folder."""
    path = session.store.path
    if path is not None:
        return path.parent
    import platformdirs

    return Path(platformdirs.user_data_dir("steadfeed", appauthor=False))
