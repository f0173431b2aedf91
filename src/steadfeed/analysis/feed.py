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
from steadfeed.circuit.equipment import LineSet, System
from steadfeed.circuit.verdict import FeedHeld, Measured
from steadfeed.physics.properties import Curves

F = 5.0 / 9.0
GRAVITY = 9.80665
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
    """d ln η_v / d PR and its standard uncertainty by type of compressor.

    From ten-coefficient maps at 45 °F evaporating: scroll-like −0.025…−0.041, others −0.006…−0.16.
    """
    return {
        "scroll": (-0.028, 0.012),
        "reciprocating": (-0.06, 0.03),
        "rotary": (-0.03, 0.025),
    }.get(system.compressor_type, (-0.025, 0.02))


def line_loss(line: LineSet, packaged: bool | None, density: float) -> tuple[float, float]:
    """Pressure lost between the head port and the valve, and its standard uncertainty [Pa].

    Lift ρ·g·h, friction of about 1.1 kPa per metre of a usual liquid line and 10 kPa of drier and valves (common
    practice); the diameter and the flow are seldom known at the unit, so the uncertainty is half of the friction.
    """
    if packaged:
        return 8e3, 4e3
    length = line.length if line.length is not None else 9.0
    lift = line.lift if line.lift is not None else 0.0
    friction = 1.1e3 * length + 10e3
    wide = 0.5 * friction
    if line.lift is None:
        wide = float(np.hypot(wide, 15e3))
    return friction + density * GRAVITY * lift, wide


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
    tc = float(curves.bubble_temperature(before.pl))
    density = float(curves.liquid_density(before.pl, min(before.tl, tc)))
    loss, loss_u = line_loss(system.line_set, system.packaged, density)

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


def valve_subcooling(pl: float, tl: float, curves: Curves, system: System) -> tuple[float, float]:
    """Subcooling left at the metering device and its standard uncertainty [K]; NaN outside the curves."""
    tc = float(curves.bubble_temperature(pl, outside="nan"))
    if tc != tc:
        return float("nan"), float("nan")
    density = float(curves.liquid_density(pl, min(tl, tc), outside="nan"))
    if density != density:
        density = 1000.0
    loss, wide = line_loss(system.line_set, system.packaged, density)
    at_valve = float(curves.bubble_temperature(max(pl - loss, 1e4), outside="nan"))
    lower = float(curves.bubble_temperature(max(pl - loss - wide, 1e4), outside="nan"))
    return at_valve - tl, abs(at_valve - lower)
