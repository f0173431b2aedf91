"""Units at the edge: °F, psig, inHg, ft, lb and tons to SI and back.

The only module that knows them. Inside, everything is SI, absolute and kelvin. A gauge pressure can be converted only
with the pressure of the atmosphere; a temperature and a temperature difference are different kinds.
"""

from __future__ import annotations

import difflib
import re
from typing import Final

from steadfeed.errors import FixInput, OutOfRange

#: One standard atmosphere [Pa] (ISO 2533).
STANDARD_ATMOSPHERE: Final = 101325.0
PSI: Final = 6894.757293168361  # Pa per psi (lbf = 4.4482216152605 N, in = 0.0254 m)
INHG: Final = 3386.388640341  # Pa per inch of mercury, conventional, 0 °C (NIST SP 811, table B.8)
FOOT: Final = 0.3048
POUND: Final = 0.45359237
TON: Final = 3516.8528420667  # W per ton of refrigeration, 12,000 Btu(IT)/h (NIST SP 811)

# kind -> unit -> (factor, offset): SI = value * factor + offset
_LINEAR: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "temperature": {"degF": (5 / 9, 459.67 * 5 / 9), "degC": (1.0, 273.15), "K": (1.0, 0.0)},
    "temperature_difference": {"degF": (5 / 9, 0.0), "degC": (1.0, 0.0), "K": (1.0, 0.0)},
    "length": {"ft": (FOOT, 0.0), "m": (1.0, 0.0), "in": (0.0254, 0.0), "mm": (1e-3, 0.0), "cm": (1e-2, 0.0)},
    "mass": {"oz": (POUND / 16, 0.0), "lb": (POUND, 0.0), "kg": (1.0, 0.0), "g": (1e-3, 0.0)},
    "current": {"A": (1.0, 0.0), "mA": (1e-3, 0.0)},
    "power": {"W": (1.0, 0.0), "kW": (1e3, 0.0)},
    "capacity": {
        "tons": (TON, 0.0),
        "ton": (TON, 0.0),
        "kW": (1e3, 0.0),
        "W": (1.0, 0.0),
        "Btu_h": (TON / 12000, 0.0),
    },
    "fraction": {"pct": (0.01, 0.0), "%": (0.01, 0.0), "1": (1.0, 0.0)},
    "count": {"": (1.0, 0.0), "steps": (1.0, 0.0)},
    "atmosphere": {
        "inHg": (INHG, 0.0),
        "hPa": (100.0, 0.0),
        "kPa": (1e3, 0.0),
        "mbar": (100.0, 0.0),
        "Pa": (1.0, 0.0),
    },
    "airflow": {"cfm": (FOOT**3 / 60, 0.0), "m3_h": (1 / 3600, 0.0), "L_s": (1e-3, 0.0), "m3_s": (1.0, 0.0)},
    "velocity": {"fpm": (FOOT / 60, 0.0), "m_s": (1.0, 0.0)},
    "time": {"s": (1.0, 0.0), "min": (60.0, 0.0), "h": (3600.0, 0.0)},
}
# unit -> (Pa per unit, is gauge)
_PRESSURE: Final[dict[str, tuple[float, bool]]] = {
    "psig": (PSI, True),
    "psia": (PSI, False),
    "barg": (1e5, True),
    "bara": (1e5, False),
    "kPag": (1e3, True),
    "kPaa": (1e3, False),
    "MPag": (1e6, True),
    "MPaa": (1e6, False),
    "inHg": (INHG, True),  # vacuum: negative gauge
    "Pa": (1.0, False),
}
# pressure *differences*: an accuracy, a loss
_LINEAR["pressure_difference"] = {
    "psi": (PSI, 0.0),
    "psid": (PSI, 0.0),
    "bar": (1e5, 0.0),
    "kPa": (1e3, 0.0),
    "MPa": (1e6, 0.0),
    "inHg": (INHG, 0.0),
    "Pa": (1.0, 0.0),
}

