"""What every route needs: the station, who asks, a piece of work in their name."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends
from starlette.requests import HTTPConnection

from steadfeed.visit.live_challenge import LiveChallenge
from steadfeed.visit.session import Session
from steadfeed.visit.station import Station
from steadfeed.web.sessions import Guest


def the_station(connection: HTTPConnection) -> Station:
    """Return the station behind a request or socket."""
    station: Station = connection.app.state.station
    return station


def the_guest(connection: HTTPConnection) -> Guest:
    """Return who asks; the gate let nobody else through."""
    guest: Guest = connection.scope["state"]["guest"]
    return guest


def the_work(connection: HTTPConnection) -> Session:
    """Return a piece of work now, in the name of who asks."""
    guest = the_guest(connection)
    return the_station(connection).session(guest.device, guest.person)


At = Annotated[Station, Depends(the_station)]
Who = Annotated[Guest, Depends(the_guest)]
Work = Annotated[Session, Depends(the_work)]


def when(work: Session, moment: float | None, station: Station) -> Session:
    """Return the work at the moment when it was done on the device; never in the future."""
    if moment is None:
        return work
    at = min(moment, station.clock())
    return Session(work.store, at, work.device, work.person_id, station.utc_offset(at))


def live_of(
    station: Station, challenge_id: str, guest: Guest, at: float | None = None
) -> tuple[LiveChallenge, Session]:
    """Return a challenge and a piece of work on the store that holds it. at: when it was done on the device."""
    home = station.home_of(challenge_id)
    live = home.live.get(challenge_id)
    return live, when(home.session(guest.device, guest.person), at, home)


def work_of(station: Station, challenge_id: str, guest: Guest) -> Session:
    """Return a piece of work on the store that holds a challenge."""
    return station.home_of(challenge_id).session(guest.device, guest.person)
