"""Titrations with two end points in one sample: used caustic, and mixed acid."""

import dataclasses
from collections.abc import Callable
from typing import Literal

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G
from brewhygiene.science.solutions.strengths import molar_mass_g_mol
from brewhygiene.science.solutions.titration import Found, TitrationSetup, delivered_line
from brewhygiene.science.working import WorkingLine, shown

# From where the second reading counts: the start of the titration, or the first end point.
SecondFrom = Literal["start", "first_end_point"]
AlkalinityCase = Literal["P = 0", "P < T/2", "P = T/2", "P > T/2", "P = T"]

_SALTS = {"NaOH": ("Na2CO3", "NaHCO3"), "KOH": ("K2CO3", "KHCO3")}
_EVEN = 1e-9


@dataclasses.dataclass(frozen=True)
class AlkalinityShares:
    """Hydroxide, carbonate and bicarbonate alkalinity, in the unit of P and T, and the case."""

    case: AlkalinityCase
    hydroxide: float
    carbonate: float
    bicarbonate: float


def alkalinity_shares(*, phenolphthalein: float, total: float) -> AlkalinityShares:
    """The five cases of the alkalinity relationships: what P and T say is there.

    P = 0: all bicarbonate. P < T/2: carbonate 2P, bicarbonate T − 2P. P = T/2: all carbonate.
    P > T/2: hydroxide 2P − T, carbonate 2(T − P). P = T: all hydroxide. The three add up to T.

    ``phenolphthalein`` (P, to pH 8.3) and ``total`` (T, from the start to pH 4.5) in one unit,
    such as mL, eq/L or mg/L as CaCO3; equal means within 1e-9 of T. Valid only where hydroxide,
    carbonate and bicarbonate are all the alkalinity: silicate, phosphate, gluconate and soil
    break it. Raises :class:`OutOfRange` below 0 or where P is above T.

    >>> alkalinity_shares(phenolphthalein=150, total=200)
    AlkalinityShares(case='P > T/2', hydroxide=100, carbonate=100, bicarbonate=0.0)

    References
    ----------
    .. [1] Standard Methods for the Examination of Water and Wastewater, 2320 B, table 2320:II.
    """
    p, t = phenolphthalein, total
    if not 0 <= p <= t < float("inf"):
        raise OutOfRange(
            f"The first end point is {shown(p)} and the second {shown(t)}. Counted from the start, "
            "the second cannot come before the first."
            if p > t >= 0
            else f"The end points, {shown(p)} and {shown(t)}, cannot be below 0."
        )
    even = _EVEN * t
    if p <= even:
        return AlkalinityShares("P = 0", 0.0, 0.0, t)
    if t - p <= even:
        return AlkalinityShares("P = T", t, 0.0, 0.0)
    if abs(2 * p - t) <= even:
        return AlkalinityShares("P = T/2", 0.0, t, 0.0)
    if 2 * p < t:
        return AlkalinityShares("P < T/2", 0.0, 2 * p, t - 2 * p)
    return AlkalinityShares("P > T/2", 2 * p - t, 2 * (t - p), 0.0)


@dataclasses.dataclass(frozen=True)
class UsedCaustic:
    """Used caustic: free hydroxide, carbonate and bicarbonate, each with its uncertainty.

    Amounts in % w/v (% w/w of a sample in g); ``total_alkalinity_mg_l_caco3`` mg/L (mg/kg) as
    CaCO3; ``carbonate_share_percent`` is the share of the total alkalinity that is no longer
    hydroxide.
    """

    case: AlkalinityCase
    hydroxide: Found
    carbonate: Found
    bicarbonate: Found
    total_alkalinity_mg_l_caco3: float
    carbonate_share_percent: float
    notes: tuple[str, ...]
    working: tuple[WorkingLine, ...]


def _total_reading(
    setup: TitrationSetup, first: float, second: float, second_from: SecondFrom
) -> float:
    """The second end point's reading counted from the start, in the unit of the readings."""
    setup.millilitres(first)
    if second_from == "first_end_point":
        if second < 0:
            raise OutOfRange("The second reading cannot be below 0.")
        return first + second
    if second < first:
        raise OutOfRange(
            f"The second end point, {shown(second)} {setup.reading_unit}, comes before the first, "
            f"{shown(first)} {setup.reading_unit}. If it is counted from the first end point, "
            "choose that."
        )
    return second


