"""One practice: a person at a simulated unit, from the briefing to the score. Screens (terminal, web) stand on this.

Until the answer nothing of the truth can be had from it; after the answer nothing more can be done.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan, nan
from typing import TYPE_CHECKING, Any, Final

from steadfeed import units
from steadfeed.errors import FixInput, NotAllowed, SteadfeedError
from steadfeed.visit import practice
from steadfeed.visit.practice_score import Answer, Facts, ScoreLine, brier, is_right, score

if TYPE_CHECKING:
    from steadfeed.analysis.challenge import Judgement
    from steadfeed.circuit.equipment import System
    from steadfeed.circuit.verdict import Assessment
    from steadfeed.physics.properties import Curves
    from steadfeed.visit.practice import Briefing, Scenario

#: Minutes that putting an instrument in its place costs.
PLACING: Final[dict[str, float]] = {
    "suction_pressure": 1.5, "liquid_pressure": 1.5, "discharge_pressure": 1.5, "suction_line_temperature": 1.0,
    "liquid_line_temperature": 1.0, "evaporator_outlet_temperature": 3.0, "discharge_line_temperature": 1.0,
    "outdoor_air_temperature": 0.5, "return_air_dry_bulb": 1.0, "return_air_wet_bulb": 1.0,
    "supply_air_dry_bulb": 1.0, "supply_air_wet_bulb": 1.0, "compressor_current": 1.0, "fan_current": 1.0,
    "power": 1.0, "valve_steps": 2.0,
}  # fmt: skip
#: Places as people call them.
PLACES: Final[dict[str, str]] = {
    "suction_pressure": "Suction gauge on its port",
    "liquid_pressure": "Head gauge on the liquid port",
    "discharge_pressure": "Head gauge on the discharge port",
    "suction_line_temperature": "Clamp on the suction line",
    "liquid_line_temperature": "Clamp on the liquid line",
    "evaporator_outlet_temperature": "Clamp beside the bulb",
    "discharge_line_temperature": "Clamp on the discharge line",
    "outdoor_air_temperature": "Outdoor air, in the shade",
    "return_air_dry_bulb": "Return air, dry bulb",
    "return_air_wet_bulb": "Return air, wet bulb",
    "supply_air_dry_bulb": "Supply air, dry bulb",
    "supply_air_wet_bulb": "Supply air, wet bulb",
    "compressor_current": "Current clamp, compressor",
    "fan_current": "Current clamp, fan",
    "power": "Power meter",
    "valve_steps": "Service port of the valve",
}
#: Seconds that writing a row by hand takes.
ROW_TIME: Final = 15
#: Seconds until instruments show what was mended.
SETTLING: Final = 5
#: What may be answered, in order.
VERDICTS: Final = (
    "regulating", "fixed", "weak", "at its stop", "sticking", "hunting", "starving", "flooding", "undecided", "do not test",
)  # fmt: skip
_UNITS: Final = {
    "temperature": ("degF", "°F", 1), "temperature_difference": ("degF", "°F", 1), "pressure": ("psig", "psig", 0),
    "current": ("A", "A", 1),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spot:
    """Readings of one moment as the learner's own instruments give them. US units; None = not in place or no number."""

    suction: float | None
    head: float | None
    suction_line: float | None
    liquid_line: float | None
    evaporating: float | None
    condensing: float | None
    superheat: float | None
    subcooling: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What the answer was worth. judgements: steadfeed's own on the same log, one a circuit; empty when it could not."""

    answer: Answer
    facts: Facts
    lines: tuple[ScoreLine, ...]
    right: bool
    brier: float
    truth: Mapping[str, Any]
    judgements: tuple[Judgement, ...]
    why_not_judged: str
    log: str
    system: str

    @property
    def assessments(self) -> tuple[Assessment, ...]:
        """Steadfeed's assessments of the same log."""
        return tuple(j.assessment for j in self.judgements)

    def said(self) -> tuple[str, ...]:
        """What steadfeed says of the same log, a sentence a circuit."""
        if not self.judgements:
            return (f"Steadfeed could not judge this log: {self.why_not_judged}.",)
        return said_of(self.judgements, self.system)


