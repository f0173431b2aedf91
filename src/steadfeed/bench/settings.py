"""What a scenario is made of: unit, what is wrong with it, weather, what the person does, and the instruments.

All SI, absolute, kelvin; times in seconds. `tables.read_table` reads each class from a table of a scenario file, where
the keys end in their unit. The defaults make a healthy unit, tested well with good instruments.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from steadfeed.bench.faults import Faults
from steadfeed.bench.tables import listed, plain, quantity, word
from steadfeed.units import FOOT, PSI, STANDARD_ATMOSPHERE, TON

F: Final = 5.0 / 9.0


def degf(value: float) -> float:
    """Kelvin for a temperature in °F."""
    return (value + 459.67) * F


def psig(value: float) -> float:
    """Absolute pressure [Pa] for a gauge pressure at sea level in psi."""
    return value * PSI + STANDARD_ATMOSPHERE


@dataclass(frozen=True, slots=True)
class UnitSettings:
    """The unit and its rating point (95 °F outdoors, 80/67 °F indoors)."""

    refrigerant: str = plain("R-410A", "designation as in the list of refrigerants")
    capacity: float = quantity(3.0 * TON, "capacity", "at the rating point")
    metering_device: str = word("txv", ("txv", "eev", "fixed orifice"), "what the unit has")
    compressor: str = word("scroll", ("scroll", "reciprocating", "rotary"), "kind of compressor")
    compressor_control: str = word(
        "single-speed", ("single-speed", "two-stage", "variable-speed", "tandem"), "how capacity is controlled"
    )
    fan_control: str = word("on-off", ("on-off", "pressure-cycled", "variable"), "condenser fan control")
    fan_on: float = quantity(psig(320.0), "pressure", "cycled fan starts, variable fan is at full speed")
    fan_off: float = quantity(psig(220.0), "pressure", "cycled fan stops, variable fan is at its least")
    outdoor_fans: int = plain(1, "number of condenser fans")
    mode: str = word("cooling", ("cooling", "heating"), "what the unit does in this scenario")
    packaged: bool = plain(False, "one box, no line set")
    line_length: float = quantity(25.0 * FOOT, "length", "of the line set")
    lift: float = quantity(0.0, "length", "positive: the evaporator is higher")
    evaporating: float = quantity(degf(46.0), "temperature", "at the rating point")
    condensing: float = quantity(degf(115.0), "temperature", "at the rating point")
    superheat: float = quantity(9.0 * F, "temperature_difference", "at the evaporator, rating point")
    subcooling: float = quantity(11.0 * F, "temperature_difference", "rating point")
    stroke: float = plain(0.62, "share of its stroke that the valve needs at the rating point")
    opening_span: float = quantity(5.0 * F, "temperature_difference", "superheat from shut to the rated stroke")
    bulb_lag: float = quantity(16.0, "time", "of the bulb")
    port: float = plain(0.0, "push of the pressure difference on an unbalanced pin; 0 is a balanced port")
    bleed: float = plain(0.0, "bleed port, share of the full area")
    hard_shut_off: bool = plain(False, "the valve shuts tight at standstill")
    mop: float = quantity(0.0, "pressure", "highest bulb pressure of a valve with a limited charge; absent: none")
    valve_gain: float = plain(1.0, "of an electronic valve's controller, over the usual one")
    closes_off: bool = plain(True, "the electronic valve shuts at standstill")
    accumulator: float = quantity(0.0, "volume", "suction accumulator; 0: none")
    receiver: float = quantity(0.0, "volume", "liquid receiver; 0: none")
    high_switch: float = quantity(0.0, "pressure", "high-pressure switch opens; absent: usual for the refrigerant")
    manual_reset: bool = plain(True, "the high-pressure switch stays open until someone resets it")
    low_switch: float = quantity(0.0, "pressure", "low-pressure switch opens; absent: none")
    unloads_below: float = quantity(
        0.0, "pressure", "suction pressure under which the scroll comes apart; absent: usual"
    )
    circuits: int = plain(1, "1 or 2, on the same coil faces and fans")
    interlaced: float = plain(0.35, "what the standing circuit's fins add for the running one")
    minimum_speed: float = plain(0.3, "lowest speed of an inverter over rated")


@dataclass(frozen=True, slots=True)
class WeatherSettings:
    """The place: air outdoors and indoors, and how they move."""

    outdoor: float = quantity(degf(92.0), "temperature", "outdoor air")
    outdoor_humidity: float = plain(0.45, "relative, 0 to 1")
    return_dry_bulb: float = quantity(degf(76.0), "temperature", "return air")
    return_wet_bulb: float = quantity(degf(63.5), "temperature", "return air")
    altitude: float = quantity(0.0, "length", "of the site")
    indoor_airflow: float = plain(1.0, "over the rated flow")
    outdoor_drift: float = quantity(0.0, "temperature_difference", "change of the outdoor air in an hour")
    return_drift: float = quantity(0.0, "temperature_difference", "change of the return air in an hour")
    line_air: float = quantity(-3.0 * F, "temperature_difference", "air around the line set over outdoor")
    recirculation: float = plain(0.25, "exhaust drawn in when the whole face is covered, share")
    always_recirculated: float = plain(0.0, "the same with nothing covered (wall, fence)")
    pull_down: float = quantity(0.0, "temperature_difference", "how much warmer the rooms are at the start")
    pull_down_time: float = quantity(900.0, "time", "in which most of that is gone")
    auxiliary_heat: float = quantity(0.0, "power", "electric heat in the supply air")


HAPPENINGS: Final = (
    "thermostat", "stage", "airflow", "return air", "humidity", "outdoor air", "wind", "phone call", "fan",
    "second circuit", "auxiliary heat", "economizer",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that comes between. at: after the push began [s], negative before; length [s], 0 = for good.

    size: change of the flow (share), of the temperature [K] or humidity ratio, share of the cover that is gone, demand
    of a stage, heat [W].
    """

    what: str = word("phone call", HAPPENINGS, "kind")
    at: float = quantity(0.0, "time", "after the push began; negative: before")
    length: float = quantity(0.0, "time", "0: for good")
    size: float = plain(0.0, "see the page on scenarios; temperatures in kelvin")
    gently: float = quantity(0.0, "time", "in which it comes")


