"""A growing CSV file: cut anywhere, renamed away, emptied, read again from its start."""

from __future__ import annotations

import asyncio
import itertools
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfeed.capture.csv_tail import CsvTail, TailDecoder, find_header
from steadfeed.capture.source import Reading, Refused, Retry, Silent, Speaking
from steadfeed.errors import FixInput

NOW = 1_785_000_000.0  # 2026-07-25T17:20:00Z
HEADER = "time,suction_pressure_psig,suction_line_temperature_degF\n"


def stamp(k: float) -> str:
    minutes, seconds = divmod(20 * 60 + k, 60)
    return f"2026-07-25T17:{int(minutes):02d}:{seconds:04.1f}Z"


def log(rows: int) -> str:
    return HEADER + "".join(f"{stamp(k)},{118 + k % 7}.{k % 10},5{k % 10}\n" for k in range(rows))


def decoded(decoder: TailDecoder, *pieces: bytes, finish: bool = False) -> tuple[list[Reading], list[Refused]]:
    arrived = [item for piece in pieces for item in decoder.feed(piece)]
    if finish:
        arrived += list(decoder.finish())
    readings = [reading for item in arrived if isinstance(item, tuple) for reading in item]
    return readings, [item for item in arrived if isinstance(item, Refused)]


def new(**more: object) -> TailDecoder:
    return TailDecoder("logger", "today.csv", **more)  # type: ignore[arg-type]


def test_rows_become_readings_with_their_place_in_the_file() -> None:
    readings, refused = decoded(new(), log(3).encode())
    assert refused == []
    assert [(r.header, r.value, r.unit) for r in readings[:2]] == [
        ("suction_pressure_psig", "118.0", "psig"),
        ("suction_line_temperature_degF", "50", "degF"),
    ]
    assert [r.sequence for r in readings] == [1, 2, 4, 5, 7, 8]
    assert [r.time for r in readings[::2]] == [NOW, NOW + 1, NOW + 2]
    assert len({r.boot_id for r in readings}) == 1


@settings(max_examples=150)
@given(st.lists(st.integers(0, 3000), max_size=12), st.booleans())
def test_it_does_not_matter_where_the_bytes_are_cut(cuts: list[int], carriage: bool) -> None:
    data = log(40).replace("\n", "\r\n" if carriage else "\n").encode()
    places = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    pieces = [data[a:b] for a, b in itertools.pairwise(places)]
    assert decoded(new(), *pieces) == decoded(new(), data)


@settings(max_examples=200)
@given(st.lists(st.binary(max_size=60), max_size=8), st.booleans())
def test_noise_never_breaks_it(pieces: list[bytes], with_header: bool) -> None:
    decoder = new()
    try:
        readings, _ = decoded(decoder, *([HEADER.encode()] if with_header else []), *pieces, finish=True)
    except FixInput as error:
        assert "UTF-16" in error.message or "header" in error.message or "column" in error.message
        return
    assert all(r.time is not None for r in readings)


@settings(max_examples=200)
@given(st.lists(st.text(alphabet='0123456789.,;:TZ-"\n abc', max_size=80), max_size=6))
def test_noise_that_looks_like_rows_never_breaks_it(pieces: list[str]) -> None:
    decoded(new(), HEADER.encode(), *(p.encode() for p in pieces), finish=True)


def test_a_partial_last_line_waits_and_may_be_cut_off_for_good() -> None:
    data = log(2).encode()
    decoder = new()
    first, _ = decoded(decoder, data[:-1])
    assert len(first) == 2
    rest, _ = decoded(decoder, b"", finish=True)
    assert [r.value for r in rest] == ["119.1", "51"]
    cut, _ = decoded(new(), data[:-4], finish=True)
    assert len(cut) == 2


