"""Which readings belong to a baseline, and which are excluded."""

from datetime import date, datetime
from typing import Any

import pytest

from brewhygiene.atp.baselines.actions import (
    create_baseline,
    exclude_result,
    propose_from_baseline,
    readmit_result,
)
from brewhygiene.atp.baselines.queries import members_of
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.actions import correct_result
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed
from brewhygiene.science.limits.side_by_side import LOGS
from tests.atp.baselines.scenes import SINCE, history, made, numbers, refused
from tests.evidence import unguarded
from tests.factories import (
    NOW,
    Cellar,
    acting,
    make_atp_test,
    make_meter,
    make_point,
    make_test_lot,
    make_version,
    make_vessel,
)

pytestmark = pytest.mark.django_db


# --- which readings belong ---


def test_baseline_takes_standing_readings_of_its_scale_only() -> None:
    cellar = Cellar(points=1)
    history(cellar, 4, rlu=lambda swab: swab.turn.number)
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


def test_baseline_takes_the_first_swab_at_a_point_after_a_clean() -> None:
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
        with unguarded(Result):
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
        ({"name": " "}, "name", "Enter a name."),
        (
            {"name": "rinses"},
            "name",
            "There is already a baseline called rinses. Enter another name.",
        ),
        ({"until": date(2024, 12, 31)}, "until", "Enter a last day on or after the first day."),
        (
            {"since": date(2026, 3, 11), "until": date(2026, 3, 12)},
            "since",
            "Enter a first day up to today.",
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
        (
            f"{door} is a surface point, and {cellar.atp_test.name} is a rinse sampler. Choose "
            "another point."
        ),
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
    history(cellar, 3, rlu=lambda swab: swab.turn.number)
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
