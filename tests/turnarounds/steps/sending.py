"""Short cuts for tests of a step's screens: addresses, and forms sent to them."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.turnarounds.models import (
    Clean,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests.factories import seen_well
from tests.turnarounds.floor import Floor

HTMX = {"HX-Request": "true"}


def url(name: str, record: StepRecord | None = None, *args: Any) -> str:
    if record is not None:
        args = (record.clean_id, record.step_id)
    return reverse(f"turnarounds:{name}", args=args)


def at(clean: Clean, order: int) -> tuple[int, int]:
    return clean.pk, clean.version.steps.get(order=order).pk


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


def send(
    floor: Floor, record: StepRecord, quantity: str, value: str, *, headers: Any = None, **more: Any
) -> HttpResponse:
    data = {"record": record.pk, "quantity": quantity, "stage": "return", "value": value, **more}
    return floor.client.post(url("read", record), data, headers=headers)


def read_all(floor: Floor, record: StepRecord) -> None:
    """Everything that a caustic step asks for, read as it began."""
    then = record.started_at
    floor.read(record, "concentration", 2, basis="ww", now=then)
    floor.read(record, "temperature_c", 75, now=then)
    floor.read(record, "flow_l_min", 150, now=then)


def end(floor: Floor, record: StepRecord, **values: Any) -> HttpResponse:
    seen = {one.observation: "yes" for one in seen_well(record.clean, record.step)}
    return floor.client.post(url("end_step", record), {"record": record.pk, **seen, **values})


def dispose(
    floor: Floor, deviation: Deviation, disposition: str, reason: str = "", **more: Any
) -> HttpResponse:
    return floor.client.post(
        reverse("turnarounds:dispose", args=[deviation.pk]),
        {"disposition": disposition, "reason": reason, **more},
    )
