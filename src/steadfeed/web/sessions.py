"""Who may ask: one-time tokens, and the sessions that they are exchanged for.

Tokens live in memory, are used once and end after ten minutes. Sessions outlive a restart of the server, so that a
phone in the middle of a challenge goes on: their hashes stand in a file that only its owner can read. The texts
themselves are kept nowhere.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Final

from steadfeed.errors import FixInput, NotAllowed

#: How long a one-time token may wait [s].
TOKEN_SECONDS: Final = 600.0
#: How long a session lasts without being opened again [s].
SESSION_SECONDS: Final = 30 * 86_400.0
#: Bytes of chance in a token (256 bit).
TOKEN_BYTES: Final = 32
ROLES: Final = ("technician", "lead", "read-only")
_MOST_SESSIONS: Final = 200


@dataclass(frozen=True, slots=True)
class Guest:
    """Who asks. device: identity of the device; name: as it calls itself; expires_at [s since the epoch]."""

    device: str
    name: str
    role: str
    expires_at: float
    person: str | None = None

    @property
    def may_write(self) -> bool:
        """Whether this session may change anything."""
        return self.role != "read-only"


def digest(text: str) -> str:
    """Return the hash under which a token or session is kept."""
    return hashlib.sha256(text.encode()).hexdigest()


class SessionBook:
    """Tokens and sessions. path: file of the sessions, None keeps them in memory. clock: gives [s since the epoch]."""

    def __init__(self, path: Path | None, clock: Callable[[], float]) -> None:
        self._path = path
        self._clock = clock
        self._lock = threading.Lock()
        self._tokens: dict[str, tuple[float, str]] = {}
        self._sessions: dict[str, Guest] = {}
        if path is not None and path.exists():
            self._sessions = _read(path)

    def mint(self, role: str = "technician") -> str:
        """Return a new one-time token for a device of that role."""
        if role not in ROLES:
            raise FixInput(f"A role is one of {', '.join(ROLES)}; “{role}” is none", code="unknown word")
        token = secrets.token_urlsafe(TOKEN_BYTES)
        now = self._clock()
        with self._lock:
            self._tokens = {k: v for k, v in self._tokens.items() if v[0] > now}
            self._tokens[digest(token)] = (now + TOKEN_SECONDS, role)
        return token

    def exchange(self, token: str, device_name: str) -> tuple[str, Guest]:
        """Use a token up; return the session's text and its guest. Raises NotAllowed for a wrong or used one."""
        now = self._clock()
        with self._lock:
            until, role = self._tokens.pop(digest(token), (0.0, ""))
            if until <= now:
                raise NotAllowed(
                    "This link was used already or is too old; open a new one with `steadfeed serve`",
                    code="token spent",
                )
            text = secrets.token_urlsafe(TOKEN_BYTES)
            guest = Guest(secrets.token_hex(8), device_name, role, now + SESSION_SECONDS)
            self._sessions = {k: g for k, g in self._sessions.items() if g.expires_at > now}
            while len(self._sessions) >= _MOST_SESSIONS:
                del self._sessions[min(self._sessions, key=lambda k: self._sessions[k].expires_at)]
            self._sessions[digest(text)] = guest
            self._write()
        return text, guest

    def guest(self, text: str) -> Guest | None:
        """Return who has this session, None when nobody has."""
        found = self._sessions.get(digest(text))
        return found if found is not None and found.expires_at > self._clock() else None

    def name_person(self, text: str, person: str) -> Guest:
        """Say who works on this device."""
        with self._lock:
            key = digest(text)
            self._sessions[key] = replace(self._sessions[key], person=person)
            self._write()
            return self._sessions[key]

    def end(self, text: str) -> None:
        """End a session."""
        with self._lock:
            if self._sessions.pop(digest(text), None) is not None:
                self._write()

    def _write(self) -> None:
        if self._path is None:
            return
        body = json.dumps({key: asdict(guest) for key, guest in self._sessions.items()})
        temporary = self._path.with_name(self._path.name + ".new")
        descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(self._path)


def _read(path: Path) -> dict[str, Guest]:
    """Read kept sessions; a file that cannot be read means that every device opens a new link."""
    try:
        return {key: Guest(**fields) for key, fields in json.loads(path.read_text()).items()}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}
