"""A challenge that runs: readings in, the guide and the guard over them, the state out to every screen.

Everything that decides is pure and elsewhere (guide.py, guide_steps.py, analysis/guard.py); here is the order in which it
is asked, one lock around it, and what is written down. Readings come in any thread (`listen` of the recorder), taps in the
threads of requests, and `tick` a few times a second.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from steadfeed.analysis.guard import guard_limit, known_step, superheat_gone
from steadfeed.capture.recorder import Recorder, Taken
from steadfeed.circuit.equipment import MeteringDevice
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.verdict import UNDECIDED
from steadfeed.errors import FixInput, NotAllowed
from steadfeed.visit import dead_man, guide, live_plan
from steadfeed.visit.circuit_watch import CircuitWatch
from steadfeed.visit.dead_man import Watch
from steadfeed.visit.guide import Act, Event, Guide
from steadfeed.visit.guide_steps import Facts, HandRow, seconds_left
from steadfeed.visit.sentences import Speech

if TYPE_CHECKING:
    from concurrent.futures import Future

    from steadfeed.analysis.challenge import Judgement
    from steadfeed.analysis.plan import Plan
    from steadfeed.capture.channel_map import ChannelMap
    from steadfeed.capture.recorder import Event as Arrived
    from steadfeed.visit.live_store import LiveStore
    from steadfeed.visit.session import Session

#: Heavy looks (judgement, steadiness, plan) at most so often [s].
HEAVY_EVERY: Final = 1.0
#: A state is sent at least so often while readings come [s].
STATE_EVERY: Final = 1.0
#: A baseline is the last so many seconds before the push [s].
BASE_SECONDS: Final = 180.0


class LiveChallenge:
    """One challenge. See the module.

    watches: the circuit under test first. store: writes journal and marks. recorder: takes readings; its listener is ours.
    clock: time of the readings; wall: time of the devices, another one only in a practice that runs faster.
    """

    def __init__(
        self,
        challenge_id: str,
        visit_id: str,
        title: str,
        guide_: Guide,
        watches: Sequence[CircuitWatch],
        recorder: Recorder,
        store: LiveStore,
        *,
        purpose: str | None,
        clock: Callable[[], float],
        wall: Callable[[], float] | None = None,
    ) -> None:
        self.challenge_id = challenge_id
        self.visit_id = visit_id
        self.title = title
        self.purpose = purpose
        self.stream = secrets.token_hex(8)
        self.guide = guide_
        self.watches = tuple(watches)
        self.recorder = recorder
        self.store = store
        self.clock = clock
        self.wall = wall or clock
        self.journal: list[Event] = []
        self.marks: list[tuple[str, Mark]] = []
        self.hand_rows: list[HandRow] = []
        self.row_ids: dict[str, tuple[int, int]] = {}
        self.watch = Watch()
        self.alone = False
        self.judgement: Judgement | None = None
        self.judged_at: float | None = None
        self.verdict_since: tuple[str, float] | None = None
        self.called: tuple[str, float] | None = None
        self.plan: Plan | None = None
        self.frozen_plan: Plan | None = None
        self.base: live_plan.Base | None = None
        self.step: live_plan.Step | None = None
        self.facts = Facts(now=guide_.began)
        self.sequence = 1
        self.state_sequence = 1
        self.alarm_since: tuple[str, float] | None = None
        self.system_file = b""
        self.person_id: str | None = None
        self.on_result: Callable[[LiveChallenge], None] | None = None
        self.on_act: Callable[[str, float | None], None] | None = None
        self._fresh = guide_
        self._heavy_at = 0.0
        self._state_at = 0.0
        self._dirty = True
        self._undo: list[tuple[str, str, float]] = []
        self._subscribers: list[Callable[[], None]] = []
        self._lock = threading.RLock()
        self._end_listening = recorder.listen(self._arrived)

    def moment(self, session: Session) -> float:
        """When something was done, by the clock of the readings [s]."""
        return self.clock() if self.guide.way == "practice" else min(session.now, self.clock())

    # -- identity ---------------------------------------------------------------------------------------------------------
    @property
    def tested(self) -> CircuitWatch:
        """The circuit under test."""
        return self.watches[0]

    @property
    def circuit_ids(self) -> list[str]:
        """Identities of all circuits, the one under test first."""
        return [w.circuit_id for w in self.watches]

    @property
    def finished(self) -> bool:
        """Whether the guide is closed."""
        return self.guide.phase == "closed"

    @property
    def by_hand(self) -> bool:
        """Whether people read the instruments."""
        return self.guide.way == "by hand"

    # -- readings ---------------------------------------------------------------------------------------------------------
    def _arrived(self, event: Arrived) -> None:
        """Take new readings over at once: the guard does not wait for the next tick."""
        if not isinstance(event, Taken):
            self._bump()
            return
        now = self.clock()
        with self._lock:
            self.sequence += 1
            changed = False
            for watch in self.watches:
                if watch.update(self.sequence):
                    changed = True
                    watch.refresh(now)
            if changed:
                self._look(now)
        self._tell()

    def _look(self, now: float) -> None:
        """Ask the guard of every circuit."""
        g = self.guide
        base = self.base.superheat if self.base is not None else None
        for watch in self.watches:
            before = watch.guard.alarm
            watch.look(
                now,
                pushing=g.pushing,
                restored_at=g.restored_at if g.phase in ("restore", "recovery") else None,
                started=base,
                by_hand=self.by_hand,
            )
            if watch.guard.alarm != before:
                self._dirty = True
        tested = self.tested
        if g.pushing and tested.guard.head is not None:
            level = tested.guard.head.level
            if tested.peak is None or level > tested.peak:
                tested.peak = level

    # -- time -------------------------------------------------------------------------------------------------------------
    def tick(self) -> None:
        """Look at everything: silence, devices, once a second judgement and plan, then what the data move."""
        now = self.clock()
        with self._lock:
            if self.finished:
                return
            for watch in self.watches:
                watch.refresh(now)
            self._look(now)
            self._look_at_devices()
            if now - self._heavy_at >= HEAVY_EVERY:
                self._heavy_at = now
                self._heavy(now)
            self._move(now)
            if now - self._state_at >= STATE_EVERY:
                self._dirty = True
            if self._dirty:
                self._dirty = False
                self._state_at = now
                self.sequence += 1
                self.state_sequence = self.sequence
            over = self.guide.phase in ("result", "put back") and self.on_result is not None
        self._tell()
        if over and self.on_result is not None:
            self.on_result(self)

    def take_up(self, now: float) -> None:
        """Take over what the recording was given before we listened: after a crash."""
        with self._lock:
            self.sequence += 1
            for watch in self.watches:
                watch.update(self.sequence)
                watch.refresh(now)
            self._heavy(now)
            self._bump()

    def was_away(self, seconds: float) -> None:
        """Nobody watched for so long: nothing goes on before the question is answered."""
        with self._lock:
            self._away(seconds)
            self._bump()
        self._tell()

    def _look_at_devices(self) -> None:
        now = self.wall()
        before = self.watch
        self.watch = dead_man.look(self.watch, now)
        alone = self.guide.pushing and bool(self.watch.devices) and dead_man.lost(self.watch, now)
        if alone != self.alone:
            self.alone = alone
            self._dirty = True
        gone = dead_man.away_for(before, now)
        if gone is not None and self.guide.pushing and dead_man.watched(self.watch, now):
            self._away(gone)

    def _away(self, seconds: float) -> None:
        if self.guide.away_for is None:
            self._write((guide.away(self.guide, self.clock(), seconds),))

    def _heavy(self, now: float) -> None:
        for watch in self.watches:
            watch.settle(now)
        self._judge(now)
        self._plan(now)
        self.facts = self._facts(now)

    def _judge(self, now: float) -> None:
        """Judge the readings so far: the same function as on a log."""
        from steadfeed.analysis.challenge import judge

        tested = self.tested
        recording = tested.whole([m for _, m in self.marks])
        if not len(recording):
            return
        self.judged_at = float(recording.time[-1])
        self.judgement = judge(recording, tested.system, tested.curves)
        word = self.judgement.assessment.verdict
        if self.verdict_since is None or self.verdict_since[0] != word:
            self.verdict_since = (word, now)
        elif word != UNDECIDED and now - self.verdict_since[1] >= self._persistence() and self.called is None:
            self.called = (word, now)

    def _persistence(self) -> float:
        """How long a verdict must stand before it counts [s]: a good electronic valve swings as a fixed one does, at first."""
        early = self.judgement is not None and self.judgement.assessment.early
        eev = self.tested.system.metering_device is MeteringDevice.EEV
        return guard_limit("persistence_eev" if early and eev else "persistence")

    def _plan(self, now: float) -> None:
        g, tested = self.guide, self.tested
        if g.phase in ("baseline", "plan") or (g.pushing and self.base is None):
            self.base = live_plan.base_of(tested, g.push_at if g.push_at is not None else now, BASE_SECONDS)
            self.plan = live_plan.plan_of(tested, self.base, g, self.watches[1:], now)
            self.frozen_plan = self.plan
        if g.pushing:
            self.step = live_plan.next_step(tested, self.base, self.frozen_plan, g, self.watches[1:], now)
        else:
            self.step = None

    def _facts(self, now: float) -> Facts:
        tested, g = self.tested, self.guide
        plan = self.frozen_plan
        head = tested.guard.head
        fresh = head is not None and now - head.time < 10.0
        rise = None
        if plan is not None and self.base is not None and plan.recommended_push is not None:
            rise = live_plan.wanted_rise(tested, self.base, plan)
        return Facts(
            now=now,
            running=None if self.by_hand else tested.running.runs,
            sure_since=tested.running.since,
            steady_since=tested.steady,
            condensing=tested.now.condensing,
            superheat=tested.now.superheat,
            subcooling=tested.now.subcooling,
            rate=head.rate if head is not None and fresh else None,
            base=self.base.condensing if self.base is not None else None,
            peak=tested.peak,
            wanted=rise,
            least=plan.least_push if plan is not None else None,
            next_cover=self.step.cover if self.step is not None else None,
            enough=self._enough(now),
            proofs=tested.proved,
            missing=self.recorder.channel_map.missing() if not self.by_hand else (),
            silent=tuple(c for c in tested.vital if self._silent(tested, c, now)) if not self.by_hand else (),
            frozen=tested.frozen,
            moved=tested.moved,
            alarm=self.alarm_code(now)[0],
            sides_moved=self._sides_moved(now),
            verdict=self.judgement.assessment.verdict if self.judgement is not None else UNDECIDED,
            rows=tuple(self.hand_rows),
            plan=plan if g.phase in ("plan", "push", "hold", "baseline") else None,
            open_overrides=self.store.open_overrides() if g.phase in ("result", "put back") else (),
            labels=dict.fromkeys(tested.vital, ""),
        )

    @staticmethod
    def _silent(watch: CircuitWatch, channel: str, now: float) -> bool:
        from steadfeed.analysis.guard import silence

        return channel not in watch.guard.seen or silence(watch.guard, channel, now)[1]

    def _enough(self, now: float) -> str:
        """Why the push can end, "" while it cannot."""
        if not self.guide.pushing:
            return ""
        if superheat_gone(self.tested.guard, now):
            word = self.verdict_since[0] if self.verdict_since is not None else UNDECIDED
            low = self.tested.guard.low_since
            # the early verdict ends the push; without one the compressor is not kept wet for the evidence's sake
            patient = self._persistence() > guard_limit("persistence")
            stood = self.verdict_since is not None and now - self.verdict_since[1] >= self._persistence()
            longest = low is not None and now - low >= guard_limit("superheat_gone_longest")
            if longest or (word != UNDECIDED and (stood or not patient)):
                return "superheat is gone"
        if self.called is not None and self.verdict_since is not None and self.verdict_since[0] == self.called[0]:
            return f"verdict {self.called[0]}"
        return ""

    def _sides_moved(self, now: float) -> bool:
        """Whether both pressures have moved since the stop."""
        off = self.guide.off_at
        if off is None:
            return False
        rows = self.tested.rows(off - 20.0)
        if rows is None or len(rows) < 3:
            return False
        before = rows.time < off + 2.0
        if not before.any():
            before[:1] = True
        low = float(rows.ps[-1] - rows.ps[before].mean())
        high = float(rows.pl[before].mean() - rows.pl[-1])
        return low > 50e3 and high > 50e3

    def _move(self, now: float) -> None:
        facts = replace(self.facts, now=now, enough=self._enough(now), alarm=self.alarm_code(now)[0])
        self.facts = facts
        events = guide.advance(self.guide, facts)
        if events:
            self._write(events)
            self.facts = self._facts(now)

    # -- alarms -----------------------------------------------------------------------------------------------------------
    def alarm_code(self, now: float) -> tuple[str, CircuitWatch | None, str]:
        """Return (code, circuit, channel) of the most pressing alarm; code "" for none."""
        worst: tuple[int, str, CircuitWatch | None, str] | None = None
        for watch in self.watches:
            alarm = watch.guard.alarm
            if alarm is None:
                continue
            rank = _RANK.index(alarm.code)
            if worst is None or rank < worst[0]:
                worst = (rank, alarm.code, watch, alarm.channel)
        if worst is not None:
            return worst[1], worst[2], worst[3]
        return ("not watched", None, "") if self.alone else ("", None, "")

    # -- taps -------------------------------------------------------------------------------------------------------------
    def act(self, session: Session, act_id: str, code: str, *, device: str | None = None, **fields: Any) -> None:
        """Do what a tap says. Raises NotAllowed when the guide refuses; the refusal is kept. Known taps change nothing."""
        role = fields.pop("role", None)
        with self._lock:
            if any(e.id == act_id for e in self.journal):
                return
            now = self.clock()
            self.facts = self._facts(now)
            tap = Act(id=act_id, code=code, at=self.moment(session), **fields)
            if code == "take role":
                if role is None:
                    raise FixInput("Which role: coil or watcher?", code="missing field", where="role")
                self._role(session.device, role, now)
            elif code == "leave":
                self.watch = dead_man.leave(self.watch, self.wall(), session.device)
            outcome = guide.act(self.guide, tap, self.facts)
            self._write(outcome.events, session)
            if outcome.refused is None and outcome.events:
                self._undo.append((act_id, "undo.act", self.wall() + guide.UNDO_SECONDS))
                self.facts = self._facts(now)
                self._plan(now)
                self.facts = self._facts(now)
            self._bump()
        self._tell()
        if outcome.refused is not None:
            raise outcome.refused
        if self.on_act is not None:
            self.on_act(code, fields.get("cover"))

    def _role(self, device: str, role: str, now: float) -> None:
        known = self.watch.devices.get(device)
        if known is not None:
            changed = replace(known, role=role)  # type: ignore[arg-type]
            self.watch = replace(self.watch, devices={**self.watch.devices, device: changed})

    def _write(self, events: Sequence[Event], session: Session | None = None) -> None:
        """Apply events, write them to the journal, set the marks that go with them."""
        if not events:
            return
        marks: list[tuple[str, Mark]] = []
        kept: list[Event] = []
        for event in events:
            event = event if event.id is not None else replace(event, id=self.store.new_id())
            before = self.guide
            self.guide = guide.apply(self.guide, event)
            kept.append(event)
            if event.verb == "cover":
                for watch in self.watches:
                    watch.step = known_step(watch.guard, event.at, before.cover, event.cover)
            word = _mark_of(before, self.guide, event)
            if word is not None:
                marks.append(
                    (self.store.mark_id(str(event.id), word), Mark(event.at, word, circuit=self.tested.system.circuit))
                )
        self.store.write(kept, marks, session)
        self.journal += kept
        self.marks += marks
        self.marks.sort(key=lambda m: m[1].time)
        self._dirty = True

    def mark(self, session: Session, mark_id: str, event: str, text: str | None) -> None:
        """Put a mark on the chart. A known one changes nothing."""
        with self._lock:
            if any(known == mark_id for known, _ in self.marks):
                return
            made = Mark(self.moment(session), event, text or "", circuit=self.tested.system.circuit)
            self.store.write((), [(mark_id, made)], session)
            self.marks.append((mark_id, made))
            self.marks.sort(key=lambda m: m[1].time)
            self._undo.append((mark_id, "undo.mark", self.wall() + guide.UNDO_SECONDS))
            self._bump()
        self._tell()

    def row(
        self,
        session: Session,
        row_id: str,
        values: Mapping[str, str],
        *,
        same: Sequence[str] = (),
        not_read: Sequence[str] = (),
        read_by: str = "person",
        number: int | None = None,
        circuit_id: str | None = None,
        speech: Speech = Speech(),  # noqa: B008
    ) -> tuple[bool, list[dict[str, Any]]]:
        """Keep a row of the hand pad. Return (whether it was there already, questions about values that look wrong)."""
        from steadfeed.visit import hand_pad

        with self._lock:
            watch = self._watch_of(circuit_id)
            questions = hand_pad.questions(values, watch, speech)
            if row_id in self.row_ids:
                return True, questions
            taken = hand_pad.readings_of(row_id, session, values, watch, same=same, not_read=not_read, read_by=read_by)
            known = hand_pad.with_hand(self.recorder.channel_map, taken, watch.label)
        # never while our lock is held: the recorder calls us with its own
        self.recorder.remap(known)
        done = self.recorder.take(taken, max(session.now, self.clock()))
        done.result(timeout=30.0)
        with self._lock:
            place = len(self.hand_rows)
            whole = all(channel in {**values, **dict.fromkeys(same)} for channel in watch.vital)
            wanted = number if number is not None else hand_pad.row_number(self.guide, self.facts)
            self.hand_rows.append(HandRow(self.moment(session), wanted if whole else None, whole, watch.now.condensing))
            self.row_ids[row_id] = (place, len(taken))
            self._heavy(self.clock())
            self._bump()
        self._tell()
        return False, questions

    def _watch_of(self, circuit_id: str | None) -> CircuitWatch:
        if circuit_id is None:
            return self.tested
        found = next((w for w in self.watches if w.circuit_id == circuit_id), None)
        if found is None:
            raise FixInput("That circuit takes no part in this challenge", code="no such circuit", where="circuit_id")
        return found

    def undo(self, session: Session, what: str) -> None:
        """Take a tap or a mark back. Raises NotAllowed when that is no longer possible."""
        now = self.clock()
        with self._lock:
            found = next((u for u in self._undo if u[0] == what), None)
            if found is None or self.wall() > found[2]:
                code = "undone" if self.store.withdrawn(what) else "too late"
                raise NotAllowed("This can no longer be taken back; set it right with the next tap", code=code)
            if any(m == what for m, _ in self.marks):
                self.store.withdraw("mark", what, session)
                self.marks = [(m, mark) for m, mark in self.marks if m != what]
            else:
                self._undo_tap(what, session)
            self._undo = [u for u in self._undo if u[0] != what]
            self.facts = self._facts(now)
            self._bump()
        self._tell()

    def _undo_tap(self, what: str, session: Session) -> None:
        event = next((e for e in self.journal if e.id == what), None)
        if event is None:
            raise NotAllowed("This can no longer be taken back", code="too late")
        later = self.journal[self.journal.index(event) + 1 :]
        if any(e.verb == "data" or (e.id and e.phase != event.phase) for e in later):
            raise NotAllowed("The challenge went on since; set it right with the next tap", code="too late")
        self.store.withdraw("step", what, session)
        gone = {self.store.mark_id(what, word) for word in ("start", "push", "hold", "restore", "standstill")}
        for mark_id in [m for m, _ in self.marks if m in gone]:
            self.store.withdraw("mark", mark_id, session)
        self.marks = [(m, mark) for m, mark in self.marks if m not in gone]
        self.journal.remove(event)
        self.guide = guide.replay(self._fresh, self.journal)

    def undoable(self) -> list[tuple[str, str, float]]:
        """Return (identity, sentence code, until) of what can be taken back now."""
        self._undo = [u for u in self._undo if u[2] >= self.wall()]
        return list(self._undo)

    # -- devices ----------------------------------------------------------------------------------------------------------
    def device_seen(
        self, device: str, name: str, person: str | None, *, role: str | None, watching: bool, recording: bool
    ) -> None:
        """Take a sign of life of a device."""
        now = self.wall()
        with self._lock:
            gone = dead_man.away_for(self.watch, now)
            before = self.watch
            self.watch = dead_man.seen(
                self.watch,
                now,
                device,
                name,
                person,
                role=role,  # type: ignore[arg-type]
                watching=watching,
                recording=recording,
            )
            if gone is not None and watching and self.guide.pushing and before.devices:
                self._away(gone)
            known = before.devices.get(device)
            ours = self.watch.devices[device]
            if known is None or (known.watching, known.role, known.recording) != (
                ours.watching,
                ours.role,
                ours.recording,
            ):
                self._look_at_devices()
                self._bump()
        self._tell()

    def device_gone(self, device: str) -> None:
        """The link to a device ended."""
        with self._lock:
            self.watch = dead_man.gone(self.watch, self.wall(), device)
            self._look_at_devices()
            self._bump()
        self._tell()

    # -- the channel map --------------------------------------------------------------------------------------------------
    def channel_map(self) -> dict[str, Any]:
        """Return the map as it stands, and the vital channels that nothing feeds."""
        known = self.recorder.channel_map
        ids = {w.label: w.circuit_id for w in self.watches}
        rows = [
            {
                "source": row.source,
                "header": row.header,
                "channel": row.channel,
                "unit": row.unit or None,
                "circuit_id": ids.get(row.circuit, self.tested.circuit_id),
                "confirmed": row.confirmed,
            }
            for row in known.rows
        ]
        return {"rows": rows, "missing": list(known.missing())}

    def set_channel_map(self, session: Session, rows: Sequence[Mapping[str, Any]], *, remember: bool) -> None:
        """Confirm the map. circuit_id in a row: of one of our circuits."""
        from steadfeed.capture.channel_map import ChannelMap

        labels = {w.circuit_id: w.label for w in self.watches}
        made = []
        for row in rows:
            circuit = row.get("circuit_id")
            if circuit is not None and circuit not in labels:
                raise FixInput(
                    "That circuit takes no part in this challenge", code="no such circuit", where="circuit_id"
                )
            made.append({**row, "circuit": labels.get(circuit) if circuit else None, "unit": row.get("unit") or ""})
        self.use_map(ChannelMap.from_value(made))
        self.store.keep_map(self.recorder.channel_map, session, self.guide.mode, remember=remember)

    def use_map(self, known: ChannelMap) -> None:
        """Use a map for the readings to come."""
        self.recorder.remap(known)
        self._bump()
        self._tell()

    # -- out --------------------------------------------------------------------------------------------------------------
    def subscribe(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Call `wake` (from any thread) whenever something changed. Return what ends that."""
        with self._lock:
            self._subscribers.append(wake)

        def leave() -> None:
            with self._lock:
                if wake in self._subscribers:
                    self._subscribers.remove(wake)

        return leave

    def _bump(self) -> None:
        with self._lock:
            self.sequence += 1
            self.state_sequence = self.sequence

    def _tell(self) -> None:
        for wake in tuple(self._subscribers):
            wake()

    def state(self, speech: Speech) -> dict[str, Any]:
        """Return all that a screen shows, in a person's language and units."""
        from steadfeed.visit.live_state import state_form

        saved = self.recorder.saved  # before our lock: the recorder calls us with its own
        with self._lock:
            return state_form(self, speech, self.clock(), saved)

    def gap(self, after: int) -> int:
        """Count the rows that a client with that sequence has not seen; very many after rows were written anew."""
        with self._lock:
            if any(w.rows_reset > after for w in self.watches) or after > self.sequence:
                return 10**9
            return max(w.count_after(after) for w in self.watches)

    def rows_since(self, circuit_id: str, after: int, until: int) -> tuple[list[str], list[list[float | None]], int]:
        """Return (columns, rows that changed after one sequence and up to another, the latter)."""
        with self._lock:
            watch = self._watch_of(circuit_id)
            return watch.stream_columns(), watch.rows_after(after, until), until

    def history(self, circuit_id: str | None, points: int) -> dict[str, Any]:
        """Return all rows of a circuit, thinned."""
        with self._lock:
            watch = self._watch_of(circuit_id)
            rows, every = watch.thinned(points)
            return {
                "circuit_id": watch.circuit_id,
                "columns": watch.stream_columns(),
                "rows": rows,
                "every": every,
                "sequence": self.sequence,
            }

    def judgement_form(self, units: str) -> dict[str, Any]:
        """Return headline and judgement of the readings so far. Raises FixInput before the first reading."""
        from steadfeed.visit.live_state import judgement_form

        with self._lock:
            self._judge(self.clock())
        return judgement_form(self, units)  # it also looks for causes: not under the lock, where the guard waits

    def texts(self, utc_offset: float) -> tuple[bytes, bytes]:
        """Return log and system file so far, as `steadfeed judge` reads them."""
        from steadfeed.visit.live_seal import system_with_marks

        with self._lock:
            log = self.tested.recording.log()
            return log, system_with_marks(self.system_file, [m for _, m in self.marks], utc_offset)

    def minutes_left(self) -> float:
        """Minutes that the challenge will still take."""
        with self._lock:
            return seconds_left(self.guide, self.facts) / 60.0

    # -- end --------------------------------------------------------------------------------------------------------------
    def flush(self) -> None:
        """Wait until all that was received is on the disk."""
        self.recorder.flush()

    def take(self, readings: Sequence[Any], received_at: float | None = None) -> Future[Any]:
        """Hand readings over, for sources that push."""
        return self.recorder.take(readings, received_at)

    def close(self) -> None:
        """Write what waits, and let go."""
        self._end_listening()
        self.recorder.close()


#: Alarms, the most pressing first.
_RANK: Final = (
    "stop compressor", "restore airflow", "head silent", "floodback", "switch opened", "suction silent", "channel silent",
)  # fmt: skip


def _mark_of(before: Guide, after: Guide, event: Event) -> str | None:
    """Return the mark that an event sets by itself, None for none."""
    if event.verb in ("unit is on",) or (before.on_at is None and after.on_at is not None and not after.found_running):
        return "start"
    if event.verb == "cover" and not before.moves:
        return "push"
    if after.phase != before.phase and after.phase == "hold":
        return "hold"
    if after.restored_at is not None and before.restored_at is None:
        return "restore"
    if after.off_at is not None and before.off_at is None:
        return "standstill"
    return None
