"""`steadfeed live` as a person at a keyboard meets it: with Textual's pilot, and in a real pseudo-terminal."""

from __future__ import annotations

import asyncio
import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from textual.pilot import Pilot
from textual.widgets import OptionList, Static

from guided_bench import Clock, GuidedBench, small_company, usual
from steadfeed.capture.http_ingest import PushSource
from steadfeed.capture.source import Reading
from steadfeed.cli.live import _begin, command
from steadfeed.cli.live_app import LiveApp
from steadfeed.errors import FixInput
from steadfeed.records import rows
from steadfeed.visit.sentences import Speech
from steadfeed.visit.speaking import Speaker
from steadfeed.visit.station import Station

PERSON = "Ines Calloway"


class Spoken(Speaker):
    """Keeps what it is told to say."""

    def __init__(self) -> None:
        super().__init__(None)
        self.said: list[tuple[str, bool]] = []

    def say(self, text: str, urgent: bool = False) -> None:
        self.said.append((text, urgent))


def app_of(bench: GuidedBench, language: str = "en") -> LiveApp:
    return LiveApp(bench.station, bench.live, Speech(language, "us"), Spoken(), person=PERSON)  # type: ignore[arg-type]


def at_keys(app: LiveApp, story: Callable[[Pilot[None]], Coroutine[Any, Any, None]]) -> None:
    async def run() -> None:
        async with app.run_test(size=(100, 36)) as pilot:
            await pilot.pause(0.1)
            await story(pilot)

    asyncio.run(run())


def text(app: LiveApp, name: str) -> str:
    return str(app.query_one(f"#{name}", Static).render())


@pytest.fixture
def bench(tmp_path: Path) -> Any:
    made = GuidedBench(tmp_path, usual())
    yield made
    made.close()


def test_the_keys_go_from_the_checklist_into_the_push_and_out_of_it(bench: GuidedBench) -> None:
    app = app_of(bench)
    seen: list[str] = []

    async def story(pilot: Pilot[None]) -> None:
        for _ in range(1400):
            phase = bench.live.guide.phase
            if phase not in seen:
                seen.append(phase)
            if phase == "hold":
                break
            bench.second()
            state = bench.state()
            open_rows = [
                r for r in [*state["checks"], *state["ready"]] if r.get("answer", r.get("state")) in (None, "not yet")
            ]
            button = state["button"]
            if open_rows and phase in ("look and safe", "instruments"):
                await app.look()
                await pilot.press("y")
            elif button and button["enabled"] and button["asked"]:
                if button["act"] == "unit is on":
                    bench.played.start()
                elif button["act"] == "cover is on":
                    bench.played.cover_to(button["cover"])
                await app.look()
                await pilot.press("enter")
        await app.look()
        assert "cover" in text(app, "keys") or "restored" in text(app, "keys")
        assert text(app, "sentence") == bench.state()["sentence"]["text"]
        assert "°F" in text(app, "numbers")
        assert "saved" in text(app, "head")
        bench.played.cover_to(0.0)
        await pilot.press("r")
        await pilot.pause(0.2)

    at_keys(app, story)
    passed = [phase for phase in seen if phase != "plan"]  # the button of the plan is pressed within a second
    assert passed == ["look and safe", "instruments", "standing", "start", "settle", "baseline", "push", "hold"]
    assert bench.live.guide.phase == "restore"
    assert bench.live.guide.checks["weather"] == "yes"
    said = app.speaker.said  # type: ignore[attr-defined]
    assert ("Hold. Keep your hands off.", False) in said
    with bench.station.store.reading() as t:
        steps = rows.find(t, "step", challenge_id=bench.live.challenge_id, order="at")
    assert any(s["why"] == "restored" for s in steps)


def test_a_refusal_is_a_sentence_and_breaking_off_asks_why(bench: GuidedBench) -> None:
    app = app_of(bench)

    async def story(pilot: Pilot[None]) -> None:
        await pilot.press("r")
        await pilot.pause(0.2)
        assert "Nothing is covered now" in text(app, "said")
        await pilot.press("u")
        assert "nothing to take back" in text(app, "said")
        await pilot.press("y")
        await pilot.pause(0.2)
        assert len(bench.live.guide.checks) == 1
        await pilot.press("u")
        await pilot.pause(0.2)
        assert bench.live.guide.checks == {}
        await pilot.press("x")
        await pilot.pause(0.2)
        await pilot.press(*"rain", "enter")
        await pilot.pause(0.4)

    at_keys(app, story)
    assert bench.live.guide.aborted
    assert bench.live.journal[-1].why == "aborted: rain"


