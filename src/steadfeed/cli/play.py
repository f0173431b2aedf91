"""The practice in the terminal: briefing, the unit under one's hands, the answer, the score."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import nan
from pathlib import Path
from typing import Any, ClassVar, Final

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Footer, OptionList, Static
from textual.widgets.option_list import Option

from steadfeed.cli.terminal_chart import Pen, band, nice_range
from steadfeed.errors import SteadfeedError
from steadfeed.visit.practice_replay import Replay
from steadfeed.visit.practice_score import Answer
from steadfeed.visit.practice_visit import VERDICTS, Outcome, Practice

#: Bench seconds per second that can be chosen.
SPEEDS: Final = (1, 5, 10, 30, 60)
#: How often the screen moves on [s].
TICK: Final = 0.25
#: How much of the run the chart shows [s].
SHOWN: Final = 1500
_STEP: Final = 0.125
_CONFIDENCES: Final = (0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)

#: Keys of the unit's screen, in two lines.
_KEYS: Final = (
    "[b]i[/b] instruments  [b]m[/b] measure, look  [b]b[/b] set aside  [b]s[/b] start/stop  [b]c[/b]/[b]x[/b] cover more/less  "
    "[b]r[/b] restore  [b]a[/b] answer\n"
    "[b]space[/b] pause  [b]f[/b]/[b]d[/b] faster/slower  [b]w[/b] write a row  [b]n[/b] new log  [b]t[/b] reset the switch  "
    "[b]q[/b] leave"
)
_STYLE: Final = """
Screen { background: #14161a; color: #edeae0; }
#head { height: 1; color: #b9bec8; }
#sentence { height: 2; text-style: bold; }
#chart { height: 1fr; min-height: 8; }
#numbers { height: 2; }
.number { width: 20fr; height: 2; }
#n-head { width: 18fr; }
#n-lines { width: 22fr; }
#notes { height: 6; color: #b9bec8; border-top: solid #474c54; }
.page { padding: 1 3; max-width: 100; height: auto; }
#options { height: 1fr; border: none; background: #14161a; padding: 0 3; }
Menu { align: center middle; }
#keys { height: auto; color: #b9bec8; background: #22262d; }
#menu { width: 92; max-width: 96%; height: auto; max-height: 90%; border: solid #edeae0; background: #14161a; padding: 1 2; }
#menu OptionList { height: auto; max-height: 24; border: none; background: #14161a; }
OptionList > .option-list--option-highlighted { background: #edeae0; color: #14161a; text-style: none; }
OptionList:focus > .option-list--option-highlighted { background: #edeae0; color: #14161a; text-style: bold; }
Footer { background: #22262d; }
"""


class Chart(Static):
    """The strip chart: pressures in the upper two thirds, superheat and subcooling below."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self.rows: list[tuple[float, float, float, float]] = []
        self.limit: float | None = None
        self.span = SHOWN
        self.marks: list[tuple[int, str]] = []

    def add(self, row: tuple[float, float, float, float]) -> None:
        """Add (suction psig, head psig, superheat °F, subcooling °F)."""
        self.rows.append(row)

    def render(self) -> Text:
        """Draw it."""
        width, height = max(self.size.width - 14, 10), max(self.size.height - 1, 6)
        upper = max(3, height * 2 // 3)
        rows = self.rows[-self.span :]
        shown = rows + [(nan,) * 4] * max(0, min(self.span, 600) - len(rows))
        suction, head, superheat, subcooling = ([row[k] for row in shown] for k in range(4))
        low, high = nice_range([*suction, *head], 60.0)
        if self.limit is not None:
            high = max(high, self.limit * 1.02)
        above = band(
            [Pen("suction", suction, "#8fbcff", 2), Pen("head", head, "#ffa8a0")], width, upper, low, high, self.limit
        )
        low2, high2 = nice_range([*superheat, *subcooling, 0.0], 20.0)
        low2, high2 = max(low2, -20.0), min(high2, 60.0)
        below = band(
            [Pen("subcooling", subcooling, "#b9bec8", 3), Pen("superheat", superheat, "#edeae0 bold")],
            width, height - upper, low2, high2,
        )  # fmt: skip
        words = self._words(upper, height - upper, (low, high), (low2, high2), rows)
        text = Text(no_wrap=True)
        for y, line in enumerate(above + below):
            for cell in line:
                text.append(cell.char, cell.style)
            word, style = words.get(y, ("", ""))
            text.append(" " + word + "\n", style)
        text.append(self._foot(width, len(shown)), "#b9bec8")
        return text

    def _foot(self, width: int, count: int) -> str:
        """What the person did when, as words under the chart."""
        foot = [" "] * width
        first = max(0, len(self.rows) - self.span)
        free = 0
        for index, word in self.marks:
            place = round((index - first) / max(count - 1, 1) * (width - 1))
            if free <= place <= width - len(word):
                foot[place : place + len(word)] = word
                free = place + len(word) + 1
        return "".join(foot)

    def _words(
        self, upper: int, lower: int, top: tuple[float, float], bottom: tuple[float, float], rows: list[Any]
    ) -> dict[int, tuple[str, str]]:
        words: dict[int, tuple[str, str]] = {0: (f"{top[1]:.0f} psig", "#7d838e")}
        words[upper - 1] = (f"{top[0]:.0f}", "#7d838e")
        words[upper + lower - 1] = (f"{bottom[0]:.0f} °F", "#7d838e")
        if self.limit is not None:
            words[_line(self.limit, top, upper)] = (f"ceiling {self.limit:.0f}", "bold")
        if rows:
            last = rows[-1]
            for value, word, style, span, begin, count in (
                (last[0], "suction", "#8fbcff", top, 0, upper), (last[1], "head", "#ffa8a0", top, 0, upper),
                (last[3], "subcooling", "#b9bec8", bottom, upper, lower), (last[2], "superheat", "bold", bottom, upper, lower),
            ):  # fmt: skip
                if value == value:
                    y = begin + _line(value, span, count)
                    while y in words and words[y][0] in ("suction", "head", "subcooling", "superheat"):
                        y += 1
                    words[y] = (word, style)
        return words


def _line(value: float, span: tuple[float, float], count: int) -> int:
    share = min(max((value - span[0]) / max(span[1] - span[0], 1e-9), 0.0), 1.0)
    return min(count - 1, round((1.0 - share) * (count - 1)))


class Menu(ModalScreen[str]):
    """A list to choose from. choices: (id, words)."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Back")]

    def __init__(self, title: str, choices: list[tuple[str, str]]) -> None:
        super().__init__()
        self._title, self.choices = title, choices

    def compose(self) -> ComposeResult:
        """Lay out."""
        with Vertical(id="menu"):
            yield Static(self._title)
            yield OptionList(*(Option(words, id=name) for name, words in self.choices))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Choose."""
        self.dismiss(event.option.id or "")

    def action_leave(self) -> None:
        """Choose nothing."""
        self.dismiss("")


class BriefingScreen(Screen[None]):
    """What the learner is told before the visit."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin the visit"),
        Binding("q", "app.quit", "Leave"),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self.practice = practice

    def compose(self) -> ComposeResult:
        """Lay out."""
        b = self.practice.briefing
        title = b.title if self.practice.told else "A unit on your list"
        plate = "\n".join(f"  {what:<22}{text}" for what, text in b.nameplate)
        lines = [
            f"[b]{title}[/b]", b.place, "", b.complaint, "", "[b]What you know of it[/b]", plate, "",
            f"[b]A good time for this visit: {b.minutes:.0f} min[/b]", "",
            ("The unit stands. Nothing is connected yet. Put your instruments where they belong, let it run until it is "
            "steady, push if it may be pushed, restore, stop, put everything back. Then name verdict, cause, confidence."),
            "",
            ("A simulated unit. On a real one: licensed people only, the maker’s instructions first, never bypass a "
            "pressure switch, never leave a covered coil. The software advises; it is no safety device."),
        ]  # fmt: skip
        with VerticalScroll():
            yield Static("\n".join(lines), classes="page", id="briefing")
        yield Footer()

    def action_begin(self) -> None:
        """Go to the unit."""
        self.app.switch_screen(PlayScreen(self.practice))


class PlayScreen(Screen[None]):
    """The unit under one's hands."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "pause", "Pause"), Binding("f", "faster", "Faster"), Binding("d", "slower", "Slower"),
        Binding("i", "instruments", "Instruments"), Binding("m", "look", "Measure, look"), Binding("b", "aside", "Set aside, put back"),
        Binding("s", "call", "Start/stop"), Binding("c", "more", "Cover more"), Binding("x", "less", "Cover less"),
        Binding("r", "restore", "Restore"), Binding("w", "row", "Write a row"), Binding("n", "new_log", "New log"),
        Binding("t", "reset", "Reset switch"), Binding("a", "answer", "Answer"), Binding("q", "app.quit", "Leave"),
    ]  # fmt: skip

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self.practice = practice
        self.speed = 1
        self.paused = False
        self._owed = 0.0
        self._verdict = self._cause = ""

    def compose(self) -> ComposeResult:
        """Lay out."""
        yield Static(id="head")
        yield Static(id="sentence")
        yield Chart(id="chart")
        with Horizontal(id="numbers"):
            for name in ("suction", "head", "lines", "differences"):
                yield Static(id=f"n-{name}", classes="number")
        yield Static(id="notes")
        yield Static(_KEYS, id="keys")

    def on_mount(self) -> None:
        """Let time run."""
        self.set_interval(TICK, self._tick)
        self._show()

    def _tick(self) -> None:
        if self.paused or self.practice.answered or self.app.screen is not self:
            return
        self._owed += TICK * self.speed
        whole = int(self._owed)
        self._owed -= whole
        if whole:
            self.pass_time(whole)

    def pass_time(self, seconds: int) -> None:
        """Let bench time go by, second by second into the chart."""
        self._go(lambda: self.practice.wait(seconds))

    def _go(self, what: Callable[[], object]) -> None:
        """Do something that takes time; the chart gets what the instruments showed meanwhile."""
        before = len(self.practice.trace())
        try:
            what()
        except SteadfeedError as error:
            self.practice.note(error.message)
        chart = self.query_one(Chart)
        for row in self.practice.trace()[before:]:
            chart.add(row)
        self._show()

    def _show(self) -> None:
        p = self.practice
        place = p.briefing.place
        state = "switch tripped" if p.tripped else "running" if p.running else "standing"
        minutes, seconds = divmod(int(p.seconds), 60)
        rows = f" · {p.rows_written} rows" if p.by_hand else ""
        pace = "paused" if self.paused else f"{self.speed}×"
        self.query_one("#head", Static).update(
            f"{place} · {minutes}:{seconds:02d} · {pace} · {state} · covered {p.cover * 100:.0f} %{rows}"
        )
        self.query_one("#sentence", Static).update(self._sentence())
        spot = p.spot()
        self.query_one("#n-suction", Static).update(
            _pair("suction", p.shown("suction_pressure"), spot.evaporating, "dew")
        )
        head = p.shown("liquid_pressure") or p.shown("discharge_pressure")
        self.query_one("#n-head", Static).update(_pair("head", head, spot.condensing, "bubble"))
        lines = f"suction line {p.shown('suction_line_temperature') or '–'}\nliquid line {p.shown('liquid_line_temperature') or '–'}"
        self.query_one("#n-lines", Static).update(lines)
        sh = "–" if spot.superheat is None else f"{spot.superheat:.1f} °F"
        sc = "–" if spot.subcooling is None else f"{spot.subcooling:.1f} °F"
        self.query_one("#n-differences", Static).update(f"[b]superheat {sh}[/b]\n[b]subcooling {sc}[/b]")
        chart = self.query_one(Chart)
        chart.limit = p.ceiling()
        chart.marks = p.marks()
        chart.refresh()
        notes = p.notes[-5:]
        self.query_one("#notes", Static).update(
            "\n".join(f"{int(t) // 60:3d}:{int(t) % 60:02d}  {text}" for t, text in notes)
        )

    def _sentence(self) -> str:
        p = self.practice
        if p.tripped:
            return "The switch has tripped. Take the cover off, find out why."
        if not any(there for *_, there in p.places()):
            return p.briefing.complaint
        if p.cover > 0.0:
            return "Watch the head. Restore before the ceiling."
        if not p.running:
            return "The unit stands."
        return "The unit runs."

    # -- keys ---------------------------------------------------------------------------------------------------------
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

    def action_instruments(self) -> None:
        """Choose a place for an instrument."""
        choices = [
            (channel, f"{'■' if there else '□'} {words}  ({minutes:g} min)")
            for channel, words, minutes, there in self.practice.places()
        ]
        vital = [("vital", "□ All four: both gauges, both clamps  (5 min)")]
        self.app.push_screen(Menu("Where does an instrument go?", vital + choices), self._placed)

    def _placed(self, channel: str | None) -> None:
        if not channel:
            return
        vital = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")
        for one in vital if channel == "vital" else (channel,):
            self._go(lambda one=one: self.practice.place(one))  # type: ignore[misc]

    def action_look(self) -> None:
        """Choose a measurement or a look."""
        self._acts("What do you want to know?", ("measure", "look", "mend"))

    def action_aside(self) -> None:
        """Choose what to set aside, or put back."""
        self._acts("Set aside, or put back", ("set aside",), [("put back", "Put back all that was set aside  (2 min)")])

    def _acts(self, title: str, kinds: tuple[str, ...], more: list[tuple[str, str]] | None = None) -> None:
        choices = [
            (name, f"{label}  ({minutes:g} min)")
            for name, label, minutes, kind in self.practice.acts()
            if kind in kinds
        ]
        self.app.push_screen(Menu(title, choices + (more or [])), self._acted)

    def _acted(self, name: str | None) -> None:
        if name == "put back":
            self._go(self.practice.put_back)
        elif name:
            self._go(lambda: self.practice.act(name))

    def action_call(self) -> None:
        """Start or stop the unit at its thermostat."""
        self._go(self.practice.stop if self.practice.called else self.practice.start)

    def action_more(self) -> None:
        """Cover an eighth more."""
        self._go(lambda: self.practice.cover_to(self.practice.cover + _STEP))

    def action_less(self) -> None:
        """Cover an eighth less."""
        self._go(lambda: self.practice.cover_to(self.practice.cover - _STEP))

    def action_restore(self) -> None:
        """Take the cover off."""
        self._go(self.practice.restore)

    def action_row(self) -> None:
        """Write a row by hand."""
        self._go(self.practice.write_row)

    def action_new_log(self) -> None:
        """Begin the log anew."""
        self._go(self.practice.new_log)

    def action_reset(self) -> None:
        """Reset the switch."""
        self._go(self.practice.reset_switch)

    def action_answer(self) -> None:
        """Name verdict, cause and confidence."""
        self.app.push_screen(
            Menu("Your verdict on the metering device", [(v, v) for v in VERDICTS]), self._said_verdict
        )

    def _said_verdict(self, verdict: str | None) -> None:
        if not verdict:
            return
        self._verdict = verdict
        choices = [(name, f"{name:<24} {text}") for name, text in self.practice.causes()]
        self.app.push_screen(Menu("What is the cause?", choices), self._said_cause)

    def _said_cause(self, cause: str | None) -> None:
        if not cause:
            return
        self._cause = cause
        choices = [(str(c), f"{c * 100:.0f} %") for c in _CONFIDENCES]
        self.app.push_screen(Menu("How sure are you?", choices), self._said_confidence)

    def _said_confidence(self, confidence: str | None) -> None:
        if not confidence:
            return
        outcome = self.practice.answer(Answer(self._verdict, self._cause, float(confidence)))
        app = self.app
        assert isinstance(app, PracticeApp)
        kept = app.kept(outcome)
        app.switch_screen(OutcomeScreen(outcome, self.query_one(Chart), kept))


def _pair(word: str, shown: str, saturated: float | None, which: str) -> str:
    second = "" if saturated is None else f"{which} {saturated:.1f} °F"
    return f"[b]{word} {shown or '–'}[/b]\n{second}"


class OutcomeScreen(Screen[None]):
    """The truth, steadfeed's judgement of the same log, and the score."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("q", "app.quit", "Leave"), Binding("enter", "app.quit", "Done")]

    def __init__(self, outcome: Outcome, played: Chart, kept: str) -> None:
        super().__init__()
        self.outcome, self.kept = outcome, kept
        self.rows, self.limit, self.marks = played.rows, played.limit, played.marks

    def compose(self) -> ComposeResult:
        """Lay out."""
        o = self.outcome
        answer = o.answer
        lines = [
            f"[b]You said: {answer.verdict}, {answer.cause}, {answer.confidence * 100:.0f} % sure.[/b]", "",
            "[b]The truth[/b]", o.truth["text"], "", "[b]Steadfeed on the same log[/b]", *o.said(), "", "[b]Your score[/b]",
        ]  # fmt: skip
        lines += [f"  {'■' if line.good else '□'} {line.what:<18} {line.text}" for line in o.lines]
        lines += ["", f"[b]To take home[/b]  {o.truth['lesson']}", "", f"[dim]{self.kept}[/dim]"]
        chart = Chart(id="chart")
        chart.rows, chart.limit, chart.span, chart.marks = self.rows, self.limit, max(len(self.rows), 60), self.marks
        yield chart
        with VerticalScroll():
            yield Static("\n".join(lines), classes="page", id="outcome")
        yield Footer()


class ChooseScreen(Screen[None]):
    """The list of scenarios."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("q", "app.quit", "Leave")]

    def __init__(self, choices: list[tuple[str, str]], begin: Callable[[str], Practice]) -> None:
        super().__init__()
        self.choices, self.begin = choices, begin

    def compose(self) -> ComposeResult:
        """Lay out."""
        yield Static("[b]Whose unit today?[/b]", classes="page")
        yield OptionList(*(Option(words, id=name) for name, words in self.choices), id="options")
        yield Footer()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Begin."""
        app = self.app
        assert isinstance(app, PracticeApp)
        app.practice = self.begin(event.option.id or "")
        app.switch_screen(BriefingScreen(app.practice))


class PracticeApp(App[None]):
    """Practice in the terminal. keep: keeps an outcome and says where, or why not."""

    CSS = _STYLE
    TITLE = "steadfeed bench"
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self, practice: Practice | None, *, choices: list[tuple[str, str]] | None = None,
        begin: Callable[[str], Practice] | None = None, keep: Callable[[Outcome, Practice], str] | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.practice = practice
        self._choices, self._begin, self._keep = choices or [], begin, keep

    def on_mount(self) -> None:
        """Begin with the briefing, or the list."""
        if self.practice is not None:
            self.push_screen(BriefingScreen(self.practice))
        elif self._begin is not None:
            self.push_screen(ChooseScreen(self._choices, self._begin))

    def kept(self, outcome: Outcome) -> str:
        """Keep the outcome."""
        if self._keep is None or self.practice is None:
            return ""
        try:
            return self._keep(outcome, self.practice)
        except SteadfeedError as error:
            return error.message


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

    CSS = _STYLE
    TITLE = "steadfeed bench replay"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, replay: Replay) -> None:
        super().__init__()
        self.replay = replay

    def on_mount(self) -> None:
        """Begin."""
        self.push_screen(ReplayScreen(self.replay))


def now_text() -> str:
    """Local time, for what is kept."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def saved_words(path: Path) -> str:
    """Where a log was kept."""
    return f"Kept: {path}"
