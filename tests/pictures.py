"""Pictures for tests, made on the spot."""

from __future__ import annotations

import io
import random

from PIL import Image

GPS_IFD, EXIF_IFD = 0x8825, 0x8769


def photo_with_location(width: int = 640, height: int = 480, *, turned: bool = False, noise: bool = False) -> bytes:
    """A JPEG as a phone makes it: with position, camera, time, a comment and, if turned, a note to turn it."""
    if noise:
        image = Image.frombytes("RGB", (width, height), random.Random(1).randbytes(width * height * 3))
    else:
        image = Image.linear_gradient("L").resize((width, height)).convert("RGB")
    exif = Image.Exif()
    exif[0x010F] = "Camera of nobody"
    exif[0x0112] = 6 if turned else 1
    exif.get_ifd(GPS_IFD).update({1: "N", 2: (40.0, 30.0, 15.0), 3: "W", 4: (75.0, 10.0, 5.0)})
    exif.get_ifd(EXIF_IFD)[0x9003] = "2026:07:25 10:11:12"
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=b"left of the back door", quality=95)
    return out.getvalue()
