"""The pages on practice tell what is: every key, every act's key, and a session that can be played again."""

from __future__ import annotations

import importlib.util
import re
from dataclasses import fields
from pathlib import Path
from types import ModuleType

import pytest

from steadfeed.bench.faults import Faults
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.scenario import catalog_texts, read_scenario
from steadfeed.bench.settings import (
    ConductSettings,
    Gap,
    Happening,
    InstrumentFault,
    KitSettings,
    KnownSettings,
    ParkingSettings,
    UnitSettings,
    WeatherSettings,
)
from steadfeed.bench.tables import known_keys

ROOT = Path(__file__).parents[3]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def page(name: str) -> str:
    return (ROOT / "docs" / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "cls",
    [UnitSettings, WeatherSettings, ConductSettings, Happening, KitSettings, InstrumentFault, Gap, KnownSettings, ParkingSettings],
)  # fmt: skip
def test_every_key_of_a_scenario_is_on_the_page(cls: type) -> None:
    text = page("how-to/add-a-scenario.md")
    missing = [key for key in known_keys(cls) if f"| `{key}` |" not in text]
    assert not missing


def test_every_fault_is_on_the_page() -> None:
    text = page("how-to/add-a-scenario.md")
    names = [f.name for cls in (Faults, MeteringFaults) for f in fields(cls) if f.name != "metering"]
    names = [{"friction": "friction_degF", "equalizer_lag": "equalizer_lag_s"}.get(n, n) for n in names]
    assert not [n for n in names if f"| `{n}` |" not in text]


def test_the_example_on_the_page_is_a_scenario() -> None:
    text = page("how-to/add-a-scenario.md").split("```toml\n")[1].split("```")[0]
    assert read_scenario(text, "example").hidden.answers == ("fixed",)


def test_scenarios_named_on_the_page_exist() -> None:
    text = page("practice.md")
    listed = re.search(r"scenarios = \[(.*)\]", text)
    assert listed is not None
    named = set(re.findall(r"bench (?:run|play) ([a-z]+-?[a-z]+) ", text)) | set(re.findall(r'"([a-z-]+)"', listed[1]))
    assert named
    assert named <= set(catalog_texts()), named - set(catalog_texts())


def session() -> ModuleType:
    spec = importlib.util.spec_from_file_location("recorded_session", Path(__file__).with_name("recorded_session.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_session_on_the_page_can_be_played_again() -> None:
    told = page("practice.md").split("## A played session")[1].split("```text\n")[1].split("\n```")[0].splitlines()
    now = session().played()
    assert len(told) == len(now)
    for on_page, played in zip(told, now, strict=True):
        assert NUMBER.sub("#", on_page) == NUMBER.sub("#", played)
        for a, b in zip(NUMBER.findall(on_page), NUMBER.findall(played), strict=True):
            assert float(a) == pytest.approx(float(b), abs=2.0), on_page
