"""The practice bench as a live source: a simulated unit whose instruments send readings, in real time or faster.

Two ways: with a scenario alone its own conduct runs the challenge from start to standstill, as a demonstration; with a
played run (`Played`) a person steers it while this source lets time go by and sends what the instruments in place show.
The readings carry bench time: at 10× a minute of the bench comes in six seconds.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncGenerator, Callable, Sequence
from math import isnan
from typing import TYPE_CHECKING, ClassVar, Final

from steadfeed.capture.source import Ended, Numbering, Reading, Refused, Source
from steadfeed.errors import FixInput

if TYPE_CHECKING:
    from steadfeed.bench.conduct import Person
    from steadfeed.bench.instruments import Column
    from steadfeed.bench.played import Played
    from steadfeed.bench.scenario import Scenario

#: Bench seconds per second that are allowed; 0 means as fast as it can.
SLOWEST, FASTEST = 0.25, 600.0
#: Longest pause between two looks at the clock [s].
_PAUSE: Final = 0.2
#: Bench seconds that leave together when time is short.
_AT_ONCE: Final = 60


class BenchSource(Source):
    """Readings of a simulated unit. See the module for the two ways.

    scenario, seed: which unit and day. played: a run that somebody steers; then `scenario` is only its name. speed:
    bench seconds per second, 0 = as fast as it can; may be set at any time. begins: moment of the bench's time 0 [s
    since the epoch]; the scenario's own if None. boot_id: of this life, a random one if None.
    """

    kind: ClassVar[str] = "bench"

    def __init__(
        self,
        name: str,
        scenario: Scenario,
        *,
        seed: int = 0,
        played: Played | None = None,
        speed: float = 1.0,
        begins: float | None = None,
        boot_id: str | None = None,
        silent_after: float = 10.0,
        clock: Callable[[], float] = time.time,
    ) -> None:
        super().__init__(name, silent_after=silent_after, clock=clock)
        from steadfeed.bench.conduct import Person
        from steadfeed.bench.played import Played
        from steadfeed.bench.scenario import varied

        self.scenario = scenario
        self.speed = speed
        self.begins = scenario.start if begins is None else begins
        self._numbering = Numbering(boot_id)
        self._person: Person | None = None
        if played is None:
            settings = varied(scenario.settings, seed)
            played = Played(settings, seed)
            self._person = Person(settings, played.plant)
            for column in played.columns:
                if column.channel in settings.kit.channels or column.channel in _VITAL:
                    played.place(column.channel)
        self.played = played

    @property
    def speed(self) -> float:
        """Bench seconds per second, 0 = as fast as it can."""
        return self._speed

    @speed.setter
    def speed(self, value: float) -> None:
        if value != 0.0 and not SLOWEST <= value <= FASTEST:
            raise FixInput(
                f"A bench runs at {SLOWEST:g} to {FASTEST:g} times real time, or 0 for as fast as it can; got {value:g}",
                code="bad source",
                where="speed",
            )
        self._speed = value

    async def session(self) -> AsyncGenerator[Sequence[Reading] | Refused, None]:
        """Let bench time go by with the clock and yield what the instruments show each bench second."""
        from steadfeed.bench.played import LONGEST

        owed = 0.0
        last = self.clock()
        while self.played.time < LONGEST and not (self._person is not None and self._person.done):
            if self.speed > 0.0:
                await asyncio.sleep(min(_PAUSE, 1.0 / self.speed))
                now = self.clock()
                owed += max(now - last, 0.0) * self.speed
                last = now
                whole = min(int(owed), _AT_ONCE)
                owed = min(owed - whole, float(_AT_ONCE))  # a machine that was asleep does not run after it
            else:
                await asyncio.sleep(0)
                whole, last, owed = _AT_ONCE, self.clock(), 0.0
            for _ in range(whole):
                readings = self._second()
                if readings:
                    yield readings
        raise Ended

    def _second(self) -> list[Reading]:
        """One bench second; readings of every instrument in place, on its interval."""
        played = self.played
        if self._person is not None:
            played.follow(self._person)
        else:
            played.advance(1)
        interval = max(1, round(played.settings.kit.interval))
        if round(played.time) % interval:
            return []
        out = []
        for column, value in zip(played.columns, played.last, strict=True):
            if column.channel in played.placed:
                out.append(self._reading(column, value))
        return out

    def _reading(self, column: Column, value: float) -> Reading:
        from steadfeed.bench.instruments import digits_of

        unit = column.header_unit or "steps"
        return Reading(
            source=self.name,
            boot_id=self._numbering.boot_id,
            sequence=self._numbering.take(),
            header=column.header,
            value=None if isnan(value) else f"{value:.{digits_of(column)}f}",
            unit=unit,
            time=self.begins + self.played.time,
            utc_offset=self.scenario.offset,
        )


_VITAL: Final = (
    "suction_pressure", "liquid_pressure", "discharge_pressure", "suction_line_temperature", "liquid_line_temperature",
)  # fmt: skip
