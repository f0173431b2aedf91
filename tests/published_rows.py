"""Rows of figures from outside, and their units: a table each in tests/published/data, with its source on top."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parent / "published" / "data"
PSI = 6894.757
SEA_LEVEL = 14.696


def rows(name: str) -> list[dict[str, str]]:
    """Read one table; lines that begin with # are its source."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * 5.0 / 9.0


def fahrenheit(kelvin: float) -> float:
    return kelvin * 9.0 / 5.0 - 459.67
