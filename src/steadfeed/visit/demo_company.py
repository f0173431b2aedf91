"""An invented company: units, people and four years of visits, so that every page and list can be tried.

Nothing in it is real: names, places, serials and readings are made from a seed. About sixty visits carry a whole
challenge from the bench, judged like any other log; the rest carry spot readings of a simple steady model.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import NotAllowed
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    import sqlalchemy as sa

    from steadfeed.visit.practice import OrderedChallenge

#: Said by the command, on every customer and on the company's own people.
INVENTED: Final = "Invented for the demonstration."
COMPANY: Final = "Larch & Quillon Refrigeration"
DAY: Final = 86_400.0
YEARS: Final = 4
#: Runs one challenge: order -> (log, system file).
RunChallenge = Callable[["OrderedChallenge"], tuple[bytes, bytes]]

_PEOPLE: Final = (
    ("Ottoline Varga-Reed", "lead"), ("Ignace Thornbury", "technician"), ("Sunniva Delacroix-Obi", "technician"),
    ("Barnaby Quist", "technician"), ("Perpetua Lindqvist", "apprentice"), ("Aurelio Fenwick", "office"),
)  # fmt: skip
_FIRST: Final = ("Ardenfield", "Brackwater", "Corrindale", "Dunmarsh", "Ellerby", "Fallowmere", "Gannetry", "Hollowick",
                 "Inverlea", "Jessamy", "Kestrelby", "Lanternhill")  # fmt: skip
_SECOND: Final = ("Bakery", "Dental rooms", "Library", "Chapel hall", "Print works", "Nursery school", "Bookbinders", "Mill", "Clinic",
                  "Music school", "Joinery", "Apartments")  # fmt: skip
_STREETS: Final = (
    "Alder Street",
    "Bobbin Lane",
    "Cinder Row",
    "Drover's Way",
    "Elm Rise",
    "Foundry Court",
    "Gander Green",
    "Heron Walk",
)
_PLACES: Final = ("Roof west", "Roof east", "Roof north", "Yard", "Behind the store", "North wall", "Attic side")
_MAKERS: Final = ("Orlan", "Veltra", "Nordhammer")  # invented, like all the rest
_REFRIGERANTS: Final = ("R-410A", "R-410A", "R-410A", "R-454B", "R-32", "R-22", "R-407C", "R-134a")
_COMPLAINTS: Final = (
    "warm air",
    "runs all day",
    "noisy at start",
    "ice on the pipe",
    "short cycles",
    "humid rooms",
    "trips the breaker",
)
_WORK: Final = ("cleaned the condenser", "replaced the filter", "tightened the bulb strap", "cleared the drain", "replaced a contactor",
                "straightened fins", "insulated the suction line")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was loaded. challenges: with a bench log, judged."""

    units: int
    visits: int
    challenges: int
    spots: int


@dataclass(frozen=True, slots=True)
class _Unit:
    id: str
    circuit: str
    tag: str
    refrigerant: str
    device: str
    capacity: float
    altitude: float
    packaged: bool
    line_length: float
    story: str


def load_demo(
    session: Session,
    *,
    seed: int = 1,
    units: int = 64,
    visits: int = 420,
    challenges: int = 60,
    run_challenge: RunChallenge | None = None,
    processes: int | None = None,
    told: Callable[[str, int, int], None] | None = None,
) -> Loaded:
    """Load the invented company into an empty store. The same seed gives the same company, ending at the session's time.

    run_challenge: makes the log of a challenge; None: the practice bench, in a few processes. told: called with a word,
    how many are done and how many there are. Raises NotAllowed when the store holds records already.
    """
    from steadfeed.records import rows

    with session.store.reading() as t:
        if rows.find(t, "unit"):
            raise NotAllowed(
                "This store holds records; load the invented company into another one, with --store demo.db",
                code="store not empty",
            )
    chance = random.Random(seed)
    with session.store.writing() as t:
        people = _people(t, session, chance)
        made = _units(t, session, chance, units)
        planned = _plan(chance, session.now, made, visits, challenges)
        kept, spots = _visits(t, session, chance, people, planned)
        _due(t, session, chance, made)
    orders = [_order(one, chance.randrange(2**31)) for one in planned if one.challenge]
    logs = _run(orders, run_challenge, processes, told)
    _judge(session, [v for v in kept if v[1].challenge], logs, people, told)
    return Loaded(len(made), len(planned), len(orders), spots)


def _people(t: sa.Connection, session: Session, chance: random.Random) -> list[str]:
    from steadfeed.records import rows
    from steadfeed.records.rows import By

    by = By(session.now, written_at=session.now - YEARS * 365.25 * DAY)
    return rows.add_many(
        t,
        "person",
        [
            {
                "name": name,
                "role": role,
                "certification_type": "Universal (invented)",
                "certification_number": f"INV-{chance.randrange(10**6):06d}",
            }
            for name, role in _PEOPLE
        ],
        by,
    )


