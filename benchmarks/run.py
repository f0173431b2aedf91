"""Run the benchmarks and print their figures: `make speed`, or `python benchmarks/run.py cli judging`.

Ratios travel between machines, seconds do not: where a figure is in seconds, the same machine's bare Python stands
beside it. Nothing here fails; a figure that misses what was wanted says so.
"""

from __future__ import annotations

import importlib
import platform
import sys
from pathlib import Path

HERE = Path(__file__).parent
NO_BENCHMARKS = {"run", "timing"}


def main(names: list[str]) -> None:
    known = sorted(path.stem for path in HERE.glob("*.py") if path.stem not in NO_BENCHMARKS)
    unknown = set(names) - set(known)
    if unknown:
        raise SystemExit(f"There is no benchmark {', '.join(sorted(unknown))}; there are {', '.join(known)}.")
    print(f"Python {platform.python_version()} on {platform.machine()}\n")
    for name in names or known:
        print(name)
        for figure in importlib.import_module(name).figures():
            print(f"  {figure.line()}")
        print()


if __name__ == "__main__":
    main(sys.argv[1:])
