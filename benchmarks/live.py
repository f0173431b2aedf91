"""Live capture: from a reading to the screen and to the disk, and a judgement each second on a growing recording."""

from __future__ import annotations

import asyncio
import math
import os
import tempfile
import time
from collections.abc import AsyncGenerator, Sequence
from pathlib import Path

import numpy as np

import steadfeed
from steadfeed.capture.channel_map import ChannelMap, MapRow, Placed
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.live_rows import conversion
from steadfeed.capture.logs import parse_log
from steadfeed.capture.recorder import Event, Recorder, Taken
from steadfeed.capture.source import Kept, Reading, Source
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.records import rows
from steadfeed.records.rows import By
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from steadfeed.visit.record_sink import RecordSink
from timing import Figure, best

EXAMPLES = Path(__file__).parents[1] / "examples"
SERIES = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature",
          "outdoor_air_temperature", "return_air_dry_bulb")  # fmt: skip
UNITS = ("psig", "psig", "degF", "degF", "degF", "degF")
START = 1_785_000_000.0
SECONDS = 20.0
RATE = 10.0


class Paced(Source):
    """Six channels ten times a second, each reading stamped with the moment it was made."""

    kind = "test"

    async def session(self) -> AsyncGenerator[Sequence[Reading], None]:
        number = 0
        due = time.monotonic()
        while True:
            now = time.time()
            yield [
                Reading(self.name, "1", number + k, name, f"{100 + number % 50 + k / 10:.1f}", UNITS[k], now)
                for k, name in enumerate(SERIES)
            ]
            number += len(SERIES)
            due += 1.0 / RATE
            await asyncio.sleep(max(due - time.monotonic(), 0.0))

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        at = time.time()
        self.heard = [*getattr(self, "heard", []), *((n, at) for k in kept for n in range(k.first, k.last + 1))]


def latencies(folder: Path) -> tuple[list[float], list[float]]:
    """Run the paced source into a store on disk. Return seconds from reading to listener and to acknowledgement."""
    shown: list[float] = []
    made: dict[int, float] = {}

    def see(event: Event) -> None:
        if isinstance(event, Taken):
            at = time.time()
            for placed in event.readings:
                taken = placed.reading.time or at
                made[placed.reading.sequence] = taken
                shown.append(at - taken)

    async def run(recorder: Recorder, source: Paced) -> None:
        running = asyncio.create_task(recorder.run(source))
        await asyncio.sleep(SECONDS)
        await source.close()
        await running

    with open_store(folder / "store.db") as store, GroupWriter(store) as writer:
        with store.writing() as t:
            by = By(now=START, device="benchmark")
            site = rows.add(t, "site", {"name": "bench"}, by)
            unit = rows.add(t, "unit", {"site_id": site, "kind": "outdoor", "tag": "B-1"}, by)
            circuit = rows.add(t, "circuit", {"unit_id": unit, "name": "1"}, by)
            visit = rows.add(t, "visit", {"unit_id": unit, "opened_at": START}, by)
            values = {"visit_id": visit, "circuit_id": circuit, "started_at": START, "mode": "cooling"}
            challenge = rows.add(t, "challenge", values, by)
        channel_map = ChannelMap(tuple(MapRow("paced", name, name) for name in SERIES))
        live = LiveRecording(System(refrigerant="R-410A"))
        recorder = Recorder(RecordSink(store, writer), challenge, channel_map, recordings=[live])
        recorder.listen(see)
        source = Paced("paced")
        asyncio.run(run(recorder, source))
        recorder.close()
        assert recorder.saved.written == len(shown) > 0.9 * SECONDS * RATE * len(SERIES)
    heard = [at - made[number] for number, at in source.heard]
    return shown, heard


def percentile(values: list[float], share: float) -> float:
    return float(np.percentile(values, share, method="higher"))


