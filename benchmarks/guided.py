"""Whole guided challenges on random bench units: what the guard says, when the verdict is called, how right it is then.

A person follows the guide second by second with the real station, store and recorder, in virtual time. Units, weather and
what is wrong with the metering device are drawn as for `steadfeed bench many`, read by electronic gauges without faults
of their own; nothing comes between. When the guard says "restore airflow", the person holds back for a minute, so that
it shows whether the head would have come near its ceiling: an alarm after which it stayed NEAR below it was for nothing.
All figures are of simulated units.

`python benchmarks/guided.py COUNT [FIRST]` runs so many and prints each; `figures` runs a few. With `alarms` before COUNT
nothing is judged, so that only the alarms count: the push then ends by its longest hold, and everything goes faster.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from timing import Figure

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

SEED = 7019
FEW = 12
NEAR = 2.0 * 5.0 / 9.0
NEAR_DISCHARGE = 4.0 * 5.0 / 9.0
#: How long the person holds back when the guard says "restore airflow" [s].
HELD_BACK = 60.0


@dataclass(frozen=True)
class Guided:
    """One guided challenge. Times after the push began [s]; None: it never came."""

    index: int
    device: str
    refrigerant: str
    truth: str
    acceptable: tuple[str, ...]
    shows: bool
    refused: str
    called: str | None
    called_after: float | None
    verdict: str
    valid: bool
    same: bool
    alarms: tuple[str, ...]
    for_nothing: tuple[str, ...]
    over: float
    tripped: bool

    def right(self, word: str) -> bool:
        return word in self.acceptable


def settings_of(index: int) -> Any:
    """Return the settings of one challenge, None where the draw is left out: heating, two circuits."""
    from steadfeed.bench.population import random_settings

    drawn, _, _ = random_settings(SEED, index)
    if drawn.unit.mode != "cooling" or drawn.unit.circuits != 1 or drawn.unit.compressor_control == "variable-speed":
        return None
    conduct = replace(drawn.conduct, happenings=(), starting_cover=0.0, demand=1.0, way="cover")
    kit = replace(
        drawn.kit, gauges="digital", sampling="automatic", protocol=False, faults=(), gaps=(), wrong_unit="", interval=1.0,
        duplicates=0.0, disorder=0.0, clock_drift=0.0, stiction=0.0, dropouts=0.0, manifold_leak=0.0, head_at="liquid",
        pressure_noise=min(drawn.kit.pressure_noise, 2000.0), suction_offset=0.0, head_offset=0.0, suction_gain=0.0,
        head_gain=0.0, pressure_resolution=689.5, temperature_noise=0.06, temperature_resolution=0.0556,
    )  # fmt: skip
    # the plan refuses a push at more than 18 °F of subcooling: a charge near what the unit is made for lets most begin
    charge = float(np.random.default_rng(index).uniform(0.96, 1.06))
    known = replace(drawn.known, refrigerant="")
    return replace(
        drawn, conduct=conduct, kit=kit, known=known, weather=replace(drawn.weather, pull_down=0.0),
        faults=replace(drawn.faults, charge=charge),
    )  # fmt: skip


def run(index: int, settings: Any, judged: bool = True) -> Guided:
    """Run one challenge. judged: False leaves the judgement out."""
    from guided_bench import GuidedBench

    with tempfile.TemporaryDirectory() as folder:
        bench = GuidedBench(Path(folder), settings, index)
        try:
            return _followed(bench, index, settings, judged)
        finally:
            bench.close()


class _Alarms:
    """Every alarm, and whether the restoring it asked for was needed."""

    def __init__(self, bench: Any) -> None:
        self.bench = bench
        self.all: list[str] = []
        self.for_nothing: list[str] = []
        self.nearest = np.inf
        self.until: float | None = None
        self.held = False
        self.over = 0.0
        self._of = self._last = ""

    def _left(self, what: str) -> float:
        """Distance of the head or the discharge line to its limit, as the guard follows it [K]."""
        watch = self.bench.live.tested
        tracker, top = (
            (watch.guard.discharge, watch.top.discharge) if what == "discharge" else (watch.guard.head, watch.top.head)
        )
        return np.inf if tracker is None else float(top - tracker.level)

    def look(self) -> None:
        """Look at one second. `held`: the person holds back."""
        live, now = self.bench.live, self.bench.clock.now
        code, _, channel = live.alarm_code(now)
        if live.guide.pushing:
            self.over = max(self.over, -self._left("head"))
        if code and code != self._last:
            self.all.append(f"{code} {channel}".strip())
            if code == "restore airflow" and self.until is None:
                self.until, self.nearest, self._of = now + HELD_BACK, np.inf, channel
            baseless = {
                "head silent": True,
                "suction silent": True,
                "channel silent": True,
                "switch opened": self.bench.played.running,
                "stop compressor": self._left("head") > 0.0,
            }
            if baseless.get(code, False):
                self.for_nothing.append(code)
        self._last = code
        if self.until is None:
            self.held = False
            return
        self.nearest = min(self.nearest, self._left(self._of))
        near = NEAR_DISCHARGE if self._of == "discharge" else NEAR
        self.held = now < self.until and self.nearest > near
        if not self.held:
            if self.nearest > near:
                self.for_nothing.append(f"restore airflow {self._of}")
            self.until = None


def _followed(bench: Any, index: int, settings: Any, judged: bool) -> Guided:
    from steadfeed.analysis.diagnosis.of_challenge import with_findings
    from steadfeed.bench.truth import truth_of
    from steadfeed.visit.judge_log import judge_log

    live = bench.live
    alarms = _Alarms(bench)
    refused, stood = "", 0
    end = "put back"
    if not judged:
        live._judge = lambda now: None
        end = "standstill"
    for _ in range(4200):
        bench.second()
        alarms.look()
        if not alarms.held:
            bench.person()
        state_phase = live.guide.phase
        stood = stood + 1 if state_phase == "plan" else 0
        if stood > 60:
            refused = ", ".join(r["code"] for r in bench.state()["plan"]["refusals"]) or "stood in the plan"
            break
        if state_phase == end:
            break
    push = live.guide.moves[0].at if live.guide.moves else None
    truth = truth_of(bench.played.performed())
    about = (
        settings.unit.metering_device,
        settings.unit.refrigerant,
        truth.state,
        tuple(truth.acceptable),
        truth.fault_shows,
    )
    alarmed = (tuple(alarms.all), tuple(alarms.for_nothing), alarms.over, bench.seen.tripped)
    if not judged:
        return Guided(index, *about, refused, None, None, "undecided", False, True, *alarmed)
    live._judge(bench.clock.now)
    assessment = live.judgement.assessment
    log, system = live.texts(-18000.0)
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "a.csv").write_bytes(log)
        (Path(name) / "a.toml").write_bytes(system)
        (log_judged,) = judge_log(Path(name) / "a.csv")
    ours = with_findings(live.judgement, log_judged.system, log_judged.curves).assessment
    same = replace(ours, notes=()) == replace(log_judged.judgement.assessment, notes=())
    called = live.called
    return Guided(
        index, *about, refused, called[0] if called else None,
        called[1] - push if called and push is not None else None, assessment.verdict, assessment.valid, same, *alarmed,
    )  # fmt: skip


def some(count: int, first: int = 1, judged: bool = True) -> Iterator[Guided]:
    """Run so many challenges, from a number of the draw on."""
    index, done = first - 1, 0
    while done < count:
        index += 1
        settings = settings_of(index)
        if settings is None:
            continue
        try:
            one = run(index, settings, judged)
        except (ArithmeticError, ValueError):
            continue  # it left the range of the refrigerant's curves
        done += 1
        yield one


def figures_of(found: list[Guided]) -> list[Figure]:
    """Return the figures of challenges that were run."""
    pushed = [g for g in found if not g.refused]
    out = [
        Figure("guided challenges, pushed", len(pushed), ""),
        Figure("… refused by the plan", len(found) - len(pushed), ""),
        Figure("alarms for nothing, per 100 challenges", 100.0 * sum(bool(g.for_nothing) for g in pushed) / max(len(pushed), 1), "", 1.0),
        Figure("live judgement at the end other than that of the exported log", 100.0 * sum(not g.same for g in found) / max(len(found), 1), "%", 0.0),
    ]  # fmt: skip
    for word, wanted in (("fixed", 150.0), ("regulating", 330.0)):
        times = [g.called_after for g in pushed if g.called == word and g.called_after is not None]
        if times:
            out.append(
                Figure(
                    f"{word} called after the push began, median of {len(times)}", float(np.median(times)), "s", wanted
                )
            )
            out.append(Figure("… 90 of 100", float(np.percentile(times, 90)), "s"))
    both = [g for g in pushed if g.called is not None and g.verdict != "undecided"]
    if both:
        first = 100.0 * sum(not g.right(g.called or "") for g in both) / len(both)
        last = 100.0 * sum(not g.right(g.verdict) for g in both) / len(both)
        out.append(Figure(f"wrong at the first call, of {len(both)} decided", first, "%"))
        out.append(Figure("… at the end", last, "%"))
        out.append(Figure("… at the first call over the end", first - last, "points", 1.0))
    out.append(
        Figure(
            "pushes that were never decided", 100.0 * sum(g.called is None for g in pushed) / max(len(pushed), 1), "%"
        )
    )
    out.append(
        Figure(
            "pushes whose head passed its ceiling", 100.0 * sum(g.over > 0.0 for g in pushed) / max(len(pushed), 1), "%"
        )
    )
    out.append(Figure("high-pressure switches opened", sum(g.tripped for g in pushed), "", 0.0))
    return out


def figures() -> list[Figure]:
    return figures_of(list(some(FEW)))


def main(count: int, first: int, judged: bool) -> None:
    """Run so many, print each as it ends, then the figures."""
    found = []
    for one in some(count, first, judged):
        found.append(one)
        after = f"{one.called_after:.0f} s" if one.called_after is not None else "never"
        wrong = one.refused == "" and judged and not (one.right(one.verdict) and one.right(one.called or one.verdict))
        print(
            f"{one.index:4} {one.device:14} {one.refrigerant:8} {one.truth:11} {one.refused or '-':24} "
            f"{one.called or '-':11} {after:8} {one.verdict:11} {'valid' if one.valid else 'not valid':9} "
            f"{'same' if one.same else 'DIFFERS'} alarms: {', '.join(one.alarms) or '-'} "
            f"for nothing: {', '.join(one.for_nothing) or '-'}{'  WRONG' if wrong else ''}",
            flush=True,
        )
    print(Counter(g.truth for g in found))
    for figure in figures_of(found):
        print(figure.line())


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != "alarms"]
    main(int(words[0]) if words else FEW, int(words[1]) if len(words) > 1 else 1, "alarms" not in sys.argv)
