"""What a regime's page shows of each version: plain data, from rows already loaded."""

import dataclasses
from collections.abc import Iterable, Sequence

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.cautions import Caution, cautions_for_kind, heat_left
from brewhygiene.regimes.drafts import drafts_of
from brewhygiene.regimes.measures import window_in_words
from brewhygiene.regimes.models import RegimeVersion, Step
from brewhygiene.regimes.rules.advice import advice_on


@dataclasses.dataclass(frozen=True)
class StepCaution:
    """A caution that a step will ask for; ``only_for`` names the vessels if not all of them."""

    caution: Caution
    only_for: list[str]


@dataclasses.dataclass(frozen=True)
class StepPage:
    step: Step
    windows: list[tuple[str, str, str]]  # quantity, bounds, source
    cautions: list[StepCaution]
    advice: list[str]


@dataclasses.dataclass(frozen=True)
class VersionPage:
    version: RegimeVersion
    steps: list[StepPage]


def cautions_of(
    step: Step, *, before: Sequence[Step], vessel_kinds: Iterable[str], under_co2: bool
) -> list[StepCaution]:
    """The cautions of a step on any vessel of these kinds, hard stops first."""
    kinds_of: dict[Caution, list[str]] = {}
    kinds = [kind for kind in vessel_kinds if kind in VesselKind.values]
    for kind in kinds:
        for caution in cautions_for_kind(
            step, kind, under_co2=under_co2, heat_before=heat_left(before)
        ):
            kinds_of.setdefault(caution, []).append(VesselKind(kind).label)
    found = [
        StepCaution(caution, only_for=[] if len(names) == len(kinds) else names)
        for caution, names in kinds_of.items()
    ]
    return sorted(found, key=lambda item: not item.caution.check)


def version_pages(versions: Iterable[RegimeVersion], *, brewery: Brewery) -> list[VersionPage]:
    """Versions, with regime and steps loaded, as their page shows them. 0 queries more."""
    pages = []
    for version in versions:
        regime = version.regime
        advice = advice_on(drafts_of(version), vessel_kinds=regime.vessel_kinds)
        steps = list(version.steps.all())
        pages.append(
            VersionPage(
                version=version,
                steps=[
                    StepPage(
                        step=step,
                        windows=[
                            (
                                window.get_quantity_display(),
                                window_in_words(window, brewery),
                                window.source,
                            )
                            for window in step.windows.all()
                        ],
                        cautions=cautions_of(
                            step,
                            before=steps[:position],
                            vessel_kinds=regime.vessel_kinds,
                            under_co2=regime.under_co2,
                        ),
                        advice=[item.message for item in advice if item.step == position],
                    )
                    for position, step in enumerate(steps)
                ],
            )
        )
    return pages
