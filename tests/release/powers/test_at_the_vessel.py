"""What stands in for the readings: each bound of what two people read at the vessel."""

import dataclasses
from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.plates.actions import read_plate
from brewhygiene.plates.models import Plate
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import StepWindow
from brewhygiene.release.powers.no_meter import checked_at_vessel
from brewhygiene.turnarounds.models import Clean, StepReading, Turnaround
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting
from tests.factories.regimes import COMMON, add_step
from tests.release.powers.test_no_meter import SEEN, check, plate, refused, released
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def refusal_at(rinse: float, supply: float) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        checked_at_vessel(dataclasses.replace(SEEN, rinse_ph=rinse, supply_ph=supply))
    return refusal.value


@pytest.mark.parametrize("ph", [0.0, 14.0])
def test_a_ph_from_0_to_14_is_one(ph: float) -> None:
    """At its ends, which no supply has, the supply is what is doubted, and not the number."""
    assert refusal_at(ph, ph).code == "ph"


@pytest.mark.parametrize("ph", [-0.1, 14.1])
def test_no_other_is(ph: float) -> None:
    for name, found in (("rinse_ph", refusal_at(ph, 7.2)), ("supply_ph", refusal_at(7.2, ph))):
        assert (found.field, found.code) == (name, "no_ph")
        assert found.message == "Enter a pH from 0 to 14."


def test_a_rinse_that_is_not_as_its_supply_is_rinsed_on() -> None:
    found = refusal_at(8.4, 7.2)
    assert (found.field, found.code) == ("rinse_ph", "ph")
    assert found.message == (
        "More than 0.5 from the supply's pH 7.2: caustic is left. Rinse on and read again."
    )


def test_a_supply_that_cannot_be_is_read_again() -> None:
    found = refusal_at(11.3, 11.3)
    assert (found.field, found.code) == ("supply_ph", "ph")
    assert found.message == (
        "The supply read pH 11.3; drinking water is 6.5 to 9.5. Read the supply again."
    )


def dead(cellar: Cellar) -> Turnaround:
    """Cleaned, the meter failed its check, and a plate taken."""
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    plate(cellar, turnaround)
    return turnaround


def test_a_strength_counts_among_other_windows_of_its_step(cellar: Cellar) -> None:
    step = cellar.version.steps.get(kind="sanitiser")
    StepWindow.objects.create(
        step=step, quantity="temperature_c", minimum=5, maximum=25, source=COMMON
    )
    decision = released(cellar, dead(cellar))
    assert decision.without_meter["Strength"] == "2. sanitiser 140 mg/L"


def test_a_clean_without_a_strength_says_so(cellar: Cellar) -> None:
    cellar.version.steps.get(kind="sanitiser").windows.all().delete()
    decision = released(cellar, dead(cellar))
    assert decision.without_meter["Strength"] == "no step asks for one"


WEAK = "A strength was not read, or not inside its window. Re-clean the vessel."


def test_of_several_readings_of_a_strength_the_latest_counts(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)
    with_two_readings(cellar, clean)
    check(cellar, passes=False)
    plate(cellar, turnaround)
    assert released(cellar, turnaround).without_meter["Strength"] == "2. sanitiser 140 mg/L"


def with_two_readings(cellar: Cellar, clean: Clean) -> None:
    """The first strength of the step is 120 mg/L and the last 140."""
    cellar.run(clean)
    last = StepReading.objects.get(quantity="concentration")
    with unguarded(StepReading):
        StepReading.objects.filter(pk=last.pk).update(value=120, typed="120 mg/L")
        last.pk = None
        last.save(force_insert=True)


@pytest.mark.parametrize(
    ("first", "last", "goes"), [("below", "within", True), ("within", "below", False)]
)
def test_and_so_does_its_verdict(cellar: Cellar, first: str, last: str, goes: bool) -> None:
    turnaround = cellar.emptied()
    with_two_readings(cellar, cellar.started(turnaround))
    check(cellar, passes=False)
    plate(cellar, turnaround)
    old, new = StepReading.objects.filter(quantity="concentration").order_by("pk")
    with unguarded(StepReading):
        StepReading.objects.filter(pk=old.pk).update(verdict=first)
        StepReading.objects.filter(pk=new.pk).update(verdict=last)
    if goes:
        assert released(cellar, turnaround).kind == "without_meter"
    else:
        assert WEAK in refused(cellar, turnaround)[2]


def test_one_weak_strength_of_two_is_enough(cellar: Cellar) -> None:
    step = cellar.version.steps.get(kind="sanitiser")
    add_step(
        cellar.version,
        "sanitiser",
        agent=step.agent,
        windows={"concentration": (80, 200)},
        basis="mg_l",
    )
    turnaround = dead(cellar)
    weak = StepReading.objects.filter(quantity="concentration").order_by("pk")[1]
    with unguarded(StepReading):
        StepReading.objects.filter(pk=weak.pk).update(verdict="below")
    assert WEAK in refused(cellar, turnaround)[2]


def test_of_a_check_that_blocks_the_first_evidence_is_told(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    check(cellar, passes=False)
    for minute in (30, 31):
        plate(cellar, turnaround, minute=minute)
    first, second = Plate.objects.order_by("pk")
    with unguarded(Plate):
        Plate.objects.filter(pk=second.pk).update(medium="MRS")
    for grown in (first, second):
        read_plate(
            by=acting(cellar.brewer, now=NOW + timedelta(days=9)),
            plate=grown,
            state="positive",
            colonies=4,
        )
    words = refused(cellar, turnaround)[2]
    assert "Point 1, WLN: positive." in words
    assert "MRS" not in words


def test_before_any_clean_has_finished_nothing_stands_in(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    check(cellar, passes=False)
    address = reverse("release:without_meter", args=[turnaround.pk])
    page = signed_in(cellar.brewer).get(address)
    assert "No plate was taken since the last clean." in page.content.decode()
    assert "No plate was taken since the last clean." in refused(cellar, turnaround)[2]
