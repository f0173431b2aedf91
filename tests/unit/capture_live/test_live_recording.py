"""The recording that grows: the same rows whatever the order of arrival, and the same as the exported log's."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import samples
from steadfeed.analysis.challenge import judge
from steadfeed.capture.channel_map import Placed
from steadfeed.capture.live_recording import LiveRecording
from steadfeed.capture.live_rows import ClockError, logged_time, milliseconds
from steadfeed.capture.logs import parse_log
from steadfeed.capture.source import Reading
from steadfeed.circuit.equipment import Site, System
from steadfeed.circuit.phase import Mark
from steadfeed.circuit.recording import Recording
from steadfeed.physics.properties import curves

NOW = 1_785_000_000.0
SYSTEM = System(refrigerant="R-410A", site=Site(altitude=300.0))


def placed(
    channel: str,
    value: str | None,
    at: float | None,
    sequence: int,
    *,
    unit: str = "psig",
    source: str = "a",
    boot: str = "1",
    quality: str | None = None,
    read_by: str = "instrument",
) -> Placed:
    return Placed(Reading(source, boot, sequence, channel, value, unit, at, None, quality, read_by), channel, unit)


def same_recording(one: Recording, other: Recording) -> None:
    np.testing.assert_array_equal(one.time, other.time)
    assert list(one.channels) == list(other.channels)
    for name, channel in one.channels.items():
        twin = other.channels[name]
        np.testing.assert_array_equal(channel.values, twin.values, err_msg=name)
        assert (channel.unit, channel.resolution) == (twin.unit, twin.resolution), name
    assert (one.same is None) == (other.same is None)
    if one.same is not None and other.same is not None:
        np.testing.assert_array_equal(one.same, other.same)
    assert one.read_by == other.read_by
    assert one.atmosphere == other.atmosphere
    assert one.marks == other.marks
    assert one.circuit == other.circuit


def test_readings_that_come_together_share_a_row() -> None:
    live = LiveRecording(SYSTEM)
    for k in range(3):
        at = NOW + k
        live.add([placed("suction_pressure", f"{118 + k}", at, 2 * k)], at + 0.05)
        live.add([placed("liquid_pressure", f"{350 + k}", at, 2 * k + 1)], at + 0.06)
    recording = live.recording()
    assert recording.time.tolist() == [NOW, NOW + 1, NOW + 2]
    assert np.isfinite(recording.channels["suction_pressure"].values).all()
    assert np.isfinite(recording.channels["liquid_pressure"].values).all()
    assert recording.channels["suction_pressure"].resolution == pytest.approx(6894.757, rel=1e-6)


def test_instruments_out_of_step_are_gathered_into_rows() -> None:
    """Two instruments, one reading a second each, 0.4 s apart: complete rows, none made up."""
    live = LiveRecording(SYSTEM)
    for k in range(10):
        live.add([placed("suction_pressure", f"{118 + k}", NOW + k, k, source="gauge")], NOW + k)
        live.add(
            [placed("suction_line_temperature", f"{50 + k}", NOW + k + 0.4, k, unit="degF", source="clamp")],
            NOW + k + 0.4,
        )
    recording = live.recording()
    assert len(recording) == 10
    assert np.isfinite(recording.channels["suction_line_temperature"].values).all()
    assert recording.time[3] == NOW + 3


def test_a_row_is_never_wider_than_five_seconds() -> None:
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", "118", NOW, 0)], NOW)
    live.add([placed("liquid_pressure", "350", NOW + 5.1, 1)], NOW + 5.1)
    assert len(live) == 2
    other = LiveRecording(SYSTEM)
    other.add([placed("suction_pressure", "118", NOW, 0)], NOW)
    other.add([placed("liquid_pressure", "350", NOW + 5.0, 1)], NOW + 5.0)
    assert len(other) == 1


def test_a_lost_reading_does_not_shift_the_rows_after_it() -> None:
    """The set of second 1 lacks its suction reading; that of second 2, sent in another order, must not fill it."""
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", "118", NOW, 0), placed("liquid_pressure", "350", NOW, 1)], NOW)
    live.add([placed("liquid_pressure", "351", NOW + 1, 3)], NOW + 1)
    live.add([placed("suction_pressure", "119", NOW + 2, 4), placed("liquid_pressure", "352", NOW + 2, 5)], NOW + 2)
    recording = live.recording()
    assert recording.time.tolist() == [NOW, NOW + 1, NOW + 2]
    assert math.isnan(recording.channels["suction_pressure"].values[1])


@pytest.mark.parametrize(
    ("value", "unit", "quality"),
    [
        (None, "psig", None),
        ("nonsense", "psig", None),
        ("2e9", "psig", None),
        ("-15", "psig", None),
        ("118", "psig", "bad"),
    ],
)
def test_readings_that_say_nothing_make_no_row(value: str | None, unit: str, quality: str | None) -> None:
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", value, NOW, 0, unit=unit, quality=quality)], NOW)
    assert len(live) == 0
    assert live.newest == {}
    live.add([placed("suction_pressure", "118", NOW + 1, 1, unit=unit)], NOW + 1)
    assert len(live) == 1


def test_vacuum_has_no_sign_on_a_compound_gauge() -> None:
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", "10", NOW, 0, unit="inHg")], NOW)
    value = live.recording().channels["suction_pressure"].values[0]
    assert value == pytest.approx(97_773 - 33_864, abs=20)  # standard air at 300 m is 97.77 kPa (ISO 2533, table 1)


def test_what_was_given_out_does_not_change() -> None:
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", "118", NOW, 0)], NOW)
    before = live.recording()
    values = before.channels["suction_pressure"].values.copy()
    live.add([placed("suction_pressure", "50", NOW - 1, 1), placed("liquid_pressure", "350", NOW, 2)], NOW)
    np.testing.assert_array_equal(before.channels["suction_pressure"].values, values)
    assert len(before) == 1
    assert len(live) == 2


def test_another_unit_of_a_channel_is_brought_to_the_first_ones() -> None:
    live = LiveRecording(SYSTEM)
    live.add([placed("liquid_pressure", "350", NOW, 0)], NOW)
    live.add([placed("liquid_pressure", "24.2", NOW + 1, 1, unit="barg")], NOW + 1)
    channel = live.recording().channels["liquid_pressure"]
    assert channel.unit == "psig"
    assert channel.values[1] == pytest.approx(97_773 + 24.2e5, abs=20)
    same_recording(live.recording(), parse_log(live.log(), "log.csv", SYSTEM)[0])


def test_a_watched_circuit_has_its_own_readings_and_the_shared_ones() -> None:
    tested, watched = LiveRecording(SYSTEM), LiveRecording(SYSTEM, circuit="c2")
    readings = [
        placed("suction_pressure", "118", NOW, 0),
        placed("c2_suction_pressure", "121", NOW, 1),
        placed("outdoor_air_temperature", "95", NOW, 2, unit="degF"),
    ]
    tested.add(readings, NOW)
    watched.add(readings, NOW)
    assert tested.columns() == ("suction_pressure", "outdoor_air_temperature")
    assert watched.columns() == ("suction_pressure", "outdoor_air_temperature")
    assert watched.recording().channels["suction_pressure"].values[0] > tested.rows()[1][0, 0]


# -- wrong clocks -----------------------------------------------------------------------------------------------------
def stream(live: LiveRecording, error: float, seconds: range, source: str = "late", latency: float = 0.1) -> None:
    for k in seconds:
        live.add([placed("suction_pressure", f"{118 + k % 3}", NOW + k - error, k, source=source)], NOW + k + latency)


@pytest.mark.parametrize("error", [83.0, -83.0, 3600.0, 1.0])
def test_a_wrong_clock_is_noticed_and_taken_out(error: float) -> None:
    live = LiveRecording(SYSTEM)
    stream(live, error, range(30))
    stream(live, 0.0, range(30), source="right")
    expected = error if abs(error) > 2 else 0.0
    assert live.recording().time[0] == pytest.approx(NOW - (error - expected), abs=0.51)
    assert bool(live.recording().remarks) == (abs(error) > 2)
    assert live.newest["suction_pressure"].at == pytest.approx(NOW + 29, abs=1.01)


def test_a_backlog_is_not_taken_for_a_wrong_clock() -> None:
    """A gateway that was out of reach sends two minutes at once: the readings are as old as they say."""
    live = LiveRecording(SYSTEM)
    for k in range(120):
        live.add([placed("suction_pressure", "118", NOW + k, k)], NOW + 120.0 + k / 100)
    assert live.recording().time[0] == NOW
    assert live.recording().remarks == ()
    for k in range(120, 150):
        live.add([placed("suction_pressure", "118", NOW + k, k)], NOW + k + 0.05)
    assert live.recording().time[0] == NOW


def test_a_reading_that_leaves_a_row_takes_nothing_of_it_along() -> None:
    """Row 1 was read again, unchanged; what joined it at first belongs to the next set, and was not."""
    live = LiveRecording(SYSTEM)
    live.add([placed("suction_pressure", "118", NOW, 0, quality="same", read_by="person")], NOW)
    live.add([placed("liquid_pressure", "350", NOW + 1, 1, read_by="person")], NOW + 1)
    assert len(live) == 1
    live.add([placed("suction_pressure", "119", NOW + 1, 2, read_by="person")], NOW + 1)
    recording = live.recording()
    assert recording.time.tolist() == [NOW, NOW + 1]
    assert recording.same is not None
    assert recording.same.tolist() == [True, False]
    assert math.isnan(recording.channels["liquid_pressure"].values[0])
    assert recording.read_by == "person"


def test_the_same_reading_twice_is_held_once() -> None:
    live = LiveRecording(SYSTEM)
    for _ in range(3):
        for k in range(5):
            live.add([placed("suction_pressure", f"{118 + k}", NOW + k, k)], NOW + k)
        assert len(live) == 5
    assert live._count == 5


def test_what_was_taken_before_the_challenge_makes_no_row() -> None:
    live = LiveRecording(SYSTEM, since=NOW)
    live.add([placed("suction_pressure", "90", NOW - 3600, 0), placed("suction_pressure", "118", NOW, 1)], NOW)
    assert live.recording().time.tolist() == [NOW]


def test_a_wrong_clock_without_one_usable_reading() -> None:
    live = LiveRecording(SYSTEM)
    for k in range(30):
        live.add([placed("suction_pressure", None, NOW + k - 83, k)], NOW + k)
    assert len(live) == 0
    assert live.recording().channels == {}
    live.add([placed("suction_pressure", "118", NOW + 30 - 83, 30)], NOW + 30)
    assert live.recording().time.tolist() == [NOW + 30]


def test_clock_error_counts_the_smallest_lateness() -> None:
    clock = ClockError()
    for k in range(20):
        clock.see(NOW + k, NOW + k + 40.0 + (k % 3))
    assert clock.seconds == 40


# -- the same whatever the order, and the same as the log -----------------------------------------------------------------
CHANNELS = {
    "suction_pressure": ("psig", "barg"),
    "liquid_pressure": ("psig", "psig"),
    "suction_line_temperature": ("degF", "degC"),
    "outdoor_air_temperature": ("degF", "degF"),
}
READINGS = st.lists(
    st.tuples(
        st.sampled_from(sorted(CHANNELS)),
        st.sampled_from([0, 0, 0, 1]),  # unit
        st.integers(0, 400),  # value in tenths
        st.integers(0, 25_000),  # milliseconds
        st.sampled_from(["a", "b", "c"]),
        st.sampled_from([None, None, None, "same", "bad"]),
        st.sampled_from(["instrument", "instrument", "person"]),
        st.booleans(),  # a second reading of the same moment
    ),
    min_size=1,
    max_size=40,
)


def readings_of(drawn: list[tuple[str, int, int, int, str, str | None, str, bool]]) -> list[tuple[Placed, float]]:
    out: list[tuple[Placed, float]] = []
    moment = 0
    for i, (channel, unit, tenths, ms, source, quality, reader, again) in enumerate(drawn):
        moment = moment if again else ms
        value = f"{tenths / 10 + 30:.1f}"
        one = placed(
            channel, value, NOW + moment / 1000, i, unit=CHANNELS[channel][unit], source=source, quality=quality, read_by=reader
        )  # fmt: skip
        out.append((one, NOW + moment / 1000 + 0.05))
    return out


@settings(max_examples=300)
@given(READINGS, st.randoms(use_true_random=False))
def test_the_order_of_arrival_does_not_matter(drawn: list[tuple[str, int, int, int, str, str | None, str, bool]], chance: random.Random) -> None:  # fmt: skip
    readings = readings_of(drawn)
    in_order, shuffled = LiveRecording(SYSTEM), LiveRecording(SYSTEM)
    for one, at in sorted(readings, key=lambda r: (r[0].reading.time, r[0].reading.source, r[0].reading.sequence)):
        in_order.add([one], at)
    chance.shuffle(readings)
    for one, at in readings:
        shuffled.add([one], at)
        if chance.random() < 0.1:
            shuffled.recording()
    for one, at in readings[:5]:
        shuffled.add([one], at)  # sent twice
    same_recording(in_order.recording(), shuffled.recording())
    assert in_order.log() == shuffled.log()


@settings(max_examples=300)
@given(READINGS, st.sampled_from([0.0, -18000.0, 20700.0]))
def test_the_log_reads_back_as_the_recording(drawn: list[tuple[str, int, int, int, str, str | None, str, bool]], offset: float) -> None:  # fmt: skip
    live = LiveRecording(SYSTEM, utc_offset=offset)
    for one, at in readings_of(drawn):
        live.add([one], at)
    if not len(live):
        return
    marks = (Mark(NOW + 3.1234567, "push"), Mark(NOW + 1.5, "start"))
    logged = [replace(m, time=logged_time(milliseconds(m.time), offset)) for m in marks]
    (read,) = parse_log(live.log(), "log.csv", replace(SYSTEM, marks=tuple(logged)))
    same_recording(live.recording(marks), read)


def test_rows_and_changes_for_a_screen() -> None:
    live = LiveRecording(SYSTEM)
    assert live.take_changed() == 0
    for k in range(5):
        live.add([placed("suction_pressure", "118", NOW + k, k)], NOW + k)
    assert live.take_changed() == 0
    live.add([placed("liquid_pressure", "350", NOW + 4, 9)], NOW + 4)
    first = live.take_changed()
    assert first == 4
    time, values = live.rows(first)
    assert time.tolist() == [NOW + 4]
    assert values.shape == (1, 2)
    live.add([placed("suction_pressure", "117", NOW + 1.5, 8)], NOW + 5)
    assert live.take_changed() <= 2


# -- live = batch on whole challenges -------------------------------------------------------------------------------------
def fed(name: str, chance: random.Random, split: bool) -> tuple[LiveRecording, System]:
    """A simulated challenge sent as by instruments: each row as a set, or each channel by its own source a little later."""
    recording, system = samples.challenge(name)
    live = LiveRecording(system, utc_offset=recording.utc_offset)
    zero = recording.atmosphere
    from steadfeed.capture.live_rows import conversion

    late: list[tuple[float, Placed]] = []
    reader = recording.read_by or "instrument"
    for k, channel in enumerate(recording.channels.values()):
        into = conversion(channel.name, channel.unit, zero)
        for i, value in enumerate(channel.values):
            if not math.isfinite(value):
                continue
            at = float(recording.time[i]) + (chance.random() * 0.2 + 0.1 * k if split else 0.0)
            number = f"{into.back(float(value)):.4f}"
            source = f"s{k}" if split else "set"
            sequence = i if split else i * 20 + k
            late.append(
                (at, placed(channel.name, number, at, sequence, unit=channel.unit, source=source, read_by=reader))
            )
    late.sort(key=lambda pair: (pair[0], pair[1].reading.sequence))
    for at, one in late:
        live.add([one], at + chance.random() * 0.4)
    return live, system


NAMES = sorted(samples.labels())[::3]


@pytest.mark.parametrize("split", [False, True], ids=["sets", "one by one"])
def test_the_last_live_judgement_is_that_of_the_log(split: bool) -> None:
    chance = random.Random(7)
    assert len(NAMES) >= 10
    decided = 0
    for name in NAMES:
        live, system = fed(name, chance, split)
        known = curves(system.refrigerant or "")
        marks = samples.challenge(name)[0].marks
        ours = judge(live.recording(marks), system, known)
        logged = tuple(replace(m, time=logged_time(milliseconds(m.time), live.utc_offset)) for m in marks)
        (read,) = parse_log(live.log(), f"{name}.csv", replace(system, marks=logged))
        same_recording(live.recording(marks), read)
        theirs = judge(read, system, known)
        assert ours.assessment == theirs.assessment, name
        decided += ours.assessment.verdict != "undecided"
    assert decided >= len(NAMES) // 4
