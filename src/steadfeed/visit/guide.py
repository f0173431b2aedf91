"""The guided challenge as an explicit state machine: pure, told the time and the facts, told again what happened.

A guide is what its journal makes of it. `advance` says what the data move, `act` what a person's tap does; both only
return events. `apply` is the one place where an event changes the guide, live and when a journal is read again after a
crash, so that both end in the same state. Words for people are in guide_screen.py, what must hold in guide_steps.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from steadfeed.errors import FixInput, NotAllowed

if TYPE_CHECKING:
    from steadfeed.visit.guide_steps import Facts

PHASES: Final = (
    "complaint", "look and safe", "instruments", "standing", "start", "settle", "baseline", "plan", "push", "hold",
    "restore", "recovery", "standstill", "result", "put back", "closed",
)  # fmt: skip
#: Phases in which something restricts the air.
PUSHING: Final = ("push", "hold")
#: Phases in which the compressor is meant to run.
RUNNING: Final = ("settle", "baseline", "plan", "push", "hold", "restore", "recovery")
#: Acts that are taken while the question “Is the airflow restored?” stands.
WHILE_AWAY: Final = ("back", "abort", "airflow is restored", "compressor is stopped", "take role")
#: How long a tap can be taken back [s].
UNDO_SECONDS: Final = 30.0


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the journal. at [s]; phase, cover: after it; why: its verb, then a code or the person's reason.

    id: of the person's act, None for what the data moved.
    """

    at: float
    phase: str
    cover: float
    why: str
    id: str | None = None

    @property
    def verb(self) -> str:
        """First words, up to the colon."""
        return self.why.partition(": ")[0]

    @property
    def rest(self) -> str:
        """What stands after the colon."""
        return self.why.partition(": ")[2]


@dataclass(frozen=True, slots=True)
class CoverMove:
    """A step of the cover. at [s]; before, after: share of the face."""

    at: float
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Guide:
    """Where a challenge stands.

    way: "instruments", "by hand" or "practice". wanted_checks: rows of the checklist for this unit. checks: row -> "yes"
    or "no". proofs: code -> "data", "hand" or "skipped". overridden: refusals set aside. steady_from: when the baseline
    began [s]. away_for: absence that was not answered yet [s]. enough: why the push can end, "" until then.
    stopped: the compressor stopped when it should run.
    """

    way: str = "instruments"
    mode: str = "cooling"
    device: str = "unknown"
    wanted_checks: tuple[str, ...] = ()
    start_cover: float = 0.0
    phase: str = "look and safe"
    since: float = 0.0
    began: float = 0.0
    cover: float = 0.0
    checks: Mapping[str, str] = field(default_factory=dict)
    proofs: Mapping[str, str] = field(default_factory=dict)
    overridden: tuple[str, ...] = ()
    found_running: bool = False
    on_at: float | None = None
    steady_from: float | None = None
    moves: tuple[CoverMove, ...] = ()
    push_at: float | None = None
    hold_at: float | None = None
    restored_at: float | None = None
    recovered_at: float | None = None
    off_at: float | None = None
    enough: str = ""
    enough_at: float | None = None
    aborted: bool = False
    stopped: bool = False
    away_for: float | None = None

    @property
    def pushing(self) -> bool:
        """Whether something restricts the air, as far as the guide was told."""
        return self.phase in PUSHING

    @property
    def finished(self) -> bool:
        """Whether nothing more is to be watched."""
        return self.phase in ("result", "put back", "closed")

    def past(self, phase: str) -> bool:
        """Whether the guide is further than a phase."""
        return PHASES.index(self.phase) > PHASES.index(phase)


def begin(
    now: float,
    *,
    way: str = "instruments",
    mode: str = "cooling",
    device: str = "unknown",
    wanted_checks: Iterable[str] = (),
    found_running: bool = False,
    start_cover: float = 0.0,
    complaint: bool = True,
) -> Guide:
    """Begin a challenge. complaint: whether the visit has one already."""
    return Guide(
        way=way,
        mode=mode,
        device=device,
        wanted_checks=tuple(wanted_checks),
        phase="look and safe" if complaint else "complaint",
        since=now,
        began=now,
        found_running=found_running,
        start_cover=start_cover,
        cover=start_cover,
    )


# -- events ---------------------------------------------------------------------------------------------------------------
def apply(g: Guide, e: Event) -> Guide:
    """Return the guide after an event."""
    if e.phase != g.phase:
        g = _enter(g, e)
    change = _CHANGES.get(e.verb)
    if change is not None:
        g = change(g, e)
    return replace(g, cover=e.cover)


