"""The plan of a challenge: may it be run, how far, how fast, how long, what to set aside, and when to stop.

Refusals come with their reason, its source, and who may override it. The ceiling is `guard.ceiling` and, where the
discharge temperature would reach its limit first, that. Everything SI, absolute; pushes as rises of the condensing
temperature [K], since a psi is another thing on every refrigerant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, Literal

from steadfeed.analysis.criteria import CRITERIA, limit
from steadfeed.analysis.discharge import apparent_efficiency, discharge_temperature
from steadfeed.analysis.guard import Ceiling, ceiling
from steadfeed.analysis.plan_conduct import Circumstances, SetAside, Stage, abort, cautions, set_aside, stages
from steadfeed.analysis.spot import Spot
from steadfeed.analysis.words import Units, degrees, gauge, temperature
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.errors import OutOfRange
from steadfeed.physics.properties import Curves

F: Final = 5.0 / 9.0
PSI: Final = 6894.757293168361
_METHOD: Final = "docs/method.md, guard"

NOTHING_ASKED: Final = Circumstances()

#: Who may set a refusal aside. "nobody" until its cause is gone.
Override = Literal["nobody", "the technician, with a reason", "the technician, after the maker's instructions"]


@dataclass(frozen=True, slots=True)
class CoverStep:
    """The last step of the cover. before, after: share of the face covered [-]; rise: of the condensing temperature by that
    step, total_rise: since the baseline [K]; over_before: condensing temperature over the air before that step [K].
    """

    before: float
    after: float
    rise: float
    total_rise: float
    over_before: float


@dataclass(frozen=True, slots=True)
class OtherCircuit:
    """A second circuit that shares coil or fan. head_pressure: now, absolute [Pa], None when it was not read."""

    system: System
    curves: Curves
    head_pressure: float | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why the challenge must not start. code: stable word; text: one sentence; source; override: who may set it aside."""

    code: str
    text: str
    source: str
    override: Override


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit to the push. head_pressure: absolute [Pa]; rise: room above the present condensing temperature [K]."""

    text: str
    head_pressure: float
    rise: float | None
    source: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan. may_start: no refusal stands and nothing is left to ask.

    least_push, recommended_push [K]; resolvable_push: the least that these instruments alone could tell from nothing [K];
    limits: all that are known, the binding one first; stop_at: ceiling, absolute [Pa]; go_to: head to reach, absolute
    [Pa]; go_to_mark, stop_mark: the same on the gauge's scale, gauge pressure rounded to its graduation [Pa over the
    atmosphere]; next_cover: share of the face to cover next [-]; discharge_at_push: forecast [K].
    """

    refusals: tuple[Refusal, ...]
    questions: tuple[str, ...]
    warnings: tuple[str, ...]
    least_push: float
    recommended_push: float | None
    resolvable_push: float | None
    limits: tuple[Limit, ...]
    stop_at: float
    go_to: float | None
    go_to_mark: float | None
    stop_mark: float
    next_cover: float | None
    cover_text: str
    discharge_at_push: float | None
    stages: tuple[Stage, ...]
    set_aside: tuple[SetAside, ...]
    abort: tuple[str, ...]
    mild_weather: str = ""
    cautions: tuple[str, ...] = field(default=())

    @property
    def may_start(self) -> bool:
        """Whether nothing stands against the start."""
        return not self.refusals and not self.questions

    @property
    def seconds(self) -> float:
        """Time of all stages [s]."""
        return sum(stage.seconds for stage in self.stages)


