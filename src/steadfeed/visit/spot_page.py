"""Spot readings on a screen: as typed, what follows from them, findings and next tests."""

from __future__ import annotations

import json
from typing import Any

from steadfeed.errors import FixInput
from steadfeed.visit.session import Session


def spot_screen(session: Session, spot_id: str, visit_id: str | None = None) -> dict[str, Any]:
    """Return one set of spot readings with its values, result, findings and next tests.

    visit_id: it must be on that visit. Raises FixInput when it is not there.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        spot = rows.get(t, "spot", spot_id)
        if visit_id is not None and spot["visit_id"] != visit_id:
            raise FixInput("These readings are on another visit", code="no such spot", where="spot_id")
        spot["values"] = rows.find(t, "spot_value", spot_id=spot_id, order="made_at")
        found = rows.find(t, "finding", spot_id=spot_id, order="made_at")
        tests = rows.find(t, "next_test", finding_id=[f["id"] for f in found], order="made_at") if found else []
    spot["result"] = json.loads(spot["result"]) if spot["result"] else None
    result = spot["result"] or {}
    remarks = [result["remark"]] if "remark" in result else []
    return {
        "spot": spot,
        "findings": [finding_form(f) for f in found],
        "next_tests": [test_form(one) for one in tests],
        "remarks": remarks,
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
