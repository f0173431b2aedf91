"""Practice on the bench."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from steadfeed.visit.sentences import Speech
from steadfeed.web.gate import API
from steadfeed.web.models import practice as m
from steadfeed.web.models.common import Id, Language, UnitSystem
from steadfeed.web.work import At, Who, Work

router = APIRouter(prefix=f"{API}/practice", tags=["practice"])
InLanguage = Annotated[Language, Query()]
InUnits = Annotated[UnitSystem, Query()]


@router.get("/scenarios", operation_id="getScenarios")
def scenarios(station: At) -> m.Scenarios:
    """Return the practice scenarios; what is wrong with each unit is not told."""
    return m.Scenarios.model_validate({"scenarios": station.practice.scenarios()})


@router.get("/choices", operation_id="getChoices")
def choices(station: At) -> m.Choices:
    """Return the verdicts and causes that can be answered."""
    return m.Choices.model_validate(station.practice.choices())


@router.post("", operation_id="beginPractice", status_code=201)
def begin(
    body: m.PracticeIn, work: Work, station: At, who: Who, language: InLanguage = "en", units: InUnits = "us"
) -> m.PracticeOut:
    """Begin a practice: a bench unit and its challenge, with the same screens as a real one."""
    made = station.practice.begin(work, body.id, body.scenario, body.seed, body.speed, hidden=body.hidden)
    made.live.device_seen(who.device, who.name, who.person, role="coil", watching=True, recording=True)
    return m.PracticeOut.model_validate(made.form(Speech(language, units)))


@router.get("/{practice_id}", operation_id="getPractice")
def get(practice_id: Id, station: At, language: InLanguage = "en", units: InUnits = "us") -> m.PracticeOut:
    """Return a practice as it stands."""
    return m.PracticeOut.model_validate(station.practice.get(practice_id).form(Speech(language, units)))


@router.put("/{practice_id}", operation_id="setPractice")
def put(
    practice_id: Id, body: m.PracticeSet, station: At, language: InLanguage = "en", units: InUnits = "us"
) -> m.PracticeOut:
    """Move the cover, the thermostat, the switch's reset or the speed."""
    practice = station.practice.get(practice_id)
    practice.set(cover=body.cover, calls=body.calls, reset_switch=body.reset_switch, speed=body.speed)
    return m.PracticeOut.model_validate(practice.form(Speech(language, units)))


@router.post("/{practice_id}/answer", operation_id="answerPractice")
def answer(practice_id: Id, body: m.AnswerIn, station: At) -> m.Score:
    """Say what is wrong with the unit; the answer is the score and the truth."""
    practice = station.practice.get(practice_id)
    return m.Score.model_validate(practice.answer(body.verdict, body.cause, body.confidence))


@router.get("/{practice_id}/score", operation_id="getScore")
def score(practice_id: Id, station: At) -> m.Score:
    """Return the score once it was answered."""
    return m.Score.model_validate(station.practice.get(practice_id).score())


@router.get("/{practice_id}/replay", operation_id="getReplay")
def replay(practice_id: Id, station: At, points: Annotated[int, Query(ge=50, le=20_000)] = 2000) -> m.Replay:
    """Return the whole practice for the instructor."""
    return m.Replay.model_validate(station.practice.get(practice_id).replay(points))


@router.delete("/{practice_id}", operation_id="endPractice", status_code=204)
def end(practice_id: Id, station: At) -> Response:
    """End a practice and stop its bench."""
    station.practice.end(practice_id)
    return Response(status_code=204)
