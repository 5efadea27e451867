"""What cleaning cost over a stretch of time, per unit of the vessels' volume."""

import dataclasses
from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime

from django.db.models import Q, QuerySet

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.quantities.words import counted
from brewhygiene.turnarounds.cost.report import cost_of, money_words
from brewhygiene.turnarounds.cost.steps import prices_of, shares_of
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records


@dataclasses.dataclass
class VesselCost:
    """The cost of one vessel's cleans: money, the volume cleaned, and how many cleans."""

    money: float = 0.0
    volume_hl: float = 0.0
    cleans: int = 0


@dataclasses.dataclass(frozen=True)
class CleaningCost:
    """The latest ``looked_at`` of ``ended`` cleans, ``costed`` of which have a price.

    ``per_volume`` is money per unit of volume shown at the site, over the costed ones;
    ``partial``, how many of them have an amount that is not known or has no price.
    """

    ended: int
    looked_at: int
    costed: int
    partial: int
    money: float
    per_volume: float | None
    words: str
    by_vessel: Mapping[int, VesselCost]

    @property
    def coverage(self) -> str:
        """Of which cleans it is, in words."""
        said = f"over {counted(self.costed, 'clean')}"
        if self.looked_at < self.ended:
            said += f", the latest of {self.ended}"
        if self.partial:
            each = "each" if self.partial == self.costed else f"{self.partial} of them"
            said += f". In {each} an amount is not known or has no price"
        return said


def has_prices(brewery: Brewery) -> bool:
    """Whether the brewery set a price of water, effluent, load, energy or time."""
    prices = prices_of(brewery)
    return any(
        price is not None
        for price in (
            prices.water_hl,
            prices.effluent_hl,
            prices.load_kg_naoh,
            prices.energy_kwh,
            prices.minute,
        )
    )


def ended_cleans(since: datetime, until: datetime) -> QuerySet[Clean]:
    """Cleans begun in a stretch of time that have ended, the latest first. 1 query."""
    return Clean.objects.filter(
        Q(finished_at__isnull=False) | Q(stopped_at__isnull=False),
        started_at__gte=since,
        started_at__lt=until,
    ).order_by("-started_at", "-pk")


def cleaning_cost(
    *, since: datetime, until: datetime, most: int, brewery: Brewery
) -> CleaningCost | None:
    """The cost of at most so many cleans, the latest; ``None`` where there is no price or clean.

    9 queries, whatever the number; at most 7 more where some drew from a solution tank.
    """
    ended = ended_cleans(since, until)
    keys = list(ended.values_list("pk", flat=True))
    if not keys or not has_prices(brewery):
        return None
    by_vessel: dict[int, VesselCost] = defaultdict(VesselCost)
    partial = 0
    loaded = list(cleans_with_records().filter(pk__in=keys[:most]))
    shares = shares_of(loaded, now=until, brewery=brewery)
    for clean in loaded:
        report = cost_of(progress_of(clean), brewery=brewery, shares=shares)
        if report.money is None:
            continue
        partial += report.partial
        vessel = clean.turnaround.vessel
        own = by_vessel[vessel.pk]
        own.money += report.money
        own.volume_hl += vessel.volume_hl
        own.cleans += 1
    money = sum(own.money for own in by_vessel.values())
    volume_hl = sum(own.volume_hl for own in by_vessel.values())
    per_volume = per_site_volume(money, volume_hl, brewery)
    return CleaningCost(
        ended=len(keys),
        looked_at=min(len(keys), most),
        costed=sum(own.cleans for own in by_vessel.values()),
        partial=partial,
        money=money,
        per_volume=per_volume,
        words=per_volume_words(per_volume, brewery),
        by_vessel=dict(by_vessel),
    )


def per_site_volume(money: float, volume_hl: float, brewery: Brewery) -> float | None:
    """Money per unit of volume as the site shows it; ``None`` where nothing was cleaned."""
    if not volume_hl:
        return None
    return money / volume_hl * convert(1, brewery.volume_unit, "hL")


def per_volume_words(per_volume: float | None, brewery: Brewery) -> str:
    """Money per unit of volume in words; nothing for none."""
    if per_volume is None:
        return ""
    return f"{money_words(per_volume, brewery)} per {LABELS[brewery.volume_unit]}"
