"""The starting regimes that come with the product.

They are starting points: a site confirms them against its own agents' labels, safety data
sheets and results.
"""

import dataclasses
from collections.abc import Callable, Mapping

from brewhygiene.cellar.models import CleanLevel, VesselKind
from brewhygiene.regimes.about import About
from brewhygiene.regimes.drafts import StepDraft
from brewhygiene.regimes.library.lines import (
    BACKFLUSH,
    PUSH_FILLER,
    circuit,
    draught_line,
    draught_line_with_acid,
    hoses,
    kegs,
)
from brewhygiene.regimes.library.steps import (
    DRAUGHT_MANUAL,
    HOT_WATER_LEAST,
    LINE_VELOCITY,
    MIXED_CULTURE,
    RINSE_HOT_TANK,
    cold_caustic,
    hot_caustic,
    rinse,
)
from brewhygiene.regimes.library.tanks import (
    acid_under_co2,
    dry_hop_gear,
    hot_water_sanitising,
    liquor_tank,
    resanitising,
    sanitising_before_filling,
    strong_clean,
    tank_clean,
    yeast_vessel,
)
from brewhygiene.regimes.models import Agent


@dataclasses.dataclass(frozen=True)
class StartingRegime:
    """A regime of the library; ``steps`` builds it from the agents by name."""

    about: About
    provenance: str
    steps: Callable[[Mapping[str, Agent]], list[StepDraft]]


BEER_TANKS = (VesselKind.FERMENTER, VesselKind.MIXING_TANK, VesselKind.SERVING_TANK)
TANKS = (
    *BEER_TANKS,
    VesselKind.YEAST_VESSEL,
    VesselKind.LIQUOR_TANK,
    VesselKind.DRY_HOP_GEAR,
)
BRIGHT_TANKS = (VesselKind.BRIGHT_TANK, VesselKind.SERVING_TANK)
FILLING_LINES = (VesselKind.KEG_LINE, VesselKind.FILLER)
LINES = (VesselKind.HEAT_EXCHANGER, *FILLING_LINES)
CONFIRM = "A starting point: confirm it against your labels, safety data sheets and results."
PRACTICE = f"Common practice, no source. {CONFIRM}"


REGIMES: tuple[StartingRegime, ...] = (
    StartingRegime(
        About("Fermenter, hot caustic", BEER_TANKS),
        PRACTICE,
        tank_clean(hot_caustic, RINSE_HOT_TANK),
    ),
    StartingRegime(
        About("Fermenter, cold caustic", BEER_TANKS), PRACTICE, tank_clean(cold_caustic, rinse())
    ),
    StartingRegime(
        About("Yeast vessel, hot caustic", (VesselKind.YEAST_VESSEL,)), PRACTICE, yeast_vessel
    ),
    StartingRegime(About("Dry-hop gear", (VesselKind.DRY_HOP_GEAR,)), PRACTICE, dry_hop_gear),
    StartingRegime(
        About("Hot-liquor tank, acid against scale", (VesselKind.LIQUOR_TANK,)),
        PRACTICE,
        liquor_tank,
    ),
    StartingRegime(
        About(
            "Bright tank, acid only under CO2",
            BRIGHT_TANKS,
            level=CleanLevel.LIGHT,
            under_co2=True,
        ),
        PRACTICE,
        acid_under_co2,
    ),
    StartingRegime(
        About("Bright tank, caustic with the CO2 purged", BRIGHT_TANKS),
        f"After every n-th use, 10 to start with. Windows as for a cold fermenter. {PRACTICE}",
        tank_clean(cold_caustic, rinse()),
    ),
    StartingRegime(
        About("Heat exchanger and wort line", (VesselKind.HEAT_EXCHANGER,)),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. {CONFIRM}",
        lambda agents: circuit(agents, first=BACKFLUSH, acid=False),
    ),
    StartingRegime(
        About("Heat exchanger and wort line, with the weekly acid", (VesselKind.HEAT_EXCHANGER,)),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. Acid as for a "
        f"fermenter. {CONFIRM}",
        lambda agents: circuit(agents, first=BACKFLUSH, acid=True),
    ),
    StartingRegime(
        About("Keg line and filler", FILLING_LINES),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. {CONFIRM}",
        lambda agents: circuit(agents, first=PUSH_FILLER, acid=False),
    ),
    StartingRegime(
        About("Keg line and filler, with acid", FILLING_LINES),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. {CONFIRM}",
        lambda agents: circuit(agents, first=PUSH_FILLER, acid=True),
    ),
    StartingRegime(
        About("Draught line, circulating, every 14 days", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. {CONFIRM}",
        draught_line,
    ),
    StartingRegime(
        About("Draught line, standing, every 14 days", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. {CONFIRM}",
        lambda agents: draught_line(agents, standing=True),
    ),
    StartingRegime(
        About("Draught line, with acid, every 3 months", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. It gives the acid the same times and no strength. {CONFIRM}",
        draught_line_with_acid,
    ),
    StartingRegime(About("Hoses", (VesselKind.HOSE_SET,)), PRACTICE, hoses),
    StartingRegime(About("Kegs", (VesselKind.KEG,)), PRACTICE, kegs),
    StartingRegime(
        About(
            "After sour, mixed-culture or diastatic beer",
            (*TANKS, VesselKind.BRIGHT_TANK),
            level=CleanLevel.STRONG,
        ),
        PRACTICE,
        strong_clean,
    ),
    StartingRegime(
        About(
            "Hot water sanitising",
            (*TANKS, VesselKind.BRIGHT_TANK, *LINES),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        f"{HOT_WATER_LEAST}. {CONFIRM}",
        hot_water_sanitising,
    ),
    StartingRegime(
        About(
            "Hot water sanitising after mixed culture",
            (*TANKS, VesselKind.BRIGHT_TANK, *LINES),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        f"{MIXED_CULTURE}. {CONFIRM}",
        lambda agents: hot_water_sanitising(agents, minutes=60, source=MIXED_CULTURE),
    ),
    StartingRegime(
        About(
            "Re-sanitise only",
            (*TANKS, VesselKind.BRIGHT_TANK),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        PRACTICE,
        resanitising,
    ),
    StartingRegime(
        About(
            "Sanitise before filling",
            (*TANKS, VesselKind.BRIGHT_TANK, VesselKind.HOSE_SET),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        PRACTICE,
        sanitising_before_filling,
    ),
)
