"""Hypotheses on the metering device, compared on the same readings.

Every hypothesis says how the summaries of a challenge are distributed: change of superheat and of evaporating
temperature per kelvin of condensing rise (slopes hardly depend on the refrigerant), level of superheat, size of its
cycles before and in the push. The summaries are means over whole phases with the uncertainty of correlated samples, so
that looking often does not add evidence. A superheat that ran into its floor (~3 °F: the gauge is blind below) counts
as censored: the likelihood is that of *at least* this fall. Distributions span the simulated logs, the measured rig
(R-12, capillary −1.18 and TXV −0.01 °F/°F) and lumped models of parked valves (−0.58…−1.7), not one of them alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from steadfeed.circuit.equipment import MeteringDevice
from steadfeed.circuit.verdict import STATES

_SQRT2 = math.sqrt(2.0)
_TINY = 1e-12


@dataclass(frozen=True, slots=True)
class Normal:
    """weight · N(mean, sd²); measurement uncertainty adds to sd in quadrature."""

    weight: float
    mean: float
    sd: float

    def density(self, x: float, u: float) -> float:
        """Density at x measured with standard uncertainty u."""
        s = math.hypot(self.sd, u)
        return self.weight * math.exp(-0.5 * ((x - self.mean) / s) ** 2) / s

    def below(self, x: float, u: float) -> float:
        """Probability of a value below x, measured with standard uncertainty u."""
        s = math.hypot(self.sd, u)
        return self.weight * 0.5 * math.erfc((self.mean - x) / (s * _SQRT2))


Mixture = tuple[Normal, ...]


def density(mixture: Mixture, x: float, u: float) -> float:
    """Density of a mixture at x ± u, with the constant 1/√(2π) left out."""
    return sum(n.density(x, u) for n in mixture)


@dataclass(frozen=True, slots=True)
class Summary:
    """What the hypotheses are held against. Temperatures and differences in kelvin; None = not known.

    rise: condensing rise. superheat_change, evaporating_change with standard uncertainties u_*; censored: superheat
    ended at its floor. superheat_before, superheat_after; cycles_before, cycles_in: scatter of the superheat about a
    parabola; cycle_noise: the part of that scatter that the instruments make;
    spread_*: relative uncertainty of the scatter, from the number of readings. knee: superheat fell like that of a
    fixed opening and then stayed although the head went on (0…1). not_back: superheat in the recovery minus baseline;
    upswing: highest superheat in the push over both its ends dip: how far it fell below both its ends on the
    way (all None where they say nothing, as with an EEV's swing). discharge_change: rise of the discharge line over a push
    that was long enough for it; None when it was not read.
    """

    rise: float
    superheat_change: float
    u_superheat: float
    evaporating_change: float
    u_evaporating: float
    censored: bool
    superheat_before: float
    superheat_after: float
    cycles_before: float | None
    cycles_in: float | None
    cycle_noise: float
    spread_before: float = 0.1
    spread_in: float = 0.1
    knee: float = 0.0
    not_back: float | None = None
    upswing: float | None = None
    dip: float | None = None
    discharge_change: float | None = None


F: Final = 5.0 / 9.0

# Change of superheat per kelvin of condensing rise [-]
_SLOPE: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.72, -0.035, 0.025), Normal(0.17, -0.07, 0.02), Normal(0.11, 0.07, 0.06)),
    "hunting": (Normal(0.80, -0.02, 0.035), Normal(0.20, -0.02, 0.07)),
    "weak": (Normal(0.70, -0.14, 0.03), Normal(0.30, -0.26, 0.09)),
    "fixed": (Normal(0.50, -0.50, 0.17), Normal(0.35, -0.80, 0.25), Normal(0.15, -1.15, 0.40)),
    "sticking": (Normal(0.5, -0.04, 0.10), Normal(0.5, -0.08, 0.28)),
    # far starved, the superheat is held by the air's temperature and hardly moves
    "starving": (Normal(0.68, -0.45, 0.13), Normal(0.17, -0.60, 0.30), Normal(0.15, -0.06, 0.06)),
    "flooding": (Normal(0.8, -0.02, 0.04), Normal(0.2, -0.05, 0.10)),
    "at its stop": (Normal(0.6, -0.35, 0.18), Normal(0.4, -0.60, 0.30)),
}
# Change of evaporating temperature per kelvin of condensing rise [-]
_EVAPORATING: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.60, 0.105, 0.03), Normal(0.32, 0.06, 0.03), Normal(0.08, 0.12, 0.07)),
    "hunting": (Normal(0.75, 0.09, 0.045), Normal(0.25, 0.10, 0.09)),
    "weak": (Normal(0.7, 0.155, 0.05), Normal(0.3, 0.08, 0.04)),
    "fixed": (Normal(0.6, 0.20, 0.045), Normal(0.4, 0.28, 0.10)),
    "sticking": (Normal(0.6, 0.10, 0.07), Normal(0.4, 0.05, 0.15)),
    "starving": (Normal(0.68, 0.36, 0.09), Normal(0.17, 0.40, 0.20), Normal(0.15, 0.08, 0.06)),
    "flooding": (Normal(0.6, 0.13, 0.05), Normal(0.4, 0.20, 0.10)),
    "at its stop": (Normal(1.0, 0.20, 0.10),),
}
# Superheat before the push [°F]
_LEVEL: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.80, 13.0, 4.5), Normal(0.20, 18.0, 9.0)),  # the measured rig began at 31 °F
    "hunting": (Normal(0.80, 13.0, 4.5), Normal(0.20, 17.0, 9.0)),
    "weak": (Normal(0.7, 14.0, 5.0), Normal(0.3, 20.0, 10.0)),
    "fixed": (Normal(0.6, 15.0, 5.5), Normal(0.3, 22.0, 10.0), Normal(0.10, 45.0, 20.0)),
    "sticking": (Normal(0.7, 12.0, 5.0), Normal(0.3, 14.0, 8.0)),
    "starving": (Normal(0.8, 58.0, 11.0), Normal(0.2, 45.0, 7.0)),
    "flooding": (Normal(0.75, 1.0, 1.8), Normal(0.25, 3.5, 2.0)),
    "at its stop": (Normal(1.0, 25.0, 10.0),),
}
# ln of the cycle amplitude (scatter of the superheat, °F)
_QUIET: Final[Mixture] = (Normal(0.9, -2.3, 0.7), Normal(0.1, -1.2, 0.7))
_CYCLING: Final[Mixture] = (Normal(0.9, 0.35, 0.5), Normal(0.1, 0.9, 0.7))
_STIRRED: Final[Mixture] = (Normal(0.6, -1.9, 0.8), Normal(0.4, -0.4, 0.8))  # two-phase flow at the floor is restless
_STICK: Final[Mixture] = (Normal(0.55, 1.1, 0.45), Normal(0.20, 0.3, 0.7), Normal(0.25, -1.9, 0.7))

_CYCLES_BEFORE: Final[dict[str, Mixture]] = {
    "regulating": _QUIET,
    "hunting": _CYCLING,
    "weak": _QUIET,
    "fixed": _QUIET,
    "sticking": (Normal(0.85, -2.0, 0.8), Normal(0.15, 0.9, 0.5)),
    "starving": _QUIET,
    "flooding": (Normal(0.7, -2.0, 0.8), Normal(0.3, -0.8, 0.6)),
    "at its stop": _QUIET,
}
_CYCLES_IN: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.85, -2.2, 0.7), Normal(0.15, -1.0, 0.6)),
    "hunting": _CYCLING,
    "weak": (Normal(0.8, -2.0, 0.8), Normal(0.2, -0.3, 0.7)),
    "fixed": _STIRRED,
    "sticking": _STICK,
    "starving": _STIRRED,
    "flooding": (Normal(0.6, -2.0, 0.9), Normal(0.4, -0.6, 0.8)),
    "at its stop": _STIRRED,
}

# Superheat after the restore minus baseline [°F]: a valve with friction does not come back to where it was
_OTHER_BACK: Final[Mixture] = (Normal(0.6, 0.0, 0.4), Normal(0.4, 0.0, 1.5))
_NOT_BACK: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.96, 0.0, 0.20), Normal(0.04, -0.2, 1.0)),
    "sticking": (Normal(0.6, -0.6, 0.6), Normal(0.4, 0.0, 1.8)),
}
# Highest superheat in the push over the baseline [°F]: a late bulb lets it swing up first
_OTHER_UP: Final[Mixture] = (Normal(0.5, 0.1, 0.3), Normal(0.5, 1.0, 1.2))
_UPSWING: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.94, 0.05, 0.22), Normal(0.06, 0.8, 1.0)),
    "sticking": (Normal(0.4, 0.2, 0.4), Normal(0.6, 2.0, 2.0)),
}

# How far superheat fell below both its ends on the way [°F]: a valve that is late dips once and comes back
_OTHER_DIP: Final[Mixture] = (Normal(0.7, 0.4, 0.8), Normal(0.3, 2.0, 2.5))
_DIP: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.96, 0.4, 0.8), Normal(0.04, 2.5, 1.5)),
    "sticking": (Normal(0.5, 0.5, 0.9), Normal(0.5, 8.0, 6.0)),
}

# Change of the discharge line per kelvin of condensing rise [-]. Compression from the same superheat to a higher head gives
# 1.4 to 1.7 (isentropic efficiency 0.65, less while the shell still warms); each kelvin of superheat that is lost takes about
# 1.1 away, liquid in the suction gas more. No clamp on the suction line has a part in it.
_DISCHARGE: Final[dict[str, Mixture]] = {
    "regulating": (Normal(0.9, 1.35, 0.35), Normal(0.1, 1.3, 0.8)),
    "hunting": (Normal(0.8, 1.55, 0.5), Normal(0.2, 1.5, 1.2)),
    "weak": (Normal(0.8, 1.25, 0.4), Normal(0.2, 1.0, 0.8)),
    "fixed": (Normal(0.6, -0.2, 0.5), Normal(0.4, 0.6, 0.6)),
    "sticking": (Normal(0.7, 1.2, 0.5), Normal(0.3, 0.5, 0.8)),
    "starving": (Normal(0.6, 1.2, 0.5), Normal(0.4, 2.5, 2.0)),
    "flooding": (Normal(0.5, 0.1, 0.5), Normal(0.5, 0.8, 0.6)),
    "at its stop": (Normal(1.0, 0.8, 0.5),),
}

_PRIOR_TXV: Final = {
    "regulating": 0.36,
    "hunting": 0.12,
    "weak": 0.05,
    "fixed": 0.22,
    "sticking": 0.09,
    "starving": 0.08,
    "flooding": 0.06,
    "at its stop": 0.02,
}


def prior(device: MeteringDevice) -> dict[str, float]:
    """Belief before the readings, by the metering device that the unit should have.

    A fixed orifice can neither be weak nor stick nor stand at a stop; that it should regulate means that the system
    file is wrong, which happens.
    """
    if device is MeteringDevice.FIXED_ORIFICE:
        return {
            "regulating": 0.04,
            "hunting": 0.01,
            "weak": 0.0,
            "fixed": 0.80,
            "sticking": 0.0,
            "starving": 0.08,
            "flooding": 0.07,
            "at its stop": 0.0,
        }
    if device is MeteringDevice.EEV:
        return {**_PRIOR_TXV, "weak": 0.02, "regulating": 0.39}
    if device is MeteringDevice.UNKNOWN:
        return {**_PRIOR_TXV, "fixed": 0.32, "regulating": 0.28, "weak": 0.04, "sticking": 0.08, "hunting": 0.11}
    return dict(_PRIOR_TXV)


#: Grid over which the logarithm of a cycle amplitude is integrated, in standard deviations, and its weights.
_GRID: Final = tuple((k, math.exp(-0.5 * k * k)) for k in (-1.4, -0.7, 0.0, 0.7, 1.4))
#: The instruments' noise is known only as an upper bound: a third of it and the whole of it weigh the same.
_NOISE_SHARES: Final = (0.35, 1.0)


def _cycle_density(mixture: Mixture, scatter: float, noise: float, spread: float) -> float:
    """Density of a measured scatter when the cycle amplitude is log-normal and the instruments add up to `noise`.

    spread: relative standard uncertainty of the scatter [-].
    """
    total = 0.0
    wide = math.hypot(0.2, spread)
    measured = math.log(max(scatter, 0.01))
    squares = [(part * noise) ** 2 for part in _NOISE_SHARES]
    for component in mixture:
        weight = 0.5 * component.weight / wide
        for k, chance in _GRID:
            amplitude = math.exp(2.0 * (component.mean + k * component.sd))
            for square in squares:
                z = (measured - 0.5 * math.log(amplitude + square)) / wide
                if -7.0 < z < 7.0:
                    total += weight * chance * math.exp(-0.5 * z * z)
    return total


def log_likelihoods(s: Summary) -> dict[str, float]:
    """Log likelihood of the summary under each of the eight states."""
    out: dict[str, float] = {}
    slope, u_slope = s.superheat_change / s.rise, s.u_superheat / s.rise
    warm, u_warm = s.evaporating_change / s.rise, s.u_evaporating / s.rise
    before = s.superheat_before / F
    # With superheat at the floor from the start nothing can fall: slopes say little then.
    room = s.superheat_before - 1.0 * F
    reach = min(max(room / max(s.rise, 1e-6), 0.0), 3.0)
    for state in STATES:
        total = 0.0
        mixture = _SLOPE[state]
        if s.censored:
            total += math.log(_censored(mixture, slope, u_slope, reach) + _TINY)
        else:
            total += math.log(density(mixture, slope, u_slope) / 2.5 + 1e-4)
        total += math.log(density(_EVAPORATING[state], warm, u_warm) / 2.5 + 1e-3)
        level_u = 1.2
        total += math.log(density(_LEVEL[state], before, level_u) / 2.5 + 1e-6)
        noise = s.cycle_noise / F
        if s.cycles_before is not None:
            total += math.log(_cycle_density(_CYCLES_BEFORE[state], s.cycles_before / F, noise, s.spread_before) + 1e-4)
        if state == "hunting" and s.cycles_in is not None and s.cycles_before is not None:
            # a limit cycle goes on as it was
            ratio = math.log(max(s.cycles_in, 0.02) / max(s.cycles_before, 0.02))
            wide = math.hypot(0.40, math.hypot(s.spread_in, s.spread_before))
            total += math.log(math.exp(-0.5 * (ratio / wide) ** 2) / wide + 1e-4)
        elif s.cycles_in is not None:
            total += math.log(_cycle_density(_CYCLES_IN[state], s.cycles_in / F, noise, s.spread_in) + 1e-4)
        if s.not_back is not None:
            total += math.log(density(_NOT_BACK.get(state, _OTHER_BACK), s.not_back / F, 0.12) / 2.5 + 1e-3)
        if s.upswing is not None:
            total += math.log(density(_UPSWING.get(state, _OTHER_UP), s.upswing / F, 0.12) / 2.5 + 1e-3)
        if s.dip is not None:
            total += math.log(density(_DIP.get(state, _OTHER_DIP), s.dip / F, 0.15) / 2.5 + 1e-3)
        if s.discharge_change is not None:
            total += math.log(density(_DISCHARGE[state], s.discharge_change / s.rise, 0.1) / 2.5 + 3e-3)
        if state == "at its stop":
            total += math.log(0.002 + s.knee)
        elif state in ("fixed", "starving", "weak"):
            total += math.log(1.002 - min(s.knee, 1.0))
        out[state] = total
    return out


def _censored(mixture: Mixture, slope: float, u: float, reach: float) -> float:
    """Likelihood of a fall that ended at the floor: the free slope was at least as steep as the observed one.

    Put on the same scale as a density by the width of the slopes that would have ended there.
    """
    width = max(reach, 0.15)
    return sum(n.below(slope + 0.03, u) for n in mixture) / width


def posterior(log_likelihood: Mapping[str, float], before: Mapping[str, float]) -> dict[str, float]:
    """Probabilities of the eight states, sum 1."""
    weight = {k: log_likelihood[k] + (math.log(before[k]) if before[k] > 0 else -1e9) for k in STATES}
    top = max(weight.values())
    raw = {k: math.exp(w - top) for k, w in weight.items()}
    total = sum(raw.values())
    return {k: v / total for k, v in raw.items()}
