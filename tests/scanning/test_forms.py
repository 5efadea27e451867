"""A code typed, pasted or scanned into a form without any script."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse

from brewhygiene.atp.models.meters import AtpTestLot
from brewhygiene.atp.models.readings import Result
from brewhygiene.brewery.models import Brewery
from brewhygiene.changeovers.models import AllergenTest
from brewhygiene.regimes.models import Agent
from brewhygiene.skids.solutions.forms import MakeUpForm, TopUpForm
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.factories import make_agent, make_test_lot
from tests.skids.scenes import SkidCellar
from tests.turnarounds.floor import Floor, as_shown, errors, signed_in
from tests.turnarounds.steps.sending import end, read_all

pytestmark = pytest.mark.django_db

GS = "\x1d"
GTIN = "09506000134352"
EXPIRY = clock.ORIGIN.date() + timedelta(days=30)
CODE = f"]d201{GTIN}10LOT42{GS}17{EXPIRY:%y%m%d}"


@pytest.fixture
def floor() -> Floor:
    return Floor()


def add_lot(floor: Floor, **typed: Any) -> Any:
    address = reverse("atp:setup_add_test_lot")
    values = {"atp_test": floor.atp_test.pk, "lot": CODE, "expires_on": "", "active": "on"}
    return signed_in(floor.brewer).post(address, values | typed)


@pytest.mark.parametrize(
    "code",
    [CODE, f"(01){GTIN}(10)LOT42(17){EXPIRY:%y%m%d}", f"01{GTIN}17{EXPIRY:%y%m%d}10LOT42"],
)
def test_lot_and_expiry_of_a_new_lot_are_filled(floor: Floor, code: str) -> None:
    assert add_lot(floor, lot=code).status_code == 302
    lot = AtpTestLot.objects.latest("pk")
    assert (lot.lot, lot.expires_on) == ("LOT42", EXPIRY)


def test_day_that_was_entered_stays(floor: Floor) -> None:
    add_lot(floor, expires_on="2027-01-31")
    assert AtpTestLot.objects.latest("pk").expires_on.isoformat() == "2027-01-31"


def test_what_was_read_is_shown_where_the_form_comes_back(floor: Floor) -> None:
    answer = add_lot(floor, atp_test="")
    form = answer.context["form"]
    assert list(errors(answer)) == ["atp_test"]
    assert (form["lot"].value(), form["expires_on"].value()) == ("LOT42", EXPIRY.isoformat())


@pytest.mark.parametrize(
    "code, words",
    [
        ("]d20109506000134353", "The check digit of the product number"),
        (f"]d201{GTIN}", "This barcode has no lot."),
        (f"]d201{GTIN}10A17280105", "The scanner may have joined two fields"),
        ("B" * 41, "at most 40 characters"),
    ],
)
def test_code_that_gives_no_lot_says_why_beside_it(floor: Floor, code: str, words: str) -> None:
    before = AtpTestLot.objects.count()
    answer = add_lot(floor, lot=code, expires_on="2027-01-31")
    assert answer.status_code == 422
    assert list(errors(answer)) == ["lot"]
    assert words in errors(answer)["lot"][0]
    assert answer.context["form"]["lot"].value() == code
    assert AtpTestLot.objects.count() == before


def test_lot_of_an_out_of_date_box_says_so(floor: Floor) -> None:
    answer = add_lot(floor, lot=f"]d201{GTIN}1725010110LOT42")
    assert answer.status_code == 302
    (said, warned) = [str(message) for message in get_messages(answer.wsgi_request)]
    assert said.endswith("LOT42 is saved.")
    assert warned.endswith("LOT42 is out of date, so no sample can be taken with it.")


def test_lot_of_an_agent_at_the_end_of_its_step(floor: Floor) -> None:
    record = floor.running_caustic(minutes_ago=25)
    read_all(floor, record)
    end(floor, record, agent_lot=CODE)
    record.refresh_from_db()
    assert record.agent_lot == "LOT42"


def test_lot_that_the_form_cannot_read_ends_no_step(floor: Floor) -> None:
    record = floor.running_caustic(minutes_ago=25)
    read_all(floor, record)
    answer = end(floor, record, agent_lot="]d20109506000134353", note="Kept")
    assert list(errors(answer)) == ["agent_lot"]
    assert answer.context["form"]["note"].value() == "Kept"
    record.refresh_from_db()
    assert record.ended_at is None


def test_allergen_test_takes_lot_and_expiry(floor: Floor) -> None:
    floor.pale.allergens = ["milk"]
    floor.pale.save()
    turnaround = floor.cleaned(now=clock.now() - timedelta(hours=1))
    address = reverse("changeovers:test", args=[turnaround.pk])
    shown = floor.client.get(address).context["form"]
    taken = f"{shown['taken_at'].value():%Y-%m-%dT%H:%M}"
    values = {"allergen": "milk", "kind": "strip", "result": "negative", "taken_at": taken}
    floor.client.post(address, {**values, "lot": CODE, "expires_on": ""})
    made = AllergenTest.objects.get()
    assert (made.lot, made.expires_on) == ("LOT42", EXPIRY)


# --- a reading -----------------------------------------------------------------------------------


@pytest.fixture
def turnaround(floor: Floor) -> Turnaround:
    floor.checked(now=clock.now())
    return floor.cleaned(now=clock.now() - timedelta(hours=1))


def sample(floor: Floor, turnaround: Turnaround, **typed: Any) -> Any:
    point = turnaround.vessel.points.first()
    address = reverse("atp:sample", args=[turnaround.pk, point.pk])
    form = floor.client.get(address).context["form"]
    return floor.client.post(address, as_shown(form, rlu="3", **typed))


def test_scanned_lot_takes_the_place_of_the_chosen_one(
    floor: Floor, turnaround: Turnaround
) -> None:
    other = make_test_lot(floor.atp_test, lot="lot42", expires_on=EXPIRY)
    sample(floor, turnaround, scanned=CODE)
    assert Result.objects.get().test_lot == other


def test_scanned_lot_is_enough_where_none_is_chosen(floor: Floor, turnaround: Turnaround) -> None:
    sample(floor, turnaround, test_lot="", scanned=floor.lot.lot)
    assert Result.objects.get().test_lot == floor.lot


def test_nothing_scanned_leaves_what_was_chosen(floor: Floor, turnaround: Turnaround) -> None:
    answer = sample(floor, turnaround, test_lot="")
    assert errors(answer) == {"test_lot": ["Choose the lot printed on the box."]}


def test_lot_that_is_not_listed_is_refused_beside_its_field(
    floor: Floor, turnaround: Turnaround
) -> None:
    answer = sample(floor, turnaround, scanned=CODE)
    assert errors(answer) == {
        "scanned": ["Lot LOT42 is not a lot for this sampling point. Choose another lot."]
    }
    assert answer.context["form"]["rlu"].value() == "3"
    # What it stands in is open, so that the words are seen.
    assert '<details class="disclosure kit" open>' in answer.content.decode()
    assert not Result.objects.exists()


def test_two_lots_of_one_name_are_chosen_in_the_list(floor: Floor, turnaround: Turnaround) -> None:
    _, other = [make_test_lot(lot="LOT42", expires_on=EXPIRY) for _ in range(2)]
    answer = sample(floor, turnaround, scanned=CODE, test_lot=floor.lot.pk)
    assert errors(answer) == {"scanned": ["Two ATP tests have a lot LOT42. Choose it in the list."]}
    sample(floor, turnaround, scanned=CODE, test_lot=other.pk)
    assert Result.objects.get().test_lot == other


def test_scanned_lot_that_is_out_of_date_is_refused(floor: Floor, turnaround: Turnaround) -> None:
    make_test_lot(floor.atp_test, lot="LOT42", expires_on=clock.today() - timedelta(days=1))
    assert list(errors(sample(floor, turnaround, scanned=CODE))) == ["test_lot"]
    assert not Result.objects.exists()


# --- the number of a product in the set-up -------------------------------------------------------


@pytest.mark.parametrize("typed", ["9506000134352", CODE, f"(01){GTIN}"])
def test_number_of_an_atp_test_is_kept_in_14_digits(floor: Floor, typed: str) -> None:
    address = reverse("atp:setup_atp_test", args=[floor.atp_test.pk])
    client = signed_in(floor.brewer)
    form = client.get(address).context["form"]
    assert client.post(address, as_shown(form, gtin=typed)).status_code == 302
    floor.atp_test.refresh_from_db()
    assert floor.atp_test.gtin == GTIN
    # Its own number is no other's.
    form = client.get(address).context["form"]
    assert client.post(address, as_shown(form)).status_code == 302
    form = client.get(address).context["form"]
    client.post(address, as_shown(form, gtin=""))
    floor.atp_test.refresh_from_db()
    assert floor.atp_test.gtin == ""


@pytest.mark.parametrize("typed", ["9506000134353", "LOT42", "(10)LOT42"])
def test_what_is_no_number_is_refused(floor: Floor, typed: str) -> None:
    address = reverse("atp:setup_atp_test", args=[floor.atp_test.pk])
    client = signed_in(floor.brewer)
    form = client.get(address).context["form"]
    answer = client.post(address, as_shown(form, gtin=typed))
    assert list(errors(answer)) == ["gtin"]
    assert answer.context["form"]["gtin"].value() == typed


def test_number_of_an_agent_is_of_one_agent(floor: Floor) -> None:
    make_agent(gtin=GTIN)
    mine = make_agent()
    client = signed_in(floor.brewer)
    address = reverse("regimes:agent", args=[mine.pk])
    form = client.get(address).context["form"]
    answer = client.post(address, as_shown(form, gtin=GTIN))
    assert errors(answer) == {"gtin": ["Another agent has this product number."]}
    assert client.post(address, as_shown(form, gtin="614141000012")).status_code == 302
    assert Agent.objects.get(pk=mine.pk).gtin == "00614141000012"


def test_number_of_an_atp_test_is_of_one_test(floor: Floor) -> None:
    floor.atp_test.gtin = GTIN
    floor.atp_test.save()
    client = signed_in(floor.brewer)
    values = {"name": "Another", "sample_kind": "rinse", "gtin": GTIN}
    answer = client.post(reverse("atp:setup_add_atp_test"), values)
    assert errors(answer) == {"gtin": ["Another ATP test has this product number."]}


# --- solutions -----------------------------------------------------------------------------------


def test_lot_of_a_solution_is_read_from_the_drum() -> None:
    house = SkidCellar()
    form = MakeUpForm(brewery=Brewery.current(), before=None, tank_l=100)
    attrs = form.fields["agent_lot"].widget.attrs
    assert (attrs["data-scan"], attrs["data-scan-for"]) == ("lot", "agent")
    assert "data-scan-agent" not in attrs
    made = house.made_up()
    top_up = TopUpForm(
        {"amount_kg": "2", "agent_lot": CODE}, brewery=Brewery.current(), solution=made
    )
    assert top_up.is_valid()
    assert top_up.given["agent_lot"] == "LOT42"
    assert top_up.fields["agent_lot"].widget.attrs["data-scan-agent"] == made.agent_id
