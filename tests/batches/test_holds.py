"""A positive plate splits: the vessel has its hold, each batch and crop at risk has its own."""

import pytest

from brewhygiene.batches.crops import actions as crop_actions
from brewhygiene.batches.decisions import actions as decision_actions
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.holds import Hold, HoldDecision, Rank
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.plates.actions import read_plate, send_plate
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.plates.models import Plate
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.queries import state_of
from tests.batches.scenes import Brewhouse
from tests.factories import PASSWORD, acting, made_good

TRACE_QUERIES = 12


def held(**which: object) -> list[tuple[str, int | None]]:
    return [(hold.about, hold.rank) for hold in open_holds().filter(**which).order_by("pk")]


def grown(house: Brewhouse) -> Plate:
    """B1 brewed after a plate that grows: cropped, pitched on, transferred, packaged, shipped."""
    house.brewed("B1", 1, through=(house.hx,))
    house.pitched(house.bought(), 2)
    crop = house.cropped("Y-1", 60, vessel=house.yv, through=(house.hose,))
    house.brewed("B2", 70, vessel=house.fv_2)
    house.pitched(crop, 71, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 100, through=(house.hose,), volume_hl=18)
    lot = house.packaged("L-1", house.bt, 110, units=50)
    house.shipped(lot, 120)
    return house.grew(house.fv, 0.5, 130)


@pytest.fixture
def plate(house: Brewhouse) -> Plate:
    """Taken before B1 went in, and read when all had happened."""
    return grown(house)


def test_positive_plate_holds_each_batch_and_crop_by_itself(plate: Plate) -> None:
    assert held() == [
        ("batch B1", Rank.BEER),
        ("yeast crop Y-1", Rank.YEAST),
        ("batch B2", Rank.YEAST),
        ("the equipment and what went through it", Rank.NOT_CLEANED),
    ]
    hold = Hold.objects.first()
    assert hold.reason == f"positive plate of {plate.point}: lactic rods"
    assert Entry.objects.filter(verb="read plate").last().values["held"] == [
        "batch B1",
        "yeast crop Y-1",
        "batch B2",
        "the equipment and what went through it",
    ]


def test_trace_names_bright_tank_yeast_vessel_and_heat_exchanger_in_rank(
    house: Brewhouse, plate: Plate
) -> None:
    found = trace_of(plate)
    assert [(one.batch.number, [f.vessel.name for f in one.fills]) for one in found.beer] == [
        ("B1", [house.fv.name, "BT one"])
    ]
    assert [lot.number for lot in found.beer[0].lots] == ["L-1"]
    assert [str(getattr(one, "crop", None) or one.batch) for one in found.yeast] == ["Y-1", "B2"]
    assert [one.vessel.name for one in found.not_cleaned] == [
        "HX one",
        "FV two",
        "YV one",
        "Hose one",
        "BT one",
    ]
    assert [one.before for one in found.not_cleaned] == [True, False, False, False, False]
    assert found.cleaned == []


def test_equipment_cleaned_and_released_since_comes_last(house: Brewhouse, plate: Plate) -> None:
    house.ready(house.hose, 140)
    found = trace_of(plate)
    assert [one.vessel.name for one in found.cleaned] == ["Hose one"]
    assert "Hose one" not in [one.vessel.name for one in found.not_cleaned]
    assert [one.rank for one in found.cleaned] == [Rank.CLEANED]


def test_clean_without_its_release_leaves_equipment_not_cleaned(
    house: Brewhouse, plate: Plate
) -> None:
    house.cleaned(vessel=house.hose, now=house.at(140))
    assert "Hose one" in [one.vessel.name for one in trace_of(plate).not_cleaned]


