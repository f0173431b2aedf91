"""Rows by hand as a source, the protocol of seven rows, and tokens of gateways."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.capture.gateway_token import RANDOM_BYTES, GatewayToken, check_token, make_token
from steadfeed.capture.http_ingest import PushSource
from steadfeed.capture.manual import ManualSource
from steadfeed.capture.seven_rows import ROWS, missing_rows, next_row
from steadfeed.capture.source import Kept, Reading
from steadfeed.errors import FixInput, NotAllowed, TryAgain

NOW = 1_785_000_000.0
DAY = 86400.0


# -- the protocol -----------------------------------------------------------------------------------------------------------
def test_the_seven_rows_in_their_order() -> None:
    """docs/method.md: standing, baseline twice ≥ 3 min apart, hold twice at ≥ 2 and ≥ 4 min, restored, standstill."""
    taken: dict[int, float] = {}
    events: dict[str, float] = {}
    first = next_row(taken, events, NOW)
    assert first is not None
    assert (first.number, first.of, first.due_in) == (1, 7, 0.0)
    taken[1] = NOW
    waiting = next_row(taken, events, NOW)
    assert waiting is not None
    assert (waiting.number, waiting.due_in, waiting.waits_for) == (2, None, "start")
    events["start"] = NOW + 10
    due = next_row(taken, events, NOW + 310)
    assert due is not None
    assert (due.number, due.due_in) == (2, 300.0)
    taken[2] = NOW + 620
    again = next_row(taken, events, NOW + 700)
    assert again is not None
    assert (again.number, again.due_in) == (3, 100.0)
    taken[3] = NOW + 800
    events["push"] = NOW + 900
    assert [next_row(taken, events, NOW + 900 + t).due_in for t in (0, 120, 300)] == [120.0, 0.0, 0.0]  # type: ignore[union-attr]
    taken[4] = NOW + 1030
    five = next_row(taken, events, NOW + 1030)
    assert five is not None
    assert (five.number, five.due_in) == (5, 110.0)
    taken[5] = NOW + 1150
    events["restore"] = NOW + 1160
    six = next_row(taken, events, NOW + 1160)
    assert six is not None
    assert (six.number, six.due_in) == (6, 300.0)
    taken[6] = NOW + 1500
    events["standstill"] = NOW + 1510
    seven = next_row(taken, events, NOW + 2000)
    assert seven is not None
    assert (seven.number, seven.due_in) == (7, 0.0)
    taken[7] = NOW + 2000
    assert next_row(taken, events, NOW + 2000) is None
    assert missing_rows(taken) == ()


def test_a_unit_found_running_has_no_standing_row() -> None:
    first = next_row({}, {}, NOW, found_running=True)
    assert first is not None
    assert (first.number, first.due_in) == (2, 0.0)


def test_rows_that_can_no_longer_be_had_are_passed_over() -> None:
    found = next_row({2: NOW}, {"start": NOW - 900, "push": NOW + 60}, NOW + 70)
    assert found is not None
    assert found.number == 4
    found = next_row({2: NOW}, {"start": NOW - 900, "push": NOW + 60, "restore": NOW + 200}, NOW + 210)
    assert found is not None
    assert found.number == 6
    assert missing_rows({2: NOW, 6: NOW}) == ("a second of the baseline", "two of the hold", "one at standstill")


def test_sentences_of_the_rows_fit_the_screen_and_name_their_source() -> None:
    assert [rule.number for rule in ROWS] == list(range(1, 8))
    for rule in ROWS:
        assert len(rule.what) <= 48
        assert rule.source


@given(
    st.dictionaries(st.integers(1, 7), st.floats(0, 1e4), max_size=7),
    st.dictionaries(st.sampled_from(["start", "push", "restore", "standstill", "note"]), st.floats(0, 1e4)),
    st.booleans(),
)
def test_whatever_happened_there_is_a_next_row_or_none(
    taken: dict[int, float], events: dict[str, float], running: bool
) -> None:
    found = next_row(taken, events, 5000.0, found_running=running)
    assert found is None or (found.number not in taken and (found.due_in is None or found.due_in >= 0.0))


# -- handing in -------------------------------------------------------------------------------------------------------------
def test_a_row_is_safe_when_all_of_it_is() -> None:
    async def story() -> None:
        source = ManualSource()
        arrived: list[Any] = []

        async def listen() -> None:
            async for arrival in source.readings():
                arrived.append(arrival)
                await asyncio.sleep(0)

        row, safe = source.enter("r1", NOW, {"suction_pressure": "118", "liquid_pressure": "352"})
        listening = asyncio.create_task(listen())
        while not arrived:
            await asyncio.sleep(0.01)
        assert arrived[0] == row
        await source.acknowledge([Kept("other", "r1", 0, 99), Kept("by hand", "r1", 0, 0)])
        assert not safe.done()
        await source.acknowledge([Kept("by hand", "r1", 1, 1)])
        assert safe.done()
        again, _ = source.enter("r2", NOW + 60, {}, same=["suction_pressure"])
        assert [(r.value, r.quality) for r in again] == [("118", "same")]
        _, lost = source.enter("r3", NOW + 120, {"suction_pressure": "119"})
        await source.close()
        await listening
        with pytest.raises(TryAgain, match="send again"):
            lost.result(0)
        with pytest.raises(TryAgain):
            source.enter("r4", NOW + 180, {"suction_pressure": "119"})[1].result(0)

    asyncio.run(asyncio.wait_for(story(), 10))


def test_remembering_what_was_kept_lets_same_refer_to_it() -> None:
    source = ManualSource()
    with pytest.raises(FixInput, match="not read before"):
        source.enter("r1", NOW, {}, same=["suction_pressure"])
    source.remember([Reading("by hand", "r0", 0, "suction_pressure", "121", "psig")])
    row, _ = source.enter("r1", NOW, {}, same=["suction_pressure"])
    assert row[0].value == "121"


def test_nothing_to_keep_is_safe_at_once() -> None:
    assert PushSource("g").deliver([]).done()


# -- tokens -------------------------------------------------------------------------------------------------------------------
RANDOM = bytes(range(RANDOM_BYTES))


def test_a_token_lets_its_holder_send_its_sources_until_its_time() -> None:
    text, kept = make_token("roof gateway", NOW, DAY, RANDOM, ["gauge", "clamp"])
    kept = GatewayToken.from_value(json.loads(json.dumps(kept.to_value())))
    assert text not in json.dumps(kept.to_value())
    assert check_token(f"Bearer {text}", [kept], "gauge", NOW + 1) == kept
    assert check_token(text, [kept], "clamp", NOW + DAY - 1) == kept
    with pytest.raises(NotAllowed, match="is over"):
        check_token(text, [kept], "gauge", NOW + DAY)
    with pytest.raises(NotAllowed, match="not for the source"):
        check_token(text, [kept], "other", NOW)
    for wrong in ("", "Bearer", text[:-1], text + "0", text.upper(), "x" * 10_000, "\ud800"):
        with pytest.raises(NotAllowed, match="not known"):
            check_token(wrong, [kept], "gauge", NOW)
    with pytest.raises(NotAllowed, match="not known"):
        check_token(text, [], "gauge", NOW)
    any_source = make_token("all", NOW, DAY, RANDOM[::-1])
    assert check_token(any_source[0], [kept, any_source[1]], "whatever", NOW).name == "all"


def test_tokens_that_cannot_be_made() -> None:
    with pytest.raises(FixInput, match="400 days"):
        make_token("g", NOW, 500 * DAY, RANDOM)
    with pytest.raises(FixInput, match="for whom"):
        make_token(" ", NOW, DAY, RANDOM)
    with pytest.raises(ValueError, match="32 random bytes"):
        make_token("g", NOW, DAY, b"short")
    with pytest.raises(FixInput, match="make a new one"):
        GatewayToken.from_value({"id": "x"})