def _units(t: sa.Connection, session: Session, chance: random.Random, count: int) -> list[_Unit]:
    from steadfeed.records import rows
    from steadfeed.records.rows import By

    by = By(session.now, written_at=session.now - YEARS * 365.25 * DAY)
    made: list[_Unit] = []
    site, customers = "", 0
    for n in range(count):
        if n % 2 == 0:
            name = f"{_FIRST[customers % 12]} {_SECOND[(customers * 5 + customers // 12) % 12]}"
            given = {"name": name, "phone": f"555 {100 + customers:04d}", "note": INVENTED}
            customer = rows.add(t, "customer", given, by)
            place = {
                "customer_id": customer,
                "name": name,
                "address": f"{chance.randrange(1, 240)} {chance.choice(_STREETS)}",
                "altitude": float(chance.choice((30, 120, 300, 1500))),
                "note": INVENTED,
            }
            site, customers = rows.add(t, "site", place, by), customers + 1
            altitude = float(place["altitude"])  # type: ignore[arg-type]
        made.append(_unit(t, chance, by, n, site, altitude))
    return made


def _unit(t: sa.Connection, chance: random.Random, by: Any, n: int, site: str, altitude: float) -> _Unit:
    from steadfeed.records import rows
    from steadfeed.units import TON

    packaged = n % 9 == 4
    device = ("txv", "txv", "txv", "eev", "fixed orifice")[n % 5]
    tons = chance.choice((2.0, 2.5, 3.0, 4.0, 5.0))
    tag = f"{'P' if packaged else 'U'}-{n + 1:03d}"
    unit = rows.add(
        t,
        "unit",
        {
            "site_id": site,
            "kind": "packaged" if packaged else "outdoor",
            "tag": tag,
            "place": chance.choice(_PLACES),
            "maker": chance.choice(_MAKERS),
            "model": f"{chance.choice('ABC')}{round(tons * 12):02d}-{chance.randrange(100, 999)}",
            "serial": f"LQ{chance.randrange(10**4):04d}-{chance.randrange(10**4):04d}",
            "service_interval_days": 180 if n % 3 else 365,
            "note": INVENTED,
        },
        by,
    )
    refrigerant = _REFRIGERANTS[n % len(_REFRIGERANTS)]
    fields = {
        "unit_id": unit,
        "name": "1",
        "metering_device": device,
        "nominal_capacity": tons * TON,
        "compressor_type": "scroll",
        "compressor_control": "single-speed",
        "fan_control": "on-off",
    }
    circuit = rows.add(t, "circuit", fields, by)
    rows.add(t, "circuit_refrigerant", {"circuit_id": circuit, "refrigerant": refrigerant}, by)
    line = 0.0 if packaged else float(chance.choice((5.0, 7.5, 10.0, 15.0)))
    if line:
        rows.add(t, "line_set", {"circuit_id": circuit, "length": line, "lift": 0.0}, by)
    plate = {
        "unit_id": unit,
        "subcooling": 5.5 if device != "fixed orifice" else None,
        "charge_hundredth_oz": round(tons * 4000),
    }
    rows.add(t, "nameplate", plate, by)
    part = rows.add(t, "part", {"kind": "metering device", "model": f"{device} of {tag}", "note": INVENTED}, by)
    rows.add(
        t, "installation", {"part_id": part, "unit_id": unit, "circuit_id": circuit, "role": "metering device"}, by
    )
    story = ("sound", "sound", "parks", "sound", "drifts", "weak")[n % 6] if device == "txv" else "sound"
    return _Unit(unit, circuit, tag, refrigerant, device, tons * TON, altitude, packaged, line, story)


@dataclass(frozen=True, slots=True)
class _Visit:
    unit: _Unit
    at: float
    reason: str
    challenge: bool
    fault: str = ""
    conduct: str = ""
    still_open: bool = False


