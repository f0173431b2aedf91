"""Settings as tables: dataclasses in SI whose fields say their kind, read from keys that end in a unit."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import MISSING, Field, field, fields, is_dataclass
from typing import Any, Final, TypeVar, get_type_hints

from steadfeed import units
from steadfeed.errors import FixInput

T = TypeVar("T")

_VOLUMES: Final = {"L": 1e-3, "m3": 1.0}


def quantity(default: float, kind: str, text: str = "") -> Any:
    """Field of a settings class that holds a quantity in SI; its key in a file ends in a unit of `kind`.

    kind: as in units.py, or "volume". text: one line for the reference.
    """
    return field(default=default, metadata={"kind": kind, "text": text})


def word(default: str, choices: tuple[str, ...], text: str = "") -> Any:
    """Field of a settings class that holds one of a few words."""
    return field(default=default, metadata={"choices": choices, "text": text})


def plain(default: Any, text: str = "") -> Any:
    """Field of a settings class that holds a plain number, a text or true/false."""
    return field(default=default, metadata={"text": text})


def units_of(kind: str) -> tuple[str, ...]:
    """Unit words that a kind takes."""
    return tuple(_VOLUMES) if kind == "volume" else tuple(u for u in units.units_of(kind) if u not in ("", "%", "1"))


def read_table(cls: type[T], data: object, where: str, atmosphere: float) -> T:
    """Make a settings object from a table of a file. atmosphere [Pa]: for gauge pressures.

    Raises FixInput naming `where`, the key and, for an unknown key, the nearest known one.
    """
    if not isinstance(data, Mapping):
        raise FixInput(f"{where} must be a table", where=where)
    known = {f.name: f for f in fields(cls) if f.init}  # type: ignore[arg-type]
    hints = get_type_hints(cls)
    values: dict[str, Any] = {}
    for key, value in data.items():
        name, si = _entry(known, hints, key, value, where, atmosphere)
        if name in values:
            raise FixInput(f"{where} states {name} twice", where=where)
        values[name] = si
    lacking = [n for n, f in known.items() if n not in values and f.default is MISSING and f.default_factory is MISSING]
    if lacking:
        raise FixInput(f"{where} lacks {_key_of(known[lacking[0]])}", where=where)
    return cls(**values)


def _key_of(f: Field[Any]) -> str:
    kind = f.metadata.get("kind")
    return f.name if kind is None or kind == "fraction" else f"{f.name}_{units_of(kind)[0]}"


def known_keys(cls: type) -> tuple[str, ...]:
    """Keys as a file writes them, each with the first unit of its kind."""
    return tuple(_key_of(f) for f in fields(cls) if f.init)


def _entry(
    known: Mapping[str, Field[Any]], hints: Mapping[str, Any], key: str, value: object, where: str, atmosphere: float
) -> tuple[str, Any]:
    found = known.get(key)
    if found is not None and found.metadata.get("kind", "fraction") == "fraction":
        return key, _plain(found, hints[key], key, value, where, atmosphere)
    for name, f in known.items():
        kind = f.metadata.get("kind")
        if kind is None or not key.startswith(name + "_"):
            continue
        unit = key[len(name) + 1 :]
        if unit not in units_of(kind):
            continue
        return name, _number(value, f"{where}, {key}") if kind == "fraction" else _quantity(
            value, unit, kind, f"{where}, {key}", atmosphere
        )
    keys = [_key_of(f) for f in known.values()]
    near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(keys)}"
    raise FixInput(f"{where} has no key {key}; {hint}", where=where, code="unknown key")


def _quantity(value: object, unit: str, kind: str, where: str, atmosphere: float) -> float:
    number = _number(value, where)
    if kind == "volume":
        return number * _VOLUMES[unit]
    return units.to_si(number, unit, kind, atmosphere)


def _number(value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FixInput(f"{where} must be a number, not {value!r}", where=where)
    return float(value)


def _plain(f: Field[Any], hint: Any, key: str, value: object, where: str, atmosphere: float) -> Any:
    place = f"{where}, {key}"
    choices = f.metadata.get("choices")
    if choices:
        if value not in choices:
            near = difflib.get_close_matches(str(value), choices, n=1)
            tip = f"; did you mean “{near[0]}”?" if near else ""
            raise FixInput(f"{place} must be one of {', '.join(choices)}, not {value!r}{tip}", where=where)
        return value
    inner = f.metadata.get("rows")
    if inner is not None:
        if not isinstance(value, list):
            raise FixInput(f"{place} must be a list of tables", where=where)
        return tuple(read_table(inner, row, f"{place} {k}", atmosphere) for k, row in enumerate(value, 1))
    if is_dataclass(hint):
        return read_table(hint, value, place, atmosphere)  # type: ignore[arg-type]
    if hint is bool:
        if not isinstance(value, bool):
            raise FixInput(f"{place} must be true or false, not {value!r}", where=where)
        return value
    if hint is str:
        if not isinstance(value, str):
            raise FixInput(f"{place} must be a text, not {value!r}", where=where)
        return value
    if hint is int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise FixInput(f"{place} must be a whole number, not {value!r}", where=where)
        return value
    if hint == tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise FixInput(f"{place} must be a list of texts", where=where)
        return tuple(value)
    return _number(value, place)


def listed(cls: type, text: str = "") -> Any:
    """Field of a settings class that holds a list of tables."""
    return field(default=(), metadata={"rows": cls, "text": text})
