"""Plates as pages: what is due, sending, reading, closing."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.plates.models import Plate
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import PASSWORD, made_good, make_user, make_vessel
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

DUE_QUERIES = 12
PLATE_QUERIES = 11
DAY = timedelta(days=1)


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


def pending(cellar: Now, *, days_ago: int = 8) -> Plate:
    turnaround = cellar.emptied(now=cellar.at(days_ago * DAY + HOUR))
    return cellar.plate_sent(turnaround, ago=days_ago * DAY)


def people(cellar: Now) -> dict[str, User]:
    return {
        "hand": cellar.hand,
        "brewer": cellar.brewer,
        "owner": cellar.owner,
        "nobody": make_user(),
    }


def addresses(plate: Plate) -> dict[str, str]:
    return {
        "due": reverse("plates:due"),
        "send": reverse("plates:send", args=[plate.turnaround_id]),
        "plate": reverse("plates:plate", args=[plate.pk]),
        "read": reverse("plates:read", args=[plate.pk]),
        "resolve": reverse("plates:resolve", args=[plate.pk]),
    }


EVERYBODY = {"hand", "brewer", "owner", "nobody"}
MAY_SEE = {
    "due": EVERYBODY,
    "plate": EVERYBODY,
    "send": {"hand", "brewer"},
    "read": {"brewer"},
    "resolve": {"brewer"},
}


@pytest.mark.parametrize("name", MAY_SEE)
def test_plate_pages_send_a_stranger_to_the_sign_in(cellar: Now, name: str) -> None:
    to = addresses(pending(cellar))[name]
    response = Client().get(to)
    assert (response.status_code, response.headers["Location"]) == (302, f"/sign-in/?next={to}")


@pytest.mark.parametrize("name", MAY_SEE)
def test_plate_pages_open_to_the_right_roles(cellar: Now, name: str) -> None:
    to = addresses(pending(cellar))[name]
    codes = {who: signed_in(user).get(to).status_code for who, user in people(cellar).items()}
    assert codes == {who: 200 if who in MAY_SEE[name] else 403 for who in EVERYBODY}


@pytest.mark.parametrize("name", ["send", "read", "resolve"])
def test_plate_posts_are_refused_to_the_wrong_role(cellar: Now, name: str) -> None:
    to = addresses(pending(cellar))[name]
    before = Entry.objects.count()
    allowed = {
        who
        for who, user in people(cellar).items()
        if signed_in(user).post(to, {}).status_code != 403
    }
    assert allowed == MAY_SEE[name]
    assert Entry.objects.count() == before


# --- the list ---


def test_due_list_puts_open_positives_first_then_what_is_due(cellar: Now) -> None:
    positive = cellar.positive_plate()
    other = make_vessel(name="FV late")
    turnaround = cellar.emptied(now=cellar.at(9 * DAY), vessel=other)
    cellar.plate_sent(turnaround, ago=9 * DAY, medium="WLN")
    cellar.plate_sent(turnaround, ago=HOUR, medium="LWYM")
    read = cellar.plate_sent(turnaround, ago=9 * DAY, medium="SDA")
    cellar.plate_read(read, "negative")
    html = text_of(signed_in(cellar.hand).get(reverse("plates:due")))
    places = [
        html.index(words) for words in ("Positive, open", "In incubation", '"settled">Negative')
    ]
    assert places == sorted(places)
    positives, growing = html[places[0] : places[1]], html[places[1] : places[2]]
    assert f"{positive.vessel.name} is held" in positives
    assert growing.index("WLN") < growing.index("LWYM")
    assert growing.count('<strong class="ticket">overdue</strong>') == 1
    assert "SDA" in html[places[2] :]


def test_due_list_offers_reading_to_those_who_may(cellar: Now) -> None:
    plate = pending(cellar)
    link = f'href="{reverse("plates:read", args=[plate.pk])}"'
    offered = {
        who: link in text_of(signed_in(user).get(reverse("plates:due")))
        for who, user in people(cellar).items()
    }
    assert offered == {"hand": False, "brewer": True, "owner": False, "nobody": False}


def test_due_list_is_empty_in_so_many_words(cellar: Now) -> None:
    html = text_of(signed_in(cellar.hand).get(reverse("plates:due")))
    assert "No plates yet" in html


def test_due_list_takes_the_same_queries_for_1_and_3_of_each(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    client = signed_in(cellar.brewer)
    for _ in range(3):
        vessel = make_vessel()
        turnaround = cellar.emptied(now=cellar.at(9 * DAY), vessel=vessel)
        for state in ("", "negative", "positive"):
            plate = cellar.plate_sent(turnaround, ago=9 * DAY)
            if state:
                cellar.plate_read(plate, state)
        with django_assert_num_queries(DUE_QUERIES):
            assert client.get(reverse("plates:due")).status_code == 200


def test_due_list_pages_the_plates_that_were_read(cellar: Now) -> None:
    turnaround = cellar.emptied(now=cellar.at(9 * DAY))
    for _ in range(21):
        cellar.plate_read(cellar.plate_sent(turnaround, ago=9 * DAY), "negative")
    client = signed_in(cellar.hand)
    assert "Page 1 of 2" in text_of(client.get(reverse("plates:due")))
    second = text_of(client.get(reverse("plates:due") + "?page=2"))
    assert second.count('class="flag verdict-negative"') == 1


# --- reading ---


def test_negative_plate_is_read_when_it_is_due(cellar: Now) -> None:
    plate = pending(cellar)
    response = signed_in(cellar.brewer).post(
        addresses(plate)["read"], {"state": "negative"}, follow=True
    )
    plate.refresh_from_db()
    assert (plate.state, plate.colonies, plate.read_by) == ("negative", 0, cellar.brewer)
    assert "Reading recorded: negative." in text_of(response)


def test_negative_before_its_day_is_refused(cellar: Now) -> None:
    plate = pending(cellar, days_ago=2)
    client = signed_in(cellar.brewer)
    assert "Until then only a positive can be recorded" in text_of(
        client.get(addresses(plate)["read"])
    )
    response = client.post(addresses(plate)["read"], {"state": "negative", "organism": "rods?"})
    html = text_of(response)
    assert response.status_code == 422
    assert (
        f"Record a negative from {plate.due_on.day} {plate.due_on:%B} on. Slow growers may" in html
    )
    assert 'value="rods?"' in html
    plate.refresh_from_db()
    assert plate.state == "pending"


def test_positive_plate_holds_the_vessel_and_names_the_fills_at_risk(cellar: Now) -> None:
    turnaround = cellar.released_ago(9 * DAY)
    cellar.filled(turnaround, now=cellar.at(9 * DAY - 5 * MINUTE), batch="P-12")
    plate = cellar.plate_sent(turnaround, ago=9 * DAY - HOUR)
    client = signed_in(cellar.brewer)
    response = client.post(
        addresses(plate)["read"],
        {"state": "positive", "colonies": "12", "organism": "rods, catalase negative"},
        follow=True,
    )
    html = text_of(response)
    name = cellar.vessel.name
    assert f"Positive: {name} is held." in html
    assert f"<strong>{name} is held</strong> until this plate is closed." in html
    at_risk = html[html.index('id="at-risk"') :]
    assert "Harrow Pale (invented) P-12" in at_risk
    board = text_of(client.get("/"))
    assert '<li class="vessel-card status-held' in board


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"state": ""}, "Choose negative or positive."),
        ({"state": "positive"}, "Enter the number of colonies, at least 1."),
        ({"state": "negative", "colonies": "3"}, "Choose positive: there are colonies."),
        ({"state": "positive", "colonies": "-3"}, "A count cannot be below 0. Enter 0 or more."),
        ({"state": "positive", "colonies": "many"}, "“many” is not a whole number."),
    ],
)
def test_read_refuses_what_cannot_be(cellar: Now, values: dict[str, str], message: str) -> None:
    plate = pending(cellar)
    response = signed_in(cellar.brewer).post(addresses(plate)["read"], values)
    assert response.status_code == 422
    assert message in text_of(response)
    plate.refresh_from_db()
    assert plate.state == "pending"


def test_plate_read_by_another_meanwhile_is_not_read_again(cellar: Now) -> None:
    plate = pending(cellar)
    cellar.plate_read(plate, "negative", ago=MINUTE)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(addresses(plate)["read"]))
    assert "Mara Oduya has already read this plate: negative." in html
    assert "<form" not in html.split("<main")[1]
    response = client.post(addresses(plate)["read"], {"state": "positive", "colonies": "2"})
    assert response.status_code == 422
    assert "Mara Oduya has already read this plate: negative. Correct it instead." in text_of(
        response
    )


# --- closing ---


def typed(made: dict[str, Any]) -> dict[str, Any]:
    """What a plate is closed with, as the form sends it; the inspection is now."""
    sent = {**made, "reclean": made["reclean"].pk, "replating": made["replating"].pk}
    del sent["inspected_at"]
    return sent


def test_positive_plate_is_closed_under_a_signature(cellar: Now) -> None:
    plate = cellar.positive_plate()
    response = signed_in(cellar.brewer).post(
        addresses(plate)["resolve"],
        {
            "resolution": "Gasket renewed, beer in quarantine",
            "password": PASSWORD,
            **typed(made_good(plate, now=cellar.now - MINUTE)),
        },
        follow=True,
    )
    plate.refresh_from_db()
    assert plate.resolution == "Gasket renewed, beer in quarantine"
    assert plate.resolution_signature is not None
    assert plate.resolution_signature.user == cellar.brewer
    html = text_of(response)
    assert f"Plate closed. It no longer holds {cellar.vessel.name}." in html
    assert "Signed by Mara Oduya" in html
    assert 'class="flag verdict-positive"' in html


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"resolution": "", "password": PASSWORD}, "Enter the measures taken."),
        ({"resolution": "Gasket renewed", "password": ""}, "Enter your password to sign."),
        (
            {"resolution": "Gasket renewed", "password": "guess-word"},
            "This is not your password. Nothing was signed.",
        ),
    ],
)
def test_close_refuses_beside_its_field_and_keeps_the_words(
    cellar: Now, values: dict[str, str], message: str
) -> None:
    plate = cellar.positive_plate()
    made = typed(made_good(plate, now=cellar.now - MINUTE))
    response = signed_in(cellar.brewer).post(addresses(plate)["resolve"], {**made, **values})
    html = text_of(response)
    assert response.status_code == 422
    assert f'<p class="error">{message}</p>' in html
    assert f"{values['resolution']}</textarea>" in html
    assert "Valve and gasket opened: clean</textarea>" in html
    assert PASSWORD not in html
    assert "guess-word" not in html
    plate.refresh_from_db()
    assert plate.open_positive


def test_only_an_open_positive_plate_is_closed(cellar: Now) -> None:
    plate = pending(cellar)
    client = signed_in(cellar.brewer)
    html = text_of(client.get(addresses(plate)["resolve"]))
    assert "This plate is not positive, so it cannot be closed." in html
    response = client.post(
        addresses(plate)["resolve"], {"resolution": "Nothing", "password": PASSWORD}
    )
    assert "This plate is not an open positive, so it cannot be closed." in text_of(response)


def test_plate_page_takes_the_same_queries_for_1_and_3_fills_at_risk(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    plate = cellar.positive_plate()
    client = signed_in(cellar.brewer)
    for days in (7, 5, 3):
        with django_assert_num_queries(PLATE_QUERIES):
            assert client.get(addresses(plate)["plate"]).status_code == 200
        turnaround = cellar.emptied(now=cellar.at(days * DAY))
        cellar.filled_without_release(turnaround, ago=days * DAY - HOUR)