def long_challenge(recording: Recording, system: System, count: int = 15_000) -> list[tuple[Placed, float]]:
    """The example that regulates as ten readings a second: one set of six channels a row."""
    zero = recording.atmosphere
    at = np.linspace(0, len(recording) - 1, count)
    generator = np.random.default_rng(1)
    readings = []
    for k, name in enumerate(SERIES):
        channel = recording.channels[name]
        into = conversion(name, channel.unit, zero)
        values = np.interp(at, np.arange(len(recording)), (channel.values - into.offset) / into.factor)
        values += generator.normal(0.0, 0.1, count)
        for i, value in enumerate(values.tolist()):
            moment = START + i / RATE
            one = Reading("set", "1", i * len(SERIES) + k, name, f"{value:.1f}", channel.unit, moment)
            readings.append((Placed(one, name, channel.unit), moment + 0.02))
    readings.sort(key=lambda pair: pair[0].reading.sequence)
    return readings


def sync_seconds(folder: Path) -> float:
    """Return how long this disk needs to take 4 KB for good [s]."""
    with (folder / "sync").open("wb", buffering=0) as file:

        def once() -> None:
            file.write(b"x" * 4096)
            os.fsync(file.fileno())

        return best(once, 30)


def figures() -> list[Figure]:
    system = steadfeed.read_system(EXAMPLES / "orchard-house.toml")
    (recording,) = steadfeed.read_log(EXAMPLES / "orchard-house.csv", system)
    curves = steadfeed.curves(system.refrigerant or "")
    readings = long_challenge(recording, system)
    live = LiveRecording(system)
    start = time.perf_counter()
    for placed, received in readings:
        live.add((placed,), received)
    each = (time.perf_counter() - start) / len(readings)
    assert len(live) == 15_000
    log = live.log()
    judged = best(lambda: steadfeed.judge(live.recording(), system, curves))
    copied = best(live.recording)
    parsed = best(lambda: parse_log(log, "live.csv", system), 3)
    (again,) = parse_log(log, "live.csv", system)
    ours = steadfeed.judge(live.recording(), system, curves).assessment
    assert ours == steadfeed.judge(again, system, curves).assessment
    backlog = [
        (
            Placed(
                Reading("late", "1", i, "amps", f"{11 + i % 10 / 10:.1f}", "A", START + 800 + i / RATE),
                "fan_current",
                "A",
            )
        )
        for i in range(6_000)
    ]
    start = time.perf_counter()
    for i in range(0, len(backlog), 500):
        live.add(backlog[i : i + 500], START + 1500.0)
        live.recording()
    caught_up = time.perf_counter() - start
    log_of_it = np.random.default_rng(1).uniform(1e5, 3e6, 1_000_000)
    one_log = best(lambda: np.log(log_of_it))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sync = sync_seconds(folder)
        shown, heard = latencies(folder)
    return [
        Figure("np.log of a million numbers, for comparison", one_log * 1e3, "ms"),
        Figure("live judgement at 15,000 rows × 6 channels", judged * 1e3, "ms", 20.0),
        Figure("… over np.log of a million numbers", judged / one_log, "×"),
        Figure("of it, the recording out of the growing arrays", copied * 1e3, "ms"),
        Figure("reading the same log again instead, over the live judgement", parsed / judged, "×"),
        Figure("taking one reading in", each * 1e6, "µs"),
        Figure("ten minutes of one channel arriving late, in 12 messages, each shown", caught_up * 1e3, "ms"),
        Figure("reading to listener at 6 channels × 10 Hz, p99", percentile(shown, 99) * 1e3, "ms", 200.0),
        Figure("reading to acknowledgement (on the disk), p50", percentile(heard, 50) * 1e3, "ms"),
        Figure("reading to acknowledgement, p99", percentile(heard, 99) * 1e3, "ms"),
        Figure("… over one sync of 4 KB on this disk", percentile(heard, 99) / max(sync, math.ulp(1.0)), "×"),
    ]
