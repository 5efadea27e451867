"""The release rules in force, in words, and where they are looser than those shipped."""

from brewhygiene.brewery.models import Brewery, default_waivable_gates
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE, TWO_SIGN

OVER_ACTION = (
    "Over the action limit: re-clean, or two people sign. One is a head brewer, and neither "
    "cleaned or sampled."
)
UNJUDGED = (
    "Readings since the last control check that passed are unjudged when the next one fails. No "
    "reason passes them."
)
WITHOUT_METER = (
    "Without a working meter: inspection, rinse pH, strength and a plate stand in, and two people "
    "sign. One is a head brewer."
)
EXPLAINED = "Each explanation has a cause, what was checked and the result."


def rules_in_force(brewery: Brewery) -> list[str]:
    """Each rule as a sentence, for the decision's page and the printed record. 0 queries."""
    rules = [
        "Whoever cleaned or sampled can release. It is marked and counted as a self-release."
        if brewery.self_release_allowed
        else "Whoever cleaned or sampled cannot sign the release."
    ]
    waived = [
        f"“{GATE_TITLES[code]}”"
        for code in GATE_TITLES
        if code in brewery.waivable_gates and code not in NEVER_WAIVABLE | TWO_SIGN
    ]
    rules.append(
        f"The head brewer can waive: {', '.join(waived)}."
        if waived
        else "The head brewer can waive no check."
    )
    two = set(brewery.waivable_gates) >= TWO_SIGN
    rules.append(OVER_ACTION if two else "Over the action limit: re-clean.")
    return [*rules, UNJUDGED, WITHOUT_METER, EXPLAINED]


def looser_than_shipped(brewery: Brewery) -> list[str]:
    """What this brewery allows beyond the rules as they are shipped, as sentences. 0 queries."""
    found = []
    if brewery.self_release_allowed:
        found.append("Looser than shipped: self-release is allowed.")
    shipped = default_waivable_gates()
    found += [
        f"Looser than shipped: “{GATE_TITLES[code]}” can be waived."
        for code in GATE_TITLES
        if code in brewery.waivable_gates and code not in {*shipped, *NEVER_WAIVABLE}
    ]
    return found
