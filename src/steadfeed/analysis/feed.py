"""Apparent opening and feed held: what share of the push the metering device cancelled.

m/m0 = ρ_suc·η_v(PR) / (ρ_suc0·η_v(PR0)), d = √(ρ_liq·(p_liq − Δp_line − p_evap)), F = 1 − Δln m / Δln d. F is a ratio
of two noisy differences; its interval is Fieller's (E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175), inputs combined
after the GUM (JCGM 100:2008, 5.1). F is never clipped and not given when Δln d is below three times its uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.windows import InstrumentErrors, Window
from steadfeed.circuit.equipment import System
from steadfeed.circuit.verdict import FeedHeld, Measured
from steadfeed.errors import OutOfRange
from steadfeed.physics.compressor import VOLUMETRIC_SLOPES
from steadfeed.physics.pipe import inside_diameter, lift_loss, liquid_line_loss, subcooling_at_valve
from steadfeed.physics.properties import Curves

F = 5.0 / 9.0
#: Share of the effect of superheat on suction density that reaches the flow (from memory: about three quarters).
SUPERHEAT_SHARE = 0.75


@dataclass(frozen=True, slots=True)
class State:
    """Four readings (SI, absolute)."""

    ps: float
    pl: float
    ts: float
    tl: float


def efficiency_slope(system: System) -> tuple[float, float]:
    """d ln η_v / d PR [-] and its standard uncertainty by type of compressor (physics.compressor).

    A type that nobody stated is taken as the most frequent, a scroll, with nearly twice its uncertainty: the mixture of all
    types is so wide that the feed held would say nothing, and for the verdict the superheat carries more (method.md §1).
    """
    if system.compressor_type == "unknown":
        return VOLUMETRIC_SLOPES["scroll"].value, 0.022
    known = VOLUMETRIC_SLOPES[system.compressor_type]
    return known.value, known.uncertainty


def line_loss(system: System, state: State, curves: Curves) -> tuple[float, float]:
    """Pressure lost between the head port and the metering device, and its standard uncertainty [Pa].

    Friction of the liquid line (Churchill, physics.pipe) at the flow that the nominal capacity needs, lift ρ·g·h, and
    10 kPa for drier and valves (common practice). Length, diameter and flow are seldom known at the unit: 25 ft of
    3/8 in tube and 3 tons stand in for what is missing, and half of the friction is its uncertainty.
    """
    line = system.line_set
    capacity = system.nominal_capacity or 3.0 * 3516.85
    length = 2.0 if system.packaged else (line.length if line.length is not None else 7.6)
    lift = line.lift or 0.0
    tube = inside_diameter(line.liquid_line_diameter or 0.375 * 0.0254)
    liquid = min(state.tl, float(curves.bubble_temperature(state.pl)))
    heat = float(curves.vapor_enthalpy(state.ps, max(state.ts, float(curves.dew_temperature(state.ps)))))
    flow = capacity / max(heat - float(curves.liquid_enthalpy(state.pl, liquid)), 5e4)
    friction = liquid_line_loss(curves, state.pl, liquid, flow, tube, 1.3 * length) + 10e3
    column = float(lift_loss(float(curves.liquid_density(state.pl, liquid)), lift))
    wide = 0.5 * friction if line.lift is not None or system.packaged else float(np.hypot(0.5 * friction, 15e3))
    return friction + column, wide


def log_flow(state: State, slope: float, curves: Curves) -> float:
    """ln of the displacement flow up to a constant: ρ_suc·η_v(PR)."""
    te = float(curves.dew_temperature(state.ps))
    effective = te + SUPERHEAT_SHARE * max(state.ts - te, 0.0)
    density = float(curves.vapor_density(state.ps, max(effective, te)))
    return float(np.log(density)) + slope * state.pl / state.ps


def log_drive(state: State, loss: float, curves: Curves) -> float:
    """ln of the drive √(ρ_liq·Δp) across the metering device."""
    tc = float(curves.bubble_temperature(state.pl))
    density = float(curves.liquid_density(state.pl, min(state.tl, tc)))
    difference = max(state.pl - loss - state.ps, 1.0)
    return 0.5 * float(np.log(density * difference))


@dataclass(frozen=True, slots=True)
class Feed:
    """Result: feed held (None when the push resolves nothing), apparent opening in the hold, flow ratio."""

    held: FeedHeld | None
    opening: Measured | None
    log_flow_change: float
    log_drive_change: float


def feed_held(
    before: State, during: State, curves: Curves, system: System, errors: InstrumentErrors, noise: tuple[float, ...]
) -> Feed:
    """Feed held between two sets of readings.

    noise: standard errors of the differences in (ps, pl, ts, tl) from scatter, same units as the readings. Raises
    OutOfRange when a reading lies outside the curves.
    """
    slope, slope_u = efficiency_slope(system)
    loss, loss_u = line_loss(system, before, curves)

    def both(b: State, d: State, k: float, dp: float) -> tuple[float, float]:
        return (
            log_flow(d, k, curves) - log_flow(b, k, curves),
            log_drive(d, dp, curves) - log_drive(b, dp, curves),
        )

    y, x = both(before, during, slope, loss)
    # sensitivities by finite differences; each source moves (y, x) together, which keeps their covariance
    load = limit("load_uncertainty")
    te_to_pressure = float(curves.dew_pressure(float(curves.dew_temperature(during.ps)) + load)) - during.ps
    sources = (
        (State(during.ps + float(np.hypot(errors.suction_change, noise[0])), during.pl, during.ts, during.tl), slope, loss),
        (State(during.ps, during.pl + float(np.hypot(errors.head_change, noise[1])), during.ts, during.tl), slope, loss),
        (State(during.ps, during.pl, during.ts + float(np.hypot(errors.temperature_change, noise[2])), during.tl), slope, loss),
        (State(during.ps, during.pl, during.ts, during.tl - float(np.hypot(errors.temperature_change, noise[3]))), slope, loss),
        (State(during.ps + te_to_pressure, during.pl, during.ts + load, during.tl), slope, loss),
        (during, slope + slope_u, loss),
        (during, slope, loss + loss_u),
    )  # fmt: skip
    yy = xx = xy = 0.0
    for state, k, dp in sources:
        dy, dx = both(before, state, k, dp)
        dy, dx = dy - y, dx - x
        yy, xx, xy = yy + dy * dy, xx + dx * dx, xy + dx * dy
    opening = float(np.exp(y - x))
    opening_u = opening * float(np.sqrt(max(yy + xx - 2 * xy, 0.0)))
    held = None
    if abs(x) > 3.0 * np.sqrt(xx):
        interval = fieller(y, x, yy, xx, xy, 1.96)
        if interval is not None:
            held = FeedHeld(1.0 - y / x, 1.0 - interval[1], 1.0 - interval[0])
    return Feed(held, Measured(opening, opening_u), y, x)


def fieller(y: float, x: float, yy: float, xx: float, xy: float, k: float) -> tuple[float, float] | None:
    """Interval of the ratio y/x of two correlated normal values (variances yy, xx, covariance xy) at ±k; None if unbounded."""
    a = x * x - k * k * xx
    b = x * y - k * k * xy
    c = y * y - k * k * yy
    root = b * b - a * c
    if a <= 0.0 or root < 0.0:
        return None
    wide = float(np.sqrt(root))
    return (b - wide) / a, (b + wide) / a


def state_of(window: Window) -> State:
    """Mean readings of a window."""
    return State(window.mean("ps"), window.mean("pl"), window.mean("ts"), window.mean("tl"))


def standard_errors(a: Window, b: Window) -> tuple[float, float, float, float]:
    """Standard errors of the differences between two windows from their scatter, (ps, pl, ts, tl)."""
    ps, pl, ts, tl = (
        float(np.hypot(a.levels[name].standard_error, b.levels[name].standard_error))
        for name in ("ps", "pl", "ts", "tl")
    )
    return ps, pl, ts, tl


def valve_subcooling(state: State, curves: Curves, system: System) -> tuple[float, float]:
    """Subcooling left at the metering device and its standard uncertainty [K]; NaN outside the curves."""
    try:
        loss, wide = line_loss(system, state, curves)
        left = subcooling_at_valve(curves, state.pl, state.tl, loss)
        lower = subcooling_at_valve(curves, state.pl, state.tl, loss + wide)
    except OutOfRange:
        return float("nan"), float("nan")
    return float(left), abs(float(left - lower))
