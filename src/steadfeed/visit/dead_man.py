"""Who is watching: devices say every two seconds that they are there; silence and sleep are seen by the others. Pure.

Nobody guards in the background: a device whose screen is off or whose page is hidden says so, and counts as not watching.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

#: A device that said nothing for so long is not watching [s]: three signs of life missed.
LOST_AFTER: Final = 6.0
#: A push that nobody watched for so long begins again with the question whether the airflow is restored [s].
AWAY_AFTER: Final = 10.0
#: A device that was not heard for so long is forgotten [s].
FORGOTTEN_AFTER: Final = 900.0

Role = Literal["coil", "watcher"]


@dataclass(frozen=True, slots=True)
class Device:
    """A device on a challenge. watching: as it said last; recording: readings come through it; seen_at [s]."""

    device: str
    name: str
    person: str | None
    role: Role
    watching: bool
    recording: bool
    seen_at: float

    def watches(self, now: float) -> bool:
        """Whether it can be counted on now."""
        return self.watching and now - self.seen_at <= LOST_AFTER


@dataclass(frozen=True, slots=True)
class Watch:
    """All devices of a challenge. unwatched_since: from when nobody has been watching [s], None while somebody does."""

    devices: Mapping[str, Device] = field(default_factory=dict)
    unwatched_since: float | None = None


def seen(
    watch: Watch,
    now: float,
    device: str,
    name: str,
    person: str | None,
    *,
    role: Role | None,
    watching: bool,
    recording: bool,
) -> Watch:
    """Take a sign of life. role None keeps the one it has; the first device is at the coil, further ones watch."""
    before = watch.devices.get(device)
    if role is None:
        role = before.role if before is not None else "watcher" if watch.devices else "coil"
    ours = Device(device, name, person, role, watching, recording, now)
    return look(replace(watch, devices={**watch.devices, device: ours}), now)


def gone(watch: Watch, now: float, device: str) -> Watch:
    """Note that the link to a device ended: it does not watch any more, from this moment."""
    before = watch.devices.get(device)
    if before is None:
        return watch
    return look(replace(watch, devices={**watch.devices, device: replace(before, watching=False)}), now)


def leave(watch: Watch, now: float, device: str) -> Watch:
    """Take a device off the challenge: it said that it leaves."""
    return look(replace(watch, devices={k: d for k, d in watch.devices.items() if k != device}), now)


def look(watch: Watch, now: float) -> Watch:
    """Bring “nobody watches” up to date. The time counts from the last sign of life, not from when it was missed."""
    devices = {k: d for k, d in watch.devices.items() if now - d.seen_at <= FORGOTTEN_AFTER}
    if len(devices) != len(watch.devices):
        watch = replace(watch, devices=devices)
    if any(d.watches(now) for d in devices.values()):
        return watch if watch.unwatched_since is None else replace(watch, unwatched_since=None)
    if watch.unwatched_since is not None:
        return watch
    last = max((d.seen_at for d in devices.values()), default=now)
    return replace(watch, unwatched_since=min(last, now))


def watched(watch: Watch, now: float) -> bool:
    """Whether anybody watches now."""
    return any(d.watches(now) for d in watch.devices.values())


def lost(watch: Watch, now: float) -> bool:
    """Whether somebody should alarm: nobody watches, or a device that the readings come through is not there."""
    recording = [d for d in watch.devices.values() if d.recording]
    return not watched(watch, now) or any(not d.watches(now) for d in recording)


def away_for(watch: Watch, now: float) -> float | None:
    """Return how long nobody has watched [s] once that is an absence, None before."""
    if watch.unwatched_since is None or now - watch.unwatched_since < AWAY_AFTER:
        return None
    return now - watch.unwatched_since
