"""A point's readings by scale and phase."""

from datetime import timedelta

import pytest

from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.phases.series import PointSeries, log_rlu, series_of, series_of_vessel
from brewhygiene.cellar.models import PartWork
from brewhygiene.people.models import Signature
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, make_meter, make_test_lot, make_vessel
from tests.histories import make_history

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def shapes(series: PointSeries) -> list[tuple[str, int]]:
    return [(phase.begin.kind, len(phase.readings)) for phase in series.phases]


def work(cellar: Cellar, *, days_ago: float, **values: object) -> PartWork:
    return PartWork.objects.create(
        **{
            "vessel": cellar.vessel,
            "kind": "gasket",
            "done_at": NOW - days_ago * DAY,
            "recorded_by": cellar.hand,
            **values,
        }
    )


def approved_bridge(cellar: Cellar, new_meter, **values: object) -> Bridge:
    signature = Signature.objects.create(
        user=cellar.brewer, printed_name="Mara Oduya", meaning="Bridge", signed_at=NOW
    )
    return Bridge.objects.create(
        **{
            "reference_meter": cellar.meter,
            "reference_atp_test": cellar.atp_test,
            "new_meter": new_meter,
            "new_atp_test": cellar.atp_test,
            "opened_at": NOW,
            "opened_by": cellar.brewer,
            "log_slope": 1.0,
            "log_intercept": 0.5,
            "approved_at": NOW,
            "approval": signature,
            **values,
        }
    )


def test_steady_point_has_one_phase_in_time_order() -> None:
    cellar = Cellar()
    made = make_history(cellar=cellar, cleans=5, rlu=lambda swab: swab.turn.number)
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 5)]
    (phase,) = series.phases
    assert [reading.result_id for reading in phase.readings] == [one.pk for one in made.results]
    assert phase.logs == tuple(log_rlu(n) for n in range(5))
    assert (phase.scale.key, phase.baseline, phase.bridged) == (
        (cellar.meter.pk, cellar.atp_test.pk),
        None,
        0,
    )


def test_point_without_readings_has_no_phase() -> None:
    cellar = Cellar()
    series = series_of(point=cellar.point)
    assert (series.phases, series.readings, series.present) == ((), (), None)


def test_correction_takes_the_place_of_what_it_corrects() -> None:
    cellar = Cellar()
    made = make_history(cellar=cellar, cleans=3, rlu=lambda swab: 4)
    wrong = made.results[1]
    right = type(wrong).objects.get(pk=wrong.pk)
    right.pk, right.rlu, right.corrects, right.correction_reason = None, 7, wrong, "Mistyped"
    right.save(force_insert=True)
    (phase,) = series_of(point=cellar.point).phases
    assert [reading.rlu for reading in phase.readings] == [4, 7, 4]


def test_retest_is_beside_and_a_second_clean_is_charted() -> None:
    cellar = Cellar()
    made = make_history(cellar=cellar, cleans=2, again=lambda turn: turn.number == 1)
    first = made.results[0]
    retest = type(first).objects.get(pk=first.pk)
    retest.pk, retest.retest_of = None, first
    retest.taken_at += timedelta(minutes=5)
    retest.save(force_insert=True)
    (phase,) = series_of(point=cellar.point).phases
    assert len(phase.readings) == 3
    assert [reading.result_id for reading in phase.beside] == [retest.pk]


def test_sample_after_a_resanitise_is_beside() -> None:
    cellar = Cellar()
    made = make_history(cellar=cellar, cleans=2, again=lambda turn: turn.number == 1)
    again = made.cleans[-1]
    again.purpose = "resanitise"
    with unguarded(type(again)):
        again.save()
    (phase,) = series_of(point=cellar.point).phases
    assert (len(phase.readings), len(phase.beside)) == (2, 1)


def test_work_on_the_point_or_the_vessel_begins_a_phase_and_other_work_none() -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=10)
    other = cellar.vessel.points.get(order=1)
    work(cellar, days_ago=38, point=cellar.point)
    work(cellar, days_ago=17, kind="spray_device")
    work(cellar, days_ago=24, vessel=make_vessel())
    first, second = series_of_vessel(cellar.vessel)
    assert shapes(first) == [("first", 5), ("work", 3), ("work", 2)]
    assert shapes(second) == [("first", 8), ("work", 2)]
    assert second.point == other
    assert second.phases[1].begin.words == "spray device cleaned or renewed"


def test_work_after_the_last_reading_begins_an_empty_phase() -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=3)
    work(cellar, days_ago=0)
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 3), ("work", 0)]
    assert series.present.before.result_id == series.readings[-1].result_id


