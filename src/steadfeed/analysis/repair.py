"""Does physics contradict the units, the refrigerant or the order of the channels? Repaired with a stated reason or not at all.

The medians of a log are held against what any running circuit must obey (suction below head, suction line warmer than
the boiling refrigerant …). A log that obeys is left as it is. One that does not is tried with every single slip of a
unit or a swap of two channels; when exactly one slip explains everything, it is repaired and said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from steadfeed.analysis.derive import head_channel
from steadfeed.analysis.series import median
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.physics.properties import Curves, curves, refrigerant_names

F = 5.0 / 9.0
_PSI, _BAR, _KPA = 6894.757293168361, 1e5, 1e3
_PA_PER_UNIT = {"psi": _PSI, "bar": _BAR, "kPa": _KPA, "MPa": 1e6}
_TEMPERATURES = (
    "suction_line_temperature",
    "liquid_line_temperature",
    "evaporator_outlet_temperature",
    "discharge_line_temperature",
    "outdoor_air_temperature",
    "return_air_dry_bulb",
    "return_air_wet_bulb",
    "supply_air_dry_bulb",
    "supply_air_wet_bulb",
)
_PRESSURES = ("suction_pressure", "liquid_pressure", "discharge_pressure")

Medians = Mapping[str, float]
IntArray = npt.NDArray[np.intp]


def medians_of(recording: Recording) -> dict[str, float]:
    """Median of every pressure and temperature channel (SI) over the readings with the circuit running."""
    out: dict[str, float] = {}
    running: slice | IntArray = slice(None)
    head = head_channel(recording)
    suction = recording.get("suction_pressure")
    if head is not None and suction is not None and suction.shape[0]:
        apart = np.abs(recording.channels[head].values - suction)
        known = apart[np.isfinite(apart)]
        if known.shape[0]:
            far = np.flatnonzero(
                apart > 0.6 * np.partition(known, int(0.9 * (known.shape[0] - 1)))[int(0.9 * (known.shape[0] - 1))]
            )
            running = far if far.shape[0] >= 2 else running
    for name in (*_PRESSURES, *_TEMPERATURES):
        values = recording.get(name)
        if values is None:
            continue
        values = values[running]
        if values.shape[0] == 0:
            continue
        good = np.isfinite(values)
        if not good.all():
            values = values[good]
        if values.shape[0] == 0:
            continue
        middle = median(values)
        out[name] = middle
    return out


def contradictions(m: Medians, head: str, curves_: Curves, mode: str) -> list[str]:
    """Name what a running circuit cannot do in these medians (SI, absolute); empty when nothing contradicts."""
    found: list[str] = []
    p_suction, p_head = m["suction_pressure"], m[head]
    if p_suction <= 0.0 or p_head <= 0.0:
        return ["a pressure is below vacuum"]
    if p_suction >= 1.02 * p_head:
        found.append("suction pressure is above head pressure")
    te = float(curves_.dew_temperature(p_suction, outside="nan"))
    tc = float(curves_.bubble_temperature(p_head, outside="nan"))
    if te != te or not 222.0 <= te <= 303.0:
        found.append("the evaporating temperature is out of any working range")
    if tc != tc or not 277.0 <= tc <= 349.0:
        found.append("the condensing temperature is out of any working range")
    if found:
        return found
    superheat = m["suction_line_temperature"] - te
    subcooling = tc - m["liquid_line_temperature"]
    if not -9.0 * F <= superheat <= 100.0 * F:
        found.append("the suction line does not fit the evaporating temperature")
    if not -14.0 * F <= subcooling <= 58.0 * F:
        found.append("the liquid line does not fit the condensing temperature")
    outdoor, indoor = m.get("outdoor_air_temperature"), m.get("return_air_dry_bulb")
    cold_air, warm_air = (indoor, outdoor) if mode == "cooling" else (outdoor, indoor)
    if warm_air is not None and not -6.0 * F <= tc - warm_air <= 95.0 * F:
        found.append("the condensing temperature does not fit the air that cools it")
    if cold_air is not None and not -8.0 * F <= cold_air - te <= 110.0 * F:
        found.append("the evaporating temperature does not fit the air that warms it")
    airs = ("outdoor_air_temperature", "return_air_dry_bulb", "supply_air_dry_bulb")
    found += [f"{a.replace('_', ' ')} is out of any weather" for a in airs if a in m and not 225.0 <= m[a] <= 330.0]
    return found


def _temperature_slips(m: Medians, names: tuple[str, ...], units: Mapping[str, str]) -> tuple[dict[str, float], str]:
    """Medians with the temperatures of `names` read in the other scale, and the sentence that says it."""
    changed = dict(m)
    said = ""
    for name in names:
        if name not in m:
            continue
        kelvin = m[name]
        if units.get(name) == "degF":
            changed[name] = (kelvin * 1.8 - 459.67) + 273.15
            said = "°C under a °F header"
        elif units.get(name) == "degC":
            changed[name] = (kelvin - 273.15 + 459.67) / 1.8
            said = "°F under a °C header"
    return changed, said


def _scaled_pressure(value: float, unit: str, target: str, atmosphere: float) -> float | None:
    """The reading behind `value` [Pa absolute], headed `unit`, taken as a number of `target` instead."""
    base, gauge = unit[:-1], unit.endswith("g")
    if base not in _PA_PER_UNIT or base == target:
        return None
    offset = atmosphere if gauge else 0.0
    return (value - offset) / _PA_PER_UNIT[base] * _PA_PER_UNIT[target] + offset


def examine(
    recording: Recording, system: System, curves_: Curves
) -> tuple[Recording, tuple[Remark, ...], tuple[str, ...]]:
    """Return (recording, repairs, contradictions that remain).

    With contradictions left, no verdict may be given (`wrong refrigerant or unit`).
    """
    head = head_channel(recording)
    m = medians_of(recording)
    needed = ("suction_pressure", "suction_line_temperature", "liquid_line_temperature")
    if head is None or head not in m or any(name not in m for name in needed):
        return recording, (), ()
    against = contradictions(m, head, curves_, system.mode)
    if not against:
        return recording, (), ()
    units = {name: channel.unit for name, channel in recording.channels.items()}
    candidates = _candidates(recording, m, head, units)
    fits: list[tuple[dict[str, tuple[float, float]], dict[str, str], str]] = []
    rank = None
    for level, changed, how, swap, said in candidates:
        if rank is not None and level > rank:
            break
        if not contradictions(changed, head, curves_, system.mode):
            rank = level
            fits.append((how, swap, said))
    if len(fits) == 1:
        how, swap, said = fits[0]
        repaired = _apply(recording, how, swap)
        text = f"Repaired: {said}. As written, {against[0]}; read so, everything fits a running circuit."
        return repaired, (Remark("unit repaired" if how else "channels swapped", text),), ()
    return recording, (), tuple(against)


_Candidate = tuple[int, dict[str, float], dict[str, tuple[float, float]], dict[str, str], str]


def _candidates(recording: Recording, m: Medians, head: str, units: Mapping[str, str]) -> list[_Candidate]:
    """Slips in order of how much they assume: (rank, medians, channel -> (factor, offset), swaps, sentence)."""
    out: list[_Candidate] = []
    temperatures = tuple(n for n in _TEMPERATURES if n in m)
    pressures = tuple(n for n in _PRESSURES if n in m)

    def temperature_map(names: tuple[str, ...]) -> dict[str, tuple[float, float]]:
        how: dict[str, tuple[float, float]] = {}
        for n in names:
            if units.get(n) == "degF":
                how[n] = (1.8, -459.67 + 273.15)
            elif units.get(n) == "degC":
                how[n] = (1.0 / 1.8, (459.67 - 273.15) / 1.8)
        return how

    def pressure_map(names: tuple[str, ...], target: str) -> dict[str, tuple[float, float]] | None:
        how: dict[str, tuple[float, float]] = {}
        for n in names:
            unit = units.get(n, "")
            low = _scaled_pressure(0.0, unit, target, recording.atmosphere)
            one = _scaled_pressure(1.0, unit, target, recording.atmosphere)
            if low is None or one is None:
                return None
            how[n] = (one - low, low)
        return how

    def with_map(how: Mapping[str, tuple[float, float]], base: Medians) -> dict[str, float]:
        return {n: v * how[n][0] + how[n][1] if n in how else v for n, v in base.items()}

    all_temperatures = temperature_map(temperatures)
    said_temperature = _temperature_slips(m, temperatures, units)[1]
    if all_temperatures:
        out.append((1, with_map(all_temperatures, m), all_temperatures, {}, f"temperatures are {said_temperature}"))
    for target in _PA_PER_UNIT:
        how = pressure_map(pressures, target)
        if how:
            said = f"pressures are {target} under a {units[head]} header"
            out.append((1, with_map(how, m), how, {}, said))
    swap = {"suction_pressure": head, head: "suction_pressure"}
    out.append((1, {**m, "suction_pressure": m[head], head: m["suction_pressure"]}, {}, swap, "suction and head pressure are swapped"))  # fmt: skip
    lines = {
        "suction_line_temperature": "liquid_line_temperature",
        "liquid_line_temperature": "suction_line_temperature",
    }
    swapped_lines = {**m, **{a: m[b] for a, b in lines.items()}}
    out.append((1, swapped_lines, {}, lines, "suction and liquid line clamps are swapped"))
    for name in temperatures:
        how = temperature_map((name,))
        if how:
            said = f"{name.replace('_', ' ')} is {_temperature_slips(m, (name,), units)[1]}"
            out.append((2, with_map(how, m), how, {}, said))
    for name in pressures:
        for target in _PA_PER_UNIT:
            single = pressure_map((name,), target)
            if single:
                said = f"{name.replace('_', ' ')} is {target} under a {units[name]} header"
                out.append((2, with_map(single, m), single, {}, said))
    for target in _PA_PER_UNIT:
        how = pressure_map(pressures, target)
        if how and all_temperatures:
            both = {**how, **all_temperatures}
            said = f"pressures are {target} under a {units[head]} header and temperatures are {said_temperature}"
            out.append((3, with_map(both, m), both, {}, said))
    return out


def _apply(recording: Recording, how: Mapping[str, tuple[float, float]], swap: Mapping[str, str]) -> Recording:
    channels = dict(recording.channels)
    for name, (factor, offset) in how.items():
        channel = channels[name]
        channels[name] = replace(
            channel, values=channel.values * factor + offset, resolution=channel.resolution * abs(factor)
        )
    for name, other in swap.items():
        channels[name] = replace(recording.channels[other], name=name)
    return replace(recording, channels=channels)


def refrigerants_that_fit(recording: Recording, system: System) -> tuple[str, ...]:
    """Common refrigerants under which the same readings would contradict nothing (for the sentence only)."""
    head = head_channel(recording)
    m = medians_of(recording)
    if head is None or head not in m or "suction_pressure" not in m:
        return ()
    known = set(refrigerant_names())
    common = ("R-410A", "R-22", "R-32", "R-454B", "R-407C", "R-134a", "R-404A", "R-290", "R-448A", "R-449A")
    return tuple(
        name
        for name in common
        if name in known and name != system.refrigerant and not contradictions(m, head, curves(name), system.mode)
    )
