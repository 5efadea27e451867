"""Signed words on materials: what a label allows, and limits that somebody has seen to."""

from datetime import datetime

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.regimes.models import Agent, RegimeVersion


class MaterialLabel(Evidence):
    """An agent's label or its supplier's letter that allows it on a material it is unfit for."""

    set_once = frozenset({"withdrawn_at", "withdrawn_by", "withdrawal_reason"})

    agent = models.ForeignKey(Agent, on_delete=models.PROTECT, related_name="material_labels")
    material = models.CharField(max_length=20, choices=Material.choices)
    max_strength = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Up to this strength, in the basis of the table of materials. Blank: any.",
    )
    says = models.CharField(max_length=400, help_text="The words of the label that allow it.")
    file = models.FileField(upload_to="labels/")
    original_name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    withdrawal_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-signed_at", "-id"]
        constraints = [
            models.CheckConstraint(condition=~Q(says=""), name="material_label_says_something"),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_by__isnull=True)
                | Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False)
                & ~Q(withdrawal_reason=""),
                name="withdrawn_label_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"label of {self.agent.name} for {Material(self.material).label}"

    def in_force(self, at: datetime | None) -> bool:
        """Whether it counts now, or counted at a moment."""
        if at is None:
            return self.withdrawn_at is None
        return self.signed_at <= at and (self.withdrawn_at is None or at < self.withdrawn_at)

    def allows(self, strength: float | None) -> bool:
        """Whether it covers a strength; one that is not known only where it has no bound."""
        if self.max_strength is None:
            return True
        return strength is not None and strength <= self.max_strength


class SignedLimits(Evidence):
    """Limits of a regime version on a vessel's materials, seen to once and signed."""

    version = models.ForeignKey(RegimeVersion, on_delete=models.PROTECT, related_name="+")
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="+")
    limit_words = models.JSONField(help_text="Each limit, as it was shown.")
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "signed limits"
        indexes = [models.Index(fields=["version", "vessel"], name="signed_limits_of")]

    def __str__(self) -> str:
        return f"limits of {self.version} on {self.vessel.name}"
