"""A stand-in for the server, for pictures and for the states that a real one reaches seldom.

It answers the paths of the API with invented rows, and streams the readings of examples/orchard-house.csv up to a chosen
phase. Everything on it is invented; the whole path is tested against the real server in the other files.
"""

from __future__ import annotations

import asyncio
import csv
import json
import time
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from steadfeed.physics.properties import curves
from steadfeed.units import to_si

ROOT = Path(__file__).parents[2]
NOW = time.time()
ATMOSPHERE = 101325.0


def said(code: str, text: str, **arguments: Any) -> dict[str, Any]:
    return {"code": code, "arguments": arguments, "text": text}


def amount(kind: str, value: float) -> dict[str, Any]:
    return {"kind": kind, "value": value}


def psig(value: float) -> float:
    return to_si(value, "psig", "pressure", ATMOSPHERE)


def difference(value: float) -> float:
    return value * 5 / 9


def readings() -> list[list[float | None]]:
    """Rows of the example log: time, head, suction, superheat, subcooling, in SI, ending now."""
    r410a = curves("R-410A")
    rows: list[list[float | None]] = []
    with (ROOT / "examples/orchard-house.csv").open() as file:
        lines = [line for line in file if not line.startswith("#")]
    table = list(csv.DictReader(lines))
    import datetime

    for row in table:
        at = datetime.datetime.fromisoformat(row["time"]).timestamp()
        try:
            suction = psig(float(row["suction_pressure_psig"]))
            head = psig(float(row["liquid_pressure_psig"]))
            suction_line = to_si(float(row["suction_line_temperature_degF"]), "degF", "temperature")
            liquid_line = to_si(float(row["liquid_line_temperature_degF"]), "degF", "temperature")
        except (ValueError, KeyError):
            continue
        superheat = suction_line - float(r410a.dew_temperature(suction))
        subcooling = float(r410a.bubble_temperature(head)) - liquid_line
        rows.append([at, head, suction, superheat, subcooling])
    return rows


COLUMNS = ["time", "liquid_pressure", "suction_pressure", "superheat", "subcooling"]
ROWS = readings()
#: Share of the log that has gone by at the end of each phase.
ENDS = {
    "settle": 0.17,
    "baseline": 0.34,
    "plan": 0.34,
    "push": 0.41,
    "hold": 0.62,
    "restore": 0.72,
    "recovery": 0.84,
    "standstill": 0.98,
}
#: Where each begins, seen on the log.
STARTS = {
    "settle": 0.0,
    "baseline": 0.18,
    "push": 0.35,
    "hold": 0.425,
    "restore": 0.627,
    "recovery": 0.735,
    "standstill": 0.85,
}
CIRCUIT = "0198c0de-0000-7000-8000-00000000c1c1"
UNIT = "0198c0de-0000-7000-8000-000000000001"
VISIT = "0198c0de-0000-7000-8000-000000000002"


def rows_until(phase: str) -> list[list[float | None]]:
    part = ROWS[: max(3, int(len(ROWS) * ENDS.get(phase, 0.02)))]
    last = part[-1][0] or 0.0
    return [[NOW - (last - (row[0] or 0.0)), *row[1:]] for row in part]


SENTENCES = {
    "look and safe": ("Look around. Is it safe?", "Answer each; a no stops the test."),
    "instruments": ("Zero the gauges, ice the clamps.", "Every reading must be alive."),
    "standing": ("Unit off: read both pressures.", "They should meet."),
    "settle": ("Let it run. Do not touch it yet.", "Steady in about 8 min."),
    "baseline": ("Steady. Keep everything as it is.", "Baseline is being taken."),
    "plan": ("You may test.", "Least 15, wanted 18 °F."),
    "push": ("Cover half, then wait.", "Head climbs; ceiling far enough."),
    "hold": ("Keep it there. Do not touch.", "The evidence is coming in."),
    "restore": ("Take the cover off now.", "Enough evidence."),
    "recovery": ("Wait until the head is back.", "Then stop the unit."),
    "standstill": ("Unit off. Wait 3 min.", "Both sides drift together."),
    "put back": ("Put everything back.", "Two things are still set aside."),
}
BUTTONS = {
    "look and safe": ("go on", "All answered"),
    "instruments": ("go on", "Instruments are proven"),
    "standing": ("unit is on", "Unit is on"),
    "settle": None,
    "baseline": None,
    "plan": ("begin the push", "Begin the push"),
    "push": ("cover is on", "Cover ½ is on"),
    "hold": ("airflow is restored", "Airflow is restored"),
    "restore": ("airflow is restored", "Airflow is restored"),
    "recovery": ("unit is off", "Unit is off"),
    "standstill": ("go on", "Finish"),
    "put back": ("close", "All is back"),
}


