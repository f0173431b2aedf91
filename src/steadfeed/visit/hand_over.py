"""Handing a visit in progress to another person or device, and taking it, without a network."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from steadfeed.errors import FixInput, InstallPart
from steadfeed.visit.session import Session, store_part_missing
from steadfeed.visit.visits import PUT_BACK_QUESTIONS

if TYPE_CHECKING:
    from steadfeed.records.hand_over import Frames, HandOver


@dataclass(frozen=True, slots=True)
class Taken:
    """What somebody now has in hand. sentences: first what to do now; readings: those that were new here."""

    visit_id: str
    from_name: str
    to_name: str
    sentences: tuple[str, ...]
    readings: int
    conflicts: int


def give(session: Session, visit_id: str, to: str, *, for_codes: bool = False, peer: str | None = None) -> bytes:
    """Return a visit in progress as the content of a file (for_codes: small enough for QR codes), and note the giving.

    to: the name of who takes it. peer: a store that both reach; readings it is known to have are left out. Raises
    FixInput without both names.
    """
    import hashlib

    from steadfeed.records import hand_over, rows

    if session.person_id is None or not to.strip():
        raise FixInput("A hand-over needs both names: who gives and who takes", code="missing field")
    with session.store.writing() as t:
        visit = rows.get(t, "visit", visit_id)
        if visit["closed_at"] is not None:
            raise FixInput("This visit is closed; there is nothing to hand over", code="visit closed")
        giver = rows.get(t, "person", session.person_id)
        taker = [p for p in rows.find(t, "person") if (p["name"] or "").casefold() == to.strip().casefold()]
        content = hand_over.pack(
            t,
            visit_id,
            at=session.now,
            from_device=session.device,
            from_person_id=session.person_id,
            from_name=giver["name"] or "",
            to_name=to.strip(),
            to_person_id=taker[0]["id"] if len(taker) == 1 else None,
            peer=peer,
            files=not for_codes,
        )
        handed = hand_over.unpack(content)
        values = {
            "visit_id": visit_id,
            "direction": "given",
            "at": session.now,
            "from_person_id": session.person_id,
            "to_person_id": handed.to_person_id,
            "from_device": session.device,
            "sha256": hashlib.sha256(content).hexdigest(),
            "readings": handed.readings,
        }
        rows.add(t, "hand_over", values, session.by)
    return content


def look(content: bytes) -> HandOver:
    """Read a hand-over without taking it."""
    from steadfeed.records.hand_over import unpack

    return unpack(content)


def take(session: Session, content: bytes) -> Taken:
    """Take a visit over: its records into this store, the visit into this person's name. Twice the same is no error.

    Raises FixInput when it is broken, or when nobody says who takes it.
    """
    from steadfeed.records import entries, hand_over, rows

    if session.person_id is None:
        raise FixInput("Say who takes the visit over", code="missing field")
    handed = hand_over.unpack(content)
    with session.store.writing() as t:
        done = hand_over.take(t, handed, session.now)
        taker = rows.get(t, "person", session.person_id)
        if not rows.find(t, "hand_over", sha256=handed.sha256, direction="taken"):
            values = {
                "visit_id": handed.visit_id,
                "direction": "taken",
                "at": session.now,
                "from_person_id": handed.from_person_id,
                "to_person_id": session.person_id,
                "from_device": handed.from_device,
                "to_device": session.device,
                "sha256": handed.sha256,
                "readings": handed.readings,
            }
            rows.add(t, "hand_over", values, session.by)
            reason = f"handed over by {handed.from_name}"
            entries.edit(t, "visit", handed.visit_id, {"person_id": session.person_id}, session.by, reason=reason)
        waiting = hand_over.unanswered(t, handed.visit_id)
    sentences = [_cover_first(handed), f"{handed.unit}: from {handed.from_name} to {taker['name']}."]
    sentences += [_where(phase.phase, phase.cover) for phase in handed.phases if phase.phase]
    sentences += [f"Set aside: {o['what']}. {PUT_BACK_QUESTIONS[o['what']]}" for o in waiting]
    return Taken(
        visit_id=handed.visit_id,
        from_name=handed.from_name,
        to_name=taker["name"] or "",
        sentences=tuple(s for s in sentences if s),
        readings=done.added.get("reading", 0),
        conflicts=sum(len(some) for some in done.conflicts.values()),
    )


def _cover_first(handed: HandOver) -> str:
    """Whoever takes over a covered condenser hears that first."""
    covered = any(phase.cover for phase in handed.phases) or "cover" in handed.open_overrides
    return "The condenser is covered: is somebody watching it?" if covered else ""


def _where(phase: str | None, cover: float | None) -> str:
    return f"Now: {phase}" + (f", cover {cover:.0%}." if cover else ".")


def code_frames(content: bytes) -> list[str]:
    """Return the texts of the QR codes of a hand-over, to be shown in turn."""
    from steadfeed.records.hand_over import frames

    return frames(content)


def code_pictures(content: bytes) -> list[str]:
    """Return the QR codes of a hand-over as SVG pictures, to be shown in turn."""
    try:
        import segno
    except ModuleNotFoundError as error:
        missing: InstallPart = store_part_missing()
        raise missing from error
    return [segno.make(text, error="l", micro=False).svg_inline(scale=4, border=4) for text in code_frames(content)]


def code_page(content: bytes) -> bytes:
    """Return a page, complete in itself, that shows the codes of a hand-over one after the other, over and over."""
    pictures = code_pictures(content)
    shown = "".join(
        f"<figure hidden><figcaption>{n} of {len(pictures)}</figcaption>{p}</figure>" for n, p in enumerate(pictures, 1)
    )
    return _PAGE.replace("@codes@", shown).encode()


_PAGE = """<!doctype html>
<html lang="en"><meta charset="utf-8"><title>Hand-over</title>
<style>body{margin:1rem;background:#fff;color:#16181d;font:18px sans-serif;text-align:center}
figure{margin:0} svg{width:min(92vw,80vh);height:auto}</style>
<p>Hold the other device over the codes until it has them all.</p>
@codes@
<script>
const all=[...document.querySelectorAll("figure")];let at=0;
const show=()=>{all.forEach((f,i)=>f.hidden=i!==at);at=(at+1)%all.length};show();setInterval(show,700);
</script>
<noscript><style>figure[hidden]{display:block}</style></noscript></html>
"""


def write_new(path: Path, content: bytes) -> None:
    """Write a new file. Raises FixInput when there is one, or when it cannot be written."""
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError as error:
        raise FixInput(f"{path} exists already; choose another name", code="file exists", where=str(path)) from error
    except OSError as error:
        raise FixInput(f"{path} cannot be written: {error.strerror}", code="no file", where=str(path)) from error


def from_codes(texts: list[str]) -> bytes:
    """Return the hand-over of codes that were read in any order. Raises FixInput naming how many are missing."""
    return _gathered(texts).whole()


def codes_left(texts: Iterable[str]) -> tuple[list[int], int]:
    """Return the numbers of the codes that are still missing, and how many there are."""
    found = _gathered(texts)
    return found.missing, found.count


def _gathered(texts: Iterable[str]) -> Frames:
    from steadfeed.records.hand_over import Frames

    gathered = Frames()
    for text in texts:
        if text.strip():
            gathered.add(text)
    return gathered