def plan(
    system: System,
    curves: Curves,
    spot: Spot | None = None,
    circumstances: Circumstances = NOTHING_ASKED,
    last_step: CoverStep | None = None,
    others: tuple[OtherCircuit, ...] = (),
    units: Units = "us",
) -> Plan:
    """Plan a challenge from what is known of the unit, the readings of now, and the answers of the person.

    Without readings the ceiling and what to set aside still stand. Raises nothing for what is not known: it is asked.
    """
    now = None if spot is None else spot.value("condensing_temperature")
    head = None if spot is None else spot.readings.head_pressure
    limits = _limits(system, curves, spot, now, others)
    binding = limits[0]
    room = min((one.rise for one in limits if one.rise is not None), default=None)
    least, wanted = limit("least_push"), limit("recommended_push")
    recommended = None
    if room is not None and room >= least:
        recommended = min(
            wanted, max(room - 2.0 * F, least)
        )  # a little short of the ceiling where there is room for it
    elif room is None:
        recommended = wanted
    refusals = _refusals(system, curves, spot, circumstances, room, least, binding, others, units)
    go_to = None
    if now is not None and recommended is not None:
        go_to = float(curves.bubble_pressure(min(now + recommended, curves.maximum_temperature - 0.1)))
    atmosphere = spot.readings.atmosphere if spot is not None else 101325.0
    graduation = limit("needle_graduation")
    stop_at = binding.head_pressure
    mild = _mild_weather(system, curves, spot, now, units)
    cover, cover_text = _next_cover(spot, now, system, recommended, room, last_step)
    discharge = None
    if spot is not None and go_to is not None:
        discharge = discharge_forecast(curves, spot, go_to)
    return Plan(
        refusals=tuple(refusals),
        questions=_questions(system, curves, circumstances, others),
        warnings=tuple(_warnings(system, curves, spot, circumstances, discharge, head, units)),
        least_push=least,
        recommended_push=recommended,
        resolvable_push=resolvable_push(system, curves, spot),
        limits=limits,
        stop_at=stop_at,
        go_to=go_to,
        go_to_mark=None if go_to is None else _round(go_to - atmosphere, graduation),
        stop_mark=math.floor((stop_at - atmosphere) / graduation) * graduation,
        next_cover=cover,
        cover_text=cover_text,
        discharge_at_push=discharge,
        stages=stages(system, circumstances),
        set_aside=set_aside(system, circumstances),
        abort=abort(system),
        mild_weather=mild,
        cautions=cautions(system, curves),
    )


# -- limits ---------------------------------------------------------------------------------------------------------------
def _limits(
    system: System, curves: Curves, spot: Spot | None, now: float | None, others: tuple[OtherCircuit, ...]
) -> tuple[Limit, ...]:
    """Every limit with the room it leaves; the one that leaves least comes first."""
    own = ceiling(system, curves)
    found = [_as_limit(own, "", curves, now)]
    if spot is not None:
        hot = _discharge_limit(system, curves, spot)
        if hot is not None:
            found.append(_as_limit(hot, "", curves, now))
    for other in others:
        there = ceiling(other.system, other.curves)
        name = f"circuit {other.system.circuit}: " if other.system.circuit else "the other circuit: "
        rise = None
        if other.head_pressure is not None:
            top = float(other.curves.bubble_temperature(there.head_pressure, outside="nan"))
            rise = top - float(other.curves.bubble_temperature(other.head_pressure, outside="nan"))
            if now is not None and math.isfinite(rise):
                # both coils lose the same air: about the same rise on either side
                same = float(
                    curves.bubble_pressure(min(max(now + rise, curves.minimum_temperature), curves.maximum_temperature))
                )
                found.append(Limit(f"{name}{there.set_by}", same, rise, _source(there)))
    return tuple(sorted(found, key=lambda one: math.inf if one.rise is None else one.rise)) if now is not None else tuple(
        sorted(found, key=lambda one: one.head_pressure)
    )  # fmt: skip


def _as_limit(one: Ceiling, name: str, curves: Curves, now: float | None) -> Limit:
    rise = None
    if now is not None:
        rise = float(curves.bubble_temperature(min(one.head_pressure, curves.maximum_pressure))) - now
    return Limit(f"{name}{one.set_by}", one.head_pressure, rise, _source(one))


def _source(one: Ceiling) -> str:
    return CRITERIA[one.criterion].source if one.criterion else "stated for this unit"


