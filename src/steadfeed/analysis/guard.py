"""The guard: the head that must not be passed, the limit that sets it, where the head is going, and what to do now.

Pure: the state of the guard goes in with what is seen, and comes out again. It advises; it is not a safety device, and it
sees only what reaches it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from steadfeed.analysis import forecast
from steadfeed.analysis.criteria import CRITERIA, Criterion, limit
from steadfeed.analysis.forecast import Ahead, Tracker
from steadfeed.circuit.equipment import System
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
_BENCH: Final = "chosen on bench climbs (benchmarks/guard.py), no field data"
_PRACTICE: Final = "common practice of the trade"

#: Thresholds of the guard. They decide no verdict and so take no part in the method's fingerprint.
GUARD: Final[dict[str, Criterion]] = {
    "alarm_ahead": Criterion(16.0, "time", "Alarm when the ceiling is this near at the present climb", _BENCH),
    "step_known": Criterion(
        20.0, "time", "So long after a known step the climb is judged by what the step can do", _BENCH
    ),
    "step_known_near": Criterion(9.0, "time", "… unless the ceiling is this near", _BENCH),
    "alarm_caution": Criterion(0.5, "", "… with the climb so many standard deviations faster than it looks", _BENCH),
    "alarm_margin": Criterion(0.3 * F, "temperature_difference", "… or the head this close to the ceiling", _BENCH),
    "step_ahead": Criterion(10.0, "time", "No cover step whose forecast passes the ceiling within", "product rule"),
    "silent_head": Criterion(5.0, "time", "Silence of the head gauge in a push that alarms", _PRACTICE),
    "silent_vital": Criterion(10.0, "time", "Silence of another vital channel in a push that alarms", _PRACTICE),
    "silent_intervals": Criterion(4.0, "", "… or so many of its usual intervals, if that is longer", _PRACTICE),
    "still_climbs": Criterion(
        10.0, "time", "Head that climbs so long after the airflow came back: stop the compressor", _PRACTICE
    ),
    "climbing": Criterion(0.05 * F, "", "Climb of the condensing temperature that counts as one [K/s]", _BENCH),
    "far_over": Criterion(
        5.0 * F, "temperature_difference", "Head so far over the ceiling: stop the compressor", _PRACTICE
    ),
    "superheat_gone": Criterion(
        3.0 * F, "temperature_difference", "Superheat below which a push ends", CRITERIA["floor_superheat"].source
    ),
    "superheat_gone_seconds": Criterion(10.0, "time", "… for so long", _BENCH),
    "superheat_gone_longest": Criterion(120.0, "time", "… for so long ends it also without a verdict", _PRACTICE),
    "floodback_seconds": Criterion(150.0, "time", "… and alarms when the push goes on for so long", _PRACTICE),
    "persistence": Criterion(10.0, "time", "A verdict must stand so long before the push is called enough", _BENCH),
    "persistence_eev": Criterion(
        60.0, "time", "… an early one on an electronic valve, which swings before it settles", _BENCH
    ),
}


def guard_limit(key: str) -> float:
    """Value of a threshold of the guard in SI units."""
    return GUARD[key].value


# -- the ceiling ----------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Ceiling:
    """head_pressure: absolute [Pa]; set_by: the limit that binds, in words; criterion: key of its source or ""."""

    head_pressure: float
    set_by: str
    criterion: str = ""


def ceiling(system: System, curves: Curves) -> Ceiling:
    """Lowest of the limits that are known: stated limit, high-pressure switch less a margin, maker's working limit, dew.

    The margin below the switch is a difference of condensing temperature, not of pressure: 50 psi are 7.7 °F on R-410A
    and 17 °F on R-134a. A nameplate design pressure counts only where the maker gives it as a working limit. Without a
    known switch the dew limit is lowered. Margins are not stacked.
    """
    return min(limits_on_head(system, curves), key=lambda c: c.head_pressure)


def limits_on_head(system: System, curves: Curves) -> tuple[Ceiling, ...]:
    """Return every limit on the head that is known, in the order in which people look for them."""
    found: list[Ceiling] = []
    limits, plate = system.limits, system.nameplate
    if limits.head_pressure is not None:
        found.append(Ceiling(limits.head_pressure, "the limit that was stated"))
    if limits.high_pressure_switch is not None:
        dew = float(curves.dew_temperature(limits.high_pressure_switch, outside="nan"))
        if dew == dew:
            below = float(curves.dew_pressure(dew - limit("switch_margin")))
            found.append(Ceiling(below, "the high-pressure switch less a margin", "switch_margin"))
    if plate.high_side_design_pressure is not None and plate.high_side_is_working_limit:
        found.append(Ceiling(plate.high_side_design_pressure, "the maker's working limit"))
    key = "dew_limit" if limits.high_pressure_switch is not None else "dew_limit_switch_unknown"
    hottest = min(limit(key), curves.maximum_temperature - 1.0)
    text = "the condensing dew temperature" + ("" if limits.high_pressure_switch is not None else ", switch not known")
    found.append(Ceiling(float(curves.dew_pressure(hottest)), text, key))
    return tuple(found)


def source_of(one: Ceiling) -> str:
    """Say where a limit comes from."""
    return CRITERIA[one.criterion].source if one.criterion else "stated for this unit"


def discharge_limit(system: System) -> tuple[float, str]:
    """Return the highest discharge-line temperature [K] and the key of its source ("": stated for this unit)."""
    stated = system.limits.discharge_temperature
    return (stated, "") if stated is not None else (limit("discharge_limit"), "discharge_limit")


# -- what is watched ------------------------------------------------------------------------------------------------------
AlarmCode = Literal[
    "restore airflow",
    "stop compressor",
    "head silent",
    "suction silent",
    "channel silent",
    "floodback",
    "switch opened",
]


@dataclass(frozen=True, slots=True)
class Alarm:
    """What must be done now. since [s]; channel: the silent one, or the one whose limit is near."""

    code: AlarmCode
    since: float
    channel: str = ""


@dataclass(frozen=True, slots=True)
class Top:
    """What one circuit must stay below. head: condensing (bubble) temperature at the ceiling [K]; discharge [K]."""

    head: float
    discharge: float


def top_of(system: System, curves: Curves) -> Top:
    """Return the ceiling of a circuit as temperatures."""
    pressure = ceiling(system, curves).head_pressure
    head = float(curves.bubble_temperature(min(pressure, curves.maximum_pressure), outside="nan"))
    return Top(head, discharge_limit(system)[0])


@dataclass(frozen=True, slots=True)
class Guard:
    """What the guard of one circuit knows. head, discharge: trackers in K; seen: channel -> (last time, usual interval).

    low_since: from when the superheat has been gone; climbing_since: from when the head climbs although the air is back.
    """

    head: Tracker | None = None
    discharge: Tracker | None = None
    seen: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    low_since: float | None = None
    climbing_since: float | None = None
    alarm: Alarm | None = None


def see(guard: Guard, channel: str, time: float, interval_guess: float = 1.0) -> Guard:
    """Note that a channel spoke; its usual interval is learnt."""
    last = guard.seen.get(channel)
    if last is None:
        usual = interval_guess
    else:
        step = time - last[0]
        if step <= 0.0:
            return guard
        usual = last[1] + 0.1 * (min(step, 4.0 * last[1]) - last[1])
    return replace(guard, seen={**guard.seen, channel: (time, usual)})


def take_head(guard: Guard, time: float, condensing: float, least: float = forecast.LEAST_NOISE) -> Guard:
    """Take a head reading as condensing temperature [K]. least: standard deviation it cannot be below [K]."""
    if condensing != condensing:
        return guard
    if guard.head is None:
        return replace(guard, head=forecast.begin(time, condensing, least=least))
    return replace(guard, head=forecast.follow(guard.head, time, condensing))


def take_discharge(guard: Guard, time: float, temperature: float) -> Guard:
    """Take a reading of the discharge line [K]."""
    if temperature != temperature:
        return guard
    if guard.discharge is None:
        return replace(guard, discharge=forecast.begin(time, temperature, least=0.1))
    return replace(guard, discharge=forecast.follow(guard.discharge, time, temperature))


# -- what is seen ---------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class KnownStep:
    """A step of the cover that the guard was told of. at [s]; before, after: shares of the face.

    head_without: condensing temperature that was forecast for the alarm's time then, without the step [K].
    """

    at: float
    before: float
    after: float
    head_without: float


def known_step(guard: Guard, at: float, before: float, after: float) -> KnownStep | None:
    """Return a step as the guard wants it, None when nothing is known of the head."""
    head = guard.head
    if head is None or after <= before:
        return None
    without = max(forecast.ahead(head, guard_limit("alarm_ahead"), at).value, head.level)
    return KnownStep(at, before, after, without)


@dataclass(frozen=True, slots=True)
class Sight:
    """What is known at one look. now [s].

    pushing: something restricts the air. restored_at: the person said that it is back [s]. running: whether the compressor
    runs, None when not known. superheat: over the last seconds [K]; started: that of the baseline [K]. vital: channels that
    must speak. by_hand: rows come when a person reads, silence says nothing. step: the last step of the cover, when the
    guard was told of one.
    """

    now: float
    pushing: bool
    restored_at: float | None = None
    running: bool | None = None
    superheat: float | None = None
    started: float | None = None
    vital: tuple[str, ...] = ()
    by_hand: bool = False
    step: KnownStep | None = None


def silence(guard: Guard, channel: str, now: float) -> tuple[float, bool]:
    """Return how long a channel has been silent [s], and whether that is too long in a push."""
    last = guard.seen.get(channel)
    if last is None:
        return 0.0, False
    bound = guard_limit("silent_head" if channel in HEAD_CHANNELS else "silent_vital")
    age = now - last[0]
    return age, age > max(bound, guard_limit("silent_intervals") * last[1])


HEAD_CHANNELS: Final = ("liquid_pressure", "discharge_pressure")


def look(guard: Guard, top: Top, sight: Sight) -> Guard:
    """Look at one circuit: return the guard with its alarm, or with none. Alarms end when what caused them ends."""
    guard = _climbing(_superheat(guard, sight), sight)
    found = _alarm(guard, top, sight)
    before = guard.alarm
    if found is None:
        return guard if before is None else replace(guard, alarm=None)
    if before is not None and (before.code, before.channel) == (found.code, found.channel):
        return guard
    return replace(guard, alarm=found)


def _superheat(guard: Guard, sight: Sight) -> Guard:
    gone = sight.pushing and sight.superheat is not None and sight.superheat < guard_limit("superheat_gone")
    if not gone:
        return guard if guard.low_since is None else replace(guard, low_since=None)
    return guard if guard.low_since is not None else replace(guard, low_since=sight.now)


def _climbing(guard: Guard, sight: Sight) -> Guard:
    """Follow whether the head climbs although the airflow is back."""
    head = guard.head
    climbs = (
        head is not None
        and sight.restored_at is not None
        and sight.running is not False
        and sight.now > sight.restored_at
        and sight.now - head.time < guard_limit("silent_head")
        and head.rate > guard_limit("climbing") + head.rate_sd
    )
    if not climbs:
        return guard if guard.climbing_since is None else replace(guard, climbing_since=None)
    return guard if guard.climbing_since is not None else replace(guard, climbing_since=sight.now)


def _alarm(guard: Guard, top: Top, sight: Sight) -> Alarm | None:
    now, head, before = sight.now, guard.head, guard.alarm
    if guard.climbing_since is not None and now - guard.climbing_since >= guard_limit("still_climbs"):
        return Alarm("stop compressor", now)
    if head is not None and sight.running is not False and (sight.pushing or sight.restored_at is not None):
        if head.level > top.head + guard_limit("far_over") and head.rate > 0.0:
            return Alarm("stop compressor", now)
        if before is not None and before.code == "stop compressor" and head.rate > 0.0:
            return before
    if not sight.pushing:
        return None
    if sight.running is False:
        return Alarm("switch opened", now)
    if near_ceiling(guard, top, now, sight.step) or _still_near(guard, top, now):
        return Alarm("restore airflow", now, before.channel if before and before.code == "restore airflow" else "head")
    if _near(guard.discharge, top.discharge, now, margin=2.0 * F):
        return Alarm("restore airflow", now, "discharge")
    if not sight.by_hand:
        for channel in sight.vital:
            if silence(guard, channel, now)[1]:
                code: AlarmCode = "channel silent"
                if channel in HEAD_CHANNELS:
                    code = "head silent"
                elif channel == "suction_pressure":
                    code = "suction silent"
                return Alarm(code, now, channel)
    if guard.low_since is not None and now - guard.low_since >= guard_limit("floodback_seconds"):
        return Alarm("floodback", now)
    return None


def near_ceiling(guard: Guard, top: Top, now: float, step: KnownStep | None = None) -> bool:
    """Whether the head will pass its ceiling within the alarm's time at the present climb, cautiously taken.

    step: the last step of the cover that the guard was told of. Its first seconds look worse than it is: for a while the
    climb is judged by the most that the step can do, unless the ceiling is very near.
    """
    bound = top.head - guard_limit("alarm_margin")
    left = _time_to(guard.head, bound, now)
    if left is None or left > guard_limit("alarm_ahead"):
        return False
    if step is None or left <= guard_limit("step_known_near") or now - step.at > guard_limit("step_known"):
        return True
    worst = limit("climb_without_air") * _taken(step.before, step.after) * (now - step.at + guard_limit("alarm_ahead"))
    return step.head_without + worst >= bound


def _time_to(tracker: Tracker | None, bound: float, now: float) -> float | None:
    if tracker is None or bound != bound:
        return None
    if tracker.count < 4:
        return 0.0 if tracker.level >= bound else None
    return forecast.time_to(tracker, bound, now, sure=guard_limit("alarm_caution"))


def _near(tracker: Tracker | None, bound: float, now: float, *, margin: float) -> bool:
    left = _time_to(tracker, bound - margin, now)
    return left is not None and left <= guard_limit("alarm_ahead")


def _still_near(guard: Guard, top: Top, now: float) -> bool:
    """An alarm that stands ends only when the head falls, or stands well below the ceiling."""
    head, before = guard.head, guard.alarm
    if head is None or before is None or before.code != "restore airflow" or before.channel != "head":
        return False
    falling = head.rate < -head.rate_sd and head.level < top.head
    return not falling and now - before.since < 60.0


def superheat_gone(guard: Guard, now: float) -> bool:
    """Whether the superheat has been gone long enough to end the push: the evidence is in, and liquid comes back."""
    return guard.low_since is not None and now - guard.low_since >= guard_limit("superheat_gone_seconds")


# -- headroom, forecast, steps --------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Headroom:
    """Distance to the ceiling. kelvin: of condensing temperature; rate [K/s]; seconds: until then at this course."""

    kelvin: float | None
    rate: float | None
    seconds: float | None


def headroom(guard: Guard, top: Top, now: float) -> Headroom:
    """Return the distance of the head to its ceiling; nothing is said of a head that is silent."""
    head = guard.head
    if head is None or now - head.time > forecast.LONGEST_HOLE:
        return Headroom(None, None, None)
    return Headroom(top.head - head.level, head.rate, forecast.time_to(head, top.head, now))


def head_ahead(guard: Guard, now: float, afters: tuple[float, ...] = (5.0, 10.0, 15.0, 20.0)) -> tuple[Ahead, ...]:
    """Forecast the condensing temperature [K]; empty while too few readings say where it goes."""
    head = guard.head
    if head is None or head.count < 4 or now - head.time > guard_limit("silent_head"):
        return ()
    return tuple(forecast.ahead(head, after, now) for after in afters)


def discharge_ahead(guard: Guard, now: float, afters: tuple[float, ...] = (5.0, 10.0, 15.0, 20.0)) -> tuple[Ahead, ...]:
    """Forecast the discharge-line temperature [K]; empty when it is not read."""
    line = guard.discharge
    if line is None or line.count < 4 or now - line.time > guard_limit("silent_vital"):
        return ()
    return tuple(forecast.ahead(line, after, now) for after in afters)


def step_room(guard: Guard, now: float) -> float | None:
    """Upper end of the condensing temperature when a step made now has had its time, without the step [K].

    A head that falls just now is not counted on: it may be on its way to a level that the step lifts again.
    """
    head = guard.head
    if head is None or now - head.time > guard_limit("silent_head"):
        return None
    return max(forecast.ahead(head, guard_limit("step_ahead"), now).high, head.level)


def climb_of_step(before: float, after: float) -> float:
    """Most that a step of the cover (shares of the face) can raise the condensing temperature in the step's time [K].

    A unit without any heat rejection climbs `climb_without_air`; a step takes away its share of what was open.
    """
    return guard_limit("step_ahead") * limit("climb_without_air") * _taken(before, after)


def _taken(before: float, after: float) -> float:
    """Share of the open face that a step takes."""
    return max(after - before, 0.0) / max(1.0 - before, 0.05)


def step_allowed(guard: Guard, top: Top, before: float, after: float, now: float) -> bool:
    """Whether a step of the cover keeps the head below the ceiling for the step's time, whatever the unit."""
    if after <= before:
        return True
    room = step_room(guard, now)
    return room is not None and room + climb_of_step(before, after) < top.head


def largest_step(guard: Guard, top: Top, before: float, wanted: float, now: float) -> float | None:
    """Return the wanted cover, or the largest smaller one in hundredths that is allowed; None when there is none."""
    after = wanted
    while after > before + 0.015:
        if step_allowed(guard, top, before, after, now):
            return after
        after -= 0.01
    return None
