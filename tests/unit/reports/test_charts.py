"""The strip chart and the feed-held scale, as data and as drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.reports.report_doubles import (
    BY_HAND,
    CEILING,
    OFFSET,
    R410A,
    ROOFTOP,
    START,
    channel_missing,
    fixed,
    long_log,
    not_valid,
    regulating,
    seven_rows,
    undecided,
)

from steadfeed.analysis.challenge import Judgement
from steadfeed.circuit.phase import Mark, Phases
from steadfeed.circuit.recording import Recording
from steadfeed.circuit.verdict import FeedHeld
from steadfeed.physics.properties import curves
from steadfeed.reports import feed_scale, strip_chart
from steadfeed.reports.chart_data import strip_chart as chart_of
from steadfeed.reports.numbers import Numbers
from steadfeed.reports.strip_chart import NARROW, WIDE, StripChart, axis, strokes
from steadfeed.reports.svg import text_width

SVG = "{http://www.w3.org/2000/svg}"
LAYOUTS = (WIDE, NARROW)


def chart(judgement: Judgement, system=ROOFTOP, units="us") -> StripChart:  # type: ignore[no-untyped-def]
    made, _ = chart_of(judgement, system, curves(R410A), Numbers(units))
    assert made is not None
    return made


def notes(judgement: Judgement, system=ROOFTOP) -> str:  # type: ignore[no-untyped-def]
    return " ".join(chart_of(judgement, system, curves(R410A), Numbers("us"))[1])


def many_marks() -> Judgement:
    judgement = regulating()
    minutes = (1, 1.2, 1.4, 5, 12, 12.3, 12.6, 13, 13.3, 20, 20.4, 27, 30, 45)
    marks = tuple(Mark(START + 60 * m, "note", f"step {m}") for m in minutes)
    return replace(judgement, recording=replace(judgement.recording, marks=marks))


def no_times() -> Judgement:
    judgement = regulating()
    return replace(
        judgement,
        recording=replace(judgement.recording, elapsed=True),
        assessment=replace(judgement.assessment, phases=Phases(), ceiling=None),
    )


CASES = {
    "regulating": (regulating(), ROOFTOP, "us"),
    "fixed": (fixed(), ROOFTOP, "us"),
    "undecided in SI": (undecided(), ROOFTOP, "si"),
    "not valid": (not_valid(), ROOFTOP, "us"),
    "channel missing": (channel_missing(), ROOFTOP, "us"),
    "seven rows": (seven_rows(), BY_HAND, "us"),
    "two hours": (long_log(), ROOFTOP, "us"),
    "many marks": (many_marks(), ROOFTOP, "us"),
    "no times": (no_times(), ROOFTOP, "us"),
}


@pytest.fixture(params=list(CASES))
def drawn(request: pytest.FixtureRequest) -> StripChart:
    judgement, system, units = CASES[request.param]
    return chart(judgement, system, units)


def words_of(svg: str) -> Iterator[tuple[str, float, float, float, float]]:
    """Each text with the box that it takes: left, top, right, bottom."""
    root = ET.fromstring(svg)
    for element in root.iter(f"{SVG}text"):
        if element.get("aria-hidden"):
            continue
        size = float(element.get("font-size") or root.get("font-size") or 0)
        text = element.text or ""
        width = 0.97 * text_width(text, size)
        x, y = float(element.get("x") or 0), float(element.get("y") or 0)
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")] * width
        yield text, left, y - 0.74 * size, left + width, y + 0.1 * size


@pytest.mark.parametrize("layout", LAYOUTS, ids=["wide", "narrow"])
def test_no_word_lies_on_another_or_leaves_the_paper(drawn: StripChart, layout: strip_chart.Layout) -> None:
    svg = strip_chart.draw(drawn, layout)
    _, _, width, height = map(float, (ET.fromstring(svg).get("viewBox") or "").split())
    boxes = list(words_of(svg))
    assert len(boxes) > 12
    for text, left, top, right, bottom in boxes:
        assert left >= -0.5, text
        assert right <= width + 0.5, text
        assert top >= 0, text
        assert bottom <= height, text
    for (a, al, at, ar, ab), (b, bl, bt, br, bb) in combinations(boxes, 2):
        assert ar <= bl or br <= al or ab <= bt or bb <= at, f"“{a}” and “{b}” overlap"


@pytest.mark.parametrize("layout", LAYOUTS, ids=["wide", "narrow"])
def test_the_drawing_is_well_formed_and_asks_for_nothing(drawn: StripChart, layout: strip_chart.Layout) -> None:
    svg = strip_chart.draw(drawn, layout, "x")
    root = ET.fromstring(svg)
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "x-title x-desc"
    assert root.findtext(f"{SVG}title") == drawn.title
    assert root.findtext(f"{SVG}desc") == drawn.description
    assert "href" not in svg
    assert "<script" not in svg
    assert svg.count("http") == 1, "only the name space"
    assert "nan" not in svg.replace("standstill", "")


def test_pens_differ_without_colour_and_carry_their_word() -> None:
    svg = strip_chart.draw(chart(regulating()))
    root = ET.fromstring(svg)
    pens = [p for p in root.iter(f"{SVG}path") if float(p.get("stroke-width") or 0) >= 2.4]
    looks = {(p.get("stroke-dasharray"), p.get("stroke")) for p in pens}
    assert looks == {(None, "#9E1216"), ("9 5", "#0A3E8C"), (None, "#16181D"), ("0.1 5.2", "#16181D")}
    words = {text for text, *_ in words_of(svg)}
    assert {"head", "suction", "superheat", "subcooling", "psig", "°F", "ceiling 445 psig"} <= words
    assert {"settle", "baseline", "push", "hold", "restore", "recovery", "standstill"} <= words


def test_two_hours_with_15_000_rows_stay_small_and_keep_their_extremes() -> None:
    judgement = long_log()
    assert len(judgement.recording) > 15_000
    made = chart(judgement)
    assert len(strip_chart.draw(made, WIDE)) < 45_000
    assert len(strip_chart.draw(made, NARROW)) < 30_000
    assert judgement.trace is not None
    head = next(pen for pen in made.pens if pen.name == "head")
    values = [v for stroke in head.strokes for _, v in stroke]
    shown = Numbers("us")
    assert max(values) == pytest.approx(shown.display(float(judgement.trace.head_pressure.max()), "pressure"), abs=1e-3)
    assert min(values) == pytest.approx(shown.display(float(judgement.trace.head_pressure.min()), "pressure"), abs=1e-3)


def test_a_gap_in_the_readings_is_a_gap_in_the_pen() -> None:
    judgement = long_log()
    made = chart(judgement)
    suction = next(pen for pen in made.pens if pen.name == "suction")
    assert len(suction.strokes) == 2
    step = 0.48
    assert suction.strokes[0][-1][0] == pytest.approx(3999 * step, abs=0.1)
    assert suction.strokes[1][0][0] == pytest.approx(4600 * step, abs=0.1)
    assert "Where a pen breaks off, readings are missing." in notes(judgement)
    assert "breaks off" not in notes(regulating())


series = st.lists(st.one_of(st.floats(-500, 500), st.just(float("nan"))), min_size=1, max_size=400)


@given(series, st.integers(2, 40))
def test_thinning_keeps_order_extremes_ends_and_gaps(values: list[float], columns: int) -> None:
    y = np.array(values)
    t = np.arange(y.size, dtype=float)
    runs = strokes(t, y, max(float(t[-1]), 1.0), np.inf, columns)
    kept = [v for run in runs for _, v in run]
    good = y[np.isfinite(y)]
    if good.size == 0:
        assert runs == ()
        return
    assert min(kept) == round(float(good.min()), 3)
    assert max(kept) == round(float(good.max()), 3)
    times = [at for run in runs for at, _ in run]
    assert times == sorted(set(times))
    ends = np.flatnonzero(np.diff(np.isfinite(np.concatenate([[np.nan], y, [np.nan]])).astype(int)))
    assert [at for run in runs for at in (run[0][0], run[-1][0])] == [
        float(edge) for first, after in zip(ends[::2], ends[1::2], strict=True) for edge in (first, after - 1)
    ]
    assert all(len(run) <= 4 * columns + 8 for run in runs)


@given(st.floats(-300, 300), st.floats(0.1, 700), st.integers(2, 6))
def test_an_axis_covers_its_values_with_even_ticks(low: float, length: float, wanted: int) -> None:
    made = axis("psig", [low, low + length], wanted)
    assert made.low <= low + 1e-6
    assert made.high >= low + length - 1e-6
    assert 2 <= len(made.ticks) <= wanted + 3
    assert np.allclose(np.diff(made.ticks), made.ticks[1] - made.ticks[0])


def test_readings_by_hand_are_points() -> None:
    made = chart(seven_rows(), BY_HAND)
    assert made.points
    root = ET.fromstring(strip_chart.draw(made))
    circles, squares = (
        list(root.iter(f"{SVG}circle")),
        [r for r in root.iter(f"{SVG}rect") if r.get("stroke-width") == "1.7"],
    )
    assert len(circles) == 7 + 5, "seven heads, superheat in the five rows with the compressor running"
    assert len(squares) == 7 + 5
    assert not chart(regulating()).points
    assert "Points are readings taken by hand" in notes(seven_rows(), BY_HAND)


def test_superheat_ends_where_the_compressor_stops() -> None:
    judgement = regulating()
    stop = judgement.assessment.phases.standstill
    assert stop is not None
    pens = {pen.name: pen for pen in chart(judgement).pens}
    assert pens["superheat"].strokes[-1][-1][0] < stop - START
    assert pens["head"].strokes[-1][-1][0] > stop - START


def test_what_is_missing_is_named_and_the_rest_is_drawn() -> None:
    made = chart(channel_missing())
    assert {pen.name for pen in made.pens} == {"head", "suction", "superheat"}
    assert "Not in this log, so not drawn: subcooling." in notes(channel_missing())
    assert "Missing: subcooling." in made.description


def test_without_the_refrigerant_only_pressures_are_drawn() -> None:
    made, said = chart_of(channel_missing(), ROOFTOP, None, Numbers("us"))
    assert made is not None
    assert made.lower is None
    assert {pen.name for pen in made.pens} == {"head", "suction"}
    assert "superheat, subcooling" in " ".join(said)
    ET.fromstring(strip_chart.draw(made))


def test_a_log_without_pressure_has_no_chart_and_says_so() -> None:
    judgement = channel_missing()
    channels = {k: c for k, c in judgement.recording.channels.items() if "pressure" not in k}
    bare = replace(judgement, recording=replace(judgement.recording, channels=channels))
    made, said = chart_of(bare, ROOFTOP, curves(R410A), Numbers("us"))
    assert made is None
    assert said == ("There is no pressure in this log that could be drawn.",)


@pytest.mark.parametrize("rows", [1, 2, 3])
def test_the_shortest_logs_are_drawn(rows: int) -> None:
    judgement = channel_missing()
    made = judgement.recording
    short = Recording(
        made.time[:rows],
        {k: replace(c, values=c.values[:rows]) for k, c in made.channels.items()},
        utc_offset=OFFSET,
    )
    drawing = strip_chart.draw(chart(replace(judgement, recording=short)))
    assert "nan" not in drawing.replace("standstill", "")
    ET.fromstring(drawing)


def test_the_ceiling_is_on_the_paper_as_the_gauge_shows_it() -> None:
    made = chart(regulating())
    assert made.ceiling == pytest.approx(445.0)
    assert made.upper.high > 445.0
    assert "set by the high-pressure switch less a margin" in notes(regulating())
    judgement = regulating()
    far = replace(judgement, assessment=replace(judgement.assessment, ceiling=CEILING + 2e6))
    assert chart(far).upper.high > 700


def test_marks_too_near_each_other_share_a_label_and_those_outside_have_none() -> None:
    made = chart(many_marks())
    assert [flag.number for flag in made.flags] == list(range(1, 14)), "the fourteenth lies after the log"
    words = [text for text, *_ in words_of(strip_chart.draw(made))]
    assert {"1–3", "4", "5–9", "10–11"} <= set(words)


def test_times_are_of_the_clock_or_counted_when_the_log_has_no_clock() -> None:
    assert ("15:20" in {label for _, label in chart(regulating()).time_ticks}) is True
    elapsed = chart(no_times())
    assert elapsed.time_word == "min"
    assert [label for _, label in elapsed.time_ticks][:3] == ["0", "5", "10"]
    assert elapsed.bands == ()


# -- the scale ---------------------------------------------------------------------------------------------------------
def scale_svg(held: FeedHeld | None, layout: feed_scale.Layout = feed_scale.WIDE) -> str:
    return feed_scale.draw(feed_scale.feed_scale(held), layout)


HELD = [
    FeedHeld(0.81, 0.69, 0.93),
    FeedHeld(0.12, -0.08, 0.31),
    FeedHeld(-1.4, -2.1, -0.6),
    FeedHeld(1.15, 0.72, 1.9),
    FeedHeld(0.5, -9.0, 9.0),
    FeedHeld(0.0, 0.0, 0.0),
    None,
]


@pytest.mark.parametrize("held", HELD)
@pytest.mark.parametrize("layout", [feed_scale.WIDE, feed_scale.NARROW], ids=["wide", "narrow"])
def test_the_scale_names_its_ends_and_no_word_lies_on_another(held: FeedHeld | None, layout: feed_scale.Layout) -> None:
    boxes = list(words_of(scale_svg(held, layout)))
    texts = [text for text, *_ in boxes]
    assert {"acts fixed", "holds the feed", "0 %", "100 %"} <= set(texts)
    assert len([text for text in texts if text.startswith("feed held")]) == 1
    for text, left, _, right, _ in boxes:
        assert left >= -0.5, text
        assert right <= layout.width + 0.5, text
    for (a, al, at, ar, ab), (b, bl, bt, br, bb) in combinations(boxes, 2):
        assert ar <= bl or br <= al or ab <= bt or bb <= at, f"“{a}” and “{b}” overlap"


def test_the_scale_is_uncoloured() -> None:
    for held in HELD:
        colours = {
            element.get(key)
            for element in ET.fromstring(scale_svg(held)).iter()
            for key in ("fill", "stroke")
            if element.get(key)
        }
        assert colours <= {"#16181D", "#474C54", "#FFFFFF", "none"}


def solids(held: FeedHeld | None) -> int:
    return len([p for p in ET.fromstring(scale_svg(held)).iter(f"{SVG}path") if p.get("fill") == "#16181D"])


def test_what_lies_outside_the_paper_is_an_arrow_and_keeps_its_number() -> None:
    assert solids(FeedHeld(0.81, 0.69, 0.93)) == 1, "the mark alone"
    assert solids(FeedHeld(1.0, 0.9, 1.9)) == 2, "the mark and an arrow at the far end"
    assert solids(FeedHeld(0.5, -9.0, 9.0)) == 3, "the mark and two arrows"
    assert solids(None) == 0, "nothing is drawn where nothing is known"
    assert "feed held −140 % (−210 to −60)" in scale_svg(FeedHeld(-1.4, -2.1, -0.6))
    assert "feed held: no figure" in scale_svg(None)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.4))
def test_the_mark_stands_where_the_number_says(value: float, half: float) -> None:
    root = ET.fromstring(scale_svg(FeedHeld(value, value - half, value + half)))
    mark = next(p for p in root.iter(f"{SVG}path") if p.get("fill") == "#16181D" and (p.get("d") or "").endswith("z"))
    at = float((mark.get("d") or "")[1:].split(" ")[0])
    zero, whole = 720 * 0.2 / 1.4, 720 / 1.4
    if -half + value > -0.165 and value + half < 1.165:
        assert at == pytest.approx(zero + value * whole, abs=0.06)


def test_the_word_of_a_ceiling_that_pens_cross_stands_clear_of_them() -> None:
    """A ceiling below the running head, as with an unknown switch: its word still reads."""
    judgement = regulating()
    for ceiling in (320, 338, 345, 430):
        low = replace(judgement, assessment=replace(judgement.assessment, ceiling=(ceiling + 14.696) * 6894.757))
        made = chart(low)
        for layout in LAYOUTS:
            root = ET.fromstring(strip_chart.draw(made, layout))
            box = next(b for b in words_of(strip_chart.draw(made, layout)) if b[0].startswith("ceiling"))
            head = next(p for p in root.iter(f"{SVG}path") if p.get("stroke") == "#9E1216" and p.get("stroke-linecap"))
            x = y = 0.0
            for i, step in enumerate((head.get("d") or "")[1:].split("l")):
                a, b = map(float, step.split(" "))
                x, y = (a, b) if i == 0 else (x + a, y + b)
                assert not (box[1] < x < box[3] and box[2] < y < box[4]), f"ceiling {ceiling} at {layout.width}"
