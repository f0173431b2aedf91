"""Laws of spot readings: whatever is typed, there is a sentence or an honest answer; more evidence never breaks it."""

from __future__ import annotations

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis_cases import readings_of, settled, system
from steadfeed.analysis.diagnosis.combine import FINDINGS, diagnose
from steadfeed.analysis.diagnosis.evidence import gather
from steadfeed.analysis.spot import SPOT_KINDS, SpotReadings, evaluate
from steadfeed.analysis.words import Units
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.errors import SteadfeedError
from steadfeed.physics.properties import curves
from steadfeed.units import units_of
from steadfeed.visit.json_form import json_line
from steadfeed.visit.spot import READINGS, take_spot
from steadfeed.visit.spot_form import spot_form, spot_sections

REFRIGERANTS = st.sampled_from(["R-410A", "R-22", "R-32", "R-407C", "R-134a", "R-454B", "R-290"])
DEVICES = st.sampled_from(list(MeteringDevice))
MODES = st.sampled_from(["cooling", "heating"])


@st.composite
def typed(draw: st.DrawFn) -> dict[str, tuple[float, str]]:
    names = draw(st.lists(st.sampled_from(list(READINGS)), unique=True, max_size=12))
    out = {}
    for name in names:
        kind = READINGS[name][1]
        number = draw(st.one_of(st.floats(-50.0, 600.0), st.floats(-1e6, 1e6)))
        out[name] = (number, draw(st.sampled_from(units_of(kind))))
    return out


@settings(deadline=None, max_examples=150)
@given(typed(), REFRIGERANTS, DEVICES, MODES)
def test_anything_typed_ends_in_a_sentence_or_an_answer(
    readings: dict[str, tuple[float, str]], refrigerant: str, device: MeteringDevice, mode: str
) -> None:
    unit = System(refrigerant=refrigerant, metering_device=device, mode=mode)  # type: ignore[arg-type]
    try:
        result = take_spot(unit, readings, 101325.0)
    except SteadfeedError as error:
        assert error.message
        return
    json_line(spot_form(result))  # raises on NaN
    assert dict(result.typed) == readings  # nothing typed is lost
    if result.spot is not None:
        assert spot_sections(result, "us")
        assert all(math.isfinite(q.value) and q.measured.uncertainty >= 0.0 for q in result.spot.quantities.values())


@st.composite
def moved(draw: st.DrawFn) -> dict[str, float]:
    """Readings of a unit in order, some left out, the others moved by anything that a fault may bring."""
    base = readings_of(settled(draw(st.sampled_from(["txv", "eev", "fixed orifice"]))))
    kept = draw(st.lists(st.sampled_from(list(base)), unique=True))
    return {
        name: base[name] * draw(st.floats(0.6, 1.6)) if name.endswith(("pressure", "current")) else base[name] + draw(st.floats(-25.0, 25.0))
        for name in kept
    }  # fmt: skip


@settings(deadline=None, max_examples=100)
@given(moved(), st.sampled_from(["txv", "eev", "fixed orifice"]), st.sampled_from(["us", "si"]))
def test_likelihoods_are_probabilities_and_findings_are_theirs(
    values: dict[str, float], device: str, units: Units
) -> None:
    unit = system(device)
    c = curves("R-410A")
    spot = evaluate(SpotReadings(values), unit, c)
    evidence = gather(unit, c, spot, units=units)
    found = diagnose(evidence)
    for finding in found.findings:
        assert finding.code in FINDINGS
        assert finding.likelihood is not None
        assert 0.0 < finding.likelihood <= 1.0
        assert finding.source
    if found.probability is not None:
        assert all(-1e-9 <= p <= 1.0 + 1e-6 for p in found.probability.values())
        assert sum(found.probability.values()) <= 2.0 + 1e-6  # two causes at most at once
        assert sum(found.probability.values()) >= 1.0 - 1e-6
    assert found == diagnose(gather(unit, c, spot, units=units))


@settings(deadline=None, max_examples=60)
@given(st.sampled_from(sorted(SPOT_KINDS)))
def test_a_reading_that_was_not_taken_changes_no_derived_number(name: str) -> None:
    """Every derived number hangs on its own readings only."""
    unit, c = system("txv"), curves("R-410A")
    values = readings_of(settled("txv"))
    whole = evaluate(SpotReadings(values), unit, c)
    without = evaluate(SpotReadings({n: v for n, v in values.items() if n != name}), unit, c)
    for key, quantity in without.quantities.items():
        if key in whole.quantities and name not in ("liquid_pressure", "discharge_pressure"):
            assert math.isclose(quantity.value, whole.quantities[key].value, abs_tol=1e-9) or key in (
                "condenser_air_rise",  # the air that enters is then taken as outdoor air
            )
