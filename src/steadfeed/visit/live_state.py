"""The state of a running challenge as it goes over the wire: SI numbers, sentences in a person's language."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from steadfeed.analysis import guard as guarding
from steadfeed.analysis.criteria import CRITERIA
from steadfeed.circuit.verdict import UNDECIDED
from steadfeed.errors import FixInput
from steadfeed.visit import dead_man, live_plan
from steadfeed.visit.circuit_watch import CircuitWatch, plain
from steadfeed.visit.guide_screen import Around, Button, Number, Row, hand_row_words, screen
from steadfeed.visit.guide_steps import blocks, time_left, vital
from steadfeed.visit.sentences import Said, Speech, form, said

if TYPE_CHECKING:
    from steadfeed.capture.recorder import Saved
    from steadfeed.visit.live_challenge import LiveChallenge

#: An alarm is said again after [s].
REPEAT: Final = 3.0
#: Channels that a screen shows beside the vital ones when they are there.
_JOURNAL_LINES: Final = 30


def state_form(live: LiveChallenge, speech: Speech, now: float, saved: Saved) -> dict[str, Any]:
    """Return the state as the API's ChallengeState. Called with the challenge's lock held."""
    g, f, tested = live.guide, replace(live.facts, now=now), live.tested
    speech = replace(speech, atmosphere=_zero(tested))
    around = around_of(live, now)
    words = screen(g, f, around)

    def say(sentence: Said | None) -> dict[str, Any] | None:
        return None if sentence is None else form(sentence, speech)

    return {
        "challenge_id": live.challenge_id,
        "visit_id": live.visit_id,
        "sequence": live.sequence,
        "at": now,
        "title": live.title,
        "circuit_name": tested.name,
        "way": g.way,
        "mode": g.mode,
        "purpose": live.purpose,
        "phase": g.phase,
        "phase_since": g.since,
        "sentence": say(words.sentence),
        "why": say(words.why),
        "time_left": time_left(g, f),
        "button": _button(words.button, speech),
        "others": [{"act": o.act, "label": say(o.label), "needs_reason": o.needs_reason} for o in words.others],
        "numbers": [_number(n, speech) for n in words.numbers],
        "circuits": [circuit_form(w, now) for w in live.watches],
        "evidence": evidence_form(live, speech),
        "alarm": _alarm(live, around, speech, now),
        "away": g.away_for,
        "checks": [_check(row, speech) for row in words.checks],
        "ready": [
            {"code": r.code, "state": r.state, "text": say(r.text), "vital": r.vital, "fix": say(r.fix)}
            for r in words.ready
        ],
        "plan": plan_form(live, speech),
        "cover": _cover(live, speech),
        "hand_row": _hand_row(live, speech),
        "devices": [
            {
                "device": d.device,
                "name": d.name,
                "person": d.person,
                "role": d.role,
                "recording": d.recording,
                "watching": d.watches(live.wall()),
                "seen_at": d.seen_at,
            }
            for d in live.watch.devices.values()
        ],
        "watched": dead_man.watched(live.watch, live.wall()),
        "not_restored": _not_restored(live),
        "useful_work": [form(w, speech) for w in words.work],
        "undoable": [{"id": i, "what": form(said(code), speech), "until": until} for i, code, until in live.undoable()],
        "saved": {
            "written": saved.written,
            "waiting": saved.waiting,
            "last_at": saved.last_at,
            "store": "practice" if g.way == "practice" else "records",
        },
        "marks": [{"id": i, "at": m.time, "event": m.event, "text": m.text or None} for i, m in live.marks],
        "journal": [
            {"at": e.at, "phase": e.phase, "cover": e.cover, "why": e.why} for e in live.journal[-_JOURNAL_LINES:]
        ],
        "aborted": g.aborted,
        "finished": g.finished,
    }


def around_of(live: LiveChallenge, now: float) -> Around:
    """Return what the words need beside guide and facts."""
    tested = live.tested
    room = guarding.headroom(tested.guard, tested.top, now)
    head = tested.now.head
    planned = live.frozen_plan
    _, circuit, channel = live.alarm_code(now)
    silent = 0.0
    if circuit is not None and channel in circuit.guard.seen:
        silent = guarding.silence(circuit.guard, channel, now)[0]
    top = _ceiling_pressure(tested)
    assessment = live.judgement.assessment if live.judgement is not None else None
    return Around(
        head=head,
        suction=tested.now.suction,
        stop_at=planned.stop_at if planned is not None else top,
        go_to=_go_to(live),
        room=None if head is None or room.kelvin is None else top - head,
        rate=_pressure_rate(tested, room.rate, head),
        to_ceiling=room.seconds,
        alarm_channel=channel,
        silent_for=silent,
        cover_step=live.step.cover if live.step is not None else None,
        rising=live.step.rising if live.step is not None else False,
        watched=dead_man.watched(live.watch, live.wall()),
        verdict=assessment.verdict if assessment is not None else UNDECIDED,
        reasons=assessment.reasons if assessment is not None else (),
    )


def _go_to(live: LiveChallenge) -> float | None:
    """Head to reach [Pa]."""
    if live.frozen_plan is None or live.base is None or live.frozen_plan.recommended_push is None:
        return None
    rise = live_plan.wanted_rise(live.tested, live.base, live.frozen_plan)
    return _head(live.tested, live.base.condensing + rise)


def _zero(watch: CircuitWatch) -> float:
    from steadfeed.capture.live_rows import gauge_zero

    return gauge_zero(watch.system)[1]


def _ceiling_pressure(watch: CircuitWatch) -> float:
    return guarding.ceiling(watch.system, watch.curves).head_pressure


def _pressure_rate(watch: CircuitWatch, rate: float | None, head: float | None) -> float | None:
    """Return a climb of the condensing temperature [K/s] as one of the head [Pa/s]."""
    if rate is None or head is None:
        return None
    here, there = (float(watch.curves.bubble_temperature(p, outside="nan")) for p in (head, 1.01 * head))
    slope = 0.01 * head / (there - here) if there > here else float("nan")
    return plain(rate * slope)


def _button(button: Button | None, speech: Speech) -> dict[str, Any] | None:
    if button is None:
        return None
    return {
        "act": button.act,
        "label": form(button.label, speech),
        "enabled": button.enabled,
        "instead": None if button.instead is None else form(button.instead, speech),
        "cover": button.cover,
        "asked": button.asked,
    }


def _number(number: Number, speech: Speech) -> dict[str, Any]:
    return {
        "code": number.code,
        "label": form(said(f"number.{number.code}"), speech),
        "kind": number.kind,
        "value": number.value,
        "note": None if number.note is None else form(number.note, speech),
    }


def _check(row: Row, speech: Speech) -> dict[str, Any]:
    return {
        "code": row.code,
        "text": form(row.text, speech),
        "answer": row.state or None,
        "stops": row.vital,
        "caution": None,
    }


# -- circuits ---------------------------------------------------------------------------------------------------------------
def circuit_form(watch: CircuitWatch, now: float) -> dict[str, Any]:
    """Return one circuit as it is now."""
    ahead = _forecast(watch, now)
    room = guarding.headroom(watch.guard, watch.top, now)
    head = watch.now.head
    return {
        "circuit_id": watch.circuit_id,
        "name": watch.name,
        "place": "tested" if watch.label is None else "watched",
        "refrigerant": watch.system.refrigerant,
        "channels": _channels(watch, now),
        "derived": {
            "evaporating": watch.now.evaporating,
            "condensing": watch.now.condensing,
            "superheat": watch.now.superheat,
            "subcooling": watch.now.subcooling,
        },
        "ceiling": ceiling_form(watch),
        "forecast": ahead,
        "headroom": {
            "pressure": None if head is None or room.kelvin is None else _ceiling_pressure(watch) - head,
            "rate": _pressure_rate(watch, room.rate, head),
            "seconds": room.seconds,
        },
    }


def _channels(watch: CircuitWatch, now: float) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    names = list(dict.fromkeys((*watch.vital, *watch.recording.newest)))
    for name in names:
        newest = watch.recording.newest.get(name)
        if newest is None:
            out.append({"channel": name, "value": None, "at": None, "age": None, "state": "missing", "unit": None})
            continue
        _, silent = guarding.silence(watch.guard, name, now)
        out.append(
            {
                "channel": name,
                "value": newest.value,
                "at": newest.at,
                "age": max(0.0, now - newest.at),
                "state": "silent" if silent and not watch.by_hand_rows else "live",
                "unit": newest.unit,
                "source": newest.source,
                "same": newest.same,
            }
        )
    return out


def ceiling_form(watch: CircuitWatch) -> dict[str, Any]:
    """Return the ceiling with every limit that is known, and where each comes from."""
    own = guarding.ceiling(watch.system, watch.curves)
    hot, key = guarding.discharge_limit(watch.system)
    limits = [
        {
            "code": one.criterion or one.set_by,
            "kind": "pressure",
            "value": one.head_pressure,
            "text": one.set_by,
            "criterion": one.criterion or None,
            "source": guarding.source_of(one),
            "binds": one == own,
        }
        for one in guarding.limits_on_head(watch.system, watch.curves)
    ]
    limits.append(
        {
            "code": key or "discharge limit stated",
            "kind": "temperature",
            "value": hot,
            "text": "the discharge line",
            "criterion": key or None,
            "source": CRITERIA[key].source if key else "stated for this unit",
            "binds": False,
        }
    )
    return {
        "head_pressure": own.head_pressure,
        "set_by": own.set_by,
        "criterion": own.criterion or None,
        "source": guarding.source_of(own),
        "discharge_temperature": hot,
        "limits": limits,
    }


def _forecast(watch: CircuitWatch, now: float) -> list[dict[str, Any]]:
    hot = guarding.discharge_ahead(watch.guard, now)
    out = []
    for k, point in enumerate(guarding.head_ahead(watch.guard, now)):
        values = [_head(watch, t) for t in (point.value, point.low, point.high)]
        if any(v is None for v in values):
            continue
        out.append(
            {
                "after": point.after,
                "head_pressure": values[0],
                "low": values[1],
                "high": values[2],
                "discharge_temperature": hot[k].value if hot else None,
                "discharge_high": hot[k].high if hot else None,
            }
        )
    return out


def _head(watch: CircuitWatch, condensing: float) -> float | None:
    low, high = watch.curves.minimum_temperature, watch.curves.maximum_temperature
    return plain(float(watch.curves.bubble_pressure(min(max(condensing, low + 0.1), high - 0.1))))


# -- evidence, alarm, plan --------------------------------------------------------------------------------------------------
def evidence_form(live: LiveChallenge, speech: Speech) -> dict[str, Any]:
    """Return what the readings say so far."""
    assessment = live.judgement.assessment if live.judgement is not None else None
    held = assessment.feed_held if assessment is not None else None
    called = live.called[1] - live.guide.push_at if live.called and live.guide.push_at is not None else None
    return {
        "at": live.judged_at,
        "verdict": assessment.verdict if assessment is not None else UNDECIDED,
        "valid": assessment.valid if assessment is not None else False,
        "early": assessment.early if assessment is not None else False,
        "reasons": list(assessment.reasons) if assessment is not None else [],
        "probability": dict(assessment.probability) if assessment is not None and assessment.probability else None,
        "feed_held": None
        if held is None
        else {"value": held.value, "low": held.low, "high": held.high, "level": held.level},
        "enough": bool(live.facts.enough or live.guide.enough),
        "called_after": called,
        "sentence": form(said("evidence.held" if held is not None else "evidence.none"), speech),
    }


def _alarm(live: LiveChallenge, around: Around, speech: Speech, now: float) -> dict[str, Any] | None:
    from steadfeed.visit.guide_screen import alarm_words

    g = live.guide
    code, circuit, _ = live.alarm_code(now)
    if g.away_for is not None and (g.pushing or g.phase == "restore"):
        from steadfeed.visit.sentences import seconds

        words, code, since = said("away.question", away=seconds(g.away_for)), "away", g.since
        circuit = live.tested
    elif not code:
        return None
    else:
        words, since = alarm_words(code, around), now
        if circuit is not None and circuit.guard.alarm is not None:
            since = circuit.guard.alarm.since
        elif live.watch.unwatched_since is not None:
            since = live.watch.unwatched_since
        if circuit is not None and circuit.label is not None and code == "restore airflow":
            words = said("alarm.other circuit")
    return {
        "code": code,
        "sentence": form(words, speech),
        "since": since,
        "circuit_id": circuit.circuit_id if circuit is not None else None,
        "urgent": code not in ("channel silent",),
        "repeat": REPEAT,
    }


def plan_form(live: LiveChallenge, speech: Speech) -> dict[str, Any] | None:
    """Return the plan once there is a baseline, with its refusals and who may set them aside."""
    planned, base, g = live.frozen_plan, live.base, live.guide
    if planned is None or base is None:
        return None
    standing = {b.code: b for b in blocks(replace(g, phase="plan", overridden=()), replace(live.facts, plan=planned))}
    curves = live.tested.curves

    def head(rise: float) -> float:
        return float(curves.bubble_pressure(min(base.condensing + rise, curves.maximum_temperature - 0.1)))

    wanted = live_plan.wanted_rise(live.tested, base, planned)
    low = max(planned.least_push, wanted - 1.5)
    return {
        "possible": planned.recommended_push is not None and planned.may_start,
        "baseline_head": base.head,
        "baseline_condensing": base.condensing,
        "least_rise": planned.least_push,
        "wanted_rise": wanted,
        "least_head": head(planned.least_push),
        "go_to_low": head(low),
        "go_to_high": min(head(wanted + 1.0), planned.stop_at),
        "stop_at": planned.stop_at,
        "seconds": planned.seconds,
        "refusals": [
            {
                "code": b.code,
                "text": form(b.words, speech),
                "source": b.source,
                "criterion": b.criterion,
                "may_override": b.may_override,
                "overridden": b.code in g.overridden,
            }
            for b in standing.values()
        ],
        "notes": [*planned.warnings, *([planned.mild_weather] if planned.mild_weather else [])],
    }


def _cover(live: LiveChallenge, speech: Speech) -> dict[str, Any] | None:
    if not live.guide.pushing or live.step is None:
        return None
    step = live.step
    forecast = None
    room = guarding.step_room(live.tested.guard, live.facts.now)
    if room is not None:
        forecast = _head(live.tested, room)
    return {
        "now": live.guide.cover,
        "cover": step.cover,
        "expected_head": step.expected_head,
        "forecast_head": step.expected_head if step.expected_head is not None else forecast,
        "wait": step.wait,
        "why": form(step.why, speech),
    }


def _hand_row(live: LiveChallenge, speech: Speech) -> dict[str, Any] | None:
    if not live.by_hand:
        return None
    found = hand_row_words(live.guide, live.facts)
    if found is None:
        return None
    number, of, words, due = found
    return {"number": number, "of": of, "what": form(words, speech), "due_in": due, "channels": list(vital(live.facts))}


def _not_restored(live: LiveChallenge) -> list[str]:
    g = live.guide
    covered = ["cover"] if g.pushing or (g.phase == "restore" and g.restored_at is None) else []
    return list(dict.fromkeys((*covered, *live.facts.open_overrides)))


# -- judgement --------------------------------------------------------------------------------------------------------------
def judgement_form(live: LiveChallenge, units: str) -> dict[str, Any]:
    """Return the judgement of the readings so far, in the form of `judge --json`."""
    from steadfeed.analysis.diagnosis.of_challenge import with_findings
    from steadfeed.visit.json_form import judgement_form as as_json
    from steadfeed.visit.judge_log import JudgedLog, method_version
    from steadfeed.visit.live_papers import good_news
    from steadfeed.visit.papers import headline

    if live.judgement is None:
        raise FixInput("There are no readings to judge yet", code="nothing to judge")
    judged = JudgedLog(
        log=f"challenge {live.challenge_id}",
        sha256="",
        system=live.tested.system,
        system_file=None,
        system_sha256=None,
        curves=live.tested.curves,
        judgement=with_findings(live.judgement, live.tested.system, live.tested.curves),
        method_version=method_version(),
    )
    return {
        "headline": headline(judged, "si" if units == "si" else "us"),
        "good_news": good_news(judged),
        "verdict_id": None,
        "sealed": False,
        "fingerprint": None,
        "judgement": as_json(judged),
    }
