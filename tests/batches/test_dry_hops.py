"""A dry hop: which gear the beer came into, what that gear then carries, and who is told."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.dry_hops.actions import dry_hop
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.movements import Movement
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.changeovers.carried import carried_by
from brewhygiene.ledger.models import Entry
from brewhygiene.plates.models import Plate
from brewhygiene.refusals import NotAllowed, Refusal
from tests import clock
from tests.batches.scenes import HOUR, Brewhouse
from tests.batches.test_batches import way
from tests.changeovers.scenes import Dairy
from tests.factories import acting, make_vessel

pytestmark = pytest.mark.django_db
HOPS = "12 kg pellets, lot 26-118"


@pytest.fixture
def house(db: None) -> Dairy:
    return Dairy()


@pytest.fixture
def doser(db: None) -> Vessel:
    return make_vessel(name="Hop doser", kind="dry_hop_gear", volume_hl=1)


def hopped(house: Brewhouse, hours: float, vessel: Vessel | None = None, **values: Any) -> Movement:
    return dry_hop(
        by=values.pop("by", acting(house.hand, now=house.at(hours))),
        vessel=vessel or house.fv,
        **{"hops": HOPS, "hopped_at": house.at(hours), **values},
    )


def refused_by(call: Callable[[], object]) -> tuple[str | None, str | None]:
    entries, moved = Entry.objects.count(), Movement.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert (Entry.objects.count(), Movement.objects.count()) == (entries, moved)
    return refused.value.field, refused.value.code


def test_dry_hop_is_kept_with_its_gear_and_takes_no_beer_away(house: Dairy, doser: Vessel) -> None:
    batch = house.brewed("B1", 0)
    movement = hopped(house, 24, through=(doser, house.hose))
    fill = Fill.objects.get(vessel=house.fv)
    assert (movement.kind, movement.added, movement.volume_hl) == ("dry_hop", HOPS, None)
    assert (movement.from_fill, movement.to_fill) == (None, fill)
    beer = [str(fill), house.fv.name]
    assert way(movement) == [*beer, "Hop doser", "Hose one", *beer]
    assert (left_in(fill), balance_of(batch).difference_hl) == (20, 0)
    entry = Entry.objects.latest("pk")
    assert (entry.verb, entry.values["hops"], entry.values["through"], entry.values["batch"]) == (
        "record dry hop",
        HOPS,
        ["Hop doser", "Hose one"],
        "B1",
    )


def test_dry_hop_by_hand_went_through_nothing(house: Dairy) -> None:
    house.brewed("B1", 0)
    movement = hopped(house, 24, hops="  12 kg   pellets ")
    assert movement.added == "12 kg pellets"
    beer = [str(movement.to_fill), house.fv.name]
    assert way(movement) == [*beer, *beer]


@pytest.mark.parametrize(
    ("values", "field"),
    [({"hops": "  "}, "hops"), ({"hops": "x" * 201}, "hops")],
)
def test_what_is_missing_is_told_beside_its_field(
    house: Dairy, values: dict[str, str], field: str
) -> None:
    house.brewed("B1", 0)
    assert refused_by(lambda: hopped(house, 24, **values))[0] == field
    hopped(house, 24, hops="x" * 200)


def test_hops_go_into_beer_that_is_there_through_gear(house: Dairy, doser: Vessel) -> None:
    assert refused_by(lambda: hopped(house, 24))[0] == "hopped_at"
    house.brewed("B1", 24)
    assert refused_by(lambda: hopped(house, 23))[0] == "hopped_at"
    assert refused_by(lambda: hopped(house, 25, through=(house.bt,)))[0] == "through"
    with pytest.raises(NotAllowed):
        hopped(house, 25, by=acting(house.owner, now=house.at(25)))


def test_gear_carries_the_allergens_of_the_beer_until_they_are_proved_gone(
    house: Dairy, doser: Vessel
) -> None:
    house.validated()
    house.brewed("S-1", 0, beer=house.stout)
    hopped(house, 24, through=(doser,))
    carried = carried_by([doser, house.hose])
    assert {code: one.beer for code, one in carried[doser.pk].items()} == {"milk": house.stout.name}
    assert carried[house.hose.pk] == {}
    house.brewed("P-1", 30, vessel=house.fv_2)
    pale: Callable[[float], Movement] = lambda hours: hopped(  # noqa: E731
        house, hours, house.fv_2, through=(doser,)
    )
    assert refused_by(lambda: pale(31)) == ("through", "allergen")
    # Another beer that declares it may follow.
    hopped(house, 31, through=(doser,))
    house.proved(doser, 40)
    pale(42)


@pytest.mark.parametrize(("use", "sour"), [("clean", True), ("mixed", False)])
def test_tag_of_gear_decides_which_culture_comes_into_it(
    house: Dairy, doser: Vessel, use: str, sour: bool
) -> None:
    house.brewed("B-1", 0, beer=house.sour if sour else house.pale)
    Vessel.objects.filter(pk=doser.pk).update(culture_use=use)
    doser.refresh_from_db()
    assert refused_by(lambda: hopped(house, 24, through=(doser,))) == ("through", "culture")


def test_plate_follows_the_beer_into_the_gear_and_out_of_it(house: Dairy, doser: Vessel) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.brewed("B3", 3, vessel=house.bt)
    hopped(house, 20, house.bt, through=(doser,))
    hopped(house, 24, through=(doser,))
    hopped(house, 48, house.fv_2, through=(doser,))
    house.grew(house.fv, 0.5, 60)
    trace = trace_of(Plate.objects.get())
    assert {one.vessel.name for one in trace.not_cleaned} == {"Hop doser", "FV two"}
    assert [str(one.batch.number) for one in trace.passed_through] == ["B2"]
    # Not the batch that was in the gear before.
    assert [hold.batch.number for hold in open_holds() if hold.batch is not None] == ["B1"]


# --- the page ---


def page_of(house: Brewhouse) -> tuple[Client, str]:
    client = Client()
    client.force_login(house.hand)
    return client, reverse("batches:dry_hop", args=[house.fv.pk])


@pytest.fixture
def now_house(db: None) -> Brewhouse:
    found = Brewhouse(began=clock.now() - 48 * HOUR)
    found.brewed("B1", 0)
    return found


def test_dry_hop_is_recorded_from_the_page_of_its_vessel(
    now_house: Brewhouse, doser: Vessel
) -> None:
    client, url = page_of(now_house)
    vessel = reverse("board:vessel", args=[now_house.fv.pk])
    assert url in client.get(vessel).content.decode()
    assert "Hop doser" in client.get(url).content.decode()
    answer = client.post(url, {"hops": HOPS, "through": [doser.pk]})
    assert (answer.status_code, answer.headers["Location"]) == (302, vessel)
    movement = Movement.objects.get(kind="dry_hop")
    assert (movement.moved_at, movement.added) == (clock.now(), HOPS)
    batch = client.get(reverse("batches:batch", args=[Batch.objects.get().pk])).content.decode()
    for words in ("Dry-hopped", HOPS, "Hop doser"):
        assert words in batch


def test_refused_page_keeps_what_was_typed(now_house: Brewhouse, doser: Vessel) -> None:
    client, url = page_of(now_house)
    later: datetime = clock.now() + HOUR
    answer = client.post(
        url,
        {"hops": HOPS, "through": [doser.pk], "hopped_at": later.strftime("%Y-%m-%dT%H:%M")},
    )
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["hopped_at"]
    assert HOPS in answer.content.decode()
    assert Movement.objects.filter(kind="dry_hop").count() == 0
