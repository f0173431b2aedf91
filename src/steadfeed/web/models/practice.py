"""Practice on the bench: scenarios, a cover control, the answer, the score, the replay."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Model, Moment, Request, Share, Word
from steadfeed.web.models.live import ChallengeState


class Scenario(Model):
    """A practice scenario. What is wrong with the unit is not told."""

    name: str
    title: str
    text: str
    level: str | None
    minutes: float | None
    mode: Literal["cooling", "heating"]


class Scenarios(Model):
    """All scenarios."""

    scenarios: list[Scenario]


class PracticeIn(Request):
    """A practice to begin. seed null: a new one. speed: bench seconds per second."""

    id: Id | None = None
    scenario: Word
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] | None = None
    speed: Annotated[float, Field(ge=0.25, le=60.0)] = 1.0
    hidden: bool = True


class PlateRow(Model):
    """One row of the nameplate and of what is known of the unit."""

    what: str
    text: str


class NoteOut(Model):
    """A line of the learner's notebook."""

    at: Moment
    text: str


class PracticeOut(Model):
    """A practice that runs. challenge_id: its challenge, with the same screens as a real one.

    scenario, seed: empty and null when they are hidden. cover, calls: what the bench was told; answered: the truth is out.
    Taps of the guide (“cover is on” …) are done to the bench too.
    """

    id: str
    challenge_id: str
    scenario: str
    title: str
    complaint: str
    nameplate: list[PlateRow]
    seed: int | None
    speed: float
    cover: Share
    calls: bool
    running: bool
    tripped: bool
    bench_seconds: float
    answered: bool
    notes: list[NoteOut]
    state: ChallengeState


class PracticeSet(Request):
    """What the person does to the bench: cover, thermostat, reset, speed. Fields left out stay."""

    cover: Share | None = None
    calls: bool | None = None
    reset_switch: bool | None = None
    speed: Annotated[float, Field(ge=0.25, le=60.0)] | None = None


class CauseOut(Model):
    """A cause that can be answered."""

    code: str
    text: str


class Choices(Model):
    """What can be answered."""

    verdicts: list[str]
    causes: list[CauseOut]


class AnswerIn(Request):
    """What the person thinks is wrong. verdict, cause: of the choices; confidence 0…1."""

    verdict: Word
    cause: Word
    confidence: Share


class ScoreRow(Model):
    """One row of the score, in words."""

    code: str
    good: bool
    text: str


class Score(Model):
    """The score with the truth. brier: of the confidence, 0 is best; said: what steadfeed says of the same log."""

    right: bool
    brier: float
    rows: list[ScoreRow]
    truth: dict[str, Any]
    said: list[str]
    answer: AnswerIn


class ReplayEvent(Model):
    """Something that happened in a practice. by: "person" or "guide"."""

    at: Moment
    by: str
    text: str


class Replay(Model):
    """The whole practice for the instructor: true series, and what was done when. Only after the answer."""

    columns: list[str]
    rows: list[list[float | None]]
    events: list[ReplayEvent]


PracticeOut.model_rebuild()
