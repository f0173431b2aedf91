"""Hours of readings through recorder, store and live recording: memory stays where it is but for the readings themselves.

Time is the readings' own, so that two hours take minutes. A judgement is made each minute of it.
"""

from __future__ import annotations

import gc
import math
import os
from pathlib import Path

import pytest

from company import small_company
from steadfeed.analysis.challenge import judge
from steadfeed.capture.channel_map import ChannelMap, MapRow
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.recorder import Recorder
from steadfeed.capture.source import Reading
from steadfeed.circuit.equipment import System
from steadfeed.physics.properties import curves
from steadfeed.records.check import check
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from steadfeed.visit.record_sink import RecordSink

NOW = 1_785_000_000.0
RATE = 10
SERIES = (
    ("suction_pressure", "psig", 118.0, 1.0),
    ("liquid_pressure", "psig", 352.0, 2.0),
    ("suction_line_temperature", "degF", 53.0, 0.5),
    ("liquid_line_temperature", "degF", 92.0, 0.5),
    ("outdoor_air_temperature", "degF", 95.0, 0.4),
    ("return_air_dry_bulb", "degF", 78.0, 0.3),
)
#: What one reading may cost in the recording as long as its challenge is open [bytes]: entry, cell, share of a row, and
#: room that the arrays keep ahead.
BYTES_A_READING = 110.0
#: What caches may grow to: SQLite's page cache is 32 MB a connection, of two (records/engine.py).
CACHES = 80e6


def resident() -> int:
    """Memory that this process holds [bytes]."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def row(i: int) -> list[Reading]:
    at = NOW + i / RATE
    return [
        Reading("set", "1", i * len(SERIES) + k, name, f"{base + wide * math.sin(i / 300 + k):.1f}", unit, at)
        for k, (name, unit, base, wide) in enumerate(SERIES)
    ]


def held(live: LiveRecording) -> int:
    """Memory that the arrays of a recording take [bytes]."""
    rows = (live._row_ms, live._row_first, live._row_same, live._row_reader)
    columns = live._columns.values()
    return (
        live._entries.nbytes + sum(a.nbytes for a in rows) + sum(c.numbers.nbytes + 40 * len(c._seen) for c in columns)
    )


def soak(setting: Path, minutes: int) -> tuple[float, float]:
    """Record so long. Return what a reading costs in the recording [bytes], and how much the rest grew [bytes]."""
    rows = minutes * 60 * RATE
    begin = rows // 10
    system = System(refrigerant="R-410A")
    known = curves("R-410A")
    with open_store(setting) as store, GroupWriter(store) as writer:
        with store.writing() as t:
            company = small_company(t)
        live = LiveRecording(system)
        channel_map = ChannelMap(tuple(MapRow("set", name, name) for name, _, _, _ in SERIES))
        recorder = Recorder(RecordSink(store, writer), company.challenge, channel_map, recordings=[live])
        heard = 0

        def listen(_: object) -> None:
            nonlocal heard
            heard += 1

        recorder.listen(listen)
        before = held_before = 0
        for i in range(rows):
            recorder.take(row(i), NOW + i / RATE + 0.05)
            if i % (60 * RATE) == 0:
                assert recorder.flush(60)
                judge(live.recording(), system, known)
            if i == begin:
                assert recorder.flush(60)
                before, held_before = resident(), held(live)
        assert recorder.flush(60)
        grown = resident() - before - (held(live) - held_before)
        each = held(live) / (rows * len(SERIES))
        assert heard == rows
        assert recorder.saved.written == rows * len(SERIES)
        assert len(live) == rows
        recorder.close()
        assert check(store).sound
    return each, grown


def test_ten_minutes_leave_nothing_but_the_readings(tmp_path: Path) -> None:
    each, rest = soak(tmp_path / "store.db", 10)
    assert each < BYTES_A_READING
    assert rest < CACHES


@pytest.mark.full
@pytest.mark.timeout(3600)
def test_two_hours_at_ten_hertz_leave_nothing_but_the_readings(tmp_path: Path) -> None:
    each, rest = soak(tmp_path / "store.db", 120)
    assert each < BYTES_A_READING
    assert rest < CACHES
