"""The one measured rig: three expansion devices on one R-12 circuit, condenser fan high and low.

Source: teaching rig UCLA MAE 157W, Refrigeration.xlsx and pure_data.csv of the public repository Touwfoo/157W-Group-6
at e1ff7fbe (Fall 2024); numbers are copied as facts into data/expansion_device_head_pressure_test_R12.csv, P2 and P3
are gauges (add 14.7 psi), the rest is as its header says. Pressures of evaporator outlet (P3) and condenser outlet
(P1), temperatures of compressor suction (T4) and valve inlet (T1). Readings are ratios of small differences: they are
not asked to equal the measured flow.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from steadfeed.analysis.evidence import Summary, log_likelihoods, posterior, prior
from steadfeed.analysis.feed import State, feed_held
from steadfeed.analysis.windows import InstrumentErrors
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.physics.properties import curves
from steadfeed.units import to_si

DATA = Path(__file__).parent / "data" / "expansion_device_head_pressure_test_R12.csv"
R12 = curves("R-12")
#: Class of the rig's needles as printed resolution: 1 psi, 0.2 °C.
ERRORS = InstrumentErrors(3.4e3, 2.0e3, 7e3, 0.2, 0.1, 0.1, True)


def _rows() -> list[dict[str, str]]:
    lines = [line for line in DATA.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def _state(row: dict[str, str]) -> State:
    return State(
        ps=to_si(float(row["P3_psig"]), "psig", "pressure", 101325.0),
        pl=to_si(float(row["P1_psia"]), "psia", "pressure"),
        ts=to_si(float(row["T4_C"]), "degC", "temperature"),
        tl=to_si(float(row["T1_C"]), "degC", "temperature"),
    )


def _pair(device: str) -> tuple[State, State]:
    rows = [r for r in _rows() if r["device"].startswith(device) and r["evap_fan"] == "high"]
    before = next(r for r in rows if r["cond_fan"] == "high")
    during = next(r for r in rows if r["cond_fan"] == "low")
    return _state(before), _state(during)


def _feed(device: str) -> float:
    before, during = _pair(device)
    system = System(refrigerant="R-12", compressor_type="scroll")
    feed = feed_held(before, during, R12, system, ERRORS, (0.0, 0.0, 0.0, 0.0))
    assert feed.held is not None
    return feed.held.value


def test_feed_held_parts_valve_from_capillary() -> None:
    valve, capillary = _feed("TXV"), _feed("capillary")
    assert valve > 0.6
    assert capillary < 0.4
    assert valve - capillary > 0.8


@pytest.mark.parametrize(("device", "state"), [("TXV", "regulating"), ("capillary", "fixed")])
def test_evidence_names_the_device(device: str, state: str) -> None:
    before, during = _pair(device)
    te0, te1 = R12.dew_temperature(before.ps), R12.dew_temperature(during.ps)
    rise = R12.bubble_temperature(during.pl) - R12.bubble_temperature(before.pl)
    before_superheat, after_superheat = before.ts - te0, during.ts - te1
    summary = Summary(
        rise=rise,
        superheat_change=after_superheat - before_superheat,
        u_superheat=0.5,
        evaporating_change=te1 - te0,
        u_evaporating=0.4,
        censored=False,
        superheat_before=before_superheat,
        superheat_after=after_superheat,
        cycles_before=None,
        cycles_in=None,
        cycle_noise=0.2,
    )
    chance = posterior(log_likelihoods(summary), prior(MeteringDevice.UNKNOWN))
    assert max(chance, key=chance.__getitem__) == state
    assert chance[state] > 0.5
