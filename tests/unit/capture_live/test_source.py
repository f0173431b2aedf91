"""What the base class gives every source, with a clock and links that the test rules."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Callable, Coroutine, Sequence
from typing import Any

import pytest

from steadfeed.capture.source import (
    Ended,
    Numbering,
    Reading,
    Refused,
    Retry,
    Silent,
    Source,
    Speaking,
    new_boot_id,
    say_error,
)
from steadfeed.errors import FixInput, NotAllowed, TryAgain


def reading(n: int) -> Reading:
    return Reading("s", "b", n, "low", "118", "psig")


Step = Sequence[Reading] | Refused | float | Exception


class Scripted(Source):
    """Each session runs through one list: readings are yielded, numbers slept, errors raised."""

    kind = "test"

    def __init__(self, *sessions: list[Step], **more: Any) -> None:
        more.setdefault("silent_after", 0.15)
        more.setdefault("retry", Retry(0.01, 0.04))
        super().__init__("s", **more)
        self.sessions = list(sessions)
        self.begun: list[float] = []
        self.ended = 0

    async def session(self) -> AsyncGenerator[Sequence[Reading] | Refused, None]:
        self.begun.append(asyncio.get_running_loop().time())
        steps: list[Step] = self.sessions.pop(0) if self.sessions else [60.0]
        try:
            for step in steps:
                if isinstance(step, Exception):
                    raise step
                if isinstance(step, float):
                    await asyncio.sleep(step)
                else:
                    yield step
        finally:
            self.ended += 1


def run(story: Callable[[], Coroutine[Any, Any, None]]) -> None:
    asyncio.run(asyncio.wait_for(story(), 20))


async def collect(source: Source, seconds: float) -> list[Any]:
    arrived: list[Any] = []

    async def listen() -> None:
        async for arrival in source.readings():
            arrived.append(arrival)
            await asyncio.sleep(0)

    listening = asyncio.create_task(listen())
    await asyncio.wait([listening], timeout=seconds)
    await source.close()
    await listening
    return arrived


def test_a_short_break_is_no_silence() -> None:
    async def story() -> None:
        source = Scripted([[reading(0)], OSError("gone")], [[reading(1)], EOFError()], [[reading(2)], 60.0])
        arrived = await collect(source, 0.1)
        assert [a[0].sequence for a in arrived] == [0, 1, 2]
        assert source.count == 3
        assert source.state == "stopped"
        assert source.ended == len(source.begun) == 3

    run(story)


def test_silence_tells_why_as_far_as_is_known() -> None:
    async def story() -> None:
        source = Scripted([[reading(0)], ConnectionRefusedError()], *([ConnectionRefusedError()] for _ in range(99)))
        arrived = await collect(source, 0.5)
        (silent,) = [a for a in arrived if isinstance(a, Silent)]
        assert silent.why == "Nobody answers at that address"
        quiet = await collect(Scripted([[reading(0)], 60.0]), 0.4)
        assert "though the connection stands" in quiet[1].why
        never = await collect(Scripted([60.0]), 0.4)
        assert isinstance(never[0], Silent)
        assert "No reading has come yet" in never[0].why

    run(story)


def test_pauses_grow_and_start_again_after_a_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    pauses: list[float] = []
    sleep = asyncio.sleep

    async def noted(seconds: float) -> None:
        pauses.append(seconds)
        await sleep(min(seconds, 0.001))

    async def story() -> None:
        failing: list[list[Step]] = [[OSError("no")] for _ in range(6)]
        source = Scripted(*failing, [[reading(0)], OSError("no")], [Ended()], retry=Retry(0.25, 2.0), silent_after=9.0)
        monkeypatch.setattr(asyncio, "sleep", noted)
        async for _ in source.readings():
            pass
        assert len(source.begun) == 8

    run(story)
    assert [pause for pause in pauses if pause >= 0.25] == [0.25, 0.5, 1.0, 2.0, 2.0, 2.0, 0.25]


def test_silence_and_its_end_alternate() -> None:
    async def story() -> None:
        source = Scripted([[reading(0)], 0.3, [reading(1)], 0.3, [reading(2)], 60.0])
        arrived = await collect(source, 1.0)
        kinds = [type(a).__name__ for a in arrived]
        assert kinds == ["tuple", "Silent", "Speaking", "tuple", "Silent", "Speaking", "tuple", "Silent"]
        back = arrived[2]
        assert isinstance(back, Speaking)
        assert back.away == pytest.approx(0.3, abs=0.1)
        assert arrived[4].since == pytest.approx(back.at, abs=0.02)

    run(story)


@pytest.mark.parametrize("error", [FixInput("Mend it"), NotAllowed("Refused"), TypeError("a mistake of ours")])
def test_what_a_person_must_mend_leaves_the_source(error: Exception) -> None:
    async def story() -> None:
        source = Scripted([[reading(0)], error])
        arrivals = source.readings()
        assert isinstance(await arrivals.__anext__(), tuple)
        with pytest.raises(type(error)):
            await arrivals.__anext__()
        assert len(source.begun) == 1
        assert source.state == ("stopped" if isinstance(error, TypeError) else "failed")

    run(story)


def test_try_again_is_tried_again() -> None:
    async def story() -> None:
        source = Scripted([TryAgain("Busy")], [[reading(0)], 60.0])
        assert len(await collect(source, 0.1)) == 1
        assert len(source.begun) == 2

    run(story)


def test_a_source_that_ended_gives_all_it_had() -> None:
    async def story() -> None:
        source = Scripted([*([reading(n)] for n in range(100)), Ended()])
        arrived = [arrival async for arrival in source.readings()]
        assert [a[0].sequence for a in arrived if isinstance(a, tuple)] == list(range(100))

    run(story)


def test_a_refusal_is_said_once_and_is_no_sign_of_life() -> None:
    async def story() -> None:
        no = Refused("s", "high", "no unit")
        source = Scripted([no, no, [reading(0)], no, 60.0], [no])
        arrived = await collect(source, 0.4)
        assert [type(a).__name__ for a in arrived] == ["Refused", "tuple", "Silent"]

    run(story)


def test_a_listener_that_stops_listening_ends_the_link() -> None:
    async def story() -> None:
        source = Scripted([[reading(0)], [reading(1)], 60.0])
        before = len(asyncio.all_tasks())
        arrivals = source.readings()
        async for _ in arrivals:
            break
        await arrivals.aclose()  # type: ignore[attr-defined]
        assert len(asyncio.all_tasks()) == before
        assert source.ended == 1

    run(story)


def test_a_slow_listener_holds_the_link_back() -> None:
    async def story() -> None:
        steps: list[Step] = [[reading(n)] for n in range(500)]
        source = Scripted(steps, silent_after=9.0)
        arrivals = source.readings()
        first = await arrivals.__anext__()
        await asyncio.sleep(0.1)
        assert isinstance(first, tuple)
        assert len(source.begun) == 1
        assert source._queue.qsize() <= 64
        await source.close()
        await arrivals.aclose()  # type: ignore[attr-defined]

    run(story)


def test_closing_before_the_first_reading() -> None:
    async def story() -> None:
        source = Scripted([60.0])
        await source.close()
        assert [a async for a in source.readings()] == []
        assert source.ended <= 1

    run(story)


@pytest.mark.parametrize(
    ("options", "word"),
    [
        ({"name": " "}, "name"),
        ({"name": "x" * 300}, "200"),
        ({"silent_after": 0.0}, "silent"),
        ({"silent_after": float("nan")}, "silent"),
    ],
)
def test_sources_that_cannot_be(options: dict[str, Any], word: str) -> None:
    class Plain(Source):
        kind = "test"

        async def session(self) -> AsyncGenerator[Sequence[Reading], None]:
            yield ()

    with pytest.raises(FixInput, match=word):
        Plain(**{"name": "s", **options})
    with pytest.raises(ValueError, match="not shrink"):
        Retry(1.0, 0.5)


def test_errors_of_the_world_in_words() -> None:
    assert say_error(TryAgain("The disk is full")) == "The disk is full"
    assert say_error(TimeoutError()) == "No answer in time"
    assert say_error(OSError(2, "No such file or directory")) == "No such file or directory"
    assert say_error(EOFError()) == "EOFError"
    assert say_error(ValueError("first line.\nsecond")) == "First line"


def test_own_numbers_count_up_in_a_life_of_their_own() -> None:
    one, other = Numbering(), Numbering()
    assert [one.take(), one.take(3), one.take()] == [0, 1, 4]
    assert one.boot_id != other.boot_id
    assert len({new_boot_id() for _ in range(100)}) == 100
    assert Numbering("mine").boot_id == "mine"
