"""The address on labels: what the brewery has settled on, however the printing page was reached."""

import pytest
from django.test import Client

from brewhygiene.brewery import actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.certificates import addresses
from brewhygiene.certificates.serving import https
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import acting, make_brewery, make_cellar_hand, make_head_brewer, make_vessel
from tests.reports.pdf.text import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(addresses, "stable_host", lambda: "cellar.local")
    monkeypatch.setattr(https, "http_port", 8001)


def printed(client: Client, **headers: str) -> str:
    response = client.get("/labels.pdf", headers=headers)
    assert response.status_code == 200
    return text_of(response.content)


def test_label_carries_the_settled_address_and_no_host_that_was_asked() -> None:
    brewer = make_head_brewer()
    make_brewery()
    make_vessel(points=1)
    client = Client()
    client.force_login(brewer)
    by_itself = printed(client, host="printer.example:9999")
    assert "cellar.local:8001/" in by_itself
    assert "printer.example" not in by_itself
    actions.edit_brewery(by=acting(brewer), label_address="https://Tanks.local:8443")
    settled = printed(client, host="printer.example:9999")
    assert "tanks.local:8443/" in settled
    assert "cellar.local" not in settled
    assert "printer.example" not in settled


def test_settled_address_is_in_the_ledger_in_its_one_form() -> None:
    make_brewery()
    actions.edit_brewery(by=acting(make_head_brewer()), label_address=" http://Cellar:8000")
    assert Brewery.current().label_address == "http://cellar:8000/"
    assert Entry.objects.get().values == {
        "before": {"label_address": ""},
        "after": {"label_address": "http://cellar:8000/"},
    }


def test_address_that_no_tablet_opens_is_refused_beside_its_field() -> None:
    make_brewery()
    brewer = make_head_brewer()
    with pytest.raises(Refusal) as refused:
        actions.edit_brewery(by=acting(brewer), label_address="http://localhost:8000")
    assert refused.value.field == "label_address"
    client = Client()
    client.force_login(brewer)
    page = client.get("/set-up/brewery/")
    initial = {name: value for name, value in page.context["form"].initial.items() if value}
    sent = {**initial, "key": page.context["form"]["key"].value(), "label_address": "cellar:8000"}
    answer = client.post("/set-up/brewery/", sent)
    assert answer.context["form"].errors["label_address"] == [
        "Begin the address with http:// or https://"
    ]
    assert 'value="cellar:8000"' in answer.content.decode()
    assert Brewery.current().label_address == ""


def test_cellar_hand_does_not_settle_it() -> None:
    make_brewery()
    with pytest.raises(NotAllowed):
        actions.edit_brewery(by=acting(make_cellar_hand()), label_address="http://cellar:8000")


def test_set_up_says_what_labels_carry_by_themselves() -> None:
    make_brewery()
    client = Client()
    client.force_login(make_head_brewer())
    assert "Empty: http://cellar.local:8001/" in client.get("/set-up/brewery/").content.decode()
    client.force_login(make_cellar_hand())
    page = client.get("/set-up/brewery/").content.decode()
    assert "<dt>Address printed on labels</dt><dd>http://cellar.local:8001/</dd>" in page
