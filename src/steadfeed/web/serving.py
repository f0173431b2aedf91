"""Serving: the port, the one-time link, the server's life."""

from __future__ import annotations

import contextlib
import socket
import time
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from steadfeed.errors import FixInput, InstallPart

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

    from steadfeed.web.sessions import SessionBook

USUAL_PORT: Final = 8765
LOCALHOST: Final = "127.0.0.1"
#: How long a stopping server waits for open streams [s].
GRACE: Final = 3


@dataclass(frozen=True, slots=True)
class Served:
    """What is served where. link: opens a session once.

    network: address of the app on the local network; certificate_page: where its certificate is, with the fingerprint.
    """

    address: str
    link: str
    store: str
    network: str | None = None
    certificate_page: str | None = None
    fingerprint: str | None = None


def part_missing() -> InstallPart:
    """Return the error for an installation without the web part."""
    return InstallPart("Serving needs the part “web”; install steadfeed[web]", code="part missing")


def check_parts() -> None:
    """Raise InstallPart when the web part is not installed."""
    try:
        import fastapi  # noqa: F401
        import uvicorn  # noqa: F401
        import websockets  # noqa: F401
    except ModuleNotFoundError as error:
        raise part_missing() from error


def free_port(host: str, port: int) -> socket.socket:
    """Return a bound socket. Raises FixInput when the port is taken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen(128)  # a port that somebody else listens on is refused only here
    except OSError as error:
        bound.close()
        reason = (error.strerror or str(error)).lower()
        raise FixInput(
            f"Port {port} of {host} cannot be used ({reason}); close what uses it or give another with --port",
            code="port taken",
            where="--port",
        ) from error
    return bound


def only_here(host: str) -> str:
    """Return the address to bind to. Raises FixInput for one that others could reach: that needs pairing and TLS."""
    if host in ("localhost", LOCALHOST):
        return LOCALHOST
    if host == "::1":
        return host
    raise FixInput(
        f"{host} would be reached from outside without pairing and encryption; leave --host out to serve this machine",
        code="not local",
        where="--host",
    )


def make(setting: str, port: int, clock: Callable[[], float] = time.time) -> tuple[FastAPI, SessionBook, str]:
    """Open the store and make the application for a port. Return it with its sessions and the store's name."""
    from steadfeed.visit.station import Station
    from steadfeed.web.app import create_app
    from steadfeed.web.gate import localhost
    from steadfeed.web.sessions import SessionBook

    station = Station(setting, clock=clock)
    try:
        book = SessionBook(session_file(station.folder), clock)
        return create_app(station, book, localhost(port)), book, station.place
    except BaseException:
        station.close()
        raise


def session_file(folder: Path) -> Path:
    """Where sessions are kept between two lives of the server."""
    folder.mkdir(parents=True, exist_ok=True)
    return folder / "sessions.json"


def server_config(app: FastAPI) -> uvicorn.Config:
    """Return how the application is served. No access log: the one-time link would stand in it."""
    import uvicorn

    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        timeout_graceful_shutdown=GRACE,
        ws="websockets-sansio",
        server_header=False,
        ws_max_size=2**21,
    )


def serve(
    setting: str,
    *,
    host: str = "localhost",
    port: int = USUAL_PORT,
    open_browser: bool = True,
    say: Callable[[Served], None],
) -> None:
    """Serve until stopped. say: is told the address and the one-time link once the port is bound."""
    check_parts()
    if host not in ("localhost", LOCALHOST, "::1"):
        from steadfeed.web.reach import serve_network

        serve_network(setting, host=host, port=port, open_browser=open_browser, say=say)
        return
    import uvicorn

    bound = free_port(only_here(host), port)
    port = bound.getsockname()[1]
    try:
        app, book, place = make(setting, port)
        address = f"http://localhost:{port}/"
        link = f"{address}open?token={book.mint()}"
        server = uvicorn.Server(server_config(app))
        say(Served(address, link, place))
        if open_browser:
            with contextlib.suppress(Exception):  # no browser here: the link is on the terminal
                webbrowser.open(link)
        try:
            server.run(sockets=[bound])
        finally:
            app.state.station.close()
    finally:
        bound.close()
