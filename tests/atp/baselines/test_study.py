"""Baselines: which readings belong, keeping out and taking back, limits proposed from them."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from brewhygiene.atp.baselines.actions import (
    create_baseline,
    exclude_result,
    propose_from_baseline,
    readmit_result,
)
from brewhygiene.atp.baselines.queries import baseline_to_study, history_of, members_of
from brewhygiene.atp.baselines.study import study_of
from brewhygiene.atp.limits.actions import approve_limits
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.actions import correct_result
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.side_by_side import COUNTS, LOGS, PERCENTILE, TOLERANCE
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_meter,
    make_point,
    make_test_lot,
    make_version,
    make_vessel,
)
from tests.histories import Stick, make_history, usual_rlu

pytestmark = pytest.mark.django_db

SINCE = date(2025, 1, 1)


def made(cellar: Cellar, **values: Any) -> Baseline:
    return create_baseline(
        by=acting(cellar.brewer),
        **{
            "name": "Rinses",
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "since": SINCE,
            "until": NOW.date(),
            **values,
        },
    )


def numbers(baseline: Baseline) -> list[int]:
    return [result.rlu for result in members_of(baseline).counted]


def history(cellar: Cellar, cleans: int = 40, **values: Any) -> None:
    make_history(cellar=cellar, cleans=cleans, every=timedelta(days=3), **values)


def refused(call: Callable[[], object]) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        call()
    return refusal.value


# --- which readings belong ---


def test_baseline_takes_standing_readings_of_its_scale_only() -> None:
    cellar = Cellar(points=1)
    history(cellar, 4, rlu=lambda stick: stick.turn.number)
    other_meter = make_meter()
    history(cellar, 1, meter=other_meter, vessels=[make_vessel(points=1)])
    history(cellar, 1, test_lot=make_test_lot(make_atp_test()), vessels=[make_vessel(points=1)])
    baseline = made(cellar)
    assert numbers(baseline) == [0, 1, 2, 3]


def test_baseline_takes_a_correction_in_place_of_what_it_corrects() -> None:
    cellar = Cellar()
    result = cellar.sampled(cellar.cleaned(), rlu=9)
    correct_result(by=acting(cellar.hand), result=result, rlu=6, reason="Misread")
    assert numbers(made(cellar)) == [6]


def test_baseline_takes_the_first_stick_at_a_point_after_a_clean() -> None:
    cellar = Cellar()
    turnaround = cellar.cleaned()
    for rlu in (28, 2, 3):
        cellar.sampled(turnaround, rlu=rlu)
    assert numbers(made(cellar)) == [28]


def test_days_are_those_of_the_brewery_and_both_included() -> None:
    cellar = Cellar(points=1, time_zone="Pacific/Auckland")
    history(cellar, 1)
    result = Result.objects.get()
    for moment, inside in (
        (datetime.fromisoformat("2026-03-01T00:00:00+13:00"), True),
        (datetime.fromisoformat("2026-02-28T23:59:59+13:00"), False),
        (datetime.fromisoformat("2026-03-02T23:59:59+13:00"), True),
        (datetime.fromisoformat("2026-03-03T00:00:00+13:00"), False),
    ):
        Result.objects.filter(pk=result.pk).update(taken_at=moment)
        baseline = made(cellar, name=str(moment), since=date(2026, 3, 1), until=date(2026, 3, 2))
        assert bool(members_of(baseline).counted) == inside


def test_points_and_regimes_narrow_the_choice() -> None:
    cellar = Cellar(points=2)
    strong = make_version()
    history(cellar, 6, version=lambda turn: strong if turn.number % 2 else cellar.version)
    first = cellar.vessel.points.get(order=0)
    assert len(numbers(made(cellar, name="all"))) == 12
    assert len(numbers(made(cellar, name="point", points=[first]))) == 6
    assert len(numbers(made(cellar, name="regime", regimes=[strong.regime]))) == 6
    narrow = made(cellar, name="both", points=[first], regimes=[strong.regime])
    assert len(numbers(narrow)) == 3


# --- choosing ---


def test_choosing_writes_one_baseline_and_one_ledger_entry() -> None:
    cellar = Cellar(points=2)
    before = Entry.objects.count()
    baseline = made(cellar, name="  Cone   rinses ", points=[cellar.point])
    entry = Entry.objects.latest("id")
    assert (baseline.name, Entry.objects.count() - before) == ("Cone rinses", 1)
    assert (entry.verb, entry.values["points"], entry.values["regimes"]) == (
        "choose baseline",
        [str(cellar.point)],
        "any",
    )


@pytest.mark.parametrize(
    "values, field, said",
    [
        ({"name": " "}, "name", "Give the baseline a name."),
        ({"name": "rinses"}, "name", "There is a baseline called rinses already."),
        ({"until": date(2024, 12, 31)}, "until", "The last day lies before the first."),
        (
            {"since": date(2026, 3, 11), "until": date(2026, 3, 12)},
            "since",
            "That day is still to come: no reading is that new.",
        ),
    ],
)
def test_choice_that_cannot_be_is_refused(values: dict[str, Any], field: str, said: str) -> None:
    cellar = Cellar()
    made(cellar)
    refusal = refused(lambda: made(cellar, **{"name": "Other", **values}))
    assert (refusal.field, refusal.message, Baseline.objects.count()) == (field, said, 1)


def test_point_of_another_sample_kind_is_refused() -> None:
    cellar = Cellar()
    door = make_point(cellar.vessel, name="Door", sample_kind="surface", area_cm2=100)
    refusal = refused(lambda: made(cellar, points=[door]))
    assert (refusal.field, refusal.message) == (
        "points",
        f"{door} is a surface point; {cellar.atp_test.name} is a rinse stick.",
    )


@pytest.mark.parametrize("role", ["hand", "owner"])
def test_only_the_head_brewer_may_write(role: str) -> None:
    cellar = Cellar(points=1)
    history(cellar, 12)
    baseline = made(cellar)
    by, result = acting(getattr(cellar, role)), Result.objects.first()
    calls = [
        lambda: create_baseline(
            by=by,
            name="Mine",
            meter=cellar.meter,
            atp_test=cellar.atp_test,
            since=SINCE,
            until=NOW.date(),
        ),
        lambda: exclude_result(by=by, baseline=baseline, result=result, reason="Slip"),
        lambda: readmit_result(by=by, baseline=baseline, result=result, reason="No slip"),
        lambda: propose_from_baseline(
            by=by, baseline=baseline, method=LOGS, review_on=date(2027, 1, 1), valid_until=None
        ),
    ]
    assert [isinstance(refused(call), NotAllowed) for call in calls] == [True] * 4


# --- keeping out and taking back ---


def test_reading_is_kept_out_with_its_reason_and_stands_as_it_was() -> None:
    cellar = Cellar(points=1)
    history(cellar, 3, rlu=lambda stick: stick.turn.number)
    baseline = made(cellar)
    result = Result.objects.get(rlu=2)
    exclude_result(
        by=acting(cellar.brewer), baseline=baseline, result=result, reason=" Tip touched "
    )
    members = members_of(baseline)
    assert [r.rlu for r in members.counted] == [0, 1]
    assert [(r.rlu, e.reason, e.excluded_by) for r, e in members.excluded] == [
        (2, "Tip touched", cellar.brewer)
    ]
    assert Result.objects.filter(pk=result.pk).values()[0] == {
        field.attname: getattr(result, field.attname) for field in Result._meta.concrete_fields
    }


def test_keeping_out_is_refused_without_a_reason_twice_or_for_a_stranger() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2)
    baseline, by = made(cellar), acting(cellar.brewer)
    result = Result.objects.first()
    elsewhere = made(cellar, name="Elsewhere", until=SINCE)
    assert (
        refused(lambda: exclude_result(by=by, baseline=baseline, result=result, reason="  ")).field
        == "reason"
    )
    assert (
        refused(
            lambda: exclude_result(by=by, baseline=elsewhere, result=result, reason="Slip")
        ).code
        == "no_member"
    )
    exclude_result(by=by, baseline=baseline, result=result, reason="Slip")
    assert (
        refused(lambda: exclude_result(by=by, baseline=baseline, result=result, reason="Slip")).code
        == "already_excluded"
    )
    assert BaselineExclusion.objects.count() == 1


def test_reading_is_taken_back_and_may_be_kept_out_again() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2)
    baseline, by = made(cellar), acting(cellar.brewer)
    result = Result.objects.first()
    assert (
        refused(lambda: readmit_result(by=by, baseline=baseline, result=result, reason="Fine")).code
        == "not_excluded"
    )
    first = exclude_result(by=by, baseline=baseline, result=result, reason="Slip")
    assert (
        refused(lambda: readmit_result(by=by, baseline=baseline, result=result, reason="")).field
        == "reason"
    )
    readmit_result(by=by, baseline=baseline, result=result, reason="No slip after all")
    assert len(numbers(baseline)) == 2
    assert Entry.objects.latest("id").values["reason"] == "No slip after all"
    second = exclude_result(by=by, baseline=baseline, result=result, reason="It was")
    first.refresh_from_db()
    assert (first.readmitted_by, second.readmitted_at, len(numbers(baseline))) == (
        cellar.brewer,
        None,
        1,
    )


# --- the study ---


def study(cellar: Cellar, baseline: Baseline, **asked: Any) -> Any:
    return study_of(baseline, asked=Asked(**asked), now=NOW)


def test_two_readings_give_a_sentence_and_no_limits() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2)
    found = study(cellar, made(cellar))
    assert (found.rows, found.distribution, found.advised) == ((), None, None)
    assert found.why_none == (
        "2 readings do not show how clean vessels vary. Limits take at least 10: 8 more."
    )
    assert found.advice[0].do == (
        "Begin a baseline with a longer period or more points, or wait for more cleans."
    )


@pytest.mark.parametrize("rlu", [0, 5])
def test_all_alike_give_a_sentence_and_no_limits(rlu: int) -> None:
    cellar = Cellar(points=1)
    history(cellar, 20, rlu=lambda stick: rlu)
    found = study(cellar, made(cellar))
    assert found.rows == ()
    assert found.why_none.startswith(f"All 20 readings are {rlu} RLU, so nothing says how far")


def test_enormous_reading_is_said_with_what_it_does_and_nothing_is_advised() -> None:
    cellar = Cellar(points=1)
    history(cellar, 40, rlu=lambda s: 60_000 if s.turn.number == 9 else usual_rlu(s))
    found = study(cellar, made(cellar))
    said = " ".join(each.says for each in found.advice)
    assert "One reading (60,000 RLU) lies far above the rest and stretches the limits" in said
    assert "RLU with and" in said
    assert (len(found.far), found.settled, found.advised) == (1, False, None)
    assert all(row.without is not None for row in found.rows)


def test_points_that_differ_are_not_to_be_pooled() -> None:
    cellar = Cellar(points=2)

    def rlu(stick: Stick) -> int:
        return usual_rlu(stick) * (6 if stick.point.order else 1) + 3 * stick.point.order

    history(cellar, 40, rlu=rlu)
    found = study(cellar, made(cellar))
    assert found.pooling.answer == "should_not"
    assert any(each.says.startswith("The points should not be pooled") for each in found.advice)
    one = study(cellar, made(cellar, name="One", points=[cellar.point]))
    assert (one.pooling.answer, one.settled) == ("one", True)


def test_drift_during_the_baseline_is_said() -> None:
    cellar = Cellar(points=1)
    history(cellar, 40, rlu=lambda s: usual_rlu(s) + s.turn.number // 4)
    found = study(cellar, made(cellar))
    assert (found.drift.moved, found.settled) == (True, False)
    assert any(each.says.startswith("Readings rose during the baseline") for each in found.advice)


def test_readings_over_the_limit_and_positive_plates_are_said() -> None:
    cellar = Cellar(points=1)
    history(
        cellar,
        30,
        rlu=lambda s: 31 if s.turn.number == 3 else usual_rlu(s),
        plate=lambda s: "positive" if s.turn.number in (5, 6) else None,
    )
    found = study(cellar, made(cellar))
    assert found.advice[0].says == (
        "A baseline is of clean vessels, and this one holds 1 reading over the action limit then "
        "in force and 2 readings of turnarounds with a positive plate."
    )


def test_settled_baseline_advises_and_shows_the_effect_on_history() -> None:
    cellar = Cellar(points=1)
    history(
        cellar,
        60,
        rlu=usual_rlu,
        plate=lambda s: "positive" if s.turn.number == 5 else "negative",
    )
    baseline = made(cellar, since=date(2025, 10, 1))
    found = study(cellar, baseline)
    row = found.advised
    past = Result.objects.filter(taken_at__gte=NOW - timedelta(days=730))
    by_hand = (
        past.filter(rlu__gt=row.method.alert.rlu, rlu__lte=row.method.action.rlu).count(),
        past.filter(rlu__gt=row.method.action.rlu).count(),
    )
    assert (row.effect.cleans, row.effect.alert, row.effect.action) == (60, *by_hand)
    assert found.history.positive == 1


def test_history_takes_the_highest_reading_of_a_clean_and_its_plate() -> None:
    cellar = Cellar(points=2)
    history(
        cellar,
        12,
        rlu=lambda s: 40 + s.turn.number if s.point.order and s.turn.number > 9 else 3,
        plate=lambda s: "positive" if s.turn.number in (2, 11) and not s.point.order else None,
    )
    found = history_of(made(cellar), above_rlu=20, now=NOW)
    assert (found.cleans, found.positive) == (12, 2)
    assert sorted((p.top_rlu, p.plate_positive) for p in found.high) == [(50, False), (51, True)]


@pytest.mark.parametrize("cleans", [20, 60])
def test_study_takes_as_many_queries_for_few_readings_as_for_many(
    cleans: int, django_assert_num_queries: Any
) -> None:
    cellar = Cellar(points=2)
    history(cellar, cleans)
    baseline = made(cellar)
    with django_assert_num_queries(9):
        study(cellar, baseline_to_study().get(pk=baseline.pk))


# --- limits proposed ---


def propose(cellar: Cellar, baseline: Baseline, **values: Any) -> LimitSet:
    return propose_from_baseline(
        by=acting(cellar.brewer),
        baseline=baseline,
        **{
            "method": COUNTS,
            "review_on": date(2026, 9, 1),
            "valid_until": date(2027, 3, 9),
            **values,
        },
    )


@pytest.fixture
def settled() -> tuple[Cellar, Baseline]:
    cellar = Cellar(points=1)
    history(cellar, 60, rlu=lambda s: usual_rlu(s, mean=6))
    return cellar, made(cellar)


def test_proposed_limits_keep_the_method_and_its_figures(settled: tuple[Cellar, Baseline]) -> None:
    cellar, baseline = settled
    row = next(r for r in study(cellar, baseline).rows if r.method.code == COUNTS)
    limits = propose(cellar, baseline)
    assert (limits.alert_rlu, limits.action_rlu) == (row.method.alert.rlu, row.method.action.rlu)
    assert (limits.source, limits.baseline, limits.approved_at) == ("baseline", baseline, None)
    assert (limits.review_on, limits.valid_until) == (date(2026, 9, 1), date(2027, 3, 9))
    assert limits.source_note == "60 readings of “Rinses”, negative binomial fit"
    figures = LimitSet.objects.get(pk=limits.pk).figures
    assert (figures["method"], figures["readings"], figures["kept_out"]) == (COUNTS, 60, 0)
    assert figures["action"]["rlu"] == limits.action_rlu
    assert figures["asked"] == {
        "alert_coverage": 0.95,
        "action_coverage": 0.99,
        "confidence": 0.95,
    }
    assert Entry.objects.latest("id").values["figures"] == figures


def test_figures_stay_when_the_baseline_changes(settled: tuple[Cellar, Baseline]) -> None:
    cellar, baseline = settled
    limits = propose(cellar, baseline)
    exclude_result(
        by=acting(cellar.brewer),
        baseline=baseline,
        result=Result.objects.order_by("-rlu").first(),
        reason="Gasket found torn",
    )
    again = propose(cellar, baseline)
    limits.refresh_from_db()
    assert (limits.figures["readings"], again.figures["readings"]) == (60, 59)
    assert again.figures["kept_out"] == 1


def test_approved_set_replaces_the_old_which_stays_with_its_results(
    settled: tuple[Cellar, Baseline],
) -> None:
    cellar, baseline = settled
    limits = propose(cellar, baseline)
    old = cellar.limits
    judged_before = old.results.count()
    approve_limits(by=acting(cellar.brewer), limits=limits, password=PASSWORD)
    old.refresh_from_db()
    assert (old.retired_at, old.results.count(), judged_before) == (NOW, 60, 60)
    turnaround = cellar.cleaned(vessel=make_vessel(points=1))
    assert cellar.sampled(turnaround, rlu=1).limits == limits


def test_own_k_and_coverages_are_used_and_kept(settled: tuple[Cellar, Baseline]) -> None:
    cellar, baseline = settled
    asked = Asked(alert_coverage=0.9, action_coverage=0.95)
    limits = propose(cellar, baseline, method=TOLERANCE, asked=asked)
    ordered = sorted(Result.objects.values_list("rlu", flat=True))
    assert limits.action_rlu == ordered[-1]
    assert limits.alert_rlu == ordered[-2]
    assert limits.figures["asked"]["action_coverage"] == 0.95


@pytest.mark.parametrize(
    "values, field, code",
    [
        ({"method": "guess"}, "method", "refused"),
        ({"method": PERCENTILE}, None, "not_applicable"),
        ({"seen": (1, 2)}, None, "changed_since"),
        ({"review_on": date(2026, 3, 10)}, "review_on", "refused"),
        ({"valid_until": date(2026, 8, 31)}, "valid_until", "refused"),
    ],
)
def test_proposal_that_cannot_be_is_refused(
    settled: tuple[Cellar, Baseline], values: dict[str, Any], field: str | None, code: str
) -> None:
    cellar, baseline = settled
    before = LimitSet.objects.count()
    refusal = refused(lambda: propose(cellar, baseline, **values))
    assert (refusal.field, refusal.code, LimitSet.objects.count()) == (field, code, before)


def test_method_that_cannot_be_used_says_how_many_more_it_takes(
    settled: tuple[Cellar, Baseline],
) -> None:
    refusal = refused(lambda: propose(*settled, method=TOLERANCE))
    assert refusal.message == (
        "distribution-free bound: A bound for 99 % of clean readings with 95 % confidence takes "
        "299 readings: 239 more."
    )


def test_nothing_is_proposed_from_two_readings() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2)
    refusal = refused(lambda: propose(cellar, made(cellar)))
    assert refusal.code == "no_limits"


def test_limits_for_a_point_need_a_reading_of_it(settled: tuple[Cellar, Baseline]) -> None:
    cellar, baseline = settled
    stranger = make_vessel(points=1).points.get()
    assert refused(lambda: propose(cellar, baseline, point=stranger)).field == "point"
    assert propose(cellar, baseline, point=cellar.point).point == cellar.point