@pytest.mark.parametrize(
    ("header", "row", "expected"),
    [
        ("Time;Suction Pressure (psig);Liquid Temp [°F]", "25;1;2", []),
        ("time;suction_pressure_psig", "2026-07-25T17:20:00Z;118,2", [("suction_pressure_psig", "118.2", "psig")]),
        ("time\tP low psig", "2026-07-25T17:20:00Z\t118", [("P low psig", "118", "psig")]),
        ("time,amps", "2026-07-25T17:20:00Z,11.2", []),
        ("time,compressor amps", "2026-07-25T17:20:00Z,11.2", [("compressor amps", "11.2", "A")]),
        ("time,suction_pressure_psig", "1785000000,118", [("suction_pressure_psig", "118", "psig")]),
        ("time,suction_pressure_psig", "1785000000000,118", [("suction_pressure_psig", "118", "psig")]),
        ("date,time,suction_pressure_psig", "2026-07-25,17:20:00Z,118", [("suction_pressure_psig", "118", "psig")]),
        ("time,suction_pressure_psig", "2026-07-25T17:20:00Z,OL", [("suction_pressure_psig", None, "psig")]),
        ("time,suction_pressure_psig", "2026-07-25T17:20:00Z,12 inHg", [("suction_pressure_psig", "-5.893", "psig")]),
        ("time,suction_pressure_psig", '2026-07-25T17:20:00Z,"118"', [("suction_pressure_psig", "118", "psig")]),
    ],
)
def test_headers_and_cells(header: str, row: str, expected: list[tuple[str, str | None, str]]) -> None:
    readings, _ = decoded(new(), f"{header}\n{row}\n".encode())
    found = [(r.header, None if r.value is None else r.value[:6], r.unit) for r in readings]
    assert found == expected
    assert all(r.time == NOW for r in readings)


def test_times_without_an_offset_count_in_the_zone_that_is_given() -> None:
    row = "2026-07-25T12:20:00,118,50\n"
    readings, _ = decoded(new(local_offset=lambda _: -18000.0), (HEADER + row).encode())
    assert (readings[0].time, readings[0].utc_offset) == (NOW, -18000.0)


def test_rows_read_by_a_person_and_read_again_the_same() -> None:
    text = (
        "time,suction_pressure_psig,read_by,same\n"
        "2026-07-25T17:20:00Z,118,person,\n2026-07-25T17:23:00Z,,person,1\n2026-07-25T17:26:00Z,119,photo,\n"
    )
    readings, _ = decoded(new(), text.encode())
    assert [(r.value, r.quality, r.read_by) for r in readings] == [
        ("118", None, "person"),
        ("118", "same", "person"),
        ("119", None, "photo"),
    ]


def test_what_cannot_be_used_is_said_once_by_the_decoder() -> None:
    text = "time,suction_pressure_psig,liquid_pressure_psi,liquid_line_temperature_furlong\n" + "nonsense,1,2,3\n" * 3
    readings, refused = decoded(new(), text.encode())
    assert readings == []
    assert [r.header for r in refused[:2]] == ["liquid_pressure_psi", "liquid_line_temperature_furlong"]
    assert "psig or psia" in refused[0].text
    assert "nonsense" in refused[2].text or len(refused) == 2
    known, _ = decoded(new(reference="vented"), b"time,liquid_pressure_psi\n2026-07-25T17:20:00Z,352\n")
    assert known[0].unit == "psig"


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"elapsed_s,suction_pressure_psig\n1,118\n", "needs a column"),
        (b"a,b\n" * 70, "no header row"),
        (b"\xff\xfet\x00i\x00m\x00e\x00\n", "UTF-16"),
    ],
)
def test_files_that_cannot_be_followed(data: bytes, word: str) -> None:
    with pytest.raises(FixInput, match=word) as caught:
        decoded(new(), data)
    assert "today.csv" in caught.value.message


def test_a_header_that_comes_again_or_changes() -> None:
    decoder = new()
    first, _ = decoded(decoder, log(2).encode())
    again, _ = decoded(decoder, HEADER.encode() + f"{stamp(5)},120,55\n".encode())
    assert again[0].boot_id == first[0].boot_id
    assert again[0].sequence == 7
    other, _ = decoded(decoder, f"time,liquid_pressure_psig\n{stamp(6)},352\n".encode())
    assert other[0].boot_id != first[0].boot_id
    assert other[0].header == "liquid_pressure_psig"


def test_a_line_without_end_is_passed_over() -> None:
    decoder = new()
    readings, _ = decoded(decoder, HEADER.encode(), b"9" * 200_000, b"9\n", f"{stamp(1)},119,51\n".encode())
    assert [r.value for r in readings] == ["119", "51"]


def test_find_header_wants_a_time_and_something_else() -> None:
    assert find_header("time") is None
    assert find_header("one,two") is None
    found = find_header("time,suction_pressure_psig,note")
    assert found is not None
    assert [column.use for column in found.columns] == [False, True, False]


