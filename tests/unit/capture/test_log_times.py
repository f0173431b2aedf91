"""Times of readings: written in all ways, local, twice, out of order, by clocks that were set."""

from __future__ import annotations

import datetime as dt
import zoneinfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.capture.clock import local_offsets, parse_stamp, parse_stamps, put_in_order, zone
from steadfeed.capture.system_file import parse_system
from steadfeed.circuit.equipment import System
from steadfeed.errors import FixInput
from unit.capture.log_texts import HEADER, codes, log, psig, read, refused, rows, said, same_values, stamps

NOON = dt.datetime(2025, 6, 1, 12, tzinfo=dt.timezone(dt.timedelta(hours=-5))).timestamp()
ZONES = st.one_of(
    st.none(), st.integers(-18 * 60, 18 * 60).map(lambda minutes: dt.timezone(dt.timedelta(minutes=minutes)))
)
MOMENTS = st.datetimes(dt.datetime(1, 1, 2), dt.datetime(9999, 12, 30), timezones=ZONES)


def at(cell: str) -> float:
    wall, offset = parse_stamp(cell)
    return wall - offset


@given(MOMENTS)
def test_times_are_read_as_the_standard_library_reads_them(moment: dt.datetime) -> None:
    """Oracle: datetime.fromisoformat of Python."""
    wall, offset = parse_stamp(moment.isoformat())
    naive = moment.replace(tzinfo=None)
    assert wall == pytest.approx((naive - dt.datetime(1970, 1, 1)).total_seconds(), abs=2e-5)
    if moment.tzinfo is None:
        assert np.isnan(offset)
    else:
        assert offset == moment.utcoffset().total_seconds()  # type: ignore[union-attr]


@given(st.lists(MOMENTS, min_size=1, max_size=8), st.sampled_from(["auto", "seconds", "milliseconds", "minutes"]))
def test_many_times_at_once_are_read_as_one_by_one(moments: list[dt.datetime], timespec: str) -> None:
    cells = [moment.isoformat(timespec=timespec) for moment in moments]
    quick, slow = parse_stamps(cells), parse_stamps(cells, quick=False)
    assert quick.wall.tobytes() == slow.wall.tobytes()
    assert quick.offset.tobytes() == slow.offset.tobytes()


@given(
    st.lists(
        st.from_regex(
            r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(Z|[+-][0-9]{2}:[0-9]{2})?", fullmatch=True
        ),
        max_size=6,
    )
)
def test_times_that_do_not_exist_are_no_times_either_way(cells: list[str]) -> None:
    quick, slow = parse_stamps(cells), parse_stamps(cells, quick=False)
    assert quick.wall.tobytes() == slow.wall.tobytes()
    for cell, wall in zip(cells, slow.wall, strict=True):
        try:
            dt.datetime.fromisoformat(cell)
            real = True
        except ValueError:
            real = False
        # offsets beyond 18 hours exist nowhere, though Python takes them up to 24
        assert real or np.isnan(wall)


@pytest.mark.parametrize(
    "cell",
    [
        "2025-06-01T12:00:00-05:00", "2025-06-01 12:00:00-05:00", "2025-06-01T12:00-05:00", "2025-06-01T12:00:00.000-05",
        "2025-06-01T17:00:00Z", "2025-06-01T17:00:00z", "2025-06-01 17:00:00 UTC", "20250601T170000Z",
        "20250601T120000-0500", "2025-06-01T12:00:00,000-05:00", "2025/06/01 12:00:00-05:00", "2025-6-1 12:00:00 -05:00",
        "2025-06-01T12:00:00−05:00", "2025-06-01T22:45:00+05:45",
    ],
)  # fmt: skip
def test_ways_to_write_one_moment(cell: str) -> None:
    assert at(cell) == NOON


@pytest.mark.parametrize(
    "cell",
    ["", "12:00", "2025-06-01", "06/01/2025 12:00", "1.6.2025 12:00", "2025-02-29T12:00:00Z", "2025-06-01T24:00:00Z", "x",
     "2025-06-01T12:60:00Z", "2025-06-01T12:00:61Z", "2025-06-01T12:00:00+25:00", "2025-13-01T12:00:00Z", "0000-01-01T00:00:00Z"],
)  # fmt: skip
def test_what_is_no_moment(cell: str) -> None:
    assert np.isnan(parse_stamp(cell)[0])


