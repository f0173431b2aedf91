"""Pieces that every part of the API shares.

All numbers are SI: pressures absolute [Pa], temperatures [K], differences [K difference], lengths [m], weights of
refrigerant as integers in hundredths of an ounce. Times are seconds since the Unix epoch, UTC. What is not known is
null; NaN never appears.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Language = Literal["en", "es"]
UnitSystem = Literal["us", "si"]
Mode = Literal["cooling", "heating"]
Purpose = Literal["as found", "as left", "check"]

#: Identity made by whoever makes the row: a UUID. Sending the same one again changes nothing.
Id = Annotated[
    str,
    Field(pattern=r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$", examples=["0198c0de-0000-7000-8000-000000000001"]),
]
#: Start of an identity, a tag or a serial, as the person has it at hand.
Reference = Annotated[str, Field(min_length=1, max_length=200)]
Word = Annotated[str, Field(min_length=1, max_length=100)]
Line = Annotated[str, Field(max_length=500)]
Text = Annotated[str, Field(max_length=20_000)]
Moment = Annotated[float, Field(ge=0.0, le=253_402_300_799.0, description="s since 1970-01-01, UTC")]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class Model(BaseModel):
    """A response: unknown fields of its source are left out."""

    model_config = ConfigDict(extra="ignore", from_attributes=True)


class Request(BaseModel):
    """A request: an unknown field is an error, a number is finite."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class Problem(Model):
    """What went wrong, in one sentence. code: stable word; where: field, row or file."""

    code: str
    message: str
    where: str | None = None


class Failure(Model):
    """The body of every answer that is no success."""

    error: Problem


class Quantity(Model):
    """A number with its kind (see units: "pressure", "temperature", "temperature_difference", "time" …), SI."""

    kind: str
    value: float


Argument = Quantity | str | int | float


class Sentence(Model):
    """A sentence of the catalog. code and arguments for a client with the catalog; text for one without.

    Every text is at most 48 characters in every language, with the longest arguments that it takes.
    """

    code: str
    arguments: dict[str, Argument] = {}
    text: str


class Made(Model):
    """The identity of what was written down."""

    id: str


class Source(Model):
    """Where a threshold comes from. criterion: key in /criteria, null when a person or a nameplate stated it."""

    text: str
    criterion: str | None = None


class Listing(Model):
    """A page of rows of any kind, as the records hold them."""

    rows: list[dict[str, Any]]