# -- the file itself ------------------------------------------------------------------------------------------------------
class Follower:
    def __init__(self, path: Path, **more: object) -> None:
        self.source = CsvTail("logger", path, every=0.01, silent_after=0.5, retry=Retry(0.01, 0.05), **more)  # type: ignore[arg-type]
        self.readings: list[Reading] = []
        self.events: list[object] = []
        self.task = asyncio.create_task(self._follow())

    async def _follow(self) -> None:
        async for arrival in self.source.readings():
            if isinstance(arrival, tuple):
                self.readings += arrival
            else:
                self.events.append(arrival)

    async def until(self, count: int) -> list[str | None]:
        start = time.monotonic()
        while len(self.readings) < count:
            assert time.monotonic() < start + 10, f"{len(self.readings)} of {count}"
            if self.task.done():
                self.task.result()
            await asyncio.sleep(0.01)
        await asyncio.sleep(0.05)
        return [r.value for r in self.readings]

    async def close(self) -> None:
        await self.source.close()
        await self.task


def test_a_file_that_is_not_there_yet_grows_and_is_renamed_away(tmp_path: Path) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        follower = Follower(path)
        await asyncio.sleep(0.7)
        assert isinstance(follower.events[0], Silent)
        assert "No such file" in follower.events[0].why
        path.write_text(log(2))
        assert len(await follower.until(4)) == 4
        assert isinstance(follower.events[1], Speaking)
        with path.open("a") as file:
            file.write(f"{stamp(2)},12")
            file.flush()
            await asyncio.sleep(0.1)
            assert len(follower.readings) == 4
            file.write("0.5,52\n")
            file.write(f"{stamp(3)},121,53")  # no newline: the logger was stopped
        path.rename(tmp_path / "yesterday.csv")
        path.write_text(HEADER + f"{stamp(60)},130,60\n")
        assert (await follower.until(10))[4:] == ["120.5", "52", "121", "53", "130", "60"]
        assert len({r.boot_id for r in follower.readings}) == 2
        await follower.close()

    asyncio.run(asyncio.wait_for(story(), 30))


@pytest.mark.parametrize("header_again", [True, False])
def test_a_file_that_is_emptied_goes_on(tmp_path: Path, header_again: bool) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        path.write_text(log(5))
        follower = Follower(path)
        await follower.until(10)
        with path.open("r+") as file:
            file.truncate(0)
            file.write((HEADER if header_again else "") + f"{stamp(60)},130,60\n")
        assert (await follower.until(12))[10:] == ["130", "60"]
        assert follower.readings[-1].boot_id != follower.readings[0].boot_id
        await follower.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_a_file_that_is_written_anew_and_longer_is_noticed(tmp_path: Path) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        path.write_text(log(2))
        follower = Follower(path)
        await follower.until(4)
        later = HEADER + "".join(f"{stamp(100 + k)},140,{70 + k}\n" for k in range(10))
        with path.open("r+") as file:
            file.write(later)
        values = await follower.until(24)
        assert values[4:] == [v for k in range(10) for v in ("140", str(70 + k))]
        await follower.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_reading_again_from_the_start_gives_the_same_numbers(tmp_path: Path) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        path.write_text(log(500))
        first, second = Follower(path), Follower(path)
        await first.until(1000)
        await second.until(1000)
        assert first.readings == second.readings
        await first.close()
        await second.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_what_the_file_held_before_can_be_left_out(tmp_path: Path) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        path.write_text(log(100))
        follower = Follower(path, from_start=False)
        await asyncio.sleep(0.2)
        assert follower.readings == []
        with path.open("a") as file:
            file.write(f"{stamp(200)},150,80\n")
        assert await follower.until(2) == ["150", "80"]
        assert follower.readings[0].sequence == 301
        await follower.close()

    asyncio.run(asyncio.wait_for(story(), 30))


def test_a_file_of_another_kind_ends_the_source_with_a_sentence(tmp_path: Path) -> None:
    async def story() -> None:
        path = tmp_path / "today.csv"
        path.write_text("elapsed_s,suction_pressure_psig\n1,118\n")
        source = CsvTail("logger", path)
        with pytest.raises(FixInput, match="needs a column"):
            async for _ in source.readings():
                pass
        assert source.state == "failed"
        assert "today.csv" in source.why

    asyncio.run(asyncio.wait_for(story(), 30))


def test_an_unknown_time_zone_is_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(FixInput, match="America/Chicago"):
        CsvTail("logger", tmp_path / "x.csv", time_zone="America/Chikago")


def test_local_times_follow_the_zone(tmp_path: Path) -> None:
    source = CsvTail("logger", tmp_path / "x.csv", time_zone="America/Chicago")
    assert source._local_offset(NOW - 18000.0) == -18000.0
    assert CsvTail("logger", tmp_path / "x.csv")._local_offset(NOW) == time.localtime(NOW).tm_gmtoff
