"""What a correction may not say: it would contradict what else is on record. Called in actions."""

from datetime import datetime, timedelta

from django.utils import timezone

from brewhygiene.batches.brews.actions import TOLERANCE
from brewhygiene.batches.brews.kin import ancestors_of
from brewhygiene.batches.brews.queries import fill_at, left_in
from brewhygiene.batches.corrections.movements.rewriting import feeds
from brewhygiene.batches.corrections.movements.standing import FILLING_KINDS, Wanted
from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.quantities.style import digits, shown_moment, told
from brewhygiene.refusals import Refusal
from brewhygiene.release.models import Outcome
from brewhygiene.turnarounds.models import CleanPurpose, Turnaround
from brewhygiene.turnarounds.models.starts import start_of

MINUTE = timedelta(minutes=1)


def source_at(movement: Movement, wanted: Wanted, *, changed: bool) -> BatchFill:
    """The fill that it was taken from, by the corrected vessel and time."""
    assert wanted.vessel is not None
    link = fill_at(wanted.vessel, wanted.moved_at, field="vessel" if changed else "moved_at")
    was = movement.from_fill_id or (movement.from_crop.fill_id if movement.from_crop else None)
    if not changed and link.fill.pk != was:
        raise Refusal(
            f"{wanted.vessel.name} contained something else at that time. Enter another time.",
            field="moved_at",
            code="other_fill",
        )
    return link


def refuse_unbalanced_source(
    fill: Fill, *, was_out: float, out: float, field: str = "volume_hl"
) -> None:
    """Refuse more out of a vessel than was in it, and beer of an emptied one unaccounted for."""
    left, spare = left_in(fill), fill.volume_hl * TOLERANCE
    if out > was_out and out > left + was_out + spare:
        with told():
            raise Refusal(
                f"More would leave {fill.vessel.name} than was in it: {digits(out, '.4g')} hL of "
                f"{digits(left + was_out, '.4g')} hL. Check the volume and the loss.",
                field=field,
                code="unbalanced",
            )
    refuse_unaccounted(fill, before=left, after=left + was_out - out, field=field)


def refuse_unaccounted(fill: Fill, *, before: float, after: float, field: str) -> None:
    """Refuse that an emptied vessel whose beer was accounted for no longer is."""
    spare = fill.volume_hl * TOLERANCE
    if hasattr(fill, "emptying") and before <= spare < after:
        with told():
            raise Refusal(
                f"{fill.vessel.name} was emptied, and {digits(after, '.3g')} hL of it would not "
                "be accounted "
                "for. Correct the volume, or enter the loss.",
                field=field,
                code="unbalanced",
            )


def refuse_unbalanced_target(fill: Fill, vessel: Vessel, volume_hl: float) -> None:
    """Refuse less into a vessel than went out of it, and more than fits."""
    if volume_hl > vessel.volume_hl * 1.0001:
        with told():
            raise Refusal(
                f"{vessel.name} takes {digits(vessel.volume_hl, 'g')} hL. "
                f"{digits(volume_hl, 'g')} hL do not fit.",
                field="volume_hl",
            )
    left = left_in(fill)
    after = left + volume_hl - fill.volume_hl
    if volume_hl < fill.volume_hl and after < -volume_hl * TOLERANCE:
        with told():
            raise Refusal(
                f"More left {vessel.name} than would have arrived: "
                f"{digits(fill.volume_hl - left, '.4g')} hL of "
                f"{digits(volume_hl, '.4g')} hL. Correct what left it first.",
                field="volume_hl",
                code="unbalanced",
            )
    refuse_unaccounted(fill, before=left, after=after, field="volume_hl")


def refuse_impossible_time(movement: Movement, moment: datetime) -> None:
    """Refuse a time after what came of it, or before its vessel was released or decided on."""
    if (fill := movement.to_fill) is not None:
        _refuse_time_of_fill(fill, moment)
    if (lot := movement.to_lot) is not None:
        day = timezone.localdate(moment)
        shipped = lot.shipments.order_by("shipped_on").first()
        if shipped is not None and day > shipped.shipped_on:
            raise Refusal(
                f"Lot {lot.number} was shipped before that. Enter an earlier time.",
                field="moved_at",
                code="shipped",
            )
        if lot.best_before is not None and day > lot.best_before:
            raise Refusal(
                f"Lot {lot.number} is best before {lot.best_before}. Enter an earlier time.",
                field="moved_at",
            )
    dump = getattr(movement, "dump", None)
    if (
        dump is not None
        and dump.decision is not None
        and moment + MINUTE <= dump.decision.decided_at
    ):
        raise Refusal(
            "It was still held at that time. Enter a time after the decision.",
            field="moved_at",
            code="held",
        )


