"""Sources of readings, the channel map, tokens for gateways."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from steadfeed.web.models.common import Id, Line, Model, Moment, Request, Word

SourceKind = Literal["manual", "csv", "ingest", "mqtt", "modbus tcp", "modbus rtu", "bluetooth", "bench"]


class SourceKindOut(Model):
    """A kind of source. fields: what it wants to know; part: optional part it needs, missing: how to get it."""

    kind: SourceKind
    text: str
    fields: list[FieldOut]
    part: str | None
    missing: str | None


class FieldOut(Model):
    """One field of a kind of source."""

    name: str
    text: str
    needed: bool
    example: str | None = None


class SourceKinds(Model):
    """All kinds of sources."""

    kinds: list[SourceKindOut]


class SourceIn(Request):
    """A source to connect. settings: as its kind wants (GET /source-kinds)."""

    id: Id | None = None
    kind: Literal["csv", "ingest", "mqtt", "modbus tcp", "modbus rtu", "bluetooth"]
    name: Word
    settings: dict[Word, Any] = Field(default_factory=dict)


class Feeding(Request):
    """Which sources feed a challenge from now on, and no others."""

    sources: list[Word] = Field(max_length=16)


class SeenChannel(Model):
    """One series that a source sends. proposed: what it seems to be, from its name and from physics, with the reason."""

    source: str
    header: str
    unit: str | None
    value: str | None
    at: Moment | None
    quality: str | None
    proposed: str | None
    why: str | None
    mapped: str | None
    circuit_id: str | None
    confirmed: bool


class SourceOut(Model):
    """A source as it stands. silent_since: null while it speaks."""

    id: str
    kind: SourceKind
    name: str
    state: Literal["connecting", "connected", "silent", "failed", "stopped"]
    text: str
    silent_since: float | None
    readings: int
    channels: list[SeenChannel]


class Sources(Model):
    """All sources that are connected."""

    sources: list[SourceOut]


class MapRow(Request):
    """Which series is which quantity at which place. channel null: not used. circuit_id null: the one under test."""

    source: Word
    header: Word
    channel: Word | None
    unit: Word | None = None
    circuit_id: Id | None = None
    confirmed: bool = True


class ChannelMap(Request):
    """The map of a challenge, or the person's own set."""

    rows: list[MapRow] = Field(max_length=200)
    remember: bool = True


class ChannelMapOut(Model):
    """The map as it stands. missing: vital channels that nothing feeds."""

    rows: list[MapRow]
    missing: list[str]


class GatewayTokenIn(Request):
    """A token that lets a gateway send readings and nothing else. sources: names it may send, empty for any."""

    name: Word
    sources: list[Word] = Field(default_factory=list, max_length=16)
    hours: Annotated[float, Field(gt=0.0, le=24.0 * 400)] = 24.0


class GatewayToken(Model):
    """A token; its text is shown once."""

    id: str
    name: str
    sources: list[str]
    token: str | None
    expires_at: Moment


class IngestReading(Request):
    """One reading from a gateway. value: a number or a number as text; its digits are kept as sent, 118.40 is not 118.4.

    time: seconds since the epoch, or ISO 8601 with an offset.
    """

    sequence: Annotated[int, Field(ge=0, le=2**63 - 1)]
    header: Word
    value: Line | float | int | None = None
    unit: Line | None = ""
    time: Moment | Line | None = None
    quality: Line | None = None
    read_by: Literal["person", "photo", "instrument"] | None = None


class IngestIn(Request):
    """Readings of one source in one life of it (boot_id). Sending the same again changes nothing."""

    source: Word
    boot_id: Word
    readings: list[IngestReading] = Field(min_length=1, max_length=2000)


class IngestReceipt(Model):
    """What became of readings, after they were committed.

    known: were there already; conflicts: their number was there with another value, which stands; refused: a sentence
    each. kept: numbers of this message, from and to, that may be forgotten now; acknowledged: the highest of them.
    """

    written: int
    known: int
    conflicts: int
    refused: list[str]
    kept: list[tuple[int, int]]
    acknowledged: int | None


SourceKindOut.model_rebuild()
SourceKinds.model_rebuild()
