"""One vessel's journey from emptied to filled again."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.functional import cached_property

from brewhygiene.cellar.models import Beer, Emptying, Fill, Vessel
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.quantities.style import shown_moment
from brewhygiene.regimes.models import Basis, Quantity, RegimeVersion, Step
from brewhygiene.turnarounds.models.choices import (
    CleanPurpose,
    Outflow,
    ReadingStage,
    WindowVerdict,
)
from brewhygiene.turnarounds.models.circuits import DRAWN_OR_FRESH, DrewFrom, RanOn


class Turnaround(Evidence):
    """From emptied to filled again. Emptying opens one, filling closes it."""

    unbound = frozenset({"revision"})
    # The last two as the filling that closed it is corrected.
    may_change = frozenset({"next_beer", "revision", "closed_at", "closing_fill"})

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="turnarounds")
    emptying = models.OneToOneField(Emptying, on_delete=models.PROTECT, related_name="turnaround")
    next_beer = models.ForeignKey(
        Beer, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closing_fill = models.OneToOneField(
        Fill, null=True, blank=True, on_delete=models.PROTECT, related_name="turnaround"
    )
    revision = models.PositiveIntegerField(
        default=0, help_text="Raised by every write, so that a stale decision is refused."
    )

    class Meta:
        ordering = ["-opened_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["vessel"],
                condition=Q(closed_at__isnull=True),
                name="one_open_turnaround_per_vessel",
            ),
            models.CheckConstraint(
                condition=(Q(closed_at__isnull=True) & Q(closing_fill__isnull=True))
                | (Q(closed_at__isnull=False) & Q(closing_fill__isnull=False)),
                name="turnaround_closed_by_a_fill",
            ),
        ]
        indexes = [
            models.Index(fields=["vessel", "-opened_at"], name="turnaround_by_vessel"),
            models.Index(fields=["-opened_at"], name="turnaround_by_time"),
        ]

    def __str__(self) -> str:
        return f"{self.vessel.name}, turnaround {self.pk}"


class Clean(RanOn, Evidence):
    """One execution of a regime version on a vessel."""

    set_once = frozenset(
        {"finished_at", "finished_by", "sanitised_at", "stopped_at", "stop_reason"}
    )
    # For the steps to come; each step keeps what it ran on.
    may_change = frozenset({"skid", "hose"})

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="cleans")
    version = models.ForeignKey(RegimeVersion, on_delete=models.PROTECT, related_name="cleans")
    purpose = models.CharField(
        max_length=10, choices=CleanPurpose.choices, default=CleanPurpose.CLEAN
    )
    proposed_regime = models.CharField(max_length=80, blank=True)
    proposal_reasons = models.JSONField(default=list, blank=True)
    required_level = models.PositiveSmallIntegerField(default=1)
    weaker_reason = models.TextField(
        blank=True, help_text="Why a regime weaker than the proposed one was chosen."
    )
    carried = models.JSONField(
        default=dict,
        blank=True,
        help_text="Allergens that the vessel carried at its start, and the beer of each.",
    )
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    finished_at = models.DateTimeField(null=True, blank=True)
    finished_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    sanitised_at = models.DateTimeField(
        null=True, blank=True, help_text="When its last sanitising step ended."
    )
    stopped_at = models.DateTimeField(null=True, blank=True)
    stop_reason = models.TextField(blank=True)
    entered_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When it was entered, where that was after it had been done.",
    )
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entered_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["turnaround"],
                condition=Q(finished_at__isnull=True, stopped_at__isnull=True),
                name="one_running_clean_per_turnaround",
            ),
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(stopped_at__isnull=True),
                name="clean_finished_or_stopped",
            ),
            models.CheckConstraint(
                condition=Q(entered_at__isnull=True)
                | (Q(entered_by__isnull=False) & ~Q(entered_reason="")),
                name="clean_entered_afterwards_has_reason",
            ),
        ]
        indexes = [models.Index(fields=["-started_at"], name="clean_by_time")]

    def __str__(self) -> str:
        return f"{self.turnaround.vessel.name}, {self.version}"

    @cached_property
    def earlier_records(self) -> "list[StepRecord]":
        """The step records of the cleans before it, with agents, windows and readings.

        1 query, once, and 2 more where there are any: while a clean runs, no other of its
        turnaround does.
        """
        return list(
            StepRecord.objects.filter(clean__turnaround=self.turnaround_id, clean__lt=self.pk)
            .select_related("step__agent")
            .prefetch_related("step__windows", "readings")
            .order_by("pk")
        )

    @property
    def afterwards_words(self) -> str:
        """The mark of a clean that was entered after it had been done; '' of any other."""
        if self.entered_at is None:
            return ""
        on = shown_moment(timezone.localtime(self.entered_at), "j F Y, H:i")
        return f"Entered afterwards by {self.entered_by} on {on}: {self.entered_reason}"

    @property
    def running(self) -> bool:
        return self.finished_at is None and self.stopped_at is None


class SafetyAcknowledgement(Evidence):
    """Who said, before a step on this vessel, that each caution is heeded."""

    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="acknowledgements"
    )
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="+")
    codes = models.JSONField(help_text="Codes of the cautions acknowledged.")
    texts = models.JSONField(help_text="Their wording as it was shown.")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    acknowledged_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"safety checks of {self.step}"


class StepRecord(RanOn, DrewFrom, Evidence):
    """One attempt at one step. A step that was left out has a record that says so."""

    set_once = frozenset(
        {
            "ended_at",
            "ended_by",
            "end_criterion_met",
            "agent_lot",
            "outflow",
            "note",
            "observations",
        }
    )

    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="step_records"
    )
    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="records")
    attempt = models.PositiveSmallIntegerField(default=1)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    extends = models.OneToOneField(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="extended_by",
        help_text="The attempt that this one prolongs; their minutes count together.",
    )
    left_out = models.BooleanField(default=False)
    stated_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When its start and end were stated, where it ran without the timer.",
    )
    end_criterion_met = models.BooleanField(null=True, blank=True)
    agent_lot = models.CharField(max_length=40, blank=True)
    outflow = models.CharField(
        max_length=8, choices=Outflow.choices, blank=True, help_text="Blank if not asked."
    )
    note = models.TextField(blank=True)
    observations = models.JSONField(
        null=True,
        blank=True,
        help_text="What was observed at its end: yes or no, a note and a photo of each.",
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["clean", "step", "attempt"], name="attempt_once"),
            models.UniqueConstraint(
                fields=["clean"], condition=Q(ended_at__isnull=True), name="one_running_step"
            ),
            DRAWN_OR_FRESH,
        ]

    def __str__(self) -> str:
        return f"{self.step} of {self.clean}"


# What a logger file may have, so that reading it never keeps the server from the cellar.
LARGEST_TRACE_BYTES = 64_000_000


class LoggerMapping(SetUp):
    """How a logger's columns are read; made once, used for every file of that logger."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=60, unique=True)
    sort_key = SortKeyField()
    mapping = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["sort_key"]

    def __str__(self) -> str:
        return self.name