def discharge_forecast(curves: Curves, spot: Spot, head: float) -> float | None:
    """Discharge-line temperature [K] to expect at a head pressure [Pa] with the suction state of now.

    Isentropic efficiency from the discharge temperature read now, else the usual one; None without suction readings.
    """
    readings = spot.readings
    suction, line = readings.get("suction_pressure"), readings.get("suction_line_temperature")
    if suction is None or line is None:
        return None
    efficiency = limit("usual_efficiency")
    read, head_now = readings.get("discharge_line_temperature"), readings.head_pressure
    try:
        if read is not None and head_now is not None:
            found = apparent_efficiency(curves, suction, line, head_now, read)
            if found is not None and 0.3 < found < 1.2:
                efficiency = found
        return discharge_temperature(curves, suction, line, head, efficiency)
    except OutOfRange:
        return None


def _discharge_limit(system: System, curves: Curves, spot: Spot) -> Ceiling | None:
    """Head pressure at which the discharge line would reach its limit, None where that lies above the curves."""
    stated = system.limits.discharge_temperature
    hottest = stated if stated is not None else limit("discharge_limit")
    low = spot.readings.head_pressure
    if low is None or discharge_forecast(curves, spot, low) is None:
        return None
    high = 0.999 * curves.maximum_pressure
    at_high = discharge_forecast(curves, spot, high)
    if at_high is not None and at_high <= hottest:
        return None
    for _ in range(40):
        middle = 0.5 * (low + high)
        there = discharge_forecast(curves, spot, middle)
        if there is None or there > hottest:
            high = middle
        else:
            low = middle
    words = "the maker's discharge limit" if stated is not None else "the discharge temperature"
    return Ceiling(low, f"{words}, as forecast", "" if stated is not None else "discharge_limit")


def resolvable_push(system: System, curves: Curves, spot: Spot | None) -> float | None:
    """Least rise of the condensing temperature [K] at which these instruments alone tell a fixed from a held feed.

    The superheat of a fixed opening falls by about 0.4 K per K more than that of a regulating valve; that difference shall
    be three times the uncertainty of a change of superheat.
    """
    suction = None if spot is None else spot.readings.get("suction_pressure")
    if suction is None:
        return None
    inst = system.instruments
    needle = inst.gauges == "analog"
    by_hand = inst.sampling == "by hand"
    change = (0.8 if needle else 0.25) * PSI
    warmer, cooler = (float(curves.dew_temperature(suction + d, outside="nan")) for d in (change, -change))
    gauge = 0.5 * abs(warmer - cooler)
    clamp = 0.30 * F
    reading = (0.5 if by_hand or needle else 0.15) * F
    if not math.isfinite(gauge):
        return None
    # the same gauge and clamp before and in the push: bias cancels, what a push brings with it does not
    together = math.sqrt(gauge**2 + clamp**2 + 2.0 * reading**2)
    return 3.0 * together / limit("superheat_slope_gap")


# -- refusals, questions, warnings ----------------------------------------------------------------------------------------
def _refusals(
    system: System, curves: Curves, spot: Spot | None, c: Circumstances, room: float | None, least: float,
    binding: Limit, others: tuple[OtherCircuit, ...], units: Units,
) -> list[Refusal]:  # fmt: skip
    out: list[Refusal] = []

    def refuse(code: str, text: str, source: str = _METHOD, override: Override = "nobody") -> None:
        out.append(Refusal(code, text, source, override))

    if c.gas_alarm:
        refuse("gas alarm", "A gas alarm stands: leave, ventilate, find the leak first.")
    if curves.refrigerant.flammable and c.ventilated is False:
        refuse("not ventilated", f"{curves.name} can burn: ventilate before anything runs in a closed room.")
    if c.coil_iced:
        refuse("coil iced", "The coil is iced: thaw it and find the reason; readings on ice say nothing.")
    if c.switch_bypassed:
        refuse("switch bypassed", "The high-pressure switch is bypassed: without it no push is safe.")
    if c.switch_tripped:
        refuse("switch tripped", "The high-pressure switch has just tripped: find out why before the head is raised.")
    if c.bad_weather:
        refuse("weather", "Lightning or rain: a covered coil and an open unit wait for better weather.")
    if c.somebody_restores is False:
        refuse("nobody restores", "Nobody stands ready to restore the airflow: a challenge is never left alone.")
    if system.compressor_control == "variable-speed" and c.fixed_speed_mode is False:
        refuse(
            "variable speed", "The compressor changes its speed by itself: set its fixed-speed mode first.", _METHOD,
            "the technician, after the maker's instructions",
        )  # fmt: skip
    if c.other_circuit == "not watched":
        refuse("other circuit", "Another circuit on the same coil or fan is not watched: gauges on it, or stop it.")
    _refuse_by_readings(system, spot, refuse, units)
    if room is not None and room < least:
        outdoor = None if spot is None else spot.readings.get("outdoor_air_temperature")
        hint = ""
        if outdoor is not None and room > -20.0:
            cooler = outdoor - (least - room)
            hint = f"; come back when it is below about {temperature(cooler, units)} outdoors"
        refuse(
            "no room for a push",
            f"Only {degrees(max(room, 0.0), units)} of rise are left below {binding.text}; a push needs "
            f"{degrees(least, units)}{hint}.",
            binding.source,
        )
    for other in others:
        if other.head_pressure is None and c.other_circuit != "standing":
            refuse("other circuit", "The head of the other circuit was not read: its ceiling may bind first.")
    if system.mode == "heating" and c.strips_off is False:
        refuse("strips on", "Electric heat is on: its air hides what the push does; prove it off by its current.")
    return out


