"""The JSON of `judge` keeps the promise of docs/reference/json.md."""

from __future__ import annotations

import datetime
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.cli.conftest import assessment

from steadfeed.analysis.challenge import Judgement
from steadfeed.circuit.channel import Channel
from steadfeed.circuit.equipment import Instruments, System
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import READING_KINDS, STATES, Check, FeedHeld, Measured, SensorState
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.units import KINDS, to_si
from steadfeed.visit.json_form import error_form, json_line, judgement_form, moment, reading_key
from steadfeed.visit.judge_log import JudgedLog, method_version

#: Keys that scripts rely on, each with the types that may stand there.
CONTRACT: dict[str, tuple[type, ...]] = {
    "log": (str,),
    "sha256": (str,),
    "system_sha256": (str, type(None)),
    "method_version": (str,),
    "circuit": (str, type(None)),
    "mode": (str,),
    "valid": (bool,),
    "reasons": (list,),
    "verdict": (str,),
    "early": (bool,),
    "probability": (dict, type(None)),
    "feed_held": (dict, type(None)),
    "phases": (dict,),
    "baseline": (dict,),
    "push": (dict,),
    "recovery": (dict,),
    "sensors": (dict,),
    "findings": (list,),
    "notes": (list,),
    "repairs": (list,),
}
PHASES = {"baseline_start", "push", "hold", "restore", "recovery", "standstill"}

START = datetime.datetime(2025, 7, 14, 15, 0, tzinfo=datetime.UTC).timestamp()


def a_recording(**changes: Any) -> Recording:
    time = START + np.arange(5.0)
    channel = Channel("suction_pressure", np.full(5, 9e5), "psig", "suction_pressure_psig")
    return replace(Recording(time, {"suction_pressure": channel}, atmosphere=84e3, utc_offset=-5 * 3600.0), **changes)


def judged(recording: Recording | None = None, system: System | None = None, **changes: Any) -> JudgedLog:
    recording = recording or a_recording()
    return JudgedLog(
        log="logs/unit5.csv",
        sha256="a" * 64,
        system=system or System(refrigerant="R-410A"),
        system_file=None,
        system_sha256=None,
        curves=curves("R-410A"),
        judgement=Judgement(assessment(recording, **changes), recording, None),
        method_version=method_version(),
    )


def form_of(*args: Any, **changes: Any) -> dict[str, Any]:
    """The form as a script gets it: written and read again."""
    form: dict[str, Any] = json.loads(json_line(judgement_form(judged(*args, **changes))))
    return form


def test_every_key_of_the_contract_is_there() -> None:
    form = form_of()
    for key, types in CONTRACT.items():
        assert isinstance(form[key], types), key
    assert set(form["phases"]) == PHASES
    assert set(form["phases_elapsed_s"]) == PHASES
    assert set(form["probability"]) == set(STATES)
    assert sum(form["probability"].values()) == pytest.approx(1.0, abs=1e-6)
    assert set(form["feed_held"]) == {"value", "low", "high", "level"}
    assert set(form["sensors"]["suction_pressure"]) == {"alive", "why", "flags"}


def test_every_key_is_documented() -> None:
    page = Path(__file__).parents[2].joinpath("docs/reference/json.md").read_text(encoding="utf-8")
    words = set(re.findall(r"[\w]+", " ".join(re.findall(r"`([^`]+)`", page))))
    form = form_of(
        findings=(Finding("code", "text", 0.5, ("for",), ("against",), "next", "source"),),
        repairs=(Remark("code", "text", "where"),),
    )
    nested = [form["feed_held"], form["phases"], *form["sensors"].values(), *form["checks"], *form["findings"]]
    keys = set(form) | {key for part in [*nested, *form["repairs"], *form["notes"]] for key in part}
    keys |= {reading_key(name) for name in READING_KINDS}
    assert keys - words == set()


def test_method_version_is_code_plus_hash() -> None:
    import steadfeed

    assert re.fullmatch(rf"{re.escape(steadfeed.__version__)}\+[0-9a-f]{{8}}", method_version())


def test_readings_have_the_names_of_the_contract() -> None:
    assert {reading_key(name) for name in READING_KINDS} >= {
        "suction_pressure_psig",
        "head_pressure_psig",
        "evaporating_degF",
        "condensing_degF",
        "superheat_degF",
        "subcooling_degF",
        "valve_subcooling_degF",
    }


def test_units_are_converted_by_their_kind() -> None:
    readings = {
        "suction_pressure": Measured(to_si(118.0, "psig", "pressure", 84e3), to_si(0.5, "psi", "pressure_difference")),
        "evaporating_temperature": Measured(to_si(40.0, "degF", "temperature"), 0.5),
        "superheat": Measured(10.0, 0.5),
        "compressor_current": Measured(11.5, 0.1),
    }
    form = form_of(baseline=readings)["baseline"]
    assert form["suction_pressure_psig"] == {"value": 118.0, "uncertainty": 0.5}
    assert form["evaporating_degF"] == {"value": 40.0, "uncertainty": 0.9}
    assert form["superheat_degF"] == {"value": 18.0, "uncertainty": 0.9}
    assert form["compressor_current_A"] == {"value": 11.5, "uncertainty": 0.1}


