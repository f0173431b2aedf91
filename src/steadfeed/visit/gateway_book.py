"""The tokens of gateways as they are kept beside the store: made, listed, ended, checked. Only hashes are kept."""

from __future__ import annotations

import contextlib
import secrets
import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput, NotAllowed

if TYPE_CHECKING:
    from steadfeed.capture.gateway_token import GatewayToken
    from steadfeed.visit.station import Station


class GatewayBook:
    """The tokens of one station. May be used from several threads."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._lock = threading.Lock()

    def _tokens(self) -> list[GatewayToken]:
        from steadfeed.capture.gateway_token import GatewayToken

        kept = self._station.kept("gateways.json").get("tokens", [])
        found = []
        for value in kept if isinstance(kept, list) else []:
            with contextlib.suppress(FixInput, AttributeError):
                found.append(GatewayToken.from_value(value))
        return found

    def _keep(self, tokens: Sequence[GatewayToken]) -> None:
        now = self._station.clock()
        self._station.keep("gateways.json", {"tokens": [t.to_value() for t in tokens if t.expires_at > now]})

    def make(self, name: str, hours: float, sources: Sequence[str] = ()) -> dict[str, Any]:
        """Make a token for a gateway; its text is in the answer and nowhere else. sources: what it may send; none: any."""
        from steadfeed.capture.gateway_token import RANDOM_BYTES, make_token

        text, kept = make_token(name, self._station.clock(), hours * 3600.0, secrets.token_bytes(RANDOM_BYTES), sources)
        with self._lock:
            self._keep([*self._tokens(), kept])
        return _form(kept, text)

    def all(self) -> list[dict[str, Any]]:
        """Return the tokens that hold, without their texts."""
        now = self._station.clock()
        return [_form(t, None) for t in self._tokens() if t.expires_at > now]

    def end(self, token_id: str) -> None:
        """End a token. Raises FixInput when there is none."""
        with self._lock:
            kept = self._tokens()
            left = [t for t in kept if t.id != token_id]
            if len(left) == len(kept):
                raise FixInput(f"No token has the identity {token_id[:40]}", code="no such token")
            self._keep(left)

    def known(self, text: str) -> bool:
        """Tell whether a bearer token is one of ours and holds; what it may send is checked with the message."""
        from steadfeed.capture.gateway_token import check_token

        tokens = [replace(t, sources=()) for t in self._tokens()]
        try:
            check_token(text, tokens, "", self._station.clock())
        except NotAllowed:
            return False
        return True

    def check(self, text: str, source: str) -> None:
        """Raise NotAllowed when a bearer token does not let its holder send readings of a source now."""
        from steadfeed.capture.gateway_token import check_token

        check_token(text, self._tokens(), source, self._station.clock())


def _form(kept: GatewayToken, text: str | None) -> dict[str, Any]:
    return {
        "id": kept.id,
        "name": kept.name,
        "sources": list(kept.sources),
        "token": text,
        "expires_at": kept.expires_at,
    }
