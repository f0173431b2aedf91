"""Sentences of the live screens, from one catalog in two languages that every client shares.

The catalog is a data file: code -> language -> template. {name} in a template stands for an argument: a quantity is
shown in the person's units, a word that is itself a code ("word.head") in the person's language. A sentence is at most
48 characters with the longest arguments it takes; a test holds all of them to that.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Final

from steadfeed.units import STANDARD_ATMOSPHERE, from_si

LANGUAGES: Final = ("en", "es")
LONGEST: Final = 48
_FILE: Final = Path(__file__).parent / "data" / "sentences.json"
_SLOT: Final = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class Amount:
    """A number in a sentence. kind: as in units, and "share" (of a face), "pressure_rate" [Pa/s]; value in SI."""

    kind: str
    value: float


Argument = Amount | str | int


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence by its code and arguments; nobody's language yet."""

    code: str
    arguments: Mapping[str, Argument] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Speech:
    """How a person wants to be spoken to. atmosphere: of the place, for gauge pressures [Pa]."""

    language: str = "en"
    units: str = "us"
    atmosphere: float = STANDARD_ATMOSPHERE


def said(code: str, **arguments: Argument) -> Said:
    """Return a sentence of the catalog. Raises KeyError for a code that is not in it."""
    _catalog()[code]
    return Said(code, arguments)


def pressure(value: float) -> Amount:
    """Return an absolute pressure [Pa] for a sentence."""
    return Amount("pressure", value)


def difference(value: float) -> Amount:
    """Return a temperature difference [K] for a sentence."""
    return Amount("temperature_difference", value)


def temperature(value: float) -> Amount:
    """Return a temperature [K] for a sentence."""
    return Amount("temperature", value)


def seconds(value: float) -> Amount:
    """Return a length of time [s] for a sentence."""
    return Amount("time", value)


def share(value: float) -> Amount:
    """Return a share of the face for a sentence."""
    return Amount("share", value)


def text_of(sentence: Said, speech: Speech = Speech()) -> str:
    """Return the sentence as a person reads it."""
    template = _catalog()[sentence.code][speech.language]

    def fill(match: re.Match[str]) -> str:
        return shown(sentence.arguments[match[1]], speech)

    return _SLOT.sub(fill, template)


def shown(argument: Argument, speech: Speech) -> str:
    """Return an argument as a person reads it: with its unit, in their language."""
    if isinstance(argument, Amount):
        return _amount(argument, speech)
    if isinstance(argument, str) and argument in _catalog():
        return _catalog()[argument][speech.language]
    return str(argument)


_UNITS: Final[dict[str, dict[str, tuple[str, str, int]]]] = {
    "us": {
        "pressure": ("psig", "psig", 0),
        "pressure_difference": ("psi", "psi", 0),
        "temperature": ("degF", "°F", 0),
        "temperature_difference": ("degF", "°F", 0),
        "pressure_rate": ("psi", "psi/s", 1),
    },
    "si": {
        "pressure": ("barg", "bar", 1),
        "pressure_difference": ("bar", "bar", 1),
        "temperature": ("degC", "°C", 0),
        "temperature_difference": ("degC", "°C", 0),
        "pressure_rate": ("bar", "bar/s", 2),
    },
}


def _amount(amount: Amount, speech: Speech) -> str:
    if amount.kind == "time":
        return duration(amount.value, speech.language)
    if amount.kind == "share":
        return cover_words(amount.value)
    unit, word, digits = _UNITS[speech.units][amount.kind]
    kind = "pressure_difference" if amount.kind == "pressure_rate" else amount.kind
    number = from_si(amount.value, unit, kind, speech.atmosphere if kind == "pressure" else None)
    text = f"{number:.{digits}f}".replace("-", "−")
    if speech.language == "es":
        text = text.replace(".", ",")
    return f"{text} {word}"


def duration(value: float, language: str = "en") -> str:
    """Return a length of time [s] in words: "40 s", "2 min 10 s", "3 min", "1 h 5 min"."""
    del language  # the signs for hour, minute and second are the same in both
    whole = max(0, round(value))
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, rest = divmod(whole // 60, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


_PARTS: Final = {0.0: "0", 0.25: "¼", 0.5: "½", 0.75: "¾", 1.0: "1"}


def cover_words(value: float) -> str:
    """Return a share of the face: a quarter where it is one, per cent otherwise."""
    for part, word in _PARTS.items():
        if abs(value - part) < 0.02:
            return word
    return f"{value * 100:.0f} %"


@cache
def _catalog() -> dict[str, dict[str, str]]:
    loaded: dict[str, dict[str, str]] = json.loads(_FILE.read_text(encoding="utf-8"))
    return loaded


def codes() -> tuple[str, ...]:
    """Return every code of the catalog."""
    return tuple(_catalog())


def catalog_of(language: str) -> dict[str, str]:
    """Return code -> template in one language."""
    return {code: texts[language] for code, texts in _catalog().items()}


@cache
def catalog_version() -> str:
    """Return a short hash of the catalog."""
    return hashlib.sha256(_FILE.read_bytes()).hexdigest()[:8]


def form(sentence: Said, speech: Speech) -> dict[str, Any]:
    """Return a sentence for the wire: code, arguments in SI, text as this person reads it."""
    return {
        "code": sentence.code,
        "arguments": {
            name: {"kind": a.kind, "value": a.value} if isinstance(a, Amount) else a
            for name, a in sentence.arguments.items()
        },
        "text": text_of(sentence, speech),
    }
