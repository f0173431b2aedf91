"""Spot readings as typed, and the superheat and subcooling that follow from them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from steadfeed.circuit.channel import CHANNEL_KINDS
from steadfeed.errors import FixInput
from steadfeed.units import canonical_unit, from_si, standard_atmosphere, to_si

if TYPE_CHECKING:
    import sqlalchemy as sa

_FORM: Final = re.compile(r"\s*([-+−]?[\d.,]+)\s*(\S.*?)?\s*$")
_USUAL_UNITS: Final = {
    "pressure": "psig",
    "temperature": "degF",
    "fraction": "pct",
    "current": "A",
    "power": "W",
    "count": "steps",
    "airflow": "cfm",
}


def spot_kinds() -> dict[str, str]:
    """Return everything that can be typed for a spot, with its kind."""
    from steadfeed.analysis.spot import SPOT_KINDS

    return {**CHANNEL_KINDS, **SPOT_KINDS}


def split_value(channel: str, text: str) -> tuple[str, str]:
    """Split "118 psig" into number and unit, both as text; a bare number takes the usual unit of the trade.

    An empty text is a reading that could not be had: ("", ""). Raises FixInput for an unknown channel or a value that
    is no number with a unit of its kind.
    """
    import difflib

    kinds = spot_kinds()
    if channel not in kinds:
        near = difflib.get_close_matches(channel, kinds, n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise FixInput(f"No channel is called “{channel}”{hint}", code="unknown channel", where=channel)
    if not text.strip():
        return "", ""
    kind = kinds[channel]
    found = _FORM.fullmatch(text)
    if found is None:
        raise FixInput(
            f"“{text}” is no reading of {channel}; write for example “118 {_USUAL_UNITS[kind]}”", code="bad number"
        )
    unit = canonical_unit(found[2], kind) if found[2] else _USUAL_UNITS[kind]
    number_of(found[1])
    return found[1], unit


def number_of(text: str) -> float:
    """Read a number as typed; a comma followed by three digits separates thousands, any other one is a decimal comma."""
    plain = text.replace("−", "-")
    plain = re.sub(r",(?=\d{3}(\D|$))", "", plain)
    try:
        return float(plain.replace(",", "."))
    except ValueError:
        raise FixInput(f"“{text}” is no number", code="bad number") from None


def derive_spot(
    t: sa.Connection, circuit_id: str, pieces: Mapping[str, tuple[str, str]]
) -> tuple[dict[str, Any] | None, str | None]:
    """Return superheat and subcooling of the four readings, and the method version; (None, None) when they are not all there.

    The refrigerant and the altitude are those of the records. Keys of the result end in their unit.
    """
    from steadfeed.records import pages
    from steadfeed.visit.judge_log import method_version

    about = pages.circuit_facts(t, circuit_id)
    if about["refrigerant"] is None:
        return None, None
    air = about["barometer"] or standard_atmosphere(about["altitude"] or 0.0)
    si: dict[str, float] = {}
    kinds = spot_kinds()
    for channel, (number, unit) in pieces.items():
        if number:
            kind = kinds[channel]
            si[channel] = to_si(number_of(number), unit, kind, air if kind == "pressure" else None)
    head = si.get("liquid_pressure", si.get("discharge_pressure"))
    suction = si.get("suction_pressure")
    result: dict[str, Any] = {}
    try:
        result = _saturated(str(about["refrigerant"]), suction, head, si)
    except FixInput as error:
        return {"remark": error.message}, method_version()
    return (result or None), (method_version() if result else None)


def _saturated(refrigerant: str, suction: float | None, head: float | None, si: Mapping[str, float]) -> dict[str, Any]:
    from steadfeed.physics.properties import curves

    known = curves(refrigerant)
    result: dict[str, Any] = {"refrigerant": known.refrigerant.name}
    if suction is not None:
        evaporating = float(known.dew_temperature(suction))
        result["evaporating_degF"] = _fahrenheit(evaporating)
        if "suction_line_temperature" in si:
            result["superheat_degF"] = _degrees(si["suction_line_temperature"] - evaporating)
    if head is not None:
        condensing = float(known.bubble_temperature(head))
        result["condensing_degF"] = _fahrenheit(condensing)
        if "liquid_line_temperature" in si:
            result["subcooling_degF"] = _degrees(condensing - si["liquid_line_temperature"])
    return result if len(result) > 1 else {}


def _fahrenheit(kelvin: float) -> float:
    return round(from_si(kelvin, "degF", "temperature"), 2)


def _degrees(difference: float) -> float:
    return round(from_si(difference, "degF", "temperature_difference"), 2)
