"""A site's own conductivity calibrations: pairs as they are kept, their fit, and what it gives.

The fit is kept as it was made, so that a reading by it can be followed later.
"""

import dataclasses
from collections.abc import Sequence
from typing import Any

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.measures import UNIT_OF
from brewhygiene.regimes.models import ActiveSubstance, Agent, Basis, ConductivityCalibration
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.calibration import (
    Calibration,
    CannotFit,
    calibrate,
    calibrated_strength,
)
from brewhygiene.science.solutions.conductivity import (
    CARBONATE_WARNING,
    CONDUCTIVE_SOLUTES,
    OTHER_SALTS_WARNING,
    read_conductivity,
)

# On which a calibration may be kept; a share of the product is not what a titration gives.
BASES = (Basis.WV, Basis.WW, Basis.MG_L)


@dataclasses.dataclass(frozen=True)
class Pair:
    """A titrated strength, the conductivity in mS/cm as measured, the temperature in °C."""

    strength: float
    conductivity_ms_cm: float
    temperature_c: float


@dataclasses.dataclass(frozen=True)
class PairRow:
    """A pair beside what the fit makes of it, and by how much the titration was above that."""

    pair: Pair
    fitted: float
    residual: float


def usual_basis(agent: Agent) -> str:
    """What a titration of the agent is usually told in: % w/v, a sanitiser's in mg/L."""
    return Basis.MG_L if agent.kind == "sanitiser" else Basis.WV


def fitted(pairs: Sequence[Pair], *, basis: str) -> Calibration:
    """The fit of pairs whose strengths are on ``basis``. Refuses, on ``pairs``, what has none."""
    if basis not in BASES:
        raise Refusal("Choose a basis.", field="basis")
    try:
        return calibrate(
            strengths=[pair.strength for pair in pairs],
            conductivities_ms_cm=[pair.conductivity_ms_cm for pair in pairs],
            temperatures_c=[pair.temperature_c for pair in pairs],
            unit=UNIT_OF[basis],
        )
    except (CannotFit, OutOfRange) as error:
        raise Refusal(str(error), field="pairs", code="no_fit") from error


def rows_of(pairs: Sequence[Pair], fit: Calibration) -> list[PairRow]:
    """Each pair beside the strength that the fit gives for its conductivity."""
    rows = []
    for pair in pairs:
        strength = calibrated_strength(
            calibration=fit,
            conductivity_ms_cm=pair.conductivity_ms_cm,
            temperature_c=pair.temperature_c,
        ).strength
        rows.append(PairRow(pair, strength, pair.strength - strength))
    return rows


def as_kept(fit: Calibration, *, basis: str) -> dict[str, Any]:
    """A fit as JSON keeps it."""
    return {**dataclasses.asdict(fit), "basis": basis}


def fit_of(kept: ConductivityCalibration) -> Calibration:
    """The fit of a kept calibration."""
    values = {name: kept.fit[name] for name in Calibration.__dataclass_fields__}
    values["covariance"] = tuple(tuple(row) for row in values["covariance"])
    return Calibration(**values)


def pairs_of(kept: ConductivityCalibration) -> list[Pair]:
    """The pairs of a kept calibration."""
    return [Pair(**row) for row in kept.pairs]


def calibration_in_force(agent: Agent) -> ConductivityCalibration | None:
    """The agent's calibration that is in force. 1 query."""
    return ConductivityCalibration.objects.filter(agent=agent, retired_at__isnull=True).first()


def readable(agent: Agent, calibration: ConductivityCalibration | None) -> bool:
    """Whether a strength of the agent can be read by conductivity: calibrated, or published."""
    return calibration is not None or agent.active_substance in CONDUCTIVE_SOLUTES


def warning_of(agent: Agent) -> str:
    """What a conductivity meter cannot see in a solution of the agent."""
    is_acid = agent.active_substance == ActiveSubstance.HNO3
    return OTHER_SALTS_WARNING if is_acid else CARBONATE_WARNING


@dataclasses.dataclass(frozen=True)
class ReadByConductivity:
    """A strength on ``basis`` that a conductivity stands for, ± ``within``, and its warning.

    ``calibration`` is the primary key of the site's own, ``None`` where the published relation
    was taken.
    """

    strength: float
    basis: str
    within: float
    warning: str
    calibration: int | None


def strength_by_conductivity(
    *,
    agent: Agent,
    calibration: ConductivityCalibration | None,
    conductivity_ms_cm: float,
    temperature_c: float,
) -> ReadByConductivity:
    """The strength by the site's calibration, or by the published relation where there is none.

    ``conductivity_ms_cm`` mS/cm as measured at ``temperature_c`` °C. Refuses, beside its field,
    a reading outside the range, and an agent that neither reaches. 0 queries.
    """
    try:
        if calibration is not None:
            fit = fit_of(calibration)
            found = calibrated_strength(
                calibration=fit, conductivity_ms_cm=conductivity_ms_cm, temperature_c=temperature_c
            )
            # The line may pass below nothing at its weak end.
            strength = max(found.strength, 0.0)
            return ReadByConductivity(
                strength, calibration.fit["basis"], found.expanded, found.warning, calibration.pk
            )
        if agent.active_substance not in CONDUCTIVE_SOLUTES:
            substance = ActiveSubstance(agent.active_substance).label
            raise Refusal(
                f"There is no published conductivity of {substance} and no calibration of your "
                "own yet. Enter a titration.",
                field="conductivity_ms_cm",
                code="not_readable",
            )
        read = read_conductivity(
            solute=agent.active_substance,
            conductivity_ms_cm=conductivity_ms_cm,
            temperature_c=temperature_c,
        )
    except OutOfRange as error:
        about = "solution_c" if error.quantity.startswith("temperature") else "conductivity_ms_cm"
        raise Refusal(str(error), field=about, code="outside_calibration") from error
    return ReadByConductivity(read.strength_ww, Basis.WW, read.error_ww, read.warning, None)
