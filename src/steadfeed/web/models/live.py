"""A challenge while it runs: guide, guard, evidence, devices, and the frames of the live stream."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Line, Mode, Model, Moment, Purpose, Request, Sentence, Share, Word

Phase = Literal[
    "complaint", "look and safe", "instruments", "standing", "start", "settle", "baseline", "plan", "push", "hold",
    "restore", "recovery", "standstill", "result", "put back", "closed",
]  # fmt: skip
ActCode = Literal[
    "go on", "go back", "answer", "unit is on", "unit was running", "begin the push", "cover is on", "airflow is restored",
    "abort", "unit is off", "compressor is stopped", "back", "override", "take role", "leave", "close",
]  # fmt: skip
Role = Literal["coil", "watcher"]
Way = Literal["instruments", "by hand", "practice"]
Place = Literal["tested", "watched"]
AlarmCode = Literal[
    "restore airflow", "stop compressor", "head silent", "suction silent", "channel silent", "not watched", "away",
    "floodback", "switch opened",
]  # fmt: skip


# -- what the state says ----------------------------------------------------------------------------------------------
class Button(Model):
    """The one main button. enabled false: `instead` says what to do first. asked: the guide wants it now; else it is only
    at hand, as restoring is all through the push.
    """

    act: ActCode
    label: Sentence
    enabled: bool = True
    instead: Sentence | None = None
    cover: Share | None = None
    asked: bool = True


class OtherAct(Model):
    """A second way. needs_reason: the act is refused without one."""

    act: ActCode
    label: Sentence
    needs_reason: bool = False


class BigNumber(Model):
    """One of the two large numbers. value null: not known now. note: the line beside it."""

    code: str
    label: Sentence
    kind: str
    value: float | None
    note: Sentence | None = None


class ChannelState(Model):
    """The newest reading of a channel, SI. state: "live", "silent" (was there, came no more), "missing"."""

    channel: str
    value: float | None
    at: float | None
    age: float | None
    state: Literal["live", "silent", "missing"]
    unit: str | None
    source: str | None = None
    same: bool = False


class Derived(Model):
    """What follows from the newest readings. Temperatures [K], differences [K difference]."""

    evaporating: float | None
    condensing: float | None
    superheat: float | None
    subcooling: float | None


class LimitOut(Model):
    """A limit on the head pressure. value: head pressure absolute [Pa], or temperature [K] of the discharge line."""

    code: str
    kind: Literal["pressure", "temperature"]
    value: float
    text: str
    criterion: str | None
    source: str
    binds: bool


class Ceiling(Model):
    """The head that must not be passed, and the limit that sets it. discharge: limit of the discharge line [K]."""

    head_pressure: float
    set_by: str
    criterion: str | None
    source: str
    discharge_temperature: float
    limits: list[LimitOut]


class ForecastPoint(Model):
    """Head (and discharge temperature) so many seconds ahead, with the interval that 95 of 100 stay in."""

    after: float
    head_pressure: float
    low: float
    high: float
    discharge_temperature: float | None = None
    discharge_high: float | None = None


class Headroom(Model):
    """Distance to the ceiling. pressure [Pa]; rate of the head [Pa/s]; seconds: until the ceiling at this course."""

    pressure: float | None
    rate: float | None
    seconds: float | None


class CircuitLive(Model):
    """One circuit as it is now. ceiling and forecast are null until they can be computed."""

    circuit_id: str
    name: str | None
    place: Place
    refrigerant: str | None
    channels: list[ChannelState]
    derived: Derived
    ceiling: Ceiling | None
    forecast: list[ForecastPoint]
    headroom: Headroom


class Held(Model):
    """Share of the push that the metering device cancelled, not clipped."""

    value: float
    low: float
    high: float
    level: float


class Evidence(Model):
    """What the readings say so far: the same judgement as on the log. enough: the push can end.

    at: of the last reading that was judged. sentence: "no evidence yet" before any hold.
    """

    at: float | None
    verdict: str
    valid: bool
    early: bool
    reasons: list[str]
    probability: dict[str, float] | None
    feed_held: Held | None
    enough: bool
    called_after: float | None
    sentence: Sentence


class Alarm(Model):
    """What must be done now. It ends when what caused it ends, not by a tap. repeat: say it again after [s]."""

    code: AlarmCode
    sentence: Sentence
    since: Moment
    circuit_id: str | None
    urgent: bool
    repeat: float


class Ready(Model):
    """One row before the push. what to do stands in `fix` while it is not proven."""

    code: str
    state: Literal["proven", "not yet", "missing", "failed", "skipped"]
    text: Sentence
    vital: bool
    fix: Sentence | None


class CheckRow(Model):
    """One row of the checklist. stops: an answer of "no" refuses the test."""

    code: str
    text: Sentence
    answer: Literal["yes", "no"] | None
    stops: bool
    caution: Line | None = None


class Refusal(Model):
    """Why the push must not begin. may_override: who may set it aside; null: nobody."""

    code: str
    text: Sentence
    source: str
    criterion: str | None
    may_override: Literal["technician", "lead"] | None
    overridden: bool = False


class Plan(Model):
    """The push that is wanted. Pressures absolute [Pa]; rises [K difference]; time [s]; bracket: least push.

    least: what these instruments can resolve; go_to: where the head should stand; stop_at: the ceiling.
    """

    possible: bool
    baseline_head: float
    baseline_condensing: float
    least_rise: float
    wanted_rise: float
    least_head: float
    go_to_low: float
    go_to_high: float
    stop_at: float
    seconds: float
    refusals: list[Refusal]
    notes: list[str]


class CoverStep(Model):
    """The next step of the cover, sized from what the last one did. cover: share of the face that is covered after it.

    forecast_head: head 10 s after it, upper end [Pa]. null cover: none is proposed, `why` says so.
    """

    now: Share
    cover: Share | None
    expected_head: float | None
    forecast_head: float | None
    wait: float
    why: Sentence


class DeviceOut(Model):
    """A device on this challenge. watching false: it sleeps, lost its link or is in the background: "not watched"."""

    device: str
    name: str
    person: str | None
    role: Role
    recording: bool
    watching: bool
    seen_at: Moment


class HandRowOut(Model):
    """The row that the hand pad waits for."""

    number: int
    of: int
    what: Sentence
    due_in: float | None
    channels: list[str]


class Undoable(Model):
    """Something that can still be taken back until that moment."""

    id: str
    what: Sentence
    until: Moment


class Saved(Model):
    """What is safe where. written: readings on this store's disk; waiting: received, not yet."""

    written: int
    waiting: int
    last_at: float | None
    store: str


