"""Hints: what is known beside the residuals, as sentences with a weight for or against a cause.

A weight is a log-likelihood ratio against a unit without that cause. They are common practice in steps of a half, not
measured: 1 makes a cause 2.7 times as likely.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.spot import Spot
from steadfeed.analysis.words import Units, degrees
from steadfeed.circuit.equipment import MeteringDevice, System
from steadfeed.circuit.verdict import Assessment


@dataclass(frozen=True, slots=True)
class Hint:
    """One sentence and its weight: positive speaks for the cause, negative against, 0 only tells."""

    text: str
    weight: float


def hints(
    system: System, spot: Spot | None, assessment: Assessment | None, line_set_loss: float | None,
    heat_pump: bool | None, units: Units,
) -> Mapping[str, tuple[Hint, ...]]:  # fmt: skip
    """Hints for each cause. line_set_loss: subcooling that the line set takes by calculation [K], None if not known."""
    out: dict[str, list[Hint]] = defaultdict(list)
    _line_set(out, spot, line_set_loss, units)
    _compressor(out, system, spot)
    if heat_pump is None and system.mode == "cooling":
        out["check valve leaking"].append(Hint("Only heat pumps have one; whether this is one is not stated.", 0.0))
        out["reversing valve"].append(Hint("Only heat pumps have one; whether this is one is not stated.", 0.0))
    if assessment is not None:
        _challenge(out, system, assessment)
    return {cause: tuple(found) for cause, found in out.items()}


def _line_set(out: dict[str, list[Hint]], spot: Spot | None, loss: float | None, units: Units) -> None:
    subcooling = None if spot is None else spot.value("subcooling")
    if loss is None or subcooling is None:
        return
    if loss > subcooling:
        text = f"By calculation the line set takes {degrees(loss, units)} of subcooling, more than there is."
        out["flash gas"].append(Hint(text, 1.0))
    elif loss < 0.5 * subcooling:
        out["flash gas"].append(Hint("By calculation the line set leaves the liquid well subcooled.", -1.0))


def _compressor(out: dict[str, list[Hint]], system: System, spot: Spot | None) -> None:
    if system.compressor_control == "single-speed":
        text = "The compressor has one speed and no stage: only very low suction could unload it."
        out["compressor unloaded"].append(Hint(text, -2.5))
    suction = None if spot is None else spot.readings.get("suction_pressure")
    if spot is None or suction is None or system.compressor_type != "scroll":
        return
    if suction - spot.readings.atmosphere < limit("scroll_unloading"):
        out["compressor unloaded"].append(Hint("Suction is so low that a scroll may come apart.", 2.0))


def _challenge(out: dict[str, list[Hint]], system: System, assessment: Assessment) -> None:
    """What a challenge found. The numbers of its push already count as residuals, so the words add little."""
    for channel, cause in (("suction_pressure", "suction gauge"), ("liquid_pressure", "head gauge")):
        sensor = assessment.sensors.get(channel)
        if sensor is not None and sensor.alive is False:
            out[cause].append(Hint("In the challenge it did not move where it had to.", 6.0))
        elif sensor is not None and sensor.alive is True:
            out[cause].append(Hint("In the challenge it moved where it had to.", -0.5))
    for channel, cause in (("suction_line_temperature", "suction clamp"), ("liquid_line_temperature", "liquid clamp")):
        sensor = assessment.sensors.get(channel)
        if sensor is not None and "off the pipe" in sensor.flags:
            out[cause].append(Hint("In the challenge it came off the pipe.", 4.0))
    if not assessment.valid or system.metering_device is MeteringDevice.FIXED_ORIFICE:
        return
    devices = ("metering device underfeeding", "metering device overfeeding")
    if assessment.verdict == "regulating":
        for cause in devices:
            out[cause].append(Hint("The challenge found that the device holds the feed.", -1.5))
    elif assessment.verdict == "starving":
        out[devices[0]].append(Hint("The challenge found the coil starving.", 0.5))
    elif assessment.verdict == "flooding":
        out[devices[1]].append(Hint("The challenge found the coil flooded.", 0.5))
    elif assessment.verdict == "fixed":
        for cause in devices:
            out[cause].append(Hint("The challenge found a fixed opening.", 0.5))
