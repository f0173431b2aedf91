"""A program that records a gateway and says each number once its source was told that it is safe. Killed by the tests.

usage: recording.py SETTING CHALLENGE FIRST [PORT OF AN MQTT BROKER]
"""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import AsyncGenerator, Sequence

from steadfeed.capture.channel_map import ChannelMap, MapRow
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.mqtt import MqttSource
from steadfeed.capture.recorder import Recorder
from steadfeed.capture.source import Kept, Reading, Source
from steadfeed.circuit.equipment import System
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter
from steadfeed.visit.record_sink import RecordSink

#: Set, the program says “safe” before the disk has anything: the tests must notice that.
LYING = "ACKNOWLEDGE_EARLY" in os.environ
NOW = 1_785_000_060.0
SERIES = (
    ("low", "suction_pressure", "psig", 118.0),
    ("high", "liquid_pressure", "psig", 352.0),
    ("suction line", "suction_line_temperature", "degF", 53.0),
    ("liquid line", "liquid_line_temperature", "degF", 92.0),
    ("outside", "outdoor_air_temperature", "degF", 95.0),
    ("return", "return_air_dry_bulb", "degF", 78.0),
)
MAP = ChannelMap(tuple(MapRow("gateway", header, channel) for header, channel, _, _ in SERIES))


def reading_of(sequence: int) -> Reading:
    """The reading that belongs to a number: six channels ten times a second."""
    row, k = divmod(sequence, len(SERIES))
    header, _, unit, base = SERIES[k]
    value = f"{base + row * 7919 % 100 / 10:.1f}"
    return Reading("gateway", "life 1", sequence, header, value, unit, NOW + row / 10, -18000.0)


class Gateway(Source):
    """Sends a row every few milliseconds, from a number on, and hears what is safe."""

    kind = "test"

    def __init__(self, first: int) -> None:
        super().__init__("gateway")
        self.first = first

    async def session(self) -> AsyncGenerator[Sequence[Reading], None]:
        number = self.first
        while True:
            row = [reading_of(n) for n in range(number, number + len(SERIES))]
            if LYING:
                for reading in row:
                    os.write(1, b"%012d\n" % reading.sequence)
            yield row
            number += len(SERIES)
            await asyncio.sleep(0.001)

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        if not LYING:
            for numbers in kept:
                os.write(1, b"".join(b"%012d\n" % n for n in range(numbers.first, numbers.last + 1)))


def main() -> None:
    setting, challenge, first, *port = sys.argv[1:]
    source = Gateway(int(first)) if not port else MqttSource("gateway", "127.0.0.1", port=int(port[0]))
    with open_store(setting) as store, GroupWriter(store) as writer:
        live = LiveRecording(System(refrigerant="R-410A"))
        recorder = Recorder(RecordSink(store, writer), challenge, MAP, recordings=[live])
        recorder.resume()
        asyncio.run(recorder.run(source))


if __name__ == "__main__":
    main()
