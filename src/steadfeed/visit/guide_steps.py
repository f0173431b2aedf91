"""What must hold for each step of the guide, and what the data move. Pure.

Thresholds are those of the judgement's and the guard's criteria; the few of the guide alone stand here with their source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from steadfeed.visit.guide import PHASES, Guide
from steadfeed.visit.sentences import Said, said

if TYPE_CHECKING:
    from steadfeed.analysis.plan import Plan

F: Final = 5.0 / 9.0
_PRACTICE: Final = "common practice of the trade"

#: Least running before the baseline, by whom ever it was seen to run [s] (method.md §3, practice).
LEAST_RUNNING: Final = 300.0
#: Baseline that is waited for after the steady window [s] (practice: NIST work takes long windows, a person's hand is off).
BASELINE: Final = 60.0
#: Baseline rows by hand are at least this far apart [s] (method.md §3).
ROWS_APART: Final = 180.0
#: Hold rows by hand: after the head is up, at least [s] (method.md §3).
HOLD_ROWS: Final = (120.0, 240.0)
#: A step of the cover is looked at for at least this long [s] (simulated: half of a head's way is gone in 20–25 s), and
#: until the head climbs so slowly [K/s] (0.12 °F/s) that where it is going can be told.
STEP_WAIT: Final = 20.0
TELLING_RATE: Final = 0.12 * F
#: Climb below which the head counts as level [K/s] (0.05 °F/s).
LEVEL_RATE: Final = 0.05 * F
#: Part of the wanted rise from which the push holds.
ENOUGH_RISE: Final = 0.92
#: A rise too small to see a fall from [K].
SMALL_RISE: Final = 3.0
#: The head has fallen back by this part of its rise: the airflow is back.
FALLEN: Final = 0.5
#: Recovery before the stop [s] (method.md §4: baseline, push, recovery cancel a drift).
RECOVERY: Final = 180.0
#: Standstill that is watched [s].
STANDSTILL: Final = 120.0
#: Longest hold before the guide asks to restore whatever the evidence [s].
LONGEST_HOLD: Final = 480.0
#: How long the compressor must look stopped or running before it is believed [s].
SURE_RUNNING: Final = 8.0

#: What proves a sensor before the start. Each may also be proved by hand, or skipped with a reason.
PROOFS: Final = ("zero suction", "zero head", "ice suction line", "ice liquid line", "manifold shut")

#: Row that is asked while it settles, of a unit that was found running.
RAN_LONG: Final = "ran long"

#: Row of the checklist -> who may go on although the answer is no.
CHECKS: Final[dict[str, str | None]] = {
    "licensed": None,
    "protected": None,
    "no live lead": None,
    "weather": None,
    "switch in place": None,
    "not tripped": None,
    "no ice": None,
    "somebody restores": None,
    "taped": "technician",
    "gas safe": None,
    "fixed speed": "technician",
    "other circuit": None,
    "strips off": "technician",
}


def checks_for(*, flammable: bool, variable_speed: bool, other_circuits: bool, heating: bool) -> tuple[str, ...]:
    """Return the rows of the checklist for a unit, in the order of the walk round it."""
    rows = ["licensed", "protected", "weather", "no live lead", "switch in place", "not tripped", "no ice"]
    if flammable:
        rows.append("gas safe")
    if variable_speed:
        rows.append("fixed speed")
    if other_circuits:
        rows.append("other circuit")
    if heating:
        rows.append("strips off")
    return (*rows, "taped", "somebody restores")


def enough_rise(wanted: float, least: float) -> float:
    """Rise from which the push holds [K]: most of what is wanted, and surely more than the least that a test needs."""
    return max(ENOUGH_RISE * wanted, min(least + 0.6 * F, wanted))


@dataclass(frozen=True, slots=True)
class HandRow:
    """A row of the hand pad. at [s]; number: of the protocol; whole: all four readings are there; condensing [K]."""

    at: float
    number: int | None
    whole: bool
    condensing: float | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known at one moment. now [s].

    running: None when not known; sure_since: from when it is known [s]. steady_since [s]. condensing, superheat,
    subcooling: over the last seconds [K]; rate: of the condensing temperature [K/s]; base: condensing temperature of the
    baseline [K]; peak: highest of the push [K]. wanted, least: rise [K]. next_cover: the next step, None when there is none.
    enough: why the push can end. proofs: by data. missing: vital channels that nothing feeds. silent: those that are silent;
    frozen: those that repeat themselves. moved: vital channels that an event moved. alarm: code, "" for none. sides_moved:
    both pressures moved since the stop. verdict: of the readings so far.
    """

    now: float
    running: bool | None = None
    sure_since: float = 0.0
    steady_since: float | None = None
    condensing: float | None = None
    superheat: float | None = None
    subcooling: float | None = None
    rate: float | None = None
    base: float | None = None
    peak: float | None = None
    wanted: float | None = None
    least: float | None = None
    next_cover: float | None = None
    enough: str = ""
    proofs: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    frozen: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    alarm: str = ""
    sides_moved: bool = False
    verdict: str = "undecided"
    rows: tuple[HandRow, ...] = ()
    plan: Plan | None = None
    open_overrides: tuple[str, ...] = ()
    labels: Mapping[str, str] = field(default_factory=dict)

    @property
    def rise(self) -> float | None:
        """Condensing rise over the baseline [K]."""
        return None if self.condensing is None or self.base is None else self.condensing - self.base

    def sure(self, running: bool) -> bool:
        """Whether the compressor has looked so for long enough."""
        return self.running is running and self.now - self.sure_since >= SURE_RUNNING


