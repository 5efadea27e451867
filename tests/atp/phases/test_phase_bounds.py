"""A chart begun anew at the bounds of what may be its baseline."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.actions import begin_phase
from brewhygiene.refusals import Refusal
from tests.factories import NOW, Cellar, acting, make_point
from tests.histories import make_history

DAY = timedelta(days=1)


@pytest.fixture
def cellar(db: None) -> Cellar:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=14)
    return cellar


def begin(cellar: Cellar, **values: Any) -> ChartPhase:
    return begin_phase(
        by=acting(cellar.brewer),
        **{
            "point": cellar.point,
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "reason": f" {'x' * 300} ",
            **values,
        },
    )


def test_a_baseline_holds_twelve_cleans_with_those_at_its_ends(cellar: Cellar) -> None:
    taken = list(Result.objects.order_by("taken_at").values_list("taken_at", flat=True))
    ends = {"begins_at": taken[1], "baseline_until": taken[12]}
    for short in (
        {**ends, "begins_at": taken[1] + timedelta(microseconds=1)},
        {**ends, "baseline_until": taken[12] - timedelta(microseconds=1)},
    ):
        with pytest.raises(Refusal) as refused:
            begin(cellar, **short)
        assert refused.value.field == "baseline_until"
    phase = begin(cellar, **ends)
    assert (phase.begins_at, phase.baseline_until) == (taken[1], taken[12])
    assert (phase.reason, phase.made_by) == ("x" * 200, cellar.brewer)


def test_a_baseline_that_ends_now_has_to_hold_enough_and_one_that_ends_later_has_not(
    cellar: Cellar,
) -> None:
    begins = NOW - DAY
    with pytest.raises(Refusal) as refused:
        begin(cellar, begins_at=begins, baseline_until=NOW)
    assert refused.value.field == "baseline_until"
    assert begin(cellar, begins_at=begins, baseline_until=NOW + timedelta(microseconds=1)).pk


def test_another_point_begins_anew_at_the_same_moment(cellar: Cellar) -> None:
    other = make_point(cellar.vessel, order=5)
    span = {"begins_at": NOW, "baseline_until": NOW + DAY}
    first = begin(cellar, **span)
    assert begin(cellar, point=other, **span).pk != first.pk
    with pytest.raises(Refusal) as refused:
        begin(cellar, **span)
    assert refused.value.field == "begins_at"
    with pytest.raises(Refusal) as refused:
        begin(cellar, begins_at=NOW - DAY, baseline_until=NOW - DAY)
    assert refused.value.field == "baseline_until"
