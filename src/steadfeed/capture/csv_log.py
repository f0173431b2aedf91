"""Comma-, semicolon- and tab-separated logs to tables of cells."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from steadfeed.capture.columns import Meaning
from steadfeed.capture.limits import MAX_COLUMNS, MAX_ROWS, too_many_rows
from steadfeed.capture.table import Table, decimal_of, rows_text
from steadfeed.circuit.recording import Remark
from steadfeed.errors import FixInput

_SEPARATORS: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}
#: A header may stand below some lines about the instrument; it is looked for in this many lines.
_HEADER_LINES: Final = 60

Understand = Callable[[str], Meaning]


def decode(data: bytes, name: str) -> tuple[str, list[Remark]]:
    """Turn the bytes of a text log into text: UTF-8 (with or without mark), UTF-16, else Windows-1252.

    Raises FixInput for what is no text.
    """
    remarks: list[Remark] = []
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or _looks_like_utf16(data):
        wide = (
            "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-16-le" if data[1:2] == b"\0" else "utf-16-be"
        )
        text = data.decode(wide, errors="replace")
    else:
        for magic, what in _MAGIC:
            if data.startswith(magic):
                raise FixInput(f"{name} is {what}; export the log as CSV", code="not a log", where=name)
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
            remarks.append(Remark("encoding", "The text is not UTF-8; it was read as Windows-1252.", name))
    start = text[:4096]
    odd = sum(1 for c in start if (c < " " and c not in "\t\r\n\f\x1a") or c in "\x7f\ufffd")
    if "\0" in text or odd > len(start) // 50:
        raise FixInput(
            f"{name} is not text; a log is a CSV, JSON Lines or Parquet file",
            code="not text",
            where=name,
        )
    return text, remarks


_MAGIC: Final = (
    (b"PK\x03\x04", "a workbook or an archive"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
    (b"\x1f\x8b", "compressed"),
    (b"\xfd7zXZ", "compressed"),
    (b"BZh", "compressed"),
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3", "a database"),
)


def _looks_like_utf16(data: bytes) -> bool:
    start = data[:512]
    if len(start) < 8:
        return False
    even, odd = start[0::2], start[1::2]
    return (odd.count(0) > 0.9 * len(odd) and even.count(0) == 0) or (
        even.count(0) > 0.9 * len(even) and odd.count(0) == 0
    )


def read_csv(text: str, name: str, understand: Understand, *, quick: bool = True) -> Table:
    """Cut a text log into cells.

    text: of the whole file. name: for messages. understand: tells what a header means. quick: cut regular files in
    one go; the result is the same, only sooner. Raises FixInput when no header row is found.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = text.rstrip("\x1a")
    body, first_line, separator, headers, skipped = _find_header(text, name, understand)
    remarks = []
    if skipped:
        remarks.append(
            Remark("lines skipped", f"{rows_text(skipped)} above the header row says nothing about readings.", name)
        )
    body_rows = body.count("\n") + 1
    if body_rows > MAX_ROWS:
        raise too_many_rows(name, body_rows)
    table = _cut_regular(body, first_line, separator, headers) if quick else None
    if table is None:
        table = _cut_any(body, first_line, separator, headers, name, understand)
    table.remarks[:0] = remarks
    return table


def _find_header(text: str, name: str, understand: Understand) -> tuple[str, int, str, list[str], list[int]]:
    """Find the header row and the separator by what makes most sense of the first lines.

    Returns the text below the header, the number of its first line, the separator, the headers, and the lines above
    the header that are neither blank nor comments.
    """
    position, line_number = 0, 0
    skipped: list[int] = []
    first = ""
    best: tuple[int, tuple[str, int, str, list[str], list[int]]] | None = None
    while position < len(text) and line_number < _HEADER_LINES:
        line = _peek(text, position)
        line_number += 1
        position += len(line) + 1
        content = line.strip()
        if content.startswith("#"):  # perhaps the header row itself was made a comment
            line = content.lstrip("# ")
            if _score(line, understand)[0] < 3 or _score(_peek(text, position), understand)[0]:
                continue
        elif not content or (content.lower().startswith("sep=") and len(content) == 5):
            continue
        first = first or content
        score, separator, headers = _score(line, understand)
        if score and (best is None or score > best[0]):
            best = (score, (text[position:], line_number + 1, separator, headers, skipped.copy()))
            if score >= 2:
                break
        skipped.append(line_number)
    if best is not None:
        return best[1]
    if not first:
        raise FixInput(f"{name} holds no header and no readings", code="empty file", where=name)
    raise _no_header(name, first)


def _no_header(name: str, line: str) -> FixInput:
    shown = line if len(line) <= 60 else line[:59] + "…"
    if any(s in line for s in "|:") and not any(s in line for s in _SEPARATORS):
        return FixInput(
            f"{name}: the cells of “{shown}” are not separated by commas, semicolons or tabs; export the log so",
            code="wrong separator",
            where=name,
        )
    return FixInput(
        f"{name}: no header row with a time and channels such as suction_pressure_psig was found (it starts “{shown}”); "
        "name the columns so, or map them under [columns] in the system file",
        code="no header",
        where=name,
    )


def _peek(text: str, position: int) -> str:
    """Return the line of a text that starts at a position."""
    end = text.find("\n", position)
    return text[position : len(text) if end < 0 else end]


def _score(line: str, understand: Understand) -> tuple[int, str, list[str]]:
    """Return how many headers of a line mean something, with the separator and the headers that make it so."""
    best: tuple[int, str, list[str]] = (0, "", [])
    if len(line) > 20_000:
        return best
    for separator in _SEPARATORS:
        headers = _cells(line, separator)
        while headers and not headers[-1]:  # separators at the end of the line
            headers.pop()
        if len(headers) > MAX_COLUMNS:
            continue
        known = sum(1 for h in headers if h and understand(h).role not in ("unknown", "ignored"))
        # a lone header that is understood with its separators inside ("time,suction …") is none
        if len(headers) == 1 and any(s in headers[0] for s in _SEPARATORS):
            known = 0
        if known > best[0]:
            best = (known, separator, headers)
    return best


