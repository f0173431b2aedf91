"""Sizing: from what a data sheet says (capacity, conditions, superheat, subcooling) to a unit that does just that.

Everything follows in closed form or by bisection from the rating point, so that any refrigerant and size gives a unit
that is balanced: displacement, coil conductances, valve areas and the right charge.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import exp, log, sqrt
from typing import Final, Literal

from steadfeed.bench import compressor as compressors
from steadfeed.bench.air import AIR_SPECIFIC_HEAT, WATER_HEAT, air_density, humidity_ratio, saturation_humidity_ratio
from steadfeed.bench.circuit_loop import HOT_GAS_SPACE, SHELL_SPACE
from steadfeed.bench.coil import CoilSpec
from steadfeed.bench.equipment import ControlSpec, Equipment, FanSpec
from steadfeed.bench.evaporator import CARRY_OVER
from steadfeed.bench.fluid import Fluid, fluid_of, rise_of, superheat_of
from steadfeed.bench.lines import GRAVITY, LineSpec, line_set
from steadfeed.bench.metering import DeviceSpec, EevSpec, OrificeSpec, TxvSpec, throat_pressure
from steadfeed.errors import FixInput
from steadfeed.physics.properties import Curves
from steadfeed.units import STANDARD_ATMOSPHERE, TON

#: Refrigerant dissolved in the compressor's oil [kg per ton] (1.2 kg of oil in a 3-ton scroll, a tenth of it refrigerant).
DISSOLVED: Final = 0.045
#: Filling of a receiver at the right charge [-] (common practice: a third to a half).
RECEIVER_FILLING: Final = 0.4
K_PER_F: Final = 1.0 / 1.8


def fahrenheit(value: float) -> float:
    """Return kelvin for a temperature in °F."""
    return (value + 459.67) / 1.8


@dataclass(frozen=True, slots=True)
class Rating:
    """The point a unit is made for. Temperatures [K], differences [K], capacity [W] gross at the evaporator.

    evaporating: dew temperature at the evaporator's outlet; condensing: bubble temperature at its outlet; superheat at
    the evaporator's outlet; indoor_flow, outdoor_flow: volume flow per capacity [m3/s per W].
    """

    capacity: float = 3.0 * TON
    outdoor: float = fahrenheit(95.0)
    return_dry_bulb: float = fahrenheit(80.0)
    return_wet_bulb: float = fahrenheit(67.0)
    evaporating: float = fahrenheit(46.0)
    condensing: float = fahrenheit(115.0)
    superheat: float = 9.0 * K_PER_F
    subcooling: float = 11.0 * K_PER_F
    indoor_flow: float = 400.0 * 0.3048**3 / 60.0 / TON
    outdoor_flow: float = 950.0 * 0.3048**3 / 60.0 / TON


@dataclass(frozen=True, slots=True)
class Sizes:
    """Habits of construction that a data sheet does not tell (own choices; docs/bench.md says where from).

    volumes per capacity [m3/W]; metal per capacity [J/(K W)]; NTU of the air sides; vapor_ntu, outdoor_vapor_ntu: of the indoor
    and the outdoor coil if all of it superheated; film ratios of the condenser against its condensing film; loss: pressure drop of each coil, as
    saturation temperature [K]; stroke: of the valve at the rating point.
    """

    indoor_volume: float = 0.85e-3 / TON
    outdoor_volume: float = 1.7e-3 / TON
    indoor_metal: float = 2200.0 / TON
    outdoor_metal: float = 4100.0 / TON
    indoor_ntu: float = 1.9
    outdoor_ntu: float = 2.3
    vapor_ntu: float = 5.0
    outdoor_vapor_ntu: float = 4.0
    hot_gas_film: float = 0.30
    liquid_film: float = 0.35
    loss: float = 1.0
    stroke: float = 0.62
    opening_span: float = 5.0 * K_PER_F
    distributor: float = 0.25
    spread: float = 0.06


Device = Literal["txv", "eev", "fixed orifice"]


def split_system(
    curves: Curves, *, rating: Rating = Rating(), sizes: Sizes = Sizes(), device: Device = "txv",
    compressor: compressors.Kind = "scroll", lines: LineSpec | None = None,
    length: float = 7.6, lift: float = 0.0, controls: ControlSpec = ControlSpec(),  # noqa: B008
    txv: dict[str, float] | None = None, eev: dict[str, float] | None = None,
    compressor_fields: dict[str, object] | None = None, outdoor_fans: int = 1, accumulator: float = 0.0,
    receiver: float = 0.0,
    packaged: bool = False, atmosphere: float = STANDARD_ATMOSPHERE,
) -> Equipment:  # fmt: skip
    """Size a cooling unit for its rating point.

    length, lift [m]: of a line set sized for the flow, unless `lines` gives one.
    txv, eev, compressor_fields: fields of the specs that shall differ from the usual. accumulator, receiver [m3]; with
    a receiver the subcooling of the rating comes from what receiver and its outlet lose to the air. Raises FixInput
    when the rating asks for the impossible (air too warm for the evaporating temperature, condensing too near outdoor).
    """
    fluid = fluid_of(curves)
    r = rating
    if r.condensing > curves.maximum_temperature - 3.0:
        raise FixInput(
            f"{curves.name} cannot condense at {r.condensing * 1.8 - 459.67:.0f} °F: its curves end at "
            f"{curves.maximum_temperature * 1.8 - 459.67:.0f} °F",
            where="condensing temperature",
        )
    p_high = curves.bubble_pressure(r.condensing)
    p_low = curves.dew_pressure(r.evaporating)
    h_liquid = curves.liquid_enthalpy(p_high, r.condensing - max(r.subcooling, 0.01))
    h_out = curves.vapor_enthalpy(p_low, r.evaporating + r.superheat)
    flow = r.capacity / (h_out - h_liquid)

    if lines is None:
        liquid, vapor = fluid.saturation(p_high)[2], curves.vapor_density(p_low, r.evaporating + r.superheat)
        lines = line_set(flow, liquid, vapor, length, lift)

    evaporator = _size_evaporator(fluid, r, sizes, flow, p_low, h_liquid, h_out, atmosphere)
    pump = _size_compressor(fluid, r, flow, p_low, p_high, h_out, evaporator, compressor, lines, compressor_fields)
    coil_rating = replace(r, subcooling=0.0) if receiver else r
    condenser, zones = _size_condenser(fluid, coil_rating, sizes, flow, p_high, pump.discharge, atmosphere)

    row = fluid.saturation(p_high)
    loss_high = condenser.friction * flow * flow / row[4]
    low_row = fluid.saturation(p_low)
    loss_low = evaporator.spec.friction * flow * flow / low_row[4]
    upstream = p_high - 0.5 * loss_high - row[2] * GRAVITY * lines.lift
    downstream = p_low + loss_low
    upstream -= lines.liquid_resistance() * flow * flow / row[2]
    difference = upstream - downstream
    if difference < 2e5:
        raise FixInput("the line set leaves no pressure for the metering device: shorter, wider or less lift")
    device_spec, distributor, opening = _size_device(
        curves, r, sizes, device, flow, upstream, difference, row, p_low, txv or {}, eev or {}
    )

    spec = evaporator.spec
    charge = evaporator.charge + zones.charge
    charge += lines.liquid_volume() * row[2] * 1.01
    low_density = curves.vapor_density(p_low, r.evaporating + r.superheat)
    charge += low_density * (lines.suction_volume() + SHELL_SPACE * pump.spec.displacement + accumulator)
    charge += row[4] * HOT_GAS_SPACE * pump.spec.displacement
    tons = r.capacity / TON
    dissolved = DISSOLVED * tons
    receiver_loss = 0.0
    if receiver:
        charge += RECEIVER_FILLING * receiver * row[2]
        receiver_loss = flow * row[6] * r.subcooling / (r.condensing - r.outdoor)
    charge += dissolved
    return Equipment(
        refrigerant=curves.name, capacity=r.capacity, device=device_spec, compressor=pump.spec, outdoor_coil=condenser,
        indoor_coil=spec, outdoor_fan=FanSpec(power=75.0 * tons, count=outdoor_fans), indoor_fan=FanSpec(power=140.0 * tons),
        lines=lines, charge=charge, rated_flow=flow, rated_evaporating=r.evaporating, rated_difference=difference,
        distributor=distributor, device_opening=opening, accumulator=accumulator, packaged=packaged, controls=controls,
        dissolved=dissolved, receiver=receiver, receiver_loss=receiver_loss,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _LowSide:
    spec: CoilSpec
    charge: float


@dataclass(frozen=True, slots=True)
class _Pump:
    spec: compressors.CompressorSpec
    discharge: float


@dataclass(frozen=True, slots=True)
class _Zones:
    charge: float
    detail: dict[str, float] = field(default_factory=dict)


def bisect(function: Callable[[float], float], low: float, high: float, what: str) -> float:
    """Root of a function between two points; FixInput naming `what` when there is none."""
    at_low = function(low)
    if at_low * function(high) > 0.0:
        raise FixInput(f"no unit can be sized for this rating point: {what} finds no value")
    for _ in range(60):
        middle = 0.5 * (low + high)
        if function(middle) * at_low > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _size_evaporator(
    fluid: Fluid, r: Rating, sizes: Sizes, flow: float, p_low: float, h_liquid: float, h_out: float, atmosphere: float
) -> _LowSide:
    row_out = fluid.saturation(p_low)
    loss = sizes.loss / row_out[8]
    row, vapor = fluid.saturation(p_low + 0.5 * loss), fluid.vapor(p_low + 0.5 * loss)
    friction = loss * row[4] / (flow * flow)
    h_fg = row[5] - row[3]
    dew = row[1] - row[8] * 0.5 * loss
    air_flow = r.indoor_flow * r.capacity * air_density(r.return_dry_bulb, atmosphere)
    conductance = sizes.indoor_ntu * air_flow * AIR_SPECIFIC_HEAT
    bypass = exp(-sizes.indoor_ntu)
    touched = air_flow * (1.0 - bypass)
    ratio = humidity_ratio(r.return_dry_bulb, r.return_wet_bulb, atmosphere)
    gas_heat = flow * (h_out - (row[5] - row[10] * 0.5 * loss))
    boiling_heat = r.capacity - gas_heat

    def gained(wall: float) -> float:
        water = max(0.0, ratio - saturation_humidity_ratio(wall, atmosphere))
        return touched * (AIR_SPECIFIC_HEAT * (r.return_dry_bulb - wall) + WATER_HEAT * water)

    def outlet(length: float) -> tuple[float, float]:
        far = bisect(lambda t: (1.0 - length) * gained(t) - gas_heat, dew - 5.0, r.return_dry_bulb, "superheating zone")
        total = 0.0
        for k in (-1.0, 0.0, 1.0):
            path = length * (1.0 + k * sizes.spread)
            if path < 1.0:
                rise = (far - dew) * (1.0 - exp(-sizes.vapor_ntu * (1.0 - path)))
                total += rise_of(rise, vapor)
            else:
                total -= CARRY_OVER * (path - 1.0) * h_fg
        return total / 3.0, far

    shortest = max(0.05, 1.0 - 0.98)
    longest = 1.0 - 1.05 * gas_heat / max(gained(dew - 4.9), 1.0)
    length = bisect(lambda s: outlet(s)[0] - gas_heat / flow, shortest, longest, "superheat")
    wall = bisect(lambda t: length * gained(t) - boiling_heat, 230.0, r.return_dry_bulb, "evaporating temperature")
    quality = (h_liquid - row[3]) / h_fg
    boiling = 0.5 * (row[0] + max(quality, 0.0) * (row[1] - row[0]) + row[1])
    if wall < boiling + 0.8:
        raise FixInput(
            f"the evaporator cannot take {r.capacity:.0f} W at {r.evaporating * 1.8 - 459.67:.0f} °F from this air: "
            "lower the evaporating temperature or move more air",
            where="rating",
        )
    two_phase = boiling_heat / (length * (wall - boiling))
    c = (row[4] / row[2]) ** (2.0 / 3.0)
    u = 1.0 - c
    x0 = max(quality, 0.0)
    held = 1.0 - (1.0 / u + c / ((1.0 - x0) * u * u) * log(c + u * x0))
    volume = sizes.indoor_volume * r.capacity
    liquid = length * volume * row[2] * held
    charge = liquid + (volume - liquid / row[2]) * row[4]
    specific = vapor[0]
    spec = CoilSpec(
        volume=volume, wall_capacity=sizes.indoor_metal * r.capacity, two_phase=two_phase,
        vapor=sizes.vapor_ntu * flow * specific,
        hot_gas=sizes.hot_gas_film * two_phase, liquid=sizes.liquid_film * two_phase, refrigerant_flow=flow,
        air=conductance, air_flow=air_flow, friction=friction, spread=sizes.spread,
    )  # fmt: skip
    return _LowSide(spec, charge)


def _size_compressor(
    fluid: Fluid, r: Rating, flow: float, p_low: float, p_high: float, h_out: float, low: _LowSide,
    kind: compressors.Kind, lines: LineSpec, fields: dict[str, object] | None,
) -> _Pump:  # fmt: skip
    row_out = fluid.saturation(p_low)
    suction = p_low - lines.suction_resistance() * flow * flow / row_out[4]
    row, vapor = fluid.saturation(suction), fluid.vapor(suction)
    warmed = lines.suction_conductance * lines.length * (r.outdoor - 3.0 - r.evaporating - r.superheat)
    enthalpy = h_out + max(warmed, 0.0) / flow
    high = fluid.saturation(p_high)
    spec = compressors.typical(kind, 1e-3, 1.0, **(fields or {}))
    machine = compressors.Compressor(spec, r.outdoor + 35.0)
    machine.command(1.0, 1.0)
    machine.speed = 1.0
    machine.run(0.0, fluid, row, vapor, suction, enthalpy, p_high, high, r.outdoor)
    if spec.map540 is None:
        displacement = 1e-3 * flow / machine.flow
        rated = (machine.power - spec.stage_power * 0.5) * flow / machine.flow
        rated /= 1.0 - 0.5 * spec.stage_power
    else:
        displacement, rated = machine.flow / (row[4] * 0.9), machine.power
    scale = flow * 200e3 / (3.0 * TON)
    spec = replace(
        spec, displacement=displacement, rated_power=rated, shell=9000.0 * scale, shell_loss=3.0 * sqrt(scale),
        shell_gas=25.0 * scale,
    )  # fmt: skip
    machine = compressors.Compressor(spec, r.outdoor + 35.0)
    machine.command(1.0, 1.0)
    machine.speed = 1.0
    for _ in range(40):
        machine.run(200.0 / 4.0, fluid, row, vapor, suction, enthalpy, p_high, high, r.outdoor)
    return _Pump(spec, machine.discharge_enthalpy)


def _size_condenser(
    fluid: Fluid, r: Rating, sizes: Sizes, flow: float, p_high: float, h_hot: float, atmosphere: float
) -> tuple[CoilSpec, _Zones]:
    row, vapor = fluid.saturation(p_high), fluid.vapor(p_high)
    loss = 0.6 * sizes.loss / row[8]
    friction = loss * row[4] / (flow * flow)
    h_fg = row[5] - row[3]
    air_flow = r.outdoor_flow * r.capacity * air_density(r.outdoor, atmosphere)
    conductance = sizes.outdoor_ntu * air_flow * AIR_SPECIFIC_HEAT
    air = air_flow * AIR_SPECIFIC_HEAT * (1.0 - exp(-sizes.outdoor_ntu))
    hot = h_hot - row[5]
    superheat = superheat_of(hot, vapor)
    between = 0.5 * (row[0] + row[1])
    heat = flow * (hot + h_fg)
    specific, low_specific = row[6], fluid.vapor(fluid.curves.dew_pressure(r.evaporating))[0]
    approach = (row[0] - r.outdoor) / max(r.subcooling, 0.01)
    if approach <= 1.15:
        raise FixInput("the subcooling asked for is colder than the outdoor air", where="rating")

    def lengths(film: float) -> tuple[float, float, float]:
        both = 1.0 / (1.0 / (sizes.liquid_film * film) + 1.0 / air)
        backed = -log(1.0 - 1.0 / approach) * flow * specific / both if r.subcooling > 0.0 else 0.0
        zone = 1.0 - backed
        if zone <= 0.05:
            return 0.0, 9.0, backed
        wall = r.outdoor + heat / (air * zone)
        if wall >= between - 0.05:
            return 0.0, 9.0, backed
        desuper = flow * hot / superheat / (sizes.hot_gas_film * film) * log(1.0 + superheat / (row[1] - wall))
        return desuper, flow * h_fg / (film * (between - wall)), backed

    most = 1e3 * heat
    if sum(lengths(most)) > 1.0:
        raise FixInput(
            f"the condenser cannot reject {heat:.0f} W at {(r.condensing - r.outdoor) * 1.8:.0f} °F over outdoor: "
            "raise the condensing temperature or move more air",
            where="rating",
        )
    low, high = heat / 100.0, most
    for _ in range(80):
        middle = sqrt(low * high)
        if sum(lengths(middle)) > 1.0:
            low = middle
        else:
            high = middle
    film = high
    desuper, condensing, backed = lengths(film)
    volume = sizes.outdoor_volume * r.capacity
    c = (row[4] / row[2]) ** (2.0 / 3.0)
    u = 1.0 - c
    held = 1.0 - (1.0 / u + c / (u * u) * log(c))
    liquid = (backed + condensing * held) * volume * row[2]
    charge = liquid + (volume - liquid / row[2]) * row[4]
    spec = CoilSpec(
        volume=volume, wall_capacity=sizes.outdoor_metal * r.capacity, two_phase=film,
        vapor=sizes.outdoor_vapor_ntu * flow * low_specific, hot_gas=sizes.hot_gas_film * film,
        liquid=sizes.liquid_film * film, refrigerant_flow=flow, air=conductance, air_flow=air_flow, friction=friction,
        spread=sizes.spread,
    )  # fmt: skip
    return spec, _Zones(charge, {"desuperheating": desuper, "condensing": condensing, "subcooling": backed})


def _size_device(
    curves: Curves, r: Rating, sizes: Sizes, device: Device, flow: float, upstream: float, difference: float,
    row: list[float], p_low: float, txv: dict[str, float], eev: dict[str, float],
) -> tuple[DeviceSpec, float, float]:  # fmt: skip
    density = row[2]
    total = difference * density / (flow * flow)
    if device == "fixed orifice":
        bubble = curves.bubble_pressure(r.condensing - max(r.subcooling, 0.01))
        low = max(throat_pressure(bubble, r.subcooling), upstream - difference)
        return OrificeSpec(area=sqrt(0.5 / ((upstream - low) * density / (flow * flow)))), 0.0, 1.0
    distributor = sizes.distributor * total
    area = sqrt(0.5 / (total - distributor)) / sizes.stroke
    if device == "eev":
        return EevSpec(area=area, **{"target": r.superheat, **eev}), distributor, sizes.stroke  # type: ignore[arg-type]
    at = r.evaporating + r.superheat
    begins = at - sizes.opening_span
    preload = curves.dew_pressure(begins) - p_low
    rate = (curves.dew_pressure(at) - curves.dew_pressure(begins)) / sizes.stroke
    spec = TxvSpec(area=area, preload=preload, rate=rate, port_at=difference)
    if txv:
        spec = replace(spec, **txv)
    return spec, distributor, sizes.stroke
