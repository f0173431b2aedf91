"""Spoken sentences through the system's own speech command, where there is one."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import threading
from collections.abc import Callable, Sequence
from typing import Final

#: Command -> arguments before the text; {voice} stands for the language's voice. The first that is there is taken.
COMMANDS: Final[tuple[tuple[str, tuple[str, ...], dict[str, str]], ...]] = (
    ("say", ("-v", "{voice}"), {"en": "Samantha", "es": "Monica"}),
    ("spd-say", ("--wait", "-l", "{voice}"), {"en": "en", "es": "es"}),
    ("espeak-ng", ("-v", "{voice}", "-s", "160"), {"en": "en-us", "es": "es-419"}),
    ("espeak", ("-v", "{voice}", "-s", "160"), {"en": "en-us", "es": "es-la"}),
)
#: A sentence that is not said after this is no longer worth saying [s].
LONGEST: Final = 12.0


def speech_command(language: str, find: Callable[[str], str | None] = shutil.which) -> tuple[str, ...] | None:
    """Return the speech command with its arguments, None where the system has none."""
    for name, arguments, voices in COMMANDS:
        path = find(name)
        if path is not None:
            return (path, *(a.replace("{voice}", voices[language]) for a in arguments))
    return None


class Speaker:
    """Says sentences one after the other; an urgent one cuts off what is being said. Without a command it is silent."""

    def __init__(self, command: Sequence[str] | None) -> None:
        self._command = tuple(command) if command else None
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._next = ""
        self.last = ""

    @property
    def can_speak(self) -> bool:
        """Whether the system has a speech command."""
        return self._command is not None

    def say(self, text: str, *, urgent: bool = False) -> None:
        """Say a sentence. One that is not urgent waits for its turn (`go_on`); only the newest of those that wait is said."""
        self.last = text
        if self._command is None or not text:
            return
        with self._lock:
            busy = self._process is not None and self._process.poll() is None
            if busy and not urgent:
                self._next = text
                return
            self._next = ""
            self._stop()
            with contextlib.suppress(OSError):  # the command went away: the sentence still stands on the screen
                self._process = subprocess.Popen(
                    [*self._command, text],
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )

    def go_on(self) -> None:
        """Say what waits, once nothing is being said. To be called now and then."""
        with self._lock:
            busy = self._process is not None and self._process.poll() is None
            waiting = "" if busy else self._next
        if waiting:
            self.say(waiting)

    def again(self) -> None:
        """Say the last sentence again."""
        self.say(self.last, urgent=True)

    def _stop(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._process.wait(1.0)

    def close(self) -> None:
        """Fall silent."""
        with self._lock:
            self._stop()
