"""`steadfeed plan` and `steadfeed lineset` as commands."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from steadfeed.cli.plan import _FACTS
from steadfeed.cli.root import root
from steadfeed.visit.plan import FACTS

UNIT = ["--refrigerant", "R-410A", "--device", "txv"]
NOW = ["--suction", "118", "--head", "345", "--suction-line", "52", "--liquid-line", "94", "--outdoor", "90"]
READY = [
    "--no",
    "iced",
    "--no",
    "bypassed",
    "--no",
    "tripped",
    "--no",
    "bad-weather",
    "--yes",
    "restores",
    "--other-circuit",
    "none",
]


def run(verb: str, *arguments: str) -> Result:
    return CliRunner().invoke(root, [verb, *arguments], standalone_mode=False)


def output(verb: str, *arguments: str) -> dict[str, Any]:
    result = run(verb, *arguments, "--json")
    assert result.exception is None, result.exception
    form: dict[str, Any] = json.loads(result.stdout)
    return form


def error(result: Result) -> str:
    assert result.exception is not None
    return str(getattr(result.exception, "message", result.exception))


def test_the_answer_comes_first() -> None:
    assert run("plan", *UNIT, *NOW).stdout.startswith("Answer these first.")
    assert run("plan", *UNIT, *NOW, *READY).stdout.startswith("It may start.")
    iced = [w for pair in zip(READY[::2], READY[1::2], strict=True) if pair != ("--no", "iced") for w in pair]
    refused = run("plan", *UNIT, *NOW, *iced, "--yes", "iced")
    assert refused.stdout.startswith("Do not start.")
    assert "may be set aside by nobody" in refused.stdout


def test_every_open_question_names_its_option() -> None:
    shown = run("plan", *UNIT, *NOW).stdout
    asked = shown.split("Asked")[1].split("\n\n")[0].strip().splitlines()
    assert len(asked) >= 5
    assert all("(--" in line for line in asked)


def test_json_holds_the_marks_and_the_binding_limit_first() -> None:
    form = output("plan", *UNIT, *NOW, *READY)
    assert form["may_start"] is True
    assert form["stop_mark_psig"] % 5 == 0
    assert form["stop_mark_psig"] <= form["stop_at_psig"]
    assert form["limits"][0]["rise_degF"] == min(one["rise_degF"] for one in form["limits"])


def test_last_step_sizes_the_next() -> None:
    assert output("plan", *UNIT, *NOW, *READY, "--last-step", "0 25 5 20")["next_cover"] > 0.25
    assert "no step of the cover" in error(run("plan", *UNIT, *NOW, "--last-step", "a quarter"))


def test_impossible_readings_give_no_plan() -> None:
    result = run("plan", *UNIT, "--suction", "345", "--head", "118")
    assert result.return_value == 2
    assert "swapped" in result.stderr
    assert output("plan", *UNIT, "--suction", "345", "--head", "118")["may_start"] is False


def test_two_answers_to_one_question() -> None:
    assert "with yes and with no" in error(run("plan", *UNIT, "--yes", "iced", "--no", "iced"))


def test_another_circuit(tmp_path: Path) -> None:
    file = tmp_path / "circuit2.toml"
    file.write_text('refrigerant = "R-410A"\ncircuit = "2"\n', encoding="utf-8")
    form = output("plan", *UNIT, *NOW, *READY, "--other", str(file), "400 psig")
    assert form["limits"][0]["text"].startswith("circuit c2")
    blind = output("plan", *UNIT, *NOW, *READY, "--other", str(file), "-")
    assert blind["refusals"][0]["code"] == "other circuit"


def test_the_facts_of_the_command_are_those_of_the_plan() -> None:
    assert set(_FACTS) == set(FACTS)


def test_lineset_prints_answer_limits_and_derivation() -> None:
    result = run(
        "lineset",
        "--refrigerant",
        "R-410A",
        "--tons",
        "3",
        "--length",
        "60 ft",
        "--lift",
        "20 ft",
        "--liquid-line",
        "3/8",
    )
    assert result.stdout.startswith("Subcooling left at the metering device")
    for title in ("Charge", "Limits", "Derivation", "Assumed"):
        assert f"\n{title}\n" in result.stdout
    assert "estimate" in result.stdout


def test_lineset_takes_the_units_own_charge() -> None:
    form = output(
        "lineset", "--refrigerant", "R-410A", "--length", "45 ft", "--liquid-line", "5/16 in", "--oz-per-ft", "0.4",
        "--factory-length", "33.75 ft",
    )  # fmt: skip
    assert form["charge"]["to_add_oz"] == pytest.approx(4.5, abs=0.01)
    assert form["charge"]["estimate"] is False


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--packaged"], "no line set"),
        ([], "length of the line set is not stated"),
        (["--length", "forty"], "--length"),
        (["--length", "40 ft", "--liquid-line", "3/0 in"], "no size"),
        (["--length", "40 ft", "--liquid-line", "4 in"], "outside 0.25 to 1.625 in"),
        (["--length", "40 ft", "--equivalent-length", "30 ft"], "cannot be less"),
        (["--length", "40 ft", "--subcooling", "-5"], "at least 0"),
        (["--length", "2000 ft", "--liquid-line", "1/4 in", "--tons", "5"], "would take"),
    ],
)
def test_lineset_says_what_to_mend(arguments: list[str], said: str) -> None:
    assert said in error(run("lineset", "--refrigerant", "R-410A", *arguments))
