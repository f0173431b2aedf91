"""What the person does is what happens: covers, ceilings, interruptions, rows by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from steadfeed.bench.conduct import cover_for
from steadfeed.bench.equipment import Surroundings
from steadfeed.bench.performed import Performed, log_text, perform, system_text
from steadfeed.bench.settings import (
    ConductSettings,
    F,
    Happening,
    KitSettings,
    Settings,
    UnitSettings,
    WeatherSettings,
    degf,
    psig,
)
from steadfeed.bench.setup import equipment_of

SHORT = ConductSettings(running=420.0, lead=300.0, hold=150.0, recovery=90.0, standstill=60.0)


def done(conduct: ConductSettings = SHORT, **more: object) -> Performed:
    return perform(Settings(conduct=conduct, **more), 1, step=0.5)  # type: ignore[arg-type]


def when(run: Performed, what: str) -> float:
    moment = run.event(what)
    assert moment is not None, what
    return moment


def condensing(run: Performed, at: float) -> float:
    i = int(np.searchsorted(run.history.time, at))
    return float(run.history["condensing_temperature"][i])


def test_the_head_rises_by_what_was_aimed_at() -> None:
    run = done()
    rise = condensing(run, when(run, "restore") - 5.0) - condensing(run, when(run, "push") - 5.0)
    assert rise / F == pytest.approx(20.0, abs=4.0)
    assert [e.what for e in run.events] == ["start", "push", "covered", "restore", "standstill"]


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_wanted_rise_asks_for_more_cover_the_larger_it_is(share: float) -> None:
    unit = equipment_of(Settings())
    small, large = (cover_for(unit, Surroundings(), 12.0, rise) for rise in (3.0 * share, 12.0 * share))
    assert 0.0 < small < large <= 0.97


def test_steps_come_one_after_the_other_and_a_ramp_is_a_ramp() -> None:
    stairs = done(replace(SHORT, steps=4, step_every=40.0, trims=False))
    cover = stairs.history["cover"]
    pushed = cover[(stairs.history.time >= when(stairs, "push")) & (stairs.history.time < when(stairs, "covered"))]
    assert len(np.unique(np.round(pushed[pushed > 0], 4))) == 4
    ramp = done(replace(SHORT, steps=1, ramp=120.0, trims=False))
    rising = ramp.history["cover"][
        (ramp.history.time > when(ramp, "push") + 5) & (ramp.history.time < when(ramp, "push") + 115)
    ]
    assert np.all(np.diff(rising) > 0)


def test_a_careful_person_stays_under_the_ceiling_and_a_careless_one_trips() -> None:
    hot = WeatherSettings(outdoor=degf(104.0), recirculation=0.4)
    careful = done(replace(SHORT, rise=35.0 * F), weather=hot)
    assert careful.event("trip") is None
    careless = done(replace(SHORT, rise=60.0 * F, careless=True, trims=True, hold=400.0), weather=hot)
    trip = when(careless, "trip")
    assert when(careless, "restore") >= trip
    assert careless.history["tripped"].max() == 1.0


def test_a_switch_that_trips_at_the_start_ends_the_test_before_the_push() -> None:
    run = done(unit=UnitSettings(high_switch=psig(300.0)))
    assert run.event("push") is None
    assert run.event("trip") is not None
    assert len(run.readings.time) > 30


@pytest.mark.parametrize(
    ("happening", "name", "changes"),
    [
        (Happening("return air", 20.0, 0.0, 4.0 * F), "return_air_dry_bulb", 4.0 * F),
        (Happening("outdoor air", 20.0, 0.0, 3.0 * F), "outdoor_air_temperature", 3.0 * F),
    ],
)
def test_air_changes_when_it_shall(happening: Happening, name: str, changes: float) -> None:
    run = done(replace(SHORT, happenings=(happening,)))
    t, values = run.history.time, run.history[name]
    at = when(run, "push") + happening.at
    assert values[t > at + 2][0] - values[t < at - 2][-1] == pytest.approx(changes, abs=0.1)


def test_a_thermostat_ends_the_call_and_a_fan_stops() -> None:
    run = done(replace(SHORT, happenings=(Happening("thermostat", 60.0, 0.0),)))
    t = run.history.time
    assert run.history["running"][t < when(run, "push") + 58].max() == 1.0
    assert run.history["running"][t > when(run, "push") + 65].max() == 0.0
    fan = done(replace(SHORT, happenings=(Happening("fan", 60.0, 30.0, 1.0),)))
    t = fan.history.time
    assert fan.history["fans_running"][(t > when(fan, "push") + 62) & (t < when(fan, "push") + 88)].max() == 0.0
    assert fan.history["fans_running"][t < when(fan, "push") + 55].max() == 1.0


def test_a_stage_changes_and_wind_takes_the_cover() -> None:
    run = done(
        replace(SHORT, happenings=(Happening("stage", 60.0, 0.0, 0.67),)),
        unit=UnitSettings(compressor_control="two-stage"),
    )
    speed = run.history["speed"][run.history["running"] > 0.5]
    assert speed.max() == 1.0
    assert 0.6 < speed.min() < 0.7
    wind = done(replace(SHORT, trims=False, happenings=(Happening("wind", 60.0, 20.0, 1.0),)))
    t = wind.history.time
    assert wind.history["cover"][(t > when(wind, "push") + 62) & (t < when(wind, "push") + 79)].max() == 0.0


def test_forgetting_to_put_back_leaves_the_cover_on() -> None:
    run = done(replace(SHORT, puts_back=False))
    assert run.event("restore") is None
    assert run.history["cover"][-1] > 0.3


def test_in_heating_the_indoor_air_is_restricted() -> None:
    run = done(
        unit=UnitSettings(mode="heating"), weather=WeatherSettings(outdoor=degf(47.0), return_dry_bulb=degf(69.0), return_wet_bulb=degf(56.0)),
    )  # fmt: skip
    t = run.history.time
    before = run.history["airflow"][t < when(run, "push") - 2][-1]
    held = run.history["airflow"][t < when(run, "restore") - 2][-1]
    assert held < 0.9 * before
    assert run.history["cover"].max() == 0.0


def test_a_panel_and_a_stopped_fan_raise_the_head_too() -> None:
    panel = done(replace(SHORT, way="panel", trims=False))
    assert condensing(panel, when(panel, "restore") - 5) - condensing(panel, when(panel, "push") - 5) > 5.0 * F
    fans = done(replace(SHORT, way="fan stopped", steps=1), unit=UnitSettings(outdoor_fans=2, capacity=17_000.0))
    t = fans.history.time
    assert fans.history["fans_running"][(t > when(fans, "push") + 5) & (t < when(fans, "restore"))].max() == 0.5


def test_a_protocol_by_hand_has_seven_rows_and_a_phone_call_none() -> None:
    kit = KitSettings(sampling="by hand", protocol=True, rows=7)
    plan = replace(SHORT, running=620.0, lead=680.0, hold=300.0, recovery=260.0, standstill=200.0)
    run = done(plan, kit=kit)
    assert len(run.readings.time) == 7
    push, restore = when(run, "push"), when(run, "restore")
    assert sum(push - 420 < t < push for t in run.readings.time) == 2
    assert sum(push < t < restore for t in run.readings.time) == 2
    busy = done(
        replace(plan, happenings=(Happening("phone call", 20.0, 200.0),)), kit=replace(kit, protocol=False, rows=60)
    )
    push = when(busy, "push")
    assert not any(push + 20 <= t < push + 220 for t in busy.readings.time)
    assert any(push + 220 <= t for t in busy.readings.time)


def test_the_same_seed_gives_the_same_bytes_and_another_does_not() -> None:
    kit = KitSettings(dropouts=0.02, duplicates=0.02, disorder=0.02, shuffled_columns=True)
    texts = []
    for seed in (5, 5, 6):
        run = perform(Settings(conduct=SHORT, kit=kit), seed, step=0.5)
        texts.append((log_text(run), system_text(run)))
    assert texts[0] == texts[1]
    assert texts[0][0] != texts[2][0]


def test_somebody_who_does_not_push_leaves_a_log_without_a_push() -> None:
    run = done(replace(SHORT, pushes=False))
    assert [e.what for e in run.events] == ["start", "standstill"]
    assert run.history["cover"].max() == 0.0
    from steadfeed.bench.truth import truth_of

    assert truth_of(run).reasons == ("no push found",)
