"""Where a temperature or a pressure will be some seconds from now, and how sure that is.

A tracker follows level and rate of one series by two Kalman filters at once, one for times in which the rate hardly changes
and one for times in which it does (a step of the cover, a gust); what the readings say weighs the two (interacting multiple
models: Bar-Shalom, Li, Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, sections 6.2 and 11.6).
A head that climbs under a cover bends towards a new level, so the rate of a forecast fades with a time constant; without
that, every first step would look like a climb past the ceiling.

The noise of the readings is learnt from how far each lies from the line between its neighbours, which neither a level nor
a rate can feign.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log, sqrt
from typing import Final

#: How freely the rate may change [K/s per √s], as standard deviation, in quiet times and in lively ones; chosen on bench
#: climbs (benchmarks/guard.py).
FREEDOMS: Final = (0.006, 0.06)
#: How long quiet and lively times last [s].
LASTING: Final = (40.0, 12.0)
#: Time in which a rate fades when nothing else happens [s]: a little below that of a condenser after a step of the cover
#: (35 to 45 s on the bench), which is what warns of the ceiling without warning of every plateau below it.
FADES: Final = 30.0
#: Least standard deviation of a reading [K]: nothing that is shown with a tenth of a degree is better.
LEAST_NOISE: Final = 0.03
#: Readings that the noise is learnt from.
REMEMBERED: Final = 15
#: A hole longer than this begins the tracking again [s].
LONGEST_HOLE: Final = 30.0
#: A reading further off than this many standard deviations, and than so much [K], is held back once: a second one out
#: there is a jump or a climb, no glitch.
FAR: Final = 8.0
FAR_LEAST: Final = 3.0
#: Standard deviation of the rate at the beginning [K/s].
FIRST_RATE: Final = 0.17
#: Median of the square of a standard normal number.
_MEDIAN_SQUARE: Final = 0.455
#: Normal quantile of the interval that 95 of 100 stay in.
_WIDTH: Final = 1.96


@dataclass(frozen=True, slots=True)
class Model:
    """One filter: level, rate and their covariance (variance, shared, rate_variance); chance: that its times reign."""

    level: float
    rate: float
    variance: float
    shared: float
    rate_variance: float
    chance: float


@dataclass(frozen=True, slots=True)
class Tracker:
    """Level and rate of a series at `time`; in K and K/s, or the units of another series.

    models: quiet and lively. noise: standard deviation of a reading; least: what it cannot be below. count: readings so
    far. held: a far reading that was held back.
    """

    time: float
    models: tuple[Model, Model]
    noise: float
    least: float
    count: int = 1
    raw: tuple[tuple[float, float], ...] = ()
    squares: tuple[float, ...] = ()
    held: tuple[float, float] | None = None

    @property
    def level(self) -> float:
        """Level now."""
        return _mixed(self.models).level

    @property
    def rate(self) -> float:
        """Rate now [per second]."""
        return _mixed(self.models).rate

    @property
    def rate_sd(self) -> float:
        """Standard deviation of the rate."""
        return sqrt(max(_mixed(self.models).rate_variance, 0.0))


@dataclass(frozen=True, slots=True)
class Ahead:
    """A forecast. after [s]; value: its middle; low, high: the interval that about 95 of 100 stay in."""

    after: float
    value: float
    low: float
    high: float


def begin(time: float, value: float, *, least: float = LEAST_NOISE) -> Tracker:
    """Begin to follow a series at its first reading. least: standard deviation that a reading cannot be below."""
    noise = max(least, LEAST_NOISE)
    first = Model(value, 0.0, noise * noise, 0.0, FIRST_RATE * FIRST_RATE, 0.5)
    return Tracker(time, (first, first), noise, noise, raw=((time, value),))


def follow(tracker: Tracker, time: float, value: float) -> Tracker:
    """Take the next reading. An earlier or equal time, or no number, changes nothing."""
    step = time - tracker.time
    if not step > 0.0 or value != value:
        return tracker
    if step > LONGEST_HOLE:
        return begin(time, value, least=tracker.least)
    squares = _squares(tracker, time, value)
    noise = _noise(squares, tracker.least)
    ahead_of = [_predict(m, step, f) for m, f in zip(_exchanged(tracker.models, step), FREEDOMS, strict=True)]
    widest = max(m.variance for m in ahead_of) + noise * noise
    nearest = min(abs(value - m.level) for m in ahead_of)
    if nearest > max(FAR * sqrt(widest), FAR_LEAST) and tracker.count > 5:
        if tracker.held is None:
            return replace(tracker, held=(time, value))
        return _begin_again(tracker, time, value)
    updated, likely = zip(*(_update(m, value, noise * noise) for m in ahead_of), strict=True)
    best = max(likely)
    weights = [m.chance * exp(how - best) for m, how in zip(updated, likely, strict=True)]
    total = sum(weights)
    quiet, lively = (
        Model(m.level, m.rate, m.variance, m.shared, m.rate_variance, min(max(w / total, 0.005), 0.995))
        for m, w in zip(updated, weights, strict=True)
    )
    return Tracker(
        time, (quiet, lively), noise, tracker.least, tracker.count + 1, (*tracker.raw[-1:], (time, value)), squares
    )


def _begin_again(tracker: Tracker, time: float, value: float) -> Tracker:
    """Begin anew after two far readings, at the rate between them."""
    first_time, first = tracker.held or (tracker.time, value)
    rate = (value - first) / (time - first_time) if time > first_time else 0.0
    fresh = begin(time, value, least=tracker.least)
    models = tuple(replace(m, rate=rate) for m in fresh.models)
    return replace(fresh, models=(models[0], models[1]), count=tracker.count + 1)


def _exchanged(models: tuple[Model, Model], step: float) -> tuple[Model, Model]:
    """Let quiet times turn lively and back: each filter begins from its share of both."""
    leave = [1.0 - exp(-step / lasting) for lasting in LASTING]
    out = []
    for into in (0, 1):
        stay = (1.0 - leave[into]) * models[into].chance
        come = leave[1 - into] * models[1 - into].chance
        both = stay + come
        pair = (
            replace(models[into], chance=stay / both),
            replace(models[1 - into], chance=come / both),
        )
        out.append(replace(_mixed(pair), chance=both))
    return out[0], out[1]


def _mixed(models: tuple[Model, Model]) -> Model:
    """One level and rate with the covariance of both filters and of their difference."""
    a, b = models
    w, v = a.chance, b.chance
    level, rate = w * a.level + v * b.level, w * a.rate + v * b.rate
    dl, dr = a.level - b.level, a.rate - b.rate
    both = w * v
    return Model(
        level,
        rate,
        w * a.variance + v * b.variance + both * dl * dl,
        w * a.shared + v * b.shared + both * dl * dr,
        w * a.rate_variance + v * b.rate_variance + both * dr * dr,
        1.0,
    )


def _predict(m: Model, step: float, freedom: float) -> Model:
    fade = exp(-step / FADES)
    reach = FADES * (1.0 - fade)
    power = freedom * freedom
    return Model(
        m.level + reach * m.rate,
        fade * m.rate,
        m.variance + 2.0 * reach * m.shared + reach * reach * m.rate_variance + power * step**3 / 3.0,
        fade * (m.shared + reach * m.rate_variance) + power * step**2 / 2.0,
        fade * fade * m.rate_variance + power * step,
        m.chance,
    )


def _update(m: Model, value: float, square: float) -> tuple[Model, float]:
    """Take a reading; return the filter after it and its log-likelihood."""
    s = m.variance + square
    innovation = value - m.level
    gain, gain_rate = m.variance / s, m.shared / s
    after = Model(
        m.level + gain * innovation,
        m.rate + gain_rate * innovation,
        (1.0 - gain) * m.variance,
        (1.0 - gain) * m.shared,
        m.rate_variance - gain_rate * m.shared,
        m.chance,
    )
    return after, -0.5 * (innovation * innovation / s + log(s))


def _squares(t: Tracker, time: float, value: float) -> tuple[float, ...]:
    """Add how far the last reading lies from the line between its neighbours, squared and in units of one variance."""
    if len(t.raw) < 2:
        return t.squares
    (t0, y0), (t1, y1) = t.raw
    share = (t1 - t0) / (time - t0)
    off = y1 - (y0 + share * (value - y0))
    return (*t.squares[1 - REMEMBERED :], off * off / (1.0 + share * share + (1.0 - share) ** 2))


def _noise(squares: tuple[float, ...], least: float) -> float:
    if len(squares) < 4:
        return max(least, LEAST_NOISE)
    ordered = sorted(squares)
    return max(least, sqrt(ordered[len(ordered) // 2] / _MEDIAN_SQUARE))


def ahead(tracker: Tracker, after: float, now: float | None = None) -> Ahead:
    """Forecast the series `after` [s] from `now` (the last reading if None)."""
    step = after + (max(0.0, now - tracker.time) if now is not None else 0.0)
    quiet, lively = (_predict(m, step, f) for m, f in zip(tracker.models, FREEDOMS, strict=True))
    found = _mixed((quiet, lively))
    half = _WIDTH * sqrt(max(found.variance, 0.0))
    return Ahead(after, found.level, found.level - half, found.level + half)


def time_to(tracker: Tracker, limit: float, now: float | None = None, *, sure: float = 0.0) -> float | None:
    """Seconds from `now` until the series passes `limit` from below at its present course; None when it never does.

    sure: standard deviations of the rate that are added to it (a cautious answer). 0.0 when it is past already.
    """
    waited = max(0.0, now - tracker.time) if now is not None else 0.0
    here = _mixed(tracker.models)
    if here.level >= limit:
        return 0.0
    rate = here.rate + sure * sqrt(max(here.rate_variance, 0.0))
    if rate <= 0.0:
        return None
    share = (limit - here.level) / (rate * FADES)
    if share >= 1.0:
        return None
    return max(0.0, -FADES * log(1.0 - share) - waited)
