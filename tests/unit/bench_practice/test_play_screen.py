"""The practice in the terminal, driven by Textual's pilot; nothing of the truth on any screen before the answer."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Coroutine
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("textual")

from steadfeed.bench.scenario import scenario
from steadfeed.cli.play import BriefingScreen, ChooseScreen, Menu, OutcomeScreen, PlayScreen, PracticeApp
from steadfeed.cli.play_chart import Chart
from steadfeed.cli.play_replay import ReplayApp, ReplayScreen
from steadfeed.cli.terminal_chart import Pen, band, nice_range
from steadfeed.visit.practice_visit import Outcome, Practice

SIZE = (120, 40)


def text_of(app: Any) -> str:
    """All the words on the screen."""
    svg = app.export_screenshot()
    return html.unescape(re.sub(r"<[^>]+>", "\n", svg)).replace("\xa0", " ")


def words_of(app: Any) -> str:
    return " ".join(text_of(app).split())


def run(story: Coroutine[Any, Any, None]) -> None:
    asyncio.run(asyncio.wait_for(story, 120))


def test_a_whole_practice_from_briefing_to_score() -> None:
    one = scenario("mill-store")
    kept: list[Outcome] = []

    def keep(outcome: Outcome, practice: Practice) -> str:
        kept.append(outcome)
        return "Kept: here.csv"

    async def story() -> None:
        app = PracticeApp(Practice(one, 4), keep=keep)
        seen: list[str] = []
        async with app.run_test(size=SIZE) as pilot:
            await pilot.pause()
            assert isinstance(app.screen, BriefingScreen)
            assert "R-410A" in words_of(app)
            seen.append(words_of(app))
            await pilot.press("enter")
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, PlayScreen)
            await pilot.press("space")
            for key in ("i", "m", "b", "a"):
                await pilot.press(key)
                await pilot.pause()
                assert isinstance(app.screen, Menu)
                if key != "a":
                    seen.append(words_of(app))
                await pilot.press("escape")
                await pilot.pause()
            await pilot.press("i")
            await pilot.pause()
            await pilot.press("enter")  # all four
            await pilot.pause()
            assert screen.practice.minutes == pytest.approx(5.0)
            await pilot.press("s")
            screen.pass_time(800)
            await pilot.pause()
            seen.append(words_of(app))
            assert "superheat" in seen[-1]
            for seconds in (25, 25, 25, 60, 200):
                await pilot.press("c")
                screen.pass_time(seconds)
            await pilot.pause()
            seen.append(words_of(app))
            assert "covered 62 %" in seen[-1]
            assert "ceiling" in seen[-1]
            await pilot.press("r")
            screen.pass_time(260)
            await pilot.press("s")
            screen.pass_time(150)
            await pilot.pause()
            seen.append(words_of(app))
            for secret in (one.hidden.text, one.hidden.lesson):
                for part in secret.split(". "):
                    assert not any(part in shown for shown in seen)
            assert not any("valve parked" in shown or "acts fixed" in shown for shown in seen)
            await pilot.press("a")
            await pilot.pause()
            await pilot.press("down", "enter")  # fixed
            await pilot.pause()
            await pilot.press("down", "enter")  # valve parked
            await pilot.pause()
            await pilot.press("down", "down", "down", "down", "down", "enter")  # 90 %
            await pilot.pause()
            assert isinstance(app.screen, OutcomeScreen)
            outcome = app.screen.outcome
            assert [line.good for line in outcome.lines] == [True] * 5
            after = words_of(app)
            assert "The truth" in after
            assert "Steadfeed on the same log" in after
            assert "the valve acts fixed" in after

    run(story())
    assert len(kept) == 1
    assert kept[0].right


def test_time_runs_with_the_speed_and_stands_when_paused() -> None:
    async def story() -> None:
        app = PracticeApp(Practice(scenario("tea-room"), 1))
        async with app.run_test(size=SIZE) as pilot:
            await pilot.pause()
            await pilot.press("enter")
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, PlayScreen)
            for _ in range(4):
                await pilot.press("f")
            assert screen.speed == 60
            await pilot.press("f")
            assert screen.speed == 60
            await pilot.pause(1.2)
            ran = screen.practice.seconds
            assert 20 < ran < 400
            await pilot.press("space")
            await pilot.pause(0.1)
            stood = screen.practice.seconds
            await pilot.pause(0.6)
            assert screen.practice.seconds == stood
            await pilot.press("d")
            assert screen.speed == 30

    run(story())


def test_the_list_of_units_begins_a_practice_and_a_trip_shows() -> None:
    async def story() -> None:
        names = ["tea-room", "ferry-terminal"]
        choices = [(n, scenario(n).place) for n in names]
        app = PracticeApp(None, choices=choices, begin=lambda name: Practice(scenario(name), 0, told=False))
        async with app.run_test(size=SIZE) as pilot:
            await pilot.pause()
            assert isinstance(app.screen, ChooseScreen)
            await pilot.press("down", "enter")
            await pilot.pause()
            assert isinstance(app.screen, BriefingScreen)
            assert "A unit on your list" in words_of(app)
            assert "Circuit 1 cools poorly." in words_of(app)
            await pilot.press("enter")
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, PlayScreen)
            await pilot.press("space", "s")
            screen.pass_time(500)
            await pilot.press("c", "c", "c", "c", "c", "c")
            screen.pass_time(150)
            await pilot.pause()
            shown = words_of(app)
            assert "switch tripped" in shown
            assert "The switch has tripped." in shown

    run(story())


def test_a_replay_hides_the_verdict_until_it_is_asked_for(tmp_path: Path) -> None:
    from steadfeed.visit.practice import run_scenario
    from steadfeed.visit.practice_replay import replay_of

    run_scenario("mill-store", 1, tmp_path / "log.csv")
    replay = replay_of(tmp_path / "log.csv")[0]

    async def story() -> None:
        app = ReplayApp(replay)
        async with app.run_test(size=SIZE) as pilot:
            await pilot.pause()
            screen = app.screen
            assert isinstance(screen, ReplayScreen)
            await pilot.press("space", "e")
            await pilot.pause()
            assert screen.count == len(replay)
            assert "acts fixed" not in words_of(app)
            await pilot.press("v")
            await pilot.pause()
            assert "acts fixed" in words_of(app)

    run(story())


def test_pens_are_where_the_values_are() -> None:
    cells = band([Pen("x", [0.0] * 10 + [10.0] * 10, "red")], 20, 5, 0.0, 10.0)
    assert all(cells[4][x].char != " " for x in range(9))
    assert all(cells[0][x].char != " " for x in range(11, 20))
    assert all(cells[0][x].char == " " for x in range(9))
    gap = band([Pen("x", [0.0, float("nan"), 0.0], "red")], 9, 3, 0.0, 1.0)
    assert [cells.char for cells in gap[2]].count(" ") >= 2
    limit = band([], 10, 5, 0.0, 10.0, 5.0)
    assert "╌" in {cell.char for cell in limit[2]}


@pytest.mark.parametrize(
    ("values", "least"), [([100.0, 400.0], 60.0), ([5.0], 20.0), ([float("nan")], 10.0), ([-3.0, 2.0], 20.0)]
)
def test_ranges_hold_their_values(values: list[float], least: float) -> None:
    low, high = nice_range(values, least)
    assert high - low >= least
    assert all(v != v or low <= v <= high for v in values)


def test_an_empty_chart_can_be_drawn() -> None:
    chart = Chart()
    assert "psig" in str(chart.render())


def test_leaving_a_visit_is_asked_once() -> None:
    async def story() -> None:
        app = PracticeApp(Practice(scenario("mill-store"), 4))
        async with app.run_test(size=SIZE) as pilot:
            await pilot.press("enter")
            await pilot.pause()
            await pilot.press("s")
            await pilot.press("q")
            await pilot.pause()
            assert app.is_running
            assert isinstance(app.screen, PlayScreen)
            assert any("Press q again" in told.message for told in app._notifications)
            await pilot.press("q")
            await pilot.pause()
            assert app.return_code == 0
            assert not app.is_running

    run(story())