WAYS: Final = ("cover", "panel", "fan stopped")


@dataclass(frozen=True, slots=True)
class ConductSettings:
    """What the person does. Times [s]; the plant starts standing, then runs `running` before the push."""

    way: str = word("cover", WAYS, "how the head is raised (heating: the return air is restricted)")
    standing: float = quantity(60.0, "time", "standstill before the start")
    running: float = quantity(900.0, "time", "from the start to the push")
    lead: float = quantity(420.0, "time", "how long before the push the log begins")
    rise: float = quantity(20.0 * F, "temperature_difference", "condensing rise aimed at")
    steps: int = plain(2, "steps in which the cover goes on; 1: at once")
    step_every: float = quantity(30.0, "time", "between steps")
    ramp: float = quantity(0.0, "time", "in which each step goes on")
    trims: bool = plain(True, "looks at the head and corrects the cover")
    guess: float = plain(1.0, "how far the first guess is from right, as a factor on the rise")
    hold: float = quantity(270.0, "time", "from the last step to the restore")
    restoring: float = quantity(5.0, "time", "in which the cover comes off")
    recovery: float = quantity(270.0, "time", "from the restore to the stop")
    standstill: float = quantity(180.0, "time", "recorded after the stop; 0: none")
    starting_cover: float = plain(0.0, "cover that is on already in the baseline (mild weather)")
    ceiling: float = quantity(
        0.0, "pressure", "head at which the person takes the cover off; absent: a margin under the switch"
    )
    careless: bool = plain(False, "does not watch any ceiling")
    puts_back: bool = plain(True, "takes the cover off at the end")
    pushes: bool = plain(True, "raises the head at all")
    demand: float = plain(1.0, "of the thermostat: 1 full, a share picks a stage or speed")
    second_demand: float = plain(0.0, "the same for the second circuit")
    reset_after_trip: bool = plain(False, "resets the high-pressure switch and goes on")
    happenings: tuple[Happening, ...] = listed(Happening, "what comes between")