def state(name: str) -> dict[str, Any]:
    """The state of an invented challenge. name: phase, or "alarm", "away", "silent", "hand", "refused"."""
    phase = {"alarm": "hold", "away": "hold", "silent": "hold", "hand": "hold", "refused": "plan", "two": "hold"}.get(
        name, name
    )
    rows = rows_until(phase)
    last = rows[-1]
    began, now = rows[0][0] or 0.0, last[0] or 0.0
    whole = (now - began) / ENDS.get(phase, 0.02)
    journal = [
        {"at": began + share * whole, "phase": p, "cover": None, "why": ""}
        for p, share in STARTS.items()
        if began + share * whole <= now
    ] or [{"at": NOW - 60, "phase": phase, "cover": None, "why": ""}]
    head, suction = last[1] or 0.0, last[2] or 0.0
    sentence, why = SENTENCES[phase]
    button = BUTTONS[phase]
    channels = [
        {
            "channel": "suction_pressure",
            "value": suction,
            "at": now,
            "age": 1.0,
            "state": "live",
            "unit": "psig",
            "source": "s1",
            "same": False,
        },
        {
            "channel": "liquid_pressure",
            "value": head,
            "at": now,
            "age": 1.0,
            "state": "live",
            "unit": "psig",
            "source": "s1",
            "same": False,
        },
        {
            "channel": "suction_line_temperature",
            "value": 287.1,
            "at": now,
            "age": 1.0,
            "state": "live",
            "unit": "degF",
            "source": "s1",
            "same": False,
        },
        {
            "channel": "liquid_line_temperature",
            "value": 310.3,
            "at": now,
            "age": 1.0,
            "state": "live",
            "unit": "degF",
            "source": "s1",
            "same": False,
        },
        {
            "channel": "outdoor_air_temperature",
            "value": 305.3,
            "at": now,
            "age": 4.0,
            "state": "live",
            "unit": "degF",
            "source": "s1",
            "same": False,
        },
    ]
    if name == "silent":
        channels[1] |= {"state": "silent", "age": 38.0, "at": now - 38}
        for row in rows:
            if (row[0] or 0) > now - 38:
                row[1] = None
    ceiling = {
        "head_pressure": psig(555),
        "set_by": "the high-pressure switch less a margin",
        "criterion": "switch_margin",
        "source": "Switch on the nameplate, 600 psig",
        "discharge_temperature": 380.4,
        "limits": [],
    }
    held = {"value": 0.81, "low": 0.69, "high": 0.93, "level": 0.95}
    has_evidence = phase in ("hold", "restore", "recovery", "standstill")
    numbers = [
        {
            "code": "superheat",
            "label": said("word.superheat", "superheat"),
            "kind": "temperature_difference",
            "value": last[3],
            "note": None,
        },
        {
            "code": "subcooling",
            "label": said("word.subcooling", "subcooling"),
            "kind": "temperature_difference",
            "value": last[4],
            "note": None,
        },
    ]
    if phase in ("push", "hold"):
        numbers = [
            {
                "code": "head",
                "label": said("word.head", "head"),
                "kind": "pressure",
                "value": head,
                "note": said("x", "23 to ceiling, rising 1.1/s"),
            },
            {
                "code": "superheat",
                "label": said("word.superheat", "superheat"),
                "kind": "temperature_difference",
                "value": last[3],
                "note": said("x", "was 14.2 at the start"),
            },
        ]
    if phase == "standstill":
        numbers = [
            {
                "code": "suction",
                "label": said("word.suction", "suction"),
                "kind": "pressure",
                "value": suction,
                "note": None,
            },
            {"code": "head", "label": said("word.head", "head"), "kind": "pressure", "value": head, "note": None},
        ]
    circuits = [
        {
            "circuit_id": CIRCUIT, "name": "1", "place": "tested", "refrigerant": "R-410A", "channels": channels,
            "derived": {"evaporating": 278.0, "condensing": 318.0, "superheat": last[3], "subcooling": last[4]},
            "ceiling": ceiling if phase not in ("settle", "look and safe", "instruments", "standing") else None,
            "forecast": [
                {"after": s, "head_pressure": head + psig(0.3 * s) - psig(0), "low": head - 6894 * 0.2 * s, "high": head + 6894 * (0.6 * s + 2)}
                for s in (5, 10, 15, 20)
            ],
            "headroom": {"pressure": ceiling["head_pressure"] - head, "rate": 7000.0, "seconds": None},
        }
    ]  # fmt: skip
    plan = None
    if phase == "plan":
        refusals = (
            [
                {
                    "code": "subcooling low",
                    "text": said("x", "Do not test: subcooling 7 °F."),
                    "source": "Common practice: at least 10 °F at the condenser",
                    "criterion": "least_subcooling",
                    "may_override": "lead",
                    "overridden": False,
                }
            ]
            if name == "refused"
            else []
        )
        plan = {
            "possible": not refusals, "baseline_head": head, "baseline_condensing": 318.0, "least_rise": difference(15), "wanted_rise": difference(18),
            "least_head": psig(441), "go_to_low": psig(452), "go_to_high": psig(470), "stop_at": psig(555), "seconds": 26 * 60, "refusals": refusals,
            "notes": ["Cover the coil; the fan keeps running."],
        }  # fmt: skip
    ready = [
        {"code": "suction", "state": "proven", "text": said("x", "Suction gauge moved at the start"), "vital": True, "fix": None},
        {"code": "head", "state": "proven", "text": said("x", "Head gauge moved at the start"), "vital": True, "fix": None},
        {"code": "clamp", "state": "not yet", "text": said("x", "Suction clamp"), "vital": True, "fix": said("x", "Hold it in your hand for 20 s")},
        {"code": "outdoor", "state": "missing", "text": said("x", "Outdoor air"), "vital": False, "fix": said("x", "Hang one in the shade")},
    ] if phase in ("plan", "instruments") else []  # fmt: skip
    checks = [
        {"code": "people", "text": said("x", "Licensed, glasses and gloves on?"), "answer": "yes", "stops": True, "caution": None},
        {"code": "blades", "text": said("x", "Can the cover not be drawn in?"), "answer": None, "stops": True, "caution": "Moving blades: tape the cover."},
        {"code": "switch", "text": said("x", "Is no pressure switch bypassed?"), "answer": "no", "stops": True, "caution": "Never bypass a pressure switch."},
        {"code": "weather", "text": said("x", "No rain, no lightning?"), "answer": None, "stops": True, "caution": None},
    ] if phase in ("look and safe", "put back") else []  # fmt: skip
    act = None
    if button is not None:
        act = {
            "act": button[0],
            "label": said("x", button[1]),
            "enabled": True,
            "instead": None,
            "cover": 0.5 if button[0] == "cover is on" else None,
        }
        if phase == "plan":
            fix = "Prove the suction clamp first" if name != "refused" else "Do not test"
            act |= {"enabled": False, "instead": said("x", fix)}
    alarm = None
    if name == "alarm":
        alarm = {
            "code": "restore airflow",
            "sentence": said("x", "Restore airflow now"),
            "since": now,
            "circuit_id": CIRCUIT,
            "urgent": True,
            "repeat": 3.0,
        }
    if name == "silent":
        alarm = {
            "code": "head silent",
            "sentence": said("x", "Head silent 38 s: restore"),
            "since": now,
            "circuit_id": CIRCUIT,
            "urgent": False,
            "repeat": 3.0,
        }
        sentence = "Head silent 38 s: restore"
    return {
        "challenge_id": challenge_id(name), "visit_id": VISIT, "sequence": 5000, "at": now, "title": "Roof west, unit 5", "circuit_name": "circuit 1",
        "way": "by hand" if name == "hand" else "instruments", "mode": "cooling", "purpose": "as found", "phase": phase, "phase_since": now - 100,
        "sentence": said("x", sentence), "why": said("x", why), "time_left": 340.0 if phase in ("settle", "hold") else None, "button": act,
        "others": [{"act": "abort", "label": said("x", "Stop the test"), "needs_reason": True}], "numbers": numbers, "circuits": circuits,
        "evidence": {
            "at": now, "verdict": "regulating" if has_evidence else "undecided", "valid": False, "early": False, "reasons": [], "probability": None,
            "feed_held": held if has_evidence else None, "enough": False, "called_after": None,
            "sentence": said("x", "The valve holds the feed so far." if has_evidence else "No evidence yet"),
        },
        "alarm": alarm, "away": 130.0 if name == "away" else None, "checks": checks, "ready": ready, "plan": plan, "cover": None,
        "hand_row": {"number": 4, "of": 7, "what": said("x", "hold 1"), "due_in": 45.0, "channels": [c["channel"] for c in channels[:4]]} if name == "hand" else None,
        "devices": [{"device": "d1", "name": "phone", "person": None, "role": "coil", "recording": True, "watching": True, "seen_at": now}],
        "watched": True, "not_restored": ["thermostat", "cover"] if phase == "put back" else [], "useful_work": [], "undoable": [],
        "saved": {"written": 4210, "waiting": 0, "last_at": now, "store": "local"},
        "marks": [{"id": "m1", "at": began + 0.4 * whole, "event": "note", "text": "gust"}] if phase in ("hold", "recovery", "standstill") else [],
        "journal": journal, "aborted": False, "finished": False,
    }  # fmt: skip


