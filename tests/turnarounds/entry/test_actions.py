"""A permit to enter a vessel locks it until it is closed out."""

from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.entry import actions
from brewhygiene.turnarounds.models import StepRecord, VesselOpening
from brewhygiene.turnarounds.models.entries import EntryPermit
from tests import clock
from tests.factories import PASSWORD, Cellar, acting, add_step, make_version
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db

GIVEN: dict[str, Any] = {
    "reason": "Weld at the cone",
    "entrants": "Ilja Test",
    "attendant": "Runa Test",
    "isolation": "Inlet blanked. Agitator locked, key with Runa.",
    "oxygen_pct": 20.8,
    "co2_pct": 0.1,
    "explosive_pct": 0.0,
}


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def permitted(cellar: Cellar, turnaround: Any, **values: Any) -> EntryPermit:
    password = values.pop("password", PASSWORD)
    by = values.pop("by", acting(cellar.brewer))
    return actions.permit_entry(
        by=by, turnaround=turnaround, password=password, **{**GIVEN, **values}
    )


def closed(cellar: Cellar, permit: EntryPermit, **values: Any) -> EntryPermit:
    given = {"everyone_out": True, "nothing_left": True, "note": "Welded, passivated", **values}
    return actions.close_permit(by=acting(cellar.hand), permit=permit, **given)


def refused(cellar: Cellar, turnaround: Any, **values: Any) -> tuple[str | None, str]:
    with pytest.raises(Refusal) as caught:
        permitted(cellar, turnaround, **values)
    assert EntryPermit.objects.count() == 0
    return caught.value.field, caught.value.code


def test_permit_is_signed_and_in_the_ledger(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    permit = permitted(cellar, turnaround)
    assert permit.signature.meaning == f"Permits entry into {cellar.vessel.name}"
    assert permit.signature.user == cellar.brewer
    entry = Entry.objects.last()
    assert (entry.verb, entry.values) == ("permit entry", GIVEN)


@pytest.mark.parametrize(
    ("field", "value", "safe"),
    [
        # 29 CFR 1910.146: 19.5 to 23.5 % oxygen, flammable gas below 10 % of its limit; 29 CFR
        # 1910.1000: CO2 5,000 ppm. From memory.
        ("oxygen_pct", 19.5, True),
        ("oxygen_pct", 19.4, False),
        ("oxygen_pct", 23.5, True),
        ("oxygen_pct", 23.6, False),
        ("co2_pct", 0.5, True),
        ("co2_pct", 0.51, False),
        ("explosive_pct", 9.9, True),
        ("explosive_pct", 10, False),
    ],
)
def test_nobody_enters_unsafe_air(cellar: Cellar, field: str, value: float, safe: bool) -> None:
    turnaround = cellar.emptied()
    if safe:
        assert permitted(cellar, turnaround, **{field: value}).pk
    else:
        assert refused(cellar, turnaround, **{field: value}) == (field, "unsafe_gas")


@pytest.mark.parametrize("value", [-1, 101, float("nan"), float("inf")])
def test_reading_that_cannot_be_is_refused(cellar: Cellar, value: float) -> None:
    assert refused(cellar, cellar.emptied(), co2_pct=value) == ("co2_pct", "invalid")


@pytest.mark.parametrize("field", ["reason", "entrants", "attendant", "isolation"])
def test_nothing_is_left_blank(cellar: Cellar, field: str) -> None:
    assert refused(cellar, cellar.emptied(), **{field: "  "}) == (field, "required")


def test_who_watches_does_not_go_in(cellar: Cellar) -> None:
    given = {"entrants": "Ilja Test, runa test", "attendant": "Runa  Test"}
    assert refused(cellar, cellar.emptied(), **given) == ("attendant", "attendant_enters")


def test_who_watches_may_have_a_name_that_is_part_of_another(cellar: Cellar) -> None:
    permit = permitted(cellar, cellar.emptied(), entrants="Hannah Test", attendant="Ann")
    assert permit.attendant == "Ann"


def test_first_name_of_who_goes_in_is_not_who_watches(cellar: Cellar) -> None:
    given = {"entrants": "Ilja Test, Runa Test", "attendant": "runa"}
    assert refused(cellar, cellar.emptied(), **given) == ("attendant", "attendant_enters")


def test_permit_needs_the_password_and_the_head_brewer(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    assert refused(cellar, turnaround, password="wrong") == ("password", "bad_password")
    with pytest.raises(NotAllowed):
        permitted(cellar, turnaround, by=acting(cellar.hand))


def test_keg_is_not_entered(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    type(cellar.vessel).objects.filter(pk=cellar.vessel.pk).update(kind="keg")
    assert refused(cellar, turnaround) == (None, "not_entered")


def test_nobody_enters_while_a_clean_runs(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.started(turnaround)
    assert refused(cellar, turnaround) == (None, "clean_running")


def test_nobody_enters_where_caustic_may_still_be() -> None:
    floor = Floor()
    clean = floor.running_caustic().clean
    turnaround_actions.stop_clean(
        by=acting(floor.hand, now=clock.now()), clean=clean, reason="Pump failed"
    )
    assert StepRecord.objects.filter(ended_at__isnull=True).count() == 0
    assert refused(floor, clean.turnaround) == (None, "agents_inside")


def test_one_permit_at_a_time(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    permitted(cellar, turnaround)
    with pytest.raises(Refusal) as caught:
        permitted(cellar, turnaround)
    assert caught.value.code == "already_open"


def test_no_clean_starts_while_somebody_may_be_inside(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    permit = permitted(cellar, turnaround)
    with pytest.raises(Refusal) as caught:
        cellar.started(turnaround)
    assert caught.value.code == "entered"
    assert caught.value.message == (
        f"Somebody may be inside {cellar.vessel.name}: Ilja Test. Close the entry permit first."
    )
    closed(cellar, permit)
    assert cellar.started(turnaround).running


def test_entering_a_cleaned_vessel_is_an_opening(cellar: Cellar) -> None:
    cellar.version = make_version(steps=False)
    add_step(cellar.version, "rinse", end_criterion="neutral")
    turnaround = cellar.cleaned()
    permitted(cellar, turnaround)
    (opening,) = VesselOpening.objects.all()
    assert opening.reason == "Entered: Weld at the cone"


def test_entering_a_vessel_that_was_not_cleaned_is_none(cellar: Cellar) -> None:
    permitted(cellar, cellar.emptied())
    assert VesselOpening.objects.count() == 0


@pytest.mark.parametrize(
    ("values", "refusal"),
    [
        ({"everyone_out": False}, ("everyone_out", "inside")),
        ({"nothing_left": False}, ("nothing_left", "left_inside")),
        ({"note": " "}, ("note", "required")),
    ],
)
def test_permit_is_closed_out_only_when_all_is_out(
    cellar: Cellar, values: dict[str, Any], refusal: tuple[str, str]
) -> None:
    permit = permitted(cellar, cellar.emptied())
    with pytest.raises(Refusal) as caught:
        closed(cellar, permit, **values)
    assert (caught.value.field, caught.value.code) == refusal
    permit.refresh_from_db()
    assert permit.closed_at is None


def test_closed_permit_is_closed_once(cellar: Cellar) -> None:
    permit = closed(cellar, permitted(cellar, cellar.emptied()))
    assert (permit.closed_by, permit.close_note) == (cellar.hand, "Welded, passivated")
    with pytest.raises(Refusal) as caught:
        closed(cellar, permit)
    assert caught.value.code == "closed"
