"""Time things fairly: the best of several runs, since everything that disturbs a run only makes it longer."""

from __future__ import annotations

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


def best_process(command: Sequence[str], runs: int = 7) -> float:
    """Shortest time [s] of a whole process, from the start to its end."""
    return best(lambda: subprocess.run(command, check=True, capture_output=True), runs)
