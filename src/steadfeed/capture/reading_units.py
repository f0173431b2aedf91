"""Units of live readings: the word that a source sends, as this project writes it, or one sentence on why not."""

from __future__ import annotations

import difflib
from functools import lru_cache
from typing import Final

from steadfeed import units
from steadfeed.capture.columns import BARE_PRESSURE
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import PressureReference
from steadfeed.errors import FixInput

#: Kinds of quantity that a channel can have, in the order in which a unit word is looked up.
KINDS: Final = tuple(dict.fromkeys(CHANNEL_KINDS.values()))
#: Unit words that a reading may carry.
KNOWN_UNITS: Final = frozenset(unit for kind in KINDS for unit in units.units_of(kind) if unit not in ("", "1", "%"))
_BARE: Final = {word.lower(): word for word in BARE_PRESSURE}


@lru_cache(maxsize=512)
def unit_of(word: str, reference: PressureReference = "unknown") -> tuple[str, str]:
    """Return (unit as in units.py, kind of quantity) of a unit word as sent; ("", "") for an empty one.

    reference: what the source's pressures count from; settles a bare "psi". Raises FixInput for an unknown unit and for
    a pressure that is neither gauge nor absolute.
    """
    plain = word.strip()
    if not plain:
        return "", ""
    bare = _BARE.get(plain.lower())
    if bare is not None:
        gauge, absolute = BARE_PRESSURE[bare]
        if reference in ("vented", "sealed"):
            return gauge, "pressure"
        if reference == "absolute":
            return absolute, "pressure"
        raise FixInput(
            f"“{plain}” does not say whether it counts from the air or from vacuum; send {gauge} or {absolute}",
            code="unit ambiguous",
        )
    for kind in KINDS:
        try:
            unit = units.canonical_unit(plain, kind)
        except FixInput:
            continue
        if unit != "1":
            return "pct" if unit == "%" else unit, kind
    raise unknown_unit(plain)


def unknown_unit(word: str) -> FixInput:
    """Build the error for a unit word that means nothing here, naming the nearest one."""
    near = difflib.get_close_matches(word, KNOWN_UNITS, n=1)
    hint = f"did you mean {near[0]}?" if near else f"use one of {' '.join(sorted(KNOWN_UNITS))}"
    return FixInput(f"“{word[:40]}” is no unit that is known here ({hint})", code="unknown unit")


def kind_of_unit(unit: str) -> str:
    """Return the kind of quantity of a unit as written in units.py, "" for none."""
    try:
        return unit_of(unit)[1]
    except FixInput:
        return ""
