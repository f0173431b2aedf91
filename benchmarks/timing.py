"""Time things fairly: the best of several runs, since everything that disturbs a run only makes it longer."""

from __future__ import annotations

import math
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One measured figure. limit: what is wanted at most, None when it is only shown; unit: "×" for a ratio."""

    what: str
    value: float
    unit: str
    limit: float | None = None

    def line(self) -> str:
        wanted = "" if self.limit is None else f"wanted ≤ {self.limit:g}"
        missed = "" if self.limit is None or self.value <= self.limit else "   MISSED"
        return f"{self.what:<68} {self.value:>9.3g} {self.unit:<3} {wanted}{missed}"


def best(work: Callable[[], object], runs: int = 7) -> float:
    """Shortest time [s] of several runs."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def best_processes(commands: Sequence[Sequence[str]], runs: int = 9) -> list[float]:
    """Shortest time [s] of each whole process, start to end. Taken in turns, so that a busy minute hits all alike."""
    times = [math.inf] * len(commands)
    for _ in range(runs):
        for i, command in enumerate(commands):
            times[i] = min(times[i], best(lambda c=command: subprocess.run(c, check=True, capture_output=True), 1))
    return times
