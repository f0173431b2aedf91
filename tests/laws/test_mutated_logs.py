"""Logs that were damaged on the way: one clear sentence or an honest judgement, never a traceback.

150 examples in `make test`, 10,000 with FULL=1.
"""

from __future__ import annotations

import os

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from samples import labels, raw
from steadfeed.analysis.challenge import judge
from steadfeed.capture.logs import parse_log
from steadfeed.capture.system_file import parse_system
from steadfeed.circuit.verdict import STATES, UNDECIDED
from steadfeed.errors import SteadfeedError
from steadfeed.physics.properties import curves

FULL = os.environ.get("FULL", "") not in ("", "0")
EXAMPLES = 10_000 if FULL else 150
NAMES = sorted(labels())


def drop_rows(lines: list[str], g: np.random.Generator) -> list[str]:
    keep = g.random(len(lines)) < g.uniform(0.05, 1.0)
    keep[0] = True
    return [line for line, kept in zip(lines, keep, strict=True) if kept]


def shuffle_rows(lines: list[str], g: np.random.Generator) -> list[str]:
    body = lines[1:]
    g.shuffle(body)
    return [lines[0], *body]


def repeat_rows(lines: list[str], g: np.random.Generator) -> list[str]:
    return [lines[0], *[line for line in lines[1:] for _ in range(int(g.integers(1, 3)))]]


def swap_header(lines: list[str], g: np.random.Generator) -> list[str]:
    cells = lines[0].split(",")
    a, b = g.integers(0, len(cells), 2)
    cells[a], cells[b] = cells[b], cells[a]
    return [",".join(cells), *lines[1:]]


def spoil_cells(lines: list[str], g: np.random.Generator) -> list[str]:
    words = ["", "OL", "---", "NaN", "1e9", "-999", "inf", "abc", "12,5", "\x00", "“", " 7 "]
    out = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        if g.random() < 0.2:
            cells[int(g.integers(0, len(cells)))] = words[int(g.integers(0, len(words)))]
        out.append(",".join(cells))
    return out


def scale_column(lines: list[str], g: np.random.Generator) -> list[str]:
    column = int(g.integers(0, len(lines[0].split(","))))
    factor = float(g.choice([-1.0, 0.0, 0.145, 0.555, 6.895, 10.0, 100.0]))
    shift = float(g.choice([0.0, -32.0, 14.7, 273.15, 1000.0]))
    out = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        try:
            cells[column] = f"{float(cells[column]) * factor + shift:.2f}"
        except (ValueError, IndexError):
            continue
        out.append(",".join(cells))
    return out


def freeze_column(lines: list[str], g: np.random.Generator) -> list[str]:
    column = int(g.integers(0, len(lines[0].split(","))))
    begin = int(g.integers(1, max(len(lines) - 1, 2)))
    value = lines[min(begin, len(lines) - 1)].split(",")[-1]
    out = lines[:begin]
    for line in lines[begin:]:
        cells = line.split(",")
        if len(cells) > column:
            cells[column] = value
        out.append(",".join(cells))
    return out


def cut_text(lines: list[str], g: np.random.Generator) -> list[str]:
    text = "\n".join(lines)
    a, b = sorted(g.integers(0, len(text) + 1, 2))
    return text[a:b].split("\n")


def rename_unit(lines: list[str], g: np.random.Generator) -> list[str]:
    pairs = [("psig", "kPag"), ("degF", "degC"), ("psig", "barg"), ("degF", "K"), ("psig", ""), ("_", " ")]
    old, new = pairs[int(g.integers(0, len(pairs)))]
    return [lines[0].replace(old, new), *lines[1:]]


MUTATIONS = (
    drop_rows,
    shuffle_rows,
    repeat_rows,
    swap_header,
    spoil_cells,
    scale_column,
    freeze_column,
    cut_text,
    rename_unit,
)


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    name=st.sampled_from(NAMES),
    seed=st.integers(0, 2**32 - 1),
    which=st.lists(st.integers(0, len(MUTATIONS) - 1), min_size=1, max_size=3),
)
def test_damaged_logs_end_in_a_sentence_or_a_judgement(name: str, seed: int, which: list[int]) -> None:
    g = np.random.default_rng(seed)
    log, system_file = raw(name)
    lines = log.decode().split("\n")
    for k in which:
        lines = MUTATIONS[k](lines, g) or [""]
    system = parse_system(system_file.decode(), "mutated.toml")
    try:
        recordings = parse_log("\n".join(lines).encode(), "mutated.csv", system)
    except SteadfeedError as error:
        assert str(error).strip()
        assert "\n" not in str(error)
        return
    assert system.refrigerant is not None
    for recording in recordings:
        a = judge(recording, system, curves(system.refrigerant)).assessment
        assert a.verdict in (*STATES, UNDECIDED)
        if a.verdict in ("regulating", "hunting"):
            assert a.valid
            assert a.sensors["suction_pressure"].alive is True
            values = recording.channels["suction_pressure"].values
            assert np.unique(values[np.isfinite(values)]).size > 3


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.binary(max_size=400))
def test_any_bytes_end_in_a_sentence(data: bytes) -> None:
    system = parse_system('refrigerant = "R-410A"', "any.toml")
    try:
        recordings = parse_log(data, "any.csv", system)
    except SteadfeedError as error:
        assert str(error).strip()
        return
    for recording in recordings:
        judge(recording, system, curves("R-410A"))
