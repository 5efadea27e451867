"""Caustic in an aluminium vessel, as the head brewer sets it up and as the floor cleans it."""

from collections.abc import Callable

import pytest
from django.urls import reverse

from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.models import Clean
from tests import clock
from tests.browser.conftest import Opened
from tests.factories import PASSWORD
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "on aluminium: the metal dissolves violently, and hydrogen forms."


def test_aluminium_vessel_takes_no_caustic(
    open_page: Opened, assert_page_is_sound: Callable[..., None]
) -> None:
    floor = Floor()
    desk = open_page(user=floor.brewer)
    desk.goto(reverse("cellar:vessel_edit", args=[floor.vessel.pk]))
    desk.get_by_label("Material", exact=True).select_option(label="aluminium")
    desk.get_by_label("Seals").select_option(label="EPDM rubber")
    desk.get_by_label("Preferred regime").select_option(label=floor.version.regime.name)
    desk.get_by_label("Your password").fill(PASSWORD)
    desk.get_by_role("button", name="Save vessel").click()
    field = desk.locator(".field", has=desk.get_by_label("Preferred regime"))
    field.get_by_text(WHY).wait_for()
    assert desk.get_by_label("Seals").input_value() == "epdm"
    assert_page_is_sound(desk)
    assert Vessel.objects.get(pk=floor.vessel.pk).material == "stainless_304"

    desk.get_by_label("Preferred regime").select_option(value="")
    desk.get_by_label("Your password").fill(PASSWORD)
    desk.get_by_role("button", name="Save vessel").click()
    desk.get_by_text("Material not known: spray device.").first.wait_for()
    assert_page_is_sound(desk)

    floor.quick.regime.active = False
    floor.quick.regime.save()
    turnaround = floor.emptied(now=clock.now())
    tablet = open_page(user=floor.hand, size="tablet")
    tablet.goto(reverse("turnarounds:regime", args=[turnaround.pk]))
    tablet.get_by_text("suits the materials of").wait_for()
    tablet.get_by_text("Unfit for this vessel").click()
    tablet.get_by_text(WHY).wait_for()
    assert tablet.get_by_role("button", name="Start").count() == 0
    assert_page_is_sound(tablet, floor=True)
    assert Clean.objects.count() == 0
