"""Every finding: abstains on a missing channel, is silent on a healthy bench, fires on its bench fault, and has one case from
outside the project. A finding that lacks one of these is named.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

import samples
from diagnosis_cases import ON_THE_BENCH, broken, evidence_of, readings_of, settled, shifted, system
from published_rows import rows
from steadfeed.analysis.challenge import judge
from steadfeed.analysis.diagnosis import combine
from steadfeed.analysis.diagnosis.combine import FINDINGS, diagnose
from steadfeed.analysis.diagnosis.evidence import Evidence, gather
from steadfeed.analysis.diagnosis.of_challenge import baseline_spot
from steadfeed.circuit.equipment import MeteringDevice, Mode, System
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Remark
from steadfeed.circuit.verdict import STATES, Assessment
from steadfeed.physics.properties import curves

F = 5.0 / 9.0
CODES = list(FINDINGS)
HEALTHY: list[tuple[str, Mode, float]] = [
    ("txv", "cooling", 95.0), ("txv", "cooling", 82.0), ("txv", "cooling", 105.0), ("eev", "cooling", 95.0),
    ("eev", "cooling", 82.0), ("fixed orifice", "cooling", 95.0), ("fixed orifice", "cooling", 82.0),
    ("txv", "heating", 47.0),
]  # fmt: skip
#: A reading without which the finding must abstain, where the others are all there.
MISSING = {
    "undercharge": ("liquid_pressure",),
    "overcharge": ("liquid_line_temperature",),
    "non-condensables": ("outdoor_air_temperature", "liquid_line_temperature"),
    "wrong refrigerant": ("suction_line_temperature",),
    "liquid line restriction": ("liquid_line_temperature",),
    "flash gas": ("suction_pressure",),
    "metering device underfeeding": ("suction_line_temperature",),
    "metering device overfeeding": ("suction_line_temperature",),
    "bulb loose": ("suction_pressure",),
    "bulb charge lost": ("liquid_pressure",),
    "equalizer plugged": ("liquid_line_temperature",),
    "check valve leaking": ("suction_line_temperature",),
    "low indoor airflow": ("return_air_dry_bulb",),
    "condenser air": ("outdoor_air_temperature",),
    "outdoor coil air": ("outdoor_air_temperature",),
    "recirculation": ("condenser_inlet_air",),
    "compressor valves": ("suction_pressure", "liquid_pressure"),
    "compressor unloaded": ("suction_pressure", "liquid_pressure"),
    "reversing valve": ("evaporator_outlet_temperature", "discharge_line_temperature"),
    "suction restriction": ("suction_pressure",),
    "suction gauge": ("suction_pressure",),
    "head gauge": ("liquid_pressure",),
    "suction clamp": ("suction_line_temperature",),
    "liquid clamp": ("liquid_line_temperature",),
    "outdoor thermometer": ("outdoor_air_temperature",),
}


def assessment(verdict: str, *reasons: str, notes: tuple[Remark, ...] = ()) -> Assessment:
    """A challenge on a TXV with this verdict, sure of itself."""
    chance = {state: 0.93 if state == verdict else 0.01 for state in STATES}
    return Assessment(
        valid=not reasons, reasons=reasons, verdict=verdict if not reasons else "undecided", early=False,
        probability=chance, feed_held=None, phases=Phases(), notes=notes,
    )  # fmt: skip


def with_challenge(made: Assessment) -> Evidence:
    unit = system("txv")
    return gather(unit, curves("R-410A"), evidence_of(readings_of(settled("txv")), unit).spot, assessment=made)


def spoilt(**changes: float) -> tuple[dict[str, float], System]:
    """Readings of a TXV in order with some of them moved [K; share for pressures]."""
    values = readings_of(settled("txv"))
    for name, change in changes.items():
        values[name] = values[name] * (1.0 + change) if name.endswith("pressure") else values[name] + change
    return values, system("txv")


def mislabelled() -> tuple[dict[str, float], System]:
    """The readings of an R-410A unit under an R-22 nameplate."""
    return readings_of(settled("txv")), replace(system("txv"), refrigerant="R-22")


FAN_NOTE = Remark("interrupted by", "The condenser fan cycled before the push.")
#: Finding -> evidence in which its cause is there.
FIRES: dict[str, Callable[[], Evidence]] = {
    **{cause: (lambda c=cause: evidence_of(*broken(c))) for cause in ON_THE_BENCH},  # type: ignore[misc]
    "wrong refrigerant": lambda: evidence_of(*mislabelled()),
    "suction gauge": lambda: evidence_of(*spoilt(suction_pressure=-0.16)),
    "head gauge": lambda: evidence_of(*spoilt(liquid_pressure=0.15)),
    "suction clamp": lambda: evidence_of(*spoilt(suction_line_temperature=22.0 * F)),
    "liquid clamp": lambda: evidence_of(*spoilt(liquid_line_temperature=-8.0 * F)),
    "outdoor thermometer": lambda: evidence_of(*spoilt(outdoor_air_temperature=15.0 * F)),
    "metering device parked": lambda: with_challenge(assessment("fixed")),
    "fan control": lambda: with_challenge(assessment("regulating", "interrupted", notes=(FAN_NOTE,))),
    "readings mixed up": lambda: gather(
        system("txv"), curves("R-410A"), None, slips=("Suction cannot reach head while running.",)
    ),
}

_PRACTICE = {row["cause"]: row for row in rows("fault_signs_PRACTICE.csv")}
_CHART = {row["fault"]: row for row in rows("fault_signs_rossi_braun.csv")}
_ISOLATED_BY = {row["fault"]: row["feature"] for row in rows("fault_decoupling.csv")}
_CHART_NAMES = {
    "undercharge": "refrigerant leakage",
    "compressor valves": "compressor valve leak",
    "liquid line restriction": "liquid line restriction",
    "condenser air": "condenser fouling",
    "low indoor airflow": "evaporator fouling",
}


def by_chart(cause: str) -> Evidence:
    """Signs of a published chart for a fixed orifice (Rossi and Braun); a restriction also by the drop of its line.

    The chart's signs of a restriction are those of any feed that is too small; what isolates it is the liquid line's drop
    (fault_decoupling.csv).
    """
    signs = dict(_CHART[_CHART_NAMES[cause]])
    if "liquid-line pressure drop" in _ISOLATED_BY.get(cause, ""):
        signs["line_drop"] = "+"
    return evidence_of(shifted(signs, "fixed orifice"), system("fixed orifice"))


def by_practice(cause: str) -> Evidence:
    """Signs that are common practice, from memory."""
    row = _PRACTICE[cause]
    mode: Mode = "heating" if row["mode"] == "heating" else "cooling"
    return evidence_of(shifted(row, row["device"], mode), system(row["device"], mode))


def by_another_simulation() -> Evidence:
    """A valve stuck in mid-travel in an independent dynamic simulation (tests/data/README.md), judged as any log is."""
    for name in samples.named("fixed"):
        recording, unit = samples.challenge(name)
        if unit.metering_device is not MeteringDevice.TXV or unit.refrigerant is None:
            continue
        known = curves(unit.refrigerant)
        judgement = judge(recording, unit, known)
        if judgement.assessment.verdict == "fixed":
            return gather(unit, known, baseline_spot(judgement, unit, known), assessment=judgement.assessment)
    raise AssertionError("no sample of a parked valve was judged as one")


OUTSIDE: dict[str, Callable[[], Evidence]] = {
    **{cause: (lambda c=cause: by_practice(c)) for cause in _PRACTICE},  # type: ignore[misc]
    **{cause: (lambda c=cause: by_chart(c)) for cause in _CHART_NAMES},  # type: ignore[misc]
    "metering device parked": by_another_simulation,
    "fan control": FIRES["fan control"],  # method: a fan that cycles takes its head back within the push
    "readings mixed up": FIRES["readings mixed up"],  # thermodynamics: suction above head cannot be while running
}


def test_every_finding_brings_what_it_must() -> None:
    lacking = {
        code: [name for name, table in (("bench fault", FIRES), ("case from outside", OUTSIDE)) if code not in table]
        for code in CODES
    }
    assert not {code: what for code, what in lacking.items() if what}
    without = set(CODES) - set(MISSING) - set(combine.RULES)
    assert not without, f"no channel is named without which these abstain: {without}"


@pytest.mark.parametrize("code", CODES)
def test_it_abstains_when_nothing_was_read(code: str) -> None:
    unit = system("txv")
    assert FINDINGS[code](evidence_of({"outdoor_air_temperature": 308.15}, unit)) is None


@pytest.mark.parametrize("code", list(MISSING))
def test_it_abstains_on_a_missing_channel(code: str) -> None:
    values, unit = (broken(code)) if code in ON_THE_BENCH else (readings_of(settled("txv")), system("txv"))
    values = {name: value for name, value in values.items() if name not in MISSING[code]}
    if code in (
        "wrong refrigerant",
        "suction gauge",
        "head gauge",
        "suction clamp",
        "liquid clamp",
        "outdoor thermometer",
    ):
        whole = FIRES[code]()
        assert whole.spot is not None
        kept = {n: v for n, v in whole.spot.readings.values.items() if n not in MISSING[code]}
        values, unit = kept, whole.system
    assert FINDINGS[code](evidence_of(values, unit)) is None


@pytest.mark.parametrize("code", CODES)
def test_it_is_silent_on_a_healthy_bench(code: str) -> None:
    for device, mode, outdoor in HEALTHY:
        state = settled(device, mode) if mode == "heating" else settled(device, mode, outdoor=outdoor)
        evidence = evidence_of(readings_of(state), system(device, mode))
        assert FINDINGS[code](evidence) is None, (device, mode, outdoor)


@pytest.mark.parametrize("code", CODES)
def test_it_fires_on_its_bench_fault(code: str) -> None:
    evidence = FIRES[code]()
    found = FINDINGS[code](evidence)
    assert found is not None
    assert found.code == code
    assert found.evidence_for
    assert found.next_step
    assert found.source
    said = diagnose(evidence)
    assert code in [finding.code for finding in said.findings[:3]]
    assert not said.nothing_found


@pytest.mark.parametrize("code", CODES)
def test_its_case_from_outside(code: str) -> None:
    found = FINDINGS[code](OUTSIDE[code]())
    assert isinstance(found, Finding)
    assert found.likelihood is not None
    assert found.likelihood > 0.5


@pytest.mark.parametrize("cause", list(_CHART_NAMES))
def test_the_published_chart_ranks_its_fault_among_its_own_first(cause: str) -> None:
    """Of the chart's five faults the one whose signs were read is the likeliest."""
    chance = diagnose(by_chart(cause)).probability
    assert chance is not None
    assert max(_CHART_NAMES, key=lambda other: chance[other]) == cause


def test_findings_are_pure() -> None:
    evidence = FIRES["undercharge"]()
    assert [rule(evidence) for rule in FINDINGS.values()] == [rule(evidence) for rule in FINDINGS.values()]


def test_heat_pump_parts_are_not_found_where_there_are_none() -> None:
    values, unit = broken("reversing valve")
    assert FINDINGS["reversing valve"](evidence_of(values, unit, heat_pump=False)) is None
    assert FINDINGS["reversing valve"](evidence_of(values, unit, heat_pump=True)) is not None


def test_a_parked_valve_is_not_found_in_a_snapshot() -> None:
    """A snapshot cannot show it: without a challenge the finding abstains."""
    values, unit = broken("metering device overfeeding")
    assert FINDINGS["metering device parked"](evidence_of(values, unit)) is None
    orifice = replace(system("txv"), metering_device=system("fixed orifice").metering_device)
    made = gather(orifice, curves("R-410A"), None, assessment=assessment("fixed"))
    assert FINDINGS["metering device parked"](made) is None  # a piston is meant to be fixed
