"""Actions on vessels."""

import hashlib
import math
import secrets
from typing import TypedDict, Unpack

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import models, transaction
from django.db.models import ProtectedError

from brewhygiene.cellar.models import SamplingPoint, Vessel, VesselKind
from brewhygiene.cellar.questions import harm_by_preferred
from brewhygiene.ledger.changes import change, refuse_invalid, values_of
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import told
from brewhygiene.refusals import Refusal

# Bodies that stand upright or lie, and those that are bores; a heat exchanger is neither.
TANKS = frozenset(
    {
        VesselKind.FERMENTER,
        VesselKind.BRIGHT_TANK,
        VesselKind.MIXING_TANK,
        VesselKind.LIQUOR_TANK,
        VesselKind.YEAST_VESSEL,
        VesselKind.SERVING_TANK,
        VesselKind.KEG,
        VesselKind.DRY_HOP_GEAR,
    }
)
BORES = frozenset({VesselKind.KEG_LINE, VesselKind.DRAUGHT_LINE, VesselKind.HOSE_SET})
# Wide bounds, to catch a slipped comma and no odd but real tank: length by diameter of the
# cylinder that would hold the volume, and the length of a line.
LEAST_SLENDERNESS, MOST_SLENDERNESS = 0.15, 20.0
MOST_BORE_LENGTH_M = 2_000.0


class VesselValues(TypedDict, total=False):
    """What a vessel may have beside its name, kind and volume."""

    diameter_m: float | None
    spray_device: str
    material: str
    seal_material: str
    spray_device_material: str
    pressure_rating_bar: float | None
    vacuum_rating_mbar: float | None
    vacuum_valve: bool
    solution_l: float | None
    least_level: int
    culture_use: str
    default_regime: models.Model | None
    acid_every_n: int
    caustic_every_n: int
    clean_within_days: int | None
    acid_within_days: int | None
    note: str
    order: int


# Which hold times count for a vessel, how strong a clean its release needs, which agents are
# kept from it, which checks come before a step, which beers it may take, and when it is due.
RULED_BY = frozenset(
    {
        "kind",
        "least_level",
        "culture_use",
        "material",
        "seal_material",
        "spray_device",
        "spray_device_material",
        "vacuum_valve",
        "clean_within_days",
        "acid_within_days",
    }
)

KEPT = [
    "name",
    "kind",
    "volume_hl",
    "diameter_m",
    "spray_device",
    "material",
    "seal_material",
    "spray_device_material",
    "pressure_rating_bar",
    "vacuum_rating_mbar",
    "vacuum_valve",
    "solution_l",
    "least_level",
    "culture_use",
    "default_regime",
    "acid_every_n",
    "caustic_every_n",
    "clean_within_days",
    "acid_within_days",
    "note",
    "order",
]


def cylinder_length_m(volume_hl: float, diameter_m: float) -> float:
    """Length in m of a cylinder of a volume in hL and a diameter in m.

    >>> round(cylinder_length_m(10, 1), 3)
    1.273
    """
    return volume_hl / 10 / (math.pi * diameter_m**2 / 4)


def refuse_odd_shape(vessel: Vessel) -> None:
    """Refuse a diameter that does not go with the volume: one of the two is mistyped."""
    if vessel.diameter_m is None or vessel.kind not in TANKS | BORES:
        return
    length_m = cylinder_length_m(vessel.volume_hl, vessel.diameter_m)
    if vessel.kind in BORES:
        odd = length_m > MOST_BORE_LENGTH_M
        word = "long"
    else:
        odd = not LEAST_SLENDERNESS <= length_m / vessel.diameter_m <= MOST_SLENDERNESS
        word = "tall"
    if odd:
        with told():
            raise Refusal(
                f"With this volume it would be {show_number(length_m, significant=2)} m {word}. "
                "Check the diameter and the volume.",
                field="diameter_m",
                code="odd_shape",
            )


def _check(vessel: Vessel) -> None:
    """Refuse what no vessel can be. 5 queries at most."""
    refuse_invalid(vessel)
    if not vessel.volume_hl > 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl", code="invalid")
    others = Vessel.objects.exclude(pk=vessel.pk).values_list("name", flat=True)
    if vessel.name.casefold() in {name.casefold() for name in others}:
        raise Refusal(
            "Another vessel has this name. Enter a different name.", field="name", code="taken"
        )
    refuse_odd_shape(vessel)
    regime = vessel.default_regime
    if regime is not None and vessel.kind not in regime.vessel_kinds:
        raise Refusal(
            f"{regime} does not clean a {vessel.get_kind_display()}. Choose another regime.",
            field="default_regime",
        )
    if regime is not None and (why := harm_by_preferred(vessel)):
        raise Refusal(
            f"{why} Choose another regime, or edit the materials.",
            field="default_regime",
            code="unfit_material",
        )


