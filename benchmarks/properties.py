"""What refrigerant properties cost: a million pressures against one logarithm of them, one value, and the first of a process."""

from __future__ import annotations

import sys

import numpy as np

from steadfeed.physics.properties import curves, refrigerant_names
from timing import Figure, best, best_processes

MILLION = 1_000_000
CALLS = 20_000


def one(work: object, *arguments: float) -> float:
    """Shortest mean time [s] of one call."""
    assert callable(work)

    def many() -> None:
        for _ in range(CALLS):
            work(*arguments)

    def none() -> None:
        for _ in range(CALLS):
            pass

    return (best(many) - best(none)) / CALLS


def figures() -> list[Figure]:
    c = curves("R-410A")
    pressure = np.exp(np.random.default_rng(1).uniform(np.log(4e5), np.log(4e6), MILLION))
    out = np.empty_like(pressure)
    logarithm = best(lambda: np.log(pressure, out=out), 25)
    temperature = c.bubble_temperature(pressure)
    vapor = np.minimum(c.dew_temperature(pressure) + 8.0, c.highest_vapor_temperature)
    enthalpy = c.vapor_enthalpy(pressure, vapor)
    bubble = best(lambda: c.bubble_temperature(pressure), 15)
    slowest = max(best(lambda n=n: curves(n).dew_temperature(_within(n, pressure)), 3) for n in refrigerant_names())
    bare, first = best_processes(
        [
            [sys.executable, "-c", "import numpy"],
            [sys.executable, "-c", "from steadfeed.physics.properties import curves; curves('R-410A')"],
        ]
    )
    return [
        Figure("bubble temperature of 1e6 pressures over one np.log of them", bubble / logarithm, "×", 8.0),
        Figure("the same, each", bubble / MILLION * 1e9, "ns"),
        Figure("dew temperature, slowest refrigerant, over one np.log", slowest / logarithm, "×"),
        Figure("bubble pressure over one np.log", best(lambda: c.bubble_pressure(temperature), 5) / logarithm, "×"),
        Figure("vapor density over one np.log", best(lambda: c.vapor_density(pressure, vapor), 5) / logarithm, "×"),
        Figure(
            "vapor T(p, h) over one np.log",
            best(lambda: c.vapor_temperature_ph(pressure, enthalpy), 5) / logarithm,
            "×",
        ),
        Figure("one bubble temperature, range checked", one(c.bubble_temperature, 2e6) * 1e6, "µs", 1.5),
        Figure("one dew pressure", one(c.dew_pressure, 280.0) * 1e6, "µs"),
        Figure("one vapor density", one(c.vapor_density, 9e5, 300.0) * 1e6, "µs"),
        Figure("one vapor temperature from p and h", one(c.vapor_temperature_ph, 9e5, 440e3) * 1e6, "µs"),
        Figure("curves of the first refrigerant, over importing numpy", first / bare, "×"),
    ]


def _within(name: str, pressure: np.ndarray) -> np.ndarray:
    c = curves(name)
    return np.clip(pressure, c.minimum_pressure, c.maximum_pressure)
