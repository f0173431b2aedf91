"""Photos and voice notes: small, without location, hashed. Read back with Pillow's own reader of Exif."""

from __future__ import annotations

import hashlib
import io
import struct
import wave

import pytest
from PIL import Image

from company import BY, small_company
from pictures import GPS_IFD, photo_with_location
from steadfeed.errors import FixInput
from steadfeed.records import attachments, rows
from steadfeed.records.store import Store


def test_a_photo_loses_its_place_and_everything_but_the_picture() -> None:
    received = photo_with_location()
    before = Image.open(io.BytesIO(received))
    assert before.getexif().get_ifd(GPS_IFD)  # the test picture really has a position
    cleaned = attachments.clean_photo(received)
    after = Image.open(io.BytesIO(cleaned.content))
    assert after.size == before.size == (cleaned.width, cleaned.height)
    assert len(after.getexif()) == 0
    assert {"exif", "comment", "xmp", "icc_profile"}.isdisjoint(after.info)
    assert b"Exif" not in cleaned.content
    assert b"back door" not in cleaned.content
    assert cleaned.taken_text == "2026:07:25 10:11:12"


def test_a_photo_is_turned_as_the_camera_says() -> None:
    cleaned = attachments.clean_photo(photo_with_location(640, 480, turned=True))
    assert (cleaned.width, cleaned.height) == (480, 640)


def test_even_the_worst_picture_fits_into_400_kb() -> None:
    """Noise is what compresses worst."""
    cleaned = attachments.clean_photo(photo_with_location(2400, 1800, noise=True))
    assert len(cleaned.content) <= 400_000
    assert max(Image.open(io.BytesIO(cleaned.content)).size) >= 640


@pytest.mark.parametrize("form", ["PNG", "WEBP", "GIF", "TIFF"])
def test_other_kinds_of_picture_become_a_clean_jpeg(form: str) -> None:
    out = io.BytesIO()
    Image.linear_gradient("L").convert("RGBA" if form == "PNG" else "RGB").save(out, form)
    cleaned = attachments.clean_photo(out.getvalue())
    assert Image.open(io.BytesIO(cleaned.content)).format == "JPEG"


@pytest.mark.parametrize("received", [b"", b"hello", photo_with_location()[:500], b"\xff\xd8\xff\xe0" + bytes(200)])
def test_what_is_no_picture_gets_one_sentence(received: bytes) -> None:
    with pytest.raises(FixInput, match="no picture"):
        attachments.clean_photo(received)


def test_a_picture_of_absurd_size_is_refused_before_it_is_unpacked() -> None:
    def chunk(name: bytes, data: bytes) -> bytes:
        import zlib

        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    with pytest.raises(FixInput, match=r"pixels|no picture"):
        attachments.clean_photo(bomb)


def box(name: bytes, content: bytes) -> bytes:
    return (8 + len(content)).to_bytes(4, "big") + name + content


def test_a_voice_note_loses_what_its_recorder_wrote_about_the_place() -> None:
    """MPEG-4 keeps a position as an ISO 6709 text in the user data of the movie (box udta)."""
    place = box(b"\xa9xyz", b"\x00\x12\x15\xc7+40.5042-075.1681/")
    note = (
        box(b"ftyp", b"M4A \x00\x00\x00\x00")
        + box(b"moov", box(b"mvhd", bytes(100)) + box(b"udta", place))
        + box(b"mdat", b"speech" * 50)
    )
    cleaned = attachments.clean_voice_note(note)
    assert b"40.5042" not in cleaned.content
    assert len(cleaned.content) == len(note)  # no offset moved
    assert cleaned.content.endswith(b"speech" * 50)
    assert cleaned.media == "audio/mp4"


def test_a_wav_keeps_its_sound_and_nothing_else() -> None:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes(bytes(range(200)))
    told = b"LIST" + (16).to_bytes(4, "little") + b"INFOplace here.."
    note = bytearray(out.getvalue() + told)
    note[4:8] = (len(note) - 8).to_bytes(4, "little")
    cleaned = attachments.clean_voice_note(bytes(note))
    assert b"place here" not in cleaned.content
    with wave.open(io.BytesIO(cleaned.content)) as file:
        assert file.readframes(1000) == bytes(range(200))


def test_too_large_or_unknown_voice_notes_are_refused() -> None:
    with pytest.raises(FixInput, match="2 MB is the limit"):
        attachments.clean_voice_note(b"OggS" + bytes(2_000_001))
    with pytest.raises(FixInput, match="no voice note"):
        attachments.clean_voice_note(b"MZ" + bytes(100))


def test_an_attachment_is_kept_with_both_hashes(store: Store) -> None:
    received = photo_with_location()
    with store.writing() as t:
        company = small_company(t)
        made = attachments.attach(t, "unit", company.unit, "photo", received, BY, text="nameplate")
        kept, content = rows.get(t, "attachment", made), attachments.content_of(t, made)
        with pytest.raises(FixInput, match="There is no unit"):
            attachments.attach(t, "unit", company.visit, "photo", received, BY)
    assert kept["sha256"] == hashlib.sha256(content).hexdigest() != kept["received_sha256"]
    assert kept["received_sha256"] == hashlib.sha256(received).hexdigest()
    assert kept["size"] == len(content) <= 400_000
