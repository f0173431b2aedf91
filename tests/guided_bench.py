"""A person who follows the guide over the bench, second by second, with the real station, store and recorder.

Time is virtual: a challenge of half an hour takes a few seconds. The person reads the sentence's button, needs a few seconds
to do what it says, and covers as much as proposed.
"""

from __future__ import annotations

import math
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from steadfeed.bench.log_text import toml_text
from steadfeed.bench.performed import system_tables
from steadfeed.bench.played import Played
from steadfeed.bench.settings import Settings
from steadfeed.capture.source import Reading
from steadfeed.errors import NotAllowed
from steadfeed.records import rows
from steadfeed.visit.live_challenge import LiveChallenge
from steadfeed.visit.sentences import Speech
from steadfeed.visit.station import Station

START = 1_781_546_400.0
FOUR = ("suction_pressure", "liquid_pressure", "suction_line_temperature", "liquid_line_temperature")


@dataclass
class Clock:
    """A clock that is moved by hand."""

    now: float = START

    def __call__(self) -> float:
        return self.now


@dataclass
class Seen:
    """What happened in a guided challenge."""

    phases: list[tuple[float, str]] = field(default_factory=list)
    alarms: list[tuple[float, str]] = field(default_factory=list)
    covers: list[tuple[float, float]] = field(default_factory=list)
    heads: list[tuple[float, float]] = field(default_factory=list)
    ceiling: float = math.inf
    passed: float | None = None
    refused: list[str] = field(default_factory=list)
    tripped: bool = False

    def at(self, phase: str) -> float | None:
        return next((t for t, p in self.phases if p == phase), None)


def small_company(station: Station, refrigerant: str, circuits: int = 1) -> tuple[str, str, list[str]]:
    """Write down a unit with an open visit. Return (unit, visit, circuits)."""
    from steadfeed.visit import units, visits

    work = station.session("tester", "Ines Calloway")
    unit_id = units.add_unit(
        work,
        site={"name": "Mill house", "altitude": 0.0},
        unit={"tag": f"W-{uuid.uuid4().hex[:4]}", "place": "Roof west"},
        circuits=[{"refrigerant": refrigerant, "metering_device": "txv"}] * circuits,
    )
    visit_id = visits.open_visit(work, unit_id, complaint="no cold air", reason="service")
    with station.store.reading() as t:
        found = [c["id"] for c in rows.find(t, "circuit", unit_id=unit_id, order="name created_at")]
    return unit_id, visit_id, found


