"""A recording: readings of one circuit over time, as received, with masks beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from steadfeed.circuit.channel import BoolArray, Channel, FloatArray
from steadfeed.circuit.phase import Mark


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that a reader or a judge has to say. code: stable word; text: one sentence; where: channel, row …"""

    code: str
    text: str
    where: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Readings of one circuit.

    time: sample times [s since the Unix epoch, UTC], strictly increasing, shape (n,). With `elapsed` they count from
    an unknown moment. utc_offset: local time minus UTC [s]. atmosphere: pressure of the air at the site with which
    vented gauge readings were made absolute [Pa]. same: True where the person said "read again, unchanged", shape (n,).
    remarks: what was understood, dropped or put in order while reading.
    """

    time: FloatArray
    channels: Mapping[str, Channel]
    atmosphere: float = 101325.0
    utc_offset: float = 0.0
    elapsed: bool = False
    same: BoolArray | None = None
    read_by: str | None = None
    circuit: str | None = None
    marks: tuple[Mark, ...] = ()
    remarks: tuple[Remark, ...] = field(default=())

    def __post_init__(self) -> None:
        n = self.time.shape[0]
        for name, channel in self.channels.items():
            if channel.values.shape != (n,):
                raise ValueError(f"channel {name} has {channel.values.shape[0]} readings for {n} times")
        if n > 1 and not bool(np.all(np.diff(self.time) > 0)):
            raise ValueError("sample times must increase")

    def __len__(self) -> int:
        return int(self.time.shape[0])

    def get(self, name: str) -> FloatArray | None:
        """Return the readings of one channel (SI), or None when the log has no such channel."""
        channel = self.channels.get(name)
        return None if channel is None else channel.values

    def until(self, moment: float) -> Recording:
        """Return the recording as it stood at `moment` [s since the Unix epoch]: nothing later is kept."""
        n = int(np.searchsorted(self.time, moment, side="right"))
        return replace(
            self,
            time=self.time[:n],
            channels={k: replace(c, values=c.values[:n]) for k, c in self.channels.items()},
            same=None if self.same is None else self.same[:n],
            marks=tuple(m for m in self.marks if m.time <= moment),
        )
