"""Which channels a series can be, by the kind of its unit."""

from __future__ import annotations


def channels_for(unit: str | None) -> tuple[str, ...]:
    """Return the channels that a unit fits, the vital ones first; all of them for a series that says no unit."""

    from steadfeed.capture.reading_units import kind_of_unit
    from steadfeed.circuit.channel import CHANNEL_KINDS, VITAL_CHANNELS

    kind = kind_of_unit(unit) if unit else None
    order = dict.fromkeys((*VITAL_CHANNELS, *CHANNEL_KINDS))
    return tuple(channel for channel in order if kind is None or CHANNEL_KINDS[channel] == kind)
