"""What the guide says: one sentence, why, one main button, other ways, two big numbers, rows to answer. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from steadfeed.visit.guide import Guide
from steadfeed.visit.guide_steps import (
    CHECKS,
    HAND_ROWS_OF,
    LONGEST_HOLD,
    PROOFS,
    RAN_LONG,
    WORK,
    Block,
    Facts,
    blocks,
    hand_row,
    needs_reason,
    next_phase,
    proven,
    vital,
)
from steadfeed.visit.sentences import Said, difference, pressure, said, seconds, share, temperature

#: A tap that was just made is not asked for again [s].
TOLD_SECONDS: Final = 60.0


@dataclass(frozen=True, slots=True)
class Button:
    """The main button. instead: what to do first, when it cannot be pressed. cover: what it says is covered.

    asked: the guide wants it now; else it is only at hand, as restoring is all through the push.
    """

    act: str
    label: Said
    enabled: bool = True
    instead: Said | None = None
    cover: float | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Other:
    """A second way."""

    act: str
    label: Said
    needs_reason: bool = False


@dataclass(frozen=True, slots=True)
class Number:
    """A large number: SI value of `kind`."""

    code: str
    kind: str
    value: float | None
    note: Said | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A row before the push or of the checklist."""

    code: str
    state: str
    text: Said
    vital: bool = True
    fix: Said | None = None


@dataclass(frozen=True, slots=True)
class Around:
    """What the words need beside guide and facts. Pressures absolute [Pa], times [s], rates [Pa/s].

    head, suction: newest; stop_at: ceiling; go_to: head to reach; room: to the ceiling; rate: of the head; to_ceiling:
    seconds until the ceiling. alarm_channel, alarm_age: of the alarm. cover_step: next cover; expected: its head;
    rising: the head still climbs. watched: somebody watches. silent_for: of the alarm's channel [s].
    """

    head: float | None = None
    suction: float | None = None
    stop_at: float | None = None
    go_to: float | None = None
    room: float | None = None
    rate: float | None = None
    to_ceiling: float | None = None
    discharge: float | None = None
    alarm_channel: str = ""
    silent_for: float = 0.0
    cover_step: float | None = None
    rising: bool = False
    watched: bool = True
    not_restored: tuple[str, ...] = ()
    verdict: str = "undecided"
    reasons: tuple[str, ...] = ()
    extra: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Screen:
    """All words of a screen."""

    sentence: Said
    why: Said | None
    button: Button | None
    others: tuple[Other, ...]
    numbers: tuple[Number, ...]
    checks: tuple[Row, ...]
    ready: tuple[Row, ...]
    work: tuple[Said, ...]


def screen(g: Guide, f: Facts, a: Around) -> Screen:
    """Return what the guide says now."""
    sentence, why = _sentence(g, f, a)
    return Screen(
        sentence=sentence,
        why=why,
        button=_button(g, f, a),
        others=_others(g, f),
        numbers=_numbers(g, f, a),
        checks=_checks(g),
        ready=_ready(g, f),
        work=tuple(said(code) for code in WORK) if g.phase == "settle" and not f.alarm else (),
    )


