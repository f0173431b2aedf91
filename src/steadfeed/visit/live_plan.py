"""The plan of a running challenge: what the baseline was, how far to push, the next step of the cover. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from steadfeed.analysis import guard as guarding
from steadfeed.analysis.criteria import limit
from steadfeed.analysis.plan import CoverStep, OtherCircuit, Plan, _next_cover, plan
from steadfeed.analysis.plan_conduct import Circumstances
from steadfeed.analysis.spot import SpotReadings, evaluate
from steadfeed.visit.guide import Guide
from steadfeed.visit.guide_steps import STEP_WAIT, TELLING_RATE, enough_rise
from steadfeed.visit.sentences import Said, said

if TYPE_CHECKING:
    from steadfeed.visit.circuit_watch import CircuitWatch

#: The push is aimed so far below the ceiling where there is room for it [K] (4 °F): a head goes on creeping in the hold.
BELOW_CEILING: Final = 4.0 / 1.8
#: ... but never so near [K] (1.5 °F), and where it can be, so much more than the least that a test needs [K] (1.5 °F).
NEAREST: Final = 1.5 / 1.8
ABOVE_LEAST: Final = 1.5 / 1.8
#: A step of the cover that is not sized from another one waits no longer than this for the head to stand still [s].
LONGEST_WAIT: Final = 75.0
#: A head that climbs still has about its climb in so many seconds before it [s] (bench: time constant of a condenser); more
#: is assumed where the aim is near the ceiling.
STILL_TO_COME: Final = 28.0
STILL_TO_COME_NEAR: Final = 40.0
#: The aim of the push is not near the ceiling when so much lies between them [K] (6 °F).
ROOMY: Final = 6.0 / 1.8
#: Parts in which a person covers a coil (own choice).
STEP: Final = 0.05
#: Channels that a plan looks at beside the four.
_OTHERS: Final = (
    "discharge_line_temperature", "outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb",
    "supply_air_dry_bulb", "compressor_current",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Base:
    """The baseline: means of its window [K]; head, suction absolute [Pa]; at: its end [s]; seconds: its length."""

    at: float
    seconds: float
    condensing: float
    evaporating: float
    superheat: float
    subcooling: float
    head: float
    suction: float


def base_of(watch: CircuitWatch, until: float, seconds: float) -> Base | None:
    """Return the baseline as the readings of so many seconds until a moment; None while they are not there."""
    rows = watch.rows(until - seconds, until)
    if watch.by_hand_rows:  # the last two rows
        rows = watch.rows(until - 1800.0, until)
    if rows is None or not len(rows):
        return None
    last = slice(-2, None) if watch.by_hand_rows else slice(None)
    return Base(
        at=float(rows.time[-1]),
        seconds=float(rows.time[-1] - rows.time[last][0]),
        condensing=float(rows.tc[last].mean()),
        evaporating=float(rows.te[last].mean()),
        superheat=float(rows.sh[last].mean()),
        subcooling=float(rows.sc[last].mean()),
        head=float(rows.pl[last].mean()),
        suction=float(rows.ps[last].mean()),
    )


def circumstances_of(g: Guide, watches: Sequence[CircuitWatch], now: float) -> Circumstances:
    """Return the answers of the checklist as the plan wants them. A row that was set aside counts as answered well."""
    answer = {check: value == "yes" or check in g.overridden for check, value in g.checks.items()}
    running = (now - g.on_at) / 60.0 if g.on_at is not None else None

    def good(check: str) -> bool | None:
        return answer.get(check)

    def bad(check: str) -> bool | None:
        known = answer.get(check)
        return None if known is None else not known

    other = "watched" if watches else ("standing" if good("other circuit") else "none")
    return Circumstances(
        coil_iced=bad("no ice"),
        switch_bypassed=bad("switch in place"),
        switch_tripped=bad("not tripped"),
        gas_alarm=None,
        ventilated=good("gas safe"),
        bad_weather=bad("weather"),
        somebody_restores=good("somebody restores"),
        fixed_speed_mode=good("fixed speed"),
        other_circuit=other,  # type: ignore[arg-type]
        strips_off=good("strips off"),
        minutes_running=running,
    )


def plan_of(
    watch: CircuitWatch, base: Base | None, g: Guide, others: Sequence[CircuitWatch], now: float
) -> Plan | None:
    """Return the plan from the baseline, None while there is none."""
    if base is None:
        return None
    spot = evaluate(
        SpotReadings(_values(watch, base), watch.recording.recording().atmosphere), watch.system, watch.curves
    )
    watched = tuple(OtherCircuit(o.system, o.curves, o.now.head) for o in others)
    return plan(watch.system, watch.curves, spot, circumstances_of(g, others, now), others=watched)


def _values(watch: CircuitWatch, base: Base) -> dict[str, float]:
    line = base.superheat + base.evaporating
    liquid = base.condensing - base.subcooling
    values = {
        "suction_pressure": base.suction,
        watch.head_name: base.head,
        "suction_line_temperature": line,
        "liquid_line_temperature": liquid,
    }
    for name in _OTHERS:
        newest = watch.recording.newest.get(name)
        if newest is not None:
            values[name] = newest.value
    return values


@dataclass(frozen=True, slots=True)
class Step:
    """The next step of the cover. cover: share of the face after it, None when none is proposed; why.

    expected_head: head 10 s after it at most [Pa]; wait: seconds until it may be made; rising: the last step still works.
    """

    cover: float | None
    why: Said
    expected_head: float | None = None
    wait: float = 0.0
    rising: bool = False


def next_step(
    watch: CircuitWatch, base: Base | None, planned: Plan | None, g: Guide, others: Sequence[CircuitWatch], now: float
) -> Step:
    """Return the next step of the cover: sized from what the last one did, none whose forecast passes the ceiling."""
    tracker, top = watch.guard.head, watch.top
    if base is None or planned is None or planned.recommended_push is None:
        return Step(None, said("cover.none"))
    if watch.by_hand_rows:
        return _by_hand(watch, base, planned, g)
    if tracker is None or now - tracker.time > guarding.guard_limit("silent_head"):
        return Step(None, said("cover.silent"))
    since = now - g.moves[-1].at if g.moves else 1e9
    rising = bool(g.moves) and (since < STEP_WAIT or (tracker.rate > TELLING_RATE and since < LONGEST_WAIT))
    if rising:
        return Step(None, said("cover.wait"), wait=max(STEP_WAIT - since, 0.0), rising=True)
    # where the head is going to, not where it is: a step that is sized from half a rise is too large
    roomy = top.head - base.condensing - wanted_rise(watch, base, planned) > ROOMY
    going_to = tracker.level + max(tracker.rate, 0.0) * (STILL_TO_COME if roomy else STILL_TO_COME_NEAR)
    wanted = _sized(watch, base, planned, g, going_to)
    if wanted is None:
        return Step(None, said("cover.enough"))
    wanted = _practical(wanted, g.cover, 0.5 if roomy else 0.3)
    allowed = guarding.largest_step(watch.guard, top, g.cover, wanted, now)
    for other in others:
        if allowed is not None:
            allowed = guarding.largest_step(other.guard, other.top, g.cover, allowed, now)
    if allowed is not None and allowed < wanted:
        allowed = math.floor(allowed / STEP + 1e-6) * STEP
        allowed = allowed if allowed > g.cover + 0.01 else None
    if allowed is None:
        return Step(None, said("cover.none"))
    high = (guarding.step_room(watch.guard, now) or tracker.level) + guarding.climb_of_step(g.cover, allowed)
    head = float(watch.curves.bubble_pressure(min(high, watch.curves.maximum_temperature - 0.1)))
    return Step(allowed, said("cover.why" if g.moves else "cover.first"), expected_head=head)


def wanted_rise(watch: CircuitWatch, base: Base, planned: Plan) -> float:
    """Return the rise that is aimed at [K]: the plan's, less where the ceiling is near."""
    room = watch.top.head - base.condensing - BELOW_CEILING
    recommended = planned.recommended_push if planned.recommended_push is not None else planned.least_push
    most = room + BELOW_CEILING - NEAREST
    return max(min(max(min(recommended, room), planned.least_push + ABOVE_LEAST), most), planned.least_push)


