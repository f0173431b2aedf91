"""What a client sends about units, visits and records, and the short answers to it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Line, Mode, Model, Moment, Purpose, Request, Text, Word
from steadfeed.web.models.records import (
    Compressor,
    CompressorControl,
    Day,
    Device,
    FanControl,
    FindingOut,
    NextTestOut,
    Pressure,
    SetAside,
    SpotOut,
    VisitPage,
    VisitReason,
)


class CustomerIn(Request):
    """A new customer, or {"id"} of one that is there."""

    id: Id | None = None
    name: Line | None = None
    phone: Line | None = None
    email: Line | None = None
    language: Line | None = None


class SiteIn(Request):
    """A new site, or {"id"} of one that is there."""

    id: Id | None = None
    name: Line | None = None
    address: Line | None = None
    altitude: float | None = Field(default=None, ge=-500.0, le=6000.0)
    barometer: float | None = Field(default=None, ge=4e4, le=1.2e5)
    time_zone: Line | None = None


class CircuitIn(Request):
    """A circuit of a new unit."""

    name: Word | None = None
    refrigerant: Word | None = None
    metering_device: Device | None = None
    nominal_capacity: float | None = Field(default=None, gt=0.0, le=1e7)
    compressor_type: Compressor | None = None
    compressor_control: CompressorControl | None = None
    fan_control: FanControl | None = None


class NameplateIn(Request):
    """The plate of a new unit, SI."""

    subcooling: float | None = Field(default=None, ge=0.0, le=50.0)
    superheat: float | None = Field(default=None, ge=0.0, le=50.0)
    high_side_design_pressure: Pressure | None = None
    high_side_is_working_limit: bool | None = None
    rated_current: float | None = Field(default=None, gt=0.0, le=1e4)
    charge_hundredth_oz: int | None = Field(default=None, ge=0, le=10_000_000)


class LineSetIn(Request):
    """Piping of a new unit [m]."""

    length: float | None = Field(default=None, ge=0.0, le=1000.0)
    lift: float | None = Field(default=None, ge=-200.0, le=200.0)
    liquid_line_diameter: float | None = Field(default=None, gt=0.0, le=0.2)
    suction_line_diameter: float | None = Field(default=None, gt=0.0, le=0.5)


class UnitIn(Request):
    """A new unit with its place."""

    id: Id | None = None
    kind: Literal["outdoor", "packaged"] = "outdoor"
    tag: Word | None = None
    place: Line | None = None
    maker: Line | None = None
    model: Line | None = None
    serial: Line | None = None
    installed_on: Day | None = None
    note: Text | None = None
    site: SiteIn = SiteIn()
    customer: CustomerIn | None = None
    circuits: list[CircuitIn] = Field(default=[CircuitIn()], min_length=1, max_length=8)
    nameplate: NameplateIn | None = None
    line_set: LineSetIn | None = None


class Edit(Request):
    """Fields to change. seen: field -> entries the author had seen, for an edit made without network."""

    changes: dict[Word, str | float | int | bool | None] = Field(min_length=1)
    seen: dict[Word, list[Id]] | None = None
    reason: Line | None = None


class ChargeIn(Request):
    """The circuit holds another refrigerant from a moment on."""

    refrigerant: Word
    from_at: Moment


class VisitIn(Request):
    """A visit to open."""

    id: Id | None = None
    unit_id: Id
    complaint: Text | None = None
    reason: VisitReason | None = None
    another: bool = False
    at: Moment | None = None


class VisitNote(Request):
    """What can be written on a visit. not_refrigerant: why the refrigerant circuit is not suspected."""

    complaint: Text | None = None
    draft: Text | None = None
    not_refrigerant: Line | None = None


class PathStep(Request):
    """A row of the path is skipped, with the reason, or taken up again."""

    act: Word
    state: Literal["skipped", "open", "done"]
    reason: Line | None = None


class SpotIn(Request):
    """Spot readings as typed: channel -> "118 psig"; an empty text is a reading that could not be had."""

    id: Id | None = None
    circuit_id: Id
    values: dict[Word, Line] = Field(min_length=1, max_length=40)
    purpose: Purpose | None = None
    mode: Mode = "cooling"
    read_by: Literal["person", "photo", "instrument"] = "person"
    at: Moment | None = None


class SpotResult(Model):
    """Spot readings as kept, with findings and next tests."""

    spot: SpotOut
    findings: list[FindingOut]
    next_tests: list[NextTestOut]
    remarks: list[str]


class ActionIn(Request):
    """What was done."""

    id: Id | None = None
    text: Text = Field(min_length=1)
    circuit_id: Id | None = None
    minutes: float | None = Field(default=None, ge=0.0, le=10_000.0)
    at: Moment | None = None


class RefrigerantMoveIn(Request):
    """Refrigerant in or out, weight as typed ("6 oz", "2 lb 4 oz")."""

    id: Id | None = None
    circuit_id: Id
    direction: Literal["in", "out"]
    weight: Word
    refrigerant: Word | None = None
    cylinder: Line | None = None
    at: Moment | None = None


class SetAsideIn(Request):
    """Something set aside for the test."""

    id: Id | None = None
    what: SetAside
    text: Line | None = None
    at: Moment | None = None


class PutBackIn(Request):
    """Put back (text: how that was verified), or left on purpose with the reason."""

    text: Line | None = None
    left_because: Line | None = None
    at: Moment | None = None


class Reason(Request):
    """Why."""

    reason: Line = Field(min_length=1)


class PairIn(Request):
    """Readings as found bound to readings as left."""

    found_challenge: Id | None = None
    left_challenge: Id | None = None
    found_spot: Id | None = None
    left_spot: Id | None = None


class AttachmentMade(Model):
    """An attachment as kept: cleaned of its location data."""

    id: str
    media: str
    size: int
    sha256: str


class EditMade(Model):
    """The entries that an edit left; each can be undone."""

    entry_ids: list[str]


VisitPage.model_rebuild()
