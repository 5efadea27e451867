"""What is asked of the limits: how much of the clean is to pass, and how surely."""

import dataclasses

from brewhygiene.science.errors import OutOfRange, require


@dataclasses.dataclass(frozen=True)
class Asked:
    """Coverages and confidence as shares of 1; factors k for mean + k SD where set by hand.

    Alert level and action limit are meant to have ``alert_coverage`` and ``action_coverage`` of
    clean readings at or below them. Without a factor of one's own, k is the exact one-sided
    tolerance factor, which grows where readings are few.
    """

    alert_coverage: float = 0.95
    action_coverage: float = 0.99
    confidence: float = 0.95
    alert_k: float | None = None
    action_k: float | None = None

    def __post_init__(self) -> None:
        """Raises :class:`OutOfRange` where the two limits would be in the wrong order."""
        require("coverage of the alert level", self.alert_coverage, minimum=0.5, maximum=0.999)
        require("coverage of the action limit", self.action_coverage, minimum=0.5, maximum=0.999)
        require("confidence", self.confidence, minimum=0.5, maximum=0.999)
        if self.alert_coverage > self.action_coverage:
            raise OutOfRange("The alert level cannot cover more than the action limit does.")
        for name, k in (("alert", self.alert_k), ("action", self.action_k)):
            if k is not None:
                require(f"factor k of the {name}", k, minimum=0.5, maximum=10)
        if (self.alert_k is None) != (self.action_k is None):
            raise OutOfRange(
                "Enter k for both the alert level and the action limit, or for neither."
            )
        if self.alert_k is not None and self.action_k is not None and self.alert_k > self.action_k:
            raise OutOfRange("The k of the alert level cannot be above that of the action limit.")
