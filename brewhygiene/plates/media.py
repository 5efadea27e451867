"""Media by their general names, with the incubation that is usual for each.

The names are those of general microbiology. Times and temperatures are common practice, no
source, within what the trade reports: bacteria 3 to 7 days at 25 to 30 °C, without air for
lactics, wild yeast 3 to 7 days; slow growers up to 10 days or more. A brewery sets its own.
"""

import dataclasses


@dataclasses.dataclass(frozen=True)
class Medium:
    """A medium with its usual incubation in °C and days."""

    name: str
    grows: str
    incubation_c: float
    incubation_days: int


MEDIA: tuple[Medium, ...] = (
    Medium("MRS", "lactic acid bacteria, anaerobic", 28, 7),
    Medium("UBA", "beer-spoiling bacteria, anaerobic", 28, 7),
    Medium("SDA", "lactic acid bacteria, distinguished by colony", 28, 7),
    Medium("WLN", "yeasts, brewing and wild", 28, 5),
    Medium("LWYM", "wild Saccharomyces", 28, 6),
    Medium("Copper-sulfate agar", "wild yeasts other than Saccharomyces", 28, 7),
)
BY_NAME = {medium.name: medium for medium in MEDIA}
OTHER = "other"
# For a medium that is not in the list: long enough for all but the slowest.
USUAL = Medium("", "", 28, 7)
