"""The release queue, re-sanitising and filling as pages."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.factories import PASSWORD, make_beer, make_resanitise_version, make_user

pytestmark = pytest.mark.django_db

QUEUE_QUERIES = 11


@pytest.fixture
def cellar() -> Now:
    return Now()


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def address(name: str, turnaround: Turnaround) -> str:
    return reverse(f"release:{name}", args=[turnaround.pk])


ADDRESSES = ["decide", "resanitise", "fill", "fill_without_release"]


@pytest.mark.parametrize("name", ADDRESSES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_release_pages_send_a_stranger_to_the_sign_in(cellar: Now, name: str, method: str) -> None:
    to = address(name, cellar.emptied(now=cellar.at(HOUR)))
    response = getattr(Client(), method)(to)
    assert response.status_code == 302
    assert response.headers["Location"] == f"/sign-in/?next={to}"


@pytest.mark.parametrize(
    ("name", "may"),
    [
        ("decide", {"brewer"}),
        ("resanitise", {"hand", "brewer"}),
        ("fill", {"hand", "brewer"}),
        ("fill_without_release", {"brewer"}),
    ],
)
def test_release_posts_are_refused_to_the_wrong_role(cellar: Now, name: str, may: set[str]) -> None:
    to = address(name, cellar.to_decide())
    people = {
        "hand": cellar.hand,
        "brewer": cellar.brewer,
        "owner": cellar.owner,
        "nobody": make_user(),
    }
    before = Entry.objects.count()
    allowed = {
        who for who, user in people.items() if signed_in(user).post(to, {}).status_code != 403
    }
    assert allowed == may
    assert Entry.objects.count() == before


@pytest.mark.parametrize(
    ("name", "may"),
    [
        ("decide", {"brewer", "owner"}),
        ("resanitise", {"hand", "brewer"}),
        ("fill", {"hand", "brewer"}),
        ("fill_without_release", {"brewer"}),
    ],
)
def test_release_pages_open_to_the_right_roles(cellar: Now, name: str, may: set[str]) -> None:
    to = address(name, cellar.to_decide())
    people = {
        "hand": cellar.hand,
        "brewer": cellar.brewer,
        "owner": cellar.owner,
        "nobody": make_user(),
    }
    codes = {who: signed_in(user).get(to).status_code for who, user in people.items()}
    assert codes == {who: 200 if who in may else 403 for who in people}


@pytest.mark.parametrize("name", ADDRESSES)
def test_release_pages_of_no_turnaround_are_not_found(cellar: Now, name: str) -> None:
    to = reverse(f"release:{name}", args=[987654])
    assert signed_in(cellar.brewer).get(to).status_code == 404


# --- the queue ---


@pytest.mark.parametrize("number", [11, 33])
def test_queue_takes_the_same_queries_for_one_and_for_three_of_each(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    crowd(cellar, number)
    client = signed_in(cellar.brewer)
    with django_assert_num_queries(QUEUE_QUERIES):
        html = text_of(client.get(reverse("release:queue")))
    # To decide, held by a reading, held by a plate, lapsed, released.
    assert html.count('<li class="waiting-row') == 5 * number // 11


def test_queue_offers_each_role_what_is_its(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    decide = f'href="{address("decide", turnaround)}"'
    for user, may in ((cellar.brewer, True), (cellar.hand, False), (cellar.owner, False)):
        html = text_of(signed_in(user).get(reverse("release:queue")))
        assert (decide in html) is may
        assert ("Waiting for the head brewer" in html) is not may


def test_queue_shows_when_a_release_lapses_and_lets_the_cellar_fill(cellar: Now) -> None:
    turnaround = cellar.released_ago(20 * MINUTE)
    html = text_of(signed_in(cellar.hand).get(reverse("release:queue")))
    # Sanitised 40 min ago, of 4 h.
    assert "<strong>in 3 h 20 min</strong>" in html
    assert f'href="{address("fill", turnaround)}"' in html


def test_queue_is_empty_in_so_many_words(cellar: Now) -> None:
    html = text_of(signed_in(cellar.hand).get(reverse("release:queue")))
    assert "<strong>Nothing waits here.</strong>" in html


def test_queue_follows_by_itself(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    page = text_of(client.get(reverse("release:queue")))
    question = page.split('id="queue" data-hx-get="')[1].split('"')[0]
    htmx = {"HX-Request": "true"}
    assert client.get(question, headers=htmx).status_code in (204, 200)
    cellar.to_decide()
    fragment = text_of(client.get(question, headers=htmx))
    assert f'innerHTML:#news">{cellar.vessel.name}: to decide.</div>' in fragment
    assert '<li class="waiting-row status-to_decide' in fragment
    assert "<html" not in fragment


# --- re-sanitising ---


def test_resanitise_starts_a_clean_after_a_lapse(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    other = make_resanitise_version(vessel_kinds=["bright_tank"])
    client = signed_in(cellar.hand)
    html = text_of(client.get(address("resanitise", turnaround)))
    assert f"{cellar.resanitise_version.regime.name}: rinse, sanitiser" in html
    assert other.regime.name not in html
    response = client.post(
        address("resanitise", turnaround), {"version": cellar.resanitise_version.pk}
    )
    clean = Clean.objects.get(purpose="resanitise")
    assert (clean.turnaround, clean.started_by) == (turnaround, cellar.hand)
    assert response.headers["Location"] == reverse("turnarounds:clean", args=[clean.pk])


def test_resanitise_is_refused_with_the_reason_after_a_failed_result(cellar: Now) -> None:
    turnaround = cellar.to_decide(ago=6 * HOUR, rlu=90)
    client = signed_in(cellar.hand)
    why = "A result is over the action limit. Sanitiser does not cure that: clean it again."
    html = text_of(client.get(address("resanitise", turnaround)))
    assert why in html
    assert "<form method" not in html.split("<main")[1]
    response = client.post(
        address("resanitise", turnaround), {"version": cellar.resanitise_version.pk}
    )
    assert response.status_code == 422
    assert why in text_of(response)
    assert not Clean.objects.filter(purpose="resanitise").exists()


def test_resanitise_takes_only_what_resanitises_this_kind(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    response = signed_in(cellar.hand).post(
        address("resanitise", turnaround), {"version": cellar.version.pk}
    )
    assert response.status_code == 422
    assert "That one is no longer in force. Choose again." in text_of(response)


def test_resanitise_says_where_there_is_no_regime_for_it(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    cellar.resanitise_version.regime.vessel_kinds = ["keg"]
    cellar.resanitise_version.regime.save()
    html = text_of(signed_in(cellar.brewer).get(address("resanitise", turnaround)))
    assert "No regime re-sanitises a fermenter yet." in html
    assert reverse("regimes:regimes") in html


# --- filling ---


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
    stout = make_beer(name="Tarn Stout (invented)")
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
        ({"volume_hl": "plenty"}, "“plenty” is not a number. Type digits, as 2.5 or 2,5."),
        ({"volume_hl": "31"}, "holds 30 hL; 31 hL do not fit."),
        ({"volume_hl": "0"}, "The volume is above 0."),
        ({"volume_hl": "-4"}, "-4 hL is too little: at least 0 hL."),
        ({"volume_hl": ""}, "Type how much went in."),
        ({"batch": " "}, "Give the batch."),
        ({"beer": ""}, "Choose the beer."),
        ({"filled_at": "2036-01-01T00:00"}, "That is in the future. Check the date and time."),
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
    assert f"{cellar.vessel.name} holds 25.57 bbl." in text_of(
        client.get(address("fill", turnaround))
    )
    response = client.post(address("fill", turnaround), filling(cellar, volume_hl="26"))
    assert "holds 25.57 bbl; 26 bbl do not fit." in text_of(response)
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
        assert "The release has lapsed" in main
        assert "<form" not in main
        assert (irregular in main) is sees


def test_fill_that_lapsed_meanwhile_is_refused_and_keeps_what_was_typed(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    response = signed_in(cellar.hand).post(address("fill", turnaround), filling(cellar))
    html = text_of(response)
    assert response.status_code == 422
    assert f"{cellar.vessel.name} is not released: lapsed. The release has lapsed." in html
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
    assert f"{cellar.vessel.name} has been filled since." in html


# --- a fill without a release ---


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
        ({"reason": ""}, "Say how it came to be filled."),
        ({"filled_at": ""}, "Say when it was filled."),
        ({"password": ""}, "Type your password to sign."),
        ({"password": "not-mine"}, "That is not your password. Nothing was signed."),
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
    assert f"{cellar.vessel.name} is released: fill it as usual." in text_of(response)
    assert Fill.objects.count() == 0
