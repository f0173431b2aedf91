"""Which rows of which channel a judgement holds against: its flags, and the readings that it left out.

A flag of a sensor ("frozen", "off the pipe") says what is wrong; here is where. Nothing is decided here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.derive import head_channel
from steadfeed.analysis.liveness import longest_repeat
from steadfeed.analysis.quality import missing, off_the_pipe, out_of_range, spikes
from steadfeed.circuit.channel import CHANNEL_KINDS, BoolArray, FloatArray
from steadfeed.circuit.phase import Phases
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Assessment

#: A clamp that slides off changes most within this time [s].
_SLIDE: Final = 90.0


@dataclass(frozen=True, slots=True)
class QualitySpan:
    """A run of rows of one channel. flag: word of SensorState.flags, or "missing", "out of range", "spike". first_row,
    last_row: rows of the recording counted from 0, both included."""

    channel: str
    flag: str
    first_row: int
    last_row: int


def quality_spans(recording: Recording, assessment: Assessment) -> tuple[QualitySpan, ...]:
    """Return the runs of rows that are missing, impossible, single leaps, or meant by a flag of the assessment."""
    out: list[QualitySpan] = []
    head = head_channel(recording) or "liquid_pressure"
    vital = ("suction_pressure", head, "suction_line_temperature", "liquid_line_temperature")
    for name, channel in recording.channels.items():
        masks = {"missing": missing(channel.values)}
        if name in CHANNEL_KINDS:
            masks["out of range"] = out_of_range(name, channel.values)
        if name in vital:
            masks["spike"] = spikes(channel.values)
        state = assessment.sensors.get(name)
        for flag in state.flags if state is not None else ():
            masks[flag] = _meant(flag, recording, name, assessment.phases)
        for flag, mask in masks.items():
            out += [QualitySpan(name, flag, first, last) for first, last in runs_of(mask)]
    return tuple(out)


def runs_of(mask: BoolArray) -> list[tuple[int, int]]:
    """Return the runs of True in a mask, as first and last row."""
    edges = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    return [(int(first), int(end) - 1) for first, end in edges.reshape(-1, 2)]


def _meant(flag: str, recording: Recording, name: str, phases: Phases) -> BoolArray:
    """Return the rows that a flag of a sensor means."""
    time, values = recording.time, recording.channels[name].values
    if flag in ("frozen", "frozen outside the push"):
        run = longest_repeat(time, values)
        return np.asarray((time >= run.start) & (time <= run.end) & np.isfinite(values), dtype=np.bool_)
    if flag == "still at the stop" and phases.standstill is not None:
        return np.asarray(time >= phases.standstill, dtype=np.bool_)
    if flag == "still at the push" and phases.push is not None:
        end = phases.restore or float(time[-1])
        return np.asarray((time >= phases.push) & (time <= end), dtype=np.bool_)
    if flag == "off the pipe":
        return _off(recording, values, phases)
    return np.ones(time.shape[0], dtype=np.bool_)


def _off(recording: Recording, values: FloatArray, phases: Phases) -> BoolArray:
    """From where on a clamp does not measure its pipe.

    Where the outdoor air is known: the run at its temperature, or every row when it lay there from the beginning. Else
    from the largest leap within 90 s between the baseline and the restore.
    """
    time = recording.time
    whole = np.ones(time.shape[0], dtype=np.bool_)
    air = recording.get("outdoor_air_temperature")
    known = air is not None and int(np.isfinite(air).sum()) > 1
    if air is not None and known:
        good = np.isfinite(air)
        outdoor = np.interp(time, time[good], air[good])
        at_air = off_the_pipe(values, outdoor)
        if at_air.any():
            return at_air
        if float(np.nanmedian(np.abs(values - outdoor))) < limit("clamp_at_air"):
            return whole
    first = phases.baseline_start if phases.baseline_start is not None else float(time[0])
    last = phases.restore if phases.restore is not None else float(time[-1])
    inside = np.flatnonzero((time >= first) & (time <= last) & np.isfinite(values))
    if inside.shape[0] < 3:
        return whole
    t, v = time[inside], values[inside]
    later = np.minimum(np.searchsorted(t, t + _SLIDE, side="right"), t.shape[0]) - 1
    begin = int(inside[int(np.argmax(np.abs(v[later] - v)))])
    out = np.zeros(time.shape[0], dtype=np.bool_)
    out[begin:] = True
    return out
