"""A small invented company in a store, for tests."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from steadfeed.records import rows
from steadfeed.records.rows import By

NOW = 1_785_000_000.0
BY = By(now=NOW, device="test bench")


@dataclass(frozen=True)
class Small:
    customer: str
    site: str
    unit: str
    circuit: str
    person: str
    visit: str
    challenge: str


def small_company(t: sa.Connection, tag: str = "W-05") -> Small:
    customer = rows.add(t, "customer", {"name": "Ardenfield Mills", "phone": "555 0100"}, BY)
    site = rows.add(
        t, "site", {"customer_id": customer, "name": "Mill house", "address": "12 Alder Street", "altitude": 120.0}, BY
    )
    unit = rows.add(
        t, "unit", {"site_id": site, "kind": "outdoor", "tag": tag, "serial": "QX-2241-8830", "place": "Roof west"}, BY
    )
    circuit = rows.add(t, "circuit", {"unit_id": unit, "name": "1", "metering_device": "txv"}, BY)
    rows.add(t, "circuit_refrigerant", {"circuit_id": circuit, "refrigerant": "R-410A"}, BY)
    person = rows.add(
        t, "person", {"name": "Ines Calloway", "certification_type": "Universal", "role": "technician"}, BY
    )
    visit = rows.add(t, "visit", {"unit_id": unit, "person_id": person, "opened_at": NOW, "complaint": "warm air"}, BY)
    challenge = rows.add(
        t, "challenge", {"visit_id": visit, "circuit_id": circuit, "started_at": NOW + 60, "mode": "cooling"}, BY
    )
    return Small(customer, site, unit, circuit, person, visit, challenge)