@dataclass(frozen=True, slots=True)
class Block:
    """Something that stands against going on. sentence: for logs and errors; words: for screens.

    may_override: who may set it aside; None: nobody. by_reason: going on with a reason sets it aside.
    """

    code: str
    sentence: str
    words: Said
    source: str = "docs/method.md"
    criterion: str | None = None
    may_override: str | None = None
    by_reason: bool = False


# -- what stands against it -------------------------------------------------------------------------------------------------
def blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    """Return what stands against leaving this phase, the most pressing first; what was set aside is left out."""
    look = _BLOCKS.get(g.phase)
    found = look(g, f) if look is not None else ()
    return tuple(b for b in found if b.code not in g.overridden)


def _check_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    out = []
    for check in g.wanted_checks:
        answer = g.checks.get(check)
        if answer == "no":
            text = f"The answer to “{check}” is no: the test must not begin"
            out.append(Block(check, text, said(f"check.{check}.no"), may_override=CHECKS[check]))
    unanswered = [check for check in g.wanted_checks if check not in g.checks]
    if unanswered:
        text = f"{len(unanswered)} rows of the checklist are not answered"
        out.append(Block("checklist", text, said("fix.checklist", count=len(unanswered))))
    return tuple(out)


def _instrument_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    out = []
    if f.missing:
        text = f"Nothing feeds {', '.join(channel.replace('_', ' ') for channel in f.missing)}"
        words = said("fix.channel missing", channel=f"channel.{f.missing[0]}")
        out.append(Block("channel map", text, words))
    for code in PROOFS:
        if g.proofs.get(code) not in ("data", "hand", "skipped"):
            text = f"Not proved: {code}"
            out.append(Block(code, text, said(f"proof.{code}.fix"), may_override="technician", by_reason=True))
    return tuple(out)


def _start_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    if g.phase == "start" and not f.running and g.way != "by hand":
        return (Block("not running", "The head does not climb yet", said("fix.not running"), by_reason=True),)
    return ()


def _settle_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    out = []
    ran = f.now - g.on_at if g.on_at is not None else 0.0
    if ran < LEAST_RUNNING and g.checks.get(RAN_LONG) != "yes":
        text = "It has not run five minutes"
        words = said("fix.run five")
        out.append(Block("least running", text, words, _PRACTICE, "least_running_seconds"))
    if g.way == "by hand":
        if g.phase == "baseline":
            out += _baseline_row_blocks(g, f)
    elif f.steady_since is None:
        text = "The readings are not steady yet"
        out.append(Block("not steady", text, said("fix.not steady"), by_reason=True, criterion="steady_condensing"))
    return tuple(out)


def _baseline_row_blocks(g: Guide, f: Facts) -> list[Block]:
    whole = [row for row in f.rows if row.whole and row.at >= (g.on_at or g.began)]
    whole = [row for row in whole if g.push_at is None or row.at < g.push_at]
    if len(whole) >= 2 and whole[-1].at - whole[-2].at >= ROWS_APART:
        return []
    text = "Two rows are needed before the push, three minutes apart"
    return [Block("baseline rows", text, said("fix.baseline rows"), by_reason=True)]


