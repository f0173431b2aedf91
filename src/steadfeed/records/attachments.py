"""Photos, voice notes and signatures: small, without location data, hashed."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput, InstallPart
from steadfeed.records import rows
from steadfeed.records.rows import By
from steadfeed.records.schema import table

if TYPE_CHECKING:
    from PIL.Image import Image

#: A photo as kept is never larger than this [bytes].
LARGEST_PHOTO: Final = 400_000
#: A voice note as received may not be larger than this [bytes]: about five minutes of speech.
LARGEST_VOICE_NOTE: Final = 2_000_000
#: A photo as received may not be larger than this [bytes], nor have more pixels.
LARGEST_RECEIVED: Final = 40_000_000
MOST_PIXELS: Final = 120_000_000
_LONGEST_SIDES: Final = (2048, 1600, 1280, 1024, 800, 640)
_QUALITIES: Final = (88, 80, 70, 60, 50)
_EXIF_TAKEN: Final = (0x9003, 0x0132)  # DateTimeOriginal, DateTime (Exif 2.32, CIPA DC-008)
_EXIF_IFD: Final = 0x8769


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A file as it may be kept. width, height [pixels]; taken_text: when, as the camera wrote it, without a zone."""

    content: bytes
    media: str
    width: int | None = None
    height: int | None = None
    taken_text: str | None = None


def clean_photo(received: bytes) -> Cleaned:
    """Turn a photo upright, take out everything but the picture, and make it 400 kB at most.

    Only pixels pass: position, camera, thumbnails and comments stay behind. Raises FixInput when it is no picture,
    InstallPart without Pillow.
    """
    image, taken = _opened(received)
    upright = _upright(image)
    if _small_enough_as_it_is(received, image):
        content = _written(upright, "JPEG", 92)
        if len(content) <= LARGEST_PHOTO:
            return Cleaned(content, "image/jpeg", upright.width, upright.height, taken)
    for side in _LONGEST_SIDES:
        smaller = upright.copy()
        smaller.thumbnail((side, side))
        for quality in _QUALITIES:
            content = _written(smaller, "JPEG", quality)
            if len(content) <= LARGEST_PHOTO:
                return Cleaned(content, "image/jpeg", smaller.width, smaller.height, taken)
    raise FixInput("This photo cannot be made smaller than 400 kB", code="photo too large")  # pragma: no cover


def clean_signature(received: bytes) -> Cleaned:
    """Take out everything but the drawing of a signature; kept as PNG."""
    image, _ = _opened(received)
    smaller = _upright(image)
    smaller.thumbnail((1200, 600))
    return Cleaned(_written(smaller, "PNG", 0), "image/png", smaller.width, smaller.height)


def _opened(received: bytes) -> tuple[Image, str | None]:
    try:
        from PIL import Image as Pillow
    except ModuleNotFoundError as error:
        raise InstallPart("Photos need the part “store”; install steadfeed[store]", code="part missing") from error
    if len(received) > LARGEST_RECEIVED:
        raise FixInput(f"This picture has {len(received) / 1e6:.0f} MB; 40 MB is the limit", code="photo too large")
    try:
        image = Pillow.open(io.BytesIO(received))
        if image.width * image.height > MOST_PIXELS:
            raise FixInput(
                f"This picture has {image.width} × {image.height} pixels; 120 million is the limit",
                code="photo too large",
            )
        image.load()
        exif = image.getexif()
        taken = exif.get_ifd(_EXIF_IFD).get(_EXIF_TAKEN[0]) or exif.get(_EXIF_TAKEN[1])
    except FixInput:
        raise
    except Exception as error:  # Pillow raises errors of many kinds for broken files
        raise FixInput("This is no picture that can be read; JPEG, PNG or WebP is", code="no photo") from error
    return image, str(taken).strip("\x00 ") if taken else None


def _upright(image: Image) -> Image:
    """Return the pixels turned as the camera says, on white where transparent, in a new image without any extras."""
    from PIL import Image as Pillow
    from PIL import ImageOps

    turned = ImageOps.exif_transpose(image)
    if turned.mode in ("RGBA", "LA", "PA") or "transparency" in turned.info:
        turned = turned.convert("RGBA")
        ground = Pillow.new("RGB", turned.size, "white")
        ground.paste(turned, mask=turned.getchannel("A"))
        return ground
    plain = Pillow.new("RGB", turned.size)
    plain.paste(turned.convert("RGB"))
    return plain


def _small_enough_as_it_is(received: bytes, image: Image) -> bool:
    return len(received) <= LARGEST_PHOTO and max(image.size) <= _LONGEST_SIDES[0]


def _written(image: Image, form: str, quality: int) -> bytes:
    out = io.BytesIO()
    options: dict[str, Any] = {"quality": quality, "optimize": True} if form == "JPEG" else {"optimize": True}
    image.save(out, form, **options)
    return out.getvalue()


