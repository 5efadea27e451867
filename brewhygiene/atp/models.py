"""Meters, control checks, stick lots, limits and results."""

from datetime import date

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.turnarounds.models import Clean, Turnaround

MAX_RLU = 9_999_999


class Meter(SetUp):
    """A luminometer. Its numbers are on a scale of its own."""

    name = models.CharField(max_length=60, unique=True)
    serial = models.CharField(max_length=60, unique=True)
    scale_note = models.CharField(
        max_length=200, blank=True, help_text="What its scale is, in the maker's words or yours."
    )
    blank_max_rlu = models.PositiveIntegerField(
        default=0, help_text="The most that a blank may read in a control check."
    )
    positive_min_rlu = models.PositiveIntegerField(
        help_text="The least that the positive control may read."
    )
    positive_max_rlu = models.PositiveIntegerField(
        help_text="The most that the positive control may read."
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(positive_min_rlu__lt=F("positive_max_rlu"))
                & Q(blank_max_rlu__lt=F("positive_min_rlu")),
                name="control_ranges_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def blank_within(self, rlu: int) -> bool:
        """Whether a blank's reading, in RLU, passes a control check."""
        return rlu <= self.blank_max_rlu

    def positive_within(self, rlu: int) -> bool:
        """Whether a positive control's reading, in RLU, passes a control check."""
        return self.positive_min_rlu <= rlu <= self.positive_max_rlu


class StickType(SetUp):
    """A kind of stick; limits belong to a meter with one."""

    name = models.CharField(max_length=60, unique=True)
    sample_kind = models.CharField(max_length=10, choices=SampleKind.choices)
    storage = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class StickLot(SetUp):
    """A box of sticks with its date."""

    stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="lots")
    lot = models.CharField(max_length=40)
    expires_on = models.DateField(help_text="The last day on which a stick may be used.")
    received_on = models.DateField(null=True, blank=True)
    storage_note = models.CharField(max_length=200, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["expires_on", "lot"]
        constraints = [models.UniqueConstraint(fields=["stick_type", "lot"], name="stick_lot_once")]

    def __str__(self) -> str:
        return f"{self.stick_type.name} {self.lot}"


class ControlCheck(Evidence):
    """A meter's blank and positive reading, before its day's use."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="control_checks")
    checked_at = models.DateTimeField()
    checked_on = models.DateField(help_text="The brewery's own day.")
    blank_rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    positive_rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    passed = models.BooleanField()
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-checked_at"]
        indexes = [models.Index(fields=["meter", "-checked_at"], name="control_check_by_meter")]

    def __str__(self) -> str:
        return f"{self.meter.name}: {'passed' if self.passed else 'failed'}"


class LimitSource(models.TextChoices):
    MAKER = "maker", "the maker's figure, as a start"
    BASELINE = "baseline", "own clean vessels"
    BRIDGE = "bridge", "bridged from another meter"


class Baseline(Evidence):
    """Readings of clean vessels, chosen so that limits can be worked out from them.

    Which results belong to it follows from its choice and its exclusions; nothing is copied.
    """

    name = models.CharField(max_length=80, unique=True)
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="baselines")
    stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="baselines")
    points = models.ManyToManyField(
        SamplingPoint, blank=True, related_name="baselines", help_text="None chosen means all."
    )
    regimes = models.ManyToManyField(
        "brewhygiene.Regime",
        blank=True,
        related_name="+",
        help_text="Only after cleans by these; none chosen means any.",
    )
    since = models.DateField()
    until = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(condition=Q(since__lte=F("until")), name="baseline_in_order")
        ]

    def __str__(self) -> str:
        return self.name


class BaselineExclusion(Evidence):
    """A result kept out of a baseline, and why. The result itself stands."""

    set_once = frozenset({"readmitted_at", "readmitted_by"})

    baseline = models.ForeignKey(Baseline, on_delete=models.PROTECT, related_name="exclusions")
    result = models.ForeignKey("Result", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    excluded_at = models.DateTimeField()
    excluded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    readmitted_at = models.DateTimeField(null=True, blank=True)
    readmitted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["baseline", "result"],
                condition=Q(readmitted_at__isnull=True),
                name="result_excluded_once",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="exclusion_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.baseline}: without {self.result}"


class Bridge(Evidence):
    """A study of two scales: the same places read with both, in pairs.

    A scale is a meter with a stick type. Once approved, the bridge says how readings of the new
    scale stand beside those of the reference; until then nothing is carried over.
    """

    set_once = frozenset(
        {"log_slope", "log_intercept", "figures", "approved_at", "approval", "retired_at"}
    )

    reference_meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="+")
    reference_stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="+")
    new_meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="bridges")
    new_stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    log_slope = models.FloatField(
        null=True, blank=True, help_text="Of log10(RLU+1) of the new on that of the reference."
    )
    log_intercept = models.FloatField(null=True, blank=True)
    figures = models.JSONField(null=True, blank=True, help_text="The fit as it was approved.")
    approved_at = models.DateTimeField(null=True, blank=True)
    approval = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(reference_meter=F("new_meter"))
                | ~Q(reference_stick_type=F("new_stick_type")),
                name="bridge_joins_two_scales",
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True)
                | (
                    Q(approval__isnull=False)
                    & Q(log_slope__isnull=False)
                    & Q(log_intercept__isnull=False)
                ),
                name="approved_bridge_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reference_meter.name} to {self.new_meter.name}"

    @property
    def joins_charts(self) -> bool:
        """Whether its line holds down to 0: clean places, which charts are full of, read there."""
        return not (self.figures or {}).get("floor_rlu")


class BridgePair(Evidence):
    """One place read with both scales at one time; a side may be missing."""

    may_change = frozenset({"left_out_reason"})

    bridge = models.ForeignKey(Bridge, on_delete=models.PROTECT, related_name="pairs")
    point = models.ForeignKey(
        SamplingPoint, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    reference_rlu = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_RLU)]
    )
    new_rlu = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_RLU)]
    )
    taken_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    left_out_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reference_rlu__isnull=False) | Q(new_rlu__isnull=False),
                name="pair_has_a_side",
            )
        ]

    def __str__(self) -> str:
        return f"{self.reference_rlu} and {self.new_rlu} RLU"


class LimitSet(Evidence):
    """Alert level and action limit of one meter with one stick type, for all points or one."""

    set_once = frozenset({"approved_at", "approval", "retired_at"})

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="limits")
    stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="limits")
    sample_kind = models.CharField(max_length=10, choices=SampleKind.choices)
    point = models.ForeignKey(
        SamplingPoint, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    alert_rlu = models.PositiveIntegerField()
    action_rlu = models.PositiveIntegerField()
    source = models.CharField(max_length=10, choices=LimitSource.choices)
    source_note = models.CharField(max_length=200)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    approval = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    review_on = models.DateField()
    valid_until = models.DateField(
        null=True, blank=True, help_text="The last day on which it judges; open where empty."
    )
    baseline = models.ForeignKey(
        Baseline, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    bridge = models.ForeignKey(
        Bridge, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    figures = models.JSONField(
        null=True, blank=True, help_text="The method and its figures as they stood when proposed."
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["meter", "sample_kind", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(alert_rlu__lte=F("action_rlu")), name="alert_not_above_action"
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True) | Q(approval__isnull=False),
                name="approved_limits_are_signed",
            ),
            models.UniqueConstraint(
                fields=["meter", "stick_type", "sample_kind", "point"],
                condition=Q(approved_at__isnull=False, retired_at__isnull=True),
                name="one_set_in_force_per_point",
            ),
            models.UniqueConstraint(
                fields=["meter", "stick_type", "sample_kind"],
                condition=Q(approved_at__isnull=False, retired_at__isnull=True, point__isnull=True),
                name="one_set_in_force_for_all_points",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter.name}, {self.stick_type.name}: {self.alert_rlu}/{self.action_rlu} RLU"

    def run_out_on(self, day: date) -> bool:
        """Whether its last day was before ``day``, by the brewery's calendar."""
        return self.valid_until is not None and self.valid_until < day


class SampleStage(models.TextChoices):
    AFTER_RINSE = "after_rinse", "after the last rinse"
    AFTER_SANITISER = "after_sanitiser", "after the sanitiser"


class Verdict(models.TextChoices):
    CLEAR = "clear", "clear"
    ALERT = "alert", "alert"
    ACTION = "action", "action"
    UNJUDGED = "unjudged", "unjudged"


class RinseEnd(models.TextChoices):
    TAP = "tap", "rinse reads as the tap does"
    NEUTRAL = "neutral", "rinse pH 6 to 8"
    SANITISER_LEFT = "sanitiser_left", "no-rinse sanitiser drained, not rinsed"
    NOT_CHECKED = "not_checked", "not checked"


class Result(Evidence):
    """One stick read. Never erased: a retest stands beside it, a correction names it."""

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="results")
    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="results"
    )
    point = models.ForeignKey(SamplingPoint, on_delete=models.PROTECT, related_name="results")
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="results")
    stick_lot = models.ForeignKey(StickLot, on_delete=models.PROTECT, related_name="results")
    control_check = models.ForeignKey(
        ControlCheck, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    limits = models.ForeignKey(
        LimitSet, null=True, blank=True, on_delete=models.PROTECT, related_name="results"
    )
    rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    stage = models.CharField(max_length=20, choices=SampleStage.choices)
    rinse_end = models.CharField(max_length=20, choices=RinseEnd.choices)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    client_time = models.DateTimeField(null=True, blank=True)
    retest_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="retests"
    )
    suspected_slip = models.BooleanField(
        default=False, help_text="A touched tip or the like is suspected; the reading stands."
    )
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)
    correction_signature = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["point", "-taken_at"], name="result_by_point"),
            models.Index(fields=["meter", "-taken_at"], name="result_by_meter"),
            models.Index(fields=["-taken_at"], name="result_by_time"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(Q(verdict="unjudged") & Q(limits__isnull=True))
                | (~Q(verdict="unjudged") & Q(limits__isnull=False)),
                name="no_limits_no_verdict",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(correction_reason=""),
                name="result_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.point}: {self.rlu} RLU, {self.verdict}"


class ChartPhase(Evidence):
    """Where the control chart of a point begins anew, and which readings it is set from.

    A chart without one begins with the first reading of its scale. Work on a part and an
    approved set of limits from a baseline begin a phase by themselves.
    """

    point = models.ForeignKey(SamplingPoint, on_delete=models.PROTECT, related_name="chart_phases")
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="+")
    stick_type = models.ForeignKey(StickType, on_delete=models.PROTECT, related_name="+")
    begins_at = models.DateTimeField()
    baseline_until = models.DateTimeField(
        help_text="Centre and spread are worked out from the readings from begins_at until here."
    )
    reason = models.CharField(max_length=200)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["begins_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(begins_at__lt=F("baseline_until")), name="phase_in_order"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="phase_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.point}: {self.reason}"