INSTRUMENT_FAULTS: Final = (
    "frozen", "offset", "gain", "off the pipe", "in the sun", "warm exhaust", "poor contact", "hose valve shut",
    "wrong port", "dropouts", "noisy",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class InstrumentFault:
    """Something wrong with one channel. at: after the push began [s]; length [s], 0 = to the end; size as in `what`.

    frozen, off the pipe, hose valve shut: no size. offset [Pa or K]; gain: share; in the sun [K]; warm exhaust: share of
    the exhaust's warmth over outdoor air; poor contact: share of the surrounding air; dropouts: share of readings;
    noisy: factor.
    """

    channel: str = plain("suction_pressure", "channel of the log")
    what: str = word("frozen", INSTRUMENT_FAULTS, "kind")
    at: float = quantity(-1e6, "time", "after the push began; absent: all the time")
    length: float = quantity(0.0, "time", "0: to the end")
    size: float = plain(0.0, "see the page on scenarios; in SI")
    place: str = plain("", "for wrong port: where it sits, as in the bench's list of places")


@dataclass(frozen=True, slots=True)
class Gap:
    """A hole in the log. at: after the push began [s]; length [s]."""

    at: float = quantity(0.0, "time", "after the push began")
    length: float = quantity(60.0, "time", "of the hole")


#: Channels a usual log holds beside the four vital ones.
USUAL_CHANNELS: Final = (
    "outdoor_air_temperature", "return_air_dry_bulb", "return_air_wet_bulb", "supply_air_dry_bulb", "compressor_current",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class KitSettings:
    """The instruments and how they are read."""

    gauges: str = word("digital", ("digital", "analog"), "electronic or needle gauges")
    pressure_reference: str = word("vented", ("vented", "sealed", "absolute"), "what the gauge counts from")
    says_reference: bool = plain(True, "whether the system file states it")
    sampling: str = word("automatic", ("automatic", "by hand"), "who reads")
    interval: float = quantity(1.0, "time", "between automatic readings")
    rows: int = plain(36, "number of rows of a log by hand")
    protocol: bool = plain(False, "by hand: the seven rows of the protocol")
    pressure_unit: str = word("psig", ("psig", "psia", "barg", "kPag"), "in the log")
    temperature_unit: str = word("degF", ("degF", "degC"), "in the log")
    channels: tuple[str, ...] = plain(USUAL_CHANNELS, "beside the two pressures and the two pipe temperatures")
    head_at: str = word("liquid", ("liquid", "discharge"), "port of the head gauge")
    pressure_noise: float = quantity(0.15 * PSI, "pressure_difference", "standard deviation")
    pressure_resolution: float = quantity(0.1 * PSI, "pressure_difference", "last digit, or what the eye can part")
    suction_offset: float = quantity(0.0, "pressure_difference", "error of the suction gauge")
    head_offset: float = quantity(0.0, "pressure_difference", "error of the head gauge")
    suction_gain: float = plain(0.0, "share")
    head_gain: float = plain(0.0, "share")
    stiction: float = quantity(0.0, "pressure_difference", "a needle stands until the pressure has moved so far")
    gauge_lag: float = quantity(1.0, "time", "of gauge and hose")
    pressure_accuracy: float = quantity(0.0, "pressure_difference", "as the system file states it; absent: not stated")
    temperature_noise: float = quantity(0.06, "temperature_difference", "standard deviation")
    temperature_resolution: float = quantity(0.1 * F, "temperature_difference", "last digit")
    suction_clamp_offset: float = quantity(0.0, "temperature_difference", "error")
    liquid_clamp_offset: float = quantity(0.0, "temperature_difference", "error")
    clamp_lag: float = quantity(6.0, "time", "of the clamps")
    clamp_air: float = plain(0.02, "share of the surrounding air in what a clamp feels")
    temperature_accuracy: float = quantity(
        0.0, "temperature_difference", "as the system file states it; absent: not stated"
    )
    manifold_leak: float = plain(0.0, "0 to 1: how fully the manifold's valves join the gauges at standstill")
    dropouts: float = plain(0.0, "share of cells without a reading")
    duplicates: float = plain(0.0, "share of rows written twice")
    disorder: float = plain(0.0, "share of rows written a few places late")
    gaps: tuple[Gap, ...] = listed(Gap, "holes in the log")
    clock_drift: float = plain(0.0, "seconds per second")
    marks: bool = plain(True, "the person marks push, restore and standstill")
    mark_error: float = quantity(4.0, "time", "standard deviation of the marks")
    wrong_unit: str = word("", ("", "pressure", "temperature"), "header names the wrong unit (bar as psi, °C as °F)")
    milliseconds: bool = plain(False, "times with milliseconds")
    shuffled_columns: bool = plain(False, "columns in another order")
    faults: tuple[InstrumentFault, ...] = listed(InstrumentFault, "what is wrong with single channels")


@dataclass(frozen=True, slots=True)
class KnownSettings:
    """What the technician knows and writes into the system file. Everything that is not set is written as it is.

    hidden: keys of the system file that are left out. refrigerant, metering_device: as the technician believes.
    """

    refrigerant: str = plain("", "as the technician believes; absent: the right one")
    metering_device: str = plain("", "as the technician believes; absent: the right one")
    hidden: tuple[str, ...] = plain((), "keys that the technician does not know")
    nameplate_subcooling: float = quantity(0.0, "temperature_difference", "on the nameplate; absent: not there")
    switch_known: bool = plain(False, "the setting of the high-pressure switch is known")


@dataclass(frozen=True, slots=True)
class ParkingSettings:
    """A valve that parks by itself where it stands, some time after the start.

    after: running time until then [s], 0 = never. factor: on the opening that it has then.
    """

    after: float = quantity(0.0, "time", "of running; 0: never")
    factor: float = plain(1.0, "on the opening that it has then")
    circuit: int = plain(1, "1 or 2")


@dataclass(frozen=True, slots=True)
class Settings:
    """All that a run needs."""

    unit: UnitSettings = field(default_factory=UnitSettings)
    weather: WeatherSettings = field(default_factory=WeatherSettings)
    faults: Faults = field(default_factory=Faults)
    second_faults: Faults = field(default_factory=Faults)
    conduct: ConductSettings = field(default_factory=ConductSettings)
    kit: KitSettings = field(default_factory=KitSettings)
    known: KnownSettings = field(default_factory=KnownSettings)
    parking: ParkingSettings = field(default_factory=ParkingSettings)
