"""What every route needs: the station, who asks, a piece of work in their name."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends
from starlette.requests import HTTPConnection

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