@pytest.mark.parametrize(
    ("cell", "hint"),
    [
        ("14:05", "day is missing"),
        ("06/01/2025 14:05", "day and month"),
        ("1.6.2025 14:05", "day and month"),
        ("12.5", "elapsed_s"),
        ("soon", "ISO 8601"),
    ],
)
def test_a_log_without_one_readable_time_is_refused_with_a_hint(cell: str, hint: str) -> None:
    error = refused(log(f"{cell},118,410,55,98"))
    assert error.code == "bad time"
    assert cell in error.message
    assert hint in error.message


def test_rows_with_unreadable_times_are_dropped_and_said() -> None:
    lines = rows(6)
    lines[2] = "late," + lines[2].split(",", 1)[1]
    recording = read(log(*lines))
    assert len(recording) == 5
    assert said(recording, "rows dropped") == "Line 4 dropped: no readable time."


def test_a_log_with_mostly_unreadable_times_is_refused() -> None:
    lines = [line if i == 0 else "01/06/" + line[4:] for i, line in enumerate(rows(6))]
    error = refused(log(*lines))
    assert error.code == "bad time"
    assert "5 of 6" in error.message
    assert "line 3" in error.message


def test_times_before_1970_and_unix_times() -> None:
    recording = read(log(f"{NOON},118,410,55,98", f"{NOON + 0.5},118,410,55,98"))
    assert recording.time.tolist() == [NOON, NOON + 0.5]
    assert "Unix times" in codes(recording)
    recording = read(log(f"{NOON * 1000:.0f},118,410,55,98", f"{NOON * 1000 + 250:.0f},118,410,55,98"))
    assert recording.time.tolist() == [NOON, NOON + 0.25]


def test_seconds_from_the_start() -> None:
    header = HEADER.replace("time", "elapsed_s")
    recording = read(log("0,118,410,55,98", "0.1,118,410,55,98", "61.5,118,410,55,98", header=header))
    assert recording.elapsed
    assert recording.time.tolist() == [0, 0.1, 61.5]
    assert recording.utc_offset == 0
    recording = read(log("0,118,410,55,98", "1.5,118,410,55,98", header=HEADER.replace("time", "Elapsed (min)")))
    assert recording.time.tolist() == [0, 90]
    recording = read(log("0;118;410;55;98", "1,5;118;410;55;98", header=header.replace(",", ";")))
    assert recording.time.tolist() == [0, 1.5]


def test_a_date_and_a_time_column() -> None:
    header = "Date," + HEADER.replace("time", "Time")
    recording = read(log("2025-06-01,12:00:00-05:00,118,410,55,98", header=header))
    assert recording.time.tolist() == [NOON]


def test_local_times_need_a_time_zone_or_are_taken_as_utc() -> None:
    text = log("2025-06-01T12:00:00,118,410,55,98")
    recording = read(text)
    assert recording.time[0] == NOON - 5 * 3600
    assert "UTC" in said(recording, "time zone not known")
    recording = read(text, System(time_zone="America/Chicago"))
    assert recording.time[0] == NOON
    assert recording.utc_offset == -5 * 3600
    assert "time zone not known" not in codes(recording)


def test_a_logger_in_utc_at_a_known_place_is_shown_in_local_time() -> None:
    recording = read(log("2025-06-01T17:00:00Z,118,410,55,98"), System(time_zone="America/Chicago"))
    assert recording.time[0] == NOON
    assert recording.utc_offset == -5 * 3600


def test_times_that_lack_the_offset_of_the_others() -> None:
    lines = rows(4)
    lines[2] = lines[2].replace("-05:00", "")
    recording = read(log(*lines))
    assert np.diff(recording.time).tolist() == [5, 5, 5]
    assert "-05:00" in said(recording, "offset missing")


