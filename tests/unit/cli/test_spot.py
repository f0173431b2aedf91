"""`steadfeed spot`: options, file, prompts, slips that lose nothing, outcomes, JSON."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from steadfeed.cli.root import root
from steadfeed.cli.spot import OPTIONS
from steadfeed.visit.spot import READINGS, read_file

FOUR = ["--suction", "118", "--head", "365", "--suction-line", "52", "--liquid-line", "99"]
UNIT = ["--refrigerant", "R-410A", "--device", "txv"]
AIR = ["--outdoor", "95", "--return-air", "78", "--return-wet-bulb", "65", "--supply-air", "59"]
STARVED = [
    "--suction", "75", "--head", "345", "--suction-line", "60", "--liquid-line", "88", "--before-device", "70", *AIR[:6],
    "--supply-air", "63", "--coil-air-in", "95",
]  # fmt: skip


def run(*arguments: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(root, ["spot", *arguments], input=typed, standalone_mode=False)


def output(*arguments: str) -> dict[str, Any]:
    result = run(*arguments, "--json")
    assert result.exception is None, result.exception
    form: dict[str, Any] = json.loads(result.stdout)
    return form


def error(result: Result) -> str:
    assert result.exception is not None
    return str(getattr(result.exception, "message", result.exception))


def test_four_readings_give_superheat_subcooling_and_the_next_reading() -> None:
    result = run(*UNIT, *FOUR)
    assert result.return_value == 0, result.exception
    assert "Superheat 12.2 ± " in result.stdout
    assert "Subcooling 10.7 ± " in result.stdout
    assert "Title 24" in result.stdout
    assert "Which further reading tells most" in result.stdout


def test_units_of_the_person() -> None:
    metric = [
        "--suction",
        "8.136 barg",
        "--head",
        "25.17 barg",
        "--suction-line",
        "11.11 degC",
        "--liquid-line",
        "37.22 degC",
    ]
    result = run(*UNIT, *metric, "--units", "si")
    assert "Superheat 6.8 ± " in result.stdout
    assert " K" in result.stdout
    assert "°F" not in result.stdout.split("Charge")[0].split("Title")[0]


def test_causes_stand_with_evidence_and_next_test() -> None:
    result = run(*UNIT, *STARVED, "--cooling-only")
    assert "Causes" in result.stdout
    assert "  + " in result.stdout
    assert "Next" in result.stdout
    assert "--outcome" in result.stdout


def test_an_outcome_moves_the_likelihoods() -> None:
    before = output(*UNIT, *STARVED)
    after = output(*UNIT, *STARVED, "--outcome", "drier temperatures=drop over a part")
    cause = "liquid line restriction"
    assert after["probability"][cause] > before["probability"][cause] + 0.05
    assert cause in {row["cause"] for row in after["moved"]}
    assert before["moved"] == []


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        ("bulb hand=nothing", "did you mean “bulb in hand”"),
        ("bulb in hand=maybe", "no result of bulb in hand"),
        ("bulb in hand", "write test and result"),
    ],
)
def test_a_wrong_outcome_is_one_sentence(outcome: str, said: str) -> None:
    assert said in error(run(*UNIT, *STARVED, "--outcome", outcome))


def test_impossible_readings_lose_nothing() -> None:
    result = run(*UNIT, "--suction", "365", "--head", "118", "--suction-line", "52", "--liquid-line", "99")
    assert result.return_value == 2
    assert "swapped" in result.stderr
    typed, meant = (line for line in result.stderr.splitlines() if "steadfeed spot" in line)
    assert '--suction "365 psig"' in typed
    assert '--suction "118 psig"' in meant
    again = shlex.split(meant[meant.index("steadfeed spot") :].rstrip("."))[2:]
    assert run(*again).return_value == 0


def test_correct_takes_the_proposals() -> None:
    form = output(
        *UNIT, "--suction", "812", "--head", "365", "--suction-line", "52", "--liquid-line", "99", "--correct"
    )
    assert form["slips"] == []
    assert form["typed"]["suction_pressure_kPag"] == 812
    assert form["quantities"]["superheat_degF"]["value"] == pytest.approx(12.2, abs=0.2)


def test_slips_in_json_keep_what_was_typed() -> None:
    result = run(*UNIT, "--suction", "365", "--head", "118", "--suction-line", "52", "--liquid-line", "99", "--json")
    assert result.return_value == 2
    form = json.loads(result.stdout)
    assert form["typed"]["suction_pressure_psig"] == 365
    assert form["slips"][0]["correction"]["suction_pressure_psig"] == 118
    assert form["findings"] == []


def test_a_reading_that_is_no_number_gives_back_what_was_typed() -> None:
    result = run(*UNIT, "--suction", "abc", "--head", "365")
    assert "--suction" in error(result)
    assert 'As typed: steadfeed spot --suction "abc" --head "365"' in result.stderr


def test_keep_writes_a_file_that_can_be_read_again(tmp_path: Path) -> None:
    kept = tmp_path / "unit5-spot.toml"
    run(*UNIT, "--suction", "365", "--head", "118", "--suction-line", "52", "--liquid-line", "99", "--keep", str(kept))
    system, typed = read_file(kept)
    assert system.refrigerant == "R-410A"
    assert typed["suction_pressure"] == (365.0, "psig")  # kept as typed, not as meant
    assert run(str(kept), "--correct").return_value == 0


def test_options_go_before_the_file(tmp_path: Path) -> None:
    file = tmp_path / "spot.toml"
    file.write_text(
        'refrigerant = "R-22"\n\n[nameplate]\nsubcooling_degF = 12\n\n[readings]\nsuction_pressure_psig = 118\n'
        "liquid_pressure_psig = 365\nsuction_line_temperature_degF = 60\nliquid_line_temperature_degF = 99\n",
        encoding="utf-8",
    )
    form = output(str(file), *UNIT, "--suction-line", "52")
    assert form["refrigerant"] == "R-410A"
    assert form["targets"]["subcooling_degF"]["value"] == pytest.approx(12.0)
    assert form["quantities"]["superheat_degF"]["value"] == pytest.approx(12.2, abs=0.2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("refrigerant = 'R-410A'\n", "holds no table [readings]"),
        ("[readings]\nsuction_presure_psig = 118\n", "did you mean suction_pressure_psig"),
        ("[readings]\nsuction_pressure_psig = 'x'\n", "must be a number"),
        ("[readings]\nsuction_pressure_degF = 118\n", "no unit of pressure"),
        ("nonsense = [\n", "no valid TOML"),
        ("superheat = 3\n[readings]\nsuction_pressure_psig = 118\n", "line 1"),
    ],
)
def test_a_bad_file_is_one_sentence(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(text, encoding="utf-8")
    assert said in error(run(str(file)))


def test_a_file_that_is_not_there() -> None:
    assert "cannot be read" in error(run("nowhere.toml"))


def test_without_a_reading_or_a_terminal_it_says_what_to_give() -> None:
    assert "No reading was given" in error(run(*UNIT))


def test_without_a_refrigerant() -> None:
    assert "refrigerant" in error(run(*FOUR))


def prompted(monkeypatch: pytest.MonkeyPatch, answers: list[str], *arguments: str) -> tuple[Result, list[str]]:
    """Run with a person at the terminal; answers in order, then an empty one for all else."""
    asked: list[str] = []
    left = list(answers)

    def prompt(text: str, **settings: Any) -> Any:
        asked.append(text)
        answer = left.pop(0) if left else ""
        if answer == "^D":
            raise click.Abort
        return answer if answer else settings.get("default", "")

    monkeypatch.setattr(click, "prompt", prompt)
    monkeypatch.setattr("steadfeed.cli.spot.at_a_terminal", lambda: True)
    return run(*arguments), asked


def test_prompts_ask_for_the_four_first(monkeypatch: pytest.MonkeyPatch) -> None:
    result, asked = prompted(monkeypatch, ["R-410A", "txv", "118", "365", "52", "99"])
    assert result.return_value == 0, result.exception
    assert asked[:6] == [
        "Refrigerant, as in R-410A", "Metering device", "Suction pressure", "Head pressure, liquid port",
        "Suction line temperature", "Liquid line temperature",
    ]  # fmt: skip
    assert len(asked) == 2 + len(READINGS)
    assert "Superheat 12.2" in result.stdout


def test_prompts_ask_again_for_what_cannot_be_and_offer_the_correction(monkeypatch: pytest.MonkeyPatch) -> None:
    result, asked = prompted(monkeypatch, ["118 psig", "365", "11", "99"] + [""] * (len(READINGS) - 4), *UNIT)
    assert result.return_value == 0, result.exception
    assert asked[-1] == "Suction line temperature"  # an empty answer takes the offered 11 °C
    assert "was the suction line read in °C?" in result.stderr
    assert "Superheat 12." in result.stdout


def test_stopping_at_a_prompt_gives_back_what_was_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    result, _ = prompted(monkeypatch, ["118", "365", "^D"], *UNIT)
    assert isinstance(result.exception, click.Abort)
    assert '--suction "118 psig" --head "365 psig"' in result.stderr


def test_a_word_at_a_prompt_is_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    result, asked = prompted(monkeypatch, ["one hundred", "118", "365", "52", "99"], *UNIT)
    assert result.return_value == 0, result.exception
    assert asked[:2] == ["Suction pressure", "Suction pressure"]


def test_options_of_the_command_are_those_of_the_readings() -> None:
    assert {name: option for name, (option, _) in OPTIONS.items()} == {name: row[0] for name, row in READINGS.items()}


def test_places_are_shown() -> None:
    shown = run("--places").stdout.splitlines()
    assert len(shown) == len(READINGS)
    assert any(line.startswith("--suction ") and "service port" in line for line in shown)


def test_cold_weather_says_when_to_come_back() -> None:
    cold = ["--suction", "100", "--head", "190", "--suction-line", "44", "--liquid-line", "52", "--outdoor", "45"]
    assert "come back above 55 °F" in run(*UNIT, *cold).stdout
    assert "come back" not in run(*UNIT, *FOUR, *AIR).stdout


def test_a_fan_that_was_seen_to_cycle_is_a_finding() -> None:
    form = output(*UNIT, *FOUR, *AIR, "--outcome", "fan cycles=yes")
    assert form["findings"][0]["code"] == "fan control"
    assert form["circuit_suspected"] is False


def test_the_line_set_raises_the_target_and_says_so() -> None:
    long = ["--length", "90 ft", "--lift", "30 ft", "--rated-subcooling", "9"]
    form = output(*UNIT, *FOUR, *long)
    assert form["targets"]["subcooling_degF"]["value"] > 11.0
    assert "added for the line set" in form["targets"]["subcooling_degF"]["note"]
    assert "added for the line set" in run(*UNIT, *FOUR, *long).stdout
