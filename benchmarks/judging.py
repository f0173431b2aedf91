"""How long a judgement takes in a process that is already warm, and a folder of logs."""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import numpy as np

import steadfeed
from steadfeed.capture.logs import parse_log
from steadfeed.visit.json_form import json_line, judgement_form
from steadfeed.visit.judge_log import judge_log
from timing import Figure, best

EXAMPLES = Path(__file__).parents[1] / "examples"


def one_second_log(rows: int = 1500) -> bytes:
    """The example that regulates, resampled to one reading a second and six channels."""
    with (EXAMPLES / "orchard-house.csv").open(encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    channels = [name for name in table[0] if name != "time"][:6]
    at = np.linspace(0, rows - 1, len(table))
    columns = {name: np.interp(np.arange(rows), at, [float(row[name]) for row in table]) for name in channels}
    generator = np.random.default_rng(1)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["elapsed_s", *channels])
    noise = {name: generator.normal(0.0, 0.1, rows) for name in channels}
    for i in range(rows):
        writer.writerow([i, *(f"{columns[name][i] + noise[name][i]:.1f}" for name in channels)])
    return out.getvalue().encode()


def every_second_row(folder: Path) -> Path:
    """Write the example that regulates with a reading each two seconds, its system file beside it; return its path."""
    header, *rows = (EXAMPLES / "orchard-house.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    log = folder / "every-second-row.csv"
    log.write_text(header + "".join(rows[::2]), encoding="utf-8")
    log.with_suffix(".toml").write_bytes((EXAMPLES / "orchard-house.toml").read_bytes())
    return log


def figures() -> list[Figure]:
    system = steadfeed.read_system(EXAMPLES / "orchard-house.toml")
    curves = steadfeed.curves(system.refrigerant or "")
    raw = one_second_log()
    (recording,) = parse_log(raw, "one-second.csv", system)
    assert len(recording) == 1500
    assert len(recording.channels) == 6
    log_of_it = np.random.default_rng(1).uniform(1e5, 3e6, 1_000_000)
    one_log = best(lambda: np.log(log_of_it))
    judged = best(lambda: steadfeed.judge(recording, system, curves))
    read = best(lambda: parse_log(raw, "one-second.csv", system))
    with tempfile.TemporaryDirectory() as folder:
        log = every_second_row(Path(folder))
        whole = best(lambda: [json_line(judgement_form(one)) for one in judge_log(log)])
    return [
        Figure("np.log of a million numbers, for comparison", one_log * 1e3, "ms"),
        Figure("judge 1,500 readings × 6 channels in memory", judged * 1e3, "ms", 5.0),
        Figure("… over np.log of a million numbers", judged / one_log, "×"),
        Figure("read their CSV", read * 1e3, "ms", 5.0),
        Figure("… over np.log of a million numbers", read / one_log, "×"),
        Figure("a log of 601 readings × 9 channels, file to JSON", whole * 1e3, "ms"),
        Figure("1,500 such logs in one process (from the line above)", whole * 1500, "s", 20.0),
    ]
