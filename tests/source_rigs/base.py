"""What every rig can do, so that one suite of tests holds for all sources."""

from __future__ import annotations

import asyncio
import socket
from abc import ABC, abstractmethod
from pathlib import Path

from steadfeed.capture.source import Source


class Rig(ABC):
    """A counterpart and the source on it. `folder` is the test's own."""

    #: Whether the counterpart itself numbers its readings and may send one twice.
    numbers_itself = False
    #: Whether a broken link can be told from a counterpart that says nothing.
    has_link = True

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.spoken = 0

    @abstractmethod
    async def start(self) -> None:
        """Start the counterpart."""

    @abstractmethod
    def source(self) -> Source:
        """Make a source on it: silent after 0.6 s, quick to try again."""

    @abstractmethod
    async def speak(self) -> None:
        """Let the counterpart give one more reading, different from the last."""

    @abstractmethod
    async def speak_nonsense(self) -> None:
        """Let the counterpart give a reading in a unit that nobody knows."""

    @abstractmethod
    async def cut(self) -> None:
        """Break the link, or let the counterpart die."""

    @abstractmethod
    async def mend(self) -> None:
        """Bring it back."""

    async def stop(self) -> None:
        """End the counterpart."""
        self.spoken = 0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


async def answers(port: int, seconds: float = 10.0) -> None:
    """Wait until somebody listens on a port."""
    for _ in range(int(seconds / 0.02)):
        try:
            _, writer = await asyncio.open_connection("127.0.0.1", port)
        except OSError:
            await asyncio.sleep(0.02)
        else:
            writer.close()
            await writer.wait_closed()
            return
    raise TimeoutError(f"nobody listens on port {port}")
