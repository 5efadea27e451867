"""What changeovers answer to the rooms below them."""

from collections.abc import Mapping

from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers.carried import carried_by
from brewhygiene.changeovers.models import Validation
from brewhygiene.regimes.models import Regime
from brewhygiene.regimes.questions import is_validated
from brewhygiene.turnarounds.questions import allergens_carried


@is_validated.answered_by
def was_ever_validated(regime: Regime) -> bool:
    """A retired validation counts too. 1 query."""
    return Validation.objects.filter(version__regime=regime).exists()


@allergens_carried.answered_by
def carried_with_beer(vessel: Vessel) -> Mapping[str, str]:
    """Everything that no proved changeover has taken away, from whatever beer. 5 queries."""
    return {code: one.beer for code, one in carried_by([vessel])[vessel.pk].items()}
