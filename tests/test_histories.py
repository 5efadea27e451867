"""The fast writer of invented years: its rows are as the verbs would have left them."""

from collections import Counter
from datetime import timedelta

import pytest

from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests.factories import NOW, Cellar, make_meter, make_test_lot, make_vessel
from tests.histories import Swab, make_history, usual_rlu

pytestmark = pytest.mark.django_db


def test_history_ends_before_now_with_closed_turnarounds() -> None:
    cellar = Cellar(points=3)
    made = make_history(cellar=cellar, cleans=10)
    assert [t.opened_at for t in made.turnarounds][:2] == [
        NOW - timedelta(days=70),
        NOW - timedelta(days=63),
    ]
    assert len(made.results) == 30
    assert all(t.closed_at == t.opened_at + timedelta(hours=5) for t in made.turnarounds)
    assert [t.emptying.fill_id for t in made.turnarounds[1:]] == [
        t.closing_fill_id for t in made.turnarounds[:-1]
    ]


def test_history_takes_as_many_queries_for_three_vessels_as_for_one(
    django_assert_num_queries,
) -> None:
    cellar = Cellar(points=2)
    with django_assert_num_queries(14):
        make_history(cellar=cellar, cleans=3)
    others = [make_vessel(points=2) for _ in range(3)]
    with django_assert_num_queries(14):
        make_history(cellar=cellar, vessels=others, cleans=3)


def test_number_read_is_judged_by_the_limits_in_force() -> None:
    cellar = Cellar()  # 10 and 30 RLU
    made = make_history(cellar=cellar, cleans=4, rlu=lambda s: (10, 11, 30, 31)[s.turn.number])
    assert [r.verdict for r in made.results] == ["clear", "alert", "alert", "action"]


def test_what_differs_follows_the_turn() -> None:
    cellar = Cellar()
    other, lot = make_meter(), make_test_lot(cellar.atp_test)
    make_history(
        cellar=cellar,
        cleans=6,
        meter=lambda turn: other if turn.number >= 4 else cellar.meter,
        test_lot=lambda turn: lot if turn.number == 5 else cellar.lot,
        agent_lot=lambda turn: f"P-{turn.number}",
    )
    read = Result.objects.order_by("taken_at")
    assert list(read.values_list("meter", "verdict")) == [
        *[(cellar.meter.pk, Verdict.CLEAR)] * 4,
        *[(other.pk, Verdict.UNJUDGED)] * 2,
    ]
    assert [r.test_lot_id == lot.pk for r in read] == [False] * 5 + [True]
    with_agent = StepRecord.objects.exclude(step__agent=None).order_by("pk")
    assert [record.agent_lot for record in with_agent] == [f"P-{n}" for n in range(6)]


def test_second_clean_follows_a_hold_and_is_released() -> None:
    made = make_history(cellar=Cellar(), cleans=3, again=lambda turn: turn.number == 1)
    assert [clean.turnaround_id for clean in made.cleans] == [
        made.turnarounds[n].pk for n in (0, 1, 1, 2)
    ]
    outcomes = Decision.objects.order_by("pk").values_list("outcome", flat=True)
    assert list(outcomes) == ["release", "hold", "release", "release"]
    assert made.cleans[1].finished_at < made.cleans[2].started_at


def test_reading_outside_its_window_leaves_a_deviation() -> None:
    made = make_history(
        cellar=Cellar(),
        cleans=3,
        reading=lambda turn, window: 60 if turn.number == 2 else None,
    )
    assert list(StepReading.objects.order_by("pk").values_list("value", "verdict")) == [
        (140, "within"),
        (140, "within"),
        (60, "below"),
    ]
    assert [(d.kind, d.quantity, d.disposition) for d in made.deviations] == [
        ("below", "concentration", "accept")
    ]


def test_plates_are_read_a_week_later() -> None:
    made = make_history(
        cellar=Cellar(),
        cleans=3,
        plate=lambda swab: ("negative", "positive", "pending")[swab.turn.number],
    )
    assert [(p.state, p.read_at is None) for p in made.plates] == [
        ("negative", False),
        ("positive", False),
        ("pending", True),
    ]


def test_usual_reading_has_its_mean_and_many_zeros() -> None:
    cellar = Cellar()
    made = make_history(cellar=cellar, cleans=1500, every=timedelta(hours=10))
    read = [r.rlu for r in made.results]
    # Negative binomial of mean 2.5 and shape 1.5: P(0) = (1.5/4)^1.5 = 0.23, variance 6.67.
    assert sum(read) / len(read) == pytest.approx(2.5, abs=4 * (6.67 / 1500) ** 0.5)
    assert Counter(read)[0] / len(read) == pytest.approx(0.23, abs=4 * (0.23 * 0.77 / 1500) ** 0.5)


def test_the_same_history_is_written_twice() -> None:
    cellar = Cellar()
    seen: list[int] = []

    def rlu(swab: Swab) -> int:
        seen.append(usual_rlu(swab))
        return seen[-1]

    make_history(cellar=cellar, cleans=20, rlu=rlu)
    first = list(seen)
    seen.clear()
    make_history(cellar=cellar, cleans=20, rlu=rlu, until=NOW - timedelta(days=400))
    assert seen == first
