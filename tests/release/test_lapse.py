"""When a release lapses: with the clean-hold, and until when it is sanitised.

Where a passed hold time was waived, it is filled within one sanitised-hold of the waiver.
"""

from datetime import datetime, timedelta

import pytest

from brewhygiene.cellar.models import HoldClock
from brewhygiene.refusals import Refusal
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, Cellar, because

pytestmark = pytest.mark.django_db

SANITISED = NOW + timedelta(minutes=20)  # as the factories' clean has it
ENDS = SANITISED + timedelta(hours=4)
CLEAN_ENDS = SANITISED + timedelta(hours=24)
SECOND = timedelta(seconds=1)


@pytest.fixture
def cellar() -> Cellar:
    return Cellar(waivable_gates=["hold_time"])


@pytest.fixture
def sampled(cellar: Cellar) -> Turnaround:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    return turnaround


def release(
    cellar: Cellar, turnaround: Turnaround, now: datetime, *, reason: str = "Kept shut and cold"
) -> Decision:
    return cellar.decided(turnaround, now=now, gate_reasons={"hold_time": reason} if reason else {})


@pytest.mark.parametrize(
    "now, lapses_at, ends, waived",
    [
        (SANITISED + timedelta(minutes=20), CLEAN_ENDS, ENDS, False),
        (ENDS - SECOND, CLEAN_ENDS, ENDS, False),
        # From the very second on it is a waiver, which lasts one sanitised-hold from then.
        (ENDS, CLEAN_ENDS, ENDS + timedelta(hours=4), True),
        (ENDS + SECOND, CLEAN_ENDS, ENDS + SECOND + timedelta(hours=4), True),
        (CLEAN_ENDS - SECOND, CLEAN_ENDS, CLEAN_ENDS, True),
        (CLEAN_ENDS, *[CLEAN_ENDS + timedelta(hours=4)] * 2, True),
        (ENDS + timedelta(days=2), *[ENDS + timedelta(days=2, hours=4)] * 2, True),
    ],
)
def test_release_lapses_with_the_clean_hold_or_one_sanitised_hold_after_its_waiver(
    cellar: Cellar,
    sampled: Turnaround,
    now: datetime,
    lapses_at: datetime,
    ends: datetime,
    waived: bool,
) -> None:
    decision = release(cellar, sampled, now)
    assert decision.lapses_at == lapses_at
    assert decision.waivers == (
        {"hold_time": because("Kept shut and cold").words} if waived else {}
    )
    assert state_of(cellar.vessel, now=ends - SECOND).status.code == Code.RELEASED
    assert state_of(cellar.vessel, now=ends).status.code == Code.LAPSED


def test_waived_hold_time_lasts_by_the_vessels_own_clocks(cellar: Cellar) -> None:
    HoldClock.objects.update_or_create(
        vessel_kind="fermenter",
        defaults={"dirty_hold_h": 30, "clean_hold_h": 6, "sanitised_hold_h": 2},
    )
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    now = SANITISED + timedelta(hours=6)
    assert release(cellar, turnaround, now).lapses_at == now + timedelta(hours=2)


def test_hold_time_is_waived_only_with_a_reason_and_where_the_brewery_allows_it(
    cellar: Cellar, sampled: Turnaround
) -> None:
    with pytest.raises(Refusal) as refusal:
        release(cellar, sampled, ENDS, reason="")
    assert (refusal.value.field, refusal.value.code) == ("reason_hold_time", "no_reason")
    cellar.brewery.waivable_gates = []
    cellar.brewery.save()
    with pytest.raises(Refusal) as refusal:
        release(cellar, sampled, ENDS)
    assert (refusal.value.field, refusal.value.code) == ("outcome", "blocked")
    assert not Decision.objects.exists()


def test_hold_never_lapses(cellar: Cellar, sampled: Turnaround) -> None:
    decision = cellar.decided(sampled, "hold")
    assert (decision.lapses_at, decision.self_release) == (None, False)
