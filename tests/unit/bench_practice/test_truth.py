"""Truth of a run: validity on noise-free states by the limits that the page on practice states."""

from __future__ import annotations

from dataclasses import replace

import pytest

from steadfeed.bench.faults import Faults
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.performed import perform
from steadfeed.bench.settings import (
    ConductSettings,
    F,
    Happening,
    InstrumentFault,
    KitSettings,
    ParkingSettings,
    Settings,
    UnitSettings,
)
from steadfeed.bench.truth import Truth, device_words, other_words, truth_of

BASE = Settings(
    unit=UnitSettings(subcooling=11.0 * F),
    faults=Faults(charge=1.08),
    conduct=ConductSettings(running=760.0, hold=220.0, recovery=120.0, standstill=60.0),
)


def truth(settings: Settings = BASE, **conduct: object) -> Truth:
    plan = replace(settings.conduct, **conduct)  # type: ignore[arg-type]
    return truth_of(perform(replace(settings, conduct=plan), 1, step=0.5))


def test_a_good_test_of_a_good_valve() -> None:
    t = truth()
    assert t.valid
    assert (t.state, t.acceptable, t.fault_shows) == ("regulating", ("regulating",), True)
    assert t.numbers["true_feed_held"] > 0.85
    assert t.numbers["true_hold_s"] > 150
    assert t.push is not None
    assert t.restore is not None
    assert t.push < t.restore


def test_a_parked_valve_follows_the_push() -> None:
    t = truth(replace(BASE, parking=ParkingSettings(after=300.0)))
    assert t.state == "fixed"
    assert t.numbers["true_feed_held"] < 0.5
    assert t.numbers["true_superheat_slope"] < -0.3
    assert t.numbers["true_opening_ratio"] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("conduct", "reason"),
    [
        ({"rise": 9.0 * F}, "push too small"),
        ({"hold": 30.0, "steps": 1}, "hold too short"),
        ({"running": 200.0, "lead": 200.0}, "unsteady baseline"),
        ({"happenings": (Happening("return air", 60.0, 0.0, 4.0 * F, 30.0),)}, "load drifted"),
        ({"happenings": (Happening("airflow", 60.0, 0.0, -0.25),)}, "load drifted"),
        ({"happenings": (Happening("humidity", 60.0, 0.0, 0.003),)}, "load drifted"),
        ({"happenings": (Happening("thermostat", 120.0, 60.0),)}, "interrupted"),
        ({"happenings": (Happening("fan", 120.0, 60.0, 1.0),)}, "interrupted"),
        ({"trims": False, "happenings": (Happening("wind", 120.0, 60.0, 1.0),)}, "interrupted"),
    ],
)
def test_what_spoils_a_test_is_named(conduct: dict[str, object], reason: str) -> None:
    t = truth(**conduct)
    assert reason in t.reasons
    assert not t.valid


def test_too_little_subcooling_at_the_unit_and_at_the_valve() -> None:
    low = truth(replace(BASE, faults=Faults(charge=0.85)))
    assert "too little subcooling" in low.reasons
    riser = truth(replace(BASE, unit=replace(BASE.unit, lift=22.0, line_length=30.0)))
    assert riser.numbers["true_baseline_subcooling_degF"] > riser.numbers["true_valve_subcooling_in_push_degF"] - 12.0


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        (InstrumentFault("suction_pressure", "frozen", -200.0), "suction gauge not alive"),
        (InstrumentFault("liquid_pressure", "hose valve shut", -200.0), "head gauge not alive"),
        (InstrumentFault("suction_line_temperature", "frozen", -200.0), "temperature clamp not alive"),
        (InstrumentFault("suction_line_temperature", "off the pipe", 30.0), "temperature clamp off the pipe"),
        (InstrumentFault("suction_pressure", "wrong port", place="discharge_pressure"), "wrong refrigerant or unit"),
    ],
)
def test_what_instruments_spoil_is_named(fault: InstrumentFault, reason: str) -> None:
    assert reason in truth(replace(BASE, kit=KitSettings(faults=(fault,)))).reasons


def test_a_fault_after_the_test_spoils_nothing() -> None:
    late = InstrumentFault("suction_pressure", "frozen", 700.0)
    assert truth(replace(BASE, kit=KitSettings(faults=(late,)))).valid


def test_a_stage_change_interrupts() -> None:
    two = replace(BASE, unit=replace(BASE.unit, compressor_control="two-stage"))
    assert "interrupted" in truth(two, happenings=(Happening("stage", 100.0, 0.0, 0.67),)).reasons
    assert truth(two).valid


def test_states_of_other_devices() -> None:
    piston = replace(
        BASE, unit=replace(BASE.unit, metering_device="fixed orifice", superheat=20.0 * F), faults=Faults()
    )
    assert truth(piston).state == "fixed"
    weak = truth(replace(BASE, faults=Faults(charge=1.08, metering=MeteringFaults(strength=0.12))))
    assert weak.state == "weak"
    assert weak.fault_shows
    hunting = truth(
        replace(BASE, faults=Faults(charge=1.15, metering=MeteringFaults(gain=1.5, bulb_slow=2.0, equalizer_lag=12.0)))
    )
    assert hunting.state == "hunting"
    assert hunting.numbers["true_cycles_degF"] > 0.8
    loose = truth(replace(BASE, faults=Faults(charge=1.1, metering=MeteringFaults(bulb_contact=0.3))))
    assert loose.state == "flooding"
    small = truth(replace(BASE, faults=Faults(charge=1.02, metering=MeteringFaults(undersized=0.5))), rise=22.0 * F)
    assert small.state in ("at its stop", "starving")


def test_words_for_the_table() -> None:
    run = perform(
        replace(BASE, faults=Faults(charge=0.8, non_condensables=0.5, metering=MeteringFaults(friction=2.0))),
        1,
        step=0.5,
    )
    assert device_words(run) == "txv_friction"
    assert other_words(run) == ("non_condensables", "undercharge")
