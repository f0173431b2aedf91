"""Outcomes of tests: how likely each result is under each cause. Common practice, in steps of a tenth, not measured.

A test's table gives, for the causes that it concerns, the chance of each of its results; every other cause takes the row
"any". A result that was not entered says nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

#: test -> result -> cause -> chance. Results of one test add up to one for each cause.
TABLES: Final[dict[str, dict[str, dict[str, float]]]] = {
    "bulb strap": {
        "tight and insulated": {"any": 0.85, "bulb loose": 0.08},
        "loose or bare": {"any": 0.15, "bulb loose": 0.92},
    },
    "bulb in hand": {
        "suction rises": {
            "any": 0.9, "bulb charge lost": 0.12, "metering device underfeeding": 0.35,
            "metering device overfeeding": 0.35, "equalizer plugged": 0.7, "check valve leaking": 0.6, "bulb loose": 0.8,
        },
        "nothing happens": {
            "any": 0.1, "bulb charge lost": 0.88, "metering device underfeeding": 0.65,
            "metering device overfeeding": 0.65, "equalizer plugged": 0.3, "check valve leaking": 0.4, "bulb loose": 0.2,
        },
    },
    "bulb in ice water": {
        "suction falls": {
            "any": 0.9, "metering device overfeeding": 0.3, "check valve leaking": 0.15, "bulb charge lost": 0.25,
            "metering device underfeeding": 0.45, "bulb loose": 0.92, "equalizer plugged": 0.7,
        },
        "nothing happens": {
            "any": 0.1, "metering device overfeeding": 0.7, "check valve leaking": 0.85, "bulb charge lost": 0.75,
            "metering device underfeeding": 0.55, "bulb loose": 0.08, "equalizer plugged": 0.3,
        },
    },
    "drier temperatures": {
        "no drop": {"any": 0.92, "liquid line restriction": 0.12, "flash gas": 0.45},
        "drop over a part": {"any": 0.04, "liquid line restriction": 0.8, "flash gas": 0.1},
        "falls along the line": {"any": 0.04, "liquid line restriction": 0.08, "flash gas": 0.45},
    },
    "standing test": {
        "pressure fits the temperature": {"any": 0.9, "non-condensables": 0.1, "wrong refrigerant": 0.15,
                                          "suction gauge": 0.3, "head gauge": 0.3},
        "pressure above": {"any": 0.05, "non-condensables": 0.87, "wrong refrigerant": 0.45, "suction gauge": 0.35,
                           "head gauge": 0.35},
        "pressure below": {"any": 0.05, "non-condensables": 0.03, "wrong refrigerant": 0.4, "suction gauge": 0.35,
                           "head gauge": 0.35},
    },
    "gauges side by side": {
        "agree": {"any": 0.95, "suction gauge": 0.06, "head gauge": 0.06},
        "differ": {"any": 0.05, "suction gauge": 0.94, "head gauge": 0.94},
    },
    "second thermometer": {
        "agrees": {"any": 0.94, "suction clamp": 0.08, "liquid clamp": 0.08, "outdoor thermometer": 0.1},
        "differs": {"any": 0.06, "suction clamp": 0.92, "liquid clamp": 0.92, "outdoor thermometer": 0.9},
    },
    "airflow": {
        "350 to 450 cfm per ton": {"any": 0.9, "low indoor airflow": 0.06},
        "less": {"any": 0.1, "low indoor airflow": 0.94},
    },
    "look at the outdoor coil": {
        "clean, fan right": {"any": 0.85, "condenser air": 0.15, "outdoor coil air": 0.15},
        "dirty, or fan weak": {"any": 0.15, "condenser air": 0.85, "outdoor coil air": 0.85},
    },
    "air at the coil face": {
        "as outdoors": {"any": 0.95, "recirculation": 0.07},
        "warmer": {"any": 0.05, "recirculation": 0.93},
    },
    "charge trim": {
        "values come to target": {"any": 0.1, "undercharge": 0.9, "overcharge": 0.9},
        "they do not": {"any": 0.9, "undercharge": 0.1, "overcharge": 0.1},
    },
    "reversing valve temperatures": {
        "equal within 3 °F": {"any": 0.94, "reversing valve": 0.1},
        "suction warms in it": {"any": 0.06, "reversing valve": 0.9},
    },
    "pump-down": {
        "suction falls and stays": {"any": 0.9, "compressor valves": 0.1, "reversing valve": 0.3},
        "suction does not fall, or comes back": {"any": 0.1, "compressor valves": 0.9, "reversing valve": 0.7},
    },
    "amp draw": {
        "as the map says": {"any": 0.85, "compressor valves": 0.3, "compressor unloaded": 0.1},
        "low": {"any": 0.1, "compressor valves": 0.68, "compressor unloaded": 0.88},
        "high": {"any": 0.05, "compressor valves": 0.02, "compressor unloaded": 0.02, "non-condensables": 0.5,
                 "condenser air": 0.5, "overcharge": 0.4},
    },
    "suction line pressures": {
        "little loss": {"any": 0.94, "suction restriction": 0.07},
        "much loss": {"any": 0.06, "suction restriction": 0.93},
    },
    "refrigerant identified": {
        "as written": {"any": 0.97, "wrong refrigerant": 0.04},
        "another": {"any": 0.03, "wrong refrigerant": 0.96},
    },
    "equalizer line": {
        "free": {"any": 0.96, "equalizer plugged": 0.12},
        "plugged or kinked": {"any": 0.04, "equalizer plugged": 0.88},
    },
}  # fmt: skip


def chance(test: str, result: str, cause: str) -> float:
    """Chance of a result under a cause; raises KeyError for a test or result that is not known."""
    row = TABLES[test][result]
    if cause in row:
        return row[cause]
    # causes that the test concerns are written out in one of its results; the remainder is shared evenly among the others
    others = [r for r in TABLES[test].values() if r is not row]
    stated = [r[cause] for r in others if cause in r]
    if stated:
        missing = sum(1 for r in others if cause not in r) + 1
        return max(1.0 - sum(stated), 0.02) / missing
    return row["any"]


def outcome_log(cause: str, outcomes: Mapping[str, str]) -> float:
    """Logarithm of the likelihood of all entered outcomes under a cause; what was only seen (no test) says nothing here."""
    return sum(math.log(max(chance(test, result, cause), 1e-3)) for test, result in outcomes.items() if test in TABLES)


def usual_result(test: str) -> str:
    """Result that a healthy unit most often gives."""
    return max(TABLES[test], key=lambda result: TABLES[test][result]["any"])


def pair_outcome_log(first: str, second: str, outcomes: Mapping[str, str]) -> float:
    """The same for two causes at once: either can spoil a test, so a usual result needs both of them to allow it."""
    total = 0.0
    for test, result in outcomes.items():
        if test not in TABLES:
            continue
        chances = chance(test, result, first), chance(test, result, second)
        total += math.log(max(min(chances) if result == usual_result(test) else max(chances), 1e-3))
    return total
