"""How long the practice bench takes for a 25-minute challenge sampled every second, without instruments."""

from __future__ import annotations

from dataclasses import replace

from steadfeed.bench.design import split_system
from steadfeed.bench.equipment import Equipment
from steadfeed.bench.fluid import Fluid
from steadfeed.bench.heat_pump import heating
from steadfeed.bench.plant import Plant
from steadfeed.bench.run import script, simulate
from steadfeed.bench.state import Inputs
from steadfeed.physics.properties import curves
from timing import Figure, best

CHALLENGE = script(Inputs(), (900.0, {"cover": 0.5}), (1200.0, {"cover": 0.0}), (1380.0, {"call": 0.0}))


def challenge(equipment: Equipment | tuple[Equipment, ...]) -> None:
    assert len(simulate(Plant(equipment), CHALLENGE, 1500.0)) == 1500


def bare_loop() -> float:
    """What the bench does most: arithmetic on local floats. A million additions and multiplications."""
    x = 0.0
    for _ in range(1_000_000):
        x = x * 0.999 + 1.0
    return x


def figures() -> list[Figure]:
    r410a = curves("R-410A")
    single = split_system(r410a)
    shared = replace(single, interlaced=0.4)
    loop = best(bare_loop, 5)
    one, two = best(lambda: challenge(single), 5), best(lambda: challenge((shared, shared)), 3)
    return [
        Figure("a bare loop of a million steps, for comparison", loop, "s"),
        Figure("25 minutes of a 3-ton TXV unit at 1 s samples", one, "s", 0.5),
        Figure("… over the bare loop", one / loop, "×"),
        Figure("the same with two circuits, of which one stands", two, "s"),
        Figure("over real time", 1500.0 / one, "×"),
        Figure("rows of one refrigerant, made once", best(lambda: Fluid(r410a), 5) * 1e3, "ms"),
        Figure("sizing a unit", best(lambda: split_system(r410a), 5) * 1e3, "ms"),
        Figure("sizing a heat pump for heating (runs included)", best(lambda: heating(single), 3), "s"),
    ]
