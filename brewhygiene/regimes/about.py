"""What a regime and an agent are, as plain values that an action is given."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.cellar.models import CleanLevel
from brewhygiene.regimes.models import Regime


@dataclasses.dataclass(frozen=True)
class About:
    """What a regime is, apart from its steps."""

    name: str
    vessel_kinds: Sequence[str]
    level: int = CleanLevel.ORDINARY
    resanitises_only: bool = False
    under_co2: bool = False

    @classmethod
    def of(cls, regime: Regime) -> "About":
        return cls(
            name=regime.name,
            vessel_kinds=list(regime.vessel_kinds),
            level=regime.level,
            resanitises_only=regime.resanitises_only,
            under_co2=regime.under_co2,
        )


@dataclasses.dataclass(frozen=True)
class AgentValues:
    """An agent as its label gives it; units in the names, the equivalent weight in g/eq.

    ``price_kg`` is money per kg of concentrate, ``recovered_share`` of the solution 0 to 1.
    """

    name: str
    kind: str
    active_substance: str
    concentrate_strength_ww: float
    concentrate_density_kg_l: float | None = None
    equivalent_weight_g: float | None = None
    hazards: str = ""
    sds_reference: str = ""
    no_rinse_allowed: bool = False
    no_rinse_max_mg_l: float | None = None
    no_rinse_source: str = ""
    price_kg: float | None = None
    recovered_share: float = 0.0
    gtin: str = ""
    active: bool = True
