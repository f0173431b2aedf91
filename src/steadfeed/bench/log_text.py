"""Logs and system files as text, exactly as docs/reference describes them."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

import numpy as np

from steadfeed.bench.instruments import Readings, digits_of


def civil(days: int) -> tuple[int, int, int]:
    """Year, month, day of a number of days since 1970-01-01 (Gregorian; era of 400 years)."""
    z = days + 719468
    era = z // 146097
    day_of_era = z - era * 146097
    year_of_era = (day_of_era - day_of_era // 1460 + day_of_era // 36524 - day_of_era // 146096) // 365
    day_of_year = day_of_era - (365 * year_of_era + year_of_era // 4 - year_of_era // 100)
    month = (5 * day_of_year + 2) // 153
    day = day_of_year - (153 * month + 2) // 5 + 1
    month = month + 3 if month < 10 else month - 9
    return year_of_era + era * 400 + (month <= 2), month, day


def days_from_civil(year: int, month: int, day: int) -> int:
    """Days since 1970-01-01 of a date."""
    year -= month <= 2
    era = year // 400
    of_era = year - era * 400
    day_of_year = (153 * (month + (-3 if month > 2 else 9)) + 2) // 5 + day - 1
    return era * 146097 + of_era * 365 + of_era // 4 - of_era // 100 + day_of_year - 719468


def iso(moment: float, offset: float, milliseconds: bool = False) -> str:
    """ISO 8601 text of a moment [s since the Unix epoch] at an offset from UTC [s]."""
    ticks = round((moment + offset) * 1000) if milliseconds else round(moment + offset) * 1000
    seconds, thousandths = divmod(ticks, 1000)
    days, rest = divmod(seconds, 86400)
    year, month, day = civil(days)
    hour, rest = divmod(rest, 3600)
    minute, second = divmod(rest, 60)
    part = f".{thousandths:03d}" if milliseconds else ""
    sign = "-" if offset < 0 else "+"
    off_h, off_m = divmod(abs(round(offset)) // 60, 60)
    return f"{year:04d}-{month:02d}-{day:02d}T{hour:02d}:{minute:02d}:{second:02d}{part}{sign}{off_h:02d}:{off_m:02d}"


def moment_of(text: str) -> tuple[float, float]:
    """Return (seconds since the Unix epoch, offset [s]) of "2025-07-14T10:21:30-05:00"."""
    date, _, rest = text.partition("T")
    year, month, day = (int(x) for x in date.split("-"))
    sign = -1.0 if "-" in rest else 1.0
    clock, _, zone = rest.partition("-" if sign < 0 else "+")
    hour, minute, second = (int(x) for x in clock.split(":"))
    off_h, off_m = (int(x) for x in zone.split(":"))
    offset = sign * (off_h * 3600.0 + off_m * 60.0)
    return days_from_civil(year, month, day) * 86400.0 + hour * 3600.0 + minute * 60.0 + second - offset, offset


def csv_text(
    readings: Readings, start: float, offset: float, milliseconds: bool = False, order: Sequence[int] | None = None
) -> str:
    """Log as CSV. start: moment of the plant's time 0 [s since the Unix epoch]; offset from UTC [s]; order of columns."""
    which = list(range(len(readings.columns))) if order is None else list(order)
    formats = [f"%.{digits_of(readings.columns[k])}f" for k in which]
    lines = [",".join(["time", *(readings.columns[k].header for k in which)])]
    for moment, row in zip(readings.time, readings.values, strict=True):
        cells = ["" if isnan(row[k]) else f % row[k] for k, f in zip(which, formats, strict=True)]
        lines.append(",".join([iso(start + float(moment), offset, milliseconds), *cells]))
    return "\n".join(lines) + "\n"


def toml_value(value: object) -> str:
    """A TOML value: text, number, true/false."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float | np.floating):
        text = f"{float(value):.6g}"
        return text if any(c in text for c in ".en") else text + ".0"
    raise TypeError(f"no TOML for {value!r}")


def toml_text(top: dict[str, object], tables: dict[str, dict[str, object]], marks: Sequence[dict[str, object]]) -> str:
    """System file: keys at the top, tables, then the marks. None is left out."""
    lines = [f"{k} = {toml_value(v)}" for k, v in top.items() if v is not None]
    for name, table in tables.items():
        rows = [f"{k} = {toml_value(v)}" for k, v in table.items() if v is not None]
        if rows:
            lines += ["", f"[{name}]", *rows]
    for mark in marks:
        lines += ["", "[[marks]]", *(f"{k} = {toml_value(v)}" for k, v in mark.items() if v is not None)]
    return "\n".join(lines) + "\n"
