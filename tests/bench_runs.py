"""Bench units and runs that several tests look at; each is made and run once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from steadfeed.bench.air import humidity_ratio
from steadfeed.bench.design import Device, Rating, fahrenheit, split_system
from steadfeed.bench.equipment import Equipment
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.plant import Plant
from steadfeed.bench.run import History, script, simulate
from steadfeed.bench.state import Inputs, State
from steadfeed.physics.properties import curves
from steadfeed.units import STANDARD_ATMOSPHERE

K = 1.8  # °F per kelvin
PARKED = Faults(metering=MeteringFaults(parked=0.62))
PUSH, RESTORE = 900.0, 1260.0


def degrees_f(kelvin: float) -> float:
    return kelvin * 1.8 - 459.67


@cache
def unit(
    device: Device = "txv", refrigerant: str = "R-410A", superheat_degf: float = 12.0, tons: float = 3.0
) -> Equipment:
    rating = Rating(capacity=tons * 3516.85, superheat=superheat_degf / K)
    return split_system(curves(refrigerant), rating=rating, device=device)


def conditions(outdoor: float = 95.0, dry_bulb: float = 80.0, wet_bulb: float = 67.0) -> Inputs:
    """Inputs in °F, everything else as in a rating test."""
    ratio = humidity_ratio(fahrenheit(dry_bulb), fahrenheit(wet_bulb), STANDARD_ATMOSPHERE)
    return Inputs(outdoor_temperature=fahrenheit(outdoor), return_temperature=fahrenheit(dry_bulb), return_ratio=ratio)


@cache
def steady(
    equipment: Equipment, faults: Faults = HEALTHY, outdoor: float = 95.0, wet_bulb: float = 67.0, airflow: float = 1.0
) -> State:
    """State after 25 minutes of running."""
    inputs = replace(conditions(outdoor, wet_bulb=wet_bulb), indoor_airflow=airflow)
    plant = Plant(equipment, faults, inputs=inputs, step=0.5)
    for _ in range(150):
        state = plant.advance(10.0, inputs)
    return state


@cache
def challenge(equipment: Equipment, faults: Faults = HEALTHY, cover: float = 0.58) -> History:
    """Settle 15 min, cover in three steps within 30 s, hold, restore, stand still."""
    changes = (
        (PUSH, {"cover": 0.4 * cover}),
        (PUSH + 15.0, {"cover": 0.75 * cover}),
        (PUSH + 30.0, {"cover": cover}),
        (RESTORE, {"cover": 0.0}),
        (1500.0, {"call": 0.0}),
    )
    return simulate(Plant(equipment, faults), script(conditions(), *changes), 1680.0)


def change(history: History, name: str) -> float:
    """Mean of the last minute of the hold less mean of the last minute of the baseline [K or SI]."""
    values, t = history[name], history.time
    before = values[(t > PUSH - 60.0) & (t <= PUSH)].mean()
    after = values[(t > RESTORE - 60.0) & (t <= RESTORE)].mean()
    return float(after - before)


def baseline(history: History, name: str) -> float:
    t = history.time
    return float(history[name][(t > PUSH - 60.0) & (t <= PUSH)].mean())


def after_push(history: History, name: str) -> np.ndarray:
    """Series from the push to the restore, one value a second."""
    t = history.time
    return np.asarray(history[name][(t > PUSH) & (t <= RESTORE)])
