"""How long a person waits for the command line: whole processes, start to end."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from timing import Figure, best_process

EXAMPLE = str(Path(__file__).parents[1] / "examples" / "regulating.csv")
STEADFEED = str(Path(sys.executable).parent / "steadfeed")


def figures() -> list[Figure]:
    bare = best_process([sys.executable, "-c", "pass"])
    click = best_process([sys.executable, "-c", "import click"])
    numpy = best_process([sys.executable, "-c", "import numpy"])
    help_ = best_process([STEADFEED, "--help"])
    saturation = best_process([STEADFEED, "saturation", "R-410A", "--pressure", "118"])
    judge = best_process([STEADFEED, "judge", EXAMPLE])
    judge_json = best_process([STEADFEED, "judge", EXAMPLE, "--json"])
    with tempfile.TemporaryDirectory() as folder:
        report = best_process([STEADFEED, "judge", EXAMPLE, "--report", folder])
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
