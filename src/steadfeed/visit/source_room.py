"""The sources of readings that are connected: kept up, shown with what they send, recorded for the challenges they feed.

Sources run in a loop of their own, so that the terminal and the web have them alike. A source is told that readings are
safe only after every challenge it feeds has them on the disk; without a challenge nothing is acknowledged.
"""

from __future__ import annotations

import asyncio
import contextlib
import secrets
import threading
from collections.abc import Coroutine, Mapping, Sequence
from concurrent.futures import Future
from concurrent.futures import TimeoutError as Late
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, TypeVar

from steadfeed.errors import FixInput, NotAllowed, SteadfeedError, TryAgain
from steadfeed.visit import source_forms
from steadfeed.visit.gateway_book import GatewayBook
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from steadfeed.capture.http_ingest import Answer, Message, PushSource
    from steadfeed.capture.recorder import Recorder
    from steadfeed.capture.source import Batch, Source
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.station import Station

T = TypeVar("T")
#: How long a gateway waits for the commit of what it sent [s].
LONGEST_COMMIT: Final = 10.0
MOST_SERIES: Final = 200


@dataclass(slots=True)
class _Series:
    """One series that a source sends, as it came last."""

    header: str
    unit: str = ""
    value: str | None = None
    at: float | None = None
    quality: str | None = None


@dataclass(slots=True)
class BenchClock:
    """The time of a bench as its readings are delivered [s]: what was not delivered yet has not happened for the guide."""

    now: float

    def __call__(self) -> float:
        """Return the time [s since the Unix epoch]."""
        return self.now


@dataclass(slots=True)
class _Connected:
    """A source with what it sent."""

    id: str
    kind: str
    source: Source
    task: asyncio.Task[None] | None = None
    series: dict[str, _Series] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)
    silent_since: float | None = None
    said: str = ""
    count: int = 0
    clock: BenchClock | None = None


