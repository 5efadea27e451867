"""Filling as pages, with a release and without."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.cellar.models import Fill
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import PASSWORD, make_beer
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def address(name: str, turnaround: Turnaround) -> str:
    return reverse(f"release:{name}", args=[turnaround.pk])


def filling(cellar: Now, **values: Any) -> dict[str, Any]:
    return {"beer": cellar.pale.pk, "batch": "P-12", "volume_hl": "25,5", **values}


def test_fill_closes_the_turnaround(cellar: Now) -> None:
    turnaround = cellar.released_ago()
    client = signed_in(cellar.hand)
    response = client.post(address("fill", turnaround), filling(cellar), follow=True)
    fill = Fill.objects.get()
    assert (fill.beer, fill.batch, fill.volume_hl) == (cellar.pale, "P-12", 25.5)
    assert (fill.recorded_by, fill.without_release) == (cellar.hand, False)
    turnaround.refresh_from_db()
    assert turnaround.closing_fill == fill
    assert response.redirect_chain[0][0] == reverse("board:vessel", args=[cellar.vessel.pk])
    assert f"{cellar.vessel.name} is filled with Harrow Pale (invented), P-12." in text_of(response)


def test_fill_proposes_the_beer_that_was_planned(cellar: Now) -> None:
    stout = make_beer(name="Skellavine Stout (invented)")
    turnaround = cellar.released_ago()
    turnaround.next_beer = stout
    turnaround.save()
    html = text_of(signed_in(cellar.hand).get(address("fill", turnaround)))
    assert f'<option value="{stout.pk}" selected>' in html


def test_fill_in_the_minute_of_its_release_is_no_mistake(cellar: Now) -> None:
    turnaround = cellar.released_ago(5 * MINUTE)
    released = cellar.at(5 * MINUTE)
    typed = f"{released:%Y-%m-%dT%H:%M}"
    response = signed_in(cellar.hand).post(
        address("fill", turnaround), filling(cellar, filled_at=typed)
    )
    assert response.status_code == 302
    assert Fill.objects.get().filled_at == released.replace(second=0, microsecond=0)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"volume_hl": "plenty"}, "“plenty” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ({"volume_hl": "31"}, "takes 30 hL. 31 hL do not fit."),
        ({"volume_hl": "0"}, "Enter a volume above 0."),
        ({"volume_hl": "-4"}, "-4 hL is too low. Enter at least 0 hL."),
        ({"volume_hl": ""}, "Enter the volume."),
        ({"batch": " "}, "Enter the batch."),
        ({"beer": ""}, "Choose a beer."),
        ({"filled_at": "2036-01-01T00:00"}, "Enter a time that is not in the future."),
        ({"filled_at": "noon"}, "Enter a date and a time, e.g. 2026-03-14 06:30."),
    ],
)
def test_fill_refuses_beside_its_field_and_keeps_what_was_typed(
    cellar: Now, values: dict[str, str], message: str
) -> None:
    turnaround = cellar.released_ago()
    response = signed_in(cellar.hand).post(
        address("fill", turnaround),
        filling(cellar, batch="P-12a", **values)
        if "batch" not in values
        else filling(cellar, **values),
    )
    html = text_of(response)
    assert response.status_code == 422
    assert '<p class="error">' in html
    assert message in html.replace("&quot;", '"')
    if "batch" not in values:
        assert 'value="P-12a"' in html
    for value in values.values():
        assert not value.strip() or f'value="{value}"' in html
    assert Fill.objects.count() == 0


def test_fill_speaks_in_the_sites_unit(cellar: Now) -> None:
    cellar.brewery.volume_unit = "bbl"
    cellar.brewery.save()
    turnaround = cellar.released_ago()
    client = signed_in(cellar.hand)
    assert f"{cellar.vessel.name} takes 25.57 bbl." in text_of(
        client.get(address("fill", turnaround))
    )
    response = client.post(address("fill", turnaround), filling(cellar, volume_hl="26"))
    assert "takes 25.57 bbl. 26 bbl do not fit." in text_of(response)
    # Full to the brim, as far as the shown digits go.
    client.post(address("fill", turnaround), filling(cellar, volume_hl="25.57"))
    assert Fill.objects.get().volume_hl == 30


def test_fill_before_its_release_is_refused(cellar: Now) -> None:
    turnaround = cellar.released_ago(10 * MINUTE)
    typed = f"{cellar.at(30 * MINUTE):%Y-%m-%dT%H:%M}"
    response = signed_in(cellar.hand).post(
        address("fill", turnaround), filling(cellar, filled_at=typed)
    )
    assert "was not yet released at that time." in text_of(response)


def test_fill_page_of_a_vessel_that_is_not_released_gives_the_reason_and_no_form(
    cellar: Now,
) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    irregular = address("fill_without_release", turnaround)
    for user, sees in ((cellar.hand, False), (cellar.brewer, True)):
        html = text_of(signed_in(user).get(address("fill", turnaround)))
        main = html.split("<main")[1]
        assert "The sanitised-hold time has passed" in main
        assert address("sanitise", turnaround) in main
        assert "<form" not in main
        assert (irregular in main) is sees


def test_fill_that_lapsed_meanwhile_is_refused_and_keeps_what_was_typed(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    response = signed_in(cellar.hand).post(address("fill", turnaround), filling(cellar))
    html = text_of(response)
    assert response.status_code == 422
    assert (
        f"{cellar.vessel.name} is not released: lapsed. The sanitised-hold time has passed." in html
    )
    assert 'value="P-12"' in html
    assert Fill.objects.count() == 0


def test_fill_sent_twice_fills_once(cellar: Now) -> None:
    turnaround = cellar.released_ago()
    client = signed_in(cellar.hand)
    values = filling(cellar, key="a" * 32)
    first = client.post(address("fill", turnaround), values)
    second = client.post(address("fill", turnaround), values)
    assert first.headers["Location"] == second.headers["Location"]
    assert Fill.objects.count() == 1


def test_fill_page_of_a_closed_turnaround_says_so(cellar: Now) -> None:
    turnaround = cellar.released_ago(20 * MINUTE)
    cellar.filled(turnaround, now=cellar.at(5 * MINUTE))
    html = text_of(signed_in(cellar.hand).get(address("fill", turnaround)))
    assert f"{cellar.vessel.name} is already filled." in html


def irregular(cellar: Now, **values: Any) -> dict[str, Any]:
    return filling(
        cellar,
        **{
            "filled_at": f"{cellar.at(5 * MINUTE):%Y-%m-%dT%H:%M}",
            "reason": "Wort was in the line",
            "password": PASSWORD,
            **values,
        },
    )


def test_fill_without_release_is_signed_with_its_reason(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    client = signed_in(cellar.brewer)
    response = client.post(
        address("fill_without_release", turnaround), irregular(cellar), follow=True
    )
    fill = Fill.objects.get()
    assert (fill.without_release, fill.without_release_reason) == (True, "Wort was in the line")
    assert fill.without_release_signature is not None
    assert fill.without_release_signature.user == cellar.brewer
    html = text_of(response)
    assert f"Recorded: {cellar.vessel.name} was filled without a release." in html
    assert '<p class="unreleased">Filled without a release</p>' in html


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"reason": ""}, "Enter how the vessel came to be filled."),
        ({"filled_at": ""}, "Enter when the vessel was filled."),
        ({"password": ""}, "Enter your password to sign."),
        ({"password": "not-mine"}, "This is not your password. Nothing was signed."),
    ],
)
def test_fill_without_release_refuses_beside_its_field(
    cellar: Now, values: dict[str, str], message: str
) -> None:
    turnaround = cellar.to_decide()
    response = signed_in(cellar.brewer).post(
        address("fill_without_release", turnaround), irregular(cellar, **values)
    )
    html = text_of(response)
    assert response.status_code == 422
    assert f'<p class="error">{message}</p>' in html
    assert 'value="P-12"' in html
    assert PASSWORD not in html
    assert "not-mine" not in html
    assert Fill.objects.count() == 0


def test_fill_without_release_of_a_released_vessel_leads_to_the_usual_fill(cellar: Now) -> None:
    turnaround = cellar.released_ago()
    client = signed_in(cellar.brewer)
    html = text_of(client.get(address("fill_without_release", turnaround)))
    assert f'href="{address("fill", turnaround)}"' in html
    assert "<form" not in html.split("<main")[1]
    response = client.post(address("fill_without_release", turnaround), irregular(cellar))
    assert f"{cellar.vessel.name} is released. Record the filling as usual." in text_of(response)
    assert Fill.objects.count() == 0
