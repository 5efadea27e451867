"""The agents that come with the product, by their general names.

Starting points: strength, density and hazards are taken from the label and the safety data
sheet of what a site really buys.
"""

from brewhygiene.regimes.about import AgentValues
from brewhygiene.regimes.models import ActiveSubstance, AgentKind

CAUSTIC = "Caustic liquor 50 %"
ACID_BLEND = "Nitric and phosphoric blend"
NITRIC = "Nitric acid 53 %"
PERACETIC = "Peracetic acid 15 %"
HYPOCHLORITE = "Hypochlorite 12 %"

AGENTS: tuple[AgentValues, ...] = (
    AgentValues(
        name=CAUSTIC,
        kind=AgentKind.CAUSTIC,
        active_substance=ActiveSubstance.NAOH,
        concentrate_strength_ww=50,
        # Perry's Chemical Engineers' Handbook, 6th ed.: 1.5253 kg/L at 20 °C.
        concentrate_density_kg_l=1.525,
        hazards="Burns skin and eyes. Gets hot in water. Attacks aluminium, zinc and tin.",
    ),
    AgentValues(
        name=ACID_BLEND,
        kind=AgentKind.ACID,
        active_substance=ActiveSubstance.HNO3_H3PO4,
        # A round figure: blends differ, so density and equivalent weight are left to the label.
        concentrate_strength_ww=50,
        hazards="Burns skin and eyes. Never with chlorine products. "
        "Set strength, density and equivalent weight from the label.",
    ),
    AgentValues(
        name=NITRIC,
        kind=AgentKind.ACID,
        active_substance=ActiveSubstance.HNO3,
        concentrate_strength_ww=53,
        # By the density model of brewhygiene.science.solutions.density at 20 °C.
        concentrate_density_kg_l=1.33,
        hazards="Burns skin and eyes. Fumes harm the lungs. Never with chlorine products, "
        "organic matter or copper.",
    ),
    AgentValues(
        name=PERACETIC,
        kind=AgentKind.SANITISER,
        active_substance=ActiveSubstance.PAA,
        concentrate_strength_ww=15,
        hazards="Stings eyes and lungs, burns skin, feeds fire. Never heat it. Never mix with "
        "caustic "
        "concentrate or chlorine products.",
        no_rinse_allowed=True,
        no_rinse_max_mg_l=200,
        no_rinse_source="Starting value: 21 CFR 178.1010, from memory. The label governs",
    ),
    AgentValues(
        name=HYPOCHLORITE,
        kind=AgentKind.SANITISER,
        active_substance=ActiveSubstance.CHLORINE,
        concentrate_strength_ww=12,
        hazards="Releases a gas that kills with acid. Pits stainless steel when hot, acid or "
        "left standing. Burns skin and eyes.",
    ),
)
