"""The limits of a regime version on a vessel that nobody has signed yet."""

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.materials.fit import findings, limit_words
from brewhygiene.regimes.materials.labels import Labels, signed_limits
from brewhygiene.regimes.models import RegimeVersion


def limits_on(version: RegimeVersion, vessel: Vessel) -> list[str]:
    """Every limit of a version on a vessel, in words. 2 queries, 1 more at most for labels."""
    labels = Labels()
    steps = version.steps.select_related("agent").prefetch_related("windows")
    return [
        limit_words(step, finding)
        for step in steps.order_by("order")
        for finding in findings(step, vessel, labels)
        if finding.limited
    ]


def unsigned_limits(version: RegimeVersion, vessel: Vessel) -> list[str]:
    """Those that nobody has signed. 4 queries at most."""
    signed = signed_limits(version, vessel)
    return [limit for limit in limits_on(version, vessel) if limit not in signed]
