"""Cells to numbers: columns of text as they stand in a file, and what becomes of each cell."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from steadfeed import units
from steadfeed.circuit.channel import BoolArray, FloatArray
from steadfeed.circuit.recording import Remark
from steadfeed.errors import FixInput

#: Words that stand for "no reading", lower case. A cell without letters or digits ("---", "—", "?") is one too.
MISSING_WORDS: Final = frozenset(
    {
        "", "ol", "o.l.", "o.l", "0l", "0.l", "-ol", "+ol", "overload", "over", "open", "nan", "na", "n/a", "n.a.",
        "n.a", "#n/a", "#na", "#value!", "null", "none", "nil", "missing", "err", "err.", "error", "fault", "fail",
        "off", "lo", "hi", "low", "high", "inf", "+inf", "-inf", "infinity", "-infinity", "+infinity", "under",
        "no reading", "not read", "disconnected", "no signal", "lost",
    }
)  # fmt: skip

#: Decimal point or decimal comma, as the whole file writes its numbers.
Decimal = Literal[".", ","]


@dataclass(slots=True)
class Table:
    """Cells of a log before anything is understood.

    headers: as received. columns: one sequence of cells a header, all of one length; cells are text, numbers or None,
    or a float array (NaN = missing). lines: number of each row in the file, for people (lines of a text file, rows of
    a Parquet file). kind_of_row: "line" or "row". decimal: how numbers are written.
    """

    headers: list[str]
    columns: list[Sequence[object] | FloatArray]
    lines: np.ndarray[tuple[int], np.dtype[np.int64]]
    kind_of_row: str = "line"
    decimal: Decimal = "."
    remarks: list[Remark] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.lines)


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """A column of numbers in the unit of its header.

    values: NaN = missing, shape (n,). blank: True where the cell was empty, None when no cell was. unread: (index,
    text) of cells that hold something that is neither a number nor a word for "missing".
    """

    values: FloatArray
    blank: BoolArray | None = None
    unread: tuple[tuple[int, str], ...] = ()


def numbers(
    cells: Sequence[object] | FloatArray, unit: str, kind: str, decimal: Decimal, *, plain: bool = True
) -> Numbers:
    """Turn a column of cells into numbers of `unit`.

    plain: try all cells at once first; the result is the same, only sooner.
    """
    if isinstance(cells, np.ndarray):
        values = cells.astype(np.float64)
        values[~np.isfinite(values)] = np.nan
        return Numbers(values)
    if plain:
        quick = _all_plain(cells, decimal)
        if quick is not None:
            return Numbers(quick)
    n = len(cells)
    values = np.full(n, np.nan)
    blank = np.zeros(n, np.bool_)
    unread: list[tuple[int, str]] = []
    known: dict[object, float | None] = {}
    for i, cell in enumerate(cells):
        if cell is None:
            blank[i] = True
            continue
        if type(cell) is not str:
            number = _of_object(cell)
        else:
            if cell not in known:
                if not cell.strip():
                    known[cell] = math.nan
                else:
                    known[cell] = cell_number(cell, unit, kind, decimal)
            number = known[cell]
            blank[i] = not cell or cell.isspace()
        if number is None:
            unread.append((i, _shown(cell)))
        else:
            values[i] = number
    return Numbers(values, blank if blank.any() else None, tuple(unread))


def _all_plain(cells: Sequence[object], decimal: Decimal) -> FloatArray | None:
    """Read a column of nothing but plain numbers, or return None."""
    try:
        joined = "\x1f".join(cells)  # type: ignore[arg-type]
    except TypeError:
        if not set(map(type, cells)) <= {int, float}:
            return None
    else:
        # float() also takes "1_0" and the digits of other scripts, which no instrument writes
        if "_" in joined or not joined.isascii():
            return None
        if decimal == ",":
            if "." in joined:
                return None
            cells = joined.replace(",", ".").split("\x1f")
    try:
        values = np.array(list(map(float, cells)), np.float64)  # type: ignore[arg-type]
    except (ValueError, OverflowError):
        return None
    return values if np.isfinite(values).all() else None


def _of_object(cell: object) -> float | None:
    """Read a number that the file holds as a number."""
    if isinstance(cell, bool):
        return None
    try:
        number = float(cell)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else math.nan


def _shown(cell: object) -> str:
    text = str(cell)
    return text if len(text) <= 24 else text[:23] + "…"


_NUMBER = re.compile(r"\s*([-+]?)\s*(\d[\d.,' ]*\d|\d|[.,]\d+)([.,]?)\s*(?:[eE]([-+]?\d+))?\s*([^\d\s].*?)?\s*")
_THOUSANDS = {
    ".": re.compile(r"\d{1,3}(?:[, ']\d{3})+(?:\.\d*)?"),
    ",": re.compile(r"\d{1,3}(?:[. ']\d{3})+(?:,\d*)?"),
}
_PLAIN = {".": re.compile(r"\d*\.?\d*"), ",": re.compile(r"\d*,?\d*")}


def cell_number(cell: str, unit: str, kind: str, decimal: Decimal) -> float | None:
    """Read one cell: a number in `unit`, NaN for "missing", None for what cannot be read.

    A unit written in the cell wins over the header's ("12 inHg" under psig), because the person saw the gauge.
    """
    text = cell.strip().strip('"').strip()
    if text.lower() in MISSING_WORDS or not any(c.isalnum() for c in text):
        return math.nan
    text = text.replace("−", "-").replace("–", "-").replace("\u00a0", " ").replace("\u202f", " ")
    if len(text) > 64:
        return None
    if not text.isascii() and not re.fullmatch(r"[\x00-\x7f°º]*", text):
        return None
    found = _NUMBER.fullmatch(text)
    if not found:
        return None
    sign, digits, tail, exponent, word = found.groups()
    digits += tail
    other: Decimal = "," if decimal == "." else "."
    if _PLAIN[decimal].fullmatch(digits):
        plain = digits.replace(",", ".")
    elif _THOUSANDS[decimal].fullmatch(digits):
        plain = re.sub(rf"[{re.escape(other)} ']", "", digits).replace(",", ".")
    else:
        return None
    try:
        number = float(f"{sign}{plain}e{exponent or 0}")
    except ValueError:
        return None
    if not math.isfinite(number):
        return math.nan
    if word and word.strip():
        return _in_unit(number, word.strip(), unit, kind)
    return number


def _in_unit(number: float, word: str, unit: str, kind: str) -> float | None:
    try:
        written = units.canonical_unit(word, kind)
    except FixInput:
        # "118 psi" under a psig header is the header's unit
        return number if kind == "pressure" and unit[:-1].lower() == word.lower() else None
    if written == unit:
        return number
    if kind == "pressure":
        if written == "inHg":  # a compound gauge shows vacuum without a sign
            number = -abs(number)
        if units.is_gauge(written) != units.is_gauge(unit):
            return None
        return number * units.linear(kind, written, 0.0)[0] / units.linear(kind, unit, 0.0)[0]
    factor, offset = units.linear(kind, written)
    to_factor, to_offset = units.linear(kind, unit)
    return (number * factor + offset - to_offset) / to_factor


_COMMA_ONLY = re.compile(r"[-+−]?\d*,\d+")
_DOT_ONLY = re.compile(r"[-+−]?\d*\.\d+")
_GROUPED = {",": re.compile(r"[-+−]?[1-9]\d{0,2}(?:,\d{3})+"), ".": re.compile(r"[-+−]?[1-9]\d{0,2}(?:\.\d{3})+")}
_BOTH = re.compile(r"[-+−]?\d{1,3}(?:([.,])\d{3})+([.,])\d+")


def decimal_of(columns: Sequence[Sequence[object]], separator: str) -> Decimal:
    """Tell whether the numbers of a file are written with a decimal point or a decimal comma.

    separator: between the cells; between commas, a cell with a comma must have been quoted.
    """
    commas: set[str] = set()
    dots: set[str] = set()
    for column in columns:
        for cell in column:
            if type(cell) is not str:
                continue
            if "," in cell:
                text = cell.strip()
                both = _BOTH.fullmatch(text)
                if both and both[1] != both[2]:
                    return "," if both[2] == "," else "."
                if _COMMA_ONLY.fullmatch(text):
                    commas.add(text)
            elif "." in cell and len(dots) < 10_000:
                text = cell.strip()
                if _DOT_ONLY.fullmatch(text):
                    dots.add(text)
    if not commas:
        return "."
    grouped = all(_GROUPED[","].fullmatch(c) for c in commas)
    if not dots:
        return "." if grouped and separator == "," else ","
    if grouped:
        return "."
    return "," if all(_GROUPED["."].fullmatch(c) for c in dots) else "."


def rows_text(lines: Sequence[int], kind_of_row: str = "line") -> str:
    """Write "line 5" or "lines 5, 9 and 12" or "1,204 lines (5, 9, 12, 40, 41 …)"."""
    n = len(lines)
    if n == 1:
        return f"{kind_of_row} {lines[0]}"
    if n <= 5:
        return f"{kind_of_row}s {', '.join(str(i) for i in lines[:-1])} and {lines[-1]}"
    return f"{n:,} {kind_of_row}s ({', '.join(str(i) for i in lines[:5])} …)"
