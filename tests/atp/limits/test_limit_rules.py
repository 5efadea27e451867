"""Limits proposed, signed and retired: what is refused, what retires, what is judged."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from brewhygiene.atp.limits.actions import approve_limits, propose_limits, retire_limits
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_cellar_hand,
    make_head_brewer,
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
)

LATER = NOW + timedelta(hours=2)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def propose(cellar: Cellar, **values: Any) -> LimitSet:
    user = values.pop("user", cellar.brewer)
    return propose_limits(
        by=acting(user),
        **{
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "moment": "in_sanitiser",
            "alert_rlu": 10,
            "action_rlu": 30,
            "source": "maker",
            "source_note": "Leaflet",
            "review_on": date(2027, 3, 1),
            **values,
        },
    )


def approve(cellar: Cellar, limits: LimitSet, **values: Any) -> LimitSet:
    user, now = values.pop("user", cellar.brewer), values.pop("now", LATER)
    return approve_limits(
        by=acting(user, now=now), limits=limits, **{"password": PASSWORD, **values}
    )


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value.field, refused.value.code


@pytest.mark.parametrize(
    "values, field",
    [
        ({"alert_rlu": -1}, "alert_rlu"),
        ({"action_rlu": 10_000_000}, "action_rlu"),
        ({"alert_rlu": 31}, "alert_rlu"),
        ({"source": "hearsay"}, "source"),
        ({"source_note": "  "}, "source_note"),
        ({"review_on": NOW.date()}, "review_on"),
        ({"valid_until": date(2027, 2, 28)}, "valid_until"),
    ],
    ids=str,
)
def test_limits_that_cannot_be_are_refused_beside_their_field(
    cellar: Cellar, values: dict[str, Any], field: str
) -> None:
    assert refusal_of(lambda: propose(cellar, **values)) == (field, "refused")


def test_limits_are_proposed_at_their_bounds(cellar: Cellar) -> None:
    limits = propose(
        cellar,
        alert_rlu=30,
        source_note=" Leaflet ",
        review_on=NOW.date() + timedelta(days=1),
        valid_until=NOW.date() + timedelta(days=1),
    )
    assert (limits.alert_rlu, limits.action_rlu, limits.source_note) == (30, 30, "Leaflet")
    assert Entry.objects.order_by("pk").last().values["point"] == "all points"


def test_limits_of_a_point_are_of_its_kind_of_sample(cellar: Cellar) -> None:
    wall = make_point(cellar.vessel, sample_kind="surface", order=5)
    assert refusal_of(lambda: propose(cellar, point=wall)) == ("point", "refused")
    assert propose(cellar, point=cellar.point).point == cellar.point
    assert Entry.objects.order_by("pk").last().values["point"] == str(cellar.point)


def test_only_the_head_brewer_has_a_say_in_limits(cellar: Cellar) -> None:
    proposed = propose(cellar)
    for user in (cellar.hand, cellar.owner):
        for call in (
            lambda user=user: propose(cellar, user=user),
            lambda user=user: approve(cellar, proposed, user=user),
            lambda user=user: retire_limits(
                by=acting(user), limits=cellar.limits, password=PASSWORD
            ),
        ):
            with pytest.raises(NotAllowed):
                call()


def test_limits_are_signed_once_and_not_after_they_were_withdrawn_or_ran_out(
    cellar: Cellar,
) -> None:
    limits = propose(cellar)
    assert refusal_of(lambda: approve(cellar, limits, password="guess")) == (
        "password",
        "bad_password",
    )
    approved = approve(cellar, limits)
    assert (approved.approved_at, approved.approval.user) == (LATER, cellar.brewer)
    assert refusal_of(lambda: approve(cellar, limits)) == (None, "already_approved")
    retired = propose(cellar)
    retire_limits(by=acting(cellar.brewer, now=LATER), limits=retired, password=PASSWORD)
    assert refusal_of(lambda: approve(cellar, retired)) == (None, "retired")
    tomorrow = NOW.date() + timedelta(days=1)
    short = propose(cellar, review_on=tomorrow, valid_until=tomorrow)
    late = NOW + timedelta(days=2)
    assert refusal_of(lambda: approve(cellar, short, now=late)) == (None, "out_of_date")
    assert approve(cellar, short, now=NOW + timedelta(days=1)).retired_at is None


def test_limits_are_withdrawn_once_under_a_signature(cellar: Cellar) -> None:
    def retire(password: str = PASSWORD) -> LimitSet:
        by = acting(cellar.brewer, now=LATER)
        return retire_limits(by=by, limits=cellar.limits, password=password)

    assert refusal_of(lambda: retire("guess")) == ("password", "bad_password")
    assert retire().retired_at == LATER
    cellar.limits.refresh_from_db()
    assert cellar.limits.retired_at == LATER
    assert refusal_of(retire) == (None, "retired")


def test_limits_retire_those_of_the_same_scale_and_points_only(cellar: Cellar) -> None:
    by = cellar.brewer
    others = [
        make_limits(by=by, meter=make_meter(), atp_test=cellar.atp_test),
        make_limits(by=by, meter=cellar.meter, atp_test=make_atp_test()),
        make_limits(by=by, meter=cellar.meter, atp_test=cellar.atp_test, point=cellar.point),
        propose(cellar),
    ]
    earlier = make_limits(by=by, meter=cellar.meter, atp_test=cellar.atp_test)
    cellar.limits.refresh_from_db()
    retired_first = cellar.limits.retired_at
    newer = approve(cellar, propose(cellar))
    for one in (*others, newer):
        one.refresh_from_db()
        assert one.retired_at is None
    earlier.refresh_from_db()
    cellar.limits.refresh_from_db()
    assert (earlier.retired_at, cellar.limits.retired_at) == (LATER, retired_first)
    assert Entry.objects.order_by("pk").last().values["retired"] == [earlier.pk]


def test_limits_judge_each_reading_that_waited_for_them_and_make_a_look_stale(
    cellar: Cellar,
) -> None:
    turnaround, meter = cellar.cleaned(), make_meter()
    cellar.checked(meter=meter)
    for rlu in (5, 20, 40):
        cellar.sampled(turnaround, rlu=rlu, meter=meter)
    other = cellar.sampled(turnaround, rlu=50, meter=cellar.meter, test_lot=strange_lot())
    before = Turnaround.objects.get().revision
    make_limits(by=cellar.brewer, meter=meter, atp_test=cellar.atp_test, now=LATER)
    judged = Result.objects.filter(corrects__isnull=False).order_by("pk")
    assert [(r.rlu, r.verdict) for r in judged] == [(5, "clear"), (20, "alert"), (40, "action")]
    assert {r.recorded_at for r in judged} == {LATER}
    assert Turnaround.objects.get().revision == before + 3
    told = Entry.objects.order_by("pk").last().values["judged"]
    assert [one["verdict"] for one in told] == ["clear", "alert", "action"]
    assert not Result.objects.filter(corrects=other).exists()


def strange_lot() -> Any:
    return make_test_lot(make_atp_test())


def test_limits_of_one_point_leave_a_reading_at_another_waiting(cellar: Cellar) -> None:
    turnaround, meter = cellar.cleaned(), make_meter()
    cellar.checked(meter=meter)
    other = make_point(cellar.vessel, order=5)
    elsewhere = cellar.sampled(turnaround, rlu=20, meter=meter, point=other)
    here = cellar.sampled(turnaround, rlu=20, meter=meter, point=cellar.point)
    make_limits(
        by=cellar.brewer, meter=meter, atp_test=cellar.atp_test, point=cellar.point, now=LATER
    )
    assert list(
        Result.objects.filter(corrects__isnull=False).values_list("corrects", flat=True)
    ) == [here.pk]
    assert elsewhere.verdict == "unjudged"


def test_a_reading_that_was_judged_already_is_not_judged_anew(cellar: Cellar) -> None:
    cellar.sampled(cellar.cleaned(), rlu=20)
    make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test, now=LATER)
    assert Result.objects.count() == 1


# ---- who proposed does not approve, where two may ----


def test_where_two_may_the_one_who_proposed_does_not_approve(cellar: Cellar) -> None:
    other = make_head_brewer(full_name="Ada Vance")
    limits = propose(cellar)
    with pytest.raises(Refusal, match="Another person has to approve them: Ada Vance") as refused:
        approve(cellar, limits)
    assert (refused.value.field, refused.value.code) == ("password", "own_proposal")
    assert LimitSet.objects.get(pk=limits.pk).approved_at is None
    assert approve(cellar, limits, user=other).approval.user == other


def test_alone_with_that_right_one_person_does_both(cellar: Cellar) -> None:
    make_head_brewer(is_active=False)
    make_cellar_hand()
    assert approve(cellar, propose(cellar)).approval.user == cellar.brewer


def test_limits_of_a_baseline_take_two_people_too(cellar: Cellar) -> None:
    """The same approval, whoever calculated them: what counts is who proposed."""
    make_head_brewer()
    with pytest.raises(Refusal) as refused:
        approve(cellar, propose(cellar, source="baseline"))
    assert refused.value.code == "own_proposal"
