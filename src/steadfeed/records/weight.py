"""Weights of refrigerant as integers: hundredths of an avoirdupois ounce.

Sums of a ledger must not drift, so weights are integers. A hundredth of an ounce (0.2835 g) is finer than any scale of
the trade and gives back exactly what was typed both in ounces with two decimals and in whole grams, which a whole gram
does not do for ounces. What the person typed is kept beside it.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

from steadfeed.errors import FixInput, OutOfRange

#: One avoirdupois ounce [g], exact (NIST Handbook 44, appendix C: 1 lb = 453.59237 g).
OUNCE_G: Final = Decimal("28.349523125")
_PER_UNIT: Final = {  # hundredths of an ounce
    "lb": Decimal(1600),
    "oz": Decimal(100),
    "g": Decimal(100) / OUNCE_G,
    "kg": Decimal(100_000) / OUNCE_G,
}
_PIECE: Final = re.compile(r"\s*(\d+(?:\.\d+)?|\.\d+)\s*(lbs?|pounds?|ozs?|ounces?|kg|g|grams?)\b", re.IGNORECASE)
_LIMIT: Final = 1_600_000  # 1,000 lb


def parse_weight(text: str) -> int:
    """Read "6 lb 4.5 oz", "6 oz" or "1.2 kg": return hundredths of an ounce, never negative.

    Raises FixInput when it is no weight with a unit, OutOfRange above 1,000 lb.
    """
    total, at, used = Decimal(0), 0, []
    while at < len(text) and text[at:].strip():
        found = _PIECE.match(text, at)
        if not found:
            raise _no_weight(text)
        unit = found[2].lower()
        unit = "lb" if unit[0] in "lp" else "oz" if unit[0] == "o" else "kg" if unit == "kg" else "g"
        used.append(unit)
        total += Decimal(found[1]) * _PER_UNIT[unit]
        at = found.end()
    if not used or (len(used) > 1 and used != ["lb", "oz"]):
        raise _no_weight(text)
    if total > _LIMIT:
        raise OutOfRange(f"“{text}” is more than 1,000 lb (454 kg) of refrigerant; check the unit", code="out of range")
    return int(total.to_integral_value(ROUND_HALF_EVEN))


def _no_weight(text: str) -> FixInput:
    return FixInput(f"“{text}” is no weight; write for example “6 oz”, “2 lb 4 oz” or “1.2 kg”", code="bad weight")


def grams(hundredths: int) -> int:
    """Return a weight in whole grams [g]."""
    return int((Decimal(hundredths) * OUNCE_G / 100).to_integral_value(ROUND_HALF_EVEN))


def say_weight(hundredths: int, units: str = "us") -> str:
    """Return a weight as people write it: "2 lb 4.5 oz" (us) or "1.035 kg" (si)."""
    sign, size = ("−" if hundredths < 0 else ""), abs(hundredths)
    if units == "si":
        g = grams(size)
        return f"{sign}{g} g" if g < 1000 else f"{sign}{Decimal(g) / 1000} kg"
    pounds, rest = divmod(size, 1600)
    ounces = f"{Decimal(rest) / 100:f}"
    ounces = ounces.rstrip("0").rstrip(".") if "." in ounces else ounces
    if not pounds:
        return f"{sign}{ounces} oz"
    return f"{sign}{pounds} lb" if not rest else f"{sign}{pounds} lb {ounces} oz"