NAMES = [
    "look and safe",
    "instruments",
    "settle",
    "baseline",
    "plan",
    "refused",
    "push",
    "hold",
    "alarm",
    "away",
    "silent",
    "hand",
    "recovery",
    "standstill",
    "put back",
]


def challenge_id(name: str) -> str:
    return f"0198c0de-0000-7000-8000-{NAMES.index(name):012d}"


def name_of(identity: str) -> str:
    return NAMES[int(identity[-12:])]


VERDICT = {
    "id": "v1", "verdict": "regulating", "valid": True, "early": False, "reasons": [], "feed_held": 0.81, "feed_held_low": 0.69, "feed_held_high": 0.93,
    "method_version": "1+abc", "made_at": NOW, "changed": [],
}  # fmt: skip


def challenge_row(
    number: int, days_ago: int, held: float | None, valid: bool = True, reason: str = ""
) -> dict[str, Any]:
    verdict = VERDICT | {
        "feed_held": held, "feed_held_low": None if held is None else held - 0.12, "feed_held_high": None if held is None else held + 0.12,
        "valid": valid, "reasons": [reason] if reason else [], "verdict": "regulating" if valid else "undecided",
    }  # fmt: skip
    return {
        "id": f"0198c0de-0000-7000-8000-1000000000{number:02d}", "visit_id": VISIT, "circuit_id": CIRCUIT, "started_at": NOW - days_ago * 86400,
        "mode": "cooling", "purpose": "as found", "note": None, "verdict": verdict, "marks": [], "live": False,
    }  # fmt: skip


