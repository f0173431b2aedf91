"""Judgements made by hand for the tests of reports: synthetic readings, no judge, no outside numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone

import numpy as np

from steadfeed.analysis.challenge import Judgement
from steadfeed.analysis.derive import derive
from steadfeed.circuit.channel import Channel, FloatArray
from steadfeed.circuit.equipment import (
    Instruments,
    Limits,
    LineSet,
    MeteringDevice,
    Nameplate,
    Site,
    System,
)
from steadfeed.circuit.finding import Finding
from steadfeed.circuit.phase import Mark, Phases
from steadfeed.circuit.recording import Recording, Remark
from steadfeed.circuit.verdict import STATES, Assessment, Check, FeedHeld, Measured, SensorState
from steadfeed.physics.properties import Curves, curves
from steadfeed.reports.document import Document, Provenance, build
from steadfeed.reports.numbers import Units

F = 5.0 / 9.0
PSI = 6894.757293168361
OFFSET = -7 * 3600.0
START = datetime(2025, 5, 8, 15, 19, 30, tzinfo=timezone(timedelta(seconds=OFFSET))).timestamp()
R410A = "R-410A"

PROVENANCE = Provenance(
    log_name="roof_west_unit_5.csv",
    sha256="9f2c4a17d0b35e6688a1c3f4e7d2b590" * 2,
    system_sha256="03b1d6c8f94e27a5" * 4,
    method_version="0.1.0+5d1e90aa",
    as_of=datetime(2025, 5, 9, 8, 0, tzinfo=timezone(timedelta(seconds=OFFSET))),
    site="Alder Street clinic",
    unit="Roof west, unit 5",
)

ROOFTOP = System(
    refrigerant=R410A,
    metering_device=MeteringDevice.TXV,
    nominal_capacity=3 * 3516.85,
    compressor_type="scroll",
    compressor_control="single-speed",
    site=Site(altitude=0.0),
    nameplate=Nameplate(subcooling=10 * F, charge=2.9),
    line_set=LineSet(length=7.62, lift=3.0),
    instruments=Instruments("digital", "vented", 1.0 * PSI, 1.0 * F, "automatic"),
    limits=Limits(high_pressure_switch=600 * PSI),
)


@dataclass(frozen=True)
class Course:
    """How the four readings move. Times [min] of push, hold, restore, recovery, standstill, end; amounts [°F]."""

    push: float = 12.0
    hold: float = 13.5
    restore: float = 20.0
    recovery: float = 23.0
    standstill: float = 27.0
    end: float = 31.0
    rise: float = 18.0
    superheat: float = 12.0
    superheat_change: float = -0.5
    subcooling: float = 13.0
    subcooling_change: float = 2.5
    evaporating: float = 42.0
    evaporating_change: float = 1.5
    condensing: float = 105.0


def _ramp(t: FloatArray, at: float, length: float) -> FloatArray:
    return np.clip((t - at) / length, 0.0, 1.0)


def readings(course: Course, step: float, noise: float, known: Curves) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Make times [s] and the four channels in SI."""
    c = course
    t = np.arange(0.0, c.end * 60.0 + 0.5 * step, step)
    minutes = t / 60.0
    rng = np.random.default_rng(5)
    pushed = _ramp(minutes, c.push, c.hold - c.push) - _ramp(minutes, c.restore, c.recovery - c.restore)
    settle = np.exp(-minutes / 2.5)
    stop = _ramp(minutes, c.standstill, 1.5)
    evaporating = c.evaporating + c.evaporating_change * pushed + 14.0 * settle
    condensing = c.condensing + c.rise * pushed - 10.0 * settle
    superheat = c.superheat + c.superheat_change * pushed + 16.0 * settle
    subcooling = c.subcooling + c.subcooling_change * pushed - 9.0 * settle
    suction_line = evaporating + superheat
    liquid_line = condensing - subcooling
    to_kelvin = lambda f: (f + 459.67) * F  # noqa: E731
    p_suction = known.dew_pressure(to_kelvin(evaporating))
    p_head = known.bubble_pressure(to_kelvin(condensing))
    met = known.dew_pressure(to_kelvin(82.0))
    p_suction = p_suction + stop * (met - 0.4 * PSI - p_suction)
    p_head = p_head + stop * (met + 0.8 * PSI - p_head)
    channels = {
        "suction_pressure": p_suction + noise * PSI * rng.standard_normal(t.size),
        "liquid_pressure": p_head + noise * 1.5 * PSI * rng.standard_normal(t.size),
        "suction_line_temperature": to_kelvin(suction_line) + noise * 0.2 * rng.standard_normal(t.size),
        "liquid_line_temperature": to_kelvin(liquid_line) + noise * 0.15 * rng.standard_normal(t.size),
    }
    return t, channels


