"""Agents that must not meet, or not without thought, where no rinse was proved between them."""

import dataclasses

from brewhygiene.regimes.materials.sources import SOURCES
from brewhygiene.regimes.models import ActiveSubstance, EndCriterion, Quantity, StepKind

ACIDS = frozenset({ActiveSubstance.HNO3, ActiveSubstance.H3PO4, ActiveSubstance.HNO3_H3PO4})
NITRIC = frozenset({ActiveSubstance.HNO3, ActiveSubstance.HNO3_H3PO4})
CAUSTICS = frozenset({ActiveSubstance.NAOH, ActiveSubstance.KOH})
CHLORINE = frozenset({ActiveSubstance.CHLORINE})
PERACETIC = frozenset({ActiveSubstance.PAA})
PEROXIDE = frozenset({ActiveSubstance.H2O2})
IODOPHOR = frozenset({ActiveSubstance.IODINE})
QUAT = frozenset({ActiveSubstance.QUAT})

# Ends of a rinse that are measured. That it runs clear says nothing of what is dissolved in it.
MEASURED_ENDS: dict[str, Quantity] = {
    EndCriterion.NEUTRAL: Quantity.PH,
    EndCriterion.TAP_PH: Quantity.PH,
    EndCriterion.TAP_CONDUCTIVITY: Quantity.CONDUCTIVITY_MS_CM,
}
RINSES = frozenset({StepKind.RINSE, StepKind.PRE_RINSE})


@dataclasses.dataclass(frozen=True)
class Meeting:
    """Two agents in one vessel: what comes of it, and whether it is a hard stop."""

    one: frozenset[str]
    other: frozenset[str]
    what_happens: str
    source_words: str
    refused: bool

    def concerns(self, before: str, after: str) -> bool:
        """Either may come first."""
        return (before in self.one and after in self.other) or (
            before in self.other and after in self.one
        )


# The first that fits counts.
MEETINGS: tuple[Meeting, ...] = (
    Meeting(
        NITRIC,
        CHLORINE,
        "Chlorine and nitrogen oxides form, gases that kill.",
        f"{SOURCES['GISN']}; {SOURCES['ICSC482']}",
        refused=True,
    ),
    Meeting(
        ACIDS,
        CHLORINE,
        "Chlorine forms, a gas that kills.",
        f"{SOURCES['ICSC482']}; {SOURCES['NPG']}",
        refused=True,
    ),
    Meeting(
        PERACETIC,
        CHLORINE,
        "Chlorine and oxygen form, and heat. Chlorine is a gas that kills.",
        SOURCES["GISP"],
        refused=True,
    ),
    Meeting(
        PEROXIDE,
        CHLORINE,
        "Oxygen forms, and heat, and both agents are lost.",
        SOURCES["MEM"],
        refused=True,
    ),
    Meeting(
        CAUSTICS,
        PERACETIC,
        "The peracetic acid is lost. Concentrates heat up violently.",
        f"{SOURCES['GISP']}; {SOURCES['CD']}",
        refused=False,
    ),
    Meeting(
        CAUSTICS,
        PEROXIDE,
        "The peroxide decays fast to oxygen and builds up pressure. Keep the vessel open.",
        f"{SOURCES['OSHAH']}; {SOURCES['GISP']}",
        refused=False,
    ),
    Meeting(
        CAUSTICS,
        ACIDS,
        "They neutralise each other and heat up. Spent caustic gives off CO2.",
        SOURCES["GISN"],
        refused=False,
    ),
    Meeting(CAUSTICS, IODOPHOR, "The iodine is lost.", SOURCES["CD"], refused=False),
    Meeting(
        CAUSTICS,
        QUAT,
        "What is left of the detergent spoils the quaternary ammonium.",
        SOURCES["CD"],
        refused=False,
    ),
    Meeting(ACIDS, QUAT, "Acid spoils the quaternary ammonium.", SOURCES["CD"], refused=False),
)


def meeting_of(before: str, after: str) -> Meeting | None:
    """What comes of two substances that meet; ``None`` where nothing is known to."""
    return next((meeting for meeting in MEETINGS if meeting.concerns(before, after)), None)


def clears(kind: str, end_criterion: str) -> bool:
    """Whether a step of a kind with an end proves, once that is reached, that agents are gone."""
    return kind in RINSES and end_criterion in MEASURED_ENDS
