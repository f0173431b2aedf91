"""How other devices on the local network reach this server: addresses, TLS, and the one page that plain HTTP answers.

On this machine nothing changes. For the network a second socket speaks TLS with the certificates of `certificates`, and
a third one shows a single static page with the authority's certificate and its fingerprint, because a phone must have
it before it can open anything else.
"""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import socket
import ssl
import time
from collections.abc import Awaitable, Callable, MutableMapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput
from steadfeed.web.certificates import Address, Certificates, certificates, private

if TYPE_CHECKING:
    from steadfeed.web.serving import Served

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

#: How often the addresses of this machine are looked at again [s].
LOOK_AGAIN: Final = 30.0
CERTIFICATE_PATH: Final = "/steadfeed-authority.crt"
_PAGE_SECURITY: Final = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


def own_addresses() -> tuple[Address, ...]:
    """Return the private addresses of this machine; nothing is sent to find them."""
    found: set[Address] = set()
    with contextlib.suppress(OSError):
        for *_, place in socket.getaddrinfo(socket.gethostname(), None):
            found.add(ipaddress.ip_address(str(place[0]).split("%")[0]))
    for family, far in ((socket.AF_INET, "10.255.255.255"), (socket.AF_INET6, "fd00::1")):
        # connecting a datagram socket only asks the routing table
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asking:
            asking.connect((far, 9))
            found.add(ipaddress.ip_address(str(asking.getsockname()[0]).split("%")[0]))
    return tuple(sorted((a for a in found if private(a) and not a.is_loopback), key=lambda a: (a.version, int(a))))


def own_names() -> tuple[str, ...]:
    """Return the names under which this machine may be known on the local network."""
    name = socket.gethostname().split(".")[0].lower()
    return (f"{name}.local",) if name and name != "localhost" else ()


class NetworkReach:
    """Under which names this server answers, on this machine and on the network; moves with its addresses.

    hosts, origins: as in gate.Reach. port: of TLS; local_port: of plain HTTP on this machine.
    """

    def __init__(self, local_port: int, port: int) -> None:
        self.local_port, self.port = local_port, port
        self.hosts: frozenset[str] = frozenset()
        self.origins: frozenset[str] = frozenset()
        self.move((), ())

    def move(self, names: tuple[str, ...], addresses: tuple[Address, ...]) -> None:
        """Answer under these names and addresses from now on."""
        from steadfeed.web.gate import localhost

        here = localhost(self.local_port)
        shown = [*names, *(f"[{a}]" if a.version == 6 else str(a) for a in addresses)]
        secure = {f"{name}:{self.port}" for name in shown} | (set(shown) if self.port == 443 else set())
        self.hosts = here.hosts | secure
        self.origins = here.origins | {f"https://{host}" for host in secure}


class Network:
    """The part of a server that faces the local network. folder: where keys lie; clock: gives [s since the epoch]."""

    def __init__(
        self, folder: Path, local_port: int, port: int, page_port: int, clock: Callable[[], float], addresses: tuple[Address, ...] | None = None
    ) -> None:  # fmt: skip
        self.folder, self.port, self.page_port = folder, port, page_port
        self.clock = clock
        self.reach = NetworkReach(local_port, port)
        self._fixed = addresses
        self.addresses: tuple[Address, ...] = ()
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.minimum_version = ssl.TLSVersion.TLSv1_2
        self.kept: Certificates = self.look()

    def look(self) -> Certificates:
        """Look at the addresses again; a changed one means a new certificate, used from the next connection on."""
        names = own_names()
        self.addresses = self._fixed if self._fixed is not None else own_addresses()
        self.kept = certificates(self.folder, names, self.addresses, self.clock())
        self.context.load_cert_chain(self.kept.certificate, self.kept.key)
        self.reach.move(names, self.addresses)
        return self.kept

    @property
    def best_host(self) -> str:
        """The address to show to people: the first of version 4."""
        if not self.addresses:
            return (*own_names(), "localhost")[0]
        first = min(self.addresses, key=lambda a: (a.version, a.is_link_local))
        return f"[{first}]" if first.version == 6 else str(first)

    @property
    def address(self) -> str:
        """Where the app is on the network."""
        return f"https://{self.best_host}:{self.port}/"

    @property
    def page_address(self) -> str:
        """Where the page with the authority's certificate is."""
        return f"http://{self.best_host}:{self.page_port}/"


