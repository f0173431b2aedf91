"""Spot readings on a screen: as typed, what follows from them, findings and next tests by today's method."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from steadfeed.errors import FixInput, SteadfeedError
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.analysis.words import Units
    from steadfeed.visit.spot import SpotResult


def spot_screen(session: Session, spot_id: str, visit_id: str | None = None, *, units: Units = "us") -> dict[str, Any]:
    """Return one set of spot readings with its values, result, findings and next tests.

    visit_id: it must be on that visit; units: of the sentences. Raises FixInput when it is not there.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        spot = rows.get(t, "spot", spot_id)
        if visit_id is not None and spot["visit_id"] != visit_id:
            raise FixInput("These readings are on another visit", code="no such spot", where="spot_id")
        spot["values"] = rows.find(t, "spot_value", spot_id=spot_id, order="made_at")
        found = rows.find(t, "finding", spot_id=spot_id, order="made_at")
        tests = rows.find(t, "next_test", finding_id=[f["id"] for f in found], order="made_at") if found else []
        said = diagnosed(t, spot, units)
    spot["result"] = json.loads(spot["result"]) if spot["result"] else None
    result = spot["result"] or {}
    remarks = [result["remark"]] if "remark" in result else []
    return {
        "spot": spot,
        "findings": [*(finding_form(f) for f in found), *said["findings"]],
        "next_tests": [*(test_form(one) for one in tests), *said["next_tests"]],
        "remarks": [*remarks, *said["remarks"]],
    }


def diagnosed(t: sa.Connection, spot: dict[str, Any], units: Units = "us") -> dict[str, list[Any]]:
    """Return what today's method says of kept readings: findings, next tests, remarks; empty where it cannot tell.

    spot: its row with its values. The unit, its refrigerant and its air are those of the records.
    """
    from steadfeed.records import pages
    from steadfeed.units import standard_atmosphere
    from steadfeed.visit.live_system import live_system
    from steadfeed.visit.spot import READINGS, take_spot
    from steadfeed.visit.spot_values import number_of

    typed = {
        one["channel"]: (number_of(one["value"]), one["unit"])
        for one in spot["values"]
        if one["value"] and one["channel"] in READINGS
    }
    if not typed:
        return {"findings": [], "next_tests": [], "remarks": []}
    about = pages.circuit_facts(t, spot["circuit_id"])
    air = about["barometer"] or standard_atmosphere(about["altitude"] or 0.0)
    try:
        system = live_system(t, spot["circuit_id"], spot["mode"] or "cooling", {"way": "by hand"}).system
        said = take_spot(system, typed, air, units_shown=units)
    except SteadfeedError:  # no refrigerant, or readings outside of everything: the numbers stand without causes
        return {"findings": [], "next_tests": [], "remarks": []}
    return _screen_form(said)


def _screen_form(said: SpotResult) -> dict[str, list[Any]]:
    if said.diagnosis is None:
        return {"findings": [], "next_tests": [], "remarks": [slip.text for slip in said.slips]}
    told = [] if said.diagnosis.nothing_found else said.diagnosis.findings
    charge = [said.charge.text] if said.charge is not None and said.charge.level is not None else []
    return {
        "findings": [
            {
                "code": f.code,
                "text": f.text,
                "likelihood": f.likelihood,
                "evidence_for": list(f.evidence_for),
                "evidence_against": list(f.evidence_against),
                "next_step": f.next_step or None,
                "source": f.source or None,
            }
            for f in told
        ],
        "next_tests": [
            {
                "code": one.code,
                "text": one.text,
                "minutes": one.minutes,
                "risk": one.caution or None,
                "gain": one.bits,
                "expected": dict(one.expected),
            }
            for one in (said.tests if told else ())
        ],
        "remarks": [*([said.come_back] if said.come_back else []), *charge],
    }


def finding_form(row: dict[str, Any]) -> dict[str, Any]:
    """Return a kept finding with its sentences as lists."""
    return {
        **row,
        "evidence_for": json.loads(row["evidence_for"] or "[]"),
        "evidence_against": json.loads(row["evidence_against"] or "[]"),
    }


def test_form(row: dict[str, Any]) -> dict[str, Any]:
    """Return a kept next test with what each cause would show."""
    return {**row, "expected": json.loads(row["expected"]) if row["expected"] else None}
