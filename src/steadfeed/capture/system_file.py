"""System files: what the person knows of the unit, as TOML."""

from __future__ import annotations

import datetime as dt
import difflib
import math
import os
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from steadfeed import units
from steadfeed.capture import clock
from steadfeed.capture.columns import parse_target
from steadfeed.capture.files import read_bytes
from steadfeed.capture.limits import MAX_SYSTEM_BYTES
from steadfeed.capture.system_keys import EXAMPLES, FIELD_UNITS, KEYS, MARK_KEYS, TABLES, Key, Plain, Quantity, Word
from steadfeed.circuit.equipment import MeteringDevice, Site, System
from steadfeed.circuit.phase import MARK_EVENTS, Mark
from steadfeed.errors import FixInput


def read_system(path: str | os.PathLike[str]) -> System:
    """Read a system file. Raises FixInput with one sentence naming the file and the key."""
    data = read_bytes(path, limit=MAX_SYSTEM_BYTES)
    return parse_system_bytes(data, os.fspath(path))


def parse_system_bytes(data: bytes, where: str) -> System:
    """Read a system file from its bytes. where: name for messages."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FixInput(
            f"{where}: line {line} is not UTF-8 text; save the file as UTF-8", code="not text", where=where
        ) from None
    return parse_system(text, where)


def find_system(log_path: str | os.PathLike[str]) -> Path | None:
    """Return the system file beside a log: its stem with `.toml`, or None."""
    path = Path(log_path)
    try:
        beside = path.with_suffix(".toml")
        return beside if beside != path and beside.is_file() else None
    except (OSError, ValueError):  # a name that no file can have
        return None


def default_system() -> System:
    """Return a system of which nothing is known."""
    return System()


def parse_system(text: str, where: str) -> System:
    """Read a system file from its text.

    where: name for messages. Pressures become absolute with the site's atmosphere (barometer, else altitude, else sea
    level), everything else SI. Raises FixInput for broken TOML, an unknown key (naming the nearest known one), a value
    of the wrong kind, a quantity given twice.
    """
    document = _toml(text, where)
    place = _Place(where, text)
    parts: dict[str, Any] = {}
    for key in document:
        if key in ("marks", "columns", *TABLES):
            continue
        parts[key] = document[key]
    tables: dict[str, Mapping[str, object]] = {"": parts}
    for name in TABLES:
        table = document.get(name, {})
        if not isinstance(table, dict):
            raise place.error(f"“{name}” must be a table: write [{name}] on a line of its own", "wrong type", name)
        tables[name] = table
    site = Site(**_read_table("site", tables["site"], place, 0.0))
    if site.barometer is not None:
        atmosphere = site.barometer
    else:
        atmosphere = units.standard_atmosphere(site.altitude or 0.0)
    top = _read_table("", parts, place, atmosphere)
    if "metering_device" in top:
        top["metering_device"] = MeteringDevice(top["metering_device"])
    made: dict[str, Any] = {"site": site}
    for name, kind in TABLES.items():
        if name != "site":
            made[name] = kind(**_read_table(name, tables[name], place, atmosphere))
    columns = _columns(document.get("columns", {}), place)
    marks = _marks(document.get("marks", []), top.get("time_zone"), place)
    return System(**top, **made, marks=marks, column_names=columns)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in which file, for messages."""

    where: str
    text: str

    def error(self, message: str, code: str, key: str = "", table: str = "") -> FixInput:
        line = self._line(key, table) if key else None
        at = f"{self.where}, line {line}" if line else self.where
        return FixInput(f"{at}: {message}", code=code, where=at)

    def _line(self, key: str, table: str) -> int | None:
        inside = not table
        pattern = re.compile(rf"\s*(?:\[\[?\s*)?[\"']?{re.escape(key)}[\"']?\s*[=.\]]")
        header = re.compile(rf"\s*\[\[?\s*{re.escape(table)}\s*\]")
        for number, line in enumerate(self.text.split("\n"), 1):
            if table and line.lstrip().startswith("["):
                inside = bool(header.match(line))
            elif inside and pattern.match(line):
                return number
        return None


