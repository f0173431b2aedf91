"""Derived series: superheat, subcooling and saturation temperatures over a whole recording."""

from __future__ import annotations

from dataclasses import dataclass

from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.recording import Recording
from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Series of one circuit, all of shape (n,), SI, NaN where a reading is missing or out of the curves' range.

    time [s since the Unix epoch, UTC]; suction_pressure, head_pressure: absolute [Pa]; evaporating: dew temperature at
    suction pressure [K]; condensing: bubble temperature at head pressure [K]; superheat, subcooling [K difference].
    """

    time: FloatArray
    suction_pressure: FloatArray
    head_pressure: FloatArray
    evaporating: FloatArray
    condensing: FloatArray
    superheat: FloatArray
    subcooling: FloatArray
    suction_line: FloatArray
    liquid_line: FloatArray


def head_channel(recording: Recording) -> str | None:
    """Name the channel that holds the head pressure: the liquid line's port, else the discharge port."""
    for name in ("liquid_pressure", "discharge_pressure"):
        if name in recording.channels:
            return name
    return None


def derive(recording: Recording, curves: Curves) -> Trace:
    """Derive superheat (dew at suction) and subcooling (bubble at head) from the four readings.

    Raises KeyError when a vital channel is missing (callers check first).
    """
    head = head_channel(recording)
    if head is None:
        raise KeyError("liquid_pressure")
    p_suction = recording.channels["suction_pressure"].values
    p_head = recording.channels[head].values
    suction_line = recording.channels["suction_line_temperature"].values
    liquid_line = recording.channels["liquid_line_temperature"].values
    evaporating = curves.dew_temperature(p_suction, outside="nan")
    condensing = curves.bubble_temperature(p_head, outside="nan")
    return Trace(
        time=recording.time,
        suction_pressure=p_suction,
        head_pressure=p_head,
        evaporating=evaporating,
        condensing=condensing,
        superheat=suction_line - evaporating,
        subcooling=condensing - liquid_line,
        suction_line=suction_line,
        liquid_line=liquid_line,
    )
