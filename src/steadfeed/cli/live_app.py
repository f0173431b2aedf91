"""The guide's screen in the terminal: one sentence, the strip chart, two big numbers, one main key."""

from __future__ import annotations

import asyncio
import contextlib
import uuid
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, Final

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from steadfeed.cli.live_chart import LiveChart
from steadfeed.errors import SteadfeedError
from steadfeed.visit.live_words import evidence_line, number_text, plan_lines
from steadfeed.visit.sentences import Speech, said, text_of

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.speaking import Speaker
    from steadfeed.visit.station import Station

#: How often the screen looks [s].
TICK: Final = 0.25
#: How often the terminal says that it is there [s].
ALIVE: Final = 2.0
#: Points of the chart that are asked for.
POINTS: Final = 1200

_STYLE: Final = """
Screen { background: #14161a; color: #edeae0; }
#head { height: 1; color: #b9bec8; }
#top { height: 4; padding: 1 0 0 0; }
#top.alarm { background: #8a0f12; color: #ffffff; }
#sentence { height: 1; text-style: bold; padding: 0 1; }
#why { height: 1; padding: 0 1; color: #b9bec8; }
#top.alarm #why { color: #ffffff; }
#chart { height: 1fr; min-height: 8; padding: 0 1; }
#rows { height: 1fr; min-height: 8; padding: 0 2; display: none; }
#evidence { height: 2; padding: 0 1; }
#numbers { height: 3; padding: 0 1; text-style: bold; }
#button { height: 3; background: #edeae0; color: #14161a; text-style: bold; content-align: center middle; }
#button.quiet { background: #22262d; color: #b9bec8; }
#said { height: 1; padding: 0 1; color: #ffa8a0; }
#keys { height: 1; background: #22262d; color: #b9bec8; padding: 0 1; }
Ask { align: center middle; }
#ask { width: 76; max-width: 96%; height: auto; max-height: 90%; border: solid #edeae0; background: #14161a; padding: 1 2; }
#ask Input { border: tall #474c54; background: #14161a; color: #edeae0; }
#ask OptionList { height: auto; max-height: 20; border: none; background: #14161a; }
OptionList > .option-list--option-highlighted { background: #edeae0; color: #14161a; text-style: bold; }
"""
_KEYS: Final = (
    "[b]r[/b] restored  [b]x[/b] break off  [b]o[/b] other  [b]m[/b] mark  [b]w[/b] row  [b]u[/b] undo  [b]c[/b] channels  "
    "[b]l[/b] limits  [b]v[/b] voice  [b]p[/b] repeat  [b]q[/b] leave"
)


