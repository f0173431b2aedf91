"""Numbers of a window with their standard uncertainty, for reports and records."""

from __future__ import annotations

import numpy as np

from steadfeed.analysis.feed import state_of, valve_subcooling
from steadfeed.analysis.windows import InstrumentErrors, Window
from steadfeed.circuit.equipment import System
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import Measured
from steadfeed.physics.properties import Curves


def window_readings(
    w: Window, recording: Recording, errors: InstrumentErrors, curves: Curves, system: System
) -> dict[str, Measured]:
    """Numbers of a window with standard uncertainty (offset of the instrument and scatter of the mean)."""
    if w.count == 0:
        return {}
    lv = w.levels
    out: dict[str, Measured] = {}
    te, tc = lv["te"].mean, lv["tc"].mean
    te_u = errors.pressure_offset * _kelvin_per_pascal(curves, lv["ps"].mean, dew=True)
    tc_u = errors.pressure_offset * _kelvin_per_pascal(curves, lv["pl"].mean, dew=False)
    te_u, tc_u = float(np.hypot(te_u, 0.5 * curves.uncertainty)), float(np.hypot(tc_u, 0.5 * curves.uncertainty))

    def add(name: str, value: float, *parts: float) -> None:
        if np.isfinite(value):
            out[name] = Measured(float(value), float(np.sqrt(sum(p * p for p in parts))))

    off = errors.temperature_offset
    add("suction_pressure", lv["ps"].mean, errors.pressure_offset, lv["ps"].standard_error)
    add("head_pressure", lv["pl"].mean, errors.pressure_offset, lv["pl"].standard_error)
    add("evaporating_temperature", te, te_u, lv["te"].standard_error)
    add("condensing_temperature", tc, tc_u, lv["tc"].standard_error)
    add("superheat", lv["sh"].mean, te_u, off, lv["sh"].standard_error)
    add("subcooling", lv["sc"].mean, tc_u, off, lv["sc"].standard_error)
    left, left_u = valve_subcooling(state_of(w), curves, system)
    add("valve_subcooling", left, tc_u, off, left_u, lv["sc"].standard_error)
    add("suction_line_temperature", lv["ts"].mean, off, lv["ts"].standard_error)
    add("liquid_line_temperature", lv["tl"].mean, off, lv["tl"].standard_error)
    return out


def _kelvin_per_pascal(curves: Curves, pressure: float, dew: bool) -> float:
    curve = curves.dew_temperature if dew else curves.bubble_temperature
    low, high = float(curve(0.99 * pressure, outside="nan")), float(curve(1.01 * pressure, outside="nan"))
    slope = (high - low) / (0.02 * pressure)
    return slope if np.isfinite(slope) else 0.0
