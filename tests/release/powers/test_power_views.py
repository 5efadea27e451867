"""The second signature and the release without a meter, as pages: refusals beside their field."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import PinWait, User
from brewhygiene.people.signing_in.waits import FREE_TRIES
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.explaining import Explanation
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import (
    PASSWORD,
    acting,
    because,
    because_typed,
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
WHY = because_typed("nothing_over_action", "A touched tip")
WITHOUT = {
    "meter_fault": "Meter 1 shows E2 and no number",
    "inspection": "Spray ball turns, cone and gaskets smell clean",
    "rinse_ph": "7.4",
    "supply_ph": "7.2",
}
NO_METER_QUERIES = 37


@pytest.fixture
def cellar() -> Now:
    return Now()


@pytest.fixture
def second() -> User:
    return make_cellar_hand(full_name="Ada Vance")


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def errors(response: HttpResponse) -> dict[str, list[str]]:
    found: dict[str, list[str]] = response.context["form"].errors
    return found


def deciding(turnaround: Turnaround, **values: Any) -> dict[str, Any]:
    turnaround.refresh_from_db()
    return {
        "outcome": "release",
        "password": PASSWORD,
        "revision_seen": turnaround.revision,
        **values,
    }


def decide(
    cellar: Now, turnaround: Turnaround, *, follow: bool = False, **values: Any
) -> HttpResponse:
    return signed_in(cellar.brewer).post(
        reverse("release:decide", args=[turnaround.pk]),
        deciding(turnaround, **values),
        follow=follow,
    )


def test_second_signature_is_offered_to_those_who_took_no_part(cellar: Now, second: User) -> None:
    turnaround = cellar.to_decide(rlu=900)
    response = signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk]))
    html = text_of(response)
    assert "Re-clean, or two people release." in html
    offered = response.context["form"].fields["second_signer"].widget.choices
    assert list(offered) == [("", "Choose"), (second.pk, "Ada Vance")]
    assert 'value="release"' in html


def test_below_the_action_limit_no_second_signature_is_asked_for(cellar: Now) -> None:
    turnaround = cellar.to_decide(rlu=20)
    html = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    assert "second_signer" not in html


def test_alone_only_a_hold_is_offered_and_a_release_refused(cellar: Now) -> None:
    turnaround = cellar.to_decide(rlu=900)
    html = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    assert "Nobody else here can sign second. Re-clean the vessel." in html
    assert 'value="release"' not in html
    response = decide(cellar, turnaround, **WHY)
    assert (response.status_code, errors(response)) == (
        422,
        {"outcome": ["Nobody else here can sign second. Re-clean the vessel."]},
    )
    assert Decision.objects.count() == 0


def test_two_sign_on_one_page_and_the_page_says_so(cellar: Now, second: User) -> None:
    turnaround = cellar.to_decide(rlu=900)
    response = decide(
        cellar,
        turnaround,
        follow=True,
        **WHY,
        second_signer=second.pk,
        second_secret=PASSWORD,
    )
    html = text_of(response)
    assert "Recorded as released over the action limit by two people." in html
    assert "Mara Oduya and Ada Vance" in html
    page = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    mark = "Released over the action limit by two people, second signature Ada Vance"
    assert f'<strong class="under">{mark}</strong>' in page
    vessel = text_of(signed_in(cellar.hand).get(reverse("board:vessel", args=[cellar.vessel.pk])))
    assert "<strong>Released over the action limit by two people</strong>" in vessel


@pytest.mark.parametrize(
    "who, field, message",
    [
        ("nobody", "second_signer", "Choose who signs second."),
        ("brewer", "second_signer", "Mara Oduya signs first. Choose another person."),
        (
            "hand",
            "second_signer",
            "Jonas Feld cleaned or sampled this vessel. Choose another person.",
        ),
        (
            "owner",
            "second_signer",
            "Tomas Brandt has neither the cellar nor the head brewer role. Choose another person.",
        ),
        (
            "second",
            "second_secret",
            "This is not the PIN or password of Ada Vance. Nothing was signed.",
        ),
        ("silent", "second_secret", "Ada Vance has to enter a PIN or password to sign."),
    ],
)
def test_second_signature_is_refused_beside_its_field_with_nothing_lost(
    cellar: Now, second: User, who: str, field: str, message: str
) -> None:
    turnaround = cellar.to_decide(rlu=900)
    chosen = {
        "nobody": None,
        "brewer": cellar.brewer,
        "hand": cellar.hand,
        "owner": cellar.owner,
    }.get(who, second)
    secret = {"second": "wrong-word", "silent": ""}.get(who, PASSWORD)
    response = decide(
        cellar,
        turnaround,
        **WHY,
        reason="Looks right",
        second_signer=chosen.pk if chosen else "",
        second_secret=secret,
    )
    assert (response.status_code, errors(response)) == (422, {field: [message]})
    html = text_of(response)
    assert f'<p class="error">{message}</p>' in html
    for kept in ("Looks right", because("A touched tip").checked, because("A touched tip").result):
        assert f"{kept}</textarea>" in html
    assert '<option value="not_found" selected>' in html
    if who in ("second", "silent"):
        assert f'<option value="{second.pk}" selected>' in html
    assert "wrong-word" not in html
    assert PASSWORD not in html
    assert Decision.objects.count() == 0


def test_wrong_secrets_of_the_second_are_counted_and_wait(cellar: Now, second: User) -> None:
    turnaround = cellar.to_decide(rlu=900)
    values = {**WHY, "second_signer": second.pk}
    for _ in range(FREE_TRIES):
        decide(cellar, turnaround, **values, second_secret="wrong")
    assert PinWait.objects.get().failures == FREE_TRIES
    waits = decide(cellar, turnaround, **values, second_secret="wrong")
    assert errors(waits) == {
        "second_secret": [
            "Too many wrong ones on this tablet. Ada Vance can try again in 10 seconds."
        ]
    }
    # Not even the right one is looked at meanwhile; the first person's session goes on.
    assert "second_secret" in errors(decide(cellar, turnaround, **values, second_secret=PASSWORD))
    PinWait.objects.update(until=cellar.now - timedelta(seconds=1))
    assert decide(cellar, turnaround, **values, second_secret=PASSWORD).status_code == 302
    assert PinWait.objects.count() == 0


def test_a_hold_looks_at_no_second_signature(cellar: Now, second: User) -> None:
    turnaround = cellar.to_decide(rlu=900)
    response = decide(
        cellar,
        turnaround,
        outcome="hold",
        reason="Valve to be taken apart",
        second_signer=second.pk,
        second_secret="wrong",
    )
    assert response.status_code == 302
    assert (Decision.objects.get().second_signature, PinWait.objects.count()) == (None, 0)


def test_ok_twice_is_refused_beside_its_field(cellar: Now, second: User) -> None:
    turnaround = cellar.to_decide(rlu=900)
    for checked, result, field in (
        ("ok", "ok", "checked"),
        ("Valve taken apart and seen", "ok", "result"),
        ("Valve taken apart and seen", "valve taken apart, and seen!", "result"),
    ):
        response = decide(
            cellar,
            turnaround,
            reason_nothing_over_action="sampling",
            checked_nothing_over_action=checked,
            result_nothing_over_action=result,
            second_signer=second.pk,
            second_secret=PASSWORD,
        )
        assert list(errors(response)) == [f"{field}_nothing_over_action"]
        assert f"{checked}</textarea>" in text_of(response)
    assert Decision.objects.count() == 0


def test_same_words_are_marked_on_the_page(cellar: Now) -> None:
    given = Explanation("new_part", "Gasket seat taken apart", "No soil behind it")
    turnaround = cellar.to_decide(rlu=20)
    for ago in (20, 10):
        cellar.decided(turnaround, now=cellar.at(ago * MINUTE), gate_reasons={"alerts": given})
    html = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    assert html.count("Same words as on ") == 1
    assert html.count("Signed with the same words as an earlier decision") == 1


def test_rules_in_force_are_folded_on_the_page(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    html = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    folded = html[html.index("Rules in force") :].split("</details>")[0]
    for rule in rules_in_force(cellar.brewery):
        assert f"<li>{rule}</li>" in folded


# ---- without a meter ----


def dead_meter(cellar: Now, *, plate: bool = True) -> Turnaround:
    from brewhygiene.atp.meters.actions import record_control_check

    turnaround = cellar.cleaned_ago(HOUR)
    record_control_check(
        by=acting(cellar.hand, now=cellar.at(30 * MINUTE)),
        meter=cellar.meter,
        blank_rlu=90,
        positive_rlu=200,
    )
    if plate:
        cellar.plate_sent(turnaround, ago=20 * MINUTE)
    return turnaround


def address(turnaround: Turnaround) -> str:
    return reverse("release:without_meter", args=[turnaround.pk])


def without(
    cellar: Now, turnaround: Turnaround, *, follow: bool = False, **values: Any
) -> HttpResponse:
    turnaround.refresh_from_db()
    given = {"password": PASSWORD, "revision_seen": turnaround.revision, **WITHOUT, **values}
    return signed_in(cellar.brewer).post(address(turnaround), given, follow=follow)


def test_decision_leads_to_the_release_without_a_meter(cellar: Now) -> None:
    turnaround = dead_meter(cellar)
    client = signed_in(cellar.brewer)
    decide_page = reverse("release:decide", args=[turnaround.pk])
    assert address(turnaround) in text_of(client.get(decide_page))
    html = text_of(client.get(address(turnaround)))
    assert "2. sanitiser 140 mg/L" in html
    assert "Point 1, MRS" in html
    assert "Not possible now" not in html
    assert 'name="second_signer"' in html


def test_decision_offers_no_such_release_where_a_meter_works_or_the_readings_stand(
    cellar: Now,
) -> None:
    unread = cellar.cleaned_ago(HOUR)  # its meter was checked today
    read = cellar.to_decide(vessel=make_vessel())
    for turnaround in (unread, read):
        html = text_of(
            signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk]))
        )
        assert address(turnaround) not in html


def test_two_release_without_a_meter_and_it_is_shown_as_such(cellar: Now) -> None:
    turnaround = dead_meter(cellar)
    response = without(
        cellar, turnaround, follow=True, second_signer=cellar.hand.pk, second_secret=PASSWORD
    )
    html = text_of(response)
    assert "is released without a working meter. The plate still has to be read." in html
    assert "Released without a working meter, second signature Jonas Feld" in html
    assert "Inspection: Spray ball turns, cone and gaskets smell clean." in html
    queue = text_of(signed_in(cellar.brewer).get(reverse("release:queue")))
    assert "Signed by Mara Oduya and Jonas Feld: released without a working meter" in queue


@pytest.mark.parametrize(
    "typed, field",
    [
        ({"meter_fault": "ok"}, "meter_fault"),
        ({"inspection": ""}, "inspection"),
        ({"rinse_ph": "11.3"}, "rinse_ph"),
        ({"rinse_ph": "-5"}, "rinse_ph"),
        ({"rinse_ph": ""}, "rinse_ph"),
        ({"supply_ph": "a lot"}, "supply_ph"),
        ({"second_secret": "wrong"}, "second_secret"),
        ({"second_signer": ""}, "second_signer"),
        ({"password": "wrong"}, "password"),
    ],
)
def test_what_does_not_hold_is_refused_beside_its_field_with_the_rest_kept(
    cellar: Now, typed: dict[str, str], field: str
) -> None:
    turnaround = dead_meter(cellar)
    given = {"second_signer": cellar.hand.pk, "second_secret": PASSWORD, **typed}
    response = without(cellar, turnaround, **given)
    assert (response.status_code, list(errors(response))) == (422, [field])
    html = text_of(response)
    for name, text in {**WITHOUT, **typed}.items():
        if name in WITHOUT and text:
            assert str(text) in html
    assert Decision.objects.count() == 0


def test_page_says_what_is_lacking_and_shows_no_form(cellar: Now) -> None:
    turnaround = dead_meter(cellar, plate=False)
    html = text_of(signed_in(cellar.brewer).get(address(turnaround)))
    assert "No plate was taken since the last clean. Take one and send it first." in html
    assert 'name="password"' not in html
    response = without(cellar, turnaround, second_signer=cellar.hand.pk, second_secret=PASSWORD)
    assert response.status_code == 422
    assert Decision.objects.count() == 0


def test_page_is_for_the_head_brewer(cellar: Now) -> None:
    turnaround = dead_meter(cellar)
    for user in (cellar.hand, cellar.owner):
        assert signed_in(user).get(address(turnaround)).status_code == 403
        assert signed_in(user).post(address(turnaround)).status_code == 403
    assert Client().get(address(turnaround)).status_code == 302


def test_closed_turnaround_has_no_such_release(cellar: Now) -> None:
    turnaround = cellar.released_ago(20 * MINUTE)
    cellar.filled(turnaround, now=cellar.at(5 * MINUTE))
    html = text_of(signed_in(cellar.brewer).get(address(turnaround)))
    assert "This turnaround is closed." in html
    assert 'name="password"' not in html


def test_page_takes_the_same_queries_for_1_and_3_people(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    turnaround = dead_meter(cellar)
    client = signed_in(cellar.brewer)
    for make in (make_cellar_hand, make_head_brewer):
        with django_assert_num_queries(NO_METER_QUERIES):
            assert client.get(address(turnaround)).status_code == 200
        make()
