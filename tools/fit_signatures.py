"""Makes the signatures of the diagnosis from cases of the bench.

    python tools/fit_signatures.py out/tuning.npz [more.npz …]

Only units of the tuning range may be given (tools/bench_cases.py). Readings are taken by ordinary instruments
(tools/bench_instruments.py); causes that lie in the instruments or the nameplate are made from healthy readings.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any, Final

import numpy as np

import bench_instruments as instruments
from steadfeed.analysis.diagnosis.features import FEATURES, observe
from steadfeed.analysis.diagnosis.signatures import conditions
from steadfeed.analysis.spot import SpotReadings, evaluate
from steadfeed.physics.properties import curves

OUT: Final = Path(__file__).parents[1] / "src/steadfeed/analysis/diagnosis/data/signatures.jsonl"
FIRST_REPORTED_UNIT: Final = 100_000
#: Least loss of capacity or efficiency of the cases that a cause is learnt from (0.05 and 0.08 did worse on cases not fitted).
LEAST_LOSS: Final = 0.03
#: An overcharge shows in readings long before it costs anything.
LEAST_OVERCHARGE: Final = 1.12
#: How much more real units differ than those of one bench: standard deviations added to every signature [K; slopes and the
#: current in their scale]. Own choice, after the spread of healthy units in an independent simulation (docs/diagnosis.md).
DISCREPANCY: Final = {
    "high_side": 1.0, "low_side": 0.6, "superheat": 0.8, "subcooling": 1.0, "discharge": 2.0, "split": 0.6, "current": 0.4,
    "recirculation": 0.3, "air_rise": 0.8, "line_drop": 0.3, "suction_gain": 0.4, "bulb_superheat": 0.8,
    "line_set_loss": 0.3, "push_superheat": 0.25, "push_evaporating": 0.2, "push_subcooling": 0.8,
}  # fmt: skip
#: Share of the healthy covariance that is added to every cause's, and shrinkage of a cause's own towards its diagonal.
FLOOR: Final = 0.1
SHRINK: Final = 0.1
#: Units of a refrigerant that count as many as none at all.
LEAST_UNITS: Final = 6
#: Times that each healthy reading is spoilt anew for the causes in instruments.
SPOILT: Final = 1
NAMES: Final = list(FEATURES)


def features_of(read: instruments.Read) -> tuple[np.ndarray, np.ndarray, str]:
    """Conditions, shape (4,), features, shape (features,), NaN where absent, and the refrigerant as written down."""
    c = curves(read.system.refrigerant)  # type: ignore[arg-type]
    spot = evaluate(SpotReadings(read.values, read.atmosphere), read.system, c)
    pushed = evaluate(SpotReadings(read.pushed, read.atmosphere), read.system, c) if read.pushed else None
    found = observe(spot, pushed, read.system, c, read.seer)
    if read.seer is None and read.system.mode == "cooling":
        found.pop("high_side", None)  # evidence.gather widens it where the class is not known
    values = np.array([found.get(name, np.nan) for name in NAMES])
    return conditions(spot, read.system.mode).values, values, read.system.refrigerant or ""


def robust(y: np.ndarray, wide: float = 7.0) -> np.ndarray:
    """Mask of what is no outlier."""
    middle = np.median(y)
    spread = 1.4826 * np.median(np.abs(y - middle)) + 1e-6
    kept: np.ndarray = np.abs(y - middle) < wide * spread
    return kept


def expectation(x: np.ndarray, y: np.ndarray, names: list[str]) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Linear expectation of every feature in the conditions, from healthy units, shape (features, conditions), and what a
    refrigerant adds to it, shape (features,), for each of enough units; names: refrigerant of each row."""
    out = np.zeros((y.shape[1], x.shape[1]))
    kinds = sorted({name for name in names if names.count(name) >= LEAST_UNITS})
    offsets = {kind: np.zeros(y.shape[1]) for kind in kinds}
    for j in range(y.shape[1]):
        ok = np.isfinite(y[:, j])
        if ok.sum() < 12:
            continue
        ok[ok] = robust(y[ok, j])
        vary = x[ok].std(0) > 1e-9
        vary[0] = True
        out[j, vary] = np.linalg.lstsq(x[ok][:, vary], y[ok, j], rcond=None)[0]
        left = y[ok, j] - x[ok] @ out[j]
        mine = np.array(names)[ok]
        for kind in kinds:
            count = int((mine == kind).sum())
            if count:  # pulled towards none: a refrigerant of few units says little
                offsets[kind][j] = left[mine == kind].mean() * count / (count + LEAST_UNITS)
    return out, offsets


def residual_of(
    row: tuple[np.ndarray, np.ndarray, str], expected: np.ndarray, offsets: dict[str, np.ndarray]
) -> np.ndarray:
    """Features of a row less what a healthy unit of its refrigerant shows under its conditions."""
    conditions_read, found, refrigerant = row
    left: np.ndarray = found - expected @ conditions_read - offsets.get(refrigerant, np.zeros(len(NAMES)))
    return left


