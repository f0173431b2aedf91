"""A real server on a real socket for tests, and a client that keeps its session as a browser does."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from websockets.sync.client import ClientConnection, connect

from steadfeed.visit.station import Station
from steadfeed.web.app import create_app
from steadfeed.web.gate import COOKIE, localhost
from steadfeed.web.serving import free_port, server_config, session_file
from steadfeed.web.sessions import SessionBook


class Served:
    """A running server. stop it, or use `serving`."""

    def __init__(self, folder: Path, port: int = 0, clock: Callable[[], float] = time.time) -> None:
        self.folder = folder
        self.bound = free_port("127.0.0.1", port)
        self.port = self.bound.getsockname()[1]
        self.station = Station(str(folder / "records.db"), clock=clock)
        self.book = SessionBook(session_file(self.station.folder), clock)
        self.app = create_app(self.station, self.book, localhost(self.port), app_folder=folder / "no app")
        self.server = uvicorn.Server(server_config(self.app))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.bound]}, daemon=True)
        self.thread.start()
        deadline = time.time() + 20
        while not self.server.started:
            if time.time() > deadline:
                raise TimeoutError("the server did not start")
            time.sleep(0.01)

    @property
    def origin(self) -> str:
        return f"http://localhost:{self.port}"

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join(20)
        self.station.close()
        self.bound.close()

    def client(self, role: str = "technician", name: str = "phone") -> Client:
        text, guest = self.book.exchange(self.book.mint(role), name)
        return Client(self, text, guest.device)


class Client:
    """A device with a session."""

    def __init__(self, served: Served, session: str, device: str) -> None:
        self.served = served
        self.device = device
        self.session = session
        self.headers = {"origin": served.origin, "cookie": f"{COOKIE}={session}"}
        self.http = httpx.Client(base_url=f"{served.origin}/api/v1", headers=self.headers, timeout=60)

    def __call__(self, method: str, path: str, body: Any = None, *, status: int | None = None, **params: Any) -> Any:
        answer = self.http.request(method, path, json=body, params=params or None)
        if status is None:
            assert answer.status_code < 300, f"{method} {path}: {answer.status_code} {answer.text}"
        else:
            assert answer.status_code == status, f"{method} {path}: {answer.status_code} {answer.text}"
        if not answer.content:
            return None
        return answer.json() if "json" in answer.headers["content-type"] else answer.content

    def stream(self, challenge_id: str, **params: Any) -> ClientConnection:
        query = "&".join(f"{k}={v}" for k, v in params.items())
        address = f"ws://localhost:{self.served.port}/api/v1/challenges/{challenge_id}/stream?{query}"
        return connect(
            address,
            origin=self.served.origin,
            additional_headers={"cookie": f"{COOKIE}={self.session}"},
            max_size=2**26,  # type: ignore[arg-type]
        )


def frame(socket: ClientConnection, kind: str | None = None, timeout: float = 10.0) -> dict[str, Any]:
    """Return the next frame, or the next of a kind."""
    deadline = time.time() + timeout
    while True:
        found: dict[str, Any] = json.loads(socket.recv(timeout=max(0.01, deadline - time.time())))
        if kind is None or found["type"] == kind:
            return found


@contextmanager
def serving(folder: Path, **options: Any) -> Iterator[Served]:
    served = Served(folder, **options)
    try:
        yield served
    finally:
        served.stop()
