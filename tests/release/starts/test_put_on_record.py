"""Vessels are put on record once, as they stand, and only before their first turnaround."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import contents_of
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import Emptying, Fill, Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release import actions as release_actions
from brewhygiene.release.gates import Answer, gates_of
from brewhygiene.release.queries import load_dossier, state_of
from brewhygiene.release.starts.actions import Stands, put_on_record
from brewhygiene.release.starts.queries import vessels_not_on_record
from brewhygiene.release.status import Code, Next
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.models.starts import Stood, VesselStart
from brewhygiene.turnarounds.queries import dirty_hold_ends_at, for_floor
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_beer,
    make_owner,
    make_vessel,
)

pytestmark = pytest.mark.django_db
SIGNER = "R. Vane (invented)"


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def today() -> Any:
    return brewery_day(NOW, Brewery.current())


def full(cellar: Cellar, vessel: Vessel | None = None, **values: Any) -> Stands:
    given = {"beer": cellar.pale, "batch": "26-007", "volume_hl": 20.0, "since": today()}
    return Stands(vessel or cellar.vessel, Stood.CONTAINS, **(given | values))


def on_paper(cellar: Cellar, hours: float = 1, **values: Any) -> Stands:
    given = {"released_at": NOW - timedelta(hours=hours), "paper_signer": SIGNER}
    return Stands(cellar.vessel, Stood.RELEASED, **(given | values))


def put(cellar: Cellar, *vessels: Stands, by: Any = None, password: str = PASSWORD) -> VesselStart:
    return put_on_record(by=acting(by or cellar.brewer), vessels=list(vessels), password=password)


def refused(cellar: Cellar, *vessels: Stands, **values: Any) -> tuple[str | None, str]:
    with pytest.raises(Refusal) as refusal:
        put(cellar, *vessels, **values)
    assert not VesselStart.objects.exists()
    assert not Fill.objects.exists()
    assert not Turnaround.objects.exists()
    assert not Signature.objects.filter(meaning__startswith="Put").exists()
    field = refusal.value.field
    return field, refusal.value.code


def test_full_vessel_contains_its_beer_since_then_and_its_emptying_begins_a_turnaround(
    cellar: Cellar,
) -> None:
    day = today() - timedelta(days=200)
    put(cellar, full(cellar, since=day))
    fill = Fill.objects.get()
    assert (fill.before_record, fill.beer, fill.batch, fill.volume_hl) == (
        True,
        cellar.pale,
        "26-007",
        20,
    )
    assert brewery_day(fill.filled_at, Brewery.current()) == day
    state = state_of(cellar.vessel, now=NOW)
    assert (state.status.code, state.status.next) == (Code.IN_USE, Next.EMPTY)
    assert state.status.detail == "Harrow Pale (invented) 26-007, before this record began"
    turnaround = cellar.emptied(beer=None)
    assert turnaround.emptying.fill == fill
    assert state_of(cellar.vessel, now=NOW).status.detail == "Waiting to be cleaned"


def test_batch_of_a_full_vessel_is_a_batch_of_which_nobody_knows_when_it_was_brewed(
    cellar: Cellar,
) -> None:
    other = make_vessel()
    put(cellar, full(cellar), full(cellar, other, batch=" 26-007", volume_hl=8.0))
    batch = Batch.objects.get()
    assert (batch.number, batch.before_record) == ("26-007", True)
    moves = list(Movement.objects.order_by("pk"))
    assert [(m.kind, m.from_fill, m.volume_hl) for m in moves] == [
        (MovementKind.STOOD, None, 20),
        (MovementKind.STOOD, None, 8),
    ]
    balance = balance_of(batch)
    assert (balance.produced, balance.in_vessels, balance.difference_hl) == (28, 28, 0)
    (contents, _) = contents_of(*Fill.objects.order_by("pk"))
    assert contents is not None
    day = today()
    assert contents.words == (
        f"26-007, before this record began, in its vessel since {day.day} {day:%b %Y}"
    )


def test_full_vessel_without_a_batch_number_has_no_batch(cellar: Cellar) -> None:
    put(cellar, full(cellar, batch=""))
    assert not Batch.objects.exists()
    assert Fill.objects.get().words == (
        "Harrow Pale (invented), batch not known, before this record began"
    )
    detail = state_of(cellar.vessel, now=NOW).status.detail
    assert detail == "Harrow Pale (invented), before this record began"


def test_empty_vessel_is_to_be_cleaned_and_its_release_explains_the_wait(cellar: Cellar) -> None:
    start = put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    assert start.turnaround is not None
    status = state_of(cellar.vessel, now=NOW).status
    assert (status.code, status.next, status.since, status.due_at) == (
        Code.EMPTY,
        Next.CLEAN,
        None,
        None,
    )
    assert dirty_hold_ends_at(for_floor().get()) is None
    clean = cellar.run(cellar.started(start.turnaround))
    dossier = load_dossier(clean.turnaround, now=NOW)
    gates = gates_of(dossier, brewery=Brewery.current(), now=NOW, user=None)
    (gate,) = [gate for gate in gates if gate.code == "dirty_hold"]
    assert gate.answer == Answer.EXPLAIN
    assert gate.evidence == (
        "Emptied before this record began, so how long it waited for its clean is not known",
    )


def test_vessel_released_on_paper_can_be_filled_while_its_hold_time_runs(cellar: Cellar) -> None:
    start = put(cellar, on_paper(cellar, hours=1))
    assert start.turnaround is not None
    assert start.signature is not None
    assert start.signature.user == cellar.brewer
    assert start.signature.meaning == f"Put the paper release on record of {cellar.vessel.name}"
    status = state_of(cellar.vessel, now=NOW).status
    assert status.code == Code.RELEASED
    assert status.due_at == NOW + timedelta(hours=3)
    fill = release_actions.fill_vessel(
        by=acting(cellar.hand),
        turnaround=start.turnaround,
        beer=cellar.pale,
        batch="26-100",
        volume_hl=10,
        filled_at=NOW,
    )
    assert not fill.before_record
    assert Turnaround.objects.get().start.words == (
        f"Released on paper by {SIGNER}, before this record began"
    )


def test_paper_of_yesterday_is_lapsed_at_once_and_fills_nothing(cellar: Cellar) -> None:
    start = put(cellar, on_paper(cellar, hours=4))
    assert start.turnaround is not None
    assert state_of(cellar.vessel, now=NOW).status.code == Code.LAPSED
    with pytest.raises(Refusal) as refusal:
        release_actions.fill_vessel(
            by=acting(cellar.hand),
            turnaround=start.turnaround,
            beer=cellar.pale,
            batch="26-100",
            volume_hl=10,
            filled_at=NOW,
        )
    assert refusal.value.code == "not_released"


def test_opening_voids_a_release_on_paper(cellar: Cellar) -> None:
    start = put(cellar, on_paper(cellar))
    assert start.turnaround is not None
    turnaround_actions.record_opening(
        by=acting(cellar.hand), turnaround=start.turnaround, reason="Gasket"
    )
    assert state_of(cellar.vessel, now=NOW).status.code == Code.LAPSED


def test_opening_of_a_vessel_that_stood_empty_is_refused(cellar: Cellar) -> None:
    start = put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    assert start.turnaround is not None
    with pytest.raises(Refusal) as refusal:
        turnaround_actions.record_opening(
            by=acting(cellar.hand), turnaround=start.turnaround, reason="Gasket"
        )
    assert refusal.value.code == "not_cleaned"


@pytest.mark.parametrize("stood", Stood.values)
def test_vessel_is_put_on_record_once(cellar: Cellar, stood: str) -> None:
    put(cellar, Stands(cellar.vessel, Stood.EMPTY))
    again = {"contains": full, "released": on_paper}.get(stood)
    stands = again(cellar) if again else Stands(cellar.vessel, Stood.EMPTY)
    with pytest.raises(Refusal) as refusal:
        put(cellar, stands)
    assert (refusal.value.field, refusal.value.code) == (
        f"stood_{cellar.vessel.pk}",
        "already_started",
    )
    assert VesselStart.objects.count() == 1


def test_vessel_with_a_turnaround_on_record_is_not_put_on_record_anew(cellar: Cellar) -> None:
    cellar.emptied()
    with pytest.raises(Refusal) as refusal:
        put(cellar, full(cellar))
    assert (refusal.value.field, refusal.value.code) == (
        f"stood_{cellar.vessel.pk}",
        "has_history",
    )
    assert not VesselStart.objects.exists()


def test_one_refusal_leaves_all_off_the_record(cellar: Cellar) -> None:
    other = make_vessel()
    wrong = full(cellar, other, volume_hl=31.0)
    assert refused(cellar, full(cellar), wrong) == (f"volume_hl_{other.pk}", "refused")


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"beer": None}, "beer"),
        ({"volume_hl": None}, "volume_hl"),
        ({"volume_hl": 0.0}, "volume_hl"),
        ({"volume_hl": 30.1}, "volume_hl"),
        ({"since": None}, "since"),
    ],
)
def test_full_vessel_says_beer_volume_and_day(
    cellar: Cellar, values: dict[str, Any], field: str
) -> None:
    assert refused(cellar, full(cellar, **values))[0] == f"{field}_{cellar.vessel.pk}"


def test_beer_of_tomorrow_is_refused(cellar: Cellar) -> None:
    tomorrow = today() + timedelta(days=1)
    assert refused(cellar, full(cellar, since=tomorrow))[0] == f"since_{cellar.vessel.pk}"


def test_batch_of_another_beer_is_refused_beside_its_field(cellar: Cellar) -> None:
    other = make_vessel()
    stout = full(cellar, other, beer=make_beer(name="Stout (invented)"))
    assert refused(cellar, full(cellar), stout) == (f"batch_{other.pk}", "other_beer")


def test_hose_contains_no_beer(cellar: Cellar) -> None:
    hose = make_vessel(kind="hose_set", diameter_m=None)
    assert refused(cellar, full(cellar, hose)) == (f"stood_{hose.pk}", "gone_through")


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"released_at": None}, "released_at"),
        ({"released_at": NOW + timedelta(minutes=3)}, "released_at"),
        ({"paper_signer": "  "}, "paper_signer"),
    ],
)
def test_paper_says_when_and_who(cellar: Cellar, values: dict[str, Any], field: str) -> None:
    assert refused(cellar, on_paper(cellar, **values))[0] == f"{field}_{cellar.vessel.pk}"


@pytest.mark.parametrize(("password", "code"), [("", "no_password"), ("wrong", "bad_password")])
def test_paper_needs_the_password(cellar: Cellar, password: str, code: str) -> None:
    assert refused(cellar, on_paper(cellar), password=password) == ("password", code)


def test_full_and_empty_vessels_need_no_password(cellar: Cellar) -> None:
    put(cellar, full(cellar), Stands(make_vessel(), Stood.EMPTY), password="")
    assert VesselStart.objects.count() == 2


def test_who_may_not_release_puts_no_paper_on_record(
    cellar: Cellar, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner = make_owner()
    owner.groups.get().permissions.add(
        *cellar.brewer.groups.get().permissions.filter(codename="edit_setup")
    )
    assert refused(cellar, on_paper(cellar), by=owner) == (
        f"stood_{cellar.vessel.pk}",
        "not_allowed",
    )


def test_who_may_not_edit_the_set_up_puts_nothing_on_record(cellar: Cellar) -> None:
    with pytest.raises(NotAllowed):
        put(cellar, full(cellar), by=cellar.hand)


def test_nothing_chosen_and_nonsense_are_refused(cellar: Cellar) -> None:
    assert refused(cellar) == (None, "nothing")
    wrong = Stands(cellar.vessel, "half full")
    assert refused(cellar, wrong)[0] == f"stood_{cellar.vessel.pk}"


def test_ledger_says_of_each_vessel_how_it_stood(cellar: Cellar) -> None:
    put(cellar, full(cellar), Stands(make_vessel(name="BT 1"), Stood.EMPTY))
    entries = Entry.objects.filter(verb="put vessel on record").order_by("number")
    assert [(e.values["vessel"], e.values["stood"], e.values["known"]) for e in entries] == [
        (cellar.vessel.name, "contains", "before this record began"),
        ("BT 1", "empty", "before this record began"),
    ]
    assert Entry.objects.get(verb="put vessels on record").values == {
        "vessels": [cellar.vessel.name, "BT 1"]
    }


def test_vessels_not_on_record_are_those_of_which_nothing_is_known(cellar: Cellar) -> None:
    ten, two = make_vessel(name="FV 10"), make_vessel(name="FV 2")
    gone = make_vessel(name="FV 3", out_of_service_since=NOW, out_of_service_reason="Weld")
    assert vessels_not_on_record() == [two, cellar.vessel, ten]
    cellar.emptied()
    put(cellar, full(cellar, two))
    assert vessels_not_on_record() == [ten]
    assert gone not in vessels_not_on_record()
    assert Emptying.objects.count() == 1
