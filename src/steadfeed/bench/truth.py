"""What was true in a run: state of the metering device, validity on noise-free states, phases. Limits as in docs/practice.

The limits of validity are the bench's own, on states without noise; those of the judgement (analysis) need not be the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import log, nan
from typing import Final

import numpy as np

from steadfeed.bench.performed import Performed
from steadfeed.bench.run import FloatArray
from steadfeed.bench.settings import InstrumentFault
from steadfeed.bench.setup import equipment_of

LEAST_SUBCOOLING: Final = 10.0
LEAST_VALVE_SUBCOOLING: Final = 0.5
LEAST_RISE: Final = 15.0
LEAST_HOLD: Final = 120.0
LEAST_HOLD_EEV: Final = 210.0
LEAST_RUNNING: Final = 300.0
SLOPES: Final = {"condensing": 0.6, "evaporating": 0.5, "superheat": 1.2}
MOST_RETURN_CHANGE: Final = 2.0
MOST_RATIO_CHANGE: Final = 0.0009
MOST_AIRFLOW_CHANGE: Final = 0.08
BASELINE: Final = 180.0
UNIT_WRONG: Final = "unit wrong in header"
#: Cycles of the superheat, standard deviation [°F]: below, none that anyone could see; above, hunting.
CYCLES_SEEN: Final = 0.35
CYCLES_SURE: Final = 0.8
#: Superheat change per condensing rise beyond which a valve does not hold the feed well [-].
#: Superheat from which a valve starves its coil whether it follows or not [°F].
STARVES: Final = 45.0
#: Excursion of the superheat in the push from which a sticking stem can be seen [°F].
STICKS_VISIBLY: Final = 2.5
WEAK_SLOPE: Final = -0.11
SOFT_SLOPE: Final = -0.30


@dataclass(slots=True)
class Truth:
    """Truth of one circuit of one run. Numbers in °F, s as their names say; times [s since the plant was made]."""

    state: str
    acceptable: tuple[str, ...]
    fault_shows: bool
    reasons: tuple[str, ...]
    borderline: tuple[str, ...]
    push: float | None
    restore: float | None
    standstill: float | None
    numbers: dict[str, float] = field(default_factory=dict)

    @property
    def valid(self) -> bool:
        """Whether the test could tell."""
        return not self.reasons


def _f(kelvin: FloatArray) -> FloatArray:
    return kelvin * 1.8 - 459.67


def _mean(values: FloatArray, mask: np.ndarray) -> float:
    return float(values[mask].mean()) if mask.any() else nan


def truth_of(done: Performed, circuit: int = 0) -> Truth:
    """Work out the truth of one circuit."""
    return _Examined(done, circuit).truth()


class _Examined:
    def __init__(self, done: Performed, circuit: int) -> None:
        self.done, self.k = done, circuit
        self.settings = done.settings
        h = done.history.circuits[circuit]
        self.h: Mapping[str, FloatArray] = h
        self.t = done.history.time
        self.condensing = _f(h["condensing_temperature"])
        self.evaporating = _f(h["evaporating_temperature"])
        self.superheat = h["superheat"] * 1.8
        self.subcooling = h["subcooling"] * 1.8
        self.valve_subcooling = h["valve_subcooling"] * 1.8 - 30.0 * h["valve_quality"]
        self.heating = self.settings.unit.mode == "heating"
        self.start = done.event("start") or 0.0
        self.push = done.event("push")
        self.restore = done.event("restore")
        self.standstill = done.event("standstill")
        self.end = float(self.t[-1])
        self.faults = self.settings.faults if circuit == 0 else self.settings.second_faults
        self.reasons: list[str] = []
        self.borderline: list[str] = []

    def between(self, a: float, b: float) -> np.ndarray:
        return (self.t >= a) & (self.t < b)

    def blame(self, reason: str, broken: bool, near: bool) -> None:
        if broken and reason not in self.reasons:
            self.reasons.append(reason)
        if near and reason not in self.borderline:
            self.borderline.append(reason)

    def truth(self) -> Truth:
        if self.push is None:
            self.reasons.append("no push found")
            state, acceptable, shows = self._state({})
            return Truth(state, acceptable, False, tuple(self.reasons), (), None, None, self.standstill)
        push = self.push
        over = min(x for x in (self.restore, self.standstill, self.end) if x is not None and x > push)
        base = self.between(max(push - BASELINE, self.start), push)
        late = self.between(max(over - 60.0, push), over)
        numbers = self._numbers(base, late, push, over)
        self._validity(numbers, base, push, over)
        self._instruments(push, over)
        self._shows_life(push, over)
        self._enough_rows(push, over)
        state, acceptable, shows = self._state(numbers)
        if set(self.reasons) - set(self.borderline):  # clearly not valid, whatever else is near its limit
            self.borderline = [word for word in self.borderline if word == UNIT_WRONG]
        return Truth(
            state, acceptable, shows, tuple(dict.fromkeys(self.reasons)), tuple(dict.fromkeys(self.borderline)), push,
            self.restore, self.standstill, numbers,
        )  # fmt: skip

    def _numbers(self, base: np.ndarray, late: np.ndarray, push: float, over: float) -> dict[str, float]:
        h = self.h
        level = _mean(self.condensing, base)
        rise = _mean(self.condensing, late) - level
        pushed = self.between(push, over)
        held = pushed & (self.condensing > level + 0.8 * rise) if rise > 2.0 else pushed & False
        last = self.between(over - 0.6 * (over - push), over)
        flow = _mean(h["compressor_flow"], late) / max(_mean(h["compressor_flow"], base), 1e-9)
        drop = h["valve_inlet_pressure"] - h["evaporator_inlet_pressure"]
        drive = (_mean(drop, late) / max(_mean(drop, base), 1.0)) ** 0.5 if _mean(drop, late) > 0 else nan
        change = _mean(self.superheat, late) - _mean(self.superheat, base)
        numbers = {
            "true_push_condensing_degF": rise,
            "true_hold_s": float(held.sum()),
            "true_baseline_superheat_degF": _mean(self.superheat, base),
            "true_superheat_change_degF": change,
            "true_baseline_subcooling_degF": _mean(self.subcooling, base),
            "true_valve_subcooling_in_push_degF": float(np.median(self.valve_subcooling[last])) if last.any() else nan,
            "true_flow_ratio": flow,
            "true_opening_ratio": _mean(h["opening_ratio"], late) / max(_mean(h["opening_ratio"], base), 1e-9),
            "true_superheat_slope": change / rise if rise > 3.0 else nan,
            "true_evaporating_slope": (_mean(self.evaporating, late) - _mean(self.evaporating, base)) / rise
            if rise > 3.0
            else nan,
            "true_feed_held": 1.0 - log(flow) / log(drive) if drive > 1.01 and flow > 0.0 else nan,
            "true_hold_superheat_degF": _mean(self.superheat, late),
            "true_cycles_degF": self._cycles(base),
            "true_baseline_opening": _mean(h["opening"], base),
            "true_hold_opening": _mean(h["opening"], late),
            "true_discharge_degF": float(_f(h["discharge_line_temperature"]).max()),
        }
        return numbers

    def _cycles(self, mask: np.ndarray) -> float:
        """Scatter of the superheat after a quadratic trend is taken out [°F]."""
        x, y = self.t[mask], self.superheat[mask]
        if x.shape[0] < 60:
            return 0.0
        x = x - x.mean()
        return float(np.std(y - np.polyval(np.polyfit(x, y, 2), x)))

    def _validity(self, n: Mapping[str, float], base: np.ndarray, push: float, over: float) -> None:
        rise, hold = n["true_push_condensing_degF"], n["true_hold_s"]
        self.blame("push too small", not rise >= LEAST_RISE, LEAST_RISE - 2.0 < rise < LEAST_RISE + 2.0)
        by_hand = self.settings.kit.sampling == "by hand"
        least = LEAST_HOLD
        eev = self.settings.unit.metering_device == "eev"
        top = LEAST_HOLD_EEV + 30.0 if eev else least + (60.0 if by_hand else 30.0)
        self.blame("hold too short", hold < least, least - 30.0 < hold < top)
        sub, left = n["true_baseline_subcooling_degF"], n["true_valve_subcooling_in_push_degF"]
        margin = 3.0 if self.settings.kit.gauges == "analog" else 2.0
        self.blame("too little subcooling", sub < LEAST_SUBCOOLING, abs(sub - LEAST_SUBCOOLING) < margin)
        port = self.subcooling[self.between(over - 60.0, over)]
        unseen = left < LEAST_VALVE_SUBCOOLING and port.shape[0] > 0 and float(np.median(port)) > 1.5
        self.blame("too little subcooling", left < LEAST_VALVE_SUBCOOLING, abs(left - 1.0) < 2.0 or unseen)
        self._steadiness(base, push)
        self._load(base, push, over)
        self._interruption(push, over, rise)

    def _steadiness(self, base: np.ndarray, push: float) -> None:
        if base.sum() < 30:
            self.blame("unsteady baseline", True, False)
            return
        x = (self.t[base] - self.t[base].mean()) / 60.0
        worst = 0.0
        for name, values in (
            ("condensing", self.condensing), ("evaporating", self.evaporating), ("superheat", self.superheat),
        ):  # fmt: skip
            worst = max(worst, abs(float(np.polyfit(x, values[base], 1)[0])) / SLOPES[name])
        ran = push - self.start
        cycling = self._cycles(base) > CYCLES_SEEN
        self.blame("unsteady baseline", worst > 1.0 or ran < LEAST_RUNNING, 0.55 < worst < 1.7 or 0.85 < ran / LEAST_RUNNING < 1.15 or (worst > 1.0 and cycling))  # fmt: skip
        off = self.h["running"][base] < 0.5
        if off.any():
            self.blame("unsteady baseline", True, True)

    def _load(self, base: np.ndarray, push: float, over: float) -> None:
        h = self.h
        pushed = self.between(push, over)
        if not pushed.any():
            return

        def change(values: FloatArray, relative: bool = False) -> float:
            level = _mean(values, base)
            away = float(np.abs(values[pushed] - level).max())
            return away / max(abs(level), 1e-9) if relative else away

        source = h["outdoor_air_temperature"] if self.heating else h["return_air_dry_bulb"]
        air = change(source) * 1.8
        self.blame("load drifted", air > MOST_RETURN_CHANGE, 1.0 < air < 3.2)
        if self.heating:
            return
        wet = change(h["return_air_wet_bulb"]) * 1.8
        # 0.0009 kg/kg is about 1.8 °F of wet bulb at 63 °F
        self.blame("load drifted", wet > 1.8 and air <= MOST_RETURN_CHANGE, 0.9 < wet < 3.0 and air < 3.2)
        flow = change(h["airflow"], relative=True)
        off = (h["running"][pushed] < 0.5).any()
        if not off:
            self.blame("load drifted", flow > MOST_AIRFLOW_CHANGE, 0.03 < flow < 0.13)

    def _interruption(self, push: float, over: float, rise: float) -> None:
        h = self.h
        watched = self.between(push - 60.0, over)
        off = watched & (h["running"] < 0.5)
        if off.any() and self.standstill is not None:
            off &= self.t < self.standstill
        self.blame("interrupted", bool(off.any()), 0 < int(off.sum()) < 15)
        speed = h["speed"][watched & (h["running"] > 0.5)]
        if speed.shape[0] and float(np.ptp(speed)) > 0.03:
            self.blame("interrupted", True, float(np.ptp(speed)) < 0.12)
        fans = h["fans_running"][watched]
        stopped_by_person = self.settings.conduct.way == "fan stopped"
        if fans.shape[0] and float(np.ptp(fans)) > 0.03 and not stopped_by_person and not self.heating:
            few = float((np.abs(fans - fans[0]) > 0.03).sum()) < 15.0
            self.blame("interrupted", True, few or float(np.ptp(fans)) < 0.3)
        if (h["defrosting"][watched] > 0.5).any():
            self.blame("interrupted", True, False)
        if (h["tripped"][watched] > 0.5).any():
            self.blame("interrupted", True, False)
        before = self.between(push - 240.0, push - 60.0) & (self.t > self.start + 5.0)
        stirred = (h["running"][before] < 0.5).any() or (
            before.any()
            and (float(np.ptp(h["speed"][before])) > 0.03 or float(np.ptp(h["fans_running"][before])) > 0.03)
        )
        if stirred:
            self.borderline += ["interrupted", "unsteady baseline"]
        dip = self._dip(push, over, rise)
        self.blame("interrupted", dip > 0.4, 0.15 < dip < 0.6)

    def _dip(self, push: float, over: float, rise: float) -> float:
        """Deepest fall of the condensing temperature inside the push that came back, share of the rise."""
        if rise < 5.0:
            return 0.0
        y = self.condensing[self.between(push, over)]
        if y.shape[0] < 30:
            return 0.0
        before = np.maximum.accumulate(y)
        after = np.maximum.accumulate(y[::-1])[::-1]
        return float((np.minimum(before, after) - y).max()) / rise

    def _instruments(self, push: float, over: float) -> None:
        kit = self.settings.kit
        prefix = f"c{self.k + 1}_" if self.settings.unit.circuits == 2 else ""
        head = "discharge_pressure" if kit.head_at == "discharge" else "liquid_pressure"
        for f in kit.faults:
            channel = f.channel.removeprefix(prefix)
            begins = push + f.at
            ends = self.end if f.length <= 0.0 else begins + f.length
            if begins >= over + 60.0 or ends <= push - 60.0:
                if f.what in ("frozen", "hose valve shut", "off the pipe"):
                    self.borderline.append("instruments")
                continue
            gauge = {"suction_pressure": "suction gauge not alive", head: "head gauge not alive"}.get(channel)
            if f.what in ("frozen", "hose valve shut"):
                reason = gauge or ("temperature clamp not alive" if "line_temperature" in channel else "")
                if reason:
                    part = begins > push - 30.0
                    self.blame(reason, True, part or self._hardly_moves(f, begins, ends))
            elif f.what == "off the pipe" and channel in ("suction_line_temperature", "liquid_line_temperature"):
                always = begins < push - LEAST_RUNNING and "outdoor_air_temperature" not in kit.channels
                self.blame("temperature clamp off the pipe", True, always or self._same_as_air(channel))
            elif f.what == "wrong port":
                self.blame("wrong refrigerant or unit", True, True)
            elif f.what in ("offset", "gain") and channel == "liquid_pressure":
                self.borderline.append("too little subcooling")
        if kit.wrong_unit:
            self.borderline.append(UNIT_WRONG)
        known = self.settings.known
        if known.refrigerant and known.refrigerant != self.settings.unit.refrigerant:
            self.blame("wrong refrigerant or unit", True, True)

    def _shows_life(self, push: float, over: float) -> None:
        """A log in which an honest instrument shows one value through the test and no stop after it proves nothing."""
        readings = self.done.readings
        wanted = {"suction_pressure": "suction gauge not alive", "suction_line_temperature": "temperature clamp not alive",
                  "liquid_line_temperature": "temperature clamp not alive"}  # fmt: skip
        watched = (readings.time > push - 240.0) & (readings.time < over + 120.0)
        stopped = self.standstill is not None and float(readings.time.max(initial=0.0)) > self.standstill + 60.0
        for k, column in enumerate(readings.columns):
            reason = wanted.get(column.channel)
            if reason is None or (column.circuit or 0) != self.k:
                continue
            values = readings.values[watched, k]
            shown = len(set(values[~np.isnan(values)].tolist()))
            if shown <= (1 if stopped else 2):
                self.borderline.append(reason)

    def _hardly_moves(self, f: InstrumentFault, begins: float, ends: float) -> bool:
        """Whether a channel would have stood still anyway: by hand, or a truth that moves less than it can show."""
        if self.settings.kit.sampling == "by hand":
            return True
        channel = f.channel.split("_", 1)[1] if f.channel[:2] in ("c1", "c2") else f.channel
        span = float(np.ptp(self.h[channel][self.between(begins, min(ends, self.end))]))
        return span < (4.0 / 1.8 if "temperature" in channel else 3.0 * 6895.0)

    def _same_as_air(self, channel: str) -> bool:
        air = _mean(self.h["outdoor_air_temperature"], self.t > 0)
        true = _mean(self.h[channel], self.between((self.push or 0.0) - 60.0, self.push or 0.0))
        return abs(air - true) * 1.8 < 8.0

    def _enough_rows(self, push: float, over: float) -> None:
        kit = self.settings.kit
        if kit.sampling == "by hand":
            at = self.done.readings.time
            level = self.condensing
            i = np.searchsorted(self.t, at).clip(0, self.t.shape[0] - 1)
            base_level = _mean(level, self.between(push - BASELINE, push))
            rise = _mean(level, self.between(over - 60.0, over)) - base_level
            held = (at > push) & (at < over) & (level[i] > base_level + 0.8 * rise)
            before = (at >= max(push - 600.0, self.start + LEAST_RUNNING - 60.0)) & (at < push)
            few = held.sum() < 2 or before.sum() < 2
            self.blame("too few readings", bool(few), bool(held.sum() == 2 or before.sum() == 2))
            if not few:
                seen = float(at[held].max() - at[held].min())
                if seen < LEAST_HOLD + 30.0:
                    self.borderline.append("hold too short")
        for gap in kit.gaps:
            if gap.length > 60.0 and gap.at < over - push and gap.at + gap.length > -120.0:
                self.borderline += ["hold too short"] if gap.length > 0.4 * (over - push) else []

    def _state(self, n: Mapping[str, float]) -> tuple[str, tuple[str, ...], bool]:
        """True state, what a fair judge may also say, and whether the fault can show."""
        unit, m = self.settings.unit, self.faults.metering
        before = n.get("true_baseline_superheat_degF", nan)
        held = n.get("true_hold_superheat_degF", nan)
        slope = n.get("true_superheat_slope", nan)
        cycles = n.get("true_cycles_degF", 0.0)
        opening, later = n.get("true_baseline_opening", nan), n.get("true_hold_opening", nan)
        parking = self.settings.parking
        parks = parking.after > 0.0 and parking.circuit == self.k + 1
        if unit.metering_device == "fixed orifice" or m.parked is not None or parks:
            return self._fixed(before, held)
        if m.friction > 0.0:
            return self._sticking(slope, held, cycles)
        if m.bulb_empty > 0.0 or m.screen > 0.0:
            if before > 25.0:
                follows = ("regulating",) if slope > WEAK_SLOPE and before < STARVES else ()
                return "starving", ("starving", "fixed", *follows), True
            if opening > 0.97:
                return "at its stop", ("at its stop", "starving", "fixed"), later < 0.93
        if before < 4.0 and (m.bulb_contact is not None or m.bypass > 0.0 or m.equalizer_plugged):
            allowed = ["flooding", "fixed"] + (["regulating"] if slope > WEAK_SLOPE and before > 2.0 else [])
            return "flooding", tuple(allowed), True
        if (m.gain > 1.0 or cycles > CYCLES_SURE) and cycles > CYCLES_SEEN:
            return "hunting", ("hunting", "regulating", *(("sticking",) if cycles > 2.0 else ())), True
        if opening > 0.985:
            if before > 25.0:
                return "starving", ("starving", "at its stop", "fixed"), True
            shows = later < 0.95 and held < before - 1.5
            told = shows and later < 0.85
            return (
                "at its stop",
                ("at its stop", *(() if told else ("fixed", "weak", *(() if shows else ("starving",))))),
                shows,
            )
        if m.strength < 1.0 or m.bypass > 0.0 or unit.bleed > 0.05:
            return self._weak(slope, held)
        if slope < WEAK_SLOPE:
            return "regulating", ("regulating", "weak"), False
        more = ("hunting",) if cycles > 0.6 * CYCLES_SEEN else ()
        return "regulating", ("regulating", *more), True

    def _fixed(self, before: float, held: float) -> tuple[str, tuple[str, ...], bool]:
        if before > 28.0:
            return "fixed", ("fixed", "starving"), True
        if before < 3.0:
            return "flooding", ("fixed", "flooding"), True
        if before < 7.0:
            return "fixed", ("fixed", "flooding"), before > 4.5
        return "fixed", ("fixed",), True

    def _sticking(self, slope: float, held: float, cycles: float) -> tuple[str, tuple[str, ...], bool]:
        push = self.push or 0.0
        over = min(x for x in (self.restore, self.standstill, self.end) if x is not None and x > push)
        pushed = self.between(push, over)
        base = _mean(self.superheat, self.between(push - 60.0, push))
        swing = float(np.abs(self.superheat[pushed] - base).max()) if pushed.any() else 0.0
        moved = float(np.ptp(self.h["opening"][pushed])) if pushed.any() else 0.0
        allowed = ["sticking"]
        if moved < 0.02 or slope < SOFT_SLOPE or held < 3.0:
            allowed.append("fixed")
        if cycles > CYCLES_SEEN or moved > 0.05:
            allowed.append("hunting")
        if slope < WEAK_SLOPE:
            allowed.append("weak")
        back = abs(held - base) < STICKS_VISIBLY
        few = self.settings.kit.sampling == "by hand" and self.settings.kit.rows <= 12
        shows = swing > STICKS_VISIBLY
        if not shows or (back and (few or swing < 2.5 * STICKS_VISIBLY)):
            allowed.append("regulating")
        return "sticking", tuple(allowed), shows

    def _weak(self, slope: float, held: float) -> tuple[str, tuple[str, ...], bool]:
        if slope > WEAK_SLOPE:
            return "weak", ("weak", "regulating"), False
        allowed = ["weak"]
        if slope < SOFT_SLOPE or held < 3.0:
            allowed.append("fixed")
        return "weak", tuple(allowed), slope < WEAK_SLOPE - 0.03


def device_words(done: Performed, circuit: int = 0) -> str:
    """One word for the device and its fault, for the table of labels."""
    unit = done.settings.unit
    m = (done.settings.faults if circuit == 0 else done.settings.second_faults).metering
    name = {"txv": "txv", "eev": "eev", "fixed orifice": "fixed_orifice"}[unit.metering_device]
    for what, found in (
        ("parked", m.parked is not None or (done.settings.parking.after > 0.0 and done.settings.parking.circuit == circuit + 1)), ("friction", m.friction > 0.0), ("weak", m.strength < 1.0),
        ("bulb_empty", m.bulb_empty > 0.0), ("screen", m.screen > 0.0), ("bulb_loose", m.bulb_contact is not None),
        ("slow_bulb", m.bulb_slow > 1.0), ("bypass", m.bypass > 0.0), ("high_gain", m.gain > 1.0),
        ("equalizer", m.equalizer_plugged or m.equalizer_lag > 0.0), ("undersized", m.undersized < 1.0),
    ):  # fmt: skip
        if found:
            name += f"_{what}"
    return name


def other_words(done: Performed, circuit: int = 0) -> tuple[str, ...]:
    """Words for what is wrong with the rest of the circuit."""
    faults = done.settings.faults if circuit == 0 else done.settings.second_faults
    found = [
        name
        for name in (
            "non_condensables", "condenser_fouling", "condenser_film", "indoor_airflow", "liquid_restriction",
            "compressor_leak", "reversing_leak",
        )
        if getattr(faults, name) > 0.0
    ]  # fmt: skip
    if faults.charge < 0.9:
        found.append("undercharge")
    elif faults.charge > 1.25:
        found.append("overcharge")
    return tuple(found)


def rated_opening(done: Performed) -> float:
    """Stroke of the device at the rating point [-]."""
    return equipment_of(done.settings).device_opening
