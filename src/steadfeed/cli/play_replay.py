"""Replay of a kept log in the terminal: it grows as it came, the verdict hidden until it is asked for."""

from __future__ import annotations

from typing import ClassVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Footer, Static

from steadfeed.cli.play_chart import SPEEDS, STYLE, TICK, Chart
from steadfeed.visit.practice_replay import Replay


class ReplayScreen(Screen[None]):
    """A kept log grows as it came; the verdict stays hidden until it is asked for."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "pause", "Pause"), Binding("f", "faster", "Faster"), Binding("d", "slower", "Slower"),
        Binding("e", "end", "To the end"), Binding("v", "verdict", "Show the verdict so far"), Binding("q", "app.quit", "Leave"),
    ]  # fmt: skip

    def __init__(self, replay: Replay) -> None:
        super().__init__()
        self.replay = replay
        self.speed, self.paused, self.at, self.count = 30, False, 0.0, 0
        self.verdict = ""

    def compose(self) -> ComposeResult:
        """Lay out."""
        yield Static(id="head")
        yield Static("What do you see? Name it before you press v.", id="sentence")
        yield Chart(id="chart")
        yield Static(id="notes")
        yield Footer()

    def on_mount(self) -> None:
        """Let it run."""
        self.set_interval(TICK, self._tick)
        self.query_one(Chart).span = max(len(self.replay), 60)
        self._show()

    def _tick(self) -> None:
        if not self.paused:
            self.move_to(self.at + TICK * self.speed)

    def move_to(self, seconds: float) -> None:
        """Show the readings up to a time since the first."""
        r, chart = self.replay, self.query_one(Chart)
        self.at = min(seconds, float(r.seconds[-1]))
        while self.count < len(r) and r.seconds[self.count] <= self.at:
            k = self.count
            chart.add((float(r.suction[k]), float(r.head[k]), float(r.superheat[k]), float(r.subcooling[k])))
            self.count += 1
        self._show()

    def _show(self) -> None:
        pace = "paused" if self.paused else f"{self.speed}×"
        self.query_one("#head", Static).update(
            f"{self.replay.title} · {int(self.at) // 60}:{int(self.at) % 60:02d} · {pace} · {self.count} readings"
        )
        self.query_one("#notes", Static).update(self.verdict)
        self.query_one(Chart).refresh()

    def action_pause(self) -> None:
        """Stop or go on."""
        self.paused = not self.paused
        self._show()

    def action_faster(self) -> None:
        """Next speed."""
        self.speed = SPEEDS[min(SPEEDS.index(self.speed) + 1, len(SPEEDS) - 1)]
        self._show()

    def action_slower(self) -> None:
        """Speed before."""
        self.speed = SPEEDS[max(SPEEDS.index(self.speed) - 1, 0)]
        self._show()

    def action_end(self) -> None:
        """Show it all."""
        self.move_to(float(self.replay.seconds[-1]))

    def action_verdict(self) -> None:
        """Judge the readings so far."""
        self.verdict = f"{int(self.at) // 60}:{int(self.at) % 60:02d}  {self.replay.said(self.count)}"
        self._show()


class ReplayApp(App[None]):
    """Replay of one log."""

    CSS = STYLE
    TITLE = "steadfeed bench replay"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, replay: Replay) -> None:
        super().__init__()
        self.replay = replay

    def on_mount(self) -> None:
        """Begin."""
        self.push_screen(ReplayScreen(self.replay))
