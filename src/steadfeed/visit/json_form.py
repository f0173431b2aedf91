"""A judgement as JSON: the form that scripts rely on, in US units whatever the person reads."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import READING_KINDS, Check, Measured
from steadfeed.errors import SteadfeedError
from steadfeed.reports.numbers import gauge_zero
from steadfeed.units import from_si

if TYPE_CHECKING:
    from steadfeed.analysis.next_test import NextTest
    from steadfeed.visit.judge_log import JudgedLog

# kind -> (unit of the value, kind and unit of a difference of two such values)
_UNITS: Final[dict[str, tuple[str, str, str]]] = {
    "pressure": ("psig", "pressure_difference", "psi"),
    "temperature": ("degF", "temperature_difference", "degF"),
} | {
    kind: (unit, kind, unit)
    for kind, unit in {
        "pressure_difference": "psi",
        "temperature_difference": "degF",
        "length": "ft",
        "mass": "oz",
        "current": "A",
        "power": "W",
        "capacity": "tons",
        "fraction": "1",
        "count": "",
        "atmosphere": "inHg",
        "airflow": "cfm",
        "velocity": "fpm",
        "time": "s",
    }.items()
}

_PHASE_NAMES: Final = ("baseline_start", "push", "hold", "restore", "recovery", "standstill")


def reading_key(name: str) -> str:
    """Return the JSON key of a quantity of READING_KINDS: its name and unit ("evaporating_degF")."""
    return f"{name.removesuffix('_temperature') if _is_saturation(name) else name}_{_UNITS[READING_KINDS[name]][0]}"


def judgement_form(judged: JudgedLog) -> dict[str, Any]:
    """Return the JSON object of one judged circuit, as described in docs/reference/json.md. Holds no NaN."""
    assessment = judged.judgement.assessment
    recording = judged.judgement.recording
    zero = gauge_zero(recording, judged.system)
    held = assessment.feed_held
    return {
        "log": judged.log,
        "sha256": judged.sha256,
        "system_sha256": judged.system_sha256,
        "method_version": judged.method_version,
        "refrigerant": judged.curves.name,
        "circuit": assessment.circuit,
        "mode": assessment.mode,
        "valid": assessment.valid,
        "reasons": list(assessment.reasons),
        "verdict": assessment.verdict,
        "early": assessment.early,
        "probability": _probability(assessment.probability),
        "feed_held": None
        if held is None
        else _whole({"value": held.value, "low": held.low, "high": held.high, "level": held.level}),
        "apparent_opening": _measured(assessment.apparent_opening, "fraction", zero),
        "phases": _phases(assessment.phases, recording),
        "phases_elapsed_s": _phases_elapsed(assessment.phases, recording),
        "baseline": _readings(assessment.baseline, zero),
        "push": _readings(assessment.push, zero),
        "recovery": _readings(assessment.recovery, zero),
        "ceiling_psig": _quantity(assessment.ceiling, "pressure", zero),
        "ceiling_set_by": assessment.ceiling_set_by or None,
        "checks": [_check(check, zero) for check in assessment.checks],
        "sensors": {
            name: {"alive": state.alive, "why": state.why, "flags": list(state.flags)}
            for name, state in assessment.sensors.items()
        },
        "findings": [_finding(finding) for finding in assessment.findings],
        "next_tests": [proposed_test(test) for test in judged.judgement.next_tests],
        "must_exclude": list(judged.judgement.must_exclude),
        "notes": _remarks(dict.fromkeys((*recording.remarks, *assessment.notes))),
        "repairs": _remarks(assessment.repairs),
        "would_change": list(assessment.would_change),
    }


def error_form(log: str, error: SteadfeedError) -> dict[str, Any]:
    """Return the JSON object of a file that cannot be judged."""
    return {"log": log, "error": {"code": error.code, "message": error.message}}


def json_line(form: Mapping[str, Any]) -> str:
    """Write one JSON object on one line, in ASCII. Raises ValueError rather than write NaN."""
    return json.dumps(form, allow_nan=False, separators=(",", ":"))


def moment(time: float, utc_offset: float) -> str | None:
    """Write a time [s since the Unix epoch] as ISO 8601 with the offset [s] of local time; None where no calendar has it."""
    try:
        zone = datetime.timezone(datetime.timedelta(seconds=round(utc_offset)))
        whole = float(time).is_integer()
        return datetime.datetime.fromtimestamp(time, zone).isoformat(timespec="seconds" if whole else "milliseconds")
    except (OverflowError, ValueError, OSError):
        return None


def _is_saturation(name: str) -> bool:
    return name in ("evaporating_temperature", "condensing_temperature")


def _number(value: float | None) -> float | None:
    """Six significant digits are beyond any instrument; what is no finite number is not known."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}")


