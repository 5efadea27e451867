"""Until when limits judge, at the very boundary, and what is said before."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.limits.actions import approve_limits, propose_limits
from brewhygiene.atp.limits.days import due_sentences, due_words
from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.refusals import Refusal
from brewhygiene.setup.checklist import checklist
from tests import clock
from tests.evidence import unguarded
from tests.factories import NOW, PASSWORD, Cellar, acting, make_limits, make_vessel

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]

TODAY = NOW.date()


def proposed(cellar: Cellar, **values: Any) -> LimitSet:
    return propose_limits(
        by=acting(cellar.brewer),
        **{
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "moment": "in_sanitiser",
            "alert_rlu": 5,
            "action_rlu": 15,
            "source": "baseline",
            "source_note": "Twenty rinses (invented)",
            "review_on": TODAY + timedelta(days=1),
            **values,
        },
    )


def in_force(
    cellar: Cellar,
    day: date,
    *,
    point: SamplingPoint | None = None,
    moment: str = "in_sanitiser",
) -> LimitSet | None:
    return limits_in_force(
        meter=cellar.meter,
        test_lot=cellar.lot,
        point=point or cellar.point,
        moment=moment,
        day=day,
    )


def last_day(cellar: Cellar, day: date) -> None:
    with unguarded(LimitSet):
        LimitSet.objects.filter(pk=cellar.limits.pk).update(valid_until=day)


@pytest.mark.parametrize(
    "day, judges", [(date(2026, 3, 9), True), (date(2026, 3, 10), True), (date(2026, 3, 11), False)]
)
def test_set_judges_up_to_its_last_day(day: date, judges: bool) -> None:
    cellar = Cellar()
    last_day(cellar, date(2026, 3, 10))
    found = in_force(cellar, day)
    assert found == (cellar.limits if judges else None)


@pytest.mark.parametrize(
    "taken, verdict",
    [
        # The brewery's own midnight in Auckland (UTC+13) is 11:00 UTC.
        (datetime(2026, 3, 10, 10, 59, tzinfo=UTC), "clear"),
        (datetime(2026, 3, 10, 11, 0, tzinfo=UTC), "unjudged"),
    ],
)
def test_result_is_judged_by_the_day_on_which_it_was_taken(taken: datetime, verdict: str) -> None:
    cellar = Cellar(time_zone="Pacific/Auckland")
    last_day(cellar, date(2026, 3, 10))
    turnaround = cellar.cleaned(now=datetime(2026, 3, 10, 9, 0, tzinfo=UTC))
    later = datetime(2026, 3, 10, 11, 30, tzinfo=UTC)
    cellar.checked(now=later)
    result = cellar.sampled(turnaround, rlu=3, taken_at=taken, now=later)
    assert (result.verdict, result.limits) == (
        verdict,
        cellar.limits if verdict == "clear" else None,
    )


def test_own_set_that_ran_out_is_not_replaced_by_the_one_for_all_points() -> None:
    cellar = Cellar()
    own = make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        alert_rlu=2,
        action_rlu=4,
        point=cellar.point,
    )
    with unguarded(LimitSet):
        LimitSet.objects.filter(pk=own.pk).update(valid_until=TODAY)
    days = (TODAY, TODAY + timedelta(days=1))
    found = [in_force(cellar, day) for day in days]
    assert found == [own, None]
    elsewhere = make_vessel(points=1).points.get()
    assert in_force(cellar, days[1], point=elsewhere) == cellar.limits


def test_waiting_result_taken_within_the_days_is_judged_when_limits_are_approved() -> None:
    cellar = Cellar()
    LimitSet.objects.filter(pk=cellar.limits.pk).update(retired_at=NOW - timedelta(hours=1))
    result = cellar.sampled(cellar.cleaned(), rlu=9)
    limits = proposed(cellar, valid_until=TODAY + timedelta(days=1))
    approve_limits(
        by=acting(cellar.brewer, now=NOW + timedelta(hours=1)), limits=limits, password=PASSWORD
    )
    judged = Result.objects.get(corrects=result)
    assert (result.verdict, judged.verdict, judged.limits) == ("unjudged", "alert", limits)


def test_last_day_before_the_review_is_refused_beside_its_field() -> None:
    cellar = Cellar()
    with pytest.raises(Refusal) as refusal:
        proposed(cellar, review_on=TODAY + timedelta(days=9), valid_until=TODAY + timedelta(days=8))
    assert refusal.value.field == "valid_until"
    same = TODAY + timedelta(days=9)
    assert proposed(cellar, review_on=same, valid_until=same).valid_until == same


def test_set_that_ran_out_before_it_was_signed_is_refused() -> None:
    cellar = Cellar()
    limits = proposed(cellar, valid_until=TODAY + timedelta(days=1))
    late = acting(cellar.brewer, now=NOW + timedelta(days=2))
    with pytest.raises(Refusal) as refusal:
        approve_limits(by=late, limits=limits, password=PASSWORD)
    cellar.limits.refresh_from_db()
    assert (refusal.value.code, cellar.limits.retired_at) == ("out_of_date", None)


@pytest.mark.parametrize(
    "review, last, words",
    [
        (31, None, ""),
        (30, None, "are due for review on 9 April 2026 (in 30 days)"),
        (0, None, "are due for review on 10 March 2026 (today)"),
        (-1, None, "are overdue for review since 9 March 2026"),
        (400, 31, ""),
        (400, 30, "are valid until 9 April 2026 (in 30 days). Later readings are unjudged"),
        (400, 0, "are valid until 10 March 2026 (today). Later readings are unjudged"),
        (
            400,
            -1,
            "were valid until 9 March 2026. Readings are unjudged until new limits are approved",
        ),
    ],
)
def test_words_of_what_is_due(review: int, last: int | None, words: str) -> None:
    cellar = Cellar()
    cellar.limits.review_on = TODAY + timedelta(days=review)
    cellar.limits.valid_until = None if last is None else TODAY + timedelta(days=last)
    assert due_words(cellar.limits, today=TODAY) == words


def test_sets_waiting_for_approval_are_not_due() -> None:
    cellar = Cellar()
    waiting = proposed(cellar)
    cellar.limits.review_on = TODAY
    whose = f"The limits of {cellar.meter.name} with {cellar.atp_test.name}"
    assert due_sentences([waiting, cellar.limits], today=TODAY) == [
        f"{whose} are due for review on 10 March 2026 (today)."
    ]


def limits_stop(cellar: Cellar) -> Any:
    groups = checklist(brewery=cellar.brewery, today=TODAY)
    return next(stop for group in groups for stop in group.stops if stop.title == "Limits")


@pytest.mark.instants
def test_checklist_warns_before_a_set_runs_out_and_misses_it_afterwards() -> None:
    cellar = Cellar()
    last_day(cellar, TODAY)
    soon = limits_stop(cellar)
    last_day(cellar, TODAY - timedelta(days=1))
    gone = limits_stop(cellar)
    name = f"The limits of {cellar.meter.name} with {cellar.atp_test.name}"
    assert (soon.missing, soon.advice) == (
        (),
        (f"{name} are valid until 10 March 2026 (today). Later readings are unjudged.",),
    )
    assert gone.missing == (
        "No approved limits for rinse readings. Without them a release is blocked.",
    )
    assert f"{name} were valid until 9 March 2026" in gone.advice[-1]


@pytest.mark.instants
def test_limits_page_sets_what_ran_out_apart_and_warns_on_top() -> None:
    cellar = Cellar()
    today = clock.today()
    with unguarded(LimitSet):
        LimitSet.objects.update(review_on=today, valid_until=today - timedelta(days=1))
    client = Client()
    client.force_login(cellar.hand)
    page = client.get(reverse("atp:setup_limits"))
    assert page.context["in_force"] == []
    assert page.context["out_of_date"] == [cellar.limits]
    assert len(page.context["due"]) == 1
    assert page.context["due"][0] in page.content.decode()


def test_last_day_is_proposed_by_hand(client: Client) -> None:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    today = clock.today()
    sent = {
        "meter": cellar.meter.pk,
        "atp_test": cellar.atp_test.pk,
        "moment": "in_sanitiser",
        "alert_rlu": "5",
        "action_rlu": "9",
        "source": "baseline",
        "source_note": "Ours (invented)",
        "review_on": today + timedelta(days=100),
        "valid_until": today + timedelta(days=99),
    }
    address = reverse("atp:setup_propose_limits")
    reply = client.post(address, sent)
    assert (reply.status_code, list(reply.context["form"].errors)) == (422, ["valid_until"])
    client.post(address, {**sent, "valid_until": today + timedelta(days=100)})
    assert LimitSet.objects.latest("pk").valid_until == today + timedelta(days=100)
