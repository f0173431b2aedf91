"""All challenges that run now, and those that a crash interrupted."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit import guide, live_store
from steadfeed.visit.guide import Guide
from steadfeed.visit.guide_steps import HandRow, checks_for
from steadfeed.visit.session import Session

if TYPE_CHECKING:
    from steadfeed.capture.channel_map import ChannelMap, OwnSet
    from steadfeed.records.writer import GroupWriter
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.station import Station

#: A challenge that was left longer ago than this is not taken up by itself at the start [s].
RESUMED_WITHIN: Final = 12 * 3600.0
#: An interruption shorter than this is none [s].
SHORTEST_AWAY: Final = 5.0
#: Channel maps of so many challenges are kept beside the store.
MAPS_KEPT: Final = 200


class LiveRoom:
    """The live challenges of one station. May be used from several threads."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._lock = threading.RLock()
        self._open: dict[str, LiveChallenge] = {}
        self._writer: GroupWriter | None = None
        self._sealed: dict[str, int] = {}

    # -- begin, get -------------------------------------------------------------------------------------------------------
    def begin(
        self,
        session: Session,
        visit_id: str,
        circuit_id: str,
        *,
        challenge_id: str | None = None,
        watched: Sequence[str] = (),
        way: str = "instruments",
        mode: str = "cooling",
        purpose: str | None = "as found",
        sources: Sequence[str] = (),
        found_running: bool = False,
        system: bytes | None = None,
        start_cover: float = 0.0,
        clock: Callable[[], float] | None = None,
    ) -> LiveChallenge:
        """Begin a challenge on an open visit. Sent twice, it is there once.

        system: a system file in place of what the records know, clock: time of the readings (both for a practice). Raises FixInput when the refrigerant of the
        circuit is not known, NotAllowed while another challenge of the circuit runs.
        """
        from steadfeed.records import rows
        from steadfeed.visit.device_work import _own_circuit, there
        from steadfeed.visit.visits import _refuse_closed

        with self._lock:
            if challenge_id is not None and challenge_id in self._open:
                return self._open[challenge_id]
            for live in self._open.values():
                if (
                    not live.finished
                    and live.tested.circuit_id == circuit_id
                    and live.guide.phase not in ("result", "put back")
                ):
                    raise NotAllowed("A challenge of this circuit runs already; go on with it", code="challenge open")
            self._station.sources.refuse_in_use(challenge_id, sources)
            with session.store.writing() as t:
                if there(t, "challenge", challenge_id):
                    known = True
                else:
                    known = False
                    _refuse_closed(t, visit_id)
                    for one in (circuit_id, *watched):
                        _own_circuit(t, visit_id, one)
                    values = {
                        "id": challenge_id,
                        "visit_id": visit_id,
                        "circuit_id": circuit_id,
                        "started_at": session.now,
                        "mode": mode,
                        "purpose": purpose,
                    }
                    challenge_id = rows.add(t, "challenge", values, session.by)
            assert challenge_id is not None
            if known:
                return self.get(challenge_id)
            about = {
                "way": way,
                "watched": list(watched),
                "sources": list(sources),
                "found_running": found_running,
                "start_cover": start_cover,
                "system": system.decode() if system is not None else None,
                "began": session.now,
                "person": session.person_id,
                "map": [],
            }
            self._keep_about(challenge_id, about)
            live = self._make(session, challenge_id, about, clock)
            first = guide.Event(
                session.now, live.guide.phase, live.guide.cover, f"begun: {way}", live_store.LiveStore.new_id()
            )
            live.store.write((first,), (), session)
            live.journal.append(first)
            self._open[challenge_id] = live
        self._station.sources.attach(live, tuple(sources))
        return live

    def get(self, challenge_id: str) -> LiveChallenge:
        """Return a challenge; one that is not in memory is taken up from the records. Raises FixInput when there is none."""
        with self._lock:
            live = self._open.get(challenge_id)
            if live is not None:
                return live
            live = self._resume(challenge_id)
            self._open[challenge_id] = live
        about = self._about(challenge_id)
        if not live.guide.finished:
            self._station.sources.attach(live, tuple(about.get("sources", ())))
        return live

    def feed(self, challenge_id: str, source_ids: Sequence[str]) -> LiveChallenge:
        """Let these sources, and no others, feed a challenge from now on; kept for after a crash."""
        live = self.get(challenge_id)
        self._station.sources.refuse_in_use(challenge_id, source_ids)
        about = self._about(challenge_id)
        about["sources"] = list(source_ids)
        self._keep_about(challenge_id, about)
        self._station.sources.attach(live, tuple(source_ids))
        return live

    def running_challenge(self, challenge_id: str) -> LiveChallenge | None:
        """Return a challenge when it is in memory."""
        return self._open.get(challenge_id)

    def running(self) -> dict[str, str]:
        """Return visit -> challenge for those that are not over."""
        return {
            live.visit_id: live.challenge_id
            for live in self._open.values()
            if live.guide.phase not in ("result", "put back", "closed")
        }

    def all(self) -> list[LiveChallenge]:
        """Return all challenges in memory."""
        return list(self._open.values())

    def resume_all(self) -> list[LiveChallenge]:
        """Take up every challenge that was interrupted not long ago. Return them."""
        from steadfeed.records import rows

        now = self._station.clock()
        session = self._station.session("station")
        with session.store.reading() as t:
            visits = [v["id"] for v in rows.find(t, "visit", closed_at=None)]
            challenges = rows.find(t, "challenge", visit_id=visits) if visits else []
            steps = rows.find(t, "step", challenge_id=[c["id"] for c in challenges], order="at") if challenges else []
        last = {s["challenge_id"]: s for s in steps}
        return [
            self.get(challenge_id)
            for challenge_id, step in last.items()
            if now - step["at"] <= RESUMED_WITHIN and step["phase"] not in ("result", "put back", "closed")
        ]

    # -- making -----------------------------------------------------------------------------------------------------------
    def _make(
        self,
        session: Session,
        challenge_id: str,
        about: Mapping[str, Any],
        clock: Callable[[], float] | None = None,
    ) -> LiveChallenge:
        """Make a challenge from the records, at its beginning."""
        from steadfeed.capture.channel_map import ChannelMap
        from steadfeed.capture.recorder import BEFORE_START, Recorder
        from steadfeed.records import rows
        from steadfeed.visit.circuit_watch import CircuitWatch
        from steadfeed.visit.live_challenge import LiveChallenge
        from steadfeed.visit.live_system import live_system, title_of
        from steadfeed.visit.record_sink import RecordSink

        with session.store.reading() as t:
            challenge = rows.get(t, "challenge", challenge_id)
            visit = rows.get(t, "visit", challenge["visit_id"])
            title = title_of(t, visit["unit_id"], challenge["circuit_id"])
            systems = [
                live_system(t, circuit_id, challenge["mode"] or "cooling", about)
                for circuit_id in (challenge["circuit_id"], *about.get("watched", ()))
            ]
        watches = []
        offset, since = self._station.utc_offset(about["began"]), about["began"] - BEFORE_START
        for number, one in enumerate(systems):
            label = None if number == 0 else f"c{number + 1}"
            watches.append(
                CircuitWatch(
                    one.circuit_id, one.name, one.system, one.curves, label=label, utc_offset=offset, since=since
                )
            )
        fresh = _fresh(systems[0], about, challenge, visit, len(watches))
        recorder = Recorder(
            RecordSink(session.store, self._group_writer()),
            challenge_id,
            ChannelMap.from_value(about.get("map", [])),
            recordings=[w.recording for w in watches],
            clock=clock or self._station.clock,
        )
        store = live_store.LiveStore(
            self._station.session("station"), challenge_id, challenge["visit_id"], self._keep_map
        )
        live = LiveChallenge(
            challenge_id,
            challenge["visit_id"],
            title,
            fresh,
            watches,
            recorder,
            store,
            purpose=challenge["purpose"],
            clock=clock or self._station.clock,
            wall=self._station.clock,
        )
        live.system_file = systems[0].file
        live.person_id = about.get("person")
        live.on_result = self._seal
        return live

    def _resume(self, challenge_id: str) -> LiveChallenge:
        """Take a challenge up from its journal and its readings."""
        session = self._station.session("station")
        events, marks = live_store.journal_of(session, challenge_id)
        if not events:
            from steadfeed.records import rows

            with session.store.reading() as t:
                rows.get(t, "challenge", challenge_id)
            raise FixInput("This challenge was not run here: it came as a log", code="no such live challenge")
        about = self._about(challenge_id)
        about.setdefault("began", events[0].at)
        about.setdefault("way", events[0].rest or "instruments")
        live = self._make(session, challenge_id, about)
        live.guide = guide.replay(live.guide, events)
        live.journal = events
        live.marks = [(i, m) for i, m in marks]
        resumed = live.recorder.resume()
        live.take_up(self._station.clock())
        live.hand_rows = _rows_again(live, events)
        now = self._station.clock()
        last = max(events[-1].at, resumed.last_at if resumed is not None else 0.0)
        if (live.guide.pushing or live.guide.phase == "restore") and now - last > SHORTEST_AWAY:
            live.was_away(now - last)
        return live

    def _group_writer(self) -> GroupWriter:
        from steadfeed.records.writer import GroupWriter

        if self._writer is None:
            self._writer = GroupWriter(self._station.store)
        return self._writer

    # -- maps and the like ------------------------------------------------------------------------------------------------
    def _keep_about(self, challenge_id: str, about: Mapping[str, Any]) -> None:
        known = self._abouts()
        known[challenge_id] = dict(about)
        self._station.keep("live-challenges.json", dict(list(known.items())[-MAPS_KEPT:]))

    def _abouts(self) -> dict[str, Any]:
        found = self._station.kept("live-challenges.json")
        return found if isinstance(found, dict) else {}

    def _about(self, challenge_id: str) -> dict[str, Any]:
        found = self._abouts().get(challenge_id)
        return dict(found) if isinstance(found, dict) else {}

    def _keep_map(self, challenge_id: str, known: ChannelMap, session: Session, mode: str, remember: bool) -> None:
        about = self._about(challenge_id)
        about["map"] = known.to_value()
        self._keep_about(challenge_id, about)
        if remember:
            own = self.own_set(session.person_id)
            sets = self._station.kept("own-sets.json") or {}
            sets[session.person_id or ""] = own.remember(known, mode).to_value()  # type: ignore[arg-type]
            self._station.keep("own-sets.json", sets)

    def own_set(self, person_id: str | None) -> OwnSet:
        """Return the instruments of a person as they were confirmed last; None: of whoever gives no name."""
        from steadfeed.capture.channel_map import OwnSet

        sets = self._station.kept("own-sets.json") or {}
        return OwnSet.from_value(sets.get(person_id or "", {}))

    # -- time -------------------------------------------------------------------------------------------------------------
    def tick(self) -> None:
        """Look at every challenge."""
        for live in self.all():
            live.tick()

    def forget(self, challenge_id: str) -> None:
        """Let go of a challenge; its records stay."""
        with self._lock:
            live = self._open.pop(challenge_id, None)
        if live is not None:
            live.close()

    def _seal(self, live: LiveChallenge) -> None:
        """Keep the log of a challenge that is over and judge it; again when more readings came since."""
        from steadfeed.visit.live_seal import seal

        live.flush()
        count = len(live.tested.recording)
        if not count or self._sealed.get(live.challenge_id) == count:
            return
        seal(self._station.session("station"), live)
        self._sealed[live.challenge_id] = count

    def close(self) -> None:
        """Write what waits, and let go of every challenge."""
        with self._lock:
            for live in self._open.values():
                live.close()
            self._open.clear()
            if self._writer is not None:
                self._writer.close()
                self._writer = None


def _fresh(
    one: Any, about: Mapping[str, Any], challenge: Mapping[str, Any], visit: Mapping[str, Any], circuits: int
) -> Guide:
    system = one.system
    return guide.begin(
        about["began"],
        way=about.get("way", "instruments"),
        mode=challenge["mode"] or "cooling",
        device=system.metering_device.value,
        wanted_checks=checks_for(
            flammable=one.curves.refrigerant.flammable,
            variable_speed=system.compressor_control == "variable-speed",
            other_circuits=one.other_circuits,
            heating=system.mode == "heating",
        ),
        found_running=bool(about.get("found_running")),
        start_cover=float(about.get("start_cover") or 0.0),
        complaint=bool(visit["complaint"] or visit["reason"]),
    )


def _rows_again(live: LiveChallenge, events: Sequence[guide.Event]) -> list[HandRow]:
    """Return the rows of the hand pad from the kept readings; their numbers follow from their order and the phases."""
    from steadfeed.visit.hand_rows import rows_again

    return rows_again(live, events)
