"""What of a step must not go back to its tank, because of the last beer."""

from brewhygiene.cellar.allergens import words_of
from brewhygiene.cellar.models import Beer
from brewhygiene.regimes.models import Step, StepKind

# Steps whose water or solution a skid may recover.
RECOVERED = frozenset(
    {
        StepKind.PRE_RINSE,
        StepKind.CAUSTIC,
        StepKind.ACID,
        StepKind.RINSE,
        StepKind.SANITISER,
        StepKind.HOT_WATER,
    }
)


def drain_words(step: Step, last_beer: Beer | None) -> str:
    """Why water or solution of a step goes to the drain, or ''. 0 queries.

    After an allergen or a mixed culture what is recovered would carry it into the next vessel.
    """
    if last_beer is None or step.kind not in RECOVERED:
        return ""
    reasons = [words_of(last_beer.allergens)] if last_beer.allergens else []
    if last_beer.sour_or_mixed:
        reasons.append("a mixed culture")
    if not reasons:
        return ""
    return f"To the drain, not back to the tank: {last_beer.name} has {' and '.join(reasons)}."
