"""The page that puts the vessels of a running brewery on record, one row a vessel."""

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from brewhygiene.cellar.models import Fill
from brewhygiene.turnarounds.models.starts import Stood, VesselStart
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)

pytestmark = pytest.mark.django_db
ADDRESS = "/set-up/vessels-as-they-stand/"


@pytest.fixture
def cellar(client: Client) -> Cellar:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    return cellar


def row(vessel: Any, **values: Any) -> dict[str, Any]:
    return {f"{name}_{vessel.pk}": value for name, value in values.items()}


def day(moment: Any) -> str:
    return timezone.localtime(moment).strftime("%Y-%m-%d")


def test_three_vessels_in_one_form_and_the_rest_another_day(client: Client, cellar: Cellar) -> None:
    other, later = make_vessel(name="BT 1"), make_vessel(name="BT 2")
    third = make_vessel(name="BT 3")
    answer = client.post(
        ADDRESS,
        {
            **row(
                cellar.vessel,
                stood="contains",
                beer=cellar.pale.pk,
                batch="26-007",
                volume_hl="20",
                since=day(NOW),
            ),
            **row(other, stood="empty"),
            **row(
                third,
                stood="released",
                released_at=timezone.localtime(NOW).strftime("%Y-%m-%dT%H:%M"),
                paper_signer="R. Vane (invented)",
            ),
            **row(later, stood=""),
            "password": PASSWORD,
        },
        follow=True,
    )
    assert [str(m) for m in answer.context["messages"]] == ["3 vessels put on record."]
    stood = dict(VesselStart.objects.values_list("vessel__name", "stood"))
    assert stood == {
        cellar.vessel.name: Stood.CONTAINS,
        "BT 1": Stood.EMPTY,
        "BT 3": Stood.RELEASED,
    }
    assert [one.vessel for one in answer.context["form"].rows] == [later]
    text = answer.content.decode()
    assert "Filled before this record began" in text
    assert "Released on paper by R. Vane (invented), before this record began" in text


def test_refusal_stands_beside_its_vessel_and_keeps_what_was_typed(
    client: Client, cellar: Cellar
) -> None:
    answer = client.post(
        ADDRESS,
        row(cellar.vessel, stood="contains", beer=cellar.pale.pk, batch="26-007", volume_hl="31"),
    )
    assert answer.status_code == 422
    form = answer.context["form"]
    assert list(form.errors) == [f"volume_hl_{cellar.vessel.pk}"]
    assert 'value="26-007"' in answer.content.decode()
    assert not Fill.objects.exists()


def test_wrong_password_is_said_beside_the_password(client: Client, cellar: Cellar) -> None:
    sent = row(
        cellar.vessel, stood="released", released_at="2026-03-10T05:00", paper_signer="R. Vane"
    )
    answer = client.post(ADDRESS, {**sent, "password": "not it"})
    assert list(answer.context["form"].errors) == ["password"]
    assert not VesselStart.objects.exists()


def test_empty_form_is_refused(client: Client, cellar: Cellar) -> None:
    answer = client.post(ADDRESS, {})
    assert answer.context["form"].non_field_errors() == ["Choose how at least one vessel stands."]


def test_hose_is_not_asked_what_it_contains(client: Client, cellar: Cellar) -> None:
    hose = make_vessel(name="Hose 1", kind="hose_set", diameter_m=None)
    form = client.get(ADDRESS).context["form"]
    assert f"beer_{hose.pk}" not in form.fields
    assert [value for value, _ in form.fields[f"stood_{hose.pk}"].choices] == [
        "",
        "empty",
        "released",
    ]


def test_twenty_eight_vessels_take_no_more_queries_than_one(
    client: Client, cellar: Cellar, django_assert_num_queries: Any
) -> None:
    for number in range(27):
        make_vessel(name=f"FV {number}", points=0)
    with django_assert_num_queries(7):
        answer = client.get(ADDRESS)
    assert len(answer.context["form"].rows) == 28


@pytest.mark.parametrize(("make", "status"), [(make_head_brewer, 200), (make_cellar_hand, 403)])
def test_head_brewer_opens_it_and_the_cellar_does_not(
    client: Client, make: Any, status: int
) -> None:
    client.force_login(make())
    assert client.get(ADDRESS).status_code == status
