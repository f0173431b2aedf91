"""Shapes of handing a visit in progress to another person or device."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from steadfeed.web.models.common import Model, Request, Word


class HandOverIn(Request):
    """Who takes the visit. Who gives it is the person of this device (PUT /person)."""

    to: Word


class HandOverCodes(Model):
    """Codes of a hand-over, to be shown in turn, over and over. pictures: one SVG a code."""

    pictures: list[str]


class CodesRead(Request):
    """Texts of codes as they were read, in any order and any number of times."""

    texts: Annotated[list[Annotated[str, Field(max_length=4000)]], Field(min_length=1, max_length=9999)]


class CodesLeft(Model):
    """Numbers of the codes that are still missing, of how many; of: 0 while none is known."""

    missing: list[int]
    of: int


class Taken(Model):
    """What somebody now has in hand. sentences: first what to do now; readings: those that were new here."""

    visit_id: str
    from_name: str
    to_name: str
    sentences: list[str]
    readings: int
    conflicts: int
