"""Write the figures of docs/bench.md and the strip charts of its metering devices.

    python tools/bench_figures.py

Takes about a minute. Everything between the two marks of the page is replaced, and docs/pictures/bench-devices.svg is
drawn anew. The runs are those of tests/published/test_bench_*.py.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
for part in ("tests", "tests/published"):
    sys.path.insert(0, str(ROOT / part))

import test_bench_compressor as compressor_test  # noqa: E402
import test_bench_rating as rating_test  # noqa: E402
import test_bench_rig as rig_test  # noqa: E402

from bench_runs import PARKED, after_push, baseline, challenge, change, conditions, steady, unit  # noqa: E402
from published_rows import rows  # noqa: E402
from steadfeed.bench.design import Device, fahrenheit, split_system  # noqa: E402
from steadfeed.bench.faults import HEALTHY, Faults  # noqa: E402
from steadfeed.bench.heat_pump import heating, heating_conditions  # noqa: E402
from steadfeed.bench.metering import MeteringFaults  # noqa: E402
from steadfeed.bench.plant import Plant  # noqa: E402
from steadfeed.bench.run import History, script, simulate  # noqa: E402
from steadfeed.bench.state import State  # noqa: E402
from steadfeed.physics.properties import curves  # noqa: E402
from steadfeed.units import PSI, STANDARD_ATMOSPHERE, TON  # noqa: E402

PAGE = ROOT / "docs" / "bench.md"
PICTURE = ROOT / "docs" / "pictures" / "bench-devices.svg"
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"
TXV = unit(superheat_degf=9.0)


def table(head: Iterable[str], lines: Iterable[Iterable[object]]) -> Iterator[str]:
    """Lines of a Markdown table."""
    names = list(head)
    yield "| " + " | ".join(names) + " |"
    yield "|" + "---|" * len(names)
    for line in lines:
        yield "| " + " | ".join(str(cell) for cell in line) + " |"
    yield ""


def ratios(state: State) -> tuple[float, float]:
    """Capacity and power over the healthy unit at point A."""
    rated = steady(TXV)
    return state.circuits[0].evaporator_heat / rated.circuits[0].evaporator_heat, state.power / rated.power


def point_a() -> Iterator[str]:
    """Capacity, efficiency and pressures at the rating point."""
    yield "**Units sized for point A** (95 °F outdoors, 80/67 °F indoors, 3 tons, TXV, scroll):\n"

    def line(name: str) -> list[object]:
        state = steady(unit("txv", name))
        c = state.circuits[0]
        low, high = rating_test.USUAL_PRESSURES[name]
        psig = [(p - STANDARD_ATMOSPHERE) / PSI for p in (c.suction_pressure, c.liquid_pressure)]
        return [
            name, f"{c.evaporator_heat / TON * 12000 / 3:,.0f}", f"{c.evaporator_heat / state.power:.2f}",
            f"{psig[0]:.0f} ({low[0]}–{low[1]})", f"{psig[1]:.0f} ({high[0]}–{high[1]})",
            f"{c.superheat * 1.8:.1f}", f"{c.subcooling * 1.8:.1f}",
        ]  # fmt: skip

    yield from table(
        ["refrigerant", "Btu/h per ton", "gross COP", "suction, psig (usual)", "liquid, psig (usual)", "superheat, °F", "subcooling, °F"],
        map(line, rating_test.USUAL_PRESSURES),
    )  # fmt: skip


def off_design() -> Iterator[str]:
    """Weather and airflow away from the rating point."""
    yield "**Away from point A**, R-410A, over its value there (outside: fits over many units, NREL/TP-5500-56354):\n"
    lines: list[list[object]] = []
    for outdoor in (75.0, 82.0, 105.0, 115.0):
        capacity, power = ratios(steady(TXV, outdoor=outdoor))
        published = [
            rating_test.temperatures(k, 67, outdoor) / rating_test.temperatures(k, 67, 95)
            for k in ("capacity_ft_F", "EIR_ft_F")
        ]
        lines.append(
            [f"{outdoor:.0f} °F outdoors", f"{capacity:.3f}", f"{published[0]:.3f}", f"{power / capacity:.3f}", f"{published[1]:.3f}"]
        )  # fmt: skip
    for wet in (62.0, 71.0):
        capacity, power = ratios(steady(TXV, wet_bulb=wet))
        published = [
            rating_test.temperatures(k, wet, 95) / rating_test.temperatures(k, 67, 95)
            for k in ("capacity_ft_F", "EIR_ft_F")
        ]
        lines.append(
            [f"{wet:.0f} °F indoor wet bulb", f"{capacity:.3f}", f"{published[0]:.3f}", f"{power / capacity:.3f}", f"{published[1]:.3f}"]
        )  # fmt: skip
    for flow in (0.8, 0.9, 1.1, 1.2):
        capacity, _ = ratios(steady(TXV, airflow=flow))
        c = rating_test.CURVES["capacity_fflow"]
        lines.append(
            [
                f"{flow:.1f} of the indoor airflow",
                f"{capacity:.3f}",
                f"{c[0] + c[1] * flow + c[2] * flow**2:.3f}",
                "",
                "",
            ]
        )
    yield from table(["", "capacity", "outside", "input per capacity", "outside"], lines)


def faults() -> Iterator[str]:
    """What faults cost."""
    yield "**Faults with a TXV** at point A, over the healthy unit:\n"
    nist = {
        float(r["F"]): r
        for r in rows("charge_faults_nist_tn1848.csv")
        if r["T_in_C"] == "26.67" and r["T_out_C"] == "35.0"
    }
    cheung = {(r["fault"].split(" (")[0], float(r["F"])): r for r in rows("fault_ratios_cheung_braun.csv")}
    cases: list[tuple[str, Faults, str, float]] = [
        *((f"charge −{f:.0%}", Faults(charge=1 - f), "undercharge", f) for f in (0.1, 0.2, 0.3)),
        *((f"charge +{f:.0%}", Faults(charge=1 + f), "overcharge", f) for f in (0.1, 0.2, 0.3)),
        *(
            (f"condenser air −{f:.0%}", Faults(condenser_fouling=f), "condenser airflow loss", f)
            for f in (0.1, 0.3, 0.5)
        ),
        *((f"non-condensables {f}", Faults(non_condensables=f), "non-condensables", f) for f in (0.1, 0.3)),
        *(
            (f"liquid line restriction {f}", Faults(liquid_restriction=f), "liquid line restriction", f)
            for f in (0.1, 0.25)
        ),
        *((f"indoor air −{f:.0%}", Faults(indoor_airflow=f), "evaporator airflow loss", f) for f in (0.1, 0.3, 0.5)),
    ]
    lines = []
    for text, fault, name, share in cases:
        capacity, power = ratios(steady(TXV, fault))
        signed = -share if name == "undercharge" else share
        n = nist.get(signed) if "charge" in name else None
        outside = f"{float(n['capacity_ratio']):.3f} / {float(n['power_ratio']):.3f}" if n else ""
        c = cheung[(name, share)]
        c_power = float(c["capacity_ratio"]) * float(c["EIR_ratio"])
        lines.append(
            [text, f"{capacity:.3f} / {power:.3f}", outside, f"{float(c['capacity_ratio']):.3f} / {c_power:.3f}"]
        )
    yield from table(["fault", "bench: capacity / power", "NIST TN 1848 (TXV)", "NREL/SR-5500-65030 (mixed)"], lines)


DEVICES: list[tuple[str, Device, Faults]] = [
    ("TXV", "txv", HEALTHY),
    ("EEV", "eev", HEALTHY),
    ("TXV parked where it stood", "txv", PARKED),
    ("fixed orifice", "fixed orifice", HEALTHY),
]


def slopes() -> Iterator[str]:
    """What a push does to each device."""
    yield "**Slopes over a push** of about 17 °F, 12 °F of superheat at the start, R-410A / R-22 / R-32 (outside: independent simulation, 5–95 %):\n"
    outside = {(r["quantity"], r["device"]): r for r in rows("challenge_slopes.csv")}
    keys = {"TXV": "txv", "EEV": "eev", "TXV parked where it stood": "parked", "fixed orifice": "fixed orifice"}

    def slope(h: History, name: str) -> float:
        return change(h, name) / change(h, "condensing_temperature")

    lines = []
    for text, device, fault in DEVICES:
        runs = [challenge(unit(device, r), fault) for r in ("R-410A", "R-22", "R-32")]
        line: list[object] = [text]
        for quantity, key in (
            ("evaporating_temperature", "evaporating_per_condensing"),
            ("superheat", "superheat_per_condensing"),
        ):
            o = outside[(key, keys[text])]
            line += [
                " / ".join(f"{slope(h, quantity):.2f}" for h in runs),
                f"{float(o['low']):.2f}…{float(o['high']):.2f}",
            ]
        line.append(" / ".join(f"{change(h, 'subcooling') * 1.8:+.1f}" for h in runs))
        lines.append(line)
    yield from table(
        ["device", "evaporating, °F per °F", "outside", "superheat, °F per °F", "outside", "subcooling changes by, °F"],
        lines,
    )
    high = [challenge(unit("txv", r, superheat_degf=22.0), PARKED, cover=0.45) for r in ("R-410A", "R-22", "R-32")]
    yield (
        "Parked, starting at 22 °F so that nothing is cut off: superheat "
        + " / ".join(f"{slope(h, 'superheat'):.2f}" for h in high)
        + " °F per °F (outside −0.58…−1.70), evaporating "
        + " / ".join(f"{slope(h, 'evaporating_temperature'):.2f}" for h in high)
        + ".\n"
    )


def times() -> Iterator[str]:
    """How long things take in a push."""
    txv, eev, parked = (challenge(unit(d), f) for _, d, f in DEVICES[:3])

    def moved(h: History) -> np.ndarray:
        return np.asarray(np.abs(after_push(h, "superheat") - baseline(h, "superheat")) * 1.8)

    rise = (after_push(txv, "condensing_temperature") - baseline(txv, "condensing_temperature")) * 1.8
    outside = np.flatnonzero(moved(eev) > 2.0)
    plant = Plant(unit(), inputs=conditions())
    free = simulate(plant, script(conditions(), (700.0, {"cover": 1.0, "outdoor_fans": 0.0})), 730.0)
    climb = (free["condensing_temperature"][725] - free["condensing_temperature"][702]) * 1.8 / 23.0
    yield "**Times** from the first cover (three steps within 30 s), R-410A:\n"
    yield from table(
        ["", "bench", "outside"],
        [
            ["condensing up by 15 °F", f"{int(np.argmax(rise >= 15)) + 1} s", "about 50 s"],
            ["superheat of a parked valve moved by 5 °F", f"{int(np.argmax(moved(parked) > 5)) + 1} s", "42 s (33–58)"],
            ["largest swing of a good TXV", f"{moved(txv).max():.1f} °F", "within 3 °F in 95 %"],
            ["largest swing of an EEV", f"{moved(eev).max():.1f} °F", "6 °F (3–11)"],
            ["EEV back within 2 °F", f"{int(outside.max()) + 2} s", "146 s (77–207)"],
            ["climb without heat rejection", f"{climb:.2f} °F/s", "about 1.2 °F/s"],
        ],
    )


def rig() -> Iterator[str]:
    """The measured rig."""
    yield "**The measured R-12 rig**, condenser fan slowed (tests/published/test_bench_rig.py):\n"
    lines = []
    for device in ("TXV", "capillary tube"):
        bench, measured = rig_test.slopes(device), rig_test.rig(device)
        lines.append(
            [device, f"{bench[0]:.2f} / {measured[0]:.2f}", f"{bench[1]:.2f} / {measured[1]:.2f}", f"{bench[2]:.3f} / {measured[2]:.3f}"]
        )  # fmt: skip
    yield from table(
        [
            "device",
            "superheat, °F per °F: bench / rig",
            "evaporating, °F per °F: bench / rig",
            "flow ratio: bench / rig",
        ],
        lines,
    )


def others() -> Iterator[str]:
    """Compressors and heating."""
    lines = [
        [kind, f"{compressor_test.slope_of_bench(kind, r):.3f}", outside]
        for kind, r, outside in (
            ("scroll", "R-410A", "−0.025…−0.041 (flat maps)"),
            ("rotary", "R-22", "−0.006…−0.16 (all maps)"),
            ("reciprocating", "R-22", "−0.006…−0.16 (all maps)"),
        )
    ]
    yield "**Compressors**: d ln flow / d pressure ratio at 45 °F evaporating, 100 to 130 °F condensing:\n"
    yield from table(["kind", "bench", "published ten-coefficient maps"], lines)
    yield "**Heating** of the 3-ton R-410A unit, 70 °F indoors, no defrost counted:\n"
    heat_pump = heating(TXV)
    lines = []
    for outdoor in (60.0, 47.0, 35.0, 17.0):
        inputs = heating_conditions(fahrenheit(outdoor))
        plant = Plant(heat_pump, inputs=inputs, step=0.5)
        for _ in range(120):
            state = plant.advance(10.0, inputs)
        lines.append(
            [f"{outdoor:.0f} °F", f"{state.total_heat / TON * 12000:,.0f}", f"{state.total_heat / state.power:.2f}",
             f"{state.circuits[0].evaporating_temperature * 1.8 - 459.67:.0f}",
             f"{state.circuits[0].condensing_temperature * 1.8 - 459.67:.0f}"]
        )  # fmt: skip
    yield from table(["outdoors", "heat, Btu/h", "COP", "evaporating, °F", "condensing, °F"], lines)


def steps() -> Iterator[str]:
    """What halving the step changes."""
    yield "**Step length**: largest difference in a challenge, from three minutes after the start, when the step of 0.25 s is halved; and in the first three minutes:\n"
    names = ("evaporating_temperature", "condensing_temperature", "superheat", "subcooling")
    changes = ((600.0, {"cover": 0.2}), (615.0, {"cover": 0.4}), (630.0, {"cover": 0.5}), (900.0, {"cover": 0.0}))
    lines = []
    for text, device, fault in DEVICES:
        usual, half = (
            simulate(Plant(unit(device), fault, step=h), script(conditions(), *changes), 1100.0) for h in (0.25, 0.125)
        )
        difference = {n: np.abs(usual[n] - half[n]) * 1.8 for n in names}
        lines.append([text, *(f"{d[180:].max():.2f} ({d[:180].max():.1f})" for d in difference.values())])
    yield from table(["device", "evaporating, °F", "condensing, °F", "superheat, °F", "subcooling, °F"], lines)


# -- strip charts ------------------------------------------------------------------------------------------------------
WIDTH, HEIGHT, LEFT, GAP = 300, 210, 34, 18
INK, LOW, HIGH, MUTED, GROUND = "#16181D", "#0A3E8C", "#9E1216", "#474C54", "#FAF8F2"


def faulty(**faults: object) -> Faults:
    """A circuit whose metering device has a fault."""
    return Faults(metering=MeteringFaults(**faults))  # type: ignore[arg-type]


CHARTS: list[tuple[str, Device, dict[str, float], Faults]] = [
    ("good TXV", "txv", {}, HEALTHY),
    ("TXV, bleed port", "txv", {"bleed": 0.15}, HEALTHY),
    ("TXV, hard shut-off", "txv", {"leak": 0.0}, HEALTHY),
    ("TXV, MOP at 52 °F", "txv", {"mop": curves("R-410A").dew_pressure(fahrenheit(57.0))}, HEALTHY),
    ("TXV parked", "txv", {}, PARKED),
    ("TXV, weak element", "txv", {}, faulty(strength=0.3)),
    ("TXV, sticking stem", "txv", {}, faulty(friction=2.5 / 1.8)),
    ("TXV hunting: half-plugged equalizer", "txv", {}, faulty(equalizer_lag=8.0)),
    ("TXV, equalizer plugged", "txv", {}, faulty(equalizer_plugged=True)),
    ("TXV at its stop: undersized", "txv", {}, faulty(undersized=0.55)),
    ("TXV, bulb loose", "txv", {}, faulty(bulb_contact=0.7)),
    ("TXV, a third of the bulb's charge lost", "txv", {}, faulty(bulb_empty=0.3)),
    ("TXV, screen plugged", "txv", {}, faulty(screen=1.0)),
    ("TXV, leaking check valve", "txv", {}, faulty(bypass=0.3)),
    ("EEV", "eev", {}, HEALTHY),
    ("EEV stuck", "eev", {}, faulty(parked=0.6)),
    ("fixed orifice", "fixed orifice", {}, HEALTHY),
    ("fixed orifice, charge −20 %", "fixed orifice", {}, Faults(charge=0.8)),
]


def pen(x: np.ndarray, y: np.ndarray, low: float, high: float, style: str) -> str:
    """One line of a strip chart."""
    at = LEFT + x / x[-1] * (WIDTH - LEFT - GAP)
    up = HEIGHT - 22 - (np.clip(y, low, high) - low) / (high - low) * (HEIGHT - 44)
    points = " ".join(f"{a:.0f},{b:.1f}" for a, b in zip(at, up, strict=True))
    return f'<polyline fill="none" points="{points}" {style}/>'


def chart(title: str, history: History) -> str:
    """One strip chart."""
    keep = slice(0, None, 7)
    t = history.time[keep]
    suction, head = (history[n][keep] / PSI for n in ("suction_pressure", "liquid_pressure"))
    superheat, subcooling = (history[n][keep] * 1.8 for n in ("superheat", "subcooling"))
    frame = f'<rect x="{LEFT}" y="22" width="{WIDTH - LEFT - GAP}" height="{HEIGHT - 44}" fill="none" stroke="{MUTED}" stroke-width="0.6"/>'
    marks = "".join(
        f'<text x="{LEFT - 4}" y="{HEIGHT - 22 - k * (HEIGHT - 44) / 3 + 3:.0f}" text-anchor="end">{200 * k}</text>'
        f'<text x="{WIDTH - GAP + 3}" y="{HEIGHT - 22 - k * (HEIGHT - 44) / 3 + 3:.0f}">{20 * k}</text>'
        for k in range(4)
    )
    clock = "".join(
        f'<text x="{LEFT + m * 60 / t[-1] * (WIDTH - LEFT - GAP):.0f}" y="{HEIGHT - 9}" text-anchor="middle">{m}</text>'
        for m in (0, 15, 21, 25)
    )
    return (
        f'<text x="{LEFT}" y="15" font-size="12" font-weight="bold">{title}</text>{frame}{marks}{clock}'
        + pen(t, suction, 0, 600, f'stroke="{LOW}" stroke-width="1.6" stroke-dasharray="5 3"')
        + pen(t, head, 0, 600, f'stroke="{HIGH}" stroke-width="1.6"')
        + pen(t, superheat, 0, 60, f'stroke="{INK}" stroke-width="1.6"')
        + pen(t, subcooling, 0, 60, f'stroke="{INK}" stroke-width="1.2" stroke-dasharray="1 3"')
    )


def picture() -> str:
    """All strip charts as one SVG."""
    columns = 3
    drawn = []
    for k, (title, device, txv, fault) in enumerate(CHARTS):
        made = split_system(curves("R-410A"), device=device, txv=txv or None) if txv else unit(device)
        x, y = (k % columns) * WIDTH, (k // columns) * HEIGHT + 22
        drawn.append(f'<g transform="translate({x},{y})">{chart(title, challenge(made, fault))}</g>')
    width, height = columns * WIDTH, -(-len(CHARTS) // columns) * HEIGHT + 26
    legend = (
        "left scale: psia, suction dashed blue, liquid pressure red · right scale: °F, superheat ink, subcooling dotted · "
        "minutes: cover at 15, restored at 21, stopped at 25"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="9" '
        f'fill="{INK}"><title>Strip charts of every metering device of the bench over one challenge</title>'
        f'<rect width="{width}" height="{height}" fill="{GROUND}"/><text x="{LEFT}" y="16" font-size="9.5">{legend}</text>'
        + "".join(drawn)
        + "</svg>\n"
    )


def main() -> None:
    """Write page and picture."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    after = rest.split(END)[1]
    parts = (point_a, off_design, faults, slopes, times, rig, others, steps)
    figures = "\n".join(line for part in parts for line in part())
    PAGE.write_text(f"{before}{BEGIN}\n\n{figures}\n{END}{after}", encoding="utf-8")
    PICTURE.write_text(picture(), encoding="utf-8")


if __name__ == "__main__":
    main()
