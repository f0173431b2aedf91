"""A visit in progress, from device to device: as a file, or as codes that one screen shows and another one reads."""

from __future__ import annotations

import dataclasses
from typing import Annotated

from fastapi import APIRouter, Body, Response

from steadfeed.visit import hand_over
from steadfeed.web.gate import API
from steadfeed.web.models import hand_over as m
from steadfeed.web.models.common import Id
from steadfeed.web.work import Work

router = APIRouter(prefix=API, tags=["visits"])
#: A hand-over as a file.
MEDIA = "application/octet-stream"


@router.post(
    "/visits/{visit_id}/hand-over",
    operation_id="handOver",
    response_class=Response,
    responses={200: {"content": {MEDIA: {}}, "description": "The visit as one file"}},
)
def give(visit_id: Id, body: m.HandOverIn, work: Work) -> Response:
    """Hand a visit in progress over as a file with its photos; the giving is written down."""
    content = hand_over.give(work, visit_id, body.to)
    name = f"visit-{visit_id[:8]}.handover"
    return Response(content, media_type=MEDIA, headers={"content-disposition": f'attachment; filename="{name}"'})


@router.post("/visits/{visit_id}/hand-over/codes", operation_id="handOverCodes")
def give_codes(visit_id: Id, body: m.HandOverIn, work: Work) -> m.HandOverCodes:
    """Hand a visit in progress over as codes, without its photos; the giving is written down."""
    content = hand_over.give(work, visit_id, body.to, for_codes=True)
    return m.HandOverCodes(pictures=hand_over.code_pictures(content))


@router.post(
    "/take-over",
    operation_id="takeOver",
    status_code=201,
    openapi_extra={
        "requestBody": {"required": True, "content": {MEDIA: {"schema": {"type": "string", "format": "binary"}}}}
    },
)
def take(content: Annotated[bytes, Body(media_type=MEDIA)], work: Work) -> m.Taken:
    """Take a visit over from a file: the body is the file. Taking the same twice changes nothing."""
    return m.Taken(**dataclasses.asdict(hand_over.take(work, content)))


@router.post("/take-over/missing", operation_id="missingCodes")
def missing(body: m.CodesRead) -> m.CodesLeft:
    """Say which codes are still missing; nothing is taken."""
    left, of = hand_over.codes_left(body.texts)
    return m.CodesLeft(missing=left, of=of)


@router.post("/take-over/codes", operation_id="takeOverCodes", status_code=201)
def take_codes(body: m.CodesRead, work: Work) -> m.Taken:
    """Take a visit over from codes that were read in any order. Refused while codes are missing."""
    return m.Taken(**dataclasses.asdict(hand_over.take(work, hand_over.from_codes(body.texts))))
