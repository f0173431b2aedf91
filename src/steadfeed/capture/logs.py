"""Logs of challenges: files of readings over time, to recordings.

A log is a CSV, JSON Lines or Parquet file whose columns are named quantity and unit (docs/how-to/log-files.md).
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Final

from steadfeed.capture import csv_log, json_log, parquet_log
from steadfeed.capture.assemble import assemble
from steadfeed.capture.columns import Meaning, mapping_of, understand
from steadfeed.capture.files import read_bytes
from steadfeed.capture.system_file import default_system, find_system
from steadfeed.capture.table import Table
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.errors import FixInput, SteadfeedError

_CSV: Final = (".csv", ".tsv", ".txt")
_JSON: Final = (".jsonl", ".ndjson", ".json")
_PARQUET: Final = (".parquet", ".pq")


def read_log(path: str | os.PathLike[str], system: System | None = None) -> tuple[Recording, ...]:
    """Read a log. Returns one recording a circuit, in order of the circuits.

    system: what is known of the unit; its [columns], time zone, site and gauges matter here. None: nothing is known.
    Raises FixInput with one sentence for a file that cannot be read as a log, InstallPart for Parquet without pyarrow.
    """
    return parse_log(read_bytes(path), os.fspath(path), system)


def parse_log(data: bytes, name: str, system: System | None = None, *, quick: bool = True) -> tuple[Recording, ...]:
    """Read a log from its bytes, as `read_log` does.

    name: of the file, for its format and for messages. quick: take the short way for regular files; without it the
    result is the same, only later.
    """
    system = system if system is not None else default_system()
    understand_here = _understanding(system)
    if data.startswith(parquet_log.MAGIC):
        table, moments = parquet_log.read_parquet(data, name)
        return assemble(table, _meanings(table, understand_here), system, name, typed_times=moments, quick=quick)
    if Path(name).suffix.lower() in _PARQUET and data.strip():
        raise FixInput(f"{name} is no Parquet file; export it again", code="bad Parquet", where=name)
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise FixInput(f"{name} is empty; it holds no readings", code="empty file", where=name)
    text, remarks = csv_log.decode(data, name)
    json = text.lstrip()[:1] == "{" or (Path(name).suffix.lower() in _JSON and text.lstrip()[:1] in '["')
    if json:
        table = json_log.read_json_lines(text, name, quick=quick)
    else:
        table = csv_log.read_csv(text, name, understand_here, quick=quick)
        if quick and csv_log.needs_care(table, understand_here):
            table = csv_log.read_csv(text, name, understand_here, quick=False)
    table.remarks[:0] = remarks
    return assemble(table, _meanings(table, understand_here), system, name, quick=quick)


def _understanding(system: System) -> Callable[[str], Meaning]:
    """Return the function that tells what a header means for this system."""
    reference = system.instruments.pressure_reference
    mapped = mapping_of(system.column_names)
    if not mapped:
        return lambda header: understand(header, reference)
    loosely = {header.casefold(): meaning for header, meaning in mapped.items()}

    def understand_here(header: str) -> Meaning:
        return mapped.get(header) or loosely.get(header.casefold()) or understand(header, reference)

    return understand_here


def _meanings(table: Table, understand_here: Callable[[str], Meaning]) -> dict[str, Meaning]:
    return {header: understand_here(header) for header in table.headers}


def looks_like_log(path: str | os.PathLike[str], system: System | None = None) -> bool:
    """Tell whether a file of a folder is meant to be a log, though perhaps a bad one. Never raises.

    A file is one by its ending and its first lines: a time or a system file beside it, and a channel. An empty or binary
    file with the ending of a log is a bad log; a table of something else (labels) is none.
    """
    path = Path(path)
    ending = path.suffix.lower()
    if path.name.startswith((".", "~")) or ending not in (*_CSV, *_JSON, *_PARQUET):
        return False
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            return False
        if ending in _PARQUET:
            return True
        with open(path, "rb") as file:
            start = file.read(65536)
    except OSError:
        return ending in (".csv", ".tsv", ".jsonl", ".ndjson")
    certain = ending in (".csv", ".tsv", ".jsonl", ".ndjson")
    if certain and find_system(path) is not None:
        return True
    if not start.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        return certain
    try:
        text, _ = csv_log.decode(start, path.name)
    except SteadfeedError:
        return certain
    understand_here = _understanding(system if system is not None else default_system())
    try:
        if ending in _JSON or text.lstrip()[:1] == "{":
            first = json_log.read_json_lines(text.lstrip().split("\n", 1)[0], path.name)
            headers = first.headers
        else:
            headers = csv_log.headers_of(text, path.name, understand_here)
    except SteadfeedError:
        return False
    roles = [understand_here(h).role for h in headers]
    timed = "time" in roles or "elapsed" in roles
    return "channel" in roles and (timed or certain)


__all__ = ["looks_like_log", "parse_log", "read_bytes", "read_log"]
