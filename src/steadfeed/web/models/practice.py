"""Practice on the bench: scenarios, a cover control, the answer, the score, the replay."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Line, Model, Moment, Request, Share, Word
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


class PracticeOut(Model):
    """A practice that runs. challenge_id: its challenge, with the same screens as a real one."""

    id: str
    challenge_id: str
    scenario: str
    seed: int
    speed: float
    cover: Share
    running: bool
    tripped: bool
    bench_seconds: float
    state: ChallengeState


class PracticeSet(Request):
    """What the person does to the bench: cover, thermostat, speed. Fields left out stay."""

    cover: Share | None = None
    calls: bool | None = None
    reset_switch: bool | None = None
    speed: Annotated[float, Field(ge=0.25, le=60.0)] | None = None


class AnswerIn(Request):
    """What the person thinks is wrong."""

    verdict: Word
    valid: bool | None = None
    causes: list[Word] = Field(default=[], max_length=10)
    text: Line | None = None


class ScoreRow(Model):
    """One row of the score. points of most; text says why."""

    code: str
    points: float
    most: float
    text: str


class Score(Model):
    """The score with the truth."""

    points: float
    most: float
    rows: list[ScoreRow]
    truth: dict[str, Any]
    answer: dict[str, Any] | None


class ReplayEvent(Model):
    """Something that happened in a practice. by: "person", "bench", "guide" or "guard"."""

    at: Moment
    by: str
    text: str


class Replay(Model):
    """The whole practice for the instructor: true series beside the readings, and what was done when."""

    columns: list[str]
    rows: list[list[float | None]]
    events: list[ReplayEvent]


PracticeOut.model_rebuild()
