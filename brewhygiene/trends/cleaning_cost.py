"""What cleaning cost over a stretch of time, per unit of the vessels' volume."""

import dataclasses
from datetime import datetime

from django.db.models import Q, QuerySet

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.turnarounds.cost import cost_of, money_words
from brewhygiene.turnarounds.cost_steps import prices_of
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records


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

    @property
    def coverage(self) -> str:
        """Of which cleans it is, in words."""
        said = f"of {self.costed} {'clean' if self.costed == 1 else 'cleans'}"
        if self.looked_at < self.ended:
            said = f"of the latest {self.costed}, of {self.ended} cleans"
        if self.partial:
            each = "each" if self.partial == self.costed else f"{self.partial} of them"
            said += f"; in {each} an amount is not known or has no price"
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

    9 queries, whatever the number.
    """
    ended = ended_cleans(since, until)
    keys = list(ended.values_list("pk", flat=True))
    if not keys or not has_prices(brewery):
        return None
    money = volume_hl = 0.0
    costed = partial = 0
    loaded = cleans_with_records().filter(pk__in=keys[:most])
    for clean in loaded:
        report = cost_of(progress_of(clean), brewery=brewery)
        if report.money is None:
            continue
        costed += 1
        partial += report.partial
        money += report.money
        volume_hl += clean.turnaround.vessel.volume_hl
    per_volume = money / volume_hl * convert(1, brewery.volume_unit, "hL") if volume_hl else None
    return CleaningCost(
        ended=len(keys),
        looked_at=min(len(keys), most),
        costed=costed,
        partial=partial,
        money=money,
        per_volume=per_volume,
        words=(
            f"{money_words(per_volume, brewery)} per {LABELS[brewery.volume_unit]}"
            if per_volume is not None
            else ""
        ),
    )
