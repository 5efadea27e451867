"""Baselines in the browser: sound at every size, and the whole way from readings to a signature."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.baselines.actions import create_baseline, exclude_result
from brewhygiene.atp.baselines.study import study_of
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.science.limits.asked import Asked
from tests import clock
from tests.evidence import unguarded
from tests.factories import PASSWORD, Cellar, acting
from tests.histories import Swab, make_history, usual_rlu

pytestmark = pytest.mark.django_db(transaction=True)


def rlu(swab: Swab) -> int:
    """One wild reading, and a point that reads higher than the other."""
    if swab.turn.number == 20 and swab.point.order == 0:
        return 45_000
    return usual_rlu(swab, mean=6) * (4 if swab.point.order else 1)


@pytest.fixture
def cellar() -> Cellar:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=40, every=timedelta(days=2), until=clock.now(), rlu=rlu)
    # The first study pays for imports that a busy machine takes longer for than a page may.
    study_of(made(cellar, "First"), asked=Asked(), now=clock.now())
    return cellar


def made(cellar: Cellar, name: str = "All rinses", **values: Any) -> Baseline:
    today = clock.today()
    return create_baseline(
        by=acting(cellar.brewer, now=clock.now()),
        **{
            "name": name,
            "meter": cellar.meter,
            "atp_test": cellar.atp_test,
            "since": today - timedelta(days=100),
            "until": today,
            **values,
        },
    )


def test_pages_are_sound_at_every_size(
    cellar: Cellar, open_page: Any, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    baseline = made(cellar)
    # The scale again in words, and the page where nothing can be calculated.
    few = made(cellar, "Two days", since=clock.today() - timedelta(days=1))
    result = Result.objects.order_by("-rlu").first()
    other = Result.objects.order_by("rlu").first()
    exclude_result(
        by=acting(cellar.brewer, now=clock.now()),
        baseline=baseline,
        result=result,
        reason="Spray device found blocked",
    )
    with unguarded(LimitSet):
        LimitSet.objects.update(valid_until=clock.today() + timedelta(days=5))
    page = open_page(user=cellar.brewer, size=size)
    for address in (
        reverse("atp:setup_limits"),
        reverse("atp:baselines"),
        reverse("atp:add_baseline"),
        reverse("atp:baseline", args=[baseline.pk]),
        reverse("atp:baseline", args=[few.pk]),
        reverse("atp:baseline", args=[baseline.pk]) + "?alert=99&action=95",
        reverse("atp:baseline_exclude", args=[baseline.pk, other.pk]),
        reverse("atp:baseline_include", args=[baseline.pk, result.pk]),
        reverse("atp:baseline_propose", args=[baseline.pk]) + "?method=logs",
    ):
        page.goto(address)
        assert_page_is_sound(page)


def test_study_is_sound_in_the_dark_and_to_the_cellar(
    cellar: Cellar, open_page: Any, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=cellar.hand, dark=True)
    page.goto(reverse("atp:baseline", args=[made(cellar).pk]))
    assert page.get_by_role("link", name="Exclude").count() == 0
    assert_page_is_sound(page)


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_limits_are_earned_from_readings_to_signature(
    cellar: Cellar, open_page: Any, script: bool
) -> None:
    page = open_page(user=cellar.brewer, size="tablet", java_script_enabled=script)
    page.goto(reverse("atp:setup_limits"))
    page.get_by_role("link", name="Baselines", exact=True).click()
    page.get_by_role("link", name="Start baseline").click()
    page.get_by_label("Name").fill("Cone rinses")
    page.get_by_label("Meter").select_option(label=cellar.meter.name)
    page.get_by_label("ATP test").select_option(label=cellar.atp_test.name)
    page.get_by_text(cellar.vessel.name, exact=True).click()
    page.get_by_label(cellar.point.name).check()
    page.get_by_role("button", name="Start baseline").click()
    # The study takes a second or two, and until then the form is still there.
    page.get_by_role("heading", name="Cone rinses", level=1).wait_for()
    advice = page.locator(".advice-list")
    assert "One reading (45,000 RLU) lies far above the rest" in advice.inner_text()
    assert page.get_by_text("None yet. Solve the points below first.").count() == 1

    page.get_by_role("link", name="Exclude 45000 RLU").click()
    page.get_by_label("Reason").fill("   ")
    page.get_by_role("button", name="Exclude reading").click()
    assert page.locator(".error").inner_text() == "Enter a reason."
    page.get_by_label("Reason").fill("Spray device found blocked the day after")
    page.get_by_role("button", name="Exclude reading").click()
    page.get_by_role("heading", name="Cone rinses", level=1).wait_for()
    assert "Spray device found blocked the day after" in page.locator("main").inner_text()
    assert "far above" not in page.locator("main").inner_text()

    page.locator(".page-acts .primary").click()
    page.get_by_role("heading", name="Proposal of limits", level=1).wait_for()
    page.get_by_label("Valid until").fill((clock.today() + timedelta(days=400)).isoformat())
    page.get_by_role("button", name="Propose limits").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Approve limits").click()
    page.get_by_role("heading", name="Limits", level=1, exact=True).wait_for()
    limits = LimitSet.objects.latest("pk")
    assert (limits.point, limits.baseline.name) == (cellar.point, "Cone rinses")
    assert limits.approval is not None
    assert limits.figures["kept_out"] == 1
    assert f"Valid until {limits.valid_until.day} {limits.valid_until:%b %Y}" in (
        page.locator("main").inner_text()
    )
    page.get_by_role("link", name="Open baseline").click()
    assert "Approved by Mara Oduya" in page.locator("main").inner_text()


def test_own_coverages_are_asked_for_on_the_page(cellar: Cellar, open_page: Any) -> None:
    page = open_page(user=cellar.brewer, size="desk")
    baseline = made(cellar, points=[cellar.vessel.points.get(order=1)])
    page.goto(reverse("atp:baseline", args=[baseline.pk]))
    page.get_by_text("Coverage, confidence and k").click()
    page.get_by_label("k of the alert level").fill("2")
    page.get_by_label("k of the action limit").fill("3")
    page.get_by_role("button", name="Calculate limits").click()
    page.get_by_text("About this method").first.click()
    assert "k, action 3" in page.locator("table.methods").inner_text()