def test_an_urgent_alarm_is_red_first_and_spoken_again(bench: GuidedBench) -> None:
    bench.run(1500, until="push")
    for _ in range(30):
        bench.second()
        bench.person()
    bench.played.cover_to(0.85)
    bench.act("cover is on", cover=0.85)
    for _ in range(120):
        bench.second()
        if bench.live.alarm_code(bench.clock.now)[0]:
            break
    app = app_of(bench)

    async def story(pilot: Pilot[None]) -> None:
        await app.look()
        assert app.query_one("#top").has_class("alarm")
        assert text(app, "sentence") == "RESTORE AIRFLOW NOW"
        for _ in range(12):
            bench.clock.now += 1.0
            await app.look()

    at_keys(app, story)
    urgent = [words for words, pressing in app.speaker.said if pressing]  # type: ignore[attr-defined]
    assert len(urgent) >= 2
    assert set(urgent) == {"RESTORE AIRFLOW NOW"}


def test_unnamed_series_are_mapped_with_the_keys_and_remembered_for_that_person(tmp_path: Path) -> None:
    clock = Clock()
    station = Station(str(tmp_path / "records.db"), clock=clock, utc_offset=lambda _: 0.0)
    _, visit, (circuit,) = small_company(station, "R-410A")
    source = PushSource("box", clock=clock)
    form = station.sources.connect(source, "ingest")
    names = (("A1", "psig", "118.0"), ("A2", "psig", "365.0"), ("T1", "degF", "52.0"), ("T2", "degF", "95.0"))

    def speak(number: int) -> None:
        source.deliver([Reading("box", "b", 4 * number + k, n, v, u, clock.now) for k, (n, u, v) in enumerate(names)])
        for _ in range(100):
            if len({c["header"] for s in station.sources.all() for c in s["channels"]}) == 4:
                return
            time.sleep(0.02)
        raise AssertionError("nothing arrived")

    speak(0)
    work = station.session("terminal", PERSON)
    live = station.live.begin(work, visit, circuit, sources=[form["id"]])
    assert live.recorder.channel_map.missing()
    app = LiveApp(station, live, Speech(), Spoken(), person=PERSON)

    async def story(pilot: Pilot[None]) -> None:
        await pilot.press("c")
        await pilot.pause(0.2)
        options = [str(o.prompt) for o in app.screen.query_one(OptionList).options]
        assert options[0] == "All of it is right"
        assert "lower" in options[1] or "suction" in options[1]
        await pilot.press("enter")
        await pilot.pause(0.3)
        assert live.recorder.channel_map.row("box", "A1").channel == "suction_pressure"  # type: ignore[union-attr]
        await pilot.press("c")
        await pilot.pause(0.2)
        await pilot.press("down", "down", "down", "enter")  # T1
        await pilot.pause(0.2)
        await pilot.press("down", "enter")  # the first channel that a temperature can be
        await pilot.pause(0.3)

    at_keys(app, story)
    row = live.recorder.channel_map.row("box", "T1")
    assert row is not None
    assert row.confirmed
    assert row.channel == "suction_line_temperature"
    # the next day: the same person's set is known before anything is confirmed, another person's is not
    live.act(work, "0198c0de-0000-7000-8000-0000000000a1", "abort", reason="enough")
    for person, known in ((PERSON, True), ("Jo Fairlie", False)):
        clock.now += 86400.0
        _, other, (another,) = small_company(station, "R-410A")
        again = station.live.begin(station.session("terminal", person), other, another, sources=[form["id"]])
        speak(int(clock.now))
        found = again.recorder.channel_map.row("box", "T1")
        assert (found is not None and found.channel == "suction_line_temperature") is known
        again.act(station.session("terminal", person), f"0198c0de-0000-7000-8000-0000000000b{known:d}", "abort")
    station.close()


def test_the_other_circuit_is_watched_and_the_same_file_can_be_followed_again(tmp_path: Path) -> None:
    log = tmp_path / "gauges.csv"
    log.write_text("time,suction_pressure_psig\n")
    store = str(tmp_path / "records.db")
    with Station(store) as station:
        unit, _, circuits = small_company(station, "R-410A", circuits=2)
        with station.store.reading() as t:
            names = [c["name"] for c in rows.find(t, "circuit", unit_id=unit, order="name created_at")]
    given: dict[str, Any] = dict.fromkeys(
        ("bench", "visit", "mqtt", "modbus", "registers", "by_hand", "heating", "running", "person", "csv_file")
    )
    given |= {"unit": unit, "bluetooth": (), "circuit": names[0], "watch": (names[1],), "csv_file": log}
    with Station(store) as station:
        live = _begin(station, given)
        assert live.circuit_ids == circuits
        work = station.session("terminal")
        live.act(work, "0198c0de-0000-7000-8000-0000000000c1", "abort")
        live.act(work, "0198c0de-0000-7000-8000-0000000000c2", "close")
    with Station(store) as station:  # the file is connected already, as after any restart
        again = _begin(station, given)
        assert again.challenge_id != live.challenge_id
        assert len(station.sources.all()) == 1
    with Station(store) as station, pytest.raises(FixInput, match="registers"):
        _begin(station, {**given, "csv_file": None, "modbus": "192.0.2.20"})


