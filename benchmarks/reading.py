"""How long reading a log takes, from its bytes to a recording, beside what Python's own csv module takes to cut it."""

from __future__ import annotations

import csv
import io
import json

import numpy as np

from steadfeed.capture.logs import parse_log
from steadfeed.capture.system_file import parse_system
from timing import Figure, best

HEADERS = (
    "suction_pressure_psig",
    "liquid_pressure_psig",
    "suction_line_temperature_degF",
    "liquid_line_temperature_degF",
    "outdoor_air_temperature_degF",
    "compressor_current_A",
)
SYSTEM = """
refrigerant = "R-410A"
metering_device = "txv"
[site]
altitude_ft = 650
[line_set]
length_ft = 35
[[marks]]
time = "2025-06-01T14:08:00-05:00"
event = "push"
[[marks]]
time = "2025-06-01T14:14:00-05:00"
event = "restore"
"""


def table(rows: int = 1500) -> list[list[str]]:
    """One reading a second of six channels, with noise, so that no two rows are alike."""
    generator = np.random.default_rng(1)
    readings = np.array([118.0, 410.0, 55.0, 98.0, 90.0, 16.0]) + generator.normal(0.0, 1.0, (rows, 6))
    times = [f"2025-06-01T14:{i // 60:02d}:{i % 60:02d}-05:00" for i in range(rows)]
    return [[t, *(f"{x:.1f}" for x in row)] for t, row in zip(times, readings, strict=True)]


def text(cells: list[list[str]], separator: str = ",") -> bytes:
    """Write a table as a log."""
    return "\n".join(separator.join(row) for row in [["time", *HEADERS], *cells]).encode()


def figures() -> list[Figure]:
    cells = table()
    plain = text(cells)
    gaps = text([row if i % 20 else [*row[:3], "OL", *row[4:]] for i, row in enumerate(cells)])
    shuffled = text([cells[i ^ 1] for i in range(len(cells))])
    commas = text([[c.replace(".", ",") for c in row] for row in cells], ";")
    quoted = text([[f'"{c}"' for c in row] for row in cells])
    lines = "\n".join(
        json.dumps({"time": row[0], **dict(zip(HEADERS, map(float, row[1:]), strict=True))}) for row in cells
    ).encode()
    system = parse_system(SYSTEM, "speed.toml")

    def read(data: bytes, *, quick: bool = True) -> float:
        return best(lambda: parse_log(data, "speed.csv", system, quick=quick), 40)

    cut = best(lambda: list(csv.reader(io.StringIO(plain.decode()))), 40)
    seconds = read(plain)
    found = [
        Figure("csv.reader cuts 1,500 rows × 7 columns, for comparison", cut * 1e3, "ms"),
        Figure("the same rows to a recording", seconds * 1e3, "ms", 5.0),
        Figure("the same over csv.reader", seconds / cut, "×", 5.0),
        Figure("with OL in every twentieth row, over csv.reader", read(gaps) / cut, "×"),
        Figure("with every two rows swapped, over csv.reader", read(shuffled) / cut, "×"),
        Figure("with semicolons and decimal commas, over csv.reader", read(commas) / cut, "×"),
        Figure("with quotes, over csv.reader", read(quoted) / cut, "×"),
        Figure(
            "as JSON Lines, over json.loads of each line",
            read(lines) / best(lambda: [json.loads(x) for x in lines.split(b"\n")]),
            "×",
        ),
        Figure("the long way, over csv.reader", read(plain, quick=False) / cut, "×"),
        Figure("a system file", best(lambda: parse_system(SYSTEM, "speed.toml"), 40) * 1e3, "ms"),
    ]
    many = text(
        [
            [
                f"2025-06-01T{14 + i // 36000:02d}:{i // 600 % 60:02d}:{i // 10 % 60:02d}.{i % 10}-05:00",
                *cells[i % 1500][1:],
            ]
            for i in range(200_000)
        ]
    )
    found.append(
        Figure(
            "200,000 rows at ten a second, per 1,500 rows",
            best(lambda: parse_log(many, "speed.csv", system), 2) * 7.5,
            "ms",
        )
    )
    return found
