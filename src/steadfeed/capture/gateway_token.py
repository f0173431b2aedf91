"""Tokens for gateways: each may hand in readings of named sources until a set time, and nothing else.

Only a hash of a token is kept, so that whoever reads the settings cannot use one. Pure: the caller brings the time and
the randomness.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from steadfeed.errors import FixInput, NotAllowed

_PREFIX: Final = "sfg_"
#: Bytes of randomness behind a token.
RANDOM_BYTES: Final = 32


@dataclass(frozen=True, slots=True)
class GatewayToken:
    """What is kept of a token.

    id: names it in lists; name: whom it was given to; digest: SHA-256 of its text, hexadecimal; sources: names that its
    holder may send, empty for any; expires_at [s since the epoch].
    """

    id: str
    name: str
    digest: str
    sources: tuple[str, ...]
    expires_at: float

    def to_value(self) -> dict[str, Any]:
        """Return it as JSON keeps it."""
        return {
            "id": self.id,
            "name": self.name,
            "digest": self.digest,
            "sources": list(self.sources),
            "expires_at": self.expires_at,
        }

    @staticmethod
    def from_value(value: Mapping[str, Any]) -> GatewayToken:
        """Read it from JSON. Raises FixInput when that is none."""
        try:
            return GatewayToken(
                str(value["id"]),
                str(value["name"]),
                str(value["digest"]),
                tuple(str(s) for s in value["sources"]),
                float(value["expires_at"]),
            )
        except (KeyError, TypeError, ValueError):
            raise FixInput("A kept token cannot be read; make a new one", code="bad token") from None


def make_token(
    name: str, now: float, seconds: float, random: bytes, sources: Sequence[str] = ()
) -> tuple[str, GatewayToken]:
    """Make a token: (its text, shown once; what is kept). random: RANDOM_BYTES from the operating system."""
    if len(random) < RANDOM_BYTES:
        raise ValueError(f"a token needs {RANDOM_BYTES} random bytes, got {len(random)}")
    if not name.strip():
        raise FixInput("Say for whom the token is", code="missing field", where="name")
    if not 0.0 < seconds <= 400 * 86400.0:
        raise FixInput("A token holds for at most 400 days", code="out of range", where="hours")
    text = _PREFIX + random.hex()
    digest = hashlib.sha256(text.encode()).hexdigest()
    return text, GatewayToken(digest[:12], name.strip(), digest, tuple(sources), now + seconds)


def check_token(text: str, kept: Sequence[GatewayToken], source: str, now: float) -> GatewayToken:
    """Return the token that lets its holder hand in readings of a source now. text: as sent, "Bearer " before it or not.

    Raises NotAllowed for one that is unknown, over, or for other sources. Every kept token is compared, in constant time.
    """
    plain = text.strip()
    if plain[:7].lower() == "bearer ":
        plain = plain[7:].strip()
    digest = hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()
    found = None
    for token in kept:
        if hmac.compare_digest(token.digest.encode(), digest.encode()):
            found = token
    if found is None:
        raise NotAllowed("This token is not known here; ask for a new one", code="token unknown")
    if now >= found.expires_at:
        raise NotAllowed(f"The token of “{found.name}” is over; ask for a new one", code="token over")
    if found.sources and source not in found.sources:
        raise NotAllowed(f"The token of “{found.name}” is not for the source “{source[:60]}”", code="token scope")
    return found