def test_an_offset_that_changes_is_said() -> None:
    lines = ["2025-11-02T01:59:55-05:00,118,410,55,98", "2025-11-02T01:00:00-06:00,118,410,55,98"]
    recording = read(log(*lines))
    assert np.diff(recording.time).tolist() == [5]
    assert recording.utc_offset == -5 * 3600
    assert "-05:00" in said(recording, "offset changes")


def wall_clock(start: dt.datetime, n: int, step: int, name: str) -> tuple[list[str], list[float]]:
    """Times that a clock on the wall shows from a moment on, without offset, and the moments."""
    where = zoneinfo.ZoneInfo(name)
    moments = [start + dt.timedelta(seconds=step * i) for i in range(n)]
    return [m.astimezone(where).replace(tzinfo=None).isoformat() for m in moments], [m.timestamp() for m in moments]


UTC = dt.UTC


@pytest.mark.parametrize(
    ("start", "name"),
    [
        # 2025-11-02 06:00 UTC and 2025-03-09 08:00 UTC: the changes of US Central Time (Energy Policy Act of 2005, s. 110)
        (dt.datetime(2025, 11, 2, 6, 40, tzinfo=UTC), "America/Chicago"),
        (dt.datetime(2025, 11, 2, 7, 40, tzinfo=UTC), "America/Chicago"),
        (dt.datetime(2025, 11, 2, 5, 40, tzinfo=UTC), "America/Chicago"),
        (dt.datetime(2025, 3, 9, 7, 45, tzinfo=UTC), "America/Chicago"),
        (dt.datetime(2025, 10, 26, 0, 40, tzinfo=UTC), "Europe/Berlin"),
        (dt.datetime(2025, 4, 5, 14, 40, tzinfo=UTC), "Australia/Lord_Howe"),
        (dt.datetime(2025, 7, 1, 12, 0, tzinfo=UTC), "Asia/Kathmandu"),
    ],
)
def test_local_times_across_the_change_of_clocks(start: dt.datetime, name: str) -> None:
    walls, moments = wall_clock(start, 100, 30, name)
    recording = read(log(*[f"{w},{100 + i},410,55,98" for i, w in enumerate(walls)]), System(time_zone=name))
    assert recording.time.tolist() == moments
    assert "clock set" not in codes(recording)


def test_a_log_inside_the_hour_that_comes_twice_takes_the_first_and_says_so() -> None:
    walls, moments = wall_clock(dt.datetime(2025, 11, 2, 6, 10, tzinfo=UTC), 20, 60, "America/Chicago")
    recording = read(log(*[f"{w},118,410,55,98" for w in walls]), System(time_zone="America/Chicago"))
    assert recording.time.tolist() == moments
    assert "hour comes twice" in codes(recording)


def test_local_times_that_do_not_exist_are_said() -> None:
    recording = read(log("2025-03-09T02:30:00,118,410,55,98"), System(time_zone="America/Chicago"))
    assert "hour does not exist" in codes(recording)


@given(
    st.sampled_from(sorted(zoneinfo.available_timezones())),
    st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2037, 1, 1)),
)
def test_local_offsets_are_those_of_the_time_zone_database(name: str, wall: dt.datetime) -> None:
    """Oracle: zoneinfo of Python, first pass of an hour that comes twice."""
    seconds = (wall - dt.datetime(1970, 1, 1)).total_seconds()
    found = local_offsets(np.array([seconds]), zone(name)).offset[0]
    assert found == zoneinfo.ZoneInfo(name).utcoffset(wall).total_seconds()  # type: ignore[union-attr]


def test_an_unknown_time_zone_names_the_nearest() -> None:
    with pytest.raises(FixInput, match="America/Denver"):
        zone("America/Denvr")


# --- order --------------------------------------------------------------------------------------------------------------


def ordered(time: list[float]) -> tuple[list[float], tuple[float, ...]]:
    t = np.array(time, float)
    order = put_in_order(t, np.arange(len(t), dtype=float)[:, None])
    return order.time[order.keep].tolist(), tuple(step.by for step in order.steps)


