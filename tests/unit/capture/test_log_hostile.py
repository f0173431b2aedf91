"""Logs that went wrong: whatever the bytes, one sentence or a sound recording; and the short way reads as the long one."""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from steadfeed.capture.logs import looks_like_log, parse_log, read_log
from steadfeed.capture.system_file import find_system, parse_system, read_system
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.equipment import System
from steadfeed.errors import SteadfeedError
from unit.capture.log_texts import HEADER, log, outcome, read, rows, said

DATA = Path(__file__).parents[2] / "data" / "logs"
SIMULATED = sorted((DATA / "simulated").glob("*.csv"))
MANY = settings(max_examples=10_000 if os.environ.get("FULL", "") not in ("", "0") else 150)
MAPPED = parse_system('time_zone = "America/Chicago"\n[columns]\n"P low" = "suction_pressure_psig"\n', "x.toml")


def sound(data: bytes, name: str = "x.csv", system: System | None = None) -> None:
    """Read a log; it must come to sound recordings or to one sentence, the same by the short and by the long way."""
    try:
        recordings = parse_log(data, name, system)
    except SteadfeedError as error:
        assert error.message
        assert "\n" not in error.message
        assert error.code not in ("error", "")
    else:
        assert recordings
        for recording in recordings:
            assert len(recording) > 0
            assert np.isfinite(recording.time).all()
            assert (np.diff(recording.time) > 0).all()
            assert recording.channels
            for name_of, channel in recording.channels.items():
                assert not np.isinf(channel.values).any()
                assert np.isfinite(channel.values).any()
                if CHANNEL_KINDS[name_of] in ("pressure", "temperature"):
                    assert np.nanmin(channel.values) > 0
            assert all("\n" not in remark.text for remark in recording.remarks)
    assert outcome(data, name, system, True) == outcome(data, name, system, False)


@MANY
@given(st.binary(max_size=400), st.sampled_from(["x.csv", "x.jsonl", "x.parquet", "x"]))
def test_any_bytes(data: bytes, name: str) -> None:
    sound(data, name)


@MANY
@given(st.text(max_size=300), st.sampled_from(["x.csv", "x.jsonl"]))
@example("time,suction_pressure_psig\n2025-06-01T14:00:00Z,1_0\n", "x.csv")
@example("time,suction_pressure_psig\n2025-06-01T14:00:00Z,٣\n2025-06-01T14:00:01Z,3\n", "x.csv")
@example("time,suction_pressure_psig\n2025-06-01T14:00:00Z,1e400\n2025-06-01T14:00:01Z,3\n", "x.csv")
@example("elapsed_s,power_W\n1e308,1\n0,2\n", "x.csv")
def test_any_text(text: str, name: str) -> None:
    sound(text.encode("utf-8", "surrogatepass"), name)


CELLS = st.one_of(
    st.sampled_from(
        ["", "OL", "---", "118", "118,5", "1,234.5", "1.234,5", "-3", "nan", "inf", "abc", '"', "#", "12 inHg", "1e5", "-1e9", "x" * 70]
        + ["2025-06-01T14:00:00Z", "2025-06-01T14:00:07", "2025-06-01 14:00:09.5-05:00", "1", "true", "person", "−4", "1_0", " 5 "]
    ),
    st.floats(-1e4, 1e4).map(lambda x: f"{x:.3f}"),
)  # fmt: skip
HEADERS = st.sampled_from(
    ["time", "elapsed_s", "suction_pressure_psig", "liquid_pressure_barg", "suction_line_temperature_degF", "c1_power_W", "same"]
    + ["c2_suction_pressure_psig", "read_by", "P low", "Liquid line temp (°C)", "", "note", "liquid_pressure", "valve_steps", "date"]
)  # fmt: skip


@MANY
@given(
    st.lists(HEADERS, min_size=1, max_size=6),
    st.lists(st.lists(CELLS, min_size=1, max_size=7), max_size=8),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from([None, MAPPED]),
)
def test_any_table(headers: list[str], table: list[list[str]], separator: str, system: System | None) -> None:
    text = "\n".join(separator.join(cells) for cells in [headers, *table])
    sound(text.encode(), "x.csv", system)


@MANY
@given(
    st.sampled_from(["drop", "double", "swap", "cut", "cell", "byte", "separator", "decimal", "offset"]),
    st.lists(st.integers(0, 10**6), min_size=3, max_size=3),
    CELLS,
    st.binary(min_size=1, max_size=3),
)
def test_a_good_log_with_a_slip(what: str, numbers: list[int], cell: str, raw: bytes) -> None:
    lines = [HEADER, *rows(12)]
    a, b = numbers[0] % len(lines), numbers[1] % len(lines)
    if what == "drop":
        del lines[a]
    elif what == "double":
        lines.insert(a, lines[b])
    elif what == "swap":
        lines[a], lines[b] = lines[b], lines[a]
    elif what == "cell":
        cells = lines[a].split(",")
        cells[numbers[2] % 5] = cell
        lines[a] = ",".join(cells)
    elif what == "separator":
        lines[a:] = [line.replace(",", ";") for line in lines[a:]]
    elif what == "decimal":
        lines[a:] = [line.replace(".", ",") for line in lines[a:]]
    elif what == "offset":
        lines[a] = lines[a].replace("-05:00", "")
    data = "\n".join(lines).encode()
    if what == "cut":
        data = data[: numbers[2] % (len(data) + 1)]
    elif what == "byte":
        place = numbers[2] % len(data)
        data = data[:place] + raw + data[place + 1 :]
    sound(data)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6) | st.just("2025-06-01T14:00:00Z"),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=3,
)