def replay(g: Guide, events: Iterable[Event]) -> Guide:
    """Return the guide that a journal makes of a fresh one."""
    for event in events:
        g = apply(g, event)
    return g


def _enter(g: Guide, e: Event) -> Guide:
    g = replace(g, phase=e.phase, since=e.at)
    if e.phase == "start":
        return replace(g, stopped=e.rest == "it stopped")
    if e.phase == "settle":
        began = g.on_at if g.on_at is not None and not g.stopped else e.at
        return replace(g, steady_from=None, on_at=began, stopped=False)
    if e.phase == "baseline":
        return replace(g, steady_from=e.at)
    if e.phase == "push":
        return replace(g, push_at=g.push_at if g.push_at is not None else e.at)
    if e.phase == "hold":
        return replace(g, hold_at=g.hold_at if g.hold_at is not None else e.at)
    if e.phase == "restore":
        return replace(g, restored_at=e.at if e.verb in ("restored", "data", "back") else None)
    if e.phase == "recovery":
        return replace(g, recovered_at=e.at)
    if e.phase == "standstill":
        return replace(g, off_at=e.at)
    return g


def _answer(g: Guide, e: Event) -> Guide:
    check, _, answer = e.rest.rpartition(" ")
    return replace(g, checks={**g.checks, check: answer})


def _proved(g: Guide, e: Event) -> Guide:
    code, _, how = e.rest.rpartition(" ")
    return replace(g, proofs={**g.proofs, code: how})


def _override(g: Guide, e: Event) -> Guide:
    code = e.rest.partition(", ")[0]
    return replace(g, overridden=tuple(dict.fromkeys((*g.overridden, code))))


def _covered(g: Guide, e: Event) -> Guide:
    return replace(g, moves=(*g.moves, CoverMove(e.at, g.cover, e.cover)))


def _restored(g: Guide, e: Event) -> Guide:
    return replace(g, restored_at=e.at, away_for=None)


def _enough(g: Guide, e: Event) -> Guide:
    return replace(g, enough=e.rest, enough_at=e.at)


_CHANGES: Final[dict[str, Callable[[Guide, Event], Guide]]] = {
    "answer": _answer,
    "proved": _proved,
    "override": _override,
    "cover": _covered,
    "restored": _restored,
    "enough": _enough,
    "aborted": lambda g, e: replace(g, aborted=True),
    "unit is on": lambda g, e: replace(g, on_at=e.at),
    "was running": lambda g, e: replace(g, on_at=e.at, found_running=True),
    "compressor stopped": lambda g, e: replace(g, stopped=True, off_at=e.at),
    "away": lambda g, e: replace(g, away_for=float(e.rest)),
    "back": lambda g, e: replace(g, away_for=None, restored_at=e.at if e.rest == "restored" else g.restored_at),
}


# -- what the data move -----------------------------------------------------------------------------------------------------
def advance(g: Guide, f: Facts) -> tuple[Event, ...]:
    """Return what the data move now: proofs, the next phase, “enough evidence”."""
    from steadfeed.visit.guide_steps import step_by_data

    events: list[Event] = []
    if not g.finished:
        events += [
            Event(f.now, g.phase, g.cover, f"proved: {code} data")
            for code in f.proofs
            if g.proofs.get(code) not in ("data", "hand")
        ]
    if g.away_for is not None:
        return tuple(events)  # nothing moves before the question is answered
    if g.pushing and not g.enough and f.enough:
        events.append(Event(f.now, g.phase, g.cover, f"enough: {f.enough}"))
    found = step_by_data(g, f)
    if found is not None:
        phase, why = found
        cover = g.start_cover if phase in ("restore", "recovery") else g.cover
        events.append(Event(f.now, phase, cover, f"data: {why}"))
    return tuple(events)


def away(g: Guide, now: float, seconds: float) -> Event:
    """Return the event of an absence: nobody watched for so long."""
    return Event(now, g.phase, g.cover, f"away: {seconds:.0f}")


