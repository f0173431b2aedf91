"""The low side: evaporator by moving boundary, with its metal, its air side and the vapor space behind it.

One pressure, two zones. The two-phase zone is as long as its liquid reaches (mean void fraction by Zivi's slip, as in
Wedekind's lumped model); what is left superheats the vapor. The vapor of suction line and compressor shell belongs to
this space. Mass is integrated as it flows. Pressure follows from mass and energy together (below), and whatever energy
that estimate leaves over is taken from the metal in the next step, so that energy closes exactly.

Pressure: with h' = dh/dp, φ = ρ_vapor/ρ_liquid, S_v, S_l the net vapor and liquid inflow and Q the heat to the zone,
    dp/dt = [S_v + φ·S_l + (1 − φ)·Q/h_fg] / [ρ_v'·V_v + (1 − φ)·(M_l·h_l' + M_v·h_v' − V)/h_fg],
taken linearly implicit in the wall's heat, the compressor's pull and the valve's feed.
"""

from __future__ import annotations

import math
from math import exp, log
from typing import Final

from steadfeed.bench.air import AIR_SPECIFIC_HEAT, ICE_HEAT, WATER_HEAT, SaturatedAir
from steadfeed.bench.coil import MOST_LOST, Coil
from steadfeed.bench.fluid import Fluid, rise_of, superheat_of, swelling_of

#: Boiling conductance grows with the flow to this power (mixed nucleate and convective boiling, own choice).
BOILING_EXPONENT: Final = 0.4
#: Dryness lost at the outlet for liquid beyond a full coil, per share of a full coil (from Zivi's profile, R-410A).
CARRY_OVER: Final = 0.7
#: Zones shorter than this count as this long where metal is shared out [-].
SHORTEST: Final = 0.02
#: Share of the coil wetted at standstill (own choice).
POOL: Final = 0.5
#: Filling of the coil below which a pool boils the less the less there is [-].
DRYING: Final = 0.05
#: Gas constant of air, as the non-condensable gas [J/(kg K)].
GAS_CONSTANT: Final = 287.05
#: Time in which the vapor space takes up a new mean superheat [s].
VAPOR_MIXING: Final = 5.0


