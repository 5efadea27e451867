"""A cleaned vessel, addresses and what is sent with a reading."""

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.turnarounds.floor import Floor


def cleaned(floor: Floor, **values: Any) -> Turnaround:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40), **values)
    floor.checked(now=clock.now())
    return turnaround


def url(name: str, *args: Any) -> str:
    return reverse(f"atp:{name}", args=args)


def page_of(turnaround: Turnaround, point: SamplingPoint | None = None) -> str:
    return url("sample", turnaround.pk, (point or turnaround.vessel.points.get(order=0)).pk)


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


def typed(floor: Floor, **values: Any) -> dict[str, Any]:
    return {
        "meter": floor.meter.pk,
        "test_lot": floor.lot.pk,
        "rinse_end": "sanitiser_left",
        "rlu": "3",
        **values,
    }