class Practice:
    """A practice. scenario: its briefing is public, its truth is not. seed: hides which day it is. told: whether the
    scenario's name is shown (an instructor may hide it).
    """

    def __init__(self, scenario: Scenario, seed: int, *, told: bool = True) -> None:
        self._scenario = scenario
        self.seed = seed
        self.told = told
        self._played = practice.begin_played(scenario, seed)
        self._outcome: Outcome | None = None
        self.notes: list[tuple[float, str]] = []
        self._curves: Curves | None = None
        self._longest_cover = 0.0
        self._acts_done: list[str] = []
        self._trace: list[tuple[float, float, float, float]] = []

    # -- what may be seen ---------------------------------------------------------------------------------------------
    @property
    def briefing(self) -> Briefing:
        """What the learner is told."""
        return self._scenario.briefing

    @property
    def seconds(self) -> float:
        """Time since the arrival [s]."""
        return self._played.time

    @property
    def minutes(self) -> float:
        """Time since the arrival [min]."""
        return self._played.time / 60.0

    @property
    def running(self) -> bool:
        """Whether the compressor runs."""
        return self._played.running

    @property
    def tripped(self) -> bool:
        """Whether the high-pressure switch is open."""
        return self._played.tripped

    @property
    def called(self) -> bool:
        """Whether the thermostat was made to call."""
        return self._played.call > 0.0

    @property
    def cover(self) -> float:
        """Share of the face that is to be covered."""
        return self._played.wanted_cover

    @property
    def by_hand(self) -> bool:
        """Whether rows are written by hand."""
        return self._played.settings.kit.sampling == "by hand"

    @property
    def rows_written(self) -> int:
        """Rows written by hand in this log."""
        return len([m for m in self._played.rows_by_hand if m >= self._played.log_from])

    @property
    def set_aside(self) -> tuple[str, ...]:
        """What was set aside and must be put back."""
        return tuple(sorted(self._played.set_aside))

    @property
    def answered(self) -> bool:
        """Whether the answer was given."""
        return self._outcome is not None

    def places(self) -> tuple[tuple[str, str, float, bool], ...]:
        """Places for instruments: (channel, words, minutes, whether one is there)."""
        return tuple((c, PLACES[c], PLACING[c], c in self._played.placed) for c in self._played.channels())

    def shown(self, channel: str) -> str:
        """What an instrument shows, with its unit; "" when it is not in place or shows nothing."""
        value = self._played.reading(channel)
        if isnan(value):
            return ""
        column = self._played.column(channel)
        unit = {"degF": "°F", "degC": "°C"}.get(column.header_unit, column.header_unit)
        digits = 0 if column.header_unit in ("kPag", "W", "") else 1
        return f"{value:.{digits}f} {unit}".strip()

    def spot(self) -> Spot:
        """Superheat and subcooling that the learner's instruments and the refrigerant on the plate give now."""
        low = self._si("suction_pressure")
        high = self._si("liquid_pressure") or self._si("discharge_pressure")
        suction, liquid = self._si("suction_line_temperature"), self._si("liquid_line_temperature")
        curves = self.curves()
        evaporating = condensing = None
        try:
            evaporating = None if low is None else curves.dew_temperature(low)
            condensing = None if high is None else curves.bubble_temperature(high)
        except SteadfeedError:
            pass

        def fahrenheit(kelvin: float | None) -> float | None:
            return None if kelvin is None else units.from_si(kelvin, "degF", "temperature")

        def difference(a: float | None, b: float | None) -> float | None:
            return None if a is None or b is None else (a - b) * 1.8

        air = self._played.plant.surroundings.atmosphere

        def gauge(pascal: float | None) -> float | None:
            return None if pascal is None else units.from_si(pascal, "psig", "pressure", air)

        return Spot(
            gauge(low), gauge(high), fahrenheit(suction), fahrenheit(liquid), fahrenheit(evaporating),
            fahrenheit(condensing), difference(suction, evaporating), difference(condensing, liquid),
        )  # fmt: skip

    def trace(self) -> list[tuple[float, float, float, float]]:
        """Every second so far as the instruments in place gave it: (suction psig, head psig, superheat °F, subcooling °F)."""
        return self._trace

    def marks(self) -> list[tuple[int, str]]:
        """What the learner did when, as (second of `trace`, word)."""
        words = {"start": "start", "push": "push", "restore": "restored", "standstill": "stopped", "trip": "TRIPPED"}
        return [(int(e.time), words[e.what]) for e in self._played.events if e.what in words]

    def ceiling(self) -> float | None:
        """Head pressure not to be passed [psig], where the switch is known from the plate; else None."""
        if not self._scenario.settings.known.switch_known:
            return None
        return units.from_si(self._played.ceiling(), "psig", "pressure", self._played.plant.surroundings.atmosphere)

    def acts(self) -> tuple[tuple[str, str, float, str], ...]:
        """What can be measured, looked at, mended, set aside: (name, label, minutes, kind)."""
        return tuple((name, act.label, act.minutes, act.kind) for name, act in practice.acts().items())

    def causes(self) -> tuple[tuple[str, str], ...]:
        """Causes to choose from, with a line for each."""
        return tuple(practice.causes().items())

    def curves(self) -> Curves:
        """Curves of the refrigerant on the plate."""
        if self._curves is None:
            from steadfeed.physics.properties import curves

            self._curves = curves(self.briefing.refrigerant)
        return self._curves

    def _now(self) -> tuple[float, float, float, float]:
        s = self.spot()
        values = (nan if v is None else v for v in (s.suction, s.head, s.superheat, s.subcooling))
        suction, head, superheat, subcooling = values
        return suction, head, superheat, subcooling

    def _si(self, channel: str) -> float | None:
        value = self._played.reading(channel)
        if isnan(value):
            return None
        unit = self._played.column(channel).header_unit
        kind = "pressure" if channel.endswith("pressure") else "temperature"
        return units.to_si(value, unit, kind, self._played.plant.surroundings.atmosphere)

    # -- what may be done ---------------------------------------------------------------------------------------------
    def wait(self, seconds: int) -> None:
        """Let time go by."""
        self._open()
        for _ in range(seconds):
            was = self._played.tripped
            self._played.advance(1)
            self._trace.append(self._now())
            if self._played.tripped and not was:
                self.note("The high-pressure switch has tripped.")

    def place(self, channel: str) -> str:
        """Put an instrument in its place; costs minutes. Returns what was done."""
        self._open()
        if channel not in self._played.channels():
            raise FixInput(f"There is no place called {channel} here", where=channel)
        if channel in self._played.placed:
            return self.note(f"{PLACES[channel]}: is there already.")
        self._played.place(channel)
        self.wait(round(PLACING[channel] * 60.0))
        return self.note(f"{PLACES[channel]}: in place.")

    def act(self, name: str) -> str:
        """Measure, look, mend or set aside; costs minutes. Returns what was found."""
        self._open()
        acts = practice.acts()
        if name not in acts:
            raise FixInput(f"There is no act called {name}; there are {', '.join(acts)}", where=name)
        act = acts[name]
        self.wait(round(act.minutes * 60.0))
        found = act.does(self._played)
        self._acts_done.append(name)
        self.wait(SETTLING)
        numbers = ", ".join(f"{what} {self._written(value, kind)}" for what, value, kind in found.values)
        text = " ".join(part for part in (found.text, numbers) if part)
        return self.note(f"{act.label}: {text}")

    def _written(self, value: float, kind: str) -> str:
        unit, word, digits = _UNITS[kind]
        air = self._played.plant.surroundings.atmosphere
        return f"{units.from_si(value, unit, kind, air):.{digits}f} {word}"

    def start(self) -> None:
        """Let the thermostat call."""
        self._open()
        self._played.start()
        self.note("The thermostat calls.")

    def stop(self) -> None:
        """Take the call away."""
        self._open()
        self._played.stop()
        self.note("The thermostat is off.")

    def cover_to(self, share: float) -> None:
        """Cover a share of the face."""
        self._open()
        share = min(max(share, 0.0), 1.0)
        before = self._played.wanted_cover
        if abs(share - before) < 1e-6:
            return
        self._played.cover_to(share)
        self._longest_cover = max(self._longest_cover, share)
        self.note("The airflow is restored." if share == 0.0 else f"{share * 100:.0f} % of the face is covered.")

    def restore(self) -> None:
        """Take the cover off."""
        self.cover_to(0.0)

    def reset_switch(self) -> None:
        """Reset the high-pressure switch."""
        self._open()
        self._played.reset_switch()
        self.note("The reset of the high-pressure switch is pressed.")

    def write_row(self) -> str:
        """Read all instruments once and write a row down; takes a quarter of a minute."""
        self._open()
        self._played.write_row()
        text = self.note(f"Row {self.rows_written} written.")
        self.wait(ROW_TIME)
        return text

    def new_log(self) -> None:
        """Begin a new log: what was before is set aside."""
        self._open()
        self._played.new_log()
        self.note("A new log begins here.")

    def put_back(self) -> str:
        """Put back everything that was set aside; two minutes."""
        self._open()
        self.wait(120)
        words = self.set_aside
        self._played.set_aside.clear()
        return self.note(f"Put back: {', '.join(words)}." if words else "Nothing was set aside.")

    def note(self, text: str) -> str:
        """Write into the notebook. Returns the text."""
        self.notes.append((self._played.time, text))
        return text

    def texts(self) -> tuple[str, str]:
        """Log and system file so far, as text. They hold what the instruments showed, nothing of the truth."""
        if not self._played.states:
            raise FixInput("There is no log yet: let some time go by with instruments in place", where="log")
        return practice.texts_of(self._played.performed(), self._scenario)

    def _open(self) -> None:
        if self._outcome is not None:
            raise NotAllowed("This practice is answered; begin another")

    # -- the answer ---------------------------------------------------------------------------------------------------
    def answer(self, answer: Answer) -> Outcome:
        """Give the answer; only now the truth is told, and steadfeed judges the same log."""
        self._open()
        if answer.verdict not in VERDICTS:
            raise FixInput(f"A verdict is one of {', '.join(VERDICTS)}, not {answer.verdict}", where="verdict")
        if answer.cause not in practice.causes():
            raise FixInput(f"A cause is one of {', '.join(practice.causes())}, not {answer.cause}", where="cause")
        if not self._played.states:
            self._played.advance(1)
        done = self._played.performed()
        facts = self._facts(done)
        log, system = practice.texts_of(done, self._scenario)
        judgements, why = _judged(log, system)
        hidden = self._scenario.hidden
        truth = {
            "scenario": self._scenario.name, "title": self._scenario.title, "text": hidden.text, "lesson": hidden.lesson,
            "answers": list(hidden.answers), "causes": list(hidden.causes), "why_not": hidden.why_not,
        }  # fmt: skip
        self._outcome = Outcome(
            answer, facts, score(answer, facts), is_right(answer, facts), brier(answer, facts), truth, judgements, why,
            log, system,
        )  # fmt: skip
        return self._outcome

    @property
    def outcome(self) -> Outcome:
        """The outcome. Raises NotAllowed before the answer."""
        if self._outcome is None:
            raise NotAllowed("The truth is told after the answer")
        return self._outcome

    def _facts(self, done: Any) -> Facts:
        played, hidden = self._played, self._scenario.hidden
        truth = practice.truth_of_run(done)
        rise = truth.numbers.get("true_push_condensing_degF", 0.0)
        reasons = list(truth.reasons)
        vital = {"suction_pressure", "suction_line_temperature", "liquid_line_temperature"}
        head = {"liquid_pressure", "discharge_pressure"} & set(played.placed)
        if not vital <= set(played.placed) or not head:
            reasons.append("channel missing")
        not_back = list(self.set_aside)
        if played.wanted_cover > 0.0:
            not_back.insert(0, "cover")
        why_not = "" if "fan control" in played.set_aside or self._was_set_aside("fan control") else hidden.why_not
        return Facts(
            answers=hidden.answers, causes=hidden.causes, why_not=why_not, acceptable=truth.acceptable,
            valid=not reasons, reasons=tuple(reasons), pushed=0.0 if isnan(rise) else max(rise, 0.0), trips=played.trips,
            past_ceiling=played.past_ceiling, minutes=self.minutes, good_minutes=self._scenario.minutes,
            not_back=tuple(not_back),
        )  # fmt: skip

    def _was_set_aside(self, what: str) -> bool:
        return what in self._acts_done


def said_of(judgements: tuple[Judgement, ...], system_text: str) -> tuple[str, ...]:
    """Headline of each judgement, with its circuit when there are several."""
    from steadfeed.capture.system_file import parse_system
    from steadfeed.reports.sentences import headline

    system = parse_system(system_text, "the system file of this practice")
    out = []
    for j in judgements:
        prefix = f"Circuit {j.assessment.circuit}: " if len(judgements) > 1 else ""
        out.append(prefix + headline(j.assessment, system, "us"))
    return tuple(out)


def _judged(log: str, system_text: str) -> tuple[tuple[Judgement, ...], str]:
    """Judge the played log as any log. Returns the judgements, or why there are none."""
    from steadfeed.analysis.challenge import judge
    from steadfeed.capture.logs import parse_log
    from steadfeed.capture.system_file import parse_system
    from steadfeed.physics.properties import curves

    try:
        system: System = parse_system(system_text, "the system file of this practice")
        recordings = parse_log(log.encode(), "the log of this practice", system)
        known = curves(system.refrigerant or "")
        return tuple(judge(r, system, known) for r in recordings), ""
    except SteadfeedError as error:
        return (), error.message
