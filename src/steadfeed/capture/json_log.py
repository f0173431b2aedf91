"""JSON Lines logs to tables of cells: one object a line, with the same names as the columns of a CSV log."""

from __future__ import annotations

import json

import numpy as np

from steadfeed.capture.limits import MAX_COLUMNS, MAX_ROWS, too_many_rows
from steadfeed.capture.table import Table, rows_text
from steadfeed.circuit.recording import Remark
from steadfeed.errors import FixInput


def read_json_lines(text: str, name: str, *, quick: bool = True) -> Table:
    """Cut a JSON Lines log into cells.

    quick: parse all lines in one go where that is possible; the result is the same. Raises FixInput when hardly a
    line is an object.
    """
    count = text.count("\n") + 1
    if count > MAX_ROWS:
        raise too_many_rows(name, count)
    # Only "\n" ends a line: others (U+2028) may stand inside a JSON string.
    lines = [(i, s) for i, s in enumerate(text.split("\n"), 1) if s and not s.isspace()]
    rows = _all_at_once([s for _, s in lines]) if quick else None
    numbers = [i for i, _ in lines]
    bad: list[int] = []
    if rows is None:
        rows, numbers = [], []
        for i, content in lines:
            try:
                row = json.loads(content)
            except (ValueError, RecursionError):
                row = None
            if isinstance(row, dict):
                rows.append(row)
                numbers.append(i)
            else:
                bad.append(i)
    if not rows or len(bad) > len(rows):
        line = bad[0] if bad else 1
        raise FixInput(
            f"{name}: line {line} is no JSON object; a JSON Lines log holds one object with a time and readings a line",
            code="bad JSON",
            where=name,
        )
    headers = list(dict.fromkeys(key for row in rows for key in row))
    if len(headers) > MAX_COLUMNS:
        raise FixInput(f"{name} has {len(headers):,} names; at most {MAX_COLUMNS} are read", code="too big", where=name)
    remarks = []
    if bad:
        why = "it was cut off" if bad == [lines[-1][0]] else "no JSON object"
        remarks.append(Remark("rows dropped", f"{rows_text(bad).capitalize()} dropped: {why}.", name))
    return Table(
        [h.strip() for h in headers],
        [[row.get(h) for row in rows] for h in headers],
        np.array(numbers, np.int64),
        remarks=remarks,
    )


def _all_at_once(lines: list[str]) -> list[dict[str, object]] | None:
    """Parse all lines as one array, or return None when one of them is not an object by itself."""
    try:
        rows: list[dict[str, object]] = json.loads("[" + ",\n".join(lines) + "]")
    except (ValueError, RecursionError):
        return None
    # "1],[2" in a line could make the whole valid though the line is not: every line must be one object
    if len(rows) != len(lines) or not all(type(row) is dict for row in rows):
        return None
    if not all(line.lstrip()[:1] == "{" and line.rstrip()[-1:] == "}" for line in lines):
        return None
    return rows