def _refuse_by_readings(system: System, spot: Spot | None, refuse, units: Units) -> None:  # type: ignore[no-untyped-def]
    if spot is None:
        return
    superheat = spot.value("superheat")
    floor = limit("floor_superheat")
    if superheat is not None and superheat < floor:
        refuse(
            "floodback", f"Superheat is {degrees(superheat, units, 1)}: below {degrees(floor, units)} liquid may reach the compressor, and "
            "a push brings more.", CRITERIA["floor_superheat"].source, "nobody",
        )  # fmt: skip
    subcooling = spot.value("subcooling")
    low, high = limit("least_subcooling"), limit("most_subcooling")
    if subcooling is not None and subcooling < low:
        refuse(
            "too little subcooling", f"Subcooling is {degrees(subcooling, units, 1)}: below {degrees(low, units)} the push may take the "
            "liquid from the metering device, and the test is not valid.", CRITERIA["least_subcooling"].source,
            "the technician, with a reason",
        )  # fmt: skip
    if subcooling is not None and subcooling > high:
        refuse(
            "too much subcooling", f"Subcooling is {degrees(subcooling, units, 1)}: above {degrees(high, units)} find out why first "
            "(charge, restriction, non-condensables).", CRITERIA["most_subcooling"].source,
            "the technician, with a reason",
        )  # fmt: skip


def _questions(system: System, curves: Curves, c: Circumstances, others: tuple[OtherCircuit, ...]) -> tuple[str, ...]:
    """What must be answered before the start, in the order of the walk round the unit."""
    ask = []
    if c.coil_iced is None:
        ask.append("Is the coil free of ice?")
    if c.switch_bypassed is None:
        ask.append("Is the high-pressure switch in place?")
    if c.switch_tripped is None:
        ask.append("Has it tripped today?")
    if c.bad_weather is None:
        ask.append("Is the weather dry and quiet?")
    if curves.refrigerant.flammable and c.ventilated is None:
        ask.append("Is the room ventilated?")
    if c.somebody_restores is None:
        ask.append("Who restores the airflow?")
    if c.other_circuit is None and not others:
        ask.append("Does another circuit share the coil or fan?")
    if system.compressor_control == "variable-speed" and c.fixed_speed_mode is None:
        ask.append("Is the fixed-speed mode set?")
    if system.mode == "heating" and c.strips_off is None:
        ask.append("Is the electric heat off, by its current?")
    return tuple(ask)


