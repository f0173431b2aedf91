"""The plant: one or two circuits on shared air, with fans and switches."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, sqrt
from typing import Final

from steadfeed.bench.air import AIR_SPECIFIC_HEAT, WATER_HEAT, SaturatedAir, wet_bulb
from steadfeed.bench.circuit_loop import Circuit
from steadfeed.bench.coil import Coil
from steadfeed.bench.controls import CircuitControl
from steadfeed.bench.equipment import Equipment, FanSpec, Surroundings
from steadfeed.bench.faults import HEALTHY, Faults
from steadfeed.bench.fluid import fluid_of
from steadfeed.bench.observe import circuit_state
from steadfeed.bench.state import Inputs, State
from steadfeed.physics.properties import curves

#: Longest step of the integration [s]; docs/bench.md shows what halving it changes.
STEP: Final = 0.25
#: Share of the face that a cover cannot close (gaps, louvers).
COVER_GAPS: Final = 0.03
#: Air temperatures at which recirculation is cut off: exhaust drawn in never exceeds this share.
MOST_RECIRCULATED: Final = 0.6
#: Frost that halves the air flow, per capacity [kg/W] (about 1 kg on a 3-ton coil; own choice).
HALVING_FROST: Final = 1.0e-4


class Plant:
    """A unit in its place, at standstill when made. `advance` moves it on, `state` is what is true now.

    equipment, faults: one circuit's, or one of each per circuit (two at most). surroundings: the place. inputs: what
    reigned before (temperatures of air and metal at the start). step: longest step of the integration [s].
    """

    def __init__(
        self, equipment: Equipment | Sequence[Equipment], faults: Faults | Sequence[Faults] = HEALTHY,
        surroundings: Surroundings = Surroundings(), inputs: Inputs | None = None, step: float = STEP,  # noqa: B008
    ) -> None:  # fmt: skip
        start = inputs or Inputs()
        units = (equipment,) if isinstance(equipment, Equipment) else tuple(equipment)
        wrong = (faults,) * len(units) if isinstance(faults, Faults) else tuple(faults)
        if not 1 <= len(units) <= 2 or len(wrong) != len(units):
            raise ValueError(
                f"a plant has one or two circuits, each with its faults: got {len(units)} and {len(wrong)}"
            )
        self.surroundings = surroundings
        self.step_length = step
        self.time = 0.0
        self.inputs = start
        self.saturated_air = SaturatedAir(surroundings.atmosphere)
        self.circuits = [
            Circuit(
                unit, fault, surroundings, fluid_of(curves(unit.refrigerant)), self.saturated_air,
                start.return_temperature, start.outdoor_temperature,
            )
            for unit, fault in zip(units, wrong, strict=True)
        ]  # fmt: skip
        self.controls = [CircuitControl(circuit) for circuit in self.circuits]
        self.cooling = units[0].mode == "cooling"
        self.outdoor_inlet = self.outdoor_outlet = start.outdoor_temperature
        self.fans_running = 0.0
        self.indoor_fan_on = False

    def advance(self, dt: float, inputs: Inputs) -> State:
        """Move on by dt [s] under constant inputs and return the state at its end."""
        count = max(1, ceil(dt / self.step_length - 1e-9))
        h = dt / count
        for _ in range(count):
            self._step(h, inputs)
        self.time += dt
        self.inputs = inputs
        return self.state()

    def _step(self, dt: float, inputs: Inputs) -> None:
        calls = (inputs.call, inputs.second_call)
        demands = []
        wanted_fan = 0.0
        for control, call in zip(self.controls, calls, strict=False):
            control.defrost(dt)
            demand = control.demand(dt, call, inputs.power, inputs.reset)
            demands.append(demand)
            if demand > 0.0 and not control.defrosting:
                wanted_fan = max(wanted_fan, control.fan_share(dt))
        self.fans_running = wanted_fan * inputs.outdoor_fans
        first = self.circuits[0]
        place = self.surroundings

        # outdoor air
        opened = 1.0 - (1.0 - COVER_GAPS) * inputs.cover
        through = fan_flow(first.equipment.outdoor_fan, opened) * self.fans_running * (1.0 - inputs.panel)
        mixed = place.always_recirculated + place.recirculation * inputs.cover
        outdoor = inputs.outdoor_temperature
        self.outdoor_inlet = outdoor + (self.outdoor_outlet - outdoor) * min(MOST_RECIRCULATED, mixed)
        bottom = 1.0 - (1.0 - opened) * place.cover_reaches_bottom

        # indoor air
        fan_on = any(d > 0.0 for d in demands) if inputs.indoor_fan is None else inputs.indoor_fan
        self.indoor_fan_on = fan_on and inputs.power
        indoor = inputs.indoor_airflow if self.indoor_fan_on else 0.0

        outlets = 0.0
        for k, (circuit, demand) in enumerate(zip(self.circuits, demands, strict=True)):
            unit, faults = circuit.equipment, circuit.faults
            helped = 1.0
            if len(self.circuits) == 2 and unit.interlaced and not self.circuits[1 - k].compressor.running:
                helped += unit.interlaced
            at_outdoor, at_indoor = circuit.condenser.coil, circuit.evaporator.coil
            if not circuit.cooling:
                at_outdoor, at_indoor = at_indoor, at_outdoor
            dirt = 1.0 - faults.condenser_fouling
            flow_out = unit.outdoor_coil.air_flow * through * dirt * frost_share(at_outdoor, unit)
            flow_in = unit.indoor_coil.air_flow * indoor * (1.0 - faults.indoor_airflow) * frost_share(at_indoor, unit)
            outdoor_side = at_outdoor.air_side(flow_out, opened, helped * (1.0 - faults.condenser_film))
            indoor_side = at_indoor.air_side(flow_in, 1.0, helped)
            outside = (self.outdoor_inlet, inputs.outdoor_ratio)
            inside = (inputs.return_temperature, inputs.return_ratio)
            if circuit.cooling:
                circuit.step(
                    dt, demand, outdoor, inputs.return_temperature, inside, indoor_side, self.outdoor_inlet,
                    outdoor_side, bottom / opened,
                )  # fmt: skip
            else:
                circuit.step(
                    dt, demand, outdoor, outdoor, outside, outdoor_side, inputs.return_temperature, indoor_side, 1.0
                )
            at_outdoor.melt(dt)
            at_indoor.melt(dt)
            outlets += circuit.condenser.supply if circuit.cooling else circuit.evaporator.supply
        self.outdoor_outlet += (outlets / len(self.circuits) - self.outdoor_outlet) * min(1.0, dt / 3.0)

    def state(self) -> State:
        """Return every true quantity as it stands."""
        inputs, atmosphere = self.inputs, self.surroundings.atmosphere
        flow = supply = water = fan_rated = 0.0
        power = fans = 0.0
        for circuit in self.circuits:
            unit = circuit.equipment
            coil_side = circuit.evaporator if circuit.cooling else circuit.condenser
            share = unit.indoor_coil.air_flow
            flow += share
            supply += share * coil_side.supply
            water += share * (circuit.evaporator.ratio_out if circuit.cooling else inputs.return_ratio)
            power += circuit.compressor.power
            fans += unit.outdoor_fan.power * self.fans_running
            fan_rated += unit.indoor_fan.power
        supply, water = supply / flow, water / flow
        blower = fan_rated * max(inputs.indoor_airflow, 0.0) if self.indoor_fan_on else 0.0
        moved = flow * max(inputs.indoor_airflow, 0.02) * (1.0 - self.circuits[0].faults.indoor_airflow)
        supply += (blower + inputs.auxiliary_heat) / (moved * AIR_SPECIFIC_HEAT)
        supply = min(supply, 400.0)
        sensible = moved * AIR_SPECIFIC_HEAT * (supply - inputs.return_temperature)
        return State(
            time=self.time,
            circuits=tuple(
                circuit_state(circuit, control.tripped, control.defrosting)
                for circuit, control in zip(self.circuits, self.controls, strict=True)
            ),
            outdoor_air_temperature=inputs.outdoor_temperature,
            coil_inlet_temperature=self.outdoor_inlet,
            coil_outlet_temperature=self.outdoor_outlet,
            return_air_dry_bulb=inputs.return_temperature,
            return_air_wet_bulb=wet_bulb(inputs.return_temperature, inputs.return_ratio, atmosphere),
            supply_air_dry_bulb=supply,
            supply_air_wet_bulb=wet_bulb(supply, water, atmosphere),
            fan_current=fans / self.circuits[0].equipment.outdoor_fan.voltage,
            power=power + fans + blower + inputs.auxiliary_heat,
            sensible_heat=sensible,
            total_heat=sensible + moved * WATER_HEAT * (water - inputs.return_ratio),
            airflow=moved if self.indoor_fan_on else 0.0,
            fans_running=self.fans_running,
            cover=inputs.cover,
        )


def fan_flow(fan: FanSpec, opened: float) -> float:
    """Air flow over that with an open face, where only a share `opened` of the face is open.

    A fan whose pressure is `stiffness` losses that do not depend on the face and the rest losses in it, which grow with
    the velocity squared: flow² = 1 / (stiffness + (1 − stiffness)/opened²).
    """
    return sqrt(1.0 / (fan.stiffness + (1.0 - fan.stiffness) / (opened * opened)))


def frost_share(coil: Coil, unit: Equipment) -> float:
    """Air flow left by the frost on a coil [-]."""
    if coil.frost <= 0.0:
        return 1.0
    x = coil.frost / (HALVING_FROST * unit.capacity)
    return 1.0 / (1.0 + x * x)