def _toml(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        found = re.search(r"\(at line (\d+), column \d+\)", said)
        reason = re.sub(r"\s*\(at .*\)$", "", said)
        line = found[1] if found else str(text.count("\n") + 1)
        raise FixInput(
            f"{where}, line {line}: no valid TOML ({reason[:1].lower()}{reason[1:]}); "
            'write keys as in refrigerant = "R-410A"',
            code="bad TOML",
            where=f"{where}, line {line}",
        ) from None
    except (ValueError, RecursionError, OverflowError) as error:
        # dates that do not exist, numbers of thousands of digits, brackets nested without end
        reason = str(error).split(";")[0] if isinstance(error, ValueError) else "nested too deeply"
        raise FixInput(f"{where}: no valid TOML ({reason})", code="bad TOML", where=where) from None


def _read_table(name: str, table: Mapping[str, object], place: _Place, atmosphere: float) -> dict[str, Any]:
    """Read one table of the file into the fields of its dataclass."""
    known = KEYS[name]
    fields: dict[str, Any] = {}
    came_from: dict[str, str] = {}
    for key, value in table.items():
        base, unit = _split(key, known, name, place)
        what = known[base]
        if what.field in came_from:
            raise place.error(
                f"“{key}” and “{came_from[what.field]}” give {_say(base)} twice; keep one", "quantity twice", key, name
            )
        came_from[what.field] = key
        if isinstance(what, Quantity):
            fields[what.field] = _quantity(what, key, unit, value, place, name, atmosphere)
        elif isinstance(what, Word):
            fields[what.field] = _word(what, key, value, place, name)
        else:
            found = _plain(what, key, value, place, name)
            if found is not None:
                fields[what.field] = found
    return fields


def _say(base: str) -> str:
    return f"the {base.replace('_', ' ')}"


def _split(key: str, known: Mapping[str, Key], table: str, place: _Place) -> tuple[str, str]:
    """Split a key into the key without unit and the unit. Raises FixInput for a key that is not known."""
    what = known.get(key)
    if what is not None and not isinstance(what, Quantity):
        return key, ""
    for base, quantity in known.items():
        if not isinstance(quantity, Quantity):
            continue
        if key == base:
            examples = " or ".join(f"{base}_{u}" for u in _two_units(base, quantity.kind))
            raise place.error(f"“{key}” needs its unit; write {examples}", "unit missing", key, table)
        if key.startswith(base + "_"):
            word = key[len(base) + 1 :]
            try:
                return base, units.canonical_unit(word, quantity.kind)
            except FixInput as error:
                if _longer_base(key, base, known):
                    continue
                raise place.error(f"“{key}”: {error.message}", "unknown unit", key, table) from None
    raise _unknown_key(key, known, table, place)


def _longer_base(key: str, base: str, known: Mapping[str, Key]) -> bool:
    """Tell whether another key is a better reading, or only a misspelling lies behind the base."""
    return any(len(b) > len(base) and key.startswith(b) for b in known)


def _two_units(base: str, kind: str) -> list[str]:
    first = FIELD_UNITS.get(base, EXAMPLES[kind])
    others = {"ft": "m", "in": "mm", "inHg": "hPa", "degF": "degC", "psig": "barg", "psi": "kPa", "oz": "kg", "A": "mA"}
    return [first, others.get(first, "kW")]


def _full_keys(known: Mapping[str, Key]) -> list[str]:
    return [
        f"{base}_{_two_units(base, what.kind)[0]}" if isinstance(what, Quantity) else base
        for base, what in known.items()
    ]


def _unknown_key(key: str, known: Mapping[str, Key], table: str, place: _Place) -> FixInput:
    inside = f"[{table}]" if table else "the top of the file"
    # the right key in the wrong table is the commonest slip
    for other, keys in KEYS.items():
        if other != table and any(
            key == b or (isinstance(w, Quantity) and key.startswith(b + "_")) for b, w in keys.items()
        ):
            target = f"[{other}]" if other else "the top of the file, above the first [table]"
            return place.error(f"“{key}” is no key of {inside}; it belongs in {target}", "unknown key", key, table)
    names = _full_keys(known)
    if not table:
        names += [*TABLES, "marks", "columns"]
    near = difflib.get_close_matches(key, names, n=1, cutoff=0.4)
    if not near:
        everywhere = {n: t for t, k in KEYS.items() for n in _full_keys(k)}
        far = difflib.get_close_matches(key, everywhere, n=1, cutoff=0.6)
        near = far or difflib.get_close_matches(key, names, n=1, cutoff=0.0) or names[:1]
    shown = f"[{near[0]}]" if near[0] in (*TABLES, "columns") else "[[marks]]" if near[0] == "marks" else near[0]
    return place.error(f"“{key}” is no key of {inside}; the nearest known one is “{shown}”", "unknown key", key, table)


def _quantity(
    what: Quantity, key: str, unit: str, value: object, place: _Place, table: str, atmosphere: float
) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise place.error(f"“{key}” must be a number, as in {key} = 12, not {_shown(value)}", "wrong type", key, table)
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise place.error(f"“{key}” must be a finite number, not {_shown(value)}", "bad value", key, table)
    si = units.to_si(number, unit, what.kind, atmosphere)
    limit, word = (what.low, "below") if what.low is not None and si < what.low else (what.high, "above")
    if limit is not None and (word == "below" or si > limit):
        shown = units.from_si(limit, unit, what.kind, atmosphere)
        raise place.error(
            f"“{key}” is {_plain_number(number)}, {word} the limit of {_plain_number(shown)}; correct the number or its unit",
            "bad value",
            key,
            table,
        )
    return si


def _plain_number(number: float) -> str:
    return f"{number:,.0f}" if abs(number) >= 1000 else f"{number:.4g}"


def _word(what: Word, key: str, value: object, place: _Place, table: str) -> str:
    if not isinstance(value, str):
        raise place.error(
            f"“{key}” must be one of {_choices(what.words)}, not {_shown(value)}", "wrong type", key, table
        )
    word = value.strip().lower()
    if word in what.words:
        return word
    loose = {re.sub(r"[\s_-]+", "", w): w for w in what.words}
    found = loose.get(re.sub(r"[\s_-]+", "", word))
    if found:
        return found
    near = difflib.get_close_matches(word, what.words, n=1)
    hint = f"; did you mean “{near[0]}”?" if near else ""
    raise place.error(
        f"“{key}” is {_shown(value)} but must be one of {_choices(what.words)}{hint}", "bad value", key, table
    )


def _choices(words: Iterable[str]) -> str:
    return ", ".join(f"“{w}”" for w in words)


def _plain(what: Plain, key: str, value: object, place: _Place, table: str) -> object:
    if what.type == "yes or no":
        if not isinstance(value, bool):
            raise place.error(f"“{key}” must be true or false, not {_shown(value)}", "wrong type", key, table)
        return value
    if what.type == "circuit" and isinstance(value, int) and not isinstance(value, bool) and 0 < value < 100:
        return f"c{value}"
    if not isinstance(value, str):
        raise place.error(f"“{key}” must be a text in quotes, not {_shown(value)}", "wrong type", key, table)
    text = value.strip()
    if not text:
        return None
    if what.type == "circuit" and re.fullmatch(r"[cC]?\d{1,2}", text):
        return f"c{int(text.lstrip('cC'))}"
    if len(text) > 200:
        raise place.error(f"“{key}” is longer than 200 characters", "bad value", key, table)
    if what.type == "time zone":
        try:
            clock.zone(text)
        except FixInput as error:
            raise place.error(f"“{key}”: {error.message}", "unknown time zone", key, table) from None
    return text


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"“{value if len(value) <= 30 else value[:29] + '…'}”"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    try:
        text = str(value)
    except ValueError:  # a number of thousands of digits
        return "that"
    return text if len(text) <= 30 else text[:29] + "…"


def _columns(table: object, place: _Place) -> tuple[tuple[str, str], ...]:
    if not isinstance(table, dict):
        raise place.error("“columns” must be a table: write [columns] on a line of its own", "wrong type", "columns")
    found: list[tuple[str, str]] = []
    for header, target in table.items():
        if not isinstance(target, str):
            raise place.error(
                f'[columns]: “{header}” must name a channel, as in "{header}" = "suction_pressure_psig"',
                "wrong type",
                header,
                "columns",
            )
        try:
            parse_target(target)
        except FixInput as error:
            raise place.error(f"[columns]: {error.message}", error.code, header, "columns") from None
        found.append((header, target))
    return tuple(found)


def _marks(rows: object, time_zone: str | None, place: _Place) -> tuple[Mark, ...]:
    if not isinstance(rows, list) or not all(isinstance(r, dict) for r in rows):
        raise place.error("marks must be written as [[marks]], one table a mark", "wrong type", "marks")
    marks = [_mark(row, i, time_zone, place) for i, row in enumerate(rows, 1)]
    return tuple(sorted(marks, key=lambda m: m.time))


def _mark(row: Mapping[str, object], number: int, time_zone: str | None, place: _Place) -> Mark:
    for key in row:
        if key not in MARK_KEYS:
            near = difflib.get_close_matches(key, MARK_KEYS, n=1, cutoff=0.0) or ["time"]
            raise place.error(
                f"“{key}” is no key of [[marks]]; the nearest known one is “{near[0]}”", "unknown key", key, "marks"
            )
    for key in ("time", "event"):
        if key not in row:
            raise place.error(f"mark {number} under [[marks]] has no {key}", "key missing", "marks")
    event = _word(Word("event", MARK_EVENTS), "event", row["event"], place, "marks")
    text = row.get("text", "")
    if not isinstance(text, str):
        raise place.error(
            f"“text” of mark {number} must be a text in quotes, not {_shown(text)}", "wrong type", "text", "marks"
        )
    circuit = (
        _plain(Plain("circuit", "circuit"), "circuit", row["circuit"], place, "marks") if "circuit" in row else None
    )
    time, by = _moment(row["time"], number, time_zone, place)
    return Mark(time, event, text, circuit if isinstance(circuit, str) else None, by)


def _moment(
    value: object, number: int, time_zone: str | None, place: _Place
) -> tuple[float, Literal["utc", "local", "elapsed"]]:
    """Read the time of a mark: (seconds, what they count by)."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        if not math.isfinite(value) or abs(value) > 1e7:
            raise place.error(
                f"“time” of mark {number} is {_shown(value)}; a number counts seconds from the start of the log",
                "bad value",
                "time",
                "marks",
            )
        return float(value), "elapsed"
    if isinstance(value, dt.datetime):
        wall, offset = clock.parse_stamp(value.isoformat())
    elif isinstance(value, str):
        wall, offset = clock.parse_stamp(value)
    else:
        wall = offset = math.nan
    if not math.isfinite(wall):
        raise place.error(
            f"“time” of mark {number} is {_shown(value)}; write it as in 2025-06-01T14:05:00-05:00",
            "bad time",
            "time",
            "marks",
        )
    if math.isfinite(offset):
        return wall - offset, "utc"
    if time_zone is None:
        return wall, "local"
    return wall - clock.one_local_offset(wall, time_zone), "utc"


def key_names() -> dict[str, tuple[str, ...]]:
    """Return table -> keys as people write them (quantities with a usual unit), for the documentation and its test."""
    names = {table: tuple(_full_keys(keys)) for table, keys in KEYS.items()}
    names["marks"] = MARK_KEYS
    return names