def _warnings(
    system: System, curves: Curves, spot: Spot | None, c: Circumstances, discharge: float | None,
    head: float | None, units: Units,
) -> list[str]:  # fmt: skip
    out: list[str] = []
    if spot is None:
        return out
    evaporating = spot.value("evaporating_temperature")
    if evaporating is not None and system.mode == "cooling" and evaporating < limit("freezing_suction"):
        out.append("Suction lies below the coil’s freezing: it may ice during the test.")
    suction = spot.readings.get("suction_pressure")
    if suction is not None and system.compressor_type == "scroll":
        gauge = suction - spot.readings.atmosphere
        if gauge < limit("scroll_unloading"):
            out.append("Suction is so low that a scroll may unload: subcooling is then no evidence of charge.")
    if discharge is not None and discharge > limit("discharge_limit") - 10.0 * F:
        out.append(f"The discharge line may reach {temperature(discharge, units)} at the push: watch it.")
    superheat = spot.value("superheat")
    if superheat is not None and limit("floor_superheat") <= superheat < limit("weak_start"):
        out.append("Superheat begins low: it has little room to fall, so the test will say less.")
    rated, current = system.nameplate.rated_current, spot.readings.get("compressor_current")
    if rated and current and current > rated:
        out.append("The compressor draws more than its rated current: this warns, it is no trip limit.")
    if c.minutes_running is not None and c.minutes_running * 60.0 < limit("least_running_seconds"):
        out.append("It has not run five minutes: settle first.")
    if system.metering_device is MeteringDevice.FIXED_ORIFICE:
        out.append("A fixed orifice is meant to act fixed: that is the good result here.")
    stated = system.nameplate.subcooling
    if stated is not None and stated < limit("least_subcooling"):
        out.append(
            "This unit is made for less subcooling than the test needs: the test will not be valid, but informative."
        )
    if head is not None and system.limits.high_pressure_switch is None:
        out.append("The high-pressure switch’s setting is not known: the ceiling is lowered for it.")
    return out


# -- the push -------------------------------------------------------------------------------------------------------------
def _next_cover(
    spot: Spot | None, now: float | None, system: System, recommended: float | None, room: float | None,
    last: CoverStep | None,
) -> tuple[float | None, str]:  # fmt: skip
    """Share of the face to cover next, by what the last step did, and the sentence for it."""
    if recommended is None:
        return None, "No cover: the push has no room below the ceiling."
    what = "coil" if system.mode == "cooling" else "return grille"
    first = limit("first_cover")
    if last is None:
        if room is not None and _climb(first, 0.0) > room:
            return None, "No cover: even the first quarter may pass the ceiling."
        return first, f"Cover a quarter of the {what}, then watch for a minute."
    if last.total_rise >= 0.97 * recommended:
        return last.after, "Enough: hold what is covered."
    open_before, open_after = 1.0 - last.before, max(1.0 - last.after, 0.02)
    if last.rise <= 0.2 or last.over_before <= 0.5 or open_after >= open_before:
        following = min(last.after + first, 0.75)
        return following, f"Hardly any rise: cover {100 * following:.0f} % of the {what}."
    # condensing over air goes about with a power of the open face; the power grows as the face closes
    now_over = last.over_before + last.rise
    power = math.log(now_over / last.over_before) / math.log(open_before / open_after)
    power = max(power * limit("cover_power_margin"), 0.2)
    wanted = now_over + recommended - last.total_rise
    open_next = open_after * (now_over / wanted) ** (1.0 / power)
    following = min(1.0 - open_next, last.after + first, 0.97)
    while room is not None and following > last.after + 0.01 and _climb(following, last.after) > room:
        following -= 0.01
    if following <= last.after + 0.011:
        return None, "No more cover: the next step may pass the ceiling in ten seconds."
    return following, f"Cover {100 * following:.0f} % of the {what} next."


def _climb(cover: float, before: float) -> float:
    """Rise of the condensing temperature in ten seconds [K] at most, after more of the face is covered."""
    return 10.0 * limit("climb_without_air") * max(cover - before, 0.0) / max(1.0 - before, 0.05)


def _mild_weather(system: System, curves: Curves, spot: Spot | None, now: float | None, units: Units) -> str:
    if spot is None or now is None or system.mode == "heating":
        return ""
    base = limit("mild_baseline")
    if now >= base:
        return ""
    head = float(curves.bubble_pressure(base + 5.0 * F))
    return (
        f"Mild weather: condensing at {temperature(now, units)} leaves the metering device little drive. Cover part of the "
        f"coil until head is about {gauge(head, spot.readings.atmosphere, units)}, settle, and take that as the baseline; restore to that cover, not to "
        "none."
    )


def _round(value: float, step: float) -> float:
    return round(value / step) * step