def _plan(chance: random.Random, now: float, units: Sequence[_Unit], visits: int, challenges: int) -> list[_Visit]:
    """Spread visits over the years and decide which of them carry a challenge, so that some units have a story."""
    start = now - YEARS * 365.0 * DAY
    times: list[tuple[float, _Unit]] = []
    for n in range(visits):
        unit = units[n % len(units)]
        share = (n // len(units) + chance.uniform(0.2, 0.8)) / -(-visits // len(units))
        times.append((start + share * (now - start - 2 * DAY), unit))
    times.sort(key=lambda pair: (pair[0], pair[1].tag))
    wanted = set(_spread(chance, times, challenges))
    planned = []
    parked: set[str] = set()
    for n, (at, unit) in enumerate(times):
        late = (at - start) / (now - start)
        fault = "weak" if unit.story == "weak" and late > 0.35 else ""
        if unit.story == "parks" and late > 0.5 and unit.id not in parked:
            parked.add(unit.id)
            fault = "parked"
        conduct = (
            chance.choice(("", "", "", "", "", "", "small push", "short hold", "stuck gauge")) if not fault else ""
        )
        reason = chance.choice(("maintenance", "maintenance", "service", "callback"))
        planned.append(
            _Visit(unit, _daytime(at, chance), reason, n in wanted, fault, conduct, still_open=n >= visits - 3)
        )
    return planned


def _spread(chance: random.Random, times: Sequence[tuple[float, _Unit]], count: int) -> list[int]:
    """Choose visits for challenges: units whose valve has a story first."""
    rank = {"parks": 0, "weak": 1, "drifts": 2, "sound": 3}
    order = sorted(range(len(times)), key=lambda n: (rank[times[n][1].story] // 2, chance.random()))
    return order[:count]


def _daytime(at: float, chance: random.Random) -> float:
    return at - at % DAY + (13 + chance.randrange(0, 9)) * 3600.0 + chance.randrange(60) * 60.0


def _visits(
    t: sa.Connection, session: Session, chance: random.Random, people: Sequence[str], planned: Sequence[_Visit]
) -> tuple[list[tuple[str, _Visit]], int]:
    """Write the visits with spot readings, work, refrigerant and what was set aside and put back."""
    from steadfeed.records import rows
    from steadfeed.records.rows import By

    kept: list[tuple[str, _Visit]] = []
    spots = 0
    for one in planned:
        by = By(session.now, chance.choice(people[:5]), "demo", written_at=one.at)
        complaint = chance.choice(_COMPLAINTS) if one.reason in ("service", "callback") else None
        values = {
            "unit_id": one.unit.id,
            "person_id": by.person_id,
            "device": "demo",
            "opened_at": one.at,
            "closed_at": None if one.still_open or one.challenge else one.at + 5400.0,
            "utc_offset": session.utc_offset,
            "reason": one.reason,
            "complaint": complaint,
            "draft": INVENTED if complaint is None else f"{INVENTED} Looked into: {complaint}.",
        }
        visit = rows.add(t, "visit", values, by)
        kept.append((visit, one))
        found = _spot(t, chance, by, visit, one)
        spots += 1
        work = {
            "visit_id": visit,
            "circuit_id": one.unit.circuit,
            "at": one.at + 1800.0,
            "text": chance.choice(_WORK),
            "minutes": 20.0,
        }
        rows.add(t, "action", work, by)
        if chance.random() < 0.12:
            ounces = chance.randrange(2, 14)
            move = {
                "visit_id": visit,
                "circuit_id": one.unit.circuit,
                "at": one.at + 2400.0,
                "refrigerant": one.unit.refrigerant,
                "direction": "in",
                "weight_hundredth_oz": ounces * 100,
                "as_typed": f"{ounces} oz",
            }
            rows.add(t, "refrigerant_move", move, by)
            left = _spot(t, chance, by, visit, one, left=True)
            rows.add(t, "pair", {"visit_id": visit, "found_spot_id": found, "left_spot_id": left}, by)
            spots += 1
        if one.challenge:
            aside = rows.add(
                t, "override", {"visit_id": visit, "what": "thermostat", "at": one.at + 600.0, "text": "was 74 °F"}, by
            )
            rows.add(
                t,
                "put_back",
                {"override_id": aside, "at": one.at + 5000.0, "answer": "put back", "text": "reads 74 °F"},
                by,
            )
    return kept, spots


def _spot(t: sa.Connection, chance: random.Random, by: Any, visit: str, one: _Visit, *, left: bool = False) -> str:
    """Write spot readings of a simple steady model: evaporating and condensing follow the weather, the rest the charge."""
    from steadfeed.physics.properties import curves
    from steadfeed.records import rows
    from steadfeed.units import from_si, standard_atmosphere

    unit = one.unit
    known = curves(unit.refrigerant)
    outdoor = chance.gauss(305.0, 4.0)
    superheat = chance.gauss(5.5, 1.2) + (4.0 if one.fault == "parked" else 0.0)
    subcooling = chance.gauss(5.5, 1.0) - (2.0 if unit.story == "drifts" else 0.0)
    evaporating = 280.0 + 0.15 * (outdoor - 305.0) + chance.gauss(0.0, 0.5) - (2.0 if unit.story == "drifts" else 0.0)
    condensing = outdoor + 13.0 + chance.gauss(0.0, 1.0)
    air = standard_atmosphere(unit.altitude)
    typed = {
        "suction_pressure": (from_si(float(known.dew_pressure(evaporating)), "psig", "pressure", air), "psig"),
        "liquid_pressure": (from_si(float(known.bubble_pressure(condensing)), "psig", "pressure", air), "psig"),
        "suction_line_temperature": (from_si(evaporating + max(superheat, 0.5), "degF", "temperature"), "degF"),
        "liquid_line_temperature": (from_si(condensing - max(subcooling, 0.3), "degF", "temperature"), "degF"),
        "outdoor_air_temperature": (from_si(outdoor, "degF", "temperature"), "degF"),
    }
    result = {
        "refrigerant": known.refrigerant.name,
        "superheat_degF": round(max(superheat, 0.5) * 1.8, 1),
        "subcooling_degF": round(max(subcooling, 0.3) * 1.8, 1),
    }
    spot = rows.add(
        t,
        "spot",
        {
            "visit_id": visit,
            "circuit_id": unit.circuit,
            "taken_at": one.at + (3600.0 if left else 900.0),
            "mode": "cooling",
            "purpose": "as left" if left else "as found",
            "result": json.dumps(result),
            "method_version": "demo model",
        },
        by,
    )
    rows.add_many(
        t,
        "spot_value",
        [
            {"spot_id": spot, "channel": channel, "value": f"{value:.1f}", "unit": word, "read_by": "person"}
            for channel, (value, word) in typed.items()
        ],
        by,
    )
    return spot


def _due(t: sa.Connection, session: Session, chance: random.Random, units: Sequence[_Unit]) -> None:
    from steadfeed.records import rows
    from steadfeed.visit.units_due import today

    start = today(session)
    import datetime

    for unit in chance.sample(list(units), min(8, len(units))):
        day = start + datetime.timedelta(days=chance.randrange(-10, 25))
        values = {
            "unit_id": unit.id,
            "due_on": day.isoformat(),
            "reason": "come back",
            "condition": "above 45 °F outdoors",
        }
        rows.add(t, "due_visit", values, session.by)


def _order(one: _Visit, seed: int) -> OrderedChallenge:
    from steadfeed.visit.practice import OrderedChallenge

    unit = one.unit
    return OrderedChallenge(
        refrigerant=unit.refrigerant,
        metering_device=unit.device,
        capacity=unit.capacity,
        start=one.at + 1200.0,
        seed=seed,
        fault=one.fault,
        conduct=one.conduct,
        packaged=unit.packaged,
        line_length=unit.line_length or 7.62,
        altitude=unit.altitude,
        outdoor=300.0 + seed % 9,
    )


def _run(
    orders: Sequence[OrderedChallenge],
    run_challenge: RunChallenge | None,
    processes: int | None,
    told: Callable[[str, int, int], None] | None,
) -> list[tuple[bytes, bytes]]:
    import os

    from steadfeed.visit.practice import ordered_challenge

    count = processes or min(4, os.cpu_count() or 1)
    logs: list[tuple[bytes, bytes]] = []
    if run_challenge is not None or count == 1 or not orders:
        for order in orders:
            logs.append((run_challenge or ordered_challenge)(order))
            if told:
                told("challenges", len(logs), len(orders))
        return logs
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(max_workers=count) as pool:
        for log in pool.map(ordered_challenge, orders, chunksize=2):
            logs.append(log)
            if told:
                told("challenges", len(logs), len(orders))
    return logs


def _judge(
    session: Session,
    visits: Sequence[tuple[str, _Visit]],
    logs: Sequence[tuple[bytes, bytes]],
    people: Sequence[str],
    told: Callable[[str, int, int], None] | None,
) -> None:
    """Keep and judge each log as on any visit; where the valve had parked, it is replaced. Then close the visit."""
    from steadfeed.records import entries
    from steadfeed.visit.judge_visit import judge_challenge
    from steadfeed.visit.units import install_part
    from steadfeed.visit.visit_logs import add_log

    for number, ((visit_id, one), (log, system)) in enumerate(zip(visits, logs, strict=True), 1):
        then = replace(session.at(one.at + 4800.0), device="demo", person_id=people[number % 4])
        name = f"{one.unit.tag}-{number:02d}.csv"
        added = add_log(then, visit_id, log, name, system=system, system_name="bench.toml", purpose="as found")
        for challenge in added.challenges:
            judge_challenge(then, challenge)
        if one.fault == "parked":
            part = {"model": f"txv of {one.unit.tag}, second", "note": INVENTED}
            install_part(
                then,
                one.unit.id,
                "metering device",
                part,
                from_at=one.at + 5000.0,
                circuit_id=one.unit.circuit,
                reason="parked in mid-travel",
            )
        if not one.still_open:
            with session.store.writing() as t:
                entries.edit(t, "visit", visit_id, {"closed_at": one.at + 5400.0}, then.by)
        if told:
            told("judged", number, len(logs))
