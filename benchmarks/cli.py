"""How long a person waits for the command line: whole processes, start to end."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from timing import Figure, best_processes

EXAMPLE = str(Path(__file__).parents[1] / "examples" / "orchard-house.csv")
STEADFEED = str(Path(sys.executable).parent / "steadfeed")


def figures() -> list[Figure]:
    with tempfile.TemporaryDirectory() as folder:
        bare, click, numpy, help_, saturation, judge, judge_json, report = best_processes(
            [
                [sys.executable, "-c", "pass"],
                [sys.executable, "-c", "import click"],
                [sys.executable, "-c", "import numpy"],
                [STEADFEED, "--help"],
                [STEADFEED, "saturation", "R-410A", "--pressure", "118"],
                [STEADFEED, "judge", EXAMPLE],
                [STEADFEED, "judge", EXAMPLE, "--json"],
                [STEADFEED, "judge", EXAMPLE, "--report", folder],
            ]
        )
    return [
        Figure("an empty Python, for comparison", bare, "s"),
        Figure("import numpy, for comparison", numpy, "s"),
        Figure("steadfeed --help over import click", help_ / click, "×", 2.0),
        Figure("steadfeed --help", help_, "s", 0.150),
        Figure("steadfeed saturation over import numpy", saturation / numpy, "×"),
        Figure("steadfeed judge LOG, to the printed result", judge, "s", 0.7),
        Figure("steadfeed judge LOG over import numpy", judge / numpy, "×"),
        Figure("steadfeed judge LOG --json", judge_json, "s"),
        Figure("HTML and PDF, on top of judge LOG", report - judge, "s", 0.5),
    ]