# -- the sentence -----------------------------------------------------------------------------------------------------------
def _sentence(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if g.away_for is not None and (g.pushing or g.phase == "restore"):
        return said("away.question", away=seconds(g.away_for)), said("away.why")
    if f.alarm:
        return alarm_words(f.alarm, a), alarm_why(f.alarm, a)
    return _PHRASES[g.phase](g, f, a)


def alarm_words(code: str, a: Around) -> Said:
    """Return the sentence of an alarm."""
    if code == "restore airflow" and a.alarm_channel == "discharge":
        return said("alarm.discharge")
    if code in ("head silent", "suction silent", "channel silent"):
        channel = f"channel.{a.alarm_channel or 'liquid_pressure'}"
        return said("alarm.silent", channel=channel, silent=seconds(a.silent_for))
    return said(f"alarm.{code}")


def alarm_why(code: str, a: Around) -> Said | None:
    """Return the second line of an alarm."""
    if code in ("restore airflow", "stop compressor") and a.head is not None and a.stop_at is not None:
        return said("alarm.head of", head=pressure(a.head), ceiling=pressure(a.stop_at))
    if code == "not watched":
        return said("alarm.not watched.why")
    return None


def _complaint(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    return said("do.complaint"), None


def _look(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    standing = blocks(g, f)
    no = next((b for b in standing if b.code in g.checks), None)
    if no is not None:
        return no.words, said("why.no test")
    return said("do.look"), said("why.look")


def _instruments(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    standing = blocks(g, f)
    if standing:
        return standing[0].words, said("why.instruments")
    return said("do.instruments done"), None


def _standing(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if g.way == "by hand":
        return said("do.standing by hand"), said("why.standing")
    return said("do.standing"), said("why.standing")


def _start(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if g.stopped:
        return said("start.stopped"), said("start.stopped.why")
    return said("do.start"), said("why.start")


def _settle(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    standing = blocks(g, f)
    return said("do.settle"), standing[0].words if standing else None


def _baseline(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if g.way == "by hand":
        return said("do.baseline rows"), said("why.baseline rows")
    return said("do.baseline"), said("why.baseline")


def _plan(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    standing = blocks(g, f)
    hard = [b for b in standing if not b.code.startswith(("proof ", "frozen ", "silent ", "channel map"))]
    if hard:
        return said("plan.no"), hard[0].words
    if standing:
        return said("plan.prove"), standing[0].words
    if a.go_to is not None and a.stop_at is not None:
        return said("plan.yes"), said("plan.limits", go_to=pressure(a.go_to), ceiling=pressure(a.stop_at))
    return said("plan.yes"), None


def _push(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    where = said("push.where", go_to=pressure(a.go_to)) if a.go_to is not None else None
    if f.enough or g.enough:
        return said("enough.restore"), _enough_why(g, f)
    if a.cover_step is not None and not a.rising:
        what = "push.cover" if g.mode == "cooling" else "push.restrict"
        return said(what, cover=share(a.cover_step)), where
    if g.way == "by hand" and a.rising and a.stop_at is not None:
        return said("push.read", ceiling=pressure(a.stop_at)), where
    if a.rising or not g.moves:
        return said("push.wait"), where
    if f.rise is not None and f.least is not None and f.rise < f.least:
        return said("push.no room"), said("push.no room.why")
    return said("push.enough rise"), where


def _hold(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if f.enough or g.enough:
        return said("enough.restore"), _enough_why(g, f)
    held = f.now - (g.hold_at or g.since)
    if held > LONGEST_HOLD:
        return said("hold.long"), said("hold.long.why")
    return said("hold.keep"), said("hold.keep.why", held=seconds(held))


def _enough_why(g: Guide, f: Facts) -> Said:
    why = g.enough or f.enough
    return (
        said("enough.superheat")
        if why == "superheat is gone"
        else said("enough.verdict", verdict=f"verdict.{f.verdict}")
    )


def _restore(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if g.restored_at is None:
        return said("restore.now"), said("restore.now.why") if g.aborted else None
    return said("restore.watch"), said("restore.watch.why")


def _recovery(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if blocks(g, f):
        return said("recovery.wait"), said("recovery.why")
    return said("recovery.stop"), said("recovery.stop.why")


def _standstill(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    return said("standstill.wait"), said("standstill.why")


def _result(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    if a.verdict == "undecided":
        why = said("result.reason", reason=f"reason.{a.reasons[0]}") if a.reasons else said("result.undecided.why")
        return said("result.undecided"), why
    return said("result.verdict", verdict=f"verdict.{a.verdict}"), None


def _put_back(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    standing = blocks(g, f)
    return (said("put back.do"), standing[0].words) if standing else (said("put back.done"), None)


def _closed(g: Guide, f: Facts, a: Around) -> tuple[Said, Said | None]:
    return said("closed"), None


_PHRASES: Final = {
    "complaint": _complaint,
    "look and safe": _look,
    "instruments": _instruments,
    "standing": _standing,
    "start": _start,
    "settle": _settle,
    "baseline": _baseline,
    "plan": _plan,
    "push": _push,
    "hold": _hold,
    "restore": _restore,
    "recovery": _recovery,
    "standstill": _standstill,
    "result": _result,
    "put back": _put_back,
    "closed": _closed,
}


# -- the button -------------------------------------------------------------------------------------------------------------
def _button(g: Guide, f: Facts, a: Around) -> Button | None:
    if g.away_for is not None and (g.pushing or g.phase == "restore"):
        return Button("back", said("button.restored"))
    if f.alarm == "stop compressor":
        return Button("compressor is stopped", said("button.stopped"))
    if g.pushing:
        return _push_button(g, f, a)
    if g.phase == "restore":
        return (
            None
            if g.restored_at is not None and not f.alarm
            else Button("airflow is restored", said("button.restored"))
        )
    if g.phase == "recovery":
        ready = not blocks(g, f)
        return Button("unit is off", said("button.unit off"), ready, None if ready else said("fix.recovery"))
    if g.phase in ("standing", "start"):
        told = g.phase == "start" and g.on_at is not None and g.since <= g.on_at and f.now - g.on_at < TOLD_SECONDS
        return Button("unit is on", said("button.unit on"), asked=not told and not g.stopped)
    if g.phase == "plan":
        standing = blocks(g, f)
        return Button("begin the push", said("button.begin"), not standing, standing[0].words if standing else None)
    if g.phase == "put back":
        standing = blocks(g, f)
        return Button("close", said("button.close"), not standing, standing[0].words if standing else None)
    if g.phase == "closed":
        return None
    standing = blocks(g, f)
    ready = not standing and not needs_reason(g, f)
    instead = standing[0].words if standing else None if ready else said("fix.wait")
    return Button("go on", said(f"button.go on.{g.phase}"), ready, instead)


def _push_button(g: Guide, f: Facts, a: Around) -> Button:
    serious = f.alarm in (
        "restore airflow",
        "head silent",
        "suction silent",
        "channel silent",
        "floodback",
        "switch opened",
    )
    long = g.phase == "hold" and f.now - (g.hold_at or g.since) > LONGEST_HOLD
    if serious or f.enough or g.enough or long:
        return Button("airflow is restored", said("button.restored"))
    if g.phase == "hold" or a.cover_step is None or a.rising:
        return Button("airflow is restored", said("button.restored"), asked=False)
    return Button("cover is on", said("button.cover on", cover=share(a.cover_step)), cover=a.cover_step)


def _others(g: Guide, f: Facts) -> tuple[Other, ...]:
    if g.phase == "closed":
        return ()
    if g.away_for is not None and (g.pushing or g.phase == "restore"):
        return (Other("back", said("other.not restored")), Other("abort", said("other.abort")))
    out: list[Other] = []
    if g.phase in ("instruments", "standing", "start"):
        out.append(Other("unit was running", said("other.was running")))
    if g.pushing:
        out.append(Other("airflow is restored", said("button.restored")))
        out.append(Other("cover is on", said("other.cover")))
    if g.phase in ("plan", "put back", "closed"):
        pass
    elif next_phase(g, f) is not None and (blocks(g, f) or needs_reason(g, f)):
        out.append(Other("go on", said("other.go on"), True))
    if g.phase in ("instruments", "standing", "start", "settle", "baseline", "plan"):
        out.append(Other("go back", said("other.go back"), True))
    if g.phase == "plan" and any(b.may_override for b in blocks(g, f)):
        out.append(Other("override", said("other.override"), True))
    if g.phase in ("restore", "recovery"):
        out.append(Other("unit is off", said("button.unit off")))
    if not g.finished:
        out.append(Other("abort", said("other.abort")))
    return tuple(out)


# -- numbers ----------------------------------------------------------------------------------------------------------------
def _numbers(g: Guide, f: Facts, a: Around) -> tuple[Number, ...]:
    superheat = Number("superheat", "temperature_difference", f.superheat)
    if g.phase in ("push", "hold", "restore") or f.alarm in ("restore airflow", "stop compressor"):
        return (Number("head", "pressure", a.head, _to_ceiling(a)), superheat)
    if g.phase in ("standing", "standstill", "start", "instruments"):
        return (Number("suction", "pressure", a.suction), Number("head", "pressure", a.head))
    if g.phase in ("settle", "baseline", "plan", "recovery"):
        return (superheat, Number("subcooling", "temperature_difference", f.subcooling))
    return ()


def _to_ceiling(a: Around) -> Said | None:
    if a.room is None:
        return None
    if a.rate is not None and a.rate > 700.0:  # 0.1 psi/s
        return said("number.rising", room=_room(a.room), rate=_rate(a.rate))
    return said("number.to ceiling", room=_room(a.room))


def _room(value: float):  # type: ignore[no-untyped-def]
    from steadfeed.visit.sentences import Amount

    return Amount("pressure_difference", value)


def _rate(value: float):  # type: ignore[no-untyped-def]
    from steadfeed.visit.sentences import Amount

    return Amount("pressure_rate", value)


# -- rows -------------------------------------------------------------------------------------------------------------------
def _checks(g: Guide) -> tuple[Row, ...]:
    if g.phase == "look and safe":
        return tuple(
            Row(check, g.checks.get(check, ""), said(f"check.{check}"), vital=CHECKS[check] is None)
            for check in g.wanted_checks
        )
    if g.phase == "settle" and g.found_running:
        return (Row(RAN_LONG, g.checks.get(RAN_LONG, ""), said("check.ran long"), vital=False),)
    return ()


def _ready(g: Guide, f: Facts) -> tuple[Row, ...]:
    if g.phase == "instruments":
        return tuple(_proof_row(g, code) for code in PROOFS)
    if g.phase not in ("plan", "baseline"):
        return ()
    out = []
    for channel in vital(f):
        text = said("ready.channel", channel=f"channel.{channel}")
        if channel in f.missing:
            out.append(Row(channel, "missing", text, fix=said("fix.channel missing", channel=f"channel.{channel}")))
        elif channel in f.silent or channel in f.frozen:
            what = "fix.silent" if channel in f.silent else "fix.frozen"
            out.append(Row(channel, "failed", text, fix=said(what, channel=f"channel.{channel}")))
        elif proven(g, f, channel):
            out.append(Row(channel, "proven", text))
        elif f"proof {channel}" in g.overridden:
            out.append(Row(channel, "skipped", text))
        else:
            out.append(Row(channel, "not yet", text, fix=said("fix.not proven", channel=f"channel.{channel}")))
    steady = "proven" if f.steady_since is not None else "skipped" if "not steady" in g.overridden else "not yet"
    if g.way == "by hand":
        steady = "proven" if not blocks(g, f) or g.phase == "plan" else "not yet"
    out.append(Row("steady", steady, said("ready.steady"), fix=None if steady == "proven" else said("fix.not steady")))
    if f.plan is not None:
        refused = [b for b in _refusals(g, f) if b.code not in g.overridden]
        state = "failed" if refused else "proven"
        out.append(Row("limits", state, said("ready.limits"), fix=refused[0].words if refused else None))
    return tuple(out)


def _refusals(g: Guide, f: Facts) -> list[Block]:
    return [b for b in blocks(g, f) if b.words.code.startswith("refusal.")]


def _proof_row(g: Guide, code: str) -> Row:
    how = g.proofs.get(code, "")
    state = {"data": "proven", "hand": "proven", "skipped": "skipped", "no": "failed"}.get(how, "not yet")
    fix = None if state == "proven" else said(f"proof.{code}.fix")
    return Row(code, state, said(f"proof.{code}"), vital=False, fix=fix)


def hand_row_words(g: Guide, f: Facts) -> tuple[int, int, Said, float | None] | None:
    """Return (number, of, what to read, due in [s]) of the row that the hand pad waits for."""
    found = hand_row(g, f)
    if found is None:
        return None
    number, due = found
    return number, HAND_ROWS_OF, said(f"hand.row {number}"), due


__all__ = [
    "Around",
    "Button",
    "Number",
    "Other",
    "Row",
    "Screen",
    "alarm_words",
    "difference",
    "hand_row_words",
    "screen",
    "temperature",
]
