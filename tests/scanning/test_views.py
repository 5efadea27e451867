"""Scanning: where a code leads, what a form is answered, and a product that is new."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode

from brewhygiene.atp.models.meters import AtpTest
from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.codes.element_strings import day_in_words
from brewhygiene.scanning.products import name_of
from tests import clock
from tests.factories import make_agent, make_atp_test, make_point, make_test_lot, make_vessel
from tests.turnarounds.floor import Floor, errors, signed_in

pytestmark = pytest.mark.django_db

GTIN = "09506000134352"
OTHER_GTIN = "00614141000012"


@pytest.fixture
def floor() -> Floor:
    return Floor()


def coded(*, lot: str = "LOT42", days: int = 30, gtin: str = GTIN) -> str:
    """A package's code as a scanner types it; its expiry so many days from today."""
    expiry = (clock.today() + timedelta(days=days)).strftime("%y%m%d")
    return f"]d201{gtin}17{expiry}10{lot}"


def scan(client: Client, text: str) -> Any:
    return client.get(f"{reverse('scanning:scan')}?{urlencode({'text': text})}")


def read(client: Client, text: str, **about: Any) -> dict[str, Any]:
    query = {"text": text} | {"for" if name == "want" else name: v for name, v in about.items()}
    answer = client.get(f"{reverse('scanning:read')}?{urlencode(query)}")
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


# --- labels ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "http://192.0.2.20:8000/p/K7WQ2MXA/",
        "https://another.example.test/p/k7wq2mxa/",
        "]Q1https://another.example.test/p/K7WQ2MXA/",
        "K7WQ2MXA",
        " k7wq2mxa\r\n",
    ],
)
def test_label_of_a_point_leads_to_it_whoever_printed_it(floor: Floor, text: str) -> None:
    make_point(make_vessel(points=0, name="FV 9"), code="K7WQ2MXA", name="Racking arm")
    assert scan(floor.client, text).headers["Location"] == "/p/K7WQ2MXA/"
    assert read(floor.client, text) == {"go": "/p/K7WQ2MXA/", "name": "FV 9, Racking arm"}


def test_vessel_by_its_page_or_its_name(floor: Floor) -> None:
    vessel = make_vessel(name="BBT 12")
    page = reverse("board:vessel", args=[vessel.pk])
    for text in (f"http://192.0.2.20{page}", "bbt 12", "]C0BBT 12"):
        assert scan(floor.client, text).headers["Location"] == page


@pytest.mark.parametrize(
    "text",
    [
        "http://192.0.2.20/p/NOSUCHPT/",
        "http://192.0.2.20/vessels/99999999999999999999/",
        "http://192.0.2.20/sign-out/",
        "http://[192.0.2.20/p/K7WQ2MXA/",
        "javascript:alert(1)",
        "//evil.example.test/p/",
        "FV\x00 9",
        "nothing we have",
        "",
    ],
)
def test_what_is_not_known_says_so_beside_the_field(floor: Floor, text: str) -> None:
    answer = scan(floor.client, text)
    assert answer.status_code == 200
    assert answer.context["scan_form"].errors["text"]
    assert "/sign-out/" not in answer.headers.get("Location", "")


def test_code_that_cannot_be_read_stays_in_the_field(floor: Floor) -> None:
    answer = scan(floor.client, "]d20109506000134353")
    (words,) = answer.context["scan_form"].errors["text"]
    assert "it should be 2" in words
    assert "]d20109506000134353" in answer.content.decode()


def test_signing_in_comes_first() -> None:
    assert scan(Client(), "K7WQ2MXA").headers["Location"].startswith("/sign-in/")


# --- packages ----------------------------------------------------------------------------------


def test_page_says_every_field_and_what_is_expired(floor: Floor) -> None:
    floor.atp_test.gtin = GTIN
    floor.atp_test.save()
    make_test_lot(floor.atp_test, lot="LOT42", expires_on=clock.today() - timedelta(days=1))
    answer = scan(floor.client, coded(days=-1) + "\x1d21000017")
    text = answer.content.decode()
    yesterday = day_in_words(clock.today() - timedelta(days=1))
    assert answer.status_code == 200
    assert f"This lot is out of date. It expired on {yesterday}." in text
    assert [name for name, _ in answer.context["meaning"].fields] == [
        "product number",
        "expiry date",
        "lot",
        "serial number",
    ]
    assert f"Lot LOT42 of {floor.atp_test} is in the set-up" in text
    assert answer.context["product_form"] is None


def test_the_last_day_is_a_day_of_use(floor: Floor) -> None:
    assert read(floor.client, coded(days=0), want="other")["expired"] == ""
    assert "out of date" in read(floor.client, coded(days=-1), want="other")["expired"]


