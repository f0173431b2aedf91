"""Base45 (RFC 9285): bytes as the characters that a QR code packs most tightly."""

from __future__ import annotations

from typing import Final

from steadfeed.errors import FixInput

_ALPHABET: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_VALUES: Final = {character: value for value, character in enumerate(_ALPHABET)}


def encode(content: bytes) -> str:
    """Return bytes as Base45: three characters for two bytes, two for a last single one."""
    out = []
    for at in range(0, len(content) - 1, 2):
        high, rest = divmod(content[at] * 256 + content[at + 1], 45 * 45)
        middle, low = divmod(rest, 45)
        out += [_ALPHABET[low], _ALPHABET[middle], _ALPHABET[high]]
    if len(content) % 2:
        high, low = divmod(content[-1], 45)
        out += [_ALPHABET[low], _ALPHABET[high]]
    return "".join(out)


def decode(text: str) -> bytes:
    """Return the bytes of Base45. Raises FixInput when it is none."""
    try:
        values = [_VALUES[character] for character in text]
    except KeyError as error:
        raise FixInput(f"{error.args[0]!r} cannot be in a code of this kind", code="bad code") from None
    out = bytearray()
    for at in range(0, len(values), 3):
        piece = values[at : at + 3]
        if len(piece) == 1:
            raise FixInput("This code is cut short", code="bad code")
        number = piece[0] + piece[1] * 45 + (piece[2] * 2025 if len(piece) == 3 else 0)
        if number > (0xFFFF if len(piece) == 3 else 0xFF):
            raise FixInput("This code is broken", code="bad code")
        out += number.to_bytes(len(piece) - 1, "big")
    return bytes(out)
