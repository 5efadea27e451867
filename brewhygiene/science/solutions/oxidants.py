"""Titrations of sanitisers that oxidise: chlorine, iodine, peracetic acid with its peroxide."""

import dataclasses

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.strengths import molar_mass_g_mol
from brewhygiene.science.solutions.titration import (
    Found,
    OneEndPoint,
    TitrationSetup,
    one_end_point,
)
from brewhygiene.science.working import WorkingLine, shown

PEROXIDE_FIRST = (
    "Titrate cold and without delay, the peroxide first. Peroxide frees iodine slowly, which "
    "counts as peracetic acid."
)


@dataclasses.dataclass(frozen=True)
class AvailableChlorine:
    """Available chlorine, counted as Cl2, and the sodium hypochlorite that is as much, %."""

    chlorine: Found
    hypochlorite_percent: float
    working: tuple[WorkingLine, ...]


def available_chlorine(*, setup: TitrationSetup, reading: float) -> AvailableChlorine:
    """Available chlorine by iodide and thiosulfate, "as Cl2": (A − B) · N · 35.45 / sample.

    Each chlorine frees one iodine, which takes two thiosulfate: 35.453 g Cl2 an equivalent.
    ``setup`` with thiosulfate as titrant and the blank B; ``reading`` A in mL (or drops). In
    % w/v of a sample in mL, % w/w of one in g, error stated with it; anything else that frees
    iodine (peracids, peroxide) is counted as chlorine. Raises as :func:`one_end_point`.

    >>> chlorine = available_chlorine(setup=TitrationSetup(0.1, sample_ml=100), reading=0.564)
    >>> round(chlorine.chlorine.milligrams_per_l_or_kg, 1)
    20.0

    References
    ----------
    .. [1] Standard Methods for the Examination of Water and Wastewater, 4500-Cl B.
    """
    titrated = one_end_point(setup=setup, substance="chlorine", reading=reading)
    factor = molar_mass_g_mol("NaClO") / molar_mass_g_mol("Cl2")
    hypochlorite = titrated.found.percent * factor
    return AvailableChlorine(
        chlorine=titrated.found,
        hypochlorite_percent=hypochlorite,
        working=(
            *titrated.working,
            WorkingLine(
                "as sodium hypochlorite", "chlorine · 74.44 ÷ 70.91",
                f"{shown(titrated.found.percent)} × {shown(factor)}", hypochlorite,
                titrated.found.percent_unit,
            ),
        ),
    )  # fmt: skip


def titratable_iodine(*, setup: TitrationSetup, reading: float) -> OneEndPoint:
    """Titratable iodine of an iodophor by thiosulfate, 126.9 g an equivalent.

    ``setup`` with thiosulfate as titrant; ``reading`` mL (or drops). In % w/v or % w/w, error
    stated with it. Raises as :func:`one_end_point`.

    >>> iodine = titratable_iodine(setup=TitrationSetup(0.01, sample_ml=100), reading=1.97)
    >>> round(iodine.found.milligrams_per_l_or_kg, 1)
    25.0
    """
    return one_end_point(setup=setup, substance="iodine", reading=reading)


@dataclasses.dataclass(frozen=True)
class PeracidAndPeroxide:
    """Peracetic acid and hydrogen peroxide found one after the other in one sample."""

    peroxide: Found
    peracid: Found
    notes: tuple[str, ...]
    working: tuple[WorkingLine, ...]


def peracid_and_peroxide(
    *,
    peroxide_setup: TitrationSetup,
    peroxide_reading: float,
    peracid_setup: TitrationSetup,
    peracid_reading: float,
) -> PeracidAndPeroxide:
    """Hydrogen peroxide by permanganate or cerium(IV), then peracetic acid by thiosulfate.

    H2O2 = V1 N1 · 17.007 / sample, peracetic acid = V2 N2 · 38.026 / sample, g from eq.

    ``peroxide_setup`` and ``peracid_setup`` are the two titrants on the one sample,
    ``peroxide_reading`` and ``peracid_reading`` in mL (or drops). In % w/v or % w/w, errors
    stated with them. Raises :class:`OutOfRange` where the two setups give different samples or
    dilutions, else as :func:`one_end_point`.

    >>> setup = TitrationSetup(0.1, sample_g=5)
    >>> both = peracid_and_peroxide(peroxide_setup=setup, peroxide_reading=9.4,
    ...                             peracid_setup=setup, peracid_reading=2.63)
    >>> round(both.peroxide.percent, 2), round(both.peracid.percent, 2)
    (0.32, 0.2)

    References
    ----------
    .. [1] Greenspan F.P., MacKellar D.G., Anal. Chem. 20 (1948) 1061 (citation from memory).
    """
    first, second = peroxide_setup, peracid_setup
    if (first.basis, first.sample, first.dilution) != (second.basis, second.sample,
                                                       second.dilution):  # fmt: skip
        raise OutOfRange("Both steps use the same sample. Enter the same for both.")
    peroxide = one_end_point(setup=first, substance="H2O2", reading=peroxide_reading)
    peracid = one_end_point(setup=second, substance="PAA", reading=peracid_reading)
    return PeracidAndPeroxide(
        peroxide=peroxide.found,
        peracid=peracid.found,
        notes=(PEROXIDE_FIRST,),
        working=(*peroxide.working, *peracid.working),
    )