def _sized(watch: CircuitWatch, base: Base, planned: Plan, g: Guide, level: float) -> float | None:
    """Return the cover that the plan wants next, None when the rise is enough."""
    room = watch.top.head - level
    recommended = wanted_rise(watch, base, planned)
    last = None
    if g.moves:
        move = g.moves[-1]
        before = condensing_at(watch, move.at)
        over = (before if before is not None else base.condensing) - _air(watch, base)
        last = CoverStep(
            before=move.before,
            after=move.after,
            rise=level - (before if before is not None else base.condensing),
            total_rise=level - base.condensing,
            over_before=over,
        )
        if last.total_rise >= enough_rise(recommended, planned.least_push):
            return None
    wanted, _ = _next_cover(None, None, watch.system, recommended, room, last)
    if wanted is None or wanted <= g.cover + 0.01:
        return None
    return max(wanted, g.cover + 0.02)


def _practical(cover: float, before: float, up: float = 0.3) -> float:
    """Round a cover to what a person can lay on: twentieths of the face, at least one more than before.

    up: 0.5 rounds to the nearest one, less rather down.
    """
    return min(max(math.floor(cover / STEP + up) * STEP, (math.floor(before / STEP + 1e-6) + 1) * STEP), 0.95)


def _by_hand(watch: CircuitWatch, base: Base, planned: Plan, g: Guide) -> Step:
    """By needle gauges: the next step after a reading that came since the last one."""
    newest = watch.recording.newest.get(watch.head_name)
    if newest is None or (g.moves and newest.at <= g.moves[-1].at):
        return Step(None, said("cover.wait"), rising=bool(g.moves))
    level = float(watch.curves.bubble_temperature(newest.value, outside="nan"))
    wanted = _sized(watch, base, planned, g, level)
    if wanted is None:
        return Step(None, said("cover.enough"))
    after = _practical(wanted, g.cover)
    while after > g.cover + 0.01 and level + guarding.climb_of_step(g.cover, after) >= watch.top.head:
        after -= STEP
    if after <= g.cover + 0.01:
        return Step(None, said("cover.none"))
    return Step(after, said("cover.why" if g.moves else "cover.first"))


def condensing_at(watch: CircuitWatch, moment: float) -> float | None:
    """Condensing temperature in the seconds before a moment [K]; by hand, of the last row before it."""
    rows = watch.rows(moment - (1800.0 if watch.by_hand_rows else 8.0), moment)
    if rows is None or not len(rows):
        return None
    return float(rows.tc[-1] if watch.by_hand_rows else rows.tc.mean())


def _air(watch: CircuitWatch, base: Base) -> float:
    """Air that the condensing coil draws [K]; by the usual difference when it is not read."""
    name = "outdoor_air_temperature" if watch.system.mode == "cooling" else "return_air_dry_bulb"
    newest = watch.recording.newest.get(name)
    if newest is not None and newest.value < base.condensing - 1.0:
        return newest.value
    return base.condensing - limit("usual_over_ambient")