class GuidedBench:
    """One challenge on the bench with a person who does what the guide says."""

    def __init__(
        self,
        folder: Path,
        settings: Settings,
        seed: int = 1,
        *,
        way: str = "instruments",
        found_running: bool = False,
        reaction: float = 6.0,
        station: Station | None = None,
        clock: Clock | None = None,
        answers: dict[str, str] | None = None,
        interval: float | None = None,
    ) -> None:
        self.clock = clock or Clock()
        self.station = station or Station(str(folder / "records.db"), clock=self.clock, utc_offset=lambda _: -18000.0)
        self.played = Played(settings, seed)
        self.interval = interval or settings.kit.interval
        self.reaction = reaction
        self.answers = answers or {}
        self.seen = Seen()
        self.sequence = 0
        self.boot = uuid.uuid4().hex
        self.wants: tuple[float, dict[str, Any]] | None = None
        self.unit_id, self.visit_id, self.circuits = small_company(
            self.station, settings.unit.refrigerant, settings.unit.circuits
        )
        for channel in self.played.channels():
            self.played.place(channel)
        if found_running:
            self.played.start()
            self.played.advance(1200)
        atmosphere = self.played.plant.surroundings.atmosphere
        file = toml_text(*system_tables(self.played.settings, atmosphere), [])
        work = self.station.session("tester", "Ines Calloway")
        self.live: LiveChallenge = self.station.live.begin(
            work,
            self.visit_id,
            self.circuits[0],
            way=way,
            mode=settings.unit.mode,
            watched=tuple(self.circuits[1:]),
            found_running=found_running,
            system=file.encode(),
        )
        self.map_columns()
        self.live.device_seen("tester", "phone", "Ines", role="coil", watching=True, recording=True)

    def map_columns(self) -> None:
        from steadfeed.capture.channel_map import ChannelMap, MapRow

        made = []
        for column in self.played.columns:
            if column.channel == "valve_steps":
                continue
            circuit = f"c{column.circuit + 1}" if column.circuit else None
            made.append(MapRow("bench", column.header, column.channel, "", circuit, True))
        self.live.use_map(ChannelMap(tuple(made)))

    # -- readings ---------------------------------------------------------------------------------------------------------
    def readings(self) -> tuple[Reading, ...]:
        out = []
        shown = self.played._last
        for k, column in enumerate(self.played.columns):
            if column.channel == "valve_steps":
                continue
            value = shown[k]
            text = None if math.isnan(value) else f"{value:.10g}"
            out.append(
                Reading(
                    "bench", self.boot, self.sequence, column.header, text, column.header_unit, self.clock.now, -18000.0
                )
            )
            self.sequence += 1
        return tuple(out)

    def state(self) -> dict[str, Any]:
        return self.live.state(Speech())

    def act(self, code: str, **fields: Any) -> None:
        work = self.station.session("tester", "Ines Calloway")
        try:
            self.live.act(work, str(uuid.uuid4()), code, **fields)
        except NotAllowed as error:
            self.seen.refused.append(f"{code}: {error.message}")

    # -- one second -------------------------------------------------------------------------------------------------------
    def second(self, read: bool = True) -> None:
        self.played.advance(1)
        self.clock.now += 1.0
        if read and (self.clock.now - START) % self.interval < 0.999:
            self.live.recorder.take(self.readings(), self.clock.now)
        self.live.device_seen("tester", "phone", "Ines", role=None, watching=True, recording=True)
        self.live.tick()
        self.note()

    def note(self) -> None:
        seen, live, now = self.seen, self.live, self.clock.now
        if not seen.phases or seen.phases[-1][1] != live.guide.phase:
            seen.phases.append((now, live.guide.phase))
        code = live.alarm_code(now)[0]
        last = seen.alarms[-1][1] if seen.alarms else ""
        if code != last:
            seen.alarms.append((now, code))
        head = self.played.state.circuits[0].liquid_pressure
        seen.heads.append((now, head))
        if live.guide.pushing and seen.passed is None and head > self.ceiling:
            seen.passed = now
        seen.tripped = seen.tripped or self.played.tripped

    @property
    def ceiling(self) -> float:
        from steadfeed.analysis.guard import ceiling

        return ceiling(self.live.tested.system, self.live.tested.curves).head_pressure

    # -- the person -------------------------------------------------------------------------------------------------------
    def person(self) -> None:
        """Do what the button says, some seconds after it says so."""
        now = self.clock.now
        if self.wants is None:
            wanted = self._wanted()
            if wanted is not None:
                slow = 1.0 if wanted["code"] in ("answer", "go on") else self.reaction
                self.wants = (now + slow, wanted)
        elif now >= self.wants[0]:
            wanted = self.wants[1]
            self.wants = None
            self._do(**wanted)

    def _wanted(self) -> dict[str, Any] | None:
        state = self.state()
        phase = state["phase"]
        for row in state["checks"]:
            if row["answer"] is None:
                return {"code": "answer", "check": row["code"], "answer": self.answers.get(row["code"], "yes")}
        if phase == "instruments":
            for row in state["ready"]:
                if row["state"] == "not yet":
                    return {"code": "answer", "check": row["code"], "answer": "yes"}
        button = state["button"]
        if button is None or not button["enabled"] or not button["asked"]:
            return None
        fields: dict[str, Any] = {"code": button["act"]}
        if button["cover"] is not None:
            fields["cover"] = button["cover"]
        return fields

    def _do(self, code: str, **fields: Any) -> None:
        played = self.played
        if code == "unit is on":
            played.start()
        elif code == "cover is on":
            played.cover_to(fields["cover"])
            self.seen.covers.append((self.clock.now, fields["cover"]))
        elif code == "airflow is restored":
            played.cover_to(0.0)
        elif code in ("unit is off", "compressor is stopped"):
            played.stop()
        self.act(code, **fields)

    def run(
        self, seconds: int = 4000, until: str = "result", each: Callable[[GuidedBench], None] | None = None
    ) -> Seen:
        for _ in range(seconds):
            self.second()
            self.person()
            if each is not None:
                each(self)
            if self.live.guide.phase == until:
                break
        return self.seen

    def close(self) -> None:
        self.station.close()


def usual(**conduct: Any) -> Settings:
    """A healthy unit with good digital instruments."""
    settings = Settings()
    return replace(settings, conduct=replace(settings.conduct, **conduct)) if conduct else settings


class ByHand(GuidedBench):
    """The same person with needle gauges: rows are typed when the hand pad asks for them."""

    def __init__(self, folder: Path, settings: Settings, seed: int = 1, **more: Any) -> None:
        kit = replace(settings.kit, gauges="analog", sampling="by hand")
        super().__init__(folder, replace(settings, kit=kit), seed, way="by hand", **more)
        self.typed: list[dict[str, str]] = []

    def map_columns(self) -> None:
        return  # the hand pad makes its own map

    def type_row(self) -> None:
        shown = dict(zip(self.played.columns, self.played.last, strict=True))
        values = {
            column.channel: f"{value:.0f} {column.header_unit}"
            for column, value in shown.items()
            if column.channel in FOUR and not math.isnan(value)
        }
        self.typed.append(values)
        work = self.station.session("tester", "Ines Calloway")
        self.live.row(work, str(uuid.uuid4()), values)

    def run_by_hand(self, seconds: int = 4000, until: str = "result") -> Seen:
        quiet = 0
        for _ in range(seconds):
            self.second(read=False)
            quiet += 1
            state = self.state()
            row = state["hand_row"]
            stepping = state["phase"] == "push" and self.live.guide.moves and quiet > 40
            if (row is not None and row["due_in"] == 0.0 and state["phase"] != "push") or stepping:
                quiet = 0
                self.type_row()
            self.person()
            if self.live.guide.phase == until:
                break
        return self.seen
