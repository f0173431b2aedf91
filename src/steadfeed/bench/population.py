"""Random challenges, unlike one another: units, weather, faults, conduct and instruments drawn from a seeded generator.

Every draw is one `Settings`. The shares are own choices, meant to cover what a judgement meets in the field, not to say
how often it does.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp
from typing import Any, Final

import numpy as np

from steadfeed.bench.faults import Faults
from steadfeed.bench.metering import MeteringFaults
from steadfeed.bench.settings import (
    USUAL_CHANNELS,
    ConductSettings,
    F,
    Gap,
    Happening,
    InstrumentFault,
    KitSettings,
    KnownSettings,
    ParkingSettings,
    Settings,
    UnitSettings,
    WeatherSettings,
    degf,
)
from steadfeed.bench.setup import equipment_of
from steadfeed.errors import FixInput
from steadfeed.physics.properties import curves
from steadfeed.units import FOOT, PSI, TON

REFRIGERANTS: Final = {
    "R-410A": 0.36, "R-454B": 0.12, "R-32": 0.12, "R-22": 0.10, "R-134a": 0.06, "R-407C": 0.06, "R-404A": 0.03,
    "R-290": 0.03, "R-448A": 0.03, "R-513A": 0.03, "R-507A": 0.02, "R-427A": 0.02, "R-452B": 0.02,
}  # fmt: skip
#: Kind of device and fault -> share.
DEVICES: Final = {
    "txv": 0.26, "wide txv": 0.06, "eev": 0.10, "orifice": 0.08, "parked": 0.17, "parked eev": 0.03, "weak": 0.06,
    "sticking": 0.07, "hunting": 0.05, "starving": 0.05, "flooding": 0.03, "stop": 0.04,
}  # fmt: skip
OTHER_FAULTS: Final = (
    "undercharge", "overcharge", "dirty condenser", "low indoor air", "non-condensables", "liquid restriction",
    "compressor leak",
)  # fmt: skip
#: A rating point that no unit can be made for is drawn again, at most so often.
ATTEMPTS: Final = 40
#: Time zones in use, hours from UTC.
OFFSETS: Final = (-8, -7, -6, -5, -4, 0, 1, 2, 10)


class Draw:
    """A generator with words for what is needed here."""

    def __init__(self, seed: int, index: int, attempt: int = 0) -> None:
        self.rng = np.random.default_rng(np.random.SeedSequence([seed, 3, index, attempt]))

    def one_of(self, shares: dict[str, float]) -> str:
        """One of some words, each with its share."""
        names = list(shares)
        p = np.array([shares[n] for n in names])
        return names[int(self.rng.choice(len(names), p=p / p.sum()))]

    def of(self, *values: Any) -> Any:
        """One of some values, all alike."""
        return values[int(self.rng.integers(len(values)))]

    def between(self, low: float, high: float) -> float:
        """Uniform."""
        return float(self.rng.uniform(low, high))

    def about(self, middle: float, spread: float) -> float:
        """Log-normal around a middle; spread as standard deviation of the logarithm."""
        return middle * exp(float(self.rng.normal(0.0, spread)))

    def normal(self, middle: float, spread: float) -> float:
        """Normal."""
        return float(self.rng.normal(middle, spread))

    def chance(self, share: float) -> bool:
        """True in a share of cases."""
        return bool(self.rng.random() < share)


def random_settings(seed: int, index: int) -> tuple[Settings, float, float]:
    """Draw the settings of one challenge: (settings, start [s since the Unix epoch], offset of local time [s])."""
    for attempt in range(ATTEMPTS):
        drawn = _draw(Draw(seed, index, attempt))
        try:
            equipment_of(drawn[0])
        except FixInput:
            continue
        return drawn
    raise ValueError(f"no unit could be sized in {ATTEMPTS} draws (seed {seed}, number {index})")


def _draw(d: Draw) -> tuple[Settings, float, float]:
    kind = d.one_of(DEVICES)
    heating = d.chance(0.10)
    unit = _unit(d, kind, heating)
    weather = _weather(d, unit, heating)
    faults, parking, unit = _faults(d, kind, unit)
    conduct = _conduct(d, unit, heating)
    kit = _kit(d, conduct, heating)
    known = _known(d, unit, kit)
    second = Faults()
    if unit.circuits == 2:
        conduct = replace(conduct, second_demand=conduct.demand)
        second, faults = faults, Faults(charge=d.between(0.97, 1.2))
        parking = replace(parking, circuit=2)
    weather, conduct = _mild(d, weather, conduct, heating)
    offset = 3600.0 * d.of(*OFFSETS)
    start = 1.7487e9 + 86400.0 * int(d.rng.integers(0, 420)) + 60.0 * int(d.rng.integers(60, 540)) + 61200.0 - offset
    return Settings(unit, weather, faults, second, conduct, kit, known, parking), start - start % 1.0, offset


def _unit(d: Draw, kind: str, heating: bool) -> UnitSettings:
    device = "fixed orifice" if kind == "orifice" else "eev" if "eev" in kind else "txv"
    refrigerant = d.one_of(REFRIGERANTS)
    compressor = d.one_of({"scroll": 0.62, "reciprocating": 0.22, "rotary": 0.16})
    capacity = d.of(1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 7.5, 10.0)
    packaged = d.chance(0.15) and not heating
    control = d.one_of({"single-speed": 0.74, "two-stage": 0.14, "tandem": 0.05, "variable-speed": 0.07})
    fans = 2 if capacity >= 5 and d.chance(0.5) else 1
    circuits = 2 if capacity >= 7.5 and not heating and d.chance(0.5) else 1
    length = d.of(15.0, 25.0, 25.0, 35.0, 50.0, 75.0, 120.0) * FOOT
    lift = 0.0
    if d.chance(0.3):
        lift = d.between(-0.4, 0.5) * min(length, 60.0 * FOOT)
    wide = kind == "wide txv"
    mop = 0.0
    if device == "txv" and kind in ("txv", "wide txv", "parked") and d.chance(0.08):
        mop = curves(refrigerant).dew_pressure(degf(d.between(56.0, 63.0)))
    return UnitSettings(
        refrigerant=refrigerant, capacity=capacity * TON, metering_device=device, compressor=compressor,
        compressor_control=control, outdoor_fans=fans, packaged=packaged, line_length=length, lift=lift,
        mode="heating" if heating else "cooling",
        evaporating=degf(d.between(42.0, 48.0)), condensing=degf(d.between(111.0, 120.0)),
        superheat=(d.between(14.0, 26.0) if device == "fixed orifice" else d.between(8.0, 13.0)) * F,
        subcooling=d.between(8.5, 12.0) * F, stroke=d.between(0.45, 0.75),
        opening_span=(d.between(7.5, 11.0) if wide else d.between(3.5, 6.5)) * F,
        bulb_lag=d.between(10.0, 30.0) if not wide else d.between(14.0, 30.0),
        port=d.between(0.0, 0.012) if d.chance(0.35) else 0.0, mop=mop,
        hard_shut_off=d.chance(0.3),
        valve_gain=d.about(1.3, 0.3), closes_off=d.chance(0.8),
        accumulator=d.between(1.0, 3.0) * 1e-3 if heating or d.chance(0.08) else 0.0,
        circuits=circuits, minimum_speed=0.3,
    )  # fmt: skip


def _weather(d: Draw, unit: UnitSettings, heating: bool) -> WeatherSettings:
    altitude = d.one_of({"sea": 0.6, "high": 0.25, "very high": 0.15})
    height = {"sea": d.between(0.0, 900.0), "high": d.between(900.0, 4000.0), "very high": d.between(4000.0, 7000.0)}[
        altitude
    ]
    if heating:
        return WeatherSettings(
            outdoor=degf(d.of(d.between(30.0, 44.0), d.between(42.0, 58.0), d.between(42.0, 58.0))), outdoor_humidity=d.between(0.4, 0.7), return_dry_bulb=degf(d.between(66.0, 72.0)),
            return_wet_bulb=degf(d.between(53.0, 57.0)), altitude=height * FOOT, indoor_airflow=d.between(0.9, 1.08),
            outdoor_drift=d.normal(0.0, 1.5) * F,
        )  # fmt: skip
    dry = d.between(70.0, 81.0)
    return WeatherSettings(
        outdoor=degf(d.of(d.between(72.0, 104.0), d.between(70.0, 92.0), d.between(70.0, 92.0))), outdoor_humidity=d.between(0.2, 0.6), return_dry_bulb=degf(dry),
        return_wet_bulb=degf(dry - d.between(9.0, 18.0)), altitude=height * FOOT, indoor_airflow=d.between(0.88, 1.1),
        outdoor_drift=d.normal(0.0, 2.0) * F, return_drift=d.normal(-0.6, 1.0) * F,
        recirculation=d.between(0.05, 0.4), always_recirculated=0.15 if d.chance(0.08) else 0.0,
        line_air=d.between(-6.0, 20.0) * F,
    )  # fmt: skip


def _faults(d: Draw, kind: str, unit: UnitSettings) -> tuple[Faults, ParkingSettings, UnitSettings]:
    parking = ParkingSettings()
    m = MeteringFaults()
    charge = d.between(0.93, 1.06) if kind == "orifice" else d.between(1.0, 1.24)  # so that subcooling is mostly enough
    if kind in ("parked", "parked eev"):
        factor = d.of(1.0, d.between(0.85, 1.12), d.between(0.7, 1.3))
        parking = ParkingSettings(after=240.0, factor=factor)
    elif kind == "weak":
        way = d.one_of({"element": 0.6, "bleed": 0.2, "bypass": 0.2})
        if way == "element":
            m = MeteringFaults(strength=d.between(0.03, 0.22))
        elif way == "bleed":
            unit = replace(unit, bleed=d.between(0.2, 0.45))
        else:
            m = MeteringFaults(bypass=d.between(0.4, 0.65))
    elif kind == "sticking":
        m = MeteringFaults(friction=d.between(3.0, 9.0) * F, bulb_slow=d.of(1.0, 1.0, 2.0))
    elif kind == "hunting":
        m = MeteringFaults(gain=d.between(1.0, 2.5), bulb_slow=d.between(1.0, 2.5), equalizer_lag=d.about(10.0, 0.5))
    elif kind == "starving":
        if d.chance(0.5):
            m = MeteringFaults(screen=d.about(12.0, 0.6))
        else:
            m = MeteringFaults(bulb_empty=d.between(0.1, 0.6))
    elif kind == "flooding":
        m = MeteringFaults(bulb_contact=d.between(0.3, 0.75))
    elif kind == "stop":
        m = (
            MeteringFaults(undersized=d.between(0.5, 0.72))
            if d.chance(0.7)
            else MeteringFaults(screen=d.between(2.0, 5.0))
        )
    more: dict[str, float] = {}
    if d.chance(0.3):
        other = d.of(*OTHER_FAULTS)
        if other == "undercharge":
            charge = d.between(0.7, 0.95)
        elif other == "overcharge":
            charge = d.between(1.25, 1.5)
        elif other == "dirty condenser":
            more["condenser_fouling"] = d.between(0.1, 0.35)
        elif other == "low indoor air":
            more["indoor_airflow"] = d.between(0.1, 0.4)
        elif other == "non-condensables":
            more["non_condensables"] = d.between(0.2, 1.0)
        elif other == "liquid restriction":
            more["liquid_restriction"] = d.between(0.1, 0.6)
        else:
            more["compressor_leak"] = d.between(0.05, 0.3)
    return Faults(charge=charge, metering=m, **more), parking, unit


def _conduct(d: Draw, unit: UnitSettings, heating: bool) -> ConductSettings:
    rise = d.of(*(d.between(18.5, 26.0) for _ in range(6)), d.between(6.0, 30.0)) * F
    style = d.one_of({"steps": 0.42, "at once": 0.28, "ramp": 0.18, "staircase": 0.12})
    steps, every, ramp = 1, 30.0, 0.0
    if style == "steps":
        steps, every = d.of(2, 3), d.between(15.0, 45.0)
    elif style == "ramp":
        ramp = d.of(d.between(20.0, 90.0), d.between(120.0, 420.0))
    elif style == "staircase":
        steps, every = d.of(3, 4, 5), d.between(40.0, 110.0)
    hold = d.of(*(d.between(210.0, 420.0) for _ in range(6)), d.between(20.0, 240.0))
    if unit.metering_device == "eev":
        hold += 90.0
    running = d.of(*(d.between(700.0, 1300.0) for _ in range(6)), d.between(150.0, 700.0))
    lead = running if d.chance(0.12) else d.between(240.0, 600.0)
    if d.chance(0.12):
        lead = running + 60.0  # the log begins at standstill
    way = "cover"
    if not heating:
        way = "panel" if d.chance(0.05) else "fan stopped" if unit.outdoor_fans == 2 and d.chance(0.3) else "cover"
    return ConductSettings(
        way=way, standing=60.0, running=running, lead=min(lead, running + 60.0), rise=rise, steps=steps, step_every=every,
        ramp=ramp, trims=d.chance(0.75), guess=d.about(1.04, 0.09), hold=hold, restoring=d.of(2.0, 5.0, 20.0),
        recovery=d.of(d.between(180.0, 360.0), d.between(60.0, 200.0)), standstill=d.of(0.0, 120.0, 180.0, 240.0, 300.0),
        puts_back=not d.chance(0.03), pushes=not d.chance(0.015), careless=d.chance(0.05), demand=1.0, happenings=_happenings(d, unit, heating, hold),
    )  # fmt: skip


def _happenings(d: Draw, unit: UnitSettings, heating: bool, hold: float) -> tuple[Happening, ...]:
    if not d.chance(0.22):
        return ()
    at = d.between(-60.0, hold + 30.0)
    kinds = {
        "thermostat": 0.15,
        "return air": 0.22,
        "airflow": 0.18,
        "phone call": 0.15,
        "wind": 0.12,
        "humidity": 0.06,
        "fan": 0.06,
    }
    if unit.compressor_control in ("two-stage", "tandem", "variable-speed"):
        kinds["stage"] = 0.5
    if heating:
        kinds = {"thermostat": 0.3, "outdoor air": 0.3, "auxiliary heat": 0.2, "phone call": 0.2}
    what = d.one_of(kinds)
    if what == "thermostat":
        return (Happening(what, at, d.of(0.0, d.between(40.0, 200.0))),)
    if what == "stage":
        return (Happening(what, at, 0.0, d.of(0.5, 0.67)),)
    if what in ("return air", "outdoor air"):
        return (Happening(what, at, 0.0, d.of(-1.0, 1.0) * d.between(1.0, 7.0) * F, d.between(30.0, 240.0)),)
    if what == "airflow":
        return (Happening(what, at, 0.0, d.of(-1.0, -1.0, 1.0) * d.between(0.03, 0.35), d.of(3.0, 60.0)),)
    if what == "humidity":
        return (Happening(what, at, 0.0, d.of(-1.0, 1.0) * d.between(0.0004, 0.0025), d.between(60.0, 240.0)),)
    if what == "wind":
        return (Happening(what, d.between(90.0, max(hold, 100.0)), d.between(10.0, 60.0), d.between(0.4, 1.0)),)
    if what == "fan":
        return (Happening(what, at, d.between(30.0, 120.0), 1.0),)
    if what == "auxiliary heat":
        return (Happening(what, at, 0.0, d.of(5e3, 1e4)),)
    return (Happening(what, d.between(0.0, hold), d.between(60.0, 240.0)),)


def _kit(d: Draw, conduct: ConductSettings, heating: bool) -> KitSettings:
    by_hand = d.chance(0.34)
    analog = by_hand and d.chance(0.6)
    temperature = 0.12 if by_hand else d.about(0.06, 0.4)
    metric = d.chance(0.18)
    unit = d.of("barg", "kPag") if metric else "psig"
    rows = d.of(int(d.rng.integers(6, 13)), int(d.rng.integers(6, 13)), int(d.rng.integers(24, 73))) if by_hand else 36
    common: dict[str, Any] = {
        "sampling": "by hand" if by_hand else "automatic", "gauges": "analog" if analog else "digital",
        "pressure_unit": unit, "temperature_unit": "degC" if metric else "degF", "interval": float(d.of(1, 1, 2, 3, 5, 10)),
        "rows": rows, "protocol": by_hand and d.chance(0.3), "temperature_noise": temperature,
        "suction_clamp_offset": d.normal(0.4, 0.5), "liquid_clamp_offset": d.normal(0.0, 0.4), "clamp_lag": d.between(4.0, 30.0),
        "clamp_air": d.between(0.0, 0.08), "temperature_resolution": d.of(*([0.1 * F] * 7), F) if not by_hand else d.of(0.1 * F, F),
        "says_reference": d.chance(0.7), "pressure_reference": d.of("vented", "vented", "sealed"),
        "channels": _channels(d), "marks": by_hand or d.chance(0.5), "mark_error": d.of(4.0, 13.0),
        "milliseconds": d.chance(0.2), "shuffled_columns": d.chance(0.5), "faults": _instrument_faults(d, heating),
        "wrong_unit": d.of("pressure", "temperature") if d.chance(0.03) else "",
        "manifold_leak": 1.0 if analog and d.chance(0.15) else 0.0,
        "head_at": "discharge" if d.chance(0.05) else "liquid",
    }  # fmt: skip
    if common["wrong_unit"]:
        common |= {"pressure_unit": "psig", "temperature_unit": "degF"}
    if analog:
        graduation = d.of(1.0, 2.0, 2.5, 5.0) * PSI
        common |= {
            "pressure_noise": 0.25 * PSI, "pressure_resolution": graduation, "stiction": d.between(0.0, 1.8) * PSI,
            "suction_offset": d.normal(0.0, 1.5) * PSI, "head_offset": d.normal(0.0, 4.0) * PSI,
            "suction_gain": d.normal(0.0, 0.008), "head_gain": d.normal(0.0, 0.008),
            "pressure_unit": "psig",
        }  # fmt: skip
    else:
        common |= {
            "pressure_noise": d.about(0.15, 0.5) * PSI, "pressure_resolution": d.of(0.1, 0.1, 0.1, 0.1, 0.5, 1.0) * PSI,
            "suction_offset": d.normal(0.0, 0.5) * PSI, "head_offset": d.normal(0.0, 1.2) * PSI,
            "suction_gain": d.normal(0.0, 0.003), "head_gain": d.normal(0.0, 0.003),
            "pressure_accuracy": d.of(0.0, 1.0, 2.0) * PSI,
        }  # fmt: skip
    if not by_hand:
        if d.chance(0.25):
            common |= {
                "dropouts": d.between(0.0, 0.03),
                "duplicates": d.between(0.0, 0.02),
                "disorder": d.between(0.0, 0.01),
            }
        if d.chance(0.12):
            common["gaps"] = (Gap(d.between(-120.0, conduct.hold), d.between(20.0, 120.0)),)
        if d.chance(0.1):
            common["clock_drift"] = d.normal(0.0, 0.003)
    return KitSettings(**common)


def _channels(d: Draw) -> tuple[str, ...]:
    some = {
        "none": 0.12, "outdoor": 0.22, "usual": 0.46, "all": 0.2,
    }  # fmt: skip
    choice = d.one_of(some)
    if choice == "none":
        return ()
    if choice == "outdoor":
        return ("outdoor_air_temperature",)
    if choice == "usual":
        return USUAL_CHANNELS
    return (*USUAL_CHANNELS, "discharge_line_temperature", "supply_air_wet_bulb", "power")


def _instrument_faults(d: Draw, heating: bool) -> tuple[InstrumentFault, ...]:
    out = []
    if d.chance(0.14):  # the suction clamp in the warm exhaust of the covered coil
        out.append(InstrumentFault("suction_line_temperature", "warm exhaust", size=d.between(0.06, 0.2)))
    if d.chance(0.05):
        out.append(InstrumentFault("liquid_line_temperature", "in the sun", size=d.between(1.0, 4.0) * F))
    if d.chance(0.06):
        out.append(InstrumentFault("suction_line_temperature", "poor contact", size=d.between(0.1, 0.3)))
    if d.chance(0.14):
        what = d.one_of({"suction": 0.3, "head": 0.2, "hose": 0.1, "clamp": 0.15, "off": 0.25})
        at = d.of(-1e6, d.between(-300.0, 60.0))
        if what == "suction":
            out.append(InstrumentFault("suction_pressure", "frozen", at))
        elif what == "head":
            out.append(InstrumentFault("liquid_pressure", "frozen", at))
        elif what == "hose":
            out.append(
                InstrumentFault(d.of("suction_pressure", "liquid_pressure"), "hose valve shut", d.between(-300.0, 60.0))
            )
        elif what == "clamp":
            out.append(InstrumentFault(d.of("suction_line_temperature", "liquid_line_temperature"), "frozen", at))
        else:
            channel = d.of("suction_line_temperature", "suction_line_temperature", "liquid_line_temperature")
            out.append(InstrumentFault(channel, "off the pipe", d.of(-1e6, d.between(-120.0, 150.0))))
    if heating and d.chance(0.08):
        out.append(InstrumentFault("suction_pressure", "wrong port", place="discharge_pressure"))
    return tuple(out)


def _known(d: Draw, unit: UnitSettings, kit: KitSettings) -> KnownSettings:
    hidden = [
        key
        for key, share in (
            ("metering_device", 0.12), ("nominal_capacity", 0.2), ("compressor_type", 0.4), ("compressor_control", 0.4),
            ("fan_control", 0.6), ("line_set", 0.35), ("packaged", 0.3),
        )
        if d.chance(share)
    ]  # fmt: skip
    believed = ""
    if d.chance(0.015):
        believed = {"R-410A": "R-22", "R-22": "R-410A", "R-134a": "R-404A", "R-404A": "R-134a"}.get(
            unit.refrigerant, ""
        )
    return KnownSettings(
        refrigerant=believed, hidden=tuple(hidden), nameplate_subcooling=unit.subcooling if d.chance(0.5) else 0.0,
        switch_known=d.chance(0.4),
    )  # fmt: skip


def _mild(
    d: Draw, weather: WeatherSettings, conduct: ConductSettings, heating: bool
) -> tuple[WeatherSettings, ConductSettings]:
    """Mild weather with the coil partly covered in the baseline; a house in pull-down."""
    if not heating and weather.outdoor < degf(82.0) and conduct.way == "cover" and d.chance(0.5):
        conduct = replace(conduct, starting_cover=d.between(0.15, 0.5))
    if not heating and d.chance(0.08):
        weather = replace(weather, pull_down=d.between(4.0, 14.0) * F, pull_down_time=d.between(400.0, 1500.0))
    return weather, conduct
