"""What stops a sanitiser on a plate: which neutraliser fits which, each with its source.

A sanitiser that is carried over keeps on killing on the dish, so that nothing grows although
something lived. Such a plate is no negative one.
"""

import dataclasses
from collections.abc import Mapping
from datetime import datetime

from django.db import models

from brewhygiene.regimes.models import ActiveSubstance, Agent, AgentKind
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.residues import agents_inside


class Neutraliser(models.TextChoices):
    NONE = "none", "none"
    THIOSULFATE = "thiosulfate", "sodium thiosulfate"
    CATALASE = "catalase", "catalase"
    LECITHIN = "lecithin", "lecithin and polysorbate 80"
    EGG_YOLK = "egg_yolk", "egg yolk"


@dataclasses.dataclass(frozen=True)
class Fit:
    """A neutraliser of a sanitiser, and who says so."""

    neutraliser: Neutraliser
    source: str


PHARMACOPOEIA = "European Pharmacopoeia 5.0, Table 2.6.13-3"
COMMON = "common practice, no source"
# The first of each is the one proposed.
FITS: Mapping[str, tuple[Fit, ...]] = {
    ActiveSubstance.CHLORINE: (Fit(Neutraliser.THIOSULFATE, f"5 g/L, {PHARMACOPOEIA}"),),
    ActiveSubstance.IODINE: (Fit(Neutraliser.THIOSULFATE, f"5 g/L, {PHARMACOPOEIA}"),),
    ActiveSubstance.PAA: (Fit(Neutraliser.THIOSULFATE, COMMON),),
    ActiveSubstance.H2O2: (Fit(Neutraliser.CATALASE, COMMON),),
    ActiveSubstance.QUAT: (
        Fit(Neutraliser.LECITHIN, COMMON),
        Fit(Neutraliser.EGG_YOLK, f"5 to 50 mL/L, {PHARMACOPOEIA}"),
    ),
}


def fits(neutraliser: str, substance: str) -> bool:
    """Whether a neutraliser stops a sanitiser; '' is none left in the vessel, which any does."""
    return not substance or any(fit.neutraliser == neutraliser for fit in FITS.get(substance, ()))


def proposed(substance: str) -> Neutraliser:
    """The neutraliser that is chosen to begin with; none after a rinse, heat or steam."""
    found = FITS.get(substance)
    return found[0].neutraliser if found else Neutraliser.NONE


def fit_words(substance: str) -> str:
    """What fits a sanitiser and who says so, in words; '' where none is left."""
    found = FITS.get(substance, ())
    if not found:
        return ""
    named = " or ".join(f"{fit.neutraliser.label} ({fit.source})" for fit in found)
    return f"For {ActiveSubstance(substance).label}: {named}."


def _is_sanitiser(agent: Agent) -> bool:
    return agent.kind == AgentKind.SANITISER and agent.active_substance in FITS


def taken_in(turnaround: Turnaround, at: datetime) -> str:
    """The sanitiser that a sample taken ``at`` a moment stands in, or ''. 1 query.

    None once a rinse has proved it gone, nor after the filling.
    """
    if turnaround.closed_at is not None and turnaround.closed_at <= at:
        return ""
    left = [agent for agent in agents_inside(turnaround, at=at) if _is_sanitiser(agent)]
    return str(left[-1].active_substance) if left else ""
