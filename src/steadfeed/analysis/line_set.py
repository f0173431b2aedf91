"""The line set: what it takes from pressure, subcooling and capacity, what it asks for, and the derivation step by step.

Friction after Darcy–Weisbach with Churchill's factor (`physics.pipe`), lift as rho·g·h, heat taken up through the bare
tube. Limits are those of a printed line-sizing sheet (R-410A and R-22; a refrigerant takes the column whose pressure is
nearer) and of a unit manual. Lengths [m], pressures absolute [Pa], temperatures [K], flows [kg/s].
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from steadfeed.analysis.criteria import limit
from steadfeed.analysis.guard import ceiling
from steadfeed.circuit.equipment import System
from steadfeed.circuit.verdict import Measured
from steadfeed.errors import FixInput
from steadfeed.physics import pipe
from steadfeed.physics.compressor import flow_for_capacity
from steadfeed.physics.properties import Curves
from steadfeed.units import FOOT, TON

F: Final = 5.0 / 9.0
PSI: Final = 6894.757293168361
_SHEET: Final = "a maker's line-sizing sheet (R-410A, R-22)"
_MANUAL: Final = "unit manual K90-KPCS-IM-2, p. 7"
#: Heat that a bare liquid line takes up per metre and kelvin [W/(m K)] (natural convection round 3/8 in; practice).
BARE_TUBE: Final = 0.28
#: Stand-ins where nothing is stated, each said in the result.
USUAL_CAPACITY: Final = 3.0 * TON
USUAL_LIQUID_LINE: Final = 0.375 * 0.0254
USUAL_SUCTION_LINE: Final = 0.75 * 0.0254


@dataclass(frozen=True, slots=True)
class Conditions:
    """State at which the line set is worked out.

    condensing: bubble temperature at the liquid port [K]; subcooling there [K]; evaporating: dew at the suction port [K];
    superheat there [K]; line_air: air round the liquid line [K], None = at liquid temperature, no heat taken up.
    stated: whether condensing and evaporating were read or are the rating point's.
    """

    condensing: float = (115.0 + 459.67) * F
    subcooling: float = 10.0 * F
    evaporating: float = (45.0 + 459.67) * F
    superheat: float = 10.0 * F
    line_air: float | None = None
    stated: bool = False


RATING: Final = Conditions()


@dataclass(frozen=True, slots=True)
class Installed:
    """What hangs in the line set beside the tubes.

    equivalent_length: with fittings [m], None = actual × the usual share; accessories: loss of drier, valves and solenoid
    [Pa], None = the usual; charge_per_length: the unit's own figure [kg/m]; factory_length: covered by the factory charge [m].
    """

    equivalent_length: float | None = None
    accessories: float | None = None
    charge_per_length: float | None = None
    factory_length: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the derivation: what, SI value, its kind (units.py), and how it comes about."""

    text: str
    value: float
    kind: str
    how: str


@dataclass(frozen=True, slots=True)
class LineLimit:
    """A limit against what was worked out. passed: None when the case has no such part; SI numbers of `kind`."""

    name: str
    value: float
    low: float | None
    high: float | None
    kind: str
    passed: bool
    source: str


@dataclass(frozen=True, slots=True)
class ChargeToAdd:
    """Charge that the line set asks for beyond the factory's [kg], negative: take out. estimate: not the unit's own figure."""

    mass: float
    per_length: float
    beyond: float
    estimate: bool
    text: str