def test_rows_out_of_order_are_sorted_and_counted_as_few_as_they_are() -> None:
    lines = rows(12)
    moved = [*lines[:2], lines[9], *lines[2:9], *lines[10:]]
    recording = read(log(*moved))
    assert np.diff(recording.time).tolist() == [5] * 11
    assert same_values(recording.channels["suction_pressure"].values, [psig(118 + 0.1 * i) for i in range(12)])
    assert said(recording, "rows sorted") == "Line 4 out of order; sorted by time."


@given(
    st.integers(20, 200),
    st.sampled_from([0.1, 1.0, 3.0, 47.0]),
    st.lists(st.tuples(st.integers(0, 199), st.integers(0, 199)), max_size=6),
    st.randoms(use_true_random=False),
)
def test_disorder_is_never_taken_for_a_clock_that_was_set(n, gap, swaps, random) -> None:  # type: ignore[no-untyped-def]
    order = list(range(n))
    for a, b in swaps:
        order[a % n], order[b % n] = order[b % n], order[a % n]
    start = random.randrange(n - 8)
    chunk = order[start : start + 8]
    random.shuffle(chunk)
    order[start : start + 8] = chunk
    time, steps = ordered([1e9 + gap * i for i in order])
    assert steps == ()
    assert time == [1e9 + gap * i for i in range(n)]


@given(
    st.integers(30, 120),
    st.sampled_from([1.0, 5.0, 30.0]),
    st.floats(0.15, 0.85),
    st.one_of(st.floats(6.0, 20.0), st.just(3600.0), st.just(1800.0)),
)
def test_a_clock_set_back_is_undone(n: int, gap: float, where: float, back: float) -> None:
    """Readings taken evenly, by a clock that was set back in the middle, come out evenly again."""
    cut = round(n * where)
    by = back if back >= 1800.0 else back * gap
    true = gap * np.arange(n) + 1e9
    shown = np.where(np.arange(n) < cut, true + by, true)
    if back < 1800.0 and min(cut, n - cut) * gap < by + 3 * gap:
        return  # too little on one side to tell
    time, steps = ordered(shown.tolist())
    assert len(steps) == 1
    assert steps[0] == pytest.approx(-by, abs=1e-6)
    assert time == pytest.approx(true.tolist(), abs=1e-5)


def test_a_clock_set_back_is_said_with_its_line() -> None:
    readings = rows(120)
    early = [f"{t},{line.split(',', 1)[1]}" for t, line in zip(stamps(50, start=192), readings, strict=False)]
    recording = read(log(*early, *readings[50:]))
    assert len(recording) == 120
    assert np.diff(recording.time) == pytest.approx(5.0)
    assert same_values(recording.channels["suction_pressure"].values, [psig(118 + 0.1 * i) for i in range(120)])
    assert "back by 3 min 12 s before line 52" in said(recording, "clock set")


def test_a_clock_set_back_beyond_the_start_of_the_log_is_undone_but_swapped_blocks_are_sorted() -> None:
    even = [1e9 + 5.0 * i for i in range(40)]
    assert ordered(even[20:] + even[:20]) == (even, ())
    time, steps = ordered([t + 1234.0 for t in even[:20]] + even[20:])
    assert steps == (pytest.approx(-1234.0),)
    assert time == pytest.approx(even)


def test_a_buffer_that_was_flushed_late_is_sorted() -> None:
    even = [1e9 + 5.0 * i for i in range(60)]
    assert ordered(even[:20] + even[40:] + even[20:40]) == (even, ())


def test_a_count_of_seconds_that_began_anew_is_joined() -> None:
    cells = [*range(0, 300, 5), *range(0, 400, 5)]
    text = log(
        *[f"{s},{100 + 0.1 * i:.1f},410,55,98" for i, s in enumerate(cells)], header=HEADER.replace("time", "elapsed_s")
    )
    recording = read(text)
    assert len(recording) == 140
    assert np.diff(recording.time) == pytest.approx(5.0)
    assert same_values(
        recording.channels["suction_pressure"].values, [psig(round(100 + 0.1 * i, 1)) for i in range(140)]
    )


