"""Sending a plate."""

from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.plates.media import MEDIA
from brewhygiene.plates.models import Plate
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import make_point, make_vessel
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


def pending(cellar: Now, *, days_ago: int = 8) -> Plate:
    turnaround = cellar.emptied(now=cellar.at(days_ago * DAY + HOUR))
    return cellar.plate_sent(turnaround, ago=days_ago * DAY)


def addresses(plate: Plate) -> dict[str, str]:
    return {
        "due": reverse("plates:due"),
        "send": reverse("plates:send", args=[plate.turnaround_id]),
        "plate": reverse("plates:plate", args=[plate.pk]),
        "read": reverse("plates:read", args=[plate.pk]),
        "resolve": reverse("plates:resolve", args=[plate.pk]),
    }


def test_send_offers_general_media_with_their_usual_incubation(cellar: Now) -> None:
    plate = pending(cellar)
    html = text_of(signed_in(cellar.hand).get(addresses(plate)["send"]))
    for medium in MEDIA:
        assert f"{medium.name}: {medium.grows}. {medium.incubation_c:g} °C, " in html
    ready = cellar.now + timedelta(days=5)
    assert f"28 °C, 5 days: taken today, due {ready:%a} {ready.day} {ready:%b}" in html


def test_send_takes_the_mediums_usual_incubation_where_none_is_typed(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    response = signed_in(cellar.hand).post(
        reverse("plates:send", args=[turnaround.pk]),
        {"point": cellar.point.pk, "medium": "WLN", "neutraliser": "thiosulfate"},
        follow=True,
    )
    plate = Plate.objects.get()
    assert (plate.medium, plate.incubation_c, plate.incubation_days) == ("WLN", 28, 5)
    assert (plate.point, plate.sent_by) == (cellar.point, cellar.hand)
    assert plate.due_on == (plate.taken_at + timedelta(days=5)).date()
    assert f"Plate sent. Read it on {plate.due_on:%A} {plate.due_on.day} {plate.due_on:%B}." in (
        text_of(response)
    )


def test_send_takes_what_is_typed_in_the_sites_unit(cellar: Now) -> None:
    cellar.brewery.temperature_unit = "F"
    cellar.brewery.save()
    turnaround = cellar.cleaned_ago(HOUR)
    taken = cellar.at(30 * MINUTE)
    signed_in(cellar.hand).post(
        reverse("plates:send", args=[turnaround.pk]),
        {
            "point": cellar.point.pk,
            "medium": "other",
            "other_medium": "Wort agar",
            "neutraliser": "thiosulfate",
            "incubation_c": "77",
            "incubation_days": "10",
            "taken_at": f"{taken:%Y-%m-%dT%H:%M}",
        },
    )
    plate = Plate.objects.get()
    assert (plate.medium, plate.incubation_days) == ("Wort agar", 10)
    assert plate.incubation_c == pytest.approx(25)
    assert plate.taken_at == taken.replace(second=0, microsecond=0)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"point": ""}, "Choose a sampling point."),
        ({"medium": ""}, "Choose a medium."),
        ({"neutraliser": ""}, "Choose the neutraliser."),
        ({"medium": "other"}, "Enter the medium."),
        ({"incubation_c": "400"}, "400 °C is too high. Enter at most 60 °C."),
        ({"incubation_c": "warm"}, "“warm” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ({"incubation_days": "0"}, "0 days is too low. Enter at least 1 days."),
        ({"incubation_days": "2.5"}, "“2.5” is not a whole number."),
        ({"taken_at": "2036-01-01T00:00"}, "Enter a time that is not in the future."),
    ],
)
def test_send_refuses_beside_its_field_and_keeps_what_was_typed(
    cellar: Now, values: dict[str, str], message: str
) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    sent = {
        "point": cellar.point.pk,
        "medium": "WLN",
        "neutraliser": "thiosulfate",
        "incubation_days": "9",
        **values,
    }
    response = signed_in(cellar.hand).post(reverse("plates:send", args=[turnaround.pk]), sent)
    html = text_of(response)
    assert response.status_code == 422
    assert message in html
    assert f'value="{sent["incubation_days"]}"' in html
    assert Plate.objects.count() == 0


def test_send_refuses_a_point_of_another_vessel(cellar: Now) -> None:
    stranger = make_point(make_vessel())
    turnaround = cellar.cleaned_ago(HOUR)
    response = signed_in(cellar.hand).post(
        reverse("plates:send", args=[turnaround.pk]),
        {"point": stranger.pk, "medium": "WLN", "neutraliser": "thiosulfate"},
    )
    assert response.status_code == 422
    assert Plate.objects.count() == 0


def test_send_from_a_vessel_without_points_says_so(cellar: Now) -> None:
    bare = make_vessel(points=0)
    turnaround = cellar.emptied(now=cellar.at(HOUR), vessel=bare)
    html = text_of(signed_in(cellar.hand).get(reverse("plates:send", args=[turnaround.pk])))
    assert f"{bare.name} has no sampling point yet." in html
