"""What headers mean, and what is said when they do not say enough."""

from __future__ import annotations

import pytest

from steadfeed.capture.columns import parse_target, understand
from steadfeed.capture.system_file import parse_system
from steadfeed.circuit.equipment import Instruments, System
from steadfeed.errors import FixInput
from unit.capture.log_texts import FOUR, HEADER, codes, log, psig, read, refused, rows, said, same_values


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("Suction Pressure (psig)", "suction_pressure_psig"),
        ("SUCTION PRESSURE PSIG", "suction_pressure_psig"),
        ("suction-pressure [bar(g)]", "suction_pressure_barg"),
        ("Suction press. kPa g", "suction_pressure_kPag"),
        ("Low side pressure (psi gauge)", "suction_pressure_psig"),
        ("Liquid Pressure (MPa abs)", "liquid_pressure_MPaa"),
        ("Liquid line pressure, psia", "liquid_pressure_psia"),
        ("Suction Line Temp [°F]", "suction_line_temperature_degF"),
        ("suction line temperature deg F", "suction_line_temperature_degF"),
        ("Suction temperature (℃)", "suction_line_temperature_degC"),
        ("Liquid Line Temperature / degrees C", "liquid_line_temperature_degC"),
        ("Liquid line temp (K)", "liquid_line_temperature_K"),
        ("Ambient temp (F)", "outdoor_air_temperature_degF"),
        ("Return air DB °C", "return_air_dry_bulb_degC"),
        ("Return air WB (°F)", "return_air_wet_bulb_degF"),
        ("Return air RH (%)", "return_air_relative_humidity_pct"),
        ("Supply air temperature °F", "supply_air_dry_bulb_degF"),
        ("Compressor amps", "compressor_current_A"),
        ("Fan current (mA)", "fan_current_mA"),
        ("Power kW", "power_kW"),
        ("Valve steps", "valve_steps"),
        ("C2 Suction Pressure (psig)", "c2_suction_pressure_psig"),
        ("Circuit 1 liquid pressure [psig]", "c1_liquid_pressure_psig"),
        ("Timestamp", "time"),
        ("Date Time", "time"),
        ("Elapsed (s)", "elapsed_s"),
        ("elapsed time [min]", "elapsed_min"),
        ("time_s", "elapsed_s"),
        ("Read by", "read_by"),
        ("Same", "same"),
    ],
)
def test_spellings_that_leave_no_doubt_are_understood(header: str, name: str) -> None:
    meaning = understand(header)
    assert (meaning.name, meaning.problem) == (name, "")


@pytest.mark.parametrize(
    "header", ["Head pressure (psig)", "High side psig", "P1 psig", "T3 °F", "battery_V", "x", "", "°F"]
)
def test_headers_that_leave_doubt_are_not_guessed(header: str) -> None:
    assert understand(header).role == "unknown"


@pytest.mark.parametrize("header", ["suction_pressure", "Suction Pressure", "outdoor_air_temperature", "Power"])
def test_a_missing_unit_is_refused_with_the_way_to_mend_it(header: str) -> None:
    error = refused(log(f"{rows(1)[0]},3", header=f"{HEADER.replace('suction_pressure_psig', 'x')},{header}"))
    assert error.code == "unit missing"
    assert header in error.message
    assert "[columns]" in error.message
    assert "understood as" in error.message


def test_a_unit_of_another_kind_is_refused_with_the_units_there_are() -> None:
    error = refused(log("2025-06-01T14:00:00Z,3", header="time,suction_pressure_degF"))
    assert error.code == "unit unknown"
    assert "degf" in error.message.lower()
    assert "psig psia barg" in error.message


@pytest.mark.parametrize(
    ("unit", "gauge", "absolute"), [("psi", "psig", "psia"), ("bar", "barg", "bara"), ("kPa", "kPag", "kPaa")]
)
def test_a_pressure_that_may_be_gauge_or_absolute_is_refused_unless_the_instruments_say(
    unit: str, gauge: str, absolute: str
) -> None:
    text = log("2025-06-01T14:00:00Z,300", header=f"time,liquid_pressure_{unit}")
    error = refused(text)
    assert error.code == "unit ambiguous"
    assert gauge in error.message
    assert absolute in error.message
    for reference, expected in (("vented", gauge), ("sealed", gauge), ("absolute", absolute)):
        system = System(instruments=Instruments(pressure_reference=reference))
        assert read(text, system).channels["liquid_pressure"].unit == expected


