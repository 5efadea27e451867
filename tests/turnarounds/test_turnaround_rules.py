"""What a turnaround and its cleans refuse, and what each verb leaves behind."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.models import RegimeVersion, StepKind
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.models import Clean, Turnaround, VesselOpening
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_beer,
    make_resanitise_version,
    make_version,
    seen_well,
)

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value.field, refused.value.code


def values_of(verb: str) -> dict[str, Any]:
    entry = Entry.objects.filter(verb=verb).order_by("pk").last()
    assert entry is not None
    return entry.values


# ---- emptying ----


def filled(cellar: Cellar) -> None:
    cellar.filled(cellar.released(), now=NOW + timedelta(minutes=50, seconds=30))


def test_a_vessel_is_not_emptied_before_it_was_filled(cellar: Cellar) -> None:
    filled(cellar)

    def emptied(at: Any) -> Turnaround:
        return actions.empty_vessel(
            by=acting(cellar.hand, now=LATER), vessel=cellar.vessel, emptied_at=at
        )

    early = NOW + timedelta(minutes=49)
    assert refusal_of(lambda: emptied(early)) == ("emptied_at", "refused")
    # In the same minute: brought up to the moment of the fill, which is not before it.
    turnaround = emptied(NOW + timedelta(minutes=50))
    assert turnaround.opened_at == NOW + timedelta(minutes=50, seconds=30)
    assert turnaround.emptying.emptied_at == turnaround.opened_at
    assert turnaround.emptying.co2_left is True


def test_an_emptying_says_what_was_in_it_from_the_fill_or_as_typed_or_unknown(
    cellar: Cellar,
) -> None:
    following = make_beer(name="Lager (invented)")
    cellar.emptied(beer=None)
    assert values_of("empty vessel")["held"] == "unknown"
    assert values_of("empty vessel")["next_beer"] is None
    other = Cellar.emptied(cellar, vessel=make_other_vessel(), next_beer=following)
    assert values_of("empty vessel")["held"] == cellar.pale.name
    assert values_of("empty vessel")["next_beer"] == following.name
    assert (other.next_beer, other.emptying.fill) == (following, None)


def make_other_vessel() -> Any:
    from tests.factories import make_vessel

    return make_vessel()


def test_an_emptying_is_of_the_fill_that_is_in_it_and_of_none_before(cellar: Cellar) -> None:
    filled(cellar)
    first = cellar.emptied(now=LATER, beer=make_beer())
    assert values_of("empty vessel")["held"] == str(first.emptying.fill)
    assert first.emptying.fill is not None
    assert refusal_of(lambda: cellar.emptied(now=LATER)) == (None, "already_empty")


# ---- what comes next ----


def test_what_comes_next_is_kept_and_may_be_taken_back(cellar: Cellar) -> None:
    turnaround, lager = cellar.emptied(), make_beer(name="Lager (invented)")
    actions.plan_next_beer(by=acting(cellar.hand), turnaround=turnaround, beer=lager)
    turnaround.refresh_from_db()
    assert turnaround.next_beer == lager
    assert values_of("plan next beer") == {"before": None, "after": lager.name}
    actions.plan_next_beer(by=acting(cellar.hand), turnaround=turnaround, beer=None)
    turnaround.refresh_from_db()
    assert turnaround.next_beer is None
    assert values_of("plan next beer") == {"before": lager.name, "after": None}


# ---- starting a clean ----


def start(cellar: Cellar, turnaround: Turnaround, version: RegimeVersion, **values: str) -> Clean:
    return actions.start_clean(
        by=acting(cellar.hand), turnaround=turnaround, version=version, **values
    )


def resanitise(cellar: Cellar, turnaround: Turnaround, version: RegimeVersion) -> Clean:
    return actions.start_resanitise(by=acting(cellar.hand), turnaround=turnaround, version=version)


def set_regime(version: RegimeVersion, **values: Any) -> RegimeVersion:
    for name, value in values.items():
        setattr(version.regime, name, value)
    version.regime.save()
    return version


@pytest.mark.parametrize("verb", [start, resanitise])
def test_a_clean_of_either_kind_takes_a_version_in_force_for_this_vessel(
    cellar: Cellar, verb: Callable[..., Clean]
) -> None:
    turnaround = cellar.emptied()
    purpose = {"resanitises_only": verb is resanitise}

    def refused(version: RegimeVersion) -> tuple[str | None, str]:
        return refusal_of(lambda: verb(cellar, turnaround, version))

    assert refused(make_version(steps=False, **purpose)) == ("version", "refused")
    assert refused(make_version(vessel_kinds=["keg"], **purpose)) == ("version", "refused")
    assert refused(make_version(active=False, **purpose)) == ("version", "outdated")
    earlier = make_version(**purpose)
    earlier.current = False
    earlier.save()
    assert refused(earlier) == ("version", "outdated")
    cellar.vessel.out_of_service_since = NOW
    cellar.vessel.out_of_service_reason = "Dented cone"
    cellar.vessel.save()
    assert refused(make_version(**purpose)) == (None, "refused")
    assert Clean.objects.count() == 0


@pytest.mark.parametrize("verb", [start, resanitise])
def test_neither_kind_starts_while_a_clean_is_running(
    cellar: Cellar, verb: Callable[..., Clean]
) -> None:
    turnaround = cellar.emptied()
    running = cellar.started(turnaround)
    version = cellar.version if verb is start else cellar.resanitise_version
    assert refusal_of(lambda: verb(cellar, turnaround, version)) == (None, "already_running")
    actions.stop_clean(by=acting(cellar.hand), clean=running, reason="Pump failed")
    assert verb(cellar, turnaround, version).running
    assert Clean.objects.count() == 2


def test_a_clean_and_a_resanitise_each_take_their_own_regimes(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    again = cellar.resanitise_version
    assert refusal_of(lambda: start(cellar, turnaround, again)) == ("version", "refused")
    clean = cellar.version
    assert refusal_of(lambda: resanitise(cellar, turnaround, clean)) == ("version", "refused")
    dry = make_resanitise_version(steps=False)
    add_step(dry, StepKind.RINSE)
    assert refusal_of(lambda: resanitise(cellar, turnaround, dry)) == ("version", "refused")
    hot = make_resanitise_version(steps=False)
    add_step(hot, StepKind.RINSE)
    add_step(hot, StepKind.HOT_WATER)
    assert resanitise(cellar, turnaround, hot).purpose == "resanitise"


def test_a_clean_that_nothing_was_proposed_for_names_no_regime(cellar: Cellar) -> None:
    """The only regime of the kind is switched off between the page and the verb."""
    turnaround = cellar.emptied()
    clean = start(cellar, turnaround, cellar.version)
    assert (clean.purpose, clean.proposed_regime) == ("clean", cellar.version.regime.name)
    assert values_of("start clean")["proposed"] == cellar.version.regime.name


# ---- ending a clean ----


def test_a_clean_is_finished_once_every_step_is_settled(cellar: Cellar) -> None:
    clean = cellar.started(cellar.emptied())

    def finish() -> Clean:
        return actions.finish_clean(by=acting(cellar.hand, now=LATER), clean=clean)

    assert refusal_of(finish) == (None, "not_complete")
    cellar.step_started(clean, clean.version.steps.get(order=1))
    assert refusal_of(finish) == (None, "not_complete")
    actions.stop_clean(by=acting(cellar.hand), clean=clean, reason="Pump failed")
    assert refusal_of(finish) == (None, "clean_ended")
    clean.refresh_from_db()
    assert clean.finished_at is None


def test_a_finished_clean_counts_its_own_deviations(cellar: Cellar) -> None:
    clean = cellar.run(cellar.started(cellar.emptied()))
    assert (clean.finished_by, clean.finished_at) == (cellar.hand, NOW + timedelta(minutes=20))
    assert values_of("finish clean")["deviations"] == 0
    assert refusal_of(lambda: actions.finish_clean(by=acting(cellar.hand), clean=clean)) == (
        None,
        "clean_ended",
    )


# ---- opening ----


def test_only_a_vessel_that_was_cleaned_is_opened_and_for_a_reason(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)

    def opened(reason: str) -> VesselOpening:
        return actions.record_opening(
            by=acting(cellar.hand, now=LATER), turnaround=turnaround, reason=reason
        )

    assert refusal_of(lambda: opened("Gasket")) == (None, "not_cleaned")
    cellar.run(clean)
    assert refusal_of(lambda: opened("  ")) == ("reason", "refused")
    opening = opened(" Gasket ")
    assert (opening.reason, opening.opened_at, opening.recorded_by) == (
        "Gasket",
        LATER,
        cellar.hand,
    )


# ---- every verb ----


def verbs(cellar: Cellar) -> dict[str, Callable[..., Any]]:
    """Each verb of a turnaround as a call that succeeds on a cleaned, open turnaround."""
    return {
        "plan next beer": lambda by, t: actions.plan_next_beer(by=by, turnaround=t, beer=None),
        "start clean": lambda by, t: actions.start_clean(
            by=by, turnaround=t, version=cellar.version
        ),
        "start re-sanitise": lambda by, t: actions.start_resanitise(
            by=by, turnaround=t, version=cellar.resanitise_version
        ),
        "open cleaned vessel": lambda by, t: actions.record_opening(
            by=by, turnaround=t, reason="Gasket"
        ),
    }


NAMES = ["plan next beer", "start clean", "start re-sanitise", "open cleaned vessel"]


@pytest.mark.parametrize("name", NAMES)
def test_every_verb_makes_an_earlier_look_at_the_turnaround_stale(
    cellar: Cellar, name: str
) -> None:
    turnaround, bystander = cellar.cleaned(), cellar.emptied(vessel=make_other_vessel())
    turnaround.refresh_from_db()
    seen = turnaround.revision
    verbs(cellar)[name](acting(cellar.hand, now=LATER), turnaround)
    turnaround.refresh_from_db()
    assert turnaround.revision == seen + 1
    bystander.refresh_from_db()
    assert bystander.revision == 0


@pytest.mark.parametrize("name", NAMES)
def test_no_verb_is_for_who_does_no_cellar_work(cellar: Cellar, name: str) -> None:
    turnaround = cellar.cleaned()
    with pytest.raises(NotAllowed):
        verbs(cellar)[name](acting(cellar.owner, now=LATER), turnaround)


@pytest.mark.parametrize("name", NAMES)
def test_no_verb_touches_a_turnaround_that_a_fill_has_closed(cellar: Cellar, name: str) -> None:
    turnaround = cellar.released()
    fill = cellar.filled(turnaround)
    closed = Turnaround.objects.get(pk=turnaround.pk)
    assert (closed.closed_at, closed.closing_fill) == (fill.filled_at, fill)
    by = acting(cellar.hand, now=LATER)
    assert refusal_of(lambda: verbs(cellar)[name](by, turnaround)) == (None, "closed")


def test_ending_a_clean_makes_an_earlier_look_stale_and_is_cellar_work(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)

    def stop(user: Any) -> Clean:
        return actions.stop_clean(by=acting(user), clean=clean, reason="Pump failed")

    with pytest.raises(NotAllowed):
        stop(cellar.owner)
    turnaround.refresh_from_db()
    seen = turnaround.revision
    stop(cellar.hand)
    turnaround.refresh_from_db()
    assert turnaround.revision == seen + 1
    clean = cellar.started(turnaround)
    for step in clean.version.steps.order_by("order"):
        cellar_runs(cellar, clean, step)
    turnaround.refresh_from_db()
    seen = turnaround.revision
    with pytest.raises(NotAllowed):
        actions.finish_clean(by=acting(cellar.owner, now=LATER), clean=clean)
    actions.finish_clean(by=acting(cellar.hand, now=LATER), clean=clean)
    turnaround.refresh_from_db()
    assert turnaround.revision == seen + 1


def cellar_runs(cellar: Cellar, clean: Clean, step: Any) -> None:
    from brewhygiene.turnarounds.readings.actions import record_reading
    from brewhygiene.turnarounds.steps.actions import end_step

    record = cellar.step_started(clean, step)
    by = acting(cellar.hand, now=NOW + timedelta(minutes=5))
    for window in step.windows.exclude(quantity="time_min"):
        record_reading(
            by=by, record=record, quantity=window.quantity, value=100, basis=window.basis
        )
    end_step(by=by, record=record, observations=seen_well(clean, step))