class Ask(ModalScreen[dict[str, str] | None]):
    """Asks for some lines; Escape gives nothing. fields: name -> words; options: choices instead of lines."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Leave")]

    def __init__(self, title: str, fields: dict[str, str], options: list[tuple[str, str]] | None = None) -> None:
        super().__init__()
        self._title, self._fields, self._options = title, fields, options or []

    def compose(self) -> ComposeResult:
        """Lay out."""
        with Vertical(id="ask"):
            yield Static(Text(self._title, "bold"))
            if self._options:
                yield OptionList(*(Option(text, id=code) for code, text in self._options))
            for name, words in self._fields.items():
                yield Input(placeholder=words, id=f"field-{name}")

    def on_mount(self) -> None:
        """Begin with the first line."""
        first = next(iter(self.query("Input, OptionList")), None)
        if first is not None:
            first.focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the next line; after the last one it is done."""
        inputs = list(self.query(Input))
        at = inputs.index(event.input)
        if at + 1 < len(inputs):
            inputs[at + 1].focus()
        else:
            self.dismiss({str(i.id).removeprefix("field-"): i.value.strip() for i in inputs})

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take the choice."""
        self.dismiss({"choice": str(event.option.id)})

    def action_leave(self) -> None:
        """Give nothing."""
        self.dismiss(None)


class LiveApp(App[None]):
    """The guide of one challenge. speaker: says the sentences."""

    CSS = _STYLE
    TITLE = "steadfeed live"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "main", "Main", priority=False),
        Binding("r", "restored", "Restored"),
        Binding("x", "abort", "Break off"),
        Binding("o", "others", "Other"),
        Binding("m", "mark", "Mark"),
        Binding("w", "row", "Row"),
        Binding("u", "undo", "Undo"),
        Binding("c", "channels", "Channels"),
        Binding("l", "limits", "Limits"),
        Binding("v", "voice", "Voice"),
        Binding("p", "repeat", "Repeat"),
        Binding("y", "answer('yes')", "Yes"),
        Binding("n", "answer('no')", "No"),
        Binding("up", "move(-1)", "Up"),
        Binding("down", "move(1)", "Down"),
        Binding("q", "quit", "Leave"),
    ]

    def __init__(
        self, station: Station, live: LiveChallenge, speech: Speech, speaker: Speaker, *, person: str | None = None
    ) -> None:
        super().__init__()
        self.station, self.live, self.speech, self.speaker, self.person = station, live, speech, speaker, person
        self.state: dict[str, Any] = {}
        self.cursor = 0
        self.voice = True
        self.last_words = ""
        self._said = ""
        self._phase = ""
        self._alarm_at = 0.0
        self._alive_at = 0.0

    def compose(self) -> ComposeResult:
        """Lay out."""
        yield Static(id="head")
        with Vertical(id="top"):
            yield Static(id="sentence")
            yield Static(id="why")
        yield LiveChart(id="chart")
        yield Static(id="rows")
        yield Static(id="evidence")
        yield Static(id="numbers")
        yield Static(id="button")
        yield Static(id="said")
        yield Static(Text.from_markup(_KEYS), id="keys")

    async def on_mount(self) -> None:
        """Begin to look."""
        self._say_alive()
        await self.look()
        self.set_interval(TICK, self.look)

    # -- looking ----------------------------------------------------------------------------------------------------------
    def _say_alive(self) -> None:
        now = self.station.clock()
        if now - self._alive_at >= ALIVE:
            self._alive_at = now
            self.live.device_seen("terminal", "this terminal", self.person, role=None, watching=True, recording=True)

    async def look(self) -> None:
        """Move the challenge on and show it."""
        self._say_alive()
        try:
            await asyncio.to_thread(self.station.tick)
            self.state = await asyncio.to_thread(self.live.state, self.speech)
            history = await asyncio.to_thread(self.live.history, None, POINTS)
        except SteadfeedError as error:
            self.tell(error.message)
            return
        with contextlib.suppress(Exception):  # the screen is being taken down
            self.show(history)

    def tell(self, sentence: str) -> None:
        """Show what went wrong, in one sentence."""
        self.query_one("#said", Static).update(Text(sentence))

    def show(self, history: dict[str, Any]) -> None:
        """Show the state."""
        s = self.state
        if s["phase"] != self._phase:
            self._phase, self.cursor = s["phase"], 0
        alarm = s["alarm"]
        saved = s["saved"]
        watched = text_of(said("watched" if s["watched"] else "not watched"), self.speech)
        left = f"{s['title']} · {s['phase']}"
        right = (
            f"saved {saved['written']:,}"
            + (f" · waiting {saved['waiting']}" if saved["waiting"] else "")
            + f" · {watched}"
        )
        width = max(self.size.width - len(left) - len(right), 1)
        self.query_one("#head", Static).update(Text(left + " " * width + right))
        top = self.query_one("#top")
        top.set_class(alarm is not None, "alarm")
        sentence = s["sentence"]["text"]
        self.query_one("#sentence", Static).update(Text(sentence))
        self.query_one("#why", Static).update(Text(self._second_line()))
        rows = self._rows()
        self.query_one("#chart").display = rows is None
        self.query_one("#rows").display = rows is not None
        if rows is not None:
            self.query_one("#rows", Static).update(rows)
        else:
            self.query_one(LiveChart).show(history, s, self.speech)
        self.query_one("#evidence", Static).update(evidence_line(s, self.speech, self.size.width - 4))
        self.query_one("#numbers", Static).update(self._numbers())
        self._show_button()
        self._speak(sentence, alarm)

    def _second_line(self) -> str:
        s = self.state
        parts = [s["why"]["text"]] if s["why"] else []
        if s["time_left"] is not None:
            from steadfeed.visit.sentences import duration

            parts.append(duration(s["time_left"]))
        return "   ".join(parts)

    def _numbers(self) -> Text:
        text = Text()
        for number in self.state["numbers"]:
            value = number_text(number, self.speech)
            note = f"  {number['note']['text']}" if number["note"] else ""
            text.append(f"{number['label']['text']}  ", "#b9bec8")
            text.append(value, "bold")
            text.append(note + "\n", "#b9bec8")
        return text

    def _rows(self) -> Text | None:
        """Rows in place of the chart: the checklist, the proofs, the plan."""
        s = self.state
        rows = [*s["checks"], *s["ready"]] if s["phase"] in ("look and safe", "instruments") else []
        if s["phase"] == "plan":
            return plan_lines(s, self.speech)
        if not rows:
            return None
        self.cursor = min(max(self.cursor, 0), len(rows) - 1)
        text = Text()
        for k, row in enumerate(rows):
            state = row.get("answer") or row.get("state") or "?"
            sign = {"yes": "■", "proven": "■", "no": "✕", "failed": "✕", "skipped": "–"}.get(state, "○")
            style = "reverse" if k == self.cursor else ""
            text.append(f" {sign} {row['text']['text']:<48} {'' if state == '?' else state:<8}\n", style)
        text.append("\n y yes   n no   ↑ ↓ another row", "#b9bec8")
        return text

    def _show_button(self) -> None:
        button = self.state["button"]
        widget = self.query_one("#button", Static)
        if button is None:
            widget.update("")
            widget.set_class(True, "quiet")
            return
        ready = button["enabled"] and button["asked"]
        words = button["label"]["text"]
        if not button["enabled"] and button["instead"]:
            words = f"{button['instead']['text']}"
        widget.update(Text(f"Enter   {words}" if button["enabled"] else words))
        widget.set_class(not ready, "quiet")

    def _speak(self, sentence: str, alarm: dict[str, Any] | None) -> None:
        self.speaker.go_on()
        now = self.station.clock()
        if alarm is not None and alarm["urgent"] and now - self._alarm_at >= alarm["repeat"]:
            self._alarm_at = now
            self.bell()
            if self.voice:
                self.speaker.say(sentence, urgent=True)
        elif sentence != self._said and self.voice and alarm is None:
            self.speaker.say(sentence)
        self._said = sentence

    # -- doing ------------------------------------------------------------------------------------------------------------
    async def act(self, code: str, **fields: Any) -> None:
        """Do what a key says; a refusal is one sentence."""
        home = self.station.home_of(self.live.challenge_id)
        work = home.session("terminal", self.person)
        self.tell("")
        try:
            await asyncio.to_thread(self.live.act, work, str(uuid.uuid4()), code, **fields)
        except SteadfeedError as error:
            self.tell(error.message)
        await self.look()

    async def action_main(self) -> None:
        """The main key."""
        button = self.state.get("button")
        if button is None:
            return
        if not button["enabled"]:
            self.tell(button["instead"]["text"] if button["instead"] else "Not yet")
            return
        fields: dict[str, Any] = {"seen": self.state["phase"]}
        if button["cover"] is not None:
            fields["cover"] = button["cover"]
        if button["act"] == "back":
            fields["restored"] = True
        await self.act(button["act"], **fields)
        if self.live.guide.phase == "closed":
            self.last_words = "The challenge is closed."
            self.exit()

    async def action_restored(self) -> None:
        """The airflow is restored."""
        await self.act("airflow is restored")

    def action_abort(self) -> None:
        """Break off, with a reason that may be empty."""
        self.ask("Break off. Why?", {"reason": "reason (may be empty)"}, self._abort)

    async def _abort(self, given: dict[str, str]) -> None:
        await self.act("abort", reason=given["reason"] or None)

    def action_others(self) -> None:
        """Choose another way."""
        others = self.state.get("others") or []
        if not others:
            self.tell("There is no other way now.")
            return
        options = [(str(k), o["label"]["text"]) for k, o in enumerate(others)]
        self.ask("What else?", {}, self._other, options)

    async def _other(self, given: dict[str, str]) -> None:
        chosen = self.state["others"][int(given["choice"])]
        fields = {"reason": "reason"} if chosen["needs_reason"] else {}
        if chosen["act"] == "cover is on":
            fields = {"cover": "how much of the face is covered now, in %"}
        if chosen["act"] == "override":
            refusals = [
                r for r in (self.state["plan"] or {}).get("refusals", ()) if r["may_override"] and not r["overridden"]
            ]
            options = [(r["code"], r["text"]["text"]) for r in refusals]
            self.ask("Which refusal?", {}, self._which_refusal, options)
            return
        if not fields:
            extra = {"restored": False} if chosen["act"] == "back" else {}
            await self.act(chosen["act"], **extra)
            return

        async def done(lines: dict[str, str]) -> None:
            if "cover" in lines:
                try:
                    await self.act("cover is on", cover=min(max(float(lines["cover"].rstrip("% ")) / 100.0, 0.0), 1.0))
                except ValueError:
                    self.tell(f"“{lines['cover'][:20]}” is no number; write for example 50")
            else:
                await self.act(chosen["act"], reason=lines["reason"] or None)

        self.ask(chosen["label"]["text"], fields, done)

    async def _which_refusal(self, given: dict[str, str]) -> None:
        async def done(lines: dict[str, str]) -> None:
            await self.act("override", refusal=given["choice"], reason=lines["reason"] or None)

        self.ask("Set aside. Why?", {"reason": "reason"}, done)

    def action_mark(self) -> None:
        """Put a note on the chart."""
        self.ask("Mark: what?", {"text": "a few words"}, self._mark)

    async def _mark(self, given: dict[str, str]) -> None:
        work = self.station.home_of(self.live.challenge_id).session("terminal", self.person)
        try:
            await asyncio.to_thread(self.live.mark, work, str(uuid.uuid4()), "note", given["text"] or None)
        except SteadfeedError as error:
            self.tell(error.message)

    def action_row(self) -> None:
        """Type a row of readings."""
        from steadfeed.visit.live_words import channel_words

        names = self.state["hand_row"]["channels"] if self.state.get("hand_row") else self.live.tested.vital
        words = {name: f"{channel_words(name, self.speech)}   (empty: not read, = : unchanged)" for name in names}
        title = self.state["hand_row"]["what"]["text"] if self.state.get("hand_row") else "A row of readings"
        self.ask(title, words, self._row)

    async def _row(self, given: dict[str, str]) -> None:
        work = self.station.home_of(self.live.challenge_id).session("terminal", self.person)
        values = {name: text for name, text in given.items() if text and text != "="}
        same = [name for name, text in given.items() if text == "="]
        not_read = [name for name, text in given.items() if not text]
        try:
            _, questions = await asyncio.to_thread(
                self.live.row, work, str(uuid.uuid4()), values, same=same, not_read=not_read, speech=self.speech
            )
        except SteadfeedError as error:
            self.tell(error.message)
            return
        self.tell("  ".join(q["text"]["text"] for q in questions))
        await self.look()

    async def action_undo(self) -> None:
        """Take the last thing back."""
        undoable = self.state.get("undoable") or []
        if not undoable:
            self.tell("There is nothing to take back.")
            return
        work = self.station.home_of(self.live.challenge_id).session("terminal", self.person)
        try:
            await asyncio.to_thread(self.live.undo, work, undoable[-1]["id"])
        except SteadfeedError as error:
            self.tell(error.message)
        await self.look()

    def action_limits(self) -> None:
        """Show the limits and where each comes from."""
        from steadfeed.visit.live_words import limit_lines

        options = [(str(k), line) for k, line in enumerate(limit_lines(self.state, self.speech))]
        self.ask("Limits, and where they come from", {}, self._nothing, options)

    async def _nothing(self, given: dict[str, str]) -> None:
        return

    def action_channels(self) -> None:
        """Show what each series is taken for; confirm it or set it right."""
        from steadfeed.cli import live_channels

        series = live_channels.series_of(self.station, self.live, self.person)
        if not series:
            self.tell("No source has sent anything yet.")
            return

        async def chosen(given: dict[str, str]) -> None:
            if given["choice"] == live_channels.ALL:
                await self._map(live_channels.as_proposed(self.live, series))
                return
            one = series[int(given["choice"])]

            async def to(answer: dict[str, str]) -> None:
                await self._map(live_channels.with_one(self.live, one, answer["choice"]))

            self.ask(f"What is “{one['header']}”?", {}, to, live_channels.choices(one, self.live, self.speech))

        self.ask("What is what? Choose one to set it right", {}, chosen, live_channels.lines(series, self.speech))

    async def _map(self, rows: list[dict[str, Any]]) -> None:
        work = self.station.home_of(self.live.challenge_id).session("terminal", self.person)
        try:
            await asyncio.to_thread(lambda: self.live.set_channel_map(work, rows, remember=True))
            self.tell("Kept, and remembered as your own set.")
        except SteadfeedError as error:
            self.tell(error.message)
        await self.look()

    def action_voice(self) -> None:
        """Voice on or off."""
        self.voice = not self.voice
        if self.voice and not self.speaker.can_speak:
            self.tell("This system has no speech command.")
        else:
            self.tell("Voice on." if self.voice else "Voice off.")

    def action_repeat(self) -> None:
        """Say it again."""
        self.speaker.again()

    async def action_answer(self, answer: str) -> None:
        """Answer the row under the cursor."""
        rows = [*self.state.get("checks", ()), *self.state.get("ready", ())]
        if self.state.get("phase") not in ("look and safe", "instruments", "settle") or not rows:
            return
        row = rows[min(self.cursor, len(rows) - 1)]
        order = [*range(self.cursor + 1, len(rows)), *range(self.cursor)]
        open_rows = [k for k in order if not rows[k].get("answer") and rows[k].get("state", "not yet") == "not yet"]
        self.cursor = open_rows[0] if open_rows else self.cursor
        await self.act("answer", check=row["code"], answer=answer)

    def action_move(self, by: int) -> None:
        """Another row."""
        self.cursor += by

    def ask(
        self,
        title: str,
        fields: dict[str, str],
        then: Callable[[dict[str, str]], Any],
        options: list[tuple[str, str]] | None = None,
    ) -> None:
        """Ask, then do something with the answer."""

        def answered(given: dict[str, str] | None) -> None:
            if given is not None:
                self.run_worker(then(given), exclusive=False)

        self.push_screen(Ask(title, fields, options), answered)
