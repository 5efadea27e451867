"""Actions of yeast crops: record a bought one or a crop of a batch, its plate, a hold by hand."""

from datetime import datetime

from brewhygiene.batches.brews.queries import fill_at
from brewhygiene.batches.holds import hold_at_risk, hold_by_hand, refuse_gone, spread
from brewhygiene.batches.models.batches import Batch, CropSource, YeastCrop
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.numbers import key_of, tidy
from brewhygiene.batches.transfers.actions import (
    Drawn,
    check_drawn,
    check_equipment,
)
from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.changeovers.crossing import refuse_crossing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.refusals import Refusal
from brewhygiene.release import actions as release_actions
from brewhygiene.turnarounds.actions import check_when

MOST_GENERATIONS = 99


def _check_number(number: str) -> None:
    if not number.strip():
        raise Refusal("Enter the number of the crop.", field="number")
    if YeastCrop.objects.filter(number_key=key_of(number)).exists():
        raise Refusal(
            f"Crop {tidy(number)} is already recorded. Enter another number.",
            field="number",
            code="twice",
        )


def _check_values(volume_hl: float, viability_pct: float | None) -> None:
    if volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    if viability_pct is not None and not 0 <= viability_pct <= 100:
        raise Refusal("Enter a viability from 0 to 100 %.", field="viability_pct")


def _generation(typed: int | None, batch: Batch) -> int:
    """One more than that of the yeast pitched; refused where another is typed."""
    pitched = (
        Movement.objects.filter(
            kind=MovementKind.PITCH, to_fill__of_batch__batch=batch, from_crop__isnull=False
        )
        .order_by("-from_crop__generation")
        .values_list("from_crop__generation", flat=True)
        .first()
    )
    if pitched is None:
        if typed is None:
            raise Refusal(
                f"No pitching of batch {batch.number} is recorded. Enter the generation.",
                field="generation",
            )
        return typed
    if typed is not None and typed != pitched + 1:
        raise Refusal(
            f"Batch {batch.number} was pitched with generation {pitched}, so its crop is "
            f"generation {pitched + 1}.",
            field="generation",
        )
    return pitched + 1


def _into_vessel(
    by: Actor, vessel: Vessel, *, beer: Beer, batch: str, volume_hl: float, at: datetime, field: str
) -> Fill:
    """Yeast into a vessel is a filling of it, by the rules of filling."""
    turnaround = vessel.turnarounds.filter(closed_at__isnull=True).first()
    if turnaround is None:
        raise Refusal(
            f"{vessel.name} is not released. Empty and clean it first.",
            field="vessel",
            code="not_released",
        )
    try:
        return release_actions.fill_vessel(
            by=by.inner(),
            turnaround=turnaround,
            beer=beer,
            batch=batch,
            volume_hl=volume_hl,
            filled_at=at,
            through=None,
        )
    except Refusal as refusal:
        fields = {None: "vessel", "filled_at": field, "batch": "vessel", "beer": "vessel"}
        raise Refusal(
            refusal.message, field=fields.get(refusal.field, refusal.field), code=refusal.code
        ) from refusal