def test_new_lot_of_a_known_test_is_added_with_what_was_scanned(floor: Floor) -> None:
    floor.atp_test.gtin = GTIN
    floor.atp_test.save()
    assert "The head brewer must add it" in scan(floor.client, coded()).content.decode()
    brewer = signed_in(floor.brewer)
    text = scan(brewer, coded(lot="A&B/1")).content.decode()
    link = text.partition(reverse("atp:setup_add_test_lot"))[2].partition('"')[0]
    address = reverse("atp:setup_add_test_lot") + link.replace("&amp;", "&")
    form = brewer.get(address).context["form"]
    assert form["atp_test"].value() == str(floor.atp_test.pk)
    assert form["lot"].value() == "A&B/1"
    assert form["expires_on"].value() == (clock.today() + timedelta(days=30)).isoformat()


def test_field_is_answered_with_lot_expiry_and_product(floor: Floor) -> None:
    floor.atp_test.gtin = GTIN
    floor.atp_test.save()
    lot = make_test_lot(floor.atp_test, lot="LOT42")
    make_test_lot(lot="LOT42")
    until = clock.today() + timedelta(days=30)
    assert read(floor.client, coded(), want="test_lot") == {
        "gtin": GTIN,
        "lot": "LOT42",
        "expires_on": until.isoformat(),
        "product": name_of(floor.atp_test),
        "test_lot": lot.pk,
        "said": f"Scanned: lot LOT42 of {floor.atp_test}, expires {day_in_words(until)}.",
        "expired": "",
        "doubt": "",
        "asked": "",
        "question": "",
        "new": False,
    }


def test_lot_without_a_code_is_a_lot_and_brings_its_expiry(floor: Floor) -> None:
    lot = make_test_lot(floor.atp_test, lot="S-0388", expires_on=clock.today())
    answer = read(floor.client, "]C0s-0388", want="test_lot")
    assert (answer["lot"], answer["test_lot"]) == ("s-0388", lot.pk)
    assert answer["expires_on"] == clock.today().isoformat()
    assert answer["asked"] == ""


def test_lot_as_a_vessel_is_called_stays_a_lot(floor: Floor) -> None:
    make_vessel(name="S-0388")
    assert read(floor.client, "S-0388", want="agent")["lot"] == "S-0388"
    assert "go" in read(floor.client, "S-0388")


def test_retired_lot_and_two_of_one_name_are_not_chosen(floor: Floor) -> None:
    make_test_lot(lot="LOT41", active=False)
    assert "not in the set-up" in read(floor.client, coded(lot="LOT41"), want="test_lot")["doubt"]
    make_test_lot(lot="LOT42")
    make_test_lot(lot="LOT42")
    answer = read(floor.client, coded(), want="test_lot")
    assert answer["test_lot"] is None
    assert answer["doubt"] == "Two ATP tests have a lot LOT42. Choose it in the list."


@pytest.mark.parametrize("want", ["agent", "atp_test", "test_lot", "other"])
def test_bare_product_number_fills_no_lot(floor: Floor, want: str) -> None:
    answer = read(floor.client, "9506000134352", want=want)
    assert (answer["gtin"], answer["lot"]) == (GTIN, "")
    assert answer["said"] == "This barcode has no lot. Enter the lot as printed on the package."


def test_digits_that_are_no_product_number_are_a_lot(floor: Floor) -> None:
    assert read(floor.client, "9506000134353", want="agent")["lot"] == "9506000134353"
    assert "it should be 2" in read(floor.client, "]E09506000134353", want="agent")["error"]


@pytest.mark.parametrize("text", ["", "A" * 41, "A\x00B", "A\nB", "]d2010950600013435"])
def test_what_is_no_lot_fills_nothing(floor: Floor, text: str) -> None:
    assert list(read(floor.client, text, want="agent")) == ["error"]


def test_another_agent_than_the_steps_is_refused(floor: Floor) -> None:
    acid, caustic = make_agent(name="Acid", gtin=GTIN), make_agent(name="Caustic", gtin=OTHER_GTIN)
    assert read(floor.client, coded(), want="agent", agent=caustic.pk) == {
        "error": "This is Acid, not Caustic."
    }
    assert read(floor.client, coded(), want="agent", agent=acid.pk)["lot"] == "LOT42"
    for want in ("atp_test", "test_lot"):
        assert read(floor.client, coded(), want=want) == {"error": "This is Acid, not an ATP test."}
    assert "error" in read(floor.client, coded(), want="other")


@pytest.mark.parametrize("agent", ["", "x", "٣", "99999999999999999999"])
def test_step_of_no_agent_asks_nothing(floor: Floor, agent: str) -> None:
    assert read(floor.client, coded(), want="agent", agent=agent)["asked"] == ""


# --- a new product -----------------------------------------------------------------------------


