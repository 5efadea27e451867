"""The vessels of a baseline for a kind of vessel: how far they differ, and which were not read."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.atp.baselines.queries import vessels_to_judge
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Vessel
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.limits.groups.between import Between, spread_between
from brewhygiene.science.limits.groups.pooling import Pooling, pooling_of


@dataclasses.dataclass(frozen=True)
class Vessels:
    """How the vessels of the kind compare; ``between`` where there are readings enough.

    ``not_read`` are those in service that limits would judge though no reading of theirs counts.
    """

    pooling: Pooling
    between: Between | None
    not_read: tuple[Vessel, ...]

    @property
    def names(self) -> list[str]:
        return [group.name for group in self.pooling.groups]


def vessels_of(baseline: Baseline, counted: Sequence[Result]) -> Vessels | None:
    """The vessels of a baseline for a kind; ``None`` for any other. 1 query for a kind."""
    if not baseline.vessel_kind or not counted:
        return None
    read = {result.point.vessel for result in counted}
    in_order = sorted(read, key=lambda vessel: (vessel.order, vessel.sort_key))
    groups: dict[str, list[int]] = {vessel.name: [] for vessel in in_order}
    for result in counted:
        groups[result.point.vessel.name].append(result.rlu)
    try:
        between = spread_between(groups)
    except TooFewReadings:
        between = None
    return Vessels(
        pooling=pooling_of(groups),
        between=between,
        not_read=tuple(one for one in vessels_to_judge(baseline) if one not in read),
    )
