"""From a reading to whoever watches, over a real server and a real socket; and a live judgement at 15,000 rows.

Six channels at 10 Hz for half a minute, each batch committed to a store on disk, two devices on the stream. The figure is
the time from handing the readings to the source until the frame that holds them was received.
"""

from __future__ import annotations

import json
import sys
import tempfile
import threading
import time
import uuid
from pathlib import Path

import numpy as np

from timing import Figure, best

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

CHANNELS = {
    "suction_pressure_psig": 118.0, "liquid_pressure_psig": 365.0, "suction_line_temperature_degF": 52.0,
    "liquid_line_temperature_degF": 95.0, "outdoor_air_temperature_degF": 92.0, "return_air_dry_bulb_degF": 76.0,
}  # fmt: skip
SECONDS = 30.0
HERTZ = 10.0


def latencies(seconds: float = SECONDS) -> tuple[list[float], int]:
    """Return the times from reading to subscriber [s], and how many readings were on the disk at the end."""
    from guided_bench import small_company
    from steadfeed.capture.http_ingest import PushSource
    from steadfeed.capture.source import Reading
    from web_server import frame, serving

    with tempfile.TemporaryDirectory() as folder, serving(Path(folder)) as served:
        phone, tablet = served.client(), served.client(name="tablet")
        _, visit, (circuit,) = small_company(served.station, "R-410A")
        source = PushSource("gauges")
        form = served.station.sources.connect(source, "ingest")
        begun = phone("POST", f"/visits/{visit}/challenges", {"circuit_id": circuit, "sources": [form["id"]]})
        challenge = begun["challenge_id"]
        sent: dict[float, float] = {}
        got: dict[float, float] = {}
        over = threading.Event()

        def watch(name: str) -> None:
            client = phone if name == "phone" else tablet
            with client.stream(challenge) as socket:
                while not over.is_set():
                    try:
                        found = frame(socket, timeout=1.0)
                    except TimeoutError:
                        continue
                    if found["type"] == "readings" and name == "phone":
                        now = time.perf_counter()
                        for row in found["rows"]:
                            if None not in row[1:7]:
                                got.setdefault(round(row[0], 3), now)
                    socket.send(json.dumps({"type": "alive", "watching": True}))

        threads = [threading.Thread(target=watch, args=(name,), daemon=True) for name in ("phone", "tablet")]
        for thread in threads:
            thread.start()
        time.sleep(1.0)
        boot, number = uuid.uuid4().hex, 0
        generator = np.random.default_rng(1)
        began = time.perf_counter()
        for k in range(int(seconds * HERTZ)):
            pause = began + k / HERTZ - time.perf_counter()
            if pause > 0:
                time.sleep(pause)
            at = round(time.time(), 3)
            batch = []
            for header, value in CHANNELS.items():
                text = f"{value + generator.normal(0.0, 0.2):.1f}"
                batch.append(Reading("gauges", boot, number, header, text, header.rsplit("_", 1)[1], at))
                number += 1
            sent[at] = time.perf_counter()
            source.deliver(batch)
        time.sleep(1.5)
        written = phone("GET", f"/challenges/{challenge}")["saved"]["written"]
        over.set()
        for thread in threads:
            thread.join(5.0)
    found = [got[at] - moment for at, moment in sent.items() if at in got]
    if len(found) < 0.98 * len(sent):
        raise RuntimeError(f"only {len(found)} of {len(sent)} readings reached the subscriber")
    return found, written


def judging() -> float:
    """Time of one live judgement with its look at steadiness at 15,000 rows of six channels [s]."""
    from guided_bench import GuidedBench, usual
    from steadfeed.capture.source import Reading

    with tempfile.TemporaryDirectory() as folder:
        bench = GuidedBench(Path(folder), usual())
        bench.run(1200, until="put back")
        table = [
            (column.header, column.header_unit, [row[k] for row in bench.played.shown])
            for k, column in enumerate(bench.played.columns)
            if column.channel != "valve_steps"
        ][:6]
        watch = bench.live.tested
        start = bench.clock.now + 5.0
        count = len(table[0][2])
        from steadfeed.capture.channel_map import Placed

        for i in range(15_000):
            at = i / 15_000 * (count - 1)
            whole, part = int(at), at - int(at)
            readings = []
            for n, (header, unit, values) in enumerate(table):
                value = values[whole] * (1 - part) + values[min(whole + 1, count - 1)] * part
                reading = Reading("fast", "b", 6 * i + n, header, f"{value:.1f}", unit, start + 0.1 * i)
                readings.append(Placed(reading, header.rsplit("_", 1)[0], unit))
            watch.recording.add(readings, start + 0.1 * i)
        bench.live.sequence += 1
        watch.update(bench.live.sequence)
        rows = len(watch.recording)
        assert rows > 15_000, rows
        took = best(lambda: bench.live._judge(bench.clock.now), 5)
        bench.close()
    return took


def figures() -> list[Figure]:
    found, written = latencies()
    times = np.array(found) * 1e3
    log_of_it = np.random.default_rng(1).uniform(1e5, 3e6, 1_000_000)
    one_log = best(lambda: np.log(log_of_it))
    judged = judging()
    return [
        Figure("np.log of a million numbers, for comparison", one_log * 1e3, "ms"),
        Figure(f"reading to subscriber at 6 × 10 Hz, median of {len(found)}", float(np.median(times)), "ms"),
        Figure("… 99 of 100", float(np.percentile(times, 99)), "ms", 200.0),
        Figure("… readings on the disk, share", written / (len(found) * len(CHANNELS)), "×"),
        Figure("a live judgement at more than 15,000 rows × 6 channels", judged * 1e3, "ms", 20.0),
        Figure("… over np.log of a million numbers", judged / one_log, "×"),
    ]