UNIT_ROW = {
    "id": UNIT, "site_id": "s", "kind": "outdoor", "tag": "Roof west 5", "place": "Roof, west side", "maker": "Invented Works", "model": "HP-36", "serial": "K7Q2-4471",
    "installed_on": "2019-05-02", "service_interval_days": 365, "retired_at": None, "note": None,
}  # fmt: skip
SITE = {
    "id": "s",
    "name": "Alder Street bakery",
    "address": "14 Alder Street",
    "altitude": 120.0,
    "barometer": None,
    "time_zone": None,
}
CIRCUITS = [
    {"id": CIRCUIT, "unit_id": UNIT, "name": "1", "metering_device": "txv", "nominal_capacity": 10550.0, "compressor_type": "scroll", "compressor_control": "single-speed", "fan_control": "on-off", "refrigerant": "R-410A", "refrigerants": [], "line_sets": []}
]  # fmt: skip
VISIT_ROW = {
    "id": VISIT, "unit_id": UNIT, "person_id": None, "device": None, "opened_at": NOW - 1500, "closed_at": None, "reason": "service",
    "complaint": "warm back room since Tuesday", "not_refrigerant": None, "draft": None, "review": None,
}  # fmt: skip
FINDINGS = [
    {"id": "f1", "code": "undercharge", "text": "Less refrigerant than it should hold.", "likelihood": 0.74, "evidence_for": ["Superheat is 22 °F, target 12.", "Subcooling is 3 °F, target 10."], "evidence_against": ["The split is normal."], "next_step": "Weigh in 6 oz, then read again.", "source": "Rossi and Braun (1997), table 4"},
    {"id": "f2", "code": "restriction", "text": "The liquid line may be restricted.", "likelihood": 0.22, "evidence_for": ["Superheat is high."], "evidence_against": ["Subcooling is low, not high."], "next_step": "Feel the drier: is it colder behind?", "source": "common practice"},
]  # fmt: skip
TESTS = [
    {
        "id": "t1",
        "code": "drier",
        "text": "Temperature across the drier",
        "minutes": 2.0,
        "risk": "none",
        "gain": 0.6,
        "expected": None,
    }
]
HISTORY = [
    VISIT_ROW | {"technician": "R. Vance", "challenges": [], "spots": [], "findings": [], "actions": [], "refrigerant_moves": [], "open_overrides": []},
    VISIT_ROW | {"id": "v9", "closed_at": NOW - 3e7, "opened_at": NOW - 3e7, "reason": "maintenance", "complaint": None, "technician": "R. Vance", "challenges": [challenge_row(1, 360, 0.84), challenge_row(2, 730, None, False, "too little subcooling"), challenge_row(3, 1090, 0.78)], "spots": [], "findings": [], "actions": [], "refrigerant_moves": [], "open_overrides": []},
]  # fmt: skip
PHOTO = {
    "id": "0198c0de-0000-7000-8000-200000000001", "owner": "visit", "owner_id": VISIT, "kind": "photo", "media": "image/jpeg", "size": 20_000, "width": 480, "height": 360,
    "taken_at": NOW - 600, "text": "Ice on the suction line, behind the panel", "made_at": NOW - 600,
}  # fmt: skip
VOICE_NOTE = PHOTO | {
    "id": "0198c0de-0000-7000-8000-200000000003",
    "kind": "voice note",
    "media": "audio/webm",
    "text": "14 s",
}
UNIT_PAGE = {
    "unit": UNIT_ROW, "site": SITE, "customer": {"id": "c", "name": "Alder Street bakery", "phone": None, "email": None, "language": None}, "circuits": CIRCUITS,
    "nameplates": [{"id": "n", "circuit_id": None, "subcooling": difference(10), "superheat": None, "high_side_design_pressure": None, "high_side_is_working_limit": None, "rated_current": None, "charge_hundredth_oz": 9600}],
    "installations": [], "due": [], "attachments": [PHOTO | {"owner": "unit", "text": "Nameplate"}, PHOTO | {"id": "0198c0de-0000-7000-8000-200000000002", "owner": "unit", "text": None}], "visits": HISTORY,
}  # fmt: skip
ACTS = [
    "complaint",
    "look and safe",
    "instruments",
    "spot readings",
    "may I test",
    "challenge",
    "findings",
    "refrigerant",
    "put back",
    "papers",
]


