"""One refrigerant circuit put together: compressor, condenser, liquid line, metering device, evaporator, suction line.

In cooling the indoor coil evaporates and the long vapor line carries suction gas; in heating the outdoor coil
evaporates and the same line carries hot gas. A defrost turns one into the other while running (`reverse`).
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from steadfeed.bench.air import ICE_HEAT, SaturatedAir
from steadfeed.bench.coil import Coil
from steadfeed.bench.compressor import Compressor
from steadfeed.bench.condenser import Condenser
from steadfeed.bench.equipment import Equipment, Surroundings
from steadfeed.bench.evaporator import GAS_CONSTANT, Evaporator
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.fluid import Fluid, superheat_of
from steadfeed.bench.lines import GRAVITY, LineSpec, VaporLine
from steadfeed.bench.metering import (
    FLASH_EXPONENT,
    Device,
    DeviceSpec,
    Eev,
    EevSpec,
    Orifice,
    OrificeSpec,
    Txv,
    TxvSpec,
    feed,
    throat_pressure,
)

#: Hot-gas space between compressor and coil [m3 per m3/s of displacement].
HOT_GAS_SPACE: Final = 0.25
#: Gas space of a shell [m3 per m3/s of displacement] (a 3-ton scroll: about 2 litres).
SHELL_SPACE: Final = 1.0
#: Time in which liquid settles when the flow stops, and spreads when it starts [s].
SETTLING: Final = 15.0
#: Time in which the liquid line follows the state of what fills it [s].
LINE_FILLING: Final = 3.0
#: Lag of a pipe wall behind what flows in it [s].
PIPE_LAG: Final = 5.0
#: Volume of vapor exchanged through a fully open device at standstill, which carries non-condensable gas [m3/s]
#: (own choice: the gas is spread after about ten minutes).
GAS_SPREADING: Final = 2e-5
#: Time in which the liquid in an accumulator follows the bubble line [s].
HELD_LAG: Final = 4.0
#: Refrigerant flow below which a circuit counts as standing [kg/s].
STANDING_FLOW: Final = 1e-6
#: From shell to refrigerant gathered in it [W/K].
SUMP_CONDUCTANCE: Final = 8.0


def make_device(equipment: Equipment, spec: DeviceSpec, faults: Faults, fluid: Fluid, temperature: float) -> Device:
    """Build the state of a metering device, at standstill and at a temperature [K]."""
    if isinstance(spec, TxvSpec):
        return Txv(
            spec, fluid.curves, faults.metering, temperature, equipment.device_opening, equipment.rated_evaporating
        )
    if isinstance(spec, EevSpec):
        return Eev(spec, faults.metering, temperature, equipment.device_opening)
    assert isinstance(spec, OrificeSpec)
    return Orifice(spec, faults.metering, temperature)


class Circuit:
    """State of one circuit, made at standstill: every part at the temperature of its place, both sides at one pressure.

    indoor, outdoor [K]: where the two coils are. Masses [kg], pressures [Pa], temperatures [K], flows [kg/s]. The
    energies are running sums [J]: heat_taken from the evaporating coil's air, heat_given to the condensing coil's air,
    work put in, heat_lost to the air around shell and lines.
    """

    def __init__(
        self, equipment: Equipment, faults: Faults, surroundings: Surroundings, fluid: Fluid, saturated_air: SaturatedAir,
        indoor: float, outdoor: float,
    ) -> None:  # fmt: skip
        self.equipment, self.faults, self.surroundings, self.fluid = equipment, faults, surroundings, fluid
        spec, lines = equipment.compressor, equipment.lines
        self.cooling = cooling = equipment.mode == "cooling"
        low_spec, high_spec = equipment.indoor_coil, equipment.outdoor_coil
        low_place, high_place = indoor, outdoor
        if not cooling:
            low_spec, high_spec, low_place, high_place = high_spec, low_spec, high_place, low_place
        low_space, high_space = self._spaces()
        curves = fluid.curves
        coldest = min(max(min(indoor, outdoor), curves.minimum_temperature + 0.5), curves.maximum_temperature - 0.5)
        pressure = curves.dew_pressure(coldest)
        row = fluid.saturation(pressure)
        charge = equipment.charge * faults.charge - equipment.dissolved - (0.0 if cooling else equipment.compensator)
        self.line_volume = lines.liquid_volume()
        self.line_mass = 0.9 * self.line_volume * row[2]
        high_volume = high_spec.volume + high_space + equipment.receiver
        low_volume = low_spec.volume + low_space
        if high_place <= low_place:
            low_mass = 0.95 * row[4] * low_volume
            high_mass = charge - low_mass - self.line_mass
        else:
            # most of it gathers in the colder coil, but a valve that shuts keeps the liquid where it was left
            high_mass = max(0.5 * (charge - self.line_mass), 0.95 * row[4] * high_volume)
            low_mass = charge - high_mass - self.line_mass
        gas = faults.non_condensables * surroundings.atmosphere / (GAS_CONSTANT * 293.15) * (high_volume + low_volume)
        self.condenser = Condenser(
            fluid,
            Coil(high_spec, pressure, high_mass, high_place),
            high_space,
            gas,
            equipment.receiver,
            equipment.receiver_loss,
        )
        self.evaporator = Evaporator(fluid, Coil(low_spec, pressure, low_mass, low_place), low_space, saturated_air)
        if high_place > low_place:
            self.condenser.coil.pressure = curves.dew_pressure(min(high_place, curves.maximum_temperature - 0.5))
        self.compressor = Compressor(spec, outdoor, faults.compressor_leak)
        self.compressor.discharge_enthalpy = row[5]
        self.device = make_device(equipment, equipment.device, faults, fluid, low_place)
        self._other_device: Device | None = None
        self.long_line = _vapor_line(lines, lines.length, equipment.rated_flow, outdoor)
        self.stub = _vapor_line(lines, 1.0, equipment.rated_flow, outdoor)
        self._arrange()
        self.line_enthalpy = row[3]
        per_flow = 1000.0 / (equipment.rated_flow * equipment.rated_flow)
        blocked = faults.liquid_restriction + faults.metering.screen
        self.restriction = blocked * equipment.rated_difference * per_flow
        self.held = self.sump = 0.0
        self.held_enthalpy = row[3]
        self.standing = 1.0
        self.flow = self.valve_flow = self.leak_flow = self.line_in = self.coil_out = 0.0
        self.valve_quality = self.valve_subcooling = 0.0
        self.valve_pressure = self.suction_pressure = pressure
        self.suction_temperature = self.discharge_temperature = self.line_temperature = outdoor
        self.suction_quality = 1.0
        self.outlet_pipe, self.liquid_pipe = low_place, high_place
        self.heat_taken = self.heat_given = self.work = self.heat_lost = 0.0
        self.valve_row = row
        self.line_gained = 0.0
        self.condenser.prepare(0.0, row[5], 0.0, 1.0, high_spec.air, outdoor)
        self.evaporator.prepare(0.0, 1.0)

    def _spaces(self) -> tuple[float, float]:
        """Vapor volumes beyond the coils on the low and on the high side [m3]."""
        equipment = self.equipment
        swept, line = equipment.compressor.displacement, equipment.lines.suction_volume()
        low = SHELL_SPACE * swept + equipment.accumulator
        high = HOT_GAS_SPACE * swept
        return (low + line, high) if self.cooling else (low, high + line)

    def _arrange(self) -> None:
        """Set which line carries what, and its losses, for the present direction."""
        lines = self.equipment.lines
        vapor = lines.suction_resistance()
        self.line_resistance = lines.liquid_resistance()
        if self.cooling:
            self.suction_line, self.discharge_line = self.long_line, self.stub
            self.suction_resistance, self.discharge_resistance = vapor, 0.0
            self.lift = lines.lift
        else:
            self.suction_line, self.discharge_line = self.stub, self.long_line
            self.suction_resistance, self.discharge_resistance = 0.1 * vapor, vapor
            self.lift = -lines.lift

    def reverse(self) -> None:
        """Throw the reversing valve: the coils change roles, refrigerant and metal stay where they are."""
        evaporator, condenser = self.evaporator, self.condenser
        before = self.stored_energy()
        low_row, high_row = evaporator.row, condenser.row
        low_density, high_density = low_row[4], high_row[4]
        cold_coil, hot_coil = evaporator.coil, condenser.coil
        total = cold_coil.mass + hot_coil.mass
        cold_inside = cold_coil.mass - low_density * evaporator.space
        hot_inside = hot_coil.mass - high_density * condenser.space
        self.cooling = not self.cooling
        low_space, high_space = self._spaces()
        spare = max(total - cold_inside - hot_inside - low_density * low_space, 0.0)
        hot_coil.mass = total - cold_inside - spare
        cold_coil.mass = cold_inside + spare
        evaporator.take_over(hot_coil, low_space)
        condenser.take_over(cold_coil, high_space)
        self._arrange()
        if self._other_device is None:
            spec = self.equipment.defrost_device or self.equipment.device
            self._other_device = make_device(self.equipment, spec, HEALTHY, self.fluid, self.outlet_pipe)
        self.device, self._other_device = self._other_device, self.device
        self.outlet_pipe = hot_coil.wall
        self.standing = 0.5
        # the vapor that changed sides, to the last joule: the metal of the larger coil evens it out
        condenser.prepare(0.0, low_row[5], 0.0, self.standing, cold_coil.spec.air, self.line_temperature)
        evaporator.prepare(0.0, self.standing)
        coil = max(hot_coil, cold_coil, key=lambda c: c.spec.wall_capacity)
        even = (before - self.stored_energy()) / coil.spec.wall_capacity
        coil.wall += even
        coil.far_wall += even

    def step(
        self, dt: float, demand: float, outdoor: float, around_bulb: float, low_air: tuple[float, float],
        low_side: tuple[float, float, float], high_air: float, high_side: tuple[float, float, float], far_open: float,
    ) -> None:  # fmt: skip
        """Take one step.

        demand: 0 = compressor off. outdoor: air around compressor and lines [K]. around_bulb [K]. low_air: temperature
        [K] and humidity ratio at the evaporating coil; high_air: temperature at the condensing coil; low_side,
        high_side: their air sides as `Coil.air_side` gives them. far_open: how much better the air reaches the
        subcooling zone than the coil on the whole [-].
        """
        condenser, evaporator, compressor, device = self.condenser, self.evaporator, self.compressor, self.device
        equipment = self.equipment
        rated = equipment.rated_flow
        compressor.command(dt, demand)
        running = compressor.running
        self.standing += ((0.0 if running else 1.0) - self.standing) * min(1.0, dt / SETTLING)
        standing = self.standing

        discharge_line = self.discharge_line
        hot = discharge_line.outlet_enthalpy if self.flow > STANDING_FLOW else compressor.discharge_enthalpy
        condenser.prepare(
            max(self.flow - self.leak_flow, 0.0),
            hot,
            max(self.line_in, 0.0),
            standing,
            high_side[0] * far_open,
            outdoor,
        )
        evaporator.prepare(self.coil_out, standing)
        low_row, low_vapor, high_row = evaporator.row, evaporator.vapor_row, condenser.row

        # suction side: row at the compressor from the one at the coil
        outlet = evaporator.outlet_pressure
        # loss = resistance · flow² / density, with a flow that follows suction pressure: solved for that pressure
        pull = self.flow / self.suction_pressure
        loss = self.suction_resistance * pull * pull / low_row[4]
        suction = outlet if loss * outlet < 1e-9 else (sqrt(1.0 + 4.0 * loss * outlet) - 1.0) / (2.0 * loss)
        self.suction_pressure = suction
        lower = suction - evaporator.coil.pressure - evaporator.gas_pressure
        s_row = [
            low_row[0] + low_row[7] * lower, low_row[1] + low_row[8] * lower, low_row[2],
            low_row[3] + low_row[9] * lower, max(low_row[4] + low_row[11] * lower, 0.05), low_row[5] + low_row[10] * lower,
        ]  # fmt: skip
        line = self.suction_line
        line_air = outdoor + self.surroundings.line_air if self.cooling else outdoor
        line.advance(
            dt, self.coil_out, evaporator.outlet_enthalpy, evaporator.outlet_temperature, low_vapor[0], line_air
        )
        enthalpy = line.outlet_enthalpy
        latent = s_row[5] - s_row[3]

        # accumulator and shell: liquid leaves the stream, or boils into it
        taken = 0.0
        if equipment.accumulator > 0.0 and (self.held > 1e-5 or enthalpy < s_row[5]):
            enthalpy, taken = self._accumulate(dt, enthalpy, s_row)
        if self.sump > 0.0 or not running:
            gathered = self._gather(dt, s_row, latent)
            taken += gathered
            if running and self.flow > STANDING_FLOW:
                enthalpy += min(-gathered / self.flow, 1.0) * (s_row[5] - enthalpy)

        # compressor, with what leaks back
        hot_side = condenser.inlet_pressure + self.discharge_resistance * self.flow * abs(self.flow) / high_row[4]
        if self.leak_flow > 0.0 and self.flow > STANDING_FLOW:
            enthalpy += min(self.leak_flow / self.flow, 0.9) * (compressor.discharge_enthalpy - enthalpy)
        compressor.run(dt, self.fluid, s_row, low_vapor, suction, enthalpy, hot_side, high_row, outdoor)
        self.flow = flow = compressor.flow
        leak = 0.0
        path = self.faults.reversing_leak + (0.0 if running else 0.3 * self.faults.compressor_leak)
        if path > 0.0:
            leak = path * rated * (hot_side - suction) / equipment.rated_difference
            if running:
                leak = min(leak, 0.9 * flow)
        self.leak_flow = leak
        over = enthalpy - s_row[5]
        if over > 0.0:
            self.suction_temperature = s_row[1] + superheat_of(over, low_vapor)
            self.suction_quality = 1.0
        else:
            self.suction_temperature = s_row[1]
            self.suction_quality = max(0.0, 1.0 + over / latent)

        # metering device
        upstream = condenser.outlet_pressure - high_row[2] * GRAVITY * self.lift
        downstream = evaporator.coil.pressure + evaporator.gas_pressure + 0.5 * evaporator.loss
        if device.chokes and running and self.valve_quality <= 0.0:
            slope = self.valve_row[7]
            bubble = max(self.valve_pressure - self.valve_subcooling / slope, 0.3 * self.valve_pressure)
            downstream = max(downstream, throat_pressure(bubble, self.valve_subcooling))
        self.valve_flow = valve_flow = feed(
            device.area_now, self.line_resistance + self.restriction + equipment.distributor, upstream, downstream,
            high_row[2], high_row[4], max(self.valve_quality, 0.0),
        )  # fmt: skip
        self._liquid_line(dt, condenser.outlet_enthalpy, upstream, high_row, line_air)
        if valve_flow >= 0.0:
            enthalpy_in = self.line_enthalpy
        else:  # backwards at standstill: vapor rises through the open device
            enthalpy_in = low_row[5]

        # both sides
        self.coil_out = coil_out = flow - leak + taken
        leaving = evaporator.outlet_enthalpy if coil_out >= 0.0 else high_row[5]
        drive = max(abs(upstream - downstream), 1e4)
        answer = abs(valve_flow) / (2.0 * drive)
        discharge_line.advance(
            dt, flow, compressor.discharge_enthalpy, self.discharge_temperature, 1100.0, outdoor
        )  # fmt: skip
        hot = discharge_line.outlet_enthalpy if flow > STANDING_FLOW else high_row[5]
        out = condenser.outlet_enthalpy if self.line_in >= 0.0 else enthalpy_in
        condenser.advance(dt, flow - leak, hot, self.line_in, out, answer, high_air, high_side, far_open)
        evaporator.advance(
            dt, valve_flow, enthalpy_in, coil_out, leaving, answer + flow / suction, low_air[0], low_air[1], low_side
        )
        vapor = self.fluid.vapor(condenser.vapor_pressure)
        over = compressor.discharge_enthalpy - high_row[5]
        self.discharge_temperature = high_row[1] + (superheat_of(over, vapor) if over > 0.0 else 0.0)

        if condenser.gas or evaporator.gas:
            self._move_gas(dt)

        # pipes and the device itself
        lag = min(1.0, dt / PIPE_LAG)
        gas = evaporator.outlet_temperature if standing < 0.5 else evaporator.coil.far_wall
        self.outlet_pipe += (gas - self.outlet_pipe) * lag
        self.liquid_pipe += (condenser.outlet_temperature - self.liquid_pipe) * lag
        device.advance(
            dt, running, self.outlet_pipe, outlet, around_bulb, upstream - downstream,
            self.outlet_pipe - evaporator.dew_outlet,
        )  # fmt: skip
        self.heat_taken += dt * evaporator.air_heat
        self.heat_given += dt * condenser.air_heat
        self.work += dt * compressor.power
        self.heat_lost += dt * (
            compressor.heat_lost + condenser.lost - line.gained - discharge_line.gained - self.line_gained
        )

    def _liquid_line(self, dt: float, condensate: float, upstream: float, high: list[float], around: float) -> None:
        """Fill, carry and warm the liquid line; find the state at the metering device."""
        flow = self.valve_flow
        passed = (self.line_resistance + self.restriction) * flow * abs(flow) / high[2]
        if self.valve_quality > 0.0:
            passed *= (1.0 + self.valve_quality * (high[2] / high[4] - 1.0)) ** FLASH_EXPONENT
        pressure = max(upstream - passed, 0.3 * upstream)
        self.valve_pressure += (pressure - self.valve_pressure) * min(1.0, dt / 1.0)
        self.valve_row = row = self.fluid.saturation(self.valve_pressure)
        latent = row[5] - row[3]
        quality = (self.line_enthalpy - row[3]) / latent
        self.valve_quality = min(quality, 1.0)
        if quality <= 0.0:
            self.valve_subcooling = -quality * latent / row[6]
            self.line_temperature = row[0] - self.valve_subcooling
            density = row[2]
        else:
            self.valve_subcooling = 0.0
            self.line_temperature = row[0] + self.valve_quality * (row[1] - row[0])
            density = row[2] / (1.0 + 0.6 * self.valve_quality * (row[2] / row[4] - 1.0))
        self.line_in = flow + (self.line_volume * density - self.line_mass) / LINE_FILLING
        if self.line_in < 0.0:
            self.line_in = min(flow, 0.0)
        lines = self.equipment.lines
        self.line_gained = lines.liquid_conductance * lines.length * (around - self.line_temperature)
        mass = max(self.line_mass, 2.0 * dt * self.line_in, 0.003 * self.line_volume * row[2])
        entering = self.line_in * (condensate - self.line_enthalpy) if self.line_in > 0.0 else 0.0
        self.line_enthalpy += dt * (entering + self.line_gained) / mass
        self.line_mass += dt * (self.line_in - flow)

    def _accumulate(self, dt: float, enthalpy: float, row: list[float]) -> tuple[float, float]:
        """Separate liquid from the stream; return what the compressor gets [J/kg] and the liquid taken out [kg/s].

        The vessel gives off dew vapor and, through its oil hole, a little liquid: while it holds some, suction
        superheat is pinned near zero. Its liquid follows the bubble line.
        """
        latent = row[5] - row[3]
        if self.held <= 1e-5:
            self.held_enthalpy = row[3]
        fullness = self.held / (self.held + 0.02 * self.equipment.accumulator * row[2])
        leaving = row[5] - 0.02 * fullness * latent
        out = leaving if enthalpy < row[5] else enthalpy + fullness * (leaving - enthalpy)
        liquid = self.held_enthalpy
        warming = (row[3] - liquid) / HELD_LAG
        coming = (self.flow * (out - liquid) + self.held * warming) / max(enthalpy - liquid, 0.2 * latent)
        taken = coming - self.flow
        self.held_enthalpy += dt * warming
        if taken * dt < -self.held:
            taken = -self.held / dt
        self.held += dt * taken
        return out, taken

    def _gather(self, dt: float, row: list[float], latent: float) -> float:
        """Condense vapor in a shell colder than the low side, boil it off when the shell is warmer [kg/s]."""
        shell = self.compressor
        rate = SUMP_CONDUCTANCE * (row[1] - shell.shell) / latent
        if rate < 0.0:
            rate = max(rate, -self.sump / dt)
        self.sump += dt * rate
        shell.shell += dt * rate * latent / shell.spec.shell
        return rate

    def _move_gas(self, dt: float) -> None:
        """Sweep non-condensable gas to the high side while running; let it spread through the device at standstill."""
        low, high = self.evaporator, self.condenser
        if self.flow > STANDING_FLOW:
            vapor = max(low.coil.mass - low.liquid, 1e-3)
            moved = -low.gas * min(1.0, dt * self.flow / vapor)
        else:
            opened = min(self.device.area_now / self.device.spec.area, 1.0)
            moved = dt * GAS_SPREADING * opened * (high.gas / high.room - low.gas / low.room)
        high.gas -= moved
        low.gas += moved

    def charge_total(self) -> float:
        """Refrigerant in the circuit [kg] (without oil and compensator)."""
        return self.condenser.coil.mass + self.evaporator.coil.mass + self.line_mass + self.held + self.sump

    def stored_energy(self) -> float:
        """Energy held in refrigerant and metal, against an arbitrary zero [J]."""
        low_coil, high_coil = self.evaporator.coil, self.condenser.coil
        held = self.held * self.held_enthalpy + self.sump * self.evaporator.row[3]
        return (
            self.evaporator.energy + self.condenser.energy + self.evaporator.metal_energy()
            + self.condenser.metal_energy() + self.line_mass * self.line_enthalpy
            + self.long_line.capacity * self.long_line.pipe + self.stub.capacity * self.stub.pipe
            + self.compressor.spec.shell * self.compressor.shell + held
            - (low_coil.frost + high_coil.frost) * ICE_HEAT
        )  # fmt: skip


def _vapor_line(lines: LineSpec, length: float, rated: float, temperature: float) -> VaporLine:
    film = 2400.0 * rated * min(1.0, length / 7.6)
    return VaporLine(
        max(length, 1.0) * lines.heat_capacity, lines.suction_conductance * length, film, rated, temperature
    )
