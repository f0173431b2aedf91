"""The contract of log and system files: every name and unit in it, in every format, and its documentation."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

from steadfeed.capture.columns import understand
from steadfeed.capture.logs import parse_log, read_log
from steadfeed.capture.system_file import key_names, parse_system
from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.circuit.phase import MARK_EVENTS
from steadfeed.circuit.recording import Recording

ROOT = Path(__file__).parents[2]
CAPTURE = ROOT / "src" / "steadfeed" / "capture"

# The contract, written out: stems of headers, the units they take, and what 1 of each unit is in SI, absolute.
PRESSURES = ("suction_pressure", "liquid_pressure", "discharge_pressure")
TEMPERATURES = (
    "suction_line_temperature", "liquid_line_temperature", "evaporator_outlet_temperature", "discharge_line_temperature",
    "outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb", "supply_air_wet_bulb",
)  # fmt: skip
# NIST SP 811 (2008), table B.8: 1 psi = 6.894757 kPa, 1 inHg = 3.386389 kPa; t/°F = 1.8·T/K − 459.67
PSI, INHG, AIR = 6894.757, 3386.389, 101_325.0
PRESSURE_UNITS = {
    "psig": (lambda x: x * PSI + AIR), "psia": (lambda x: x * PSI), "barg": (lambda x: x * 1e5 + AIR), "bara": (lambda x: x * 1e5),
    "kPag": (lambda x: x * 1e3 + AIR), "kPaa": (lambda x: x * 1e3), "MPag": (lambda x: x * 1e6 + AIR), "MPaa": (lambda x: x * 1e6),
    "inHg": (lambda x: x * INHG + AIR),
}  # fmt: skip
TEMPERATURE_UNITS = {
    "degF": (lambda x: (x + 459.67) / 1.8), "degC": (lambda x: x + 273.15), "K": (lambda x: x),
}  # fmt: skip
OTHERS = {
    "return_air_relative_humidity_pct": (lambda x: x / 100), "compressor_current_A": (lambda x: x),
    "fan_current_A": (lambda x: x), "power_W": (lambda x: x), "valve_steps": (lambda x: x),
}  # fmt: skip
HEADERS = {
    **{f"{stem}_{unit}": to_si for stem in PRESSURES for unit, to_si in PRESSURE_UNITS.items()},
    **{f"{stem}_{unit}": to_si for stem in TEMPERATURES for unit, to_si in TEMPERATURE_UNITS.items()},
    **OTHERS,
}


def channel_of(header: str) -> str:
    return next(c for c in sorted(CHANNEL_KINDS, key=len, reverse=True) if header.startswith(c))


@pytest.mark.parametrize("prefix", ["", "c1_", "c2_"])
@pytest.mark.parametrize("header", HEADERS)
def test_every_header_of_the_contract_is_read_in_its_unit(header: str, prefix: str) -> None:
    lower = -5.0 if header.endswith("inHg") else 21.0
    text = f"time,{prefix}{header}\n2025-06-01T14:00:00-05:00,{lower}\n2025-06-01T14:00:05-05:00,22.5\n"
    (recording,) = parse_log(text.encode(), "x.csv")
    channel = recording.channels[channel_of(header)]
    to_si = HEADERS[header]
    assert channel.values == pytest.approx([to_si(lower), to_si(22.5)], rel=1e-6)
    assert channel.header == prefix + header
    assert recording.circuit == (prefix.rstrip("_") or None)
    assert understand(prefix + header).exact


def test_the_contract_leaves_no_channel_out() -> None:
    assert {channel_of(header) for header in HEADERS} == set(CHANNEL_KINDS)


def everything() -> tuple[list[str], list[list[object]]]:
    """Two rows with one column for every channel, by-hand columns too."""
    headers = [f"{stem}_barg" for stem in PRESSURES] + [f"{stem}_degC" for stem in TEMPERATURES] + list(OTHERS)
    return (
        ["time", *headers, "read_by", "same"],
        [
            ["2025-06-01T14:00:00-05:00", *[20.5 + i for i in range(len(headers))], "photo", 0],
            ["2025-06-01T14:03:00-05:00", *[21.5 + i for i in range(len(headers))], "photo", 1],
        ],
    )


def alike(left: Recording, right: Recording) -> bool:
    return (
        left.time.tolist() == right.time.tolist()
        and left.channels.keys() == right.channels.keys()
        and all(np.array_equal(c.values, right.channels[k].values) for k, c in left.channels.items())
        and left.same is not None
        and right.same is not None
        and left.same.tolist() == right.same.tolist()
        and (left.read_by, left.utc_offset) == (right.read_by, right.utc_offset) == ("photo", -18000.0)
    )


def test_csv_json_lines_and_parquet_hold_the_same() -> None:
    pa = pytest.importorskip("pyarrow")
    pq = pytest.importorskip("pyarrow.parquet")
    headers, rows = everything()
    as_csv = "\n".join(",".join(map(str, row)) for row in [headers, *rows]).encode()
    as_lines = "\n".join(json.dumps(dict(zip(headers, row, strict=True))) for row in rows).encode()
    sink = pa.BufferOutputStream()
    pq.write_table(pa.table(dict(zip(headers, map(list, zip(*rows, strict=True)), strict=True))), sink)
    (first,) = parse_log(as_csv, "x.csv")
    assert len(first.channels) == len(CHANNEL_KINDS)
    assert first.same is not None
    assert first.same.tolist() == [False, True]
    assert alike(first, parse_log(as_lines, "x.jsonl")[0])
    assert alike(first, parse_log(sink.getvalue().to_pybytes(), "x.parquet")[0])


def test_the_seven_rows_of_the_by_hand_page_are_read(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "how-to" / "log-by-hand.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```(\w+)\n(.*?)```", page, re.DOTALL)
    rows = next(body for kind, body in blocks if kind == "text")
    system = next(body for kind, body in blocks if kind == "toml")
    (tmp_path / "unit5.csv").write_text(rows, encoding="utf-8")
    (recording,) = read_log(tmp_path / "unit5.csv", parse_system(system, "unit5.toml"))
    assert len(recording) == 7
    assert [m.event for m in recording.marks] == ["push", "restore"]


# --- documentation -----------------------------------------------------------------------------------------------------------


def page(name: str) -> str:
    return (ROOT / "docs" / name).read_text(encoding="utf-8")


def test_every_channel_and_unit_is_documented() -> None:
    text = page("reference/log-files.md")
    assert [c for c in CHANNEL_KINDS if c not in text] == []
    assert [u for u in (*PRESSURE_UNITS, *TEMPERATURE_UNITS, "pct") if u not in text] == []


def test_every_key_of_a_system_file_is_documented() -> None:
    text = page("reference/system-files.md")
    missing = [key for keys in key_names().values() for key in keys if f"`{key}`" not in text and key != "circuit"]
    assert missing == []
    assert [event for event in MARK_EVENTS if f'"{event}"' not in text] == []


def sources(*names: str) -> str:
    return "\n".join((CAPTURE / f"{name}.py").read_text(encoding="utf-8") for name in names)


LOG_MODULES = ("assemble", "csv_log", "files", "json_log", "limits", "logs", "parquet_log", "placing", "timing")


def test_every_note_of_reading_is_documented_and_no_other() -> None:
    made = set(re.findall(r'Remark\(\s*"([^"]+)"', sources(*LOG_MODULES)))
    table = page("how-to/log-files.md").split("## What the notes say")[1].split("## ")[0]
    listed = set(
        re.findall(r"`([^`]+)`", "\n".join(line.split("|")[1] for line in table.splitlines() if line.count("|") > 2))
    )
    assert len(made) > 25
    assert made == listed


def test_every_refusal_of_a_log_is_documented_and_no_other() -> None:
    made = set(re.findall(r'code="([^"]+)"', sources(*LOG_MODULES)))
    made |= {"unit missing", "unit ambiguous", "unit unknown", "part missing"}
    text = page("how-to/log-files.md").split("with one of these codes")[1]
    assert made == set(re.findall(r"`([^`]+)`", text)) - {"error.code"}


def test_every_refusal_of_a_system_file_is_documented_and_no_other() -> None:
    source = sources("system_file", "files", "columns", "clock") + 'code="too big"'
    made = set(re.findall(r'code="([^"]+)"', source))
    made |= set(
        re.findall(
            r'"(unknown key|unknown unit|unit missing|quantity twice|wrong type|bad value|key missing|bad time)"',
            source,
        )
    )
    text = page("how-to/system-file.md").split("The codes are")[1]
    assert made == set(re.findall(r"`([^`]+)`", text))


@pytest.mark.parametrize(
    "name", ["how-to/system-file.md", "how-to/log-files.md", "how-to/judge-a-log.md", "how-to/log-by-hand.md"]
)
def test_the_system_files_in_the_documentation_are_read(name: str) -> None:
    blocks = re.findall(r"```toml\n(.*?)```", page(name), re.DOTALL)
    assert blocks
    for block in blocks:
        parse_system(block, name)


def test_the_limits_in_the_documentation_are_the_limits() -> None:
    from steadfeed.capture import limits

    text = page("how-to/log-files.md")
    assert f"{limits.MAX_ROWS:,} rows" in text
    assert f"{limits.MAX_COLUMNS} columns" in text
    assert f"{limits.MAX_BYTES // 2**20} MB" in text
