"""Work out a line set: from what a person states to sentences and to JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput

if TYPE_CHECKING:
    from steadfeed.analysis.line_set import Conditions, Installed, LineLimit, LineSetResult, Step
    from steadfeed.reports.numbers import Numbers, Units


def conditions(
    *,
    condensing: float | None = None,
    subcooling: float | None = None,
    evaporating: float | None = None,
    superheat: float | None = None,
    line_air: float | None = None,
) -> Conditions:
    """State at which the line set is worked out: what is given [K], the rating point for the rest."""
    from dataclasses import replace

    from steadfeed.analysis.line_set import RATING

    given = {
        "condensing": condensing, "subcooling": subcooling, "evaporating": evaporating, "superheat": superheat,
        "line_air": line_air,
    }  # fmt: skip
    stated = condensing is not None and evaporating is not None
    return replace(RATING, stated=stated, **{name: value for name, value in given.items() if value is not None})


def installed(
    *,
    equivalent_length: float | None = None,
    accessories: float | None = None,
    oz_per_ft: float | None = None,
    factory_length: float | None = None,
) -> Installed:
    """What hangs in the line set. Lengths [m]; accessories [Pa]; oz_per_ft: the unit's own charge for a foot of line."""
    from steadfeed.analysis.line_set import Installed
    from steadfeed.units import FOOT, POUND

    if oz_per_ft is not None and not 0.0 <= oz_per_ft <= 20.0:
        raise FixInput(f"A charge of {oz_per_ft:g} oz per foot is outside 0 to 20", where="--oz-per-ft")
    per = None if oz_per_ft is None else oz_per_ft * POUND / 16.0 / FOOT
    return Installed(equivalent_length, accessories, per, factory_length)


def work_out(system: System, at: Conditions, installed: Installed) -> LineSetResult:
    """Work out the line set of a unit. Raises FixInput for a packaged unit or where something needed is not stated."""
    from steadfeed.analysis.line_set import line_set
    from steadfeed.physics.properties import curves
    from steadfeed.visit.typed import need_refrigerant

    if at.subcooling < 0.0 or at.superheat < 0.0:
        raise FixInput("Subcooling and superheat of a line set in order are at least 0 °F", where="subcooling")
    return line_set(system, curves(need_refrigerant(system)), at, installed)


def lineset_sections(result: LineSetResult, units: Units) -> list[tuple[str, list[str]]]:
    """What people read: answer, limits, charge, derivation, assumptions."""
    from steadfeed.reports.numbers import Numbers

    n = Numbers(units)

    def difference(value: float) -> str:
        return n.value(value, "temperature_difference", fine=True)

    left = result.metering_subcooling
    answer = [
        (
            f"Subcooling left at the metering device: {n.uncertain(left, 'temperature_difference')} "
            f"{n.unit('temperature_difference')}, {_flash(result, n)}."
        ),
        f"Subcooling needed at the unit for a push to the ceiling: {difference(result.needed_subcooling)}.",
        f"To add to a nameplate subcooling for this line set: {difference(result.allowance)}.",
        (
            f"Suction line: {n.value(result.suction_loss, 'pressure_difference', fine=True)} lost "
            f"({difference(result.suction_loss_temperature)} of evaporating temperature), "
            f"{100 * result.capacity_loss:.1f} % of capacity."
        ),
    ]
    return [
        ("", answer),
        ("Charge", [_charge(result, n)]),
        ("Limits", [_limit(one, n) for one in result.limits]),
        ("Derivation", [f"{step.text}: {_number(step, n)} ({step.how})" for step in result.steps]),
        ("Assumed", list(result.notes)),
    ]


