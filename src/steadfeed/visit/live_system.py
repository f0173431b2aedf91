"""What is known of a circuit when a challenge begins: its system file, as the log of the challenge will have it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.circuit.equipment import System
    from steadfeed.physics.properties import Curves


@dataclass(frozen=True, slots=True)
class LiveSystem:
    """file: the system file without marks; system: what it says. other_circuits: the unit has more than this one."""

    circuit_id: str
    name: str | None
    file: bytes
    system: System
    curves: Curves
    other_circuits: bool


def live_system(t: sa.Connection, circuit_id: str, mode: str, about: Mapping[str, Any]) -> LiveSystem:
    """Return what the records know of a circuit. about: how the challenge is run (way, system).

    Raises FixInput when the refrigerant is not known.
    """
    from steadfeed.capture.system_file import parse_system_bytes
    from steadfeed.physics.properties import curves
    from steadfeed.records import pages, rows
    from steadfeed.visit.typed import need_refrigerant

    facts = pages.circuit_facts(t, circuit_id)
    given = about.get("system")
    file = given.encode() if isinstance(given, str) else _from_records(facts, mode, str(about.get("way")))
    system = parse_system_bytes(file, "system file of the challenge")
    others = len(rows.find(t, "circuit", unit_id=facts["unit"]["id"]))
    return LiveSystem(circuit_id, facts["circuit"]["name"], file, system, curves(need_refrigerant(system)), others > 1)


def _from_records(facts: Mapping[str, Any], mode: str, way: str) -> bytes:
    from steadfeed.visit.visit_logs import system_from_records

    head, _, tables = system_from_records(facts).decode().partition("\n\n[")
    lines = [head.rstrip("\n"), f'mode = "{mode}"']
    by_hand = way == "by hand"
    kind = 'gauges = "analog"\nsampling = "by hand"' if by_hand else 'gauges = "digital"\nsampling = "automatic"'
    whole = "\n".join(lines) + ("\n\n[" + tables if tables else "\n") + f"\n[instruments]\n{kind}\n"
    return whole.encode()


def title_of(t: sa.Connection, unit_id: str, circuit_id: str) -> str:
    """Return the head line of a challenge: place, unit and, of several, the circuit."""
    from steadfeed.records import rows

    unit = rows.get(t, "unit", unit_id)
    circuits = rows.find(t, "circuit", unit_id=unit_id)
    place = ", ".join(part for part in (unit["place"], unit["tag"]) if part) or "Unit without a tag"
    if len(circuits) < 2:
        return place
    circuit = next((c for c in circuits if c["id"] == circuit_id), None)
    return f"{place} · circuit {circuit['name'] if circuit and circuit['name'] else '?'}"
