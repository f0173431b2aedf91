"""The high side: condenser by moving boundary in three zones, with its metal, air side and the hot-gas space before it.

Desuperheating, condensing and subcooling zone share the coil. The first is as long as the hot gas needs (logarithmic
temperature difference to the metal); liquid that the condensing zone does not hold (mean void by Zivi's slip) backs up
from the outlet and subcools. When there is too little liquid for that, the outlet carries vapor. Mass is integrated as
it flows; pressure and energy as in the evaporator. The cold of the backed-up liquid (enthalpy below the bubble line) is
a state of its own, so that a falling pressure makes it flash and a rising one makes it colder against the bubble line.
Non-condensable gas adds its partial pressure and a film.
"""

from __future__ import annotations

import math
from math import exp, log
from typing import Final

from steadfeed.bench.air import AIR_SPECIFIC_HEAT
from steadfeed.bench.coil import MOST_LOST, Coil
from steadfeed.bench.evaporator import DRYING, GAS_CONSTANT
from steadfeed.bench.fluid import Fluid, superheat_of

#: Loss of condensing conductance per mole fraction of non-condensable gas (film; own choice, see docs/bench.md).
GAS_FILM: Final = 2.0
#: Condensing conductance grows with the flow to this power (own choice).
CONDENSING_EXPONENT: Final = 0.3
#: When the condensing zone holds less liquid than a full one, its outlet is wet vapor of dryness
#: 1 − (held/needed)^THINNING. Zivi's profile, integrated from dryness 1 to x, gives 0.41–0.50 for R-410A at 115 °F.
THINNING: Final = 0.43
#: Filling of the coil at standstill below which vapor leaves with the liquid [-].
LAST_POOL: Final = 0.02
SHORTEST: Final = 0.02