def test_a_sealed_gauge_counts_from_one_standard_atmosphere() -> None:
    sealed = System(refrigerant="R-410A", instruments=Instruments(pressure_reference="sealed"))
    readings = {"suction_pressure": Measured(101325.0 + 68947.57, 100.0)}
    assert form_of(None, sealed, baseline=readings)["baseline"]["suction_pressure_psig"]["value"] == pytest.approx(10.0)


def test_times_carry_the_offset_of_the_log() -> None:
    form = form_of(phases=Phases(push=START + 60, hold=START + 61.25))
    assert form["phases"]["push"] == "2025-07-14T10:01:00-05:00"
    assert form["phases"]["hold"] == "2025-07-14T10:01:01.250-05:00"
    assert form["phases"]["restore"] is None
    assert form["phases_elapsed_s"]["hold"] == 61.25
    for text in filter(None, form["phases"].values()):
        assert datetime.datetime.fromisoformat(text).utcoffset() is not None


def test_a_log_of_elapsed_seconds_has_no_calendar() -> None:
    recording = a_recording(time=np.arange(5.0), elapsed=True)
    form = form_of(recording, phases=Phases(push=2.0))
    assert set(form["phases"].values()) == {None}
    assert form["phases_elapsed_s"]["push"] == 2.0


def test_a_time_that_no_calendar_has_is_null() -> None:
    assert moment(1e20, 0.0) is None
    assert moment(math.nan, 0.0) is None
    assert moment(0.0, 3600.0) == "1970-01-01T01:00:00+01:00"


def test_the_reader_s_remarks_come_before_the_judge_s_and_none_twice() -> None:
    both = Remark("rows dropped", "Two rows were dropped.", "rows 4, 9")
    only = Remark("understood", "Read 5 columns.")
    form = form_of(a_recording(remarks=(only, both)), notes=(both,))
    assert [note["code"] for note in form["notes"]] == ["understood", "rows dropped"]


def test_every_kind_of_check_can_be_written() -> None:
    checks = tuple(Check("x", True, "t", 1.0, 2.0, kind) for kind in (*KINDS, "temperature_rate", "", "unheard of"))
    form = form_of(checks=checks)
    assert [set(check) for check in form["checks"]] == [
        {"name", "passed", "text", "value", "limit", "unit", "criterion"}
    ] * len(checks)
    (rate,) = (check for check in form["checks"] if check["unit"] == "degF/min")
    assert rate["value"] == pytest.approx(108.0)


def test_errors_have_code_and_message() -> None:
    error = FixInput("x.csv is empty", code="empty file")
    assert json.loads(json_line(error_form("x.csv", error))) == {
        "log": "x.csv",
        "error": {"code": "empty file", "message": "x.csv is empty"},
    }


def test_the_line_is_ascii_and_has_no_break() -> None:
    line = json_line(error_form("Ünit\n5.csv", FixInput("ein Satz\nmit Bruch")))
    assert line.isascii()
    assert "\n" not in line


anything = st.floats(allow_nan=True, allow_infinity=True)
measured = st.builds(Measured, anything, anything)


@given(
    baseline=st.dictionaries(st.sampled_from(sorted(READING_KINDS)), measured, max_size=4),
    held=st.none() | st.builds(FeedHeld, anything, anything, anything),
    opening=st.none() | measured,
    ceiling=st.none() | anything,
    check=st.builds(Check, st.just("x"), st.none(), st.just("t"), anything, anything, st.sampled_from(KINDS)),
    probability=st.none() | st.fixed_dictionaries(dict.fromkeys(STATES, anything)),
    moments=st.lists(st.none() | anything, min_size=6, max_size=6),
    likelihood=anything,
)
def test_nan_never_appears(
    baseline: dict[str, Measured],
    held: FeedHeld | None,
    opening: Measured | None,
    ceiling: float | None,
    check: Check,
    probability: dict[str, float] | None,
    moments: list[float | None],
    likelihood: float,
) -> None:
    form = form_of(
        baseline=baseline,
        feed_held=held,
        apparent_opening=opening,
        ceiling=ceiling,
        checks=(check,),
        probability=probability,
        phases=Phases(*moments),
        findings=(Finding("c", "t", likelihood),),
        sensors={"suction_pressure": SensorState(None, "why")},
    )
    text = json.dumps(form)
    assert "NaN" not in text
    assert "Infinity" not in text
    assert set(form) >= set(CONTRACT)
