"""Vessels, their sampling points, beers, fills and emptyings."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.allergens import words_of
from brewhygiene.cellar.cultures import CultureUse
from brewhygiene.cellar.materials import (
    HALF_KNOWN,
    SEAL_MATERIALS,
    SPRAY_MATERIALS,
    WALL_MATERIALS,
    Material,
)
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField
from brewhygiene.quantities.words import BEFORE_RECORD


class VesselKind(models.TextChoices):
    FERMENTER = "fermenter", "fermenter"
    BRIGHT_TANK = "bright_tank", "bright tank"
    MIXING_TANK = "mixing_tank", "mixing tank"
    LIQUOR_TANK = "liquor_tank", "liquor tank"
    YEAST_VESSEL = "yeast_vessel", "yeast vessel"
    SERVING_TANK = "serving_tank", "serving tank"
    KEG = "keg", "keg"
    KEG_LINE = "keg_line", "keg line"
    FILLER = "filler", "filler"
    DRAUGHT_LINE = "draught_line", "draught line"
    HEAT_EXCHANGER = "heat_exchanger", "heat exchanger"
    HOSE_SET = "hose_set", "hose set"
    DRY_HOP_GEAR = "dry_hop_gear", "dry-hop gear"


# What beer and yeast go through; it contains none afterwards.
GONE_THROUGH = (
    VesselKind.HEAT_EXCHANGER,
    VesselKind.HOSE_SET,
    VesselKind.FILLER,
    VesselKind.KEG_LINE,
    VesselKind.DRY_HOP_GEAR,
)


class SprayDevice(models.TextChoices):
    NONE = "none", "none (filled or circulated)"
    STATIC_BALL = "static_ball", "static spray ball"
    ROTARY_SPRAY = "rotary_spray", "rotary spray head"
    ROTARY_JET = "rotary_jet", "rotary jet head"


class CleanLevel(models.IntegerChoices):
    """How much a clean must do; a regime has one, and everything asks for one."""

    LIGHT = 1, "light (acid or rinse only)"
    ORDINARY = 2, "ordinary"
    STRONG = 3, "strong (hot, opened and hand-cleaned)"


class HoldClock(SetUp):
    """The three hold times of one kind of vessel, in hours.

    Defaults 24, 24 and 4 h: Craft Brewer's Guide to Best Practices vol. 2 (Master Brewers /
    ASBC), one author's rule of thumb; the site sets its own.
    """

    vessel_kind = models.CharField(max_length=20, choices=VesselKind.choices, unique=True)
    dirty_hold_h = models.FloatField(default=24, validators=[MinValueValidator(0.25)])
    clean_hold_h = models.FloatField(default=24, validators=[MinValueValidator(0.25)])
    sanitised_hold_h = models.FloatField(default=4, validators=[MinValueValidator(0.25)])

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(dirty_hold_h__gt=0, clean_hold_h__gt=0, sanitised_hold_h__gt=0),
                name="hold_clocks_positive",
            )
        ]

    def __str__(self) -> str:
        return f"hold times of a {self.get_vessel_kind_display()}"


class Vessel(SetUp):
    """Anything cleaned as one."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=40, unique=True)
    sort_key = SortKeyField()
    kind = models.CharField(max_length=20, choices=VesselKind.choices)
    volume_hl = models.FloatField(validators=[MinValueValidator(0.001), MaxValueValidator(10_000)])
    diameter_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.005), MaxValueValidator(15)]
    )
    spray_device = models.CharField(
        max_length=20, choices=SprayDevice.choices, default=SprayDevice.STATIC_BALL
    )
    material = models.CharField(
        max_length=20, choices=WALL_MATERIALS, default=Material.STAINLESS_304
    )
    seal_material = models.CharField(
        max_length=20, choices=SEAL_MATERIALS, default=Material.UNKNOWN
    )
    spray_device_material = models.CharField(
        max_length=20, choices=SPRAY_MATERIALS, default=Material.UNKNOWN
    )
    pressure_rating_bar = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(20)]
    )
    vacuum_rating_mbar = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(1013)],
        help_text="Allowed underpressure, mbar below ambient. 0 means none.",
    )
    vacuum_valve = models.BooleanField(
        default=True, help_text="Whether a vacuum valve is fitted, which is lifted before a clean."
    )
    solution_l = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.1), MaxValueValidator(1_000_000)],
        help_text="Volume of one cleaning solution in the circuit, L.",
    )
    least_level = models.PositiveSmallIntegerField(
        choices=CleanLevel.choices,
        default=CleanLevel.ORDINARY,
        help_text="Minimum clean of this vessel.",
    )
    culture_use = models.CharField(
        max_length=6,
        choices=CultureUse.choices,
        default=CultureUse.EITHER,
        help_text="Which beers may go into it, or through it.",
    )
    default_regime = models.ForeignKey(
        "brewhygiene.Regime",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="Used where several regimes fit.",
    )
    acid_every_n = models.PositiveSmallIntegerField(
        default=5,
        validators=[MinValueValidator(1)],
        help_text="An acid step at least every n-th clean, against beerstone.",
    )
    caustic_every_n = models.PositiveSmallIntegerField(
        default=10,
        validators=[MinValueValidator(1)],
        help_text="A caustic step at least every n-th clean, where acid-only is usual.",
    )
    # Days at most between two cleans, and two with acid; empty where the kind's own count.
    clean_within_days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)]
    )
    acid_within_days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1)]
    )
    photo = models.ImageField(upload_to="vessels/", blank=True)
    note = models.TextField(blank=True)
    out_of_service_since = models.DateTimeField(null=True, blank=True)
    out_of_service_reason = models.CharField(max_length=200, blank=True)
    order = models.PositiveSmallIntegerField(default=0, help_text="Place on the board.")

    class Meta:
        ordering = ["order", "sort_key"]
        constraints = [
            models.CheckConstraint(condition=Q(volume_hl__gt=0), name="vessel_volume_positive"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def unknown_materials(self) -> list[str]:
        """The parts whose material is not known, or only half."""
        parts = [("vessel", self.material), ("seals", self.seal_material)]
        if self.spray_device != SprayDevice.NONE:
            parts.append(("spray device", self.spray_device_material))
        return [part for part, made_of in parts if made_of in HALF_KNOWN]


class SampleKind(models.TextChoices):
    RINSE = "rinse", "rinse"
    SURFACE = "surface", "surface"


class SamplingPoint(SetUp):
    """A named place on a vessel that is swabbed or whose rinse is sampled."""

    vessel = models.ForeignKey(Vessel, on_delete=models.CASCADE, related_name="points")
    name = models.CharField(max_length=60)
    sample_kind = models.CharField(max_length=10, choices=SampleKind.choices)
    area_cm2 = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(10_000)],
        help_text="Swabbed area, for a surface sample. 100 cm² is 10 × 10 cm.",
    )
    moment = models.CharField(
        max_length=20, choices=SamplingMoment.choices, default=SamplingMoment.UNKNOWN
    )
    required_for_release = models.BooleanField(default=True)
    where_to_find = models.CharField(max_length=200, blank=True)
    photo = models.ImageField(upload_to="points/", blank=True)
    order = models.PositiveSmallIntegerField(default=0)
    active = models.BooleanField(default=True)
    code = models.CharField(
        max_length=12, unique=True, help_text="On the printed label. Never used twice."
    )

    class Meta:
        ordering = ["order", "id"]
        constraints = [
            models.UniqueConstraint(fields=["vessel", "name"], name="point_name_once_per_vessel"),
            models.CheckConstraint(
                condition=~Q(sample_kind="surface") | Q(area_cm2__gt=0),
                name="surface_point_has_area",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vessel.name}, {self.name}"


class Beer(SetUp):
    """A beer, with what it asks of the clean after it and of the clean before it."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=60, unique=True)
    sort_key = SortKeyField()
    sour_or_mixed = models.BooleanField(
        default=False,
        verbose_name="sour or mixed culture",
        help_text="Lactics, Brettanomyces or a mixed culture. A kettle sour is ordinary.",
    )
    diastatic = models.BooleanField(default=False, verbose_name="diastatic yeast")
    fruit_or_heavy_hops = models.BooleanField(
        default=False, verbose_name="fruit or heavy dry hop", help_text="May block a spray device."
    )
    allergens = models.JSONField(
        default=list, blank=True, help_text="Codes of the closed list, in its order."
    )
    allergen = models.CharField(
        max_length=100,
        blank=True,
        verbose_name="note on allergens",
        help_text="In words: another allergen, or where it is from.",
    )
    strict_before = models.BooleanField(
        default=False,
        verbose_name="needs a strong clean before it",
        help_text="E.g. a beer without alcohol, or one sold as free of an allergen.",
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["sort_key"]

    def __str__(self) -> str:
        return self.name

    @property
    def allergen_words(self) -> str:
        """As 'milk and nuts, Madagascan vanilla'; empty where there is none."""
        return ", ".join(filter(None, [words_of(self.allergens), self.allergen]))


class Fill(Evidence):
    """A vessel filled with a beer."""

    # As its batch, or the movement that filled it, is corrected.
    may_change = frozenset({"batch", "beer", "vessel", "volume_hl", "filled_at"})

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="fills")
    beer = models.ForeignKey(Beer, on_delete=models.PROTECT, related_name="fills")
    batch = models.CharField(
        max_length=40, blank=True, help_text="Blank where nobody knew it when this record began."
    )
    volume_hl = models.FloatField(validators=[MinValueValidator(0.001)])
    filled_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    before_record = models.BooleanField(
        default=False, help_text="It was in the vessel before this record began."
    )
    without_release = models.BooleanField(default=False)
    without_release_reason = models.TextField(blank=True)
    without_release_signature = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-filled_at", "-id"]
        indexes = [
            models.Index(fields=["vessel", "-filled_at"], name="fill_by_vessel"),
            # The board counts these for every vessel; without it, it reads every fill there was.
            models.Index(
                fields=["vessel"], condition=Q(without_release=True), name="fill_without_release"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(without_release=False)
                | (~Q(without_release_reason="") & Q(without_release_signature__isnull=False)),
                name="fill_without_release_is_signed",
            ),
            models.CheckConstraint(
                condition=~Q(batch="") | Q(before_record=True), name="fill_has_batch"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vessel.name}: {self.beer.name} {self.batch}".rstrip()

    @property
    def words(self) -> str:
        """As 'Pale ale, batch 26-031', with the mark where it is older than this record."""
        batch = f"batch {self.batch}" if self.batch else "batch not known"
        mark = f", {BEFORE_RECORD}" if self.before_record else ""
        return f"{self.beer.name}, {batch}{mark}"


class Emptying(Evidence):
    """A vessel emptied; ``fill`` is what was in it, where that is on record."""

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="emptyings")
    fill = models.OneToOneField(
        Fill, null=True, blank=True, on_delete=models.PROTECT, related_name="emptying"
    )
    beer = models.ForeignKey(
        Beer,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="What it contained. Blank if unknown.",
    )
    emptied_at = models.DateTimeField()
    co2_left = models.BooleanField(default=True, help_text="Whether CO2 was left in the vessel.")
    note = models.TextField(blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-emptied_at", "-id"]
        indexes = [models.Index(fields=["vessel", "-emptied_at"], name="emptying_by_vessel")]

    def __str__(self) -> str:
        return f"{self.vessel.name} emptied"


class PartWorkKind(models.TextChoices):
    GASKET = "gasket", "new gasket"
    VALVE = "valve", "valve rebuilt"
    SPRAY_DEVICE = "spray_device", "spray device cleaned or renewed"
    PUMP = "pump", "supply pump or its setting"
    SURFACE = "surface", "weld, surface or passivation"
    PART = "part", "another part renewed"


class PartWork(Evidence):
    """Work on a vessel's part. What is read at its points afterwards is a new phase."""

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="part_work")
    point = models.ForeignKey(
        SamplingPoint,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="part_work",
        help_text="Blank if the work concerns the whole vessel.",
    )
    kind = models.CharField(max_length=20, choices=PartWorkKind.choices)
    note = models.CharField(max_length=200, blank=True)
    done_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-done_at", "-id"]
        verbose_name_plural = "part work"
        indexes = [models.Index(fields=["vessel", "-done_at"], name="part_work_by_vessel")]

    def __str__(self) -> str:
        return f"{self.point or self.vessel}: {self.get_kind_display()}"
