"""The phone computes as Python does, from the same coefficient file.

Both programs are ours; what they compute is checked against the outside in tests/published. Here they must agree:
saturation temperatures within 1e-6 K, pressures and densities within 1e-9 of their value, feed held within 2e-3.
"""

from __future__ import annotations

import json
import math
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.feed import State, feed_held
from steadfeed.analysis.guard import ceiling
from steadfeed.analysis.windows import InstrumentErrors
from steadfeed.circuit.equipment import Limits, LineSet, Nameplate, System
from steadfeed.physics.coefficients import refrigerant_names
from steadfeed.physics.properties import curves

ROOT = Path(__file__).parents[2]
PSI = 6894.757293168361
F = 5 / 9
TEMPERATURE_TOLERANCE = 1e-6
RELATIVE_TOLERANCE = 1e-9
#: The finite differences of the uncertainty and Python's rounding in the second place leave this much.
FEED_TOLERANCE = 2e-3


def _states() -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for name in refrigerant_names():
        known = curves(name)
        for share in (0.05, 0.3, 0.6, 0.9):
            pressure = float(known.minimum_pressure * (known.maximum_pressure / known.minimum_pressure) ** share)
            dew, bubble = float(known.dew_temperature(pressure)), float(known.bubble_temperature(pressure))
            for part in (0.0, 0.1, 0.5):
                vapor = dew + part * (known.highest_vapor_temperature - dew)
                liquid = bubble - part * (bubble - known.lowest_liquid_temperature)
                out.append({"refrigerant": name, "pressure": pressure, "temperature": vapor, "phase": "vapor"})
                out.append({"refrigerant": name, "pressure": pressure, "temperature": liquid, "phase": "liquid"})
    return out


def _feeds() -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for name, low, high in (
        ("R-410A", 118, 330),
        ("R-454B", 112, 310),
        ("R-32", 120, 350),
        ("R-134a", 30, 150),
        ("R-407C", 66, 240),
    ):
        known = curves(name)
        for climb, gives, gone in ((90, 3, 1.0), (90, 12, 9.0), (60, 1, 0.0), (4, 0, 0.0)):
            for extra in (
                {"compressorType": "scroll"},
                {"compressorType": "reciprocating", "lift": 6.0, "lineLength": 30.0},
                {"compressorType": None, "packaged": True},
                {"compressorType": "rotary", "capacity": 7000.0, "liquidLineDiameter": 0.00635},
            ):
                p0, h0 = (low + 14.696) * PSI, (high + 14.696) * PSI
                p1, h1 = p0 + gives * PSI, h0 + climb * PSI
                before = {
                    "suction": p0,
                    "head": h0,
                    "suctionLine": float(known.dew_temperature(p0)) + 12 * F,
                    "liquidLine": float(known.bubble_temperature(h0)) - 11 * F,
                }
                during = {
                    "suction": p1,
                    "head": h1,
                    "suctionLine": float(known.dew_temperature(p1)) + (12 - gone) * F,
                    "liquidLine": float(known.bubble_temperature(h1)) - 11 * F,
                }
                out.append(
                    {
                        "refrigerant": name,
                        "before": before,
                        "during": during,
                        "known": {"needles": climb == 60, **extra},
                    }
                )
    return out  # fmt: skip


def _ceilings() -> list[dict[str, Any]]:
    criteria = {
        "switchMargin": limit("switch_margin"),
        "dewLimit": limit("dew_limit"),
        "dewLimitSwitchUnknown": limit("dew_limit_switch_unknown"),
    }
    cases: list[dict[str, Any]] = [
        {},
        {"highPressureSwitch": 615 * PSI},
        {"highPressureSwitch": 400 * PSI},
        {"workingLimit": 445 * PSI},
        {"statedHead": 380 * PSI, "highPressureSwitch": 615 * PSI},
    ]
    return [{"refrigerant": name, "limits": case, "criteria": criteria} for name in ("R-410A", "R-134a", "R-454B") for case in cases]  # fmt: skip


def _saturation() -> list[dict[str, Any]]:
    out = []
    for name in refrigerant_names():
        known = curves(name)
        for share in (0.01, 0.25, 0.5, 0.75, 0.99):
            pressure = float(known.minimum_pressure * (known.maximum_pressure / known.minimum_pressure) ** share)
            temperature = known.minimum_temperature + share * (known.maximum_temperature - known.minimum_temperature)
            out.append({"refrigerant": name, "pressure": pressure, "temperature": temperature})
        out.append(
            {
                "refrigerant": name,
                "pressure": known.maximum_pressure * 1.01,
                "temperature": known.maximum_temperature + 5,
            }
        )
    return out