def visit_page(current: str = "spot readings") -> dict[str, Any]:
    at = ACTS.index(current)
    rows = [
        {
            "act": act,
            "state": "done" if i < at else "current" if i == at else "open",
            "text": "",
            "why": None,
            "minutes": 3.0,
        }
        for i, act in enumerate(ACTS)
    ]
    if at > 2:
        rows[2] |= {"state": "skipped", "why": "proved this morning"}
    return {
        "visit": VISIT_ROW, "unit": UNIT_ROW, "site": SITE, "circuits": CIRCUITS,
        "path": {"rows": rows, "next_act": current, "minutes_left": 34.0, "test_minutes": 26.0}, "challenges": [challenge_row(4, 0, 0.81)] if at > 5 else [],
        "spots": [], "findings": FINDINGS, "next_tests": TESTS, "actions": [],
        "refrigerant_moves": [{"id": "r1", "circuit_id": CIRCUIT, "at": NOW - 300, "refrigerant": "R-410A", "direction": "in", "weight_hundredth_oz": 600, "as_typed": "6 oz", "cylinder": None}],
        "set_aside": [{"id": "o1", "what": "thermostat", "at": NOW - 900, "text": None, "question": "", "put_back": None}] if at > 3 else [],
        "attachments": [PHOTO, VOICE_NOTE],
    }  # fmt: skip


def picture() -> bytes:
    """A drawn plate, in place of a photo."""
    import io

    from PIL import Image, ImageDraw

    plate = Image.new("RGB", (480, 360), "#8c9095")
    draw = ImageDraw.Draw(plate)
    draw.rectangle((60, 60, 420, 300), fill="#d9dadb", outline="#3a3d42", width=6)
    for number, wide in enumerate((240, 300, 180, 270, 210)):
        draw.rectangle((90, 96 + 40 * number, 90 + wide, 108 + 40 * number), fill="#50545a")
    out = io.BytesIO()
    plate.save(out, "JPEG", quality=80)
    return out.getvalue()


def day_rows() -> list[dict[str, Any]]:
    base = {
        "unit_id": UNIT,
        "visit_id": None,
        "challenge_id": None,
        "place": None,
        "reason": None,
        "condition": None,
        "due_on": None,
        "opened_at": None,
        "state": "due",
    }
    return [
        base | {"title": "Alder Street bakery", "place": "Roof, west side, Roof west 5", "reason": "warm back room since Tuesday", "visit_id": VISIT, "opened_at": NOW - 1500, "state": "open"},
        base | {"unit_id": "u2", "title": "Alder Street, heat pump", "place": "Yard", "reason": "no heat", "due_on": "2026-02-03"},
        base | {"unit_id": "u3", "title": "Harbour clinic of the northern district", "place": "Roof, plant room door", "reason": "maintenance", "condition": "come back above 45 °F", "due_on": "2026-01-12"},
        base | {"unit_id": "u4", "title": "School on Quarry Lane", "place": "Gym, unit 2", "reason": "callback", "due_on": "2026-01-30"},
    ]  # fmt: skip


