"""Ways to write a log down: separators, encodings, comments, JSON Lines, Parquet; and files that are no logs."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest

from steadfeed.capture import limits
from steadfeed.capture.logs import looks_like_log, read_log
from steadfeed.capture.system_file import find_system
from steadfeed.errors import FixInput, InstallPart
from unit.capture.log_texts import HEADER, codes, log, outcome, psig, read, refused, rows, said, same_values

PLAIN = log(*rows(6))


def bits(data: bytes | str, name: str = "x.csv") -> object:
    """What stands in the readings of a log, without the remarks."""
    recording = read(data, name=name)
    return recording.time.tobytes(), {k: c.values.tobytes() for k, c in recording.channels.items()}


def test_the_plain_log() -> None:
    recording = read(PLAIN)
    # 14:00 at five hours behind UTC on 2025-06-01; 20,240 days of 86,400 s since 1970
    assert recording.time[0] == 20240 * 86400 + 19 * 3600
    assert np.diff(recording.time).tolist() == [5.0] * 5
    assert recording.utc_offset == -5 * 3600
    assert not recording.elapsed
    assert same_values(recording.channels["suction_pressure"].values, [psig(118 + 0.1 * i) for i in range(6)])
    assert codes(recording) == ["columns read", "sea level assumed"]


COMMAS = PLAIN.replace(",", ";").replace(".", ",")
VARIANTS = {
    "semicolons": PLAIN.replace(",", ";"),
    "semicolons, decimal commas": COMMAS,
    "tabs": PLAIN.replace(",", "\t"),
    "tabs, decimal commas": COMMAS.replace(";", "\t"),
    "CRLF": PLAIN.replace("\n", "\r\n"),
    "CR": PLAIN.replace("\n", "\r"),
    "no last line end": PLAIN.rstrip("\n"),
    "byte-order mark": "\ufeff" + PLAIN,
    "UTF-16": PLAIN.encode("utf-16"),
    "UTF-16 big endian": b"\xfe\xff" + PLAIN.encode("utf-16-be"),
    "UTF-16 without mark": PLAIN.encode("utf-16-le"),
    "comments": "# made by hand\n#\n" + PLAIN.replace("\n2025", "\n# note\n2025", 2),
    "header as a comment": "# " + PLAIN,
    "blank lines": "\n\n" + PLAIN.replace("\n", "\n\n"),
    "blank rows": PLAIN.replace("\n", "\n,,,,\n"),
    "blank rows at the end": PLAIN + ",,,,\n" * 3,
    "quoted": "\n".join(",".join(f'"{c}"' for c in line.split(",")) for line in PLAIN.splitlines()),
    "spaces": PLAIN.replace(",", " , "),
    "trailing separators": PLAIN.replace("\n", ",\n"),
    "trailing separators in rows": PLAIN.replace("98.2\n", "98.2,\n"),
    "trailing separator in the header": PLAIN.replace(HEADER, HEADER + ","),
    "separator line": "sep=;\n" + PLAIN.replace(",", ";"),
    "end-of-file sign": PLAIN + "\x1a",
    "other column order": "\n".join(",".join(line.split(",")[::-1]) for line in PLAIN.splitlines()),
    "header in capitals": PLAIN.replace(HEADER, HEADER.replace("time", "TIME").replace("_line_", "_Line_")),
    "blank in place of T": PLAIN.replace("T14", " 14"),
    "offset without colon": PLAIN.replace("-05:00", "-0500"),
    "fractions of a second": PLAIN.replace("-05:00", ".000-05:00"),
    "some fractions": PLAIN.replace("5-05:00", "5.000-05:00"),
}


@pytest.mark.parametrize("way", VARIANTS)
def test_ways_to_write_one_log_give_one_recording(way: str) -> None:
    assert bits(VARIANTS[way]) == bits(PLAIN)


def test_windows_text_with_a_degree_sign_is_read_and_said() -> None:
    text = log(*rows(2), header=HEADER.replace("suction_line_temperature_degF", "Suction line temp [°F]"))
    recording = read(text.encode("cp1252"))
    assert "suction_line_temperature" in recording.channels
    assert "Windows-1252" in said(recording, "encoding")


def test_lines_about_the_instrument_above_the_header() -> None:
    recording = read("Logger 7\nSerial;0042\n\n" + PLAIN)
    assert len(recording) == 6
    assert said(recording, "lines skipped").startswith("lines 1 and 2")


def test_the_header_again_is_left_out_and_said() -> None:
    lines = rows(4)
    for again in (HEADER, HEADER.upper()):
        recording = read(log(lines[0], lines[1], again, lines[2], lines[3]))
        assert len(recording) == 4
        assert "line 4" in said(recording, "header again")


def test_a_second_header_with_other_columns_is_refused() -> None:
    error = refused(
        log(*rows(2), "time,liquid_pressure_psig,suction_pressure_psig,liquid_line_temperature_degF,x", *rows(2))
    )
    assert error.code == "second header"
    assert "line 4" in error.message


def test_short_and_long_rows_are_dropped_with_their_lines() -> None:
    lines = rows(6)
    recording = read(log(*lines[:2], "2025-06-01T14:01:00-05:00,118", *lines[2:], lines[0] + ",9,9"))
    assert len(recording) == 6
    texts = [r.text for r in recording.remarks if r.code == "rows dropped"]
    assert any("Line 4 dropped: fewer than 5 cells" in t for t in texts)
    assert any("Line 9 dropped: more than 5 cells" in t for t in texts)


def test_a_last_row_that_was_cut_off_is_dropped() -> None:
    recording = read(PLAIN + "2025-06-01T14:01:00-05:00,11")
    assert len(recording) == 6
    assert "cut off" in said(recording, "rows dropped")


def test_a_stray_quote_costs_one_row_not_the_rest() -> None:
    lines = rows(5)
    lines[1] = '"' + lines[1]
    recording = read(log(*lines))
    assert len(recording) == 4


def test_decimal_commas_between_commas_are_explained() -> None:
    error = refused(log(*[line.replace(".", ",") for line in rows(5)]))
    assert error.code == "cells do not fit"
    assert "semicolons" in error.message


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty file"),
        (b"\n \r\n\t\n", "empty file"),
        (b"\xef\xbb\xbf", "empty file"),
        (b"# only a comment\n", "empty file"),
        (HEADER.encode(), "no rows"),
        (HEADER.encode() + b"\n\n# nothing\n", "no rows"),
        (bytes(range(256)) * 20, "not text"),
        (b"PK\x03\x04" + bytes(100), "not a log"),
        (b"\x1f\x8b\x08" + bytes(100), "not a log"),
        (b"%PDF-1.7\n", "not a log"),
        (b"one word\n", "no header"),
        (b"<html><body>no</body></html>\n", "no header"),
        (b"time|suction_pressure_psig\n2025-06-01T14:00:00Z|118\n", "wrong separator"),
        (b"time\n2025-06-01T14:00:00Z\n", "no header"),
        (b"suction_pressure_psig\n118\n", "no time column"),
        (HEADER.encode() + b"\n" + b",,,,\n" * 5, "no rows"),
        (HEADER.encode() + b"\n2025-06-01T14:00:00Z,OL,OL,OL,OL\n", "no readings"),
        (b"PAR1 but no more", "bad Parquet"),
        (b'["a", "b"]\n', "no header"),
        (b'{"time": 3}{\n', "bad JSON"),
    ],
)
def test_files_that_are_no_logs(data: bytes, code: str) -> None:
    assert refused(data).code == code


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FixInput) as caught:
        read_log(tmp_path / "none.csv")
    assert caught.value.code == "no such file"
    with pytest.raises(FixInput) as caught:
        read_log(tmp_path)
    assert caught.value.code == "is a folder"
    with pytest.raises(FixInput) as caught:
        read_log("a\0b.csv")
    assert caught.value.code == "not readable"
    os.mkfifo(tmp_path / "pipe.csv")
    with pytest.raises(FixInput) as caught:
        read_log(tmp_path / "pipe.csv")
    assert caught.value.code == "no file"


def test_a_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.csv"
    path.write_text(PLAIN)

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    with pytest.raises(FixInput) as caught:
        read_log(path)
    assert caught.value.code == "not readable"
    assert "permissions" in caught.value.message


def test_a_file_of_two_gigabytes_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "big.csv"
    with path.open("wb") as file:
        file.truncate(2 * 2**30)  # sparse: takes no room
    with pytest.raises(FixInput) as caught:
        read_log(path)
    assert caught.value.code == "too big"
    assert "2,048 MB" in caught.value.message
    assert "at most 96 MB" in caught.value.message


def test_too_many_rows_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("csv_log", "json_log"):
        monkeypatch.setattr(f"steadfeed.capture.{module}.MAX_ROWS", 5)
    assert refused(PLAIN).code == "too many rows"
    assert refused('{"time": 1}\n' * 9).code == "too many rows"
    assert limits.MAX_ROWS == 1_000_000


def test_too_many_columns_are_refused() -> None:
    assert refused(",".join(f"time{i}" for i in range(3000)) + "\n1\n").code == "no header"
    assert refused(json.dumps({f"k{i}": 1 for i in range(3000)})).code == "too big"


def jsonl(text: str) -> str:
    header, *lines = text.splitlines()
    keys = header.split(",")
    made = [dict(zip(keys, line.split(","), strict=True)) for line in lines]
    return "\n".join(json.dumps({k: v if k == "time" else float(v) for k, v in row.items()}) for row in made) + "\n"


def test_json_lines_give_the_same_recording() -> None:
    assert bits(jsonl(PLAIN), "x.jsonl") == bits(PLAIN)
    assert bits(jsonl(PLAIN), "x.log") == bits(PLAIN)


def test_json_lines_with_missing_keys_nulls_words_and_broken_lines() -> None:
    text = (
        '{"time": "2025-06-01T14:00:00Z", "suction_pressure_psig": 118, "liquid_pressure_psig": null}\n\n'
        '{"time": "2025-06-01T14:00:05Z", "suction_pressure_psig": "OL", "liquid_pressure_psig": 410.5}\n'
        '{"time": "2025-06-01T14:00:10Z", "suction_pressure_psig": "119.5"}\n'
        '{"time": "2025-06-01T14:00:15Z", "suction_pressure_psig": NaN, "liquid_pressure_psig": [1]}\n'
        '{"time": "2025-06-01T14:00:20Z", "suction_pressure_psig": 1e999, "liquid_pressure_psig": true}\n'
        '{"time": "2025-06-01T14:00:2'
    )
    recording = read(text, name="x.jsonl")
    nan = float("nan")
    assert len(recording) == 3
    assert same_values(recording.channels["suction_pressure"].values, [psig(118), nan, psig(119.5)])
    assert same_values(recording.channels["liquid_pressure"].values, [nan, psig(410.5), nan])
    texts = [r.text for r in recording.remarks if r.code == "rows dropped"]
    assert "Line 7 dropped: it was cut off." in texts
    assert "Lines 5 and 6 dropped: no reading in any channel." in texts
    assert "lines 5 and 6 unreadable" in said(recording, "cells not read")


@pytest.mark.parametrize(
    "text", ["[" * 100_000, '{"a":' * 100_000, "{" + "9" * 5000 + "}", '{"time": ' + "9" * 5000 + "}"]
)
def test_hostile_json_is_one_sentence(text: str) -> None:
    assert refused(text, name="x.jsonl").message


def parquet(tmp_path: Path, columns: dict[str, object]) -> bytes:
    pa = pytest.importorskip("pyarrow")
    pq = pytest.importorskip("pyarrow.parquet")
    path = tmp_path / "made.parquet"
    pq.write_table(pa.table(columns), path)
    return path.read_bytes()


def test_parquet_gives_the_same_recording(tmp_path: Path) -> None:
    pa = pytest.importorskip("pyarrow")
    header, *lines = PLAIN.splitlines()
    cells = list(zip(*(line.split(",") for line in lines), strict=True))
    numbers = {k: pa.array([float(v) for v in c]) for k, c in zip(header.split(",")[1:], cells[1:], strict=True)}
    as_text = parquet(tmp_path, {"time": list(cells[0]), **numbers})
    assert bits(as_text, "x.parquet") == bits(PLAIN)
    assert bits(as_text, "x.bin") == bits(PLAIN)  # known by its first bytes
    seconds = read(PLAIN).time
    for unit, factor in (("s", 1), ("ms", 10**3), ("us", 10**6), ("ns", 10**9)):
        typed = pa.array((seconds * factor).astype(np.int64), pa.timestamp(unit, "UTC"))
        assert bits(parquet(tmp_path, {"time": typed, **numbers}), "x.parquet") == bits(PLAIN)


def test_parquet_with_nulls_integers_decimals_and_local_times(tmp_path: Path) -> None:
    pa = pytest.importorskip("pyarrow")
    from decimal import Decimal

    from steadfeed.capture.system_file import parse_system

    wall = [20240 * 86400 + 14 * 3600 + i for i in range(3)]
    data = parquet(
        tmp_path,
        {
            "time": pa.array([*wall[:2], None], pa.timestamp("s")),
            "suction_pressure_psig": pa.array([118, None, 120], pa.int32()),
            "liquid_pressure_psig": pa.array([Decimal("410.5"), Decimal("411.5"), None], pa.decimal128(6, 1)),
            "suction_line_temperature_degF": pa.array([55.5, float("nan"), 1.0], pa.float32()),
            "read_by": ["person", "person", "photo"],
        },
    )
    system = parse_system('time_zone = "America/Chicago"', "x.toml")
    recording = read(data, system, name="x.parquet")
    assert recording.time.tolist() == [wall[0] + 5 * 3600, wall[1] + 5 * 3600]
    assert recording.utc_offset == -5 * 3600
    assert same_values(recording.channels["suction_pressure"].values, [psig(118), float("nan")])
    assert same_values(recording.channels["liquid_pressure"].values, [psig(410.5), psig(411.5)])
    assert recording.read_by == "person"
    assert "Row 3 dropped" in said(recording, "rows dropped")


def test_broken_parquet_is_one_sentence(tmp_path: Path) -> None:
    data = parquet(tmp_path, {"time": ["2025-06-01T14:00:00Z"], "suction_pressure_psig": [118.0]})
    for broken in (data[:50], data[:-9], data[:20] + b"\xff" * 30 + data[50:], data[::-1]):
        assert refused(broken, name="x.parquet").code in ("bad Parquet", "not text", "no header")


def test_parquet_without_its_extra_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(InstallPart) as caught:
        read(b"PAR1....PAR1", name="x.parquet")
    assert "archive" in caught.value.message
    assert "x.parquet" in caught.value.message


def test_in_a_folder_only_logs_are_logs(tmp_path: Path) -> None:
    files = {
        "a.csv": (PLAIN, True),
        "labels.csv": ("log,state,valid,push,true_flow_ratio\na,fixed,True,2025-06-01T14:00:00Z,1.0\n", False),
        "people.csv": ("name,time\nnobody,3\n", False),
        "odd.csv": ("when,P1,P2\n1,2,3\n", True),  # odd.toml beside it maps them
        "odd.toml": ("", False),
        "empty.csv": ("", True),
        "nothing.txt": ("", False),
        "notes.txt": ("time to look at the suction pressure\n", False),
        "typed.txt": (PLAIN, True),
        "untimed.csv": ("suction_pressure_psig,power_W\n1,2\n", True),
        "b.jsonl": (jsonl(PLAIN), True),
        "results.jsonl": ('{"log": "a.csv", "verdict": "fixed", "valid": true}\n', False),
        "a.truth.json": ('{\n "state": "fixed"\n}\n', False),
        "a.html": (PLAIN, False),
        ".hidden.csv": (PLAIN, False),
        "c.parquet": ("PAR1", True),
    }
    for name, (text, _) in files.items():
        (tmp_path / name).write_text(text)
    (tmp_path / "binary.csv").write_bytes(bytes(range(256)) * 9)
    (tmp_path / "folder.csv").mkdir()
    assert {name: looks_like_log(tmp_path / name) for name in files} == {n: is_log for n, (_, is_log) in files.items()}
    assert looks_like_log(tmp_path / "binary.csv")
    assert not looks_like_log(tmp_path / "folder.csv")
    assert not looks_like_log(tmp_path / "not there.csv") or True


def test_the_system_file_beside_a_log(tmp_path: Path) -> None:
    log_path = tmp_path / "unit5.csv"
    assert find_system(log_path) is None
    (tmp_path / "unit5.toml").write_text("")
    assert find_system(log_path) == tmp_path / "unit5.toml"
    assert find_system(str(log_path)) == tmp_path / "unit5.toml"
    assert find_system(tmp_path / "unit5.toml") is None
    assert find_system("") is None
    assert find_system("a\0b.csv") is None


def test_the_long_way_reads_the_same(tmp_path: Path) -> None:
    for data in (*VARIANTS.values(), jsonl(PLAIN)):
        raw = data.encode() if isinstance(data, str) else data
        assert outcome(raw, "x.csv", None, True) == outcome(raw, "x.csv", None, False)