@pytest.mark.parametrize(
    "choice, ends", [("hold", False), ("sample", False), ("release", True), ("destroy", True),
                     ("recall", True)],
)  # fmt: skip
def test_each_decision_is_signed_and_only_some_end_the_hold(
    house: Brewhouse, plate: Plate, choice: str, ends: bool
) -> None:
    hold = Hold.objects.get(batch__number="B1")
    decision = house.ruled(hold, choice, 131, reason="As agreed")
    hold.refresh_from_db()
    assert (hold.ended_at is not None, hold.outcome) == (ends, choice if ends else "")
    assert (decision.choice, decision.reason, decision.covers) == (choice, "As agreed", ["lot L-1"])
    assert decision.signature.meaning == f"{choice.capitalize()}: batch B1"
    assert decision.signature.user == house.brewer
    assert Entry.objects.get(verb="decide hold").values["decision"] == choice
    # Neither the others nor the vessel are decided with it.
    assert held() == [
        *([] if ends else [("batch B1", Rank.BEER)]),
        ("yeast crop Y-1", Rank.YEAST),
        ("batch B2", Rank.YEAST),
        ("the equipment and what went through it", Rank.NOT_CLEANED),
    ]
    assert state_of(house.fv, now=house.at(132)).status.code == "held"


def test_vessel_is_closed_and_its_batches_stay_held(house: Brewhouse, plate: Plate) -> None:
    resolve_plate(
        by=acting(house.brewer, now=house.at(140)),
        plate=plate,
        resolution="Opened, hand-cleaned, looked at, plated again",
        password=PASSWORD,
        **made_good(plate, now=house.at(140)),
    )
    assert state_of(house.fv, now=house.at(141)).status.code != "held"
    assert [about for about, _ in held()] == [
        "batch B1",
        "yeast crop Y-1",
        "batch B2",
        "the equipment and what went through it",
    ]


def test_rest_is_decided_together_and_keeps_what_it_was_about(
    house: Brewhouse, plate: Plate
) -> None:
    hold = Hold.objects.get(batch=None, crop=None)
    decision = house.ruled(hold, "release", 131, reason="All boiled")
    assert decision.covers == [
        "HX one, not cleaned since",
        "FV two, not cleaned since",
        "YV one, not cleaned since",
        "Hose one, not cleaned since",
        "BT one, not cleaned since",
    ]
    assert len(held()) == 3


@pytest.mark.parametrize(
    "values, field, code",
    [
        ({"reason": " "}, "reason", "no_reason"),
        ({"password": "wrong"}, "password", "bad_password"),
        ({"password": ""}, "password", "no_password"),
        ({"choice": "forget"}, "choice", "refused"),
        ({"choice": ""}, "choice", "refused"),
    ],
)
def test_decision_is_refused_beside_its_field_and_nothing_is_signed(
    house: Brewhouse, plate: Plate, values: dict[str, str], field: str, code: str
) -> None:
    hold = Hold.objects.get(batch__number="B1")
    before = Signature.objects.count()
    with pytest.raises(Refusal) as refused:
        house.ruled(hold, **{"choice": "release", "hours": 131, **values})
    assert (refused.value.field, refused.value.code) == (field, code)
    assert (HoldDecision.objects.count(), Signature.objects.count()) == (0, before)
    assert len(held()) == 4


def test_what_was_never_shipped_is_not_recalled(house: Brewhouse, plate: Plate) -> None:
    for which in ({"batch__number": "B2"}, {"crop__number": "Y-1"}, {"batch": None, "crop": None}):
        with pytest.raises(Refusal) as refused:
            house.ruled(Hold.objects.get(**which), "recall", 131)
        assert (refused.value.field, refused.value.code) == ("choice", "nothing_shipped")


def test_ended_hold_is_not_decided_again(house: Brewhouse, plate: Plate) -> None:
    hold = Hold.objects.get(batch__number="B1")
    house.ruled(hold, "sample", 131)
    house.ruled(hold, "destroy", 132)
    with pytest.raises(Refusal) as refused:
        house.ruled(hold, "release", 133)
    assert refused.value.code == "ended"
    assert [one.choice for one in hold.decisions.all()] == ["sample", "destroy"]


@pytest.mark.parametrize("who", ["hand", "owner"])
def test_only_the_head_brewer_decides(house: Brewhouse, plate: Plate, who: str) -> None:
    hold = Hold.objects.get(batch__number="B1")
    with pytest.raises(NotAllowed):
        house.ruled(hold, "release", 131, by=acting(getattr(house, who), now=house.at(131)))


