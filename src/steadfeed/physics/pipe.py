"""The line set: pressure lost to friction and lift, and what is left of the subcooling at the metering device.

Friction after Darcy–Weisbach with the factor of Churchill (Chemical Engineering 84, no. 24, 1977, 91–92), which holds from
laminar to fully rough flow. Everything SI: lengths and diameters [m], mass flow [kg/s], pressures absolute [Pa], T [K].
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from steadfeed.errors import OutOfRange
from steadfeed.physics.properties import Curves, Number, Outside

#: Standard acceleration of gravity [m/s2] (ISO 80000-3).
GRAVITY: Final = 9.80665
#: Roughness of drawn copper tube [m] (Moody, Trans. ASME 66, 1944: drawn tubing).
DRAWN_TUBE: Final = 1.5e-6

# outside diameter -> wall of annealed refrigeration tube, both in inches (ASTM B280, from memory)
_WALL_IN: Final = (
    (0.250, 0.030),
    (0.3125, 0.032),
    (0.375, 0.032),
    (0.500, 0.032),
    (0.625, 0.035),
    (0.750, 0.042),
    (0.875, 0.045),
    (1.125, 0.050),
    (1.375, 0.055),
    (1.625, 0.060),
)
_INCH: Final = 0.0254


def inside_diameter(outside_diameter: float) -> float:
    """Inside diameter of refrigeration copper tube [m] from its outside diameter [m], 1/4 to 1 5/8 in.

    Walls of ASTM B280 annealed tube (from memory), linear between the sizes. Raises OutOfRange outside them.
    """
    inches = outside_diameter / _INCH
    if not _WALL_IN[0][0] - 1e-3 <= inches <= _WALL_IN[-1][0] + 1e-3:
        raise OutOfRange(
            f"a tube of {inches:.3g} in ({outside_diameter * 1e3:.3g} mm) outside is outside 0.25 to 1.625 in (6.35 to 41.3 mm)"
        )
    wall = float(np.interp(inches, [size for size, _ in _WALL_IN], [wall for _, wall in _WALL_IN]))
    return (inches - 2.0 * wall) * _INCH


def friction_factor(reynolds: Number, relative_roughness: float = 0.0) -> Number:
    """Darcy friction factor [-] after Churchill (1977) from the Reynolds number [-], > 0, and roughness over diameter [-].

    f = 8 · ((8/Re)^12 + (A + B)^−1.5)^(1/12), A = (2.457 · ln(1/((7/Re)^0.9 + 0.27 e/D)))^16, B = (37530/Re)^16.
    """
    if isinstance(reynolds, (float, int)):
        a = (-2.457 * math.log((7.0 / reynolds) ** 0.9 + 0.27 * relative_roughness)) ** 16
        b = (37530.0 / reynolds) ** 16
        factor: Number = 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
        return factor
    a_array = (-2.457 * np.log((7.0 / reynolds) ** 0.9 + 0.27 * relative_roughness)) ** 16
    b_array = (37530.0 / reynolds) ** 16
    result: Number = 8.0 * ((8.0 / reynolds) ** 12 + (a_array + b_array) ** -1.5) ** (1.0 / 12.0)
    return result


def velocity(mass_flow: float, diameter: float, density: float) -> float:
    """Mean velocity [m/s] of a mass flow in a tube of inside diameter `diameter`; density [kg/m3]."""
    return mass_flow / (density * math.pi / 4.0 * diameter**2)


def friction_loss(
    mass_flow: float,
    diameter: float,
    length: float,
    density: float,
    viscosity: float,
    roughness: float = DRAWN_TUBE,
) -> float:
    """Pressure lost to friction [Pa] along a tube (Darcy–Weisbach); the sign is that of the flow.

    diameter: inside; length: equivalent, with fittings; density [kg/m3]; viscosity [Pa s].
    """
    speed = velocity(abs(mass_flow), diameter, density)
    reynolds = density * speed * diameter / viscosity
    if reynolds < 1e-3:  # nothing flows
        return 0.0
    factor = friction_factor(reynolds, roughness / diameter)
    return math.copysign(factor * length / diameter * density * speed**2 / 2.0, mass_flow)


def lift_loss(density: Number, lift: float) -> Number:
    """Pressure lost to lift [Pa]: positive when the metering device lies higher; density [kg/m3]."""
    result: Number = density * (GRAVITY * lift)
    return result


def liquid_line_loss(
    curves: Curves,
    head_pressure: float,
    liquid_temperature: float,
    mass_flow: float,
    diameter: float,
    length: float,
) -> float:
    """Pressure lost to friction in a liquid line [Pa], without its lift; diameter inside, length equivalent.

    Liquid that is warmer than its bubble temperature counts as bubble liquid. Raises OutOfRange outside the curves.
    """
    liquid = min(liquid_temperature, curves.bubble_temperature(head_pressure))
    density = curves.liquid_density(head_pressure, liquid)
    viscosity = curves.liquid_viscosity(max(liquid, curves.minimum_temperature))
    return friction_loss(mass_flow, diameter, length, density, viscosity)


def suction_line_loss(
    curves: Curves,
    suction_pressure: float,
    suction_temperature: float,
    mass_flow: float,
    diameter: float,
    length: float,
) -> float:
    """Pressure lost to friction in a suction line [Pa]; diameter inside, length equivalent.

    Vapor that is colder than its dew temperature counts as dew vapor; its viscosity is taken at dew.
    """
    dew = curves.dew_temperature(suction_pressure)
    density = curves.vapor_density(suction_pressure, max(suction_temperature, dew))
    return friction_loss(mass_flow, diameter, length, density, curves.vapor_viscosity(dew))


def subcooling_at_valve(
    curves: Curves,
    head_pressure: Number,
    liquid_temperature: Number,
    loss: float = 0.0,
    lift: float = 0.0,
    warming: float = 0.0,
    outside: Outside = "raise",
) -> Number:
    """Subcooling left at the metering device [K]; below 0 the liquid flashes before it gets there.

    head_pressure [Pa] and liquid_temperature [K] where the line begins; loss: friction [Pa]; lift [m], positive when the
    metering device lies higher; warming: heat picked up on the way [K]. Bubble temperature at the pressure that is left, less
    the temperature there. The density is that of the liquid where the line begins. See `Curves` for `outside`.
    """
    bubble = curves.bubble_temperature(head_pressure, outside)
    if isinstance(head_pressure, (float, int)):
        at_start: Number = min(liquid_temperature, bubble)
    else:
        at_start = np.minimum(liquid_temperature, bubble)
    column = lift_loss(curves.liquid_density(head_pressure, at_start, outside), lift)
    left: Number = head_pressure - column - loss
    result: Number = curves.bubble_temperature(left, outside) - liquid_temperature - warming
    return result
