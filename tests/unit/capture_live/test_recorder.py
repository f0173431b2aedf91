"""The recorder with a sink that can be full, refuse, or answer late."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import AsyncGenerator, Iterable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

import pytest

from steadfeed.capture import recorder as module
from steadfeed.capture.channel_map import ChannelMap, MapRow, Placed
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.numbers_kept import Ranges
from steadfeed.capture.recorder import Recorder, Taken
from steadfeed.capture.source import Kept, Reading, Refused, Retry, Source
from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput, TryAgain

NOW = 1_785_000_000.0
MAP = ChannelMap((MapRow("gauge", "low", "suction_pressure"), MapRow("gauge", "high", "liquid_pressure")))


def reading(sequence: int, header: str = "low", boot: str = "1", value: str = "118") -> Reading:
    return Reading("gauge", boot, sequence, header, value, "psig", NOW + sequence)


@dataclass(frozen=True)
class Done:
    written: int
    known: int
    conflicts: int = 0


@dataclass
class FakeSink:
    """Keeps readings in a dictionary. broken: how many appends fail first; by_future: whether later than the call."""

    broken: int = 0
    by_future: bool = True
    kept: dict[tuple[str, str, int], Placed] = field(default_factory=dict)
    others: dict[tuple[str, str], Ranges] = field(default_factory=dict)
    silent: bool = False
    refuses: bool = False
    calls: int = 0
    asked: int = 0
    asks_fail: int = 0
    pending: list[Future[Done]] = field(default_factory=list)

    def append(self, challenge: str, readings: Sequence[Placed], received_at: float) -> Future[Done]:
        self.calls += 1
        future: Future[Done] = Future()
        if self.silent:
            self.pending.append(future)
            return future
        if self.broken:
            self.broken -= 1
            error = TryAgain("The disk is full", code="store full")
            if not self.by_future:
                raise error
            future.set_exception(error)
            return future
        if self.refuses:
            future.set_exception(FixInput("There is no such challenge", code="no such challenge"))
            return future
        fresh = 0
        for placed in readings:
            r = placed.reading
            fresh += (r.source, r.boot_id, r.sequence) not in self.kept
            self.kept.setdefault((r.source, r.boot_id, r.sequence), placed)
        future.set_result(Done(fresh, len(readings) - fresh))
        return future

    def numbers(self, challenge: str, source: str, boot_id: str) -> tuple[Ranges, Ranges]:
        self.asked += 1
        if self.asks_fail:
            self.asks_fail -= 1
            raise TryAgain("The server does not answer", code="store unreachable")
        ours = Ranges((n, n) for s, b, n in self.kept if (s, b) == (source, boot_id))
        return ours, self.others.get((source, boot_id), Ranges())

    def readings(self, challenge: str) -> Iterable[tuple[Placed, float]]:
        return [(placed, NOW + placed.reading.sequence + 0.1) for placed in self.kept.values()]


class Scripted(Source):
    """Says what it is given, then waits to be closed."""

    kind = "test"

    def __init__(self, items: Sequence[Sequence[Reading] | Refused]) -> None:
        super().__init__("gauge", silent_after=0.2, retry=Retry(0.01, 0.02))
        self.items = list(items)
        self.heard: list[Kept] = []

    async def session(self) -> AsyncGenerator[Sequence[Reading] | Refused, None]:
        while self.items:
            yield self.items.pop(0)
        await asyncio.sleep(60)

    async def acknowledge(self, kept: Sequence[Kept]) -> None:
        self.heard += kept


def new(sink: FakeSink, **more: object) -> Recorder:
    return Recorder(sink, "c", MAP, retry=Retry(0.01, 0.05), clock=lambda: NOW + 5, **more)  # type: ignore[arg-type]


def test_a_reading_is_placed_kept_shown_and_counted() -> None:
    sink, live = FakeSink(), LiveRecording(System())
    heard: list[object] = []
    recorder = new(sink, recordings=[live])
    end = recorder.listen(heard.append)
    receipt = recorder.take([reading(0), reading(1, "high"), reading(2, "nobody knows")]).result(1)
    assert (receipt.written, receipt.known) == (3, 0)
    assert [p.channel for p in sink.kept.values()] == ["suction_pressure", "liquid_pressure", ""]
    (taken,) = heard
    assert isinstance(taken, Taken)
    assert len(taken.readings) == 3
    assert live.columns() == ("suction_pressure", "liquid_pressure")
    saved = recorder.saved
    assert (saved.written, saved.waiting, saved.last_at, saved.trouble) == (3, 0, NOW + 5, "")
    end()
    recorder.take([reading(9)])
    assert len(heard) == 1


def test_the_second_arrival_changes_nothing_on_the_screen_but_is_answered() -> None:
    sink, heard = FakeSink(), []
    recorder = new(sink)
    recorder.listen(heard.append)
    recorder.take([reading(0)]).result(1)
    receipt = recorder.take([reading(0), reading(1)]).result(1)
    assert (receipt.written, receipt.known) == (1, 1)
    assert [[p.reading.sequence for p in event.readings] for event in heard] == [[0], [1]]
    assert sink.asked == 1


def test_what_another_challenge_has_is_safe_and_not_ours() -> None:
    sink, heard = FakeSink(others={("gauge", "1"): Ranges([(0, 5)])}), []
    recorder = new(sink)
    recorder.listen(heard.append)
    assert recorder.take([reading(3)]).result(1).written == 0
    assert recorder.take([reading(5), reading(6)]).result(1).written == 1
    assert [[p.reading.sequence for p in event.readings] for event in heard] == [[6]]
    assert list(sink.kept) == [("gauge", "1", 6)]


@pytest.mark.parametrize("by_future", [True, False])
def test_a_full_disk_loses_nothing_and_is_told(by_future: bool) -> None:
    sink = FakeSink(broken=4, by_future=by_future)
    recorder = new(sink)
    first = recorder.take([reading(0)])
    others = [recorder.take([reading(n)]) for n in range(1, 6)]
    assert not first.done()
    assert recorder.saved.waiting == 6
    assert recorder.saved.trouble == "The disk is full"
    assert recorder.flush(5)
    assert [f.result(1).written for f in (first, *others)] == [1] * 6
    assert recorder.saved.written == 6
    assert recorder.saved.trouble == ""
    assert [n for _, _, n in sink.kept] == list(range(6))


def test_what_the_store_refuses_for_good_is_said_and_not_called_safe() -> None:
    recorder = new(FakeSink(refuses=True))
    done = recorder.take([reading(0)])
    with pytest.raises(FixInput, match="no such challenge"):
        done.result(1)
    assert recorder.saved.waiting == 0
    assert "no such challenge" in recorder.saved.trouble


def test_closing_fails_what_the_disk_did_not_take() -> None:
    recorder = new(FakeSink(broken=10_000))
    done = recorder.take([reading(0)])
    recorder.close(timeout=0.1)
    with pytest.raises(TryAgain, match="send it again"):
        done.result(1)
    with pytest.raises(TryAgain, match="closed"):
        recorder.take([reading(1)]).result(1)
    assert recorder.saved.waiting == 0


def test_a_source_hears_only_of_what_is_on_the_disk() -> None:
    async def story() -> None:
        sink = FakeSink(silent=True)
        source = Scripted([[reading(0), reading(1)], [reading(2)]])
        recorder = new(sink)
        running = asyncio.create_task(recorder.run(source))
        while len(sink.pending) < 2:
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.05)
        assert source.heard == []
        threading.Thread(target=sink.pending[1].set_result, args=(Done(1, 0),)).start()
        while not source.heard:
            await asyncio.sleep(0.01)
        assert source.heard == [Kept("gauge", "1", 2, 2)]
        sink.pending[0].set_result(Done(2, 0))
        while len(source.heard) < 2:
            await asyncio.sleep(0.01)
        assert source.heard[1] == Kept("gauge", "1", 0, 1)
        await source.close()
        await running

    asyncio.run(asyncio.wait_for(story(), 10))


def test_a_source_never_hears_of_what_the_store_refused() -> None:
    async def story() -> None:
        sink = FakeSink(refuses=True)
        source = Scripted([[reading(0)]])
        recorder = new(sink)
        running = asyncio.create_task(recorder.run(source))
        while not sink.calls:
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.1)
        assert source.heard == []
        await source.close()
        await running

    asyncio.run(asyncio.wait_for(story(), 10))


def test_a_store_that_cannot_answer_about_a_new_source_is_asked_again() -> None:
    async def story() -> None:
        sink = FakeSink(asks_fail=3)
        source = Scripted([[reading(0)]])
        recorder = new(sink)
        running = asyncio.create_task(recorder.run(source))
        while not source.heard:
            await asyncio.sleep(0.01)
        assert sink.asked == 4
        await source.close()
        await running

    asyncio.run(asyncio.wait_for(story(), 10))


def test_a_source_is_not_read_while_too_much_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_WAITING", 5)

    async def story() -> None:
        sink = FakeSink(silent=True)
        source = Scripted([[reading(n)] for n in range(40)])
        recorder = new(sink)
        running = asyncio.create_task(recorder.run(source))
        await asyncio.sleep(0.3)
        assert len(sink.pending) == 6
        for future in sink.pending:
            future.set_result(Done(1, 0))
        sink.silent = False
        while len(sink.kept) < 34:
            await asyncio.sleep(0.01)
        await source.close()
        await running

    asyncio.run(asyncio.wait_for(story(), 10))


def test_what_has_to_be_said_of_a_source_reaches_the_listeners() -> None:
    async def story() -> list[object]:
        heard: list[object] = []
        source = Scripted([Refused("gauge", "x", "no unit"), [reading(0)]])
        recorder = new(FakeSink())
        recorder.listen(heard.append)
        running = asyncio.create_task(recorder.run(source))
        await asyncio.sleep(0.5)
        await source.close()
        await running
        return heard

    heard = asyncio.run(asyncio.wait_for(story(), 10))
    assert [type(event).__name__ for event in heard] == ["Refused", "Taken", "Silent"]


def test_resuming_fills_the_recording_and_knows_since_when() -> None:
    sink = FakeSink()
    new(sink).take([reading(n, "low" if n % 2 else "high") for n in range(10)]).result(1)
    live = LiveRecording(System())
    recorder = new(sink, recordings=[live])
    resumed = recorder.resume()
    assert resumed is not None
    assert (resumed.readings, resumed.last_at) == (10, NOW + 9.1)
    assert resumed.away(NOW + 139.1) == pytest.approx(130.0)
    assert len(live) == 5
    heard: list[object] = []
    recorder.listen(heard.append)
    recorder.take([reading(9)]).result(1)
    assert heard == []
    assert recorder.saved.written == 10


def test_a_new_map_counts_for_readings_to_come() -> None:
    sink = FakeSink()
    recorder = new(sink)
    recorder.take([reading(0)])
    recorder.remap(ChannelMap((MapRow("gauge", "low", "liquid_pressure"),)))
    recorder.take([reading(1)])
    assert [p.channel for p in sink.kept.values()] == ["suction_pressure", "liquid_pressure"]


def test_many_threads_may_take() -> None:
    sink, live = FakeSink(), LiveRecording(System())
    recorder = new(sink, recordings=[live])

    def work(k: int) -> None:
        for n in range(200):
            recorder.take([reading(n, boot=str(k))])
            time.sleep(0)

    threads = [threading.Thread(target=work, args=(k,)) for k in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert recorder.flush(5)
    assert recorder.saved.written == 800 == len(sink.kept)
