"""The bench as a live source: values with unit, own numbers, bench time; the recording of them is judged like a log."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from steadfeed.bench.played import Played
from steadfeed.bench.scenario import scenario
from steadfeed.capture.bench import BenchSource
from steadfeed.capture.reading_units import KNOWN_UNITS
from steadfeed.capture.source import Reading, Silent, Source
from steadfeed.errors import FixInput


async def listen(source: Source, enough: int | None = None) -> list[Reading]:
    got: list[Reading] = []
    async for arrival in source.readings():
        if isinstance(arrival, tuple):
            got += arrival
        if enough is not None and len(got) >= enough:
            await source.close()
    return got


def run(story: Any) -> Any:
    return asyncio.run(asyncio.wait_for(story, 60))


def test_a_whole_challenge_as_fast_as_it_can() -> None:
    one = scenario("orchard-house")
    source = BenchSource("bench", one, speed=0, boot_id="life")
    got = run(listen(source))
    assert source.state == "stopped"
    assert [r.sequence for r in got] == list(range(len(got)))
    assert {r.boot_id for r in got} == {"life"}
    assert all(r.unit in KNOWN_UNITS for r in got)
    assert all(r.value is not None and float(r.value) == float(r.value) for r in got)
    heads = [float(r.value or "nan") for r in got if r.header == "liquid_pressure_psig"]
    assert max(heads) - sorted(heads)[len(heads) // 2] > 60.0
    times = [r.time for r in got if r.header == "liquid_pressure_psig"]
    assert times == sorted(times)  # type: ignore[type-var]
    assert times[0] == pytest.approx(one.start + 1.0)
    assert got[0].utc_offset == one.offset


def test_the_same_seed_says_the_same() -> None:
    one = scenario("tea-room")
    first, again = (run(listen(BenchSource("b", one, seed=3, speed=0, boot_id="x"), 2000)) for _ in range(2))
    assert first[:2000] == again[:2000]


def test_it_keeps_pace_with_the_clock() -> None:
    async def story() -> float:
        source = BenchSource("bench", scenario("tea-room"), speed=40.0)
        task = asyncio.create_task(listen(source))
        await asyncio.sleep(1.0)
        await source.close()
        await task
        return source.played.time

    assert 20.0 < run(story()) < 60.0


def test_a_person_steers_while_it_sends() -> None:
    one = scenario("orchard-house")
    played = Played(one.settings, 0)

    async def story() -> list[Reading]:
        source = BenchSource("bench", one, played=played, speed=0)
        got: list[Reading] = []
        async for arrival in source.readings():
            if isinstance(arrival, tuple):
                got += arrival
            if not played.placed and played.time > 20:
                assert not got
            if played.time > 30 and not played.placed:
                played.place("suction_pressure")
            if got and not played.call:
                played.start()
            if played.time > 400:
                await source.close()
        return got

    async def first_step() -> list[Reading]:
        played.advance(31)
        played.place("suction_pressure")
        return await story()

    got = run(first_step())
    assert {r.header for r in got} == {"suction_pressure_psig"}
    values = [float(r.value or "nan") for r in got]
    assert values[0] > values[-1] + 40.0  # it started and pulled down


def test_an_idle_bench_is_silent_once() -> None:
    async def story() -> list[Any]:
        one = scenario("tea-room")
        source = BenchSource("bench", one, played=Played(one.settings, 0), speed=1.0, silent_after=0.2)
        seen: list[Any] = []

        async def hear() -> None:
            seen.extend([arrival async for arrival in source.readings()])

        task = asyncio.create_task(hear())
        await asyncio.sleep(0.8)
        await source.close()
        await task
        return seen

    assert [type(s) for s in run(story())] == [Silent]


@pytest.mark.parametrize("speed", [-1.0, 0.1, 1e4])
def test_an_impossible_speed_gets_a_sentence(speed: float) -> None:
    with pytest.raises(FixInput, match="times real time"):
        BenchSource("bench", scenario("tea-room"), speed=speed)