def test_two_beginnings_between_two_readings_are_one() -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=4)
    work(cellar, days_ago=10)
    work(cellar, days_ago=9, kind="valve")
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 3), ("work", 1)]
    assert series.phases[1].begin.words == "new gasket; valve rebuilt"


def test_chart_phase_states_its_baseline_and_belongs_to_its_scale() -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(cellar=cellar, cleans=10)
    for meter in (cellar.meter, other):
        ChartPhase.objects.create(
            point=cellar.point,
            meter=meter,
            atp_test=cellar.atp_test,
            begins_at=NOW - 36 * DAY,
            baseline_until=NOW - 15 * DAY,
            reason="Valve rebuilt",
            made_at=NOW,
            made_by=cellar.brewer,
        )
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 5), ("anew", 5)]
    assert [phase.baseline for phase in series.phases] == [None, 3]


def test_scales_are_kept_apart_without_a_bridge_in_force() -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=10,
        meter=lambda turn: cellar.meter if turn.number < 6 else other,
    )
    approved_bridge(cellar, other, approved_at=None, approval=None)
    approved_bridge(cellar, other, retired_at=NOW)
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 6), ("first", 4)]
    assert series.present.scale.key == (other.pk, cellar.atp_test.pk)


def test_other_atp_test_is_another_scale() -> None:
    cellar = Cellar()
    lot = make_test_lot()
    make_history(
        cellar=cellar, cleans=10, test_lot=lambda turn: cellar.lot if turn.number < 6 else lot
    )
    assert shapes(series_of(point=cellar.point)) == [("first", 6), ("first", 4)]


def test_approved_bridge_joins_scales_on_the_one_read_last() -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=4,
        rlu=lambda swab: 9,
        meter=lambda turn: cellar.meter if turn.number < 2 else other,
    )
    approved_bridge(cellar, other)
    series = series_of(point=cellar.point)
    assert shapes(series) == [("first", 4)]
    (phase,) = series.phases
    assert phase.scale.key == (other.pk, cellar.atp_test.pk)
    assert (phase.logs, phase.bridged) == ((1.5, 1.5, 1.0, 1.0), 2)
    assert [reading.rlu for reading in phase.readings] == [9, 9, 9, 9]


def test_bridge_that_bends_near_zero_joins_no_charts() -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=4,
        rlu=lambda swab: 9,
        meter=lambda turn: cellar.meter if turn.number < 2 else other,
    )
    approved_bridge(cellar, other, figures={"floor_rlu": 3})
    assert shapes(series_of(point=cellar.point)) == [("first", 2), ("first", 2)]


def test_bridge_carries_back_and_never_below_no_light() -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=3,
        rlu=lambda swab: 0 if swab.turn.number == 0 else 9,
        meter=lambda turn: other if turn.number < 2 else cellar.meter,
    )
    approved_bridge(cellar, other)
    (phase,) = series_of(point=cellar.point).phases
    assert phase.logs == (0.0, 0.5, 1.0)


def test_baseline_with_approved_limits_begins_a_phase_without_what_it_leaves_out() -> None:
    cellar = Cellar(points=2)
    made = make_history(cellar=cellar, cleans=40)
    baseline = Baseline.objects.create(
        name="Spring",
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        since=(NOW - 140 * DAY).date(),
        until=(NOW - 20 * DAY).date(),
        made_at=NOW,
        made_by=cellar.brewer,
    )
    baseline.points.set([cellar.point])
    results = made.of(cellar.point)
    for result, readmitted in ((results[25], None), (results[26], NOW)):
        BaselineExclusion.objects.create(
            baseline=baseline,
            result=result,
            reason="Burst hose",
            excluded_at=NOW,
            excluded_by=cellar.brewer,
            readmitted_at=readmitted,
        )
    assert shapes(series_of(point=cellar.point)) == [("first", 40)]
    with unguarded(LimitSet):
        LimitSet.objects.update(baseline=baseline)
    first, second = series_of_vessel(cellar.vessel)
    assert [kind for kind, _ in shapes(first)] == ["first", "baseline"]
    assert first.phases[1].baseline == 18
    assert first.phases[1].left_out == {results[25].pk}
    assert shapes(second) == [("first", 40)]


@pytest.mark.parametrize("points", [1, 3])
def test_series_of_a_vessel_take_the_same_queries(django_assert_num_queries, points: int) -> None:
    cellar = Cellar(points=points)
    make_history(cellar=cellar, cleans=5)
    with django_assert_num_queries(9):
        series_of_vessel(cellar.vessel)