def test_an_unplaced_pressure_is_refused_while_a_vital_one_is_missing() -> None:
    error = refused(log("2025-06-01T14:00:00Z,118,410", header="time,P low psig,liquid_pressure_psig"))
    assert error.code == "column not identified"
    assert "P low psig" in error.message
    assert '"P low psig" = "suction_pressure_psig"' in error.message


def test_an_unknown_column_that_is_not_needed_is_only_remarked() -> None:
    recording = read(log(f"{rows(1)[0]},12.6,fine", header=f"{HEADER},battery_V,comment"))
    assert set(recording.channels) == {f.rsplit("_", 1)[0] for f in FOUR}
    left_out = [r.where for r in recording.remarks if r.code == "column not read"]
    assert left_out == ["battery_V", "comment"]


def test_a_misspelt_column_that_is_not_needed_is_named_with_what_it_may_be() -> None:
    recording = read(log(f"{rows(1)[0]},80", header=f"{HEADER},outdoor_air_temprature_degF"))
    assert "outdoor_air_temperature" in said(recording, "column not read")


def test_a_missing_vital_channel_is_no_error_of_reading() -> None:
    recording = read(log("2025-06-01T14:00:00Z,118", header="time,suction_pressure_psig"))
    assert set(recording.channels) == {"suction_pressure"}


def test_a_discharge_port_stands_in_for_the_liquid_port() -> None:
    header = HEADER.replace("liquid_pressure", "discharge_pressure") + ",P3 psig"
    assert "discharge_pressure" in read(log(f"{rows(1)[0]},3", header=header)).channels


def test_columns_maps_free_headers_also_ones_that_mean_something_else() -> None:
    system = parse_system(
        '[columns]\n"P low" = "suction_pressure_psig"\n"p HIGH" = "liquid_pressure_barg"\n"T" = "ignore"\n'
        '"suction_line_temperature_degF" = "liquid_line_temperature_degF"\n"not there" = "valve_steps"\n"when" = "time"\n',
        "unit5.toml",
    )
    recording = read(
        log("2025-06-01T14:00:00Z,118,28,5,98", header="when,P low,P high,T,suction_line_temperature_degF"), system
    )
    assert {k: (c.header, c.unit) for k, c in recording.channels.items()} == {
        "suction_pressure": ("P low", "psig"),
        "liquid_pressure": ("P high", "barg"),
        "liquid_line_temperature": ("suction_line_temperature_degF", "degF"),
    }
    assert "T" in said(recording, "column ignored")
    assert "not there" in said(recording, "column not in log")


def test_two_columns_for_one_channel_are_refused_until_one_is_ignored() -> None:
    text = log("2025-06-01T14:00:00Z,118,8", header="time,suction_pressure_psig,suction_pressure_barg")
    error = refused(text)
    assert error.code == "column twice"
    assert "suction_pressure_psig" in error.message
    assert "suction_pressure_barg" in error.message
    system = parse_system('[columns]\n"suction_pressure_barg" = "ignore"', "u.toml")
    assert same_values(read(text, system).channels["suction_pressure"].values, [psig(118)])
    assert refused(log("2025-06-01T14:00:00Z,1,1", header="time,power_W,power_W")).code == "column twice"


def test_nothing_understood_says_what_was_found() -> None:
    error = refused(log("1,2,3", header="alpha,beta,gamma"))
    assert error.code == "no header"
    assert "alpha" in error.message
    error = refused(log("2025-06-01T14:00:00Z,2,3", header="time,beta,gamma"))
    assert error.code == "no header"
    assert "“beta”" in error.message
    assert "[columns]" in error.message
    error = refused(log("118,410", header="suction_pressure_psig,liquid_pressure_psig"))
    assert error.code == "no time column"
    assert "elapsed_s" in error.message


