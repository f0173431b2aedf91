"""The practice bench: a simulated unit on which a person puts instruments and takes them off again."""

from __future__ import annotations

import asyncio

from source_rigs.base import Rig
from steadfeed.bench.played import Played
from steadfeed.bench.scenario import scenario
from steadfeed.capture.bench import BenchSource
from steadfeed.capture.source import Source
from steadfeed.circuit.channel import VITAL_CHANNELS


class BenchRig(Rig):
    """A standing unit at ten times real time. It is silent while no instrument is on it; there is no link to break."""

    has_link = False

    async def start(self) -> None:
        self.scenario = scenario("tea-room")
        self.made: list[Played] = []

    def source(self) -> Source:
        self.made.append(Played(self.scenario.settings, 1))
        return BenchSource("bench", self.scenario, played=self.made[-1], speed=10.0, silent_after=0.6)

    async def speak(self) -> None:
        self.spoken += 1
        for channel in VITAL_CHANNELS:
            self.made[-1].place(channel)
        await asyncio.sleep(0.25)
        self.made[-1].placed.clear()

    async def speak_nonsense(self) -> None: ...

    async def cut(self) -> None: ...

    async def mend(self) -> None: ...