def test_misread_plate_holds_nothing_any_more(house: Brewhouse, plate: Plate) -> None:
    correct_plate(
        by=acting(house.brewer, now=house.at(131)),
        plate=plate,
        reason="Mixed up with another dish",
        state="negative",
        password=PASSWORD,
    )
    assert held() == []
    with pytest.raises(Refusal) as refused:
        house.ruled(Hold.objects.get(batch__number="B1"), "release", 132)
    assert refused.value.code == "not_positive"


def test_plate_corrected_to_positive_holds_as_one_that_was_read_so(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    plate = house.grew(house.fv, 0.9, 48, state="negative")
    assert held() == []
    correct_plate(
        by=acting(house.brewer, now=house.at(49)),
        plate=plate,
        reason="Colonies under the label",
        state="positive",
        colonies=3,
    )
    # It is negative no more, so that nothing before it is good either.
    assert held() == [("batch B1", Rank.BEER)] + [
        ("the equipment and what went through it", Rank.NOT_CLEANED)
    ] * bool(trace_of(Plate.objects.get(pk=plate.pk)).rest)


# --- what is held does not go on ---


def test_held_batch_is_neither_packaged_nor_shipped(house: Brewhouse, plate: Plate) -> None:
    lot = plate.holds.get(batch__number="B1").batch.lots.get()
    for refused_call in (
        lambda: house.packaged("L-2", house.bt, 131, units=5),
        lambda: house.shipped(lot, 131),
    ):
        with pytest.raises(Refusal) as refused:
            refused_call()
        assert refused.value.code == "held"
    house.ruled(Hold.objects.get(batch__number="B1"), "release", 132)
    assert house.shipped(lot, 133).units == 4
    assert house.packaged("L-2", house.bt, 134, units=5).units == 5


def test_held_crop_is_not_pitched_at_once(house: Brewhouse, plate: Plate) -> None:
    crop = Hold.objects.get(crop__number="Y-1").crop
    house.brewed("B3", 135, vessel=house.bt_2)
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 136, vessel=house.bt_2)
    assert (refused.value.field, refused.value.code) == ("crop", "held")


def test_crop_of_a_held_batch_is_held_with_it(house: Brewhouse, plate: Plate) -> None:
    crop = house.cropped("Y-2", 131, source=house.fv_2)
    assert held(crop=crop) == [("yeast crop Y-2", Rank.YEAST)]


def test_held_beer_may_move_and_takes_its_hold_along(house: Brewhouse, plate: Plate) -> None:
    """The vessel has to become empty to be cleaned."""
    fill = house.moved(house.fv_2, house.bt_2, 131, batch="B9", volume_hl=5)
    assert held(batch=fill.of_batch.batch) == [("batch B9", Rank.YEAST)]


def test_destroyed_batch_does_not_move(house: Brewhouse, plate: Plate) -> None:
    house.ruled(Hold.objects.get(batch__number="B2"), "destroy", 131)
    with pytest.raises(Refusal) as refused:
        house.moved(house.fv_2, house.bt_2, 132, volume_hl=5)
    assert refused.value.code == "gone"


# --- by hand, and by a crop's own plate ---


def test_hold_by_hand_needs_a_reason_and_stands_once(house: Brewhouse) -> None:
    batch = house.brewed("B1", 1)
    by = acting(house.hand, now=house.at(2))
    with pytest.raises(Refusal) as refused:
        crop_actions.hold(by=by, subject=batch, reason=" ")
    assert refused.value.field == "reason"
    hold = crop_actions.hold(by=by, subject=batch, reason="Smells of butter")
    with pytest.raises(Refusal) as refused:
        crop_actions.hold(by=by, subject=batch, reason="Again")
    assert refused.value.code == "held"
    house.ruled(hold, "release", 3)
    assert crop_actions.hold(by=by, subject=batch, reason="Again").reason == "Again"