class Cause(models.TextChoices):
    """What was found to be wrong, in the order in which a brewer looks."""

    GASKET = "gasket", "gasket or seal"
    VALVE = "valve", "valve not pulsed or not opened"
    DEAD_LEG = "dead_leg", "dead leg"
    SHADOW = "shadow", "shadow of the spray device"
    SURFACE = "surface", "weld or surface damaged"
    SPRAY_DEVICE = "spray_device", "spray device blocked or worn"
    FLOW = "flow", "flow or pump setting"
    HEAT = "heat", "temperature lost"
    DRIED_SOIL = "dried_soil", "soil dried on"
    WEAK_SOLUTION = "weak_solution", "solution weak or carbonated"
    WATER = "water", "water"
    REGIME = "regime", "regime not enough for the soil"
    BEERSTONE = "beerstone", "beerstone"
    METER = "meter", "meter"
    STICKS = "sticks", "sticks or their storage"
    SAMPLING = "sampling", "sampling slip"
    NOT_FOUND = "not_found", "looked, nothing found"


class FoundCause(Evidence):
    """What was found behind a reading over a limit or a held vessel."""

    turnaround = models.ForeignKey(
        Turnaround, on_delete=models.PROTECT, related_name="found_causes"
    )
    result = models.ForeignKey(
        Result, null=True, blank=True, on_delete=models.PROTECT, related_name="found_causes"
    )
    cause = models.CharField(max_length=20, choices=Cause.choices)
    note = models.CharField(max_length=200, blank=True)
    found_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["-found_at"], name="found_cause_by_time")]

    def __str__(self) -> str:
        return f"{self.get_cause_display()}: {self.turnaround}"
