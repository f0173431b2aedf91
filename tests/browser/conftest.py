"""The built app, a browser, and servers for it. Debian's Chromium, driven by Playwright."""

from __future__ import annotations

import importlib.util
import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from steadfeed.web.app import APP_FOLDER

ROOT = Path(__file__).parents[2]


def _tool() -> Any:
    spec = importlib.util.spec_from_file_location("app_build", ROOT / "tools/app_build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def app_build() -> Any:
    """tools/app_build.py as a module."""
    return _tool()


@pytest.fixture(scope="session")
def built_app(app_build: Any) -> Path:
    """The folder of the built app; built first when its sources have changed."""
    import fcntl

    if shutil.which("npm") is None and not app_build.is_built():
        pytest.skip("node and npm build the app; they are not installed")
    said: list[str] = []
    with (ROOT / "webapp/.building").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert app_build.build(said.append), said
    return APP_FOLDER


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Debian's Chromium without a window, with a microphone and a camera of its own making.

    Closed after each module: while it is open a loop runs in this thread, in which no other test can start its own.
    """
    from playwright.sync_api import sync_playwright

    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        pytest.skip("Chromium is not installed")
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(
            executable_path=program,
            args=[
                "--no-sandbox",
                "--disable-dev-shm-usage",
                "--autoplay-policy=no-user-gesture-required",
                "--use-fake-device-for-media-stream",
            ],
        )
        yield made
        made.close()


def free_port() -> int:
    """A port that nobody uses now."""
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        return int(asking.getsockname()[1])


class Serving:
    """An ASGI application on a port of its own, in a thread."""

    def __init__(self, app: Any, port: int | None = None, **options: Any) -> None:
        import uvicorn

        self.port = free_port() if port is None else port
        config = uvicorn.Config(app, port=self.port, log_level="warning", ws="websockets-sansio", **options)
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        until = time.monotonic() + 20
        while not self._server.started:
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.02)

    @property
    def address(self) -> str:
        return f"http://localhost:{self.port}/"

    def stop(self) -> None:
        self._server.should_exit = True
        self._server.force_exit = True
        self._thread.join(10)


@pytest.fixture(scope="session")
def double(built_app: Path) -> Iterator[Any]:
    """A stand-in for the server, with its address."""
    from browser import double as stand_in

    kept = stand_in.Double(built_app)
    serving = Serving(stand_in.make(kept))
    kept.address = serving.address  # type: ignore[attr-defined]
    yield kept
    serving.stop()
