"""A challenge drawn by hand in kelvin, for tests that need to know every number of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.circuit.channel import Channel, FloatArray
from steadfeed.circuit.equipment import Instruments, MeteringDevice, Nameplate, System
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.recording import Recording
from steadfeed.physics.properties import curves

F = 5.0 / 9.0
R410A = curves("R-410A")


@dataclass(frozen=True)
class Drawn:
    """What happens when [s] and by how much; slopes per kelvin of condensing rise."""

    push: float = 420.0
    restore: float = 840.0
    stop: float = 1140.0
    end: float = 1440.0
    rise: float = 20.0 * F
    superheat: float = 14.0 * F
    superheat_slope: float = -0.03
    evaporating_slope: float = 0.10
    floor: float = 1.0 * F
    step: float = 2.0
    noise: float = 0.15 * F
    start_time: float = 1.75e9


def draw(d: Drawn = Drawn(), seed: int = 1) -> Recording:
    """Exponential climb and fall of the head; superheat and evaporating temperature follow it by the slopes."""
    t = np.arange(0.0, d.end, d.step)
    g = np.random.default_rng(seed)
    climb = np.where(t >= d.push, 1.0 - np.exp(-(t - d.push) / 55.0), 0.0)
    level = 1.0 - np.exp(-(d.restore - d.push) / 55.0)
    climb = np.where(t >= d.restore, level * np.exp(-(t - d.restore) / 30.0), climb)
    off = np.maximum(t - d.stop, 0.0)
    tc = 316.0 + d.rise * climb - np.where(off > 0, 18.0 * (1 - np.exp(-off / 90.0)), 0.0)
    te = 278.0 + d.evaporating_slope * d.rise * climb + np.where(off > 0, 19.0 * (1 - np.exp(-off / 60.0)), 0.0)
    superheat = np.maximum(d.superheat + d.superheat_slope * d.rise * climb, d.floor)
    ts = te + superheat
    tl = 316.0 + 0.95 * d.rise * climb - 8.0 - off * 0.01

    def noisy(values: FloatArray) -> FloatArray:
        return values + g.normal(0.0, d.noise, values.shape[0])

    values = {
        "suction_pressure": (R410A.dew_pressure(noisy(te)), "psig"),
        "liquid_pressure": (R410A.bubble_pressure(noisy(tc)), "psig"),
        "suction_line_temperature": (noisy(ts), "degF"),
        "liquid_line_temperature": (noisy(tl), "degF"),
    }
    channels = {k: Channel(k, v, u) for k, (v, u) in values.items()}
    return Recording(t + d.start_time, channels)


def system(device: MeteringDevice = MeteringDevice.TXV, *marks: Mark) -> System:
    return System(
        refrigerant="R-410A",
        metering_device=device,
        compressor_type="scroll",
        nameplate=Nameplate(subcooling=10.0 * F),
        instruments=Instruments(gauges="digital", pressure_reference="vented", sampling="automatic"),
        marks=marks,
    )
