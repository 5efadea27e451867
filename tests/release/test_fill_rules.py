"""What a decision, a re-sanitise and a fill refuse, at both sides of each bound."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release import actions
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code, Next
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def refusal_of(call: Callable[[], Any]) -> Refusal:
    """The refusal, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value


# ---- deciding ----


def test_a_decision_is_a_hold_or_a_release(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    assert refusal_of(lambda: cellar.decided(turnaround, "perhaps")).field == "outcome"


def test_a_stale_decision_names_the_last_one_made(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    cellar.decided(turnaround, "hold")
    cellar.decided(turnaround, now=LATER)
    refusal = refusal_of(lambda: cellar.decided(turnaround, "hold", now=LATER, revision_seen=0))
    assert refusal.code == "stale"
    assert ("is release, signed" in refusal.message, "is hold, signed" in refusal.message) == (
        True,
        False,
    )


def test_a_blocked_release_names_the_first_thing_in_the_way(db: None) -> None:
    cellar = Cellar(points=2)
    turnaround = cellar.cleaned()
    refusal = refusal_of(lambda: cellar.decided(turnaround))
    assert (refusal.field, refusal.code) == ("outcome", "blocked")
    assert ("Point 1" in refusal.message, "Point 2" in refusal.message) == (True, False)


def test_a_hold_needs_a_reason_and_a_release_none(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    refusal = refusal_of(lambda: cellar.decided(turnaround, "hold", reason="  "))
    assert (refusal.field, refusal.code) == ("reason", "no_reason")
    held = cellar.decided(turnaround, "hold", reason=" Smells ")
    assert (held.reason, held.lapses_at, held.self_release) == ("Smells", None, False)
    assert cellar.decided(turnaround, reason="").reason == ""


def test_a_reason_for_a_check_that_needs_none_is_not_kept(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    decision = cellar.decided(turnaround, gate_reasons={"alerts": "None", "sampled": " "})
    assert decision.waivers == {}


def test_a_waived_hold_time_gives_one_sanitised_hold_from_now(db: None) -> None:
    cellar = Cellar(waivable_gates=["hold_time"])
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    # Sanitised 20 minutes after NOW: its 4 hours end at this very moment.
    over = NOW + timedelta(hours=4, minutes=20)
    decision = cellar.decided(turnaround, now=over, gate_reasons={"hold_time": "Tank is sealed"})
    # The clean itself counts for 24 hours, the waiver for one sanitised-hold from now.
    assert decision.lapses_at == NOW + timedelta(hours=24, minutes=20)
    waived = over + timedelta(hours=4)
    assert state_of(cellar.vessel, now=waived - timedelta(seconds=1)).status.code == Code.RELEASED
    assert state_of(cellar.vessel, now=waived).status.next == Next.SANITISE


def test_a_hold_by_one_who_worked_on_the_clean_is_no_self_release(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, by=cellar.brewer)
    assert cellar.decided(turnaround, "hold").self_release is False


# ---- sanitising again ----


def test_a_resanitise_is_refused_to_the_owner_before_anything_is_looked_at(
    cellar: Cellar,
) -> None:
    turnaround = cellar.released()

    def again(user: Any) -> Any:
        return actions.resanitise(
            by=acting(user, now=LATER), turnaround=turnaround, version=cellar.resanitise_version
        )

    with pytest.raises(NotAllowed):
        again(cellar.owner)
    assert refusal_of(lambda: again(cellar.hand)).code == "no_resanitise"


# ---- filling ----


def irregular(cellar: Cellar, turnaround: Turnaround, **values: Any) -> Fill:
    return actions.record_fill_without_release(
        **{
            "by": acting(cellar.brewer, now=LATER),
            "turnaround": turnaround,
            "beer": cellar.pale,
            "batch": "B-77",
            "volume_hl": 20,
            "filled_at": NOW + timedelta(minutes=50),
            "reason": "Night shift filled it unasked",
            "password": PASSWORD,
            **values,
        }
    )


@pytest.mark.parametrize(
    "values, field",
    [
        ({"batch": "  "}, "batch"),
        ({"volume_hl": 0}, "volume_hl"),
        ({"volume_hl": -1}, "volume_hl"),
        ({"volume_hl": 30.0031}, "volume_hl"),
        ({"filled_at": LATER + timedelta(hours=1)}, "filled_at"),
    ],
    ids=str,
)
def test_neither_kind_of_fill_takes_what_cannot_be(
    cellar: Cellar, values: dict[str, Any], field: str
) -> None:
    turnaround = cellar.released()
    assert refusal_of(lambda: cellar.filled(turnaround, now=LATER, **values)).field == field
    assert refusal_of(lambda: irregular(cellar, turnaround, **values)).field == field


@pytest.mark.parametrize("volume_hl", [0.001, 0.5, 1, 30, 30 * 1.0001])
def test_a_vessel_takes_any_volume_up_to_its_own_and_a_hair_more(
    cellar: Cellar, volume_hl: float
) -> None:
    turnaround = cellar.released()
    fill = cellar.filled(turnaround, volume_hl=volume_hl, batch=" B-1 ")
    assert (fill.volume_hl, fill.batch, fill.without_release) == (volume_hl, "B-1", False)


def test_a_fill_is_refused_before_its_release_beside_the_time_and_without_one_beside_none(
    cellar: Cellar,
) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    unreleased = refusal_of(lambda: cellar.filled(turnaround))
    assert (unreleased.field, unreleased.code) == (None, "not_released")
    cellar.decided(turnaround, now=NOW + timedelta(minutes=40, seconds=30))

    def at(moment: datetime) -> Callable[[], Fill]:
        return lambda: cellar.filled(turnaround, now=LATER, filled_at=moment)

    early = refusal_of(at(NOW + timedelta(minutes=39, seconds=59)))
    assert (early.field, early.code) == ("filled_at", "not_released")
    # A time is typed to the minute: the minute of the release is not before it.
    fill = at(NOW + timedelta(minutes=40))()
    assert fill.filled_at == NOW + timedelta(minutes=40)


def test_a_fill_without_release_may_be_at_the_emptying_but_not_before(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    early = NOW - timedelta(microseconds=1)
    refusal = refusal_of(lambda: irregular(cellar, turnaround, filled_at=early))
    assert refusal.field == "filled_at"
    assert irregular(cellar, turnaround, filled_at=NOW).filled_at == NOW


def test_a_fill_without_release_needs_a_reason_and_a_vessel_that_is_not_released(
    cellar: Cellar,
) -> None:
    turnaround = cellar.cleaned()
    refusal = refusal_of(lambda: irregular(cellar, turnaround, reason=" "))
    assert refusal.field == "reason"
    cellar.sampled(turnaround)
    cellar.decided(turnaround)
    assert refusal_of(lambda: irregular(cellar, turnaround)).code == "released"
    assert Fill.objects.count() == 0


def test_a_fill_without_release_stops_the_clean_that_runs(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    stopped = cellar.started(turnaround)
    stop_clean(by=acting(cellar.hand), clean=stopped, reason="Pump failed")
    clean = cellar.started(turnaround)
    fill = irregular(cellar, turnaround)
    clean.refresh_from_db()
    stopped.refresh_from_db()
    turnaround.refresh_from_db()
    assert clean.stopped_at == LATER
    assert stopped.stop_reason == "Pump failed"
    assert (turnaround.closing_fill, turnaround.closed_at) == (fill, fill.filled_at)


def test_a_fill_without_release_leaves_a_finished_clean_as_it_is(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    fill = irregular(cellar, turnaround, reason=" Unasked ")
    clean = turnaround.cleans.get()
    assert (clean.stopped_at, fill.without_release_reason) == (None, "Unasked")
    assert Decision.objects.count() == 0