def _whole(numbers: dict[str, float]) -> dict[str, float] | None:
    """All of the numbers, or None when one of them is not finite."""
    out = {key: _number(value) for key, value in numbers.items()}
    return None if None in out.values() else {k: v for k, v in out.items() if v is not None}


def _probability(probability: Mapping[str, float] | None) -> dict[str, float] | None:
    if probability is None or not all(math.isfinite(p) for p in probability.values()):
        return None
    return {state: round(float(p), 9) for state, p in probability.items()}


def _quantity(value: float | None, kind: str, zero: float) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    if kind not in _UNITS:
        return _number(value)
    return _number(from_si(value, _UNITS[kind][0], kind, zero))


def _measured(measured: Measured | None, kind: str, zero: float) -> dict[str, float | None] | None:
    if measured is None:
        return None
    value = _quantity(measured.value, kind, zero)
    if value is None:
        return None
    _, difference, unit = _UNITS[kind]
    spread = measured.uncertainty
    return {
        "value": value,
        "uncertainty": _number(from_si(spread, unit, difference)) if math.isfinite(spread) else None,
    }


def _readings(readings: Mapping[str, Measured], zero: float) -> dict[str, dict[str, float | None] | None]:
    return {
        reading_key(name): form
        for name, measured in readings.items()
        if (form := _measured(measured, READING_KINDS[name], zero)) is not None
    }


def _phases(phases: Phases, recording: Recording) -> dict[str, str | None]:
    """Calendar times; None for all when the log counts from a moment that it does not state."""
    out: dict[str, str | None] = {}
    for name in _PHASE_NAMES:
        time: float | None = getattr(phases, name)
        out[name] = None if time is None or recording.elapsed else moment(time, recording.utc_offset)
    return out


def _phases_elapsed(phases: Phases, recording: Recording) -> dict[str, float | None]:
    """Seconds since the first reading; of a log that counts elapsed time: as the log counts."""
    start = 0.0 if recording.elapsed or not len(recording) else float(recording.time[0])
    times: dict[str, float | None] = {name: getattr(phases, name) for name in _PHASE_NAMES}
    return {
        name: None if time is None or not math.isfinite(time) else round(time - start, 3)
        for name, time in times.items()
    }


def _check(check: Check, zero: float) -> dict[str, Any]:
    if check.kind == "temperature_rate":  # K/s
        value, limit, unit = (_rate(check.value), _rate(check.limit), "degF/min")
    else:
        value, limit = (_quantity(number, check.kind, zero) for number in (check.value, check.limit))
        unit = _UNITS[check.kind][0] if check.kind in _UNITS else ""
    return {
        "name": check.name,
        "passed": check.passed,
        "text": check.text,
        "value": value,
        "limit": limit,
        "unit": None if unit in ("1", "") else unit,
        "criterion": check.criterion or None,
    }


def _rate(value: float | None) -> float | None:
    return None if value is None else _number(value * 60 * 1.8)


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "text": finding.text,
        "likelihood": _number(finding.likelihood),
        "evidence_for": list(finding.evidence_for),
        "evidence_against": list(finding.evidence_against),
        "next_step": finding.next_step or None,
        "source": finding.source or None,
    }


def proposed_test(test: NextTest) -> dict[str, Any]:
    """Return a next test as JSON, the same in the JSON of `judge` and `spot`."""
    return {
        "code": test.code,
        "reading": test.reading,
        "text": test.text,
        "caution": test.caution or None,
        "bits": _number(test.bits),
        "minutes": test.minutes,
        "expected": dict(test.expected),
        "results": list(test.results),
    }


def _remarks(remarks: Iterable[Remark]) -> list[dict[str, str | None]]:
    return [{"code": remark.code, "text": remark.text, "where": remark.where} for remark in remarks]
