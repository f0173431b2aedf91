"""A heat pump while heating: the cooling unit with its coils changed over and the metering device of the outdoor coil."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from steadfeed.bench.air import relative_to_ratio
from steadfeed.bench.design import fahrenheit
from steadfeed.bench.equipment import Equipment, Surroundings
from steadfeed.bench.metering import EevSpec, OrificeSpec, TxvSpec
from steadfeed.bench.plant import Plant
from steadfeed.bench.state import Inputs
from steadfeed.physics.properties import curves
from steadfeed.units import STANDARD_ATMOSPHERE

#: Dew temperature of the outdoor coil at 47 °F outdoors, about which a heating valve is set [K] (common practice: 10–12 °F under).
HEATING_EVAPORATING: Final = fahrenheit(36.0)
#: A heating piston is smaller than the cooling one by about this (flow falls with suction density; own choice).
HEATING_PISTON: Final = 0.75
#: Bulb superheat and span of a heating valve [K].
HEATING_SUPERHEAT: Final = 7.0 / 1.8
OPENING_SPAN: Final = 10.0 / 1.8
#: Area of a heating valve over the cooling one, and its slower bulb [s] (the larger coil needs a calmer valve; own choice).
HEATING_AREA: Final = 0.75
HEATING_BULB_LAG: Final = 25.0
_TRIES: Final = 3


def heating_conditions(outdoor: float = fahrenheit(47.0), indoor: float = fahrenheit(70.0)) -> Inputs:
    """Inputs at a heating rating point (AHRI 210/240 H1: 47/43 °F outdoors, 70/60 °F indoors)."""
    return Inputs(
        outdoor_temperature=outdoor,
        outdoor_ratio=relative_to_ratio(outdoor, 0.73, STANDARD_ATMOSPHERE),
        return_temperature=indoor,
        return_ratio=0.0087,
    )


def heating(unit: Equipment, subcooling: float = 10.0 / 1.8) -> Equipment:
    """Return the same unit in heating.

    The outdoor valve is set for 36 °F evaporating. The liquid that the smaller indoor coil has no room for is parked in
    the compensator; how much follows from runs at 47 °F that settle at `subcooling` [K].
    """
    fluid = curves(unit.refrigerant)
    device = unit.device
    at = HEATING_EVAPORATING + HEATING_SUPERHEAT
    if isinstance(device, TxvSpec):
        evaporating = fluid.dew_pressure(HEATING_EVAPORATING)
        begins = fluid.dew_pressure(at - OPENING_SPAN)
        rate = (fluid.dew_pressure(at) - begins) / unit.device_opening
        heating_device: TxvSpec | EevSpec | OrificeSpec = replace(
            device,
            area=device.area * HEATING_AREA,
            preload=begins - evaporating,
            rate=rate,
            bulb_lag=max(device.bulb_lag, HEATING_BULB_LAG),
        )
    elif isinstance(device, OrificeSpec):
        heating_device = OrificeSpec(area=device.area * HEATING_PISTON)
    else:
        heating_device = device
    made = replace(
        unit,
        mode="heating",
        device=heating_device,
        defrost_device=device,
        rated_evaporating=HEATING_EVAPORATING,
        controls=replace(unit.controls, fan_control="on-off"),
    )
    parked, step = 0.2 * unit.charge, 0.1 * unit.charge
    inputs = heating_conditions()
    trial = replace(made, controls=replace(made.controls, defrost_interval=0.0, restart_delay=0.0))
    last: tuple[float, float] | None = None
    for _ in range(_TRIES):
        plant = Plant(replace(trial, compensator=parked), surroundings=Surroundings(), inputs=inputs, step=0.5)
        for _ in range(60):
            state = plant.advance(10.0, inputs)
        error = state.circuits[0].subcooling - subcooling
        if last is not None and abs(error - last[1]) > 1e-6:
            step = -error * (parked - last[0]) / (error - last[1])
        elif error < 0.0:
            step = -step
        last = (parked, error)
        parked = min(max(parked + max(-0.15 * unit.charge, min(0.15 * unit.charge, step)), 0.0), 0.6 * unit.charge)
    return replace(made, compensator=parked)