@MANY
@given(st.lists(st.dictionaries(HEADERS, JSON, max_size=4), max_size=6))
def test_any_objects(objects: list[dict[str, object]]) -> None:
    sound("\n".join(json.dumps(o) for o in objects).encode(), "x.jsonl")


@settings(max_examples=2000 if os.environ.get("FULL", "") not in ("", "0") else 60)
@given(st.integers(0, 10**6), st.binary(min_size=1, max_size=4))
def test_parquet_with_wrong_bytes(place: int, raw: bytes) -> None:
    data = _parquet()
    place %= len(data)
    sound(data[:place] + raw + data[place + len(raw) :], "x.parquet")


_MADE: list[bytes] = []


def _parquet() -> bytes:
    pa = pytest.importorskip("pyarrow")
    pq = pytest.importorskip("pyarrow.parquet")
    if not _MADE:
        sink = pa.BufferOutputStream()
        times = [f"2025-06-01T14:00:{i:02d}Z" for i in range(20)]
        pq.write_table(pa.table({"time": times, "suction_pressure_psig": [118.0 + i for i in range(20)]}), sink)
        _MADE.append(sink.getvalue().to_pybytes())
    return _MADE[0]


@MANY
@given(
    st.lists(
        st.tuples(
            *[st.floats(lo, hi).map(lambda x: round(x, 2)) for lo, hi in ((0, 900), (0, 900), (-40, 300), (-40, 300))]
        ),
        min_size=1,
        max_size=20,
    )
)
def test_what_is_written_is_what_is_read(table: list[tuple[float, ...]]) -> None:
    lines = [f"{i * 0.1:.1f}," + ",".join(repr(x) for x in row) for i, row in enumerate(table)]
    recording = read(log(*lines, header=HEADER.replace("time", "elapsed_s")))
    psi = 4.4482216152605 / 0.0254**2
    made = np.array(table)
    for i, name in enumerate(("suction_pressure", "liquid_pressure")):
        assert (recording.channels[name].values - 101325) / psi == pytest.approx(made[:, i], abs=1e-9)
    for i, name in enumerate(("suction_line_temperature", "liquid_line_temperature"), 2):
        assert recording.channels[name].values * 1.8 - 459.67 == pytest.approx(made[:, i], abs=1e-9)
    assert recording.time == pytest.approx(np.arange(len(table)) * 0.1)


@pytest.mark.parametrize("path", SIMULATED, ids=lambda p: p.stem)
def test_whole_logs_read_as_the_standard_library_reads_them(path: Path) -> None:
    """Oracle: csv, datetime and float of Python; rows in order of time, each once."""
    beside = find_system(path)
    assert beside is not None
    system = read_system(beside)
    (recording,) = read_log(path, system)
    with path.open(newline="") as file:
        table = list(csv.DictReader(file))
    expected = sorted({(dt.datetime.fromisoformat(r["time"]).timestamp(), tuple(r.items())) for r in table})
    assert recording.time.tolist() == [moment for moment, _ in expected]
    air = recording.atmosphere if system.instruments.pressure_reference != "sealed" else 101325.0
    convert = {
        "psig": lambda x: x * 4.4482216152605 / 0.0254**2 + air, "barg": lambda x: x * 1e5 + air, "A": lambda x: x,
        "degF": lambda x: (x + 459.67) / 1.8, "degC": lambda x: x + 273.15,
    }  # fmt: skip
    for channel in recording.channels.values():
        cells = [dict(row)[channel.header] for _, row in expected]
        values = [convert[channel.unit](float(c)) if c else np.nan for c in cells]
        assert channel.values == pytest.approx(np.array(values), rel=1e-12, nan_ok=True)
    assert {c.header for c in recording.channels.values()} == set(table[0]) - {"time"}
    assert looks_like_log(path)


@pytest.mark.parametrize("path", SIMULATED, ids=lambda p: p.stem)
def test_whole_logs_read_the_same_by_the_long_way(path: Path) -> None:
    data = path.read_bytes()
    assert outcome(data, path.name, None, True) == outcome(data, path.name, None, False)
    assert isinstance(outcome(data, path.name, None, True), list)


@pytest.mark.timeout(60)
@pytest.mark.parametrize("piece", ["(", "[(", " ", "_", "deg ", "psi ", ")", "a.", "suction "])
def test_a_header_without_end_costs_no_time(piece: str) -> None:
    """Patterns on text from outside must not backtrack without end; this takes milliseconds."""
    sound((f"time,suction_pressure_psig,x{piece * 6000}\n2025-06-01T14:00:00Z,118,5\n").encode())
    sound((f"time,suction_pressure_psig,x{piece * 39}\n2025-06-01T14:00:00Z,118,{piece * 9000}\n").encode())


def test_a_cell_beyond_the_csv_module_is_said() -> None:
    text = log(*rows(3), f'2025-06-01T14:01:00Z,"{"9" * 200_000}",1,2,3')
    assert len(read(text)) == 3
    assert "Line 5 dropped" in said(read(text), "rows dropped")