def _plan_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    out = [*_instrument_vital(g, f)]
    if f.plan is None:
        return (*out, Block("no plan", "The plan needs the four readings", said("fix.no plan")))
    for one in f.plan.refusals:
        may = None if one.override == "nobody" else "technician"
        code = one.code
        out.append(Block(one.code, one.text, said(f"refusal.{code}"), one.source, None, may))
    return tuple(out)


def _instrument_vital(g: Guide, f: Facts) -> list[Block]:
    out = []
    for channel in f.missing:
        words = said("fix.channel missing", channel=f"channel.{channel}")
        out.append(Block("channel map", f"Nothing feeds {channel.replace('_', ' ')}", words))
    for channel in f.silent:
        words = said("fix.silent", channel=f"channel.{channel}")
        out.append(Block(f"silent {channel}", f"{channel.replace('_', ' ')} is silent", words))
    for channel in f.frozen:
        words = said("fix.frozen", channel=f"channel.{channel}")
        text = f"{channel.replace('_', ' ')} repeats itself: is it alive?"
        out.append(
            Block(f"frozen {channel}", text, words, _PRACTICE, "frozen_gauge_seconds", may_override="technician")
        )
    for channel in vital(f):
        if not proven(g, f, channel):
            words = said("fix.not proven", channel=f"channel.{channel}")
            text = f"{channel.replace('_', ' ')} is not proven alive"
            out.append(Block(f"proof {channel}", text, words, may_override="technician"))
    return out


def vital(f: Facts) -> tuple[str, ...]:
    """Return the vital channels of this test by the names they have here."""
    return tuple(f.labels) or (
        "suction_pressure",
        "liquid_pressure",
        "suction_line_temperature",
        "liquid_line_temperature",
    )


_PROOF_OF: Final = {
    "suction_pressure": "zero suction",
    "liquid_pressure": "zero head",
    "discharge_pressure": "zero head",
    "suction_line_temperature": "ice suction line",
    "liquid_line_temperature": "ice liquid line",
}


def proven(g: Guide, f: Facts, channel: str) -> bool:
    """Whether something that had to move a channel moved it, or its zero or ice was seen."""
    return channel in f.moved or g.proofs.get(_PROOF_OF.get(channel, "")) in ("data", "hand")


def _recovery_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    if g.restored_at is not None and f.now - g.restored_at < RECOVERY:
        return (Block("recovery", "The recovery takes three minutes", said("fix.recovery"), by_reason=True),)
    return ()


def _standstill_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    out = []
    if g.off_at is not None and f.now - g.off_at < STANDSTILL:
        text = "Both sides are watched for two minutes"
        out.append(Block("standstill", text, said("fix.standstill"), by_reason=True))
    if not f.sides_moved and g.way != "by hand":
        out.append(Block("sides", "Both sides have not moved yet", said("fix.sides"), by_reason=True))
    return tuple(out)


def _put_back_blocks(g: Guide, f: Facts) -> tuple[Block, ...]:
    return tuple(
        Block(f"put back {what}", f"{what} is not put back", said("fix.put back", what=f"aside.{what}"))
        for what in f.open_overrides
    )


_BLOCKS: Final[dict[str, Callable[[Guide, Facts], tuple[Block, ...]]]] = {
    "look and safe": _check_blocks,
    "instruments": _instrument_blocks,
    "start": _start_blocks,
    "settle": _settle_blocks,
    "baseline": _settle_blocks,
    "plan": _plan_blocks,
    "recovery": _recovery_blocks,
    "standstill": _standstill_blocks,
    "put back": _put_back_blocks,
}


# -- where it goes ----------------------------------------------------------------------------------------------------------
def next_phase(g: Guide, f: Facts) -> str | None:
    """Return the phase that “go on” leads to; None where another button does that."""
    if g.phase == "instruments" and (g.found_running or f.sure(True)):
        return "settle"
    if g.phase in ("plan", "push", "closed"):
        return "hold" if g.phase == "push" else None
    return PHASES[PHASES.index(g.phase) + 1]


