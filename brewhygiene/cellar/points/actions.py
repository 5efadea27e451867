"""Actions on sampling points. A point is retired, never deleted: its readings keep naming it."""

import secrets
from typing import TypedDict, Unpack

from django.core.files.base import ContentFile

from brewhygiene.cellar.models import SampleKind, SamplingPoint, Vessel
from brewhygiene.cellar.questions import was_read
from brewhygiene.cellar.vessels.actions import lock_vessel, replace_photo
from brewhygiene.ledger.changes import change, refuse_invalid, values_of
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal

# Without the signs that are mistaken for another when a wet label is typed by hand.
CODE_ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH = 8
KEPT = [
    "name",
    "sample_kind",
    "moment",
    "area_cm2",
    "required_for_release",
    "where_to_find",
    "order",
    "code",
]


class PointValues(TypedDict, total=False):
    """What a point may have beside its name and sample kind."""

    moment: str
    area_cm2: float | None
    required_for_release: bool
    where_to_find: str
    order: int


def new_code() -> str:
    """A code for a label: 30^8, some 6.6e11, so that guessing finds none. 1 query."""
    while True:
        code = "".join(secrets.choice(CODE_ALPHABET) for _ in range(CODE_LENGTH))
        if not SamplingPoint.objects.filter(code=code).exists():
            return code


def _check(point: SamplingPoint) -> None:
    """Refuse what no point can be. 2 queries at most."""
    refuse_invalid(point)
    if point.sample_kind == SampleKind.SURFACE and not point.area_cm2:
        raise Refusal(
            "Enter the area swabbed. 100 cm² is 10 × 10 cm.",
            field="area_cm2",
            code="no_area",
        )
    others = point.vessel.points.exclude(pk=point.pk).values_list("name", "active")
    for name, active in others:
        if name.casefold() == point.name.casefold():
            raise Refusal(
                f"{point.vessel.name} has a sampling point of this name. "
                + ("Enter a different name." if active else "It is retired. Reinstate it instead."),
                field="name",
                code="taken",
            )


def _area(sample_kind: str, area_cm2: float | None) -> float | None:
    """A rinse has no area, whatever was left in the box."""
    return area_cm2 if sample_kind == SampleKind.SURFACE else None


@action("add sampling point")
def add_point(
    *,
    by: Actor,
    vessel: Vessel,
    name: str,
    sample_kind: str,
    password: str,
    **more: Unpack[PointValues],
) -> Recorded[SamplingPoint]:
    """Sign for a new place to sample, with a code of its own for its label."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    sign(by=by, password=password, meaning=f"Added a sampling point of {vessel}"[:200])
    if "order" not in more:
        last = vessel.points.order_by("-order").values_list("order", flat=True).first()
        more["order"] = 0 if last is None else last + 1
    point = SamplingPoint(
        vessel=vessel, name=name.strip(), sample_kind=sample_kind, code=new_code(), **more
    )
    point.area_cm2 = _area(sample_kind, point.area_cm2)
    _check(point)
    point.save(force_insert=True)
    return Recorded(point, {"vessel": vessel.name, **values_of(point, KEPT)}, aggregate=vessel)


def _lock_point(point: SamplingPoint) -> SamplingPoint:
    return (
        SamplingPoint.objects.select_for_update(of=("self",))
        .select_related("vessel")
        .get(pk=point.pk)
    )


def _sign_for(point: SamplingPoint, did: str, *, by: Actor, password: str) -> None:
    """Which points a release needs is a rule: no change of one is without the password."""
    sign(by=by, password=password, meaning=f"{did} the sampling point {point}"[:200])


@action("edit sampling point")
def edit_point(
    *,
    by: Actor,
    point: SamplingPoint,
    name: str,
    sample_kind: str,
    password: str,
    **more: Unpack[PointValues],
) -> Recorded[SamplingPoint]:
    """Edit a point. One with readings keeps its sample kind."""
    require(by, "edit_setup")
    point = _lock_point(point)
    _sign_for(point, "Edited", by=by, password=password)
    if sample_kind != point.sample_kind and was_read(point):
        raise Refusal(
            f"This sampling point has readings of {point.get_sample_kind_display()} samples. "
            "Retire it and add a new one.",
            field="sample_kind",
            code="has_history",
        )
    area_cm2 = _area(sample_kind, more.pop("area_cm2", point.area_cm2))
    changed = change(point, name=name.strip(), sample_kind=sample_kind, area_cm2=area_cm2, **more)
    _check(point)
    point.save()
    return Recorded(point, changed, aggregate=point.vessel)


@action("retire sampling point")
def retire_point(*, by: Actor, point: SamplingPoint, password: str) -> Recorded[SamplingPoint]:
    """Take no more samples there; the page of its label says that it is retired."""
    require(by, "edit_setup")
    point = _lock_point(point)
    _sign_for(point, "Retired", by=by, password=password)
    if not point.active:
        raise Refusal("This sampling point is already retired.", code="already_retired")
    point.active = False
    point.save(update_fields=["active"])
    return Recorded(point, {"active": False}, aggregate=point.vessel)


@action("reinstate sampling point")
def reinstate_point(*, by: Actor, point: SamplingPoint, password: str) -> Recorded[SamplingPoint]:
    """Sample there again."""
    require(by, "edit_setup")
    point = _lock_point(point)
    _sign_for(point, "Reinstated", by=by, password=password)
    if point.active:
        raise Refusal("This sampling point is already in use.", code="already_active")
    point.active = True
    point.save(update_fields=["active"])
    return Recorded(point, {"active": True}, aggregate=point.vessel)


@action("set sampling point photo")
def set_point_photo(
    *, by: Actor, point: SamplingPoint, photo: "ContentFile[bytes] | None"
) -> Recorded[SamplingPoint]:
    """Show a photograph of where the point is, or none."""
    require(by, "edit_setup")
    point = _lock_point(point)
    return Recorded(point, replace_photo(point, photo), aggregate=point.vessel)
