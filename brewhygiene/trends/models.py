"""What the charts keep so that they need not be worked out again: no record, and rebuildable."""

from django.db import models

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.places import Rebuildable


class PointStanding(Rebuildable):
    """How the control chart of one point on one scale stands after its latest reading.

    Worked out from the records whenever a reading, a phase or a piece of work came in since;
    emptying the table loses nothing. Centre, spread, EWMA and CUSUM are of log10(RLU+1).
    """

    point = models.ForeignKey(SamplingPoint, on_delete=models.CASCADE, related_name="standings")
    meter = models.ForeignKey(Meter, on_delete=models.CASCADE, related_name="+")
    atp_test = models.ForeignKey(AtpTest, on_delete=models.CASCADE, related_name="+")
    last_result = models.ForeignKey(Result, on_delete=models.CASCADE, related_name="+")
    seen = models.CharField(
        max_length=64, help_text="What it was worked out from; another value means do it again."
    )
    readings = models.PositiveIntegerField(help_text="In the present phase.")
    phase_began_at = models.DateTimeField()
    centre = models.FloatField(null=True, blank=True, help_text="None: too few readings yet.")
    sigma = models.FloatField(null=True, blank=True)
    ewma = models.FloatField(null=True, blank=True)
    cusum_high = models.FloatField(null=True, blank=True, help_text="In sigmas.")
    evidence = models.FloatField(
        default=0, help_text="How far above its limit the strongest signal of getting worse is."
    )
    rule = models.CharField(max_length=40, blank=True, help_text="The rule that signals now.")
    since = models.DateTimeField(null=True, blank=True)
    cleans_since = models.PositiveIntegerField(default=0)
    worked_out_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["point", "meter", "atp_test"], name="one_standing_per_scale"
            )
        ]
        indexes = [models.Index(fields=["-evidence"], name="standing_by_evidence")]

    def __str__(self) -> str:
        return f"{self.point}: {self.rule or 'steady'}"
