"""Switches and controllers of a unit: pressure switches, restart delay, condenser fan control, defrost."""

from __future__ import annotations

from typing import Final

from steadfeed.bench.circuit_loop import Circuit

#: Time after a start in which the low-pressure switch is passed over [s] (common practice).
LOW_SWITCH_BYPASS: Final = 90.0
#: Lowest speed of a variable condenser fan, share of full.
LOWEST_FAN_SPEED: Final = 0.1
#: Lag of a variable fan behind the pressure [s].
FAN_LAG: Final = 6.0


class CircuitControl:
    """Control of one circuit.

    tripped: the high-pressure switch has opened and not closed again. low_open: the same of the low-pressure switch.
    defrosting: a defrost is under way. fan: what the condenser fan control asks for, share of full flow.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.tripped = self.low_open = self.defrosting = False
        self.trips = 0
        self.fan = 1.0
        self.defrost_time = 0.0
        self._since_stop = 1e9
        self._since_start = 0.0
        self._since_defrost = 0.0

    def demand(self, dt: float, call: float, power: bool, reset: bool) -> float:
        """Return what the compressor shall do for a call, with every switch in series."""
        circuit = self.circuit
        controls = circuit.equipment.controls
        high, low = circuit.condenser.inlet_pressure, circuit.suction_pressure
        running = circuit.compressor.running
        if running:
            self._since_start += dt
            self._since_stop = 0.0
        else:
            self._since_start = 0.0
            self._since_stop += dt
        if controls.high_switch and high > controls.high_switch and not self.tripped:
            self.tripped = True
            self.trips += 1
        elif self.tripped and high < controls.high_reset and (reset or not controls.manual_reset):
            self.tripped = False
        if controls.low_switch:
            if running and low < controls.low_switch and self._since_start > LOW_SWITCH_BYPASS:
                self.low_open = True
            elif self.low_open and low > controls.low_reset:
                self.low_open = False
        if not power or call <= 0.0 or self.tripped or self.low_open:
            return 0.0
        if not running and self._since_stop < controls.restart_delay:
            return 0.0
        return call

    def fan_share(self, dt: float) -> float:
        """Move the condenser fan control on and return the flow it asks for, share of full."""
        circuit = self.circuit
        controls = circuit.equipment.controls
        if controls.fan_control == "on-off" or not circuit.cooling:
            self.fan = 1.0
            return 1.0
        head = circuit.condenser.outlet_pressure
        if controls.fan_control == "pressure-cycled":
            if head >= controls.fan_on:
                self.fan = 1.0
            elif head <= controls.fan_off:
                self.fan = 0.0
            return self.fan
        wanted = (head - controls.fan_off) / (controls.fan_on - controls.fan_off)
        wanted = min(max(wanted, LOWEST_FAN_SPEED), 1.0)
        self.fan += (wanted - self.fan) * min(1.0, dt / FAN_LAG)
        return self.fan

    def defrost(self, dt: float) -> None:
        """Start or end a defrost by time and metal temperature (heating only)."""
        circuit = self.circuit
        controls = circuit.equipment.controls
        if circuit.equipment.mode != "heating" or controls.defrost_interval <= 0.0:
            return
        if self.defrosting:
            self.defrost_time += dt
            coil = circuit.condenser.coil
            done = coil.wall > controls.defrost_ends and coil.frost < 1e-3
            if done or self.defrost_time > controls.defrost_longest or not circuit.compressor.running:
                self.defrosting = False
                self._since_defrost = 0.0
                circuit.reverse()
        elif circuit.compressor.running:
            cold = circuit.evaporator.coil.wall < controls.defrost_below
            self._since_defrost += dt if cold else 0.0
            if cold and self._since_defrost >= controls.defrost_interval:
                self.defrosting = True
                self.defrost_time = 0.0
                circuit.reverse()
