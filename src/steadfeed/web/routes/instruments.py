"""Sources of readings, the channel map, and the door for gateways."""

from __future__ import annotations

import asyncio
import contextlib

from fastapi import APIRouter, Request, Response, WebSocket
from starlette.websockets import WebSocketDisconnect

from steadfeed.web.gate import API
from steadfeed.web.models import instruments as m
from steadfeed.web.models.common import Id
from steadfeed.web.work import At, Who, Work, live_of

router = APIRouter(prefix=API, tags=["instruments"])


@router.get("/source-kinds", operation_id="getSourceKinds")
def kinds(station: At) -> m.SourceKinds:
    """Return the kinds of sources and what each wants to know."""
    return m.SourceKinds.model_validate({"kinds": station.sources.kinds()})


@router.get("/sources", operation_id="getSources")
def sources(station: At, work: Work) -> m.Sources:
    """Return the sources that are connected, with the series that they send."""
    return m.Sources.model_validate({"sources": station.sources.all(work)})


@router.post("/sources", operation_id="addSource", status_code=201)
def add_source(body: m.SourceIn, station: At) -> m.SourceOut:
    """Connect a source."""
    return m.SourceOut.model_validate(station.sources.add(body.id, body.kind, body.name, body.settings))


@router.delete("/sources/{source_id}", operation_id="removeSource", status_code=204)
def remove_source(source_id: str, station: At) -> Response:
    """Disconnect a source."""
    station.sources.remove(source_id)
    return Response(status_code=204)


@router.put("/challenges/{challenge_id}/sources", operation_id="setChallengeSources")
def feed(challenge_id: Id, body: m.Feeding, station: At) -> m.ChannelMapOut:
    """Let these sources, and no others, feed a challenge from now on."""
    live = station.home_of(challenge_id).live.feed(challenge_id, body.sources)
    return m.ChannelMapOut.model_validate(live.channel_map())


@router.get("/channel-map", operation_id="getOwnChannelMap")
def own_map(work: Work, station: At) -> m.ChannelMapOut:
    """Return the person's own remembered map."""
    return m.ChannelMapOut.model_validate(station.sources.own_map(work))


@router.get("/challenges/{challenge_id}/channel-map", operation_id="getChannelMap")
def channel_map(challenge_id: Id, station: At) -> m.ChannelMapOut:
    """Return which series is which quantity at which place in this challenge."""
    return m.ChannelMapOut.model_validate(station.home_of(challenge_id).live.get(challenge_id).channel_map())


@router.put("/challenges/{challenge_id}/channel-map", operation_id="setChannelMap")
def set_map(challenge_id: Id, body: m.ChannelMap, station: At, who: Who) -> m.ChannelMapOut:
    """Confirm the map of a challenge; remembered as the person's own set when wanted."""
    rows = [row.model_dump() for row in body.rows]
    live, work = live_of(station, challenge_id, who)
    live.set_channel_map(work, rows, remember=body.remember)
    return m.ChannelMapOut.model_validate(live.channel_map())


@router.post("/gateway-tokens", operation_id="addGatewayToken", status_code=201)
def add_token(body: m.GatewayTokenIn, station: At) -> m.GatewayToken:
    """Make a token with which a gateway can send readings and nothing else. Its text is shown this once."""
    return m.GatewayToken.model_validate(station.sources.gateways.make(body.name, body.hours, body.sources))


@router.get("/gateway-tokens", operation_id="getGatewayTokens")
def tokens(station: At) -> list[m.GatewayToken]:
    """Return the tokens that hold, without their texts."""
    return [m.GatewayToken.model_validate(token) for token in station.sources.gateways.all()]


@router.delete("/gateway-tokens/{token_id}", operation_id="endGatewayToken", status_code=204)
def end_token(token_id: str, station: At) -> Response:
    """End a token."""
    station.sources.gateways.end(token_id)
    return Response(status_code=204)


@router.post("/ingest", operation_id="ingest")
async def ingest(body: m.IngestIn, station: At, request: Request) -> m.IngestReceipt:
    """Take readings from a gateway (bearer token) or from this app. Acknowledged only after the commit."""
    raw = await request.body()  # the text of each number as it was sent: a float would lose the last digit of 118.40
    gateway = request.scope["state"].get("gateway")
    _, answer = await asyncio.to_thread(station.sources.ingest, raw, gateway)
    return m.IngestReceipt(
        written=answer.written,
        known=answer.known,
        conflicts=answer.conflicts,
        refused=list(answer.refused),
        kept=[(kept.first, kept.last) for kept in answer.kept],
        acknowledged=answer.acknowledged,
    )


@router.websocket("/ingest")
async def ingest_socket(socket: WebSocket) -> None:
    """Take the same messages one after the other over a socket; each is answered after its commit."""
    gateway = socket.scope["state"].get("gateway")
    guest = socket.scope["state"].get("guest")
    if gateway is None and (guest is None or not guest.may_write):
        await socket.close(4403, "read only")
        return
    station = socket.app.state.station
    await socket.accept()
    with contextlib.suppress(WebSocketDisconnect, RuntimeError):
        while True:
            message = await socket.receive()
            if message["type"] == "websocket.disconnect":
                return
            payload = message.get("bytes") if message.get("bytes") is not None else message.get("text") or ""
            answer, open_still = await asyncio.to_thread(station.sources.ingest_frame, payload, gateway)
            await socket.send_text(answer)
            if not open_still:
                await socket.close(4401, "no session")
                return
