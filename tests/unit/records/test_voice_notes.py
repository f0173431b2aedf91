"""Voice notes keep their speech and lose everything else. The files in tests/data/voice_notes come from other programs:
a sound library (Opus and Vorbis in Ogg, with a place and comments) and a browser's recorder (WebM, MPEG-4)."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from steadfeed.errors import FixInput
from steadfeed.records.voice_notes import _checksum, clean

NOTES = Path(__file__).parents[2] / "data" / "voice_notes"
PLACE = b"+40.5042-075.1681/"
EVERY = sorted(NOTES.glob("tone-*"))


def pages(ogg: bytes) -> list[bytes]:
    """The pages of an Ogg file (RFC 3533, section 6)."""
    out, at = [], 0
    while at < len(ogg):
        assert ogg[at : at + 4] == b"OggS"
        count = ogg[at + 26]
        end = at + 27 + count + sum(ogg[at + 27 : at + 27 + count])
        out.append(ogg[at:end])
        at = end
    return out


def page(packets: list[bytes], serial: int = 7, number: int = 0, kind: int = 0) -> bytes:
    lacing, body = b"", b""
    for packet in packets:
        lacing += b"\xff" * (len(packet) // 255) + bytes([len(packet) % 255])
        body += packet
    head = b"OggS" + bytes([0, kind]) + bytes(8) + serial.to_bytes(4, "little") + number.to_bytes(4, "little")
    made = bytearray(head + bytes(4) + bytes([len(lacing)]) + lacing + body)
    made[22:26] = _checksum(made).to_bytes(4, "little")
    return bytes(made)


def element(name: bytes, content: bytes) -> bytes:
    """An EBML element with a size of four bytes (RFC 8794)."""
    return name + (len(content) | 0x10000000).to_bytes(4, "big") + content


TAGS = element(
    b"\x12\x54\xc3\x67",
    element(b"\x73\x73", element(b"\x67\xc8", element(b"\x45\xa3", b"LOCATION") + element(b"\x44\x87", PLACE))),
)


@pytest.mark.parametrize("name", ["opus", "vorbis"])
def test_the_checksum_is_the_one_that_an_encoder_writes(name: str) -> None:
    for one in pages((NOTES / f"tone-{name}.ogg").read_bytes()):
        blank = one[:22] + bytes(4) + one[26:]
        assert _checksum(blank) == int.from_bytes(one[22:26], "little")


@pytest.mark.parametrize("name", ["opus", "vorbis"])
def test_an_ogg_loses_its_comments_and_no_sound(name: str) -> None:
    received = (NOTES / f"tone-{name}.ogg").read_bytes()
    assert PLACE in received
    assert b"bakery" in received
    kept, media = clean(received)
    assert media == "audio/ogg"
    assert len(kept) == len(received)
    assert PLACE not in kept
    assert b"bakery" not in kept
    assert b"libsndfile" not in kept
    before, after = pages(received), pages(kept)
    assert len(before) == len(after)
    assert after[0] == before[0]
    sounding = [i for i, one in enumerate(before) if int.from_bytes(one[6:14], "little") not in (0, 2**64 - 1)]
    assert sounding
    assert [after[i] for i in sounding] == [before[i] for i in sounding]
    for one in after:
        assert _checksum(one[:22] + bytes(4) + one[26:]) == int.from_bytes(one[22:26], "little")


def test_a_comment_over_several_pages_and_a_stream_after_it() -> None:
    """Comments with a picture fill pages; a second recording may follow in the same file."""
    tags = b"OpusTags" + (4).to_bytes(4, "little") + b"name" + (1).to_bytes(4, "little")
    tags += (60_000).to_bytes(4, "little") + PLACE * 3333 + bytes(6)
    whole = page([b"OpusHead" + bytes(11)], kind=2)
    first, rest = tags[: 255 * 200], tags[255 * 200 :]
    start = bytearray(page([first], number=1))
    start[26] -= 1  # the packet goes on in the next page: no lacing value under 255 ends it
    del start[27 + 200]
    start[22:26] = bytes(4)
    start[22:26] = _checksum(start).to_bytes(4, "little")
    whole += bytes(start) + page([rest], number=2, kind=1) + page([b"sound"], number=3)
    for file in (whole, whole + (NOTES / "tone-opus.ogg").read_bytes()):
        kept, _ = clean(file)
        assert PLACE not in kept
        assert b"sound" in kept
        assert len(kept) == len(file)


def test_flac_in_ogg_keeps_its_sound_and_loses_comment_and_picture() -> None:
    comment = bytes(4) + (1).to_bytes(4, "little") + (len(PLACE) + 9).to_bytes(4, "little") + b"LOCATION=" + PLACE
    picture = b"a face" * 40

    def block(kind: int, content: bytes, last: bool = False) -> bytes:
        return bytes([kind | (0x80 if last else 0)]) + len(content).to_bytes(3, "big") + content

    info = b"\x7fFLAC\x01\x00\x00\x02fLaC" + block(0, bytes(34))
    file = page([info], kind=2) + page([block(4, comment), block(6, picture, last=True)], number=1)
    kept, _ = clean(file + page([b"\xff\xf8frame"], number=2))
    assert PLACE not in kept
    assert b"a face" not in kept
    assert b"\xff\xf8frame" in kept


def test_a_note_that_was_cut_off_keeps_its_whole_pages() -> None:
    received = (NOTES / "tone-opus.ogg").read_bytes()
    kept, _ = clean(received[:-10])
    assert pages(kept) == pages(clean(received)[0])[:-1]


def test_a_browser_recording_loses_the_name_of_its_program_and_no_sound() -> None:
    received = (NOTES / "tone-browser.webm").read_bytes()
    kept, media = clean(received)
    assert media == "audio/webm"
    assert b"Chrome" in received
    assert b"Chrome" not in kept
    assert len(kept) == len(received)
    changed = [i for i, (a, b) in enumerate(zip(received, kept, strict=True)) if a != b]
    assert max(changed) < received.index(b"\x1f\x43\xb6\x75")  # nothing behind the head


def test_a_webm_loses_tags_title_date_and_attachments() -> None:
    received = (NOTES / "tone-browser.webm").read_bytes()
    at = received.index(b"\x15\x49\xa9\x66")
    title = element(b"\x7b\xa9", b"behind the bakery") + element(b"\x44\x61", bytes(8))
    info = received[at + 5 : at + 5 + 0x19]
    named = received[:at] + element(b"\x15\x49\xa9\x66", info + title) + received[at + 5 + 0x19 :]
    file = named + TAGS + element(b"\x19\x41\xa4\x69", b"\x61\xa7\x83jpg") + TAGS
    assert PLACE in file
    kept, _ = clean(file)
    assert len(kept) == len(file)
    for secret in (PLACE, b"LOCATION", b"bakery", b"jpg", b"\x44\x61"):
        assert secret not in kept
    sound = received[received.index(b"\x1f\x43\xb6\x75") :]
    assert sound in kept
    assert clean(kept)[0] == kept


def test_a_webm_that_was_cut_off_within_a_block_is_kept() -> None:
    received = (NOTES / "tone-browser.webm").read_bytes()
    kept, _ = clean(received[:-20])
    assert len(kept) == len(received) - 20


def test_an_mp4_of_a_browser_keeps_its_sound() -> None:
    received = (NOTES / "tone-browser.mp4").read_bytes()
    kept, media = clean(received)
    assert media == "audio/mp4"
    assert hashlib.sha256(kept).digest() == hashlib.sha256(clean(kept)[0]).digest()
    assert len(kept) == len(received)


@pytest.mark.parametrize(
    "received",
    [
        b"OggS" + bytes(100),
        page([b"\x80theora" + bytes(30)], kind=2),
        page([b"OpusHead" + bytes(11)], kind=2),
        page([b"OpusHead" + bytes(11)], kind=2) + page([b"OpusTagsx"], number=1),
        b"\x1a\x45\xdf\xa3" + bytes(40),
        b"\x1a\x45\xdf\xa3\x80" + element(b"\x18\x53\x80\x67", b""),
        b"\x00\x00\x00\x0cftypM4A " + b"\x00\x00\x10\x00moov",
    ],
)
def test_what_cannot_be_read_to_its_end_is_refused_in_one_sentence(received: bytes) -> None:
    with pytest.raises(FixInput) as refused:
        clean(received)
    assert "\n" not in refused.value.message


@pytest.mark.parametrize("path", EVERY, ids=lambda p: p.name)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_broken_notes_are_cleaned_or_refused(path: Path, data: st.DataObject) -> None:
    note = bytearray(path.read_bytes())
    for at, value in data.draw(st.lists(st.tuples(st.integers(0, len(note) - 1), st.integers(0, 255)), max_size=6)):
        note[at] = value
    cut = data.draw(st.integers(8, len(note)))
    try:
        kept, _ = clean(bytes(note[:cut]))
    except FixInput:
        return
    assert len(kept) <= cut