def test_a_clock_that_was_not_set_at_first() -> None:
    lines = rows(10)
    for i in range(4):
        lines[i] = f"2000-01-01T00:00:{5 * i:02d}-05:00,{lines[i].split(',', 1)[1]}"
    recording = read(log(*lines))
    assert np.diff(recording.time).tolist() == [5.0] * 9
    assert "forward by" in said(recording, "clock set")


def test_a_row_with_a_time_years_away_is_dropped() -> None:
    lines = rows(10)
    lines[6] = "1970-01-01T00:00:00Z," + lines[6].split(",", 1)[1]
    recording = read(log(*lines))
    assert len(recording) == 9
    assert "Line 8 dropped: the time lies years" in said(recording, "rows dropped")


def test_a_block_that_was_sent_again_is_dropped() -> None:
    lines = rows(30)
    recording = read(log(*lines[:20], *lines[8:]))
    assert len(recording) == 30
    assert "clock set" not in codes(recording)
    assert "12 lines (22, 23, 24, 25, 26 …) dropped: repeats" in said(recording, "rows dropped")


def test_rows_of_one_time_are_merged_and_the_last_reading_stands() -> None:
    recording = read(
        log("2025-06-01T14:00:00Z,118,,55,", "2025-06-01T14:00:00Z,119,410,,", "2025-06-01T14:00:05Z,1,2,3,98")
    )
    assert len(recording) == 2
    assert same_values(recording.channels["suction_pressure"].values, [psig(119), psig(1)])
    assert same_values(recording.channels["liquid_pressure"].values, [psig(410), psig(2)])
    assert recording.channels["suction_line_temperature"].values[0] == pytest.approx((55 + 459.67) / 1.8)
    assert "Line 2 merged" in said(recording, "same time")


def test_gaps_are_kept_and_said() -> None:
    lines = [*rows(10), *[f"2025-06-01T14:10:{i:02d}-05:00,118,410,55,98" for i in range(0, 50, 5)]]
    recording = read(log(*lines))
    assert len(recording) == 20
    assert float(np.diff(recording.time).max()) == 555.0
    assert said(recording, "gap") == "No readings for 9 min 15 s."


def test_sampling_from_a_tenth_of_a_second_to_minutes() -> None:
    times = [0, 0.1, 0.2, 0.35, 1, 61, 300, 300.1]
    recording = read(log(*[f"{t},118,410,55,98" for t in times], header=HEADER.replace("time", "elapsed_s")))
    assert recording.time.tolist() == times


# --- marks ----------------------------------------------------------------------------------------------------------------


def mark(time: str) -> System:
    return parse_system(f'[[marks]]\ntime = {time}\nevent = "push"\n', "x.toml")


def test_marks_come_to_the_clock_of_the_log() -> None:
    text = log(*rows(10))
    nine = 20240 * 86400 + 19 * 3600 + 9
    for written in (
        '"2025-06-01T14:00:09-05:00"',
        '"2025-06-01T19:00:09Z"',
        "2025-06-01T14:00:09-05:00",
        '"2025-06-01T14:00:09"',
        "2025-06-01T14:00:09",
        "9",
        "9.0",
    ):
        (found,) = read(text, mark(written)).marks
        assert (found.time, found.event, found.clock) == (nine, "push", "utc"), written


def test_marks_of_a_log_that_counts_seconds() -> None:
    text = log(*[f"{i},118,410,55,98" for i in range(5)], header=HEADER.replace("time", "elapsed_s"))
    assert [m.time for m in read(text, mark("3")).marks] == [3.0]
    lost = read(text, mark('"2025-06-01T14:00:09Z"'))
    assert lost.marks == ()
    assert "marks not placed" in codes(lost)


def test_marks_far_outside_the_log_are_said() -> None:
    recording = read(log(*rows(10)), mark('"2025-06-01T09:00:00-05:00"'))
    assert len(recording.marks) == 1
    assert "time_zone" in said(recording, "marks outside the log")


def test_columns_in_one_log_may_come_as_time_and_elapsed() -> None:
    recording = read(log("2025-06-01T14:00:00Z,0,118", header="time,elapsed_s,suction_pressure_psig"))
    assert not recording.elapsed
    assert "“time” is used" in said(recording, "two time columns")
