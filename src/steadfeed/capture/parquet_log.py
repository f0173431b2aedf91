"""Parquet logs to tables of cells. Needs the extra `archive`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from steadfeed.capture.limits import MAX_COLUMNS, MAX_ROWS, too_many_rows
from steadfeed.capture.table import Table
from steadfeed.circuit.channel import FloatArray
from steadfeed.errors import FixInput, InstallPart

MAGIC = b"PAR1"


def read_parquet(data: bytes, name: str) -> tuple[Table, dict[str, bool]]:
    """Read a Parquet log. Returns its cells, and which columns hold moments -> whether they are local.

    Moments become seconds since the Unix epoch; local ones carry no time zone in the file. Raises InstallPart without pyarrow, FixInput for a file
    that is no sound Parquet.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise InstallPart(
            f"{name} is a Parquet file; reading it needs the extra “archive”: pip install 'steadfeed[archive]'",
            where=name,
        ) from None
    try:
        file = pq.ParquetFile(pa.BufferReader(data))
        rows, width = file.metadata.num_rows, file.metadata.num_columns
        if rows > MAX_ROWS:
            raise too_many_rows(name, rows)
        if width > MAX_COLUMNS:
            raise FixInput(f"{name} has {width:,} columns; at most {MAX_COLUMNS} are read", code="too big", where=name)
        arrow = file.read(use_threads=False)
        headers = [str(h).strip() for h in arrow.column_names]
        columns: list[Sequence[object] | FloatArray] = []
        moments: dict[str, bool] = {}
        for header, column in zip(headers, arrow.columns, strict=True):
            cells, is_local = _cells(pa, column)
            columns.append(cells)
            if is_local is not None:
                moments[header] = is_local
    except (
        pa.ArrowException,
        OSError,
        ValueError,
        TypeError,
        MemoryError,
        KeyError,
        IndexError,
        OverflowError,
    ) as error:
        raise FixInput(
            f"{name} is no sound Parquet file ({_first_line(error)}); export it again", code="bad Parquet", where=name
        ) from None
    return Table(headers, columns, np.arange(1, arrow.num_rows + 1), "row"), moments


def _cells(pa: Any, column: Any) -> tuple[Sequence[object] | FloatArray, bool | None]:
    kind = column.type
    if pa.types.is_timestamp(kind):
        per_second = {"s": 1, "ms": 1_000, "us": 1_000_000, "ns": 1_000_000_000}[kind.unit]
        ticks = column.cast(pa.int64())
        whole = np.asarray(ticks.fill_null(0).to_numpy(), np.int64)
        seconds = whole // per_second + (whole % per_second) / per_second
        seconds[np.asarray(column.is_null().to_numpy(), np.bool_)] = np.nan
        return seconds, kind.tz is None
    if pa.types.is_floating(kind) or pa.types.is_integer(kind):
        return np.asarray(column.cast(pa.float64(), safe=False).to_numpy(), np.float64), None
    if pa.types.is_decimal(kind):
        return [None if v is None else float(v) for v in column.to_pylist()], None
    if pa.types.is_date(kind):
        return [None if v is None else str(v) for v in column.to_pylist()], None
    return column.to_pylist(), None


def _first_line(error: BaseException) -> str:
    text = str(error).strip().split("\n")[0]
    return text if len(text) <= 80 else text[:79] + "…"
