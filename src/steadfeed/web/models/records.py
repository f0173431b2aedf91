"""Units, visits and what hangs on them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Mode, Model, Moment, Purpose

UnitKind = Literal["outdoor", "indoor", "packaged"]
Device = Literal["txv", "eev", "fixed orifice", "unknown"]
Compressor = Literal["scroll", "reciprocating", "rotary", "unknown"]
CompressorControl = Literal["single-speed", "two-stage", "variable-speed", "tandem", "unknown"]
FanControl = Literal["on-off", "pressure-cycled", "variable", "unknown"]
VisitReason = Literal["maintenance", "service", "callback", "commissioning", "return visit"]
SetAside = Literal["thermostat", "auxiliary heat", "fan control", "cover", "economizer", "other"]
Verdict = Literal[
    "regulating", "fixed", "weak", "at its stop", "sticking", "hunting", "starving", "flooding", "undecided"
]
Pressure = Annotated[float, Field(gt=0.0, le=2e7, description="Pa absolute")]
Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]


class Customer(Model):
    """A customer."""

    id: str
    name: str | None
    phone: str | None
    email: str | None
    language: str | None


class Site(Model):
    """A place. altitude [m]; barometer: station pressure [Pa]."""

    id: str
    name: str | None
    address: str | None
    altitude: float | None
    barometer: float | None
    time_zone: str | None


class LineSetOut(Model):
    """Piping. length, lift (positive: evaporator higher), outside diameters [m]."""

    from_at: float | None = None
    length: float | None
    lift: float | None
    liquid_line_diameter: float | None
    suction_line_diameter: float | None


class Charged(Model):
    """Which refrigerant a circuit has held since when; null: since before the records began."""

    refrigerant: str
    from_at: float | None


class CircuitOut(Model):
    """A circuit. refrigerant: what it holds by the last word of the records. nominal_capacity [W]."""

    id: str
    unit_id: str
    name: str | None
    metering_device: Device | None
    nominal_capacity: float | None
    compressor_type: Compressor | None
    compressor_control: CompressorControl | None
    fan_control: FanControl | None
    refrigerant: str | None = None
    refrigerants: list[Charged] = Field(default_factory=list)
    line_sets: list[LineSetOut] = Field(default_factory=list)


class NameplateOut(Model):
    """What the maker states. subcooling, superheat [K difference]; pressure absolute [Pa]; current [A]."""

    id: str
    circuit_id: str | None
    subcooling: float | None
    superheat: float | None
    high_side_design_pressure: float | None
    high_side_is_working_limit: bool | None
    rated_current: float | None
    charge_hundredth_oz: int | None


class PartOut(Model):
    """A part that is or was in a unit."""

    id: str
    kind: str
    maker: str | None
    model: str | None
    serial: str | None


class InstallationOut(Model):
    """A part in its place. until_at null: still there."""

    id: str
    role: str
    circuit_id: str | None
    from_at: float | None
    until_at: float | None
    part: PartOut


class AttachmentOut(Model):
    """A photo or voice note. Its bytes: GET /attachments/{id}/content."""

    id: str
    owner: str
    owner_id: str
    kind: str
    media: str
    size: int
    width: int | None
    height: int | None
    taken_at: float | None
    text: str | None
    made_at: float


class VerdictOut(Model):
    """The verdict that stands on a challenge. feed_held and its interval as fractions, null when not computable."""

    id: str
    verdict: Verdict
    valid: bool
    early: bool
    reasons: list[str]
    feed_held: float | None
    feed_held_low: float | None
    feed_held_high: float | None
    method_version: str
    made_at: float
    changed: list[str] = Field(default_factory=list)


class MarkOut(Model):
    """Something a person noted while readings came."""

    id: str
    at: float
    event: str
    text: str | None


class ChallengeOut(Model):
    """A challenge as the records hold it. live: it runs now; papers: its report can be opened."""

    id: str
    visit_id: str
    circuit_id: str
    started_at: float
    mode: Mode | None
    purpose: Purpose | None
    note: str | None
    verdict: VerdictOut | None = None
    marks: list[MarkOut] = Field(default_factory=list)
    live: bool = False


class SpotValue(Model):
    """One value as received. value null or empty: it could not be read."""

    channel: str
    value: str | None
    unit: str | None
    read_by: str | None


class SpotOut(Model):
    """One set of spot readings with what was derived from it (keys end in their unit)."""

    id: str
    visit_id: str
    circuit_id: str
    taken_at: float
    mode: Mode | None
    purpose: Purpose | None
    values: list[SpotValue] = Field(default_factory=list)
    result: dict[str, Any] | None = None


class FindingOut(Model):
    """One cause with its likelihood and evidence. likelihood 0…1, null when not quantified."""

    id: str | None = None
    code: str
    text: str
    likelihood: float | None = None
    evidence_for: list[str] = Field(default_factory=list)
    evidence_against: list[str] = Field(default_factory=list)
    next_step: str | None = None
    source: str | None = None


class NextTestOut(Model):
    """A test that would settle a cause. minutes: how long; risk: in words; gain: information it brings [bit]."""

    id: str | None = None
    code: str
    text: str
    minutes: float | None = None
    risk: str | None = None
    gain: float | None = None
    expected: dict[str, Any] | None = None


class ActionOut(Model):
    """What was done."""

    id: str
    at: float
    text: str
    minutes: float | None
    circuit_id: str | None


class RefrigerantMoveOut(Model):
    """Refrigerant put into or taken out of a circuit."""

    id: str
    circuit_id: str
    at: float
    refrigerant: str
    direction: Literal["in", "out"]
    weight_hundredth_oz: int
    as_typed: str
    cylinder: str | None


class PutBackOut(Model):
    """The answer to something that was set aside."""

    at: float
    answer: Literal["put back", "left on purpose"]
    text: str | None


class SetAsideOut(Model):
    """Something set aside for the test. put_back null: still open; question: how to ask for it."""

    id: str
    what: SetAside
    at: float
    text: str | None
    question: str = ""
    put_back: PutBackOut | None = None


class VisitOut(Model):
    """A visit without what was written down on it."""

    id: str
    unit_id: str
    person_id: str | None
    device: str | None
    opened_at: float
    closed_at: float | None
    reason: VisitReason | None
    complaint: str | None
    not_refrigerant: str | None
    draft: str | None
    review: str | None


PathState = Literal["open", "current", "done", "skipped"]


class PathRow(Model):
    """One row of the visit path. why: reason of a skip; minutes: what it usually takes."""

    act: Literal[
        "complaint", "look and safe", "instruments", "spot readings", "may I test", "challenge", "findings", "refrigerant",
        "put back", "papers",
    ]  # fmt: skip
    state: PathState
    text: str
    why: str | None = None
    minutes: float | None = None


class VisitPath(Model):
    """Where a visit stands. minutes_left: of the whole path; test_minutes: what the challenge takes."""

    rows: list[PathRow]
    next_act: str | None
    minutes_left: float
    test_minutes: float


class VisitPage(Model):
    """A visit with all that was written down on it."""

    visit: VisitOut
    unit: UnitOut
    site: Site
    circuits: list[CircuitOut]
    path: VisitPath
    challenges: list[ChallengeOut]
    spots: list[SpotOut]
    findings: list[FindingOut]
    next_tests: list[NextTestOut]
    actions: list[ActionOut]
    refrigerant_moves: list[RefrigerantMoveOut]
    set_aside: list[SetAsideOut]
    attachments: list[AttachmentOut]


class UnitOut(Model):
    """A unit."""

    id: str
    site_id: str
    kind: UnitKind
    tag: str | None
    place: str | None
    maker: str | None
    model: str | None
    serial: str | None
    installed_on: str | None
    service_interval_days: int | None
    retired_at: float | None
    note: str | None


class HistoryVisit(VisitOut):
    """A visit in a unit's history."""

    technician: str | None = None
    challenges: list[ChallengeOut] = Field(default_factory=list)
    spots: list[SpotOut] = Field(default_factory=list)
    findings: list[FindingOut] = Field(default_factory=list)
    actions: list[ActionOut] = Field(default_factory=list)
    refrigerant_moves: list[RefrigerantMoveOut] = Field(default_factory=list)
    open_overrides: list[SetAsideOut] = Field(default_factory=list)


