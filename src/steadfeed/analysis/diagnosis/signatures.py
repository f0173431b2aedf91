"""What a healthy unit shows under given conditions, and how each cause shifts it: made by tools/fit_signatures.py.

Per mode and metering device the file holds, for every feature, a linear expectation in the conditions, what a refrigerant adds to it, and for the healthy
unit and every cause the mean and covariance of the residuals, readings by ordinary instruments included. It is made from
cases of the bench (see docs/diagnosis.md): it holds no field data.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from steadfeed.analysis.spot import Spot
from steadfeed.circuit.channel import FloatArray
from steadfeed.circuit.equipment import MeteringDevice, Mode

_FILE: Final = Path(__file__).parent / "data" / "signatures.jsonl"
HEALTHY: Final = "healthy"

#: Middle of the conditions [K] and what they are divided by.
_OUTDOOR: Final = {"cooling": (308.15, 10.0), "heating": (281.5, 10.0)}
_WET_BULB: Final = (292.6, 5.0)
_DRY_BULB: Final = {"cooling": (299.8, 5.0), "heating": (294.3, 5.0)}
#: Stand-in and standard uncertainty where a condition was not read [K].
_UNREAD: Final = {"outdoor": (305.0, 5.0), "wet": (291.0, 2.5), "dry": (298.0, 2.2)}


@dataclass(frozen=True, slots=True, eq=False)
class Conditions:
    """values: 1 and the scaled conditions, shape (4,); variance: of each where it is only a stand-in."""

    values: FloatArray
    variance: FloatArray


def conditions(spot: Spot, mode: Mode) -> Conditions:
    """Conditions of a spot: outdoor air, return wet bulb and dry bulb; unread ones stand in with their uncertainty."""
    outdoor = spot.readings.get("outdoor_air_temperature")
    dry = spot.readings.get("return_air_dry_bulb")
    wet = spot.value("return_wet_bulb")
    rows = (
        (outdoor, _UNREAD["outdoor"] if mode == "cooling" else (281.5, 5.0), _OUTDOOR[mode]),
        (_WET_BULB[0] if mode == "heating" else wet, _UNREAD["wet"], _WET_BULB),
        (dry, _UNREAD["dry"] if mode == "cooling" else (294.3, 2.0), _DRY_BULB[mode]),
    )
    values, variance = [1.0], [0.0]
    for value, (stand_in, wide), (middle, scale) in rows:
        values.append(((value if value is not None else stand_in) - middle) / scale)
        variance.append(0.0 if value is not None else (wide / scale) ** 2)
    return Conditions(np.array(values), np.array(variance))


@dataclass(frozen=True, slots=True, eq=False)
class Signatures:
    """Signatures of one mode and metering device.

    features: names, in the order of every array. expectation: shape (features, 4); refrigerants: what one adds to it, shape
    (features,), for those it was made from; others: its variance among them, for any other. causes: names, healthy first. mean,
    shape (causes, features); covariance, shape (causes, features, features); beyond: covariance beyond the healthy one.
    """

    features: tuple[str, ...]
    expectation: FloatArray
    refrigerants: Mapping[str, FloatArray]
    others: FloatArray
    causes: tuple[str, ...]
    mean: FloatArray
    covariance: FloatArray
    beyond: FloatArray

    def index(self, cause: str) -> int:
        """Place of a cause; raises ValueError for one that this device cannot have."""
        return self.causes.index(cause)


def signatures(mode: Mode, device: MeteringDevice) -> Signatures:
    """Return the signatures of a mode and metering device; an unknown device takes those of a TXV."""
    return _load(mode, "txv" if device is MeteringDevice.UNKNOWN else device.value)


def provenance() -> str:
    """Say which cases the file was made from."""
    text: str = json.loads(_lines()[0])["provenance"]
    return text


@cache
def _lines() -> list[bytes]:
    """Lines of the file: where it comes from, then one object for each mode and metering device."""
    return _FILE.read_bytes().splitlines()


def _parsed(mode: str, device: str) -> Mapping[str, Any]:
    """Parse the one line that is wanted: all six would cost more time than a diagnosis."""
    head = json.dumps({"mode": mode, "device": device}, separators=(",", ":"))[:-1].encode()
    parsed: Mapping[str, Any] = json.loads(next(line for line in _lines()[1:] if line.startswith(head)))
    return parsed


@cache
def _load(mode: str, device: str) -> Signatures:
    data = _parsed(mode, device)
    features = tuple(data["features"])
    causes = tuple(data["causes"])
    n = len(features)
    mean = np.array([data["causes"][c]["mean"] for c in causes])
    covariance = np.array([_square(data["causes"][c]["covariance"], n) for c in causes])
    beyond = np.array([_positive(covariance[k] - covariance[0]) for k in range(len(causes))])
    offsets = {name: np.array(row) for name, row in data["refrigerants"].items()}
    others = np.var(np.array(list(offsets.values())), axis=0) if offsets else np.zeros(n)
    return Signatures(features, np.array(data["expectation"]), offsets, others, causes, mean, covariance, beyond)


def _square(lower: Sequence[float], n: int) -> FloatArray:
    """Full symmetric matrix from its lower triangle, row by row."""
    out = np.zeros((n, n))
    out[np.tril_indices(n)] = lower
    return out + np.tril(out, -1).T


def _positive(matrix: FloatArray) -> FloatArray:
    """Nearest matrix without negative eigenvalues."""
    values, vectors = np.linalg.eigh(matrix)
    out: FloatArray = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return out