def bound_address(host: str) -> Address | None:
    """Return the address to bind for the network, None for every one. Raises FixInput for one that is not private."""
    if host in ("0.0.0.0", "::", "*"):
        return None
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        raise FixInput(
            f"“{host}” is no address; give one of this machine such as 192.168.1.20, or 0.0.0.0 for all of them",
            code="no address",
            where="--host",
        ) from None
    if not private(address):
        raise FixInput(
            f"{host} is no private address; steadfeed serves this machine and its local network only",
            code="public address",
            where="--host",
        )
    return address


class CertificatePage:
    """ASGI application of the one page that plain HTTP shows: the authority's certificate, its fingerprint, nothing else."""

    def __init__(self, network: Network) -> None:
        self._network = network

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer the page and the certificate; refuse the rest."""
        if scope["type"] == "lifespan":
            while (await receive())["type"] != "lifespan.shutdown":
                await send({"type": "lifespan.startup.complete"})
            await send({"type": "lifespan.shutdown.complete"})
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 4403})
            return
        method, path = scope["method"], scope["path"]
        if method not in ("GET", "HEAD") or path not in ("/", CERTIFICATE_PATH):
            await _answer(
                send,
                403,
                "text/plain; charset=utf-8",
                b"This page shows the certificate and nothing else.",
                method,
            )
        elif path == "/":
            await _answer(send, 200, "text/html; charset=utf-8", self._page().encode(), method)
        else:
            from cryptography import x509
            from cryptography.hazmat.primitives.serialization import Encoding

            held = x509.load_pem_x509_certificate(self._network.kept.authority.read_bytes())
            await _answer(send, 200, "application/x-x509-ca-cert", held.public_bytes(Encoding.DER), method)

    def _page(self) -> str:
        groups = self._network.kept.fingerprint.split(":")
        lines = "<br>".join(" ".join(groups[i : i + 8]) for i in range(0, len(groups), 8))
        return _PAGE.replace("FINGERPRINT", lines).replace("CERTIFICATE", CERTIFICATE_PATH)


def serve_network(
    setting: str,
    *,
    host: str,
    port: int,
    open_browser: bool,
    say: Callable[[Served], None],
    clock: Callable[[], float] = time.time,
) -> None:
    """Serve this machine on `port`, the local network over TLS on `port` + 1, the certificate's page on `port` + 2.

    Until stopped. host: a private address of this machine, or 0.0.0.0 for every one. say: is told the addresses.
    """
    import webbrowser

    from steadfeed.visit.station import Station
    from steadfeed.web.app import create_app
    from steadfeed.web.serving import LOCALHOST, Served, free_port, session_file
    from steadfeed.web.sessions import SessionBook

    address = bound_address(host)
    listen = str(address) if address is not None else ("::" if host == "::" else "0.0.0.0")
    sockets: list[socket.socket] = []
    try:
        sockets.append(free_port(LOCALHOST, port))
        port = sockets[0].getsockname()[1]
        secure_port, page_port = port + 1, port + 2
        sockets += [free_port(listen, secure_port), free_port(listen, page_port)]
        station = Station(setting, clock=clock)
        try:
            network = Network(
                station.folder / "tls", port, secure_port, page_port, clock, (address,) if address is not None else None
            )
            book = SessionBook(session_file(station.folder), clock)
            app = create_app(station, book, network.reach)  # type: ignore[arg-type]
            app.state.network = network
            local = f"http://localhost:{port}/"
            link = f"{local}open?token={book.mint('lead')}"
            kept = network.kept
            say(Served(local, link, station.place, network.address, network.page_address, kept.fingerprint))
            if open_browser:
                with contextlib.suppress(Exception):  # no browser here: the link is on the terminal
                    webbrowser.open(link)
            with contextlib.suppress(KeyboardInterrupt):
                asyncio.run(_run(app, network, sockets))
        finally:
            station.close()
    finally:
        for one in sockets:
            one.close()


async def _run(app: Any, network: Network, sockets: list[socket.socket]) -> None:
    """Run the three servers in one loop; when the first ends, so do the others."""
    import uvicorn

    from steadfeed.web.serving import GRACE

    def config(served: Any, **more: Any) -> uvicorn.Config:
        return uvicorn.Config(
            served, log_level="warning", access_log=False, timeout_graceful_shutdown=GRACE, ws="websockets-sansio",
            server_header=False, ws_max_size=1_000_000, **more,
        )  # fmt: skip

    secure = config(app, lifespan="off", ssl_certfile=network.kept.certificate, ssl_keyfile=network.kept.key)
    secure.load()
    secure.ssl = network.context  # so that a renewed certificate is used from the next connection on
    servers = [uvicorn.Server(config(app)), uvicorn.Server(secure), uvicorn.Server(config(CertificatePage(network)))]
    tasks = [asyncio.create_task(s.serve(sockets=[one])) for s, one in zip(servers, sockets, strict=True)]
    watch = asyncio.create_task(_watch(network))
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    for server in servers:
        server.should_exit = True
    watch.cancel()
    await asyncio.gather(*tasks, watch, return_exceptions=True)


async def _watch(network: Network) -> None:
    while True:
        await asyncio.sleep(LOOK_AGAIN)
        with contextlib.suppress(OSError):
            await asyncio.to_thread(network.look)


async def _answer(send: Send, status: int, media: str, body: bytes, method: str) -> None:
    headers = [
        (b"content-type", media.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"content-security-policy", _PAGE_SECURITY.encode()),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"no-referrer"),
        (b"cache-control", b"no-store"),
    ]
    if media.startswith("application/x-x509"):
        headers.append((b"content-disposition", b'attachment; filename="steadfeed-authority.crt"'))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": b"" if method == "HEAD" else body})


_PAGE: Final = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>steadfeed: certificate</title>
<style>
body{margin:0 auto;max-width:36rem;padding:1.25rem 1rem 3rem;background:#FAF8F2;color:#16181D;font:18px/1.4 "Helvetica Neue",Arial,sans-serif}
h1{font-size:26px;line-height:1.2;margin:.5rem 0 1rem}h2{font-size:20px;margin:1.75rem 0 .5rem}
a{display:block;background:#16181D;color:#FAF8F2;text-align:center;font-weight:700;font-size:22px;padding:1.3rem 1rem;text-decoration:none}
code{font:700 18px/1.5 ui-monospace,Menlo,Consolas,monospace;overflow-wrap:anywhere}
ol{padding-left:1.4rem}li{margin:.4rem 0}
</style>
<h1>Trust this steadfeed once, then open the pairing link.</h1>
<p>The certificate below vouches only for names and addresses of a local network. It cannot vouch for any site on the internet.</p>
<p><a href="CERTIFICATE">Get the certificate</a></p>
<h2>Compare before you trust</h2>
<p>The screen that showed you this address shows the same fingerprint (SHA-256):</p>
<p><code>FINGERPRINT</code></p>
<h2>Android</h2>
<ol><li>Open Settings and search for “CA certificate”.</li><li>Choose it, confirm, and pick the file just fetched.</li></ol>
<h2>iPhone, iPad</h2>
<ol><li>Allow the profile, then install it under Settings, Profile Downloaded.</li>
<li>Settings, General, About, Certificate Trust Settings: switch it on.</li></ol>
<h2 lang="es">En español</h2>
<p lang="es">Baje el certificado, compare la huella con la de la otra pantalla, instálelo como certificado de CA y abra
después el enlace para emparejar. Solo vale para la red local.</p>
</html>
"""
