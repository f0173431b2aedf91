"""Numbers inside sentences of the analysis, in the units that the person reads."""

from __future__ import annotations

from typing import Final, Literal

Units = Literal["us", "si"]
F: Final = 5.0 / 9.0
PSI: Final = 6894.757293168361


def degrees(difference: float, units: Units = "us", decimals: int = 0) -> str:
    """Write a temperature difference [K]: "12 °F" or "6.7 K"."""
    if units == "us":
        return f"{_plain(difference / F, decimals)} °F"
    return f"{_plain(difference, max(decimals, 1))} K"


def temperature(value: float, units: Units = "us") -> str:
    """Write a temperature [K]: "95 °F" or "35 °C"."""
    if units == "us":
        return f"{_plain(value / F - 459.67, 0)} °F"
    return f"{_plain(value - 273.15, 0)} °C"


def gauge(value: float, atmosphere: float, units: Units = "us") -> str:
    """Write an absolute pressure [Pa] as gauge pressure: "465 psig" or "32.1 barg"."""
    if units == "us":
        return f"{_plain((value - atmosphere) / PSI, 0)} psig"
    return f"{_plain((value - atmosphere) / 1e5, 1)} barg"


def pressure_difference(value: float, units: Units = "us") -> str:
    """Write a pressure difference [Pa]: "8 psi" or "0.55 bar"."""
    if units == "us":
        return f"{_plain(value / PSI, 0)} psi"
    return f"{_plain(value / 1e5, 2)} bar"


def _plain(value: float, decimals: int) -> str:
    text = f"{value:,.{decimals}f}"
    if not text.lstrip("-").strip("0.,"):
        text = text.lstrip("-")
    return text.replace("-", "−")