JUDGEMENT = {
    "headline": "The valve regulates. Head rose 130 psi, the feed stayed level.", "good_news": "Good news: this unit should have a TXV.", "verdict_id": "v1", "sealed": True,
    "fingerprint": "931830ec460d7a12",
    "judgement": {
        "valid": True, "verdict": "regulating", "reasons": [], "early": False, "probability": {"regulating": 0.98}, "feed_held": {"value": 0.81, "low": 0.69, "high": 0.93, "level": 0.95},
        "phases": {}, "findings": FINDINGS[:1], "would_change": ["A hold of two more minutes would narrow the interval."],
        "checks": [
            {"name": "push too small", "passed": True, "text": "Condensing rose by 18.2 °F", "criterion": "least_push"},
            {"name": "too little subcooling", "passed": True, "text": "Subcooling at the start was 15.6 °F", "criterion": "least_subcooling"},
            {"name": "load drifted", "passed": None, "text": "Return air was not read", "criterion": "load_return_air"},
        ],
        "notes": [], "repairs": [{"text": "Liquid line was in °C under a °F header: repaired."}],
    },
}  # fmt: skip
UNDECIDED = {
    "headline": "Undecided: this test could not tell.", "good_news": None, "verdict_id": "v2", "sealed": False, "fingerprint": "11aa22bb33cc44dd",
    "judgement": {
        "valid": False, "verdict": "undecided", "reasons": ["too little subcooling", "hold too short"], "early": False, "probability": None, "feed_held": None, "phases": {}, "findings": [],
        "would_change": ["Charge to 10 °F of subcooling, then repeat the hold."],
        "checks": [{"name": "too little subcooling", "passed": False, "text": "Subcooling at the start was 6.1 °F", "criterion": "least_subcooling"}], "notes": [], "repairs": [],
    },
}  # fmt: skip
SCENARIOS = [
    {"name": "first", "title": "A quiet roof unit", "text": "Nobody complains. Does its valve work?", "level": "easy", "minutes": 26.0, "mode": "cooling"},
    {"name": "hot", "title": "Hot bakery", "text": "Warm back room since Tuesday, 95 °F outside.", "level": "medium", "minutes": 26.0, "mode": "cooling"},
    {"name": "two", "title": "Two circuits, one fan", "text": "The other circuit climbs too.", "level": "hard", "minutes": 30.0, "mode": "cooling"},
]  # fmt: skip
SCORE = {
    "right": False, "brier": 0.3, "said": [], "answer": {"verdict": "fixed", "cause": "undercharge", "confidence": 0.7},
    "truth": {"verdict": "regulating", "other_faults": ["undercharge"]},
    "rows": [
        {"code": "safety", "good": True, "text": "The head stayed 40 psi below the ceiling."},
        {"code": "validity", "good": True, "text": "You waited until it was steady."},
        {"code": "cause", "good": False, "text": "The valve was right; the charge was missed."},
        {"code": "confidence", "good": False, "text": "You were surer than the readings."},
    ],
}  # fmt: skip
SOURCES = [
    {
        "id": "s1", "kind": "bluetooth", "name": "My gauges", "state": "connected", "text": "6 readings a second", "silent_since": None, "readings": 4210,
        "channels": [
            {"source": "s1", "header": "P low", "unit": "psig", "value": "118.2", "at": NOW, "quality": None, "proposed": "suction_pressure", "why": "name, and the lower pressure", "mapped": None, "circuit_id": None, "confirmed": False},
            {"source": "s1", "header": "P high", "unit": "psig", "value": "398.0", "at": NOW, "quality": None, "proposed": "liquid_pressure", "why": "name, and the higher pressure", "mapped": None, "circuit_id": None, "confirmed": False},
        ],
    }
]  # fmt: skip
KINDS = [
    {"kind": "csv", "text": "A file that another program keeps writing.", "fields": [{"name": "path", "text": "Path of the file", "needed": True, "example": "readings.csv"}], "part": None, "missing": None},
    {"kind": "mqtt", "text": "A broker on the network.", "fields": [{"name": "host", "text": "Broker", "needed": True, "example": "broker.local"}], "part": "instruments", "missing": None},
    {"kind": "bluetooth", "text": "Environmental sensing over Bluetooth.", "fields": [], "part": "instruments", "missing": "Install steadfeed[instruments] first."},
    {"kind": "ingest", "text": "Anything that can send JSON.", "fields": [], "part": None, "missing": None},
]  # fmt: skip


