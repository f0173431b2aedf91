"""The plan of a challenge: refusals, ceiling, cover steps, heating, two circuits, mild weather."""

from __future__ import annotations

from dataclasses import replace

import pytest

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.discharge import discharge_temperature
from steadfeed.analysis.guard import ceiling
from steadfeed.analysis.plan import CoverStep, OtherCircuit, Plan, plan
from steadfeed.analysis.plan_conduct import Circumstances
from steadfeed.analysis.spot import SPOT_KINDS, Spot, SpotReadings, evaluate
from steadfeed.circuit.equipment import Instruments, Limits, MeteringDevice, Nameplate, System
from steadfeed.physics.properties import curves
from steadfeed.units import PSI, STANDARD_ATMOSPHERE, to_si

F = 5.0 / 9.0
TXV = System(refrigerant="R-410A", metering_device=MeteringDevice.TXV, compressor_type="scroll")
READY = Circumstances(
    coil_iced=False, switch_bypassed=False, switch_tripped=False, gas_alarm=False, ventilated=True, bad_weather=False,
    somebody_restores=True, fixed_speed_mode=True, other_circuit="none", outdoor_fans=1, economizer=False,
    auxiliary_heat=False, strips_off=True, minutes_running=15.0,
)  # fmt: skip


def spot(system: System = TXV, **typed: float) -> Spot:
    values = {
        "suction_pressure": 118.0, "liquid_pressure": 345.0, "suction_line_temperature": 52.0,
        "liquid_line_temperature": 94.0, "outdoor_air_temperature": 90.0,
    } | typed  # fmt: skip
    units = {"pressure": "psig", "temperature": "degF", "current": "A"}
    si = {n: to_si(v, units[SPOT_KINDS[n]], SPOT_KINDS[n], STANDARD_ATMOSPHERE) for n, v in values.items()}
    return evaluate(SpotReadings(si), system, curves(system.refrigerant or ""))


def make(system: System = TXV, circumstances: Circumstances = READY, **typed: float) -> Plan:
    return plan(system, curves(system.refrigerant or ""), spot(system, **typed), circumstances)


def codes(made: Plan) -> list[str]:
    return [refusal.code for refusal in made.refusals]


def test_a_unit_in_order_may_start() -> None:
    made = make()
    assert made.may_start
    assert made.least_push == pytest.approx(15.0 * F)
    assert made.recommended_push == pytest.approx(18.0 * F)
    assert made.resolvable_push is not None
    assert made.resolvable_push < made.least_push
    assert made.go_to is not None
    assert made.go_to < made.stop_at
    assert 15 * 60 < made.seconds < 40 * 60


def test_the_ceiling_is_the_guards() -> None:
    c = curves("R-410A")
    assert make().stop_at == pytest.approx(ceiling(TXV, c).head_pressure)
    tight = replace(TXV, limits=Limits(high_pressure_switch=to_si(610, "psig", "pressure", STANDARD_ATMOSPHERE)))
    assert make(tight).stop_at == pytest.approx(ceiling(tight, c).head_pressure)
    assert make(tight).stop_at > make().stop_at  # a known switch raises the lowered dew limit


def test_the_discharge_temperature_binds_where_it_is_reached_first() -> None:
    """R-32 runs hot: with a maker's limit of 200 °F the discharge line stops the push, not the dew temperature."""
    hot = replace(TXV, refrigerant="R-32", limits=Limits(discharge_temperature=to_si(215, "degF", "temperature")))
    made = make(hot)
    assert "discharge" in made.limits[0].text
    assert made.limits[0].head_pressure < ceiling(hot, curves("R-32")).head_pressure


