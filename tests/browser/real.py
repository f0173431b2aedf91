"""The real server as its own process, which can be killed and started again on the same store and port."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

from browser.conftest import free_port

ROOT = Path(__file__).parents[2]


class RealServer:
    """`steadfeed serve` on a store of its own."""

    def __init__(self, folder: Path, *more: str, port: int | None = None) -> None:
        self.folder = folder
        self.port = free_port() if port is None else port
        self.store = folder / "store.db"
        self._more = more
        self._process: subprocess.Popen[bytes] | None = None
        self.link = ""
        self.said = ""
        self.start()

    @property
    def address(self) -> str:
        return f"http://localhost:{self.port}/"

    def start(self) -> None:
        """Start it; the one-time link is in `link`."""
        out = self.folder / f"said-{time.monotonic_ns()}.txt"
        environment = {
            **os.environ,
            "PYTHONUNBUFFERED": "1",
            "STEADFEED_STORE": str(self.store),
            "PYTHONPATH": str(ROOT / "src"),
        }
        with out.open("wb") as file:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "steadfeed", "serve", "--port", str(self.port), "--no-browser", *self._more],
                stdout=file, stderr=subprocess.STDOUT, env=environment, cwd=self.folder,
            )  # fmt: skip
        until = time.monotonic() + 60
        while True:
            self.said = out.read_text()
            found = re.search(r"http://localhost:\d+/open\?token=\S+", self.said)
            if found:
                self.link = found[0]
                break
            assert self._process.poll() is None, self.said
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.05)
        self._wait(until)

    def _wait(self, until: float) -> None:
        import urllib.error
        import urllib.request

        while True:
            try:
                urllib.request.urlopen(self.address, timeout=2).close()
                return
            except urllib.error.HTTPError:
                return
            except OSError:
                assert time.monotonic() < until, "the server does not answer"
                time.sleep(0.05)

    def kill(self) -> None:
        """End it as a power cut would."""
        assert self._process is not None
        self._process.send_signal(signal.SIGKILL)
        self._process.wait(10)

    def stop(self) -> None:
        """End it in peace."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()
            try:
                self._process.wait(10)
            except subprocess.TimeoutExpired:
                self.kill()
