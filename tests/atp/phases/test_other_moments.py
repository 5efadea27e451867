"""Readings at another moment of the clean begin a phase; a single one is kept beside."""

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from django.urls import reverse

from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.series import PointSeries, series_of
from brewhygiene.cellar.models import PartWork
from tests.evidence import unguarded
from tests.factories import Cellar
from tests.histories import make_history
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
IN, BEFORE, AFTER, UNKNOWN = "in_sanitiser", "before_sanitiser", "after_sanitiser", "unknown"
MINUTE = timedelta(minutes=1)


def read_at(cellar: Cellar, moments: Sequence[str]) -> list[Result]:
    """A reading after each of as many cleans, at these moments."""
    made = make_history(cellar=cellar, cleans=len(moments), rlu=lambda swab: swab.turn.number)
    with unguarded(Result):
        for result, moment in zip(made.results, moments, strict=True):
            Result.objects.filter(pk=result.pk).update(moment=moment)
    return made.results


def shapes(series: PointSeries) -> list[tuple[str, list[int]]]:
    return [(one.begin.kind, [each.rlu for each in one.readings]) for one in series.phases]


@pytest.mark.parametrize(
    ("moments", "phases"),
    [
        ([IN, IN, IN], [("first", [0, 1, 2])]),
        ([IN, IN, BEFORE, BEFORE], [("first", [0, 1]), ("moment", [2, 3])]),
        ([UNKNOWN, BEFORE, BEFORE], [("first", [0]), ("moment", [1, 2])]),
        ([BEFORE, IN, BEFORE], [("first", [0, 2])]),
        ([BEFORE, IN, AFTER], [("first", [0]), ("moment", [1]), ("moment", [2])]),
        ([IN, BEFORE, BEFORE, IN], [("first", [0]), ("moment", [1, 2]), ("moment", [3])]),
        ([BEFORE, IN, BEFORE, IN, BEFORE], [("first", [0, 2, 4])]),
        ([BEFORE, BEFORE, AFTER], [("first", [0, 1]), ("moment", [2])]),
    ],
)
def test_each_change_begins_a_phase(
    moments: list[str], phases: list[tuple[str, list[int]]]
) -> None:
    cellar = Cellar()
    read_at(cellar, moments)
    assert shapes(series_of(point=cellar.point)) == phases


def test_one_that_was_taken_late_is_kept_beside() -> None:
    cellar = Cellar()
    results = read_at(cellar, [BEFORE, BEFORE, IN, BEFORE])
    (phase,) = series_of(point=cellar.point).phases
    assert [one.result_id for one in phase.beside] == [results[2].pk]
    assert phase.before is None


def test_beside_stand_retests_and_late_ones_in_time_order() -> None:
    cellar = Cellar()
    first, late, retest, *_ = read_at(cellar, [BEFORE, IN, BEFORE, BEFORE])
    with unguarded(Result):
        Result.objects.filter(pk=retest.pk).update(clean=first.clean, retest_of=first)
    (phase,) = series_of(point=cellar.point).phases
    assert [one.result_id for one in phase.beside] == [late.pk, retest.pk]
    assert [one.is_first for one in phase.beside] == [True, False]


def test_it_begins_with_its_first_reading_and_says_the_moment() -> None:
    cellar = Cellar()
    results = read_at(cellar, [IN, IN, BEFORE])
    begin = series_of(point=cellar.point).phases[1].begin
    assert (begin.at, begin.index) == (results[2].taken_at, 2)
    assert begin.words == "sampled at another moment: last rinse, before the sanitiser"


def test_work_before_it_keeps_its_own_begin_and_both_reasons() -> None:
    cellar = Cellar()
    results = read_at(cellar, [IN, IN, BEFORE])
    done: datetime = results[2].taken_at - MINUTE
    PartWork.objects.create(
        vessel=cellar.vessel, kind="gasket", done_at=done, recorded_by=cellar.hand
    )
    begin = series_of(point=cellar.point).phases[1].begin
    assert (begin.kind, begin.at) == ("work", done)
    assert begin.words.endswith("; sampled at another moment: last rinse, before the sanitiser")


def test_a_restarted_chart_keeps_its_baseline_where_the_moment_changes_too() -> None:
    cellar = Cellar()
    results = read_at(cellar, [IN, IN, BEFORE, BEFORE])
    ChartPhase.objects.create(
        point=cellar.point,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        begins_at=results[2].taken_at - MINUTE,
        baseline_until=results[2].taken_at + MINUTE,
        reason="New spray device",
        made_at=results[3].taken_at,
        made_by=cellar.brewer,
    )
    phase = series_of(point=cellar.point).phases[1]
    assert (phase.begin.kind, phase.baseline, len(phase.readings)) == ("anew", 1, 2)


def test_the_chart_says_why_a_late_one_is_not_charted() -> None:
    cellar = Cellar()
    read_at(cellar, [BEFORE, BEFORE, IN, BEFORE])
    page = signed_in(cellar.brewer).get(reverse("trends:point", args=[cellar.point.pk]))
    html = page.content.decode()
    assert html.count("not charted: other sampling moment") == 1
    assert "not charted: retest or re-sanitise" not in html


def test_the_chart_marks_it() -> None:
    cellar = Cellar()
    read_at(cellar, [IN] * 4 + [BEFORE] * 4)
    page = signed_in(cellar.brewer).get(reverse("trends:point", args=[cellar.point.pk]))
    assert page.status_code == 200
    assert "sampled at another moment" in page.content.decode().lower()