class Condenser:
    """High side of a circuit. Call `prepare`, read the state, then `advance` by one step."""

    def __init__(
        self, fluid: Fluid, coil: Coil, space: float, gas: float = 0.0, receiver: float = 0.0, loss: float = 0.0
    ) -> None:
        """space: hot-gas volume before the coil [m3]. gas: non-condensable gas [kg].

        receiver: volume of a vessel that the coil drains into [m3], 0 = none; loss: its conductance to the air [W/K].
        """
        self.fluid = fluid
        self.coil = coil
        self.space = space
        self.gas = gas
        self.receiver, self.receiver_loss = receiver, loss
        self.receiver_liquid = self.lost = 0.0
        self._zone = 0.9
        self.cold = 0.0
        self.leftover = self.heat = self.air_heat = 0.0
        self.supply = coil.wall
        self.vapor_pressure = coil.pressure
        self.gas_pressure = 0.0
        self.inlet_pressure = self.outlet_pressure = coil.pressure
        self.energy = math.nan
        self._last_zone = math.nan

    def take_over(self, coil: Coil, space: float) -> None:
        """Use another coil from now on (a reversing valve was thrown). space: hot-gas volume before it [m3]."""
        self.coil, self.space = coil, space
        self.energy = self._last_zone = math.nan
        self.cold = 0.0

    def metal_energy(self) -> float:
        """Heat held in the coil's metal [J]."""
        coil, zone = self.coil, self._zone
        return coil.spec.wall_capacity * (zone * coil.wall + (1.0 - zone) * coil.far_wall)

    def prepare(
        self, flow_in: float, enthalpy_in: float, flow_out: float, standing: float, air_side: float, ambient: float
    ) -> None:
        """Work out the zones.

        Flows [kg/s]; standing: 1 when nothing flows; air_side: its conductance [W/K]; ambient: air around a receiver [K].
        """
        coil, spec = self.coil, self.coil.spec
        volume = spec.volume + self.space + self.receiver
        p = coil.pressure
        row = self.fluid.saturation(p)
        rho_l, rho_g, h_fg = row[2], row[4], row[5] - row[3]
        phi = rho_g / rho_l
        liquid = (coil.mass - rho_g * volume) / (1.0 - phi)
        if liquid < 0.0:
            p *= max(0.8, min(1.25, coil.mass / (rho_g * volume)))
            coil.pressure = p
            row = self.fluid.saturation(p)
            rho_l, rho_g, h_fg = row[2], row[4], row[5] - row[3]
            liquid = 0.0
        self.liquid = liquid
        self.row = row
        self.vapor_pressure = p
        self.bubble, self.dew = row[0], row[1]
        self.room = max(volume - liquid / rho_l, 0.02 * volume)
        self.gas_pressure = self.gas * GAS_CONSTANT * row[1] / self.room if self.gas else 0.0

        energy = liquid * row[3] + (coil.mass - liquid) * row[5] - self.cold - p * volume
        self.leftover = energy - self.energy if self.energy == self.energy else 0.0
        self.energy = energy

        # zones
        hot = enthalpy_in - row[5]
        desuperheating = 0.0
        if flow_in > 1e-6 and hot > 0.0:
            vapor = self.fluid.vapor(p)
            superheat = superheat_of(hot, vapor)
            near = max(row[1] - coil.wall, 0.3)
            film = spec.hot_gas * (flow_in / spec.refrigerant_flow) ** 0.8
            desuperheating = min(flow_in * hot / superheat / film * log(1.0 + superheat / near), 0.4)
        self.hot_gas_heat = flow_in * max(hot, 0.0)
        c = phi ** (2.0 / 3.0)
        u = 1.0 - c
        held_share = (1.0 - (1.0 / u + c / (u * u) * log(c))) * (1.0 - standing)
        filled = liquid / (rho_l * spec.volume)
        held = (1.0 - desuperheating) * held_share
        if self.receiver:  # what the coil does not hold runs down into the receiver first
            in_receiver = min(max(filled - held, 0.0) * spec.volume, 0.95 * self.receiver)
            self.receiver_liquid = in_receiver * rho_l
            filled -= in_receiver / spec.volume
        backed_up = (filled - held) / (1.0 - held_share)
        self.outlet_quality = 0.0
        if standing > 0.5:  # a pool drains first, then vapor follows
            self.outlet_quality = max(1.0 - filled / LAST_POOL, 0.0)
        elif backed_up < 0.0 and self.receiver_liquid <= 0.0:
            self.outlet_quality = 1.0 - (filled / held) ** THINNING if filled > 0.0 else 1.0
        backed_up = max(backed_up, 0.0)
        backed_up = min(backed_up, 0.95)
        self.desuperheating, self.subcooling_zone, self.standing = desuperheating, backed_up, standing

        # cold of the backed-up liquid; its profile is exponential along the zone
        backed_mass = backed_up * spec.volume * rho_l
        specific = row[6]
        if backed_mass > 1e-4:
            deficit = self.cold / backed_mass
            if flow_out > 1e-6:
                both = 1.0 / (1.0 / spec.liquid + 1.0 / air_side)
                n = both * backed_up / (flow_out * specific)
                if n < 1e-3:
                    self._profile = 2.0
                else:
                    passed = 1.0 - exp(-n)
                    self._profile = passed / (1.0 - passed / n) if n < 40.0 else 1.0
            else:
                self._profile = 1.0
        else:
            deficit, self._profile = 0.0, 1.0
        self.deficit = deficit
        below = deficit * self._profile
        self.outlet_enthalpy = row[3] - below + self.outlet_quality * h_fg
        self.outlet_temperature = row[0] - max(below, 0.0) / specific
        self.lost = 0.0
        if self.receiver_liquid > 0.0 and flow_out > 1e-6:
            self.lost = self.receiver_loss * max(row[0] - ambient, 0.0)
            colder = min(self.lost / flow_out, 0.8 * specific * max(row[0] - ambient, 0.0))
            self.lost = colder * flow_out
            self.outlet_enthalpy -= colder
            self.outlet_temperature -= colder / specific
        if below < 0.0:
            self.outlet_quality = min(1.0, self.outlet_quality - below / h_fg)
        self.loss = min(spec.friction * flow_in * abs(flow_in) / rho_g, MOST_LOST * p)
        self.inlet_pressure = p + self.gas_pressure + 0.5 * self.loss
        self.outlet_pressure = p + self.gas_pressure - 0.5 * self.loss

        zone = min(max(1.0 - backed_up, SHORTEST), 1.0 - SHORTEST)
        last = self._last_zone if self._last_zone == self._last_zone else zone
        grown = zone - last
        if grown > 0.0:
            coil.wall += (coil.far_wall - coil.wall) * grown / zone
        elif grown < 0.0:
            coil.far_wall += (coil.wall - coil.far_wall) * grown / (zone - 1.0)
        self._last_zone = self._zone = zone
        coil.wall -= self.leftover / (spec.wall_capacity * zone)

    def advance(
        self, dt: float, flow_in: float, enthalpy_in: float, flow_out: float, enthalpy_out: float, stiffness: float,
        air_temperature: float, air_side: tuple[float, float, float], far_open: float,
    ) -> None:  # fmt: skip
        """Take one step.

        Flows [kg/s], enthalpies [J/kg]; a negative flow_out is vapor that comes back at enthalpy_out. stiffness: how
        both flows answer to pressure [kg/(s Pa)]. air_side as `Coil.air_side` gives it; far_open: how much better the
        air reaches the subcooling zone than the coil on the whole [-].
        """
        coil, spec = self.coil, self.coil.spec
        row, zone = self.row, self._zone
        h_l, rho_l, rho_g = row[3], row[2], row[4]
        h_fg = row[5] - h_l
        phi = rho_g / rho_l
        volume = spec.volume + self.space + self.receiver

        condensing = max(1.0 - self.desuperheating - self.subcooling_zone, 0.0)
        share = max(flow_in / spec.refrigerant_flow, 0.05)
        film = spec.two_phase * share**CONDENSING_EXPONENT
        if self.gas:
            fraction = self.gas_pressure / (self.gas_pressure + self.vapor_pressure)
            film /= 1.0 + GAS_FILM * fraction
        conductance = film * condensing
        between = 0.5 * (row[0] + row[1])
        if coil.wall > between:  # boils, the less the less there is
            conductance *= min(1.0, self.liquid / (DRYING * spec.volume * rho_l))
        heat = conductance * (between - coil.wall)

        quality = self.outlet_quality if flow_out >= 0.0 else (enthalpy_out - h_l) / h_fg
        vapor_in = flow_in - quality * flow_out
        liquid_in = -(1.0 - quality) * flow_out
        backed_mass = self.subcooling_zone * spec.volume * rho_l
        loose = max(self.liquid - backed_mass, 0.0)  # at the bubble line: condensing zone and receiver
        stored = loose * row[9] + (coil.mass - self.liquid) * row[10] - volume
        gain = enthalpy_in - row[5]
        change = vapor_in + phi * liquid_in - (1.0 - phi) * (heat - flow_in * min(gain, 0.0)) / h_fg
        resist = row[11] * (volume - self.liquid / rho_l) + (1.0 - phi) * stored / h_fg
        resist += dt * ((1.0 - phi) * conductance * row[8] / h_fg + stiffness)
        step = dt * change / resist
        step = max(-0.05 * coil.pressure, min(0.05 * coil.pressure, step))
        heat += conductance * row[8] * step
        coil.pressure += step
        coil.mass += dt * (flow_in - flow_out)

        liquid_heat = 0.0
        if backed_mass > 1e-4:
            # a short zone is emptied within a step: implicit in what flows out and in what the metal takes
            film_back = spec.liquid * self.subcooling_zone
            warm = film_back * (row[0] - coil.far_wall)
            carried = max(flow_out, 0.0) * self._profile + film_back / row[6]
            cold = self.cold + dt * warm + backed_mass * row[9] * step
            cold /= 1.0 + dt * carried / backed_mass
            most = backed_mass * row[6] * max(row[0] - min(air_temperature, coil.far_wall), 0.0)
            if self.standing > 0.5:
                cold = max(cold, 0.0)  # at standstill it boils where it lies
            self.cold = min(cold, most)
            liquid_heat = warm - film_back * self.cold / (backed_mass * row[6])
        else:
            self.cold = 0.0
        self.heat = heat + self.hot_gas_heat + liquid_heat
        self.energy += dt * (flow_in * enthalpy_in - flow_out * enthalpy_out - self.heat - self.lost)

        conductance_air, _, air_flow = air_side
        far_air = conductance_air * (1.0 - zone) * far_open
        q_hot = max(conductance_air - far_air, 0.05 * conductance_air) * (coil.wall - air_temperature)
        q_far = far_air * (coil.far_wall - air_temperature)
        capacity = spec.wall_capacity
        coil.wall += dt * (heat + self.hot_gas_heat - q_hot) / (capacity * zone)
        coil.far_wall += dt * (liquid_heat - q_far) / (capacity * (1.0 - zone))
        self.air_heat = q_hot + q_far
        self.supply = air_temperature + self.air_heat / (air_flow * AIR_SPECIFIC_HEAT)
