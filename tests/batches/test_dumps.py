"""Dumps: what is destroyed leaves its vessel, with why, where it went and what was signed."""

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.dumps.actions import dump
from brewhygiene.batches.models.dumps import Dump
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.movements import Movement
from brewhygiene.batches.recall.actions import begin_drill, end_drill
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.cellar.models import Emptying, Fill, Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.queries import state_of
from tests import clock
from tests.batches.scenes import HOUR, Brewhouse
from tests.batches.test_batches import way
from tests.batches.test_holds import grown
from tests.factories import PASSWORD, acting, make_user


def dumped(house: Brewhouse, vessel: Vessel, hours: float, **values: object) -> Dump:
    return dump(
        **{
            "by": acting(house.hand, now=house.at(hours)),
            "vessel": vessel,
            "volume_hl": 20,
            "dumped_at": house.at(hours),
            "why": "off",
            "went": "haulier",
            "password": PASSWORD,
            **values,
        }
    )


def refused_with(house: Brewhouse, *args: object, **values: object) -> tuple[str | None, str]:
    before = (Movement.objects.count(), Emptying.objects.count(), Entry.objects.count())
    with pytest.raises(Refusal) as refused:
        dumped(house, *args, **values)
    assert (Movement.objects.count(), Emptying.objects.count(), Entry.objects.count()) == before
    return refused.value.field, refused.value.code


def test_part_of_a_batch_is_dumped_and_the_rest_stays(house: Brewhouse) -> None:
    batch = house.brewed("B1", 1)
    made = dumped(
        house, house.fv, 50, volume_hl=3, why="other", why_note=" Sulphur ", went="drain",
        went_note=" Consent 12 ", through=(house.hose,),
    )  # fmt: skip
    fill = Fill.objects.get(vessel=house.fv)
    assert left_in(fill) == 17
    assert way(made.movement) == [str(fill), house.fv.name, "Hose one"]
    assert (made.why_note, made.went_note, made.decision) == ("Sulphur", "Consent 12", None)
    assert (made.signature.user, made.signature.meaning) == (house.hand, "Dump: 3 hL of B1")
    assert state_of(house.fv, now=house.at(51)).status.code == "in_use"
    found = balance_of(batch)
    assert (found.produced, found.in_vessels, found.dumped, found.packaged) == (20, 17, 3, 0)
    assert found.difference_hl == 0
    values = Entry.objects.get(verb="dump").values
    assert (values["what"], values["volume_hl"], values["went_note"]) == ("B1", 3, "Consent 12")


