"""JSON of spot, plan and lineset, and the findings of judge, against the published schemas."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from steadfeed.cli.root import root

R = ["--refrigerant", "R-410A"]
FOUR = ["--suction", "118", "--head", "365", "--suction-line", "52", "--liquid-line", "99"]
AIR = ["--outdoor", "95", "--return-air", "78", "--return-wet-bulb", "65", "--supply-air", "59", "--airflow", "1200"]
STARVED = ["--suction", "75", "--head", "345", "--suction-line", "60", "--liquid-line", "88", *AIR[:6]]


def schema(name: str) -> dict[str, Any]:
    text = resources.files("steadfeed.visit").joinpath("schemas", f"{name}.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def form(*arguments: str) -> dict[str, Any]:
    result = CliRunner().invoke(root, [*arguments, "--json"], standalone_mode=False)
    assert result.exception is None, result.exception
    loaded: dict[str, Any] = json.loads(result.stdout)
    return loaded


@pytest.mark.parametrize("name", ["spot", "plan", "lineset", "finding"])
def test_schemas_are_schemas(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(name))
    assert schema(name)["$id"] == f"steadfeed:{name}"


@pytest.mark.parametrize(
    ("verb", "arguments"),
    [
        ("spot", [*R, "--device", "txv", *FOUR]),
        ("spot", [*R, "--device", "txv", *FOUR, *AIR, "--tons", "3", "--power", "3200", "--rated-charge", "96 oz"]),
        ("spot", [*R, "--device", "txv", *STARVED, "--outcome", "bulb in hand=nothing happens"]),
        ("spot", [*R, "--device", "fixed orifice", *FOUR, *AIR]),
        ("spot", [*R, "--suction", "365", "--head", "118"]),
        ("spot", [*R, "--suction", "118"]),
        ("plan", [*R, *FOUR]),
        ("plan", [*R, *FOUR, "--yes", "iced", "--last-step", "0 25 5 20"]),
        ("plan", [*R]),
        ("plan", [*R, "--suction", "365", "--head", "118"]),
        ("lineset", [*R, "--length", "60 ft", "--lift", "20 ft"]),
        ("lineset", [*R, "--length", "60 ft", "--oz-per-ft", "0.6", "--line-air", "130"]),
    ],
)
def test_output_is_what_the_schema_says(verb: str, arguments: list[str]) -> None:
    jsonschema.validate(form(verb, *arguments), schema(verb))


def test_a_schema_forbids_what_it_does_not_name() -> None:
    made = form("spot", *R, *FOUR) | {"surprise": 1}
    with pytest.raises(jsonschema.ValidationError, match="surprise"):
        jsonschema.validate(made, schema("spot"))


def test_findings_of_judge_have_the_published_form() -> None:
    from steadfeed.circuit.finding import Finding
    from steadfeed.visit import json_form, spot_form

    finding = Finding("undercharge", "Too little refrigerant.", 0.9, ("a",), (), "search", "chart")
    for made in (json_form._finding(finding), spot_form.finding_form(finding), json_form._finding(Finding("x", "y"))):
        jsonschema.validate(made, schema("finding"))
    assert schema("spot")["properties"]["findings"]["items"]["required"] == schema("finding")["required"]