def recording(
    course: Course = Course(),
    *,
    step: float = 3.0,
    noise: float = 0.5,
    atmosphere: float = 101325.0,
    name: str = R410A,
) -> Recording:
    """Make a recording of a course."""
    t, channels = readings(course, step, noise, curves(name))
    resolution = {"pressure": 0.1 * PSI, "temperature": 0.1 * F}
    made = {
        key: Channel(
            key,
            values,
            "psig" if key.endswith("pressure") else "degF",
            header=f"{key}_{'psig' if key.endswith('pressure') else 'degF'}",
            resolution=resolution["pressure" if key.endswith("pressure") else "temperature"],
        )
        for key, values in channels.items()
    }
    return Recording(START + t, made, atmosphere=atmosphere, utc_offset=OFFSET)


def phases(course: Course) -> Phases:
    c = course
    return Phases(
        baseline_start=START + 60 * (c.push - 4.0),
        push=START + 60 * c.push,
        hold=START + 60 * c.hold,
        restore=START + 60 * c.restore,
        recovery=START + 60 * c.recovery,
        standstill=START + 60 * c.standstill if c.standstill < c.end else None,
    )


def stretch(made: Recording, known: Curves, start: float, end: float) -> dict[str, Measured]:
    """Take the means of a stretch, with uncertainties of plausible size."""
    trace = derive(made, known)
    inside = (made.time >= start) & (made.time < end)
    series = {
        "suction_pressure": (trace.suction_pressure, 0.6 * PSI),
        "head_pressure": (trace.head_pressure, 1.2 * PSI),
        "evaporating_temperature": (trace.evaporating, 0.30 * F),
        "condensing_temperature": (trace.condensing, 0.25 * F),
        "superheat": (trace.superheat, 0.55 * F),
        "subcooling": (trace.subcooling, 0.50 * F),
        "valve_subcooling": (trace.subcooling - 1.4 * F, 0.65 * F),
        "suction_line_temperature": (trace.suction_line, 0.45 * F),
        "liquid_line_temperature": (trace.liquid_line, 0.45 * F),
    }
    return {name: Measured(float(np.mean(values[inside])), u) for name, (values, u) in series.items()}


def spread(**named: float) -> dict[str, float]:
    """Make probabilities of all states from those named; the rest share what is left."""
    given = {name.replace("_", " "): p for name, p in named.items()}
    rest = (1.0 - sum(given.values())) / (len(STATES) - len(given))
    return {state: given.get(state, rest) for state in STATES}


GOOD_SENSORS = {
    "suction_pressure": SensorState(True, "Moved 74 psi when the compressor stopped."),
    "liquid_pressure": SensorState(True, "Followed the push, the restore and the stop."),
    "suction_line_temperature": SensorState(True, "Moved 21 °F over the standstill."),
    "liquid_line_temperature": SensorState(True, "Followed the push by 15 °F."),
}

GOOD_CHECKS = (
    Check("no push found", True, "The head rose once and stayed up for 6 min 30 s."),
    Check("push too small", True, "Condensing temperature rose by", 18.0 * F, 15.0 * F, "temperature_difference"),
    Check("too little subcooling", True, "Least subcooling in the baseline", 13.0 * F, 10.0 * F, "temperature_difference"),
    Check("hold too short", True, "Above 80 % of the rise", 390.0, 120.0, "time"),
    Check("interrupted", True, "Compressor and fan ran through from baseline to restore."),
    Check("load drifted", True, "Evaporating temperature came back to its baseline within", 0.4 * F, 1.5 * F, "temperature_difference"),
    Check("unsteady baseline", True, "Every channel inside its noise and drift for the whole window."),
    Check("suction gauge not alive", True, "It rose when the compressor stopped."),
    Check("head gauge not alive", True, "It followed the push."),
    Check("temperature clamp not alive", True, "Both clamps moved with an event that had to move them."),
    Check("temperature clamp off the pipe", None, "There is no outdoor air reading to compare the clamps with."),
    Check("wrong refrigerant or unit", True, "At standstill, pressure and temperature agree within", 1.1 * F, 5.0 * F, "temperature_difference"),
    Check("too few readings", True, "Independent readings in the hold", 14.0, 4.0, "count"),
)  # fmt: skip

CEILING = 445 * PSI + 101325.0


