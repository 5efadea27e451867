"""The study of a baseline."""

from datetime import date, timedelta
from typing import Any

import pytest

from brewhygiene.atp.baselines.queries import baseline_to_study, history_of
from brewhygiene.atp.models.readings import Result
from tests.atp.baselines.scenes import history, made, study
from tests.factories import (
    NOW,
    Cellar,
)
from tests.histories import Swab, usual_rlu

pytestmark = pytest.mark.django_db


def test_two_readings_give_a_sentence_and_no_limits() -> None:
    cellar = Cellar(points=1)
    history(cellar, 2)
    found = study(cellar, made(cellar))
    assert (found.rows, found.distribution, found.recommended) == ((), None, None)
    assert found.why_none == (
        "2 readings do not show how clean vessels vary. Limits need at least 10, 8 more."
    )
    assert found.advice[0].do == ("Choose a longer period or more points, or wait for more cleans.")


@pytest.mark.parametrize("rlu", [0, 5])
def test_all_alike_give_a_sentence_and_no_limits(rlu: int) -> None:
    cellar = Cellar(points=1)
    history(cellar, 20, rlu=lambda swab: rlu)
    found = study(cellar, made(cellar))
    assert found.rows == ()
    assert found.why_none.startswith(
        f"All 20 readings are {rlu} RLU, so their variation is unknown"
    )


def test_enormous_reading_is_said_with_what_it_does_and_nothing_is_recommended() -> None:
    cellar = Cellar(points=1)
    history(cellar, 40, rlu=lambda s: 60_000 if s.turn.number == 9 else usual_rlu(s))
    found = study(cellar, made(cellar))
    said = " ".join(each.says for each in found.advice)
    assert "One reading (60,000 RLU) lies far above the rest and raises the limits" in said
    assert "RLU with and" in said
    assert (len(found.outliers), found.ready, found.recommended) == (1, False, None)
    assert all(row.without is not None for row in found.rows)


def test_points_that_differ_are_not_to_be_pooled() -> None:
    cellar = Cellar(points=2)

    def rlu(swab: Swab) -> int:
        return usual_rlu(swab) * (6 if swab.point.order else 1) + 3 * swab.point.order

    history(cellar, 40, rlu=rlu)
    found = study(cellar, made(cellar))
    assert found.pooling.answer == "should_not"
    assert any(each.says.startswith("The points should not share limits") for each in found.advice)
    one = study(cellar, made(cellar, name="One", points=[cellar.point]))
    assert (one.pooling.answer, one.ready) == ("one", True)


def test_drift_during_the_baseline_is_said() -> None:
    cellar = Cellar(points=1)
    history(cellar, 40, rlu=lambda s: usual_rlu(s) + s.turn.number // 4)
    found = study(cellar, made(cellar))
    assert (found.drift.moved, found.ready) == (True, False)
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
        "A baseline is for clean vessels, but this one contains 1 reading over the action limit of "
        "that day and 2 readings of turnarounds with a positive plate."
    )


def test_ready_baseline_recommends_and_shows_the_effect_on_history() -> None:
    cellar = Cellar(points=1)
    history(
        cellar,
        60,
        rlu=usual_rlu,
        plate=lambda s: "positive" if s.turn.number == 5 else "negative",
    )
    baseline = made(cellar, since=date(2025, 10, 1))
    found = study(cellar, baseline)
    row = found.recommended
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