def test_positive_plate_of_a_crop_holds_it(house: Brewhouse) -> None:
    crop = house.bought()
    house.ready(house.yv, 3)
    plate = house.grew(house.yv, 3, 30)
    crop_actions.link_plate(by=acting(house.hand, now=house.at(31)), crop=crop, plate=plate)
    assert held() == [("yeast crop Y-0", Rank.YEAST)]
    with pytest.raises(Refusal) as refused:
        crop_actions.link_plate(by=acting(house.hand, now=house.at(32)), crop=crop, plate=plate)
    assert (refused.value.field, refused.value.code) == ("plate", "twice")


def test_plate_linked_before_it_is_read_holds_the_crop_when_it_grows(house: Brewhouse) -> None:
    crop = house.bought()
    house.ready(house.yv, 3)
    plate = send_plate(
        by=acting(house.hand, now=house.at(3)),
        turnaround=house.yv.turnarounds.get(),
        point=house.yv.points.get(),
        medium="WLN",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=1,
    )
    crop_actions.link_plate(by=acting(house.hand, now=house.at(4)), crop=crop, plate=plate)
    assert held() == []
    read_plate(by=acting(house.brewer, now=house.at(30)), plate=plate, state="positive", colonies=2)
    assert held() == [("yeast crop Y-0", Rank.YEAST)]


def test_plate_from_before_the_crop_is_not_its_own(house: Brewhouse) -> None:
    house.ready(house.yv, 3)
    plate = house.grew(house.yv, 3, 30, state="negative")
    crop = house.bought(hours=4)
    with pytest.raises(Refusal) as refused:
        crop_actions.link_plate(by=acting(house.hand, now=house.at(31)), crop=crop, plate=plate)
    assert refused.value.field == "plate"


# --- how far back, and how far on ---


def test_beer_from_before_the_last_negative_plate_is_not_at_risk(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.ready(house.fv, 200)
    house.grew(house.fv, 200, 230, state="negative")
    turnaround = house.fv.turnarounds.get(closed_at__isnull=True)
    house.filled(turnaround, now=house.at(201), batch="B2")
    house.ready(house.fv, 300)
    plate = house.grew(house.fv, 300, 330)
    assert [one.batch.number for one in trace_of(plate).beer] == ["B2"]


def test_beer_after_the_next_negative_plate_is_not_at_risk(house: Brewhouse) -> None:
    """A plate that is read late, when the next one of the vessel has been read already."""
    house.brewed("B1", 1)
    house.ready(house.fv, 200)
    house.grew(house.fv, 200, 230, state="negative")
    turnaround = house.fv.turnarounds.get(closed_at__isnull=True)
    house.filled(turnaround, now=house.at(201), batch="B2")
    late = house.grew(house.fv, 0.9, 240)
    assert [one.batch.number for one in trace_of(late).beer] == ["B1"]


def test_queries_of_a_trace_do_not_grow_with_it(
    house: Brewhouse, plate: Plate, django_assert_num_queries: object
) -> None:
    with django_assert_num_queries(TRACE_QUERIES):
        small = trace_of(plate)
    house.moved(house.fv_2, house.bt_2, 131, batch="B9", volume_hl=5, through=(house.filler,))
    with django_assert_num_queries(TRACE_QUERIES):
        large = trace_of(plate)
    assert len(large.batches) == len(small.batches) + 1


def test_rule_of_the_trace_is_the_breweries_choice(house: Brewhouse, plate: Plate) -> None:
    """B9 goes through the hose that was cleaned and released since: at risk by the first rule."""
    house.ready(house.hose, 140)
    house.brewed("B9", 145, vessel=house.bt_2, through=(house.hose,))
    by = acting(house.brewer, now=house.at(146))
    names = {}
    for rule in (False, True):
        decision_actions.set_trace_rule(by=by, clean_frees_equipment=rule, password=PASSWORD)
        names[rule] = [one.batch.number for one in trace_of(plate).passed_through]
    assert names == {False: ["B9"], True: []}
    with pytest.raises(NotAllowed):
        decision_actions.set_trace_rule(
            by=acting(house.hand, now=house.at(147)),
            clean_frees_equipment=False,
            password=PASSWORD,
        )