def regulating(course: Course = Course(), made: Recording | None = None) -> Judgement:
    """A TXV that regulates, valid in everything."""
    known = curves(R410A)
    made = made or recording(course)
    p = phases(course)
    assert p.push is not None
    assert p.restore is not None
    assert p.recovery is not None
    after = stretch(made, known, p.recovery + 60, p.recovery + 230)
    assessment = Assessment(
        valid=True,
        reasons=(),
        verdict="regulating",
        early=False,
        probability=spread(regulating=0.962, weak=0.021, sticking=0.012),
        feed_held=FeedHeld(0.81, 0.69, 0.93),
        phases=p,
        baseline=stretch(made, known, p.push - 200, p.push - 5),
        push=stretch(made, known, p.restore - 240, p.restore - 5),
        recovery=after,
        sensors=GOOD_SENSORS,
        checks=GOOD_CHECKS,
        notes=(
            Remark(
                "standstill",
                "Both sides met within 1.2 psi, so neither gauge is off by more than that at this pressure.",
            ),
            Remark(
                "covered baseline", "The baseline was taken with the coil partly covered, as mild weather asks for."
            ),
        ),
        would_change=(
            "A suction gauge that reads 3 psi high in the push only would turn it to “weak”.",
            "A suction line clamp that the covered coil’s exhaust warms by 4 °F or more.",
        ),
        apparent_opening=Measured(0.86, 0.021),
        ceiling=CEILING,
        ceiling_set_by="the high-pressure switch less a margin",
    )
    return Judgement(assessment, made, derive(made, known))


FIXED_COURSE = Course(superheat_change=-9.5, subcooling_change=-4.5, evaporating_change=4.2)


def fixed() -> Judgement:
    """A device that is fixed; good or bad news depends on the system."""
    judgement = regulating(FIXED_COURSE)
    finding = Finding(
        "bulb loose",
        "The bulb may have lost its contact or its charge.",
        0.55,
        ("Superheat fell by 9.5 °F while the head rose.", "The valve never answered, not even slowly."),
        ("Superheat in the baseline was normal.",),
        "Look at strap and insulation of the bulb; then warm it in the hand and watch the suction pressure.",
        "common practice",
    )
    other = Finding(
        "valve parked",
        "The valve may be stuck in mid-travel.",
        0.35,
        (),
        (),
        "Only after the bulb: exchange the valve.",
    )
    return replace(
        judgement,
        assessment=replace(
            judgement.assessment,
            verdict="fixed",
            probability=spread(fixed=0.985),
            feed_held=FeedHeld(0.12, -0.08, 0.31),
            findings=(finding, other),
            would_change=("A hold without loss of subcooling in which superheat came back to its setting.",),
            apparent_opening=Measured(1.03, 0.03),
        ),
    )


def undecided() -> Judgement:
    """A valid test that does not single out a state."""
    judgement = regulating(Course(superheat_change=-3.0, evaporating_change=2.4))
    return replace(
        judgement,
        assessment=replace(
            judgement.assessment,
            verdict="undecided",
            probability=spread(regulating=0.55, weak=0.33, sticking=0.08),
            feed_held=FeedHeld(0.58, 0.31, 0.86),
            would_change=("Another 2 min of hold.", "A push of 22 °F instead of 18 °F."),
        ),
    )


def not_valid() -> Judgement:
    """A test with three reasons against it, one of them a gauge that never moved."""
    course = Course(rise=8.0, restore=14.6, recovery=16.0, standstill=40.0, end=22.0)
    made = recording(course)
    suction = made.channels["suction_pressure"]
    values = np.where(np.arange(len(made)) < 150, suction.values, suction.values[150])
    made = replace(made, channels={**made.channels, "suction_pressure": replace(suction, values=values)})
    judgement = regulating(course, made)
    failed = {
        "push too small": ("Condensing temperature rose by", 8.0 * F, 15.0 * F, "temperature_difference"),
        "hold too short": ("Above 80 % of the rise", 62.0, 120.0, "time"),
        "suction gauge not alive": ("It repeats 118.4 psig to the last digit for 14 min.", None, None, ""),
    }
    checks = tuple(
        replace(
            check,
            passed=False,
            text=failed[check.name][0],
            value=failed[check.name][1],
            limit=failed[check.name][2],
            kind=failed[check.name][3],
        )
        if check.name in failed
        else check
        for check in GOOD_CHECKS
    )
    dead = SensorState(False, "Repeated 118.4 psig from 15:27 to the end.", ("frozen",))
    unsure = SensorState(None, "Nothing happened that had to move it.")
    return replace(
        judgement,
        assessment=replace(
            judgement.assessment,
            valid=False,
            reasons=("push too small", "hold too short", "suction gauge not alive"),
            verdict="undecided",
            probability=spread(regulating=0.5, weak=0.2, fixed=0.2),
            feed_held=None,
            apparent_opening=None,
            checks=checks,
            sensors={**GOOD_SENSORS, "suction_pressure": dead, "liquid_line_temperature": unsure},
            notes=(),
            repairs=(Remark("duplicate rows", "Four rows with the same time were dropped.", "rows 88 to 91"),),
        ),
    )