# How the mL of each part follow from P and T in mL, by case. A part that is nothing by its own
# formula, as the hydroxide at P = T/2, keeps the uncertainty of that formula.
_Combine = Callable[[float, float], float]
_NONE: tuple[str, _Combine] = ("0", lambda p, t: 0.0)
_HYDROXIDE: tuple[str, _Combine] = ("(2P − T)", lambda p, t: 2 * p - t)
_BICARBONATE: tuple[str, _Combine] = ("(T − 2P)", lambda p, t: t - 2 * p)
_COMBINE: dict[AlkalinityCase, tuple[tuple[str, _Combine], ...]] = {
    "P = 0": (_NONE, _NONE, ("T", lambda p, t: t)),
    "P < T/2": (_NONE, ("2P", lambda p, t: 2 * p), _BICARBONATE),
    "P = T/2": (_HYDROXIDE, ("T", lambda p, t: t), _BICARBONATE),
    "P > T/2": (_HYDROXIDE, ("2(T − P)", lambda p, t: 2 * (t - p)), _NONE),
    "P = T": (_HYDROXIDE, ("2(T − P)", lambda p, t: 2 * (t - p)), _NONE),
}

OTHER_ALKALINITY = (
    "Silicate, phosphate, gluconate and dissolved soil are alkaline too. They count as hydroxide "
    "or carbonate here."
)
DILUTE_FIRST = (
    "Dilute strong caustic about tenfold before titrating. In undiluted 2 % caustic the hydroxide "
    "reads about 2 % low and the carbonate 4.5 % high."
)
NO_HYDROXIDE = "The hydroxide found is not larger than its uncertainty."


def _notes_on_caustic(hydroxide: Found, case: AlkalinityCase) -> tuple[str, ...]:
    notes = (OTHER_ALKALINITY, DILUTE_FIRST)
    if case == "P > T/2" and hydroxide.percent <= hydroxide.uncertainty.expanded:
        return (*notes, NO_HYDROXIDE)
    return notes


def used_caustic(
    *,
    setup: TitrationSetup,
    first_reading: float,
    second_reading: float,
    second_from: SecondFrom = "start",
    alkali: Literal["NaOH", "KOH"] = "NaOH",
) -> UsedCaustic:
    """Free caustic and carbonate from phenolphthalein (pH 8.3) and methyl orange (pH 4.5).

    With P and T in mL from the start: where P > T/2, NaOH = (2P − T) N / sample and
    Na2CO3 = (T − P) N / sample, mol/L; the other four cases as :func:`alkalinity_shares`.

    ``setup`` with a strong acid as titrant; ``first_reading`` to phenolphthalein and
    ``second_reading`` to methyl orange in mL (or drops), the second counted ``second_from`` the
    start or the first end point; ``alkali`` NaOH or KOH. In % w/v or % w/w. The difference
    2P − T magnifies errors: 1 % in P is 2.3 % in NaOH at P/T = 0.87; the result states its own
    (k = 2). Raises :class:`OutOfRange` where the second end point comes before the first, or a
    reading is below the blank.

    >>> used = used_caustic(setup=TitrationSetup(0.5, sample_ml=10), first_reading=10,
    ...                     second_reading=11.5)
    >>> round(used.hydroxide.grams_per_l_or_kg, 2), round(used.carbonate.grams_per_l_or_kg, 2)
    (17.0, 7.95)

    References
    ----------
    .. [1] Warder's method; Standard Methods 2320 B, table 2320:II.
    """
    total_reading = _total_reading(setup, first_reading, second_reading, second_from)
    p, t = setup.millilitres(first_reading), setup.millilitres(total_reading)
    shares = alkalinity_shares(phenolphthalein=p, total=t)
    carbonate, bicarbonate = _SALTS[alkali]
    # Carbonate takes two equivalents a mole, the others one.
    parts = ((alkali, 1), (carbonate, 2), (bicarbonate, 1))
    found: list[Found] = []
    lines = [
        delivered_line(setup, first_reading, "P, to phenolphthalein"),
        delivered_line(setup, total_reading, "T, from the start to methyl orange"),
        WorkingLine(f"half of T, so {shares.case}", "T ÷ 2", f"{shown(t)} ÷ 2", t / 2, "mL"),
    ]
    amounts = (shares.hydroxide, shares.carbonate, shares.bicarbonate)
    for (substance, equivalents), (took, combine), amount in zip(
        parts, _COMBINE[shares.case], amounts, strict=True
    ):
        equivalent_g = molar_mass_g_mol(substance) / equivalents
        one = setup.found(
            substance=substance,
            equivalent_g=equivalent_g,
            readings={"first end point": first_reading, "second end point": total_reading},
            combine=combine,
        )
        if amount:
            lines += setup.lines(
                found=one, equivalent_g=equivalent_g, millilitres=amount, took=took
            )
        else:
            one = dataclasses.replace(one, percent=0.0)  # not a rounding's 1e-17
        found.append(one)
    return UsedCaustic(
        case=shares.case,
        hydroxide=found[0],
        carbonate=found[1],
        bicarbonate=found[2],
        total_alkalinity_mg_l_caco3=setup.eq_per_l_or_kg(t) * molar_mass_g_mol("CaCO3") / 2 * 1000,
        carbonate_share_percent=100 * (1 - shares.hydroxide / t) if t else 0.0,
        notes=_notes_on_caustic(found[0], shares.case),
        working=tuple(lines),
    )


