"""Running a plant through a script and keeping what was true."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

from steadfeed.bench.plant import Plant
from steadfeed.bench.state import CircuitState, Inputs, State

FloatArray = npt.NDArray[np.float64]

#: What a person, the weather and the thermostat do: time since the start [s] and the state then -> inputs.
Conduct = Callable[[float, State], Inputs]

_CIRCUIT: Final = tuple(f.name for f in fields(CircuitState))
_SHARED: Final = tuple(f.name for f in fields(State) if f.name not in ("time", "circuits"))


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """Every true quantity over time, SI, absolute.

    time [s since the start], shape (n,). circuits: per circuit, name of a field of CircuitState or State -> array of
    shape (n,); flags are 0 or 1. `history["suction_pressure"]` is of the first circuit.
    """

    time: FloatArray
    circuits: tuple[Mapping[str, FloatArray], ...]

    def __getitem__(self, name: str) -> FloatArray:
        return self.circuits[0][name]

    def __len__(self) -> int:
        return int(self.time.shape[0])


def simulate(plant: Plant, conduct: Conduct, seconds: float, sample: float = 1.0) -> History:
    """Run a plant for some time [s] and keep its state every `sample` [s].

    conduct is asked before every sample interval with the time so far and the state then, so it can react as a person
    does. The first row is one sample after the start.
    """
    if not sample > 0.0 or not seconds >= sample:
        raise ValueError(
            f"a run needs a sample interval over 0 s and at least one of it, got {seconds} s by {sample} s"
        )
    start = plant.time
    state = plant.state()
    states: list[State] = []
    for k in range(round(seconds / sample)):
        state = plant.advance(sample, conduct(k * sample, state))
        states.append(state)
    return history_of(states, start)


def history_of(states: list[State], start: float = 0.0) -> History:
    """Turn states into arrays; time counts from `start` [s]."""
    shared = {name: np.array([getattr(s, name) for s in states], dtype=np.float64) for name in _SHARED}
    circuits = []
    for k in range(len(states[0].circuits)):
        own = {name: np.array([getattr(s.circuits[k], name) for s in states], np.float64) for name in _CIRCUIT}
        circuits.append({**own, **shared})
    return History(time=np.array([s.time - start for s in states], np.float64), circuits=tuple(circuits))


def script(base: Inputs, *changes: tuple[float, Mapping[str, object]]) -> Conduct:
    """Return a conduct that changes inputs at given times: `script(Inputs(), (900.0, {"cover": 0.5}))`.

    changes: (time [s], fields of Inputs). Changes add up; times must rise.
    """
    from dataclasses import replace

    times = [t for t, _ in changes]
    if times != sorted(times):
        raise ValueError("the changes of a script must come in rising time")
    steps: list[tuple[float, Inputs]] = [(-np.inf, base)]
    for t, change in changes:
        steps.append((t, replace(steps[-1][1], **change)))  # type: ignore[arg-type]

    def conduct(time: float, state: State) -> Inputs:
        now = base
        for t, inputs in steps:
            if time >= t:
                now = inputs
        return now

    return conduct
