"""Channels: which quantity at which place a column of readings holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

#: Kind of quantity of every channel that a log may hold.
CHANNEL_KINDS: Final[dict[str, str]] = {
    "suction_pressure": "pressure",
    "liquid_pressure": "pressure",
    "discharge_pressure": "pressure",
    "suction_line_temperature": "temperature",
    "liquid_line_temperature": "temperature",
    "evaporator_outlet_temperature": "temperature",
    "discharge_line_temperature": "temperature",
    "outdoor_air_temperature": "temperature",
    "return_air_dry_bulb": "temperature",
    "return_air_wet_bulb": "temperature",
    "supply_air_dry_bulb": "temperature",
    "supply_air_wet_bulb": "temperature",
    "return_air_relative_humidity": "fraction",
    "compressor_current": "current",
    "fan_current": "current",
    "power": "power",
    "valve_steps": "count",
}

#: The four readings without which no challenge can be judged. `discharge_pressure` may stand in for
#: `liquid_pressure` where the liquid line has no port.
VITAL_CHANNELS: Final = (
    "suction_pressure",
    "liquid_pressure",
    "suction_line_temperature",
    "liquid_line_temperature",
)


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One column of readings.

    name: quantity and place, a key of CHANNEL_KINDS.
    values: readings in SI, pressures absolute [Pa], temperatures [K], fractions [-]; NaN = missing. Shape (n,).
    unit: unit as received ("psig", "degF").
    header: column header as received.
    resolution: smallest step seen in the readings, SI [same as values]; 0 when not known.
    """

    name: str
    values: FloatArray
    unit: str
    header: str = ""
    resolution: float = 0.0

    def __post_init__(self) -> None:
        if self.name not in CHANNEL_KINDS:
            raise ValueError(f"no channel is called {self.name!r}")
        if self.values.ndim != 1:
            raise ValueError(f"channel {self.name} needs one dimension, got {self.values.ndim}")
