"""One table: what an agent does to a material, by strength and heat. No database."""

import csv
import dataclasses
import enum
from functools import cache
from importlib import resources

from brewhygiene.regimes.materials.sources import SOURCES
from brewhygiene.regimes.models import ActiveSubstance, Basis

# A hot-water step has no agent; the table has rows for its heat.
HEAT = "heat"


class Verdict(enum.IntEnum):
    """The worse, the higher."""

    SUITABLE = 0
    LIMITED = 1
    NOT = 2


@dataclasses.dataclass(frozen=True)
class Scope:
    """For which solutions the rows of one agent hold; beyond it, ask.

    ``max_strength`` in ``basis``, ``max_c`` and ``above_c`` in °C.
    """

    substance: str
    basis: str
    max_strength: float | None
    max_c: float
    above_c: float | None = None


# Where caustic counts as cold, °C.
COLD_TO_C = 40.0

SCOPES: dict[str, Scope] = {
    "naoh_cold": Scope(ActiveSubstance.NAOH, Basis.WW, 5, COLD_TO_C),
    "naoh_hot": Scope(ActiveSubstance.NAOH, Basis.WW, 5, 90, above_c=COLD_TO_C),
    "koh_cold": Scope(ActiveSubstance.KOH, Basis.WW, 5, COLD_TO_C),
    "koh_hot": Scope(ActiveSubstance.KOH, Basis.WW, 5, 90, above_c=COLD_TO_C),
    "nitric": Scope(ActiveSubstance.HNO3, Basis.WW, 2, 60),
    "phosphoric": Scope(ActiveSubstance.H3PO4, Basis.WW, 3, 60),
    "paa": Scope(ActiveSubstance.PAA, Basis.MG_L, 500, 25),
    "h2o2": Scope(ActiveSubstance.H2O2, Basis.WW, 3, 40),
    "hypochlorite": Scope(ActiveSubstance.CHLORINE, Basis.MG_L, 200, 25),
    "iodophor": Scope(ActiveSubstance.IODINE, Basis.MG_L, 25, 35),
    "quat": Scope(ActiveSubstance.QUAT, Basis.MG_L, 400, 40),
    "heat": Scope(HEAT, "", None, 130),
}

# A blend is as bad as the worse of its acids.
PARTS_OF_BLEND: dict[str, tuple[str, ...]] = {
    ActiveSubstance.HNO3_H3PO4: (ActiveSubstance.HNO3, ActiveSubstance.H3PO4),
}


@dataclasses.dataclass(frozen=True)
class Row:
    """A row of the table; ``gas`` names what forms, which makes it a hard stop."""

    agent: str
    material: str
    verdict: Verdict
    limit: str
    gas: str
    source: str
    max_strength: float | None
    max_c: float | None

    @property
    def source_words(self) -> str:
        return SOURCES[self.source]

    @property
    def scope(self) -> Scope:
        return SCOPES[self.agent]


@dataclasses.dataclass(frozen=True)
class Judged:
    """A row, the verdict under the conditions of a step, and whether they are beyond it."""

    row: Row
    verdict: Verdict
    beyond: bool


def _number(text: str) -> float | None:
    return float(text) if text else None


@cache
def table() -> dict[tuple[str, str], Row]:
    """Every row by agent and material."""
    found = {}
    text = resources.files(__package__).joinpath("compatibility.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        found[row["agent"], row["material"]] = Row(
            agent=row["agent"],
            material=row["material"],
            verdict=Verdict[row["verdict"].upper()],
            limit=row["limit"],
            gas=row["gas"],
            source=row["source"],
            max_strength=_number(row["max_strength"]),
            max_c=_number(row["max_c"]),
        )
    return found


def basis_of(substance: str) -> str:
    """The basis in which the table gives the strength of a substance; '' for heat."""
    single = PARTS_OF_BLEND.get(substance, (substance,))[0]
    return next(scope.basis for scope in SCOPES.values() if scope.substance == single)


def agents_meant(substance: str, highest_c: float | None) -> list[str]:
    """The agents of the table that a step uses; both cold and hot where its heat is not known.

    >>> agents_meant("NaOH", 40), agents_meant("NaOH", 40.1), agents_meant("NaOH", None)
    (['naoh_cold'], ['naoh_hot'], ['naoh_cold', 'naoh_hot'])
    """
    found = []
    for agent, scope in SCOPES.items():
        if scope.substance not in PARTS_OF_BLEND.get(substance, (substance,)):
            continue
        if highest_c is not None:
            if scope.above_c is not None and highest_c <= scope.above_c:
                continue
            if agent.endswith("_cold") and highest_c > scope.max_c:
                continue
        found.append(agent)
    return found


def _exceeds(value: float | None, own: float | None, scope: float | None) -> bool:
    bound = own if own is not None else scope
    return value is not None and bound is not None and value > bound


def judge(row: Row, *, strength: float | None, highest_c: float | None) -> Judged:
    """A row under the highest strength (in the row's basis) and temperature (°C) of a step.

    Beyond its bounds a suitable material is limited: the table does not say, so somebody has to
    ask. A material that a temperature makes unfit is limited up to that temperature.
    """
    if row.verdict == Verdict.NOT:
        mild = row.max_c is not None and highest_c is not None and highest_c <= row.max_c
        return Judged(row, Verdict.LIMITED if mild else Verdict.NOT, beyond=False)
    beyond = _exceeds(strength, row.max_strength, row.scope.max_strength) or _exceeds(
        highest_c, row.max_c, row.scope.max_c
    )
    return Judged(row, max(row.verdict, Verdict.LIMITED) if beyond else row.verdict, beyond)


def verdict_on(
    *, substance: str, material: str, strength: float | None = None, highest_c: float | None = None
) -> Judged | None:
    """The worst that a substance does to a material; ``None`` where the table has no row.

    ``strength`` is the highest, in :func:`basis_of` the substance; ``highest_c`` in °C; ``None``
    where not known. Of equally bad rows, one on which a gas forms counts first.
    """
    rows = [table().get((agent, material)) for agent in agents_meant(substance, highest_c)]
    judged = [judge(row, strength=strength, highest_c=highest_c) for row in rows if row is not None]
    return max(judged, key=lambda one: (one.verdict, bool(one.row.gas)), default=None)
