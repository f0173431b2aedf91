"""Photos, voice notes and signatures: small, without location data, hashed."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from steadfeed.errors import FixInput, InstallPart
from steadfeed.records import rows, voice_notes
from steadfeed.records.rows import By
from steadfeed.records.schema import table

if TYPE_CHECKING:
    from PIL.Image import Image

#: A photo as kept is never larger than this [bytes].
LARGEST_PHOTO: Final = 400_000
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
    """Take out everything but the speech: place, title, device, pictures (see `records.voice_notes`)."""
    return Cleaned(*voice_notes.clean(received))


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
