"""Plates: sent, read, and what a late positive reaches."""

from datetime import date, timedelta

import pytest

from brewhygiene.plates import actions
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.models import Plate
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, made_good

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def sent(cellar: Cellar, turnaround: Turnaround, *, days: float = 0, **values) -> Plate:
    now = NOW + timedelta(days=days, minutes=35)
    return actions.send_plate(
        by=acting(cellar.hand, now=now),
        turnaround=turnaround,
        point=cellar.point,
        **{
            "medium": "MRS",
            "neutraliser": "thiosulfate",
            "incubation_c": 28,
            "incubation_days": 7,
            **values,
        },
    )


def read(cellar: Cellar, plate: Plate, state: str, *, days: float, **values) -> Plate:
    return actions.read_plate(
        by=acting(cellar.brewer, now=NOW + timedelta(days=days)),
        plate=plate,
        state=state,
        **values,
    )


def test_plate_is_due_after_its_incubation(cellar: Cellar) -> None:
    assert sent(cellar, cellar.released()).due_on == date(2026, 3, 17)


def test_plate_is_not_called_negative_before_it_is_due(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    with pytest.raises(Refusal) as refused:
        read(cellar, plate, "negative", days=3)
    assert refused.value.code == "too_early"
    assert read(cellar, plate, "negative", days=8).state == "negative"


def test_plate_may_be_positive_before_it_is_due(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    assert read(cellar, plate, "positive", days=2, colonies=4).state == "positive"


def test_positive_plate_without_colonies_is_refused(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    with pytest.raises(Refusal) as refused:
        read(cellar, plate, "positive", days=2, colonies=0)
    assert refused.value.field == "colonies"


def test_plate_is_read_once(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    read(cellar, plate, "positive", days=2, colonies=4)
    with pytest.raises(Refusal, match="Mara Oduya has already read this plate"):
        read(cellar, plate, "negative", days=9)


def test_plate_is_not_read_by_the_cellar_role(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    with pytest.raises(NotAllowed):
        actions.read_plate(by=acting(cellar.hand), plate=plate, state="negative")


def test_late_positive_plate_holds_the_vessel_and_names_the_fills(cellar: Cellar) -> None:
    first = cellar.released()
    good = sent(cellar, first)
    before = cellar.filled(first, batch="B-1")
    second_at = NOW + timedelta(days=10)
    cellar.emptied(now=second_at)
    read(cellar, good, "negative", days=10)
    second = Turnaround.objects.get(closed_at=None)
    cellar.run(cellar.started(second, now=second_at), now=second_at)
    cellar.checked(now=second_at)
    cellar.sampled(second, now=second_at + timedelta(minutes=30))
    cellar.decided(second, now=second_at + timedelta(minutes=40))
    bad = sent(cellar, second, days=10)
    after = cellar.filled(second, now=second_at + timedelta(minutes=50), batch="B-2")

    read(cellar, bad, "positive", days=16, colonies=12, organism="Pediococcus")
    # The first fill came after the good plate's sample too, so it is not cleared by it.
    assert list(fills_at_risk(bad)) == [after, before]
    assert state_of(cellar.vessel, now=NOW + timedelta(days=16)).status.code == Code.HELD


def test_positive_plate_is_closed_under_a_signature(cellar: Cellar) -> None:
    plate = sent(cellar, cellar.released())
    read(cellar, plate, "positive", days=2, colonies=4)
    closing = {
        "by": acting(cellar.brewer, now=NOW + timedelta(days=9)),
        "plate": plate,
        "resolution": "Cleaned hot",
        **made_good(plate, now=NOW + timedelta(days=9)),
    }
    with pytest.raises(Refusal) as refused:
        resolve_plate(password="no", **closing)
    assert refused.value.field == "password"
    assert state_of(cellar.vessel, now=NOW + timedelta(days=9)).status.code == Code.HELD
    closed = resolve_plate(password=PASSWORD, **closing)
    assert closed.resolution_signature.printed_name == "Mara Oduya"
    # Cleaned again, so that it has to be sampled; the plate holds it no longer.
    assert state_of(cellar.vessel, now=NOW + timedelta(days=9)).status.code == Code.TO_SAMPLE
