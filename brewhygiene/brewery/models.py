"""The one brewery that this installation serves, and its choices."""

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from brewhygiene.ledger.places import SetUp
from brewhygiene.quantities.style import DATES, DECIMALS, Style


class VolumeUnit(models.TextChoices):
    HL = "hL", "hL"
    BBL = "bbl", "US bbl"
    GAL = "gal", "US gal"


class TemperatureUnit(models.TextChoices):
    C = "C", "°C"
    F = "F", "°F"


class FlowUnit(models.TextChoices):
    L_MIN = "L/min", "L/min"
    HL_H = "hL/h", "hL/h"
    GPM = "gpm", "US gpm"


def default_waivable_gates() -> list[str]:
    return ["nothing_over_action", "regime_strength"]


class Brewery(SetUp):
    """Name, time zone, shown units and release policy. One row."""

    name = models.CharField(max_length=120)
    address = models.CharField(max_length=200, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC")
    volume_unit = models.CharField(max_length=4, choices=VolumeUnit.choices, default=VolumeUnit.HL)
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit.choices, default=TemperatureUnit.C
    )
    flow_unit = models.CharField(max_length=5, choices=FlowUnit.choices, default=FlowUnit.L_MIN)
    decimal_sign = models.CharField(
        max_length=1, choices=list(DECIMALS.items()), default=".", help_text="As usually shown."
    )
    date_style = models.CharField(
        max_length=12, choices=list(DATES.items()), default="day_first", help_text="As usual here."
    )
    burette_ml = models.FloatField(
        default=50,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="Volume of the titration burette, mL.",
    )
    currency = models.CharField(max_length=3, default="EUR", help_text="E.g. EUR.")
    water_price_hl = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0)], help_text="Money per hL."
    )
    effluent_price_hl = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0)], help_text="Money per hL."
    )
    load_price_kg_naoh = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Money per kg NaOH equivalent let go.",
    )
    energy_price_kwh = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0)], help_text="Money per kWh bought."
    )
    minute_price = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0)], help_text="Money per minute."
    )
    missed_tank_cost = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Money lost when a dirty vessel is filled.",
    )
    needless_clean_cost = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Money lost when a clean vessel is re-cleaned.",
    )
    supply_water_c = models.FloatField(
        default=12,
        validators=[MinValueValidator(0), MaxValueValidator(40)],
        help_text="Temperature of the water supply, °C.",
    )
    heat_efficiency = models.FloatField(
        default=1,
        validators=[MinValueValidator(0.1), MaxValueValidator(1)],
        help_text="Share of the energy bought that reaches the solution.",
    )
    supply_ph = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(14)],
        help_text="Usual pH of the supply water.",
    )
    supply_conductivity_ms_cm = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(10)],
        help_text="Usual conductivity of the supply water, mS/cm.",
    )
    waivable_gates = models.JSONField(
        default=default_waivable_gates,
        blank=True,
        help_text="Checks that a head brewer can waive with a reason.",
    )
    self_release_allowed = models.BooleanField(
        default=False,
        help_text="Whether a person who cleaned can also release: for a brewery of one.",
    )
    clean_frees_equipment = models.BooleanField(
        default=True,
        help_text="Whether a released clean frees equipment in a trace. If not, a negative plate "
        "does.",
    )
    signs_out_after_min = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        default=15,
        validators=[MinValueValidator(1), MaxValueValidator(240)],
        help_text="Minutes without a touch after which an enrolled tablet signs out.",
    )
    label_address = models.CharField(
        max_length=200,
        blank=True,
        help_text="The server's address on printed labels, or '' for the one it has by itself.",
    )
    is_demo = models.BooleanField(default=False, help_text="Contains an invented brewery.")

    class Meta:
        verbose_name_plural = "brewery"
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_brewery")]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.pk = 1
        super().save(*args, **kwargs)

    @property
    def solution_unit(self) -> str:
        """Solutions go with volumes: litres beside hectolitres, US gallons beside the others."""
        return "L" if self.volume_unit == VolumeUnit.HL else "gal"

    @property
    def style(self) -> Style:
        """How numbers and dates are written on paper, and for whoever chose nothing else."""
        return Style(self.decimal_sign, self.date_style)

    @classmethod
    def current(cls) -> "Brewery":
        """The brewery, or an unsaved one with the defaults before set-up. 1 query."""
        return cls.objects.filter(pk=1).first() or cls(pk=1, name="This brewery")
