"""Limits proposed from a baseline."""

from datetime import date
from typing import Any

import pytest

from brewhygiene.atp.baselines.actions import (
    exclude_result,
    propose_from_baseline,
)
from brewhygiene.atp.limits.actions import approve_limits
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.models import Entry
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.side_by_side import COUNTS, PERCENTILE, TOLERANCE
from tests.atp.baselines.scenes import history, made, refused, study
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_vessel,
)
from tests.histories import usual_rlu

pytestmark = pytest.mark.django_db


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