@dataclasses.dataclass(frozen=True)
class MixedAcid:
    """Nitric and phosphoric acid in one bath, % w/v (% w/w of a sample in g)."""

    nitric: Found
    phosphoric: Found
    working: tuple[WorkingLine, ...]


def mixed_acid(
    *,
    setup: TitrationSetup,
    first_reading: float,
    second_reading: float,
    second_from: SecondFrom = "start",
) -> MixedAcid:
    """Nitric and phosphoric acid from methyl orange (pH 4.5) and pH 9.5.

    To the first end point both acids give one hydrogen, to the second H3PO4 gives another:
    H3PO4 = (V2 − V1) N / sample, HNO3 = (2 V1 − V2) N / sample, mol/L.

    ``setup`` with a strong base as titrant; ``first_reading`` and ``second_reading`` in mL (or
    drops), the second counted ``second_from`` the start or the first end point. In % w/v or
    % w/w, each with its uncertainty (k = 2). Carbonate in the base and metals in the bath count
    as phosphoric acid. Raises :class:`OutOfRange` where the second end point comes before the
    first, or so late that more H3PO4 than acid would be there.

    >>> acid = mixed_acid(setup=TitrationSetup(0.5, sample_ml=10), first_reading=8,
    ...                   second_reading=11)
    >>> round(acid.nitric.grams_per_l_or_kg, 2), round(acid.phosphoric.grams_per_l_or_kg, 2)
    (15.75, 14.7)

    References
    ----------
    .. [1] Stoichiometry; IUPAC atomic weights.
    """
    total_reading = _total_reading(setup, first_reading, second_reading, second_from)
    v1, v2 = setup.millilitres(first_reading), setup.millilitres(total_reading)
    if v2 > 2 * v1 * (1 + _EVEN):
        raise OutOfRange(
            f"From the first end point to the second took {shown(v2 - v1)} mL, more than the "
            f"{shown(v1)} mL to the first. This is not a mixture of nitric and phosphoric acid."
        )
    readings = {"first end point": first_reading, "second end point": total_reading}
    phosphoric_g, nitric_g = EQUIVALENT_WEIGHT_G["H3PO4"], EQUIVALENT_WEIGHT_G["HNO3"]
    phosphoric = setup.found(
        substance="H3PO4",
        equivalent_g=phosphoric_g,
        readings=readings,
        combine=lambda first, second: second - first,
    )
    nitric = setup.found(
        substance="HNO3",
        equivalent_g=nitric_g,
        readings=readings,
        combine=lambda first, second: 2 * first - second,
    )
    return MixedAcid(
        nitric=nitric,
        phosphoric=phosphoric,
        working=(
            delivered_line(setup, first_reading, "V1, to pH 4.5"),
            delivered_line(setup, total_reading, "V2, from the start to pH 9.5"),
            *setup.lines(
                found=phosphoric, equivalent_g=phosphoric_g, millilitres=v2 - v1, took="(V2 − V1)"
            ),
            *setup.lines(
                found=nitric, equivalent_g=nitric_g, millilitres=2 * v1 - v2, took="(2V1 − V2)"
            ),
        ),
    )
