"""Reading the true state of a circuit out of its parts."""

from __future__ import annotations

from steadfeed.bench.circuit_loop import Circuit
from steadfeed.bench.state import CircuitState


def circuit_state(circuit: Circuit, tripped: bool, defrosting: bool) -> CircuitState:
    """Return every true quantity of a circuit as it stands."""
    condenser, evaporator, compressor, device = (
        circuit.condenser, circuit.evaporator, circuit.compressor, circuit.device,
    )  # fmt: skip
    fluid = circuit.fluid
    suction = circuit.suction_pressure
    liquid = condenser.outlet_pressure if circuit.cooling else circuit.valve_pressure
    discharge = condenser.inlet_pressure
    discharge += circuit.discharge_resistance * circuit.flow * abs(circuit.flow) / condenser.row[4]
    evaporating = fluid.saturation(suction)[1]
    condensing = fluid.saturation(liquid)[0]
    liquid_place = circuit.liquid_pipe if circuit.cooling else circuit.line_temperature
    suction_place = circuit.suction_temperature if compressor.running else circuit.suction_line.pipe
    rated = device.spec.area * (device.rated if device.rated > 0.0 else 1.0)
    return CircuitState(
        suction_pressure=suction,
        liquid_pressure=liquid,
        discharge_pressure=discharge,
        valve_inlet_pressure=circuit.valve_pressure,
        evaporator_outlet_pressure=evaporator.outlet_pressure,
        evaporator_inlet_pressure=evaporator.coil.pressure + 0.5 * evaporator.loss,
        suction_line_temperature=suction_place,
        liquid_line_temperature=liquid_place,
        evaporator_outlet_temperature=circuit.outlet_pipe,
        discharge_line_temperature=circuit.discharge_line.pipe,
        discharge_temperature=circuit.discharge_temperature,
        valve_inlet_temperature=circuit.line_temperature,
        bulb_temperature=device.bulb,
        shell_temperature=compressor.shell,
        evaporating_temperature=evaporating,
        condensing_temperature=condensing,
        superheat=suction_place - evaporating,
        subcooling=condensing - liquid_place,
        evaporator_superheat=circuit.outlet_pipe - evaporator.dew_outlet,
        valve_subcooling=circuit.valve_subcooling,
        valve_quality=max(circuit.valve_quality, 0.0),
        suction_quality=circuit.suction_quality,
        compressor_flow=circuit.flow,
        valve_flow=circuit.valve_flow,
        opening=device.opening,
        opening_ratio=device.area_now / rated,
        valve_steps=device.steps,
        compressor_current=compressor.current,
        compressor_power=compressor.power,
        evaporator_heat=evaporator.heat,
        condenser_heat=condenser.heat,
        charge_condenser=condenser.coil.mass,
        charge_evaporator=evaporator.coil.mass,
        charge_liquid_line=circuit.line_mass,
        charge_accumulator=circuit.held + circuit.sump,
        charge_total=circuit.charge_total(),
        two_phase_length=evaporator.length,
        subcooling_length=condenser.subcooling_zone,
        frost=max(evaporator.coil.frost, condenser.coil.frost),
        speed=compressor.speed,
        running=compressor.running,
        tripped=tripped,
        defrosting=defrosting,
        relieving=compressor.relieving,
        unloaded=compressor.unloaded,
    )