class SourceRoom:
    """The sources of one station. May be used from several threads."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self.gateways = GatewayBook(station)
        self._lock = threading.RLock()
        self._sources: dict[str, _Connected] = {}
        self._feeds: dict[str, tuple[LiveChallenge, set[str]]] = {}  # challenge -> (it, sources that feed it)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None
        self._connect_known()

    def _connect_known(self) -> None:
        """Connect the sources that were connected before the last stop or crash, under the same identities."""
        for source_id, known in self._station.kept("sources.json").items():
            with contextlib.suppress(SteadfeedError, KeyError, TypeError):
                made = source_forms.make(known["kind"], known["name"], known["settings"], self._station.clock)
                self.connect(made, known["kind"], source_id)

    def _keep_known(self, source_id: str, known: Mapping[str, Any] | None) -> None:
        with self._lock:
            kept = self._station.kept("sources.json")
            kept.pop(source_id, None)
            if known is not None:
                kept[source_id] = known
            self._station.keep("sources.json", kept)

    # -- the loop ---------------------------------------------------------------------------------------------------------
    def _run(self, work: Coroutine[Any, Any, T]) -> Future[T]:
        with self._lock:
            if self._loop is None:
                self._loop = asyncio.new_event_loop()
                self._thread = threading.Thread(target=self._loop.run_forever, name="steadfeed-sources", daemon=True)
                self._thread.start()
        return asyncio.run_coroutine_threadsafe(work, self._loop)

    # -- sources ----------------------------------------------------------------------------------------------------------
    def kinds(self) -> list[dict[str, Any]]:
        """Return the kinds of sources and what each wants to know."""
        return source_forms.forms()

    def add(self, source_id: str | None, kind: str, name: str, settings: Mapping[str, Any]) -> dict[str, Any]:
        """Connect a source. Raises FixInput for settings that it cannot use, InstallPart when a part is missing."""
        with self._lock:
            if source_id is not None and source_id in self._sources:
                return self._form(self._sources[source_id])
            known = self._station.kept("sources.json")
            for c in self._sources.values():
                if c.source.name == name and known.get(c.id) == {
                    "kind": kind,
                    "name": name,
                    "settings": dict(settings),
                }:
                    return self._form(c)  # the very same, still connected from before
            if any(c.source.name == name for c in self._sources.values()):
                raise FixInput(f"Another source is called “{name}”; give this one its own name", code="name taken")
        made = source_forms.make(kind, name, settings, self._station.clock)
        form = self.connect(made, kind, source_id)
        self._keep_known(form["id"], {"kind": kind, "name": name, "settings": dict(settings)})
        return form

    def connect(
        self, source: Source, kind: str, source_id: str | None = None, clock: BenchClock | None = None
    ) -> dict[str, Any]:
        """Connect a source that was made already, such as the bench. clock: is moved on with its readings."""
        one = _Connected(source_id or secrets.token_hex(8), kind, source, clock=clock)
        with self._lock:
            self._sources[one.id] = one

        async def begin() -> None:
            one.task = asyncio.create_task(self._pump(one), name=f"steadfeed source {source.name}")

        self._run(begin()).result(5.0)
        return self._form(one)

    def remove(self, source_id: str) -> None:
        """Disconnect a source. Raises FixInput when there is none."""
        with self._lock:
            one = self._sources.pop(source_id, None)
            for _, ids in self._feeds.values():
                ids.discard(source_id)
        if one is None:
            raise FixInput(f"No source has the identity {source_id[:40]}", code="no such source")
        self._keep_known(source_id, None)
        self._run(self._stop(one)).result(10.0)

    async def _stop(self, one: _Connected) -> None:
        await one.source.close()
        if one.task is not None:
            with contextlib.suppress(asyncio.CancelledError, SteadfeedError):
                await asyncio.wait_for(one.task, 5.0)

    def all(self, session: Session | None = None) -> list[dict[str, Any]]:
        """Return the sources with the series that they send. session: of whoever looks, for their own set."""
        with self._lock:
            return [self._form(one, session) for one in self._sources.values()]

    def _form(self, one: _Connected, session: Session | None = None) -> dict[str, Any]:
        state, why = one.source.state, one.said or one.source.why
        return {
            "id": one.id,
            "kind": one.kind,
            "name": one.source.name,
            "state": state,
            "text": why,
            "silent_since": one.silent_since,
            "readings": one.count,
            "channels": self._series(one, session),
        }

    def _series(self, one: _Connected, session: Session | None) -> list[dict[str, Any]]:
        feeding = [(live, ids) for live, ids in self._feeds.values() if one.id in ids]
        live, ids = feeding[-1] if feeding else (None, {one.id})
        connected = [c for c in self._sources.values() if c.id in ids]
        person = session.person_id if session is not None else None
        proposals = {
            series: proposal
            for series, proposal in self._proposals(connected, live, person).items()
            if f"{series[0]}\n{series[1]}" in one.series
        }
        out = []
        for (name, header), proposal in proposals.items():
            series = one.series[f"{name}\n{header}"]
            row = live.recorder.channel_map.row(name, header) if live is not None else None
            out.append(
                {
                    "source": name,
                    "header": header,
                    "unit": series.unit or None,
                    "value": series.value,
                    "at": series.at,
                    "quality": series.quality,
                    "proposed": proposal.row.channel,
                    "why": ". ".join(part for part in (proposal.why, proposal.doubt) if part) or None,
                    "mapped": row.channel if row is not None else None,
                    "circuit_id": None,
                    "confirmed": row.confirmed if row is not None else False,
                }
            )
        return out

    def _proposals(
        self, connected: Sequence[_Connected], live: LiveChallenge | None, person_id: str | None = None
    ) -> dict[tuple[str, str], Any]:
        """Propose what each series is, in the mode of the challenge, from names, physics and the person's own set."""
        from steadfeed.capture.propose import Series, propose

        series = []
        for one in connected:
            for key, s in list(one.series.items()):
                name = key.partition("\n")[0]
                series.append(Series(name, s.header, s.unit, _number(s.value)))
        own = self._station.live.own_set(person_id or (live.person_id if live is not None else None))
        mode = live.guide.mode if live is not None else "cooling"
        curves = live.tested.curves if live is not None else None
        found = propose(series, mode, own, curves)  # type: ignore[arg-type]
        return {(p.row.source, p.row.header): p for p in found.all}

    # -- what they send ---------------------------------------------------------------------------------------------------
    async def _pump(self, one: _Connected) -> None:
        """Take what a source sends until it is closed."""
        from steadfeed.capture.source import Refused, Silent, Speaking

        try:
            async for arrival in one.source.readings():
                if isinstance(arrival, tuple):
                    one.count += len(arrival)
                    await self._take(one, arrival)
                elif isinstance(arrival, Silent):
                    one.silent_since, one.said = arrival.since, arrival.why
                elif isinstance(arrival, Speaking):
                    one.silent_since, one.said = None, ""
                elif isinstance(arrival, Refused):
                    one.said = arrival.text
        except SteadfeedError as error:
            one.said = error.message

    async def _take(self, one: _Connected, batch: Batch) -> None:
        new = False
        for reading in batch:
            key = f"{reading.source}\n{reading.header}"
            if key not in one.series:
                if len(one.series) >= MOST_SERIES:
                    continue
                one.series[key] = _Series(reading.header)
                new = True
            series = one.series[key]
            series.unit, series.value, series.quality = reading.unit, reading.value, reading.quality
            series.at = reading.time
        with self._lock:
            feeding = [live for live, ids in self._feeds.values() if one.id in ids and not live.finished]
        if new:
            for live in feeding:
                await asyncio.to_thread(self._propose_for, live)
        if not feeding:
            return
        received_at = None
        if one.clock is not None:
            received_at = one.clock.now = max((r.time for r in batch if r.time is not None), default=one.clock.now)
        done = [await self._into(live.recorder, batch, received_at) for live in feeding]
        loop = asyncio.get_running_loop()
        left = [len(done)]

        def committed(future: Future[Any]) -> None:
            left[0] -= 1 if future.exception() is None else 10**6
            if left[0] == 0 and not loop.is_closed():
                _account(one.source, batch, [each.result() for each in done])
                loop.call_soon_threadsafe(lambda: loop.create_task(self._acknowledge(one, batch)))

        for future in done:
            future.add_done_callback(committed)

    @staticmethod
    async def _into(recorder: Recorder, batch: Batch, received_at: float | None) -> Future[Any]:
        """Hand readings to a recorder, however long the store needs to say what it has of their source."""
        while True:
            try:
                # looking up a new source reads the store: not in this loop, where other sources wait
                return await asyncio.to_thread(recorder.take, batch, received_at)
            except TryAgain:
                await asyncio.sleep(0.25)

    @staticmethod
    async def _acknowledge(one: _Connected, batch: Batch) -> None:
        from steadfeed.capture.numbers_kept import Ranges
        from steadfeed.capture.source import Kept

        numbers: dict[tuple[str, str], Ranges] = {}
        for reading in batch:
            numbers.setdefault((reading.source, reading.boot_id), Ranges()).add(reading.sequence)
        kept = [Kept(*life, first, last) for life, ranges in numbers.items() for first, last in ranges]
        with contextlib.suppress(SteadfeedError, *one.source.world_errors):
            await one.source.acknowledge(kept)  # whoever does not hear it sends again, and is told again

    # -- challenges -------------------------------------------------------------------------------------------------------
    def attach(self, live: LiveChallenge, source_ids: Sequence[str]) -> None:
        """Let these sources, and no others, feed a challenge. Identities that are not connected are passed over.

        A reading belongs to one challenge: sources leave those whose test is over, and stay with one that still runs.
        """
        with self._lock:
            wanted = {i for i in source_ids if i in self._sources}
            for other_id, (other, ids) in self._feeds.items():
                if other_id == live.challenge_id:
                    continue
                if other.guide.finished:
                    ids -= wanted
                else:
                    wanted -= ids
            self._feeds[live.challenge_id] = (live, wanted)
        self._propose_for(live)

    def refuse_in_use(self, challenge_id: str | None, source_ids: Sequence[str]) -> None:
        """Raise NotAllowed when one of these sources feeds another challenge that still runs."""
        with self._lock:
            for other_id, (other, ids) in self._feeds.items():
                taken = sorted(self._sources[i].source.name for i in ids & set(source_ids) if i in self._sources)
                if taken and other_id != challenge_id and not other.guide.finished:
                    raise NotAllowed(
                        f"“{taken[0]}” feeds another challenge that still runs; end that one, or watch both circuits in one",
                        code="source in use",
                        where="sources",
                    )

    def detach(self, challenge_id: str) -> None:
        """Let nothing feed a challenge any more."""
        with self._lock:
            self._feeds.pop(challenge_id, None)

    def _propose_for(self, live: LiveChallenge) -> None:
        """Map new series that are named so, or that the person confirmed before; the rest waits for the person."""
        from steadfeed.capture.channel_map import ChannelMap

        with self._lock:
            ids = self._feeds.get(live.challenge_id, (live, set()))[1]
            connected = [self._sources[i] for i in ids if i in self._sources]
        if not connected:
            return
        known = live.recorder.channel_map
        rows = list(known.rows)
        taken = {(row.circuit, row.channel) for row in rows if row.channel}
        labels = {w.label for w in live.watches}
        for (source, header), proposal in self._proposals(connected, live).items():
            row = proposal.row
            if known.row(source, header) is not None:
                continue
            if row.circuit == "c1":
                row = replace(row, circuit=None)
            sure = proposal.why in _SURE and row.circuit in labels and (row.circuit, row.channel) not in taken
            rows.append(row if sure else replace(row, channel=None))
            if sure:
                taken.add((row.circuit, row.channel))
        if len(rows) != len(known.rows):
            live.use_map(ChannelMap(tuple(rows)))

    def own_map(self, session: Session) -> dict[str, Any]:
        """Return the person's own remembered map, for cooling."""
        own = self._station.live.own_set(session.person_id)
        rows = [
            {
                "source": r.source,
                "header": r.header,
                "channel": r.channel,
                "unit": r.unit or None,
                "circuit_id": None,
                "confirmed": r.confirmed,
            }
            for r in own.rows.get("cooling", ())
        ]
        return {"rows": rows, "missing": []}

    # -- gateways ---------------------------------------------------------------------------------------------------------
    def ingest(self, payload: bytes | str, token: str | None = None) -> tuple[Message, Answer]:
        """Take a gateway's message as it was sent; answer after the commit.

        token: bearer token of a gateway, None for our own app. Raises FixInput for a message that cannot be read,
        NotAllowed for a token that is not for its source, TryAgain while no challenge records the source.
        """
        from steadfeed.capture.http_ingest import Answer, Tally, decode_message, kept_of

        message = decode_message(payload)
        if token is not None:
            self.gateways.check(token, message.source)
        one = self._gateway(message.source)
        push = self._push(one)
        refused = [r for _, r in message.refused]
        done = push.deliver(message.readings, refused)
        tally = Tally()
        if message.readings:
            if not self._fed(one):
                push.forget(done)
                raise TryAgain(
                    "No challenge records this source now; choose it in one, then send again", code="not recorded"
                )
            try:
                tally = done.result(LONGEST_COMMIT)
            except Late:
                push.forget(done)
                raise TryAgain(
                    "The store did not take the readings in time; send them again", code="store busy"
                ) from None
        answer = Answer(tally.written, tally.known, tally.conflicts, tuple(r.text for r in refused), kept_of(message))
        return message, answer

    def ingest_frame(self, payload: bytes | str, token: str | None = None) -> tuple[str, bool]:
        """Take a gateway's message from a socket. Return (text of the answer, whether its token still opens the door)."""
        from steadfeed.capture.http_ingest import encode_answer, encode_problem

        try:
            return encode_answer(*self.ingest(payload, token)).decode(), True
        except SteadfeedError as error:
            return encode_problem(error).decode(), error.code not in ("token unknown", "token over")

    def _fed(self, one: _Connected) -> bool:
        with self._lock:
            return any(one.id in ids and not live.finished for live, ids in self._feeds.values())

    @staticmethod
    def _push(one: _Connected) -> PushSource:
        from steadfeed.capture.http_ingest import PushSource

        assert isinstance(one.source, PushSource)
        return one.source

    def _gateway(self, name: str) -> _Connected:
        """Return the source of a gateway, made when it speaks for the first time."""
        from steadfeed.capture.http_ingest import PushSource

        with self._lock:
            for one in self._sources.values():
                if one.source.name == name:
                    if not isinstance(one.source, PushSource):
                        raise FixInput(f"“{name}” is the name of another kind of source here", code="name taken")
                    return one
        form = self.connect(PushSource(name, clock=self._station.clock), "ingest")
        self._keep_known(form["id"], {"kind": "ingest", "name": name, "settings": {}})
        return self._gateway(name)

    def close(self) -> None:
        """Disconnect every source and end the loop."""
        with self._lock:
            connected = list(self._sources.values())
            self._sources.clear()
            loop, thread = self._loop, self._thread
        if loop is None or thread is None:
            return
        for one in connected:
            with contextlib.suppress(Late, SteadfeedError):
                self._run(self._stop(one)).result(10.0)
        with contextlib.suppress(Late):
            self._run(_leave_nothing()).result(5.0)
        loop.call_soon_threadsafe(loop.stop)
        thread.join(5.0)
        loop.close()
        self._loop = None


def _account(source: Source, batch: Batch, receipts: Sequence[Any]) -> None:
    """Tell a source that answers its senders what became of a batch. A reading is kept once, by the first that has it."""
    from steadfeed.capture.http_ingest import PushSource, Tally

    if isinstance(source, PushSource):
        written = sum(receipt.written for receipt in receipts)
        conflicts = max((receipt.conflicts for receipt in receipts), default=0)
        source.account(batch, Tally(written, max(len(batch) - written - conflicts, 0), conflicts))


#: Why a proposal may be used before the person confirms it.
_SURE: Final = ("Named so", "As you confirmed it before")


async def _leave_nothing() -> None:
    """Let what still runs in this loop end."""
    left = asyncio.all_tasks() - {asyncio.current_task()}
    _, late = await asyncio.wait(left, timeout=2.0) if left else (set(), set())
    for task in late:
        task.cancel()


def _number(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        return None