@action("record yeast crop")
def crop_yeast(
    *,
    by: Actor,
    from_vessel: Vessel,
    number: str,
    cropped_at: datetime,
    volume_hl: float,
    generation: int | None = None,
    viability_pct: float | None = None,
    vessel: Vessel | None = None,
    through: tuple[Vessel, ...] = (),
) -> Recorded[YeastCrop]:
    """Record yeast, ``volume_hl`` hL, cropped from what a vessel contains.

    ``vessel`` is the yeast vessel that it went into, which has to be released. A crop of a held
    batch is held with it.
    """
    user = require(by, "work_cellar")
    cropped_at = check_when(cropped_at, by=by, field="cropped_at")
    _check_number(number)
    _check_values(volume_hl, viability_pct)
    check_equipment(through)
    link = fill_at(from_vessel, cropped_at, field="cropped_at")
    refuse_gone(link.batch)
    check_drawn(Drawn(from_vessel, volume_hl), link)
    refuse_crossing(link.batch.beer, until=cropped_at, through=through)
    fill = None
    if vessel is not None:
        fill = _into_vessel(
            by,
            vessel,
            beer=link.batch.beer,
            batch=link.batch.number,
            volume_hl=volume_hl,
            at=cropped_at,
            field="cropped_at",
        )
    crop = YeastCrop.objects.create(
        number=tidy(number),
        number_key=key_of(number),
        source=CropSource.CROPPED,
        cropped_from=link.batch,
        generation=_generation(generation, link.batch),
        viability_pct=viability_pct,
        volume_hl=volume_hl,
        vessel=vessel,
        fill=fill,
        cropped_at=cropped_at,
        recorded_by=user,
    )
    keep_movement(
        by=by,
        kind=MovementKind.CROP,
        moved_at=cropped_at,
        source=link.fill,
        target=crop,
        through=through,
        volume_hl=volume_hl,
    )
    spread([link.batch], crop, by=by)
    return Recorded(crop, _values(crop, through=[one.name for one in through]), aggregate=crop)


@action("record bought yeast")
def receive_yeast(
    *,
    by: Actor,
    number: str,
    supplier: str,
    cropped_at: datetime,
    volume_hl: float,
    generation: int | None = None,
    viability_pct: float | None = None,
) -> Recorded[YeastCrop]:
    """Record bought yeast, ``volume_hl`` hL, with its supplier and lot. Generation 0 if none."""
    user = require(by, "work_cellar")
    cropped_at = check_when(cropped_at, by=by, field="cropped_at")
    _check_number(number)
    _check_values(volume_hl, viability_pct)
    if not supplier.strip():
        raise Refusal("Enter who sold the yeast, and its lot.", field="supplier")
    crop = YeastCrop.objects.create(
        number=tidy(number),
        number_key=key_of(number),
        source=CropSource.BOUGHT,
        supplier=supplier.strip(),
        generation=generation or 0,
        viability_pct=viability_pct,
        volume_hl=volume_hl,
        cropped_at=cropped_at,
        recorded_by=user,
    )
    keep_movement(
        by=by,
        kind=MovementKind.RECEIVE,
        moved_at=cropped_at,
        source=None,
        target=crop,
        volume_hl=volume_hl,
    )
    return Recorded(crop, _values(crop), aggregate=crop)


def _values(crop: YeastCrop, **more: object) -> dict[str, object]:
    return {
        "number": crop.number,
        "source": crop.source,
        "supplier": crop.supplier,
        "cropped_from": crop.cropped_from.number if crop.cropped_from else None,
        "generation": crop.generation,
        "viability_pct": crop.viability_pct,
        "volume_hl": crop.volume_hl,
        "vessel": crop.vessel.name if crop.vessel else None,
        "cropped_at": crop.cropped_at,
        **more,
    }


@action("link plate to yeast crop")
def link_plate(*, by: Actor, crop: YeastCrop, plate: Plate) -> Recorded[YeastCrop]:
    """Say which plate is of a crop, once. A positive one holds the crop at once."""
    require(by, "work_cellar")
    crop = YeastCrop.objects.select_for_update(of=("self",)).get(pk=crop.pk)
    if crop.plate_id is not None:
        raise Refusal("This crop already has its plate.", field="plate", code="twice")
    if plate.taken_at < crop.cropped_at:
        raise Refusal("This plate was taken before the crop. Choose a later one.", field="plate")
    crop.plate = plate
    crop.save(update_fields=["plate"])
    held = hold_at_risk(plate, by=by) if plate.state == PlateState.POSITIVE else []
    return Recorded(crop, {"plate": plate.pk, "plate_of": str(plate), "held": held}, aggregate=crop)


@action("hold by hand")
def hold(*, by: Actor, subject: Batch | YeastCrop, reason: str) -> Recorded[Hold]:
    """Hold a batch or a yeast crop with a reason, until a signed decision ends it."""
    require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Enter a reason for the hold.", field="reason", code="no_reason")
    made = hold_by_hand(subject, by=by, reason=reason.strip())
    return Recorded(made, {"held": made.about, "reason": made.reason}, aggregate=subject)