class LoggerFile(Evidence):
    """A clean's logger file, kept as it came, and what it says."""

    may_change = frozenset({"mapping", "evaluation"})

    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="logger_files"
    )
    file = models.FileField(upload_to="traces/")
    original_name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    mapping = models.JSONField()
    evaluation = models.JSONField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["clean", "sha256"], name="trace_once_per_clean")
        ]

    def __str__(self) -> str:
        return self.original_name


class StepReading(Evidence):
    """One reading of one quantity in a step, in the unit of the quantity's name."""

    record = models.ForeignKey(StepRecord, on_delete=models.PROTECT, related_name="readings")
    quantity = models.CharField(max_length=20, choices=Quantity.choices)
    stage = models.CharField(
        max_length=10, choices=ReadingStage.choices, default=ReadingStage.RETURN
    )
    value = models.FloatField()
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty in rows older than this column.",
    )
    basis = models.CharField(max_length=5, choices=Basis.choices, blank=True)
    typed = models.CharField(max_length=60, help_text="As it was typed, with its unit.")
    titration = models.JSONField(
        null=True,
        blank=True,
        help_text="Volumes and titrant, where the strength was titrated.",
    )
    logger_file = models.ForeignKey(
        LoggerFile,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="readings",
        help_text="The logger file that it was worked out from.",
    )
    method = models.CharField(
        max_length=200,
        blank=True,
        help_text="How it was worked out from the logger file.",
    )
    below = models.JSONField(
        null=True,
        blank=True,
        help_text="Of a flow in a logger file: from when until when it was below its window.",
    )
    judged_value = models.FloatField(
        null=True, blank=True, help_text="The value on the window's basis."
    )
    verdict = models.CharField(max_length=10, choices=WindowVerdict.choices)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    client_time = models.DateTimeField(null=True, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(quantity="concentration") & ~Q(basis=""))
                | (~Q(quantity="concentration") & Q(basis="")),
                name="strength_reading_has_basis",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(correction_reason=""),
                name="reading_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        # "pH 7" names its quantity already.
        shown = self.typed
        return shown if self.quantity == Quantity.PH else f"{self.get_quantity_display()} {shown}"

    @property
    def source_words(self) -> str:
        return source_words(self.source, taken_at=self.taken_at, tablet_at=self.client_time)


class VesselOpening(Evidence):
    """A cleaned vessel opened again: whatever was released is void."""

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="openings")
    opened_at = models.DateTimeField()
    reason = models.CharField(max_length=200)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.turnaround.vessel.name} opened"
