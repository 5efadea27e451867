"""The set-up of agents, regimes, meters and limits in a browser, at three sizes."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.limits.actions import propose_limits
from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.regimes.library.install import install_library
from brewhygiene.regimes.models import Regime
from tests import clock
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_meter,
    make_test_lot,
)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cellar() -> Cellar:
    """A brewery with the starting regimes, limits waiting, and a meter that failed today."""
    cellar = Cellar(name="Quenlarrow & Ombry Brewery (invented)")
    now = clock.now()
    by = acting(cellar.brewer, now=now)
    install_library(by=by, password=PASSWORD)
    make_test_lot(cellar.atp_test, lot="OLD", expires_on=now.date() - timedelta(days=3))
    bare = make_meter(name="Lab meter")
    record_control_check(by=by, meter=cellar.meter, blank_rlu=1, positive_rlu=200)
    record_control_check(by=by, meter=bare, blank_rlu=90, positive_rlu=90)
    propose_limits(
        by=by,
        meter=bare,
        atp_test=make_atp_test(name="Swab", sample_kind="surface"),
        moment="before_sanitiser",
        alert_rlu=20,
        action_rlu=60,
        source="maker",
        source_note="A leaflet (invented)",
        review_on=now.date() + timedelta(days=300),
    )
    return cellar


def addresses(cellar: Cellar) -> list[tuple[str, bool]]:
    """Every page of these rooms; ``True`` for those used with gloves."""
    hot = Regime.objects.get(name="Fermenter, hot caustic")
    failed = cellar.meter.__class__.objects.get(name="Lab meter").control_checks.get()
    waiting = failed.meter.limits.get()
    agent = hot.versions.get().steps.get(kind="sanitiser").agent
    pages = [
        ("regimes:agents", [], False),
        ("regimes:add_agent", [], False),
        ("regimes:agent", [agent.pk], False),
        ("regimes:regimes", [], False),
        ("regimes:regime", [hot.pk], False),
        ("regimes:add_regime", [], False),
        ("regimes:edit_regime", [hot.pk], False),
        ("regimes:copy_regime", [hot.pk], False),
        ("regimes:retire_regime", [hot.pk], False),
        ("atp:meters", [], True),
        ("atp:check", [cellar.meter.pk], True),
        ("atp:checked", [failed.meter_id, failed.pk], True),
        ("atp:setup_meters", [], False),
        ("atp:setup_add_meter", [], False),
        ("atp:setup_atp_tests", [], False),
        ("atp:setup_add_atp_test", [], False),
        ("atp:setup_add_test_lot", [], False),
        ("atp:setup_limits", [], False),
        ("atp:setup_propose_limits", [], False),
        ("atp:setup_approve_limits", [waiting.pk], False),
        ("atp:setup_retire_limits", [waiting.pk], False),
    ]
    return [(reverse(name, args=args), floor) for name, args, floor in pages]


def test_pages_are_sound_at_every_size(
    cellar: Cellar, open_page: Any, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    for address, floor in addresses(cellar):
        page.goto(address)
        assert_page_is_sound(page, floor=floor)


def test_refused_regime_is_sound_and_keeps_what_was_typed(
    cellar: Cellar, open_page: Any, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    hot = Regime.objects.get(name="Fermenter, hot caustic")
    page.goto(reverse("regimes:edit_regime", args=[hot.pk]))
    page.locator("#step2 > summary").click()
    wash = page.get_by_role("group", name="Step 3", exact=True)
    strength = wash.get_by_role("group", name="Strength of step 3")
    strength.get_by_label("maximum", exact=True).fill("zwei")
    wash.get_by_role("group", name="Time of step 3").get_by_label("common practice").uncheck()
    page.get_by_role("button", name="Save regime").click()
    assert strength.get_by_label("maximum", exact=True).input_value() == "zwei"
    assert page.locator(".window .error").all_inner_texts() == [
        "“zwei” is not a number. Enter digits, e.g. 2.5 or 2,5.",
        "Enter a source, or tick “common practice, no source”.",
    ]
    assert_page_is_sound(page)


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_regime_is_written_step_by_step(cellar: Cellar, open_page: Any, script: bool) -> None:
    page = open_page(user=cellar.brewer, java_script_enabled=script)
    page.goto(reverse("regimes:add_regime"))
    page.get_by_label("Name").fill("Cold soak")
    page.get_by_label("hose set").check()
    page.get_by_label("New step", exact=True).select_option("sanitiser")
    page.get_by_role("button", name="Add step").click()
    step = page.get_by_role("group", name="Step 1", exact=True)
    step.get_by_label("Agent").select_option(label="Peracetic acid 15 %")
    strength = step.get_by_role("group", name="Strength of step 1")
    strength.get_by_label("basis").select_option("mg_l")
    strength.get_by_label("maximum").fill("150,5")
    strength.get_by_label("common practice").check()
    page.get_by_label("New step", exact=True).select_option("pre_rinse")
    page.get_by_role("button", name="Add step").click()
    page.get_by_role("group", name="Step 2", exact=True).get_by_role(
        "button", name="Move up"
    ).click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Save regime").click()
    assert page.locator("h1").inner_text() == "Cold soak"
    steps = Regime.objects.get(name="Cold soak").versions.get().steps.all()
    assert [step.kind for step in steps] == ["pre_rinse", "sanitiser"]
    assert steps[1].windows.get().maximum == pytest.approx(150.5)


def test_meter_is_checked_with_the_pad(cellar: Cellar, open_page: Any) -> None:
    page = open_page(user=cellar.hand)
    page.goto(reverse("atp:meters"))
    page.get_by_role("link", name=re.compile("Repeat check.*Lab meter")).click()
    page.get_by_label("Blank").click()
    page.get_by_role("group", name="Number pad").get_by_role("button", name="3").click()
    page.get_by_label("Positive control").click()
    for digit in "210":
        page.get_by_role("group", name="Number pad").get_by_role("button", name=digit).click()
    page.get_by_role("button", name="Record check").click()
    assert page.locator(".outcome").inner_text().strip() == "Check passed"
