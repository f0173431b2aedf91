"""Every threshold of the judgement with its value, unit and source. Nothing else decides by a number of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Criterion:
    """A threshold. value in SI units of `kind` (see units.py; "" = plain number); source: published, measured or practice."""

    value: float
    kind: str
    text: str
    source: str


CRITERIA: Final[dict[str, Criterion]] = {}
