"""The discharge line: its temperature after compression, and the efficiency that one read there seems to show."""

from __future__ import annotations

from steadfeed.physics.properties import Curves


def discharge_temperature(curves: Curves, suction: float, line: float, head: float, efficiency: float) -> float:
    """Temperature after compression [K] from suction (p [Pa], T [K]) to head [Pa] at an isentropic efficiency [-].

    Vapor colder than dew counts as dew vapor. Raises OutOfRange outside the curves.
    """
    start = max(line, float(curves.dew_temperature(suction)))
    before = float(curves.vapor_enthalpy(suction, start))
    ideal = float(curves.vapor_temperature_ps(head, float(curves.vapor_entropy(suction, start))))
    after = before + (float(curves.vapor_enthalpy(head, ideal)) - before) / efficiency
    return float(curves.vapor_temperature_ph(head, after))


def apparent_efficiency(curves: Curves, suction: float, line: float, head: float, discharge: float) -> float | None:
    """Isentropic efficiency [-] that a discharge-line temperature [K] seems to show; None for gas colder than dew.

    Apparent: a shell that loses heat makes it look better than it is. Raises OutOfRange outside the curves.
    """
    if discharge <= float(curves.dew_temperature(head)) + 0.5:
        return None
    start = max(line, float(curves.dew_temperature(suction)))
    before = float(curves.vapor_enthalpy(suction, start))
    ideal = float(curves.vapor_temperature_ps(head, float(curves.vapor_entropy(suction, start))))
    gained = float(curves.vapor_enthalpy(head, discharge)) - before
    if gained <= 0.0:
        return None
    return (float(curves.vapor_enthalpy(head, ideal)) - before) / gained
