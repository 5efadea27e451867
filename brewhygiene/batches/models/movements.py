"""What moved when, from where to where, and everything that it touched on its way."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.places import Evidence

MOST_ADDED = 200


class MovementKind(models.TextChoices):
    BREW = "brew", "brewed into"
    UNKNOWN = "unknown", "filled, source not recorded"
    STOOD = "stood", "in it before this record began"
    RECEIVE = "receive", "received"
    PITCH = "pitch", "pitched"
    CROP = "crop", "cropped"
    TRANSFER = "transfer", "transferred"
    PACKAGE = "package", "packaged"
    DRY_HOP = "dry_hop", "dry-hopped"
    DUMP = "dump", "dumped"
    VOID = "void", "taken back by a correction"


class Movement(Evidence):
    """Beer or yeast that went from one place to another.

    ``volume_hl`` is what arrived, ``loss_hl`` what was lost on the way; together they left the
    source. No volume means that it was not recorded.
    """

    # As it, or its lot, is corrected: what it was before stays with the correction.
    may_change = frozenset({"kind", "moved_at", "from_fill", "volume_hl", "loss_hl", "loss_reason"})

    kind = models.CharField(max_length=10, choices=MovementKind.choices)
    moved_at = models.DateTimeField()
    from_fill = models.ForeignKey(
        Fill, null=True, blank=True, on_delete=models.PROTECT, related_name="moved_out"
    )
    from_crop = models.ForeignKey(
        YeastCrop, null=True, blank=True, on_delete=models.PROTECT, related_name="pitchings"
    )
    to_fill = models.ForeignKey(
        Fill, null=True, blank=True, on_delete=models.PROTECT, related_name="moved_in"
    )
    to_crop = models.ForeignKey(
        YeastCrop, null=True, blank=True, on_delete=models.PROTECT, related_name="origins"
    )
    to_lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="origins"
    )
    volume_hl = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    loss_hl = models.FloatField(default=0, validators=[MinValueValidator(0)])
    loss_reason = models.CharField(max_length=200, blank=True)
    added = models.CharField(
        max_length=MOST_ADDED,
        blank=True,
        default="",
        help_text="Hops that were added, with their lot; blank where nothing was.",
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["moved_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(to_fill__isnull=False)
                | Q(to_crop__isnull=False)
                | Q(to_lot__isnull=False)
                | Q(kind="dump"),
                name="movement_goes_somewhere",
            ),
            models.CheckConstraint(
                condition=Q(loss_hl=0) | ~Q(loss_reason=""), name="movement_loss_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.moved_at:%Y-%m-%d %H:%M}"


class Touch(Evidence):
    """One stop on the way of a movement, in order: what was in it, and what it went through."""

    may_change = frozenset({"moved_at", "vessel", "fill"})  # as its movement is corrected

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="touches")
    place = models.PositiveSmallIntegerField(help_text="0 is where it began.")
    moved_at = models.DateTimeField()
    vessel = models.ForeignKey(
        Vessel,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="touches",
        db_index=False,
    )
    fill = models.ForeignKey(
        Fill,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="touches",
        db_index=False,
    )
    crop = models.ForeignKey(
        YeastCrop,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="touches",
        db_index=False,
    )
    lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="touches", db_index=False
    )

    class Meta:
        ordering = ["moved_at", "id"]
        verbose_name_plural = "touches"
        indexes = [
            # The walk of a trace goes from touch to touch by these, and by nothing else.
            models.Index(fields=["vessel", "moved_at", "id"], name="touch_of_vessel"),
            models.Index(fields=["fill", "moved_at", "id"], name="touch_of_fill"),
            models.Index(fields=["crop", "moved_at", "id"], name="touch_of_crop"),
            models.Index(fields=["lot", "moved_at", "id"], name="touch_of_lot"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["movement", "place"], name="one_touch_a_place"),
            models.CheckConstraint(
                condition=Q(
                    vessel__isnull=False, fill__isnull=True, crop__isnull=True, lot__isnull=True
                )
                | Q(vessel__isnull=True, fill__isnull=False, crop__isnull=True, lot__isnull=True)
                | Q(vessel__isnull=True, fill__isnull=True, crop__isnull=False, lot__isnull=True)
                | Q(vessel__isnull=True, fill__isnull=True, crop__isnull=True, lot__isnull=False),
                name="touch_is_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vessel or self.fill or self.crop or self.lot}"
