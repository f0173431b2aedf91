"""From settings to a plant: sized, with its faults, in its place, at standstill."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

from steadfeed.bench.air import humidity_ratio, relative_to_ratio
from steadfeed.bench.design import Rating, Sizes, split_system
from steadfeed.bench.equipment import ControlSpec, Equipment, Surroundings
from steadfeed.bench.faults import Faults
from steadfeed.bench.heat_pump import heating
from steadfeed.bench.plant import STEP, Plant
from steadfeed.bench.settings import Settings, UnitSettings, WeatherSettings
from steadfeed.bench.state import Inputs
from steadfeed.physics.properties import Curves, curves
from steadfeed.units import standard_atmosphere

#: Condensing dew temperature at which a usual high-pressure switch opens [K] (common practice: R-410A 610 psig is 150 °F).
SWITCH_AT: Final = (150.0 + 459.67) / 1.8
#: … and at which it lets go again.
SWITCH_RESET_AT: Final = (122.0 + 459.67) / 1.8
#: Piping inside a packaged unit [m].
INSIDE: Final = 4.0
#: Share of the curves' range that a switch setting must stay inside [K below the end].
END_MARGIN: Final = 2.0


def atmosphere_of(settings: Settings) -> float:
    """Pressure of the air at the site [Pa]."""
    return standard_atmosphere(settings.weather.altitude)


def switch_of(unit: UnitSettings, fluid: Curves) -> tuple[float, float]:
    """Trip and reset pressure of the high-pressure switch [Pa absolute]."""
    top = fluid.maximum_temperature - END_MARGIN
    trip = unit.high_switch or fluid.dew_pressure(min(SWITCH_AT, top))
    return trip, min(fluid.dew_pressure(min(SWITCH_RESET_AT, top - 15.0)), 0.8 * trip)


def equipment_of(settings: Settings) -> Equipment:
    """Size the unit (one circuit of it). Raises FixInput when its rating point asks for the impossible."""
    return _sized(settings.unit)


@lru_cache(maxsize=64)
def _sized(unit: UnitSettings) -> Equipment:
    fluid = curves(unit.refrigerant)
    trip, reset = switch_of(unit, fluid)
    controls = ControlSpec(
        high_switch=trip, high_reset=reset, manual_reset=unit.manual_reset, low_switch=unit.low_switch,
        low_reset=1.4 * unit.low_switch, fan_control=unit.fan_control, fan_on=unit.fan_on, fan_off=unit.fan_off,  # type: ignore[arg-type]
    )  # fmt: skip
    share = 1.0 / unit.circuits
    rating = Rating(
        capacity=unit.capacity * share, evaporating=unit.evaporating, condensing=unit.condensing,
        superheat=unit.superheat, subcooling=unit.subcooling,
    )  # fmt: skip
    sizes = Sizes(stroke=unit.stroke, opening_span=unit.opening_span)
    txv: dict[str, float] = {"bulb_lag": unit.bulb_lag, "bleed": unit.bleed, "port": unit.port, "mop": unit.mop}
    if unit.hard_shut_off:
        txv["leak"] = 0.0
    eev: dict[str, float] = {
        "closes_off": unit.closes_off,
        "gain": 0.10 * unit.valve_gain,
        "proportional": 3.0 * unit.valve_gain,
    }
    fields: dict[str, object] = {}
    if unit.compressor_control in ("two-stage", "tandem"):
        fields["stages"] = (0.67, 1.0) if unit.compressor_control == "two-stage" else (0.5, 1.0)
    elif unit.compressor_control == "variable-speed":
        fields["speed_range"] = (unit.minimum_speed, 1.15)
    if unit.unloads_below:
        fields["unloads_below"] = unit.unloads_below
    made = split_system(
        fluid, rating=rating, sizes=sizes, device=unit.metering_device, compressor=unit.compressor,   # type: ignore[arg-type]
        length=INSIDE if unit.packaged else unit.line_length, lift=0.0 if unit.packaged else unit.lift, controls=controls,
        txv=txv, eev=eev, compressor_fields=fields or None, outdoor_fans=unit.outdoor_fans,
        accumulator=unit.accumulator, receiver=unit.receiver, packaged=unit.packaged,
    )  # fmt: skip
    if unit.circuits == 2:
        made = replace(made, interlaced=unit.interlaced)
    return heating(made, subcooling=unit.subcooling) if unit.mode == "heating" else made


def base_inputs(weather: WeatherSettings, atmosphere: float) -> Inputs:
    """Air at the start, nothing called for yet."""
    return Inputs(
        outdoor_temperature=weather.outdoor,
        outdoor_ratio=relative_to_ratio(weather.outdoor, weather.outdoor_humidity, atmosphere),
        return_temperature=weather.return_dry_bulb + weather.pull_down,
        return_ratio=humidity_ratio(weather.return_dry_bulb, weather.return_wet_bulb, atmosphere),
        call=0.0,
        indoor_airflow=weather.indoor_airflow,
        auxiliary_heat=weather.auxiliary_heat,
    )


def plant_of(settings: Settings, step: float = STEP) -> Plant:
    """Make the plant at standstill. step: of the integration [s]."""
    weather = settings.weather
    atmosphere = atmosphere_of(settings)
    unit = equipment_of(settings)
    faults: Faults | tuple[Faults, Faults] = settings.faults
    equipment: Equipment | tuple[Equipment, Equipment] = unit
    if settings.unit.circuits == 2:
        equipment, faults = (unit, unit), (settings.faults, settings.second_faults)
    place = Surroundings(
        atmosphere=atmosphere, line_air=weather.line_air, recirculation=weather.recirculation,
        always_recirculated=weather.always_recirculated,
    )  # fmt: skip
    return Plant(equipment, faults, place, base_inputs(weather, atmosphere), step)
