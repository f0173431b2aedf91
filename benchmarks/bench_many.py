"""Speed of the practice bench: one challenge, and many in parallel."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from timing import Figure, best

#: A challenge of 25 minutes of log: 60 s standing, 900 s of running, push, hold, recovery, standstill.
MINUTES = 25.0


def figures() -> Iterator[Figure]:
    from steadfeed.bench.performed import log_text, perform, system_text
    from steadfeed.bench.settings import ConductSettings, Settings
    from steadfeed.visit.practice import make_many

    bare = best(_bare_loop)
    yield Figure("bare Python: 10 million additions", bare, "s")
    plan = ConductSettings(lead=960.0)
    settings = Settings(conduct=plan)
    done = perform(settings, 1)
    span = float(done.readings.time[-1] - done.readings.time[0]) / 60.0
    assert abs(span - MINUTES) < 5.0, span

    def one() -> None:
        run = perform(settings, 1)
        log_text(run)
        system_text(run)

    alone = best(one, 5)
    yield Figure(f"one challenge, {span:.0f} min at 1 s samples, to the text of its log", alone, "s", 2.0)
    yield Figure("… over the bare loop", alone / bare, "×")
    yield Figure("… bench time over real time", span * 60.0 / alone, "×")
    quiet = replace(settings, kit=replace(settings.kit, channels=()))
    yield Figure("… with the four vital channels only, over all", best(lambda: perform(quiet, 1), 3) / alone, "×")
    times = {}
    for workers in (1, os.cpu_count() or 1):
        with tempfile.TemporaryDirectory() as folder:
            start = time.perf_counter()
            count = sum(not made.problem for made in make_many(Path(folder) / "many", 24, 1, processes=workers))
            times[workers] = (time.perf_counter() - start) / count
    yield Figure("a random challenge in `bench many`, one process", times[1], "s")
    for workers, each in times.items():
        if workers > 1:
            yield Figure(f"… with {workers} processes, over one", each / times[1], "×")


def _bare_loop() -> int:
    total = 0
    for k in range(10_000_000):
        total += k
    return total