def _cells(line: str, separator: str) -> list[str]:
    if '"' in line:
        try:
            rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True))
        except csv.Error:
            rows = [[line]]
        cells = rows[0] if rows else []
    else:
        cells = line.split(separator)
    return [c.strip() for c in cells]


def _cut_regular(body: str, first_line: int, separator: str, headers: list[str]) -> Table | None:
    """Cut a body in which every line holds as many cells as the header, or return None."""
    body = body.strip("\n") if body.endswith("\n\n") or body.startswith("\n") else body.removesuffix("\n")
    if not body or '"' in body or "#" in body or "\n\n" in body:
        return None
    width = len(headers)
    lines = body.count("\n") + 1
    cells = body.replace("\n", separator).split(separator)
    if len(cells) != lines * width:
        return None
    raw = np.frombuffer(body.encode("utf-8", "surrogatepass"), np.uint8)
    ends = np.flatnonzero(raw == 10)
    separators = np.flatnonzero(raw == ord(separator))
    if np.any(np.searchsorted(separators, ends) != (width - 1) * np.arange(1, lines)):
        return None
    columns: list[Sequence[object]] = [cells[i::width] for i in range(width)]
    if any(header in column[:1] for header, column in zip(headers, columns, strict=True)):
        return None  # the header again
    for column, header in zip(columns, headers, strict=True):
        if header and header in column:
            return None
    decimal = decimal_of(columns, separator) if separator != "," and "," in body else "."
    return Table(list(headers), list(columns), np.arange(first_line, first_line + lines), decimal=decimal)


def _cut_any(
    body: str,
    first_line: int,
    separator: str,
    headers: list[str],
    name: str,
    understand: Understand,
) -> Table:
    """Cut a body row by row, leaving out what is no row of readings and saying so."""
    remarks: list[Remark] = []
    rows: list[list[str]] = []
    lines: list[int] = []
    again: list[int] = []
    short: list[int] = []
    long: list[int] = []
    width = len(headers)
    plain_header = [h.lower() for h in headers]
    for line, content in enumerate(body.split("\n"), first_line):
        if not content or content.isspace() or content.lstrip().startswith("#"):
            continue
        # Each line by itself: one stray quote must not swallow the rest of the log.
        row = _cells(content, separator)
        if len(row) > width and not any(row[width:]):
            del row[width:]
        if not any(row):
            continue
        if not any(c[:1].isdigit() for c in row):
            if [c.lower() for c in row] == plain_header:
                again.append(line)
                continue
            if _is_other_header(row, understand):
                raise FixInput(
                    f"{name}: line {line} is a header row with other columns; cut the file in two there",
                    code="second header",
                    where=name,
                )
        if len(row) < width:
            short.append(line)
        elif len(row) > width:
            long.append(line)
        else:
            rows.append(row)
            lines.append(line)
    if not rows and (short or long):
        bad = (short or long)[0]
        raise _rows_do_not_fit(name, bad, width, separator, bool(long))
    if len(long) > len(rows):
        raise _rows_do_not_fit(name, long[0], width, separator, True)
    if again:
        remarks.append(Remark("header again", f"The header comes again in {rows_text(again)}; left out.", name))
    if short:
        last = short[-1] == lines[-1] + 1 if lines else False
        why = "the last one was cut off" if last and len(short) == 1 else f"fewer than {width} cells"
        remarks.append(Remark("rows dropped", f"{rows_text(short).capitalize()} dropped: {why}.", name))
    if long:
        remarks.append(
            Remark("rows dropped", f"{rows_text(long).capitalize()} dropped: more than {width} cells.", name)
        )
    columns: list[Sequence[object]] = [list(c) for c in zip(*rows, strict=True)] if rows else [[] for _ in headers]
    decimal = decimal_of(columns, separator) if "," in body else "."
    return Table(list(headers), list(columns), np.array(lines, np.int64), decimal=decimal, remarks=remarks)


def _is_other_header(row: list[str], understand: Understand) -> bool:
    """Tell whether a row of cells is a header row (with other columns than the first)."""
    meanings = [understand(c) for c in row if c]
    return any(m.role in ("time", "elapsed", "date") for m in meanings) and any(m.role == "channel" for m in meanings)


def _rows_do_not_fit(name: str, line: int, width: int, separator: str, too_long: bool) -> FixInput:
    if too_long and separator == ",":
        return FixInput(
            f"{name}: line {line} has more cells than the header's {width}; numbers with a decimal comma need "
            "semicolons between the cells",
            code="cells do not fit",
            where=name,
        )
    return FixInput(
        f"{name}: line {line} does not have the header's {width} cells, separated by {_SEPARATORS[separator]}",
        code="cells do not fit",
        where=name,
    )


def headers_of(text: str, name: str, understand: Understand) -> list[str]:
    """Return the headers of a text log. Raises FixInput when no header row is found."""
    return _find_header(text.replace("\r\n", "\n").replace("\r", "\n"), name, understand)[3]


def needs_care(table: Table, understand: Understand) -> bool:
    """Tell whether a table that was cut in one go has rows without a time, which want a second look one by one.

    They may be blank, the header again, a comment or a second header.
    """
    for header, cells in zip(table.headers, table.columns, strict=True):
        if understand(header).role in ("time", "elapsed") and not all(str(c)[:1].isdigit() for c in cells):
            return True
    return False
