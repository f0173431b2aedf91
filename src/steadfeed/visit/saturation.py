"""Look up a refrigerant: its saturation at a pressure or temperature, and the list of those that are known."""

from __future__ import annotations

from dataclasses import dataclass

from steadfeed.circuit.refrigerant import Refrigerant
from steadfeed.errors import FixInput, OutOfRange
from steadfeed.units import from_si, standard_atmosphere

#: Station pressures that occur between the Dead Sea and the highest mines [Pa].
_ATMOSPHERES = (45e3, 112e3)


@dataclass(frozen=True, slots=True)
class Saturation:
    """Bubble and dew point of a refrigerant, SI, absolute.

    At a pressure the two pressures are equal and the temperatures differ by the glide; at a temperature the other way
    round. temperatures [K]; pressures [Pa]; uncertainty of the temperatures, 95 % (k = 2) [K difference]; atmosphere [Pa].
    """

    refrigerant: str
    bubble_temperature: float
    dew_temperature: float
    bubble_pressure: float
    dew_pressure: float
    uncertainty: float
    atmosphere: float


@dataclass(frozen=True, slots=True)
class KnownRefrigerant:
    """A refrigerant that can be judged with, and how well it is known.

    uncertainty: of a saturation temperature, 95 % (k = 2) [K difference]; pressures absolute [Pa]; temperatures [K].
    """

    refrigerant: Refrigerant
    uncertainty: float
    confidence: str
    provenance: str
    minimum_pressure: float
    maximum_pressure: float
    minimum_temperature: float
    maximum_temperature: float


def atmosphere_at(altitude: float | None, barometer: float | None) -> float:
    """Pressure of the air [Pa] from a barometer [Pa], else from an altitude [m], else at sea level.

    Raises OutOfRange for a barometer that no site shows, or an altitude outside the standard atmosphere's range.
    """
    if barometer is None:
        return standard_atmosphere(altitude or 0.0)
    low, high = _ATMOSPHERES
    if not low <= barometer <= high:
        raise OutOfRange(
            f"A barometer of {barometer / 100:.0f} hPa ({from_si(barometer, 'inHg', 'atmosphere'):.2f} inHg) is no "
            f"station pressure: give {low / 100:.0f} to {high / 100:.0f} hPa ({from_si(low, 'inHg', 'atmosphere'):.1f} "
            f"to {from_si(high, 'inHg', 'atmosphere'):.1f} inHg), not reduced to sea level"
        )
    return barometer


def saturation(
    refrigerant: str,
    *,
    pressure: float | None = None,
    temperature: float | None = None,
    atmosphere: float,
) -> Saturation:
    """Return the saturation of a refrigerant at an absolute pressure [Pa] or at a temperature [K], not both.

    Raises FixInput for an unknown refrigerant, OutOfRange outside the refrigerant's range.
    """
    from steadfeed.physics.properties import curves

    if (pressure is None) == (temperature is None):
        raise FixInput("Give either a pressure or a temperature", code="bad usage")
    known = curves(refrigerant)
    if pressure is not None:
        bubble = dew = pressure
        t_bubble, t_dew = float(known.bubble_temperature(pressure)), float(known.dew_temperature(pressure))
    else:
        assert temperature is not None
        t_bubble = t_dew = temperature
        bubble, dew = float(known.bubble_pressure(temperature)), float(known.dew_pressure(temperature))
    return Saturation(known.refrigerant.name, t_bubble, t_dew, bubble, dew, known.uncertainty, atmosphere)


def known_refrigerants() -> tuple[KnownRefrigerant, ...]:
    """Return every refrigerant of the coefficient file, in the order of its number."""
    from steadfeed.physics.properties import curves, refrigerant_names

    return tuple(
        KnownRefrigerant(
            refrigerant=known.refrigerant,
            uncertainty=known.uncertainty,
            confidence=known.confidence,
            provenance=known.provenance,
            minimum_pressure=known.minimum_pressure,
            maximum_pressure=known.maximum_pressure,
            minimum_temperature=known.minimum_temperature,
            maximum_temperature=known.maximum_temperature,
        )
        for known in map(curves, refrigerant_names())
    )


def refused_refrigerants() -> dict[str, str]:
    """Return the refrigerants that are not offered, each with the reason."""
    from steadfeed.physics.properties import refused

    return refused()