def test_vessel_whose_beer_was_dumped_is_empty_and_to_be_cleaned(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    dumped(house, house.fv, 50, empties=True)
    assert state_of(house.fv, now=house.at(51)).status.code == "empty"
    emptying = Emptying.objects.get(fill__batch="B1")
    assert emptying.emptied_at == house.at(50)
    assert refused_with(house, house.fv, 51, volume_hl=1) == ("dumped_at", "empty")


@pytest.mark.parametrize(
    "values, answer",
    [
        ({"volume_hl": 20.4}, None),  # 2 % over, as with a transfer
        ({"volume_hl": 20.41}, ("volume_hl", "unbalanced")),
        ({"volume_hl": 0}, ("volume_hl", "refused")),
        ({"volume_hl": 19.6, "empties": True}, None),
        ({"volume_hl": 19.5, "empties": True}, ("volume_hl", "unbalanced")),
        ({"why": "bored"}, ("why", "refused")),
        ({"why": "other", "why_note": " "}, ("why_note", "no_reason")),
        ({"went": ""}, ("went", "refused")),
        ({"went": "drain", "went_note": " "}, ("went_note", "no_consent")),
        ({"password": ""}, ("password", "no_password")),
        ({"password": "wrong"}, ("password", "bad_password")),
        ({"dumped_at": -1}, ("dumped_at", "empty")),
        ({"dumped_at": 51}, ("dumped_at", "refused")),
    ],
)
def test_dump_that_cannot_be_is_refused_beside_its_field(
    house: Brewhouse, values: dict[str, object], answer: tuple[str, str] | None
) -> None:
    house.brewed("B1", 1)
    if "dumped_at" in values:
        values = {"dumped_at": house.at(values["dumped_at"])}  # type: ignore[arg-type]
    if answer is None:
        assert dumped(house, house.fv, 50, **values).movement.volume_hl == values["volume_hl"]
    else:
        assert refused_with(house, house.fv, 50, **values) == answer


def test_dump_goes_through_no_tank(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    assert refused_with(house, house.fv, 50, through=(house.bt,))[0] == "through"


def test_what_was_dumped_cannot_be_packaged_too(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    dumped(house, house.fv, 50, volume_hl=18)
    with pytest.raises(Refusal) as refused:
        house.packaged("L-1", house.fv, 51)
    assert (refused.value.field, refused.value.code) == ("units", "unbalanced")


def test_held_beer_is_dumped_after_a_signed_decision_which_stands_with_it(house: Brewhouse) -> None:
    grown(house)
    hold = Hold.objects.get(batch__number="B1")
    assert refused_with(house, house.bt, 131, volume_hl=1) == (None, "held")
    house.ruled(hold, "sample", 131)
    assert refused_with(house, house.bt, 132, volume_hl=1) == (None, "held")
    decision = house.ruled(hold, "destroy", 133)
    assert refused_with(house, house.bt, 134, volume_hl=1, dumped_at=house.at(132.9)) == (
        "dumped_at",
        "held",
    )
    made = dumped(house, house.bt, 134, volume_hl=1)
    assert made.decision == decision
    assert Entry.objects.get(verb="dump").values["decision"] == decision.pk


def test_dump_page_says_first_that_a_decision_is_missing(db: None) -> None:
    house = Brewhouse(began=clock.now() - 131 * HOUR)
    house.brewed("B1", 1)
    house.grew(house.fv, -0.1, 100)
    client = Client()
    client.force_login(house.hand)
    address = reverse("batches:dump", args=[house.fv.pk])
    held = "It is dumped once the head brewer has signed that it is destroyed."
    assert held in " ".join(client.get(address).content.decode().split())
    house.ruled(Hold.objects.get(batch__number="B1"), "destroy", 101)
    assert held not in " ".join(client.get(address).content.decode().split())


def test_released_beer_is_dumped_without_naming_its_release(house: Brewhouse) -> None:
    grown(house)
    house.ruled(Hold.objects.get(batch__number="B1"), "release", 131)
    assert dumped(house, house.bt, 132, volume_hl=1).decision is None


def test_dump_of_a_yeast_vessel_is_of_the_crop(house: Brewhouse) -> None:
    """What was pitched of it is not there any more; the batch's volumes know only the crop."""
    batch = house.brewed("B1", 1)
    crop = house.cropped("Y-1", 30, vessel=house.yv, generation=1)
    house.brewed("B2", 40, vessel=house.fv_2)
    house.pitched(crop, 41, vessel=house.fv_2)
    assert left_in(crop.fill) == pytest.approx(0.4)
    assert refused_with(house, house.yv, 50, volume_hl=0.42) == ("volume_hl", "unbalanced")
    made = dumped(house, house.yv, 50, volume_hl=0.4, why="spent", went="fed", empties=True)
    assert (made.movement.from_crop, made.movement.from_fill) == (crop, None)
    assert way(made.movement) == ["Y-1", "YV one"]
    assert state_of(house.yv, now=house.at(51)).status.code == "empty"
    assert (balance_of(batch).dumped, balance_of(batch).yeast) == (0, 0.5)
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 52, vessel=house.fv_2)
    assert (refused.value.field, refused.value.code) == ("volume_hl", "unbalanced")


def test_held_crop_is_dumped_by_its_own_decision(house: Brewhouse) -> None:
    grown(house)
    crop_hold = Hold.objects.get(crop__number="Y-1")
    vessel = crop_hold.crop.vessel
    assert vessel is not None
    house.ruled(Hold.objects.get(batch__number="B1"), "destroy", 131)
    assert refused_with(house, vessel, 132, volume_hl=0.1) == (None, "held")
    decision = house.ruled(crop_hold, "destroy", 133)
    assert dumped(house, vessel, 134, volume_hl=0.1).decision == decision


def test_dump_is_for_those_who_work_in_the_cellar(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    for user in (house.owner, make_user()):
        with pytest.raises(NotAllowed):
            dumped(house, house.fv, 50, by=acting(user, now=house.at(50)))


def test_trace_goes_on_to_what_the_dump_went_through_only(house: Brewhouse) -> None:
    """The hose that infected beer went down the drain by is at risk, and what came after in it."""
    house.brewed("B1", 1)
    dumped(house, house.fv, 20, volume_hl=5, through=(house.hose,))
    house.brewed("B2", 30, vessel=house.fv_2, through=(house.hose,))
    house.brewed("B3", 31, vessel=house.bt_2)
    plate = house.grew(house.fv, -0.1, 60)
    trace = trace_of(plate)
    assert [one.batch.number for one in trace.batches] == ["B1", "B2"]
    assert [one.batch.number for one in trace.passed_through if hasattr(one, "batch")] == ["B2"]
    assert "Hose one" in [one.vessel.name for one in trace.equipment]


def test_recall_drill_keeps_the_volumes_of_its_batch(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    lot = house.packaged("L-1", house.fv, 50)
    dumped(house, house.fv, 51, volume_hl=16, empties=False)
    drill = begin_drill(by=acting(house.brewer, now=house.at(52)), lot=lot)
    by = acting(house.brewer, now=house.at(53))
    drill = end_drill(by=by, drill=drill, in_stock=10, lost=0)
    assert drill.found["volumes"] == {
        "produced": 20, "packaged": 3, "in_vessels": 1, "yeast": 0, "dumped": 16, "lost": 0,
        "difference": 0,
    }  # fmt: skip


@pytest.mark.django_db
def test_dump_is_recorded_from_its_form_and_shown(db: None) -> None:
    house = Brewhouse(began=clock.now() - 131 * HOUR)
    house.brewed("B1", 100)
    client = Client()
    client.force_login(house.hand)
    address = reverse("batches:dump", args=[house.fv.pk])
    assert "The local authority has to have agreed" in client.get(address).content.decode()
    sent = {
        "volume_hl": "25", "why": "off", "why_note": "Butter, clearly", "went": "drain",
        "went_note": "Works' letter 7", "password": PASSWORD,
    }  # fmt: skip
    html = client.post(address, sent)
    assert html.status_code == 422
    assert "More would leave" in html.content.decode()
    assert "Butter, clearly" in html.content.decode()
    assert Dump.objects.count() == 0
    done = client.post(address, {**sent, "volume_hl": "5"})
    assert done.headers["Location"] == reverse("board:vessel", args=[house.fv.pk])
    batch = Fill.objects.get(vessel=house.fv).of_batch.batch
    page = client.get(reverse("batches:batch", args=[batch.pk])).content.decode()
    signed = f"Signed by {house.hand.display_name}"
    for words in ("Dumped", "Drain, with consent", "Butter, clearly", "letter 7", signed):
        assert words in page
    lot = house.packaged("L-1", house.fv, 130)
    with pytest.raises(Refusal):
        dumped(house, house.fv, 131, volume_hl=13)
    begun = begin_drill(by=acting(house.brewer, now=house.at(131)), lot=lot)
    page = client.get(reverse("batches:drill", args=[begun.pk])).content.decode()
    assert "Volumes of batch B1" in page