def _decimations() -> list[dict[str, Any]]:
    random = np.random.default_rng(7)
    time = np.cumsum(random.uniform(0.5, 1.5, 6000))
    value = 300 + np.cumsum(random.normal(0, 0.2, 6000))
    value[3210] = 900.0
    gap = value.copy()
    gap[2000:2300] = np.nan
    rows = [[float(a), float(b), None if math.isnan(c) else float(c)] for a, b, c in zip(time, value, gap, strict=True)]
    return [{"rows": rows, "from": float(time[0]), "to": float(time[-1]), "columns": 300, "gap": 20.0}]


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any]]:
    """What was asked, and what the app's own code answers under node."""
    if shutil.which("node") is None or not (ROOT / "webapp/node_modules").is_dir():
        pytest.skip("node runs the app's code; it is not installed")
    program = tmp_path_factory.mktemp("golden") / "golden.mjs"
    made = subprocess.run(
        ["npm", "run", "--silent", "vectors", "--", f"--outfile={program}"],
        cwd=ROOT / "webapp",
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    ask = {
        "saturation": _saturation(),
        "states": _states(),
        "feed": _feeds(),
        "ceiling": _ceilings(),
        "decimate": _decimations(),
    }
    file = json.loads((ROOT / "src/steadfeed/physics/data/coefficients.json").read_text())["refrigerants"]
    done = subprocess.run(
        ["node", program], input=json.dumps({"file": file, "ask": ask}), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return ask, json.loads(done.stdout)


def test_saturation_agrees(answers: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ask, got = answers
    assert len(ask["saturation"]) == 6 * len(refrigerant_names())
    for asked, (dew, bubble, dew_pressure, bubble_pressure) in zip(ask["saturation"], got["saturation"], strict=True):
        known = curves(asked["refrigerant"])
        for mine, theirs, tolerance in (
            (known.dew_temperature(asked["pressure"], outside="nan"), dew, TEMPERATURE_TOLERANCE),
            (known.bubble_temperature(asked["pressure"], outside="nan"), bubble, TEMPERATURE_TOLERANCE),
            (known.dew_pressure(asked["temperature"], outside="nan"), dew_pressure, None),
            (known.bubble_pressure(asked["temperature"], outside="nan"), bubble_pressure, None),
        ):
            if math.isnan(mine):
                assert theirs is None, asked
            else:
                assert theirs == pytest.approx(mine, abs=tolerance, rel=RELATIVE_TOLERANCE), asked


def test_densities_and_enthalpies_agree(answers: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ask, got = answers
    for asked, (density, enthalpy) in zip(ask["states"], got["states"], strict=True):
        known, p, t = curves(asked["refrigerant"]), asked["pressure"], asked["temperature"]
        if asked["phase"] == "vapor":
            mine = known.vapor_density(p, t, outside="nan"), known.vapor_enthalpy(p, t, outside="nan")
        else:
            mine = known.liquid_density(p, t, outside="nan"), known.liquid_enthalpy(p, t, outside="nan")
        assert (density, enthalpy) == pytest.approx(mine, rel=RELATIVE_TOLERANCE, nan_ok=True), asked


def test_feed_held_agrees(answers: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ask, got = answers
    decided = 0
    for asked, theirs in zip(ask["feed"], got["feed"], strict=True):
        known = asked["known"]
        system = System(
            refrigerant=asked["refrigerant"],
            compressor_type=known.get("compressorType") or "unknown",
            packaged=known.get("packaged"),
            nominal_capacity=known.get("capacity"),
            line_set=LineSet(
                length=known.get("lineLength"),
                lift=known.get("lift"),
                liquid_line_diameter=known.get("liquidLineDiameter"),
            ),
        )
        needles = known["needles"]
        errors = InstrumentErrors(
            pressure_offset=0.0, suction_change=(0.8 if needles else 0.25) * PSI, head_change=(4.0 if needles else 1.5) * PSI,
            temperature_offset=0.0, temperature_change=0.30 * F, noise_sh=0.0, by_hand=needles,
        )  # fmt: skip

        def state(s: dict[str, float]) -> State:
            return State(s["suction"], s["head"], s["suctionLine"], s["liquidLine"])

        mine = feed_held(
            state(asked["before"]), state(asked["during"]), curves(asked["refrigerant"]), system, errors, (0.0,) * 4
        ).held
        if mine is None:
            assert theirs is None, asked
            continue
        decided += 1
        assert theirs is not None, asked
        assert (theirs["value"], theirs["low"], theirs["high"]) == pytest.approx(
            (mine.value, mine.low, mine.high), abs=FEED_TOLERANCE
        ), asked
    assert decided > 40


def test_ceiling_agrees(answers: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ask, got = answers
    for asked, theirs in zip(ask["ceiling"], got["ceiling"], strict=True):
        given = asked["limits"]
        system = System(
            refrigerant=asked["refrigerant"],
            limits=Limits(head_pressure=given.get("statedHead"), high_pressure_switch=given.get("highPressureSwitch")),
            nameplate=Nameplate(high_side_design_pressure=given.get("workingLimit"), high_side_is_working_limit=True),
        )
        mine = ceiling(system, curves(asked["refrigerant"]))
        assert theirs["head"] == pytest.approx(mine.head_pressure, rel=RELATIVE_TOLERANCE), asked


def test_thinning_keeps_every_extreme_and_breaks_at_gaps(answers: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ask, got = answers
    rows = np.array([[np.nan if v is None else v for v in row] for row in ask["decimate"][0]["rows"]])
    times, first, second = got["decimate"][0]
    assert len(times) <= 3 * 300
    assert times == sorted(times)
    shown = [v for v in first if v is not None]
    assert max(shown) == 900.0
    assert min(shown) == pytest.approx(np.nanmin(rows[:, 1]))
    inside = [v for t, v in zip(times, second, strict=True) if rows[2000, 0] + 20 < t < rows[2299, 0] - 20]
    assert inside
    assert all(v is None for v in inside)
