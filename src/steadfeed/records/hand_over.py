"""A visit in progress as one file, or as a sequence of QR codes, from device to device without a network.

In it: the visit with its unit, circuit, site and customer, what was done, the phase and the cover of each challenge,
what is set aside and not answered, the readings that the other side cannot have yet, and both names.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput
from steadfeed.records import base45, readings, rows
from steadfeed.records.exchange.load import Imported, Merge
from steadfeed.records.schema import metadata, table
from steadfeed.records.upgrade import PRESENT, VERSIONS

if TYPE_CHECKING:
    from steadfeed.records.exchange.logical import Row

_VERSION: Final = 1
_HEAD: Final = b"steadfeed hand-over\n"
_LARGEST: Final = 200_000_000
_FRAME: Final = re.compile(r"SFH1:([0-9A-F]{16}):(\d{1,4})/(\d{1,4}):([0-9A-Z $%*+\-./:]*)")
#: Bytes in one QR code: version 17 at level L, which a phone reads off another phone's screen.
FRAME_BYTES: Final = 600
#: Facts that hang on a visit by visit_id.
_OF_VISIT: Final = (
    "spot", "finding", "next_test", "action", "refrigerant_move", "override", "pair", "instrument_use", "signature",
    "delivery", "hand_over",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Phase:
    """Where a challenge stands. cover: share of the condenser face that is covered; since [s since the epoch]."""

    challenge_id: str
    phase: str | None
    cover: float | None
    since: float | None


@dataclass(frozen=True, slots=True)
class HandOver:
    """What a hand-over says, read before it is taken. sha256: of its content; readings: how many are in it."""

    sha256: str
    visit_id: str
    at: float
    from_name: str
    to_name: str
    from_device: str
    unit: str
    phases: tuple[Phase, ...]
    open_overrides: tuple[str, ...]
    readings: int
    tables: dict[str, list[dict[str, Any]]]
    files: dict[str, bytes]
    from_person_id: str | None
    to_person_id: str | None


def pack(
    t: sa.Connection,
    visit_id: str,
    *,
    at: float,
    from_device: str,
    from_person_id: str | None,
    from_name: str,
    to_name: str,
    to_person_id: str | None = None,
    peer: str | None = None,
    files: bool = True,
) -> bytes:
    """Return a visit in progress as the content of a file. at [s since the epoch].

    peer: a store that both devices reach; readings that it is known to have are left out. files: with the logs and
    photos as they are; without them the content is small enough for QR codes.
    """
    tables = _collect(t, visit_id, from_person_id)
    challenges = [row["id"] for row in tables["challenge"]]
    unsent = list(_unsent(t, challenges, peer))
    if files:
        _add_files(t, tables, visit_id, challenges)
    body = {
        "version": _VERSION,
        "schema": PRESENT,
        "visit_id": visit_id,
        "at": at,
        "from": {"name": from_name, "device": from_device, "person_id": from_person_id},
        "to": {"name": to_name, "person_id": to_person_id},
        "phases": [[p.challenge_id, p.phase, p.cover, p.since] for p in phases(t, challenges)],
        "open_overrides": [o["what"] for o in unanswered(t, visit_id)],
        "tables": {name: [_brief(row) for row in found] for name, found in tables.items() if found},
        "readings": _pack_readings(unsent),
        "files": _pack_files(t, tables) if files else {},
    }
    return _HEAD + zlib.compress(
        json.dumps(body, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode(), 9
    )


def _brief(row: Row) -> Row:
    return {k: v for k, v in row.items() if v is not None}


def _collect(t: sa.Connection, visit_id: str, *people: str | None) -> dict[str, list[Row]]:
    """Return the rows that make a visit understandable on its own, each table after those that it refers to."""
    visit = rows.get(t, "visit", visit_id)
    found: dict[str, list[Row]] = {"visit": [visit]}
    challenges = rows.find(t, "challenge", visit_id=visit_id)
    spots = rows.find(t, "spot", visit_id=visit_id, withdrawn=True)
    circuit_ids = sorted({row["circuit_id"] for row in (*challenges, *spots)})
    own = rows.find(t, "circuit", unit_id=visit["unit_id"])
    others = rows.find(t, "circuit", id=[c for c in circuit_ids if c not in {o["id"] for o in own}])
    found["circuit"] = [*own, *others]
    unit_ids = {visit["unit_id"], *(c["unit_id"] for c in found["circuit"])}
    unit_ids |= {c["indoor_unit_id"] for c in found["circuit"] if c["indoor_unit_id"]}
    found["unit"] = rows.find(t, "unit", id=sorted(unit_ids))
    found["site"] = rows.find(t, "site", id=sorted({u["site_id"] for u in found["unit"]}))
    found["customer"] = rows.find(
        t, "customer", id=sorted({s["customer_id"] for s in found["site"] if s["customer_id"]})
    )
    for name in ("circuit_refrigerant", "line_set"):
        found[name] = rows.find(t, name, circuit_id=[c["id"] for c in found["circuit"]], withdrawn=True)
    found["nameplate"] = rows.find(t, "nameplate", unit_id=sorted(unit_ids))
    found["challenge"] = challenges
    ids = [c["id"] for c in challenges]
    for name in ("mark", "step"):
        found[name] = rows.find(t, name, challenge_id=ids, withdrawn=True)
    for name in _OF_VISIT:
        found[name] = rows.find(t, name, visit_id=visit_id, withdrawn=True)
    found["instrument"] = rows.find(t, "instrument", id=[u["instrument_id"] for u in found["instrument_use"]])
    found["spot_value"] = rows.find(t, "spot_value", spot_id=[s["id"] for s in found["spot"]], withdrawn=True)
    found["put_back"] = rows.find(t, "put_back", override_id=[o["id"] for o in found["override"]], withdrawn=True)
    found["test_outcome"] = rows.find(
        t, "test_outcome", next_test_id=[n["id"] for n in found["next_test"]], withdrawn=True
    )
    # A finding, an action or a signature may point at what is not handed over: judgements, parts, drawings.
    for name, field in (("finding", "verdict_id"), ("action", "installation_id"), ("signature", "attachment_id")):
        found[name] = [row for row in found[name] if not row[field]]
    _add_people(t, found, people)
    _add_entries(t, found)
    return {name: found[name] for name in (x.name for x in metadata.sorted_tables) if name in found}


def _add_people(t: sa.Connection, found: dict[str, list[Row]], extra: Sequence[str | None]) -> None:
    fields = ("person_id", "reviewed_by", "from_person_id", "to_person_id")
    ids = {row.get(f) for some in found.values() for row in some for f in fields} | set(extra)
    found["person"] = rows.find(t, "person", id=sorted(i for i in ids if i))


def _add_entries(t: sa.Connection, found: dict[str, list[Row]]) -> None:
    """Add the edits of every row that is handed over, and who made them."""
    entry, value = table("entry"), table("entry_value")
    ids = [row["id"] for some in list(found.values()) for row in some]
    found["entry"], found["entry_value"] = [], []
    for at in range(0, len(ids), 400):
        mine = sa.select(entry).where(entry.c.thing_id.in_(ids[at : at + 400]))
        found["entry"] += [dict(row) for row in t.execute(mine).mappings()]
    entry_ids = [row["id"] for row in found["entry"]]
    for at in range(0, len(entry_ids), 400):
        query = sa.select(value).where(value.c.entry_id.in_(entry_ids[at : at + 400]))
        found["entry_value"] += [dict(row) for row in t.execute(query).mappings()]
    known = {p["id"] for p in found["person"]}
    missing = sorted({e["person_id"] for e in found["entry"] if e["person_id"]} - known)
    if missing:  # whoever edited comes along, with how they were written down
        found["person"] += rows.find(t, "person", id=missing)
        made = {e["id"] for e in found["entry"]}
        more = [dict(r) for r in t.execute(sa.select(entry).where(entry.c.thing_id.in_(missing))).mappings()]
        found["entry"] += [e for e in more if e["id"] not in made]
        query = sa.select(value).where(value.c.entry_id.in_([e["id"] for e in more]))
        found["entry_value"] += [dict(r) for r in t.execute(query).mappings() if r["entry_id"] not in made]


def _add_files(t: sa.Connection, found: dict[str, list[Row]], visit_id: str, challenges: list[str]) -> None:
    found["challenge_log"] = rows.find(t, "challenge_log", challenge_id=challenges, withdrawn=True)
    found["attachment"] = rows.find(t, "attachment", owner_id=[visit_id, *challenges], withdrawn=True)


def _pack_files(t: sa.Connection, found: dict[str, list[Row]]) -> dict[str, str]:
    from steadfeed.records.attachments import content_of

    packed: dict[str, bytes] = {}
    for link in found.get("challenge_log", ()):
        for sha256 in (link["log_sha256"], link["system_sha256"]):
            if sha256:
                packed[sha256] = readings.file_bytes(t, sha256)
    content = table("attachment_content")
    for one in found.get("attachment", ()):
        if t.execute(sa.select(content.c.attachment_id).where(content.c.attachment_id == one["id"])).first():
            packed[one["sha256"]] = content_of(t, one["id"])
    return {sha256: base64.b85encode(data).decode() for sha256, data in packed.items()}


def phases(t: sa.Connection, challenge_ids: Sequence[str]) -> list[Phase]:
    """Return where each challenge stands by its last step."""
    steps = rows.find(t, "step", challenge_id=list(challenge_ids), order="at made_at")
    last = {step["challenge_id"]: step for step in steps}
    return [
        Phase(i, last[i]["phase"], last[i]["cover"], last[i]["at"]) if i in last else Phase(i, None, None, None)
        for i in challenge_ids
    ]


def unanswered(t: sa.Connection, visit_id: str) -> list[Row]:
    """Return what was set aside on a visit and is not answered."""
    overrides = rows.find(t, "override", visit_id=visit_id, order="at")
    answered = {p["override_id"] for p in rows.find(t, "put_back", override_id=[o["id"] for o in overrides])}
    return [o for o in overrides if o["id"] not in answered]


def note_sent(t: sa.Connection, peer: str, source: str, boot_id: str, sequence: int) -> None:
    """Note that another store has every reading of a source up to a number."""
    stream, mark = table("stream"), table("sent_mark")
    key = t.execute(
        sa.select(stream.c.key).where(stream.c.source == source, stream.c.boot_id == boot_id)
    ).scalar_one_or_none()
    if key is None:
        return
    match = (mark.c.peer == peer, mark.c.stream_key == key)
    before = t.execute(sa.select(mark.c.sequence).where(*match)).scalar_one_or_none()
    if before is None:
        t.execute(mark.insert().values(peer=peer, stream_key=key, sequence=sequence))
    elif sequence > before:
        t.execute(mark.update().where(*match).values(sequence=sequence))


def _unsent(t: sa.Connection, challenge_ids: list[str], peer: str | None) -> Iterator[readings.Stored]:
    stream, mark = table("stream"), table("sent_mark")
    query = sa.select(stream.c.source, stream.c.boot_id, mark.c.sequence).join(mark, mark.c.stream_key == stream.c.key)
    sent = {(r.source, r.boot_id): r.sequence for r in t.execute(query.where(mark.c.peer == peer))} if peer else {}
    for one in readings.readings_of(t, challenge_ids):
        if one.reading.sequence > sent.get((one.reading.source, one.reading.boot_id), -1):
            yield one


_SAME: Final = ("source", "boot_id", "channel", "header", "unit", "read_by")


def _pack_readings(stored: list[readings.Stored]) -> list[list[Any]]:
    """Pack readings by channel: what is the same for all once, then the rows."""
    packed: dict[tuple[Any, ...], list[list[Any]]] = {}
    for one in stored:
        r = one.reading
        head = (one.challenge_id, *(getattr(r, name) for name in _SAME))
        row = [r.sequence, r.value, r.device_time, r.utc_offset, one.received_at, r.quality]
        packed.setdefault(head, []).append(row)
    return [[list(head), found] for head, found in packed.items()]


def _unpack_readings(packed: Any) -> list[Row]:
    out: list[Row] = []
    for (challenge_id, *same), found in packed:
        head = dict(zip(_SAME, same, strict=True))
        for sequence, value, device_time, utc_offset, received_at, quality in found:
            out.append(
                {
                    **head, "challenge_id": challenge_id, "sequence": sequence, "value": value,
                    "device_time": device_time, "utc_offset": utc_offset, "received_at": received_at,
                    "quality": quality,
                }
            )  # fmt: skip
    return out


def unpack(content: bytes) -> HandOver:
    """Read a hand-over without taking it. Raises FixInput when it is none, broken, or from a newer steadfeed."""
    if not content.startswith(_HEAD):
        raise FixInput("This is no hand-over of a visit", code="no hand-over")
    try:
        unpacker = zlib.decompressobj()
        text = unpacker.decompress(content[len(_HEAD) :], _LARGEST)
        if unpacker.unconsumed_tail or not unpacker.eof:
            raise ValueError
        body = json.loads(text)
        if body["version"] > _VERSION or body["schema"] not in VERSIONS:
            raise FixInput("This hand-over was made by a newer steadfeed; update it here", code="hand-over newer")
        tables = dict(body["tables"])
        tables["reading"] = _unpack_readings(body["readings"])
        files = {sha256: base64.b85decode(packed) for sha256, packed in body["files"].items()}
        handed = HandOver(
            sha256=hashlib.sha256(content).hexdigest(),
            visit_id=body["visit_id"],
            at=float(body["at"]),
            from_name=str(body["from"]["name"]),
            to_name=str(body["to"]["name"]),
            from_device=str(body["from"]["device"]),
            unit=_unit_name(tables, body["visit_id"]),
            phases=tuple(Phase(*phase) for phase in body["phases"]),
            open_overrides=tuple(body["open_overrides"]),
            readings=len(tables["reading"]),
            tables=tables,
            files=files,
            from_person_id=body["from"]["person_id"],
            to_person_id=body["to"]["person_id"],
        )
    except FixInput:
        raise
    except (ValueError, KeyError, TypeError, zlib.error, IndexError) as error:
        raise FixInput("This hand-over is broken; hand over again", code="hand-over broken") from error
    for sha256, data in files.items():
        if hashlib.sha256(data).hexdigest() != sha256:
            raise FixInput("A file in this hand-over is broken; hand over again", code="hand-over broken")
    return handed


def _unit_name(tables: dict[str, list[Row]], visit_id: str) -> str:
    visit = next(row for row in tables["visit"] if row["id"] == visit_id)
    unit = next(row for row in tables["unit"] if row["id"] == visit["unit_id"])
    return " · ".join(str(unit[k]) for k in ("tag", "place") if unit.get(k)) or str(unit["id"])[:8]


def take(t: sa.Connection, handed: HandOver, now: float) -> Imported:
    """Put what was handed over into the store, in the open transaction. Taking the same twice changes nothing."""
    done = Imported()
    merge = Merge(t, done)
    if t.dialect.name == "sqlite":
        t.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
    for data in handed.files.values():
        if not any(a.get("sha256") == hashlib.sha256(data).hexdigest() for a in handed.tables.get("attachment", ())):
            readings.keep_file(t, data, now)
    order = [x.name for x in metadata.sorted_tables]
    unknown = set(handed.tables) - set(order)
    if unknown:
        raise FixInput("This hand-over was made by a newer steadfeed; update it here", code="hand-over newer")
    for name in order:
        if name in handed.tables and name != "reading":
            merge.rows(name, iter(handed.tables[name]))
    content = table("attachment_content")
    for one in handed.tables.get("attachment", ()):
        if one["id"] in merge.fresh_attachments and one["sha256"] in handed.files:
            t.execute(content.insert().values(attachment_id=one["id"], content=handed.files[one["sha256"]]))
    merge.readings(iter(handed.tables["reading"]), now)
    merge.finish()
    return done


def frames(content: bytes, size: int = FRAME_BYTES) -> list[str]:
    """Return a hand-over as the texts of a sequence of QR codes, to be shown in turn, over and over."""
    mark = hashlib.sha256(content).hexdigest()[:16].upper()
    pieces = [content[at : at + size] for at in range(0, len(content), size)]
    if len(pieces) > 9999:
        raise FixInput("This visit is too large for QR codes; hand over a file", code="too large")
    return [f"SFH1:{mark}:{n}/{len(pieces)}:{base45.encode(piece)}" for n, piece in enumerate(pieces, 1)]


class Frames:
    """QR codes of a hand-over as they are read, in any order and any number of times."""

    def __init__(self) -> None:
        self._mark: str | None = None
        self._count = 0
        self._pieces: dict[int, bytes] = {}

    def add(self, text: str) -> bool:
        """Take the text of one code; return whether it was new. Raises FixInput for a code of anything else."""
        found = _FRAME.fullmatch(text.strip("\r\n"))
        if found is None:
            raise FixInput("This code is no part of a hand-over", code="bad code")
        mark, number, count = found[1], int(found[2]), int(found[3])
        if not 1 <= number <= count:
            raise FixInput("This code is broken", code="bad code")
        if self._mark is not None and (mark, count) != (self._mark, self._count):
            raise FixInput(
                "This code belongs to another hand-over; start again to take that one", code="other hand-over"
            )
        self._mark, self._count = mark, count
        if number in self._pieces:
            return False
        self._pieces[number] = base45.decode(found[4])
        return True

    @property
    def count(self) -> int:
        """How many codes there are; 0 before the first."""
        return self._count

    @property
    def missing(self) -> list[int]:
        """Numbers of the codes that were not read yet; empty before the first."""
        return [n for n in range(1, self._count + 1) if n not in self._pieces]

    def whole(self) -> bytes:
        """Return the hand-over. Raises FixInput while codes are missing, or when one was misread."""
        if self._mark is None or self.missing:
            left = len(self.missing) or "all"
            raise FixInput(f"{left} codes are still missing", code="codes missing")
        content = b"".join(self._pieces[n] for n in range(1, self._count + 1))
        if hashlib.sha256(content).hexdigest()[:16].upper() != self._mark:
            raise FixInput("A code was misread; start again", code="bad code")
        return content
