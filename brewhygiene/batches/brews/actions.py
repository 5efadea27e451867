"""Actions of a batch: record it before it is in a vessel, pitch it."""

from datetime import datetime

from brewhygiene.batches.brews.filled import make_batch
from brewhygiene.batches.brews.kin import ancestors_of
from brewhygiene.batches.brews.queries import fill_at
from brewhygiene.batches.holds import refuse_held, spread
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.changeovers.crossing import refuse_crossing, refuse_mixing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when

# What a dipstick, a flow meter or a keg scale may be off by. Common practice, no source.
TOLERANCE = 0.02


@action("record batch")
def record_batch(
    *, by: Actor, number: str, beer: Beer, brewed_at: datetime, volume_hl: float
) -> Recorded[Batch]:
    """Record a batch of ``volume_hl`` hL before it is in a vessel; its number is used once."""
    require(by, "work_cellar")
    if volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    brewed_at = check_when(brewed_at, by=by, field="brewed_at")
    batch = make_batch(by=by, number=number, beer=beer, brewed_at=brewed_at, volume_hl=volume_hl)
    return Recorded(
        batch,
        {"number": batch.number, "beer": beer.name, "brewed_at": brewed_at, "volume_hl": volume_hl},
        aggregate=batch,
    )


@action("pitch yeast")
def pitch(
    *,
    by: Actor,
    vessel: Vessel,
    crop: YeastCrop,
    pitched_at: datetime,
    volume_hl: float | None = None,
    through: tuple[Vessel, ...] = (),
) -> Recorded[Movement]:
    """Pitch a crop, ``volume_hl`` hL of it, into what a vessel contains; never a held one."""
    require(by, "work_cellar")
    pitched_at = check_when(pitched_at, by=by, field="pitched_at")
    crop = YeastCrop.objects.select_related("vessel", "fill__vessel", "cropped_from__beer").get(
        pk=crop.pk
    )
    refuse_held(crop, field="crop")
    into = fill_at(vessel, pitched_at, field="vessel")
    if crop.cropped_at > pitched_at:
        raise Refusal(
            f"Crop {crop.number} was not there yet. Enter a later time.", field="pitched_at"
        )
    if into.batch in ancestors_of(crop):
        raise Refusal(
            f"Crop {crop.number} comes from batch {into.batch.number} itself. Choose another crop.",
            field="crop",
            code="circle",
        )
    _refuse_more_than_there_is(crop, volume_hl)
    _refuse_foreign_yeast(crop, into.batch.beer)
    refuse_crossing(
        into.batch.beer, until=pitched_at, through=through, mixed=_is_mixed(crop, into.batch.beer)
    )
    movement = keep_movement(
        by=by,
        kind=MovementKind.PITCH,
        moved_at=pitched_at,
        source=crop,
        target=into.fill,
        through=through,
        volume_hl=volume_hl,
    )
    spread([crop], into.batch, by=by)
    return Recorded(
        movement,
        {
            "crop": crop.number,
            "batch": into.batch.number,
            "vessel": vessel.name,
            "pitched_at": pitched_at,
            "volume_hl": volume_hl,
            "through": [one.name for one in through],
        },
        aggregate=into.batch,
    )


def _is_mixed(crop: YeastCrop, beer: Beer) -> bool:
    """Whether a crop is of a mixed culture; a bought one is what it is pitched into."""
    source = crop.cropped_from
    return (source.beer if source is not None else beer).sour_or_mixed


def _refuse_foreign_yeast(crop: YeastCrop, beer: Beer) -> None:
    """Refuse yeast with an allergen that the beer does not declare, or of a mixed culture.

    Yeast cannot be cleaned, so that no test takes an allergen from it.
    """
    if crop.cropped_from is not None:
        refuse_mixing(crop.cropped_from.beer, beer, what=f"Crop {crop.number}", field="crop")


def _refuse_more_than_there_is(crop: YeastCrop, volume_hl: float | None) -> None:
    if volume_hl is None:
        return
    if volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    pitched = sum(volume or 0 for volume in crop.pitchings.values_list("volume_hl", flat=True))
    if pitched + volume_hl > crop.volume_hl * (1 + TOLERANCE):
        with told():
            raise Refusal(
                f"Only {digits((crop.volume_hl - pitched) * 100, '.3g')} L of crop {crop.number} "
                "are left. "
                "Enter at most that.",
                field="volume_hl",
                code="unbalanced",
            )
