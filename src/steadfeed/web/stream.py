"""The live stream of a challenge: frames over a WebSocket that can be resumed, and the same frames by request.

A client says the stream and the last sequence it has (`?stream=…&after=…`). Readings after it follow when this process
still has that stream, whatever the gap; otherwise the thinned history. Then every change comes as it happens, gathered
to at most SENDS_PER_SECOND sends.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, WebSocket
from pydantic import ValidationError
from starlette.websockets import WebSocketDisconnect, WebSocketState

from steadfeed.errors import SteadfeedError
from steadfeed.visit.sentences import LANGUAGES, Speech
from steadfeed.visit.station import Station
from steadfeed.web.gate import API
from steadfeed.web.models import live as m
from steadfeed.web.models.common import Id, Language, Model, UnitSystem
from steadfeed.web.sessions import Guest
from steadfeed.web.work import At, Who

router = APIRouter(prefix=API, tags=["stream"])

SENDS_PER_SECOND: Final = 20
#: How often the challenges are looked at when nothing arrives [s]: silence must be noticed.
TICK: Final = 0.25
#: Points of a chart that is sent whole.
HISTORY_POINTS: Final = 2000
#: A gap of more rows than this is sent as thinned history.
LONGEST_GAP: Final = 20_000
#: A socket that takes longer than this for one send is closed [s]; the device comes back and resumes.
SLOWEST_SEND: Final = 10.0


class Streams:
    """Keeps the live challenges moving while the server runs."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Take up what a crash interrupted, then look at everything a few times a second."""
        await asyncio.to_thread(self._station.live.resume_all)
        self._task = asyncio.create_task(self._run(), name="steadfeed-tick")

    async def _run(self) -> None:
        while True:
            try:
                await asyncio.to_thread(self._station.tick)
            except Exception:  # one bad challenge must not end the watch over the others
                logging.getLogger("steadfeed").exception("a look at the live challenges failed")
            await asyncio.sleep(TICK)

    async def stop(self) -> None:
        """Stop looking."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task


def frames(live: Any, speech: Speech, stream: str | None, after: int | None, now: float) -> list[dict[str, Any]]:
    """Return all frames that bring a client up to date."""
    resumed = after is not None and stream == live.stream and live.gap(after) <= LONGEST_GAP
    start = after if resumed and after is not None else 0
    until = live.sequence
    out: list[dict[str, Any]] = [
        {"type": "hello", "sequence": start, "stream": live.stream, "resumed": resumed, "server_time": now}
    ]
    for circuit_id in live.circuit_ids:
        if resumed:
            out += _reading_frames(live, circuit_id, start, until)
        else:
            out.append({"type": "history", **live.history(circuit_id, HISTORY_POINTS)})
    out.append({"type": "state", "sequence": until, "state": live.state(speech)})
    return out


def _reading_frames(live: Any, circuit_id: str, after: int, until: int) -> list[dict[str, Any]]:
    columns, rows, last = live.rows_since(circuit_id, after, until)
    if not rows:
        return []
    return [{"type": "readings", "sequence": last, "circuit_id": circuit_id, "columns": columns, "rows": rows}]


class FramesOut(Model):
    """Frames that bring a client up to date."""

    frames: list[m.Frame]


@router.get("/challenges/{challenge_id}/frames", operation_id="getFrames")
def get_frames(
    challenge_id: Id,
    station: At,
    stream: Annotated[str | None, Query(max_length=100)] = None,
    after: Annotated[int | None, Query(ge=0)] = None,
    language: Language = "en",
    units: UnitSystem = "us",
) -> FramesOut:
    """Return the same frames as the stream, for a client without sockets."""
    live = station.home_of(challenge_id).live.get(challenge_id)
    found = frames(live, Speech(language, units), stream, after, station.clock())
    return FramesOut.model_validate({"frames": found})


@router.post("/challenges/{challenge_id}/alive", operation_id="sayAlive", status_code=204, response_model=None)
def alive(challenge_id: Id, body: m.Alive, station: At, who: Who) -> None:
    """Say that this device is there; devices on the stream say it there."""
    _seen(station.home_of(challenge_id).live.get(challenge_id), who, body)


def _seen(live: Any, guest: Guest, said: m.Alive) -> None:
    live.device_seen(
        guest.device, guest.name, guest.person, role=said.role, watching=said.watching, recording=said.recording
    )


@router.websocket("/challenges/{challenge_id}/stream")
async def stream(socket: WebSocket, challenge_id: str) -> None:
    """Send the frames of a challenge as they come; take the signs of life of the device."""
    guest: Guest = socket.scope["state"]["guest"]
    station: Station = socket.app.state.station
    await socket.accept()
    try:
        live = await asyncio.to_thread(station.home_of(challenge_id).live.get, challenge_id)
    except SteadfeedError as error:
        await _bye(socket, error.code, error.message)
        return
    sender = _Sender(socket, live, station, _speech(socket))
    reading = asyncio.create_task(_listen(socket, live, guest))
    sending = asyncio.create_task(sender.run())
    try:
        done, _ = await asyncio.wait({reading, sending}, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            failed = task.exception()
            if failed is not None and not isinstance(failed, (WebSocketDisconnect, TimeoutError, RuntimeError)):
                raise failed
    finally:
        for task in (reading, sending):
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError, Exception):
                await task
        sender.close()
        live.device_gone(guest.device)
        if socket.client_state is WebSocketState.CONNECTED and socket.application_state is WebSocketState.CONNECTED:
            with contextlib.suppress(RuntimeError):
                await socket.close()


def _speech(socket: WebSocket) -> Speech:
    language = socket.query_params.get("language", "en")
    units = socket.query_params.get("units", "us")
    return Speech(language if language in LANGUAGES else "en", "si" if units == "si" else "us")


async def _bye(socket: WebSocket, code: str, message: str) -> None:
    await socket.send_text(_text({"type": "bye", "code": code, "message": message}))
    await socket.close(4404)


def _text(frame: dict[str, Any]) -> str:
    return json.dumps(frame, allow_nan=False, separators=(",", ":"), ensure_ascii=False)


async def _listen(socket: WebSocket, live: Any, guest: Guest) -> None:
    """Take signs of life; anything else on the socket is passed over."""
    while True:
        text = await socket.receive_text()
        if len(text) > 2000:
            continue
        try:
            said = m.Alive.model_validate_json(text)
        except ValidationError:
            continue
        await asyncio.to_thread(_seen, live, guest, said)


class _Sender:
    """Sends what changed since the last send, at most SENDS_PER_SECOND times a second."""

    def __init__(self, socket: WebSocket, live: Any, station: Station, speech: Speech) -> None:
        self._socket = socket
        self._live = live
        self._station = station
        self._speech = speech
        self._changed = asyncio.Event()
        loop = asyncio.get_running_loop()

        def wake() -> None:
            with contextlib.suppress(RuntimeError):  # the loop ended while a source still spoke
                loop.call_soon_threadsafe(self._changed.set)

        self._leave = live.subscribe(wake)

    async def run(self) -> None:
        after = self._socket.query_params.get("after")
        first = frames(
            self._live,
            self._speech,
            self._socket.query_params.get("stream"),
            int(after) if after is not None and after.isdigit() else None,
            self._station.clock(),
        )
        for frame in first:
            await self._send(frame)
        sent = state_sent = int(first[-1]["sequence"])
        while True:
            await self._changed.wait()
            self._changed.clear()
            last = self._live.sequence
            for circuit_id in self._live.circuit_ids:
                for frame in _reading_frames(self._live, circuit_id, sent, last):
                    await self._send(frame)
            if self._live.state_sequence > state_sent:
                state_sent = self._live.state_sequence
                state = self._live.state(self._speech)
                await self._send({"type": "state", "sequence": state["sequence"], "state": state})
            sent = last
            await asyncio.sleep(1.0 / SENDS_PER_SECOND)

    async def _send(self, frame: dict[str, Any]) -> None:
        await asyncio.wait_for(self._socket.send_text(_text(frame)), SLOWEST_SEND)

    def close(self) -> None:
        self._leave()
