"""What of a step must not go back to its tank, because of what was in the vessel."""

from brewhygiene.cellar.allergens import in_order, words_of
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import Clean

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


def drain_words(step: Step, clean: Clean) -> str:
    """Why water or solution of a step goes to the drain, or ''. 0 queries.

    After an allergen or a mixed culture what is recovered would carry it into the next vessel: of
    the last beer, and of every one whose allergens no proved changeover has taken away since.
    ``turnaround__emptying__beer`` has to be joined.
    """
    last_beer = clean.turnaround.emptying.beer
    if step.kind not in RECOVERED:
        return ""
    carried = dict(clean.carried)
    mixed = ""
    if last_beer is not None:
        carried.update(dict.fromkeys(last_beer.allergens, last_beer.name))
        mixed = last_beer.name if last_beer.sour_or_mixed else ""
    by_beer: dict[str, list[str]] = {}
    for allergen in in_order(carried):
        by_beer.setdefault(carried[allergen], []).append(allergen)
    reasons = {beer: [words_of(allergens)] for beer, allergens in by_beer.items()}
    if mixed:
        reasons.setdefault(mixed, []).append("a mixed culture")
    if not reasons:
        return ""
    said = "; ".join(f"{beer} has {' and '.join(found)}" for beer, found in reasons.items())
    return f"To the drain, not back to the tank: {said}."