_ALIASES: Final[dict[str, str]] = {
    "°f": "degF", "f": "degF", "degf": "degF", "deg_f": "degF", "fahrenheit": "degF",
    "°c": "degC", "c": "degC", "degc": "degC", "deg_c": "degC", "celsius": "degC", "k": "K", "kelvin": "K",
    "psig": "psig", "psia": "psia", "barg": "barg", "bara": "bara", "kpag": "kPag", "kpaa": "kPaa",
    "mpag": "MPag", "mpaa": "MPaa", "inhg": "inHg", "pa": "Pa", "ft": "ft", "m": "m", "in": "in", "mm": "mm",
    "cm": "cm", "oz": "oz", "lb": "lb", "kg": "kg", "g": "g", "a": "A", "ma": "mA", "w": "W", "kw": "kW",
    "tons": "tons", "ton": "ton", "btu_h": "Btu_h", "btu/h": "Btu_h", "pct": "pct", "%": "%", "hpa": "hPa",
    "kpa": "kPa", "mpa": "MPa", "mbar": "mbar", "psi": "psi", "psid": "psid", "bar": "bar", "cfm": "cfm",
    "m3_h": "m3_h", "m3/h": "m3_h", "l_s": "L_s", "l/s": "L_s", "m3_s": "m3_s", "fpm": "fpm", "m_s": "m_s",
    "s": "s", "min": "min", "h": "h", "steps": "steps",
}  # fmt: skip

KINDS: Final = ("pressure", *_LINEAR)


def units_of(kind: str) -> tuple[str, ...]:
    """Return the unit words that a kind of quantity takes."""
    return tuple(_PRESSURE) if kind == "pressure" else tuple(_LINEAR[kind])


def is_gauge(unit: str) -> bool:
    """Tell whether a pressure unit counts from the atmosphere."""
    return _PRESSURE[unit][1]


def linear(kind: str, unit: str, atmosphere: float | None = None) -> tuple[float, float]:
    """Return (factor, offset) with SI = value · factor + offset, also for arrays.

    kind: one of KINDS. atmosphere [Pa] is required for gauge pressures. Raises FixInput for a unit of another kind.
    """
    if kind == "pressure":
        try:
            factor, gauge = _PRESSURE[unit]
        except KeyError:
            raise unknown_unit(unit, kind) from None
        if not gauge:
            return factor, 0.0
        if atmosphere is None:
            raise ValueError(f"a gauge pressure in {unit} needs the pressure of the atmosphere")
        return factor, atmosphere
    try:
        return _LINEAR[kind][unit]
    except KeyError:
        raise unknown_unit(unit, kind) from None


def to_si(value: float, unit: str, kind: str, atmosphere: float | None = None) -> float:
    """Convert one value to SI. See `linear`."""
    factor, offset = linear(kind, unit, atmosphere)
    return value * factor + offset


def from_si(value: float, unit: str, kind: str, atmosphere: float | None = None) -> float:
    """Convert one SI value to `unit`. See `linear`."""
    factor, offset = linear(kind, unit, atmosphere)
    return (value - offset) / factor


def unknown_unit(unit: str, kind: str) -> FixInput:
    """Build the error for a unit that a kind does not know, naming the ones it takes."""
    return FixInput(
        f"“{unit}” is no unit of {kind.replace('_', ' ')}; use one of {' '.join(u for u in units_of(kind) if u)}",
        code="unknown unit",
    )


_QUANTITY = re.compile(r"^\s*([-+−]?\s*(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*$")


def parse_quantity(text: str, kind: str, default_unit: str) -> tuple[float, str]:
    """Read "118 psig" or "40 °F": return (number, unit). A bare number takes `default_unit`."""
    found = _QUANTITY.match(text)
    if not found:
        raise FixInput(
            f"“{text}” is no number with a unit; write for example “{_EXAMPLES.get(kind, '12')}”",
            code="bad number",
        )
    number = float(found[1].replace("−", "-").replace(",", "").replace(" ", ""))
    unit = canonical_unit(found[2], kind) if found[2] else default_unit
    return number, unit


_EXAMPLES: Final = {"pressure": "118 psig", "temperature": "40 degF", "length": "25 ft", "mass": "6 oz"}


def canonical_unit(word: str, kind: str) -> str:
    """Return the unit word as written in this project for `word` in any case or spelling it is known by."""
    known = units_of(kind)
    if word in known:
        return word
    alias = _ALIASES.get(word.strip().lower())
    if alias in known:
        return alias
    near = difflib.get_close_matches(word, known, n=1)
    hint = f" (did you mean {near[0]}?)" if near else ""
    raise FixInput(f"{unknown_unit(word, kind).message}{hint}", code="unknown unit")


def standard_atmosphere(altitude: float) -> float:
    """Pressure of the ICAO standard atmosphere [Pa] at an altitude [m], -500…6,000 m.

    p = 101325 · (1 − 0.0065·h/288.15)^5.25588 (ISO 2533:1975, troposphere).
    """
    if not -500.0 <= altitude <= 6000.0:
        raise OutOfRange(
            f"an altitude of {altitude:.0f} m ({altitude / FOOT:.0f} ft) is outside −500 to 6,000 m (−1,640 to 19,685 ft)"
        )
    return STANDARD_ATMOSPHERE * float((1.0 - 0.0065 * altitude / 288.15) ** 5.25588)