class Double:
    """What the stand-in answers; tests change it. log: (method, path) of every request."""

    def __init__(self, app_folder: Path) -> None:
        self.app_folder = app_folder
        self.empty = False
        self.current = "spot readings"
        self.known = True
        self.long = False
        self.log: list[tuple[str, str]] = []

    def answer(self, method: str, path: str) -> Any:
        """Return the JSON of one path, None for 404."""
        from steadfeed.visit import catalog

        part = path.removeprefix("/api/v1").strip("/").split("/")
        if path == "/api/v1/session":
            return {"device": "d1", "person_id": None, "person": None, "role": "technician", "expires_at": NOW + 9e5}
        if path == "/api/v1/person":
            return {
                "device": "d1",
                "person_id": None,
                "person": "R. Vance",
                "role": "technician",
                "expires_at": NOW + 9e5,
            }
        plain: dict[str, Any] = {
            "about": {"name": "steadfeed", "version": "1", "method_version": "1+abc", "coefficient_file_version": "x", "now": NOW, "store": "roof-laptop", "app_built": True, "parts": [], "languages": ["en", "es"], "advice": catalog.ADVICE},
            "today": {"now": NOW, "day": "2026-02-01", "rows": [] if self.empty else day_rows()},
            "day-pack": {"fetched_at": NOW, "day": "2026-02-01", "rows": [] if self.empty else day_rows(), "units": [] if self.empty else [UNIT_PAGE]},
            "units": [] if self.empty else [{"id": UNIT, "tag": "Roof west 5", "place": "Roof, west side", "serial": "K7Q2-4471", "site": "Alder Street bakery", "address": "14 Alder Street", "customer": "Alder Street bakery", "refrigerants": ["R-410A"]}],
            "search": [] if self.empty else [{"visit_id": VISIT, "unit_id": UNIT, "opened_at": NOW - 9e6, "closed_at": NOW - 9e6, "complaint": "warm back room", "tag": "Roof west 5", "place": "Roof", "serial": "K7", "site": "Alder Street bakery", "address": "", "customer": "", "refrigerants": ["R-410A"], "verdicts": ["regulating"]}],
            "practice/scenarios": {"scenarios": [] if self.empty else SCENARIOS},
            "sources": {"sources": [] if self.empty else SOURCES},
            "source-kinds": {"kinds": KINDS},
            "refrigerants": {"refrigerants": catalog.refrigerants()[0], "refused": {}},
            "criteria": {"fingerprint": "x", "criteria": catalog.criteria()[1]},
            "devices": {"devices": [{"device": "d1", "name": "Android", "role": "technician", "expires_at": NOW + 9e5, "own": True}, {"device": "d2", "name": "Windows", "role": "read-only", "expires_at": NOW + 9e5, "own": False}]},
            "devices/invitations": {"link": "https://192.0.2.7:8766/#/pair/abcdefghijklmnopqrstuvwxyz0123456789ABCDE", "certificate_page": "http://192.0.2.7:8767/", "fingerprint": "A1:B2:C3:D4:E5:F6:07:18:29:3A:4B:5C:6D:7E:8F:90:A1:B2:C3:D4:E5:F6:07:18:29:3A:4B:5C:6D:7E:8F:90", "qr": _qr(), "expires_at": NOW + 600},
        }  # fmt: skip
        found = plain.get("/".join(part))
        if found is not None:
            return found
        if part[0] == "units" and self.long:
            visits = [
                HISTORY[1] | {"id": f"v{n}", "opened_at": NOW - n * 4e6, "closed_at": NOW - n * 4e6, "challenges": [challenge_row(n, 45 * n, 0.8 - n / 200)]}
                for n in range(1, 41)
            ]  # fmt: skip
            return UNIT_PAGE | {"visits": visits}
        if part[-1] == "codes":
            return {"pictures": [_qr(), _qr()]}
        if part[0] == "take-over":
            return {"visit_id": VISIT, "from_name": "R. Vance", "to_name": "M. Ibarra", "sentences": ["The condenser is covered: is somebody watching it?", "Roof west 5: from R. Vance to M. Ibarra.", "Now: push, cover 50%.", "Set aside: thermostat. Is the thermostat back where it was?"], "readings": 412, "conflicts": 0}  # fmt: skip
        if part[0] == "units":
            return UNIT_PAGE | (
                {
                    "visits": [],
                    "nameplates": [],
                    "circuits": [CIRCUITS[0] | {"refrigerant": None, "metering_device": "unknown"}],
                }
                if self.empty
                else {}
            )
        if part[0] == "visits" and part[-1] == "spots":
            return {
                "spot": {
                    "id": "x",
                    "visit_id": VISIT,
                    "circuit_id": CIRCUIT,
                    "taken_at": NOW,
                    "mode": "cooling",
                    "purpose": "as found",
                    "values": [],
                    "result": {
                        "superheat_degF": 22.4,
                        "subcooling_degF": 3.1,
                        "evaporating_degF": 38.0,
                        "condensing_degF": 104.2,
                    },
                },
                "findings": FINDINGS,
                "next_tests": TESTS,
                "remarks": ["Outdoor air would tell most."],
            }
        if part[0] == "visits":
            return visit_page(self.current)
        if part[0] == "practice" and part[-1] == "choices":
            return {
                "verdicts": ["regulating", "fixed", "weak", "undecided"],
                "causes": [{"code": "undercharge", "text": "Undercharge"}, {"code": "nothing", "text": "Nothing else"}],
            }
        if part[0] == "practice" and part[-1] in ("score", "answer"):
            return SCORE
        if part[0] == "practice" and part[-1] == "replay":
            return {
                "columns": COLUMNS,
                "rows": rows_until("standstill"),
                "events": [{"at": NOW - 600, "by": "person", "text": "Cover to a half"}],
            }
        if part[0] == "practice":
            return {
                "id": "p",
                "challenge_id": challenge_id("hold"),
                "scenario": "first",
                "seed": 1,
                "speed": 20.0,
                "cover": 0.5,
                "running": True,
                "tripped": False,
                "bench_seconds": 900,
                "state": state("hold"),
            }
        if part[0] == "challenges" and part[-1] == "judgement":
            return UNDECIDED if self.empty else JUDGEMENT
        if part[0] == "challenges" and part[-1] == "readings":
            return {
                "circuit_id": CIRCUIT,
                "columns": COLUMNS,
                "rows": rows_until("standstill"),
                "every": 1,
                "sequence": 1,
            }
        if part[0] == "challenges" and part[-1] == "channel-map":
            return {"rows": [], "missing": []}
        if part[0] == "challenges":
            try:
                return state(name_of(part[1]))
            except (ValueError, IndexError):
                return state("standstill")
        return None


