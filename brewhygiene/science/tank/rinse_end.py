"""Whether a rinse is done, told by its conductivity against that of the water it is made with."""

import dataclasses

from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.solutions.conductivity import compensated_by_division_ms_cm
from brewhygiene.science.working import WorkingLine, shown

# Natural waters rise by about this much per K of their conductivity at 25 °C: common practice,
# no source.
WATER_ALPHA_PER_K = 0.02


@dataclasses.dataclass(frozen=True)
class RinseEnd:
    """The rinse's conductivity over the water's, both at 25 °C in mS/cm, and the verdict.

    ``left_percent`` % is the share of the cleaning solution's own difference that is still
    there, ``None`` where that was not given.
    """

    rinse_25_ms_cm: float
    water_25_ms_cm: float
    difference_ms_cm: float
    limit_ms_cm: float
    reached: bool
    left_percent: float | None
    warning: str
    working: tuple[WorkingLine, ...]


BLIND_TO_SOIL = (
    "Conductivity shows salts, acid and caustic. It does not show soil or surfactant, and only "
    "part of a trace of caustic taken up by the water's hydrogen carbonate."
)


def rinse_end(
    *,
    rinse_ms_cm: float,
    rinse_temperature_c: float,
    water_ms_cm: float,
    water_temperature_c: float,
    limit_ms_cm: float,
    solution_ms_cm: float | None = None,
    solution_temperature_c: float | None = None,
    alpha_per_k: float = WATER_ALPHA_PER_K,
) -> RinseEnd:
    """Whether the rinse water is within a limit of the fresh water, both brought to 25 °C.

    ``rinse_ms_cm`` and ``water_ms_cm`` mS/cm as measured at ``rinse_temperature_c`` and
    ``water_temperature_c`` °C (0–100), compensated by division with ``alpha_per_k`` per K;
    ``limit_ms_cm`` mS/cm is the site's own, at 25 °C. ``solution_ms_cm`` mS/cm at
    ``solution_temperature_c`` °C of the cleaning solution rinsed out says how much is left. The
    compensation is good to some 0.2 %/K, so that readings at like temperatures are best. Raises
    :class:`OutOfRange` outside, for a limit not above 0, or for a solution that conducts no
    better than the water.

    >>> end = rinse_end(rinse_ms_cm=0.62, rinse_temperature_c=25, water_ms_cm=0.6,
    ...                 water_temperature_c=25, limit_ms_cm=0.05)
    >>> end.reached, round(end.difference_ms_cm, 3)
    (True, 0.02)

    References
    ----------
    .. [1] Common practice, no source.
    """
    require("limit", limit_ms_cm, unit="mS/cm", minimum=0, above=True)
    rinse, water = (
        compensated_by_division_ms_cm(
            conductivity_ms_cm=conductivity, temperature_c=temperature_c, alpha_per_k=alpha_per_k
        )
        for conductivity, temperature_c in (
            (rinse_ms_cm, rinse_temperature_c),
            (water_ms_cm, water_temperature_c),
        )
    )
    difference = rinse - water
    left_percent = None
    if solution_ms_cm is not None:
        if solution_temperature_c is None:
            raise OutOfRange("Enter the cleaning solution's temperature with its conductivity.")
        solution = compensated_by_division_ms_cm(
            conductivity_ms_cm=solution_ms_cm,
            temperature_c=solution_temperature_c,
            alpha_per_k=alpha_per_k,
        )
        if solution <= water:
            raise OutOfRange("The cleaning solution does not conduct better than the water.")
        left_percent = max(difference, 0.0) / (solution - water) * 100
    return RinseEnd(
        rinse_25_ms_cm=rinse,
        water_25_ms_cm=water,
        difference_ms_cm=difference,
        limit_ms_cm=limit_ms_cm,
        reached=difference <= limit_ms_cm * (1 + 1e-9),
        left_percent=left_percent,
        warning=BLIND_TO_SOIL,
        working=(
            _to_25_line("rinse at 25 °C", rinse_ms_cm, rinse_temperature_c, alpha_per_k, rinse),
            _to_25_line("water at 25 °C", water_ms_cm, water_temperature_c, alpha_per_k, water),
            WorkingLine(
                "difference", "rinse − water", f"{shown(rinse)} − {shown(water)}", difference,
                "mS/cm",
            ),
        ),
    )  # fmt: skip


def _to_25_line(
    label: str, measured: float, temperature_c: float, alpha_per_k: float, found: float
) -> WorkingLine:
    numbers = f"{shown(measured)} ÷ (1 + {shown(alpha_per_k)} × ({shown(temperature_c)} − 25))"
    return WorkingLine(label, "κ ÷ (1 + α (t − 25))", numbers, found, "mS/cm")