class DueOut(Model):
    """A visit that is due."""

    id: str
    unit_id: str
    due_on: str
    reason: str | None
    condition: str | None


class UnitPage(Model):
    """All that a unit's page shows, visits newest first."""

    unit: UnitOut
    site: Site
    customer: Customer | None
    circuits: list[CircuitOut]
    nameplates: list[NameplateOut]
    installations: list[InstallationOut]
    due: list[DueOut]
    attachments: list[AttachmentOut]
    visits: list[HistoryVisit]


class UnitFound(Model):
    """A unit in a list of found ones."""

    id: str
    tag: str | None
    place: str | None
    serial: str | None
    site: str | None
    address: str | None
    customer: str | None
    refrigerants: list[str]


class VisitFound(Model):
    """A visit in a list of found ones."""

    visit_id: str
    unit_id: str
    opened_at: float
    closed_at: float | None
    complaint: str | None
    tag: str | None
    place: str | None
    serial: str | None
    site: str | None
    address: str | None
    customer: str | None
    refrigerants: list[str]
    verdicts: list[str]


class DayRow(Model):
    """One row of today. state: "open", "due", "running"; reason: why in one phrase."""

    unit_id: str
    visit_id: str | None
    challenge_id: str | None
    title: str
    place: str | None
    reason: str | None
    condition: str | None
    due_on: str | None
    opened_at: float | None
    state: Literal["running", "open", "due"]


class Today(Model):
    """Open visits first, then what is due."""

    now: Moment
    day: str
    rows: list[DayRow]


class DayPack(Model):
    """What a device needs without signal: today's rows and the pages of their units."""

    fetched_at: Moment
    day: str
    rows: list[DayRow]
    units: list[UnitPage]
