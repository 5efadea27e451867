"""What a tablet had kept: how it arrived, or why it was set aside."""

from django.db import models

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import User
from brewhygiene.quantities.sources import clock_words


class SetAside(Evidence):
    """One form as it was typed, why it was not taken, and why it is not typed again.

    ``typed`` are pairs of a field's label and what stood in it.
    """

    what = models.CharField(max_length=200)
    page = models.CharField(max_length=300)
    typed = models.JSONField(default=list)
    typed_at = models.DateTimeField(help_text="By the tablet's clock, corrected.")
    refused_because = models.TextField(max_length=2000)
    reason = models.CharField(max_length=300)
    set_aside_at = models.DateTimeField(db_index=True)
    set_aside_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="set_aside_has_reason"),
        ]

    def __str__(self) -> str:
        return self.what


class Arrival(Evidence):
    """What was recorded later than it was typed, since the server could not be reached.

    ``person`` is whose it is recorded as. Where the ``name_stated`` was not verified by a PIN, it
    waits for that person's confirmation; ``delivered_by`` was signed in when it arrived.
    ``provisional`` is the verdict that the tablet gave, ``final`` the one of the server.
    """

    set_once = frozenset({"confirmed_at", "confirmed_by"})

    name = models.CharField(max_length=60, help_text="What was done, as its entry calls it.")
    subject_type = models.CharField(max_length=60)
    subject_id = models.BigIntegerField()
    subject_label = models.CharField(max_length=200)
    aggregate = models.CharField(max_length=80, blank=True, db_index=True)
    page = models.CharField(max_length=300)
    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="arrivals")
    delivered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    typed_at = models.DateTimeField(help_text="By the tablet's clock, corrected.")
    arrived_at = models.DateTimeField()
    offset_s = models.IntegerField(
        default=0, help_text="What the tablet's clock was corrected by, in seconds."
    )
    provisional = models.CharField(max_length=10, blank=True)
    final = models.CharField(max_length=10, blank=True)
    name_stated = models.BooleanField(default=False)
    after_end = models.BooleanField(
        default=False, help_text="Recorded though its clean was finished meanwhile."
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["subject_type", "subject_id"], name="arrival_subject"),
            models.Index(
                fields=["person"],
                condition=models.Q(name_stated=True, confirmed_at__isnull=True),
                name="arrival_to_confirm",
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(confirmed_at__isnull=True)
                | models.Q(name_stated=True, confirmed_by=models.F("person")),
                name="confirmed_by_its_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.subject_label}, typed {self.typed_at:%Y-%m-%d %H:%M}"

    @property
    def unverified(self) -> bool:
        """Whether its name is only stated."""
        return self.name_stated and self.confirmed_at is None

    @property
    def judged_otherwise(self) -> bool:
        """Whether the tablet's verdict was another than the server's."""
        return bool(self.provisional) and self.provisional != self.final

    @property
    def clock_words(self) -> str:
        """What the tablet's clock was put right by; '' within a minute."""
        return clock_words(self.offset_s)
