"""Replay of a kept log with the verdict hidden: the readings as they came, and the judgement only when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from steadfeed import units
from steadfeed.errors import FixInput

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.circuit.equipment import System
    from steadfeed.circuit.recording import Recording
    from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Replay:
    """One circuit of a log. seconds since its first reading, shape (n,); values in psig, °F and °F differences, NaN =
    missing. `judge(n)` is steadfeed's judgement on the first n readings: nothing later is looked at.
    """

    log: str
    title: str
    seconds: np.ndarray
    suction: np.ndarray
    head: np.ndarray
    superheat: np.ndarray
    subcooling: np.ndarray
    recording: Recording
    system: System
    curves: Curves

    def __len__(self) -> int:
        return int(self.seconds.shape[0])

    def judge(self, count: int | None = None) -> Judgement:
        """Judge the readings so far (all of them if None)."""
        from steadfeed.analysis.challenge import judge

        n = len(self) if count is None else max(1, min(count, len(self)))
        return judge(self.recording.until(float(self.recording.time[n - 1])), self.system, self.curves)

    def said(self, count: int | None = None) -> str:
        """The judgement on the readings so far, in a sentence."""
        from steadfeed.reports.sentences import headline

        return headline(self.judge(count).assessment, self.system, "us")


def replay_of(path: Path) -> tuple[Replay, ...]:
    """Read a log for a replay, one a circuit. Raises FixInput when it cannot be read or names no refrigerant."""
    from steadfeed.analysis.derive import derive
    from steadfeed.capture.logs import read_log
    from steadfeed.capture.system_file import default_system, find_system, read_system
    from steadfeed.physics.properties import curves

    if not path.is_file():
        raise FixInput(f"There is no file {path}", where=str(path))
    beside = find_system(path)
    system = default_system() if beside is None else read_system(beside)
    if system.refrigerant is None:
        raise FixInput(
            f'The refrigerant of {path} is not stated; write refrigerant = "…" into its .toml', where=str(path)
        )
    known = curves(system.refrigerant)
    out = []
    for recording in read_log(path, system):
        try:
            trace = derive(recording, known)
        except KeyError as error:
            word = str(error.args[0]).replace("_", " ")
            raise FixInput(
                f"{path} has no {word}; a replay needs both pressures and both pipe temperatures", where=str(path)
            ) from error
        air = recording.atmosphere

        def gauge(name: str, recording: Recording = recording, air: float = air) -> np.ndarray:
            values = recording.get(name)
            if values is None:
                return np.full(len(recording), nan)
            factor, offset = units.linear("pressure", "psig", air)
            return (values - offset) / factor

        head = gauge("liquid_pressure")
        if not np.isfinite(head).any():
            head = gauge("discharge_pressure")
        out.append(
            Replay(
                log=str(path), title=f"{path.stem} {recording.circuit or ''}".strip(),
                seconds=recording.time - recording.time[0], suction=gauge("suction_pressure"), head=head,
                superheat=trace.superheat * 1.8, subcooling=trace.subcooling * 1.8, recording=recording, system=system,
                curves=known,
            )
        )  # fmt: skip
    return tuple(out)
