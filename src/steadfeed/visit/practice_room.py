"""Practices that run now: a bench unit, its challenge on the same screens, a cover control, the answer, score and replay.

A practice has a store of its own beside the records, so that nothing invented ever stands among them. Its clock is the
bench's: guide and guard count bench seconds, whatever the speed.
"""

from __future__ import annotations

import contextlib
import threading
import uuid
from typing import TYPE_CHECKING, Any, Final

from steadfeed.errors import FixInput, NotAllowed, SteadfeedError
from steadfeed.visit.sentences import Speech
from steadfeed.visit.session import Session
from steadfeed.visit.source_room import BenchClock

if TYPE_CHECKING:
    from steadfeed.visit.live_challenge import LiveChallenge
    from steadfeed.visit.practice_visit import Practice
    from steadfeed.visit.station import Station

#: Practices that run at once at most: each bench costs a few per cent of a core.
MOST: Final = 8
#: True series that a replay shows beside the readings.
TRUE_SERIES: Final = (
    "suction_pressure", "liquid_pressure", "evaporating_temperature", "condensing_temperature", "superheat", "subcooling",
    "opening", "valve_flow",
)  # fmt: skip


class BenchPractice:
    """One practice. live: its challenge; source: the bench that sends."""

    def __init__(self, practice_id: str, practice: Practice, live: LiveChallenge, source: Any, source_id: str) -> None:
        self.id = practice_id
        self.practice = practice
        self.live = live
        self.source = source
        self.source_id = source_id
        self.answered: dict[str, Any] | None = None

    def form(self, speech: Speech) -> dict[str, Any]:
        """Return the practice as it stands; nothing of the truth."""
        played = self.source.played
        return {
            "id": self.id,
            "challenge_id": self.live.challenge_id,
            "scenario": self.practice.briefing.name if self.practice.told else "",
            "title": self.practice.briefing.title,
            "complaint": self.practice.briefing.complaint,
            "nameplate": [{"what": what, "text": text} for what, text in self.practice.briefing.nameplate],
            "seed": self.practice.seed if self.practice.told else None,
            "speed": self.source.speed,
            "cover": self.practice.cover,
            "calls": self.practice.called,
            "running": self.practice.running,
            "tripped": self.practice.tripped,
            "bench_seconds": played.time,
            "answered": self.answered is not None,
            "notes": [{"at": self.source.begins + at, "text": text} for at, text in self.practice.notes],
            "state": self.live.state(speech),
        }

    def set(
        self,
        *,
        cover: float | None = None,
        calls: bool | None = None,
        reset_switch: bool | None = None,
        speed: float | None = None,
    ) -> None:
        """Do something to the bench. Raises NotAllowed after the answer."""
        if speed is not None:
            self.source.speed = speed
        if cover is not None:
            self.practice.cover_to(cover)
        if calls is True and not self.practice.called:
            self.practice.start()
        elif calls is False and self.practice.called:
            self.practice.stop()
        if reset_switch:
            self.practice.reset_switch()

    def follow(self, code: str, cover: float | None) -> None:
        """Do to the bench what a tap of the guide says was done, so that a learner need not do everything twice."""
        with contextlib.suppress(NotAllowed):
            if code == "unit is on":
                self.set(calls=True)
            elif code == "cover is on" and cover is not None:
                self.set(cover=cover)
            elif code == "airflow is restored":
                self.set(cover=0.0)
            elif code in ("unit is off", "compressor is stopped"):
                self.set(calls=False)

    def answer(self, verdict: str, cause: str, confidence: float) -> dict[str, Any]:
        """Take the answer; return score and truth. A second answer is refused."""
        from steadfeed.visit.practice_score import Answer

        if self.answered is not None:
            raise NotAllowed("This practice is answered; begin another", code="answered")
        self.practice.wait(1)  # what was done last has had its second
        outcome = self.practice.answer(Answer(verdict, cause, confidence))
        self.answered = {
            "right": outcome.right,
            "brier": outcome.brier,
            "rows": [{"code": line.what, "good": line.good, "text": line.text} for line in outcome.lines],
            "truth": dict(outcome.truth),
            "said": list(outcome.said()),
            "answer": {"verdict": verdict, "cause": cause, "confidence": confidence},
        }
        return self.answered

    def score(self) -> dict[str, Any]:
        """Return the score. Raises NotAllowed before the answer."""
        if self.answered is None:
            raise NotAllowed("The truth is told after the answer", code="not answered")
        return self.answered

    def replay(self, points: int) -> dict[str, Any]:
        """Return the true series and what was done when. Raises NotAllowed before the answer."""
        import numpy as np

        from steadfeed.visit.circuit_watch import listed, thin

        self.score()
        history = self.source.played.performed().history
        begins = self.source.begins
        columns = ["time", *TRUE_SERIES, "cover"]
        table = np.column_stack([history.time + begins, *(history[name] for name in (*TRUE_SERIES, "cover"))])
        events = [{"at": begins + at, "by": "person", "text": text} for at, text in self.practice.notes]
        events += [
            {"at": e.at, "by": "guide" if e.verb == "data" else "person", "text": e.why} for e in self.live.journal
        ]
        events.sort(key=lambda e: e["at"])
        return {"columns": columns, "rows": listed(thin(table, points)), "events": events}