class Step(Model):
    """One line of the guide's journal."""

    at: Moment
    phase: str
    cover: float | None
    why: str


class ChallengeState(Model):
    """All that a screen of the challenge shows. `sequence` counts up with every change."""

    challenge_id: str
    visit_id: str
    sequence: int
    at: Moment
    title: str
    circuit_name: str | None
    way: Way
    mode: Mode
    purpose: Purpose | None
    phase: Phase
    phase_since: Moment
    sentence: Sentence
    why: Sentence | None
    time_left: float | None
    button: Button | None
    others: list[OtherAct]
    numbers: list[BigNumber]
    circuits: list[CircuitLive]
    evidence: Evidence
    alarm: Alarm | None
    away: float | None
    checks: list[CheckRow]
    ready: list[Ready]
    plan: Plan | None
    cover: CoverStep | None
    hand_row: HandRowOut | None
    devices: list[DeviceOut]
    watched: bool
    not_restored: list[str]
    useful_work: list[Sentence]
    undoable: list[Undoable]
    saved: Saved
    marks: list[MarkLive]
    journal: list[Step]
    aborted: bool
    finished: bool


class MarkLive(Model):
    """A mark as it stands on the chart."""

    id: str
    at: Moment
    event: str
    text: str | None


# -- what is sent -----------------------------------------------------------------------------------------------------
class ChallengeIn(Request):
    """A challenge to begin. circuit_id: under test; watched: other circuits whose head is watched too.

    sources: which sources feed it (GET /sources); none means by hand. found_running: the unit runs already.
    """

    id: Id | None = None
    circuit_id: Id
    watched: list[Id] = Field(default=[], max_length=3)
    way: Literal["instruments", "by hand"] = "instruments"
    mode: Mode = "cooling"
    purpose: Purpose | None = "as found"
    sources: list[Word] = Field(default=[], max_length=16)
    found_running: bool = False
    role: Role = "coil"


