"""The seam of the bench: what goes into the plant in each step, and every true quantity that comes out of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Inputs:
    """What person, weather, house and thermostat do to the unit. Temperatures [K], humidity ratios [kg/kg].

    call: demand of the thermostat: 0 off, 1 full; a share picks a stage or a speed. second_call: the same for a second
    circuit. power: the disconnect; False stops everything at once. cover: share of the outdoor coil's face that is covered
    [-], the push in cooling. indoor_airflow: indoor flow over rated [-]; restricting it is the push in heating. indoor_fan: None = follows the call; outdoor_fans: share of the outdoor
    fans that are not wired off [-]. panel: share of the outdoor fan's air that bypasses the coil through an open panel
    [-]. auxiliary_heat: in the supply air [W]. reset: press the reset of the high-pressure switch.
    """

    outdoor_temperature: float = 308.15
    outdoor_ratio: float = 0.012
    return_temperature: float = 299.817
    return_ratio: float = 0.01115
    call: float = 1.0
    second_call: float = 0.0
    power: bool = True
    cover: float = 0.0
    indoor_airflow: float = 1.0
    indoor_fan: bool | None = None
    outdoor_fans: float = 1.0
    panel: float = 0.0
    auxiliary_heat: float = 0.0
    reset: bool = False


@dataclass(slots=True)
class CircuitState:
    """True quantities of one circuit at one moment. SI: pressures absolute [Pa], temperatures [K], differences [K].

    Ports: suction_pressure at the service port before the compressor, liquid_pressure at the liquid service valve of the
    outdoor unit, discharge_pressure at the compressor's outlet. Places: suction_line_temperature where the suction
    clamp sits (pipe at the suction port), evaporator_outlet_temperature at the bulb, liquid_line_temperature at the
    liquid service valve, discharge_line_temperature on the hot-gas pipe. evaporating_temperature: dew at the suction
    port; condensing_temperature: bubble at the liquid port; superheat and subcooling from these ports and places,
    evaporator_superheat at the bulb, valve_subcooling and valve_quality at the inlet of the metering device. opening:
    share of the stroke; opening_ratio: effective area over the area at the rating point. Charges: refrigerant in each
    part [kg]. suction_quality: dryness at the compressor, 1 = no liquid. lengths: share of the coil.
    """

    suction_pressure: float
    liquid_pressure: float
    discharge_pressure: float
    valve_inlet_pressure: float
    evaporator_outlet_pressure: float
    evaporator_inlet_pressure: float
    suction_line_temperature: float
    liquid_line_temperature: float
    evaporator_outlet_temperature: float
    discharge_line_temperature: float
    discharge_temperature: float
    valve_inlet_temperature: float
    bulb_temperature: float
    shell_temperature: float
    evaporating_temperature: float
    condensing_temperature: float
    superheat: float
    subcooling: float
    evaporator_superheat: float
    valve_subcooling: float
    valve_quality: float
    suction_quality: float
    compressor_flow: float
    valve_flow: float
    opening: float
    opening_ratio: float
    valve_steps: float
    compressor_current: float
    compressor_power: float
    evaporator_heat: float
    condenser_heat: float
    charge_condenser: float
    charge_evaporator: float
    charge_liquid_line: float
    charge_accumulator: float
    charge_total: float
    two_phase_length: float
    subcooling_length: float
    frost: float
    speed: float
    running: bool
    tripped: bool
    defrosting: bool
    relieving: bool
    unloaded: bool


@dataclass(slots=True)
class State:
    """True state of the whole plant. time [s] since the plant was made; circuits in order.

    Air temperatures [K] (wet bulbs too): outdoor_air, the outdoor coil's inlet (with recirculated air) and outlet,
    return and supply. Currents [A], power [W] of the whole unit. sensible_heat, total_heat: given to (+) or taken from
    (−) the indoor air [W]. airflow: indoor [kg/s]. fans_running: share of the outdoor fans that turn.
    """

    time: float
    circuits: tuple[CircuitState, ...]
    outdoor_air_temperature: float
    coil_inlet_temperature: float
    coil_outlet_temperature: float
    return_air_dry_bulb: float
    return_air_wet_bulb: float
    supply_air_dry_bulb: float
    supply_air_wet_bulb: float
    fan_current: float
    power: float
    sensible_heat: float
    total_heat: float
    airflow: float
    fans_running: float
    cover: float
