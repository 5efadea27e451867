"""Agents, steps and versions of regimes."""

from collections.abc import Mapping
from typing import Any

from brewhygiene.regimes.models import (
    Agent,
    Regime,
    RegimeVersion,
    Step,
    StepKind,
    StepWindow,
)
from tests.factories.values import COMMON, NOW, next_number


def make_agent(**values: Any) -> Agent:
    return Agent.objects.create(
        **{
            "name": f"Caustic liquor {next_number()}",
            "kind": "caustic",
            "active_substance": "NaOH",
            "concentrate_strength_ww": 50,
            "concentrate_density_kg_l": 1.525,
            **values,
        }
    )


def make_peracetic(**values: Any) -> Agent:
    return make_agent(
        **{
            "name": f"Peracetic acid {next_number()}",
            "kind": "sanitiser",
            "active_substance": "PAA",
            "concentrate_strength_ww": 15,
            "concentrate_density_kg_l": 1.15,
            "no_rinse_allowed": True,
            "no_rinse_max_mg_l": 200,
            "no_rinse_source": "from memory",
            **values,
        }
    )


def add_step(
    version: RegimeVersion,
    kind: str,
    *,
    agent: Agent | None = None,
    windows: Mapping[str, tuple[float | None, float | None]] | None = None,
    basis: str = "ww",
    **values: Any,
) -> Step:
    """A step with windows given as ``{quantity: (minimum, maximum)}``."""
    step = Step.objects.create(
        version=version, order=version.steps.count() + 1, kind=kind, agent=agent, **values
    )
    for quantity, (minimum, maximum) in (windows or {}).items():
        StepWindow.objects.create(
            step=step,
            quantity=quantity,
            minimum=minimum,
            maximum=maximum,
            basis=basis if quantity == "concentration" else "",
            source=COMMON,
        )
    return step


def make_version(*, steps: bool = True, **values: Any) -> RegimeVersion:
    """A regime's first version; with ``steps``: rinse, then peracetic acid."""
    regime = Regime.objects.create(
        **{
            "name": f"Regime {next_number()}",
            "vessel_kinds": ["fermenter"],
            "level": 3,
            **values,
        }
    )
    version = RegimeVersion.objects.create(regime=regime, number=1, created_at=NOW)
    if steps:
        add_step(version, StepKind.RINSE, windows={"time_min": (0, 60)})
        add_step(
            version,
            StepKind.SANITISER,
            agent=make_peracetic(),
            windows={"concentration": (80, 200)},
            basis="mg_l",
        )
    return version


def make_resanitise_version(**values: Any) -> RegimeVersion:
    return make_version(resanitises_only=True, level=1, **values)
