"""Cleaning agents, and regimes with their versions, steps and windows."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from brewhygiene.cellar.models import CleanLevel, VesselKind
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField


class AgentKind(models.TextChoices):
    CAUSTIC = "caustic", "caustic"
    ACID = "acid", "acid"
    SANITISER = "sanitiser", "sanitiser"


class ActiveSubstance(models.TextChoices):
    NAOH = "NaOH", "sodium hydroxide, NaOH"
    KOH = "KOH", "potassium hydroxide, KOH"
    HNO3 = "HNO3", "nitric acid, HNO3"
    H3PO4 = "H3PO4", "phosphoric acid, H3PO4"
    HNO3_H3PO4 = "HNO3+H3PO4", "nitric and phosphoric acid blend"
    PAA = "PAA", "peracetic acid"
    H2O2 = "H2O2", "hydrogen peroxide"
    CHLORINE = "chlorine", "hypochlorite, available chlorine"
    IODINE = "iodine", "iodophor, available iodine"
    QUAT = "quat", "quaternary ammonium"


class Basis(models.TextChoices):
    """What a strength is a share of; a strength never goes without one."""

    WW = "ww", "% w/w active"
    WV = "wv", "% w/v active"
    VV = "vv", "% v/v of the product"
    MG_L = "mg_l", "mg/L active"


class Agent(SetUp):
    """A cleaning agent or sanitiser as it comes in the drum."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=80, unique=True)
    sort_key = SortKeyField()
    kind = models.CharField(max_length=10, choices=AgentKind.choices)
    active_substance = models.CharField(max_length=12, choices=ActiveSubstance.choices)
    concentrate_strength_ww = models.FloatField(
        validators=[MinValueValidator(0.01), MaxValueValidator(100)],
        help_text="Active substance in the concentrate, % w/w.",
    )
    concentrate_density_kg_l = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.5), MaxValueValidator(2.5)],
        help_text="From the safety data sheet, kg/L. Needed for a strength in % v/v.",
    )
    equivalent_weight_g = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(500)],
        help_text="Grams of active substance per equivalent of titrant, from the label; "
        "empty for a single substance, whose own is used.",
    )
    hazards = models.TextField(
        blank=True, help_text="As on the safety data sheet; shown where the agent is used."
    )
    sds_reference = models.CharField(
        max_length=200, blank=True, help_text="Where the safety data sheet is kept."
    )
    no_rinse_allowed = models.BooleanField(
        default=False, help_text="Whether it may be left in the vessel without a rinse."
    )
    no_rinse_max_mg_l = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.1)]
    )
    no_rinse_source = models.CharField(max_length=200, blank=True)
    price_kg = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Money per kg of the concentrate.",
    )
    recovered_share = models.FloatField(
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
        help_text="Share of the solution that goes back to its tank after use, 0 to 1.",
    )
    gtin = models.CharField(
        max_length=14, blank=True, help_text="The product's number in its barcode, 14 digits."
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["kind", "sort_key"]
        constraints = [
            models.UniqueConstraint(fields=["gtin"], condition=~Q(gtin=""), name="agent_gtin_once"),
            models.CheckConstraint(
                condition=Q(no_rinse_allowed=False)
                | (Q(no_rinse_max_mg_l__gt=0) & ~Q(no_rinse_source="")),
                name="no_rinse_has_maximum_and_source",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ConductivityCalibration(Evidence):
    """A site's own relation of an agent's titrated strength to its conductivity."""

    set_once = frozenset({"retired_at"})

    agent = models.ForeignKey(Agent, on_delete=models.PROTECT, related_name="calibrations")
    pairs = models.JSONField(
        help_text="Titrated strength, conductivity in mS/cm and temperature in °C, by row."
    )
    fit = models.JSONField(help_text="What was fitted, with its residual and its range.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["agent", "-made_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["agent"],
                condition=Q(retired_at__isnull=True),
                name="one_calibration_in_force",
            )
        ]

    def __str__(self) -> str:
        return f"calibration of {self.agent.name}"


class Regime(SetUp):
    """A way of cleaning, known by name; what it says is in its versions."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=80, unique=True)
    sort_key = SortKeyField()
    vessel_kinds = models.JSONField(default=list, help_text="Kinds of vessel that it is for.")
    level = models.PositiveSmallIntegerField(
        choices=CleanLevel.choices, default=CleanLevel.ORDINARY
    )
    resanitises_only = models.BooleanField(
        default=False, help_text="Rinse and sanitiser only: for a lapsed release, never a clean."
    )
    under_co2 = models.BooleanField(
        default=False, help_text="Run with CO2 left in the vessel; takes no caustic."
    )
    active = models.BooleanField(default=True)
    shipped = models.BooleanField(default=False, help_text="Came with the product as a start.")

    class Meta:
        ordering = ["sort_key"]

    def __str__(self) -> str:
        return self.name

    @property
    def vessel_kind_labels(self) -> list[str]:
        return [VesselKind(kind).label for kind in self.vessel_kinds if kind in VesselKind.values]


class RegimeVersion(SetUp):
    """One wording of a regime. A version that was ever used never changes."""

    regime = models.ForeignKey(Regime, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveSmallIntegerField()
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    change_note = models.CharField(max_length=200, blank=True)
    provenance = models.CharField(max_length=300, blank=True)
    current = models.BooleanField(default=True)

    class Meta:
        ordering = ["regime", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["regime", "number"], name="version_number_once"),
            models.UniqueConstraint(
                fields=["regime"], condition=Q(current=True), name="one_current_version"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.regime.name}, version {self.number}"


class StepKind(models.TextChoices):
    VENT = "vent", "vent and purge"
    PRE_RINSE = "pre_rinse", "pre-rinse"
    HAND_CLEAN = "hand_clean", "open and hand-clean"
    CAUSTIC = "caustic", "caustic"
    ACID = "acid", "acid"
    RINSE = "rinse", "rinse"
    SAMPLE = "sample", "sample"
    SANITISER = "sanitiser", "sanitiser"
    HOT_WATER = "hot_water", "hot water"
    DRAIN = "drain", "drain"


class EndCriterion(models.TextChoices):
    NONE = "", "time only"
    RUNS_CLEAR = "runs_clear", "runs clear"
    NEUTRAL = "neutral", "pH of the rinse 6 to 8"
    TAP_PH = "tap_ph", "same pH as the tap today"
    TAP_CONDUCTIVITY = "tap_conductivity", "same conductivity as the tap today"
    DRAINED = "drained", "nothing left running from the outlet"
    VENTED = "vented", "vented and purged, air path open"
    INSPECTED = "inspected", "opened parts inspected and clean"


class Step(SetUp):
    """One step of a regime version."""

    version = models.ForeignKey(RegimeVersion, on_delete=models.CASCADE, related_name="steps")
    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=StepKind.choices)
    agent = models.ForeignKey(
        Agent, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    instruction = models.CharField(max_length=300, blank=True)
    end_criterion = models.CharField(
        max_length=20, choices=EndCriterion.choices, blank=True, default=EndCriterion.NONE
    )
    end_criterion_source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["order"]
        constraints = [
            models.UniqueConstraint(fields=["version", "order"], name="step_order_once"),
        ]

    def __str__(self) -> str:
        return f"{self.order}. {self.get_kind_display()}"

    def window(self, quantity: str) -> "StepWindow | None":
        """The window of a quantity; reads prefetched windows."""
        return next((w for w in self.windows.all() if w.quantity == quantity), None)


class Quantity(models.TextChoices):
    """What a window bounds and a reading measures; stored in the unit of the name."""

    CONCENTRATION = "concentration", "strength"
    TEMPERATURE_C = "temperature_c", "temperature"
    TIME_MIN = "time_min", "time"
    FLOW_L_MIN = "flow_l_min", "flow"
    VELOCITY_M_S = "velocity_m_s", "line velocity"
    PH = "ph", "pH"
    CONDUCTIVITY_MS_CM = "conductivity_ms_cm", "conductivity"
    CO2_PCT = "co2_pct", "CO2 at the bottom outlet"
    AIR_M3_H = "air_m3_h", "air flow"


# Read while a tank is vented, where either one shows its end; no window bounds them.
VENT_QUANTITIES = (Quantity.CO2_PCT, Quantity.AIR_M3_H)


class StepWindow(SetUp):
    """The window of one quantity of a step: minimum, target, maximum, each optional but one."""

    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="windows")
    quantity = models.CharField(max_length=20, choices=Quantity.choices)
    basis = models.CharField(max_length=5, choices=Basis.choices, blank=True)
    minimum = models.FloatField(null=True, blank=True)
    target = models.FloatField(null=True, blank=True)
    maximum = models.FloatField(null=True, blank=True)
    source = models.CharField(max_length=200)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["step", "quantity"], name="window_once_per_quantity"),
            models.CheckConstraint(
                condition=Q(minimum__isnull=False) | Q(maximum__isnull=False),
                name="window_has_a_bound",
            ),
            models.CheckConstraint(
                condition=Q(minimum__isnull=True)
                | Q(maximum__isnull=True)
                | Q(minimum__lte=F("maximum")),
                name="window_minimum_below_maximum",
            ),
            models.CheckConstraint(
                condition=(Q(quantity="concentration") & ~Q(basis=""))
                | (~Q(quantity="concentration") & Q(basis="")),
                name="strength_window_has_basis",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="window_has_source"),
        ]

    def __str__(self) -> str:
        return f"{self.get_quantity_display()} window"
