"""How hot each agent may be used. Strict product limits come first."""

import dataclasses
from collections.abc import Iterable

from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.materials.sources import SOURCES
from brewhygiene.regimes.models import ActiveSubstance


@dataclasses.dataclass(frozen=True)
class HeatLimit:
    """Above ``ask_above_c`` somebody has to ask, above ``never_above_c`` it is refused, °C."""

    ask_above_c: float
    never_above_c: float
    why: str
    source_words: str


def _limit(ask: float, never: float, why: str, *sources: str) -> HeatLimit:
    return HeatLimit(ask, never, why, "; ".join(sources))


COMMON = SOURCES["CP"]
_ACID_SEALS = "it attacks seals and steel"
_CAUSTIC_BURNS = "it boils up, burns and wears seals"

HEAT_LIMITS: dict[str, HeatLimit] = {
    ActiveSubstance.CHLORINE: _limit(
        25, 40, "it loses its strength, may give off chlorine and pits steel", SOURCES["ICSC482"]
    ),
    ActiveSubstance.PAA: _limit(
        25,
        40,
        "it gives off vapour and decays, and its concentrate can explode",
        SOURCES["ICSC1031"],
        f"limits {COMMON}",
    ),
    ActiveSubstance.IODINE: _limit(35, 50, "iodine vapour comes off", SOURCES["NYS"]),
    ActiveSubstance.H2O2: _limit(
        40, 60, "it decays to oxygen and builds up pressure", SOURCES["MEM"]
    ),
    ActiveSubstance.HNO3: _limit(
        60, 80, "it fumes and attacks steel steeply", SOURCES["JCSCP18"], f"limits {COMMON}"
    ),
    ActiveSubstance.HNO3_H3PO4: _limit(
        60, 80, "it fumes and attacks steel steeply", SOURCES["JCSCP18"], f"limits {COMMON}"
    ),
    ActiveSubstance.H3PO4: _limit(60, 85, _ACID_SEALS, COMMON),
    ActiveSubstance.NAOH: _limit(85, 95, _CAUSTIC_BURNS, COMMON),
    ActiveSubstance.KOH: _limit(85, 95, _CAUSTIC_BURNS, COMMON),
    ActiveSubstance.QUAT: _limit(60, 85, "it foams", SOURCES["TABLE"], "85 °C from memory"),
}

DRAUGHT_CAUSTIC = _limit(52, 60, "it harms beer tubing", SOURCES["MANUAL"], f"60 °C {COMMON}")


def heat_limit(substance: str, vessel_kinds: Iterable[str] = ()) -> HeatLimit | None:
    """The heat limit of a substance; of caustic in a draught line, that of its tubing."""
    if substance in (ActiveSubstance.NAOH, ActiveSubstance.KOH) and (
        VesselKind.DRAUGHT_LINE in vessel_kinds
    ):
        return DRAUGHT_CAUSTIC
    return HEAT_LIMITS.get(substance)
