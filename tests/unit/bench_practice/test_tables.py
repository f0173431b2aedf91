"""Settings read from tables: units in keys, near misses named, wrong values refused."""

from __future__ import annotations

import pytest

from steadfeed.bench.settings import ConductSettings, KitSettings, Settings, UnitSettings, WeatherSettings
from steadfeed.bench.tables import known_keys, read_table
from steadfeed.errors import FixInput

AIR = 101325.0


def test_quantities_become_si_whatever_their_unit() -> None:
    unit = read_table(UnitSettings, {"line_length_ft": 50, "lift_m": 3, "mop_psig": 100, "superheat_degF": 9}, "x", AIR)
    assert unit.line_length == pytest.approx(15.24)
    assert unit.lift == 3.0
    assert unit.mop == pytest.approx(100 * 6894.757 + AIR, rel=1e-6)
    assert unit.superheat == pytest.approx(5.0)


def test_a_gauge_pressure_counts_from_the_air_at_the_site() -> None:
    high = read_table(UnitSettings, {"mop_psig": 100}, "x", 80_000.0)
    assert high.mop == pytest.approx(100 * 6894.757 + 80_000.0, rel=1e-6)


def test_an_unknown_key_names_the_nearest() -> None:
    with pytest.raises(
        FixInput, match=r"scenario y, \[unit\] has no key metering_devise; did you mean metering_device"
    ):
        read_table(UnitSettings, {"metering_devise": "txv"}, "scenario y, [unit]", AIR)


@pytest.mark.parametrize(
    ("cls", "data", "says"),
    [
        (UnitSettings, {"metering_device": "txw"}, "did you mean “txv”"),
        (UnitSettings, {"capacity_tons": "three"}, "must be a number"),
        (UnitSettings, {"capacity_tons": True}, "must be a number"),
        (UnitSettings, {"packaged": 1}, "must be true or false"),
        (UnitSettings, {"circuits": 1.5}, "must be a whole number"),
        (UnitSettings, {"capacity_tons": 3, "capacity_kW": 10}, "states capacity twice"),
        (UnitSettings, {"capacity": 3}, "no key capacity; did you mean capacity_tons"),
        (ConductSettings, {"happenings": [{"what": "rain"}]}, "must be one of"),
        (ConductSettings, {"happenings": "rain"}, "must be a list of tables"),
        (KitSettings, {"channels": "all"}, "must be a list of texts"),
        (WeatherSettings, 5, "must be a table"),
    ],
)
def test_bad_values_get_one_sentence(cls: type, data: object, says: str) -> None:
    with pytest.raises(FixInput, match=says):
        read_table(cls, data, "scenario z, [t]", AIR)


def test_rows_of_tables_are_read() -> None:
    conduct = read_table(
        ConductSettings,
        {"happenings": [{"what": "wind", "at_s": 60, "size": 1.0}, {"what": "fan", "length_min": 1}]},
        "x",
        AIR,
    )
    assert [h.what for h in conduct.happenings] == ["wind", "fan"]
    assert conduct.happenings[0].at == 60.0
    assert conduct.happenings[1].length == 60.0


def test_every_setting_has_a_line_for_the_reference() -> None:
    from dataclasses import fields

    for cls in (UnitSettings, WeatherSettings, ConductSettings, KitSettings):
        for f in fields(cls):
            assert f.metadata.get("text"), f"{cls.__name__}.{f.name}"
        assert len(set(known_keys(cls))) == len(known_keys(cls))


def test_the_defaults_are_a_healthy_unit() -> None:
    s = Settings()
    assert s.faults.charge == 1.0
    assert s.faults.metering.parked is None
    assert s.parking.after == 0.0
    assert not s.kit.faults
    assert not s.conduct.happenings
