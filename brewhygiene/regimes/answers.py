"""What regimes answer to the rooms below them."""

from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.questions import harm_by_preferred
from brewhygiene.regimes.materials.fit import harms_to
from brewhygiene.regimes.queries import versions_with_steps


@harm_by_preferred.answered_by
def why_preferred_harms(vessel: Vessel) -> str:
    """Of the version in force. 3 queries."""
    version = versions_with_steps().filter(regime=vessel.default_regime_id, current=True).first()
    if version is None:
        return ""
    return next((harm.words for harm in harms_to(vessel, list(version.steps.all()))), "")