def _refuse_time_of_fill(fill: Fill, moment: datetime) -> None:
    touched = Movement.objects.filter(from_fill=fill) | Movement.objects.filter(to_fill=fill)
    after = touched.exclude(to_fill=fill, kind__in=FILLING_KINDS).order_by("moved_at").first()
    if after is not None and moment > after.moved_at:
        at = timezone.localtime(after.moved_at)
        with told():
            raise Refusal(
                f"{fill.vessel.name} was full at {shown_moment(at, 'H:i')} on "
                f"{shown_moment(at, 'j M Y')}: something was "
                f"{after.get_kind_display()}. Enter an earlier time.",
                field="moved_at",
                code="too_late",
            )
    emptying = getattr(fill, "emptying", None)
    if emptying is not None and moment > emptying.emptied_at:
        raise Refusal(
            f"{fill.vessel.name} was emptied before that. Enter an earlier time.",
            field="moved_at",
            code="too_late",
        )
    turnaround = Turnaround.objects.filter(closing_fill=fill).first()
    if turnaround is None:
        return
    opened = turnaround.opened_at.replace(second=0, microsecond=0)
    if moment < opened or not (fill.without_release or _was_released(turnaround, moment)):
        raise Refusal(
            f"{fill.vessel.name} was not released at that time. Enter another time.",
            field="moved_at",
            code="not_released",
        )


def _was_released(turnaround: Turnaround, moment: datetime) -> bool:
    """Whether a release stood at a time; times are typed to the minute. 4 queries."""
    decided = turnaround.decisions.filter(decided_at__lt=moment + MINUTE).order_by("-pk").first()
    if decided is not None:
        since, ends = decided.decided_at, decided.lapses_at
        if decided.outcome != Outcome.RELEASE or ends is None or ends < moment:
            return False
    else:
        start = start_of(turnaround)
        if start is None or not start.on_paper or start.released_at is None:
            return False
        since = start.released_at
        if moment + MINUTE <= since:
            return False
    opened = turnaround.openings.filter(opened_at__gte=since, opened_at__lt=moment)
    cleaned = turnaround.cleans.filter(started_at__gte=since, started_at__lt=moment)
    return not opened.exists() and not cleaned.exclude(purpose=CleanPurpose.BEFORE_FILLING).exists()


def other_vessel(fill: Fill, vessel: Vessel, moment: datetime) -> Turnaround:
    """The turnaround of the vessel that was really filled; refused where it was not released."""
    if hasattr(fill, "emptying"):
        raise Refusal(
            f"{fill.vessel.name} was emptied since, so that it was full. Choose it again.",
            field="to_vessel",
            code="emptied",
        )
    turnaround = vessel.turnarounds.filter(closed_at__isnull=True).first()
    # As it was known then: a plate that grew since did not keep anybody from filling it.
    if turnaround is None or not _was_released(turnaround, moment):
        raise Refusal(
            f"{vessel.name} was not released at that time. Choose another vessel.",
            field="to_vessel",
            code="not_released",
        )
    if turnaround.cleans.filter(started_at__gt=moment).exists():
        raise Refusal(
            f"{vessel.name} was cleaned after that time, so that it was not full. Choose another "
            "vessel.",
            field="to_vessel",
            code="cleaned_since",
        )
    return turnaround


def refuse_circle(fills: list[Fill], batch: Batch) -> None:
    """Refuse a batch that would come of itself, by a blend or by yeast."""
    outside = BatchFill.objects.exclude(fill__in=fills).select_related("batch")
    parents: list[Batch | YeastCrop] = [
        link.batch
        for link in outside.filter(
            fill__in=[move.from_fill_id for fill in fills for move in feeds(fill)]
        )
        if link.batch != batch
    ]
    pitched = Movement.objects.filter(to_fill__in=fills, kind=MovementKind.PITCH)
    parents += [move.from_crop for move in pitched.select_related("from_crop") if move.from_crop]
    out = Movement.objects.filter(from_fill__in=fills)
    blended = out.filter(kind=MovementKind.TRANSFER).values("to_fill")
    children = {link.batch for link in outside.filter(fill__in=blended) if link.batch != batch}
    crops = out.filter(to_crop__isnull=False).values("to_crop")
    with_yeast = Movement.objects.filter(from_crop__in=crops, kind=MovementKind.PITCH)
    children |= {link.batch for link in outside.filter(fill__in=with_yeast.values("to_fill"))}
    own = {link.batch for link in BatchFill.objects.filter(fill__in=fills).select_related("batch")}
    # Its present batch stands for what is moved away from it.
    around = ancestors_of(batch) - own | {batch}
    if any(batch in ancestors_of(parent) for parent in parents) or children & around:
        raise Refusal(
            f"Batch {batch.number} would come of itself. Enter another batch.",
            field="batch",
            code="circle",
        )
