"""Readings since the last control check that passed, once the next one fails."""

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.meters.queries import readings_in_doubt
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.refusals import Refusal
from brewhygiene.release.evidence import samples_of
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import Turnaround
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting, make_limits, make_meter

pytestmark = pytest.mark.django_db
READ = NOW + timedelta(minutes=30)
DAY = timedelta(days=1)


@pytest.fixture
def cellar() -> Cellar:
    return Cellar(waivable_gates=["control_check", "hold_time"])


@pytest.fixture
def turnaround(cellar: Cellar) -> Turnaround:
    """Cleaned and read at 9:30, after the control check of 9:00."""
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, now=READ)
    return turnaround


def check(cellar: Cellar, when: datetime, *, passes: bool, meter: Meter | None = None) -> None:
    record_control_check(
        by=acting(cellar.hand, now=when),
        meter=meter or cellar.meter,
        blank_rlu=0 if passes else 90,
        positive_rlu=200,
    )


def unjudged(turnaround: Turnaround, now: datetime = READ) -> frozenset[int]:
    return load_dossier(turnaround, now=now).failed_checks_later


@pytest.mark.parametrize(
    "checks, in_doubt",
    [
        ((), False),
        (((timedelta(hours=1), True),), False),
        (((timedelta(hours=1), False),), True),
        # A fresh control that passes saves no earlier reading.
        (((timedelta(hours=1), False), (timedelta(hours=2), True)), True),
        (((DAY, False),), True),
        (((3 * DAY, False), (3 * DAY + timedelta(hours=1), True)), True),
        # Passed the next morning: what fails after that is no doubt about yesterday.
        (((DAY, True), (2 * DAY, False)), False),
        (((DAY, True), (DAY + timedelta(hours=1), False)), False),
    ],
)
def test_which_readings_are_in_doubt(
    cellar: Cellar,
    turnaround: Turnaround,
    checks: tuple[tuple[timedelta, bool], ...],
    in_doubt: bool,
) -> None:
    for after, passes in checks:
        check(cellar, READ + after, passes=passes)
    found = {Result.objects.get().pk} if in_doubt else set()
    assert unjudged(turnaround) == found


def test_another_meters_failure_says_nothing(cellar: Cellar, turnaround: Turnaround) -> None:
    check(cellar, READ + DAY, passes=False, meter=make_meter())
    assert unjudged(turnaround) == frozenset()


def test_no_reason_passes_an_unjudged_reading_whatever_the_site_had_set(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    check(cellar, READ + timedelta(minutes=5), passes=False)
    with pytest.raises(Refusal, match="Control check passed that day: no") as refused:
        cellar.decided(turnaround, gate_reasons={"control_check": "The blank was a bad one"})
    assert (refused.value.field, refused.value.code) == ("outcome", "blocked")
    assert Decision.objects.count() == 0
    (sample,) = samples_of(load_dossier(turnaround, now=READ))
    assert "unjudged: no passed control check before and after it" in sample.about


def test_a_fresh_control_and_a_fresh_sample_are_the_way_out(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    check(cellar, READ + timedelta(minutes=1), passes=False)
    check(cellar, READ + timedelta(minutes=2), passes=True)
    with pytest.raises(Refusal, match="sample again"):
        cellar.decided(turnaround)
    cellar.sampled(turnaround, now=READ + timedelta(minutes=3))
    assert cellar.decided(turnaround).outcome == "release"


def test_a_second_meter_is_the_other_way_out(cellar: Cellar, turnaround: Turnaround) -> None:
    other = make_meter()
    make_limits(by=cellar.brewer, meter=other, atp_test=cellar.atp_test)
    check(cellar, READ + timedelta(minutes=1), passes=False)
    check(cellar, READ + timedelta(minutes=2), passes=True, meter=other)
    cellar.sampled(turnaround, now=READ + timedelta(minutes=3), meter=other)
    assert cellar.decided(turnaround).outcome == "release"


def test_doubt_is_looked_up_in_one_query_for_any_number_of_readings(
    cellar: Cellar, turnaround: Turnaround, django_assert_num_queries
) -> None:
    from brewhygiene.atp.meters.queries import failed_later

    for minute in (1, 2):
        cellar.sampled(turnaround, now=READ + timedelta(minutes=minute))
    results = list(Result.objects.all())
    with django_assert_num_queries(1):
        assert failed_later(results) == frozenset()
    with django_assert_num_queries(0):
        assert failed_later([]) == frozenset()


# ---- what the failed check's own page says ----


def test_failed_check_names_the_readings_that_it_leaves_unjudged(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    before = cellar.sampled(turnaround, now=READ + timedelta(minutes=1))
    check(cellar, READ + timedelta(minutes=5), passes=True)
    since = [cellar.sampled(turnaround, now=READ + timedelta(minutes=m)) for m in (6, 7)]
    check(cellar, READ + timedelta(minutes=10), passes=False)
    failed = ControlCheck.objects.latest("pk")
    assert readings_in_doubt(failed) == since
    assert before not in readings_in_doubt(failed)
    client = Client()
    client.force_login(cellar.hand)
    address = reverse("atp:checked", args=[cellar.meter.pk, failed.pk])
    page = client.get(address).content.decode()
    assert "Readings now unjudged" in page
    again = reverse("atp:sample", args=[turnaround.pk, cellar.point.pk])
    assert page.count(f'href="{again}"') == 2
    check(cellar, READ + timedelta(minutes=11), passes=True)
    cellar.sampled(turnaround, now=READ + timedelta(minutes=12))
    assert readings_in_doubt(failed) == since
    assert readings_in_doubt(ControlCheck.objects.latest("pk")) == []


def test_first_check_that_fails_leaves_every_earlier_reading_in_doubt(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    other = make_meter()
    check(cellar, READ + timedelta(minutes=5), passes=False)
    failed = ControlCheck.objects.latest("pk")
    with unguarded(ControlCheck):
        ControlCheck.objects.exclude(pk=failed.pk).update(passed=False)
    assert readings_in_doubt(failed) == [Result.objects.get()]
    check(cellar, READ + timedelta(minutes=5), passes=False, meter=other)
    assert readings_in_doubt(ControlCheck.objects.latest("pk")) == []


def test_readings_of_a_filled_vessel_are_not_sampled_again(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    cellar.decided(turnaround)
    cellar.filled(turnaround)
    check(cellar, NOW + timedelta(hours=2), passes=False)
    failed = ControlCheck.objects.latest("pk")
    assert readings_in_doubt(failed) == []