def lineset_form(result: LineSetResult) -> dict[str, Any]:
    """JSON object, always in US units; src/steadfeed/visit/schemas/lineset.schema.json describes it."""
    from steadfeed.units import FOOT, POUND, from_si

    def degrees(value: float) -> float:
        return _round(from_si(value, "degF", "temperature_difference"))

    def psi(value: float) -> float:
        return _round(from_si(value, "psi", "pressure_difference"))

    charge = result.charge
    ounce = POUND / 16.0
    return {
        "metering_subcooling_degF": {
            "value": degrees(result.metering_subcooling.value),
            "uncertainty": degrees(result.metering_subcooling.uncertainty),
        },
        "flash_margin_psi": psi(result.flash_margin),
        "needed_subcooling_degF": degrees(result.needed_subcooling),
        "allowance_degF": degrees(result.allowance),
        "liquid_line": {
            "velocity_fpm": _round(from_si(result.liquid_velocity, "fpm", "velocity")),
            "friction_psi": psi(result.friction),
            "lift_psi": psi(result.lift_loss),
            "accessories_psi": psi(result.accessories),
            "warming_degF": degrees(result.warming),
        },
        "suction_line": {
            "velocity_fpm": _round(from_si(result.suction_velocity, "fpm", "velocity")),
            "loss_psi": psi(result.suction_loss),
            "loss_degF": degrees(result.suction_loss_temperature),
            "capacity_loss": _round(result.capacity_loss),
        },
        "charge": {
            "to_add_oz": _round(charge.mass / ounce),
            "per_ft_oz": _round(charge.per_length * FOOT / ounce),
            "beyond_factory_ft": _round(charge.beyond / FOOT),
            "estimate": charge.estimate,
            "text": charge.text,
        },
        "limits": [
            {
                "name": one.name,
                "value": _us(one.value, one.kind),
                "low": None if one.low is None else _us(one.low, one.kind),
                "high": None if one.high is None else _us(one.high, one.kind),
                "unit": _UNITS[one.kind],
                "passed": one.passed,
                "source": one.source,
            }
            for one in result.limits
        ],
        "steps": [
            {"text": step.text, "value": _us(step.value, step.kind), "unit": _UNITS[step.kind], "how": step.how}
            for step in result.steps
        ],
        "notes": list(result.notes),
    }


_UNITS = {
    "pressure": "psia",
    "pressure_difference": "psi",
    "temperature": "degF",
    "temperature_difference": "degF",
    "velocity": "fpm",
    "length": "ft",
    "mass_flow": "lb/h",
}


def _us(value: float, kind: str) -> float:
    from steadfeed.units import POUND, from_si

    if kind == "mass_flow":
        return _round(value / POUND * 3600.0)
    return _round(from_si(value, _UNITS[kind], kind))


def _round(value: float) -> float:
    return float(f"{value:.5g}")


def _flash(result: LineSetResult, n: Numbers) -> str:
    margin = n.value(abs(result.flash_margin), "pressure_difference")
    if result.flash_margin >= 0.0:
        return f"{margin} from flashing"
    return f"flash gas: {margin} short of liquid"


def _charge(result: LineSetResult, n: Numbers) -> str:
    charge = result.charge
    doing = "add" if charge.mass >= 0.0 else "take out"
    kind = "estimate, not a charge to weigh in: " if charge.estimate else ""
    return (
        f"{doing[0].upper()}{doing[1:]} {n.value(abs(charge.mass), 'mass', fine=True)} for "
        f"{n.value(abs(charge.beyond), 'length')} {'beyond' if charge.beyond >= 0 else 'less than'} the factory charge "
        f"({kind}{charge.text.removeprefix('estimate ')})."
    )


def _limit(one: LineLimit, n: Numbers) -> str:
    bounds = []
    if one.low is not None:
        bounds.append(f"at least {n.value(one.low, one.kind)}")
    if one.high is not None:
        bounds.append(f"at most {n.value(one.high, one.kind)}")
    return (
        f"{'holds' if one.passed else 'PASSED OVER'}: {one.name} {n.value(one.value, one.kind, fine=True)}, "
        f"{' and '.join(bounds)} ({one.source})"
    )


def _number(step: Step, n: Numbers) -> str:
    if step.kind == "mass_flow":
        return f"{_us(step.value, 'mass_flow'):.0f} lb/h" if n.units == "us" else f"{step.value * 3600:.0f} kg/h"
    return n.value(step.value, step.kind, fine=True)
