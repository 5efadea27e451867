"""The most that may be left in a vessel without a rinse: starting values, with where each is from.

The agent's label and the current code govern. A site writes down its own maximum with its
source; these only say when that is more than what was found.
"""

import dataclasses

from brewhygiene.regimes.models import ActiveSubstance

READ = "read"
FROM_MEMORY = "from memory"


@dataclasses.dataclass(frozen=True)
class StartingMaximum:
    """A no-rinse maximum, mg/L active, with its source and whether that was read."""

    max_mg_l: float
    source: str
    provenance: str
    note: str = ""

    @property
    def source_words(self) -> str:
        words = f"{self.source}, {self.provenance}"
        return f"{words}, {self.note}" if self.note else words


STARTING_MAXIMA: dict[str, tuple[StartingMaximum, ...]] = {
    ActiveSubstance.PAA: (
        StartingMaximum(
            200, "21 CFR 178.1010", FROM_MEMORY, "100 to 200 ppm, with hydrogen peroxide"
        ),
        StartingMaximum(500, "65 FR 75168 (2000)", READ, "names breweries"),
    ),
    ActiveSubstance.H2O2: (
        StartingMaximum(
            1100, "21 CFR 178.1010", FROM_MEMORY, "550 to 1,100 ppm, with peracetic acid"
        ),
        StartingMaximum(1100, "65 FR 75174 (2000)", READ, "names breweries"),
    ),
    ActiveSubstance.CHLORINE: (StartingMaximum(200, "21 CFR 178.1010", FROM_MEMORY),),
    ActiveSubstance.IODINE: (StartingMaximum(25, "21 CFR 178.1010", FROM_MEMORY),),
    ActiveSubstance.QUAT: (
        StartingMaximum(200, "21 CFR 178.1010", FROM_MEMORY, "200 to 400 ppm by product"),
        StartingMaximum(400, "21 CFR 178.1010", FROM_MEMORY, "200 to 400 ppm by product"),
    ),
}


def exceeded_maxima(*, substance: str, max_mg_l: float) -> list[StartingMaximum]:
    """The starting values that a site's own maximum, in mg/L, is above."""
    return [
        starting for starting in STARTING_MAXIMA.get(substance, ()) if max_mg_l > starting.max_mg_l
    ]


def starting_rows() -> list[tuple[str, StartingMaximum]]:
    """Every starting value with the name of its substance, for a table of them."""
    return [
        (ActiveSubstance(substance).label, starting)
        for substance, maxima in STARTING_MAXIMA.items()
        for starting in maxima
    ]