def test_what_was_understood_is_said() -> None:
    recording = read(log("2025-06-01T14:00:00Z,118,55", header="Time,suction_pressure_psig,Suction Line Temp °F"))
    text = said(recording, "columns read")
    assert "3 columns" in text
    assert "“Suction Line Temp °F” as suction_line_temperature_degF" in text
    assert ", suction_pressure_psig," in text


@pytest.mark.parametrize(
    "target", ["suction_pressure_psig", "c2_power_kW", "valve_steps", "time", "elapsed_s", "same", "read_by"]
)
def test_every_name_of_the_contract_may_be_a_target(target: str) -> None:
    assert parse_target(target).name == target


@pytest.mark.parametrize(
    ("target", "code"),
    [
        ("suction_pressure", "unit missing"),
        ("suction_pressure_psi", "unit ambiguous"),
        ("suction_pressure_degF", "unit unknown"),
        ("suction_presure_psig", "unknown channel"),
        ("", "unknown channel"),
        ("x" * 500, "unknown channel"),
    ],
)
def test_targets_that_are_no_channel_are_refused(target: str, code: str) -> None:
    with pytest.raises(FixInput) as caught:
        parse_target(target)
    assert caught.value.code == code


def test_circuits_become_recordings_in_their_order() -> None:
    from steadfeed.capture.logs import parse_log

    header = "time,c2_suction_pressure_psig,c1_suction_pressure_psig,outdoor_air_temperature_degF,c2_power_W,power_W"
    lines = [f"{t},{110 + i},{120 + i},95,7,9" for i, t in enumerate(["2025-06-01T14:00:00Z", "2025-06-01T14:00:05Z"])]
    # a row that only circuit 2 has, one that only the shared sensor has
    lines += ["2025-06-01T14:00:10Z,112,,95,7,9", "2025-06-01T14:00:15Z,,,95,,9"]
    one, two = parse_log(log(*lines, header=header).encode(), "x.csv")
    assert (one.circuit, two.circuit) == ("c1", "c2")
    assert (len(one), len(two)) == (2, 3)
    assert same_values(one.channels["suction_pressure"].values, [psig(120), psig(121)])
    assert same_values(two.channels["suction_pressure"].values, [psig(110), psig(111), psig(112)])
    assert one.channels["power"].header == "power_W"
    assert two.channels["power"].header == "c2_power_W"
    assert "outdoor_air_temperature" in one.channels
    assert "outdoor_air_temperature" in two.channels


def test_marks_go_to_their_circuit() -> None:
    from steadfeed.capture.logs import parse_log

    text = log("2025-06-01T14:00:00Z,118,119", header="time,c1_suction_pressure_psig,c2_suction_pressure_psig")
    marks = (
        '[[marks]]\ntime = "2025-06-01T14:00:00Z"\nevent = "push"\ncircuit = 2\n'
        '[[marks]]\ntime = "2025-06-01T14:00:01Z"\nevent = "note"\ncircuit = "C1"\n'
        '[[marks]]\ntime = "2025-06-01T14:00:02Z"\nevent = "restore"\n'
    )
    one, two = parse_log(text.encode(), "x.csv", parse_system(marks, "x.toml"))
    assert [m.event for m in one.marks] == ["note", "restore"]
    assert [m.event for m in two.marks] == ["push", "restore"]
    one, two = parse_log(text.encode(), "x.csv", parse_system("circuit = 2\n" + marks, "x.toml"))
    assert [m.event for m in one.marks] == ["note"]
    assert [m.event for m in two.marks] == ["push", "restore"]
    named = read(
        log("2025-06-01T14:00:00Z,118", header="time,suction_pressure_psig"), parse_system('circuit = "left"', "x.toml")
    )
    assert named.circuit == "left"


def test_columns_without_a_circuit_beside_ones_with() -> None:
    text = log("2025-06-01T14:00:00Z,118,119", header="time,suction_pressure_psig,c2_suction_pressure_psig")
    from steadfeed.capture.logs import parse_log

    one, two = parse_log(text.encode(), "x.csv")
    assert (one.circuit, two.circuit) == ("c1", "c2")
    assert "circuit assumed" in codes(one)
    mixed = "time,suction_pressure_psig,c1_liquid_pressure_psig"
    assert refused(log("2025-06-01T14:00:00Z,118,119", header=mixed)).code == "circuit missing"
