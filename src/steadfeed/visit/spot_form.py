"""A set of spot readings as people read it, and as JSON (src/steadfeed/visit/schemas/spot.schema.json)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from steadfeed.reports.numbers import Numbers, likelihood_word, plain
from steadfeed.units import from_si
from steadfeed.visit.json_form import proposed_test
from steadfeed.visit.spot import READINGS, SpotResult, reading_key

if TYPE_CHECKING:
    from steadfeed.analysis.charge_level import ChargeLevel
    from steadfeed.analysis.next_test import NextTest
    from steadfeed.analysis.spot import Quantity
    from steadfeed.analysis.targets import Target
    from steadfeed.analysis.words import Units
    from steadfeed.circuit.finding import Finding

Sections = list[tuple[str, list[str]]]

#: Quantity -> what people call it, in their order. What is not here is for scripts.
_NAMES: Final[dict[str, str]] = {
    "superheat": "Superheat",
    "subcooling": "Subcooling",
    "evaporating_temperature": "Evaporating (dew)",
    "condensing_temperature": "Condensing (bubble)",
    "condensing_dew": "Condensing (dew)",
    "evaporator_superheat": "Superheat at the bulb",
    "metering_subcooling": "Subcooling before the device",
    "condensing_over_ambient": "Condensing over ambient",
    "return_over_evaporating": "Return air over evaporating",
    "condensing_over_return": "Condensing over return air",
    "evaporating_under_outdoor": "Outdoor air over evaporating",
    "pressure_ratio": "Pressure ratio",
    "discharge_superheat": "Discharge superheat",
    "liquid_line_drop": "Liquid line drop",
    "recirculation": "Air at the face over outdoors",
    "condenser_air_rise": "Outdoor coil's air rise",
    "temperature_split": "Temperature split",
    "return_wet_bulb": "Return wet bulb",
    "return_humidity": "Return relative humidity",
    "supply_humidity": "Supply relative humidity",
    "airflow_per_capacity": "Airflow",
    "sensible_capacity": "Sensible capacity",
    "total_capacity": "Total capacity",
    "efficiency": "Efficiency (W/W)",
    "current_share": "Current over the rated one",
}
#: Quantities that always stand beside a glide-free refrigerant's twin and then say nothing new.
_GLIDE_ONLY: Final = ("condensing_dew",)


def slip_lines(result: SpotResult) -> list[str]:
    """One sentence a slip, the likely slip named."""
    return [slip.text for slip in result.slips]


def spot_sections(result: SpotResult, units: Units) -> Sections:
    """What people read: the numbers with targets, causes with what speaks for and against, charge, the next test."""
    assert result.spot is not None
    assert result.diagnosis is not None
    n = Numbers(units, result.atmosphere)
    targets = result.targets or {}
    glides = (result.spot.value("condensing_dew") or 0.0) - (result.spot.value("condensing_temperature") or 0.0) > 0.5
    flashes = (result.spot.value("liquid_line_drop") or 0.0) > 2.5  # K: then liquid and vapor stand there
    numbers = [
        _number_line(_NAMES[name], quantity, targets.get(name), n)
        for name, quantity in result.spot.quantities.items()
        if name in _NAMES and (glides or name not in _GLIDE_ONLY) and not (flashes and name == "metering_subcooling")
    ]
    wide = max((len(left) for left, _ in numbers), default=0)
    lines = [f"{left:<{wide}}  {right}".rstrip() for left, right in numbers]
    out: Sections = [("", [result.diagnosis.summary]), ("Numbers", lines), ("", _notes(result))]
    if not result.diagnosis.nothing_found:
        out.append(("Causes", [line for finding in result.diagnosis.findings[:4] for line in _finding_lines(finding)]))
    if result.diagnosis.untold:
        out.append(("", [f"These readings leave open, too: {', '.join(result.diagnosis.untold)}."]))
    if result.moved:
        out.append(
            (
                "Moved by the outcomes",
                [f"{cause}: {_percent(before)} → {_percent(after)}" for cause, before, after in result.moved[:5]],
            )
        )
    if result.charge is not None:
        out.append(("Charge", _charge_lines(result.charge, n)))
    if result.fifth is not None:
        out.append(("Which further reading tells most", [_fifth_line(result.fifth)]))
    if result.tests and not result.diagnosis.nothing_found:
        out.append(("Next", [line for test in result.tests for line in _test_lines(test)]))
    if result.exclude:
        out.append(("Before a valve is condemned", [f"Still to be done: {', '.join(result.exclude)}."]))
    return out


def _notes(result: SpotResult) -> list[str]:
    """Notes of the readings, of the targets, and on the weather."""
    assert result.spot is not None
    of_targets = dict.fromkeys(target.note for target in (result.targets or {}).values() if target.note)
    return [*result.spot.notes, *of_targets, *([result.come_back] if result.come_back else [])]


def _number_line(name: str, quantity: Quantity, target: Target | None, n: Numbers) -> tuple[str, str]:
    kind = quantity.kind
    if quantity.name == "airflow_per_capacity":
        return f"{name} {_per_ton(quantity.value, n)}", _target_words(target, n, per_ton=True)
    if kind == "":
        shown = plain(quantity.value, 3 if quantity.value < 0.5 else 2)
        unit = ""
    else:
        shown, unit = n.uncertain(quantity.measured, kind), n.unit(kind)
    left = f"{name} {shown}{' ' + unit if unit else ''}"
    return left, "" if target is None else _target_words(target, n, kind=kind, value=quantity.value)


def _per_ton(value: float, n: Numbers) -> str:
    from steadfeed.units import TON

    if n.units == "us":
        return f"{from_si(value * TON, 'cfm', 'airflow'):.0f} cfm per ton"
    return f"{value * 3600.0 * 1000.0:.0f} m³/h per kW"


def _target_words(
    target: Target | None, n: Numbers, *, kind: str = "", value: float | None = None, per_ton: bool = False
) -> str:
    if target is None:
        return ""
    if per_ton:
        return f"should be {_per_ton(target.low, n)} to {_per_ton(target.high, n)}"
    unit = n.unit(kind)
    low, high = plain(n.display(target.low, kind), 0), plain(n.display(target.high, kind), 0)
    verdict = "" if value is None else ("holds" if target.holds(value) else "off")
    return f"{verdict}: {low} to {high} {unit} ({target.source})"


def _finding_lines(finding: Finding) -> list[str]:
    chance = finding.likelihood
    head = (
        finding.text
        if chance is None
        else f"{finding.text} {likelihood_word(chance).capitalize()} ({_percent(chance)})."
    )
    lines = [head]
    lines += [f"  + {text}" for text in finding.evidence_for[:5]]
    lines += [f"  − {text}" for text in finding.evidence_against[:4]]
    return lines


def _charge_lines(charge: ChargeLevel, n: Numbers) -> list[str]:
    lines = [charge.text]
    if charge.to_add is not None:
        mass = charge.to_add
        doing = "To add" if mass.value >= 0.0 else "To take out"
        lines.append(
            f"{doing}: {n.value(abs(mass.value), 'mass', fine=True)} ± {n.value(2.0 * mass.uncertainty, 'mass')}."
        )
    lines += list(charge.notes)
    if charge.level is not None:
        lines.append(f"Source: {charge.source}.")
    return lines


def _fifth_line(test: NextTest) -> str:
    shown = "; ".join(f"{cause}: {what}" for cause, what in test.expected[:3])
    return f"{test.text} Expected there: {shown}." if shown else test.text


def _test_lines(test: NextTest) -> list[str]:
    name = test.text if test.reading else f"{test.code[0].upper()}{test.code[1:]}: {test.text}"
    lines = [f"{name} ({test.minutes:.0f} min, tells {test.bits:.2f} bit)"]
    lines += [f"  {cause}: {what}" for cause, what in test.expected]
    if test.caution:
        lines.append(f"  Caution: {test.caution}")
    if test.results:
        first = test.results[0]
        lines.append(f'  Then: --outcome "{test.code}={first}" (or: {"; ".join(test.results[1:])})')
    return lines


def _percent(chance: float) -> str:
    return "more than 99 %" if chance > 0.99 else "less than 1 %" if chance < 0.01 else f"{100 * chance:.0f} %"


# -- JSON -----------------------------------------------------------------------------------------------------------------
_JSON_UNITS: Final[dict[str, tuple[str, str]]] = {
    "temperature": ("degF", "temperature"),
    "temperature_difference": ("degF", "temperature_difference"),
    "fraction": ("pct", "fraction"),
    "capacity": ("tons", "capacity"),
}


def spot_form(result: SpotResult) -> dict[str, Any]:
    """JSON object, always in US units, as the schema describes it. Holds no NaN."""
    from steadfeed.visit.judge_log import method_version

    form: dict[str, Any] = {
        "refrigerant": result.system.refrigerant,
        "metering_device": result.system.metering_device.value,
        "mode": result.system.mode,
        "method_version": method_version(),
        "typed": {reading_key(name, unit): number for name, (number, unit) in result.typed.items()},
        "slips": [
            {
                "readings": list(slip.names),
                "text": slip.text,
                "correction": {reading_key(name, unit): number for name, (number, unit) in slip.correction.items()},
            }
            for slip in result.slips
        ],
    }
    if result.spot is None or result.diagnosis is None:
        return form | {
            "quantities": {}, "targets": {}, "summary": None, "nothing_found": None, "circuit_suspected": None,
            "probability": None, "findings": [], "untold": [], "charge": None, "next": [], "fifth_reading": None, "must_exclude": [],
            "moved": [], "notes": [],
        }  # fmt: skip
    diagnosis = result.diagnosis
    return form | {
        "quantities": {_quantity_key(q): _quantity(q) for q in result.spot.quantities.values()},
        "targets": {
            _target_key(name): _target(name, target) for name, target in (result.targets or {}).items()
        },
        "summary": diagnosis.summary,
        "nothing_found": diagnosis.nothing_found,
        "circuit_suspected": diagnosis.circuit_suspected,
        "probability": None
        if diagnosis.probability is None
        else {cause: round(min(p, 1.0), 6) for cause, p in diagnosis.probability.items()},
        "findings": [finding_form(finding) for finding in diagnosis.findings],
        "untold": list(diagnosis.untold),
        "charge": None if result.charge is None else _charge_form(result.charge),
        "next": [proposed_test(test) for test in result.tests],
        "fifth_reading": None if result.fifth is None else proposed_test(result.fifth),
        "must_exclude": list(result.exclude),
        "moved": [{"cause": c, "before": round(a, 6), "after": round(b, 6)} for c, a, b in result.moved],
        "notes": _notes(result),
    }  # fmt: skip


def finding_form(finding: Finding) -> dict[str, Any]:
    """A finding as JSON, the same as in the JSON of `judge`."""
    return {
        "code": finding.code,
        "text": finding.text,
        "likelihood": None if finding.likelihood is None else round(finding.likelihood, 6),
        "evidence_for": list(finding.evidence_for),
        "evidence_against": list(finding.evidence_against),
        "next_step": finding.next_step or None,
        "source": finding.source or None,
    }


def _quantity_key(quantity: Quantity) -> str:
    if quantity.name == "airflow_per_capacity":
        return "airflow_cfm_per_ton"
    unit = _JSON_UNITS.get(quantity.kind)
    return quantity.name if unit is None else f"{quantity.name}_{unit[0]}"


def _target_key(name: str) -> str:
    return "airflow_cfm_per_ton" if name == "airflow_per_capacity" else f"{name}_degF"


def _scale(name: str, kind: str) -> float:
    """US units per SI unit of a difference of this kind."""
    from steadfeed.units import TON

    if name == "airflow_per_capacity":
        return TON / (0.3048**3 / 60.0)
    unit = _JSON_UNITS.get(kind)
    if unit is None:
        return 1.0
    difference = "temperature_difference" if kind == "temperature" else kind
    return from_si(1.0, unit[0], difference)


def _quantity(quantity: Quantity) -> dict[str, float | str]:
    unit = _JSON_UNITS.get(quantity.kind)
    scale = _scale(quantity.name, quantity.kind)
    value = quantity.value * scale if unit is None else from_si(quantity.value, unit[0], unit[1])
    return {"value": _round(value), "uncertainty": _round(quantity.measured.uncertainty * scale), "what": quantity.note}


def _target(name: str, target: Target) -> dict[str, Any]:
    scale = _scale(name, "" if name == "airflow_per_capacity" else "temperature_difference")
    return {
        "value": None if target.value is None else _round(target.value * scale),
        "low": _round(target.low * scale),
        "high": _round(target.high * scale),
        "source": target.source,
        "note": target.note,
    }


def _charge_form(charge: ChargeLevel) -> dict[str, Any]:
    ounce = 0.45359237 / 16.0
    level, mass = charge.level, charge.to_add
    return {
        "level": None if level is None else {"value": _round(level.value), "uncertainty": _round(level.uncertainty)},
        "to_add_oz": None
        if mass is None
        else {"value": _round(mass.value / ounce), "uncertainty": _round(mass.uncertainty / ounce)},
        "text": charge.text,
        "why_not": charge.why_not or None,
        "notes": list(charge.notes),
        "source": charge.source,
    }


def _round(value: float) -> float:
    return float(f"{value:.6g}")


def option_of(name: str) -> str:
    """Option of a reading, for sentences."""
    return READINGS[name][0]
