"""The plan of a challenge as a use case: from what a person states and reads to sentences and to JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed import units as unit_table
from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput
from steadfeed.visit.typed import need_refrigerant

if TYPE_CHECKING:
    from steadfeed.analysis.plan import CoverStep, OtherCircuit, Plan
    from steadfeed.analysis.plan_conduct import Circumstances
    from steadfeed.analysis.slips import Slip
    from steadfeed.analysis.words import Units

#: Fact that a person answers -> field of Circumstances.
FACTS: Final[dict[str, str]] = {
    "iced": "coil_iced",
    "bypassed": "switch_bypassed",
    "tripped": "switch_tripped",
    "gas-alarm": "gas_alarm",
    "ventilated": "ventilated",
    "bad-weather": "bad_weather",
    "restores": "somebody_restores",
    "fixed-speed": "fixed_speed_mode",
    "economizer": "economizer",
    "auxiliary-heat": "auxiliary_heat",
    "strips-off": "strips_off",
}


def answers(
    yes: tuple[str, ...], no: tuple[str, ...], *, other_circuit: str | None = None, outdoor_fans: int | None = None,
    minutes_running: float | None = None, minutes_since_defrost: float | None = None,
) -> Circumstances:  # fmt: skip
    """Answers of the person. yes, no: keys of FACTS. Raises FixInput for a fact that is answered both ways."""
    from steadfeed.analysis.plan_conduct import Circumstances

    both = set(yes) & set(no)
    if both:
        raise FixInput(f"“{sorted(both)[0]}” is answered with yes and with no; keep one", where="--yes")
    given: dict[str, Any] = {FACTS[fact]: True for fact in yes} | {FACTS[fact]: False for fact in no}
    given |= {
        "other_circuit": other_circuit, "outdoor_fans": outdoor_fans, "minutes_running": minutes_running,
        "minutes_since_defrost": minutes_since_defrost,
    }  # fmt: skip
    return Circumstances(**{name: value for name, value in given.items() if value is not None})


def cover_step(text: str) -> CoverStep:
    """Read the last step of the cover: "0 25 5 20" is from 0 to 25 % covered, 5 °F of rise in all, condensing 20 °F over
    outdoor air before it; a fifth number is the rise of this step alone. Raises FixInput."""
    from steadfeed.analysis.plan import CoverStep

    words = text.replace(",", " ").replace("%", " ").replace("°F", " ").split()
    try:
        numbers = [float(word) for word in words]
    except ValueError:
        numbers = []
    if len(numbers) not in (4, 5) or not 0.0 <= numbers[0] < numbers[1] <= 100.0:
        raise FixInput(
            f"“{text}” is no step of the cover: write “from to rise over”, such as “0 25 5 20” (percent, percent, °F, °F)",
            code="bad cover step", where="--last-step",
        )  # fmt: skip
    degree = 5.0 / 9.0
    before, after, total, over = numbers[:4]
    own = numbers[4] if len(numbers) == 5 else total
    return CoverStep(before / 100.0, after / 100.0, own * degree, total * degree, over * degree)


def other_circuit(system_file: str, head: str | None) -> OtherCircuit:
    """A second circuit on the same coil or fan: its system file and its head as typed, None when it was not read."""
    from steadfeed.analysis.plan import OtherCircuit
    from steadfeed.capture.system_file import read_system
    from steadfeed.physics.properties import curves
    from steadfeed.visit.saturation import atmosphere_at
    from steadfeed.visit.typed import quantity

    system = read_system(system_file)
    if system.refrigerant is None:
        raise FixInput(
            f"{system_file} does not state its refrigerant", code="refrigerant not stated", where=system_file
        )
    air = atmosphere_at(system.site.altitude, system.site.barometer)
    return OtherCircuit(system, curves(system.refrigerant), quantity(head, "pressure", "--other", atmosphere=air))


def make_plan(
    system: System, typed: Mapping[str, tuple[float, str]], atmosphere: float, circumstances: Circumstances,
    last_step: CoverStep | None = None, others: tuple[OtherCircuit, ...] = (), *, units_shown: Units = "us",
) -> tuple[Plan | None, tuple[Slip, ...]]:  # fmt: skip
    """Plan a challenge; impossible readings come back as slips, and there is no plan then.

    typed: spot readings as typed, {} before the gauges are on. Raises FixInput when the refrigerant is not stated.
    """
    from steadfeed.analysis import plan, slips
    from steadfeed.analysis.spot import SPOT_KINDS, SpotReadings, evaluate
    from steadfeed.physics.properties import curves

    known = curves(need_refrigerant(system))
    found = slips.examine(typed, system, known, atmosphere)
    if found:
        return None, found
    values = {
        name: unit_table.to_si(number, unit, SPOT_KINDS[name], atmosphere) for name, (number, unit) in typed.items()
    }
    spot = evaluate(SpotReadings(values, atmosphere), system, known) if values else None
    return plan.plan(system, known, spot, circumstances, last_step, others, units_shown), ()


_ANSWER: Final[dict[str, str]] = {
    "Is the coil free of ice?": "--no iced",
    "Is the high-pressure switch in place?": "--no bypassed",
    "Has it tripped today?": "--no tripped",
    "Is the weather dry and quiet?": "--no bad-weather",
    "Who restores the airflow?": "--yes restores",
    "Does another circuit share the coil or fan?": "--other-circuit none",
    "Is the fixed-speed mode set?": "--yes fixed-speed",
    "Is the electric heat off, by its current?": "--yes strips-off",
    "Is the room ventilated?": "--yes ventilated",
}


def plan_sections(made: Plan, atmosphere: float, units: Units) -> list[tuple[str, list[str]]]:
    """What people read, the answer first."""
    from steadfeed.reports.numbers import Numbers, duration

    n = Numbers(units, atmosphere)

    def rise(value: float | None) -> str:
        return "not known" if value is None else n.value(value, "temperature_difference")

    if made.refusals:
        first = "Do not start."
    elif made.questions:
        first = "Answer these first."
    else:
        first = "It may start."
    push = [
        f"Least push: {rise(made.least_push)} of condensing temperature; recommended: {rise(made.recommended_push)}.",
    ]
    if made.resolvable_push is not None:
        push.append(f"These instruments alone could tell from {rise(made.resolvable_push)}.")
    if made.go_to is not None and made.go_to_mark is not None:
        push.append(
            f"Go to {n.value(made.go_to, 'pressure')}; on the needle: {n.value(made.go_to_mark + atmosphere, 'pressure')}."
        )
    push.append(
        f"Stop at {n.value(made.stop_at, 'pressure')}, set by {made.limits[0].text}; on the needle: "
        f"{n.value(made.stop_mark + atmosphere, 'pressure')}."
    )
    push.append(made.cover_text)
    if made.discharge_at_push is not None:
        push.append(f"Discharge line at the push: about {n.value(made.discharge_at_push, 'temperature')}.")
    if made.mild_weather:
        push.append(made.mild_weather)
    limits = [
        f"{one.text}: {n.value(one.head_pressure, 'pressure')}, {rise(one.rise)} of rise left ({one.source})"
        for one in made.limits
    ]
    return [
        ("", [first]),
        ("Refused", [f"{r.text} ({r.source}; may be set aside by {r.override})" for r in made.refusals]),
        ("Asked", [f"{question} ({_ANSWER[question]})" for question in made.questions]),
        ("Warnings", list(made.warnings)),
        ("Push", push),
        ("Limits", limits),
        ("Set aside, and put back", [f"{one.what}: {one.how} Back: {one.back}" for one in made.set_aside]),
        (
            f"Stages, {duration(made.seconds)} in all",
            [
                f"{s.name} ({duration(s.seconds)}): {s.text}" + (f" Meanwhile: {'; '.join(s.meanwhile)}." if s.meanwhile else "")
                for s in made.stages
            ],
        ),
        ("Break off", list(made.abort)),
        ("Cautions", list(made.cautions)),
    ]  # fmt: skip


def plan_form(made: Plan | None, slips: tuple[Slip, ...], atmosphere: float) -> dict[str, Any]:
    """JSON object, always in US units; src/steadfeed/visit/schemas/plan.schema.json describes it."""

    def psig(value: float | None) -> float | None:
        return None if value is None else _round(unit_table.from_si(value, "psig", "pressure", atmosphere))

    def degrees(value: float | None) -> float | None:
        return None if value is None else _round(unit_table.from_si(value, "degF", "temperature_difference"))

    told = [{"readings": list(slip.names), "text": slip.text} for slip in slips]
    if made is None:
        return {"may_start": False, "slips": told}
    return {
        "may_start": made.may_start,
        "slips": told,
        "refusals": [
            {"code": r.code, "text": r.text, "source": r.source, "override": r.override} for r in made.refusals
        ],
        "questions": list(made.questions),
        "warnings": list(made.warnings),
        "least_push_degF": degrees(made.least_push),
        "recommended_push_degF": degrees(made.recommended_push),
        "resolvable_push_degF": degrees(made.resolvable_push),
        "go_to_psig": psig(made.go_to),
        "go_to_mark_psig": None if made.go_to_mark is None else psig(made.go_to_mark + atmosphere),
        "stop_at_psig": psig(made.stop_at),
        "stop_mark_psig": psig(made.stop_mark + atmosphere),
        "limits": [
            {
                "text": one.text,
                "head_psig": psig(one.head_pressure),
                "rise_degF": degrees(one.rise),
                "source": one.source,
            }
            for one in made.limits
        ],
        "next_cover": None if made.next_cover is None else _round(made.next_cover),
        "cover_text": made.cover_text,
        "discharge_at_push_degF": None
        if made.discharge_at_push is None
        else _round(unit_table.from_si(made.discharge_at_push, "degF", "temperature")),
        "stages": [
            {"name": s.name, "seconds": s.seconds, "text": s.text, "meanwhile": list(s.meanwhile)} for s in made.stages
        ],
        "seconds": made.seconds,
        "set_aside": [{"what": one.what, "how": one.how, "back": one.back} for one in made.set_aside],
        "abort": list(made.abort),
        "mild_weather": made.mild_weather or None,
        "cautions": list(made.cautions),
    }


def _round(value: float) -> float:
    return float(f"{value:.5g}")
