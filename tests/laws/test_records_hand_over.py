"""Laws of QR sequences: any order, any repetition, and no broken hand-over is taken."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadfeed.errors import FixInput
from steadfeed.records import base45
from steadfeed.records.hand_over import Frames, frames, unpack


@given(st.binary(max_size=300))
def test_base45_there_and_back(content: bytes) -> None:
    assert base45.decode(base45.encode(content)) == content


@given(st.binary(min_size=1, max_size=4000), st.integers(1, 400), st.randoms(use_true_random=False))
def test_codes_in_any_order_and_repeated_give_the_whole(content: bytes, size: int, chance: random.Random) -> None:
    texts = frames(content, size) if len(content) / size < 9999 else frames(content)
    read = texts + chance.choices(texts, k=3)
    chance.shuffle(read)
    gathered = Frames()
    for text in read:
        gathered.add(text)
    assert gathered.missing == []
    assert gathered.whole() == content


@given(st.binary(min_size=50, max_size=2000), st.data())
def test_a_missing_or_misread_code_is_never_taken_for_the_whole(content: bytes, data: st.DataObject) -> None:
    texts = frames(content, 40)
    gone = data.draw(st.integers(0, len(texts) - 1))
    gathered = Frames()
    for n, text in enumerate(texts):
        if n != gone:
            gathered.add(text)
    assert gathered.missing == [gone + 1]
    with pytest.raises(FixInput, match="still missing"):
        gathered.whole()
    head, _, body = texts[gone].rpartition(":")
    wrong = base45.decode(texts[gone].split(":", 3)[3])
    wrong = bytes([wrong[0] ^ 1]) + wrong[1:]
    prefix = ":".join(texts[gone].split(":", 3)[:3])
    gathered.add(f"{prefix}:{base45.encode(wrong)}")
    with pytest.raises(FixInput, match="misread"):
        gathered.whole()
    assert head
    assert body is not None


@given(st.binary(max_size=400))
def test_no_bytes_at_all_end_in_a_traceback(content: bytes) -> None:
    for given_bytes in (content, b"steadfeed hand-over\n" + content):
        with pytest.raises(FixInput):
            unpack(given_bytes)