@pytest.mark.parametrize(("refrigerant", "expected"), [("R-410A", 192.0), ("R-22", 201.0), ("R-32", 230.0)])
def test_discharge_temperature_of_the_method(refrigerant: str, expected: float) -> None:
    """docs/method.md, guard: evaporating 45 °F, superheat 10 °F, efficiency 0.65, condensing 125 °F; within 1 °F."""
    c = curves(refrigerant)
    evaporating, condensing = ((t + 459.67) * F for t in (45.0, 125.0))
    found = discharge_temperature(
        c, c.dew_pressure(evaporating), evaporating + 10.0 * F, c.dew_pressure(condensing), 0.65
    )
    assert found / F - 459.67 == pytest.approx(expected, abs=1.0)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"coil_iced": True}, "coil iced"),
        ({"switch_bypassed": True}, "switch bypassed"),
        ({"switch_tripped": True}, "switch tripped"),
        ({"gas_alarm": True}, "gas alarm"),
        ({"bad_weather": True}, "weather"),
        ({"somebody_restores": False}, "nobody restores"),
        ({"other_circuit": "not watched"}, "other circuit"),
    ],
)
def test_refusals_by_answers(changes: dict[str, object], code: str) -> None:
    made = make(circumstances=replace(READY, **changes))  # type: ignore[arg-type]
    assert codes(made) == [code]
    (refusal,) = made.refusals
    assert refusal.override == "nobody"
    assert refusal.source
    assert not made.may_start


@pytest.mark.parametrize(
    ("typed", "code", "override"),
    [
        ({"suction_line_temperature": 41.5}, "floodback", "nobody"),
        ({"liquid_line_temperature": 100.0}, "too little subcooling", "the technician, with a reason"),
        ({"liquid_line_temperature": 84.0}, "too much subcooling", "the technician, with a reason"),
        ({"liquid_pressure": 420.0, "liquid_line_temperature": 108.0}, "no room for a push", "nobody"),
    ],
)
def test_refusals_by_readings(typed: dict[str, float], code: str, override: str) -> None:
    made = make(**typed)
    assert codes(made) == [code]
    assert made.refusals[0].override == override
    assert any(character.isdigit() for character in made.refusals[0].text)


def test_no_room_says_when_to_come_back() -> None:
    made = make(liquid_pressure=420.0, liquid_line_temperature=108.0)
    assert "come back when it is below about" in made.refusals[0].text
    assert made.recommended_push is None
    assert made.next_cover is None


def test_flammable_refrigerants_and_inverters() -> None:
    mild = replace(TXV, refrigerant="R-32")
    assert "not ventilated" in codes(make(mild, replace(READY, ventilated=False)))
    assert any("ignition" in caution for caution in make(mild).cautions)
    inverter = replace(TXV, compressor_control="variable-speed")
    made = make(inverter, replace(READY, fixed_speed_mode=False))
    assert codes(made) == ["variable speed"]
    assert "maker" in made.refusals[0].override


def test_what_was_not_answered_is_asked_and_stops_the_start() -> None:
    made = plan(TXV, curves("R-410A"), spot())
    assert not made.refusals
    assert len(made.questions) >= 5
    assert not made.may_start


def test_without_readings_the_ceiling_still_stands() -> None:
    made = plan(TXV, curves("R-410A"), None, READY)
    assert made.stop_at > 0.0
    assert made.go_to is None
    assert made.set_aside


def test_needle_marks_lie_on_the_scale_and_on_the_safe_side() -> None:
    made = make()
    step = limit("needle_graduation")
    assert made.stop_mark % step == pytest.approx(0.0, abs=1.0)
    assert made.stop_mark <= made.stop_at - STANDARD_ATMOSPHERE
    assert made.go_to_mark is not None
    assert made.go_to_mark % step == pytest.approx(0.0, abs=1.0) or made.go_to_mark % step == pytest.approx(
        step, abs=1.0
    )


def test_first_cover_is_a_quarter() -> None:
    assert make().next_cover == pytest.approx(0.25)


def after(last: CoverStep, system: System = TXV) -> Plan:
    return plan(system, curves("R-410A"), spot(system), READY, last)


def test_the_next_cover_follows_from_what_the_last_one_did() -> None:
    weak = after(CoverStep(0.0, 0.25, 2.0 * F, 2.0 * F, 20.0 * F)).next_cover
    strong = after(CoverStep(0.0, 0.25, 10.0 * F, 10.0 * F, 20.0 * F)).next_cover
    assert weak is not None
    assert strong is not None
    assert 0.25 < strong < weak <= 0.5
    enough = after(CoverStep(0.25, 0.5, 9.0 * F, 18.0 * F, 29.0 * F))
    assert enough.next_cover == pytest.approx(0.5)
    assert "Enough" in enough.cover_text


