"""Which column of a log is which: refusing what is ambiguous, saying what was understood."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from steadfeed import units
from steadfeed.capture.columns import (
    IGNORE,
    Meaning,
    ambiguous_unit,
    channel_column,
    example_unit,
    nearest_channel,
    unit_list,
)
from steadfeed.circuit.channel import CHANNEL_KINDS, VITAL_CHANNELS, FloatArray
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Remark
from steadfeed.errors import FixInput


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """A column of a log: its header as received, what the header means, its cells."""

    header: str
    meaning: Meaning
    cells: Sequence[object] | FloatArray


def check_columns(columns: list[Column], name: str) -> None:
    """Refuse a log whose columns cannot be told apart or lack what only a person can add."""
    times = [c for c in columns if c.meaning.role in ("time", "elapsed")]
    if not times and not any(c.meaning.role == "channel" for c in columns):
        raise FixInput(
            f"{name}: no column is understood ({_quoted([c.header for c in columns])}); name them as in "
            "“suction_pressure_psig”, or map them under [columns] in the system file",
            code="no header",
            where=name,
        )
    for column in columns:
        _check_unit(column, name)
    seen: dict[tuple[str, str | None], Column] = {}
    for column in columns:
        m = column.meaning
        if m.role in ("unknown", "ignored"):
            continue
        key = (m.channel or m.role, m.circuit)
        if key in seen:
            if seen[key].header == column.header:
                raise FixInput(
                    f"{name}: the column “{column.header}” stands there twice; take one of them out",
                    code="column twice",
                    where=column.header,
                )
            raise FixInput(
                f"{name}: both “{seen[key].header}” and “{column.header}” hold {key[0].replace('_', ' ')}; "
                f'keep one of them, or write "{column.header}" = "{IGNORE}" under [columns]',
                code="column twice",
                where=column.header,
            )
        seen[key] = column
    if not times:
        raise FixInput(
            f"{name}: no time column among {_quoted([c.header for c in columns])}; name it “time” (ISO 8601) or "
            "“elapsed_s”, or map it under [columns]",
            code="no time column",
            where=name,
        )
    _check_unplaced(columns, name)


def _check_unit(column: Column, name: str) -> None:
    m = column.meaning
    if not m.problem:
        return
    where = column.header
    if m.problem == "unit ambiguous":
        raise FixInput(f"{name}: {ambiguous_unit(column.header, m.unit_word)}", code=m.problem, where=where)
    if m.role == "elapsed":
        raise FixInput(f"{name}: “{column.header}” has no unit; write “elapsed_s”", code="unit missing", where=where)
    prefix = f"{m.circuit}_" if m.circuit else ""
    target = prefix + channel_column(m.channel, example_unit(m.kind))
    if m.problem == "unit missing":
        what = f"“{column.header}” is understood as {m.channel.replace('_', ' ')} but has no unit"
    else:
        what = (
            f"“{column.header}” is understood as {m.channel.replace('_', ' ')}, but “{m.unit_word}” is no unit of "
            f"{m.kind} ({unit_list(m.kind)})"
        )
    raise FixInput(
        f'{name}: {what}; write it as in “{target}”, or add "{column.header}" = "{target}" under [columns]',
        code=m.problem,
        where=where,
    )


def _check_unplaced(columns: list[Column], name: str) -> None:
    """Refuse a log that lacks a vital channel while a column of that kind could not be placed."""
    held = [c.meaning for c in columns if c.meaning.role == "channel"]
    circuits: list[str | None] = [*sorted({m.circuit for m in held if m.circuit})] or [None]
    unplaced = [c for c in columns if c.meaning.role == "unknown" and c.meaning.kind]
    for circuit in circuits:
        have = {m.channel for m in held if m.circuit in (circuit, None)}
        if "discharge_pressure" in have:
            have.add("liquid_pressure")
        for vital in VITAL_CHANNELS:
            kind = CHANNEL_KINDS[vital]
            fitting = [c for c in unplaced if c.meaning.kind == kind]
            if vital in have or not fitting:
                continue
            column = next((c for c in fitting if nearest_channel(c.header) == vital), fitting[0])
            unit = _unit_word(column, kind)
            prefix = f"{circuit}_" if circuit else ""
            raise FixInput(
                f"{name}: “{column.header}” is a {kind} but not known which, and {vital.replace('_', ' ')} is missing; "
                f'add a line such as "{column.header}" = "{prefix}{channel_column(vital, unit)}" under [columns] in '
                f'the system file (or = "{IGNORE}")',
                code="column not identified",
                where=column.header,
            )
    if not held:
        raise FixInput(
            f"{name}: only the time is understood, no channel among {_quoted([c.header for c in columns])}; name the "
            "columns as in “suction_pressure_psig”, or map them under [columns] in the system file",
            code="no header",
            where=name,
        )


def _unit_word(column: Column, kind: str) -> str:
    try:
        return units.canonical_unit(column.meaning.unit_word, kind)
    except FixInput:
        return example_unit(kind)


def _quoted(headers: Sequence[str]) -> str:
    shown = [f"“{h if len(h) <= 30 else h[:29] + '…'}”" for h in headers[:8]]
    return ", ".join(shown) + (" …" if len(headers) > 8 else "") if shown else "the columns"


def say_columns(columns: list[Column], system: System, name: str) -> list[Remark]:
    """Say which columns were read as what, which were left out, and which entries of [columns] met none."""
    remarks = []
    understood = [c for c in columns if c.meaning.role not in ("unknown", "ignored")]
    texts = [c.header if c.header == c.meaning.name else f"“{c.header}” as {c.meaning.name}" for c in understood]
    remarks.append(Remark("columns read", f"Read {len(texts)} columns: {', '.join(texts)}.", name))
    for c in columns:
        if c.meaning.role == "ignored":
            remarks.append(Remark("column ignored", f"“{c.header}” is left out, as [columns] says.", c.header))
        elif c.meaning.role == "unknown":
            channel = nearest_channel(c.header)
            hint = f" (did you mean {channel}?)" if channel else ""
            remarks.append(Remark("column not read", f"“{c.header}” is not understood and left out{hint}.", c.header))
    headers = {c.header for c in columns}
    loosely = {h.casefold() for h in headers}
    for header, _ in system.column_names:
        if header.strip().casefold() not in loosely:
            near = difflib.get_close_matches(header, headers, n=1)
            hint = f"; did you mean “{near[0]}”?" if near else ""
            text = f"[columns] names “{header}”, which the log does not have{hint}"
            remarks.append(Remark("column not in log", text if hint else text + ".", header))
    return remarks