def early_fixed() -> Judgement:
    """A short hold in which superheat collapsed."""
    course = replace(FIXED_COURSE, restore=14.8, recovery=17.0)
    judgement = regulating(course)
    checks = tuple(replace(c, passed=False, value=78.0) if c.name == "hold too short" else c for c in GOOD_CHECKS)
    return replace(
        judgement,
        assessment=replace(
            judgement.assessment,
            valid=False,
            reasons=("hold too short",),
            verdict="fixed",
            early=True,
            probability=spread(fixed=0.973),
            feed_held=FeedHeld(0.05, -0.32, 0.38),
            checks=checks,
        ),
    )


def channel_missing() -> Judgement:
    """A log without a liquid line temperature: no trace."""
    made = recording()
    channels = {k: c for k, c in made.channels.items() if k != "liquid_line_temperature"}
    made = replace(made, channels=channels)
    assessment = Assessment(
        valid=False,
        reasons=("channel missing",),
        verdict="undecided",
        early=False,
        probability=None,
        feed_held=None,
        phases=Phases(),
        checks=(Check("channel missing", False, "There is no liquid line temperature."),),
        sensors={k: GOOD_SENSORS[k] for k in channels},
    )
    return Judgement(assessment, made, None)


def seven_rows() -> Judgement:
    """The least that a person with needle gauges takes: standing, baseline twice, hold twice, restored, standstill."""
    course = Course()
    full = recording(course, step=1.0, noise=0.0)
    moments = [60 * m for m in (7.0, 11.0, 15.8, 18.2, 25.5, 30.5)]
    rows = [int(np.searchsorted(full.time, START + m)) for m in moments]
    standing = 233.0 * PSI + 101325.0
    channels = {}
    for name, channel in full.channels.items():
        first = standing if name.endswith("pressure") else (84.0 + 459.67) * F
        step = 1.0 * PSI if name.endswith("pressure") else 1.0 * F
        values = np.array([first, *(channel.values[rows])])
        zero = 101325.0 if name.endswith("pressure") else 0.0
        channels[name] = replace(channel, values=np.round((values - zero) / step) * step + zero, resolution=step)
    time = np.array([START, *(full.time[rows])])
    same = np.zeros(7, dtype=np.bool_)
    made = Recording(
        time,
        channels,
        utc_offset=OFFSET,
        same=same,
        read_by="person",
        marks=(
            Mark(START + 60, "start"),
            Mark(START + 12 * 60, "push", "half the coil covered"),
            Mark(START + 20 * 60, "restore"),
            Mark(START + 27 * 60, "standstill"),
        ),
    )
    full_judgement = regulating(course)
    wide = {k: Measured(m.value, 2.2 * m.uncertainty) for k, m in full_judgement.assessment.baseline.items()}
    pushed = {k: Measured(m.value, 2.2 * m.uncertainty) for k, m in full_judgement.assessment.push.items()}
    assessment = replace(
        full_judgement.assessment,
        feed_held=FeedHeld(0.78, 0.51, 1.06),
        probability=spread(regulating=0.84, weak=0.1),
        baseline=wide,
        push=pushed,
        recovery={},
        phases=replace(full_judgement.assessment.phases, baseline_start=START + 7 * 60),
    )
    return Judgement(assessment, made, derive(made, curves(R410A)))


BY_HAND = replace(ROOFTOP, instruments=Instruments("analog", "vented", 2.0 * PSI, 2.0 * F, "by hand"))


def long_log() -> Judgement:
    """Two hours with 15,000 rows, gaps in it."""
    course = Course(push=60.0, hold=62.0, restore=80.0, recovery=84.0, standstill=112.0, end=120.0)
    made = recording(course, step=0.48)
    suction = made.channels["suction_pressure"]
    values = suction.values.copy()
    values[4000:4600] = np.nan
    made = replace(made, channels={**made.channels, "suction_pressure": replace(suction, values=values)})
    known = curves(R410A)
    judgement = regulating(course, recording(course))
    return Judgement(judgement.assessment, made, derive(made, known))


def document(
    judgement: Judgement,
    system: System = ROOFTOP,
    provenance: Provenance = PROVENANCE,
    units: Units = "us",
) -> Document:
    known = curves(system.refrigerant) if system.refrigerant else None
    return build(judgement, system, known, provenance, units=units)