# -- what a person does -----------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Act:
    """A tap. See the API's Act for the fields."""

    id: str
    code: str
    at: float
    seen: str | None = None
    reason: str | None = None
    check: str | None = None
    answer: str | None = None
    cover: float | None = None
    refusal: str | None = None
    restored: bool | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a tap does. refused: why it was not done; the refusal is an event too."""

    events: tuple[Event, ...]
    refused: NotAllowed | None = None


def act(g: Guide, a: Act, f: Facts) -> Outcome:
    """Return what a tap does. Raises FixInput for a tap that lacks what it needs; a refusal is an outcome."""
    if a.code not in _ACTS:
        raise FixInput(f"No act is called “{a.code}”", code="unknown word", where="act")
    if g.phase == "closed" and a.code not in ("close",):
        return _refuse(g, a, "This challenge is closed")
    if g.away_for is not None and a.code not in WHILE_AWAY:
        return _refuse(g, a, "Say first whether the airflow is restored", "away")
    if a.seen is not None and a.seen != g.phase and a.code not in _ANY_PHASE:
        return _refuse(g, a, f"The challenge is past that: it is in “{g.phase}” now", "phase is over")
    return _ACTS[a.code](g, a, f)


#: Acts that mean the same whatever the screen showed.
_ANY_PHASE: Final = (
    "abort",
    "airflow is restored",
    "compressor is stopped",
    "back",
    "unit is off",
    "take role",
    "leave",
)


def _refuse(g: Guide, a: Act, sentence: str, code: str = "not now") -> Outcome:
    event = Event(a.at, g.phase, g.cover, f"refused: {a.code}, {sentence}", a.id)
    return Outcome((event,), NotAllowed(sentence, code=code))


def _event(g: Guide, a: Act, why: str, phase: str | None = None, cover: float | None = None) -> Outcome:
    return Outcome((Event(a.at, phase or g.phase, g.cover if cover is None else cover, why, a.id),))


def _hand(a: Act, what: str = "hand") -> str:
    return f"{what}: {a.reason.strip()}" if a.reason and a.reason.strip() else what


def _go_on(g: Guide, a: Act, f: Facts) -> Outcome:
    from steadfeed.visit.guide_steps import blocks, needs_reason, next_phase

    following = next_phase(g, f)
    if following is None:
        return _refuse(g, a, "There is nothing to go on to; use the main button")
    standing = blocks(g, f)
    hard = [b for b in standing if not b.by_reason]
    if hard:
        return _refuse(g, a, hard[0].sentence, hard[0].code)
    if (standing or needs_reason(g, f)) and not (a.reason and a.reason.strip()):
        what = standing[0].sentence if standing else "The data do not say so yet"
        return _refuse(g, a, f"{what}; going on by hand needs a reason", "needs reason")
    events: list[Event] = []
    if g.phase == "instruments":
        events += [
            Event(a.at, g.phase, g.cover, f"proved: {b.code} skipped") for b in standing if b.code not in g.proofs
        ]
    if following == "restore":
        return Outcome((*events, Event(a.at, following, g.start_cover, "restored", a.id)))
    return Outcome((*events, Event(a.at, following, g.cover, _hand(a), a.id)))


def _go_back(g: Guide, a: Act, f: Facts) -> Outcome:
    if not a.reason or not a.reason.strip():
        return _refuse(g, a, "Going back needs a reason", "needs reason")
    if g.phase in ("hold",):
        return _event(g, a, _hand(a), "push")
    if g.phase not in ("instruments", "standing", "start", "settle", "baseline", "plan", "put back"):
        return _refuse(g, a, "From here the way back is to restore the airflow")
    return _event(g, a, _hand(a), PHASES[PHASES.index(g.phase) - 1])


def _answer_check(g: Guide, a: Act, f: Facts) -> Outcome:
    from steadfeed.visit.guide_steps import PROOFS, RAN_LONG

    if a.check is None or a.answer not in ("yes", "no"):
        raise FixInput("An answer needs its row and yes or no", code="missing field", where="check")
    if a.check in PROOFS:
        if a.answer == "no":
            return _event(g, a, f"proved: {a.check} no")
        return _event(g, a, f"proved: {a.check} hand")
    if a.check not in g.wanted_checks and a.check != RAN_LONG:
        raise FixInput(f"The checklist has no row “{a.check}”", code="unknown word", where="check")
    return _event(g, a, f"answer: {a.check} {a.answer}")


def _unit_on(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.phase not in ("standing", "start"):
        return _refuse(g, a, "The unit is started after its standing pressures were read")
    return _event(g, a, "unit is on", "settle" if f.running or g.way == "by hand" else "start")


def _was_running(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.phase not in ("instruments", "standing", "start"):
        return _refuse(g, a, "The unit is known to run already")
    if f.running is False:
        return _refuse(g, a, "Both sides stand equal: the unit does not seem to run")
    return _event(g, a, "was running", "settle")


def _begin_push(g: Guide, a: Act, f: Facts) -> Outcome:
    from steadfeed.visit.guide_steps import blocks

    if g.phase != "plan":
        return _refuse(g, a, "The push begins after a steady baseline")
    standing = blocks(g, f)
    if standing:
        return _refuse(g, a, standing[0].sentence, standing[0].code)
    return _event(g, a, "push begins", "push")


def _cover_on(g: Guide, a: Act, f: Facts) -> Outcome:
    if not g.pushing:
        return _refuse(g, a, "Nothing is covered before the push begins")
    if a.cover is None:
        raise FixInput("How much of the face is covered now?", code="missing field", where="cover")
    if f.alarm in ("restore airflow", "stop compressor", "head silent") and a.cover > g.cover:
        return _refuse(g, a, "Restore the airflow: no more cover now", "alarm")
    return _event(g, a, "cover", cover=a.cover)


def _airflow_restored(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.pushing:
        return _event(g, a, "restored", "restore", g.start_cover)
    if g.phase == "restore":
        return _event(g, a, "restored", cover=g.start_cover)
    if g.away_for is not None:
        return _event(g, a, "back: restored", cover=g.start_cover)
    return _refuse(g, a, "Nothing is covered now")


def _abort(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.finished:
        return _refuse(g, a, "The test is over already")
    if g.pushing or g.phase == "restore":
        return _event(g, a, _hand(a, "aborted"), "restore")
    return _event(g, a, _hand(a, "aborted"), "put back")


def _unit_off(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.pushing:
        return _refuse(g, a, "Restore the airflow first", "restore first")
    if g.phase not in ("restore", "recovery", "standstill"):
        return _refuse(g, a, "The unit is switched off after the recovery; to end the test, break it off")
    if g.phase == "standstill":
        return _event(g, a, "unit off")
    return _event(g, a, "unit off", "standstill")


def _compressor_stopped(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.phase not in RUNNING:
        return _refuse(g, a, "The compressor is not known to run")
    return _event(
        g, a, "compressor stopped", "standstill" if g.pushing or g.phase in ("restore", "recovery") else "standing"
    )


def _back(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.away_for is None:
        return _refuse(g, a, "Nobody was away")
    if a.restored is None:
        raise FixInput("Is the airflow restored? Answer yes or no", code="missing field", where="restored")
    if a.restored and g.pushing:
        return _event(g, a, "back: restored", "restore", g.start_cover)
    return _event(g, a, "back: restored" if a.restored else "back: not restored")


def _override_refusal(g: Guide, a: Act, f: Facts) -> Outcome:
    from steadfeed.visit.guide_steps import blocks

    if not a.refusal:
        raise FixInput("Which refusal is set aside?", code="missing field", where="refusal")
    if not a.reason or not a.reason.strip():
        return _refuse(g, a, "Setting a refusal aside needs a reason", "needs reason")
    found = next((b for b in blocks(g, f) if b.code == a.refusal), None)
    if found is None:
        return _refuse(g, a, f"Nothing called “{a.refusal}” stands against it")
    if found.may_override is None:
        return _refuse(g, a, f"Nobody may set this aside: {found.sentence}", "not overridable")
    return _event(g, a, f"override: {a.refusal}, {a.reason.strip()}")


def _close(g: Guide, a: Act, f: Facts) -> Outcome:
    if g.pushing or g.phase == "restore":
        return _refuse(g, a, "Restore the airflow first", "restore first")
    return _event(g, a, _hand(a, "closed"), "closed")


def _nothing(g: Guide, a: Act, f: Facts) -> Outcome:
    return Outcome(())


_ACTS: Final[dict[str, Callable[[Guide, Act, Facts], Outcome]]] = {
    "go on": _go_on,
    "go back": _go_back,
    "answer": _answer_check,
    "unit is on": _unit_on,
    "unit was running": _was_running,
    "begin the push": _begin_push,
    "cover is on": _cover_on,
    "airflow is restored": _airflow_restored,
    "abort": _abort,
    "unit is off": _unit_off,
    "compressor is stopped": _compressor_stopped,
    "back": _back,
    "override": _override_refusal,
    "take role": _nothing,
    "leave": _nothing,
    "close": _close,
}
ACT_CODES: Final = tuple(_ACTS)