def needs_reason(g: Guide, f: Facts) -> bool:
    """Whether going on now needs a reason: the data have not said that the phase is done."""
    if g.way == "by hand":
        return g.phase == "restore" and g.restored_at is None
    if g.phase == "push":
        return f.rise is None or f.least is None or f.rise < f.least
    if g.phase == "hold":
        return not f.enough and not g.enough
    if g.phase == "baseline":
        return f.now - g.since < BASELINE
    return g.phase == "restore" and not _head_fell(g, f)


def _head_fell(g: Guide, f: Facts) -> bool:
    if f.condensing is None or f.peak is None or f.base is None:
        return False
    rise = f.peak - f.base
    if rise <= SMALL_RISE:  # hardly anything to fall from: it must only not climb
        level = f.rate is not None and f.rate < LEVEL_RATE
        return level and g.restored_at is not None and f.now - g.restored_at >= STEP_WAIT
    return f.peak - f.condensing >= max(FALLEN * rise, 1.5)


def step_by_data(g: Guide, f: Facts) -> tuple[str, str] | None:
    """Return (next phase, why) when the data move the guide, else None."""
    move = _MOVES.get(g.phase)
    return None if move is None else move(g, f)


def _from_standing(g: Guide, f: Facts) -> tuple[str, str] | None:
    return ("settle", "it runs") if f.sure(True) else None


def _from_settle(g: Guide, f: Facts) -> tuple[str, str] | None:
    if f.sure(False) and f.now - g.since > 60.0:
        return "start", "it stopped"
    if not blocks(g, f) and g.way != "by hand":
        return "baseline", "steady"
    return None


def _from_baseline(g: Guide, f: Facts) -> tuple[str, str] | None:
    if f.sure(False):
        return "start", "it stopped"
    if g.way == "by hand":
        return None
    if f.steady_since is None:
        # one unquiet window is noise; a settled unit that drifts for half a minute is not settled
        return ("settle", "no longer steady") if f.now - g.since > 30.0 and "not steady" not in g.overridden else None
    return ("plan", "baseline is there") if f.now - g.since >= BASELINE else None


def _from_plan(g: Guide, f: Facts) -> tuple[str, str] | None:
    return ("start", "it stopped") if f.sure(False) else None


def _from_push(g: Guide, f: Facts) -> tuple[str, str] | None:
    if _back_unasked(g, f):
        return "recovery", "head fell back"
    if f.rise is None or f.wanted is None:
        return None
    if g.way == "by hand":
        read = bool(g.moves) and bool(f.rows) and f.rows[-1].at > g.moves[-1].at
        return ("hold", "head is up") if read and f.rise >= enough_rise(f.wanted, f.least or 0.0) else None
    if f.rise >= f.wanted:
        return "hold", "head is up"
    level = f.rate is not None and abs(f.rate) < LEVEL_RATE
    waited = bool(g.moves) and f.now - g.moves[-1].at >= STEP_WAIT
    if f.rise >= enough_rise(f.wanted, f.least or 0.0) and level:
        return "hold", "head is up and level"
    if waited and level and f.next_cover is None and f.least is not None and f.rise >= f.least:
        return "hold", "no more room"
    return None


def _back_unasked(g: Guide, f: Facts) -> bool:
    """The head fell back by half of a real rise while nobody said so: the cover is off."""
    if f.peak is None or f.base is None or f.condensing is None or f.rate is None or f.running is False:
        return False
    rise = f.peak - f.base
    return rise > 5.0 and f.peak - f.condensing > FALLEN * rise and g.cover <= g.start_cover + 0.01


def _from_hold(g: Guide, f: Facts) -> tuple[str, str] | None:
    if f.peak is None or f.base is None or f.condensing is None or f.running is False:
        return None
    rise = f.peak - f.base
    if rise > 5.0 and f.peak - f.condensing > 0.6 * rise:
        return "recovery", "head fell back"
    return None


def _from_restore(g: Guide, f: Facts) -> tuple[str, str] | None:
    if f.sure(False) and g.restored_at is not None:
        return "standstill", "it stopped"
    if g.restored_at is not None and _head_fell(g, f):
        return "recovery", "head fell: verified"
    return None


def _from_recovery(g: Guide, f: Facts) -> tuple[str, str] | None:
    return ("standstill", "it stopped") if f.sure(False) else None


