"""What changeovers answer to the rooms below them."""

from brewhygiene.changeovers.models import Validation
from brewhygiene.regimes.models import Regime
from brewhygiene.regimes.questions import is_validated


@is_validated.answered_by
def was_ever_validated(regime: Regime) -> bool:
    """A retired validation counts too. 1 query."""
    return Validation.objects.filter(version__regime=regime).exists()