def test_no_step_is_proposed_that_could_pass_the_ceiling_in_ten_seconds() -> None:
    """Near the ceiling the step shrinks; where none is left, none is proposed."""
    for room_head in (395.0, 405.0, 430.0):
        system = replace(
            TXV, limits=Limits(head_pressure=to_si(room_head + 60, "psig", "pressure", STANDARD_ATMOSPHERE))
        )
        values = spot(system, liquid_pressure=room_head, liquid_line_temperature=102.0)
        made = plan(system, curves("R-410A"), values, READY, CoverStep(0.25, 0.5, 4.0 * F, 8.0 * F, 24.0 * F))
        room = made.limits[0].rise
        assert room is not None
        if made.next_cover is not None:
            climb = 12.0 * F * (made.next_cover - 0.5) / 0.5
            assert climb <= room + 1e-9


def test_heating_restricts_indoor_air_and_proves_the_strips_off() -> None:
    heating = replace(TXV, mode="heating")
    typed = {"suction_pressure": 95.0, "liquid_pressure": 330.0, "suction_line_temperature": 36.0, "liquid_line_temperature": 89.0,
             "outdoor_air_temperature": 47.0}  # fmt: skip
    made = make(heating, **typed)
    assert "return grille" in made.cover_text
    assert {"auxiliary heat", "defrost"} & {one.what for one in made.set_aside}
    assert "strips on" in codes(make(heating, replace(READY, strips_off=False), **typed))
    due = make(heating, replace(READY, minutes_since_defrost=50.0), **typed)
    assert any("wait for it" in one.how for one in due.set_aside)


def test_of_two_circuits_the_first_ceiling_binds() -> None:
    c = curves("R-410A")
    other = replace(TXV, circuit="2")
    near = c.bubble_pressure(c.bubble_temperature(ceiling(other, c).head_pressure) - 9.0)
    made = plan(TXV, c, spot(), READY, None, (OtherCircuit(other, c, near),))
    assert made.limits[0].text.startswith("circuit 2")
    assert made.limits[0].rise == pytest.approx(9.0, abs=0.01)
    blind = plan(TXV, c, spot(), READY, None, (OtherCircuit(other, c, None),))
    assert codes(blind) == ["other circuit"]


def test_mild_weather_asks_for_a_partly_covered_baseline() -> None:
    made = make(liquid_pressure=230.0, liquid_line_temperature=65.0, outdoor_air_temperature=60.0)
    assert "Mild weather" in made.mild_weather
    assert not make().mild_weather


def test_warnings_do_not_refuse() -> None:
    rated = replace(TXV, nameplate=Nameplate(rated_current=10.0))
    made = make(rated, compressor_current=12.0, suction_line_temperature=46.0)
    assert made.may_start
    assert any("rated current" in warning for warning in made.warnings)
    assert any("little room" in warning for warning in made.warnings)
    orifice = replace(TXV, metering_device=MeteringDevice.FIXED_ORIFICE)
    assert any("good result" in warning for warning in make(orifice).warnings)


def test_needles_need_a_larger_push_than_digital_gauges() -> None:
    needles = replace(TXV, instruments=Instruments(gauges="analog", sampling="by hand"))
    fine, coarse = make().resolvable_push, make(needles).resolvable_push
    assert fine is not None
    assert coarse is not None
    assert coarse > 1.5 * fine


def test_other_units_of_the_sentences() -> None:
    made = plan(TXV, curves("R-410A"), spot(suction_line_temperature=41.5), READY, units="si")
    assert " K" in made.refusals[0].text
    assert "°F" not in made.refusals[0].text
    assert PSI > 0.0


def test_every_plan_says_how_to_break_off() -> None:
    made = make()
    assert any("still climbs" in line and "stop the compressor" in line for line in made.abort)
    assert all(one.back for one in made.set_aside)