def clean_voice_note(received: bytes) -> Cleaned:
    """Check the kind of a voice note and blank the boxes in which a recorder may have written where it was.

    Known: WAV, Ogg, WebM, MPEG-4. Raises FixInput for another kind or above 2 MB.
    """
    if len(received) > LARGEST_VOICE_NOTE:
        raise FixInput(
            f"This voice note has {len(received) / 1e6:.1f} MB; 2 MB is the limit", code="voice note too large"
        )
    if received[:4] == b"RIFF" and received[8:12] == b"WAVE":
        return Cleaned(_clean_wav(received), "audio/wav")
    if received[:4] == b"OggS":
        return Cleaned(received, "audio/ogg")
    if received[:4] == b"\x1a\x45\xdf\xa3":
        return Cleaned(received, "audio/webm")
    if received[4:8] == b"ftyp":
        return Cleaned(_clean_mp4(received), "audio/mp4")
    raise FixInput("This is no voice note that is known; WAV, Ogg, WebM or MPEG-4 is", code="no voice note")


def _clean_wav(received: bytes) -> bytes:
    """Keep the format and the samples of a WAV file only (RIFF chunks “fmt ”, “fact” and “data”)."""
    kept, at = b"", 12
    while at + 8 <= len(received):
        name, size = received[at : at + 4], int.from_bytes(received[at + 4 : at + 8], "little")
        if name in (b"fmt ", b"fact", b"data"):
            kept += received[at : at + 8 + size + size % 2]
        at += 8 + size + size % 2
    return b"RIFF" + (4 + len(kept)).to_bytes(4, "little") + b"WAVE" + kept


def _clean_mp4(received: bytes) -> bytes:
    """Turn user data and metadata boxes into free space of the same size, so that no offset moves (ISO/IEC 14496-12)."""
    out = bytearray(received)

    def walk(start: int, end: int) -> None:
        at = start
        while at + 8 <= end:
            size = int.from_bytes(out[at : at + 4], "big")
            head = 8
            if size == 1:
                size, head = int.from_bytes(out[at + 8 : at + 16], "big"), 16
            elif size == 0:
                size = end - at
            if size < head or at + size > end:
                return
            name = bytes(out[at + 4 : at + 8])
            if name in (b"udta", b"meta", b"uuid"):
                out[at + 4 : at + 8] = b"free"
                out[at + head : at + size] = bytes(size - head)
            elif name in (b"moov", b"trak", b"mdia", b"moof", b"traf"):
                walk(at + head, at + size)
            at += size

    walk(0, len(out))
    return bytes(out)


_CLEANERS: Final = {"photo": clean_photo, "signature": clean_signature, "voice note": clean_voice_note}


def attach(
    t: sa.Connection,
    owner: str,
    owner_id: str,
    kind: str,
    received: bytes,
    by: By,
    *,
    text: str | None = None,
    taken_at: float | None = None,
    attachment_id: str | None = None,
) -> str:
    """Clean a file and attach it to a row. Return the attachment's identity.

    owner, owner_id: table and identity of what it belongs to. kind: photo, voice note or signature. taken_at [s since
    the epoch]. The same identity with the same bytes again is no error.
    """
    if kind not in _CLEANERS:
        raise FixInput(f"{', '.join(_CLEANERS)} can be attached; “{kind}” cannot", code="unknown word")
    rows.get(t, owner, owner_id)
    cleaned = _CLEANERS[kind](received)
    values = {
        "id": attachment_id,
        "owner": owner,
        "owner_id": owner_id,
        "kind": kind,
        "media": cleaned.media,
        "size": len(cleaned.content),
        "sha256": hashlib.sha256(cleaned.content).hexdigest(),
        "received_sha256": hashlib.sha256(received).hexdigest(),
        "width": cleaned.width,
        "height": cleaned.height,
        "taken_at": taken_at,
        "text": text,
    }
    made = rows.add(t, "attachment", values, by)
    where = table("attachment_content")
    if t.execute(sa.select(where.c.attachment_id).where(where.c.attachment_id == made)).first() is None:
        t.execute(where.insert().values(attachment_id=made, content=cleaned.content))
    return made


def content_of(t: sa.Connection, attachment_id: str) -> bytes:
    """Return the bytes of an attachment. Raises FixInput when they were erased or do not match their hash."""
    kept = rows.get(t, "attachment", attachment_id)
    where = table("attachment_content")
    content = t.execute(sa.select(where.c.content).where(where.c.attachment_id == attachment_id)).scalar_one_or_none()
    if content is None:
        raise FixInput("The content of this attachment was erased", code="erased")
    if hashlib.sha256(content).hexdigest() != kept["sha256"]:
        raise FixInput("This attachment no longer matches its hash", code="attachment damaged")
    return bytes(content)