class Act(Request):
    """A tap. id: made by the device; the same one again changes nothing and answers as the first time.

    seen: phase that the screen showed; an act for another phase is refused. check, answer: for "answer". cover: share of
    the face, for "cover is on". refusal: for "override". restored: for "back". role: for "take role".
    """

    id: Id
    act: ActCode
    seen: Phase | None = None
    at: Moment | None = None
    reason: Line | None = None
    check: Word | None = None
    answer: Literal["yes", "no"] | None = None
    cover: Share | None = None
    refusal: Word | None = None
    restored: bool | None = None
    role: Role | None = None


class MarkIn(Request):
    """A note on the chart. event: as in log files; text: in words."""

    id: Id
    event: Literal["start", "push", "hold", "restore", "standstill", "note", "override", "override back"] = "note"
    text: Line | None = None
    at: Moment | None = None


class RowIn(Request):
    """A row of the hand pad. values: channel -> "118 psig"; same: channels that were read again, unchanged.

    photo: the row's time is that of a photo, values typed later. number: of the protocol's row, null outside of it.
    """

    id: Id
    at: Moment
    values: dict[Word, Line] = Field(max_length=40)
    same: list[Word] = Field(default=[], max_length=40)
    not_read: list[Word] = Field(default=[], max_length=40)
    read_by: Literal["person", "photo"] = "person"
    number: Annotated[int, Field(ge=1, le=100)] | None = None
    circuit_id: Id | None = None


class RowKept(Model):
    """A row as kept. questions: values that look swapped or mistyped; they were kept as sent."""

    id: str
    known: bool
    questions: list[Question]
    state: ChallengeState


class Question(Model):
    """Something that looks wrong. offers: what the person can choose; the first changes, the last keeps."""

    code: Literal["swapped", "unit", "far from the last", "out of range"]
    channel: str
    text: Sentence
    offers: list[str]


class Alive(Request):
    """A device says that it is there. watching: in front, awake, sound armed. sent over the stream every 2 s."""

    type: Literal["alive"] = "alive"
    watching: bool
    recording: bool = False
    role: Role | None = None


class Undo(Request):
    """Take back what has this identity (an act, a mark or a row)."""

    id: Id


# -- the stream -------------------------------------------------------------------------------------------------------
class ReadingsFrame(Model):
    """New readings of one circuit, in order. columns: "time", then channels and derived series; cells null: missing."""

    type: Literal["readings"] = "readings"
    sequence: int
    circuit_id: str
    columns: list[str]
    rows: list[list[float | None]]


class StateFrame(Model):
    """The state changed."""

    type: Literal["state"] = "state"
    sequence: int
    state: ChallengeState


class HelloFrame(Model):
    """First frame. stream: one life of the server's memory of this challenge; resumed: frames after `after` follow."""

    type: Literal["hello"] = "hello"
    sequence: int
    stream: str
    resumed: bool
    server_time: Moment


class HistoryFrame(Model):
    """All readings so far, thinned so that the chart keeps its extremes. Sent when a stream cannot be resumed."""

    type: Literal["history"] = "history"
    sequence: int
    circuit_id: str
    columns: list[str]
    rows: list[list[float | None]]
    every: int


class ByeFrame(Model):
    """The stream ends. code: stable word; message: one sentence."""

    type: Literal["bye"] = "bye"
    code: str
    message: str


Frame = Annotated[HelloFrame | HistoryFrame | ReadingsFrame | StateFrame | ByeFrame, Field(discriminator="type")]


class FrameSchema(Model):
    """Every kind of frame; documents the stream in the OpenAPI document."""

    frame: Frame
    alive: Alive


class History(Model):
    """Readings of a challenge for a chart. every: one of so many rows was kept, extremes always."""

    circuit_id: str
    columns: list[str]
    rows: list[list[float | None]]
    every: int
    sequence: int


class Judgement(Model):
    """A judgement in the form of `judge --json` (documented there), with the sentence that stands on the result screen."""

    headline: str
    good_news: str | None
    verdict_id: str | None
    sealed: bool
    fingerprint: str | None
    judgement: dict[str, Any]


ChallengeState.model_rebuild()
RowKept.model_rebuild()