class Evaporator:
    """Low side of a circuit. Call `prepare`, read the state, then `advance` by one step."""

    def __init__(self, fluid: Fluid, coil: Coil, space: float, saturated_air: SaturatedAir) -> None:
        """space: vapor volume beyond the coil (suction line, shell) [m3]."""
        self.fluid = fluid
        self.coil = coil
        self.space = space
        self._zone = 0.5
        self.saturated_air = saturated_air
        self.gas = self.gas_pressure = 0.0
        self.inlet_quality = 0.2
        self.mean_superheat = 0.0
        self.leftover = 0.0
        self.energy = math.nan
        self._last_length = math.nan
        self.outlet_temperature = self.supply = coil.wall
        self.standing = 1.0
        self.heat = self.air_heat = self.condensate = self.ratio_out = 0.0

    def take_over(self, coil: Coil, space: float) -> None:
        """Use another coil from now on (a reversing valve was thrown). space: vapor volume beyond it [m3]."""
        self.coil, self.space = coil, space
        self.energy = self._last_length = math.nan
        self.mean_superheat = 0.0

    def metal_energy(self) -> float:
        """Heat held in the coil's metal, less what the next step will still take from it [J]."""
        coil, zone = self.coil, self._zone
        return coil.spec.wall_capacity * (zone * coil.wall + (1.0 - zone) * coil.far_wall)

    def prepare(self, flow_out: float, standing: float) -> None:
        """Work out the zones from mass and pressure.

        flow_out: vapor drawn from the coil [kg/s]. standing: 0 while the circuit runs, 1 when nothing flows: liquid
        then lies at the bottom instead of being spread along the tubes.
        """
        coil, spec = self.coil, self.coil.spec
        volume = spec.volume + self.space
        p = coil.pressure
        row = self.fluid.saturation(p)
        vapor = self.fluid.vapor(p)
        rho_l, rho_g, h_fg = row[2], row[4], row[5] - row[3]
        rho_v = rho_g / swelling_of(self.mean_superheat, vapor)
        phi = rho_v / rho_l
        liquid = (coil.mass - rho_v * volume) / (1.0 - phi)
        if liquid < 0.0:  # all vapor: pressure follows from density alone
            p *= max(0.8, min(1.25, coil.mass / (rho_v * volume)))
            coil.pressure = p
            row = self.fluid.saturation(p)
            vapor = self.fluid.vapor(p)
            rho_l, rho_g, h_fg = row[2], row[4], row[5] - row[3]
            liquid = 0.0
        self.liquid = liquid
        self.row, self.vapor_row = row, vapor
        self.room = max(volume - liquid / rho_l, 0.02 * volume)
        self.gas_pressure = self.gas * GAS_CONSTANT * row[1] / self.room if self.gas > 0.0 else 0.0

        # energy of what is held, and the leftover of the last step's estimate
        vapor_mass = coil.mass - liquid
        energy = liquid * row[3] + vapor_mass * (row[5] + vapor[0] * self.mean_superheat) - p * volume
        self.leftover = energy - self.energy if self.energy == self.energy else 0.0
        self.energy = energy

        # length of the two-phase zone
        c = (rho_g / rho_l) ** (2.0 / 3.0)
        u = 1.0 - c
        x0 = min(max(self.inlet_quality, 0.0), 0.95)
        held_share = 1.0 - (1.0 / u + c / ((1.0 - x0) * u * u) * log(c + u * x0))
        held_share += standing * (0.8 - held_share)
        length = liquid / (spec.volume * rho_l * held_share)
        reach = min(length, 1.0)
        self._filled = length
        if standing > 0.5:  # a pool spreads, and vapor condenses wherever the metal is colder
            reach = max(reach, POOL)
        self.length, self.standing = reach, standing

        # metal that a moving boundary carries from one zone to the other
        zone = min(max(reach, SHORTEST), 1.0 - SHORTEST)
        last = self._last_length if self._last_length == self._last_length else zone
        grown = zone - last
        if grown > 0.0:
            coil.wall += (coil.far_wall - coil.wall) * grown / zone
        elif grown < 0.0:
            coil.far_wall += (coil.wall - coil.far_wall) * grown / (zone - 1.0)
        self._last_length = self._zone = zone
        if zone > 0.3:
            coil.wall -= self.leftover / (spec.wall_capacity * zone)
        else:
            coil.far_wall -= self.leftover / (spec.wall_capacity * (1.0 - zone))

        # outlet: mean of three paths that differ in feed
        flow = max(flow_out, 0.02 * spec.refrigerant_flow)
        relative = flow / spec.refrigerant_flow
        self.loss = min(spec.friction * flow_out * abs(flow_out) / rho_g, MOST_LOST * p)
        self.outlet_pressure = p + self.gas_pressure - 0.5 * self.loss
        self.dew = row[1]
        self.dew_outlet = dew = row[1] - row[8] * 0.5 * self.loss
        ntu = spec.vapor * relative**0.8 / (flow * vapor[0])
        warmer = coil.far_wall - dew
        if standing > 0.5:
            warmer = max(warmer, 0.0)
        gained, wet = 0.0, 0.0
        for k in (-1.0, 0.0, 1.0):
            path = length * (1.0 + k * spec.spread)
            if path < 1.0:
                gained += rise_of(warmer * (1.0 - exp(-ntu * (1.0 - path))), vapor)
            elif standing < 0.5:
                wet += min(CARRY_OVER * (path - 1.0), 0.9)
        gained /= 3.0
        wet /= 3.0
        self._h_rise = gained
        self.wetness = wet
        rise = gained - wet * h_fg
        self.outlet_enthalpy = row[5] + row[10] * -0.5 * self.loss + rise
        self.outlet_temperature = dew + superheat_of(rise, vapor) if rise > 0.0 else dew
        self.outlet_quality = 1.0 - wet if rise <= 0.0 else 1.0

    def advance(
        self, dt: float, flow_in: float, enthalpy_in: float, flow_out: float, enthalpy_out: float, stiffness: float,
        air_temperature: float, air_ratio: float, air_side: tuple[float, float, float],
    ) -> None:  # fmt: skip
        """Take one step.

        flow_in, enthalpy_in: feed [kg/s], [J/kg]. flow_out, enthalpy_out: out of the coil; negative: hot gas that
        leaks back. stiffness: how both flows answer
        to pressure, summed so that it damps [kg/(s Pa)]. air_ratio [kg/kg].
        """
        coil, spec = self.coil, self.coil.spec
        row, reach, zone = self.row, self.length, self._zone
        h_l, rho_l, rho_g = row[3], row[2], row[4]
        h_fg = row[5] - h_l
        phi = rho_g / rho_l
        quality = (enthalpy_in - h_l) / h_fg
        self.inlet_quality += (quality - self.inlet_quality) * min(1.0, dt / 2.0)

        # wall to refrigerant
        share = max(flow_in, flow_out) / spec.refrigerant_flow
        boiling = spec.two_phase * (max(share, 0.02) ** BOILING_EXPONENT)
        conductance = boiling * reach
        x0 = min(max(quality, 0.0), 1.0)
        boiling_temperature = 0.5 * (row[0] + x0 * (row[1] - row[0]) + row[1])
        if self._filled < DRYING and coil.wall >= boiling_temperature:
            conductance *= self._filled / DRYING  # little left to boil off
        heat = conductance * (coil.wall - boiling_temperature)
        gas_heat = max(flow_out, 0.0) * self._h_rise

        # pressure
        vapor_out = flow_out * (1.0 - self.wetness)
        vapor_in = quality * flow_in - vapor_out
        liquid_in = (1.0 - quality) * flow_in - (flow_out - vapor_out)
        volume = spec.volume + self.space
        vapor_mass = coil.mass - self.liquid
        stored = self.liquid * row[9] + vapor_mass * row[10] - volume
        change = vapor_in + phi * liquid_in + (1.0 - phi) * heat / h_fg
        resist = row[11] * (volume - self.liquid / rho_l) + (1.0 - phi) * stored / h_fg
        resist += dt * ((1.0 - phi) * conductance * row[8] / h_fg + stiffness)
        step = dt * change / resist
        step = max(-0.1 * coil.pressure, min(0.1 * coil.pressure, step))
        heat -= conductance * row[8] * step
        coil.pressure += step
        coil.mass += dt * (flow_in - flow_out)
        self.heat = heat + gas_heat
        self.energy += dt * (flow_in * enthalpy_in - flow_out * enthalpy_out + self.heat)

        # air to wall, with condensation on the cold part
        conductance_air, bypass, air_flow = air_side
        touched = air_flow * (1.0 - bypass)
        q_wet = conductance_air * zone * (air_temperature - coil.wall)
        q_dry = conductance_air * (1.0 - zone) * (air_temperature - coil.far_wall)
        water = max(0.0, air_ratio - self.saturated_air.at(coil.wall)) * touched * zone
        water_far = max(0.0, air_ratio - self.saturated_air.at(coil.far_wall)) * touched * (1.0 - zone)
        latent = WATER_HEAT
        if coil.wall < 273.15:
            latent += ICE_HEAT
            coil.frost += dt * water
        capacity = spec.wall_capacity
        coil.wall += dt * (q_wet + water * latent - heat) / (capacity * zone)
        coil.far_wall += dt * (q_dry + water_far * WATER_HEAT - gas_heat) / (capacity * (1.0 - zone))
        self.condensate = water + water_far
        # water counts as liquid here; the heat of freezing is a debt of the frost (Circuit.stored_energy)
        self.air_heat = q_wet + q_dry + self.condensate * WATER_HEAT
        self.supply = air_temperature - (q_wet + q_dry) / (air_flow * AIR_SPECIFIC_HEAT)
        self.ratio_out = air_ratio - self.condensate / air_flow

        mean = (1.0 - zone) * 0.5 * (self.outlet_temperature - self.dew_outlet)
        mean = (mean * spec.volume + (self.outlet_temperature - self.dew_outlet) * self.space) / volume
        if self.standing > 0.5:
            mean = max(0.0, coil.far_wall - self.dew) * (1.0 - reach)
        self.mean_superheat += (mean - self.mean_superheat) * min(1.0, dt / VAPOR_MIXING)
