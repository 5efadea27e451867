"""Photographs from a tablet's camera: checked, made small and free of what the camera added."""

import io
import struct
from typing import Any

from django.core.files.base import ContentFile
from PIL import Image, ImageOps

from brewhygiene.refusals import Refusal

MOST_BYTES = 15 * 1024 * 1024
# Some 60 million pixels take 180 MB while they are read; no tablet's camera has more.
MOST_PIXELS = 60_000_000
LONGEST_SIDE_PX = 1600
FORMATS = ("JPEG", "PNG", "WEBP")
CONTENT_TYPE = "image/jpeg"
# What Pillow raises for a file that is damaged or was made to do damage.
UNREADABLE = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    struct.error,
    Image.DecompressionBombError,
)


def prepared_photo(upload: Any) -> "ContentFile[bytes]":
    """The photograph as it is kept: JPEG, upright, at most 1600 px, without position or camera.

    ``upload`` is an uploaded file. Raises :class:`Refusal` on ``photo`` for a file that is too
    large, no picture, or a picture of another format.
    """
    if upload.size > MOST_BYTES:
        raise Refusal(
            f"This file has {upload.size / 1024**2:.0f} MB. Choose a photo of up to "
            f"{MOST_BYTES // 1024**2} MB.",
            field="photo",
            code="too_large",
        )
    try:
        with Image.open(upload, formats=FORMATS) as opened:
            # Told by the header, before a single pixel is unpacked.
            if opened.width * opened.height > MOST_PIXELS:
                raise Refusal(
                    "This photo has too many pixels. Take it at the tablet's usual size.",
                    field="photo",
                    code="too_many_pixels",
                )
            opened.draft("RGB", (LONGEST_SIDE_PX * 2, LONGEST_SIDE_PX * 2))
            upright = ImageOps.exif_transpose(opened)
            picture = _on_white(upright)
    except UNREADABLE as error:
        raise Refusal(
            "This file is not a readable photo. Choose a JPEG, PNG or WebP file.",
            field="photo",
            code="not_a_picture",
        ) from error
    picture.info.clear()  # a comment would be carried over
    picture.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), Image.Resampling.LANCZOS)
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=82, optimize=True, progressive=True)
    return ContentFile(file.getvalue())


def _on_white(picture: Image.Image) -> Image.Image:
    """Without transparency, which JPEG has not."""
    if "A" not in picture.getbands() and "transparency" not in picture.info:
        return picture.convert("RGB")
    layered = picture.convert("RGBA")
    ground = Image.new("RGBA", layered.size, "white")
    ground.alpha_composite(layered)
    return ground.convert("RGB")
