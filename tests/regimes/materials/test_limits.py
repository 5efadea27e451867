"""Limits of a regime on a vessel's materials, signed once and then shown."""

from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.materials import actions
from brewhygiene.regimes.materials.models import SignedLimits
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.steps.safety import required_codes
from tests.factories import PASSWORD, Cellar, acting, make_peracetic, make_vessel
from tests.regimes.materials.test_labels import client_of, sanitising, start

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def limited(cellar: Cellar) -> tuple[Clean, RegimeVersion]:
    cellar.vessel.seal_material = "nbr"
    cellar.vessel.save()
    version = sanitising(make_peracetic())
    return start(cellar, cellar.emptied(), version), version


def codes(clean: Clean) -> list[str]:
    clean = cleans_with_records().get(pk=clean.pk)
    return list(required_codes(clean, clean.version.steps.all()[0]))


def test_limit_is_ticked_until_it_is_signed_once(cellar: Cellar) -> None:
    clean, version = limited(cellar)
    assert codes(clean) == ["peracetic", "material_seals"]
    signed = actions.sign_limits(
        by=acting(cellar.brewer), version=version, vessel=cellar.vessel, password=PASSWORD
    )
    (limit,) = signed.limit_words
    assert limit.startswith("Step 1, a seal: Peracetic acid ")
    assert "NBR rubber: 5 to 10 min, not longer" in limit
    assert signed.signature.meaning == f"Limits of {version} on {cellar.vessel.name} seen to"
    assert codes(clean) == ["peracetic"]
    with pytest.raises(Refusal) as refusal:
        actions.sign_limits(
            by=acting(cellar.brewer), version=version, vessel=cellar.vessel, password=PASSWORD
        )
    assert refusal.value.code == "nothing_to_sign"


def test_limit_is_signed_for_one_version_and_one_vessel(cellar: Cellar) -> None:
    clean, version = limited(cellar)
    other = make_vessel(seal_material="nbr")
    actions.sign_limits(by=acting(cellar.brewer), version=version, vessel=other, password=PASSWORD)
    actions.sign_limits(
        by=acting(cellar.brewer),
        version=sanitising(make_peracetic()),
        vessel=cellar.vessel,
        password=PASSWORD,
    )
    assert codes(clean) == ["peracetic", "material_seals"]


def test_material_edited_later_asks_anew(cellar: Cellar) -> None:
    clean, version = limited(cellar)
    actions.sign_limits(
        by=acting(cellar.brewer), version=version, vessel=cellar.vessel, password=PASSWORD
    )
    cellar.vessel.material = "aluminium"
    cellar.vessel.save()
    assert codes(clean) == ["peracetic", "material_vessel"]


def test_limits_are_signed_by_the_head_brewer_with_the_password(cellar: Cellar) -> None:
    _, version = limited(cellar)
    values: dict[str, Any] = {"version": version, "vessel": cellar.vessel}
    with pytest.raises(NotAllowed):
        actions.sign_limits(by=acting(cellar.hand), password=PASSWORD, **values)
    with pytest.raises(Refusal) as refusal:
        actions.sign_limits(by=acting(cellar.brewer), password="no", **values)
    assert refusal.value.field == "password"
    assert SignedLimits.objects.count() == 0


def test_step_shows_what_is_signed_and_offers_to_sign_what_is_not(cellar: Cellar) -> None:
    clean, version = limited(cellar)
    step = reverse("turnarounds:step", args=[clean.pk, version.steps.get().pk])
    sign = reverse("regimes:sign_limits", args=[version.pk, cellar.vessel.pk])
    assert f'href="{sign}"' not in client_of(cellar.hand).get(step).content.decode()
    assert f'href="{sign}"' in client_of(cellar.brewer).get(step).content.decode()
    client = client_of(cellar.brewer)
    assert "Step 1, a seal: Peracetic acid" in client.get(sign).content.decode()
    assert client.post(sign, {"password": "no"}).status_code == 422
    assert client.post(sign, {"password": PASSWORD}).status_code == 302
    html = client.get(step).content.decode()
    assert f'href="{sign}"' not in html
    assert "A seal: NBR rubber is limited" in html
    assert "Signed by Mara Oduya." in html
    assert 'id="codes_material_seals"' not in html
    assert "waits to be signed" in client.get(sign).content.decode()
