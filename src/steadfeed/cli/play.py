"""The practice in the terminal: briefing, the unit under one's hands, the answer, the score."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import ClassVar, Final

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Footer, OptionList, Static
from textual.widgets.option_list import Option

from steadfeed.cli.play_chart import SPEEDS, STYLE, TICK, Chart
from steadfeed.errors import SteadfeedError
from steadfeed.visit.practice_score import Answer
from steadfeed.visit.practice_visit import VERDICTS, Outcome, Practice

_STEP: Final = 0.125
_ASKED: Final = 5.0  # s in which the second q counts
_CONFIDENCES: Final = (0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)

#: Keys of the unit's screen, in two lines.
_KEYS: Final = (
    "[b]i[/b] instruments  [b]m[/b] measure, look  [b]b[/b] set aside  [b]s[/b] start/stop  [b]c[/b]/[b]x[/b] cover more/less  "
    "[b]r[/b] restore  [b]a[/b] answer\n"
    "[b]space[/b] pause  [b]f[/b]/[b]d[/b] faster/slower  [b]w[/b] write a row  [b]n[/b] new log  [b]t[/b] reset the switch  "
    "[b]q[/b] leave"
)


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
        Binding("t", "reset", "Reset switch"), Binding("a", "answer", "Answer"), Binding("q", "leave", "Leave"),
    ]  # fmt: skip

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self.practice = practice
        self.speed = 1
        self.paused = False
        self._leaving = False
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
    def action_leave(self) -> None:
        """Leave the visit unfinished: asked once, then done."""
        if self._leaving or not self.practice.notes:
            self.app.exit()
            return
        self._leaving = True
        self.notify("Press q again to leave. This visit is not kept.", timeout=_ASKED)
        self.set_timer(_ASKED, self._stay)

    def _stay(self) -> None:
        self._leaving = False

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

    CSS = STYLE
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


def now_text() -> str:
    """Local time, for what is kept."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def saved_words(path: Path) -> str:
    """Where a log was kept."""
    return f"Kept: {path}"
