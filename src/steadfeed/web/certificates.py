"""The installation's own certificate authority, bound by name constraints, and the certificate of its server.

A phone that trusts this authority trusts it for this house only: its certificate permits names under `.local`,
`.internal` and `home.arpa` and private addresses, nothing on the public internet (RFC 5280, 4.2.1.10). Keys can be read
by their owner alone. The server's certificate lasts at most 397 days (the longest that browsers take) and is made anew
when an address changes.
"""

from __future__ import annotations

import contextlib
import datetime
import ipaddress
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

#: How long a server's certificate holds [days]; browsers refuse more than 397.
LEAF_DAYS: Final = 390
#: It is made anew when fewer days than this are left.
RENEW_DAYS: Final = 30
AUTHORITY_DAYS: Final = 3650
#: Names and addresses that the authority may vouch for.
PERMITTED_NAMES: Final = ("local", "internal", "home.arpa", "localhost")
PERMITTED_NETWORKS: Final = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128",
)  # fmt: skip
_AUTHORITY_CERTIFICATE: Final = "authority.crt"
_AUTHORITY_KEY: Final = "authority.key"
_LEAF_CERTIFICATE: Final = "server.crt"
_LEAF_KEY: Final = "server.key"
#: Clocks of phones differ a little.
_EARLY: Final = datetime.timedelta(hours=1)


def private(address: Address) -> bool:
    """Whether the authority may vouch for an address."""
    return any(
        address in network
        for network in map(ipaddress.ip_network, PERMITTED_NETWORKS)
        if network.version == address.version
    )


@dataclass(frozen=True, slots=True)
class Certificates:
    """Files for the server, and what a person compares. made_anew: the server's certificate was just made."""

    authority: Path
    certificate: Path
    key: Path
    fingerprint: str
    made_anew: bool


def certificates(folder: Path, names: tuple[str, ...], addresses: tuple[Address, ...], now: float) -> Certificates:
    """Return the certificates for these names and addresses, making what is missing, too old or for other addresses.

    folder: where keys lie, made for its owner only. now [s since the Unix epoch]. Names and addresses that the
    authority may not vouch for are left out.
    """
    from cryptography.hazmat.primitives import hashes

    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    with contextlib.suppress(OSError):
        folder.chmod(0o700)
    moment = datetime.datetime.fromtimestamp(now, datetime.UTC)
    authority, authority_key = _authority(folder, moment)
    names = tuple(sorted({name for name in names if _permitted(name)} | {"localhost"}))
    addresses = tuple(sorted({a for a in addresses if private(a)}, key=lambda a: (a.version, int(a))))
    made_anew = not _still_good(folder, authority, names, addresses, moment)
    if made_anew:
        _make_leaf(folder, authority, authority_key, names, addresses, moment)
    digest = authority.fingerprint(hashes.SHA256()).hex().upper()
    return Certificates(
        folder / _AUTHORITY_CERTIFICATE,
        folder / _LEAF_CERTIFICATE,
        folder / _LEAF_KEY,
        ":".join(digest[i : i + 2] for i in range(0, len(digest), 2)),
        made_anew,
    )


def _permitted(name: str) -> bool:
    return any(name == base or name.endswith("." + base) for base in PERMITTED_NAMES)


def _authority(folder: Path, moment: datetime.datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    certificate_file, key_file = folder / _AUTHORITY_CERTIFICATE, folder / _AUTHORITY_KEY
    if certificate_file.is_file() and key_file.is_file():
        key = load_pem_private_key(key_file.read_bytes(), None)
        certificate = x509.load_pem_x509_certificate(certificate_file.read_bytes())
        if isinstance(
            key, ec.EllipticCurvePrivateKey
        ) and certificate.not_valid_after_utc > moment + datetime.timedelta(days=LEAF_DAYS):
            return certificate, key
    return _make_authority(folder, moment)


def _make_authority(folder: Path, moment: datetime.datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    serial = x509.random_serial_number()
    # a name of its own, so that a phone that knew an earlier installation does not confuse the two
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"steadfeed {serial % 0xFFFFFF:06x}")])
    subtrees: list[x509.GeneralName] = [x509.DNSName(name) for name in PERMITTED_NAMES]
    subtrees += [x509.IPAddress(ipaddress.ip_network(network)) for network in PERMITTED_NETWORKS]
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(serial)
        .not_valid_before(moment - _EARLY)
        .not_valid_after(moment + datetime.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted_subtrees=subtrees, excluded_subtrees=None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    certificate = builder.sign(key, hashes.SHA256())
    _write_key(folder / _AUTHORITY_KEY, key)
    _write(folder / _AUTHORITY_CERTIFICATE, _pem(certificate), 0o644)
    return certificate, key


def _make_leaf(
    folder: Path,
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    names: tuple[str, ...],
    addresses: tuple[Address, ...],
    moment: datetime.datetime,
) -> None:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    known: list[x509.GeneralName] = [x509.DNSName(name) for name in names]
    known += [x509.IPAddress(address) for address in addresses]
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "steadfeed")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(moment - _EARLY)
        .not_valid_after(moment + datetime.timedelta(days=LEAF_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(known), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
    )
    certificate = builder.sign(authority_key, hashes.SHA256())
    _write_key(folder / _LEAF_KEY, key)
    _write(folder / _LEAF_CERTIFICATE, _pem(certificate) + _pem(authority), 0o644)


def _still_good(
    folder: Path,
    authority: x509.Certificate,
    names: tuple[str, ...],
    addresses: tuple[Address, ...],
    moment: datetime.datetime,
) -> bool:
    from cryptography import x509

    certificate_file, key_file = folder / _LEAF_CERTIFICATE, folder / _LEAF_KEY
    if not (certificate_file.is_file() and key_file.is_file()):
        return False
    try:
        leaf = x509.load_pem_x509_certificate(certificate_file.read_bytes())
        leaf.verify_directly_issued_by(authority)
        known = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (ValueError, TypeError, x509.ExtensionNotFound):
        return False
    except Exception as error:  # InvalidSignature: made by an authority that is gone
        if type(error).__name__ != "InvalidSignature":
            raise
        return False
    return (
        set(known.get_values_for_type(x509.DNSName)) == set(names)
        and set(known.get_values_for_type(x509.IPAddress)) == set(addresses)
        and leaf.not_valid_after_utc > moment + datetime.timedelta(days=RENEW_DAYS)
        and leaf.not_valid_before_utc <= moment
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs_certificates, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=signs_certificates, crl_sign=signs_certificates, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _pem(certificate: x509.Certificate) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding

    return certificate.public_bytes(Encoding.PEM)


def _write_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    _write(path, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)


def _write(path: Path, content: bytes, mode: int) -> None:
    """Put a file in place as a whole; it never exists with wider rights than `mode`."""
    temporary = path.with_name(path.name + ".new")
    temporary.unlink(missing_ok=True)
    descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    temporary.replace(path)
