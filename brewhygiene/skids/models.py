"""What solutions come from and go through: skids, cleaning hoses, solution tanks, solutions."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.materials import SEAL_MATERIALS, WALL_MATERIALS, Material
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.regimes.models import Agent, Basis, Quantity


class SkidKind(models.TextChoices):
    SKID = "skid", "CIP skid"
    PORTABLE = "portable", "portable skid"
    HOSE = "hose", "cleaning hose"


class Skid(SetUp):
    """A skid or a cleaning hose: it carries what it last carried to the next vessel."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=40, unique=True)
    sort_key = SortKeyField()
    kind = models.CharField(max_length=10, choices=SkidKind.choices)
    material = models.CharField(
        max_length=20, choices=WALL_MATERIALS, default=Material.STAINLESS_304
    )
    seal_material = models.CharField(
        max_length=20, choices=SEAL_MATERIALS, default=Material.UNKNOWN
    )
    volume_hl = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.001), MaxValueValidator(1000)],
        help_text="Of its circuit, without tanks.",
    )
    active = models.BooleanField(default=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["sort_key"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_hose(self) -> bool:
        return self.kind == SkidKind.HOSE


class SolutionTank(SetUp):
    """A tank of a skid, and the rule by which its solution is dumped."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=40, unique=True)
    sort_key = SortKeyField()
    skid = models.ForeignKey(Skid, on_delete=models.PROTECT, related_name="skid_tanks")
    material = models.CharField(
        max_length=20, choices=WALL_MATERIALS, default=Material.STAINLESS_304
    )
    volume_hl = models.FloatField(validators=[MinValueValidator(0.001), MaxValueValidator(1000)])
    most_uses = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    most_days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    most_carbonate_percent = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Share of the alkalinity that is no longer hydroxide, %.",
    )
    dump_soiled = models.BooleanField(default=True, help_text="Dump once soil is seen in it.")
    may_explain = models.BooleanField(
        default=False, help_text="Whether a step may use it past its rule, with a reason."
    )
    rule_source = models.CharField(max_length=200)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["sort_key"]
        constraints = [
            models.CheckConstraint(condition=~Q(rule_source=""), name="dump_rule_has_source"),
        ]

    def __str__(self) -> str:
        return self.name


class DumpReason(models.TextChoices):
    """Why a solution was dumped."""

    RENEWED = "renewed", "to be renewed"
    RULE = "rule", "past its dump rule"
    SOILED = "soiled", "soil seen in it"
    CARRIED = "carried", "took back allergens or a mixed culture"
    OTHER = "other", "another reason"


class Solution(Evidence):
    """One make-up of a tank: a thing with a history, until it is dumped."""

    set_once = frozenset({"dumped_at", "dumped_by", "dump_reason", "dump_note"})

    tank = models.ForeignKey(SolutionTank, on_delete=models.PROTECT, related_name="made_solutions")
    agent = models.ForeignKey(Agent, on_delete=models.PROTECT, related_name="+")
    agent_lot = models.CharField(max_length=40)
    amount_kg = models.FloatField(null=True, blank=True, help_text="Of the agent as supplied.")
    volume_l = models.FloatField()
    strength = models.FloatField()
    basis = models.CharField(max_length=5, choices=Basis.choices)
    source = models.CharField(max_length=12, choices=ValueSource.choices)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    dumped_at = models.DateTimeField(null=True, blank=True)
    dumped_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    dump_reason = models.CharField(max_length=10, choices=DumpReason.choices, blank=True)
    dump_note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["tank"], condition=Q(dumped_at__isnull=True), name="one_solution_in_a_tank"
            ),
            models.CheckConstraint(
                condition=Q(volume_l__gt=0, strength__gt=0) & ~Q(agent_lot=""),
                name="solution_is_made_of_something",
            ),
            models.CheckConstraint(
                condition=Q(dumped_at__isnull=True, dumped_by__isnull=True, dump_reason="")
                | Q(dumped_at__isnull=False, dumped_by__isnull=False) & ~Q(dump_reason=""),
                name="dumped_solution_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.agent.name} in {self.tank.name}"


class SolutionCheck(Evidence):
    """What was read or seen of a solution: strength, carbonate, temperature, soil."""

    solution = models.ForeignKey(Solution, on_delete=models.PROTECT, related_name="solution_checks")
    strength = models.FloatField(null=True, blank=True)
    basis = models.CharField(max_length=5, choices=Basis.choices, blank=True)
    carbonate_wv = models.FloatField(null=True, blank=True, help_text="% w/v.")
    carbonate_percent = models.FloatField(
        null=True, blank=True, help_text="Share of the alkalinity that is no longer hydroxide, %."
    )
    temperature_c = models.FloatField(null=True, blank=True)
    soiled = models.BooleanField(null=True, blank=True)
    titration = models.JSONField(
        null=True, blank=True, help_text="Volumes and titrant, where it was titrated."
    )
    source = models.CharField(max_length=12, choices=ValueSource.choices)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(strength__isnull=True, basis="")
                | Q(strength__isnull=False) & ~Q(basis=""),
                name="solution_strength_has_basis",
            ),
            models.CheckConstraint(
                condition=Q(strength__isnull=False)
                | Q(temperature_c__isnull=False)
                | Q(soiled__isnull=False),
                name="solution_check_says_something",
            ),
        ]

    def __str__(self) -> str:
        return f"reading of {self.solution}"

    @property
    def titrated(self) -> bool:
        return self.titration is not None

    @property
    def source_words(self) -> str:
        return source_words(self.source)


class SolutionTopUp(Evidence):
    """Agent or water added to a solution; its strength is to be read again."""

    solution = models.ForeignKey(
        Solution, on_delete=models.PROTECT, related_name="solution_top_ups"
    )
    amount_kg = models.FloatField(null=True, blank=True, help_text="Of the agent as supplied.")
    agent_lot = models.CharField(max_length=40, blank=True)
    water_l = models.FloatField(null=True, blank=True)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount_kg__gt=0) & ~Q(agent_lot="") | Q(water_l__gt=0),
                name="top_up_is_something",
            ),
        ]

    def __str__(self) -> str:
        return f"top-up of {self.solution}"


class GearRinse(Evidence):
    """A rinse of a skid, a hose or a solution tank by itself, proved by what was read of it."""

    skid = models.ForeignKey(
        Skid, null=True, blank=True, on_delete=models.PROTECT, related_name="gear_rinses"
    )
    tank = models.ForeignKey(
        SolutionTank, null=True, blank=True, on_delete=models.PROTECT, related_name="gear_rinses"
    )
    quantity = models.CharField(max_length=20, choices=Quantity.choices)
    value = models.FloatField()
    supply_value = models.FloatField()
    source = models.CharField(max_length=12, choices=ValueSource.choices)
    rinsed_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(skid__isnull=True, tank__isnull=False)
                | Q(skid__isnull=False, tank__isnull=True),
                name="rinse_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"rinse of {self.skid or self.tank}"
