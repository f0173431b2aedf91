"""How often the diagnosis is right on bench cases that it was not tuned on, beside the public code check, and its time.

The cases (benchmarks/data/reported_cases.npz, made by tools/bench_cases.py) are of units 100,000 and up; signatures and
thresholds were made and chosen on units below. Readings are taken by ordinary instruments (tools/bench_instruments.py).
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "tools"))

import bench_instruments as instruments  # noqa: E402
from steadfeed.analysis.charge_level import charge_level  # noqa: E402
from steadfeed.analysis.diagnosis.combine import Diagnosis, diagnose  # noqa: E402
from steadfeed.analysis.diagnosis.evidence import Evidence, gather  # noqa: E402
from steadfeed.analysis.spot import Spot, SpotReadings, evaluate  # noqa: E402
from steadfeed.analysis.targets import fixed_orifice_superheat, temperature_split_target  # noqa: E402
from steadfeed.circuit.equipment import MeteringDevice  # noqa: E402
from steadfeed.physics.properties import curves  # noqa: E402
from timing import Figure, best, best_processes  # noqa: E402

CASES = HERE / "data" / "reported_cases.npz"
NOTICEABLE = 0.10
F = 5.0 / 9.0


@dataclass
class Case:
    causes: tuple[str, ...]
    loss: float
    row: instruments.Row
    read: instruments.Read


def load(path: Path = CASES) -> list[Case]:
    out = []
    for k, row in enumerate(instruments.rows(np.load(path))):
        text = str(row["causes"])
        causes = () if text == "healthy" else tuple(text.split("+"))
        loss = max(float(row["capacity_loss"]), float(row["efficiency_loss"]))
        out.append(Case(causes, loss, row, instruments.read(row, np.random.default_rng((int(row["unit"]), k, 2)))))
    return out


def evidence(
    read: instruments.Read, channels: tuple[str, ...] | None = None, push: bool = True
) -> tuple[Evidence, Spot]:
    c = curves(read.system.refrigerant or "")
    values = read.values if channels is None else {n: v for n, v in read.values.items() if n in channels}
    spot = evaluate(SpotReadings(values, read.atmosphere), read.system, c)
    pushed = evaluate(SpotReadings(read.pushed, read.atmosphere), read.system, c) if push and read.pushed else None
    return gather(read.system, c, spot, pushed=pushed, seer=read.seer, heat_pump=read.heat_pump), spot


def ranked(found: Diagnosis) -> list[str]:
    """Causes, the likeliest first; without those whose finding abstained for want of a reading."""
    chance = found.probability or {}
    return [c for c in sorted(chance, key=lambda c: -chance[c]) if c != "healthy" and c not in found.untold]


@dataclass
class Score:
    first: float
    two: float
    missed: float
    false_alarm: float
    calibration: float
    count: int
    healthy: int
    confused: Counter[tuple[str, str]]
    per_cause: dict[str, tuple[int, float]]


def score(cases: list[Case], channels: tuple[str, ...] | None = None, push: bool = True) -> Score:
    """Single faults and healthy units. A fault in which nothing was found counts as wrong."""
    first = two = missed = alarms = healthy = count = 0
    confident: list[tuple[float, bool]] = []
    confused: Counter[tuple[str, str]] = Counter()
    by: dict[str, list[bool]] = {}
    for case in cases:
        found = diagnose(evidence(case.read, channels, push)[0])
        order = ranked(found)
        if not case.causes:
            healthy += 1
            alarms += not found.nothing_found
        else:
            count += 1
            right = order[:1] == list(case.causes) and not found.nothing_found
            first += right
            two += case.causes[0] in order[:2] and not found.nothing_found
            missed += found.nothing_found
            by.setdefault(case.causes[0], []).append(right)
            if not right:
                confused[(case.causes[0], "nothing found" if found.nothing_found or not order else order[0])] += 1
        if found.probability:
            top = max(found.probability, key=lambda c: found.probability[c])  # type: ignore[index]
            confident.append((min(found.probability[top], 1.0), top == (case.causes[0] if case.causes else "healthy")))
    return Score(
        first / max(count, 1), two / max(count, 1), missed / max(count, 1), alarms / max(healthy, 1),
        calibration_error(confident), count, healthy, confused,
        {cause: (len(hits), sum(hits) / len(hits)) for cause, hits in sorted(by.items())},
    )  # fmt: skip


def calibration_error(pairs: list[tuple[float, bool]]) -> float:
    """Expected calibration error in ten bins of confidence."""
    p = np.array([confidence for confidence, _ in pairs])
    right = np.array([hit for _, hit in pairs], dtype=float)
    total = 0.0
    for low in np.arange(0.0, 1.0, 0.1):
        inside = (p >= low) & (p < low + 0.1 + (1e-9 if low > 0.85 else 0.0))
        if inside.any():
            total += inside.mean() * abs(p[inside].mean() - right[inside].mean())
    return float(total)


def doubles(cases: list[Case]) -> tuple[float, float, int]:
    """Share of double faults with both causes among the first three, with one at least, and their number."""
    both = one = count = 0
    for case in cases:
        if len(case.causes) != 2:
            continue
        order = ranked(diagnose(evidence(case.read)[0]))[:3]
        hits = len(set(order) & set(case.causes))
        both, one, count = both + (hits == 2), one + (hits >= 1), count + 1
    return both / max(count, 1), one / max(count, 1), count


def public_check(read: instruments.Read, spot: Spot) -> list[str]:
    """Causes that the public code check points at (Title 24 RA3.2.2: superheat or subcooling, then the split), in order."""
    out = []
    system = read.system
    superheat, subcooling, split = (spot.value(n) for n in ("superheat", "subcooling", "temperature_split"))
    if system.metering_device is MeteringDevice.FIXED_ORIFICE:
        target = fixed_orifice_superheat(read.values["outdoor_air_temperature"], read.values["return_air_wet_bulb"])
        if target is not None and superheat is not None and target.value is not None:
            if superheat > target.value + 5.0 * F:
                out.append("undercharge")
            elif superheat < target.value - 5.0 * F:
                out.append("overcharge")
    else:
        rated = system.nameplate.subcooling if system.nameplate.subcooling is not None else 10.0 * F
        if subcooling is not None and subcooling < rated - 3.0 * F:
            out.append("undercharge")
        elif subcooling is not None and subcooling > rated + 3.0 * F:
            out.append("overcharge")
        if superheat is not None and superheat > 25.0 * F:
            out.append("metering device underfeeding")
        elif superheat is not None and superheat < 4.0 * F:
            out.append("metering device overfeeding")
    target = temperature_split_target(read.values["return_air_dry_bulb"], read.values["return_air_wet_bulb"])
    if target is not None and split is not None and target.value is not None:
        if split > target.value + 3.0 * F:
            out.append("low indoor airflow")
        elif split < target.value - 3.0 * F:
            out.append("capacity low")
    return out


def peer(cases: list[Case]) -> tuple[float, float, float, float]:
    """The public check: right cause first, among its causes, faults passed, healthy units failed."""
    first = among = passed = failed = count = healthy = 0
    for case in cases:
        said = public_check(case.read, evidence(case.read, push=False)[1])
        if not case.causes:
            healthy, failed = healthy + 1, failed + bool(said)
        else:
            count += 1
            first += said[:1] == list(case.causes)
            among += case.causes[0] in said
            passed += not said
    return first / max(count, 1), among / max(count, 1), passed / max(count, 1), failed / max(healthy, 1)


def charge_errors(cases: list[Case]) -> tuple[np.ndarray, int, int]:
    """Errors of the charge level where it speaks, number of cases, number in which it is silent."""
    errors, silent, count = [], 0, 0
    for case in cases:
        if case.row["mode"] == "heating" or float(case.row["accumulator"]) > 0.0:
            continue
        if case.causes not in ((), ("undercharge",), ("overcharge",)):
            continue
        count += 1
        plate = replace(case.read.system.nameplate, charge=float(case.row["charge"]))
        system = replace(case.read.system, nameplate=plate)
        found, spot = evidence(case.read)
        said = diagnose(found)
        other = next(
            (f.code for f in said.findings[:1] if f.code not in ("undercharge", "overcharge") and not said.nothing_found), ""
        )  # fmt: skip
        level = charge_level(spot, system, curves(system.refrigerant or ""), other_cause=other)
        if level.level is None:
            silent += 1
        else:
            errors.append(level.level.value - float(case.row["charge_ratio"]))
    return np.array(errors), count, silent


def chosen(cases: list[Case]) -> list[Case]:
    """Healthy units and noticeable single faults, cooling and heating."""
    return [c for c in cases if not c.causes or (len(c.causes) == 1 and c.loss >= NOTICEABLE)]


def in_instruments(cases: list[Case]) -> list[Case]:
    """Healthy units read with one bad instrument or a wrong nameplate."""
    out = []
    for k, case in enumerate(c for c in cases if not c.causes):
        rng = np.random.default_rng((k, 3))
        kind = str(rng.choice(instruments.SPOILS))
        spoilt = instruments.spoil(case.read, kind, rng)
        if spoilt is not None:
            out.append(Case((kind,), 0.0, case.row, spoilt))
    return out


def table(cases: list[Case]) -> str:
    """Everything measured, as text for docs/diagnosis.md."""
    singles = chosen(cases)
    lines = []
    for name, channels, push in (
        ("every reading, with the push of a challenge", None, True),
        ("every reading, no challenge", None, False),
        ("eight readings (two gauges, two clamps, four of air), with a push", instruments.USUAL, True),
        ("the same eight, no challenge", instruments.USUAL, False),
    ):
        s = score(singles, channels, push)
        lines.append(
            f"{name}: first {100 * s.first:.1f} %, first two {100 * s.two:.1f} %, faults missed {100 * s.missed:.1f} %, "
            f"healthy called faulty {100 * s.false_alarm:.1f} %, calibration error {s.calibration:.3f} "
            f"({s.count} faults, {s.healthy} healthy)"
        )
        if channels is None and push:
            for cause, (count, share) in s.per_cause.items():
                often = ", ".join(f"{b} {n}" for (a, b), n in s.confused.most_common() if a == cause and n > 1)
                lines.append(f"    {cause}: {100 * share:.0f} % of {count}; taken for {often or '–'}")
            for mode in ("cooling", "heating"):
                for device in ("txv", "eev", "fixed orifice"):
                    part = [c for c in singles if c.row["mode"] == mode and c.row["device"] == device]
                    p = score(part)
                    lines.append(
                        f"    {mode}, {device}: first {100 * p.first:.1f} %, two {100 * p.two:.1f} %, healthy called faulty "
                        f"{100 * p.false_alarm:.1f} % ({p.count}, {p.healthy})"
                    )
    cooling = [c for c in singles if c.row["mode"] == "cooling"]
    first, among, passed, failed = peer(cooling)
    ours = score(cooling)
    lines.append(
        f"public code check, cooling: first {100 * first:.1f} %, among its causes {100 * among:.1f} %, faults passed "
        f"{100 * passed:.1f} %, healthy failed {100 * failed:.1f} %; ours on the same: {100 * ours.first:.1f} %, "
        f"{100 * ours.two:.1f} %, {100 * ours.missed:.1f} %, {100 * ours.false_alarm:.1f} %"
    )
    both, one, count = doubles(cases)
    lines.append(
        f"double faults: both among the first three {100 * both:.1f} %, one at least {100 * one:.1f} % ({count})"
    )
    s = score(in_instruments(cases))
    lines.append(
        f"bad instruments: first {100 * s.first:.1f} %, two {100 * s.two:.1f} %, missed {100 * s.missed:.1f} % ({s.count})"
    )
    for cause, (number, share) in s.per_cause.items():
        often = ", ".join(f"{b} {n}" for (a, b), n in s.confused.most_common() if a == cause and n > 1)
        lines.append(f"    {cause}: {100 * share:.0f} % of {number}; taken for {often or '–'}")
    errors, count, silent = charge_errors(cases)
    lines.append(
        f"charge level within 10 %: {100 * (abs(errors) < 0.10).mean():.1f} % of {len(errors)} (silent in {silent} of "
        f"{count}); mean error {100 * errors.mean():.1f} %, standard deviation {100 * errors.std():.1f} %"
    )
    return "\n".join(lines)


def figures() -> list[Figure]:
    cases = load()
    singles = chosen(cases)
    s = score(singles)
    both, _, count = doubles(cases)
    errors, _, _ = charge_errors(cases)
    first, _, _, failed = peer([c for c in singles if c.row["mode"] == "cooling"])
    one = singles[len(singles) // 2].read
    c = curves(one.system.refrigerant or "")
    spot = evaluate(SpotReadings(one.values, one.atmosphere), one.system, c)
    pushed = evaluate(SpotReadings(one.pushed, one.atmosphere), one.system, c) if one.pushed else None
    time = best(lambda: diagnose(gather(one.system, c, spot, pushed=pushed, seer=one.seer)), 30)
    many = np.eye(16) + 0.01 * np.random.default_rng(1).normal(size=(200, 16, 16))
    inversion = best(lambda: np.linalg.inv(many), 30)
    command = [str(Path(sys.executable).with_name("steadfeed")), "spot", "--refrigerant", "R-410A", "--device", "txv"]
    command += ["--suction", "118", "--head", "365", "--suction-line", "52", "--liquid-line", "99", "--outdoor", "95"]
    bare, spot_process = best_processes([[sys.executable, "-c", "import numpy"], command], 7)
    return [
        Figure(f"right cause not first, single faults ({s.count} cases)", 100 * (1 - s.first), "%", 15.0),
        Figure("right cause not among the first two", 100 * (1 - s.two), "%", 5.0),
        Figure(f"healthy units called faulty ({s.healthy} units)", 100 * s.false_alarm, "%", 3.0),
        Figure("expected calibration error", s.calibration, "", 0.05),
        Figure(f"double faults, not both among the first three ({count} cases)", 100 * (1 - both), "%", 25.0),
        Figure("charge level off by more than 10 %", 100 * (abs(errors) >= 0.10).mean(), "%", 10.0),
        Figure("public code check: right cause not first, cooling", 100 * (1 - first), "%"),
        Figure("public code check: healthy units failed, cooling", 100 * failed, "%"),
        Figure("one diagnosis", 1e3 * time, "ms", 5.0),
        Figure("… over one inversion of 200 matrices of 16 × 16", time / inversion, "×"),
        Figure("steadfeed spot, whole process", spot_process, "s", 0.7),
        Figure("… over Python that imports numpy", spot_process / bare, "×"),
    ]


if __name__ == "__main__":
    print(table(load(Path(sys.argv[1]) if len(sys.argv) > 1 else CASES)))
