"""The limits of a regime version on a vessel that nobody has signed yet."""

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.materials.fit import findings, limit_words
from brewhygiene.regimes.materials.labels import Labels, signed_limits
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps


def limits_on(version: RegimeVersion, vessel: Vessel) -> list[str]:
    """Every limit of a version on a vessel, in words. 3 queries, 1 more at most for labels."""
    labels = Labels()
    loaded = versions_with_steps().get(pk=version.pk)
    return [
        limit_words(step, finding)
        for step in loaded.steps.all()
        for finding in findings(step, vessel, labels)
        if finding.limited
    ]


def unsigned_limits(version: RegimeVersion, vessel: Vessel) -> list[str]:
    """Those that nobody has signed. 5 queries at most."""
    signed = signed_limits(version, vessel)
    return [limit for limit in limits_on(version, vessel) if limit not in signed]
