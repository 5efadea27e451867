"""What is counted of each turnaround, each definition by itself."""

from datetime import timedelta

import pytest

from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.trends.turns.facts import TurnFact, Why, turn_facts
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import NOW, Cellar, acting, make_point, make_test_lot, make_vessel, seen_well

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)
SPAN = {"since": NOW - timedelta(days=30), "until": NOW + timedelta(days=30)}


def fact_of(turnaround: Turnaround, **values: object) -> TurnFact:
    facts = {f.turnaround_id: f for f in turn_facts(**{**SPAN, "now": NOW + HOUR, **values})}
    return facts[turnaround.pk]


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def test_clear_first_reading_is_first_time_clean(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    fact = fact_of(turnaround)
    assert (fact.first_time_clean, fact.why, fact.recleans) == (True, Why.CLEAN, 0)
    assert fact.cleaned_at == NOW + timedelta(minutes=20)


def test_alert_is_still_first_time_clean(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=20)
    assert fact_of(turnaround).first_time_clean is True


def test_action_is_not_first_time_clean_and_a_retest_does_not_help(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=500)
    cellar.sampled(turnaround, rlu=0, now=NOW + timedelta(minutes=35))
    assert (fact_of(turnaround).first_time_clean, fact_of(turnaround).why) == (False, Why.OVER)


def test_action_on_a_retest_alone_is_not_a_first_reading(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=0)
    cellar.sampled(turnaround, rlu=500, now=NOW + timedelta(minutes=35))
    assert fact_of(turnaround).first_time_clean is True


def test_correction_takes_the_place_of_what_it_corrects(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    wrong = cellar.sampled(turnaround, rlu=3)
    reading_actions.correct_result(
        by=acting(cellar.hand, now=NOW + HOUR), result=wrong, rlu=300, reason="Two zeros missed"
    )
    assert (fact_of(turnaround).first_time_clean, fact_of(turnaround).why) == (False, Why.OVER)


def test_second_clean_is_not_first_time_clean(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    cellar.run(cellar.started(turnaround, now=NOW + HOUR), now=NOW + HOUR)
    fact = fact_of(turnaround)
    assert (fact.first_time_clean, fact.why, fact.recleans) == (False, Why.AGAIN, 1)


def test_stopped_clean_before_the_first_finished_one_counts_as_stopped(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)
    turnaround_actions.stop_clean(by=acting(cellar.hand), clean=clean, reason="Pump tripped")
    cellar.run(cellar.started(turnaround, now=NOW + HOUR), now=NOW + HOUR)
    cellar.checked(now=NOW + HOUR)
    cellar.sampled(turnaround, rlu=3, now=NOW + 2 * HOUR)
    fact = fact_of(turnaround)
    assert (fact.first_time_clean, fact.recleans, fact.stopped) == (True, 0, 1)


def test_turnaround_without_a_finished_clean_is_not_told(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    fact = fact_of(turnaround)
    assert (fact.first_time_clean, fact.why) == (None, Why.NOT_CLEANED)
    assert (fact.regime, fact.version, fact.cleaned_by) == ("", None, ())


def test_unread_required_point_is_not_told(cellar: Cellar) -> None:
    make_point(cellar.vessel, name="Racking arm", order=1)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    assert (fact_of(turnaround).first_time_clean, fact_of(turnaround).why) == (None, Why.UNSAMPLED)


def test_unread_point_that_no_release_asks_for_does_not_matter(cellar: Cellar) -> None:
    make_point(cellar.vessel, name="Manway", order=1, required_for_release=False)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3)
    assert fact_of(turnaround).first_time_clean is True


def test_point_put_up_later_is_not_missed_before(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.filled(turnaround)
    make_point(cellar.vessel, name="Racking arm", order=1)
    assert fact_of(turnaround).first_time_clean is True


def test_reading_without_limits_is_not_told(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, rlu=3, test_lot=make_test_lot())
    assert (fact_of(turnaround).first_time_clean, fact_of(turnaround).why) == (None, Why.UNJUDGED)


def test_point_first_read_after_a_resanitise_is_told_by_it(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    later = NOW + 30 * HOUR
    resanitise = turnaround_actions.start_resanitise(
        by=acting(cellar.hand, now=later),
        turnaround=turnaround,
        version=cellar.resanitise_version,
    )
    cellar.run(resanitise, now=later)
    assert fact_of(turnaround).why == Why.UNSAMPLED
    cellar.checked(now=later)
    cellar.sampled(turnaround, rlu=3, now=later + HOUR)
    fact = fact_of(turnaround)
    assert (fact.first_time_clean, fact.recleans, fact.resanitises) == (True, 0, 1)


def test_hours_go_from_emptied_to_the_first_release(cellar: Cellar) -> None:
    turnaround = cellar.released()
    fact = fact_of(turnaround)
    assert fact.released_at == NOW + timedelta(minutes=40)
    assert fact.hours_to_release == pytest.approx(2 / 3)
    assert fact.released_by == ("Mara Oduya",)


def test_release_lapses_only_when_its_time_is_over_before_the_fill(cellar: Cellar) -> None:
    turnaround = cellar.released()
    assert fact_of(turnaround, now=NOW + HOUR).lapses == 0
    assert fact_of(turnaround, now=NOW + 30 * HOUR).lapses == 1
    cellar.filled(turnaround)
    assert fact_of(turnaround, now=NOW + 30 * HOUR).lapses == 0


def test_opened_release_is_no_lapse(cellar: Cellar) -> None:
    turnaround = cellar.released()
    turnaround_actions.record_opening(
        by=acting(cellar.hand, now=NOW + HOUR), turnaround=turnaround, reason="Looked at the gasket"
    )
    assert fact_of(turnaround, now=NOW + 30 * HOUR).lapses == 0


def test_self_release_is_told(cellar: Cellar) -> None:
    cellar.brewery.self_release_allowed = True
    cellar.brewery.save()
    turnaround = cellar.emptied()
    cellar.hand = cellar.brewer
    cellar.run(cellar.started(turnaround))
    cellar.checked()
    cellar.sampled(turnaround)
    cellar.decided(turnaround, gate_reasons={"two_people": "Alone in the cellar today"})
    fact = fact_of(turnaround)
    assert (fact.self_release, fact.cleaned_by) == (True, ("Mara Oduya",))


def test_what_was_in_it_and_how_it_was_cleaned_are_told(cellar: Cellar) -> None:
    fact = fact_of(cellar.released())
    assert fact.beer_before == "Harrow Pale (invented)"
    assert fact.regime == cellar.version.regime.name
    assert (fact.version, fact.deviations, fact.without_release) == (1, 0, False)
    assert fact.vessel_name == cellar.vessel.name


def test_deviation_counts_until_its_reading_is_corrected(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    clean = cellar.started(turnaround)
    step = clean.version.steps.get(kind="sanitiser")
    cellar.step_started(clean, clean.version.steps.get(kind="rinse"))
    rinse = clean.step_records.get()
    step_actions.end_step(
        by=acting(cellar.hand), record=rinse, observations=seen_well(clean, rinse.step)
    )
    record = cellar.step_started(clean, step)
    weak = step_reading_actions.record_reading(
        by=acting(cellar.hand), record=record, quantity="concentration", value=20, basis="mg_l"
    )
    assert fact_of(turnaround).deviations == 1
    step_reading_actions.correct_reading(
        by=acting(cellar.hand), reading=weak, value=120, reason="Misread the burette"
    )
    assert fact_of(turnaround).deviations == 0


def test_only_turnarounds_opened_within_the_period_count(cellar: Cellar) -> None:
    turnaround = cellar.released()

    def found(**span: object) -> list[int]:
        return [fact.turnaround_id for fact in turn_facts(**{**SPAN, **span})]

    assert found(since=NOW) == [turnaround.pk]
    assert found(since=NOW + timedelta(seconds=1)) == []
    assert found(until=NOW) == []
    assert found(vessel=make_vessel()) == []


def test_facts_take_as_many_queries_for_one_vessel_as_for_three(
    cellar: Cellar, django_assert_num_queries
) -> None:
    cellar.released()
    with django_assert_num_queries(10):
        assert len(turn_facts(**SPAN)) == 1
    for _ in range(2):
        cellar.released(vessel=make_vessel(points=1))
    with django_assert_num_queries(10):
        assert len(turn_facts(**SPAN)) == 3