@dataclass(frozen=True, slots=True)
class LineSetResult:
    """What a line set does. SI; differences in K or Pa; velocities [m/s].

    metering_subcooling: left at the metering device; flash_margin: pressure there over its bubble pressure, negative =
    flash gas; needed_subcooling: at the unit, so that the device is fed at the highest push; allowance: what to add to a
    nameplate subcooling that assumes `factory_length` of line. suction_loss, as pressure and as dew temperature;
    capacity_loss [-]. notes: what was assumed.
    """

    flow: float
    liquid_velocity: float
    friction: float
    accessories: float
    lift_loss: float
    warming: float
    metering_subcooling: Measured
    flash_margin: float
    needed_subcooling: float
    allowance: float
    suction_velocity: float
    suction_loss: float
    suction_loss_temperature: float
    capacity_loss: float
    charge: ChargeToAdd
    limits: tuple[LineLimit, ...]
    steps: tuple[Step, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Liquid:
    """Liquid line at one state: losses [Pa], warming [K], velocity [m/s], bubble temperature and subcooling where it ends."""

    velocity: float
    friction: float
    lift: float
    accessories: float
    warming: float
    left: float
    pressure: float
    temperature: float

    @property
    def loss(self) -> float:
        return self.friction + self.lift + self.accessories


@dataclass(frozen=True, slots=True)
class _Case:
    """A line set with every stand-in filled in."""

    length: float
    equivalent: float
    lift: float
    liquid: float
    suction: float
    accessories: float
    factory: float


def line_set(
    system: System, curves: Curves, conditions: Conditions = RATING, installed: Installed = Installed()
) -> LineSetResult:  # fmt: skip
    """Work out a line set.

    Raises FixInput for a packaged unit (it has none), for a missing length, and for a tube size that is no refrigeration
    tube; OutOfRange when a state leaves the refrigerant's curves.
    """
    if system.packaged:
        raise FixInput(
            "A packaged unit has no line set: its tubes are part of the factory charge", code="no line set",
            where="packaged",
        )  # fmt: skip
    if system.line_set.length is None:
        raise FixInput(
            "The length of the line set is not stated: measure it and give for example “40 ft”", code="length missing",
            where="line_set",
        )  # fmt: skip
    notes: list[str] = []
    case = _fill_in(system, installed, notes)
    capacity = system.nominal_capacity
    if capacity is None:
        capacity = USUAL_CAPACITY
        notes.append("The nominal capacity is not stated: 3 tons stand in.")
    if not conditions.stated:
        notes.append(
            "Worked out at 115 °F condensing and 45 °F evaporating; give readings for the conditions of today."
        )
    c = conditions
    head = curves.bubble_pressure(c.condensing)
    suction = curves.dew_pressure(c.evaporating)
    liquid_temperature = c.condensing - c.subcooling
    gas = c.evaporating + c.superheat
    flow = flow_for_capacity(curves, capacity, suction, gas, curves.liquid_enthalpy(head, liquid_temperature))
    line = _liquid_line(curves, case, flow, head, liquid_temperature, c.line_air)
    steps = _liquid_steps(curves, case, flow, head, c, line, capacity)
    nominal = _liquid_line(
        curves, _Case(case.factory, case.factory * limit("fittings_share"), 0.0, case.liquid, case.suction, case.accessories, case.factory),
        flow, head, liquid_temperature, None,
    )  # fmt: skip
    allowance = max(0.0, nominal.left - line.left)
    needed, more = _needed(system, curves, case, flow, c)
    steps += more
    wide = 0.5 * math.hypot(line.friction, line.accessories) + (0.0 if system.line_set.lift is not None else 15e3)
    lower = curves.bubble_temperature(max(line.pressure - wide, curves.minimum_pressure))
    at_valve = curves.bubble_temperature(line.pressure)
    suction_gas = _suction_line(curves, case, flow, suction, gas)
    charge = _charge(curves, case, installed, head, liquid_temperature)
    return LineSetResult(
        flow=flow,
        liquid_velocity=line.velocity,
        friction=line.friction,
        accessories=line.accessories,
        lift_loss=line.lift,
        warming=line.warming,
        metering_subcooling=Measured(line.left, at_valve - lower),
        flash_margin=line.pressure - curves.bubble_pressure(line.temperature),
        needed_subcooling=needed,
        allowance=allowance,
        suction_velocity=suction_gas[0],
        suction_loss=suction_gas[1],
        suction_loss_temperature=suction_gas[2],
        capacity_loss=suction_gas[3],
        charge=charge,
        limits=_limits(curves, case, line, suction_gas),
        steps=tuple(steps),
        notes=tuple(notes),
    )


def allowance(system: System, curves: Curves) -> float:
    """Subcooling to add to a nameplate's figure for this line set [K]; 0 where nothing is known of the line set."""
    if system.packaged or system.line_set.length is None:
        return 0.0
    return line_set(system, curves).allowance


def loss_to_device(
    system: System, curves: Curves, head_pressure: float, liquid_temperature: float
) -> tuple[float, float]:
    """Pressure lost between the liquid port and the metering device and its standard uncertainty [Pa], stand-ins included."""
    case = _fill_in(system, Installed(), [])
    if system.packaged:
        case = _Case(2.0, 2.6, 0.0, case.liquid, case.suction, case.accessories, case.factory)
    capacity = system.nominal_capacity or USUAL_CAPACITY
    bubble = curves.bubble_temperature(head_pressure)
    liquid = min(liquid_temperature, bubble)
    suction = curves.dew_pressure(RATING.evaporating)
    flow = flow_for_capacity(
        curves, capacity, suction, RATING.evaporating + RATING.superheat, curves.liquid_enthalpy(head_pressure, liquid)
    )
    line = _liquid_line(curves, case, flow, head_pressure, liquid, None)
    wide = 0.5 * (line.friction + line.accessories)
    if system.line_set.lift is None and not system.packaged:
        wide = math.hypot(wide, 15e3)
    return line.loss, wide


def _fill_in(system: System, installed: Installed, notes: list[str]) -> _Case:
    known = system.line_set
    length = known.length if known.length is not None else limit("nameplate_line")
    if known.lift is None and not system.packaged:
        notes.append("The lift is not stated: level is assumed; a story up takes about 5 psi.")
    liquid, suction = known.liquid_line_diameter, known.suction_line_diameter
    if liquid is None:
        notes.append("The liquid line's size is not stated: 3/8 in stands in.")
    if suction is None:
        notes.append("The suction line's size is not stated: 3/4 in stands in.")
    if installed.factory_length is None:
        notes.append("The factory charge is taken to cover 25 ft of line (some cover 15: read the nameplate).")
    equivalent = installed.equivalent_length
    if equivalent is not None and equivalent < length:
        raise FixInput(
            f"The equivalent length ({equivalent / FOOT:.0f} ft) cannot be less than the length ({length / FOOT:.0f} ft)",
            where="equivalent length",
        )
    return _Case(
        length=length,
        equivalent=equivalent if equivalent is not None else length * limit("fittings_share"),
        lift=known.lift or 0.0,
        liquid=pipe.inside_diameter(liquid if liquid is not None else USUAL_LIQUID_LINE),
        suction=pipe.inside_diameter(suction if suction is not None else USUAL_SUCTION_LINE),
        accessories=installed.accessories if installed.accessories is not None else limit("drier_and_valves"),
        factory=installed.factory_length if installed.factory_length is not None else limit("nameplate_line"),
    )


def _liquid_line(
    curves: Curves, case: _Case, flow: float, head: float, liquid: float, line_air: float | None
) -> _Liquid:
    bubble = curves.bubble_temperature(head)
    start = min(liquid, bubble)
    density = curves.liquid_density(head, start)
    friction = pipe.liquid_line_loss(curves, head, start, flow, case.liquid, case.equivalent)
    column = pipe.lift_loss(density, case.lift)
    warming = 0.0
    if line_air is not None:
        span = 5.0
        specific = (curves.liquid_enthalpy(head, start) - curves.liquid_enthalpy(head, start - span)) / span
        warming = (line_air - start) * (1.0 - math.exp(-BARE_TUBE * case.length / (flow * specific)))
    left = head - friction - column - case.accessories
    if left < curves.minimum_pressure:
        raise FixInput(
            f"This line set would take {(friction + column + case.accessories) / PSI:.0f} psi: check length, size and lift",
            code="line set impossible", where="line_set",
        )  # fmt: skip
    end = start + warming
    return _Liquid(
        pipe.velocity(flow, case.liquid, density), friction, column, case.accessories, warming,
        curves.bubble_temperature(left) - end, left, end,
    )  # fmt: skip


def _liquid_steps(
    curves: Curves, case: _Case, flow: float, head: float, c: Conditions, line: _Liquid, capacity: float
) -> list[Step]:
    after_friction = curves.bubble_temperature(head - line.friction)
    after_lift = curves.bubble_temperature(head - line.friction - line.lift)
    return [
        Step("Refrigerant flow", flow, "mass_flow", f"capacity {capacity / TON:.2f} tons over the enthalpy it gains"),
        Step("Head pressure at the liquid port", head, "pressure", "bubble pressure at the condensing temperature"),
        Step("Subcooling at the liquid port", c.subcooling, "temperature_difference", "read, or stated"),
        Step("Velocity of the liquid", line.velocity, "velocity", "flow over density and inside area"),
        Step(
            "Friction of the liquid line", line.friction, "pressure_difference",
            f"Darcy–Weisbach, Churchill's factor, {case.equivalent / FOOT:.0f} ft equivalent length",
        ),
        Step("… as subcooling", c.condensing - after_friction, "temperature_difference", "fall of the bubble temperature"),
        Step("Lift", line.lift, "pressure_difference", f"density × g × {case.lift / FOOT:.0f} ft"),
        Step("… as subcooling", after_friction - after_lift, "temperature_difference", "fall of the bubble temperature"),
        Step("Drier and valves", line.accessories, "pressure_difference", "stated, or the usual loss"),
        Step(
            "… as subcooling", after_lift - curves.bubble_temperature(line.pressure), "temperature_difference",
            "fall of the bubble temperature",
        ),
        Step("Heat taken up on the way", line.warming, "temperature_difference", "bare tube in the air round it"),
        Step("Subcooling left at the metering device", line.left, "temperature_difference", "what remains"),
    ]  # fmt: skip


def _needed(
    system: System, curves: Curves, case: _Case, flow: float, c: Conditions
) -> tuple[float, list[Step]]:  # fmt: skip
    """Subcooling needed at the unit so that the device is fed at the highest push [K], and how it comes about."""
    top = ceiling(system, curves).head_pressure
    top = min(top, curves.maximum_pressure)
    hottest = curves.bubble_temperature(top)
    before = curves.bubble_pressure(c.condensing) - curves.dew_pressure(c.evaporating)
    after = max(top - curves.dew_pressure(c.evaporating), before)
    more = math.sqrt(after / before)  # a fixed opening: flow with the root of the drive
    liquid = hottest - max(c.subcooling, 2.0)
    line = _liquid_line(curves, case, flow * more, top, liquid, c.line_air)
    lost = hottest - curves.bubble_temperature(line.pressure) + max(line.warming, 0.0)
    fall, least = limit("subcooling_fall_in_push"), limit("least_valve_subcooling")
    needed = max(lost, 0.0) + fall + least
    return needed, [
        Step("Condensing at the ceiling", hottest, "temperature", "bubble temperature at the ceiling of this unit"),
        Step(
            "Lost to the line set there", lost, "temperature_difference", f"flow × {more:.2f}, as a fixed opening would"
        ),
        Step(
            "Fall of the subcooling in the push", fall, "temperature_difference", "what a fixed opening may lose (sim)"
        ),
        Step("Subcooling that must be left", least, "temperature_difference", "at the metering device"),
        Step("Needed at the unit for the push", needed, "temperature_difference", "sum of the three"),
    ]


def _suction_line(
    curves: Curves, case: _Case, flow: float, suction: float, gas: float
) -> tuple[float, float, float, float]:
    """Velocity [m/s], loss [Pa], loss as dew temperature [K], share of the capacity lost [-]."""
    density = curves.vapor_density(suction, gas)
    loss = pipe.suction_line_loss(curves, suction, gas, flow, case.suction, case.equivalent)
    before = curves.dew_temperature(suction + loss)
    # without the loss the compressor would draw vapor of the coil's pressure: flow follows density
    share = 1.0 - density / curves.vapor_density(suction + loss, max(gas, before))
    return pipe.velocity(flow, case.suction, density), loss, before - curves.dew_temperature(suction), share


def _charge(curves: Curves, case: _Case, installed: Installed, head: float, liquid: float) -> ChargeToAdd:
    beyond = case.length - case.factory
    own = installed.charge_per_length
    if own is not None:
        mass = own * beyond
        return ChargeToAdd(mass, own, beyond, False, "the unit's own figure × the length beyond the factory charge")
    area = math.pi / 4.0 * case.liquid**2
    per = curves.liquid_density(head, min(liquid, curves.bubble_temperature(head))) * area
    return ChargeToAdd(
        per * beyond, per, beyond, True,
        "estimate from density × inside area, 13–28 % below what makers print: take the unit's own ounces per foot",
    )  # fmt: skip


def _limits(
    curves: Curves, case: _Case, line: _Liquid, suction: tuple[float, float, float, float]
) -> tuple[LineLimit, ...]:
    # the sheet prints two columns; a refrigerant takes the one whose pressure at 115 °F is nearer
    high_pressure = curves.bubble_pressure(RATING.condensing) > 2.3e6
    fpm = FOOT / 60.0
    drop = (60.0 if high_pressure else 35.0) * PSI
    suction_drop = (5.0 if high_pressure else 3.0) * PSI
    friction_share = curves.bubble_temperature(line.pressure + line.friction) - curves.bubble_temperature(line.pressure)
    rises = case.lift < 0.0
    out = [
        _limit("liquid velocity", line.velocity, 100.0 * fpm, 400.0 * fpm, "velocity", _SHEET),
        _limit("liquid line loss with lift", line.loss, None, drop, "pressure_difference", _SHEET),
        _limit("liquid line friction as subcooling", friction_share, None, 2.0 * F, "temperature_difference", _MANUAL),
        _limit("suction velocity", suction[0], (1000.0 if rises else 800.0) * fpm, 3000.0 * fpm, "velocity", _SHEET),
        _limit("suction line loss", suction[1], None, suction_drop, "pressure_difference", _SHEET),
        _limit("length", case.length, None, 200.0 * FOOT, "length", _SHEET),
        _limit("equivalent length", case.equivalent, None, 250.0 * FOOT, "length", _SHEET),
    ]
    return tuple(out)


def _limit(name: str, value: float, low: float | None, high: float | None, kind: str, source: str) -> LineLimit:
    passed = (low is None or value >= low) and (high is None or value <= high)
    return LineLimit(name, value, low, high, kind, passed, source)
