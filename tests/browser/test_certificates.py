"""The certificate authority: its limits, its keys, and TLS as a client sees it.

Source of what must hold: RFC 5280 (4.2.1.9 basic constraints, 4.2.1.10 name constraints), and the browsers' limit of 397
days for a server's certificate (CA/Browser Forum ballot SC-031). The client is Python's own OpenSSL.
"""

from __future__ import annotations

import datetime
import ipaddress
import socket
import ssl
import stat
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from steadfeed.errors import FixInput
from steadfeed.web.certificates import LEAF_DAYS, Certificates, certificates
from steadfeed.web.reach import CERTIFICATE_PATH, Network, bound_address, own_addresses

NOW = time.time()
HERE = (ipaddress.ip_address("127.0.0.1"),)
DAY = 86_400.0


def leaf(made: Certificates) -> x509.Certificate:
    return x509.load_pem_x509_certificate(made.certificate.read_bytes())


def authority(made: Certificates) -> x509.Certificate:
    return x509.load_pem_x509_certificate(made.authority.read_bytes())


def test_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    folder = tmp_path / "tls"
    certificates(folder, (), HERE, NOW)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    for name in ("authority.key", "server.key"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600


def test_authority_is_constrained_to_local_names_and_addresses(tmp_path: Path) -> None:
    made = authority(certificates(tmp_path, (), HERE, NOW))
    basic = made.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert basic.value.ca
    assert basic.value.path_length == 0
    constraints = made.extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical
    permitted = constraints.value.permitted_subtrees or []
    names = {n.value for n in permitted if isinstance(n, x509.DNSName)}
    assert names == {"local", "internal", "home.arpa", "localhost"}
    networks = [n.value for n in permitted if isinstance(n, x509.IPAddress)]
    assert len(networks) == 8
    assert not any(network.is_global for network in networks)


def test_server_certificate_lasts_at_most_397_days(tmp_path: Path) -> None:
    made = leaf(certificates(tmp_path, (), HERE, NOW))
    assert made.not_valid_after_utc - made.not_valid_before_utc <= datetime.timedelta(days=397)
    assert (
        x509.oid.ExtendedKeyUsageOID.SERVER_AUTH in made.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    )


def test_a_new_address_makes_a_new_certificate_and_keeps_the_authority(tmp_path: Path) -> None:
    first = certificates(tmp_path, (), HERE, NOW)
    again = certificates(tmp_path, (), HERE, NOW + DAY)
    assert not again.made_anew
    other = certificates(tmp_path, (), (ipaddress.ip_address("192.168.4.9"),), NOW + DAY)
    assert other.made_anew
    assert other.fingerprint == first.fingerprint
    known = leaf(other).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert known.get_values_for_type(x509.IPAddress) == [ipaddress.ip_address("192.168.4.9")]


def test_an_old_certificate_is_made_anew(tmp_path: Path) -> None:
    certificates(tmp_path, (), HERE, NOW)
    assert certificates(tmp_path, (), HERE, NOW + (LEAF_DAYS - 20) * DAY).made_anew


def test_what_is_not_private_is_left_out(tmp_path: Path) -> None:
    made = certificates(tmp_path, ("example.com", "roof.local"), (ipaddress.ip_address("203.0.113.9"), *HERE), NOW)
    known = leaf(made).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert known.get_values_for_type(x509.DNSName) == ["localhost", "roof.local"]
    assert known.get_values_for_type(x509.IPAddress) == [*HERE]


def test_a_damaged_certificate_is_replaced(tmp_path: Path) -> None:
    made = certificates(tmp_path, (), HERE, NOW)
    made.certificate.write_bytes(b"nothing")
    assert certificates(tmp_path, (), HERE, NOW).made_anew
    assert leaf(made).issuer == authority(made).subject


class Listener:
    """A TLS server that greets one client after the other."""

    def __init__(self, context: ssl.SSLContext) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.port = self._socket.getsockname()[1]
        self._context = context
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while True:
            try:
                plain, _ = self._socket.accept()
            except OSError:
                return
            try:
                with self._context.wrap_socket(plain, server_side=True) as secure:
                    secure.sendall(b"hello")
            except OSError:
                plain.close()

    def close(self) -> None:
        self._socket.close()


def greet(port: int, trusted: Path, name: str) -> bytes:
    context = ssl.create_default_context(cafile=str(trusted))
    with (
        socket.create_connection(("127.0.0.1", port), 5) as plain,
        context.wrap_socket(plain, server_hostname=name) as secure,
    ):
        return secure.recv(10)


def test_a_client_that_trusts_the_authority_is_let_in(tmp_path: Path) -> None:
    network = Network(tmp_path, 8765, 8766, 8767, time.time, addresses=HERE)
    listener = Listener(network.context)
    try:
        assert greet(listener.port, network.kept.authority, "127.0.0.1") == b"hello"
        assert greet(listener.port, network.kept.authority, "localhost") == b"hello"
        with pytest.raises(ssl.SSLCertVerificationError):
            greet(listener.port, network.kept.authority, "192.168.9.9")
    finally:
        listener.close()


def test_the_authority_cannot_vouch_for_a_public_site(tmp_path: Path) -> None:
    """Even with the stolen key: a client that honours name constraints refuses the certificate."""
    made = certificates(tmp_path, (), HERE, NOW)
    signer = load_pem_private_key((tmp_path / "authority.key").read_bytes(), None)
    assert isinstance(signer, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.datetime.now(datetime.UTC)
    forged = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority(made).subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("example.com")]), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )
    (tmp_path / "forged.crt").write_bytes(forged.public_bytes(Encoding.PEM))
    (tmp_path / "forged.key").write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tmp_path / "forged.crt", tmp_path / "forged.key")
    listener = Listener(context)
    try:
        with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
            greet(listener.port, made.authority, "example.com")
    finally:
        listener.close()


