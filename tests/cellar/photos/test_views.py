"""Photos on the set-up pages."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from brewhygiene.cellar.models import Vessel

pytestmark = pytest.mark.django_db


def photo(name: str = "tank.png") -> SimpleUploadedFile:
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(file, "PNG")
    return SimpleUploadedFile(name, file.getvalue(), content_type="image/png")


def test_photo_is_shown_to_the_signed_in_only(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/photo/"
    assert desk.get(address).status_code == 404
    assert desk.post(f"{address}set/", {"photo": photo()}).status_code == 302
    response = desk.get(address)
    assert response["Content-Type"] == "image/jpeg"
    assert response["Cache-Control"] == "private, max-age=2592000"
    with Image.open(io.BytesIO(response.getvalue())) as image:
        assert image.format == "JPEG"
    assert Client().get(address)["Location"] == f"/sign-in/?next={address}"
    assert desk.post(f"{address}remove/").status_code == 302
    assert desk.get(address).status_code == 404


def test_photo_lies_among_no_static_files(desk: Client, vessel: Vessel) -> None:
    desk.post(f"/set-up/vessels/{vessel.pk}/photo/set/", {"photo": photo()})
    vessel.refresh_from_db()
    assert Client().get(f"/photos/{vessel.photo.name}").status_code in (302, 404)
    assert Client().get(f"/static/{vessel.photo.name}").status_code in (302, 404)


@pytest.mark.parametrize(
    "sent, message",
    [
        ({}, "Choose a photo."),
        ({"photo": SimpleUploadedFile("a.jpg", b"")}, "This file is empty. Choose another."),
        (
            {"photo": SimpleUploadedFile("a.jpg", b"MZ")},
            "This file is not a readable photo. Choose a JPEG, PNG or WebP file.",
        ),
    ],
)
def test_what_is_no_photo_is_said_on_the_vessel_s_page(
    desk: Client, vessel: Vessel, sent: dict, message: str
) -> None:
    response = desk.post(f"/set-up/vessels/{vessel.pk}/photo/set/", sent)
    assert response.status_code == 422
    assert response.context["photo_form"].errors == {"photo": [message]}
    assert response.content.decode().count("<h1>") == 1


def test_point_has_a_photo_of_its_own(desk: Client, vessel: Vessel) -> None:
    point = vessel.points.get()
    address = f"/set-up/points/{point.pk}/photo/"
    assert desk.post(f"{address}set/", {"photo": photo()})["Location"] == (
        f"/set-up/points/{point.pk}/"
    )
    response = desk.get(address)
    assert (response["Content-Type"], response.getvalue()[:3]) == ("image/jpeg", b"\xff\xd8\xff")
    assert Client().get(address).status_code == 302
    desk.post(f"{address}remove/")
    assert desk.get(address).status_code == 404