def test_what_is_missing_is_said_in_one_sentence(tmp_path: Path) -> None:
    store = ["--store", str(tmp_path / "records.db")]
    nothing = CliRunner().invoke(command, store, standalone_mode=False)
    assert isinstance(nothing.exception, FixInput)
    assert "--unit" in nothing.exception.message
    unknown = CliRunner().invoke(command, [*store, "--unit", "W-99", "--by-hand"], standalone_mode=False)
    assert isinstance(unknown.exception, FixInput)


# -- a real terminal -------------------------------------------------------------------------------------------------------
class Terminal:
    """A program in a pseudo-terminal of 100 by 36 characters."""

    def __init__(self, *arguments: str) -> None:
        self.pid, self.master = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="xterm-256color", PYTHONPATH=os.pathsep.join(sys.path))
            os.execv(sys.executable, [sys.executable, "-m", "steadfeed", *arguments])
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", 36, 100, 0, 0))
        self.shown = ""
        self.over = False

    def until(self, words: str, seconds: float = 40.0) -> None:
        """Read until these words were written since the last time."""
        deadline = time.time() + seconds
        while time.time() < deadline:
            ready, _, _ = select.select([self.master], [], [], 0.2)
            if ready:
                try:
                    self.shown += os.read(self.master, 65536).decode("utf-8", "replace")
                except OSError:
                    self.over = True
            plain = re.sub(r"\x1b\[[0-9;?]*[ -/]*[@-~]|\x1b\][^\x07]*\x07", "", self.shown)
            if words in plain:
                self.shown = ""
                return
            if self.over:
                break
        raise AssertionError(f"“{words}” was not shown: {self.shown[-2000:]!r}")

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def end(self, how: int) -> int:
        os.kill(self.pid, how)
        _, status = os.waitpid(self.pid, 0)
        os.close(self.master)
        return os.waitstatus_to_exitcode(status)


@pytest.mark.timeout(180)
def test_in_a_real_terminal_killed_and_taken_up_again(tmp_path: Path) -> None:
    store = str(tmp_path / "records.db")
    clock = Clock(time.time() - 1500.0)
    station = Station(store, clock=clock, utc_offset=lambda _: 0.0)
    bench = GuidedBench(tmp_path, usual(), station=station, clock=clock)
    bench.run(1200, until="push")
    for _ in range(40):
        bench.second()
        bench.person()
    assert bench.live.guide.pushing
    assert clock.now < time.time() - 60.0
    bench.live.flush()
    challenge = bench.live.challenge_id
    # as after a kill: nothing of the challenge was closed properly, and minutes went by
    station.live._open.clear()
    station.close()
    first = Terminal("live", "--store", store, "--no-voice")
    first.until("Away ")
    assert first.end(signal.SIGKILL) == -signal.SIGKILL
    second = Terminal("live", "--store", store, "--no-voice")
    second.until("Away ")
    second.press("\r")
    second.until("Watch the head fall back.")
    second.press("q")
    deadline = time.time() + 20
    while os.waitpid(second.pid, os.WNOHANG) == (0, 0):
        assert time.time() < deadline
        time.sleep(0.1)
    os.close(second.master)
    with Station(store) as station:
        live = station.live.get(challenge)
        assert live.guide.restored_at is not None
        assert [e.why for e in live.journal if e.verb == "back"] == ["back: restored"]
        assert any(e.verb == "away" for e in live.journal)


@pytest.mark.timeout(120)
def test_the_bench_in_a_real_terminal(tmp_path: Path) -> None:
    terminal = Terminal(
        "live", "--bench", "orchard-house", "--speed", "20", "--no-voice", "--store", str(tmp_path / "records.db")
    )
    terminal.until("Look around and tick the list.")
    for _ in range(12):
        terminal.press("y")
        time.sleep(0.3)
    terminal.press("\r")
    terminal.until("Open the suction gauge to the air.")
    assert terminal.end(signal.SIGTERM) != 0