def test_a_moved_address_is_served_without_a_restart(tmp_path: Path) -> None:
    moving = [HERE]

    class Moving(Network):
        def look(self) -> Certificates:
            self._fixed = moving[0]
            return super().look()

    network = Moving(tmp_path, 8765, 8766, 8767, time.time)
    assert "127.0.0.1:8766" in network.reach.hosts
    moving[0] = (ipaddress.ip_address("192.168.77.3"),)
    network.look()
    assert "192.168.77.3:8766" in network.reach.hosts
    assert "127.0.0.1:8766" not in network.reach.hosts
    assert "https://192.168.77.3:8766" in network.reach.origins
    assert "http://192.168.77.3:8766" not in network.reach.origins
    listener = Listener(network.context)
    try:
        with pytest.raises(ssl.SSLCertVerificationError, match="IP address mismatch"):
            greet(listener.port, network.kept.authority, "127.0.0.1")
    finally:
        listener.close()


def test_plain_page_shows_the_certificate_and_nothing_else(tmp_path: Path) -> None:
    from starlette.testclient import TestClient

    from steadfeed.web.reach import CertificatePage

    network = Network(tmp_path, 8765, 8766, 8767, time.time, addresses=HERE)
    client = TestClient(CertificatePage(network))
    page = client.get("/")
    assert page.status_code == 200
    shown = page.text.replace("<br>", " ").replace(" ", "")
    assert network.kept.fingerprint.replace(":", "") in shown
    assert "script" not in page.text
    fetched = client.get(CERTIFICATE_PATH)
    assert x509.load_der_x509_certificate(fetched.content) == authority(network.kept)
    for path in ("/api/v1/about", "/open?token=x", "/index.html", "/server.key", "/../authority.key"):
        assert client.get(path).status_code == 403
    assert client.post("/").status_code == 403


@pytest.mark.parametrize("host", ["8.8.8.8", "203.0.113.4", "2001:db8::1", "roof"])
def test_only_private_addresses_can_be_bound(host: str) -> None:
    with pytest.raises(FixInput, match="address"):
        bound_address(host)


def test_own_addresses_are_private() -> None:
    found: Any = own_addresses()
    assert all(not a.is_global and not a.is_loopback for a in found)
    assert bound_address("0.0.0.0") is None
    assert str(bound_address("192.168.1.20")) == "192.168.1.20"