def moments(residual: np.ndarray, healthy: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
    """Mean and covariance with missing values; a feature that hardly was read takes the healthy one's."""
    n = residual.shape[1]
    mean, covariance = np.zeros(n), np.zeros((n, n))
    known = np.isfinite(residual)
    few = known.sum(0) < 12
    clean = residual.copy()
    for j in range(n):
        if not few[j]:
            ok = known[:, j]
            inside = robust(residual[ok, j], 12.0)
            bad = np.flatnonzero(ok)[~inside]
            clean[bad, j] = np.nan
            mean[j] = np.nanmean(clean[:, j])
    known = np.isfinite(clean)
    centred = np.where(known, clean - mean, 0.0)
    pairs = known.T.astype(float) @ known.astype(float)
    covariance = (centred.T @ centred) / np.maximum(pairs, 1.0)
    covariance[pairs < 12] = 0.0
    diagonal = np.diag(np.diag(covariance))
    covariance = (1.0 - SHRINK) * covariance + SHRINK * diagonal
    if healthy is not None:
        for j in np.flatnonzero(few):
            covariance[j, :] = covariance[:, j] = 0.0
            covariance[j, j] = healthy[j, j]
        covariance = covariance + FLOOR * np.diag(np.diag(healthy))
    values, vectors = np.linalg.eigh(covariance)
    covariance = (vectors * np.maximum(values, 0.03)) @ vectors.T
    covariance += np.diag([DISCREPANCY[name] ** 2 for name in NAMES])
    return mean, covariance


def main() -> None:
    """Make the file."""
    groups: dict[tuple[str, str], dict[str, list[tuple[np.ndarray, np.ndarray, str]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    sources = []
    for path in sys.argv[1:]:
        file = np.load(path)
        if file["unit"].max() >= FIRST_REPORTED_UNIT:
            raise SystemExit(f"{path} holds units of the reported range: signatures must not see them")
        sources.append(str(file["provenance"]))
        for row in instruments.rows(file):
            cause = str(row["causes"])
            if "+" in cause:
                continue
            if cause != "healthy" and not shows(row, cause):
                continue
            rng = np.random.default_rng((int(row["unit"]), abs(hash_of(cause)), 1))
            key = (str(row["mode"]), str(row["device"]))
            read = instruments.read(row, rng)
            groups[key][cause].append(features_of(read))
            if cause == "healthy":
                for kind in instruments.SPOILS:
                    for _ in range(SPOILT):
                        spoilt = instruments.spoil(read, kind, rng)
                        if spoilt is not None:
                            groups[key][kind].append(features_of(spoilt))
    out: list[dict[str, Any]] = [{"provenance": "; ".join(sources)}]
    for (mode, device), causes in sorted(groups.items()):
        healthy_rows = causes["healthy"]
        expected, offsets = expectation(
            np.array([c for c, _, _ in healthy_rows]),
            np.array([f for _, f, _ in healthy_rows]),
            [r for _, _, r in healthy_rows],
        )
        healthy = moments(np.array([residual_of(row, expected, offsets) for row in healthy_rows]), None)
        table: dict[str, Any] = {"healthy": packed(*healthy, len(healthy_rows))}
        for cause in sorted(causes):
            if cause == "healthy" or len(causes[cause]) < 12:
                continue
            residual = np.array([residual_of(row, expected, offsets) for row in causes[cause]])
            table[cause] = packed(*moments(residual, healthy[1]), len(residual))
        out.append(
            {
                "mode": mode, "device": device, "features": NAMES,
                "expectation": [[rounded(v) for v in row] for row in expected],
                "refrigerants": {name: [rounded(v) for v in row] for name, row in offsets.items()}, "causes": table,
            }
        )  # fmt: skip
        print(mode, device, {cause: table[cause]["cases"] for cause in table})
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text("".join(json.dumps(line, separators=(",", ":")) + "\n" for line in out), encoding="utf-8")
    print(f"{OUT.stat().st_size / 1e3:.0f} kB in {OUT.name}")


def shows(row: instruments.Row, cause: str) -> bool:
    """Whether a case is strong enough to learn its cause from: by what it costs, or an overcharge by its size."""
    loss = max(float(row["capacity_loss"]), float(row["efficiency_loss"]))  # type: ignore[arg-type]
    return loss >= LEAST_LOSS or (cause == "overcharge" and float(row["charge_ratio"]) >= LEAST_OVERCHARGE)  # type: ignore[arg-type]


def packed(mean: np.ndarray, covariance: np.ndarray, cases: int) -> dict[str, Any]:
    """Mean, lower triangle of the covariance, number of cases."""
    return {
        "cases": cases,
        "mean": [rounded(v) for v in mean],
        "covariance": [rounded(v) for v in covariance[np.tril_indices(len(mean))]],
    }


def rounded(value: float) -> float:
    """Four significant digits are beyond what cases of a bench can say."""
    return float(f"{value:.4g}")


def hash_of(text: str) -> int:
    """A number that is the same in every process."""
    return sum(ord(c) * 31**k for k, c in enumerate(text)) % 2**31


if __name__ == "__main__":
    main()