class PracticeRoom:
    """The practices of one station."""

    def __init__(self, station: Station) -> None:
        self._station = station
        self._lock = threading.RLock()
        self._home: Station | None = None
        self._open: dict[str, BenchPractice] = {}

    @property
    def home(self) -> Station:
        """The station with the store of practices."""
        from steadfeed.visit.station import Station

        with self._lock:
            if self._home is None:
                folder = self._station.folder / "practice"
                folder.mkdir(parents=True, exist_ok=True)
                self._home = Station(
                    str(folder / "practice.db"),
                    clock=self._station.clock,
                    utc_offset=self._station.utc_offset,
                    folder=folder,
                )
            return self._home

    def has(self, challenge_id: str) -> bool:
        """Tell whether a challenge belongs to a practice that runs."""
        return any(one.live.challenge_id == challenge_id for one in self._open.values())

    def of_challenge(self, challenge_id: str) -> BenchPractice | None:
        """Return the practice of a challenge, None when there is none."""
        return next((one for one in self._open.values() if one.live.challenge_id == challenge_id), None)

    def scenarios(self) -> list[dict[str, Any]]:
        """Return what may be told of every scenario."""
        from steadfeed.visit.practice import briefings, own_scenarios

        return [
            {
                "name": b.name,
                "title": b.title,
                "text": b.complaint,
                "level": b.level,
                "minutes": b.minutes,
                "mode": b.mode,
            }
            for b in briefings(own_scenarios())
        ]

    def choices(self) -> dict[str, Any]:
        """Return what can be answered: verdicts, and causes with a line for each."""
        from steadfeed.visit.practice import causes
        from steadfeed.visit.practice_visit import VERDICTS

        return {"verdicts": list(VERDICTS), "causes": [{"code": c, "text": t} for c, t in causes().items()]}

    def begin(
        self, session: Session, practice_id: str | None, scenario: str, seed: int | None, speed: float, *, hidden: bool
    ) -> BenchPractice:
        """Begin a practice. Raises FixInput for an unknown scenario, NotAllowed when too many run."""
        from steadfeed.capture.bench import BenchSource
        from steadfeed.visit.practice import find_scenario, own_scenarios, texts_of
        from steadfeed.visit.practice_progress import hidden_seed
        from steadfeed.visit.practice_visit import Practice

        with self._lock:
            if practice_id is not None and practice_id in self._open:
                return self._open[practice_id]
            if len(self._open) >= MOST:
                raise NotAllowed(f"{MOST} practices run already; end one of them first", code="too many")
            found = find_scenario(scenario, own_scenarios())
            practice = Practice(found, hidden_seed() if seed is None else seed, told=not hidden)
            made = practice_id or str(uuid.uuid4())
            played = practice._played
            for channel in played.channels():
                played.place(
                    channel
                )  # here the instruments are in place; `steadfeed bench play` has the learner place them
            played.advance(1)
            source = BenchSource(
                f"bench {made[:8]}",
                found,
                played=played,
                speed=speed,
                begins=self._station.clock() - played.time,
                clock=self._station.clock,
            )
            clock = BenchClock(source.begins + played.time)
            live = self._challenge(session, practice, source, texts_of(played.performed(), found)[1], clock)
            sources = self.home.sources
            form = sources.connect(source, "bench", clock=clock)
            sources.attach(live, (form["id"],))
            one = BenchPractice(made, practice, live, source, form["id"])
            live.on_act = one.follow
            self._open[made] = one
            return one

    def _challenge(
        self, session: Session, practice: Practice, source: Any, system: str, clock: BenchClock
    ) -> LiveChallenge:
        """Write down an invented unit and begin its challenge."""
        from steadfeed.records import rows
        from steadfeed.visit import units, visits

        briefing = practice.briefing
        home = self.home
        work = home.session(session.device)
        circuits = len({c.circuit for c in source.played.columns if c.circuit is not None}) or 1
        unit_id = units.add_unit(
            work,
            site={"name": briefing.place},
            unit={"tag": f"practice {uuid.uuid4().hex[:8]}", "place": briefing.place},
            circuits=[{"refrigerant": briefing.refrigerant}] * circuits,
        )
        visit_id = visits.open_visit(work, unit_id, complaint=briefing.complaint)
        with home.store.reading() as t:
            found = [c["id"] for c in rows.find(t, "circuit", unit_id=unit_id, order="name created_at")]
        live = home.live.begin(
            work,
            visit_id,
            found[0],
            watched=tuple(found[1:]),
            way="practice",
            mode=briefing.mode,
            system=system.encode(),
            clock=clock,
        )
        live.title = briefing.place
        return live

    def get(self, practice_id: str) -> BenchPractice:
        """Return a practice. Raises FixInput when there is none (any more)."""
        found = self._open.get(practice_id)
        if found is None:
            raise FixInput("This practice is over; begin another", code="no such practice")
        return found

    def tick(self) -> None:
        """Look at the challenges of all practices."""
        if self._home is not None:
            self._home.live.tick()

    def end(self, practice_id: str) -> None:
        """End a practice and stop its bench."""
        one = self.get(practice_id)
        with self._lock:
            self._open.pop(practice_id, None)
        with contextlib.suppress(SteadfeedError):
            self.home.sources.remove(one.source_id)
        self.home.sources.detach(one.live.challenge_id)
        self.home.live.forget(one.live.challenge_id)

    def close(self) -> None:
        """End all practices."""
        for practice_id in list(self._open):
            with contextlib.suppress(SteadfeedError):
                self.end(practice_id)
        if self._home is not None:
            self._home.close()
            self._home = None