def lock_vessel(vessel: Vessel) -> Vessel:
    """The vessel as it is now, locked to the end of the transaction. 1 query."""
    return Vessel.objects.select_for_update().get(pk=vessel.pk)


@action("add vessel")
def add_vessel(
    *, by: Actor, name: str, kind: str, volume_hl: float, **more: Unpack[VesselValues]
) -> Recorded[Vessel]:
    """Add a vessel, which appears on the board at once."""
    require(by, "edit_setup")
    vessel = Vessel(name=name.strip(), kind=kind, volume_hl=volume_hl, **more)
    _check(vessel)
    vessel.save(force_insert=True)
    return Recorded(vessel, values_of(vessel, KEPT), aggregate=vessel)


@action("edit vessel")
def edit_vessel(
    *,
    by: Actor,
    vessel: Vessel,
    name: str,
    kind: str,
    volume_hl: float,
    password: str = "",
    **more: Unpack[VesselValues],
) -> Recorded[Vessel]:
    """Edit a vessel. What safety checks and release rules depend on only with the password."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    changed = change(vessel, name=name.strip(), kind=kind, volume_hl=volume_hl, **more)
    if RULED_BY & changed["after"].keys():
        sign(by=by, password=password, meaning=f"Changed the rules of {vessel}"[:200])
    _check(vessel)
    vessel.save()
    return Recorded(vessel, changed, aggregate=vessel)


@action("take vessel out of service")
def take_out_of_service(*, by: Actor, vessel: Vessel, reason: str) -> Recorded[Vessel]:
    """Keep a vessel from being cleaned, released or filled until it is returned to service."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    if vessel.out_of_service_since is not None:
        raise Refusal(
            f"{vessel.name} is already out of service: {vessel.out_of_service_reason}.",
            code="already_out",
        )
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason", code="no_reason")
    vessel.out_of_service_since = by.now
    vessel.out_of_service_reason = reason.strip()
    refuse_invalid(vessel)
    vessel.save(update_fields=["out_of_service_since", "out_of_service_reason"])
    return Recorded(vessel, {"since": by.now, "reason": reason.strip()}, aggregate=vessel)


@action("put vessel back in service")
def return_to_service(*, by: Actor, vessel: Vessel, reason: str) -> Recorded[Vessel]:
    """Let a vessel be used again."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    if vessel.out_of_service_since is None:
        raise Refusal(f"{vessel.name} is already in service.", code="already_in")
    if not reason.strip():
        raise Refusal("Enter what was done.", field="reason", code="no_reason")
    values = {
        "was_out_since": vessel.out_of_service_since,
        "was_out_for": vessel.out_of_service_reason,
        "reason": reason.strip(),
    }
    vessel.out_of_service_since = None
    vessel.out_of_service_reason = ""
    vessel.save(update_fields=["out_of_service_since", "out_of_service_reason"])
    return Recorded(vessel, values, aggregate=vessel)


@action("remove vessel")
def remove_vessel(*, by: Actor, vessel: Vessel) -> Recorded[Vessel]:
    """Remove a vessel that was added by mistake; one that was ever used stays."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    pk = vessel.pk
    values = values_of(vessel, KEPT)
    photos = [vessel.photo.name, *vessel.points.values_list("photo", flat=True)]
    try:
        vessel.delete()
    except ProtectedError as error:
        raise Refusal(
            f"{vessel.name} has records, so it cannot be removed. Take it out of service instead.",
            code="has_history",
        ) from error
    forget_files([name for name in photos if name])
    vessel.pk = pk  # the ledger names what is gone
    return Recorded(vessel, values, aggregate=vessel)


def forget_files(names: list[str]) -> None:
    """Delete stored files once the transaction has gone through."""
    for name in names:
        transaction.on_commit(lambda name=name: default_storage.delete(name))  # type: ignore[misc]


def replace_photo(
    record: Vessel | SamplingPoint, photo: "ContentFile[bytes] | None"
) -> dict[str, object]:
    """Store a prepared photograph (or none) on a record; what to tell the ledger of it."""
    forget_files([record.photo.name] if record.photo.name else [])
    if photo is None:
        record.photo = ""
        record.save(update_fields=["photo"])
        return {"photo": None}
    content = photo.read()
    record.photo.save(f"{secrets.token_hex(8)}.jpg", ContentFile(content), save=False)
    record.save(update_fields=["photo"])
    return {
        "photo": {
            "file": record.photo.name,
            "bytes": len(content),
            "sha256": hashlib.sha256(content).hexdigest(),
        }
    }


@action("set vessel photo")
def set_vessel_photo(
    *, by: Actor, vessel: Vessel, photo: "ContentFile[bytes] | None"
) -> Recorded[Vessel]:
    """Show a photograph (from :func:`photos.prepared_photo`) on the vessel's page, or none."""
    require(by, "edit_setup")
    vessel = lock_vessel(vessel)
    return Recorded(vessel, replace_photo(vessel, photo), aggregate=vessel)
