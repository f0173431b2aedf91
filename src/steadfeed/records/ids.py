"""Identities: UUIDs made by whoever makes the row, so that devices without a network never collide."""

from __future__ import annotations

import re
import uuid
from typing import Final

from steadfeed.errors import FixInput

_FORM: Final = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


def new_id() -> str:
    """Make a random identity (UUID version 4, RFC 9562)."""
    return str(uuid.uuid4())


def derived_id(*words: str) -> str:
    """Make the identity that always belongs to these words (UUID version 5), for seeded demos and benchmarks."""
    return str(uuid.uuid5(uuid.NAMESPACE_OID, "\x1f".join(words)))


def check_id(text: str, what: str = "identity") -> str:
    """Return `text` when it is a UUID in its plain lower-case form, else raise FixInput."""
    lowered = text.strip().lower()
    if not _FORM.fullmatch(lowered):
        raise FixInput(f"“{text}” is no {what}: a UUID such as 0b5f2c1e-… is needed", code="bad identity")
    return lowered