def test_new_number_is_asked_about_once(floor: Floor) -> None:
    caustic = make_agent(name="Caustic")
    answer = read(floor.client, coded(), want="agent", agent=caustic.pk)
    assert answer["question"] == "This barcode is new here. Is it Caustic?"
    form = {"gtin": GTIN, "product": answer["asked"], "key": "k1"}
    sent = floor.client.post(reverse("scanning:remember"), form)
    assert sent.headers["Location"] == f"/scan/?text={GTIN}"
    caustic.refresh_from_db()
    assert caustic.gtin == GTIN
    entry = Entry.objects.latest("pk")
    assert entry.verb == "remember product number"
    assert entry.values["after"] == {"gtin": GTIN}
    assert read(floor.client, coded(), want="agent", agent=caustic.pk)["asked"] == ""


def test_new_number_of_a_listed_lot_is_asked_about(floor: Floor) -> None:
    lot = make_test_lot(lot="LOT42")
    assert read(floor.client, coded(), want="test_lot")["asked"] == name_of(lot.atp_test)
    assert read(floor.client, coded(lot="LOT43"), want="test_lot")["asked"] == ""
    assert read(floor.client, coded(), want="atp_test")["new"]
    assert not read(floor.client, "LOT42", want="atp_test")["new"]


def test_product_with_a_number_is_not_asked_about_again(floor: Floor) -> None:
    caustic = make_agent(gtin=OTHER_GTIN)
    assert read(floor.client, coded(), want="agent", agent=caustic.pk)["asked"] == ""


def test_who_may_not_record_is_not_asked(floor: Floor) -> None:
    owner = signed_in(floor.owner)
    caustic = make_agent()
    answer = read(owner, coded(), want="agent", agent=caustic.pk)
    assert (answer["asked"], answer["new"]) == ("", False)
    assert not read(owner, coded(), want="atp_test")["new"]
    assert scan(owner, coded()).context["product_form"] is None
    form = {"gtin": GTIN, "product": name_of(caustic)}
    assert owner.post(reverse("scanning:remember"), form).status_code == 403


def test_page_offers_products_without_a_number(floor: Floor) -> None:
    make_agent(name="Known", gtin=OTHER_GTIN)
    caustic = make_agent(name="Caustic")
    make_agent(name="Retired", active=False)
    form = scan(floor.client, coded()).context["product_form"]
    groups = dict(form.fields["product"].widget.choices[1:])
    assert (name_of(floor.atp_test), str(floor.atp_test)) in groups["ATP tests"]
    assert (name_of(caustic), "Caustic") in groups["Agents"]
    assert not {"Known", "Retired"} & {name for _, name in groups["Agents"]}


@pytest.mark.parametrize(
    "form, field",
    [
        ({"product": ""}, "product"),
        ({"product": "agent:999"}, "product"),
        ({"product": "agent:x"}, "product"),
        ({"product": "user:1"}, "product"),
        ({"gtin": "09506000134353"}, "gtin"),
        ({"gtin": ""}, "gtin"),
        ({"gtin": "(10)LOT42"}, "gtin"),
    ],
)
def test_refused_beside_the_field(floor: Floor, form: dict[str, str], field: str) -> None:
    whole = {"gtin": GTIN, "product": name_of(make_agent()), **form}
    answer = floor.client.post(reverse("scanning:remember"), whole)
    assert answer.status_code == 422
    assert list(errors(answer, "product_form")) == [field]
    assert not AtpTest.objects.exclude(gtin="").exists()


def test_number_of_another_product_is_refused_in_words(floor: Floor) -> None:
    make_atp_test(name="Swab", gtin=GTIN)
    whole = {"gtin": GTIN, "product": name_of(make_agent())}
    answer = floor.client.post(reverse("scanning:remember"), whole)
    assert errors(answer, "product_form") == {"product": ["This number is remembered as Swab."]}


def test_number_is_not_replaced_from_the_floor(floor: Floor) -> None:
    agent = make_agent(name="Caustic", gtin=OTHER_GTIN)
    whole = {"gtin": GTIN, "product": name_of(agent)}
    answer = floor.client.post(reverse("scanning:remember"), whole)
    ((words,),) = errors(answer, "product_form").values()
    assert words.startswith(f"Caustic has another product number, {OTHER_GTIN}.")
    agent.refresh_from_db()
    assert agent.gtin == OTHER_GTIN


def test_confirmed_twice_is_once(floor: Floor) -> None:
    agent = make_agent()
    for key in ("k1", "k2"):
        whole = {"gtin": GTIN, "product": name_of(agent), "key": key}
        assert floor.client.post(reverse("scanning:remember"), whole).status_code == 302
    assert Entry.objects.latest("pk").values["after"] == {}


def test_queries_are_few(floor: Floor, django_assert_max_num_queries: Any) -> None:
    make_test_lot(lot="LOT42")
    agent = make_agent()
    read(floor.client, coded(), want="test_lot")
    for want in ("test_lot", "agent"):
        with django_assert_max_num_queries(10):
            read(floor.client, coded(), want=want, agent=agent.pk)
