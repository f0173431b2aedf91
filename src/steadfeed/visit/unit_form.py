"""A unit written down from words, as people type them on a command line or a form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from steadfeed.errors import FixInput
from steadfeed.units import parse_quantity, to_si
from steadfeed.visit.units import add_unit, edit_thing
from steadfeed.visit.units_due import check_day

if TYPE_CHECKING:
    from steadfeed.visit.session import Session

_EDITABLE: Final = (
    "tag", "place", "maker", "model", "serial", "note", "kind", "installed_on", "service_interval_days",
)  # fmt: skip


def unit_from_words(
    session: Session,
    tag: str,
    *,
    customer: str | None = None,
    site: str | None = None,
    address: str | None = None,
    altitude: str | None = None,
    place: str | None = None,
    kind: str = "outdoor",
    maker: str | None = None,
    model: str | None = None,
    serial: str | None = None,
    installed: str | None = None,
    interval: int | None = None,
    refrigerant: str | None = None,
    metering_device: str = "unknown",
    circuits: Sequence[str] = (),
    subcooling: str | None = None,
    charge: str | None = None,
) -> str:
    """Write a unit down from what somebody typed and return its identity. Quantities carry their unit as text."""
    from steadfeed.records.weight import parse_weight

    if not tag.strip():
        raise FixInput("A unit needs a tag", code="missing field")
    plate: dict[str, object] = {}
    if subcooling is not None:
        plate["subcooling"] = to_si(
            *parse_quantity(subcooling, "temperature_difference", "degF"), "temperature_difference"
        )
    if charge is not None:
        plate["charge_hundredth_oz"] = parse_weight(charge)
    one = {"metering_device": metering_device, "refrigerant": refrigerant}
    return add_unit(
        session,
        customer={"name": customer} if customer else None,
        site={
            "name": site,
            "address": address,
            "altitude": None if altitude is None else to_si(*parse_quantity(altitude, "length", "ft"), "length"),
        },
        unit={
            "tag": tag.strip(),
            "kind": kind,
            "place": place,
            "maker": maker,
            "model": model,
            "serial": serial,
            "installed_on": None if installed is None else check_day(installed),
            "service_interval_days": interval,
        },
        circuits=[{**one, "name": name} for name in circuits] if circuits else [one],
        nameplate=plate or None,
    )


def edit_unit_words(session: Session, unit_id: str, fields: Mapping[str, str], reason: str | None = None) -> list[str]:
    """Edit fields of a unit from words; an empty word empties the field. Return the identities of the entries."""
    changes: dict[str, object] = {}
    for name, word in fields.items():
        if name not in _EDITABLE:
            raise FixInput(f"A unit has no field “{name}”; it has {', '.join(_EDITABLE)}", code="unknown field")
        if not word.strip():
            changes[name] = None
        elif name == "service_interval_days":
            if not word.strip().isdigit():
                raise FixInput(f"“{word}” is no number of days", code="bad number")
            changes[name] = int(word)
        elif name == "installed_on":
            changes[name] = check_day(word)
        else:
            changes[name] = word.strip()
    return edit_thing(session, "unit", unit_id, changes, reason=reason)