def _from_standstill(g: Guide, f: Facts) -> tuple[str, str] | None:
    if g.way == "by hand":
        return None
    return None if blocks(g, f) else ("result", "both sides moved")


_MOVES: Final[dict[str, Callable[[Guide, Facts], tuple[str, str] | None]]] = {
    "standing": _from_standing,
    "start": _from_standing,
    "settle": _from_settle,
    "baseline": _from_baseline,
    "plan": _from_plan,
    "push": _from_push,
    "hold": _from_hold,
    "restore": _from_restore,
    "recovery": _from_recovery,
    "standstill": _from_standstill,
}


# -- how long ---------------------------------------------------------------------------------------------------------------
#: What each phase takes [s] when nothing hinders (method.md §3; practice).
USUAL: Final = {
    "complaint": 60.0, "look and safe": 120.0, "instruments": 240.0, "standing": 60.0, "start": 30.0, "settle": 600.0,
    "baseline": 60.0, "plan": 30.0, "push": 150.0, "hold": 180.0, "restore": 30.0, "recovery": 180.0, "standstill": 120.0,
}  # fmt: skip
GUIDED_SETTLE: Final = 600.0


def time_left(g: Guide, f: Facts) -> float | None:
    """Return how long this phase will still take [s]; None when that hangs on the person."""
    if g.phase in ("settle",):
        ran = f.now - (g.on_at or g.since)
        return max(GUIDED_SETTLE - ran, LEAST_RUNNING - ran, 0.0)
    if g.phase == "baseline":
        return max(BASELINE - (f.now - g.since), 0.0)
    if g.phase == "hold":
        need = 210.0 if g.device == "eev" else 120.0
        return None if g.enough or f.enough else max(need + 30.0 - (f.now - (g.hold_at or g.since)), 0.0)
    if g.phase == "recovery" and g.restored_at is not None:
        return max(RECOVERY - (f.now - g.restored_at), 0.0)
    if g.phase == "standstill" and g.off_at is not None:
        return max(STANDSTILL - (f.now - g.off_at), 0.0)
    return None


def seconds_left(g: Guide, f: Facts) -> float:
    """Return what the whole challenge will still take [s]."""
    if g.finished:
        return 0.0
    at = PHASES.index(g.phase)
    own = time_left(g, f)
    left = own if own is not None else max(USUAL.get(g.phase, 0.0) - (f.now - g.since), 15.0)
    return left + sum(USUAL.get(phase, 0.0) for phase in PHASES[at + 1 :])


#: Useful work while it settles, by sentence code.
WORK: Final = ("work.filter", "work.split", "work.amps", "work.drain", "work.bulb")

#: The seven rows by hand: phase -> (first row, last row).
HAND_ROWS: Final = {
    "standing": (1, 1), "settle": (2, 2), "baseline": (2, 3), "plan": (3, 3), "hold": (4, 5),
    "restore": (6, 6), "recovery": (6, 6), "standstill": (7, 7),
}  # fmt: skip
HAND_ROWS_OF: Final = 7


def hand_row(g: Guide, f: Facts) -> tuple[int, float | None] | None:
    """Return (number of the row that is due, seconds until it is), None where none is due in this phase."""
    span = HAND_ROWS.get(g.phase)
    if span is None:
        return None
    taken = {row.number for row in f.rows if row.whole}
    number = next((n for n in range(span[0], span[1] + 1) if n not in taken), None)
    if number is None:
        return None
    return number, _due(number, g, f)


def _due(number: int, g: Guide, f: Facts) -> float | None:
    at = {row.number: row.at for row in f.rows if row.whole}
    if number == 2 and g.on_at is not None:
        return max(LEAST_RUNNING - (f.now - g.on_at), 0.0)
    if number == 3 and 2 in at:
        return max(ROWS_APART - (f.now - at[2]), 0.0)
    if number in (4, 5) and g.phase == "hold" and g.hold_at is not None:
        return max(HOLD_ROWS[number - 4] - (f.now - g.hold_at), 0.0)
    if number == 6 and g.restored_at is not None:
        return max(RECOVERY - (f.now - g.restored_at), 0.0)
    if number == 7 and g.off_at is not None:
        return max(STANDSTILL - (f.now - g.off_at), 0.0)
    return 0.0