def _qr() -> str:
    import io

    import segno

    out = io.BytesIO()
    segno.make("https://192.0.2.7:8766/#/pair/abcdefghijklmnopqrstuvwxyz0123456789ABCDE").save(
        out, kind="svg", xmldecl=False, svgns=True, border=2
    )
    return out.getvalue().decode()


def make(double: Double) -> Starlette:
    """The ASGI application of a stand-in."""
    from steadfeed.web.gate import CONTENT_SECURITY

    async def api(request: Request) -> Response:
        double.log.append((request.method, request.url.path))
        if not double.known:
            return JSONResponse({"error": {"code": "no session", "message": "Open a new link", "where": None}}, 401)
        if request.url.path.endswith("/coefficients"):
            return FileResponse(ROOT / "src/steadfeed/physics/data/coefficients.json")
        if request.url.path.endswith("/content"):
            return Response(picture(), media_type="image/jpeg")
        if request.url.path.endswith("/hand-over"):
            headers = {"content-disposition": 'attachment; filename="visit-0198c0de.handover"'}
            return Response(b"steadfeed hand-over", media_type="application/octet-stream", headers=headers)
        if request.url.path == "/api/v1/queue":
            body = await request.json()
            return JSONResponse(
                {
                    "queue": body["queue"],
                    "receipts": [
                        {"sequence": i["sequence"], "id": i["id"], "state": "done", "error": None}
                        for i in body["items"]
                    ],
                    "acknowledged": body["items"][-1]["sequence"],
                }
            )
        found = double.answer(request.method, request.url.path)
        return (
            JSONResponse(found)
            if found is not None
            else JSONResponse({"error": {"code": "not here", "message": "There is nothing here", "where": None}}, 404)
        )

    async def stream(socket: WebSocket) -> None:
        await socket.accept()
        try:
            name = name_of(socket.path_params["challenge"])
        except (ValueError, IndexError):
            name = "hold"
        now = state(name)
        rows = rows_until(now["phase"])
        if name == "silent":
            rows = [[t, h if (t or 0) < NOW - 38 else None, *rest] for t, h, *rest in rows]
        await socket.send_text(
            json.dumps({"type": "hello", "sequence": 0, "stream": "s", "resumed": False, "server_time": NOW})
        )
        await socket.send_text(
            json.dumps(
                {
                    "type": "history",
                    "sequence": 4000,
                    "circuit_id": CIRCUIT,
                    "columns": COLUMNS,
                    "rows": rows,
                    "every": 1,
                }
            )
        )
        await socket.send_text(json.dumps({"type": "state", "sequence": 5000, "state": now}))
        try:
            while True:
                await asyncio.wait_for(socket.receive_text(), 3600)
        except (WebSocketDisconnect, TimeoutError):
            return

    async def page(request: Request) -> Response:
        path = request.url.path.lstrip("/")
        file = double.app_folder / path
        if not path or not file.is_file():
            file = double.app_folder / "index.html"
        media = "application/manifest+json" if file.suffix == ".webmanifest" else None
        return FileResponse(file, media_type=media, headers={"content-security-policy": CONTENT_SECURITY})

    return Starlette(
        routes=[
            WebSocketRoute("/api/v1/challenges/{challenge}/stream", stream),
            Route("/api/{path:path}", api, methods=["GET", "POST", "PUT", "PATCH", "DELETE"]),
            Route("/{path:path}", page),
        ]
    )
