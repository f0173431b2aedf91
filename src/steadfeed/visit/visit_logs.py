"""Logs on a visit: kept byte for byte, one challenge a circuit, with a system file from the records when none is given."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session
from steadfeed.visit.visits import circuit_of

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.circuit.equipment import System
    from steadfeed.circuit.recording import Recording


@dataclass(frozen=True, slots=True)
class AddedLog:
    """A log that is now on a visit. challenges: one a circuit; known: it was there already; remarks: sentences."""

    challenges: tuple[str, ...]
    sha256: str
    known: bool
    remarks: tuple[str, ...]


def add_log(
    session: Session,
    visit_id: str,
    log: bytes,
    name: str,
    *,
    system: bytes | None = None,
    system_name: str | None = None,
    circuit: str | None = None,
    purpose: str | None = None,
) -> AddedLog:
    """Add a log to a visit: kept as received, a challenge for each of its circuits, its marks beside it.

    system: bytes of its system file; without one, a system file is written from what the records know of the circuit.
    circuit: name of the unit's circuit when the log does not tell. The same log again changes nothing. Raises FixInput
    when the log cannot be read.
    """
    from steadfeed.capture.logs import parse_log
    from steadfeed.capture.system_file import default_system, parse_system_bytes
    from steadfeed.records import pages, readings, rows
    from steadfeed.visit.visits import _refuse_closed

    sha256 = hashlib.sha256(log).hexdigest()
    remarks: list[str] = []
    with session.store.writing() as t:
        visit = _refuse_closed(t, visit_id)
        there = _already(t, visit_id, sha256)
        if there:
            return AddedLog(there, sha256, True, ("This log is on the visit already; nothing was changed",))
        facts = pages.circuit_facts(t, circuit_of(t, visit_id, circuit)) if circuit or _one_circuit(t, visit) else None
        if system is None and facts is not None:
            system, system_name = system_from_records(facts), "from the records"
            remarks.append("No system file was given: what the records know of the unit was used")
        known = parse_system_bytes(system, system_name or "system file") if system is not None else default_system()
        if facts is not None and system_name != "from the records":
            remarks += _contradictions(known, facts)
        recordings = parse_log(log, name, known)
        kept = readings.keep_file(t, log, session.now)
        kept_system = readings.keep_file(t, system, session.now) if system is not None else None
        challenges = []
        for recording in recordings:
            only = len(recordings) == 1 and _one_circuit(t, visit)  # whatever the log calls it
            circuit_id = circuit_of(t, visit_id, circuit or (None if only else recording.circuit))
            challenge_id = rows.add(
                t,
                "challenge",
                {
                    "visit_id": visit_id,
                    "circuit_id": circuit_id,
                    "started_at": session.now if recording.elapsed else float(recording.time[0]),
                    "mode": known.mode,
                    "purpose": purpose,
                },
                session.by,
            )
            link = {
                "challenge_id": challenge_id,
                "log_sha256": kept,
                "log_name": name,
                "system_sha256": kept_system,
                "system_name": system_name,
                "circuit_label": recording.circuit,
            }
            rows.add(t, "challenge_log", link, session.by)
            _add_marks(t, challenge_id, recording, session)
            challenges.append(challenge_id)
    return AddedLog(tuple(challenges), sha256, False, tuple(remarks))


def read_log_files(log: Path, system: Path | None) -> tuple[bytes, str | None, bytes | None]:
    """Return the bytes of a log, and name and bytes of its system file: the given one, else the one beside it."""
    from steadfeed.capture.logs import read_bytes
    from steadfeed.capture.system_file import find_system

    beside = system or find_system(log)
    content = read_bytes(log)
    if beside is None:
        return content, None, None
    return content, Path(beside).name, read_bytes(beside)


def _already(t: sa.Connection, visit_id: str, sha256: str) -> tuple[str, ...]:
    from steadfeed.records import rows

    mine = [c["id"] for c in rows.find(t, "challenge", visit_id=visit_id)]
    return tuple(row["challenge_id"] for row in rows.find(t, "challenge_log", challenge_id=mine, log_sha256=sha256))


def _one_circuit(t: sa.Connection, visit: Mapping[str, Any]) -> bool:
    from steadfeed.records import rows

    return len(rows.find(t, "circuit", unit_id=visit["unit_id"])) == 1


def _add_marks(t: sa.Connection, challenge_id: str, recording: Recording, session: Session) -> None:
    from steadfeed.records import rows

    marks = [
        {
            "challenge_id": challenge_id,
            "at": mark.time,
            "utc_offset": recording.utc_offset,
            "event": mark.event,
            "text": mark.text or None,
        }
        for mark in recording.marks
    ]
    if marks:
        rows.add_many(t, "mark", marks, session.by)


def _contradictions(system: System, facts: Mapping[str, Any]) -> list[str]:
    """Say where a system file and the records differ on what decides a judgement."""
    from steadfeed.visit.units import known_refrigerant

    said = []
    stated = known_refrigerant(system.refrigerant) if system.refrigerant else None
    if stated and facts["refrigerant"] and stated != facts["refrigerant"]:
        said.append(f"The system file says {stated}, the records say {facts['refrigerant']}: check the nameplate")
    device = facts["circuit"]["metering_device"]
    if device not in (None, "unknown", system.metering_device.value) and system.metering_device.value != "unknown":
        said.append(f"The system file says {system.metering_device.value}, the records say {device}")
    return said


def system_from_records(facts: Mapping[str, Any]) -> bytes:
    """Write a system file from what the records know of a circuit (see records.pages.circuit_facts). SI units."""
    from steadfeed.records.weight import grams

    if facts["refrigerant"] is None:
        raise FixInput(
            "The records do not say which refrigerant this circuit holds; add it, or give a system file",
            code="missing field",
        )
    circuit, plate, lines = facts["circuit"], facts["nameplate"] or {}, facts["line_set"] or {}
    top = {
        "refrigerant": facts["refrigerant"],
        "metering_device": circuit["metering_device"],
        "circuit": circuit["name"],
        "packaged": facts["unit"]["kind"] == "packaged",
        "nominal_capacity_W": circuit["nominal_capacity"],
        "compressor_type": circuit["compressor_type"],
        "compressor_control": circuit["compressor_control"],
        "fan_control": circuit["fan_control"],
        "time_zone": facts["time_zone"],
    }
    design = plate.get("high_side_design_pressure")
    charge = plate.get("charge_hundredth_oz")
    tables = {
        "site": {"altitude_m": facts["altitude"], "barometer_hPa": _over(facts["barometer"], 100.0)},
        "nameplate": {
            "subcooling_K": plate.get("subcooling"),
            "superheat_K": plate.get("superheat"),
            "high_side_design_kPaa": _over(design, 1000.0),
            "high_side_is_working_limit": plate.get("high_side_is_working_limit"),
            "rated_current_A": plate.get("rated_current"),
            "charge_kg": None if charge is None else grams(charge) / 1000,
        },
        "line_set": {
            "length_m": lines.get("length"),
            "lift_m": lines.get("lift"),
            "liquid_line_mm": _over(lines.get("liquid_line_diameter"), 1e-3),
            "suction_line_mm": _over(lines.get("suction_line_diameter"), 1e-3),
        },
    }
    out = ["# Written from the records."]
    out += [f"{key} = {_toml(value)}" for key, value in top.items() if value is not None]
    for name, table in tables.items():
        known = {key: value for key, value in table.items() if value is not None}
        if known:
            out += ["", f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in known.items())]
    return ("\n".join(out) + "\n").encode()


def _over(value: float | None, unit: float) -> float | None:
    return None if value is None else value / unit


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(float(value))
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " else f"\\u{ord(c):04x}" for c in text) + '"'
