"""What becomes of an uploaded photo."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from brewhygiene.cellar.photos.files import MOST_BYTES, prepared_photo
from brewhygiene.refusals import Refusal


def picture(size=(40, 30), mode="RGB", colour="white", form="JPEG", **options) -> bytes:
    file = io.BytesIO()
    Image.new(mode, size, colour).save(file, form, **options)
    return file.getvalue()


def uploaded(content: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def kept(content: bytes) -> Image.Image:
    image = Image.open(prepared_photo(uploaded(content)))
    image.load()
    return image


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_photo_is_kept_as_jpeg(form: str) -> None:
    image = kept(picture(form=form))
    assert (image.format, image.size) == ("JPEG", (40, 30))


def test_large_photo_is_made_smaller() -> None:
    assert kept(picture(size=(4000, 3000))).size == (1600, 1200)


def test_photo_taken_sideways_stands_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turn a quarter to the right
    assert kept(picture(size=(40, 30), exif=exif)).size == (30, 40)


def test_what_the_camera_added_is_left_out() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Camera of somebody"
    exif.get_ifd(0x8825)[1] = "N"  # position
    content = picture(exif=exif, comment=b"taken at home")
    assert b"Camera of somebody" in content
    image = kept(content)
    assert dict(image.getexif()) == {}
    assert "comment" not in image.info


def test_see_through_picture_is_laid_on_white() -> None:
    image = kept(picture(mode="RGBA", colour=(0, 0, 0, 0), form="PNG"))
    assert image.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'></svg>",
        picture(form="GIF", mode="P", colour=0),
        picture()[:200],
        b"\xff\xd8\xff\xe0" + b"\x00" * 100,
    ],
    ids=["empty", "text", "svg", "gif", "cut short", "header only"],
)
def test_file_that_is_no_photo_is_refused(content: bytes) -> None:
    with pytest.raises(Refusal) as refused:
        prepared_photo(uploaded(content))
    assert (refused.value.field, refused.value.code) == ("photo", "not_a_picture")


def test_file_that_is_too_large_is_refused_unread() -> None:
    upload = uploaded(picture())
    upload.size = MOST_BYTES + 1
    with pytest.raises(Refusal) as refused:
        prepared_photo(upload)
    assert (refused.value.field, refused.value.code) == ("photo", "too_large")


def test_picture_of_too_many_pixels_is_refused() -> None:
    """70 million pixels in a file of some kilobytes."""
    content = picture(size=(10_000, 7_000), mode="1", colour=1, form="PNG")
    assert len(content) < 100_000
    with pytest.raises(Refusal) as refused:
        prepared_photo(uploaded(content))
    assert (refused.value.field, refused.value.code) == ("photo", "too_many_pixels")
