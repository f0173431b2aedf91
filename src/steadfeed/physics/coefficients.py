"""The coefficient file: which refrigerants it holds, which are refused, and its version."""

from __future__ import annotations

import difflib
import hashlib
import json
import re
from functools import cache
from pathlib import Path
from typing import Any

from steadfeed.errors import FixInput

# one file: read, hashed and parsed in about 3 ms, which is less than a folder of files would cost (decisions/0001)
_FILE = Path(__file__).parent / "data" / "coefficients.json"


@cache
def _content() -> bytes:
    return _FILE.read_bytes()


@cache
def _parsed() -> dict[str, Any]:
    parsed: dict[str, Any] = json.loads(_content())
    return parsed


@cache
def coefficient_file_version() -> str:
    """Return a short hash of the coefficient file's content; part of every method version."""
    return hashlib.sha256(_content()).hexdigest()[:8]


@cache
def refrigerant_names() -> tuple[str, ...]:
    """Return the designations that `properties.curves` knows, in the order of their numbers."""
    return tuple(sorted(_parsed()["refrigerants"], key=_by_number))


def refused() -> dict[str, str]:
    """Return the refrigerants that are refused, each with the reason."""
    reasons: dict[str, str] = _parsed()["refused"]
    return dict(sorted(reasons.items(), key=lambda item: _by_number(item[0])))


def designation(name: str) -> str:
    """Return the designation as the coefficient file has it: "R410A", "r410a" and "410A" all mean "R-410A".

    Raises FixInput for a name that is not known (the nearest known ones are named) or is refused (with the reason).
    """
    known = {_plain(n): n for n in refrigerant_names()}
    plain = _plain(name)
    if plain in known:
        return known[plain]
    for other, reason in refused().items():
        if plain == _plain(other):
            raise FixInput(
                f"{other} is refused: {reason}",
                code="refrigerant refused",
            )
    near = [known[match] for match in difflib.get_close_matches(plain, known, n=3, cutoff=0.5)]
    hint = f"the nearest known are {', '.join(near)}" if near else "`steadfeed refrigerants` lists those known"
    shown = name if len(name) <= 40 else name[:39] + "…"
    raise FixInput(f"“{shown}” is no refrigerant known here; {hint}", code="unknown refrigerant")


def entry(name: str) -> dict[str, Any]:
    """Return what the file holds for a designation."""
    found: dict[str, Any] = _parsed()["refrigerants"][name]
    return found


def _by_number(name: str) -> tuple[int, str]:
    digits = re.search(r"\d+", name)
    return (int(digits[0]) if digits else 0, name)


def _plain(name: str) -> str:
    plain = re.sub(r"[^a-z0-9]", "", name.lower())
    return plain.removeprefix("refrigerant").removeprefix("r")
