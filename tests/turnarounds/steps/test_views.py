"""The one screen of a step from the first to the last of a clean, and its cost."""

import zoneinfo
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.turnarounds.models import (
    Clean,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.turnarounds.floor import Floor, as_shown
from tests.turnarounds.steps.sending import url, words

pytestmark = pytest.mark.django_db

# All together, and its cost


def test_the_whole_clean_by_what_the_screens_show(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every form is sent as it is shown, with the numbers typed in, 25 minutes a step."""
    ran = timedelta()
    begins = clock.now()
    monkeypatch.setattr("django.utils.timezone.now", lambda: begins + ran)
    turnaround = floor.emptied(now=clock.now())
    proposal = floor.client.get(reverse("turnarounds:regime", args=[turnaround.pk]))
    here = proposal.client.post(
        proposal.request["PATH_INFO"], {"version": floor.version.pk}
    ).headers["Location"]
    while "/steps/" in here:
        page = floor.client.get(here)
        screen = page.context["screen"]
        step = (screen.clean.pk, screen.step.pk)
        if "safety_form" in page.context:
            codes = [caution.code for caution, _ in page.context["safety_form"].ticks()]
            answer = floor.client.post(url("safety", None, *step), {"codes": codes})
        elif screen.state == "next":
            answer = floor.client.post(url("start_step", None, *step))
        elif screen.unread:
            form = page.context["reading_form"]
            data = as_shown(form)
            strength = "150" if data.get("basis") == "mg_l" else "2"
            values = {
                "concentration": strength,
                "temperature_c": "75",
                "flow_l_min": "150",
                "ph": "7.4",
            }
            data["value"] = values[form.asked_quantity]
            answer = floor.client.post(url("read", None, *step), data)
        else:
            form = floor.client.get(url("end_step", None, *step)).context["form"]
            seen = {one.value: "yes" for one in form.observations}
            data = as_shown(form, end_criterion_met="yes", **seen)
            ran += timedelta(minutes=25)
            answer = floor.client.post(url("end_step", None, *step), data)
        assert answer.status_code == 302, answer.content.decode()
        here = answer.headers["Location"]
    clean = Clean.objects.get()
    assert here == reverse("turnarounds:finish", args=[clean.pk])
    floor.client.post(here)
    clean.refresh_from_db()
    assert clean.finished_at is not None
    assert clean.sanitised_at == clean.step_records.get(step__kind="sanitiser").ended_at
    assert Deviation.objects.count() == 0


def test_a_step_with_many_readings_costs_as_much_as_one_with_few(
    floor: Floor, running: StepRecord, django_assert_num_queries: Any
) -> None:
    floor.read(running, "temperature_c", 75)
    with django_assert_num_queries(16):
        floor.client.get(url("step", running))
    for _ in range(5):
        floor.read(running, "temperature_c", 75)
    with django_assert_num_queries(16):
        floor.client.get(url("step", running))


def test_times_are_the_brewerys_own() -> None:
    floor = Floor(time_zone="Pacific/Auckland")
    record = floor.running_caustic()
    there = record.started_at.astimezone(zoneinfo.ZoneInfo("Pacific/Auckland"))
    assert f"Started {there:%H:%M:%S} by" in words(floor.client.get(url("step", record)))
